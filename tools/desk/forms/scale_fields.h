// The ratios of a dossier: original to full size, and of the replicas.
#pragma once

#include "measure/edit/edit.h"
#include "tools/desk/fields/typed_field.h"

namespace desk {

/// Two fields for a form; both may be empty.
class ScaleFields {
 public:
  explicit ScaleFields(const QString& form_name);

  TypedField* original;  ///< "1:48", or "1:48 ± 0.2" where the ratio is not exact
  TypedField* replicas;  ///< "1:72 1:24"

  [[nodiscard]] measure::SetScales scales() const;  ///< of fields that can be used
  void set_scales(const std::optional<measure::ScaleRatio>& original_ratio,
                  const std::vector<measure::ScaleRatio>& replica_ratios);
};

}  // namespace desk
