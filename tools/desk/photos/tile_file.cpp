#include "tools/desk/photos/tile_file.h"

#include <QImage>
#include <QSaveFile>
#include <algorithm>
#include <cstring>

#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>

#include "tools/desk/photos/jpeg_codec.h"
#include "tools/desk/photos/sample.h"

namespace desk {
namespace {

// A cache of this machine's own: its byte order, and no promise between versions but the magic.
constexpr char kMagic[] = "scantling tiles 1";
struct Head {
  char magic[24] = {};
  qint32 width = 0, height = 0, side = 0, kind = 0;
};
constexpr qint64 kLargestSide = 1 << 17;

JpegBytes span_of(const QByteArray& bytes) {
  return {reinterpret_cast<const unsigned char*>(bytes.constData()),
          static_cast<std::size_t>(bytes.size())};
}

cv::Mat decode(const QByteArray& stream, int flags) {
  try {
    const cv::Mat bytes(1, static_cast<int>(stream.size()), CV_8UC1,
                        const_cast<char*>(stream.constData()));
    return cv::imdecode(bytes, flags | cv::IMREAD_IGNORE_ORIENTATION);
  } catch (const cv::Exception&) {
    return {};
  }
}

}  // namespace

std::shared_ptr<const TileFile> TileFile::cut(const calib::PhotoBytes& photo) {
  Head head{.side = kSide, .kind = static_cast<qint32>(Kind::kJpeg)};
  std::memcpy(head.magic, kMagic, sizeof kMagic);
  std::vector<QByteArray> streams;
  if (photo.format == calib::PhotoFormat::kJpeg) {
    if (auto jpeg = cut_jpeg(photo.bytes, kSide)) {
      head.width = jpeg->size.width();
      head.height = jpeg->size.height();
      streams = std::move(jpeg->tiles);
    }
  }
  if (streams.empty()) {
    cv::Mat all;
    try {
      all = cv::imdecode(photo.bytes, cv::IMREAD_COLOR | cv::IMREAD_IGNORE_ORIENTATION);
    } catch (const cv::Exception&) {
      return nullptr;
    }
    if (all.empty()) return nullptr;
    head.width = all.cols;
    head.height = all.rows;
    head.kind = static_cast<qint32>(Kind::kPng);
    for (int y = 0; y < all.rows; y += kSide) {
      for (int x = 0; x < all.cols; x += kSide) {
        const cv::Rect part(x, y, std::min(kSide, all.cols - x), std::min(kSide, all.rows - y));
        std::vector<unsigned char> png;
        cv::imencode(".png", all(part), png, {cv::IMWRITE_PNG_COMPRESSION, 1});
        streams.emplace_back(reinterpret_cast<const char*>(png.data()),
                             static_cast<qsizetype>(png.size()));
      }
    }
  }
  QByteArray data(reinterpret_cast<const char*>(&head), sizeof head);
  quint64 end = sizeof head + streams.size() * sizeof(quint64);
  for (const QByteArray& stream : streams) {
    end += static_cast<quint64>(stream.size());
    data.append(reinterpret_cast<const char*>(&end), sizeof end);
  }
  data.reserve(static_cast<qsizetype>(end));
  for (const QByteArray& stream : streams) data.append(stream);
  auto file = std::make_shared<TileFile>();
  return file->take(std::move(data)) ? file : nullptr;
}

std::shared_ptr<const TileFile> TileFile::open(const QString& name) {
  auto file = std::make_shared<TileFile>();
  file->mapped_ = std::make_unique<QFile>(name);
  if (!file->mapped_->open(QIODevice::ReadOnly)) return nullptr;
  const qint64 length = file->mapped_->size();
  const uchar* bytes = length > 0 ? file->mapped_->map(0, length) : nullptr;
  if (!bytes) return nullptr;
  return file->take(QByteArray::fromRawData(reinterpret_cast<const char*>(bytes), length))
             ? file
             : nullptr;
}

bool TileFile::save(const QString& name) const {
  QSaveFile out(name);
  return out.open(QIODevice::WriteOnly) && out.write(data_) == data_.size() && out.commit();
}

bool TileFile::take(QByteArray data) {
  Head head;
  if (data.size() < static_cast<qsizetype>(sizeof head)) return false;
  std::memcpy(&head, data.constData(), sizeof head);
  if (std::memcmp(head.magic, kMagic, sizeof kMagic) != 0 || head.side != kSide || head.width < 1 ||
      head.height < 1 || head.width > kLargestSide || head.height > kLargestSide ||
      (head.kind != static_cast<qint32>(Kind::kJpeg) &&
       head.kind != static_cast<qint32>(Kind::kPng))) {
    return false;
  }
  size_ = QSize(head.width, head.height);
  kind_ = static_cast<Kind>(head.kind);
  const std::size_t count = static_cast<std::size_t>(columns()) * rows();
  const std::size_t first = sizeof head + count * sizeof(quint64);
  if (static_cast<std::size_t>(data.size()) < first) return false;
  ends_.resize(count);
  std::memcpy(ends_.data(), data.constData() + sizeof head, count * sizeof(quint64));
  if (!std::is_sorted(ends_.begin(), ends_.end()) || ends_.front() < first ||
      ends_.back() != static_cast<quint64>(data.size())) {
    return false;
  }
  data_ = std::move(data);
  return true;
}

QByteArray TileFile::stream(int column, int row) const {
  const std::size_t number = static_cast<std::size_t>(row) * columns() + column;
  const quint64 first =
      number == 0 ? sizeof(Head) + ends_.size() * sizeof(quint64) : ends_[number - 1];
  return QByteArray::fromRawData(data_.constData() + first,
                                 static_cast<qsizetype>(ends_[number] - first));
}

cv::Mat TileFile::tile(int column, int row, int level) const {
  const cv::Size right(halved(std::min(kSide, size_.width() - column * kSide), level),
                       halved(std::min(kSide, size_.height() - row * kSide), level));
  cv::Mat pixels;
  if (kind_ == Kind::kJpeg) {
    const auto image = decode_jpeg_reduced(span_of(stream(column, row)), 1 << level);
    if (!image) return {};
    pixels =
        cv::Mat(image->height(), image->width(), CV_8UC4, const_cast<uchar*>(image->constBits()),
                static_cast<std::size_t>(image->bytesPerLine()))
            .clone();
  } else {
    const cv::Mat colour = decode(stream(column, row), cv::IMREAD_COLOR);
    if (colour.empty()) return {};
    cv::cvtColor(colour, pixels, cv::COLOR_BGR2BGRA);
    for (int k = 0; k < level; ++k) pixels = halve(pixels);
  }
  return pixels.size() == right ? pixels : cv::Mat();
}

cv::Mat TileFile::grey_tile(int column, int row) const {
  return decode(stream(column, row), cv::IMREAD_GRAYSCALE);
}

}  // namespace desk
