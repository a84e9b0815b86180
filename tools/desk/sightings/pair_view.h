// Two photos side by side, with the line of sight of the place under the cursor drawn in the other.
#pragma once

#include <QHBoxLayout>
#include <QPolygonF>
#include <QWidget>
#include <memory>
#include <vector>

#include "tools/desk/photos/tone_row.h"
#include "tools/desk/session/desk_session.h"
#include "tools/desk/sightings/sighting_view.h"

namespace desk {

/// A mode of the sightings. Each side is a sighting of the chosen point in a large frame that can
/// be dragged and enlarged freely.
class PairView : public QWidget {
  Q_OBJECT
 public:
  PairView(DeskSession* session, PhotoStore* store, QWidget* parent = nullptr);

  void show_pair(const std::string& left, const std::string& right);
  [[nodiscard]] SightingView* side(int number) const;  ///< 0 left, 1 right; null before show_pair()
  /// Exchanges one side's photo for its neighbour in the dossier.
  void step(int side, int by);
  void refresh(const std::function<Sighting(const std::string&)>& sighting_of);
  /// The curve drawn in a side, px of its photo.
  [[nodiscard]] const std::vector<Eigen::Vector2d>& curve_in(int side) const;
  [[nodiscard]] ToneRow* tone_row() const { return tone_row_; }

 Q_SIGNALS:
  void made(desk::SightingView* view);  ///< a side is new: to be connected
  void photos_changed();

 private:
  class Side;
  void hovered(int side, const QPointF& at_px);
  void put(int side, const std::string& photo);

  DeskSession* session_;
  PhotoStore* store_;
  QHBoxLayout* row_;
  ToneRow* tone_row_;
  Side* sides_[2] = {nullptr, nullptr};
};

}  // namespace desk
