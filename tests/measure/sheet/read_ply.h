// A PLY file as CGAL's reader sees it.
#pragma once

#include <map>
#include <string>
#include <utility>
#include <vector>

namespace testing_support {

struct ReadPly {
  bool good = false;
  std::string comments;
  std::vector<std::map<std::string, double>> vertices;  ///< by the names of their properties
  std::vector<std::pair<std::size_t, std::size_t>> edges;
};

ReadPly read_ply(const std::string& text);

}  // namespace testing_support
