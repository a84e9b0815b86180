#include "measure/sheet/point_files.h"

#include <cctype>
#include <cmath>
#include <numbers>
#include <vector>

#include <Eigen/Geometry>

#include "measure/sheet/number_text.h"

namespace measure {
namespace {

using calib::Problem;
using Eigen::Vector3d;

enum Kind { kPoint, kEnd, kRim };

struct Vertex {
  Vector3d at;
  Kind kind = kPoint;
  std::optional<Eigen::Matrix3d> covariance{};
};

/// What one shape is made of; vertices by their number from 0.
struct Part {
  std::string what;  ///< "point", "edge", "circle", "cylinder"
  std::string name;
  std::size_t first = 0, count = 0;              ///< its vertices
  std::vector<std::vector<std::size_t>> chains;  ///< lines through vertices
};

struct Mesh {
  std::vector<Vertex> vertices;
  std::vector<Part> parts;
};

class MeshMaker {
 public:
  explicit MeshMaker(int circle_corners) : circle_corners_(circle_corners) {}

  Mesh make(const ShapeList& shapes) {
    for (const NamedPoint& point : shapes.points) {
      begin("point", point.name);
      add(point.position, kPoint, point.covariance);
      end();
    }
    for (const NamedEdge& edge : shapes.edges) {
      begin("edge", edge.name);
      std::optional<Eigen::Matrix3d> from, to;
      if (edge.covariance) {
        from = edge.covariance->topLeftCorner<3, 3>();
        to = edge.covariance->bottomRightCorner<3, 3>();
      }
      part_.chains = {{add(edge.from, kEnd, from), add(edge.to, kEnd, to)}};
      end();
    }
    for (const NamedCircle& circle : shapes.circles) {
      begin("circle", circle.name);
      add_rim(circle.centre, circle.normal.normalized(), circle.radius);
      end();
    }
    for (const NamedCylinder& cylinder : shapes.cylinders) {
      begin("cylinder", cylinder.name);
      const Vector3d axis = cylinder.to - cylinder.from;
      std::optional<Eigen::Matrix3d> from, to;
      if (cylinder.covariance) {
        from = cylinder.covariance->block<3, 3>(0, 0);
        to = cylinder.covariance->block<3, 3>(3, 3);
      }
      part_.chains = {{add(cylinder.from, kEnd, from), add(cylinder.to, kEnd, to)}};
      const Vector3d normal =
          axis.norm() > 0.0 ? Vector3d(axis.normalized()) : Vector3d(Vector3d::UnitZ());
      add_rim(cylinder.from, normal, cylinder.radius);
      add_rim(cylinder.to, normal, cylinder.radius);
      end();
    }
    return std::move(mesh_);
  }

 private:
  void begin(const char* what, const std::string& name) {
    part_ = {what, name, mesh_.vertices.size(), 0, {}};
  }
  void end() {
    part_.count = mesh_.vertices.size() - part_.first;
    mesh_.parts.push_back(std::move(part_));
  }
  std::size_t add(const Vector3d& at, Kind kind,
                  const std::optional<Eigen::Matrix3d>& covariance = std::nullopt) {
    mesh_.vertices.push_back({at, kind, covariance});
    return mesh_.vertices.size() - 1;
  }
  void add_rim(const Vector3d& centre, const Vector3d& normal, double radius) {
    const Vector3d first = normal.unitOrthogonal(), second = normal.cross(first);
    std::vector<std::size_t> chain;
    for (int i = 0; i < circle_corners_; ++i) {
      const double angle = 2.0 * std::numbers::pi * i / circle_corners_;
      chain.push_back(
          add(centre + radius * (std::cos(angle) * first + std::sin(angle) * second), kRim));
    }
    chain.push_back(chain.front());
    part_.chains.push_back(std::move(chain));
  }

  int circle_corners_;
  Mesh mesh_;
  Part part_;
};

calib::Result<Mesh, Problem> mesh_of(const ShapeList& shapes, const PointFileOptions& options) {
  if (auto problem = shapes.first_problem()) {
    return calib::Unexpected(*problem);
  }
  if (options.circle_corners < 8 || options.circle_corners > 720) {
    return calib::Unexpected(Problem{"a circle cannot be drawn with " +
                                     std::to_string(options.circle_corners) +
                                     " corners: give a number from 8 to 720."});
  }
  return MeshMaker(options.circle_corners).make(shapes);
}

/// On one line: what would end it becomes a space.
std::string on_one_line(std::string text) {
  for (char& c : text) {
    if (static_cast<unsigned char>(c) < 0x20) {
      c = ' ';
    }
  }
  return text;
}

std::string unit_sentence(const ShapeList& shapes) {
  return shapes.unit == "mm"
             ? "unit: millimetre"
             : "unit: free (the survey has no scale bar: only ratios of lengths mean something)";
}

std::string coordinates(const Vector3d& at) {
  return number_text(at.x()) + " " + number_text(at.y()) + " " + number_text(at.z());
}

}  // namespace

calib::Result<std::string, Problem> shapes_ply(const ShapeList& shapes,
                                               const PointFileOptions& options) {
  const auto mesh = mesh_of(shapes, options);
  if (!mesh) {
    return calib::Unexpected(mesh.error());
  }
  std::size_t edges = 0;
  for (const Part& part : mesh->parts) {
    for (const auto& chain : part.chains) {
      edges += chain.size() - 1;
    }
  }
  std::string ply = "ply\nformat ascii 1.0\n";
  const auto comment = [&](const std::string& text) {
    ply += "comment " + on_one_line(text) + "\n";
  };
  comment("made by scantling");
  comment("original: " + shapes.title);
  comment(unit_sentence(shapes));
  comment("scale: " + shapes.scale);
  comment(
      "x y z: position; cxx cxy cxz cyy cyz czz: its covariance, in the square of the unit, "
      "where has_covariance is 1");
  comment("kind: 0 point, 1 end of an edge or an axis, 2 corner of a circle");
  comment("names, in the order of the vertices: kind, first vertex, number of vertices, name");
  for (const Part& part : mesh->parts) {
    comment(part.what + " " + std::to_string(part.first) + " " + std::to_string(part.count) + " " +
            part.name);
  }
  ply += "element vertex " + std::to_string(mesh->vertices.size()) + "\n";
  for (const char* property : {"x", "y", "z", "cxx", "cxy", "cxz", "cyy", "cyz", "czz"}) {
    ply += std::string("property double ") + property + "\n";
  }
  ply += "property uchar has_covariance\nproperty uchar kind\nelement edge " +
         std::to_string(edges) + "\nproperty int vertex1\nproperty int vertex2\nend_header\n";
  for (const Vertex& vertex : mesh->vertices) {
    ply += coordinates(vertex.at);
    const Eigen::Matrix3d c = vertex.covariance.value_or(Eigen::Matrix3d::Zero());
    for (const double element : {c(0, 0), c(0, 1), c(0, 2), c(1, 1), c(1, 2), c(2, 2)}) {
      ply += " " + number_text(element);
    }
    ply += (vertex.covariance ? " 1 " : " 0 ") + std::to_string(vertex.kind) + "\n";
  }
  for (const Part& part : mesh->parts) {
    for (const auto& chain : part.chains) {
      for (std::size_t i = 1; i < chain.size(); ++i) {
        ply += std::to_string(chain[i - 1]) + " " + std::to_string(chain[i]) + "\n";
      }
    }
  }
  return ply;
}

calib::Result<std::string, Problem> shapes_obj(const ShapeList& shapes,
                                               const PointFileOptions& options) {
  const auto mesh = mesh_of(shapes, options);
  if (!mesh) {
    return calib::Unexpected(mesh.error());
  }
  std::string obj = "# made by scantling\n# original: " + on_one_line(shapes.title) + "\n# " +
                    unit_sentence(shapes) + "\n# scale: " + on_one_line(shapes.scale) + "\n";
  for (const Part& part : mesh->parts) {
    obj += "# " + part.what + " " + on_one_line(part.name) + "\no ";
    // Readers split at spaces.
    for (const char c : on_one_line(part.name)) {
      obj += c == ' ' ? '_' : c;
    }
    obj += "\n";
    for (std::size_t i = part.first; i < part.first + part.count; ++i) {
      obj += "v " + coordinates(mesh->vertices[i].at) + "\n";
    }
    if (part.chains.empty()) {
      obj += "p " + std::to_string(part.first + 1) + "\n";
    }
    for (const auto& chain : part.chains) {
      obj += "l";
      for (const std::size_t at : chain) {
        obj += " " + std::to_string(at + 1);
      }
      obj += "\n";
    }
  }
  return obj;
}

}  // namespace measure
