// The model axes: which plane is the waterline, which line the axis, which point the origin.
#pragma once

#include <QComboBox>
#include <QTableWidget>

#include "tools/desk/fields/form.h"
#include "tools/desk/shapes/place_field.h"
#include "tools/desk/shapes/shape_preview.h"

namespace desk {

/// Shows the coordinates of all points in the axes chosen, before they are set.
///
/// Object names: axes_form, .plane, .line, .origin, .coordinates, .take_back
class AxesForm : public Form {
  Q_OBJECT
 public:
  explicit AxesForm(DeskSession* session, QWidget* parent = nullptr);
  /// Shows the dossier's axes, or what is to be chosen where it has none.
  void show_dossier();

 protected:
  void act() override;
  void done(int result) override;

 private:
  void fill_shapes();
  void follow();
  void show_coordinates(const std::vector<measure::CoordinatesResult>& coordinates);
  void take_back();
  [[nodiscard]] measure::AxesNames axes() const;
  [[nodiscard]] QString missing() const;

  DeskSession* session_;
  QComboBox* plane_;
  QComboBox* line_;
  PlaceField* origin_;
  QTableWidget* coordinates_;
  QPushButton* take_back_;
  AxesPreview preview_;
  bool filling_ = false;
};

}  // namespace desk
