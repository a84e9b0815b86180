#include "tools/desk/sightings/grey_windows.h"

#include <QImage>
#include <cmath>
#include <opencv2/imgproc.hpp>
#include <utility>

namespace desk {
namespace {

cv::Mat grey_of(const QImage& picture) {
  if (picture.format() == QImage::Format_Grayscale8) {
    return cv::Mat(picture.height(), picture.width(), CV_8UC1,
                   const_cast<uchar*>(picture.constBits()), size_t(picture.bytesPerLine()))
        .clone();
  }
  const QImage colour = picture.convertToFormat(QImage::Format_RGB32);
  const cv::Mat bgra(colour.height(), colour.width(), CV_8UC4,
                     const_cast<uchar*>(colour.constBits()), size_t(colour.bytesPerLine()));
  cv::Mat grey;
  cv::cvtColor(bgra, grey, cv::COLOR_BGRA2GRAY);
  return grey;
}

}  // namespace

GreyWindows::GreyWindows(PhotoStore* store, QObject* parent) : QObject(parent), store_(store) {
  connect(store_, &PhotoStore::cut_out_ready, this, &GreyWindows::serve_all);
  connect(store_, &PhotoStore::photo_failed, this,
          [this](const std::string& photo) { serve_all(photo); });
}

void GreyWindows::ask(const std::string& photo, QSize size_px, const Eigen::Vector2d& about_px,
                      std::function<void(measure::PhotoWindow, QString)> done) {
  const QPoint middle(int(std::lround(about_px.x())), int(std::lround(about_px.y())));
  const QRect part = QRect(middle.x() - kReach_px, middle.y() - kReach_px, 2 * kReach_px + 1,
                           2 * kReach_px + 1)
                         .intersected(QRect(QPoint(0, 0), size_px));
  Waiting waiting{photo, part, std::move(done)};
  if (!serve(waiting)) waiting_.push_back(std::move(waiting));
}

bool GreyWindows::serve(const Waiting& waiting) {
  if (const QString problem = store_->problem(waiting.photo); !problem.isEmpty()) {
    waiting.done({}, problem);
    return true;
  }
  if (waiting.part.isEmpty()) {
    waiting.done({}, tr("the place lies outside the photo"));
    return true;
  }
  const QImage picture =
      store_->cut_out(waiting.photo, QRectF(waiting.part), waiting.part.size());
  if (picture.isNull()) return false;
  measure::PhotoWindow window;
  window.pixels = grey_of(picture);
  window.offset_px = {waiting.part.x(), waiting.part.y()};
  waiting.done(std::move(window), {});
  return true;
}

void GreyWindows::serve_all(const std::string& photo) {
  // Serving may ask anew: the list is taken out of the way first.
  std::vector<Waiting> waiting;
  waiting.swap(waiting_);
  for (Waiting& one : waiting) {
    if (one.photo != photo || !serve(one)) waiting_.push_back(std::move(one));
  }
}

}  // namespace desk
