// CSV, PLY and OBJ as readers from outside see them: Python's csv, CGAL's PLY reader, assimp.
#include <limits>
#include <sstream>

#include <gtest/gtest.h>

#include "measure/sheet/csv.h"
#include "measure/sheet/point_files.h"
#include "tests/calib/file/scratch_folder.h"
#include "tests/measure/sheet/outside_program.h"
#include "tests/measure/sheet/read_ply.h"
#include "tests/measure/sheet/workshop_drawing.h"

namespace measure {
namespace {

using testing_support::put;
using testing_support::reader;
using testing_support::run_outside;
using testing_support::ScratchFolder;

TEST(DimensionsCsv, ReadsBackByAnotherReaderFieldByField) {
  std::vector<DimensionResult> results(4);
  results[0].name = "length, over \"all\"";
  results[0].kind = "distance";
  results[0].scale = "replica 1:72";
  results[0].value = 350.00000000000006;
  results[0].u = 0.11;
  results[0].U = 0.22;
  results[0].effective_dof = std::numeric_limits<double>::infinity();
  results[0].note = "a remark, with a comma";
  results[1].name = "Winkel ß\r\nsecond line";
  results[1].kind = "angle";
  results[1].scale = "model";
  results[1].unit = DimensionUnit::kRadian;
  results[1].value = 0.5235987755982988;  // 30°
  results[1].u = 0.001;
  results[1].U = 0.002;
  results[1].effective_dof = 12.5;
  results[1].interval = {0.5, 0.55};
  results[2].name = "=1+1";
  results[2].kind = "distance";
  results[2].scale = "model";
  results[2].problem = "point \"A\" is not placed: mark it in a second photo.";
  results[2].value = std::nan("");
  results[3].name = "ratio";
  results[3].kind = "distance";
  results[3].scale = "model";
  results[3].unit = DimensionUnit::kRatio;
  results[3].value = -1e-7;
  results[3].reference = "length, over \"all\"";
  const ScratchFolder folder;
  put(folder / "d.csv", dimensions_csv(results));
  const auto end = run_outside(reader("read_csv.py") + (folder / "d.csv").string());
  EXPECT_EQ(end.code, 0) << end.said;
}

TEST(ShapesPly, ReadsBackByAnotherReaderWithCovariances) {
  const ShapeList shapes = scaled(testing_support::workshop_shapes(), 0.5, "replica 1:2");
  const auto ply = shapes_ply(shapes, {.circle_corners = 36});
  ASSERT_TRUE(ply);
  const auto read = testing_support::read_ply(*ply);
  ASSERT_TRUE(read.good);
  EXPECT_NE(read.comments.find("unit: millimetre"), std::string::npos);
  EXPECT_NE(read.comments.find("scale: replica 1:2"), std::string::npos);
  EXPECT_NE(read.comments.find("船首 № 3"), std::string::npos);
  ASSERT_GE(read.vertices.size(), shapes.points.size());
  for (std::size_t i = 0; i < shapes.points.size(); ++i) {
    const NamedPoint& point = shapes.points[i];
    const auto& vertex = read.vertices[i];
    EXPECT_LT(
        (point.position - Eigen::Vector3d(vertex.at("x"), vertex.at("y"), vertex.at("z"))).norm(),
        1e-12);
    EXPECT_EQ(vertex.at("has_covariance"), point.covariance ? 1.0 : 0.0);
    EXPECT_EQ(vertex.at("kind"), 0.0);
    if (point.covariance) {
      const auto& c = *point.covariance;
      EXPECT_EQ(vertex.at("cxx"), c(0, 0));
      EXPECT_EQ(vertex.at("cxy"), c(0, 1));
      EXPECT_EQ(vertex.at("cxz"), c(0, 2));
      EXPECT_EQ(vertex.at("cyy"), c(1, 1));
      EXPECT_EQ(vertex.at("cyz"), c(1, 2));
      EXPECT_EQ(vertex.at("czz"), c(2, 2));
    }
  }
  // The first edges are those of the list.
  for (std::size_t i = 0; i < shapes.edges.size(); ++i) {
    const auto [from, to] = read.edges.at(i);
    const auto place = [&](std::size_t at) {
      const auto& vertex = read.vertices.at(at);
      return Eigen::Vector3d(vertex.at("x"), vertex.at("y"), vertex.at("z"));
    };
    EXPECT_LT((place(from) - shapes.edges[i].from).norm(), 1e-12);
    EXPECT_LT((place(to) - shapes.edges[i].to).norm(), 1e-12);
  }
  // Three circles, both ends of a cylinder, its axis.
  EXPECT_EQ(read.edges.size(), shapes.edges.size() + 5u * 36u + 1u);
  EXPECT_EQ(*ply, *shapes_ply(shapes, {.circle_corners = 36}));
}

TEST(ShapesObj, ReadsBackByAnotherReader) {
  const ShapeList shapes = testing_support::workshop_shapes();
  const auto obj = shapes_obj(shapes);
  ASSERT_TRUE(obj);
  EXPECT_NE(obj->find("# unit: millimetre"), std::string::npos);
  const ScratchFolder folder;
  put(folder / "s.obj", *obj);
  std::string table;
  const auto row = [&](const std::string& name, std::initializer_list<Eigen::Vector3d> places) {
    std::ostringstream line;
    line.precision(12);
    line << name;
    for (const auto& place : places) {
      line << '\t' << place.x() << '\t' << place.y() << '\t' << place.z();
    }
    table += line.str() + "\n";
  };
  for (const auto& point : shapes.points) row("point\t" + point.name, {point.position});
  for (const auto& edge : shapes.edges) row("edge\t" + edge.name, {edge.from, edge.to});
  for (const auto& circle : shapes.circles) {
    row("circle\t" + circle.name, {circle.centre, circle.normal, {circle.radius, 0, 0}});
  }
  put(folder / "table", table);
  const auto dumped =
      run_outside("cd " + folder.path().string() + " && assimp dump s.obj s.assxml");
  ASSERT_EQ(dumped.code, 0) << dumped.said;
  const auto end = run_outside(reader("read_obj.py") + (folder / "s.assxml").string() + " " +
                               (folder / "table").string());
  EXPECT_EQ(end.code, 0) << end.said;
}

TEST(ShapesPly, BadListsGetTheirSentence) {
  ShapeList shapes = testing_support::workshop_shapes();
  EXPECT_FALSE(shapes_ply(shapes, {.circle_corners = 3}));
  shapes.points[1].name = "bow";
  ASSERT_FALSE(shapes_ply(shapes));
  EXPECT_EQ(shapes_ply(shapes).error().sentence,
            "data of \"Ore hauler <no. 7> & \"tender\"\": point \"bow\" is in the list twice: "
            "rename one of them.");
  shapes.points[1].name = "stern";
  shapes.circles[0].radius = std::nan("");
  EXPECT_FALSE(shapes_obj(shapes));
}

}  // namespace
}  // namespace measure
