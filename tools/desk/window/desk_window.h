// The desk's window: the views of one dossier, and how they work together.
#pragma once

#include <QActionGroup>
#include <QButtonGroup>
#include <QLabel>
#include <QMainWindow>
#include <QPointer>
#include <QSettings>
#include <QSplitter>
#include <QStackedWidget>
#include <QTabWidget>
#include <QTimer>
#include <memory>
#include <set>
#include <string>

#include "tools/desk/look/key_book.h"
#include "tools/desk/session/desk_session.h"
#include "tools/desk/stand/stand_view.h"
#include "tools/desk/window/message_bar.h"
#include "tools/desk/window/start_page.h"

namespace desk {

class AddPhotosForm;
class BarForm;
class CalibrationForm;
class CamerasForm;
class ContactSheet;
class DimensionMaker;
class DimensionsTable;
class KeyList;
class OriginalForm;
class PhotoPane;
class PhotoStore;
class ShapesPanel;
class Sheets;
class Sightings;
class Tolerance;
class WeakSpotsPanel;

/// One dossier at a time. Where it was (view, point, photo, unit) is kept beside the settings, so
/// that it opens there again, also after a crash.
class DeskWindow : public QMainWindow {
  Q_OBJECT
 public:
  /// @param settings  keys, palette, recent dossiers; must outlive the window.
  explicit DeskWindow(QSettings* settings, QWidget* parent = nullptr);
  ~DeskWindow() override;

  /// The views that fill the window, one at a time.
  enum class Bench { kSightings, kContactSheet, kPhoto, kStand, kSheets };

  /// False where it could not be opened: the message bar says why.
  bool open_dossier(const QString& folder);
  void close_dossier();

  [[nodiscard]] DeskSession* session() const { return session_.get(); }
  [[nodiscard]] KeyBook* keys() const { return keys_; }
  [[nodiscard]] MessageBar* messages() const { return messages_; }
  [[nodiscard]] Bench bench() const;
  void show_bench(Bench bench);
  [[nodiscard]] Sightings* sightings() const { return sightings_; }
  [[nodiscard]] ContactSheet* contact_sheet() const { return contact_sheet_; }
  [[nodiscard]] PhotoPane* photo_pane() const { return photo_pane_; }
  [[nodiscard]] StandView* stand() const { return stand_; }
  [[nodiscard]] Sheets* sheets() const { return sheets_; }
  /// The tables beside the bench, by number: dimensions, points, marks, scale bars, weak spots,
  /// edges and rounds.
  void show_side(int number) { side_->setCurrentIndex(number); }
  [[nodiscard]] ShapesPanel* shapes() const { return shapes_; }
  [[nodiscard]] WeakSpotsPanel* weak_spots() const { return weak_spots_; }

 protected:
  void closeEvent(QCloseEvent* event) override;
  void dragEnterEvent(QDragEnterEvent* event) override;
  void dropEvent(QDropEvent* event) override;

 private:
  void make_menus();
  void make_views();
  void connect_views();
  void prepare_photos();
  void restore_place();
  void keep_place();
  void ask_open();
  void show_form(QWidget* form);
  void add_photos(const std::vector<std::filesystem::path>& files);
  void open_photo(const std::string& photo);
  void follow_history();
  void follow_survey();
  void set_palette(const QString& name);
  void fill_recent();
  QAction* add_action(QMenu* menu, const QString& place, const QString& id, const QString& text,
                      const QString& tip, const QKeySequence& key, std::function<void()> what,
                      bool needs_dossier = true);

  QSettings* settings_;
  KeyBook* keys_;
  MessageBar* messages_;
  QStackedWidget* pages_;  ///< start page, or the dossier's
  StartPage* start_;
  QLabel* survey_line_;
  QLabel* saved_line_;
  QMenu* recent_menu_ = nullptr;
  QMenu* unit_menu_ = nullptr;
  QAction *undo_ = nullptr, *redo_ = nullptr;
  std::vector<QAction*> dossier_actions_;
  QTimer keep_timer_;

  std::unique_ptr<PhotoStore> store_;
  std::set<std::string> prepared_;  ///< photos whose decoding was asked for
  std::unique_ptr<DeskSession> session_;
  // Of the open dossier; they go with `holder_`.
  QWidget* holder_ = nullptr;
  QSplitter* splitter_ = nullptr;
  QStackedWidget* benches_ = nullptr;
  QButtonGroup* bench_buttons_ = nullptr;
  QTabWidget* side_ = nullptr;
  Sightings* sightings_ = nullptr;
  ContactSheet* contact_sheet_ = nullptr;
  PhotoPane* photo_pane_ = nullptr;
  StandView* stand_ = nullptr;
  Sheets* sheets_ = nullptr;
  Tolerance* tolerance_ = nullptr;
  DimensionMaker* dimension_maker_ = nullptr;
  WeakSpotsPanel* weak_spots_ = nullptr;
  ShapesPanel* shapes_ = nullptr;
  QPointer<AddPhotosForm> add_photos_form_;
  QPointer<BarForm> bar_form_;
  QPointer<CalibrationForm> calibration_form_;
  QPointer<CamerasForm> cameras_form_;
  QPointer<OriginalForm> original_form_;
  QPointer<QWidget> key_list_;
};

}  // namespace desk
