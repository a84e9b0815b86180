// The largest U that will do, for dimensions that have no tolerance of their own.
#pragma once

#include <QObject>
#include <optional>

#include "measure/dimension/dimension.h"
#include "measure/dossier/dossier.h"

namespace desk {

/// One for a desk; tables and weak spots follow it.
class Tolerance : public QObject {
  Q_OBJECT
 public:
  using QObject::QObject;
  [[nodiscard]] std::optional<double> mm() const { return mm_; }
  void set_mm(std::optional<double> tolerance_mm);
  /// Of one dimension, on the original; nothing: none is set, or it is an angle.
  [[nodiscard]] std::optional<double> of(const measure::AskedDimension& dimension) const;

 Q_SIGNALS:
  void changed();

 private:
  std::optional<double> mm_;
};

}  // namespace desk
