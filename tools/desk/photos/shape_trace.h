// Edges and rounds in a photo: their own marks, and what the survey makes of them.
#pragma once

#include <QString>
#include <string>

#include "tools/desk/photos/photo_trace.h"
#include "tools/desk/photos/tracer.h"
#include "tools/desk/session/desk_session.h"

namespace desk {

/// The marks of the photo along seen shapes.
void add_shape_marks(const DeskSession& session, const std::string& photo, PhotoTrace& trace);
/// All solved shapes as the lens bends them; the chosen one with its name.
void add_shapes(const DeskSession& session, Tracer& tracer);

[[nodiscard]] MarkState state_of(const DeskSession& session, const measure::ShapeMark& mark);
/// What the tooltip says of a mark: state, σ and distance from the shape in pixels.
[[nodiscard]] QString tip_of(const DeskSession& session, const measure::ShapeMark& mark);

}  // namespace desk
