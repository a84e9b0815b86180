#include "tests/desk/sightings/demo_desk.h"

#include <QApplication>
#include <QElapsedTimer>
#include <QKeyEvent>
#include <QLineEdit>
#include <QTest>
#include <QWheelEvent>
#include <filesystem>
#include <fstream>

#include <nlohmann/json.hpp>

#include "calib/board/photo_hash.h"
#include "calib/file/camera_file.h"
#include "measure/store/dossier_file.h"
#include "measure/store/mark_csv.h"

namespace testing_desk {
namespace {

const std::filesystem::path kDemo = std::filesystem::path(SCANTLING_DATASETS) / "hauler";

std::string hash_of(const std::filesystem::path& file) {
  const auto hash = calib::sha256_of_file(file);
  if (!hash) ADD_FAILURE() << hash.error().sentence;
  return hash ? *hash : std::string();
}

Eigen::Vector3d vector_of(const nlohmann::json& values) {
  return {values[0].get<double>(), values[1].get<double>(), values[2].get<double>()};
}

std::vector<measure::Mark> table(const char* name, const measure::Dossier& dossier) {
  auto marks = measure::read_mark_table(testing_support::contents_of(kDemo / name), name, dossier,
                                        measure::MarkTableOptions{});
  if (!marks) {
    ADD_FAILURE() << marks.error().sentence;
    return {};
  }
  return *marks;
}

measure::Dossier photos_and_points(const DemoTruth& truth) {
  measure::Dossier dossier;
  dossier.name = "demo";
  dossier.cameras.push_back({"demo", "cameras/demo.json", "", measure::CameraUse::kPrior});
  for (const auto& [name, pose] : truth.photos) {
    measure::Photo photo;
    photo.name = name;
    photo.file = (kDemo / "photos" / name).string();
    photo.sha256 = hash_of(kDemo / "photos" / name);
    photo.size = truth.size;
    photo.camera = "demo";
    dossier.photos.push_back(photo);
  }
  for (const auto* points : {&truth.points_mm, &truth.targets_mm}) {
    for (const auto& [name, at] : *points) dossier.points.push_back({name, ""});
  }
  std::sort(dossier.points.begin(), dossier.points.end(),
            [](const auto& a, const auto& b) { return a.name < b.name; });
  return dossier;
}

calib::Camera camera_file(const DemoTruth& truth) {
  calib::Camera camera;
  camera.name = "demo";
  camera.image_size = truth.size;
  camera.intrinsics = truth.camera;
  // As well known as a good calibration leaves it: pixels, and without unit.
  calib::IntrinsicVector u;
  u << 0.3, 0.3, 0.3, 0.3, 2e-4, 1e-3, 2e-5, 2e-5, 2e-3;
  camera.covariance = u.cwiseAbs2().asDiagonal();
  camera.date = "2024-05-01";
  camera.rms_px = 0.1;
  camera.sigma0 = 1.0;
  camera.redundancy = 1000;
  return camera;
}

}  // namespace

const DemoTruth& DemoTruth::get() {
  static const DemoTruth truth = [] {
    DemoTruth made;
    const auto json = nlohmann::json::parse(std::ifstream(kDemo / "truth.json"));
    const auto& camera = json["camera"];
    made.size = {camera["width_px"], camera["height_px"]};
    made.camera = {camera["fx"], camera["fy"], camera["cx"], camera["cy"], camera["k1"],
                   camera["k2"], camera["p1"], camera["p2"], camera["k3"]};
    for (const auto& [name, photo] : json["photos"].items()) {
      Eigen::Matrix3d rotation;
      for (int row = 0; row < 3; ++row) rotation.row(row) = vector_of(photo["rotation"][row]);
      made.photos.emplace(name,
                          calib::Pose::from_matrix(rotation, vector_of(photo["translation_mm"])));
    }
    for (const auto& [name, at] : json["points_mm"].items()) {
      made.points_mm.emplace(name, vector_of(at));
    }
    for (const auto& [name, at] : json["targets_mm"].items()) {
      made.targets_mm.emplace(name, vector_of(at));
    }
    for (const measure::Mark& mark : table("marks.csv", photos_and_points(made))) {
      made.seen.emplace(mark.photo, mark.point);
    }
    return made;
  }();
  return truth;
}

Eigen::Vector2d DemoTruth::place(const std::string& photo, const std::string& point) const {
  const auto at = points_mm.find(point);
  return calib::project(camera, photos.at(photo),
                        at != points_mm.end() ? at->second : targets_mm.at(point));
}

DemoDesk::DemoDesk(const DemoSpec& spec, desk::Refiner refiner) {
  const DemoTruth& truth = DemoTruth::get();
  measure::Dossier dossier = photos_and_points(truth);
  std::mt19937 generator(1);
  std::normal_distribution<double> noise(0.0, 0.05);
  std::vector<measure::Mark> marks = table("marks.csv", dossier);
  std::erase_if(marks, [&](const measure::Mark& mark) {
    return !spec.others_marked || spec.unmarked.contains(mark.point) ||
           spec.unnamed.contains(mark.point) || !truth.points_mm.contains(mark.point);
  });
  if (spec.targets) {
    for (measure::Mark mark : table("targets.csv", dossier)) {
      mark.position_px =
          truth.place(mark.photo, mark.point) + Eigen::Vector2d(noise(generator), noise(generator));
      mark.sigma_px = 0.05;
      mark.source = measure::MarkSource::kRefined;
      marks.push_back(std::move(mark));
    }
  }
  std::sort(marks.begin(), marks.end(), [](const measure::Mark& a, const measure::Mark& b) {
    return std::tie(a.photo, a.point) < std::tie(b.photo, b.point);
  });
  dossier.marks = std::move(marks);
  std::erase_if(dossier.points, [&](const measure::Point& point) {
    return spec.unnamed.contains(point.name) ||
           (!spec.targets && truth.targets_mm.contains(point.name));
  });
  if (spec.nothing_known) {
    dossier.marks.clear();
  }
  if (spec.targets) {
    measure::ScaleBar bar;
    bar.name = "bar A";
    bar.from = "bar A left";
    bar.to = "bar A right";
    bar.length_mm = 500.013;
    bar.u_own_mm = 0.02;
    dossier.bars.push_back(bar);
  }
  const std::string front = "hopper rim corner, front left", rear = "hopper rim corner, rear left";
  if (!spec.unnamed.contains(front) && !spec.unnamed.contains(rear)) {
    dossier.dimensions.push_back({"hopper rim length, left", measure::Distance{rear, front}});
  }
  const std::filesystem::path at = folder_ / "demo";
  std::filesystem::create_directories(at / "cameras");
  if (const auto written = calib::write_camera(at / "cameras/demo.json", camera_file(truth));
      !written) {
    ADD_FAILURE() << written.error().sentence;
  }
  dossier.cameras.front().sha256 = hash_of(at / "cameras/demo.json");
  if (const auto written = measure::write_dossier(at, dossier); !written) {
    ADD_FAILURE() << written.error().sentence;
  }
  auto session = desk::DeskSession::open(at);
  if (!session) {
    ADD_FAILURE() << session.error().sentence;
    return;
  }
  session_ = std::move(*session);
  store_ = std::make_unique<desk::PhotoStore>(std::size_t{1} << 30);
  for (const measure::Photo& photo : session_->dossier().photos) {
    store_->enter(photo.name, session_->file_of(photo));
  }
  keys_ = std::make_unique<desk::KeyBook>(nullptr);
  sightings_ = std::make_unique<desk::Sightings>(session_.get(), store_.get(), keys_.get(),
                                                 std::move(refiner));
  QObject::connect(sightings_.get(), &desk::Sightings::said,
                   [this](const QString& sentence) { said << sentence; });
  QObject::connect(session_.get(), &desk::DeskSession::refused,
                   [this](const QString& sentence) { said << sentence; });
  sightings_->resize(1800, 1000);  // what a common screen leaves beside a table of points
  sightings_->show();
  QApplication::setActiveWindow(sightings_.get());
  EXPECT_TRUE(QTest::qWaitForWindowActive(sightings_.get()));
  settle();
}

DemoDesk::~DemoDesk() = default;

void DemoDesk::settle() {
  QElapsedTimer timer;
  timer.start();
  do {
    QTest::qWait(2);
    if (timer.elapsed() > 60000) {
      ADD_FAILURE() << "the desk has not come to rest within a minute";
      return;
    }
  } while (!sightings_->is_settled());
  QTest::qWait(1);
  if (!sightings_->is_settled()) settle();
}

void DemoDesk::settle_tested() {
  settle();
  QElapsedTimer timer;
  timer.start();
  while (!session_->live()->tested) {
    QTest::qWait(5);
    if (timer.elapsed() > 60000) {
      ADD_FAILURE() << "no search for blunders within a minute";
      return;
    }
  }
  settle();
}

void DemoDesk::choose(const std::string& point) {
  ++actions;
  session_->choose_point(point);
  settle();
}

void DemoDesk::click(const std::string& photo, const Eigen::Vector2d& at_px) {
  ++actions;
  desk::SightingView& one = view(photo);
  QTest::mouseClick(&one, Qt::LeftButton, {},
                    one.widget_from_photo({at_px.x(), at_px.y()}).toPoint());
}

void DemoDesk::click_by_hand(const std::string& photo, const Eigen::Vector2d& at_px) {
  std::normal_distribution<double> screen_px(0.0, 1.0);
  const double scale = 1.0 / view(photo).magnification();
  const double x = screen_px(hand_), y = screen_px(hand_);
  click(photo, at_px + scale * Eigen::Vector2d(x, y));
}

void DemoDesk::aim_by_hand(const std::string& photo, const Eigen::Vector2d& at_px) {
  ++actions;
  desk::SightingView& one = view(photo);
  QTest::mousePress(&one, Qt::LeftButton, {},
                    one.widget_from_photo({at_px.x(), at_px.y()}).toPoint());
  EXPECT_TRUE(QTest::qWaitFor([&] { return one.click_marks(); }, 5000));
  std::normal_distribution<double> screen_px(0.0, 1.0);
  const double x = screen_px(hand_), y = screen_px(hand_);
  const QPointF at = one.widget_from_photo({at_px.x(), at_px.y()}) + QPointF(x, y);
  QTest::mouseRelease(&one, Qt::LeftButton, {}, at.toPoint());
}

void DemoDesk::press(const char* action) {
  const auto* found = sightings_->findChild<QAction*>(QString("sightings.") + action);
  if (!found) {
    ADD_FAILURE() << "no action " << action;
    return;
  }
  ++actions;
  QWidget* at = QApplication::focusWidget();
  QTest::keySequence(at ? at : sightings_.get(), found->shortcut());
}

void DemoDesk::press(Qt::Key key, Qt::KeyboardModifiers modifiers) {
  ++actions;
  QWidget* at = QApplication::focusWidget();
  QTest::keyClick(at ? at : sightings_.get(), key, modifiers);
}

void DemoDesk::type(const QString& words) {
  ++actions;
  // QTest::keyClicks knows ASCII only.
  for (const QChar letter : words) {
    QKeyEvent down(QEvent::KeyPress, Qt::Key_unknown, Qt::NoModifier, QString(letter));
    QApplication::sendEvent(QApplication::focusWidget(), &down);
  }
}

void DemoDesk::magnify(const std::string& photo, const Eigen::Vector2d& about_px, int notches) {
  ++actions;
  desk::SightingView& one = view(photo);
  const QPointF at = one.widget_from_photo({about_px.x(), about_px.y()});
  QWheelEvent wheel(at, one.mapToGlobal(at), {}, QPoint(0, 120 * notches), Qt::NoButton,
                    Qt::ControlModifier, Qt::NoScrollPhase, false);
  QApplication::sendEvent(&one, &wheel);
}

const measure::Mark* DemoDesk::mark(const std::string& photo) {
  return session_->mark_at(photo, session_->chosen_point());
}

}  // namespace testing_desk
