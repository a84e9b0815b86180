#include "tools/cli/dossier_change.h"

#include <set>

#include "measure/edit/warnings.h"

namespace cli {

calib::Result<measure::OpenDossier, calib::Problem> open_for_change(
    const std::filesystem::path& folder) {
  auto open = measure::OpenDossier::open_for_change(folder);
  if (open && !open->recovery_sentence().empty()) {
    warn(open->recovery_sentence());
  }
  return open;
}

Outcome change_dossier(const std::filesystem::path& folder, const EditOf& edit_of) {
  auto open = open_for_change(folder);
  if (!open) {
    return calib::Unexpected(open.error());
  }
  const auto edit = edit_of(open->dossier());
  if (!edit) {
    return calib::Unexpected(edit.error());
  }
  if (const auto changed = open->change_and_save(*edit); !changed) {
    return changed;
  }
  if (open->fold_problem()) {
    warn(open->fold_problem()->sentence + " The change is kept in journal.ndjson.");
  }
  for (const std::string& sentence : measure::warnings_after(*edit, open->dossier())) {
    warn(sentence);
  }
  return calib::Done{};
}

Outcome change_dossier(const std::filesystem::path& folder, const measure::Edit& edit) {
  return change_dossier(
      folder, [&](const measure::Dossier&) -> calib::Result<measure::Edit, calib::Problem> {
        return edit;
      });
}

std::vector<measure::Edit> new_points(const measure::Dossier& dossier,
                                      const std::vector<measure::Mark>& marks) {
  std::set<std::string> known;
  for (const measure::Point& point : dossier.points) {
    known.insert(point.name);
  }
  std::vector<measure::Edit> edits;
  for (const measure::Mark& mark : marks) {
    if (known.insert(mark.point).second) {
      edits.push_back(measure::AddPoint{{mark.point, ""}});
    }
  }
  return edits;
}

std::string count_of(std::size_t count, const std::string& noun) {
  return std::to_string(count) + " " + noun + (count == 1 ? "" : "s");
}

}  // namespace cli
