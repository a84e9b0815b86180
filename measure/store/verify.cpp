#include "measure/store/verify.h"

#include <algorithm>
#include <map>
#include <set>
#include <system_error>

#include "calib/board/photo_hash.h"
#include "calib/file/atomic_write.h"
#include "calib/file/camera_file.h"
#include "measure/edit/name_rules.h"
#include "measure/store/dossier_file.h"
#include "measure/store/journal.h"
#include "measure/store/replay.h"
#include "measure/store/results_file.h"

namespace measure {
namespace {

namespace fs = std::filesystem;

class Verifying {
 public:
  Verifying(const fs::path& folder, const Dossier& dossier) : folder_(folder), dossier_(dossier) {}

  void check_camera(const CameraEntry& entry) {
    const fs::path file = path_of(folder_, entry.file);
    const auto camera = calib::read_camera(file);
    if (!camera) {
      fault(camera.error().sentence);
      return;
    }
    cameras_.emplace(entry.name, *camera);
    const auto sha256 = calib::sha256_of_file(file);
    if (!sha256) {
      fault(sha256.error().sentence);
    } else if (*sha256 != entry.sha256) {
      fault(file.string() + " is not the file that was added as camera " + in_quotes(entry.name) +
            ": restore it, or take it as it is now with \"scantling camera replace\".");
    }
  }

  void check_photo(const Photo& photo) {
    const fs::path file = path_of(folder_, photo.file);
    const auto sha256 = calib::sha256_of_file(file);
    if (!sha256) {
      fault(sha256.error().sentence);
    } else if (*sha256 != photo.sha256) {
      fault(file.string() + " is not the file that was added as photo " + in_quotes(photo.name) +
            ": restore it from a copy.");
    }
    const auto at = cameras_.find(photo.camera);
    if (at == cameras_.end()) {
      return;
    }
    const calib::Camera& camera = at->second;
    if (camera.image_size != photo.size) {
      fault("Photo " + in_quotes(photo.name) + " has " + size_text(photo.size) +
            " pixels, its camera " + in_quotes(photo.camera) + " was calibrated with " +
            size_text(camera.image_size) + ": give it the camera that took it.");
    }
    const bool calibrated_with =
        std::any_of(camera.photos.begin(), camera.photos.end(),
                    [&](const auto& used) { return used.used && used.sha256 == photo.sha256; });
    if (calibrated_with) {
      notice("Photo " + in_quotes(photo.name) +
             " also served to calibrate its camera: the same evidence counts twice.");
    }
  }

  void check_points() {
    std::map<std::string, int> marks;
    for (const Mark& mark : dossier_.marks) {
      marks[mark.point] += mark.set_aside ? 0 : 1;
    }
    for (const Point& point : dossier_.points) {
      if (marks[point.name] == 0) {
        notice("Point " + in_quotes(point.name) +
               " has no mark in use: mark it in two photos or more.");
      } else if (marks[point.name] == 1) {
        notice("Point " + in_quotes(point.name) +
               " has one mark in use: mark it in a second photo.");
      }
    }
  }

  void check_results() {
    switch (results_state(folder_, dossier_)) {
      case ResultsState::kNone:
        notice("There are no results yet: run \"scantling adjust\".");
        break;
      case ResultsState::kStale:
        notice(
            "results.json is stale: the dossier has changed since; run \"scantling adjust\" "
            "again.");
        break;
      case ResultsState::kUnreadable:
        fault((folder_ / kResultsFileName).string() +
              " cannot be read by this program: run \"scantling adjust\" again.");
        break;
      case ResultsState::kCurrent:
        break;
    }
  }

  void check_journal() {
    const auto replayed = replay(folder_);
    if (!replayed) {
      fault(replayed.error().sentence);
      return;
    }
    if (replayed->unsaved > 0) {
      const bool is_one = replayed->unsaved == 1;
      notice("journal.ndjson holds " + std::to_string(replayed->unsaved) +
             (is_one ? " edit" : " edits, the last") + " of " + replayed->last_utc + ", that " +
             (is_one ? "is" : "are") +
             " not in dossier.json yet: they count all the same, and the next save takes them in.");
    }
    if (!replayed->journal.torn.empty()) {
      notice(
          "The last line of journal.ndjson is not whole: it is being written just now, or a crash "
          "cut it short before it was done; the next edit puts it aside.");
    }
  }

  void check_remains() {
    for (const fs::path& folder : {folder_, folder_ / "cameras"}) {
      std::error_code error;
      for (fs::directory_iterator at(folder, error), end; !error && at != end;
           at.increment(error)) {
        if (calib::is_interrupted_write(at->path())) {
          notice(at->path().string() +
                 " was left behind by an interrupted save: it may be deleted.");
        } else if (is_torn_file(at->path())) {
          notice(at->path().string() +
                 " holds the remains of an edit that a crash cut short before it was done: it may "
                 "be deleted.");
        }
      }
    }
  }

  [[nodiscard]] std::vector<Finding> take_findings() { return std::move(findings_); }

 private:
  static std::string size_text(const calib::ImageSize& size) {
    return std::to_string(size.width) + " x " + std::to_string(size.height);
  }
  void fault(std::string sentence) { findings_.push_back({Severity::kFault, std::move(sentence)}); }
  void notice(std::string sentence) {
    findings_.push_back({Severity::kNotice, std::move(sentence)});
  }

  const fs::path& folder_;
  const Dossier& dossier_;
  std::map<std::string, calib::Camera> cameras_;
  std::vector<Finding> findings_;
};

}  // namespace

std::vector<Finding> verify(const fs::path& folder, const Dossier& dossier,
                            const std::function<void(double)>& progress) {
  Verifying verifying(folder, dossier);
  for (const CameraEntry& camera : dossier.cameras) {
    verifying.check_camera(camera);
  }
  for (std::size_t i = 0; i < dossier.photos.size(); ++i) {
    verifying.check_photo(dossier.photos[i]);
    if (progress) {
      progress(static_cast<double>(i + 1) / static_cast<double>(dossier.photos.size()));
    }
  }
  verifying.check_points();
  verifying.check_results();
  verifying.check_journal();
  verifying.check_remains();
  return verifying.take_findings();
}

}  // namespace measure
