#include "tools/desk/sightings/pair_view.h"

#include <QLabel>
#include <QPainter>
#include <QVBoxLayout>
#include <algorithm>

#include "measure/live/trace.h"

namespace desk {

/// A sighting with one curve more: that of the place under the cursor in the other photo.
class PairView::Side : public SightingView {
 public:
  using SightingView::SightingView;
  std::vector<Eigen::Vector2d> curve;

 protected:
  void paintEvent(QPaintEvent* event) override {
    SightingView::paintEvent(event);
    if (curve.size() < 2) return;
    QPolygonF line;
    for (const Eigen::Vector2d& at : curve) line << widget_from_photo({at.x(), at.y()});
    QPainter painter(this);
    painter.setClipRect(picture_area());
    painter.setRenderHint(QPainter::Antialiasing);
    painter.setPen(QPen(QColor(0, 0, 0, 150), 3.5));
    painter.drawPolyline(line);
    painter.setPen(QPen(kEpipolarColour, 1.5));
    painter.drawPolyline(line);
  }
};

PairView::PairView(DeskSession* session, PhotoStore* store, QWidget* parent)
    : QWidget(parent), session_(session), store_(store) {
  setObjectName("sightings.pair");
  auto* column = new QVBoxLayout(this);
  column->setContentsMargins(4, 4, 4, 4);
  column->setSpacing(4);
  row_ = new QHBoxLayout;
  row_->setSpacing(4);
  column->addLayout(row_, 1);
  tone_row_ = new ToneRow(this);
  column->addWidget(tone_row_);
}

SightingView* PairView::side(int number) const { return sides_[number]; }
const std::vector<Eigen::Vector2d>& PairView::curve_in(int side) const {
  return sides_[side]->curve;
}

void PairView::put(int number, const std::string& name) {
  const measure::Photo* photo = session_->dossier().find_photo(name);
  if (!photo) return;
  const QSize size(photo->size.width, photo->size.height);
  Side*& side = sides_[number];
  if (!side) {
    side = new Side(store_, name, size, this);
    side->setObjectName(number == 0 ? "sightings.pair.left" : "sightings.pair.right");
    row_->addWidget(side, 1);
    side->set_tone(tone_row_->tone());
    connect(side, &SightingView::hovered, this,
            [this, number](const QPointF& at_px) { hovered(number, at_px); });
    Q_EMIT made(side);
  } else {
    side->show_photo(name, size);
  }
  side->curve.clear();
  side->forget_middle();
}

void PairView::show_pair(const std::string& left, const std::string& right) {
  put(0, left);
  put(1, right);
  Q_EMIT photos_changed();
}

void PairView::step(int number, int by) {
  const auto& photos = session_->dossier().photos;
  if (photos.size() < 3 || !sides_[0] || !sides_[1]) return;
  const auto at = std::find_if(photos.begin(), photos.end(), [&](const measure::Photo& photo) {
    return photo.name == sides_[number]->photo();
  });
  const auto count = std::ptrdiff_t(photos.size());
  std::ptrdiff_t next = at - photos.begin();
  do {
    next = (next + by + count) % count;
  } while (photos[size_t(next)].name == sides_[1 - number]->photo());
  put(number, photos[size_t(next)].name);
  sides_[1 - number]->curve.clear();
  sides_[1 - number]->update();
  Q_EMIT photos_changed();
}

void PairView::refresh(const std::function<Sighting(const std::string&)>& sighting_of) {
  for (Side* side : sides_) {
    if (side) side->set_sighting(sighting_of(side->photo()));
  }
}

void PairView::hovered(int number, const QPointF& at_px) {
  Side *here = sides_[number], *there = sides_[1 - number];
  if (!there) return;
  here->curve.clear();
  here->update();
  there->curve.clear();
  const auto live = session_->live();
  if (live->survey && here->holds(at_px)) {
    const auto from = measure::oriented_photo(*live->survey, here->photo());
    const auto to = measure::oriented_photo(*live->survey, there->photo());
    const measure::Photo* photo = session_->dossier().find_photo(there->photo());
    if (from && to && photo) {
      there->curve =
          measure::epipolar_curve(*live->survey, *from, {at_px.x(), at_px.y()}, *to, photo->size)
              .curve_px;
    }
  }
  there->update();
}

}  // namespace desk
