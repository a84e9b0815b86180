#include "measure/store/dossier_file.h"
#include "tools/cli/commands.h"
#include "tools/cli/dossier_change.h"
#include "tools/cli/table.h"
#include "tools/cli/typed.h"

namespace cli {
namespace {

using Names = std::vector<std::string>;
using Kinds = std::vector<measure::DimensionKind>;

/// Options that only make sense beside another one.
std::optional<std::string> misplaced(const DimensionAdd& command) {
  if (command.along.empty() != command.axis.empty()) {
    return "--along and --axis belong together: give the two points and the axis.";
  }
  if (command.offset.empty() && (!command.plane.empty() || !command.line.empty())) {
    return "--plane and --line belong to --offset: say the offset of which point is asked.";
  }
  if (!command.offset.empty() && command.plane.empty() == command.line.empty()) {
    return "--offset needs either --plane or --line.";
  }
  if (command.arc.empty() && !command.via.empty()) {
    return "--via belongs to --arc: say the circle and both ends too.";
  }
  return std::nullopt;
}

Typed<measure::DimensionKind> offset_of(const DimensionAdd& command) {
  if (!command.plane.empty()) {
    return measure::DimensionKind(
        measure::OffsetFromPlane{command.offset, names_in(command.plane)});
  }
  const Names line = names_in(command.line);
  if (line.size() > 2) {
    return refused(
        "--line needs a line of the dossier, or two points: A,B or, for names with commas, A B.");
  }
  return measure::DimensionKind(
      measure::OffsetFromLine{command.offset, line[0], line.size() == 2 ? line[1] : ""});
}

Typed<measure::DimensionKind> kind_of(const DimensionAdd& command) {
  if (const auto problem = misplaced(command)) {
    return refused(*problem);
  }
  Kinds asked;
  const auto list = [&](const Names& typed, auto kind) {
    if (typed.empty()) return;
    kind.points = names_in(typed);
    asked.emplace_back(std::move(kind));
  };
  const auto two = [&]<typename Kind>(const Names& typed, Kind) {
    if (!typed.empty()) asked.emplace_back(Kind{typed[0], typed[1]});
  };
  const auto one = [&]<typename Kind>(const std::string& typed, Kind) {
    if (!typed.empty()) asked.emplace_back(Kind{typed});
  };
  two(command.distance, measure::Distance{});
  if (!command.along.empty()) {
    asked.emplace_back(
        measure::DistanceAlong{command.along[0], command.along[1], command.axis[0],
                               command.axis.size() > 1 ? command.axis[1] : std::string()});
  }
  if (!command.angle.empty())
    asked.emplace_back(measure::Angle{command.angle[0], command.angle[1], command.angle[2]});
  if (!command.offset.empty()) {
    const auto offset = offset_of(command);
    if (!offset) return offset;
    asked.push_back(*offset);
  }
  two(command.angle_between, measure::AngleBetween{});
  two(command.gap, measure::Gap{});
  one(command.radius, measure::Radius{});
  one(command.diameter, measure::Diameter{});
  one(command.cone_angle, measure::ConeAngle{});
  list(command.chain, measure::ChainLength{});
  list(command.pitch, measure::RowPitch{});
  list(command.row_departure, measure::RowDeparture{});
  list(command.area, measure::OutlineArea{});
  if (!command.arc.empty()) {
    asked.emplace_back(
        measure::ArcLength{command.arc[0], command.arc[1], command.arc[2], command.via});
  }
  if (!command.mirror_departure.empty()) {
    asked.emplace_back(measure::MirrorDeparture{
        command.mirror_departure[0], command.mirror_departure[1], command.mirror_departure[2]});
  }
  for (const auto& [axis, item] :
       {std::pair("x", &command.x), std::pair("y", &command.y), std::pair("z", &command.z)}) {
    if (!item->empty()) asked.emplace_back(measure::Coordinate{*item, axis});
  }
  if (asked.size() != 1) {
    return refused(
        "Say what is asked with one of --distance, --along, --offset, --gap, --angle, "
        "--angle-between, --radius, --diameter, --cone-angle, --chain, --arc, --pitch, "
        "--row-departure, --area, --x, --y, --z and --mirror-departure.");
  }
  return asked.front();
}

std::string kind_sentence(const measure::DimensionKind& kind) {
  std::string text = measure::kind_word(kind) + ":";
  for (const std::string& point : measure::names_of(kind)) {
    text += " \"" + point + "\"";
  }
  return text;
}

}  // namespace

Outcome run(const DimensionAdd& command) {
  const auto kind = kind_of(command);
  if (!kind) {
    return calib::Unexpected(kind.error());
  }
  return change_dossier(command.folder, measure::AddDimension{{command.name, *kind}, std::nullopt});
}

Outcome run(const DimensionList& command) {
  const auto dossier = measure::read_dossier(command.folder);
  if (!dossier) {
    return calib::Unexpected(dossier.error());
  }
  Table table({"dimension", "asked"});
  for (const measure::AskedDimension& dimension : dossier->dimensions) {
    table.add({dimension.name, kind_sentence(dimension.kind)});
  }
  say(table.text());
  return calib::Done{};
}

Outcome run(const DimensionRemove& command) {
  return change_dossier(command.folder, measure::RemoveDimension{command.name});
}

}  // namespace cli
