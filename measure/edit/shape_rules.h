// What a shape may be made of, where its marks may stand, and what may be the model's axes.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "measure/dossier/dossier.h"

namespace measure {

/// The sentence why the shape cannot stand in the dossier, or nothing. Whether its name is free is
/// not asked here.
[[nodiscard]] std::optional<std::string> shape_problem(const Shape& shape, const Dossier& dossier);

/// Likewise of marks that are to be set together, beside those that stand.
[[nodiscard]] std::optional<std::string> shape_marks_problem(const std::vector<ShapeMark>& marks,
                                                             const Dossier& dossier);

[[nodiscard]] std::optional<std::string> axes_problem(const AxesNames& axes,
                                                      const Dossier& dossier);

/// What is made of the point or shape, or measured at it, beside marks: "scale bar "B"".
[[nodiscard]] std::optional<std::string> first_need_of(const std::string& name,
                                                       const Dossier& dossier);

/// Gives every place that names a point or shape its new name, marks excepted.
void rename_item(const std::string& from, const std::string& to, Dossier& dossier);

}  // namespace measure
