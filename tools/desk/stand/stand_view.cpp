#include "tools/desk/stand/stand_view.h"

#include <QEvent>
#include <QMouseEvent>
#include <QOpenGLWidget>
#include <QPainter>
#include <QSurfaceFormat>
#include <QVBoxLayout>
#include <QWheelEvent>

namespace desk {

class StandOpenGl : public QOpenGLWidget {
 public:
  explicit StandOpenGl(StandView* view) : QOpenGLWidget(view), view_(view) {
    QSurfaceFormat format;
    format.setSamples(4);
    setFormat(format);
  }

 protected:
  void paintGL() override {
    QPainter painter(this);
    view_->paint_on(painter);
  }

 private:
  StandView* view_;
};

class StandPlain : public QWidget {
 public:
  explicit StandPlain(StandView* view) : QWidget(view), view_(view) {}

 protected:
  void paintEvent(QPaintEvent*) override {
    QPainter painter(this);
    view_->paint_on(painter);
  }

 private:
  StandView* view_;
};

StandView::StandView(DeskSession* session, KeyBook* keys, Surface surface, QWidget* parent)
    : QWidget(parent), session_(session) {
  setObjectName("stand");
  if (surface == Surface::kOpenGl) {
    surface_ = new StandOpenGl(this);
  } else {
    surface_ = new StandPlain(this);
  }
  surface_->setObjectName("stand.surface");
  surface_->setMouseTracking(true);
  surface_->setFocusPolicy(Qt::StrongFocus);
  surface_->setMinimumSize(240, 180);
  surface_->setAccessibleName(tr("The original on its stand"));
  surface_->setToolTip(tr(
      "Drag to turn, with Shift to move; turn the wheel to come nearer. Click a point or a photo "
      "to choose it, double-click a photo to open it."));
  surface_->installEventFilter(this);
  setFocusProxy(surface_);
  auto* layout = new QVBoxLayout(this);
  layout->setContentsMargins(0, 0, 0, 0);
  layout->addWidget(surface_);

  const QString place = tr("On its stand");
  const auto add = [&](const char* id, const QString& text, const QKeySequence& key,
                       std::function<void()> what) {
    keys->add(this, place, id, text, text, key, [this, what = std::move(what)] {
      what();
      redraw();
    });
  };
  add("stand.turn_left", tr("Turn left"), Qt::Key_Left, [this] { scene_.turn(-0.1, 0); });
  add("stand.turn_right", tr("Turn right"), Qt::Key_Right, [this] { scene_.turn(0.1, 0); });
  add("stand.turn_up", tr("Look from higher"), Qt::Key_Up, [this] { scene_.turn(0, 0.1); });
  add("stand.turn_down", tr("Look from lower"), Qt::Key_Down, [this] { scene_.turn(0, -0.1); });
  add("stand.nearer", tr("Come nearer"), Qt::Key_Plus, [this] { scene_.zoom(1.2); });
  add("stand.further", tr("Go further off"), Qt::Key_Minus, [this] { scene_.zoom(1 / 1.2); });
  add("stand.all", tr("Show everything"), Qt::Key_A, [this] { scene_.show_all(); });
  add("stand.centre", tr("Chosen point into the middle"), Qt::Key_C,
      [this] { scene_.centre_on(session_->chosen_point()); });
  add("stand.names", tr("All names and values"), Qt::Key_N,
      [this] { scene_.show_names = !scene_.show_names; });
  add("stand.larger", tr("Larger error ellipses"), Qt::Key_E,
      [this] { scene_.set_exaggeration(2 * scene_.exaggeration()); });
  add("stand.smaller", tr("Smaller error ellipses"), QKeySequence(Qt::SHIFT | Qt::Key_E),
      [this] { scene_.set_exaggeration(scene_.exaggeration() / 2); });
  add("stand.next_photo", tr("Next photo that sees the chosen point"), Qt::Key_F,
      [this] { step_photo(1); });
  add("stand.previous_photo", tr("Previous photo that sees the chosen point"),
      QKeySequence(Qt::SHIFT | Qt::Key_F), [this] { step_photo(-1); });
  add("stand.open", tr("Open the chosen photo"), Qt::Key_Return, [this] {
    if (!session_->chosen_photo().empty()) Q_EMIT photo_opened(session_->chosen_photo());
  });

  connect(session_, &DeskSession::live_changed, this, &StandView::take);
  connect(session_, &DeskSession::unit_changed, this, &StandView::take);
  connect(session_, &DeskSession::dossier_changed, this, &StandView::redraw);
  connect(session_, &DeskSession::point_chosen, this, &StandView::redraw);
  connect(session_, &DeskSession::photo_chosen, this, &StandView::redraw);
  connect(session_, &DeskSession::dimension_chosen, this, &StandView::redraw);
}

/// While nobody looks, the scene is only known to be old.
void StandView::take() {
  is_old_ = !isVisible();
  if (is_old_) return;
  scene_.take(*session_);
  redraw();
}

void StandView::showEvent(QShowEvent* event) {
  QWidget::showEvent(event);
  if (is_old_) take();
}

void StandView::suggest(std::optional<Eigen::Vector3d> camera, const Eigen::Vector3d& looking_at) {
  scene_.suggest(std::move(camera), looking_at);
  redraw();
}

void StandView::redraw() { surface_->update(); }

void StandView::paint_on(QPainter& painter) {
  scene_.paint(painter, QRectF(surface_->rect()), *session_);
}

void StandView::choose(const QPointF& at) {
  const StandHit hit = scene_.hit(at, QRectF(surface_->rect()));
  if (!hit.point.empty()) {
    session_->choose_point(hit.point);
    session_->pick_point(hit.point);
  } else if (!hit.photo.empty()) {
    session_->choose_photo(hit.photo);
  }
}

void StandView::step_photo(int by) {
  std::vector<std::string> seeing;
  for (const measure::Photo& photo : session_->dossier().photos) {
    if (session_->mark_at(photo.name, session_->chosen_point())) seeing.push_back(photo.name);
  }
  if (seeing.empty()) return;
  const auto at = std::find(seeing.begin(), seeing.end(), session_->chosen_photo());
  const auto count = static_cast<std::ptrdiff_t>(seeing.size());
  const std::ptrdiff_t now = at == seeing.end() ? (by > 0 ? -1 : 0) : at - seeing.begin();
  session_->choose_photo(seeing[static_cast<std::size_t>((now + by + count) % count)]);
}

bool StandView::eventFilter(QObject* watched, QEvent* event) {
  if (watched != surface_) return QWidget::eventFilter(watched, event);
  switch (event->type()) {
    case QEvent::MouseButtonPress: {
      auto* mouse = static_cast<QMouseEvent*>(event);
      pressed_at_ = last_at_ = mouse->position();
      dragged_ = false;
      surface_->setFocus(Qt::MouseFocusReason);
      return true;
    }
    case QEvent::MouseMove: {
      auto* mouse = static_cast<QMouseEvent*>(event);
      if (mouse->buttons() == Qt::NoButton) return false;
      const QPointF moved = mouse->position() - last_at_;
      if (!dragged_ && (mouse->position() - pressed_at_).manhattanLength() < 4) return true;
      dragged_ = true;
      last_at_ = mouse->position();
      if ((mouse->modifiers() & Qt::ShiftModifier) || (mouse->buttons() & Qt::MiddleButton)) {
        const double size = std::min(surface_->width(), surface_->height());
        scene_.shift(moved.x() / size, -moved.y() / size);
      } else {
        scene_.turn(-0.008 * moved.x(), 0.008 * moved.y());
      }
      redraw();
      return true;
    }
    case QEvent::MouseButtonRelease: {
      auto* mouse = static_cast<QMouseEvent*>(event);
      if (!dragged_ && mouse->button() == Qt::LeftButton) choose(mouse->position());
      return true;
    }
    case QEvent::MouseButtonDblClick: {
      auto* mouse = static_cast<QMouseEvent*>(event);
      const StandHit hit = scene_.hit(mouse->position(), QRectF(surface_->rect()));
      if (hit.point.empty() && !hit.photo.empty()) Q_EMIT photo_opened(hit.photo);
      return true;
    }
    case QEvent::Wheel: {
      auto* wheel = static_cast<QWheelEvent*>(event);
      scene_.zoom(std::pow(1.0015, wheel->angleDelta().y()));
      redraw();
      return true;
    }
    default:
      return QWidget::eventFilter(watched, event);
  }
}

}  // namespace desk
