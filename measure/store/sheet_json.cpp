#include "measure/store/sheet_json.h"

#include <vector>

#include "calib/file/versioned_json.h"
#include "measure/store/results_json.h"

namespace measure {
namespace {

using calib::Json;

constexpr calib::FileSchema kSchema{"scantling sheet data", "sheet data", 1, 0};

Json json_of(const Eigen::Vector3d& vector) { return {vector.x(), vector.y(), vector.z()}; }

template <typename Matrix>
Json json_of(const std::optional<Matrix>& matrix) {
  if (!matrix) {
    return nullptr;
  }
  Json rows = Json::array();
  for (Eigen::Index i = 0; i < matrix->rows(); ++i) {
    Json row = Json::array();
    for (Eigen::Index j = 0; j < matrix->cols(); ++j) {
      row.push_back((*matrix)(i, j));
    }
    rows.push_back(std::move(row));
  }
  return rows;
}

}  // namespace

calib::Result<std::string, calib::Problem> sheet_json(const ShapeList& shapes,
                                                      std::span<const DimensionResult> dimensions) {
  if (auto problem = shapes.first_problem()) {
    return calib::Unexpected(*problem);
  }
  Json json = calib::new_file(kSchema);
  json["title"] = shapes.title;
  json["scale"] = shapes.scale;
  json["unit"] = shapes.unit;
  for (const char* list : {"points", "edges", "circles", "cylinders"}) {
    json[list] = Json::array();
  }
  for (const NamedPoint& point : shapes.points) {
    json["points"].push_back({{"name", point.name},
                              {"position", json_of(point.position)},
                              {"covariance", json_of(point.covariance)}});
  }
  for (const NamedEdge& edge : shapes.edges) {
    json["edges"].push_back({{"name", edge.name},
                             {"from", json_of(edge.from)},
                             {"to", json_of(edge.to)},
                             {"covariance", json_of(edge.covariance)}});
  }
  for (const NamedCircle& circle : shapes.circles) {
    json["circles"].push_back({{"name", circle.name},
                               {"centre", json_of(circle.centre)},
                               {"normal", json_of(circle.normal)},
                               {"radius", circle.radius},
                               {"covariance", json_of(circle.covariance)}});
  }
  for (const NamedCylinder& cylinder : shapes.cylinders) {
    json["cylinders"].push_back({{"name", cylinder.name},
                                 {"from", json_of(cylinder.from)},
                                 {"to", json_of(cylinder.to)},
                                 {"radius", cylinder.radius},
                                 {"covariance", json_of(cylinder.covariance)}});
  }
  json["points_covariance"] = json_of(shapes.points_covariance);
  json["dimensions"] =
      measure::json_of(std::vector<DimensionResult>(dimensions.begin(), dimensions.end()));
  return calib::pretty_text(json);
}

}  // namespace measure
