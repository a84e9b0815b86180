// A table of stock sizes: the user's own, or the one that ships.
#pragma once

#include <filesystem>
#include <string_view>

#include "calib/base/problem.h"
#include "calib/base/result.h"
#include "measure/dimension/stock.h"

namespace measure {

/// Name of the shipped table in share/scantling/stock.
inline constexpr const char* kCommonStockFileName = "common_sizes.json";

/// Reads a table after schema/stock.schema.json.
///
/// Errors: a Problem (kInput) naming file, item and remedy: no such file, no JSON, a newer major
///         version, a unit that is missing or unknown, an unknown kind, a size that is not above 0
///         or stands twice under one kind and material.
[[nodiscard]] calib::Result<StockTable, calib::Problem> read_stock_table(
    const std::filesystem::path& file);
/// @param source  names the text in sentences.
[[nodiscard]] calib::Result<StockTable, calib::Problem> stock_table_from_text(
    std::string_view text, const std::string& source);

}  // namespace measure
