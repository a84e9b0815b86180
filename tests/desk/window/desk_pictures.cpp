// desk_pictures DOSSIER FOLDER: opens the dossier in the desk and takes the README's pictures of
// it.
#include <QApplication>
#include <QStandardPaths>
#include <QTemporaryDir>
#include <QTest>
#include <cstdio>

#include "measure/live/weak_spots.h"
#include "tests/desk/window/person.h"
#include "tools/desk/sightings/sightings.h"
#include "tools/desk/tables/weak_spots_panel.h"

namespace {

using desk::DeskWindow;

/// The window as it stands on the screen, OpenGL and all.
bool take(DeskWindow& window, const QString& file) {
  QTest::qWait(1200);
  const QPixmap picture = window.grab();
  const bool saved = picture.toImage().save(file, nullptr, 88);
  std::printf("%s  %d x %d\n", file.toStdString().c_str(), picture.width(), picture.height());
  return saved;
}

}  // namespace

int main(int argc, char** argv) {
  QApplication application(argc, argv);
  QStandardPaths::setTestModeEnabled(true);
  if (argc != 3) {
    std::fprintf(stderr, "usage: desk_pictures DOSSIER FOLDER\n");
    return 2;
  }
  const QString folder = argv[2];
  QTemporaryDir scratch;
  QSettings settings(scratch.filePath("settings.ini"), QSettings::IniFormat);
  settings.setValue("palette", "light");
  DeskWindow window(&settings);
  window.resize(1440, 860);
  window.show();
  if (!window.open_dossier(argv[1])) {
    std::fprintf(stderr, "%s\n", window.messages()->text().toStdString().c_str());
    return 2;
  }
  testing_desk::Person person(window);
  auto& session = *window.session();
  bool done = testing_desk::wait_until([&] { return session.live()->tested; });
  person.settle();
  window.messages()->hide();

  session.choose_dimension("hopper rim length, left");
  session.choose_point("hopper rim corner, front left");
  window.show_bench(DeskWindow::Bench::kContactSheet);
  done = done && take(window, folder + "/desk_contact_sheet.jpg");

  // A point that still lacks a mark or two: its expected place and ellipse show.
  window.show_bench(DeskWindow::Bench::kSightings);
  std::map<std::string, std::size_t> marks;
  for (const measure::Mark& mark : session.dossier().marks) {
    marks[mark.point] += mark.set_aside ? 0u : 1u;
  }
  session.choose_point("cab roof corner, front left");
  person.settle();
  done = done && take(window, folder + "/desk_sightings.jpg");

  session.choose_photo("hauler_09.jpg");
  session.choose_point("hopper rim corner, rear left");
  window.show_bench(DeskWindow::Bench::kPhoto);
  done = done && take(window, folder + "/desk_photo.jpg");

  window.show_side(4);
  testing_desk::wait_until([&] { return !window.weak_spots()->busy(); });
  window.show_bench(DeskWindow::Bench::kStand);
  for (const measure::WeakSpot& spot : measure::find_weak_spots(
           *session.live()->survey, session.dossier(), session.live()->dimensions, {})) {
    const auto help = std::find_if(spot.helps.begin(), spot.helps.end(),
                                   [](const auto& h) { return h.camera_position.has_value(); });
    if (help == spot.helps.end()) continue;
    window.stand()->suggest(help->camera_position, *help->looking_at);
    break;
  }
  done = done && take(window, folder + "/desk_stand.jpg");
  window.close();
  return done ? 0 : 1;
}
