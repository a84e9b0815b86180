// Full-size grey surroundings of places, for the refinement.
#pragma once

#include <QObject>
#include <QRect>
#include <functional>
#include <string>
#include <vector>

#include "measure/refine/photo_window.h"
#include "tools/desk/photos/photo_store.h"

namespace desk {

/// Asks the store for the surroundings of places and tells when they are there.
class GreyWindows : public QObject {
  Q_OBJECT
 public:
  /// Pixels on each side of a place: the largest window of a refinement and its search.
  static constexpr int kReach_px = 160;

  explicit GreyWindows(PhotoStore* store, QObject* parent = nullptr);

  /// @param done  called at once or later; with the store's sentence where the photo cannot be
  /// read.
  void ask(const std::string& photo, QSize size_px, const Eigen::Vector2d& about_px,
           std::function<void(measure::PhotoWindow, QString problem)> done);
  void forget_all() { waiting_.clear(); }

 private:
  struct Waiting {
    std::string photo;
    QRect part;
    std::function<void(measure::PhotoWindow, QString)> done;
  };
  [[nodiscard]] bool serve(const Waiting& waiting);
  void serve_all(const std::string& photo);

  PhotoStore* store_;
  std::vector<Waiting> waiting_;
};

}  // namespace desk
