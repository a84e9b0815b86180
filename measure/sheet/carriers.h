// Which marks, bars and cameras a dimension's variance comes from.
#pragma once

#include <string>
#include <vector>

#include "measure/bundle/survey.h"
#include "measure/dimension/dimension.h"
#include "measure/dossier/dossier.h"

namespace measure {

/// One source of a dimension's variance.
struct Carrier {
  enum class What { kMark, kBar, kCertificate, kCamera, kTemperature, kDefinition };
  What what = What::kMark;
  std::string photo;   ///< of a mark
  std::string name;    ///< point of the mark, bar, certificate, camera, or what is thermal
  double share = 0.0;  ///< of the variance in model scale; all together 1
};

/// All of them, largest share first; none where the dimension has no value.
/// @param result  of the dimension in model scale.
[[nodiscard]] std::vector<Carrier> carriers_of(const Survey& survey, const Dossier& dossier,
                                               const AskedDimension& asked,
                                               const DimensionResult& result);

}  // namespace measure
