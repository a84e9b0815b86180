#include "measure/store/dossier_file.h"

#include <cerrno>
#include <cstdio>
#include <cstring>
#include <fstream>
#include <sstream>
#include <system_error>
#include <utility>

#include <fcntl.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <sys/sysmacros.h>
#include <unistd.h>

#include "calib/board/photo_hash.h"
#include "calib/file/atomic_write.h"
#include "calib/file/camera_file.h"
#include "calib/file/versioned_json.h"
#include "measure/edit/apply.h"
#include "measure/store/dossier_json.h"
#include "measure/store/journal.h"
#include "measure/store/replay.h"

namespace measure {
namespace {

namespace fs = std::filesystem;
using calib::Json;
using calib::JsonItem;
using calib::Problem;
using calib::Unexpected;

/// Enters one thing as a person would, so that the rules of measure/edit hold for files too.
void enter(Dossier& dossier, const JsonItem& item, Edit edit) {
  if (const auto applied = apply(edit, dossier); !applied) {
    std::string fault = applied.error().sentence;
    if (fault.ends_with('.')) {
      fault.pop_back();
    }
    item.refuse(std::move(fault));
  }
}

SetScales scales_from(const JsonItem& root) {
  SetScales scales;
  if (const auto item = root.find("model_scale")) {
    scales.model_scale = ratio_from(*item);
  }
  for (const JsonItem& item : root.list("replica_scales")) {
    scales.replica_scales.push_back(ratio_from(item));
  }
  return scales;
}

Dossier dossier_from(const JsonItem& root) {
  Dossier dossier;
  enter(dossier, root.at("name"), SetDossierName{root.at("name").text()});
  enter(dossier, root, scales_from(root));
  if (const auto original = root.find("original")) {
    enter(dossier, *original, SetTemperature{find_uncertain(*original, "temperature", "_C")});
    enter(dossier, *original, SetExpansion{find_uncertain(*original, "expansion", "_per_K")});
  }
  for (const JsonItem& item : root.list("cameras")) {
    enter(dossier, item, AddCamera{camera_from(item)});
  }
  for (const JsonItem& item : root.list("photos")) {
    enter(dossier, item, AddPhoto{photo_from(item)});
  }
  for (const JsonItem& item : root.list("point_kinds")) {
    const PointKind kind = kind_from(item);
    for (const PointKind& other : dossier.point_kinds) {
      if (other.name == kind.name) {
        item.refuse("names a point kind a second time");
      }
    }
    enter(dossier, item, SetKind{kind});
  }
  for (const JsonItem& item : root.list("points")) {
    enter(dossier, item, AddPoint{point_from(item)});
  }
  // All at once: one by one, ten thousands of marks would take a minute.
  SetMarks marks;
  for (const JsonItem& item : root.list("marks")) {
    marks.marks.push_back(mark_from(item));
  }
  if (!marks.marks.empty()) {
    enter(dossier, root.at("marks"), std::move(marks));
  }
  SetHidden hidden;
  for (const JsonItem& item : root.list("hidden")) {
    hidden.places.push_back(hidden_from(item));
  }
  if (!hidden.places.empty()) {
    enter(dossier, root.at("hidden"), std::move(hidden));
  }
  for (const JsonItem& item : root.list("shapes")) {
    enter(dossier, item, AddShape{shape_from(item), std::nullopt});
  }
  SetShapeMarks shape_marks;
  for (const JsonItem& item : root.list("shape_marks")) {
    shape_marks.marks.push_back(shape_mark_from(item));
  }
  if (!shape_marks.marks.empty()) {
    enter(dossier, root.at("shape_marks"), std::move(shape_marks));
  }
  if (const auto axes = root.find("axes")) {
    enter(dossier, *axes, SetAxes{axes_from(*axes)});
  }
  for (const JsonItem& item : root.list("bars")) {
    enter(dossier, item, AddBar{bar_from(item)});
  }
  for (const JsonItem& item : root.list("dimensions")) {
    enter(dossier, item, AddDimension{dimension_from(item), std::nullopt});
  }
  return dossier;
}

Problem no_dossier(const fs::path& folder, const std::string& fault) {
  return Problem{folder.string() + " " + fault +
                 ": check the path, or make one with \"scantling dossier new\"."};
}

}  // namespace

calib::Result<Dossier, Problem> read_dossier(const fs::path& folder) {
  auto replayed = replay(folder);
  if (!replayed) {
    return Unexpected(replayed.error());
  }
  return std::move(replayed->dossier);
}

calib::Result<std::string, Problem> read_dossier_text(const fs::path& folder) {
  const fs::path file = folder / kDossierFileName;
  std::error_code ignored;
  if (!fs::is_directory(folder, ignored)) {
    return Unexpected(no_dossier(folder, "is no folder, and so no dossier"));
  }
  if (!fs::exists(file, ignored)) {
    return Unexpected(no_dossier(folder, "is no dossier (it holds no dossier.json)"));
  }
  return calib::read_whole_file(file);
}

calib::Result<Dossier, Problem> dossier_from_text(std::string_view text,
                                                  const std::string& source) {
  const auto json = calib::parse_versioned(text, source, kDossierSchema);
  if (!json) {
    return Unexpected(json.error());
  }
  auto dossier = calib::read_json<Dossier>(*json, source, dossier_from);
  if (dossier) {
    dossier->unknown_keys = calib::unknown_part(*json, json_of(*dossier));
  }
  return dossier;
}

std::string dossier_text(const Dossier& dossier) {
  Json json = json_of(dossier);
  calib::restore_unknown(json, dossier.unknown_keys);
  return calib::pretty_text(json);
}

calib::Result<calib::Done, Problem> write_dossier(const fs::path& folder, const Dossier& dossier) {
  return write_dossier_text(folder, dossier_text(dossier));
}

calib::Result<calib::Done, Problem> write_dossier_text(const fs::path& folder,
                                                       std::string_view text) {
  return calib::atomic_write(folder / kDossierFileName, text);
}

calib::Result<calib::Done, Problem> create_dossier(const fs::path& folder, const Dossier& dossier) {
  std::error_code error;
  if (fs::exists(folder / kDossierFileName, error)) {
    return Unexpected(
        Problem{folder.string() + " holds a dossier already: choose another folder."});
  }
  if (fs::exists(folder / kJournalFileName, error)) {
    return Unexpected(Problem{folder.string() +
                              " holds the journal of a dossier whose dossier.json is gone: restore "
                              "that from a copy, or choose another folder."});
  }
  const bool existed = fs::exists(folder, error);
  if (!fs::is_directory(folder, error)) {
    fs::create_directories(folder, error);
    if (error || existed) {
      return Unexpected(Problem{"The folder " + folder.string() + " cannot be made (" +
                                (existed ? "a file has its name" : error.message()) +
                                "): choose another place."});
    }
  }
  auto written = write_dossier(folder, dossier);
  if (!written && !existed) {
    fs::remove(folder, error);
  }
  return written;
}

fs::path path_of(const fs::path& folder, const std::string& file) {
  const fs::path name(file);
  if (is_inside_dossier(file) || name.is_absolute()) {
    return folder / name;
  }
  // "..": of the folder itself, where `folder` is a link to it.
  std::error_code ignored;
  return (fs::weakly_canonical(fs::absolute(folder, ignored), ignored) / name).lexically_normal();
}

std::string name_in_dossier(const fs::path& folder, const fs::path& file) {
  std::error_code ignored;
  const fs::path whole = fs::weakly_canonical(fs::absolute(file, ignored), ignored);
  const fs::path home = fs::weakly_canonical(fs::absolute(folder, ignored), ignored);
  const fs::path relative = whole.lexically_relative(home);
  if (relative.empty()) {
    return whole.generic_string();
  }
  constexpr int kMostLevelsUp = 3;
  int up = 0;
  fs::path shared = home;
  for (const fs::path& part : relative) {
    if (part != "..") {
      break;
    }
    ++up;
    shared = shared.parent_path();
  }
  // Whoever moves a folder takes what lies near it along; the whole disk nobody moves.
  const bool near = up == 0 || (up <= kMostLevelsUp && shared.has_relative_path());
  return (near ? relative : whole).generic_string();
}

bool is_inside_dossier(const std::string& name) {
  const fs::path path(name);
  return path.is_relative() && !path.empty() && *path.begin() != "..";
}

calib::Result<std::map<std::string, calib::Camera>, Problem> read_cameras(const fs::path& folder,
                                                                          const Dossier& dossier) {
  std::map<std::string, calib::Camera> cameras;
  for (const CameraEntry& entry : dossier.cameras) {
    const fs::path file = path_of(folder, entry.file);
    auto camera = calib::read_camera(file);
    if (!camera) {
      return Unexpected(camera.error());
    }
    const auto sha256 = calib::sha256_of_file(file);
    if (!sha256) {
      return Unexpected(sha256.error());
    }
    if (*sha256 != entry.sha256) {
      return Unexpected(
          Problem{file.string() + " has changed since camera \"" + entry.name +
                  "\" was added: restore it, or take it as it is now with \"scantling camera "
                  "replace\"."});
    }
    cameras.emplace(entry.name, std::move(*camera));
  }
  return cameras;
}

calib::Result<std::optional<DossierLock>, Problem> DossierLock::try_to_take(
    const fs::path& folder) {
  const int descriptor = ::open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC);
  if (descriptor < 0) {
    return Unexpected(no_dossier(folder, "is no folder, and so no dossier"));
  }
  DossierLock lock(descriptor);
  if (::flock(descriptor, LOCK_EX | LOCK_NB) != 0 && errno == EWOULDBLOCK) {
    return std::optional<DossierLock>();
  }
  return std::optional<DossierLock>(std::move(lock));
}

calib::Result<DossierLock, Problem> DossierLock::take(const fs::path& folder) {
  auto lock = try_to_take(folder);
  if (!lock) {
    return Unexpected(lock.error());
  }
  if (!*lock) {
    std::string holder = holder_of(folder);
    holder.front() = 'A';
    return Unexpected(Problem{holder + " has the dossier " + folder.string() +
                              " open: close it there, or wait until it has ended, then try again; "
                              "nothing was changed."});
  }
  return std::move(**lock);
}

DossierLock::DossierLock(DossierLock&& other) noexcept
    : descriptor_(std::exchange(other.descriptor_, -1)) {}

DossierLock& DossierLock::operator=(DossierLock&& other) noexcept {
  std::swap(descriptor_, other.descriptor_);
  return *this;
}

DossierLock::~DossierLock() {
  if (descriptor_ >= 0) {
    ::close(descriptor_);
  }
}

std::string holder_of(const fs::path& folder) {
  const std::string unnamed = "another program";
  struct stat status {};
  if (::stat(folder.c_str(), &status) != 0) {
    return unnamed;
  }
  // A line of it: "1: FLOCK  ADVISORY  WRITE 4711 fd:01:131090 0 EOF". Source: proc(5).
  char place[64];
  std::snprintf(place, sizeof place, "%02x:%02x:%llu", major(status.st_dev), minor(status.st_dev),
                static_cast<unsigned long long>(status.st_ino));
  std::ifstream locks("/proc/locks");
  for (std::string line; std::getline(locks, line);) {
    std::istringstream words(line);
    std::string number, kind, advisory, access, file;
    long process = 0;
    if (!(words >> number >> kind >> advisory >> access >> process >> file) || kind != "FLOCK" ||
        process <= 0 || file != place) {
      continue;
    }
    std::ifstream command("/proc/" + std::to_string(process) + "/comm");
    std::string name;
    std::getline(command, name);
    return unnamed + " (" + (name.empty() ? "" : name + ", ") + "process " +
           std::to_string(process) + ")";
  }
  return unnamed;
}

}  // namespace measure
