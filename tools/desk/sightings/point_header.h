// The chosen point in words and numbers: name, kind, how well it is known, what hangs on it.
#pragma once

#include <QLabel>
#include <QLineEdit>
#include <QWidget>
#include <map>
#include <optional>
#include <string>

#include "tools/desk/session/desk_session.h"

namespace desk {

class PointHeader : public QWidget {
  Q_OBJECT
 public:
  explicit PointHeader(DeskSession* session, QWidget* parent = nullptr);

  /// Opens the line for a new point's name with a free one offered, all of it selected.
  void ask_for_name();

 Q_SIGNALS:
  void named();  ///< a new point was made and chosen, or the question was given up

 private:
  void point_changed();
  void numbers_changed();
  void make_point();
  void show_dimensions();
  [[nodiscard]] std::optional<double> position_U() const;
  void resizeEvent(QResizeEvent* event) override;
  bool eventFilter(QObject* watched, QEvent* event) override;

  DeskSession* session_;
  QLabel *name_, *kind_, *position_, *dimensions_;
  QLineEdit* new_name_;
  QStringList dimension_texts_;
  std::string last_named_;              ///< what the next name follows from
  std::optional<double> before_, now_;  ///< U of the position, unit of the survey
};

/// Expanded uncertainty (k = 2) of a point in its weakest direction, in the unit of the survey.
[[nodiscard]] double weakest_U(const Eigen::Matrix3d& covariance);

}  // namespace desk
