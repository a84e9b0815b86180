#include "calib/intrinsics/calibrate.h"

#include <algorithm>
#include <atomic>
#include <cmath>
#include <exception>
#include <mutex>
#include <set>
#include <thread>
#include <utility>

#include "calib/board/judge_set.h"

namespace calib {
namespace {

/// Searches all photos, some at a time; results in the order given.
std::vector<BoardPhoto> search(std::span<const std::filesystem::path> files, const BoardSpec& board,
                               int threads, const OnCalibrateProgress& on_progress,
                               const Cancelled& cancelled) {
  std::vector<BoardPhoto> photos(files.size());
  std::atomic<std::size_t> next = 0;
  std::mutex reporting;
  int done = 0;
  std::exception_ptr failure;
  const auto work = [&] {
    try {
      for (std::size_t i = next++; i < files.size(); i = next++) {
        photos[i] = read_board_photo(files[i], board, cancelled);
        const std::lock_guard<std::mutex> lock(reporting);
        ++done;
        if (on_progress) {
          on_progress({done, static_cast<int>(files.size()), photos[i].file,
                       photos[i].found.has_value(), photos[i].reason()});
        }
      }
    } catch (...) {  // an exception of a library or a callback must not end the program from within
                     // a thread
      const std::lock_guard<std::mutex> lock(reporting);
      failure = std::current_exception();
      next = files.size();
    }
  };
  std::vector<std::thread> workers;
  const int extra = std::min(threads, static_cast<int>(files.size())) - 1;
  for (int t = 0; t < extra; ++t) workers.emplace_back(work);
  work();
  for (std::thread& worker : workers) worker.join();
  if (failure) std::rethrow_exception(failure);
  return photos;
}

CornerSet corner_set_of(const BoardPhoto& photo, double model_sigma_px) {
  CornerSet set{photo.file, {}};
  const auto& corners = photo.found->corners;
  for (std::size_t i = 0; i < corners.size(); ++i) {
    set.corners.push_back({static_cast<int>(i), corners[i].position_px,
                           corners[i].covariance_px2 +
                               model_sigma_px * model_sigma_px * Eigen::Matrix2d::Identity()});
  }
  return set;
}

/// What the photos' EXIF agree on; an item that one file tells stands for all.
LensAndBody common_camera(const std::vector<const BoardPhoto*>& photos) {
  LensAndBody common;
  for (const BoardPhoto* photo : photos) {
    const LensAndBody& own = photo->exif.lens_and_body;
    if (common.make.empty()) common.make = own.make;
    if (common.model.empty()) common.model = own.model;
    if (common.lens.empty()) common.lens = own.lens;
    if (!common.focal_length_mm) common.focal_length_mm = own.focal_length_mm;
    if (!common.focal_length_35mm) common.focal_length_35mm = own.focal_length_35mm;
  }
  return common;
}

}  // namespace

std::optional<std::string> CalibrateOptions::first_problem() const {
  if (!(model_sigma_px >= 0) || model_sigma_px > 100)
    return "the model's sigma must lie between 0 and 100 px";
  if (threads < 1) return "at least one thread is needed";
  return solve.first_problem();
}

Result<Calibration, Problem> calibrate(std::span<const std::filesystem::path> files,
                                       const BoardSpec& board, const CalibrateOptions& options,
                                       const OnCalibrateProgress& on_progress,
                                       const Cancelled& cancelled) {
  if (const auto problem = options.first_problem()) return Unexpected(Problem{*problem});
  if (const auto problem = board.first_problem()) return Unexpected(Problem{*problem});
  if (files.empty()) return Unexpected(Problem{"no photo given: name the photos of the board"});

  std::vector<BoardPhoto> photos = search(files, board, options.threads, on_progress, cancelled);
  if (cancelled && cancelled()) {
    return Unexpected(Problem{"cancelled before all photos were searched: no camera was made"});
  }
  std::vector<PhotoCamera> cameras;
  std::vector<SetPhoto> in_set;
  for (const BoardPhoto& photo : photos) {
    in_set.push_back({photo.file, photo.found ? &*photo.found : nullptr});
    if (photo.found) cameras.push_back({photo.file, photo.exif.lens_and_body});
  }
  if (const auto problem = mixed_cameras(cameras)) return Unexpected(*problem);
  const auto verdicts = judge_set(in_set);
  std::vector<const BoardPhoto*> used;
  std::string refused;
  for (std::size_t i = 0; i < photos.size(); ++i) {
    if (verdicts[i] && !photos[i].refusal) photos[i].refusal = verdicts[i];
    if (photos[i].refusal) {
      refused += "\n  " + photos[i].reason();
    } else {
      used.push_back(&photos[i]);
    }
  }
  if (used.size() < static_cast<std::size_t>(kLeastCalibrationPhotos)) {
    return Unexpected(Problem{
        "only " + std::to_string(used.size()) + " of " + std::to_string(photos.size()) +
            " photos can be used and a camera needs at least " +
            std::to_string(kLeastCalibrationPhotos) + ", better 12 to 20 from different sides" +
            (refused.empty() ? "" : ":" + refused),
        Blame::kSurvey});
  }

  std::vector<CornerSet> sets;
  for (const BoardPhoto* photo : used)
    sets.push_back(corner_set_of(*photo, options.model_sigma_px));
  SolveIntrinsicsOptions solving = options.solve;
  if (!solving.focal_length_px) solving.focal_length_px = used.front()->exif.focal_length_px;
  if (cancelled) {
    solving.cancelled = [&, own = options.solve.cancelled] {
      return cancelled() || (own && own());
    };
  }
  const std::vector<Eigen::Vector3d> nominal_mm = corner_positions_mm(board);
  auto solved = solve_intrinsics(nominal_mm, sets, used.front()->found->size, solving);
  if (!solved) return Unexpected(solved.error());

  Calibration result;
  result.solution = std::move(*solved);
  const IntrinsicsSolution& solution = result.solution;
  Camera& camera = result.camera;
  camera.name = options.camera_name;
  camera.image_size = solution.image_size;
  camera.intrinsics = solution.intrinsics;
  camera.held = solution.held;
  camera.covariance = solution.covariance;
  camera.lens_and_body = common_camera(used);
  camera.date = options.date;
  camera.rms_px = solution.rms_px;
  camera.sigma0 = solution.sigma0;
  camera.redundancy = solution.redundancy;
  std::size_t next_used = 0;
  for (const BoardPhoto& photo : photos) {
    CalibrationPhoto& record = camera.photos.emplace_back();
    record.file = photo.file;
    record.sha256 = photo.sha256;
    record.used = !photo.refusal;
    record.reason = photo.reason();
    if (record.used) record.rms_px = solution.photos[next_used++].rms_px;
  }
  camera.board = BoardRecord{board.inner_columns,
                             board.inner_rows,
                             board.square_mm,
                             solution.board.shape_estimated,
                             {},
                             {}};
  if (solution.board.shape_estimated) {
    camera.board->flatness_mm = solution.board.flatness_mm;
    camera.board->flatness_u_mm = solution.board.flatness_u_mm;
  }
  camera.warnings = solution.warnings;
  if (!board.tells_up_from_down() && solution.board.shape_estimated) {
    camera.warnings.push_back(
        "this board looks the same when turned by half a turn, so that its shape is estimated "
        "rightly only if no "
        "photo shows it upside down: a board with one odd and one even number of inner corners is "
        "better");
  }
  return result;
}

}  // namespace calib
