#include <algorithm>
#include <map>
#include <optional>

#include "calib/board/photo_file.h"
#include "measure/edit/name_rules.h"
#include "measure/refine/refine_mark.h"
#include "measure/store/dossier_file.h"
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

constexpr double kLargestRadius_px = 30.0, kUsualRadius_px = 6.0;

// Nobody looks at what "auto" finds: it may move a mark no further than a click of that σ can be
// off, four σ on both axes, or it would take the neighbour's corner.
double radius_by_sigma_px(double sigma_px) {
  constexpr double kSigmas = 5.7;
  return std::clamp(kSigmas * sigma_px, 1.5, kUsualRadius_px);
}

Typed<calib::GreyPhoto> read_photo(const std::string& folder, const measure::Photo& photo) {
  const auto file = measure::path_of(folder, photo.file);
  auto image = calib::read_grey_photo(file, calib::GreyDepth::kAsStored);
  if (image && image->sha256 != photo.sha256) {
    return refused(file.string() + " is not the file that was added as photo " +
                   in_quotes(photo.name) + ": restore it from a copy.");
  }
  return image;
}

std::string no_such(const std::string& what, const std::string& name) {
  return "There is no " + what + " " + in_quotes(name) +
         " in the dossier: check the name (\"scantling " + what + " list\").";
}

/// Refines the marks of a dossier photo by photo, so that each is read once.
class Refining {
 public:
  Refining(const MarkRefine& command, const Dossier& dossier, std::optional<double> radius_px)
      : command_(command), dossier_(dossier), radius_px_(radius_px) {}

  [[nodiscard]] Typed<Edit> edit() {
    for (const std::string& photo : command_.photos) {
      if (dossier_.find_photo(photo) == nullptr) {
        return refused(no_such("photo", photo));
      }
    }
    for (const std::string& point : command_.points) {
      if (dossier_.find_point(point) == nullptr) {
        return refused(no_such("point", point));
      }
    }
    if (auto ready = prepare(); !ready) {
      return calib::Unexpected(ready.error());
    }
    std::map<std::string, std::vector<const Mark*>> by_photo;
    for (const Mark& mark : dossier_.marks) {
      if (is_wanted(command_.photos, mark.photo) && is_wanted(command_.points, mark.point) &&
          !(command_.as == "match" && mark.photo == command_.pattern)) {
        by_photo[mark.photo].push_back(&mark);
      }
    }
    if (by_photo.empty()) {
      return refused("There is no mark to refine: mark the points roughly first.");
    }
    Progress progress;
    std::size_t done = 0;
    for (const auto& [photo, marks] : by_photo) {
      progress.show(static_cast<double>(done++) / static_cast<double>(by_photo.size()), photo);
      if (auto refined = refine_in(photo, marks); !refined) {
        return calib::Unexpected(refined.error());
      }
    }
    return Edit(measure::SetMarks{refined_});
  }

  [[nodiscard]] std::size_t refined_count() const { return refined_.size(); }
  [[nodiscard]] const std::vector<std::string>& refusals() const { return refusals_; }
  [[nodiscard]] std::string table_text() const { return table_.empty() ? "" : table_.text(); }
  [[nodiscard]] std::size_t uncorrected_rounds() const { return uncorrected_rounds_; }

 private:
  static bool is_wanted(const std::vector<std::string>& wanted, const std::string& name) {
    return wanted.empty() || std::find(wanted.begin(), wanted.end(), name) != wanted.end();
  }

  // Reads the pattern view and the cameras.
  [[nodiscard]] Outcome prepare() {
    if (command_.as == "match" && command_.pattern.empty()) {
      return refused("--as match needs a pattern view: name its photo with --pattern.");
    }
    if (!command_.pattern.empty()) {
      if (command_.as != "match" && command_.as != "auto") {
        return refused("--pattern is for --as match and --as auto: leave it out.");
      }
      const auto* photo = dossier_.find_photo(command_.pattern);
      if (photo == nullptr) {
        return refused(no_such("photo", command_.pattern));
      }
      auto image = read_photo(command_.folder, *photo);
      if (!image) {
        return calib::Unexpected(image.error());
      }
      pattern_ = std::move(*image);
      for (const Mark& mark : dossier_.marks) {
        if (mark.photo == command_.pattern && !mark.set_aside) {
          pattern_marks_[mark.point] = mark.position_px;
        }
      }
      if (pattern_marks_.empty()) {
        return refused("The pattern view " + in_quotes(command_.pattern) +
                       " has no marks: mark the points in it first.");
      }
    }
    if (command_.as != "cross") {
      auto cameras = measure::read_cameras(command_.folder, dossier_);
      if (!cameras) {
        return calib::Unexpected(cameras.error());
      }
      cameras_ = std::move(*cameras);
    }
    return calib::Done{};
  }

  [[nodiscard]] measure::RefineOptions options_of(const std::string& photo) const {
    measure::RefineOptions options;
    options.radius_px = radius_px_.value_or(kUsualRadius_px);
    if (const auto camera = cameras_.find(dossier_.find_photo(photo)->camera);
        camera != cameras_.end()) {
      options.camera = camera->second.intrinsics;
    }
    return options;
  }

  [[nodiscard]] Outcome refine_in(const std::string& photo, const std::vector<const Mark*>& marks) {
    const auto image = read_photo(command_.folder, *dossier_.find_photo(photo));
    if (!image) {
      return calib::Unexpected(image.error());
    }
    auto options = options_of(photo);
    for (const Mark* mark : marks) {
      if (command_.as == "auto" && !radius_px_) {
        options.radius_px = radius_by_sigma_px(mark->sigma_px);
      }
      const std::string subject = "Mark " + in_quotes(mark->point) + " in " + photo;
      if (command_.as == "auto") {
        const auto pattern = photo == command_.pattern ? std::nullopt : pattern_of(*mark);
        const auto chosen = measure::refine_where_trusted({image->pixels}, mark->position_px,
                                                          options, pattern ? &*pattern : nullptr);
        keep(*mark, chosen.mark, chosen.mark ? "" : chosen.why_not(subject));
        continue;
      }
      const auto shape = *measure::shape_of(command_.as);
      std::optional<measure::PatternView> pattern;
      if (shape == measure::MarkShape::kMatch) {
        pattern = pattern_of(*mark);
        if (!pattern) {
          keep(*mark, std::nullopt,
               subject + " has no mark in the pattern view " + command_.pattern +
                   ": mark the point there, or take another pattern view.");
          continue;
        }
      }
      auto refined = measure::refine_as(shape, {image->pixels}, mark->position_px, options,
                                        pattern ? &*pattern : nullptr);
      if (!refined && pattern && !pattern->photo_from_pattern.isIdentity()) {
        // The neighbours may lie in other planes than this place: once more without them.
        pattern->photo_from_pattern.setIdentity();
        if (auto again =
                measure::refine_as(shape, {image->pixels}, mark->position_px, options, &*pattern)) {
          refined = std::move(again);
        }
      }
      keep(*mark, refined ? std::optional(*refined) : std::nullopt,
           refined ? "" : measure::describe(refined.error(), shape, subject));
    }
    return calib::Done{};
  }

  [[nodiscard]] std::optional<measure::PatternView> pattern_of(const Mark& mark) const {
    const auto there = pattern_marks_.find(mark.point);
    if (!pattern_ || there == pattern_marks_.end()) {
      return std::nullopt;
    }
    std::vector<measure::MarkPair> both;
    for (const Mark& other : dossier_.marks) {
      const auto known = pattern_marks_.find(other.point);
      if (other.photo == mark.photo && !other.set_aside && known != pattern_marks_.end()) {
        both.push_back({known->second, other.position_px});
      }
    }
    measure::PatternView view{{pattern_->pixels}, there->second};
    if (const auto change = measure::window_change(both, there->second)) {
      view.photo_from_pattern = *change;
    }
    return view;
  }

  void keep(const Mark& mark, const std::optional<measure::RefinedMark>& refined,
            const std::string& why_not) {
    if (!refined) {
      refusals_.push_back(why_not);
      return;
    }
    Mark better = mark;
    better.position_px = refined->position_px;
    better.sigma_px = std::max(refined->sigma_px(), kLeastRefinedSigma_px);
    better.source = measure::MarkSource::kRefined;
    table_.add({mark.photo, mark.point, std::string(measure::word_of(refined->shape)),
                fixed((better.position_px - mark.position_px).norm(), 2),
                fixed(better.sigma_px, 3)});
    const bool uncorrected = refined->eccentricity == measure::Eccentricity::kEitherSide ||
                             refined->eccentricity == measure::Eccentricity::kNoCamera;
    uncorrected_rounds_ += uncorrected ? 1 : 0;
    refined_.push_back(std::move(better));
  }

  const MarkRefine& command_;
  const Dossier& dossier_;
  std::optional<double> radius_px_;
  std::optional<calib::GreyPhoto> pattern_;
  std::map<std::string, Eigen::Vector2d> pattern_marks_;
  std::map<std::string, calib::Camera> cameras_;
  std::vector<Mark> refined_;
  std::vector<std::string> refusals_;
  std::size_t uncorrected_rounds_ = 0;
  Table table_{{"photo", "point", "as", "moved px", "sigma px"},
               {Align::kLeft, Align::kLeft, Align::kLeft, Align::kRight, Align::kRight}};
};

}  // namespace

Outcome run(const MarkRefine& command) {
  std::optional<double> radius_px;
  if (!command.radius.empty()) {
    const auto typed = typed_number("--radius", command.radius);
    if (!typed) {
      return calib::Unexpected(typed.error());
    }
    if (!(*typed > 0.0) || *typed > kLargestRadius_px) {
      return refused("--radius must be above 0 and at most 30 pixels.");
    }
    radius_px = *typed;
  }
  std::string table;
  std::size_t refined = 0, uncorrected_rounds = 0;
  std::vector<std::string> refusals;
  auto changed = change_dossier(command.folder, [&](const Dossier& dossier) -> Typed<Edit> {
    Refining refining(command, dossier, radius_px);
    auto edit = refining.edit();
    table = refining.table_text();
    refined = refining.refined_count();
    refusals = refining.refusals();
    uncorrected_rounds = refining.uncorrected_rounds();
    return edit;
  });
  if (!changed) {
    return changed;
  }
  for (const std::string& sentence : refusals) {
    warn(sentence);
  }
  if (!table.empty()) {
    say(table);
  }
  if (uncorrected_rounds > 0) {
    say(count_of(uncorrected_rounds, "round") +
        " not corrected for the slant at which it is seen, as the way its face leans is not known: "
        "sigma holds both.");
  }
  say("Refined " + count_of(refined, "mark") + "; " + std::to_string(refusals.size()) +
      " stayed as they were.");
  return changed;
}

}  // namespace cli
