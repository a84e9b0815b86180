// The sightings: the chosen point in all photos at once. The heart of the desk.
#pragma once

#include <QButtonGroup>
#include <QComboBox>
#include <QLabel>
#include <QScrollArea>
#include <QSlider>
#include <QStackedWidget>
#include <QToolButton>
#include <QWidget>
#include <map>
#include <set>
#include <string>
#include <vector>

#include "tools/desk/look/key_book.h"
#include "tools/desk/session/desk_session.h"
#include "tools/desk/sightings/order.h"
#include "tools/desk/sightings/pair_view.h"
#include "tools/desk/sightings/place.h"
#include "tools/desk/sightings/point_header.h"
#include "tools/desk/sightings/point_marker.h"
#include "tools/desk/sightings/sighting_view.h"

namespace desk {

class Sightings : public QWidget {
  Q_OBJECT
 public:
  /// The store must have been told of the dossier's photos (PhotoStore::enter).
  Sightings(DeskSession* session, PhotoStore* store, KeyBook* keys,
            Refiner refiner = refine_as_asked, QWidget* parent = nullptr);

  [[nodiscard]] PointMarker& marker() { return marker_; }
  /// The view of a photo, or null.
  [[nodiscard]] SightingView* view(const std::string& photo) const;
  /// Photos whose views are shown, in their order.
  [[nodiscard]] const std::vector<std::string>& shown() const { return shown_; }
  /// The view that keys act on, or null.
  [[nodiscard]] SightingView* focused() const;
  [[nodiscard]] SightingFilter filter() const { return filter_; }
  void set_filter(SightingFilter filter);
  /// Gives the keys to a view: the first that is not marked, else the first.
  void focus_view();
  /// How the photos are shown, here as in the photo view; their pixels stay what they are.
  [[nodiscard]] const Tone& tone() const { return pair_->tone_row()->tone(); }
  void set_tone(const Tone& tone);
  /// What marks are taken to sit on when they are refined.
  void set_refine_as(RefineAs as);
  /// Whether nothing is being computed for what is shown.
  [[nodiscard]] bool is_settled() const;

 Q_SIGNALS:
  void tone_changed(const desk::Tone& tone);
  /// Something is set otherwise that is to be kept for the next time.
  void ways_changed();
  /// A sentence for the status line.
  void said(const QString& sentence);
  /// Somebody wants this photo large.
  void photo_opened(const std::string& photo);

 protected:
  void resizeEvent(QResizeEvent* event) override;
  void showEvent(QShowEvent* event) override;

 private:
  void build();
  void add_keys(KeyBook* keys);
  void sync_views();  ///< one view for every photo of the dossier
  void point_changed();
  void take_places(std::shared_ptr<const Places> places);
  void sort_anew();  ///< order and filter, as of now
  void lay_out();
  void refresh();  ///< what is drawn over the views
  void refresh_view(const std::string& photo);
  void middle(SightingView& view);
  void count_chips();
  void want_proposals();
  [[nodiscard]] std::vector<std::string> on_screen() const;
  void connect_view(SightingView* view);
  void focus_step(int by, bool unmarked_only);
  void go_on(int marked, const QStringList& left_open);
  void show_focused(SightingView* view);
  void nudge(double x, double y);
  void accept_all();
  void set_magnification(double magnification);
  void turn_views();
  void set_pair(bool on);
  void go_to(const std::string& point);
  void say(const QString& sentence);
  [[nodiscard]] QString key_of(const char* id) const;  ///< " [H]"; empty where there is none
  [[nodiscard]] QString key_hint() const;
  template <typename Action>
  void with_focused(Action action);

  DeskSession* session_;
  PhotoStore* store_;
  PointMarker marker_;
  PlaceFinder finder_;
  PointHeader* header_;
  QButtonGroup* chips_;
  QComboBox* refine_as_;
  QToolButton *way_up_, *pair_button_;
  QSlider* magnifier_;
  QStackedWidget* stack_;
  QScrollArea* scroll_;
  QWidget* grid_;
  PairView* pair_;
  QLabel *empty_, *hint_;

  std::map<std::string, SightingView*> views_;
  std::vector<std::string> order_, shown_;
  SightingFilter filter_ = SightingFilter::kCouldBeSeen;
  double magnification_ = 4.0;
  bool order_due_ = true;  ///< the first places of a newly chosen point settle the order
  bool places_due_ = false;
  std::string last_focused_;
};

}  // namespace desk
