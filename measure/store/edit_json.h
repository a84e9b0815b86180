// Edits as lines of JSON: what the journal keeps.
#pragma once

#include <string>
#include <string_view>

#include "calib/base/problem.h"
#include "calib/base/result.h"
#include "measure/edit/edit.h"

namespace measure {

/// One line without a line end.
[[nodiscard]] std::string edit_line(const Edit& edit);

/// Errors: a Problem (kInput) naming the source and the item if the line is cut short or no edit.
/// Whether the
///         edit suits a dossier, apply() says.
/// @param source  for sentences: "journal.ndjson, line 17".
[[nodiscard]] calib::Result<Edit, calib::Problem> edit_from_line(std::string_view line,
                                                                 const std::string& source);

}  // namespace measure
