// The dimension sheet on paper.
#pragma once

#include <functional>
#include <string>

#include "calib/base/problem.h"
#include "calib/base/result.h"
#include "calib/board/board_pdf.h"
#include "measure/sheet/sheet_content.h"

namespace measure {

struct DimensionPdfOptions {
  calib::Paper paper{"A4", 210.0, 297.0};  ///< upright; at least as large as A5
  std::function<void(double, const std::string&)> progress;
  std::function<bool()> cancelled;
};

/// The bytes of a PDF: title block, tables with repeated heads, photographs with the dimensions
/// drawn into them, where each dimension comes from, what is weak; pages counted "page 2 of 9".
/// The same content gives the same bytes: no date but the one told.
///
/// Errors: kInput  the paper is too small;
///         kOurs   `cancelled` said so, or a page could not be drawn.
[[nodiscard]] calib::Result<std::string, calib::Problem> dimension_pdf(
    const SheetContent& content, const DimensionPdfOptions& options = {});

}  // namespace measure
