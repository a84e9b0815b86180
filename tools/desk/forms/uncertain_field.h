// A value with its standard uncertainty: both or neither.
#pragma once

#include <optional>

#include "measure/dossier/dossier.h"
#include "tools/desk/fields/typed_field.h"

namespace desk {

class UncertainField : public TypedField {
  Q_OBJECT
 public:
  /// @param unit    "°C": shown behind both.
  /// @param factor  what one typed unit is in the dossier's: 1e-6 for 10⁻⁶ per K.
  UncertainField(const QString& object_name, const QString& tip, const QString& unit,
                 double factor = 1.0, QWidget* parent = nullptr);

  [[nodiscard]] std::optional<measure::Uncertain> value() const;
  void set_value(const std::optional<measure::Uncertain>& value);

 private:
  double factor_;
};

}  // namespace desk
