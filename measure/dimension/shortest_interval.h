// The shortest interval that holds a share of many draws.
#pragma once

#include <utility>
#include <vector>

namespace measure {

/// Shortest interval that holds the share p of the draws; `sorted` ascending, at least two.
/// Source: JCGM 101:2008, 7.7.
[[nodiscard]] std::pair<double, double> shortest_interval(const std::vector<double>& sorted,
                                                          double p);

}  // namespace measure
