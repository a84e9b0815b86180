#include "measure/sheet/photo_choice.h"

#include <algorithm>

namespace measure {
namespace {

constexpr std::size_t kFewDimensions = 2;  // not worth a picture of their own
constexpr double kStillVisible = 0.3;      // of the best score, rather than such a picture

}  // namespace

std::vector<ChosenView> choose_views(const std::vector<ViewScore>& scores,
                                     std::size_t dimension_count, std::size_t photo_count,
                                     const PhotoChoiceOptions& options) {
  // relative[photo][dimension]: score over the best of that dimension.
  std::vector<std::vector<double>> relative(photo_count, std::vector<double>(dimension_count, 0.0));
  std::vector<double> best(dimension_count, 0.0);
  for (const ViewScore& view : scores) {
    best[view.dimension] = std::max(best[view.dimension], view.score);
  }
  for (const ViewScore& view : scores) {
    if (best[view.dimension] > 0) {
      relative[view.photo][view.dimension] = view.score / best[view.dimension];
    }
  }
  std::vector<bool> shown(dimension_count, false);
  std::vector<ChosenView> chosen;
  for (;;) {
    ChosenView next;
    double most = 0;
    for (std::size_t photo = 0; photo < photo_count; ++photo) {
      std::vector<std::size_t> seen;
      for (std::size_t d = 0; d < dimension_count; ++d) {
        if (!shown[d] && relative[photo][d] >= options.good_enough) seen.push_back(d);
      }
      std::stable_sort(seen.begin(), seen.end(), [&](std::size_t a, std::size_t b) {
        return relative[photo][a] > relative[photo][b];
      });
      seen.resize(std::min(seen.size(), std::max<std::size_t>(1, options.most_dimensions)));
      double gain = 0;
      for (const std::size_t d : seen) gain += relative[photo][d];
      if (gain > most) {
        most = gain;
        next = {photo, seen};
      }
    }
    if (next.dimensions.empty()) break;
    for (const std::size_t d : next.dimensions) shown[d] = true;
    chosen.push_back(std::move(next));
  }
  // A picture for one or two dimensions only where no other shows them at all well.
  for (std::size_t i = chosen.size(); i-- > 0;) {
    if (chosen[i].dimensions.size() > kFewDimensions) continue;
    std::erase_if(chosen[i].dimensions, [&](std::size_t d) {
      ChosenView* host = nullptr;
      for (std::size_t j = 0; j < chosen.size(); ++j) {
        ChosenView& other = chosen[j];
        if (j == i || other.dimensions.empty() ||
            other.dimensions.size() >= options.most_dimensions ||
            relative[other.photo][d] < kStillVisible) {
          continue;
        }
        if (!host || relative[other.photo][d] > relative[host->photo][d]) host = &other;
      }
      if (host) host->dimensions.push_back(d);
      return host != nullptr;
    });
  }
  std::erase_if(chosen, [](const ChosenView& view) { return view.dimensions.empty(); });
  for (ChosenView& view : chosen) std::sort(view.dimensions.begin(), view.dimensions.end());
  return chosen;
}

}  // namespace measure
