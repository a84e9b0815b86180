// A dossier that holds one of everything, made by edits alone.
#pragma once

#include <cassert>
#include <string>
#include <vector>

#include "measure/edit/apply.h"
#include "measure/edit/edit.h"

namespace testing_support {

inline std::string hash_of(char digit) { return std::string(64, digit); }

/// The edits that make small_dossier, one of nearly every kind.
inline std::vector<measure::Edit> small_dossier_edits() {
  using namespace measure;
  std::vector<Edit> edits{
      SetDossierName{"Erzwagen № 1"},
      SetScales{ScaleRatio{48.0, 0.1}, {ScaleRatio{72.0, 0.0}, ScaleRatio{24.0, 0.0}}},
      SetTemperature{Uncertain{21.5, 0.5}},
      SetExpansion{Uncertain{70e-6, 10e-6}},
      AddCamera{{"body", "cameras/body.json", hash_of('c'), CameraUse::kPrior}},
      SetCameraUse{"body", CameraUse::kSelfCalibrated},
      AddPhoto{{"a.jpg", "photos/a.jpg", hash_of('a'), {2400, 1600}, "body", 1, ""}},
      AddPhoto{{"b, turned.jpg",
                "/archive/b, turned.jpg",
                hash_of('b'),
                {2400, 1600},
                "body",
                6,
                "1977"}},
      SetKind{{"moulded edge", 0.05}},
  };
  for (const char* point : {"A", "B", "C, left", "部品 \"7\""}) {
    edits.push_back(AddPoint{{point, ""}});
  }
  edits.push_back(SetPointKind{"B", "moulded edge"});
  SetMarks marks;
  double x = 100.1;
  for (const char* photo : {"b, turned.jpg", "a.jpg"}) {
    for (const char* point : {"C, left", "A", "B", "部品 \"7\""}) {
      marks.marks.push_back({photo, point, {x, 1599.5 - x}, 0.25, MarkSource::kImported, false});
      x += 17.3;
    }
  }
  edits.push_back(marks);
  edits.push_back(set_mark({"a.jpg", "A", {-0.5, 12.0}, 0.03, MarkSource::kRefined, false}));
  edits.push_back(SetAside{{"a.jpg", "B"}, true});
  edits.push_back(AddPoint{{"D", ""}});
  edits.push_back(SetHidden{{{"b, turned.jpg", "D"}, {"a.jpg", "D"}}, true});
  edits.push_back(AddBar{{"front", "A", "B", 300.0, 0.02, 0.01, "cert 7", Uncertain{11.5e-6, 1e-6},
                          Uncertain{21.0, 0.3}, false}});
  edits.push_back(
      AddBar{{"check", "A", "C, left", 120.0, 0.02, 0.0, "", std::nullopt, std::nullopt, true}});
  edits.push_back(AddDimension{{"length", Distance{"A", "B"}}, std::nullopt});
  edits.push_back(AddDimension{{"height", DistanceAlong{"A", "B", "A", "C, left"}}, std::nullopt});
  edits.push_back(AddDimension{{"flare", Angle{"A", "B", "C, left"}}, 0});
  edits.push_back(AddDimension{{"rail", OffsetFromLine{"A", "B", "C, left"}}, std::nullopt});
  edits.push_back(
      AddDimension{{"pipe", OffsetFromPlane{"A", {"B", "C, left", "部品 \"7\""}}}, std::nullopt});
  edits.push_back(SetTolerance{"length", 0.15});
  return edits;
}

inline measure::Dossier small_dossier() {
  measure::Dossier dossier;
  for (const measure::Edit& edit : small_dossier_edits()) {
    [[maybe_unused]] const auto applied = measure::apply(edit, dossier);
    assert(applied);
  }
  return dossier;
}

/// Edits that small_dossier takes and that take something away or change it.
inline std::vector<measure::Edit> changing_edits() {
  using namespace measure;
  return {
      SetCameraFile{"body", "cameras/again.json", hash_of('d')},
      RemovePhoto{"a.jpg"},
      EditGroup{{AddCamera{{"other", "cameras/other.json", hash_of('9'), CameraUse::kFixed}},
                 SetPhotoCamera{"a.jpg", "other"}}},
      SetPhotoEpoch{"a.jpg", "1977"},
      SetPhotoEpoch{"b, turned.jpg", ""},
      RenamePoint{"A", "Z"},
      RenamePoint{"D", "0"},
      RenamePoint{"部品 \"7\"", "part 7"},
      RemovePoint{"D"},
      SetHidden{{{"a.jpg", "D"}}, false},
      SetMarks{{{"a.jpg", "D", {5, 5}, 0.5, MarkSource::kByHand, false},
                {"a.jpg", "A", {6, 6}, 0.5, MarkSource::kByHand, false}}},
      RenameDimension{"rail", "rail, left"},
      SetTolerance{"length", std::nullopt},
      SetTolerance{"pipe", 0.2},
      AddDimension{{"width", Distance{"B", "A"}, 0.3}, 1},
      RemoveDimension{"height"},
      RemoveBar{"front"},
      RemoveMarks{{{"a.jpg", "B"}, {"b, turned.jpg", "A"}}},
      SetPointKind{"A", "moulded edge"},
      SetKind{{"moulded edge", 0.08}},
      SetKind{{"painted edge", 0.2}},
      SetScales{std::nullopt, {}},
      SetTemperature{std::nullopt},
      SetExpansion{std::nullopt},
      AddShape{{"rim", SeenCircle{}, "moulded edge"}, std::nullopt},
      EditGroup{
          {AddShape{{"edge", SeenEdge{}, ""}, std::nullopt},
           AddShape{{"tube", SeenCylinder{}, ""}, std::nullopt},
           AddShape{{"deck", PlaneThrough{{"A", "B", "D"}}, ""}, std::nullopt},
           AddShape{{"lifted", ParallelPlane{"deck", "", 2.5}, ""}, std::nullopt},
           AddShape{{"corner", Crossing{"edge", "lifted"}, ""}, std::nullopt},
           SetShapeMarks{{{"a.jpg", "edge", {10.25, 20.5}, 0, 0.5, MarkSource::kByHand, false},
                          {"a.jpg", "edge", {90, 25}, 0, 0.4, MarkSource::kImported, false},
                          {"a.jpg", "tube", {5, 5}, 2, 0.5, MarkSource::kRefined, false}}},
           SetShapeMarkAside{{"a.jpg", "edge", 90, 25}, true}, SetShapeKind{"edge", "moulded edge"},
           SetShapeMarks{{{"a.jpg", "edge", {90, 25}, 0, 0.3, MarkSource::kByHand, false}}},
           RemoveShapeMarks{{{"a.jpg", "tube", 5, 5}}}, RenameShape{"edge", "keel edge"},
           SetAxes{AxesNames{"deck", "keel edge", "A"}},
           AddDimension{{"height of D", Coordinate{"D", "z"}}, std::nullopt},
           RenamePoint{"D", "top"}, RemovePhoto{"b, turned.jpg"}}},
      EditGroup{{AddShape{{"edge", SeenEdge{}, ""}, 0},
                 SetShapeMarks{{{"a.jpg", "edge", {10, 20}, 0, 0.5, MarkSource::kByHand, false}}},
                 RemoveShape{"edge"}, AddShape{{"other edge", SeenEdge{}, ""}, 0}}},
      EditGroup{{RemoveDimension{"pipe"}, RemovePoint{"部品 \"7\""}}},
      EditGroup{{SetPointKind{"B", ""}, RemoveKind{"moulded edge"}}},
      EditGroup{{RemovePhoto{"a.jpg"}, RemovePhoto{"b, turned.jpg"}, RemoveCamera{"body"}}}};
}

}  // namespace testing_support
