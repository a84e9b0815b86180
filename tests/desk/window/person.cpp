#include "tests/desk/window/person.h"

#include <QAction>
#include <QApplication>
#include <QElapsedTimer>
#include <QLineEdit>
#include <QPushButton>
#include <QTemporaryDir>
#include <QTest>
#include <QWheelEvent>
#include <cstdio>

#include <gtest/gtest.h>

#include "tools/desk/fields/sentence_label.h"
#include "tools/desk/photos/photo_canvas.h"
#include "tools/desk/photos/photo_pane.h"
#include "tools/desk/sightings/sightings.h"

namespace testing_desk {

bool wait_until(const std::function<bool()>& condition, int milliseconds) {
  QElapsedTimer timer;
  timer.start();
  while (!condition()) {
    if (timer.elapsed() > milliseconds) return false;
    QTest::qWait(5);
  }
  return true;
}

void Person::fail(const QString& sentence) { ADD_FAILURE() << sentence.toStdString(); }

void Person::trigger(const QString& name) {
  auto* action = find<QAction>(name);
  if (!action) return;
  if (action->shortcut().isEmpty()) {
    action->trigger();
    return;
  }
  window_.activateWindow();
  EXPECT_TRUE(QTest::qWaitForWindowActive(&window_));
  QWidget* at = QApplication::focusWidget();
  const bool in_window = at && at->window() == &window_;
  QTest::keySequence(in_window ? at : &window_, action->shortcut());
}

void Person::type(const QString& name, const QString& words) {
  auto* widget = find<QWidget>(name);
  if (!widget) return;
  auto* line = qobject_cast<QLineEdit*>(widget);
  if (!line) line = widget->findChild<QLineEdit*>();
  if (!line) {
    fail(name + " is nothing to type into");
    return;
  }
  line->window()->activateWindow();
  line->setFocus();
  line->selectAll();
  // QTest::keyClicks knows ASCII only.
  for (const QChar letter : words) {
    QKeyEvent down(QEvent::KeyPress, Qt::Key_unknown, Qt::NoModifier, QString(letter));
    QApplication::sendEvent(line, &down);
  }
  // A list of completions goes when something else is clicked; synthetic clicks do not reach it.
  if (QWidget* list = QApplication::activePopupWidget()) list->close();
}

void Person::press(const QString& name) {
  if (auto* button = find<QAbstractButton>(name)) QTest::mouseClick(button, Qt::LeftButton);
}

std::string Person::problems() const {
  QString all;
  for (const auto* sentence : window_.findChildren<desk::SentenceLabel*>()) {
    if (!sentence->text().isEmpty()) all += sentence->text() + "; ";
  }
  return all.toStdString();
}

void Person::settle() {
  EXPECT_TRUE(wait_until([&] {
    return window_.sightings()->is_settled() && !window_.session()->live_is_behind();
  })) << "the desk has not come to rest";
}

void Person::new_point(const QString& name) {
  window_.activateWindow();
  window_.sightings()->setFocus();
  trigger("sightings.new_point");
  auto* line = qobject_cast<QLineEdit*>(QApplication::focusWidget());
  if (!line) {
    fail("no line asks for the name of the new point");
    return;
  }
  line->selectAll();
  QTest::keyClicks(line, name);
  QTest::keyClick(line, Qt::Key_Return);
  settle();
  EXPECT_EQ(window_.session()->chosen_point(), name.toStdString());
}

void Person::click_sighting(const std::string& photo, const Eigen::Vector2d& at_px) {
  desk::SightingView* view = window_.sightings()->view(photo);
  if (!view || !view->isVisible()) {
    fail("no sighting of " + QString::fromStdString(photo));
    return;
  }
  const auto click = [&] {
    QTest::mouseClick(view, Qt::LeftButton, {},
                      view->widget_from_photo({at_px.x(), at_px.y()}).toPoint());
  };
  if (!view->click_marks()) {
    const QPointF at = view->widget_from_photo({at_px.x(), at_px.y()});
    QWheelEvent wheel(at, view->mapToGlobal(at), {}, QPoint(0, 120 * 14), Qt::NoButton,
                      Qt::ControlModifier, Qt::NoScrollPhase, false);
    QApplication::sendEvent(view, &wheel);
    settle();
  }
  click();
  settle();
}

int mark_until_killed(const std::string& folder, const std::string& photo) {
  QTemporaryDir scratch;
  QSettings settings(scratch.filePath("settings.ini"), QSettings::IniFormat);
  desk::DeskWindow window(&settings);
  window.show();
  if (!window.open_dossier(QString::fromStdString(folder))) {
    std::fprintf(stderr, "%s\n", window.messages()->text().toStdString().c_str());
    return 2;
  }
  window.session()->choose_photo(photo);
  window.show_bench(desk::DeskWindow::Bench::kPhoto);
  // Told as soon as anything could show it; the next click comes before that.
  desk::DeskSession& session = *window.session();
  QObject::connect(&session, &desk::DeskSession::refused, [](const QString& sentence) {
    std::fprintf(stderr, "%s\n", sentence.toStdString().c_str());
    std::_Exit(3);
  });
  QObject::connect(&session, &desk::DeskSession::dossier_changed, [](const measure::Edit& edit) {
    for (const measure::Mark& mark : std::get<measure::SetMarks>(edit.what).marks) {
      std::printf("%s\t%d\n", mark.point.c_str(), int(mark.position_px.x()) - 100);
    }
    std::fflush(stdout);
  });
  const auto points = session.dossier().points;
  for (int round = 0;; ++round) {
    for (const measure::Point& point : points) {
      session.choose_point(point.name);
      session.change_soon(
          measure::set_mark({photo, point.name, Eigen::Vector2d(100 + round, 200)}));
      do {
        QApplication::processEvents();
      } while (round % 2 == 0 && session.is_writing());
    }
  }
}

}  // namespace testing_desk
