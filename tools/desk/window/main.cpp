// scantling-desk [DIR]: the desk. `scantling desk` starts it.
#include <QApplication>
#include <QCommandLineParser>
#include <QLibraryInfo>
#include <QLocale>
#include <QSettings>
#include <QTranslator>
#include <exception>
#include <iostream>

#include <glog/logging.h>

#include "tools/desk/window/desk_window.h"
#include "tools/desk/window/translation.h"

int main(int argument_count, char** arguments) {
  FLAGS_minloglevel = google::GLOG_FATAL;
  try {
    QApplication application(argument_count, arguments);
    QApplication::setApplicationName("scantling-desk");
    QApplication::setOrganizationName("scantling");
    QApplication::setApplicationDisplayName("Scantling");
    QTranslator of_qt;
    if (of_qt.load(QLocale(), "qtbase", "_", QLibraryInfo::path(QLibraryInfo::TranslationsPath))) {
      QApplication::installTranslator(&of_qt);
    }
    const auto of_desk = desk::find_translation(QLocale());
    if (of_desk) QApplication::installTranslator(of_desk.get());
    QCommandLineParser parser;
    parser.setApplicationDescription(QApplication::translate(
        "main",
        "The desk: mark points in photographs and watch dimensions with their error bars."));
    parser.addHelpOption();
    parser.addPositionalArgument(
        "dossier",
        QApplication::translate("main", "The folder of a dossier; without it the desk asks."),
        "[DIR]");
    parser.process(application);

    QSettings settings;
    desk::DeskWindow window(&settings);
    window.show();
    const QStringList folders = parser.positionalArguments();
    if (!folders.isEmpty()) window.open_dossier(folders.front());
    return QApplication::exec();
  } catch (const std::bad_alloc&) {
    std::cerr << "There is not enough memory for this; what was shown as done is kept.\n";
  } catch (const std::exception& cause) {
    std::cerr << "Something failed that should not (" << cause.what()
              << "): please report it; what was shown as done is kept.\n";
  }
  return 1;
}
