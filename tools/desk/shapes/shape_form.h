// A shape made from points or from other shapes: chosen, picked, judged before it is made.
#pragma once

#include <QComboBox>

#include "tools/desk/fields/form.h"
#include "tools/desk/shapes/place_field.h"
#include "tools/desk/shapes/place_list.h"
#include "tools/desk/shapes/result_view.h"
#include "tools/desk/shapes/shape_preview.h"

namespace desk {

enum class MadeShape {
  kLine,
  kPlane,
  kCircle,
  kSphere,
  kCylinder,
  kCone,
  kMirrorPlane,
  kParallelPlane,
  kMidPlane,
  kCrossing,
};

/// Says what is missing until it can be made, and what it would be measured as before it is. Points
/// are picked in any view while the form is shown.
///
/// Object names: shape_form, .kind, .points.next, .points.list, .points.take_out, .plane, .through,
/// .offset, .first, .second, .name, .result
class ShapeForm : public Form {
  Q_OBJECT
 public:
  explicit ShapeForm(DeskSession* session, QWidget* parent = nullptr);

  /// Empty but for these: points for what goes through points, shapes for what is made of shapes.
  void begin(MadeShape kind, const std::vector<std::string>& points = {},
             const std::vector<std::string>& shapes = {});
  [[nodiscard]] MadeShape chosen() const;

 Q_SIGNALS:
  void made(const std::string& shape);

 protected:
  void act() override;
  void done(int result) override;

 private:
  void add_fields();
  void show_rows();
  void fill_shapes();
  void follow();
  void show_answer(const std::optional<measure::FormResult>& result);
  [[nodiscard]] bool is_of_points() const;
  [[nodiscard]] measure::ShapeOrigin origin() const;
  [[nodiscard]] measure::Shape shape() const;
  /// What is to be done before it can be made; empty: nothing.
  [[nodiscard]] QString missing() const;
  [[nodiscard]] QString missing_points() const;
  /// Why it cannot be made although nothing is missing.
  [[nodiscard]] QString problem() const;
  [[nodiscard]] QString word() const;
  [[nodiscard]] QString proposed_name() const;

  DeskSession* session_;
  QComboBox* kind_;
  PlaceList* points_;
  QComboBox* plane_;
  PlaceField* through_;
  TypedField* offset_;
  QComboBox* first_;
  QComboBox* second_;
  TypedField* name_;
  QString proposed_;
  ResultView* result_;
  ShapePreview preview_;
  bool filling_ = false;
};

/// "plane 2": neither a point nor a shape has it.
[[nodiscard]] QString proposed_shape_name(const measure::Dossier& dossier, const QString& word);

}  // namespace desk
