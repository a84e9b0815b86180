#include <algorithm>
#include <cmath>

#include "calib/file/atomic_write.h"
#include "measure/dimension/form_result.h"
#include "measure/dimension/quantity_text.h"
#include "measure/edit/name_rules.h"
#include "measure/store/dossier_file.h"
#include "measure/store/mark_csv.h"
#include "measure/store/survey_json.h"
#include "tools/cli/commands.h"
#include "tools/cli/dossier_change.h"
#include "tools/cli/survey_run.h"
#include "tools/cli/table.h"
#include "tools/cli/typed.h"

namespace cli {
namespace {

using measure::in_quotes;
using Names = std::vector<std::string>;

Typed<measure::ShapeOrigin> origin_of(const ShapeAdd& command) {
  std::vector<measure::ShapeOrigin> asked;
  if (command.edge) asked.emplace_back(measure::SeenEdge{});
  if (command.rim) asked.emplace_back(measure::SeenCircle{});
  if (command.outline) asked.emplace_back(measure::SeenCylinder{});
  const auto through = [&](const Names& typed, auto origin) {
    if (typed.empty()) return;
    origin.points = names_in(typed);
    asked.emplace_back(std::move(origin));
  };
  through(command.line, measure::LineThrough{});
  through(command.plane, measure::PlaneThrough{});
  through(command.circle, measure::CircleThrough{});
  through(command.sphere, measure::SphereThrough{});
  through(command.cylinder, measure::CylinderThrough{});
  through(command.cone, measure::ConeThrough{});
  if (!command.crossing.empty())
    asked.emplace_back(measure::Crossing{command.crossing[0], command.crossing[1]});
  if (!command.mid_plane.empty())
    asked.emplace_back(measure::MidPlane{command.mid_plane[0], command.mid_plane[1]});
  if (!command.parallel.empty()) {
    measure::ParallelPlane origin{command.parallel, command.through, std::nullopt};
    if (!command.offset.empty()) {
      const auto offset = typed_length_mm("--by", command.offset);
      if (!offset) return calib::Unexpected(offset.error());
      origin.offset_mm = *offset;
    }
    asked.emplace_back(origin);
  } else if (!command.through.empty() || !command.offset.empty()) {
    return refused("--through and --by belong to --parallel: say to which plane it is parallel.");
  }
  if (!command.mirror.empty()) {
    const Names names = names_in(command.mirror);
    if (names.size() % 2 != 0) {
      return refused("--mirror needs pairs of points, one after the other: " +
                     in_quotes(names.back()) + " has no partner.");
    }
    measure::MirrorPlane origin;
    for (std::size_t i = 0; i < names.size(); i += 2)
      origin.pairs.emplace_back(names[i], names[i + 1]);
    asked.emplace_back(origin);
  }
  if (asked.size() != 1) {
    return refused(
        "Say what it is with one of --edge, --rim and --outline (marked itself), --line, --plane, "
        "--circle, --sphere, --cylinder and --cone (through points), --crossing, --mid-plane, "
        "--parallel and --mirror.");
  }
  return asked.front();
}

struct OriginWords {
  std::string operator()(const measure::SeenEdge&) const { return "edge, marked itself"; }
  std::string operator()(const measure::SeenCircle&) const { return "circle, its rim marked"; }
  std::string operator()(const measure::SeenCylinder&) const {
    return "cylinder, its outline marked";
  }
  std::string operator()(const measure::LineThrough& o) const { return "line" + of(o); }
  std::string operator()(const measure::PlaneThrough& o) const { return "plane" + of(o); }
  std::string operator()(const measure::CircleThrough& o) const { return "circle" + of(o); }
  std::string operator()(const measure::SphereThrough& o) const { return "sphere" + of(o); }
  std::string operator()(const measure::CylinderThrough& o) const { return "cylinder" + of(o); }
  std::string operator()(const measure::ConeThrough& o) const { return "cone" + of(o); }
  std::string operator()(const measure::Crossing& o) const {
    return "crossing of " + in_quotes(o.first) + " and " + in_quotes(o.second);
  }
  std::string operator()(const measure::MidPlane& o) const {
    return "plane midway between " + in_quotes(o.first) + " and " + in_quotes(o.second);
  }
  std::string operator()(const measure::ParallelPlane& o) const {
    return "plane parallel to " + in_quotes(o.plane) +
           (o.offset_mm ? ", offset by " + fixed(*o.offset_mm, 3) + " mm"
                        : ", through " + in_quotes(o.through));
  }
  std::string operator()(const measure::MirrorPlane& o) const {
    return "mirror plane of " + count_of(o.pairs.size(), "pair");
  }
  static std::string of(const auto& origin) {
    return " through " + count_of(origin.points.size(), "point");
  }
};

std::string origin_sentence(const measure::Shape& shape) {
  return std::visit(OriginWords{}, shape.origin);
}

Typed<measure::ShapeMarkKey> typed_key(const std::string& photo, const std::string& shape,
                                       const std::vector<std::string>& at) {
  measure::ShapeMarkKey key{photo, shape, 0, 0};
  const auto x = typed_number("--at", at[0]), y = typed_number("--at", at[1]);
  if (!x) return calib::Unexpected(x.error());
  if (!y) return calib::Unexpected(y.error());
  key.x_px = *x;
  key.y_px = *y;
  return key;
}

/// Lists print three decimals, files hold more: the mark nearest to what was typed, when it is that
/// near.
measure::ShapeMarkKey known_key(const measure::Dossier& dossier, const measure::ShapeMarkKey& key) {
  constexpr double kPrinted_px = 0.00051;
  for (const measure::ShapeMark& mark : dossier.shape_marks) {
    if (mark.photo == key.photo && mark.shape == key.shape &&
        std::abs(mark.position_px.x() - key.x_px) < kPrinted_px &&
        std::abs(mark.position_px.y() - key.y_px) < kPrinted_px) {
      return measure::key_of(mark);
    }
  }
  return key;
}

}  // namespace

Names names_in(const Names& typed) {
  if (typed.size() != 1) {
    return typed;
  }
  Names names;
  std::size_t begin = 0;
  while (true) {
    const auto comma = typed.front().find(',', begin);
    names.push_back(typed.front().substr(begin, comma - begin));
    if (comma == std::string::npos) {
      return names;
    }
    begin = comma + 1;
  }
}

Outcome run(const ShapeAdd& command) {
  const auto origin = origin_of(command);
  if (!origin) {
    return calib::Unexpected(origin.error());
  }
  return change_dossier(command.folder,
                        measure::AddShape{{command.name, *origin, command.kind}, std::nullopt});
}

Outcome run(const ShapeList& command) {
  const auto dossier = measure::read_dossier(command.folder);
  if (!dossier) {
    return calib::Unexpected(dossier.error());
  }
  Table table({"shape", "what it is", "marks", "kind"},
              {Align::kLeft, Align::kLeft, Align::kRight, Align::kLeft});
  for (const measure::Shape& shape : dossier->shapes) {
    const auto marks =
        std::count_if(dossier->shape_marks.begin(), dossier->shape_marks.end(),
                      [&](const measure::ShapeMark& mark) { return mark.shape == shape.name; });
    table.add({shape.name, origin_sentence(shape),
               is_seen(shape.origin) ? std::to_string(marks) : "", shape.kind});
  }
  say(table.text());
  return calib::Done{};
}

Outcome run(const ShapeRemove& command) {
  return change_dossier(command.folder, measure::RemoveShape{command.name});
}

Outcome run(const ShapeRename& command) {
  return change_dossier(command.folder, measure::RenameShape{command.name, command.new_name});
}

Outcome run(const ShapeMark& command) {
  const auto key = typed_key(command.photo, command.shape, command.at);
  if (!key) {
    return calib::Unexpected(key.error());
  }
  measure::ShapeMark mark;
  mark.photo = command.photo;
  mark.shape = command.shape;
  mark.position_px = {key->x_px, key->y_px};
  mark.side = command.side;
  const auto sigma = typed_number("--sigma", command.sigma);
  if (!sigma) {
    return calib::Unexpected(sigma.error());
  }
  mark.sigma_px = *sigma;
  return change_dossier(command.folder, measure::SetShapeMarks{{mark}});
}

Outcome run(const ShapeUnmark& command) {
  const auto key = typed_key(command.photo, command.shape, command.at);
  if (!key) {
    return calib::Unexpected(key.error());
  }
  return change_dossier(
      command.folder, [&](const measure::Dossier& dossier) -> Typed<measure::Edit> {
        return measure::Edit(measure::RemoveShapeMarks{{known_key(dossier, *key)}});
      });
}

Outcome run(const ShapeSetAside& command) {
  const auto key = typed_key(command.photo, command.shape, command.at);
  if (!key) {
    return calib::Unexpected(key.error());
  }
  return change_dossier(
      command.folder, [&](const measure::Dossier& dossier) -> Typed<measure::Edit> {
        return measure::Edit(
            measure::SetShapeMarkAside{known_key(dossier, *key), !command.take_up});
      });
}

Outcome run(const ShapeMarks& command) {
  const auto dossier = measure::read_dossier(command.folder);
  if (!dossier) {
    return calib::Unexpected(dossier.error());
  }
  Table table({"photo", "shape", "side", "x px", "y px", "sigma px", "state"},
              {Align::kLeft, Align::kLeft, Align::kRight, Align::kRight, Align::kRight,
               Align::kRight, Align::kLeft});
  for (const measure::ShapeMark& mark : dossier->shape_marks) {
    if (!command.shape.empty() && mark.shape != command.shape) continue;
    table.add({mark.photo, mark.shape, mark.side == 0 ? "" : std::to_string(mark.side),
               fixed(mark.position_px.x(), 3), fixed(mark.position_px.y(), 3),
               fixed(mark.sigma_px, 3),
               source_word(mark.source) + (mark.set_aside ? ", set aside" : "")});
  }
  say(table.text());
  return calib::Done{};
}

Outcome run(const ShapeImport& command) {
  const auto options = typed_table_options(command.table, command.pixel_origin,
                                           command.turned_photos, command.sigma);
  if (!options) {
    return calib::Unexpected(options.error());
  }
  const auto text = calib::read_whole_file(command.table);
  if (!text) {
    return calib::Unexpected(text.error());
  }
  std::string report;
  auto changed =
      change_dossier(command.folder, [&](const measure::Dossier& dossier) -> Typed<measure::Edit> {
        auto marks = measure::read_shape_mark_table(*text, command.table, dossier, *options);
        if (!marks) {
          return calib::Unexpected(marks.error());
        }
        report = "Imported " + count_of(marks->size(), "mark") + " on shapes.";
        return measure::Edit(measure::SetShapeMarks{std::move(*marks)});
      });
  if (changed) {
    say(report);
  }
  return changed;
}

Outcome run(const AxesSet& command) {
  return change_dossier(command.folder, measure::SetAxes{measure::AxesNames{
                                            command.plane, command.line, command.origin}});
}

Outcome run(const AxesClear& command) {
  return change_dossier(command.folder, measure::SetAxes{std::nullopt});
}

}  // namespace cli
