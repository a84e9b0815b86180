#pragma once

namespace measure {

/// What a point or shape is in space.
enum class FormKind { kPoint, kLine, kPlane, kCircle, kSphere, kCylinder, kCone };

}  // namespace measure
