#include <map>
#include <optional>

#include "measure/edit/apply.h"
#include "measure/intake/camera_intake.h"
#include "measure/intake/file_copies.h"
#include "measure/intake/photo_intake.h"
#include "measure/store/dossier_file.h"
#include "tools/cli/commands.h"
#include "tools/cli/dossier_change.h"
#include "tools/cli/table.h"
#include "tools/cli/typed.h"

namespace cli {
namespace {

using measure::Dossier;
using measure::Edit;

class Adding {
 public:
  Adding(const PhotoAdd& command, const Dossier& dossier) : command_(command), dossier_(dossier) {}

  [[nodiscard]] Typed<Edit> edit() {
    if (!command_.name.empty() && command_.photos.size() != 1) {
      return refused("--name is for one photo: add the photos one by one, or without it.");
    }
    const auto chosen = measure::choose_camera(command_.folder, dossier_, command_.camera);
    if (!chosen) {
      return calib::Unexpected(chosen.error());
    }
    measure::EditGroup group;
    if (chosen->is_new) {
      group.edits.push_back(measure::AddCamera{chosen->entry});
    }
    std::vector<measure::WantedCopy> wanted;
    if (chosen->copy) {
      wanted.push_back(*chosen->copy);
    }
    Progress progress;
    for (std::size_t i = 0; i < command_.photos.size(); ++i) {
      progress.show(static_cast<double>(i) / static_cast<double>(command_.photos.size()),
                    command_.photos[i]);
      auto taken =
          measure::take_in_photo(command_.folder, command_.photos[i], chosen->entry, chosen->camera,
                                 {command_.name, command_.epoch, command_.copy});
      if (!taken) {
        return calib::Unexpected(taken.error());
      }
      if (taken->copy) {
        wanted.push_back(*taken->copy);
      }
      if (!taken->doubt.empty()) {
        doubts_.push_back(taken->doubt);
      }
      group.edits.push_back(measure::AddPhoto{std::move(taken->photo)});
    }
    // Tried before anything is copied, so that most mistakes cost no copy.
    Dossier trial = dossier_;
    if (const auto applied = measure::apply(Edit(group), trial); !applied) {
      return calib::Unexpected(applied.error());
    }
    for (const measure::WantedCopy& copy : wanted) {
      if (const auto copied = copies_.copy(copy); !copied) {
        return calib::Unexpected(copied.error());
      }
    }
    return Edit(std::move(group));
  }

  void keep() { copies_.keep(); }
  [[nodiscard]] const std::vector<std::string>& doubts() const { return doubts_; }

 private:
  const PhotoAdd& command_;
  const Dossier& dossier_;
  std::vector<std::string> doubts_;
  measure::FileCopies copies_;
};

}  // namespace

Outcome run(const PhotoAdd& command) {
  // Lives until the dossier is saved: what was copied is taken back if it could not be.
  std::optional<Adding> adding;
  Dossier before;
  auto changed = change_dossier(command.folder, [&](const Dossier& dossier) {
    before = dossier;
    return adding.emplace(command, before).edit();
  });
  if (!changed) {
    return changed;
  }
  adding->keep();
  for (const std::string& sentence : adding->doubts()) {
    warn(sentence);
  }
  say("Added " + count_of(command.photos.size(), "photo") + ".");
  return changed;
}

Outcome run(const PhotoList& command) {
  const auto dossier = measure::read_dossier(command.folder);
  if (!dossier) {
    return calib::Unexpected(dossier.error());
  }
  std::map<std::string, int> marks;
  for (const measure::Mark& mark : dossier->marks) {
    ++marks[mark.photo];
  }
  Table table({"photo", "camera", "pixels", "EXIF turn", "marks", "epoch", "file"},
              {Align::kLeft, Align::kLeft, Align::kRight, Align::kRight, Align::kRight,
               Align::kLeft, Align::kLeft});
  for (const measure::Photo& photo : dossier->photos) {
    table.add({photo.name, photo.camera,
               std::to_string(photo.size.width) + " x " + std::to_string(photo.size.height),
               std::to_string(photo.exif_orientation), std::to_string(marks[photo.name]),
               photo.epoch.empty() ? "as visited" : photo.epoch, photo.file});
  }
  say(table.text());
  return calib::Done{};
}

Outcome run(const PhotoRemove& command) {
  measure::EditGroup group;
  for (const std::string& photo : command.photos) {
    group.edits.push_back(measure::RemovePhoto{photo});
  }
  return change_dossier(command.folder, group);
}

}  // namespace cli
