#include "calib/camera/intrinsics.h"

namespace calib {

IntrinsicVector Intrinsics::vector() const {
  IntrinsicVector values;
  values << fx, fy, cx, cy, k1, k2, p1, p2, k3;
  return values;
}

Intrinsics Intrinsics::from_vector(const IntrinsicVector& values) {
  return {values[kFx], values[kFy], values[kCx], values[kCy], values[kK1],
          values[kK2], values[kP1], values[kP2], values[kK3]};
}

}  // namespace calib
