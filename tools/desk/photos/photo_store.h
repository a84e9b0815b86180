// The photographs of a dossier, decoded away from the thread of the widgets.
#pragma once

#include <QImage>
#include <QObject>
#include <QRectF>
#include <QString>
#include <filesystem>
#include <memory>
#include <vector>

#include <opencv2/core/mat.hpp>

namespace desk {

/// One photo at full size and halved again and again. Pixel (0, 0) is the sensor's first: EXIF
/// orientation is not applied.
struct PhotoPyramid {
  std::vector<QImage> levels;  ///< [0] full size; each next one half as wide and high
  cv::Mat grey;                ///< CV_8UC1, full size, for refinement
};

/// Decodes in the background, most wanted first, and keeps what fits into its budget of memory.
class PhotoStore : public QObject {
  Q_OBJECT
 public:
  /// @param budget_bytes  of decoded photographs; the least recently used go first.
  explicit PhotoStore(std::size_t budget_bytes, QObject* parent = nullptr);
  ~PhotoStore() override;

  /// How soon a photo is wanted: what is looked at, what stands beside it, thumbnails.
  enum class Want { kNow, kSoon, kLater };

  /// Names a photo's file; to be called for every photo of the dossier.
  void enter(const std::string& photo, const std::filesystem::path& file);
  void forget(const std::string& photo);

  /// The photo if it is decoded, else null; then it is queued and photo_ready() follows.
  [[nodiscard]] std::shared_ptr<const PhotoPyramid> photo(const std::string& photo, Want want);
  /// At most 320 px on the longer side; null image until thumbnail_ready(). Kept for all photos.
  [[nodiscard]] QImage thumbnail(const std::string& photo);
  /// A part of a photo, sensor pixels, as large as `size` (device pixels); null image until
  /// cut_out_ready(). Served from the decoded photo, or from what a former decoding left in the
  /// cache, without decoding the whole photo again.
  [[nodiscard]] QImage cut_out(const std::string& photo, const QRectF& part_px, const QSize& size);
  /// Why a photo could not be read; empty where it could.
  [[nodiscard]] QString problem(const std::string& photo) const;

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
