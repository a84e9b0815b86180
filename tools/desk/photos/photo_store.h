// The photographs of a dossier, decoded away from the thread of the widgets.
#pragma once

#include <QImage>
#include <QObject>
#include <QRect>
#include <QRectF>
#include <QString>
#include <filesystem>
#include <memory>
#include <vector>

#include <opencv2/core/mat.hpp>

#include "tools/desk/photos/view_map.h"

namespace desk {

/// One photo at full size and halved again and again. Pixel (0, 0) is the sensor's first: EXIF
/// orientation is not applied. Never changed once handed out; any thread may read it.
struct PhotoPyramid {
  QSize size;  ///< of the photo, full size
  /// [0] full size; each next one half as wide and high, rounded up: pixel i of level k has its
  /// centre at (i + ½)·2ᵏ − ½. Format_RGB32. The finer ones are null until they are decoded.
  std::vector<QImage> levels;
  cv::Mat grey;  ///< CV_8UC1, full size, as calib::read_grey_photo gives it; empty until complete

  /// The finest level that is there.
  [[nodiscard]] int finest() const;
  [[nodiscard]] bool complete() const { return !levels.empty() && !levels.front().isNull(); }
  [[nodiscard]] std::size_t bytes() const;
};

struct PhotoStoreOptions {
  /// Of decoded photographs; the least recently used go first, all but the newest.
  std::size_t memory_bytes = std::size_t{1} << 30;
  /// Of the tiles kept on disk; the least recently used go first.
  std::uintmax_t disk_bytes = std::uintmax_t{8} << 30;
  /// Folder of thumbnails and tiles; empty: the user's cache folder.
  std::filesystem::path cache = {};
  int threads = 0;  ///< 0: as many as there are cores, from 2 to 4
};

/// Decodes in the background, most wanted first, and keeps what fits into its budget of memory.
/// To be called from the thread it lives in but for grey_part().
class PhotoStore : public QObject {
  Q_OBJECT
 public:
  explicit PhotoStore(const PhotoStoreOptions& options, QObject* parent = nullptr);
  explicit PhotoStore(std::size_t budget_bytes, QObject* parent = nullptr)
      : PhotoStore(PhotoStoreOptions{.memory_bytes = budget_bytes}, parent) {}
  ~PhotoStore() override;

  /// How soon a photo is wanted: what is looked at, what stands beside it, thumbnails.
  enum class Want { kNow, kSoon, kLater };

  /// Names a photo's file; to be called for every photo of the dossier. Entered again with another
  /// file, or because its file was mended, it is read anew.
  void enter(const std::string& photo, const std::filesystem::path& file);
  void forget(const std::string& photo);

  /// What is decoded of the photo; null where nothing is. Where it is not complete it is queued,
  /// and photo_ready() follows: soon with a reduced picture only, and again when it is complete.
  [[nodiscard]] std::shared_ptr<const PhotoPyramid> photo(const std::string& photo, Want want);
  /// Takes a photo out of the queue of those to be decoded.
  void unwant(const std::string& photo);
  /// At most 320 px on the longer side; null image until thumbnail_ready(). Kept for all photos.
  [[nodiscard]] QImage thumbnail(const std::string& photo, Want want = Want::kLater);

  /// A part of a photo, sensor pixels, as large as `size` (device pixels); null image until
  /// cut_out_ready(). Served from the decoded photo, or from what a former decoding left in the
  /// cache, without decoding the whole photo again. Transparent beyond the photo's edge.
  /// @param turn_deg  by which the picture is turned, clockwise, about the middle of the part; the
  ///                  part's sides are those of the turned picture.
  [[nodiscard]] QImage cut_out(const std::string& photo, const QRectF& part_px, const QSize& size,
                               double turn_deg = 0.0);
  /// Lets the cut-outs that were asked for and are not made yet go: another point is looked at.
  void drop_cut_outs();
  /// Leaves in the cache what cut-outs need, once there is nothing else to do.
  void prepare(const std::string& photo);

  /// Grey pixels of a part, CV_8UC1, clipped to the photo, as calib::read_grey_photo gives them:
  /// for the refinement of a mark, without decoding the whole photo. Waits: some milliseconds, or
  /// as long as decoding takes where the cache does not have the photo yet. From any thread but
  /// that of the widgets. Empty where the photo cannot be read or the part lies outside of it.
  /// @param part_px  clipped on return to what came back.
  [[nodiscard]] cv::Mat grey_part(const std::string& photo, QRect& part_px) const;

  /// Why a photo could not be read; empty where it could.
  [[nodiscard]] QString problem(const std::string& photo) const;
  /// Of decoded photographs, now.
  [[nodiscard]] std::size_t memory_bytes() const;
  /// Whether nothing is queued and nothing at work.
  [[nodiscard]] bool idle() const;

 Q_SIGNALS:
  void photo_ready(const std::string& photo);
  void thumbnail_ready(const std::string& photo);
  void cut_out_ready(const std::string& photo);
  void photo_failed(const std::string& photo, const QString& sentence);

 private:
  struct State;
  std::unique_ptr<State> state_;
};

}  // namespace desk
