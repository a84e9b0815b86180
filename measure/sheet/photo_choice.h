// Which photographs show the dimensions, few that together show all.
#pragma once

#include <cstddef>
#include <string>
#include <vector>

#include <Eigen/Core>

namespace measure {

/// How well a dimension is seen in a photo, 0 (not at all) to 1.
struct ViewScore {
  std::size_t dimension = 0, photo = 0;  ///< indices
  double score = 0.0;
};

/// One picture of the sheet: a photo and what is drawn in it.
struct ChosenView {
  std::size_t photo = 0;
  std::vector<std::size_t> dimensions;  ///< ascending
};

struct PhotoChoiceOptions {
  std::size_t most_dimensions = 10;  ///< in one picture, so that it can be read
  double good_enough = 0.6;          ///< of a dimension's best score
};

/// Greedy cover: again and again the photo that shows most of what is not shown yet, each dimension
/// counted by its score over its best one. A photo may come twice, with other dimensions. What has
/// no score anywhere is in no picture. Same input, same choice.
[[nodiscard]] std::vector<ChosenView> choose_views(const std::vector<ViewScore>& scores,
                                                   std::size_t dimension_count,
                                                   std::size_t photo_count,
                                                   const PhotoChoiceOptions& options = {});

}  // namespace measure
