#include "tools/desk/session/desk_session.h"

#include <QMetaObject>
#include <QPointer>
#include <algorithm>
#include <cassert>
#include <utility>

#include "measure/edit/apply.h"
#include "measure/store/dossier_file.h"

namespace desk {
namespace {

QString text(const std::string& words) { return QString::fromStdString(words); }

}  // namespace

DeskSession::DeskSession(measure::OpenDossier open, Cameras cameras)
    : folder_(open.folder()),
      dossier_(open.dossier()),
      cameras_(std::move(cameras)),
      read_only_reason_(text(open.read_only_sentence())),
      recovery_sentence_(text(open.recovery_sentence())),
      unsaved_(open.unsaved()) {
  if (const auto* step = open.history().next_undo()) undo_text_ = text(step->name);
  if (const auto* step = open.history().next_redo()) redo_text_ = text(step->name);
  adjuster_ = std::make_unique<LiveAdjuster>(dossier(), cameras_);
  connect(adjuster_.get(), &LiveAdjuster::state_ready, this, &DeskSession::take_state);
  writer_ = std::make_unique<EditWriter>(std::move(open), [this] {
    QMetaObject::invokeMethod(
        this,
        [this] {
          // Somebody who waited may have taken it already.
          if (auto written = writer_->take()) take_written(std::move(*written));
        },
        Qt::QueuedConnection);
  });
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

void DeskSession::begin(EditWriter::Work work, QObject* context, Done done) {
  writing_ = true;
  writing_done_ = [done = std::move(done), guard = QPointer<QObject>(context),
                   guarded = context != nullptr](bool made) {
    if (done && (!guarded || guard)) done(made);
  };
  writer_->begin(std::move(work));
}

void DeskSession::begin_in_turn(EditWriter::Work work, QObject* context, Done done) {
  in_turn(nullptr, [this, work = std::move(work), guard = QPointer<QObject>(context),
                    guarded = context != nullptr, done = std::move(done)]() mutable {
    begin(std::move(work), guard, guarded && !guard ? Done() : std::move(done));
  });
}

void DeskSession::in_turn(QObject* context, std::function<void()> action) {
  if (!writing_) {
    action();
    return;
  }
  turns_.push_back([action = std::move(action), guard = QPointer<QObject>(context),
                    guarded = context != nullptr]() mutable {
    if (!guarded || guard) action();
  });
}

void DeskSession::take_written(Written written) {
  writing_ = false;
  const Done done = std::exchange(writing_done_, {});
  undo_text_ = text(written.undo_name);
  redo_text_ = text(written.redo_name);
  unsaved_ = written.unsaved;
  if (written.edit) {
    // The same edit went into the same dossier on the other side.
    [[maybe_unused]] const auto applied = measure::apply(*written.edit, dossier_);
    assert(applied);
    if (written.cameras) cameras_ = *written.cameras;
    adjuster_->edit(*written.edit, std::move(written.cameras));
    if (!chosen_point_.empty() && !dossier().find_point(chosen_point_)) choose_point("");
    if (!chosen_photo_.empty() && !dossier().find_photo(chosen_photo_)) choose_photo("");
    if (!chosen_shape_.empty() && !dossier().find_shape(chosen_shape_)) choose_shape("");
    Q_EMIT dossier_changed(*written.edit);
  }
  Q_EMIT history_changed();
  if (written.problem) Q_EMIT refused(text(written.problem->sentence));
  if (written.trouble) Q_EMIT refused(text(written.trouble->sentence));
  done(!written.problem);
  take_turns();
}

void DeskSession::take_turns() {
  while (!writing_ && !turns_.empty()) {
    const auto turn = std::move(turns_.front());
    turns_.pop_front();
    turn();
  }
}

void DeskSession::finish_edits() {
  while (writing_) take_written(writer_->wait());
}

bool DeskSession::wait_for(EditWriter::Work work) {
  finish_edits();
  bool made = false;
  begin(std::move(work), nullptr, [&made](bool done) { made = done; });
  take_written(writer_->wait());
  return made;
}

namespace {

using Made = calib::Result<std::optional<measure::Edit>, calib::Problem>;

EditWriter::Work to_change(measure::Edit edit) {
  return [edit = std::move(edit)](measure::OpenDossier& open) -> Made {
    if (const auto changed = open.change(edit); !changed) return calib::Unexpected(changed.error());
    return std::optional(edit);
  };
}

/// Takes a step of the history; none to take is no problem.
template <typename Step>
EditWriter::Work to_step(const measure::HistoryStep* (measure::EditHistory::*next)() const,
                         Step step) {
  return [next, step](measure::OpenDossier& open) -> Made {
    if (!(open.history().*next)()) return std::optional<measure::Edit>();
    auto taken = (open.*step)();
    if (!taken) return calib::Unexpected(taken.error());
    return std::optional(std::move(taken->edit));
  };
}

Made fold(measure::OpenDossier& open) {
  if (const auto saved = open.save(); !saved) return calib::Unexpected(saved.error());
  return std::optional<measure::Edit>();
}

}  // namespace

void DeskSession::change_soon(measure::Edit edit, QObject* context, Done done) {
  begin_in_turn(to_change(std::move(edit)), context, std::move(done));
}

void DeskSession::change_further(measure::Edit edit, measure::MarkKey mark) {
  begin_in_turn(
      [edit = std::move(edit), mark = std::move(mark)](measure::OpenDossier& open) -> Made {
        const auto changed = open.change_further(edit, mark);
        if (!changed) return calib::Unexpected(changed.error());
        return std::optional(edit);
      },
      nullptr, {});
}

bool DeskSession::change(const measure::Edit& edit) { return wait_for(to_change(edit)); }

void DeskSession::undo() {
  begin_in_turn(to_step(&measure::EditHistory::next_undo, &measure::OpenDossier::undo), nullptr,
                {});
}

void DeskSession::redo() {
  begin_in_turn(to_step(&measure::EditHistory::next_redo, &measure::OpenDossier::redo), nullptr,
                {});
}

void DeskSession::save_soon(QObject* context, Done done) {
  begin_in_turn(fold, context, std::move(done));
}

bool DeskSession::save() { return wait_for(fold); }

void DeskSession::take_state(std::shared_ptr<const LiveState> state) {
  live_ = std::move(state);
  if (live_->tested || !live_->survey) tested_ = live_;
  Q_EMIT live_changed();
}

bool DeskSession::live_is_behind() const {
  return is_writing() || live_->revision < adjuster_->revision();
}

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

const measure::FormResult* DeskSession::form_of(const std::string& shape) const {
  for (const measure::FormResult& form : live_->forms) {
    if (form.name == shape) return &form;
  }
  return nullptr;
}

const measure::ShapeMarkReport* DeskSession::report_of(const measure::ShapeMark& mark) const {
  const auto at = tested_->shape_mark_number.find(measure::key_of(mark));
  return at == tested_->shape_mark_number.end()
             ? nullptr
             : &tested_->survey->report().shape_marks[at->second];
}

void DeskSession::choose_point(const std::string& point) {
  if (!point.empty()) choose_shape("");
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

void DeskSession::choose_shape(const std::string& shape) {
  if (shape == chosen_shape_) return;
  chosen_shape_ = shape;
  Q_EMIT shape_chosen(shape);
}

void DeskSession::set_unit(measure::TextUnit unit) {
  if (unit == unit_) return;
  unit_ = unit;
  Q_EMIT unit_changed();
}

void DeskSession::pick_point(const std::string& point) { Q_EMIT point_picked(point); }

}  // namespace desk
