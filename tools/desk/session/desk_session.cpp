#include "tools/desk/session/desk_session.h"

#include <algorithm>

#include "measure/store/dossier_file.h"

namespace desk {
namespace {

/// Whether an edit changes which camera files are read.
bool touches_cameras(const measure::Edit& edit) {
  return std::visit(
      [](const auto& what) {
        using Kind = std::decay_t<decltype(what)>;
        if constexpr (std::is_same_v<Kind, measure::EditGroup>) {
          return std::any_of(what.edits.begin(), what.edits.end(), touches_cameras);
        } else {
          return std::is_same_v<Kind, measure::AddCamera> ||
                 std::is_same_v<Kind, measure::RemoveCamera> ||
                 std::is_same_v<Kind, measure::SetCameraFile>;
        }
      },
      edit.what);
}

QString text(const std::string& words) { return QString::fromStdString(words); }

}  // namespace

DeskSession::DeskSession(measure::OpenDossier open, Cameras cameras)
    : open_(std::move(open)), cameras_(std::move(cameras)) {
  adjuster_ = std::make_unique<LiveAdjuster>(dossier(), cameras_);
  connect(adjuster_.get(), &LiveAdjuster::state_ready, this, &DeskSession::take_state);
}
DeskSession::~DeskSession() = default;

calib::Result<std::unique_ptr<DeskSession>, calib::Problem> DeskSession::open(
    const std::filesystem::path& folder) {
  auto open = measure::OpenDossier::open(folder);
  if (!open) return calib::Unexpected(open.error());
  auto cameras = measure::read_cameras(folder, open->dossier());
  if (!cameras) return calib::Unexpected(cameras.error());
  return std::unique_ptr<DeskSession>(new DeskSession(std::move(*open), std::move(*cameras)));
}

QString DeskSession::read_only_reason() const { return text(open_.read_only_sentence()); }
QString DeskSession::recovery_sentence() const { return text(open_.recovery_sentence()); }

std::filesystem::path DeskSession::file_of(const measure::Photo& photo) const {
  return measure::path_of(folder(), photo.file);
}

const measure::Mark* DeskSession::mark_at(const std::string& photo,
                                          const std::string& point) const {
  // Marks are kept sorted by photo, then point.
  const auto at = std::lower_bound(dossier().marks.begin(), dossier().marks.end(),
                                   std::pair(std::cref(photo), std::cref(point)),
                                   [](const measure::Mark& mark, const auto& key) {
                                     const int order = mark.photo.compare(key.first.get());
                                     return order != 0 ? order < 0 : mark.point < key.second.get();
                                   });
  if (at == dossier().marks.end() || at->photo != photo || at->point != point) return nullptr;
  return &*at;
}

bool DeskSession::change(const measure::Edit& edit) {
  if (const auto changed = open_.change(edit); !changed) {
    Q_EMIT refused(text(changed.error().sentence));
    return false;
  }
  after(edit);
  return true;
}

bool DeskSession::change_further(const measure::Edit& edit, const measure::MarkKey& mark) {
  if (const auto changed = open_.change_further(edit, mark); !changed) {
    Q_EMIT refused(text(changed.error().sentence));
    return false;
  }
  after(edit);
  return true;
}

void DeskSession::undo() {
  const measure::HistoryStep* next = open_.history().next_undo();
  if (!next) return;
  const measure::Edit edit = next->edit;
  if (const auto undone = open_.undo(); !undone) {
    Q_EMIT refused(text(undone.error().sentence));
    return;
  }
  after(edit);
}

void DeskSession::redo() {
  const measure::HistoryStep* next = open_.history().next_redo();
  if (!next) return;
  const measure::Edit edit = next->edit;
  if (const auto redone = open_.redo(); !redone) {
    Q_EMIT refused(text(redone.error().sentence));
    return;
  }
  after(edit);
}

QString DeskSession::undo_text() const {
  const measure::HistoryStep* next = open_.history().next_undo();
  return next ? text(next->name) : QString();
}

QString DeskSession::redo_text() const {
  const measure::HistoryStep* next = open_.history().next_redo();
  return next ? text(next->name) : QString();
}

bool DeskSession::save() {
  if (const auto saved = open_.save(); !saved) {
    Q_EMIT refused(text(saved.error().sentence));
    return false;
  }
  Q_EMIT history_changed();
  return true;
}

void DeskSession::after(const measure::Edit& edit) {
  std::optional<Cameras> changed;
  if (touches_cameras(edit)) {
    auto cameras = measure::read_cameras(folder(), dossier());
    if (cameras) {
      cameras_ = std::move(*cameras);
      changed = cameras_;
    } else {
      Q_EMIT refused(text(cameras.error().sentence));
    }
  }
  adjuster_->edit(edit, std::move(changed));
  if (!chosen_point_.empty() && !dossier().find_point(chosen_point_)) choose_point("");
  if (!chosen_photo_.empty() && !dossier().find_photo(chosen_photo_)) choose_photo("");
  Q_EMIT dossier_changed(edit);
  Q_EMIT history_changed();
  if (const auto& problem = open_.fold_problem()) Q_EMIT refused(text(problem->sentence));
}

void DeskSession::take_state(std::shared_ptr<const LiveState> state) {
  live_ = std::move(state);
  if (live_->tested || !live_->survey) tested_ = live_;
  Q_EMIT live_changed();
}

bool DeskSession::live_is_behind() const { return live_->revision < adjuster_->revision(); }

const measure::MarkReport* DeskSession::report_of(const std::string& photo,
                                                  const std::string& point) const {
  const auto at = tested_->mark_number.find({photo, point});
  return at == tested_->mark_number.end() ? nullptr : &tested_->survey->report().marks[at->second];
}

bool DeskSession::is_doubted(const std::string& photo, const std::string& point) const {
  const measure::MarkReport* report = report_of(photo, point);
  return report && report->doubted;
}

const measure::PhotoReport* DeskSession::photo_report(const std::string& photo) const {
  const auto at = live_->photo_number.find(photo);
  return at == live_->photo_number.end() ? nullptr : &live_->survey->report().photos[at->second];
}

const measure::PointReport* DeskSession::point_report(const std::string& point) const {
  const auto at = live_->point_number.find(point);
  return at == live_->point_number.end() ? nullptr : &live_->survey->report().points[at->second];
}

void DeskSession::choose_point(const std::string& point) {
  if (point == chosen_point_) return;
  chosen_point_ = point;
  Q_EMIT point_chosen(point);
}

void DeskSession::choose_photo(const std::string& photo) {
  if (photo == chosen_photo_) return;
  chosen_photo_ = photo;
  Q_EMIT photo_chosen(photo);
}

void DeskSession::choose_dimension(const std::string& dimension) {
  if (dimension == chosen_dimension_) return;
  chosen_dimension_ = dimension;
  Q_EMIT dimension_chosen(dimension);
}

void DeskSession::set_unit(measure::TextUnit unit) {
  if (unit == unit_) return;
  unit_ = unit;
  Q_EMIT unit_changed();
}

void DeskSession::pick_point(const std::string& point) { Q_EMIT point_picked(point); }

}  // namespace desk
