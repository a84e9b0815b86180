// One view of the sightings: the chosen point in one photo.
#pragma once

#include <QPolygonF>
#include <QString>
#include <QTimer>
#include <optional>

#include "measure/live/predict.h"
#include "tools/desk/look/look.h"
#include "tools/desk/sightings/photo_frame.h"
#include "tools/desk/sightings/refiner.h"

namespace desk {

/// What the desk would do with a predicted place, shown before it is done.
struct Proposal {
  enum class State { kNone, kUnderWay, kOffered, kRefused };
  State state = State::kNone;
  std::optional<RefineAnswer> answer;  ///< where offered
  QString why_not, why_not_at_length;  ///< where refused
};

/// A mark that the search for blunders doubts.
struct Doubt {
  double by_px = 0.0;
  QPointF projected_px;  ///< where the other photos put it
  double w = 0.0, critical_w = 0.0;
  QString against;  ///< the other photos
};

/// What is drawn over one view. Made anew whenever something changes; no view keeps more.
struct Sighting {
  struct Marked {
    QPointF at_px;
    MarkState state = MarkState::kByHand;
    double sigma_px = 0.0;
    std::optional<QPointF> clicked_px;  ///< where the refinement moved it away from
  };
  std::optional<Marked> mark;
  std::optional<Doubt> doubt;
  bool hidden = false;      ///< somebody said: not visible here
  bool is_pattern = false;  ///< the view that matches are taken from
  std::optional<measure::PredictedPlace> place;
  std::optional<measure::ErrorEllipse> ellipse;  ///< 95 %, of place
  Proposal proposal;
  QString remark;            ///< why the last refinement was refused
  QString remark_at_length;  ///< with the remedy
  QString empty_word;        ///< what to do where nothing is known yet
};

/// How the view found its middle; a better one may move it, a worse one never does.
enum class Centred { kWholePhoto, kAlongCurve, kOnPlace, kOnMark, kByHand };

class SightingView : public PhotoFrame {
  Q_OBJECT
 public:
  SightingView(PhotoStore* store, std::string photo, QSize size_px, QWidget* parent = nullptr);

  void set_sighting(Sighting sighting);
  [[nodiscard]] const Sighting& sighting() const { return sighting_; }
  /// For a new point: the view may find a new middle.
  void forget_middle();
  [[nodiscard]] Centred centred() const { return centred_; }
  /// Goes to the mark, else to the predicted place, else along the curve, else the whole photo.
  /// Nothing moves that the person has moved, or that is in sight well enough already.
  void find_middle(double magnification);
  /// Below this a click looks nearer instead of marking; held, it looks nearer about the place
  /// under the cursor, and letting go marks: one action, with the aim of an enlarged view.
  static constexpr double kMarkingMagnification = 0.75;
  static constexpr int kHold_ms = 200;
  /// Whether a click marks, or only looks nearer.
  [[nodiscard]] bool click_marks() const { return magnification() >= kMarkingMagnification; }
  void look_nearer(const QPointF& about_px, double magnification);
  /// Two lines under the picture: what is so, and why.
  [[nodiscard]] std::pair<QString, QString> foot() const;

 Q_SIGNALS:
  void clicked_at(const QPointF& at_px);
  void wanted_nearer(const QPointF& at_px);
  void magnified(double factor);  ///< wheel with Ctrl, in a view with a middle of its own
  void opened();                  ///< double click on its head
  void hovered(const QPointF& at_px);

 protected:
  [[nodiscard]] QRect picture_area() const override;
  void paintEvent(QPaintEvent* event) override;
  void mousePressEvent(QMouseEvent* event) override;
  void mouseMoveEvent(QMouseEvent* event) override;
  void mouseReleaseEvent(QMouseEvent* event) override;
  void mouseDoubleClickEvent(QMouseEvent* event) override;
  void wheelEvent(QWheelEvent* event) override;
  void resizeEvent(QResizeEvent* event) override;
  void focusInEvent(QFocusEvent* event) override;
  void focusOutEvent(QFocusEvent* event) override;
  bool event(QEvent* event) override;

 private:
  void aim();
  void draw_overlay(QPainter& painter) const;
  void draw_words(QPainter& painter) const;
  [[nodiscard]] QPolygonF on_screen(const std::vector<Eigen::Vector2d>& curve, std::size_t from,
                                    std::size_t to) const;

  Sighting sighting_;
  Centred centred_ = Centred::kWholePhoto;
  bool middle_found_ = false;
  double standard_ = 4.0;  // magnification about a place
  std::optional<QPointF> pressed_;
  QPointF dragged_from_px_;
  bool dragging_ = false;
  QTimer hold_;
  bool aiming_ = false;  // held long enough, let go marks
};

}  // namespace desk
