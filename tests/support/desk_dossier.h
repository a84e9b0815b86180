// A simulated survey as a dossier on the disk, opened as the desk opens it.
#pragma once

#include <QApplication>
#include <QElapsedTimer>
#include <QTest>
#include <QWidget>
#include <functional>
#include <memory>

#include <gtest/gtest.h>

#include "calib/board/photo_hash.h"
#include "calib/file/camera_file.h"
#include "measure/edit/apply.h"
#include "measure/store/dossier_file.h"
#include "tests/calib/file/scratch_folder.h"
#include "tests/support/simulated_survey.h"
#include "tools/desk/look/look.h"
#include "tools/desk/session/desk_session.h"

namespace testing_support {

/// Runs the widgets' events until it holds; false after half a minute.
inline bool wait_until(const std::function<bool()>& holds) {
  QElapsedTimer timer;
  timer.start();
  while (!holds()) {
    if (timer.hasExpired(30000)) return false;
    QTest::qWait(5);
  }
  return true;
}

/// SCANTLING_PICTURES=FOLDER: how the widget looks, in both palettes, for a person to judge.
inline void show_if_asked(QWidget& widget, const std::string& name) {
  const QByteArray folder = qgetenv("SCANTLING_PICTURES");
  if (folder.isEmpty()) return;
  for (const auto& [palette, word] :
       {std::pair(desk::light_palette(), "light"), {desk::dark_palette(), "dark"}}) {
    QApplication::setPalette(palette);
    QTest::qWait(50);
    widget.grab().save(QString::fromLocal8Bit(folder) + '/' + QString::fromStdString(name) + '_' +
                       word + ".png");
  }
  QApplication::setPalette(desk::light_palette());
}

class DeskDossier {
 public:
  explicit DeskDossier(SimulatedSurveySpec spec = {},
                       const std::function<void(measure::Dossier&)>& alter = {})
      : DeskDossier(make_simulated_survey(spec), alter) {}
  explicit DeskDossier(SimulatedSurvey simulated,
                       const std::function<void(measure::Dossier&)>& alter = {})
      : survey(std::move(simulated)) {
    measure::Dossier& dossier = survey.dossier;
    const auto camera_file = folder / "cameras/body.json";
    std::filesystem::create_directories(camera_file.parent_path());
    EXPECT_TRUE(calib::write_camera(camera_file, survey.cameras.at("body")));
    dossier.cameras.front().sha256 = *calib::sha256_of_file(camera_file);
    int number = 0;
    for (measure::Photo& photo : dossier.photos) {
      char hash[65];
      std::snprintf(hash, sizeof hash, "%064x", ++number);  // no picture is read
      photo.sha256 = hash;
    }
    std::sort(dossier.marks.begin(), dossier.marks.end(), [](const auto& a, const auto& b) {
      return std::pair(a.photo, a.point) < std::pair(b.photo, b.point);
    });
    if (alter) alter(dossier);
    const auto written = measure::create_dossier(folder.path(), dossier);
    EXPECT_TRUE(written) << (written ? "" : written.error().sentence);
    auto opened = desk::DeskSession::open(folder.path());
    EXPECT_TRUE(opened) << (opened ? "" : opened.error().sentence);
    if (opened) session = std::move(*opened);
  }

  /// The numbers of all edits, tested for blunders.
  bool wait_for_survey() const {
    return wait_until([this] {
      return !session->live_is_behind() && (session->live()->tested || session->live()->problem);
    });
  }

  ScratchFolder folder;
  SimulatedSurvey survey;
  std::unique_ptr<desk::DeskSession> session;
};

}  // namespace testing_support
