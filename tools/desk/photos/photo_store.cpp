#include "tools/desk/photos/photo_store.h"

#include <QCoreApplication>
#include <QCryptographicHash>
#include <QDir>
#include <QFile>
#include <QSaveFile>
#include <QStandardPaths>
#include <algorithm>
#include <condition_variable>
#include <functional>
#include <mutex>
#include <set>
#include <thread>
#include <tuple>

#include <opencv2/imgcodecs.hpp>

#include "calib/board/photo_file.h"
#include "tools/desk/photos/jpeg_codec.h"
#include "tools/desk/photos/least_recent.h"
#include "tools/desk/photos/read_pyramid.h"
#include "tools/desk/photos/sample.h"
#include "tools/desk/photos/tile_file.h"

namespace desk {
namespace {

constexpr int kThumbnailSide = 320;
constexpr int kThumbnailQuality = 88;
constexpr std::size_t kCutOutBudget_bytes = std::size_t{128} << 20;
constexpr std::size_t kTileBudget_bytes = std::size_t{128} << 20;

/// A cut-out as it was asked for: left, top, width, height, turn; width and height of the picture.
using CutKey = std::tuple<double, double, double, double, double, int, int>;

// In the order in which they are done where they are wanted alike.
enum class Task { kCutOut, kReduced, kWhole, kThumbnail, kTiles };

struct JobKey {
  Task task;
  std::string photo;
  std::uint64_t generation;  // of the photo's entry: what an older one yields is dropped
  CutKey cut;
  friend auto operator<=>(const JobKey&, const JobKey&) = default;
};

struct Wanted {
  PhotoStore::Want want;
  std::uint64_t order;  // the newest first
};

struct Entry {
  std::filesystem::path file;
  std::uint64_t generation = 0;
  QImage thumbnail;
  QString problem;
  std::shared_ptr<const TileFile> tiles;
  bool tiles_busy = false;
};

cv::Mat mat_of(const QImage& image) {
  return {image.height(), image.width(), CV_8UC4, const_cast<uchar*>(image.constBits()),
          static_cast<std::size_t>(image.bytesPerLine())};
}

// What a file's derived pictures are called in the cache: another file, or the same one altered,
// has another name. Empty where the file cannot be asked.
QString cache_name(const std::filesystem::path& file) {
  std::error_code failure;
  const auto full = std::filesystem::canonical(file, failure);
  if (failure) return {};
  const auto size = std::filesystem::file_size(full, failure);
  if (failure) return {};
  const auto written = std::filesystem::last_write_time(full, failure);
  if (failure) return {};
  QCryptographicHash hash(QCryptographicHash::Sha256);
  hash.addData(QByteArray::fromStdString(full.string() + '\n' + std::to_string(size) + '\n' +
                                         std::to_string(written.time_since_epoch().count())));
  return QString::fromLatin1(hash.result().toHex().left(40));
}

QImage read_cached_thumbnail(const QString& name) {
  QFile file(name);
  if (!file.open(QIODevice::ReadOnly)) return {};
  const QByteArray bytes = file.readAll();
  const auto image = decode_jpeg_reduced({reinterpret_cast<const unsigned char*>(bytes.constData()),
                                          static_cast<std::size_t>(bytes.size())},
                                         1);
  return image && std::max(image->width(), image->height()) <= kThumbnailSide ? *image : QImage();
}

void write_cached_thumbnail(const QString& name, const QImage& image) {
  std::vector<unsigned char> bytes;
  cv::imencode(".jpg", mat_of(image), bytes, {cv::IMWRITE_JPEG_QUALITY, kThumbnailQuality});
  QSaveFile out(name);
  if (!out.open(QIODevice::WriteOnly)) return;  // only slower next time
  out.write(reinterpret_cast<const char*>(bytes.data()), static_cast<qint64>(bytes.size()));
  out.commit();
}

// Removes the tiles that were not used for longest.
void keep_within(const std::filesystem::path& folder, std::uintmax_t budget_bytes) {
  struct Cached {
    std::filesystem::file_time_type used;
    std::uintmax_t bytes;
    std::filesystem::path file;
  };
  std::vector<Cached> files;
  std::uintmax_t sum = 0;
  std::error_code failure;
  for (const auto& item : std::filesystem::directory_iterator(folder, failure)) {
    if (item.path().extension() != ".tiles") continue;
    const auto bytes = item.file_size(failure);
    if (failure) continue;
    files.push_back({item.last_write_time(failure), bytes, item.path()});
    sum += bytes;
  }
  std::sort(files.begin(), files.end(),
            [](const Cached& a, const Cached& b) { return a.used < b.used; });
  for (std::size_t f = 0; sum > budget_bytes && f + 1 < files.size(); ++f) {
    if (std::filesystem::remove(files[f].file, failure)) sum -= files[f].bytes;
  }
}

std::filesystem::path default_cache() {
  const QString folder = QStandardPaths::writableLocation(QStandardPaths::CacheLocation);
  return (folder + "/photos").toStdString();
}

}  // namespace

int PhotoPyramid::finest() const {
  int level = 0;
  while (level < static_cast<int>(levels.size()) && levels[level].isNull()) ++level;
  return level;
}

std::size_t PhotoPyramid::bytes() const {
  std::size_t sum = grey.total();
  for (const QImage& level : levels) sum += static_cast<std::size_t>(level.sizeInBytes());
  return sum;
}

struct PhotoStore::State {
  State(PhotoStore* the_owner, const PhotoStoreOptions& the_options)
      : owner(the_owner), options(the_options), pyramids(the_options.memory_bytes) {
    if (options.cache.empty()) options.cache = default_cache();
    // Failing is no harm: then nothing is found there and nothing kept.
    QDir().mkpath(QString::fromStdString(options.cache.string()));
    const int cores = static_cast<int>(std::thread::hardware_concurrency());
    const int count = options.threads > 0 ? options.threads : std::clamp(cores, 2, 4);
    for (int t = 0; t < count; ++t) threads.emplace_back([this] { work(); });
  }
  ~State() {
    {
      const std::lock_guard guard(mutex);
      stop = true;
    }
    woken.notify_all();
    for (std::thread& thread : threads) thread.join();
  }

  // All of these with the mutex held.
  Entry* find(const std::string& photo) {
    const auto at = entries.find(photo);
    return at == entries.end() ? nullptr : &at->second;
  }
  Entry* find(const JobKey& job) {
    Entry* entry = find(job.photo);
    return entry && entry->generation == job.generation ? entry : nullptr;
  }
  void queue(const Entry& entry, Task task, const std::string& photo, Want want,
             const CutKey& cut = {}) {
    JobKey job{task, photo, entry.generation, cut};
    if (running.contains(job)) return;
    const auto at = jobs.find(job);
    if (at != jobs.end()) {
      at->second = {std::min(want, at->second.want), ++order};
      return;
    }
    jobs.emplace(std::move(job), Wanted{want, ++order});
    woken.notify_one();
  }
  void remove_jobs(const std::function<bool(const JobKey&)>& which) {
    std::erase_if(jobs, [&](const auto& job) { return which(job.first); });
  }
  std::map<JobKey, Wanted>::iterator most_wanted() {
    auto best = jobs.end();
    for (auto job = jobs.begin(); job != jobs.end(); ++job) {
      const bool needs_tiles = job->first.task == Task::kCutOut || job->first.task == Task::kTiles;
      const Entry* entry = find(job->first);
      if (needs_tiles && entry && entry->tiles_busy) continue;
      const auto rank = [](const auto& of) {
        return std::tuple(of.second.want, of.first.task, ~of.second.order);
      };
      if (best == jobs.end() || rank(*job) < rank(*best)) best = job;
    }
    return best;
  }

  void work();
  void run(const JobKey& job);
  void fail(const JobKey& job, const std::string& sentence);
  [[nodiscard]] QString cached(const std::filesystem::path& file, const char* ending) const;
  std::shared_ptr<const TileFile> tiles_of(const JobKey& job);
  std::shared_ptr<const TileFile> make_tiles(const std::filesystem::path& file,
                                             std::string* problem);
  cv::Mat tile(const JobKey& job, const TileFile& tiles, int level, int column, int row);
  QImage cut(const JobKey& job);
  // On the store's thread.
  void tell(std::function<void()> what) {
    QMetaObject::invokeMethod(owner, std::move(what), Qt::QueuedConnection);
  }

  PhotoStore* owner;
  PhotoStoreOptions options;

  std::mutex mutex;
  std::condition_variable woken;
  bool stop = false;
  std::uint64_t order = 0, generation = 0;
  std::map<std::string, Entry> entries;
  std::map<JobKey, Wanted> jobs;
  std::set<JobKey> running;
  LeastRecent<std::string, std::shared_ptr<const PhotoPyramid>> pyramids;
  LeastRecent<JobKey, QImage> cut_outs{kCutOutBudget_bytes};

  // Decoded tiles: by photo, generation, level, column, row.
  using TileKey = std::tuple<std::string, std::uint64_t, int, int, int>;
  std::mutex tile_mutex;
  LeastRecent<TileKey, cv::Mat> decoded_tiles{kTileBudget_bytes};

  std::vector<std::thread> threads;
};

QString PhotoStore::State::cached(const std::filesystem::path& file, const char* ending) const {
  const QString name = cache_name(file);
  return name.isEmpty() ? QString()
                        : QString::fromStdString(options.cache.string()) + '/' + name + ending;
}

void PhotoStore::State::work() {
  while (true) {
    JobKey job;
    {
      std::unique_lock lock(mutex);
      auto next = jobs.end();
      woken.wait(lock, [&] { return stop || (next = most_wanted()) != jobs.end(); });
      if (stop) return;
      job = next->first;
      jobs.erase(next);
      if (!find(job)) continue;
      running.insert(job);
    }
    try {
      run(job);
    } catch (const std::bad_alloc&) {
      const std::lock_guard guard(mutex);
      if (const Entry* entry = find(job)) {
        fail(job, entry->file.string() + ": needs more memory than there is: reduce it");
      }
    } catch (const std::exception& cause) {  // of a library, ends here
      const std::lock_guard guard(mutex);
      if (const Entry* entry = find(job)) {
        fail(job, entry->file.string() + ": cannot be decoded: export it as JPEG (" + cause.what() +
                      ")");
      }
    }
    {
      const std::lock_guard guard(mutex);
      running.erase(job);
    }
    woken.notify_all();
  }
}

// With the mutex held.
void PhotoStore::State::fail(const JobKey& job, const std::string& sentence) {
  Entry* entry = find(job);
  if (!entry || !entry->problem.isEmpty()) return;
  entry->problem = QString::fromStdString(sentence);
  remove_jobs([&](const JobKey& other) { return other.photo == job.photo; });
  tell([store = owner, photo = job.photo, problem = entry->problem] {
    Q_EMIT store->photo_failed(photo, problem);
  });
}

void PhotoStore::State::run(const JobKey& job) {
  std::filesystem::path file;
  {
    const std::lock_guard guard(mutex);
    const Entry* entry = find(job);
    if (!entry) return;
    file = entry->file;
  }
  const auto refuse = [&](const calib::Problem& problem) {
    const std::lock_guard guard(mutex);
    fail(job, problem.sentence);
  };
  switch (job.task) {
    case Task::kCutOut: {
      const QImage image = cut(job);
      const std::lock_guard guard(mutex);
      if (!find(job) || image.isNull()) return;
      cut_outs.put(job, image, static_cast<std::size_t>(image.sizeInBytes()));
      tell([store = owner, photo = job.photo] { Q_EMIT store->cut_out_ready(photo); });
      return;
    }
    case Task::kThumbnail: {
      const QString cached_name = cached(file, ".thumb.jpg");
      QImage image = cached_name.isEmpty() ? QImage() : read_cached_thumbnail(cached_name);
      if (image.isNull()) {
        const auto bytes = calib::read_photo_bytes(file);
        if (!bytes) return refuse(bytes.error());
        auto small = read_thumbnail(file, *bytes, kThumbnailSide);
        if (!small) return refuse(small.error());
        image = std::move(*small);
        if (!cached_name.isEmpty()) write_cached_thumbnail(cached_name, image);
      }
      const std::lock_guard guard(mutex);
      Entry* entry = find(job);
      if (!entry) return;
      entry->thumbnail = image;
      tell([store = owner, photo = job.photo] { Q_EMIT store->thumbnail_ready(photo); });
      return;
    }
    case Task::kReduced:
    case Task::kWhole: {
      const auto bytes = calib::read_photo_bytes(file);
      if (!bytes) return refuse(bytes.error());
      std::shared_ptr<const PhotoPyramid> pyramid;
      if (job.task == Task::kReduced) {
        pyramid = read_reduced(*bytes);
        if (!pyramid) return;  // the whole one will do, or say why not
      } else {
        auto whole = read_whole(file, *bytes);
        if (!whole) return refuse(whole.error());
        pyramid = std::move(*whole);
      }
      const std::lock_guard guard(mutex);
      const Entry* entry = find(job);
      if (!entry) return;
      const auto* held = pyramids.find(job.photo);
      if (held && (*held)->complete()) return;
      pyramids.put(job.photo, pyramid, pyramid->bytes());
      if (pyramid->complete() && !entry->tiles)
        queue(*entry, Task::kTiles, job.photo, Want::kLater);
      tell([store = owner, photo = job.photo] { Q_EMIT store->photo_ready(photo); });
      return;
    }
    case Task::kTiles:
      (void)tiles_of(job);
      return;
  }
}

std::shared_ptr<const TileFile> PhotoStore::State::tiles_of(const JobKey& job) {
  std::filesystem::path file;
  {
    std::unique_lock lock(mutex);
    woken.wait(lock, [&] {
      const Entry* entry = find(job);
      return stop || !entry || !entry->tiles_busy;
    });
    Entry* entry = find(job);
    if (stop || !entry || !entry->problem.isEmpty()) return nullptr;
    if (entry->tiles) return entry->tiles;
    entry->tiles_busy = true;
    file = entry->file;
  }
  std::string problem;
  std::shared_ptr<const TileFile> tiles;
  try {
    tiles = make_tiles(file, &problem);
  } catch (const std::exception&) {
    problem = file.string() + ": needs more memory than there is: reduce it";
  }
  {
    const std::lock_guard guard(mutex);
    if (Entry* entry = find(job)) {
      entry->tiles_busy = false;
      entry->tiles = tiles;
      if (!tiles) fail(job, problem);
    }
  }
  woken.notify_all();
  return tiles;
}

std::shared_ptr<const TileFile> PhotoStore::State::make_tiles(const std::filesystem::path& file,
                                                              std::string* problem) {
  const QString name = cached(file, ".tiles");
  if (!name.isEmpty()) {
    if (auto kept = TileFile::open(name)) {
      std::error_code ignored;  // its time says when it was used last
      std::filesystem::last_write_time(name.toStdString(),
                                       std::filesystem::file_time_type::clock::now(), ignored);
      return kept;
    }
  }
  const auto bytes = calib::read_photo_bytes(file);
  if (!bytes) {
    *problem = bytes.error().sentence;
    return nullptr;
  }
  auto tiles = TileFile::cut(*bytes);
  if (!tiles) {
    *problem = file.string() +
               ": is damaged or cut short: copy it again from the camera, or export it as JPEG";
    return nullptr;
  }
  // From the disk the system can take the memory back; where it does not go there it stays here.
  if (!name.isEmpty() && tiles->save(name)) {
    keep_within(options.cache, options.disk_bytes);
    if (auto kept = TileFile::open(name)) return kept;
  }
  return tiles;
}

cv::Mat PhotoStore::State::tile(const JobKey& job, const TileFile& tiles, int level, int column,
                                int row) {
  TileKey key{job.photo, job.generation, level, column, row};
  {
    const std::lock_guard guard(tile_mutex);
    if (const cv::Mat* held = decoded_tiles.find(key)) return *held;
  }
  cv::Mat pixels = tiles.tile(column, row, level);
  if (!pixels.empty()) {
    const std::lock_guard guard(tile_mutex);
    decoded_tiles.put(key, pixels, pixels.total() * pixels.elemSize());
  }
  return pixels;
}

QImage PhotoStore::State::cut(const JobKey& job) {
  const auto [left, top, width, height, turn_deg, out_width, out_height] = job.cut;
  const ViewMap view{QPointF(left + width / 2, top + height / 2), out_width / width, turn_deg,
                     QSizeF(out_width, out_height)};
  std::shared_ptr<const PhotoPyramid> pyramid;
  {
    const std::lock_guard guard(mutex);
    if (const auto* held = pyramids.find(job.photo); held && (*held)->complete()) pyramid = *held;
  }
  if (pyramid) {
    return sample(
        pyramid->size, view, 0, static_cast<int>(pyramid->levels.size()) - 1,
        [&](int level, const cv::Rect& part) { return mat_of(pyramid->levels[level])(part); });
  }
  const auto tiles = tiles_of(job);
  if (!tiles) return {};
  return sample(tiles->size(), view, 0, TileFile::kCoarsest,
                [&](int level, const cv::Rect& part) -> cv::Mat {
                  const int side = TileFile::kSide >> level;
                  cv::Mat pixels(part.size(), CV_8UC4);
                  for (int row = part.y / side; row * side < part.br().y; ++row) {
                    for (int column = part.x / side; column * side < part.br().x; ++column) {
                      const cv::Mat source = tile(job, *tiles, level, column, row);
                      if (source.empty()) return {};
                      const cv::Point corner(column * side, row * side);
                      const cv::Rect both = cv::Rect(corner, source.size()) & part;
                      source(both - corner).copyTo(pixels(both - part.tl()));
                    }
                  }
                  return pixels;
                });
}

PhotoStore::PhotoStore(const PhotoStoreOptions& options, QObject* parent)
    : QObject(parent), state_(std::make_unique<State>(this, options)) {}
PhotoStore::~PhotoStore() = default;

void PhotoStore::enter(const std::string& photo, const std::filesystem::path& file) {
  forget(photo);
  const std::lock_guard guard(state_->mutex);
  Entry& entry = state_->entries[photo];
  entry.file = file;
  entry.generation = ++state_->generation;
}

void PhotoStore::forget(const std::string& photo) {
  const std::lock_guard guard(state_->mutex);
  state_->entries.erase(photo);
  state_->remove_jobs([&](const JobKey& job) { return job.photo == photo; });
  state_->pyramids.erase(photo);
  state_->cut_outs.erase_if([&](const JobKey& job) { return job.photo == photo; });
}

std::shared_ptr<const PhotoPyramid> PhotoStore::photo(const std::string& photo, Want want) {
  const std::lock_guard guard(state_->mutex);
  const Entry* entry = state_->find(photo);
  if (!entry) return nullptr;
  const auto* held = state_->pyramids.find(photo);
  if (held && (*held)->complete()) return *held;
  if (entry->problem.isEmpty()) {
    if (!held) state_->queue(*entry, Task::kReduced, photo, want);
    state_->queue(*entry, Task::kWhole, photo, want);
  }
  return held ? *held : nullptr;
}

void PhotoStore::unwant(const std::string& photo) {
  const std::lock_guard guard(state_->mutex);
  state_->remove_jobs([&](const JobKey& job) {
    return job.photo == photo && (job.task == Task::kReduced || job.task == Task::kWhole);
  });
}

QImage PhotoStore::thumbnail(const std::string& photo, Want want) {
  const std::lock_guard guard(state_->mutex);
  const Entry* entry = state_->find(photo);
  if (!entry) return {};
  if (entry->thumbnail.isNull() && entry->problem.isEmpty()) {
    state_->queue(*entry, Task::kThumbnail, photo, want);
  }
  return entry->thumbnail;
}

QImage PhotoStore::cut_out(const std::string& photo, const QRectF& part_px, const QSize& size,
                           double turn_deg) {
  if (size.isEmpty() || !(part_px.width() > 0) || !(part_px.height() > 0)) return {};
  const std::lock_guard guard(state_->mutex);
  const Entry* entry = state_->find(photo);
  if (!entry) return {};
  const CutKey cut{part_px.x(), part_px.y(),  part_px.width(), part_px.height(),
                   turn_deg,    size.width(), size.height()};
  if (const QImage* held =
          state_->cut_outs.find(JobKey{Task::kCutOut, photo, entry->generation, cut})) {
    return *held;
  }
  if (entry->problem.isEmpty()) state_->queue(*entry, Task::kCutOut, photo, Want::kNow, cut);
  return {};
}

void PhotoStore::drop_cut_outs() {
  const std::lock_guard guard(state_->mutex);
  state_->remove_jobs([](const JobKey& job) { return job.task == Task::kCutOut; });
}

void PhotoStore::prepare(const std::string& photo) {
  const std::lock_guard guard(state_->mutex);
  const Entry* entry = state_->find(photo);
  if (!entry || entry->tiles || !entry->problem.isEmpty()) return;
  state_->queue(*entry, Task::kTiles, photo, Want::kLater);
}

cv::Mat PhotoStore::grey_part(const std::string& photo, QRect& part_px) const {
  JobKey job{Task::kTiles, photo, 0, {}};
  std::shared_ptr<const PhotoPyramid> pyramid;
  {
    const std::lock_guard guard(state_->mutex);
    const Entry* entry = state_->find(photo);
    if (!entry) return {};
    job.generation = entry->generation;
    if (const auto* held = state_->pyramids.find(photo); held && (*held)->complete()) {
      pyramid = *held;
    }
  }
  const auto tiles = pyramid ? nullptr : state_->tiles_of(job);
  if (!pyramid && !tiles) return {};
  part_px &= QRect(QPoint(0, 0), pyramid ? pyramid->size : tiles->size());
  if (part_px.isEmpty()) return {};
  const cv::Rect part(part_px.x(), part_px.y(), part_px.width(), part_px.height());
  if (pyramid) return pyramid->grey(part).clone();
  cv::Mat pixels(part.size(), CV_8UC1);
  constexpr int kSide = TileFile::kSide;
  for (int row = part.y / kSide; row * kSide < part.br().y; ++row) {
    for (int column = part.x / kSide; column * kSide < part.br().x; ++column) {
      const cv::Mat source = tiles->grey_tile(column, row);
      const cv::Point corner(column * kSide, row * kSide);
      const cv::Rect both = cv::Rect(corner, source.size()) & part;
      if (both.empty()) return {};
      source(both - corner).copyTo(pixels(both - part.tl()));
    }
  }
  return pixels;
}

QString PhotoStore::problem(const std::string& photo) const {
  const std::lock_guard guard(state_->mutex);
  const Entry* entry = state_->find(photo);
  return entry ? entry->problem : QString();
}

std::size_t PhotoStore::memory_bytes() const {
  const std::lock_guard guard(state_->mutex);
  return state_->pyramids.bytes();
}

bool PhotoStore::idle() const {
  const std::lock_guard guard(state_->mutex);
  return state_->jobs.empty() && state_->running.empty();
}

}  // namespace desk
