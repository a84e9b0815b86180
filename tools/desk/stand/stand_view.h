// The original on its stand: the view in space, turned and picked with mouse or keys.
#pragma once

#include <QWidget>

#include "tools/desk/look/key_book.h"
#include "tools/desk/session/desk_session.h"
#include "tools/desk/stand/stand_scene.h"

namespace desk {

/// OpenGL where there is a display that has it (also in software), plain painting elsewhere: both
/// draw the same scene.
class StandView : public QWidget {
  Q_OBJECT
 public:
  enum class Surface { kOpenGl, kPlain };
  StandView(DeskSession* session, KeyBook* keys, Surface surface, QWidget* parent = nullptr);

  [[nodiscard]] const StandScene& scene() const { return scene_; }
  /// The widget that is painted on; mouse events belong there.
  [[nodiscard]] QWidget* surface() const { return surface_; }
  void suggest(std::optional<Eigen::Vector3d> camera, const Eigen::Vector3d& looking_at);

 Q_SIGNALS:
  /// A photo was asked for: double click, or Enter with one chosen.
  void photo_opened(const std::string& photo);

 protected:
  bool eventFilter(QObject* watched, QEvent* event) override;
  void showEvent(QShowEvent* event) override;

 private:
  void paint_on(QPainter& painter);
  void take();
  void redraw();
  void choose(const QPointF& at);
  void step_photo(int by);

  friend class StandOpenGl;
  friend class StandPlain;
  DeskSession* session_;
  StandScene scene_;
  QWidget* surface_;
  QPointF pressed_at_, last_at_;
  bool dragged_ = false;
  bool is_old_ = true;  ///< the scene, against what the session knows
};

}  // namespace desk
