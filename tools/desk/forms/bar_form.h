// A scale bar or a check length.
#pragma once

#include <QCheckBox>

#include "tools/desk/fields/form.h"
#include "tools/desk/fields/point_field.h"
#include "tools/desk/forms/uncertain_field.h"
#include "tools/desk/session/desk_session.h"

namespace desk {

/// Its two ends are typed, or picked in any view while the form is shown.
class BarForm : public Form {
  Q_OBJECT
 public:
  explicit BarForm(DeskSession* session, QWidget* parent = nullptr);
  void begin();  ///< empty, with a name proposed

 Q_SIGNALS:
  void made(const std::string& bar);

 protected:
  void act() override;
  bool eventFilter(QObject* watched, QEvent* event) override;

 private:
  void take(const std::string& point);
  [[nodiscard]] measure::ScaleBar bar() const;

  DeskSession* session_;
  PointField* from_;
  PointField* to_;
  PointField* next_;
  TypedField* name_;
  TypedField* length_;
  TypedField* u_own_;
  TypedField* u_common_;
  TypedField* certificate_;
  UncertainField* temperature_;
  UncertainField* expansion_;
  QCheckBox* check_only_;
};

}  // namespace desk
