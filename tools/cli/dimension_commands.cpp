#include "measure/store/dossier_file.h"
#include "tools/cli/commands.h"
#include "tools/cli/dossier_change.h"
#include "tools/cli/table.h"
#include "tools/cli/typed.h"

namespace cli {
namespace {

using Names = std::vector<std::string>;

/// One value is a list with commas; several are names as they stand, so that names may hold commas.
Names names_of(const Names& typed) {
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

Typed<measure::DimensionKind> kind_of(const DimensionAdd& command) {
  const int kinds = int(!command.distance.empty()) + int(!command.along.empty()) +
                    int(!command.angle.empty()) + int(!command.offset.empty());
  if (kinds != 1) {
    return refused("Say what is asked with one of --distance, --along, --angle and --offset.");
  }
  if (command.along.empty() != command.axis.empty()) {
    return refused("--along and --axis belong together: give the two points and the axis.");
  }
  if (command.offset.empty() && (!command.plane.empty() || !command.line.empty())) {
    return refused(
        "--plane and --line belong to --offset: say the offset of which point is asked.");
  }
  if (!command.distance.empty()) {
    return measure::DimensionKind(measure::Distance{command.distance[0], command.distance[1]});
  }
  if (!command.along.empty()) {
    return measure::DimensionKind(measure::DistanceAlong{command.along[0], command.along[1],
                                                         command.axis[0], command.axis[1]});
  }
  if (!command.angle.empty()) {
    return measure::DimensionKind(
        measure::Angle{command.angle[0], command.angle[1], command.angle[2]});
  }
  if (command.plane.empty() == command.line.empty()) {
    return refused("--offset needs either --plane or --line.");
  }
  if (!command.plane.empty()) {
    return measure::DimensionKind(
        measure::OffsetFromPlane{command.offset, names_of(command.plane)});
  }
  const Names line = names_of(command.line);
  if (line.size() != 2) {
    return refused("--line needs two points: A,B or, for names with commas, A B.");
  }
  return measure::DimensionKind(measure::OffsetFromLine{command.offset, line[0], line[1]});
}

std::string kind_sentence(const measure::DimensionKind& kind) {
  std::string text = measure::kind_word(kind) + ":";
  for (const std::string& point : measure::points_of(kind)) {
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
