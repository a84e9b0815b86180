// The desk is killed in the middle of its work: what was shown as done is there afterwards.
#include <QCoreApplication>
#include <QProcess>
#include <QTemporaryDir>
#include <QTest>
#include <csignal>

#include <gtest/gtest.h>

#include "calib/board/photo_hash.h"
#include "calib/file/camera_file.h"
#include "measure/store/dossier_file.h"
#include "measure/store/open_dossier.h"
#include "tests/desk/window/person.h"

namespace testing_desk {
namespace {

TEST(DeskKilled, HasEveryMarkThatWasShownAsDone) {
  QTemporaryDir scratch;
  const std::string folder = scratch.filePath("original").toStdString();
  measure::Dossier dossier;
  dossier.name = "original";
  calib::Camera camera;
  camera.name = "body";
  camera.image_size = {640, 480};
  camera.intrinsics = {600, 600, 320, 240, 0, 0, 0, 0, 0};
  camera.covariance = 0.01 * calib::IntrinsicMatrix::Identity();
  camera.date = "2024-05-01";
  camera.sigma0 = 1.0;
  camera.redundancy = 100;
  const std::filesystem::path cameras = std::filesystem::path(folder) / "cameras";
  std::filesystem::create_directories(cameras);
  ASSERT_TRUE(calib::write_camera(cameras / "body.json", camera));
  const auto hash = calib::sha256_of_file(cameras / "body.json");
  ASSERT_TRUE(hash);
  dossier.cameras.push_back({"body", "cameras/body.json", *hash, measure::CameraUse::kPrior});
  dossier.photos.push_back({"a.jpg", "a.jpg", std::string(64, '0'), {640, 480}, "body", 1, ""});
  for (int i = 0; i < 7; ++i) dossier.points.push_back({"point " + std::to_string(i), ""});
  ASSERT_TRUE(measure::create_dossier(folder, dossier));

  int told_in_all = 0;
  for (int kill = 0; kill < 6; ++kill) {
    QProcess child;
    child.start(QCoreApplication::applicationFilePath(),
                {"--mark", QString::fromStdString(folder), "a.jpg"});
    ASSERT_TRUE(child.waitForStarted());
    ASSERT_TRUE(child.waitForReadyRead(60000)) << child.readAllStandardError().toStdString();
    QTest::qSleep(20 + 37 * kill);
    ::kill(static_cast<pid_t>(child.processId()), SIGKILL);
    ASSERT_TRUE(child.waitForFinished(30000));
    const QList<QByteArray> lines = child.readAllStandardOutput().split('\n');

    const auto open = measure::OpenDossier::open(folder);
    ASSERT_TRUE(open) << open.error().sentence;
    ASSERT_FALSE(open->is_read_only()) << open->read_only_sentence();
    std::map<std::string, double> told;
    // The last piece after a line end is empty, or half a line: that was not told.
    for (qsizetype l = 0; l + 1 < lines.size(); ++l) {
      const QList<QByteArray> parts = lines[l].split('\t');
      ASSERT_EQ(parts.size(), 2);
      told[parts[0].toStdString()] = 100 + parts[1].toInt();
      ++told_in_all;
    }
    ASSERT_FALSE(told.empty());
    int ahead = 0;
    for (const auto& [point, x] : told) {
      const auto mark = std::find_if(open->dossier().marks.begin(), open->dossier().marks.end(),
                                     [&](const auto& m) { return m.point == point; });
      ASSERT_NE(mark, open->dossier().marks.end()) << point;
      EXPECT_GE(mark->position_px.x(), x) << point;
      ahead += mark->position_px.x() > x ? 1 : 0;
    }
    // One more may have been written and not told any more.
    EXPECT_LE(ahead, 1);
  }
  EXPECT_GT(told_in_all, 20);
}

}  // namespace
}  // namespace testing_desk
