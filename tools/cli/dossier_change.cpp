#include "tools/cli/dossier_change.h"

#include <set>

#include "measure/edit/apply.h"
#include "measure/edit/warnings.h"
#include "measure/store/dossier_file.h"

namespace cli {

Outcome change_dossier(const std::filesystem::path& folder, const EditOf& edit_of) {
  const auto lock = measure::DossierLock::take(folder);
  if (!lock) {
    return calib::Unexpected(lock.error());
  }
  auto dossier = measure::read_dossier(folder);
  if (!dossier) {
    return calib::Unexpected(dossier.error());
  }
  const auto edit = edit_of(*dossier);
  if (!edit) {
    return calib::Unexpected(edit.error());
  }
  if (const auto applied = measure::apply(*edit, *dossier); !applied) {
    return calib::Unexpected(applied.error());
  }
  if (const auto written = measure::write_dossier(folder, *dossier); !written) {
    return written;
  }
  for (const std::string& sentence : measure::warnings_after(*edit, *dossier)) {
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
