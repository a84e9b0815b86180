// Widgets without a display. With --mark FOLDER PHOTO it is a desk that marks until it is killed.
#include <QApplication>
#include <QStandardPaths>

#include <gtest/gtest.h>

#include "tests/desk/window/person.h"

int main(int argc, char** argv) {
  qputenv("QT_QPA_PLATFORM", "offscreen");
  QStandardPaths::setTestModeEnabled(true);
  QApplication application(argc, argv);
  if (argc == 4 && std::string(argv[1]) == "--mark") {
    return testing_desk::mark_until_killed(argv[2], argv[3]);
  }
  testing::InitGoogleTest(&argc, argv);
  return RUN_ALL_TESTS();
}
