// Finding a board by the size of the photo, with a board and on texture without one, and solving a
// camera by the number of photos. Beside each stands what OpenCV takes for its part of the work in
// the same run: the sector-based detector at the 1600 px that ours starts from, and
// calibrateCamera, which gives neither the board's shape nor its covariance.
#include <chrono>
#include <cmath>
#include <cstdio>

#include <benchmark/benchmark.h>
#include <opencv2/calib3d.hpp>
#include <opencv2/core/utility.hpp>
#include <opencv2/imgproc.hpp>

#include "calib/board/find_board.h"
#include "calib/intrinsics/solve_intrinsics.h"
#include "tests/support/analytic_board.h"
#include "tests/support/board_simulation.h"

namespace {

using Clock = std::chrono::steady_clock;

constexpr int kThreads = 2;

double seconds_since(Clock::time_point start) {
  return std::chrono::duration<double>(Clock::now() - start).count();
}

/// A frame of 3:2 with so many tenths of a megapixel.
calib::ImageSize frame_of(std::int64_t tenths_of_a_megapixel) {
  const double pixels = 1e5 * static_cast<double>(tenths_of_a_megapixel);
  return {static_cast<int>(std::lround(std::sqrt(1.5 * pixels))),
          static_cast<int>(std::lround(std::sqrt(pixels / 1.5)))};
}

void photo_sizes(benchmark::internal::Benchmark* b) {
  b->ArgName("Mpx_tenths");
  for (const int tenths : {3, 20, 120, 240, 500, 1000}) b->Arg(tenths);
  b->UseManualTime()->MeasureProcessCPUTime()->Unit(benchmark::kMillisecond);
}

/// OpenCV's sector-based detector on a copy of at most 1600 px, the reduction included.
double stock_seconds(const cv::Mat& grey, const calib::BoardSpec& board, bool& found) {
  const auto start = Clock::now();
  const double factor = std::min(1.0, 1600.0 / std::max(grey.cols, grey.rows));
  cv::Mat small;
  cv::resize(grey, small, {}, factor, factor, cv::INTER_AREA);
  std::vector<cv::Point2f> corners;
  found = cv::findChessboardCornersSB(small, {board.inner_columns, board.inner_rows}, corners);
  return seconds_since(start);
}

void find_board_in_photo(benchmark::State& state) {
  testing_support::AnalyticBoardSpec spec;
  spec.size = frame_of(state.range(0));
  const double width = spec.size.width;
  spec.camera = {
      .fx = width, .fy = width, .cx = (width - 1) / 2, .cy = (spec.size.height - 1) / 2.0};
  const auto photo = testing_support::make_analytic_board(spec);
  double ours = 0, stock = 0, rms = 0;
  bool stock_found = false;
  for (auto _ : state) {
    const auto start = Clock::now();
    const auto found = calib::find_board(photo.pixels, spec.board);
    const double seconds = seconds_since(start);
    state.SetIterationTime(seconds);
    ours += seconds;
    if (!found) {
      state.SkipWithError("the board was not found");
      return;
    }
    double squares = 0;
    for (std::size_t i = 0; i < photo.corners_px.size(); ++i)
      squares += (found->corners[i].position_px - photo.corners_px[i]).squaredNorm();
    rms = std::sqrt(squares / (2.0 * static_cast<double>(photo.corners_px.size())));
    stock += stock_seconds(photo.pixels, spec.board, stock_found);
  }
  state.counters["rms_px"] = rms;  // a coordinate: what is fast must also be right
  state.counters["stock_found"] = stock_found ? 1 : 0;
  state.counters["over_stock"] = ours / stock;
}
BENCHMARK(find_board_in_photo)->Apply(photo_sizes);

void find_no_board_on_texture(benchmark::State& state) {
  const auto texture = testing_support::make_texture(frame_of(state.range(0)));
  const calib::BoardSpec board{9, 6, 25.0};
  double ours = 0, stock = 0;
  bool stock_found = false;
  for (auto _ : state) {
    const auto start = Clock::now();
    const auto found = calib::find_board(texture, board);
    const double seconds = seconds_since(start);
    state.SetIterationTime(seconds);
    ours += seconds;
    if (found) {
      state.SkipWithError("a board was found where there is none");
      return;
    }
    stock += stock_seconds(texture, board, stock_found);
  }
  state.counters["stock_found"] = stock_found ? 1 : 0;
  state.counters["over_stock"] = ours / stock;
}
BENCHMARK(find_no_board_on_texture)->Apply(photo_sizes);

void calibrate(benchmark::State& state) {
  const auto sim = testing_support::simulate_board(
      {.photo_count = static_cast<int>(state.range(0)), .draw_board = state.range(1) == 1});
  const auto shape = state.range(1) == 0 ? calib::BoardShape::kPerfect : calib::BoardShape::kPrior;
  std::vector<std::vector<cv::Point3f>> board;
  std::vector<std::vector<cv::Point2f>> image;
  for (const calib::CornerSet& set : sim.sets) {
    board.emplace_back();
    image.emplace_back();
    for (const calib::Corner& corner : set.corners) {
      const Eigen::Vector3f at =
          sim.nominal_mm[static_cast<std::size_t>(corner.point)].cast<float>();
      board.back().emplace_back(at.x(), at.y(), at.z());
      image.back().emplace_back(static_cast<float>(corner.position_px.x()),
                                static_cast<float>(corner.position_px.y()));
    }
  }
  double ours = 0, stock = 0, sigma0 = 0;
  for (auto _ : state) {
    auto start = Clock::now();
    const auto solved = calib::solve_intrinsics(sim.nominal_mm, sim.sets, sim.size,
                                                {.shape = shape, .threads = kThreads});
    const double seconds = seconds_since(start);
    state.SetIterationTime(seconds);
    ours += seconds;
    if (!solved) {
      state.SkipWithError("no camera was found");
      return;
    }
    sigma0 = solved->sigma0;
    start = Clock::now();
    cv::Mat matrix, distortion;
    std::vector<cv::Mat> rotations, translations;
    cv::calibrateCamera(board, image, {sim.size.width, sim.size.height}, matrix, distortion,
                        rotations, translations);
    stock += seconds_since(start);
  }
  state.counters["sigma0"] = sigma0;
  state.counters["over_stock"] = ours / stock;
}
BENCHMARK(calibrate)
    ->ArgNames({"photos", "shape_in_question"})
    ->ArgsProduct({{5, 10, 20, 50, 100}, {0, 1}})
    ->UseManualTime()
    ->MeasureProcessCPUTime()
    ->Unit(benchmark::kMillisecond);

}  // namespace

int main(int argc, char** argv) {
  cv::setNumThreads(kThreads);
  benchmark::Initialize(&argc, argv);
  benchmark::RunSpecifiedBenchmarks();
  return 0;
}
