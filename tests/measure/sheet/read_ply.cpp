#include "tests/measure/sheet/read_ply.h"

#include <cstdint>
#include <sstream>

#include <CGAL/IO/PLY/PLY_reader.h>

namespace testing_support {

ReadPly read_ply(const std::string& text) {
  ReadPly read;
  std::istringstream stream(text);
  CGAL::IO::internal::PLY_reader reader(true);
  if (!reader.init(stream)) {
    return read;
  }
  read.comments = reader.comments();
  for (std::size_t i = 0; i < reader.number_of_elements(); ++i) {
    auto& element = reader.element(i);
    for (std::size_t item = 0; item < element.number_of_items(); ++item) {
      std::map<std::string, double> values;
      for (std::size_t p = 0; p < element.number_of_properties(); ++p) {
        element.property(p)->get(stream);
        if (stream.fail()) {
          return read;
        }
        const std::string name = element.property(p)->name();
        double real = 0.0;
        std::int32_t whole = 0;
        std::uint8_t small = 0;
        if (name == "has_covariance" || name == "kind") {
          element.assign(small, name.c_str());
          values[name] = small;
        } else if (element.name() == "edge") {
          element.assign(whole, name.c_str());
          values[name] = whole;
        } else {
          element.assign(real, name.c_str());
          values[name] = real;
        }
      }
      if (element.name() == "edge") {
        read.edges.emplace_back(static_cast<std::size_t>(values["vertex1"]),
                                static_cast<std::size_t>(values["vertex2"]));
      } else {
        read.vertices.push_back(values);
      }
    }
  }
  std::string rest;
  read.good = !(stream >> rest);  // nothing after the last element
  return read;
}

}  // namespace testing_support
