// The desk's sightings on the demo original, with a person who clicks and types, and is counted.
#pragma once

#include <QPointF>
#include <Qt>
#include <map>
#include <memory>
#include <random>
#include <set>
#include <string>
#include <utility>

#include "tests/calib/file/scratch_folder.h"
#include "tools/desk/sightings/sightings.h"

namespace testing_desk {

/// What is true of the demo: datasets/hauler/truth.json, which only tests read.
struct DemoTruth {
  calib::ImageSize size;
  calib::Intrinsics camera;
  std::map<std::string, calib::Pose> photos;
  std::map<std::string, Eigen::Vector3d> points_mm, targets_mm;
  /// Pairs of photo and point in which the maker of marks.csv saw the point.
  std::set<std::pair<std::string, std::string>> seen;

  [[nodiscard]] static const DemoTruth& get();
  [[nodiscard]] Eigen::Vector2d place(const std::string& photo, const std::string& point) const;
};

struct DemoSpec {
  /// Points of the original that nobody has marked yet; all others are marked by hand.
  std::set<std::string> unmarked;
  bool targets = true;        ///< with the marked targets, refined
  bool others_marked = true;  ///< with the marks by hand of all other points
  /// These points exist only as truth: the person must name them.
  std::set<std::string> unnamed;
  /// No camera and no marks: nothing can be oriented, nothing predicted.
  bool nothing_known = false;
};

class DemoDesk {
 public:
  explicit DemoDesk(const DemoSpec& spec = {}, desk::Refiner refiner = desk::refine_as_asked);
  ~DemoDesk();

  desk::DeskSession& session() { return *session_; }
  desk::Sightings& sightings() { return *sightings_; }
  desk::PhotoStore& store() { return *store_; }
  desk::KeyBook& keys() { return *keys_; }
  desk::SightingView& view(const std::string& photo) { return *sightings_->view(photo); }

  /// Waits until what was done is on the disk, and for nothing else.
  void write() { session_->finish_edits(); }
  /// Waits until predictions, refinements, adjustment and pictures have come to rest.
  void settle();
  /// Until the search for blunders has been made too.
  void settle_tested();

  // What a person does; each is one action.
  void choose(const std::string& point);  ///< as a table of points does
  /// A click in the view of a photo, as near to a place of the photo as the screen's pixels allow.
  void click(const std::string& photo, const Eigen::Vector2d& at_px);
  /// A click with the mouse, off by the unsteadiness of a hand, in pixels of the screen.
  void click_by_hand(const std::string& photo, const Eigen::Vector2d& at_px);
  /// Pressed where the whole photo shows the place, held until the view is enlarged, let go there.
  void aim_by_hand(const std::string& photo, const Eigen::Vector2d& at_px);
  void press(const char* action);  ///< the key of an action of the key book
  void press(Qt::Key key, Qt::KeyboardModifiers modifiers = Qt::NoModifier);
  void type(const QString& words);  ///< one action, whatever its length
  void magnify(const std::string& photo, const Eigen::Vector2d& about_px, int notches);
  int actions = 0;

  [[nodiscard]] const measure::Mark* mark(const std::string& photo);
  QStringList said;

 private:
  testing_support::ScratchFolder folder_;
  std::unique_ptr<desk::DeskSession> session_;
  std::unique_ptr<desk::PhotoStore> store_;
  std::unique_ptr<desk::KeyBook> keys_;
  std::unique_ptr<desk::Sightings> sightings_;
  std::mt19937 hand_{7};
};

}  // namespace testing_desk
