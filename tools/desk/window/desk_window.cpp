#include "tools/desk/window/desk_window.h"

#include <QApplication>
#include <QCloseEvent>
#include <QDir>
#include <QDragEnterEvent>
#include <QFileDialog>
#include <QGuiApplication>
#include <QHBoxLayout>
#include <QMenuBar>
#include <QMimeData>
#include <QPushButton>
#include <QStatusBar>
#include <QToolButton>
#include <QUrl>
#include <QVBoxLayout>
#include <algorithm>

#include "tools/desk/contact/contact_sheet.h"
#include "tools/desk/forms/add_photos_form.h"
#include "tools/desk/forms/bar_form.h"
#include "tools/desk/forms/calibration_form.h"
#include "tools/desk/forms/cameras_form.h"
#include "tools/desk/forms/dimension_maker.h"
#include "tools/desk/forms/key_list.h"
#include "tools/desk/forms/new_dossier_form.h"
#include "tools/desk/forms/original_form.h"
#include "tools/desk/look/look.h"
#include "tools/desk/photos/photo_pane.h"
#include "tools/desk/photos/photo_store.h"
#include "tools/desk/shapes/shapes_panel.h"
#include "tools/desk/sheets/sheets.h"
#include "tools/desk/sightings/sightings.h"
#include "tools/desk/tables/bars_table.h"
#include "tools/desk/tables/dimensions_table.h"
#include "tools/desk/tables/marks_table.h"
#include "tools/desk/tables/points_table.h"
#include "tools/desk/tables/tolerance.h"
#include "tools/desk/tables/unit_switch.h"
#include "tools/desk/tables/weak_spots_panel.h"
#include "tools/desk/window/status_line.h"

namespace desk {
namespace {

constexpr std::size_t kPhotoMemory = std::size_t{1536} << 20;
constexpr int kRecentCount = 8;
constexpr int kBenches = 5;

QString text(const std::string& words) { return QString::fromStdString(words); }

std::vector<std::filesystem::path> dropped_files(const QMimeData* data) {
  std::vector<std::filesystem::path> files;
  for (const QUrl& url : data->urls()) {
    if (url.isLocalFile()) files.emplace_back(url.toLocalFile().toStdString());
  }
  return files;
}

}  // namespace

DeskWindow::DeskWindow(QSettings* settings, QWidget* parent)
    : QMainWindow(parent), settings_(settings), keys_(new KeyBook(settings, this)) {
  setObjectName("desk");
  setAcceptDrops(true);
  setWindowTitle(tr("Scantling desk"));
  auto* middle = new QWidget;
  auto* column = new QVBoxLayout(middle);
  column->setContentsMargins(0, 0, 0, 0);
  column->setSpacing(0);
  messages_ = new MessageBar(middle);
  column->addWidget(messages_);
  pages_ = new QStackedWidget;
  start_ = new StartPage;
  pages_->addWidget(start_);
  column->addWidget(pages_, 1);
  setCentralWidget(middle);

  survey_line_ = new QLabel;
  survey_line_->setObjectName("status.survey");
  survey_line_->setTextInteractionFlags(Qt::TextSelectableByMouse);
  survey_line_->setSizePolicy(QSizePolicy::Ignored, QSizePolicy::Preferred);
  saved_line_ = new QLabel;
  saved_line_->setObjectName("status.saved");
  statusBar()->addWidget(survey_line_, 1);
  statusBar()->addPermanentWidget(saved_line_);

  connect(start_, &StartPage::open_asked, this, &DeskWindow::ask_open);
  connect(start_, &StartPage::recent_asked, this, &DeskWindow::open_dossier);
  keep_timer_.setSingleShot(true);
  keep_timer_.setInterval(400);
  connect(&keep_timer_, &QTimer::timeout, this, &DeskWindow::keep_place);

  make_menus();
  const bool system_is_dark = QGuiApplication::palette().color(QPalette::Window).lightness() < 128;
  set_palette(settings_->value("palette", system_is_dark ? "dark" : "light").toString());
  resize(1440, 900);
  restoreGeometry(settings_->value("window/geometry").toByteArray());
  fill_recent();
  follow_history();
}

DeskWindow::~DeskWindow() { close_dossier(); }

QAction* DeskWindow::add_action(QMenu* menu, const QString& place, const QString& id,
                                const QString& words, const QString& tip, const QKeySequence& key,
                                std::function<void()> what, bool needs_dossier) {
  QAction* action = keys_->add_everywhere(this, place, id, words, tip, key, std::move(what));
  menu->addAction(action);
  if (needs_dossier) dossier_actions_.push_back(action);
  return action;
}

void DeskWindow::make_menus() {
  const QString place = tr("Everywhere");
  QMenu* dossier = menuBar()->addMenu(tr("&Dossier"));
  const auto show_new = [this] {
    auto* form = new NewDossierForm(this);
    form->setAttribute(Qt::WA_DeleteOnClose);
    connect(form, &NewDossierForm::made, this,
            [this](const std::filesystem::path& folder) { open_dossier(text(folder.string())); });
    form->show();
  };
  connect(start_, &StartPage::new_asked, this, show_new);
  add_action(dossier, place, "dossier.new", tr("&New …"), tr("Make a new dossier"),
             QKeySequence::New, show_new, false);
  add_action(
      dossier, place, "dossier.open", tr("&Open …"), tr("Open the folder of a dossier"),
      QKeySequence::Open, [this] { ask_open(); }, false);
  recent_menu_ = dossier->addMenu(tr("Open &last"));
  add_action(dossier, place, "dossier.save", tr("&Save"),
             tr("Fold all edits into dossier.json; they are safe in the journal before"),
             QKeySequence::Save, [this] {
               session_->save_soon(this, [this](bool done) {
                 if (!done) return;
                 messages_->say(tr("Saved: dossier.json holds all edits."),
                                MessageBar::Kind::kNote);
               });
             });
  add_action(dossier, place, "dossier.close", tr("&Close"), tr("Close the dossier"),
             QKeySequence(Qt::CTRL | Qt::Key_W), [this] { close_dossier(); });
  dossier->addSeparator();
  add_action(dossier, place, "dossier.photos", tr("Add &photographs …"),
             tr("Add photographs or folders of them"), QKeySequence(Qt::CTRL | Qt::Key_P),
             [this] { add_photos({}); });
  add_action(dossier, place, "dossier.cameras", tr("&Lens and body …"),
             tr("The cameras: how they are used, and which photos they took"),
             QKeySequence(Qt::CTRL | Qt::Key_L), [this] {
               if (!cameras_form_) {
                 cameras_form_ = new CamerasForm(session_.get(), this);
                 connect(cameras_form_, &CamerasForm::calibration_wanted, this, [this] {
                   if (QAction* action = findChild<QAction*>("dossier.calibrate"))
                     action->trigger();
                 });
               }
               show_form(cameras_form_);
             });
  add_action(dossier, place, "dossier.calibrate", tr("Calibrate a c&amera …"),
             tr("Solve a camera from photographs of a checkerboard"),
             QKeySequence(Qt::CTRL | Qt::Key_K), [this] {
               if (!calibration_form_)
                 calibration_form_ = new CalibrationForm(session_.get(), this);
               show_form(calibration_form_);
             });
  add_action(dossier, place, "dossier.original", tr("&Original and scales …"),
             tr("Name, ratios, temperature and material of the original"),
             QKeySequence(Qt::CTRL | Qt::Key_I), [this] {
               if (!original_form_) original_form_ = new OriginalForm(session_.get(), this);
               original_form_->show_dossier();
               show_form(original_form_);
             });
  add_action(dossier, place, "dossier.bar", tr("Add a scale &bar …"),
             tr("A known length between two points, in mm or inches"),
             QKeySequence(Qt::CTRL | Qt::Key_B), [this] {
               if (!bar_form_) bar_form_ = new BarForm(session_.get(), this);
               bar_form_->begin();
               show_form(bar_form_);
             });
  dossier->addSeparator();
  add_action(dossier, place, "dossier.sheets", tr("S&heets for the workshop …"),
             tr("Dimension sheet, templates and data: see them, write them"),
             QKeySequence(Qt::CTRL | Qt::Key_H), [this] { show_bench(Bench::kSheets); });
  dossier->addSeparator();
  add_action(
      dossier, place, "quit", tr("&Quit"), tr("Close the desk"), QKeySequence::Quit,
      [this] { close(); }, false);

  QMenu* edit = menuBar()->addMenu(tr("&Edit"));
  undo_ = add_action(edit, place, "edit.undo", tr("&Undo"), tr("Take back the last edit"),
                     QKeySequence::Undo, [this] { session_->undo(); });
  redo_ = add_action(edit, place, "edit.redo", tr("&Redo"), tr("Make the edit again"),
                     QKeySequence(Qt::CTRL | Qt::SHIFT | Qt::Key_Z), [this] { session_->redo(); });
  edit->addSeparator();
  QMenu* ask = edit->addMenu(tr("&Ask for a dimension"));
  const std::tuple<const char*, QString, MadeKind, Qt::Key> kinds[] = {
      {"dimension.distance", tr("&Distance of two points"), MadeKind::kDistance, Qt::Key_F5},
      {"dimension.along", tr("Distance &along an axis"), MadeKind::kAlong, Qt::Key_F6},
      {"dimension.angle", tr("A&ngle at a point"), MadeKind::kAngle, Qt::Key_F7},
      {"dimension.offset_line", tr("Offset from a &line"), MadeKind::kOffsetLine, Qt::Key_F8},
      {"dimension.offset_plane", tr("Offset from a &plane"), MadeKind::kOffsetPlane, Qt::Key_F9}};
  for (const auto& [id, words, kind, key] : kinds) {
    add_action(ask, place, id, words, tr("Pick its points in any view"), QKeySequence(key),
               [this, kind = kind] { dimension_maker_->begin(kind); });
  }

  QMenu* show = menuBar()->addMenu(tr("&Show"));
  const std::tuple<const char*, QString, QString, Bench, Qt::Key> benches[] = {
      {"show.sightings", tr("&Sightings"), tr("The chosen point in all photos"), Bench::kSightings,
       Qt::Key_1},
      {"show.contact_sheet", tr("&Contact sheet"), tr("All photos"), Bench::kContactSheet,
       Qt::Key_2},
      {"show.photo", tr("&Photo"), tr("The chosen photo, with the survey drawn into it"),
       Bench::kPhoto, Qt::Key_3},
      {"show.stand", tr("&On its stand"), tr("The original in space"), Bench::kStand, Qt::Key_4},
      {"show.sheets", tr("S&heets"), tr("What leaves for the workshop"), Bench::kSheets,
       Qt::Key_5}};
  for (const auto& [id, words, tip, bench, key] : benches) {
    add_action(show, place, id, words, tip, QKeySequence(Qt::CTRL | key),
               [this, bench = bench] { show_bench(bench); });
  }
  show->addSeparator();
  unit_menu_ = show->addMenu(tr("&Unit"));
  auto* units = new QActionGroup(this);
  const std::pair<const char*, QString> words_of_units[] = {
      {"mm", tr("Millimetres")},
      {"cm", tr("Centimetres")},
      {"m", tr("Metres")},
      {"in", tr("Inches")},
      {"in-fraction", tr("Inches and fractions")},
      {"ft-in", tr("Feet and inches")}};
  for (const auto& [word, words] : words_of_units) {
    QAction* action = unit_menu_->addAction(words);
    action->setCheckable(true);
    action->setData(QString(word));
    units->addAction(action);
    connect(action, &QAction::triggered, this, [this, word = std::string(word)] {
      if (session_) session_->set_unit(*measure::parse_text_unit(word));
    });
  }
  show->addSeparator();
  add_action(
      show, place, "show.palette", tr("&Light or dark"), tr("Change the palette"),
      QKeySequence(Qt::CTRL | Qt::Key_D),
      [this] { set_palette(settings_->value("palette").toString() == "dark" ? "light" : "dark"); },
      false);
  add_action(
      show, place, "show.keys", tr("All &keys …"), tr("Every key of the desk; change them"),
      QKeySequence(Qt::Key_F1),
      [this] {
        if (!key_list_) {
          key_list_ = new KeyList(keys_, this);
          key_list_->setWindowFlag(Qt::Window);
          key_list_->setWindowTitle(tr("Keys"));
          key_list_->resize(640, 720);
        }
        show_form(key_list_);
      },
      false);
}

void DeskWindow::show_form(QWidget* form) {
  form->show();
  form->raise();
  form->activateWindow();
}

void DeskWindow::ask_open() {
  auto* dialog = new QFileDialog(this, tr("Open the folder of a dossier"),
                                 settings_->value("last_folder").toString());
  dialog->setFileMode(QFileDialog::Directory);
  dialog->setOption(QFileDialog::ShowDirsOnly);
  dialog->setAttribute(Qt::WA_DeleteOnClose);
  connect(dialog, &QFileDialog::fileSelected, this, &DeskWindow::open_dossier);
  dialog->open();
}

bool DeskWindow::open_dossier(const QString& folder) {
  auto session = DeskSession::open(QDir(folder).absolutePath().toStdString());
  if (!session) {
    messages_->say(text(session.error().sentence), MessageBar::Kind::kRefused);
    return false;
  }
  close_dossier();
  session_ = std::move(*session);
  store_ = std::make_unique<PhotoStore>(kPhotoMemory);
  make_views();
  connect_views();
  restore_place();
  prepare_photos();
  pages_->setCurrentWidget(holder_);
  setWindowTitle(text(session_->dossier().name) + tr(" — Scantling desk") +
                 (session_->read_only_reason().isEmpty() ? QString() : tr(" (read only)")));
  if (!session_->read_only_reason().isEmpty()) {
    messages_->say(session_->read_only_reason(), MessageBar::Kind::kStanding);
  } else if (!session_->recovery_sentence().isEmpty()) {
    messages_->say(session_->recovery_sentence(), MessageBar::Kind::kStanding);
  } else {
    messages_->hide();
  }

  QStringList recent = settings_->value("recent").toStringList();
  const QString absolute = QDir(folder).absolutePath();
  recent.removeAll(absolute);
  recent.prepend(absolute);
  while (recent.size() > kRecentCount) recent.removeLast();
  settings_->setValue("recent", recent);
  settings_->setValue("last_folder", QFileInfo(absolute).absolutePath());
  fill_recent();
  follow_history();
  follow_survey();
  return true;
}

void DeskWindow::close_dossier() {
  if (!session_) return;
  session_->finish_edits();
  keep_place();
  for (QWidget* form : std::initializer_list<QWidget*>{
           add_photos_form_, bar_form_, calibration_form_, cameras_form_, original_form_}) {
    delete form;
  }
  pages_->setCurrentWidget(start_);
  delete holder_;  // the views, before what they show
  holder_ = nullptr;
  sightings_ = nullptr;
  contact_sheet_ = nullptr;
  photo_pane_ = nullptr;
  stand_ = nullptr;
  sheets_ = nullptr;
  dimension_maker_ = nullptr;
  weak_spots_ = nullptr;
  shapes_ = nullptr;
  tolerance_ = nullptr;
  if (session_->read_only_reason().isEmpty()) session_->save();
  prepared_.clear();
  store_.reset();
  session_.reset();
  setWindowTitle(tr("Scantling desk"));
  fill_recent();
  follow_history();
  survey_line_->clear();
}

void DeskWindow::make_views() {
  holder_ = new QWidget;
  auto* column = new QVBoxLayout(holder_);
  column->setContentsMargins(6, 4, 6, 0);
  column->setSpacing(4);

  auto* head = new QHBoxLayout;
  bench_buttons_ = new QButtonGroup(holder_);
  const QString names[] = {tr("Sightings"), tr("Contact sheet"), tr("Photo"), tr("On its stand"),
                           tr("Sheets")};
  const char* ids[] = {"show.sightings", "show.contact_sheet", "show.photo", "show.stand",
                       "show.sheets"};
  for (int b = 0; b < kBenches; ++b) {
    auto* button = new QPushButton(names[b]);
    button->setCheckable(true);
    button->setFlat(true);
    button->setObjectName(QString("bench.%1").arg(b));
    if (QAction* action = findChild<QAction*>(ids[b])) button->setToolTip(action->toolTip());
    bench_buttons_->addButton(button, b);
    head->addWidget(button);
  }
  bench_buttons_->button(0)->setChecked(true);
  head->addStretch(1);
  auto* unit_label = new QLabel(tr("Unit"));
  auto* unit = new UnitSwitch(session_.get());
  unit_label->setBuddy(unit);
  head->addWidget(unit_label);
  head->addWidget(unit);
  column->addLayout(head);

  benches_ = new QStackedWidget;
  contact_sheet_ = new ContactSheet(session_.get(), store_.get(), keys_);  // enters the photos
  sightings_ = new Sightings(session_.get(), store_.get(), keys_);
  photo_pane_ = new PhotoPane(session_.get(), store_.get(), keys_);
  const bool has_gl = QGuiApplication::platformName() != "offscreen" &&
                      QGuiApplication::platformName() != "minimal";
  stand_ = new StandView(session_.get(), keys_,
                         has_gl ? StandView::Surface::kOpenGl : StandView::Surface::kPlain);
  benches_->addWidget(sightings_);
  benches_->addWidget(contact_sheet_);
  benches_->addWidget(photo_pane_);
  benches_->addWidget(stand_);

  tolerance_ = new Tolerance(holder_);
  sheets_ = new Sheets(session_.get(), keys_, tolerance_);
  benches_->addWidget(sheets_);
  side_ = new QTabWidget;
  side_->setObjectName("side");
  side_->setDocumentMode(true);
  auto* dimensions = new DimensionsTable(session_.get(), keys_, tolerance_);
  side_->addTab(dimensions, tr("Dimensions"));
  auto* points = new PointsTable(session_.get(), keys_);
  side_->addTab(points, tr("Points"));
  side_->addTab(new MarksTable(session_.get(), keys_), tr("Marks"));
  side_->addTab(new BarsTable(session_.get(), keys_), tr("Scale bars"));
  weak_spots_ = new WeakSpotsPanel(session_.get(), keys_, tolerance_);
  side_->addTab(weak_spots_, tr("Weak spots"));
  shapes_ = new ShapesPanel(session_.get(), keys_, [points] { return points->selected_keys(); });
  side_->addTab(shapes_, tr("Edges and rounds"));
  dimension_maker_ = new DimensionMaker(session_.get());
  dimension_maker_->hide();
  auto* side_holder = new QWidget;
  auto* side_column = new QVBoxLayout(side_holder);
  side_column->setContentsMargins(0, 0, 0, 0);
  side_column->addWidget(side_, 1);
  side_column->addWidget(dimension_maker_);

  splitter_ = new QSplitter(Qt::Horizontal);
  splitter_->setObjectName("splitter");
  splitter_->addWidget(benches_);
  splitter_->addWidget(side_holder);
  splitter_->setStretchFactor(0, 3);
  splitter_->setStretchFactor(1, 1);
  splitter_->setSizes({880, 560});
  column->addWidget(splitter_, 1);
  pages_->addWidget(holder_);
}

/// The first sight of a photo costs its decoding: begun at once, while the person looks around.
void DeskWindow::prepare_photos() {
  for (const measure::Photo& photo : session_->dossier().photos) {
    if (prepared_.insert(photo.name).second) store_->prepare(photo.name);
  }
}

void DeskWindow::connect_views() {
  DeskSession* session = session_.get();
  connect(bench_buttons_, &QButtonGroup::idClicked, this,
          [this](int id) { show_bench(static_cast<Bench>(id)); });
  connect(session, &DeskSession::refused, this, [this](const QString& sentence) {
    messages_->say(sentence, MessageBar::Kind::kRefused);
  });
  connect(session, &DeskSession::history_changed, this, &DeskWindow::follow_history);
  connect(session, &DeskSession::dossier_changed, this, &DeskWindow::follow_survey);
  connect(session, &DeskSession::dossier_changed, this, &DeskWindow::prepare_photos);
  connect(session, &DeskSession::live_changed, this, &DeskWindow::follow_survey);
  connect(session, &DeskSession::unit_changed, this, &DeskWindow::follow_history);
  const auto soon = [this] { keep_timer_.start(); };
  connect(session, &DeskSession::point_chosen, this, soon);
  connect(session, &DeskSession::photo_chosen, this, soon);
  connect(session, &DeskSession::dimension_chosen, this, soon);
  connect(session, &DeskSession::unit_changed, this, soon);

  connect(sightings_, &Sightings::photo_opened, this, &DeskWindow::open_photo);
  connect(sightings_, &Sightings::said, this,
          [this](const QString& sentence) { messages_->say(sentence, MessageBar::Kind::kNote); });
  connect(sightings_, &Sightings::ways_changed, this, soon);
  // Dark photographs are dark everywhere.
  connect(sightings_, &Sightings::tone_changed, photo_pane_, &PhotoPane::set_tone);
  connect(photo_pane_, &PhotoPane::tone_changed, sightings_, &Sightings::set_tone);
  connect(contact_sheet_, &ContactSheet::photo_opened, this, &DeskWindow::open_photo);
  connect(contact_sheet_, &ContactSheet::files_dropped, this, &DeskWindow::add_photos);
  connect(stand_, &StandView::photo_opened, this, &DeskWindow::open_photo);
  connect(weak_spots_, &WeakSpotsPanel::camera_wanted, this,
          [this](const Eigen::Vector3d& position, const Eigen::Vector3d& looking_at) {
            stand_->suggest(position, looking_at);
            show_bench(Bench::kStand);
          });
  connect(sheets_, &Sheets::said, this,
          [this](const QString& sentence) { messages_->say(sentence, MessageBar::Kind::kNote); });
  connect(sheets_, &Sheets::choices_changed, this, soon);
  connect(shapes_, &ShapesPanel::marking_wanted, this, [this] { show_bench(Bench::kPhoto); });
  connect(shapes_, &ShapesPanel::said, this,
          [this](const QString& sentence) { messages_->say(sentence, MessageBar::Kind::kNote); });
  connect(dimension_maker_, &DimensionMaker::made, this, [this](const std::string& dimension) {
    side_->setCurrentIndex(0);
    session_->choose_dimension(dimension);
  });
}

DeskWindow::Bench DeskWindow::bench() const {
  return benches_ ? static_cast<Bench>(benches_->currentIndex()) : Bench::kSightings;
}

void DeskWindow::show_bench(Bench bench) {
  if (!benches_) return;
  const int index = static_cast<int>(bench);
  benches_->setCurrentIndex(index);
  bench_buttons_->button(index)->setChecked(true);
  switch (bench) {
    case Bench::kSightings:
      sightings_->focus_view();
      break;
    case Bench::kContactSheet:
      contact_sheet_->list()->setFocus();
      break;
    case Bench::kPhoto:
      photo_pane_->setFocus();
      break;
    case Bench::kStand:
      stand_->setFocus();
      break;
    case Bench::kSheets:
      sheets_->setFocus();
      break;
  }
  keep_timer_.start();
}

void DeskWindow::open_photo(const std::string& photo) {
  session_->choose_photo(photo);
  show_bench(Bench::kPhoto);
  if (session_->mark_at(photo, session_->chosen_point())) {
    photo_pane_->look_at(session_->chosen_point());
  }
}

void DeskWindow::add_photos(const std::vector<std::filesystem::path>& files) {
  if (!add_photos_form_) {
    add_photos_form_ = new AddPhotosForm(session_.get(), this);
    connect(add_photos_form_, &AddPhotosForm::camera_wanted, this, [this] {
      if (QAction* action = findChild<QAction*>("dossier.cameras")) action->trigger();
    });
    connect(add_photos_form_, &AddPhotosForm::added, this,
            [this] { show_bench(Bench::kContactSheet); });
  }
  if (!files.empty()) add_photos_form_->add(files);
  show_form(add_photos_form_);
}

void DeskWindow::dragEnterEvent(QDragEnterEvent* event) {
  if (event->mimeData()->hasUrls()) event->acceptProposedAction();
}

void DeskWindow::dropEvent(QDropEvent* event) {
  const auto files = dropped_files(event->mimeData());
  if (files.empty()) return;
  event->acceptProposedAction();
  if (files.size() == 1 && std::filesystem::exists(files.front() / "dossier.json")) {
    open_dossier(text(files.front().string()));
  } else if (session_) {
    add_photos(files);
  } else {
    messages_->say(tr("Open or make a dossier first: photographs are added to one."),
                   MessageBar::Kind::kRefused);
  }
}

void DeskWindow::follow_history() {
  for (QAction* action : dossier_actions_) action->setEnabled(session_ != nullptr);
  unit_menu_->setEnabled(session_ != nullptr);
  const QString undo = session_ ? session_->undo_text() : QString();
  const QString redo = session_ ? session_->redo_text() : QString();
  undo_->setText(undo.isEmpty() ? tr("&Undo") : tr("&Undo: %1").arg(undo));
  redo_->setText(redo.isEmpty() ? tr("&Redo") : tr("&Redo: %1").arg(redo));
  undo_->setEnabled(!undo.isEmpty());
  redo_->setEnabled(!redo.isEmpty());
  if (!session_) {
    saved_line_->clear();
    return;
  }
  const std::size_t unsaved = session_->unsaved();
  saved_line_->setText(!session_->read_only_reason().isEmpty() ? tr("read only")
                       : unsaved == 0                          ? tr("saved")
                                      : tr("edits in the journal: %1").arg(unsaved));
  for (QAction* action : unit_menu_->actions()) {
    action->setChecked(measure::parse_text_unit(action->data().toString().toStdString()) ==
                       session_->unit());
  }
}

void DeskWindow::follow_survey() {
  if (!session_) return;
  const QString sentence = survey_sentence(*session_);
  survey_line_->setText(sentence);
  survey_line_->setToolTip(sentence);
}

void DeskWindow::set_palette(const QString& name) {
  QApplication::setPalette(name == "dark" ? dark_palette() : light_palette());
  settings_->setValue("palette", name);
}

void DeskWindow::fill_recent() {
  const QStringList recent = settings_->value("recent").toStringList();
  start_->set_recent(recent);
  recent_menu_->clear();
  for (const QString& folder : recent) {
    recent_menu_->addAction(QDir::toNativeSeparators(folder), this,
                            [this, folder] { open_dossier(folder); });
  }
  recent_menu_->setEnabled(!recent.isEmpty());
}

void DeskWindow::keep_place() {
  if (!session_) return;
  settings_->beginGroup("places");
  settings_->beginGroup(
      QString::fromLatin1(QUrl::toPercentEncoding(text(session_->folder().string()))));
  settings_->setValue("bench", benches_->currentIndex());
  settings_->setValue("side", side_->currentIndex());
  settings_->setValue("point", text(session_->chosen_point()));
  settings_->setValue("photo", text(session_->chosen_photo()));
  settings_->setValue("dimension", text(session_->chosen_dimension()));
  settings_->setValue("unit", static_cast<int>(session_->unit()));
  settings_->setValue("refine_as", static_cast<int>(sightings_->marker().refine_as()));
  QVariantMap patterns;
  for (const auto& [point, photo] : sightings_->marker().patterns()) {
    patterns[text(point)] = text(photo);
  }
  settings_->setValue("patterns", patterns);
  settings_->setValue("sheets", sheets_->kept());
  settings_->setValue("splitter", splitter_->saveState());
  settings_->setValue("tolerance_mm", tolerance_->mm() ? QVariant(*tolerance_->mm()) : QVariant());
  settings_->endGroup();
  settings_->endGroup();
  settings_->setValue("window/geometry", saveGeometry());
  settings_->sync();
}

void DeskWindow::restore_place() {
  settings_->beginGroup("places");
  settings_->beginGroup(
      QString::fromLatin1(QUrl::toPercentEncoding(text(session_->folder().string()))));
  const std::string point = settings_->value("point").toString().toStdString();
  const std::string photo = settings_->value("photo").toString().toStdString();
  const std::string dimension = settings_->value("dimension").toString().toStdString();
  const int bench = settings_->value("bench", session_->dossier().photos.empty() ? 1 : 0).toInt();
  const int side = settings_->value("side", 0).toInt();
  const int unit = settings_->value("unit", 0).toInt();
  const QVariant tolerance = settings_->value("tolerance_mm");
  const int refine_as = settings_->value("refine_as", 0).toInt();
  std::map<std::string, std::string> patterns;
  for (const auto& [point_name, photo_name] : settings_->value("patterns").toMap().toStdMap()) {
    patterns[point_name.toStdString()] = photo_name.toString().toStdString();
  }
  splitter_->restoreState(settings_->value("splitter").toByteArray());
  const QVariantMap sheets = settings_->value("sheets").toMap();
  settings_->endGroup();
  settings_->endGroup();
  sheets_->restore(sheets);
  if (unit >= 0 && unit <= static_cast<int>(measure::TextUnit::kFootInch)) {
    session_->set_unit(static_cast<measure::TextUnit>(unit));
  }
  if (refine_as >= 0 && refine_as < kRefineAsCount) {
    sightings_->set_refine_as(static_cast<RefineAs>(refine_as));
  }
  sightings_->marker().set_patterns(std::move(patterns));
  if (tolerance.isValid()) tolerance_->set_mm(tolerance.toDouble());
  if (side >= 0 && side < side_->count()) side_->setCurrentIndex(side);
  if (session_->dossier().find_point(point)) {
    session_->choose_point(point);
  } else if (!session_->dossier().points.empty()) {
    session_->choose_point(session_->dossier().points.front().name);
  }
  if (session_->dossier().find_photo(photo)) {
    session_->choose_photo(photo);
  } else if (!session_->dossier().photos.empty()) {
    session_->choose_photo(session_->dossier().photos.front().name);
  }
  if (!dimension.empty()) session_->choose_dimension(dimension);
  show_bench(static_cast<Bench>(std::clamp(bench, 0, kBenches - 1)));
}

void DeskWindow::closeEvent(QCloseEvent* event) {
  close_dossier();
  event->accept();
}

}  // namespace desk
