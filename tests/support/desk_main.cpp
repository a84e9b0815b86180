// Widgets without a display, in the desk's own style, and settings that are not the user's.
#include <QApplication>
#include <QStandardPaths>

#include <gtest/gtest.h>

#include "tools/desk/look/look.h"

int main(int argc, char** argv) {
  testing::InitGoogleTest(&argc, argv);
  qputenv("QT_QPA_PLATFORM", "offscreen");
  QStandardPaths::setTestModeEnabled(true);
  QApplication application(argc, argv);
  QApplication::setStyle(QStringLiteral("Fusion"));
  QApplication::setPalette(desk::light_palette());
  return RUN_ALL_TESTS();
}
