// What the sightings do to the dossier: marks of the chosen point, set, refined and taken away.
#pragma once

#include <QObject>
#include <map>
#include <memory>
#include <set>
#include <string>
#include <vector>

#include "tools/desk/photos/photo_store.h"
#include "tools/desk/session/desk_session.h"
#include "tools/desk/sightings/place.h"
#include "tools/desk/sightings/refine_runner.h"
#include "tools/desk/sightings/sighting_view.h"

namespace desk {

/// Edits by way of the session, refinements by way of a thread. Knows no widgets: the sightings
/// and the large views of photos can share one.
class PointMarker : public QObject {
  Q_OBJECT
 public:
  /// The store must outlive it.
  PointMarker(DeskSession* session, PhotoStore* store, Refiner refiner, QObject* parent = nullptr);

  /// The newest predictions of the chosen point; what follows from older ones is looked at again.
  void take_places(std::shared_ptr<const Places> places);
  [[nodiscard]] const Places& places() const { return *places_; }

  [[nodiscard]] RefineAs refine_as() const { return refine_as_; }
  void set_refine_as(RefineAs as);
  /// The pattern view: the photo that somebody chose for this point, else the first that holds a
  /// mark in use; empty: there is none.
  [[nodiscard]] std::string pattern_photo() const;
  /// Photos whose marks a match in this photo is tried with: the chosen pattern view, else the
  /// marked photos that look from the nearest directions, three at the most.
  [[nodiscard]] std::vector<std::string> patterns_for(const std::string& photo) const;
  void set_pattern_photo(const std::string& photo);
  /// The photos that somebody chose, by point.
  [[nodiscard]] const std::map<std::string, std::string>& patterns() const { return patterns_; }
  void set_patterns(std::map<std::string, std::string> patterns);

  /// Marks the chosen point by hand and, where refinement is on, goes on to the refined place if
  /// there is one to trust.
  /// @param magnification  that the person saw; says how well a click can be meant.
  void click(const std::string& photo, const Eigen::Vector2d& at_px, double magnification);
  void nudge(const std::string& photo, const Eigen::Vector2d& by_px);
  /// Back to where it was clicked, as by hand.
  void back_to_click(const std::string& photo);
  /// Marks at the predicted places of these photos what refines there; says what does not. One
  /// edit for all of them.
  void accept(const std::vector<std::string>& photos);
  void remove(const std::string& photo);
  void toggle_set_aside(const std::string& photo);
  /// @param then  with whether it is hidden now, once that is written.
  void toggle_hidden(const std::string& photo, std::function<void(bool hidden)> then = {});
  [[nodiscard]] bool is_hidden(const std::string& photo) const;

  /// Looks what accept() would do in these photos, so that it can be shown before.
  void want_proposals(const std::vector<std::string>& photos);
  /// All there is to draw over the view of a photo.
  [[nodiscard]] Sighting sighting(const std::string& photo) const;
  /// Whether something asked for is still being worked at.
  [[nodiscard]] bool is_busy() const;

 Q_SIGNALS:
  void view_changed(const std::string& photo);
  void said(const QString& sentence);
  /// An accept() is done, and its point is still the chosen one.
  void accepted(int marked, const QStringList& left_open);

 private:
  struct Asked {  // a proposal, and what it was asked for
    Prediction prediction;
    Proposal proposal;
    std::vector<std::string> patterns;  ///< the photos that a match was tried with
  };
  struct Batch {
    std::string point;
    std::set<std::string> open;
    std::vector<measure::Mark> marks;
    QStringList left_open;
    QString last_reason;
  };
  [[nodiscard]] std::optional<Prediction> prediction(const std::string& photo) const;
  [[nodiscard]] QString refused_before(const std::string& photo) const;
  void propose(const std::string& photo);
  void settle(const std::string& point, const std::string& photo, Asked asked);
  void finish(Batch& batch);
  void report(const Batch& batch);
  void take_refined(const measure::Mark& clicked, const Refined& refined);
  void ask(const std::string& photo, const Eigen::Vector2d& at_px, double radius_px,
           RefineRunner& runner, std::function<void(Refined)> done);
  /// How the pattern's window is turned and stretched in the photo, as if the place lay on a face
  /// that looks midway between both cameras.
  [[nodiscard]] std::optional<Eigen::Matrix2d> change_from_pattern(const std::string& pattern_photo,
                                                                   const std::string& photo) const;
  void refine_click(const measure::Mark& clicked, double magnification);
  void forget_proposals();
  [[nodiscard]] std::optional<Doubt> doubt(const std::string& photo) const;

  DeskSession* session_;
  PhotoStore* store_;
  Refiner refiner_;
  RefineRunner clicks_, proposals_runner_;
  std::shared_ptr<const Places> places_ = std::make_shared<Places>();
  RefineAs refine_as_ = RefineAs::kAsItLooks;
  std::map<std::string, std::string> patterns_;  ///< photo of a point, where somebody chose it
  std::map<std::string, Asked> proposals_;       ///< of the chosen point, by photo
  std::uint64_t era_ = 0;                        ///< proposals of an earlier one mean nothing
  std::vector<std::shared_ptr<Batch>> batches_;
  std::map<std::string, measure::Mark> clicked_;  ///< of the chosen point, by photo
  std::map<std::string, RefineRefusal> remarks_;  ///< of the chosen point, by photo
};

}  // namespace desk
