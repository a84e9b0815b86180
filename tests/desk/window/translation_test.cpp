// Every word that the desk shows can be translated: with a translation that puts brackets around
// each, what stands outside brackets has bypassed it.
#include "tools/desk/window/translation.h"

#include <QAbstractButton>
#include <QAbstractItemView>
#include <QAction>
#include <QApplication>
#include <QComboBox>
#include <QFile>
#include <QGroupBox>
#include <QHeaderView>
#include <QLabel>
#include <QLineEdit>
#include <QMenu>
#include <QProcess>
#include <QRegularExpression>
#include <QSettings>
#include <QTabWidget>
#include <QTemporaryDir>
#include <QTest>
#include <QTranslator>
#include <QXmlStreamReader>
#include <QXmlStreamWriter>
#include <set>

#include <gtest/gtest.h>

#include "tests/support/desk_dossier.h"
#include "tests/support/simulated_shapes.h"
#include "tools/desk/window/desk_window.h"

namespace {

const QChar kOpen(0x27E6), kClose(0x27E7);

/// All texts of the desk by lupdate, each translated by itself in brackets.
bool write_bracketed(const QString& from, const QString& to) {
  QFile in(from), out(to);
  if (!in.open(QIODevice::ReadOnly) || !out.open(QIODevice::WriteOnly)) return false;
  QXmlStreamReader reader(&in);
  QXmlStreamWriter writer(&out);
  QString source;
  while (!reader.atEnd()) {
    reader.readNext();
    if (reader.isStartElement() && reader.name() == QLatin1String("source")) {
      source = reader.readElementText();
      writer.writeTextElement("source", source);
    } else if (reader.isStartElement() && reader.name() == QLatin1String("translation")) {
      reader.skipCurrentElement();
      writer.writeTextElement("translation", kOpen + source + kClose);
    } else if (reader.tokenType() != QXmlStreamReader::Invalid) {
      writer.writeCurrentToken(reader);
    }
  }
  return !reader.hasError() && !source.isEmpty();
}

/// What stands outside all brackets, without data, keys, tags and units.
QString untranslated(QString text, const QStringList& data) {
  static const QRegularExpression tag("<[^>]*>"), key(R"(\s\[[^\]]*\]$)"),
      unit(R"((?<![[:alpha:]])(mm|cm|m|in|px|σ|U|u|k|p|x|y|s0)(?![[:alpha:]]))");
  text.remove(tag);
  text.remove(key);
  QString outside;
  int depth = 0;
  for (const QChar letter : text) {
    if (letter == kOpen) ++depth;
    if (depth == 0) outside += letter;
    if (letter == kClose) --depth;
  }
  for (const QString& known : data) outside.remove(known, Qt::CaseInsensitive);
  outside.remove(unit);
  static const QRegularExpression word("[[:alpha:]]");
  return outside.contains(word) ? outside.trimmed() : QString();
}

class Words {
 public:
  explicit Words(QStringList data) : data_(std::move(data)) {
    // Longer names first: they may contain shorter ones.
    std::sort(data_.begin(), data_.end(),
              [](const QString& a, const QString& b) { return a.size() > b.size(); });
  }
  void look_at(QWidget* window) {
    look(window);
    for (QWidget* widget : window->findChildren<QWidget*>()) look(widget);
    for (const auto* action : window->findChildren<QAction*>()) {
      take(action, action->text());
      take(action, action->toolTip());
    }
  }
  [[nodiscard]] const std::set<std::string>& bypassing() const { return bypassing_; }
  [[nodiscard]] std::size_t seen() const { return seen_.size(); }

 private:
  void take(const QObject* owner, const QString& text) {
    if (text.contains(kOpen)) seen_.insert(text);
    const QString left = untranslated(text, data_);
    if (left.isEmpty()) return;
    QString path;
    for (const QObject* at = owner; at; at = at->parent()) {
      path = at->objectName().isEmpty() ? at->metaObject()->className() : at->objectName();
      if (!at->objectName().isEmpty()) break;
    }
    bypassing_.insert((path + ": \"" + left + "\" in \"" + text + '"').toStdString());
  }
  void look(QWidget* widget) {
    // Qt's own words have a translation of Qt's own.
    const QString name = widget->objectName();
    if (name.startsWith("qt_") || name.startsWith("Scroll")) return;
    take(widget, widget->toolTip());
    take(widget, widget->accessibleName());
    if (widget->isWindow()) take(widget, widget->windowTitle());
    if (const auto* label = qobject_cast<QLabel*>(widget)) take(label, label->text());
    if (const auto* button = qobject_cast<QAbstractButton*>(widget)) take(button, button->text());
    if (const auto* menu = qobject_cast<QMenu*>(widget)) take(menu, menu->title());
    if (const auto* group = qobject_cast<QGroupBox*>(widget)) take(group, group->title());
    if (const auto* line = qobject_cast<QLineEdit*>(widget)) take(line, line->placeholderText());
    if (const auto* box = qobject_cast<QComboBox*>(widget)) {
      for (int i = 0; i < box->count(); ++i) take(box, box->itemText(i));
    }
    if (const auto* tabs = qobject_cast<QTabWidget*>(widget)) {
      for (int i = 0; i < tabs->count(); ++i) take(tabs, tabs->tabText(i));
    }
    if (const auto* view = qobject_cast<QAbstractItemView*>(widget); view && view->model()) {
      if (qobject_cast<const QHeaderView*>(view)) return;
      const QAbstractItemModel& model = *view->model();
      for (int column = 0; column < model.columnCount(); ++column) {
        for (const int role : {Qt::DisplayRole, Qt::ToolTipRole}) {
          // A list without a head has numbers there.
          take(view, model.headerData(column, Qt::Horizontal, role).toString());
          if (name == "weak_spots.view") continue;  // sentences of measure/live
          for (int row = 0; row < std::min(model.rowCount(), 12); ++row) {
            take(view, model.index(row, column).data(role).toString());
          }
        }
      }
    }
  }

  QStringList data_;
  std::set<QString> seen_;
  std::set<std::string> bypassing_;
};

class DeskTranslation : public testing::Test {
 protected:
  void SetUp() override {
    const QString lupdate = SCANTLING_LUPDATE, lrelease = SCANTLING_LRELEASE;
    if (lupdate.endsWith("NOTFOUND") || lrelease.endsWith("NOTFOUND")) {
      GTEST_SKIP() << "lupdate and lrelease are missing: install the Debian package "
                      "qt6-l10n-tools and configure again.";
    }
    const QString source = SCANTLING_SOURCE, all = scratch_.filePath("all.ts"),
                  bracketed = scratch_.filePath("bracketed.ts");
    run(lupdate, {"-silent", "-locations", "none", "-I", source, "-recursive",
                  source + "/tools/desk", "-ts", all});
    ASSERT_TRUE(write_bracketed(all, bracketed));
    run(lrelease, {"-silent", bracketed, "-qm", scratch_.filePath("scantling_eo.qm")});
    translation_ = desk::find_translation(QLocale(QLocale::Esperanto),
                                          {scratch_.filePath("nowhere"), scratch_.path()});
    ASSERT_NE(translation_, nullptr);
    QApplication::installTranslator(translation_.get());
  }
  static void run(const QString& program, const QStringList& arguments) {
    QProcess process;
    process.setProcessChannelMode(QProcess::MergedChannels);
    process.start(program, arguments);
    ASSERT_TRUE(process.waitForFinished(120000)) << program.toStdString();
    ASSERT_EQ(process.exitCode(), 0) << process.readAll().toStdString();
  }
  QTemporaryDir scratch_;
  std::unique_ptr<QTranslator> translation_;
};

TEST_F(DeskTranslation, ReachesEveryWordOfTheMainWindowAndItsForms) {
  testing_support::DeskDossier dossier(testing_support::make_simulated_shapes().survey);
  QStringList data;
  const auto add = [&data](const std::string& text) {
    if (!text.empty()) data << QString::fromStdString(text);
  };
  {
    ASSERT_TRUE(dossier.wait_for_survey());
    const measure::Dossier& all = dossier.session->dossier();
    add(all.name);
    for (const auto& point : all.points) add(point.name), add(point.kind);
    for (const auto& kind : all.point_kinds) add(kind.name);
    for (const auto& photo : all.photos) add(photo.name), add(photo.file), add(photo.epoch);
    for (const auto& camera : all.cameras) add(camera.name), add(camera.file);
    for (const auto& bar : all.bars) add(bar.name);
    for (const auto& shape : all.shapes) add(shape.name);
    for (const auto& dimension : all.dimensions) add(dimension.name);
    // Sentences of the rooms below the desk: they are the same on the command line.
    for (const auto& result : dossier.session->live()->dimensions) add(result.problem);
    for (const auto& result : dossier.session->live()->forms) add(result.problem);
    for (const auto& point : dossier.session->live()->survey->report().points) add(point.reason);
    for (const auto& photo : dossier.session->live()->survey->report().photos) add(photo.reason);
  }
  const QString folder = QString::fromStdString(dossier.session->folder().string());
  data << folder + '/' << folder << folder.section('/', -1)
       << QStringLiteral(": there is no such file: check the name")  // calib/board
       << QStringLiteral("fx") << QStringLiteral("fy") << QStringLiteral("cx")
       << QStringLiteral("cy");
  dossier.session.reset();

  QSettings settings(scratch_.filePath("settings.ini"), QSettings::IniFormat);
  desk::DeskWindow window(&settings);
  window.resize(1500, 950);
  window.show();
  Words words(data);
  words.look_at(&window);
  ASSERT_TRUE(window.open_dossier(folder)) << window.messages()->text().toStdString();
  const desk::DeskSession& session = *window.session();
  ASSERT_TRUE(QTest::qWaitFor([&] { return session.live()->tested; }, 60000));
  for (const char* form : {"dossier.new", "dossier.photos", "dossier.cameras", "dossier.calibrate",
                           "dossier.original", "dossier.bar", "dimension.distance",
                           "shapes_panel.mirror_plane", "shapes_panel.axes", "show.keys"}) {
    auto* action = window.findChild<QAction*>(form);
    ASSERT_NE(action, nullptr) << form;
    action->trigger();
  }
  using Bench = desk::DeskWindow::Bench;
  for (const Bench bench :
       {Bench::kSightings, Bench::kContactSheet, Bench::kPhoto, Bench::kStand, Bench::kSheets}) {
    window.show_bench(bench);
    for (int side = 0; side < 6; ++side) {
      window.show_side(side);
      QTest::qWait(30);
      words.look_at(&window);
    }
  }
  for (const std::string& text : words.bypassing()) ADD_FAILURE() << text;
  EXPECT_GT(words.seen(), 300u);
}

TEST_F(DeskTranslation, IsNoneWhereNobodyTranslated) {
  EXPECT_EQ(desk::find_translation(QLocale(QLocale::Welsh), {scratch_.path()}), nullptr);
}

}  // namespace
