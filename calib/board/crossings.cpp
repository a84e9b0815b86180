#include "calib/board/crossings.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <numbers>
#include <queue>
#include <utility>

#include <opencv2/imgproc.hpp>

#include "calib/board/ring.h"

namespace calib {
namespace {

constexpr double kAngleTolerance_rad = 0.25;  // a ring of 4 px tells an edge's direction to some 5°
constexpr double kLongestEdge_px = 300.0;
constexpr double kMostMissing = 0.1;
constexpr double kLineOccupied = 0.6;
constexpr int kNone = -1;

// Angle between two undirected lines, 0 to π/2.
double angle_between(double a, double b) {
  return std::abs(std::asin(std::clamp(std::sin(a - b), -1.0, 1.0)));
}

// across: unit normal times the distance at which both sides are compared.
double step_across(const cv::Mat& image, const Eigen::Vector2d& at, const Eigen::Vector2d& across) {
  return bilinear(image, at + across) - bilinear(image, at - across);
}

// One edge, bright on one side and dark on the other from end to end.
bool edge_joins(const cv::Mat& image, const Crossing& from, const Crossing& to, double step_px) {
  const Eigen::Vector2d way = to.at_px - from.at_px;
  const Eigen::Vector2d across = step_px * Eigen::Vector2d(-way.y(), way.x()).normalized();
  constexpr std::array<double, 5> kPlaces = {0.3, 0.4, 0.5, 0.6, 0.7};
  double low = std::numeric_limits<double>::max(), high = std::numeric_limits<double>::lowest();
  for (const double place : kPlaces) {
    const double step = step_across(image, from.at_px + place * way, across);
    low = std::min(low, step);
    high = std::max(high, step);
  }
  const double weakest = low > 0.0 ? low : (high < 0.0 ? -high : 0.0);
  // Beyond both ends the colours change sides.
  const double before = step_across(image, from.at_px - 0.35 * way, across);
  const double after = step_across(image, from.at_px + 1.35 * way, across);
  const double sign = low > 0.0 ? 1.0 : -1.0;
  const double amplitude = std::sqrt(std::min(from.response, to.response));
  return weakest > 0.5 * amplitude && before * sign < 0.0 && after * sign < 0.0;
}

// Neighbours of each crossing along its two edges, both ways: [edge][0 forward, 1 backward].
using Links = std::array<std::array<int, 2>, 2>;

std::vector<Links> links_of(const cv::Mat& image, const std::vector<Crossing>& crossings,
                            double step_px) {
  std::vector<Links> links(crossings.size());
  for (std::size_t i = 0; i < crossings.size(); ++i) {
    for (std::size_t k = 0; k < 2; ++k) {
      const Eigen::Vector2d along(std::cos(crossings[i].angle_rad[k]),
                                  std::sin(crossings[i].angle_rad[k]));
      std::array<double, 2> nearest{kLongestEdge_px, kLongestEdge_px};
      links[i][k] = {kNone, kNone};
      for (std::size_t j = 0; j < crossings.size(); ++j) {
        const Eigen::Vector2d way = crossings[j].at_px - crossings[i].at_px;
        const double forward = along.dot(way);
        const std::size_t side = forward > 0.0 ? 0 : 1;
        const double sideways = std::abs(along.x() * way.y() - along.y() * way.x());
        if (j == i || std::abs(forward) >= nearest[side] ||
            sideways > kAngleTolerance_rad * std::abs(forward)) {
          continue;
        }
        const double direction = std::atan2(way.y(), way.x());
        const double match = std::min(angle_between(direction, crossings[j].angle_rad[0]),
                                      angle_between(direction, crossings[j].angle_rad[1]));
        if (match < kAngleTolerance_rad && edge_joins(image, crossings[i], crossings[j], step_px)) {
          nearest[side] = std::abs(forward);
          links[i][k][side] = static_cast<int>(j);
        }
      }
    }
  }
  return links;
}

bool links_back(const Links& links, int to) {
  for (const auto& edge : links) {
    if (edge[0] == to || edge[1] == to) {
      return true;
    }
  }
  return false;
}

struct Visit {
  int crossing, column, row;
  Eigen::Vector2d right, down;  // directions of growing column and row
};

Eigen::Vector2d direction_near(const Crossing& crossing, std::size_t edge,
                               const Eigen::Vector2d& wanted) {
  const Eigen::Vector2d along(std::cos(crossing.angle_rad[edge]),
                              std::sin(crossing.angle_rad[edge]));
  return along.dot(wanted) >= 0.0 ? along : Eigen::Vector2d(-along);
}

// Which edge of the crossing runs the way that is wanted.
std::size_t edge_near(const Crossing& crossing, const Eigen::Vector2d& wanted) {
  const double angle = std::atan2(wanted.y(), wanted.x());
  return angle_between(angle, crossing.angle_rad[0]) <= angle_between(angle, crossing.angle_rad[1])
             ? 0
             : 1;
}

CrossingGrid grown_from(std::size_t seed, const std::vector<Crossing>& crossings,
                        const std::vector<Links>& links, std::vector<bool>& seen) {
  CrossingGrid grid;
  std::map<std::pair<int, int>, int> taken;
  std::queue<Visit> queue;
  const auto& first = crossings[seed];
  queue.push({static_cast<int>(seed), 0, 0, direction_near(first, 0, Eigen::Vector2d::UnitX()),
              direction_near(first, 1, Eigen::Vector2d::UnitY())});
  seen[seed] = true;
  taken[{0, 0}] = static_cast<int>(seed);
  while (!queue.empty()) {
    const Visit here = queue.front();
    queue.pop();
    grid.nodes.push_back(
        {here.column, here.row, crossings[static_cast<std::size_t>(here.crossing)].at_px});
    const auto& from = crossings[static_cast<std::size_t>(here.crossing)];
    for (const auto& edge : links[static_cast<std::size_t>(here.crossing)]) {
      for (const int to : edge) {
        if (to == kNone || seen[static_cast<std::size_t>(to)] ||
            !links_back(links[static_cast<std::size_t>(to)], here.crossing)) {
          continue;
        }
        const auto& next = crossings[static_cast<std::size_t>(to)];
        const Eigen::Vector2d way = (next.at_px - from.at_px).normalized();
        const bool is_column_step = std::abs(way.dot(here.right)) >= std::abs(way.dot(here.down));
        Visit there{to, here.column, here.row, here.right, here.down};
        const double forward = is_column_step ? way.dot(here.right) : way.dot(here.down);
        (is_column_step ? there.column : there.row) += forward > 0.0 ? 1 : -1;
        if (!taken.try_emplace({there.column, there.row}, to).second) {
          continue;
        }
        const std::size_t edge_of_way = edge_near(next, way);
        there.right =
            direction_near(next, is_column_step ? edge_of_way : 1 - edge_of_way, here.right);
        there.down =
            direction_near(next, is_column_step ? 1 - edge_of_way : edge_of_way, here.down);
        seen[static_cast<std::size_t>(to)] = true;
        queue.push(there);
      }
    }
  }
  int column0 = 0, row0 = 0, column1 = 0, row1 = 0;
  for (const auto& node : grid.nodes) {
    column0 = std::min(column0, node.column);
    column1 = std::max(column1, node.column);
    row0 = std::min(row0, node.row);
    row1 = std::max(row1, node.row);
  }
  for (auto& node : grid.nodes) {
    node.column -= column0;
    node.row -= row0;
  }
  grid.columns = column1 - column0 + 1;
  grid.rows = row1 - row0 + 1;
  return grid;
}

using Places = std::map<std::pair<int, int>, Eigen::Vector2d>;

Places places_of(const std::vector<CrossingGrid::Node>& nodes) {
  Places at;
  for (const auto& node : nodes) {
    at[{node.column, node.row}] = node.at_px;
  }
  return at;
}

// Whether the grid goes on beyond a side of this part of it as regularly as within: then the part
// is none of its own. A board's rim gives crossings too, but seldom just one square further on.
bool goes_on_beyond(const Places& at, int column, int row, int wide, int high) {
  constexpr double kRegular = 0.25;  // of a square, from where the next corner should be
  const auto goes_on = [&](int count, int columns_on, int rows_on) {
    int regular = 0;
    for (int i = 0; i < count; ++i) {
      const int c = columns_on > 0 ? column + wide - 1 : (columns_on < 0 ? column : column + i);
      const int r = rows_on > 0 ? row + high - 1 : (rows_on < 0 ? row : row + i);
      const auto inner = at.find({c - columns_on, r - rows_on}), edge = at.find({c, r});
      const auto next = at.find({c + columns_on, r + rows_on});
      if (inner != at.end() && edge != at.end() && next != at.end()) {
        const Eigen::Vector2d step = edge->second - inner->second;
        regular += (next->second - edge->second - step).norm() < kRegular * step.norm() ? 1 : 0;
      }
    }
    return regular > kLineOccupied * count;
  };
  return goes_on(high, 1, 0) || goes_on(high, -1, 0) || goes_on(wide, 0, 1) || goes_on(wide, 0, -1);
}

}  // namespace

bool CrossingGrid::is_full() const {
  return columns >= 3 && rows >= 3 &&
         static_cast<double>(nodes.size()) >= (1.0 - kMostMissing) * columns * rows;
}

std::optional<std::vector<Eigen::Vector2d>> CrossingGrid::corners_of(const BoardSpec& board) const {
  // A crossing outside the board can join the grid: the fullest part of the right size is the
  // board.
  const Places at_place = places_of(nodes);
  const auto part_of = [&](int wide, int high,
                           bool transposed) -> std::optional<std::vector<Eigen::Vector2d>> {
    const int needed = static_cast<int>(std::ceil((1.0 - kMostMissing) * wide * high));
    struct Part {
      int count, column, row;
    };
    std::vector<Part> parts;
    for (int row = 0; row + high <= rows; ++row) {
      for (int column = 0; column + wide <= columns; ++column) {
        const auto inside = std::count_if(nodes.begin(), nodes.end(), [&](const Node& node) {
          return node.column >= column && node.column < column + wide && node.row >= row &&
                 node.row < row + high;
        });
        if (inside >= needed && !goes_on_beyond(at_place, column, row, wide, high)) {
          parts.push_back({static_cast<int>(inside), column, row});
        }
      }
    }
    if (parts.empty()) {
      return std::nullopt;
    }
    const Part best = *std::max_element(
        parts.begin(), parts.end(), [](const Part& a, const Part& b) { return a.count < b.count; });
    std::vector<std::optional<Eigen::Vector2d>> at(static_cast<std::size_t>(wide * high));
    for (const auto& node : nodes) {
      const int column = node.column - best.column, row = node.row - best.row;
      if (column >= 0 && column < wide && row >= 0 && row < high) {
        at[static_cast<std::size_t>(row * wide + column)] = node.at_px;
      }
    }
    const auto place = [&](int column, int row) -> std::optional<Eigen::Vector2d> {
      return column >= 0 && column < wide && row >= 0 && row < high
                 ? at[static_cast<std::size_t>(row * wide + column)]
                 : std::nullopt;
    };
    for (bool changed = true; changed;) {
      changed = false;
      for (int row = 0; row < high; ++row) {
        for (int column = 0; column < wide; ++column) {
          if (place(column, row)) {
            continue;
          }
          Eigen::Vector2d sum = Eigen::Vector2d::Zero();
          double count = 0.0;
          for (const auto& [dx, dy] :
               {std::pair(1, 0), std::pair(0, 1), std::pair(-1, 0), std::pair(0, -1)}) {
            const auto near = place(column + dx, row + dy), opposite = place(column - dx, row - dy);
            const auto far = place(column + 2 * dx, row + 2 * dy);
            if (near && opposite) {
              sum += 0.5 * (*near + *opposite);
              count += 1.0;
            } else if (near && far) {
              sum += 2.0 * *near - *far;
              count += 1.0;
            }
          }
          if (count > 0.0) {
            at[static_cast<std::size_t>(row * wide + column)] = sum / count;
            changed = true;
          }
        }
      }
    }
    std::vector<Eigen::Vector2d> corners;
    for (int row = 0; row < board.inner_rows; ++row) {
      for (int column = 0; column < board.inner_columns; ++column) {
        const auto corner = transposed ? place(row, column) : place(column, row);
        if (!corner) {
          return std::nullopt;
        }
        corners.push_back(*corner);
      }
    }
    return corners;
  };
  if (auto corners = part_of(board.inner_columns, board.inner_rows, false)) {
    return corners;
  }
  return part_of(board.inner_rows, board.inner_columns, true);
}

bool CrossingGrid::is_cut_off(const BoardSpec& board, const cv::Size& size) const {
  if (columns < 2 || rows < 2 || static_cast<int>(nodes.size()) >= board.corner_count()) {
    return false;
  }
  // Does the grid's continuation by one square, on any side, lie outside? The outermost squares
  // need it too.
  const Places at = places_of(nodes);
  const auto leaves = [&](const Node& node, int columns_on, int rows_on) -> std::optional<bool> {
    const auto inner = at.find({node.column - columns_on, node.row - rows_on});
    if (at.contains({node.column + columns_on, node.row + rows_on}) || inner == at.end()) {
      return std::nullopt;
    }
    const Eigen::Vector2d next = 2.0 * node.at_px - inner->second;
    return next.x() < 0.0 || next.y() < 0.0 || next.x() > size.width - 1.0 ||
           next.y() > size.height - 1.0;
  };
  for (const auto& [columns_on, rows_on] :
       {std::pair(1, 0), std::pair(-1, 0), std::pair(0, 1), std::pair(0, -1)}) {
    int ends = 0, outside = 0;
    for (const auto& node : nodes) {
      if (const auto left = leaves(node, columns_on, rows_on)) {
        ++ends;
        outside += *left ? 1 : 0;
      }
    }
    if (outside >= 2 && 2 * outside >= ends) {
      return true;
    }
  }
  return false;
}

std::vector<Crossing> find_crossings(const cv::Mat& image, const CrossingScale& scale) {
  constexpr double kLeastResponse = 40.0;  // grey², of the ring's variance: a contrast of some 14
  constexpr float kLeastSaddle = 300.0F;
  constexpr int kMargin_px = 6;
  constexpr std::size_t kMostCrossings = 1500;
  std::vector<Crossing> crossings;
  if (image.cols <= 2 * kMargin_px || image.rows <= 2 * kMargin_px) {
    return crossings;
  }
  cv::Mat smooth, xx, yy, xy;
  cv::GaussianBlur(image, smooth, cv::Size(), scale.smoothing_px);
  cv::Sobel(smooth, xx, CV_32F, 2, 0);
  cv::Sobel(smooth, yy, CV_32F, 0, 2);
  cv::Sobel(smooth, xy, CV_32F, 1, 1);
  const cv::Mat saddle =
      xy.mul(xy) - xx.mul(yy);  // minus the determinant of the second derivatives
  cv::Mat largest;
  cv::dilate(saddle, largest, cv::getStructuringElement(cv::MORPH_RECT, cv::Size(5, 5)));
  for (int y = kMargin_px; y < image.rows - kMargin_px; ++y) {
    const auto* value = saddle.ptr<float>(y);
    const auto* top = largest.ptr<float>(y);
    for (int x = kMargin_px; x < image.cols - kMargin_px; ++x) {
      if (value[x] < kLeastSaddle || value[x] < top[x]) {
        continue;
      }
      const Eigen::Vector2d at_px(x, y);
      const auto ring = ring_about(smooth, at_px, scale.ring_px);
      const double response = crossing_response(ring);
      if (response < kLeastResponse) {
        continue;
      }
      const auto angles = edge_angles(ring);
      if (angles.size() == 2) {
        crossings.push_back({at_px, {angles[0], angles[1]}, response});
      }
    }
  }
  const auto stronger = [](const Crossing& a, const Crossing& b) {
    return a.response > b.response;
  };
  if (crossings.size() > kMostCrossings) {
    std::nth_element(crossings.begin(), crossings.begin() + kMostCrossings, crossings.end(),
                     stronger);
    crossings.resize(kMostCrossings);
  }
  return crossings;
}

CrossingGrid largest_grid(const cv::Mat& image, const std::vector<Crossing>& crossings,
                          const CrossingScale& scale) {
  const auto links = links_of(image, crossings, scale.step_px);
  std::vector<bool> seen(crossings.size(), false);
  CrossingGrid best;
  for (std::size_t seed = 0; seed < crossings.size(); ++seed) {
    if (!seen[seed]) {
      auto grid = grown_from(seed, crossings, links, seen);
      if (grid.nodes.size() > best.nodes.size()) {
        best = std::move(grid);
      }
    }
  }
  return best;
}

}  // namespace calib
