// A dimension made by picking its points: choose the kind, pick, read the value, Enter.
#pragma once

#include <QComboBox>
#include <QFrame>
#include <QHBoxLayout>
#include <QLabel>
#include <QPointer>
#include <QPushButton>
#include <vector>

#include "tools/desk/fields/point_field.h"
#include "tools/desk/fields/sentence_label.h"
#include "tools/desk/forms/dimension_preview.h"
#include "tools/desk/session/desk_session.h"

namespace desk {

enum class MadeKind { kDistance, kAlong, kAngle, kOffsetLine, kOffsetPlane };

/// A strip that stays beside the views, never before them. While it is shown it takes the points
/// that any view picks; it stays after a dimension is made, for the next of the same kind.
///
/// Object names: dimension_maker, .kind, .role, .point0 …, .name, .value, .make, .close, .sentence
class DimensionMaker : public QFrame {
  Q_OBJECT
 public:
  explicit DimensionMaker(DeskSession* session, QWidget* parent = nullptr);

  /// Shows the strip, empty.
  void begin(MadeKind kind);
  void cancel();
  /// What is picked so far; nothing until every place that the kind needs holds a point.
  [[nodiscard]] std::optional<measure::DimensionKind> kind() const;
  /// The words for what the next pick is: "Pick the point at one end".
  [[nodiscard]] QString role_text() const { return role_->text(); }
  [[nodiscard]] QString value_text() const { return value_->text(); }
  [[nodiscard]] QLineEdit* name_line() const { return name_; }

 Q_SIGNALS:
  void made(const std::string& dimension);
  void closed();

 protected:
  void keyPressEvent(QKeyEvent* event) override;
  bool eventFilter(QObject* watched, QEvent* event) override;

 private:
  [[nodiscard]] MadeKind chosen() const;
  [[nodiscard]] QStringList roles() const;  // of the kind, those that it needs
  void rebuild();
  void add_field();
  void take(const std::string& point);
  void follow();
  void show_value(const std::optional<measure::DimensionResult>& result);
  [[nodiscard]] std::size_t next_place() const;
  /// Why this cannot be made; empty where it can.
  [[nodiscard]] QString problem() const;
  void enter_pressed();
  void make();
  void give_focus_back();

  DeskSession* session_;
  QComboBox* kind_;
  QLabel* role_;
  QWidget* points_row_;
  QHBoxLayout* points_;
  std::vector<PointField*> fields_;
  std::size_t place_ = 0;  // that the next pick goes to
  QLabel* value_;
  QLineEdit* name_;
  QString proposed_;
  TypedField* tolerance_;
  QPushButton* make_;
  SentenceLabel* sentence_;
  QPointer<QWidget> came_from_;  // had the focus before the last pick took it
  DimensionPreview preview_;
};

}  // namespace desk
