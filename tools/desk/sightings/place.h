// Where the chosen point is, or should be, in every photo.
#pragma once

#include <QObject>
#include <QThreadPool>
#include <map>
#include <memory>
#include <string>

#include "measure/live/predict.h"
#include "tools/desk/session/desk_session.h"

namespace desk {

/// What the solved geometry says of one point, photo by photo.
struct Places {
  std::string point;
  std::shared_ptr<const LiveState> state;                   ///< that they follow from
  std::map<std::string, measure::PredictedPlace> in_photo;  ///< of every photo; empty: no survey
  /// By how much each oriented photo must be turned, clockwise, so that the original's up is up.
  std::map<std::string, double> turn_rad;
};

/// Predicts away from the thread of the widgets; only the newest question is answered.
class PlaceFinder : public QObject {
  Q_OBJECT
 public:
  explicit PlaceFinder(const DeskSession* session, QObject* parent = nullptr);
  ~PlaceFinder() override;

  /// Asks for the places of a point, as of the session's live state; found() follows.
  void ask(const std::string& point);

 Q_SIGNALS:
  void found(std::shared_ptr<const desk::Places> places);

 private:
  void start();

  const DeskSession* session_;
  QThreadPool pool_;
  std::string asked_;
  bool running_ = false, again_ = false;
};

/// Without a thread, for those who run in one already.
[[nodiscard]] Places find_places(const std::string& point, std::shared_ptr<const LiveState> state,
                                 const measure::Dossier& dossier);

/// How well a place can be seen, the best first: for sorting.
[[nodiscard]] int rank_of(measure::Sight sight);
/// For a person: "likely to be seen".
[[nodiscard]] QString words_of(measure::Sight sight);

}  // namespace desk
