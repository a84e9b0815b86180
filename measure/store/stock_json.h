// What `scantling stock` prints with --json.
#pragma once

#include <string>
#include <vector>

#include "measure/dimension/dimension.h"
#include "measure/dimension/stock.h"

namespace measure {

/// A dimension at one scale, and which size of stock it is there.
struct StockAtScale {
  DimensionResult result;  ///< a length in mm that has a value
  StockAnswer answer;
};

/// One line after schema/stock_answer.schema.json. Lengths in mm; what does not exist is null.
/// @param table     name of the table of sizes.
/// @param material  the only one asked for; empty: all.
[[nodiscard]] std::string stock_json(const std::string& dimension, StockKind kind,
                                     const std::string& material, const std::string& table,
                                     const std::vector<StockAtScale>& answers,
                                     const std::vector<std::string>& warnings);

}  // namespace measure
