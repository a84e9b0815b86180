// A photo cut into small pictures, so that a part of it can be seen without decoding all of it.
#pragma once

#include <QByteArray>
#include <QFile>
#include <QSize>
#include <QString>
#include <memory>
#include <optional>
#include <vector>

#include <opencv2/core/mat.hpp>

#include "calib/board/photo_file.h"

namespace desk {

/// The tiles of one photo. A JPEG's are JPEGs with the same coefficients, about as large together
/// as the photo; others' are PNGs. Never changed: any thread may read it.
class TileFile {
 public:
  static constexpr int kSide = 256;    ///< of a tile, pixels
  static constexpr int kCoarsest = 3;  ///< level to which a tile can be decoded

  /// Cuts a photo; nothing where it cannot be decoded.
  [[nodiscard]] static std::shared_ptr<const TileFile> cut(const calib::PhotoBytes& photo);
  /// Nothing where there is no such file, or where it is damaged.
  [[nodiscard]] static std::shared_ptr<const TileFile> open(const QString& file);
  /// Writes it whole or not at all. False where the disk would not take it.
  [[nodiscard]] bool save(const QString& file) const;

  [[nodiscard]] QSize size() const { return size_; }
  [[nodiscard]] int columns() const { return (size_.width() + kSide - 1) / kSide; }
  [[nodiscard]] int rows() const { return (size_.height() + kSide - 1) / kSide; }
  [[nodiscard]] std::size_t bytes() const { return static_cast<std::size_t>(data_.size()); }

  /// One tile at a level from 0 to kCoarsest, CV_8UC4; empty where it is damaged.
  [[nodiscard]] cv::Mat tile(int column, int row, int level) const;
  /// The same in grey at full size, CV_8UC1, as calib::read_grey_photo gives it.
  [[nodiscard]] cv::Mat grey_tile(int column, int row) const;

 private:
  enum class Kind : qint32 { kJpeg, kPng };
  [[nodiscard]] QByteArray stream(int column, int row) const;
  [[nodiscard]] bool take(QByteArray data);

  QByteArray data_;  // the file as it stands on disk
  std::unique_ptr<QFile> mapped_;
  QSize size_;
  Kind kind_ = Kind::kJpeg;
  std::vector<quint64> ends_;  // of the streams, in data_
};

}  // namespace desk
