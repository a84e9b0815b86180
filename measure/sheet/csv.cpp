#include "measure/sheet/csv.h"

#include <cmath>
#include <initializer_list>

#include "calib/base/units.h"
#include "measure/sheet/number_text.h"

namespace measure {
namespace {

std::string field(const std::string& text) {
  if (text.find_first_of(",\"\r\n") == std::string::npos) {
    return text;
  }
  std::string quoted = "\"";
  for (const char c : text) {
    quoted += c;
    if (c == '"') {
      quoted += '"';
    }
  }
  return quoted + '"';
}

void append_record(std::string& csv, std::initializer_list<std::string> fields) {
  bool first = true;
  for (const std::string& each : fields) {
    if (!first) {
      csv += ',';
    }
    csv += field(each);
    first = false;
  }
  csv += "\r\n";
}

const char* unit_word(DimensionUnit unit) {
  switch (unit) {
    case DimensionUnit::kMillimetre:
      return "mm";
    case DimensionUnit::kSquareMillimetre:
      return "mm2";
    case DimensionUnit::kRadian:
      return "deg";
    case DimensionUnit::kRatio:
      return "ratio";
  }
  return "";
}

void append(std::string& csv, const DimensionResult& result) {
  const double times = result.unit == DimensionUnit::kRadian ? calib::kDegreesPerRadian : 1.0;
  const bool has_value = result.problem.empty();
  const auto number = [&](double value) {
    return has_value && std::isfinite(value) ? number_text(value) : std::string();
  };
  const bool has_interval = has_value && result.interval.has_value();
  append_record(
      csv, {result.name, result.kind, result.scale, number(times * result.value),
            number(times * result.u), number(times * result.U), number(result.k),
            has_value && std::isinf(result.effective_dof) ? "inf" : number(result.effective_dof),
            unit_word(result.unit), has_interval ? number(times * result.interval->first) : "",
            has_interval ? number(times * result.interval->second) : "", result.reference,
            result.note, result.problem});
}

}  // namespace

std::string dimensions_csv(std::span<const DimensionResult> dimensions) {
  std::string csv;
  append_record(csv, {"name", "kind", "scale", "value", "u", "U", "k", "effective_dof", "unit",
                      "low", "high", "reference", "note", "problem"});
  for (const DimensionResult& result : dimensions) {
    append(csv, result);
  }
  return csv;
}

}  // namespace measure
