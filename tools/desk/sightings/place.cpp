#include "tools/desk/sightings/place.h"

#include <QCoreApplication>
#include <QMetaObject>

namespace desk {
namespace {

struct Words {
  Q_DECLARE_TR_FUNCTIONS(desk::Sightings)
};

}  // namespace

Places find_places(const std::string& point, std::shared_ptr<const LiveState> state,
                   const measure::Dossier& dossier) {
  Places places;
  places.point = point;
  places.state = std::move(state);
  if (!places.state || !places.state->survey) return places;
  const measure::Survey& survey = *places.state->survey;
  const measure::Predictor predictor(survey, dossier);
  const Eigen::Vector3d up = measure::upward(survey);
  // Where the point is not placed yet, up is taken at the middle of all points.
  Eigen::Vector3d about = Eigen::Vector3d::Zero();
  double count = 0;
  for (const measure::PointReport& report : survey.report().points) {
    if (!report.placed) continue;
    if (report.name == point) {
      about = report.position;
      count = 1;
      break;
    }
    about += report.position;
    ++count;
  }
  if (count > 0) about /= count;
  for (const measure::Photo& photo : dossier.photos) {
    places.in_photo.emplace(photo.name, predictor.predict(photo.name, point));
    if (const auto oriented = measure::oriented_photo(survey, photo.name)) {
      places.turn_rad.emplace(photo.name, measure::upright_turn(*oriented, about, up));
    }
  }
  return places;
}

PlaceFinder::PlaceFinder(const DeskSession* session, QObject* parent)
    : QObject(parent), session_(session) {
  pool_.setMaxThreadCount(1);
}

PlaceFinder::~PlaceFinder() { pool_.waitForDone(); }

void PlaceFinder::ask(const std::string& point) {
  asked_ = point;
  if (running_) {
    again_ = true;
    return;
  }
  start();
}

void PlaceFinder::start() {
  running_ = true;
  again_ = false;
  // The copy lets the person go on marking meanwhile.
  auto dossier = std::make_shared<const measure::Dossier>(session_->dossier());
  pool_.start([this, point = asked_, state = session_->live(), dossier] {
    auto places = std::make_shared<const Places>(find_places(point, state, *dossier));
    QMetaObject::invokeMethod(
        this,
        [this, places] {
          running_ = false;
          if (again_) start();
          if (places->point == asked_) Q_EMIT found(places);
        },
        Qt::QueuedConnection);
  });
}

int rank_of(measure::Sight sight) {
  switch (sight) {
    case measure::Sight::kLikely:
      return 0;
    case measure::Sight::kUnclear:
      return 1;
    case measure::Sight::kUnknown:
      return 2;
    case measure::Sight::kHidden:
      return 3;
    case measure::Sight::kOutside:
      return 4;
  }
  return 4;
}

QString words_of(measure::Sight sight) {
  switch (sight) {
    case measure::Sight::kLikely:
      return Words::tr("likely in sight");
    case measure::Sight::kUnclear:
      return Words::tr("perhaps in sight");
    case measure::Sight::kUnknown:
      return Words::tr("cannot tell yet");
    case measure::Sight::kHidden:
      return Words::tr("probably hidden");
    case measure::Sight::kOutside:
      return Words::tr("outside the frame");
  }
  return {};
}

}  // namespace desk
