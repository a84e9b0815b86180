// The sheets of a session's dossier, made on a thread of their own and kept until they are written.
#pragma once

#include <QObject>
#include <filesystem>
#include <memory>
#include <set>
#include <string>
#include <vector>

#include "calib/board/board_pdf.h"
#include "measure/store/sheet_files.h"
#include "tools/desk/session/background.h"
#include "tools/desk/session/desk_session.h"

namespace desk {

/// What shall leave for the workshop.
struct SheetWish {
  std::set<measure::SheetPart> parts;
  calib::Paper paper;
  std::vector<measure::ScaleRatio> replica_scales;  ///< empty: those of the dossier
  std::string date, measured_by;                    ///< empty: not told
  std::vector<std::string> only;                    ///< dimensions; empty: all
  std::vector<std::string> draw;                    ///< points and shapes; empty: all that matter
  std::string onto;                                 ///< a plane; empty: the usual views
  measure::TextUnit unit = measure::TextUnit::kMm;
  double tolerance_mm = 0.1;
};

/// Adjusts anew from the dossier alone, as the command does: the same dossier and wish give the
/// same bytes there and here, whatever was edited before.
class SheetMaker : public QObject {
  Q_OBJECT
 public:
  explicit SheetMaker(DeskSession* session, QObject* parent = nullptr);

  /// Once the edits asked for before are written. Stops what is being made.
  void make(SheetWish wish);
  /// Writes what was made last. Stops what is being made.
  void write(const std::filesystem::path& folder);
  /// Nothing is made, nothing written. A folder that is being written is not stopped: it takes
  /// moments, and half of it would be of no use.
  void cancel();
  [[nodiscard]] bool busy() const { return busy_; }
  [[nodiscard]] bool writing() const { return writing_; }
  /// The last that were made whole; null: none.
  [[nodiscard]] std::shared_ptr<const measure::SheetFiles> made() const { return made_; }
  /// Whether the dossier is still the one that they were made from.
  [[nodiscard]] bool is_fresh() const { return made_ && fresh_; }

 Q_SIGNALS:
  void busy_changed();
  /// How far, 0 to 1, and what is being done.
  void went_on(double share, const QString& what);
  void made_anew();
  void grew_stale();
  void written(const QString& folder);
  void failed(const QString& sentence);

 private:
  void begin(SheetWish wish);
  void set_busy(bool busy);

  DeskSession* session_;
  std::shared_ptr<const measure::SheetFiles> made_;
  std::shared_ptr<const measure::Survey> survey_;  ///< of the dossier as it is; null: not adjusted
  bool fresh_ = false, busy_ = false, writing_ = false;
  std::uint64_t asked_ = 0;    ///< counts what was asked for, so that a late turn is known
  std::uint64_t changes_ = 0;  ///< of the dossier
  Background background_;
};

}  // namespace desk
