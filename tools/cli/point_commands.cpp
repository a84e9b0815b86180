#include <map>

#include "measure/store/dossier_file.h"
#include "tools/cli/commands.h"
#include "tools/cli/dossier_change.h"
#include "tools/cli/table.h"
#include "tools/cli/typed.h"

namespace cli {

Outcome run(const PointKindCommand& command) {
  const auto u_mm = typed_length_mm("--u", command.u);
  if (!u_mm) {
    return calib::Unexpected(u_mm.error());
  }
  return change_dossier(command.folder, measure::SetKind{{command.kind, *u_mm}});
}

Outcome run(const PointSet& command) {
  measure::EditGroup group;
  for (const std::string& point : command.points) {
    group.edits.push_back(measure::SetPointKind{point, command.kind});
  }
  return change_dossier(command.folder, group);
}

Outcome run(const PointList& command) {
  const auto dossier = measure::read_dossier(command.folder);
  if (!dossier) {
    return calib::Unexpected(dossier.error());
  }
  std::map<std::string, int> marks;
  for (const measure::Mark& mark : dossier->marks) {
    marks[mark.point] += mark.set_aside ? 0 : 1;
  }
  std::map<std::string, double> u_mm;
  for (const measure::PointKind& kind : dossier->point_kinds) {
    u_mm[kind.name] = kind.definition_u_mm;
  }
  Table table({"point", "marks in use", "kind", "defined to (u) mm"},
              {Align::kLeft, Align::kRight, Align::kLeft, Align::kRight});
  for (const measure::Point& point : dossier->points) {
    table.add({point.name, std::to_string(marks[point.name]), point.kind,
               point.kind.empty() ? "" : fixed(u_mm[point.kind], 3)});
  }
  say(table.text());
  return calib::Done{};
}

Outcome run(const PointRemove& command) {
  measure::EditGroup group;
  for (const std::string& point : command.points) {
    group.edits.push_back(measure::RemovePoint{point});
  }
  return change_dossier(command.folder, group);
}

}  // namespace cli
