#include "calib/board/find_board.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <future>
#include <iomanip>
#include <optional>
#include <sstream>

#include <Eigen/Dense>
#include <opencv2/calib3d.hpp>
#include <opencv2/imgproc.hpp>

#include "calib/board/crossings.h"
#include "calib/board/refine_corner.h"
#include "calib/board/ring.h"

namespace calib {
namespace {

// Detection sizes, long side in pixels. Our own grid of crossings takes 0.01 s at 800 and 0.05 s at
// 1600; the sector-based detector 0.05 to 0.1 s at 800 and 0.15 to 0.3 s at 1600, hence the latter
// only where part of a grid is in sight; the classic one up to a minute at 1600 on texture, hence
// 640 and last.
constexpr int kSmallSide_px = 800;
constexpr int kLargeSide_px = 1600;
constexpr int kBlurredSide_px = 400;
constexpr int kClassicSide_px = 640;
// Part of the corners that must be in sight as crossings before dearer tries are worth their time.
constexpr double kWorthTrying = 0.1;
constexpr double kFewestJoined = 6.0;
constexpr double kFewestCutOff = 6.0;  // crossings joined in a grid: fewer can be chance
constexpr double kLargestBlur_square = 0.25;
constexpr double kLargestSigma_px = 0.5;
constexpr double kFewestRefined = 0.8;
constexpr double kDetectorSigma_px = 0.7;
constexpr double kRefinedSigma_px = 0.15;
constexpr double kSharpPhoto_px = 1.3;
constexpr double kSmallSquare_px = 10.0;

struct Copy {
  cv::Mat pixels;
  Eigen::Vector2d full_per_copy;  ///< pixels of the photo per pixel of the copy

  [[nodiscard]] Eigen::Vector2d to_full(const Eigen::Vector2d& at) const {
    return (at.array() + 0.5) * full_per_copy.array() - 0.5;
  }
};

Copy copy_of(const cv::Mat& image, const cv::Mat& original, int side_px) {
  const double scale = static_cast<double>(side_px) / std::max(original.cols, original.rows);
  Copy copy;
  const cv::Size size(std::max(1, static_cast<int>(std::lround(original.cols * scale))),
                      std::max(1, static_cast<int>(std::lround(original.rows * scale))));
  if (size == image.size()) {
    copy.pixels = image;
  } else {
    cv::resize(image, copy.pixels, size, 0.0, 0.0, scale < 1.0 ? cv::INTER_AREA : cv::INTER_CUBIC);
  }
  copy.full_per_copy = {static_cast<double>(original.cols) / copy.pixels.cols,
                        static_cast<double>(original.rows) / copy.pixels.rows};
  return copy;
}

// Light and contrast evened out over a neighbourhood of some squares, so that a shadow's border is
// no edge; noise in plain places is kept down by a contrast that counts as none.
cv::Mat flattened(const cv::Mat& image) {
  constexpr double kPlain_grey = 8.0;
  constexpr double kContrast_grey = 60.0;
  const int reach = std::max(3, std::max(image.cols, image.rows) / 12);
  cv::Mat grey, mean, mean_of_squares, deviation;
  image.convertTo(grey, CV_32F);
  cv::blur(grey, mean, cv::Size(reach, reach));
  cv::blur(grey.mul(grey), mean_of_squares, cv::Size(reach, reach));
  cv::sqrt(cv::max(mean_of_squares - mean.mul(mean), 0.0) + kPlain_grey * kPlain_grey, deviation);
  cv::Mat even;
  cv::Mat((grey - mean) / deviation).convertTo(even, CV_8U, kContrast_grey, 128.0);
  return even;
}

using Points = std::vector<Eigen::Vector2d>;

double cross(const Eigen::Vector2d& a, const Eigen::Vector2d& b) {
  return a.x() * b.y() - a.y() * b.x();
}

// All cells turn the same way and none is much larger than its neighbour: detectors sometimes
// misplace a row.
bool is_regular(const Points& at, const BoardSpec& board, const cv::Size& size) {
  double sign = 0.0;
  for (const auto& point : at) {
    if (!point.allFinite() || point.x() < 0.0 || point.y() < 0.0 || point.x() > size.width - 1.0 ||
        point.y() > size.height - 1.0) {
      return false;
    }
  }
  constexpr double kLargestChange = 2.0;  // of an edge's length from one square to the next
  const auto index = [&board](int column, int row) {
    return static_cast<std::size_t>(row * board.inner_columns + column);
  };
  for (int row = 0; row < board.inner_rows; ++row) {
    for (int column = 0; column < board.inner_columns; ++column) {
      const Eigen::Vector2d& here = at[index(column, row)];
      if (column + 1 < board.inner_columns && row + 1 < board.inner_rows) {
        const Eigen::Vector2d right = at[index(column + 1, row)] - here,
                              down = at[index(column, row + 1)] - here;
        const Eigen::Vector2d far = at[index(column + 1, row + 1)] - here;
        const double first = cross(right, far), second = cross(far, down);
        sign = sign == 0.0 ? (first > 0.0 ? 1.0 : -1.0) : sign;
        if (!(first * sign > 0.0) || !(second * sign > 0.0)) {
          return false;
        }
      }
      const auto even = [&](const Eigen::Vector2d& before, const Eigen::Vector2d& after) {
        const double a = (here - before).norm(), b = (after - here).norm();
        return a < kLargestChange * b && b < kLargestChange * a &&
               (here - before).dot(after - here) > 0.8 * a * b;
      };
      if (column > 0 && column + 1 < board.inner_columns &&
          !even(at[index(column - 1, row)], at[index(column + 1, row)])) {
        return false;
      }
      if (row > 0 && row + 1 < board.inner_rows &&
          !even(at[index(column, row - 1)], at[index(column, row + 1)])) {
        return false;
      }
    }
  }
  return true;
}

enum class Detector { kSector, kSectorExhaustive, kClassic, kClassicGuarded };

std::optional<Points> detect(const cv::Mat& image, const BoardSpec& board, Detector detector) {
  const cv::Size pattern(board.inner_columns, board.inner_rows);
  std::vector<cv::Point2f> corners;
  bool found = false;
  try {
    switch (detector) {
      case Detector::kSector:
        found = cv::findChessboardCornersSB(image, pattern, corners, 0);
        break;
      case Detector::kSectorExhaustive:
        found = cv::findChessboardCornersSB(image, pattern, corners, cv::CALIB_CB_EXHAUSTIVE);
        break;
      case Detector::kClassic:
      case Detector::kClassicGuarded:
        found = cv::findChessboardCorners(
            image, pattern, corners,
            int{cv::CALIB_CB_ADAPTIVE_THRESH} | int{cv::CALIB_CB_NORMALIZE_IMAGE} |
                (detector == Detector::kClassicGuarded ? int{cv::CALIB_CB_FAST_CHECK} : 0));
        break;
    }
  } catch (const cv::Exception&) {  // OpenCV 4.6 asserts on some grids inside its own search
    found = false;
  }
  if (!found || corners.size() != static_cast<std::size_t>(board.corner_count())) {
    return std::nullopt;
  }
  Points points;
  points.reserve(corners.size());
  for (const auto& corner : corners) {
    points.emplace_back(corner.x, corner.y);
  }
  return is_regular(points, board, image.size()) ? std::optional(std::move(points)) : std::nullopt;
}

Points positions_of(const std::vector<GridCorner>& corners) {
  Points points;
  points.reserve(corners.size());
  for (const auto& corner : corners) {
    points.push_back(corner.position_px);
  }
  return points;
}

double mean_grey(const cv::Mat& image, const Eigen::Vector2d& at, double reach_px) {
  const int reach = std::max(0, static_cast<int>(reach_px));
  const cv::Rect box =
      cv::Rect(static_cast<int>(std::lround(at.x())) - reach,
               static_cast<int>(std::lround(at.y())) - reach, 2 * reach + 1, 2 * reach + 1) &
      cv::Rect(0, 0, image.cols, image.rows);
  return box.empty() ? 0.0 : cv::mean(image(box))[0];
}

// Mean brightness of the squares of the colour of the one outside corner 0, less that of the
// others.
double first_colour(const cv::Mat& image, const Points& at, int columns, int rows) {
  const auto index = [columns](int column, int row) {
    return static_cast<std::size_t>(row * columns + column);
  };
  std::array<double, 2> sum{}, count{};
  for (int row = 0; row + 1 < rows; ++row) {
    for (int column = 0; column + 1 < columns; ++column) {
      const Eigen::Vector2d centre =
          0.25 * (at[index(column, row)] + at[index(column + 1, row)] + at[index(column, row + 1)] +
                  at[index(column + 1, row + 1)]);
      const double side = (at[index(column + 1, row + 1)] - at[index(column, row)]).norm();
      const auto colour = static_cast<std::size_t>((column + row) % 2);
      sum[colour] += mean_grey(image, centre, 0.08 * side);
      count[colour] += 1.0;
    }
  }
  return sum[0] / count[0] - sum[1] / count[1];
}

// Turns and mirrors the grid into the board's own order.
Points normalised(const cv::Mat& image, const Points& at, const BoardSpec& board) {
  const int columns = board.inner_columns, rows = board.inner_rows;
  const auto taken = [&](auto source) {
    Points result;
    result.reserve(at.size());
    for (int row = 0; row < rows; ++row) {
      for (int column = 0; column < columns; ++column) {
        const auto [c, r] = source(column, row);
        result.push_back(at[static_cast<std::size_t>(r * columns + c)]);
      }
    }
    return result;
  };
  using Place = std::pair<int, int>;
  std::vector<Points> candidates;
  candidates.push_back(taken([](int c, int r) { return Place(c, r); }));
  candidates.push_back(taken([&](int c, int r) { return Place(columns - 1 - c, r); }));
  candidates.push_back(taken([&](int c, int r) { return Place(c, rows - 1 - r); }));
  candidates.push_back(taken([&](int c, int r) { return Place(columns - 1 - c, rows - 1 - r); }));
  if (columns == rows) {
    candidates.push_back(taken([](int c, int r) { return Place(r, c); }));
    candidates.push_back(taken([&](int c, int r) { return Place(columns - 1 - r, c); }));
    candidates.push_back(taken([&](int c, int r) { return Place(r, rows - 1 - c); }));
    candidates.push_back(taken([&](int c, int r) { return Place(columns - 1 - r, rows - 1 - c); }));
  }
  const Points* best = nullptr;
  bool best_black = false;
  double best_distance = 0.0;
  for (const auto& candidate : candidates) {
    const Eigen::Vector2d right =
        candidate[static_cast<std::size_t>(columns - 1)] - candidate.front();
    const Eigen::Vector2d down =
        candidate[static_cast<std::size_t>((rows - 1) * columns)] - candidate.front();
    if (cross(right, down) <= 0.0) {
      continue;  // seen from behind
    }
    const bool black = first_colour(image, candidate, columns, rows) < 0.0;
    const double distance = candidate.front().sum();
    if (best == nullptr || (black && !best_black) ||
        (black == best_black && distance < best_distance)) {
      best = &candidate;
      best_black = black;
      best_distance = distance;
    }
  }
  return best != nullptr ? *best : at;
}

PhotoRefusal not_found(const BoardSpec& board) {
  return {PhotoRefusalKind::kNotFound,
          std::to_string(board.inner_columns) + "x" + std::to_string(board.inner_rows)};
}

std::string one_decimal(double value) {
  std::ostringstream text;
  text << std::fixed << std::setprecision(1) << value;
  return text.str();
}

double median_of(std::vector<double> values) {
  const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
  std::nth_element(values.begin(), middle, values.end());
  return *middle;
}

// A grid of corners in a copy of the photo, in the board's own order.
struct Detection {
  Points at;
  Copy copy;
  double sigma_px = kDetectorSigma_px;
  double photo_blur_px = kSharpPhoto_px;  ///< expected at full size
};

// Whether there is a crossing within two pixels of a place; a ring that fits into the squares.
bool has_crossing(const cv::Mat& image, const Eigen::Vector2d& near, double ring_px,
                  double least_response) {
  constexpr double kClear = 0.4;  // of the ring's variance; one black corner in white is below zero
  constexpr int kSearch_px = 2;
  const double margin_px = ring_px + kSearch_px;
  if (near.x() < margin_px || near.y() < margin_px || near.x() > image.cols - 1 - margin_px ||
      near.y() > image.rows - 1 - margin_px) {
    return false;
  }
  for (int dy = -kSearch_px; dy <= kSearch_px; ++dy) {
    for (int dx = -kSearch_px; dx <= kSearch_px; ++dx) {
      const auto ring = ring_about(image, near + Eigen::Vector2d(dx, dy), ring_px);
      if (crossing_response(ring) > std::max(least_response, kClear * variance_of(ring)) &&
          edge_angles(ring).size() == 2) {
        return true;
      }
    }
  }
  return false;
}

// Whether the pattern goes on beyond one of the grid's sides: then it is a part of a larger board.
bool goes_on(const cv::Mat& image, const Points& at, const BoardSpec& board) {
  constexpr double kAlike = 0.4;
  constexpr double kLeastResponse = 10.0;  // grey²
  constexpr double kMostOfLine = 0.85;     // a rim before a dark ground looks like it in places
  const int columns = board.inner_columns, rows = board.inner_rows;
  // One step further from (column, row), away from the grid; the squares' change of size goes on as
  // well.
  const auto crossing_beyond = [&](int column, int row, int columns_on, int rows_on) {
    const auto place = [&](int c, int r) { return at[static_cast<std::size_t>(r * columns + c)]; };
    const Eigen::Vector2d edge = place(column, row);
    const Eigen::Vector2d last = edge - place(column - columns_on, row - rows_on);
    const Eigen::Vector2d before = place(column - columns_on, row - rows_on) -
                                   place(column - 2 * columns_on, row - 2 * rows_on);
    const Eigen::Vector2d next = last * std::clamp(last.norm() / before.norm(), 0.5, 2.0);
    const Eigen::Vector2d sideways = columns_on != 0
                                         ? place(column, row > 0 ? row - 1 : row + 1) - edge
                                         : place(column > 0 ? column - 1 : column + 1, row) - edge;
    const double narrow_px =
        std::abs(cross(next, sideways)) / std::max(next.norm(), sideways.norm());
    const double ring_px = std::clamp(0.3 * narrow_px, 1.5, 4.0);
    // As strong as the grid's own: a board's rim before a dark ground is a faint crossing, too.
    const double usual = crossing_response(ring_about(image, edge, ring_px));
    return has_crossing(image, edge + next, ring_px, std::max(kLeastResponse, kAlike * usual));
  };
  for (const auto& [columns_on, rows_on] :
       {std::pair(1, 0), std::pair(-1, 0), std::pair(0, 1), std::pair(0, -1)}) {
    const int count = columns_on != 0 ? rows : columns;
    int crossings = 0;
    for (int i = 0; i < count; ++i) {
      const int column = columns_on > 0 ? columns - 1 : (columns_on < 0 ? 0 : i);
      const int row = rows_on > 0 ? rows - 1 : (rows_on < 0 ? 0 : i);
      crossings += crossing_beyond(column, row, columns_on, rows_on) ? 1 : 0;
    }
    if (crossings > kMostOfLine * count) {
      return true;
    }
  }
  return false;
}

// Refines in the copy and keeps only what is a board: detectors do return grids with a row left
// out.
std::optional<Detection> verified(const Points& at, const Copy& copy, const BoardSpec& board) {
  Detection detection{normalised(copy.pixels, at, board), copy};
  const auto coarse = refine_grid(
      copy.pixels, board.inner_columns, board.inner_rows, detection.at,
      {.position_sigma_px = kDetectorSigma_px, .blur_px = 1.0, .effort = GridEffort::kQuick});
  int refined = 0, dark_first = 0;
  for (std::size_t i = 0; i < coarse.size(); ++i) {
    const int place = static_cast<int>(i);
    const bool odd = (place % board.inner_columns + place / board.inner_columns) % 2 != 0;
    refined += coarse[i].refined ? 1 : 0;
    dark_first += coarse[i].refined && (coarse[i].contrast > 0.0) == odd ? 1 : 0;
  }
  const double wanted = kFewestRefined * board.corner_count();
  if (refined >= wanted) {
    // Without the right colours it is no board; in a board that looks the same when turned either
    // will do.
    const bool alternates = dark_first >= 0.95 * refined ||
                            (!board.tells_up_from_down() && dark_first <= 0.05 * refined);
    const Points better = positions_of(coarse);
    if (!alternates || !is_regular(better, board, copy.pixels.size()) ||
        goes_on(copy.pixels, better, board)) {
      return std::nullopt;
    }
    detection.at = better;
    detection.sigma_px = kRefinedSigma_px;
    // What the reduction itself blurs is taken off; a sharp photo is expected to be sharp.
    const double blur_px = coarse[coarse.size() / 2].blur_px;
    detection.photo_blur_px =
        std::max(kSharpPhoto_px, std::sqrt(std::max(0.0, blur_px * blur_px - 0.25)) *
                                     copy.full_per_copy.maxCoeff());
    return detection;
  }
  // Squares of a few pixels cannot be refined in the copy, only at full size.
  const double smallest_px =
      std::min_element(coarse.begin(), coarse.end(), [](const auto& a, const auto& b) {
        return a.square_px < b.square_px;
      })->square_px;
  const bool reduced = copy.full_per_copy.maxCoeff() > 1.5;
  return reduced && smallest_px < kSmallSquare_px ? std::optional(std::move(detection))
                                                  : std::nullopt;
}

// The search on reduced copies; the order of its attempts does not depend on how fast the machine
// is.
class Search {
 public:
  Search(const cv::Mat& photo, const cv::Mat& eight_bit, const BoardSpec& board,
         const Cancelled& cancelled)
      : board_(board),
        cancelled_(cancelled),
        longest_px_(std::max(photo.cols, photo.rows)),
        reduced_(longest_px_ > kSmallSide_px),
        // One copy is taken from the other: reading 100 Mpx once is enough.
        large_(copy_of(eight_bit, photo, std::min(longest_px_, kLargeSide_px))),
        small_(copy_of(large_.pixels, photo, std::min(longest_px_, kSmallSide_px))),
        blurred_(copy_of(small_.pixels, photo, std::min(longest_px_, kBlurredSide_px))),
        classic_(copy_of(small_.pixels, photo, std::min(longest_px_, kClassicSide_px))) {
    if (!reduced_) {
      large_ = copy_of(eight_bit, photo, 2 * longest_px_);
    }
  }

  Result<Detection, PhotoRefusal> run() {
    if (attempt_grid(small_, small_.pixels, CrossingScale::usual())) {
      return std::move(*detection_);
    }
    if (grid_.is_full() && static_cast<int>(grid_.nodes.size()) > board_.corner_count()) {
      return Unexpected(another_board());  // plainly in sight, and larger
    }
    try_second_round();
    if (detection_) {
      return std::move(*detection_);
    }
    if (stop()) {
      return Unexpected(PhotoRefusal{PhotoRefusalKind::kCancelled, {}});
    }
    const auto joined = static_cast<double>(grid_.nodes.size());
    if (joined >= kFewestCutOff && grid_.is_cut_off(board_, grid_image_.size())) {
      return Unexpected(PhotoRefusal{PhotoRefusalKind::kCutOff, {}});
    }
    if (shows_another_board()) {
      return Unexpected(another_board());
    }
    if (joined < std::max(kFewestJoined, kWorthTrying * board_.corner_count())) {
      return Unexpected(not_found(board_));
    }
    const bool found_late =
        attempt(large_, Detector::kSector) || attempt(small_, Detector::kSectorExhaustive) ||
        attempt(classic_, reduced_ ? Detector::kClassicGuarded : Detector::kClassic) ||
        attempt(large_, Detector::kSectorExhaustive);
    if (found_late) {
      return std::move(*detection_);
    }
    if (stop()) {
      return Unexpected(PhotoRefusal{PhotoRefusalKind::kCancelled, {}});
    }
    return Unexpected(grid_.is_full() ? another_board() : not_found(board_));
  }

 private:
  bool stop() { return stopped_ = stopped_ || (cancelled_ && cancelled_()); }

  bool attempt(const Copy& copy, Detector detector) {
    if (!detection_ && !stop()) {
      if (const auto at = detect(copy.pixels, board_, detector)) {
        detection_ = verified(*at, copy, board_);
      }
    }
    return detection_.has_value();
  }

  // Keeps the largest grid seen, so that a failure can be explained.
  // look_at: the copy itself, or a picture of the same size made from it.
  bool attempt_grid(const Copy& copy, const cv::Mat& look_at, const CrossingScale& scale) {
    if (!detection_ && !stop()) {
      const auto grid = largest_grid(look_at, find_crossings(look_at, scale), scale);
      const auto at = grid.corners_of(board_);
      if (at && is_regular(*at, board_, copy.pixels.size())) {
        detection_ = verified(*at, copy, board_);
      }
      if (grid.nodes.size() > grid_.nodes.size()) {
        grid_ = grid;
        grid_image_ = look_at;
      }
    }
    return detection_.has_value();
  }

  // The sector-based detector runs on one core, hence beside our own search in the large copy.
  void try_second_round() {
    if (stop()) {
      return;
    }
    auto by_sectors = std::async(std::launch::async, [this] {
      auto at = detect(small_.pixels, board_, Detector::kSector);
      return std::pair(at, at ? std::nullopt : detect(blurred_.pixels, board_, Detector::kSector));
    });
    attempt_grid(small_, flattened(small_.pixels), CrossingScale::usual()) ||
        attempt_grid(large_, large_.pixels, CrossingScale::usual()) ||
        attempt_grid(large_, large_.pixels, CrossingScale::fine());
    const auto [in_small, in_blurred] = by_sectors.get();
    if (!detection_ && in_small && !stop()) {
      detection_ = verified(*in_small, small_, board_);
    }
    if (!detection_ && in_blurred && !stop()) {
      detection_ = verified(*in_blurred, blurred_, board_);
    }
  }

  // A whole grid of another size that ends on all sides.
  [[nodiscard]] bool shows_another_board() const {
    const BoardSpec seen{grid_.columns, grid_.rows, board_.square_mm};
    const auto at = grid_.is_full() ? grid_.corners_of(seen) : std::nullopt;
    return at && !goes_on(grid_image_, *at, seen);
  }

  [[nodiscard]] PhotoRefusal another_board() const {
    PhotoRefusal refusal = not_found(board_);
    refusal.detail += " (but one of " + std::to_string(std::max(grid_.columns, grid_.rows)) + "x" +
                      std::to_string(std::min(grid_.columns, grid_.rows)) + ")";
    return refusal;
  }

  const BoardSpec& board_;
  const Cancelled& cancelled_;
  int longest_px_;
  bool reduced_;
  Copy large_, small_, blurred_, classic_;
  bool stopped_ = false;
  CrossingGrid grid_;   ///< the largest seen
  cv::Mat grid_image_;  ///< the copy it was seen in
  std::optional<Detection> detection_;
};

}  // namespace

double BoardCorner::sigma_px() const { return std::sqrt(0.5 * covariance_px2.trace()); }

Result<FoundBoard, PhotoRefusal> find_board(const cv::Mat& grey, const BoardSpec& board,
                                            const Cancelled& cancelled) {
  if (grey.empty() || board.first_problem()) {
    return Unexpected(not_found(board));
  }
  if (cancelled && cancelled()) {
    return Unexpected(PhotoRefusal{PhotoRefusalKind::kCancelled, {}});
  }
  cv::Mat eight_bit = grey;
  if (grey.depth() == CV_16U) {
    grey.convertTo(eight_bit, CV_8U, 1.0 / 257.0);
  }
  auto searched = Search(grey, eight_bit, board, cancelled).run();
  if (!searched) {
    return Unexpected(searched.error());
  }
  const Copy& copy = searched->copy;
  Points at = searched->at;
  if (cancelled && cancelled()) {
    return Unexpected(PhotoRefusal{PhotoRefusalKind::kCancelled, {}});
  }
  for (auto& point : at) {
    point = copy.to_full(point);
  }
  const auto fine = refine_grid(
      grey, board.inner_columns, board.inner_rows, at,
      {.position_sigma_px = std::max(0.5, searched->sigma_px * copy.full_per_copy.maxCoeff()),
       .blur_px = searched->photo_blur_px});

  FoundBoard found{.board = board, .size = {grey.cols, grey.rows}, .corners = {}};
  std::vector<double> blurs_px, sigmas_px, relative_blurs;
  int refined_count = 0;
  for (const auto& corner : fine) {
    found.corners.push_back({corner.position_px, corner.covariance_px2, corner.square_px,
                             corner.blur_px, corner.refined});
    blurs_px.push_back(corner.blur_px);
    relative_blurs.push_back(corner.blur_px / std::max(corner.square_px, 1e-9));
    sigmas_px.push_back(found.corners.back().sigma_px());
    refined_count += corner.refined ? 1 : 0;
  }
  found.blur_px = median_of(blurs_px);
  const bool regular = is_regular(positions_of(fine), board, grey.size());
  if (median_of(relative_blurs) > kLargestBlur_square ||
      (regular && median_of(sigmas_px) > kLargestSigma_px)) {
    return Unexpected(
        PhotoRefusal{PhotoRefusalKind::kTooBlurred,
                     "over " + one_decimal(found.blur_px) + " pixels, squares of " +
                         one_decimal(median_of(blurs_px) / median_of(relative_blurs)) + " pixels"});
  }
  if (!regular || static_cast<double>(refined_count) < kFewestRefined * board.corner_count()) {
    return Unexpected(not_found(board));
  }
  return found;
}

}  // namespace calib
