// desk_pictures DOSSIER FOLDER: opens the dossier in the desk and takes the README's pictures of
// it.
#include <QApplication>
#include <QStandardPaths>
#include <QTemporaryDir>
#include <QTest>
#include <algorithm>
#include <cstdio>
#include <filesystem>
#include <map>

#include "measure/live/weak_spots.h"
#include "tests/desk/window/person.h"
#include "tools/desk/photos/photo_canvas.h"
#include "tools/desk/photos/photo_pane.h"
#include "tools/desk/sheets/sheets.h"
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
  // A copy, for the pictures change it; beside the dossier, so that it finds the same photographs.
  const std::filesystem::path copy =
      std::filesystem::absolute(argv[1]).parent_path() / "desk_pictures";
  std::filesystem::remove_all(copy);
  std::filesystem::copy(argv[1], copy, std::filesystem::copy_options::recursive);
  if (!window.open_dossier(QString::fromStdString(copy.string()))) {
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

  // A point as it is while it is being marked: two marks stand, the rest is expected.
  std::vector<measure::MarkKey> others;
  std::string chosen;
  for (const measure::Point& candidate : session.dossier().points) {
    const auto count =
        std::count_if(session.dossier().marks.begin(), session.dossier().marks.end(),
                      [&](const measure::Mark& mark) { return mark.point == candidate.name; });
    if (candidate.name.starts_with("fuel tank corner") && count >= 6) chosen = candidate.name;
  }
  int kept = 0;
  for (const measure::Mark& mark : session.dossier().marks) {
    if (mark.point == chosen && ++kept > 2) others.push_back({mark.photo, mark.point});
  }
  done = done && !others.empty() && session.change(measure::RemoveMarks{others});
  window.show_bench(DeskWindow::Bench::kSightings);
  session.choose_point(chosen);
  person.settle();
  window.messages()->hide();
  done = done && take(window, folder + "/desk_sightings.jpg");

  session.choose_photo("hauler_09.jpg");
  session.choose_point("hopper rim corner, rear left");
  window.show_bench(DeskWindow::Bench::kPhoto);
  done = done && take(window, folder + "/desk_photo.jpg");

  window.show_side(5);
  const std::string pipe = "exhaust, left";
  std::map<std::string, int> marks_in;
  for (const measure::ShapeMark& mark : session.dossier().shape_marks) {
    if (mark.shape == pipe) ++marks_in[mark.photo];
  }
  done = done && !marks_in.empty();
  session.choose_photo(
      std::max_element(marks_in.begin(), marks_in.end(), [](const auto& a, const auto& b) {
        return a.second < b.second;
      })->first);
  session.choose_dimension("");
  session.choose_point("");
  session.choose_shape(pipe);
  QPointF middle;
  int count = 0;
  for (const measure::ShapeMark& mark : session.dossier().shape_marks) {
    if (mark.shape != pipe || mark.photo != session.chosen_photo()) continue;
    middle += QPointF(mark.position_px.x(), mark.position_px.y());
    ++count;
  }
  window.photo_pane()->canvas()->centre_on(middle / std::max(1, count), 3.0);
  done = done && take(window, folder + "/desk_shapes.jpg");
  session.choose_dimension("hopper rim length, left");
  session.choose_point("hopper rim corner, rear left");
  session.choose_photo("hauler_09.jpg");

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

  window.show_side(0);
  window.show_bench(DeskWindow::Bench::kSheets);
  window.sheets()->make();
  done = done && testing_desk::wait_until([&] { return !window.sheets()->maker().busy(); });
  window.sheets()->choose_file("dimensions.pdf");
  done = done && take(window, folder + "/desk_sheets.jpg");
  window.close();
  std::filesystem::remove_all(copy);
  return done ? 0 : 1;
}
