#include <algorithm>
#include <set>

#include "calib/board/board_photo.h"
#include "calib/file/atomic_write.h"
#include "measure/edit/name_rules.h"
#include "measure/store/dossier_file.h"
#include "measure/store/mark_csv.h"
#include "tools/cli/commands.h"
#include "tools/cli/dossier_change.h"
#include "tools/cli/refined_sigma.h"
#include "tools/cli/table.h"
#include "tools/cli/typed.h"

namespace cli {
namespace {

using measure::Dossier;
using measure::Edit;
using measure::in_quotes;
using measure::Mark;

Typed<double> typed_sigma(const std::string& text) {
  auto sigma = typed_number("--sigma", text);
  if (sigma && !(*sigma > 0.0)) {
    return refused("--sigma must be above 0 pixels.");
  }
  return sigma;
}

std::string count_replaced(const Dossier& dossier, const std::vector<Mark>& marks) {
  std::set<measure::MarkKey> known;
  for (const Mark& mark : dossier.marks) {
    known.insert({mark.photo, mark.point});
  }
  const auto replaced = std::count_if(marks.begin(), marks.end(), [&](const Mark& mark) {
    return known.contains({mark.photo, mark.point});
  });
  return replaced > 0 ? ", of which " + std::to_string(replaced) + " replaced older ones" : "";
}

Edit edit_of(const Dossier& dossier, std::vector<Mark> marks) {
  measure::EditGroup group{new_points(dossier, marks)};
  group.edits.push_back(measure::SetMarks{std::move(marks)});
  return group;
}

}  // namespace

std::string source_word(measure::MarkSource source) {
  switch (source) {
    case measure::MarkSource::kByHand:
      return "by hand";
    case measure::MarkSource::kRefined:
      return "refined";
    case measure::MarkSource::kImported:
      return "imported";
  }
  return "";
}

Typed<measure::MarkTableOptions> typed_table_options(const std::string& table,
                                                     const std::string& pixel_origin,
                                                     const std::string& turned,
                                                     const std::string& sigma) {
  if (pixel_origin.empty()) {
    // Half a pixel in all marks is taken up by the photos' positions and shows in no residual.
    return refused("Say with --pixel-origin centre or corner what lies at (0, 0) in " + table +
                   ": the centre of the top left pixel or its outer corner. A wrong answer cannot "
                   "be found out later.");
  }
  measure::MarkTableOptions options;
  const auto typed = typed_sigma(sigma);
  if (!typed) {
    return calib::Unexpected(typed.error());
  }
  options.default_sigma_px = *typed;
  options.pixel_origin =
      pixel_origin == "corner" ? measure::PixelOrigin::kCorner : measure::PixelOrigin::kCentre;
  if (!turned.empty()) {
    options.turned_photos =
        turned == "shown" ? measure::TurnedPhotos::kAsShown : measure::TurnedPhotos::kAsStored;
  }
  return options;
}

Outcome run(const MarkImport& command) {
  const auto options = typed_table_options(command.table, command.pixel_origin,
                                           command.turned_photos, command.sigma);
  if (!options) {
    return calib::Unexpected(options.error());
  }
  const auto text = calib::read_whole_file(command.table);
  if (!text) {
    return calib::Unexpected(text.error());
  }
  std::string report;
  auto changed = change_dossier(command.folder, [&](const Dossier& dossier) -> Typed<Edit> {
    auto marks = measure::read_mark_table(*text, command.table, dossier, *options);
    if (!marks) {
      return calib::Unexpected(marks.error());
    }
    report = "Imported " + count_of(marks->size(), "mark") + count_replaced(dossier, *marks) + ".";
    return edit_of(dossier, std::move(*marks));
  });
  if (changed) {
    say(report);
  }
  return changed;
}

Outcome run(const MarkSet& command) {
  Mark mark{command.photo, command.point, {}, 0.5, measure::MarkSource::kByHand, false};
  for (const int axis : {0, 1}) {
    const auto value = typed_number("--at", command.at[static_cast<std::size_t>(axis)]);
    if (!value) {
      return calib::Unexpected(value.error());
    }
    mark.position_px[axis] = *value;
  }
  const auto sigma = typed_sigma(command.sigma);
  if (!sigma) {
    return calib::Unexpected(sigma.error());
  }
  mark.sigma_px = *sigma;
  return change_dossier(command.folder, [&](const Dossier& dossier) -> Typed<Edit> {
    return edit_of(dossier, {mark});
  });
}

Outcome run(const MarkList& command) {
  const auto dossier = measure::read_dossier(command.folder);
  if (!dossier) {
    return calib::Unexpected(dossier.error());
  }
  Table table(
      {"photo", "point", "x px", "y px", "sigma px", "state"},
      {Align::kLeft, Align::kLeft, Align::kRight, Align::kRight, Align::kRight, Align::kLeft});
  for (const Mark& mark : dossier->marks) {
    if ((command.photo.empty() || mark.photo == command.photo) &&
        (command.point.empty() || mark.point == command.point)) {
      table.add({mark.photo, mark.point, fixed(mark.position_px.x(), 3),
                 fixed(mark.position_px.y(), 3), fixed(mark.sigma_px, 3),
                 source_word(mark.source) + (mark.set_aside ? ", set aside" : "")});
    }
  }
  say(table.text());
  return calib::Done{};
}

Outcome run(const MarkRemove& command) {
  return change_dossier(command.folder, measure::RemoveMarks{{{command.photo, command.point}}});
}

Outcome run(const MarkSetAside& command) {
  return change_dossier(command.folder,
                        measure::SetAside{{command.photo, command.point}, !command.take_up});
}

Outcome run(const MarkBoard& command) {
  // The square's size only scales the nominal corners, which are not used here.
  const auto board = typed_board(command.inner, "1mm");
  if (!board) {
    return calib::Unexpected(board.error());
  }
  std::size_t photos = 0;
  std::vector<std::string> refusals;
  auto changed = change_dossier(command.folder, [&](const Dossier& dossier) -> Typed<Edit> {
    std::vector<Mark> marks;
    Progress progress;
    std::size_t done = 0;
    for (const measure::Photo& photo : dossier.photos) {
      progress.show(static_cast<double>(done++) / static_cast<double>(dossier.photos.size()),
                    photo.name);
      if (!command.photos.empty() && std::find(command.photos.begin(), command.photos.end(),
                                               photo.name) == command.photos.end()) {
        continue;
      }
      const auto found =
          calib::read_board_photo(measure::path_of(command.folder, photo.file), *board);
      if (!found.found) {
        refusals.push_back(found.reason());
        continue;
      }
      ++photos;
      for (std::size_t i = 0; i < found.found->corners.size(); ++i) {
        const auto& corner = found.found->corners[i];
        const auto columns = static_cast<std::size_t>(board->inner_columns);
        Mark mark;
        mark.photo = photo.name;
        mark.point =
            "row " + std::to_string(i / columns + 1) + " column " + std::to_string(i % columns + 1);
        mark.position_px = corner.position_px;
        mark.sigma_px = std::max(corner.sigma_px(), kLeastRefinedSigma_px);
        mark.source = measure::MarkSource::kRefined;
        marks.push_back(std::move(mark));
      }
    }
    if (marks.empty()) {
      return refused("No photo of the dossier shows a board with " + command.inner +
                     " inner corners: check --inner, and that the whole board is in sight.");
    }
    return edit_of(dossier, std::move(marks));
  });
  if (!changed) {
    return changed;
  }
  for (const std::string& sentence : refusals) {
    warn(sentence);
  }
  say("Marked the board's corners in " + count_of(photos, "photo") + ".");
  return changed;
}

}  // namespace cli
