#include "measure/shapes/form.h"

namespace measure {

FormVector vector(const Form& form) {
  FormVector numbers;
  numbers << form.position, form.direction, form.radius, form.half_angle;
  return numbers;
}

Form with_vector(Form form, const FormVector& numbers) {
  form.position = numbers.head<3>();
  form.direction = numbers.segment<3>(3).normalized();
  form.radius = numbers[6];
  form.half_angle = numbers[7];
  return form;
}

Form point_form(const Eigen::Vector3d& position) {
  Form form;
  form.position = position;
  return form;
}

Eigen::Vector3d middle(const Form& form) {
  return form.position + 0.5 * (form.from + form.to) * form.direction;
}

bool is_place(FormKind kind) {
  return kind == FormKind::kPoint || kind == FormKind::kCircle || kind == FormKind::kSphere ||
         kind == FormKind::kCone;
}

bool has_axis(FormKind kind) {
  return kind == FormKind::kLine || kind == FormKind::kCylinder || kind == FormKind::kCone;
}

bool is_flat(FormKind kind) { return kind == FormKind::kPlane || kind == FormKind::kCircle; }

}  // namespace measure
