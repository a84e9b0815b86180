// The dossier that a desk works on: its edits, its live survey, and what is chosen in it.
#pragma once

#include <QObject>
#include <QString>
#include <deque>
#include <filesystem>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "calib/base/problem.h"
#include "calib/base/result.h"
#include "measure/dimension/quantity_text.h"
#include "measure/dossier/dossier.h"
#include "measure/edit/edit.h"
#include "measure/store/open_dossier.h"
#include "tools/desk/session/edit_writer.h"
#include "tools/desk/session/live_adjuster.h"

namespace desk {

/// One open dossier. Views read it, ask for edits through change(), and follow its signals; they
/// never hold a copy of what it knows beyond drawing it.
class DeskSession : public QObject {
  Q_OBJECT
 public:
  /// Errors: a Problem if the folder holds no dossier that can be read.
  [[nodiscard]] static calib::Result<std::unique_ptr<DeskSession>, calib::Problem> open(
      const std::filesystem::path& folder);
  ~DeskSession() override;

  [[nodiscard]] const std::filesystem::path& folder() const { return folder_; }
  [[nodiscard]] const measure::Dossier& dossier() const { return dossier_; }
  [[nodiscard]] const Cameras& cameras() const { return cameras_; }
  /// Where a photo's file lies.
  [[nodiscard]] std::filesystem::path file_of(const measure::Photo& photo) const;
  /// The mark of a point in a photo, or null. Valid until the next edit.
  [[nodiscard]] const measure::Mark* mark_at(const std::string& photo,
                                             const std::string& point) const;
  /// Sentence why nothing can be changed; empty where it can.
  [[nodiscard]] const QString& read_only_reason() const { return read_only_reason_; }
  /// Sentence of what a crash left behind and opening recovered; empty where there was nothing.
  [[nodiscard]] const QString& recovery_sentence() const { return recovery_sentence_; }

  // Edits are written and fsynced on a thread of their own (EditWriter), one after another. The
  // dossier as it is seen here contains an edit only after that, and so do the signals: what is
  // shown is on the disk. An edit that was refused is never seen.

  /// Called on the thread of the widgets once the edit is written and everybody has heard of it;
  /// false where it was refused: refused() has said why.
  using Done = std::function<void(bool done)>;
  /// Makes the edit without waiting for the disk, after those asked for before.
  /// @param context  `done` is not called once it is gone.
  void change_soon(measure::Edit edit, QObject* context = nullptr, Done done = {});
  /// Changes a mark once more, as a refinement does: one undo takes back this together with the
  /// last change of the mark. As change_soon().
  void change_further(measure::Edit edit, measure::MarkKey mark);
  void undo();
  void redo();
  /// Runs the action once all edits asked for before are written, at once where none is under way:
  /// for what looks at the dossier to say what to change.
  void in_turn(QObject* context, std::function<void()> action);
  /// Whether something asked for is not written yet.
  [[nodiscard]] bool is_writing() const { return writing_ || !turns_.empty(); }
  /// Waits for all that was asked for.
  void finish_edits();
  /// Makes the edit, and waits for it and those before. False where it was refused: refused() has
  /// said why. For forms; marks take the way above.
  bool change(const measure::Edit& edit);
  /// What undo() would take back, for the menu; empty: nothing.
  [[nodiscard]] const QString& undo_text() const { return undo_text_; }
  [[nodiscard]] const QString& redo_text() const { return redo_text_; }
  /// Folds the edits into dossier.json; they are safe in the journal before. As change_soon() and
  /// change().
  void save_soon(QObject* context, Done done);
  bool save();
  /// Edits that only the journal holds.
  [[nodiscard]] std::size_t unsaved() const { return unsaved_; }

  /// The newest adjusted state; its survey is null until one can be solved.
  [[nodiscard]] std::shared_ptr<const LiveState> live() const { return live_; }
  /// Whether edits are under way that live() does not contain yet.
  [[nodiscard]] bool live_is_behind() const;
  /// How the marks did at the last search for blunders, also while newer numbers are not tested
  /// yet.
  [[nodiscard]] const measure::MarkReport* report_of(const std::string& photo,
                                                     const std::string& point) const;
  [[nodiscard]] bool is_doubted(const std::string& photo, const std::string& point) const;
  /// Of the chosen state, placed or not; null where the survey does not know it.
  [[nodiscard]] const measure::PhotoReport* photo_report(const std::string& photo) const;
  [[nodiscard]] const measure::PointReport* point_report(const std::string& point) const;

  /// What a shape is measured as; null where there is no survey, or it does not know the shape yet.
  [[nodiscard]] const measure::FormResult* form_of(const std::string& shape) const;
  /// How a shape's mark did at the last search for blunders; null where it was not there then.
  [[nodiscard]] const measure::ShapeMarkReport* report_of(const measure::ShapeMark& mark) const;

  // What is chosen, the same in all views; empty: nothing.
  [[nodiscard]] const std::string& chosen_point() const { return chosen_point_; }
  [[nodiscard]] const std::string& chosen_photo() const { return chosen_photo_; }
  [[nodiscard]] const std::string& chosen_dimension() const { return chosen_dimension_; }
  void choose_point(const std::string& point);
  void choose_photo(const std::string& photo);
  void choose_dimension(const std::string& dimension);
  /// An edge, round or plane. While one is chosen that is marked by itself, photos take marks along
  /// it; choosing a point ends that.
  [[nodiscard]] const std::string& chosen_shape() const { return chosen_shape_; }
  void choose_shape(const std::string& shape);

  // How lengths are shown, the same in all views.
  [[nodiscard]] measure::TextUnit unit() const { return unit_; }
  void set_unit(measure::TextUnit unit);

  /// Points picked one after another, for a dimension or a bar: photos, sightings, tables and the
  /// view in space all call this.
  void pick_point(const std::string& point);

 Q_SIGNALS:
  /// After every change, undo and redo. Views may look at the edit to redraw little.
  void dossier_changed(const measure::Edit& edit);
  void live_changed();
  void point_chosen(const std::string& point);
  void photo_chosen(const std::string& photo);
  void dimension_chosen(const std::string& dimension);
  void shape_chosen(const std::string& shape);
  void point_picked(const std::string& point);
  void unit_changed();
  /// A sentence for the person: why an edit or a save did not happen.
  void refused(const QString& sentence);
  void history_changed();

 private:
  DeskSession(measure::OpenDossier open, Cameras cameras);
  void begin(EditWriter::Work work, QObject* context, Done done);
  void begin_in_turn(EditWriter::Work work, QObject* context, Done done);
  bool wait_for(EditWriter::Work work);
  void take_written(Written written);
  void take_turns();
  void take_state(std::shared_ptr<const LiveState> state);

  std::filesystem::path folder_;
  measure::Dossier dossier_;  ///< as it is on the disk
  Cameras cameras_;
  QString read_only_reason_, recovery_sentence_, undo_text_, redo_text_;
  std::size_t unsaved_ = 0;
  std::deque<std::function<void()>> turns_;  ///< asked for while something is being written
  bool writing_ = false;
  Done writing_done_;
  std::unique_ptr<LiveAdjuster> adjuster_;
  std::shared_ptr<const LiveState> live_ = std::make_shared<LiveState>();
  std::shared_ptr<const LiveState> tested_ = live_;  ///< the last whose marks were searched
  std::string chosen_point_, chosen_photo_, chosen_dimension_, chosen_shape_;
  measure::TextUnit unit_ = measure::TextUnit::kMm;
  std::unique_ptr<EditWriter> writer_;  ///< the first to go: its thread calls this object
};

}  // namespace desk
