#include "tools/desk/forms/calibration_form.h"

#include <QDateTime>
#include <QHeaderView>
#include <QPainter>
#include <QScrollArea>
#include <QSplitter>
#include <QVBoxLayout>
#include <map>

#include "calib/intrinsics/quality_pictures.h"
#include "measure/dimension/camera_text.h"
#include "measure/dimension/quantity_text.h"
#include "measure/edit/name_rules.h"
#include "measure/edit/typed_quantity.h"
#include "measure/intake/camera_intake.h"
#include "measure/intake/file_copies.h"
#include "tools/desk/fields/typed_value.h"

namespace desk {
namespace {

QString q(const std::string& text) { return QString::fromStdString(text); }

calib::Result<std::pair<int, int>, QString> read_inner(const QString& text) {
  QString grid = text.toLower();
  grid.remove(' ').replace(QChar(0x00D7), 'x');  // the multiplication sign
  if (const auto read = measure::parse_grid(grid.toStdString())) return *read;
  return calib::Unexpected(CalibrationForm::tr(
      "Count the inner corners, where four squares meet: columns x rows, like 9 x 6."));
}

}  // namespace

SvgPicture::SvgPicture(const QString& object_name, const QString& empty, QWidget* parent)
    : QWidget(parent), empty_(empty) {
  setObjectName(object_name);
  setMinimumSize(240, 180);
  renderer_.setAspectRatioMode(Qt::KeepAspectRatio);
}

void SvgPicture::show_svg(const std::string& svg) {
  renderer_.load(QByteArray::fromStdString(svg));
  renderer_.setAspectRatioMode(Qt::KeepAspectRatio);
  update();
}

void SvgPicture::paintEvent(QPaintEvent*) {
  QPainter painter(this);
  if (!renderer_.isValid()) {
    painter.setPen(palette().color(QPalette::PlaceholderText));
    painter.drawText(rect().adjusted(16, 16, -16, -16), Qt::AlignCenter | Qt::TextWordWrap, empty_);
    return;
  }
  // Drawn for paper, also in the dark.
  const QSizeF size = QSizeF(renderer_.defaultSize()).scaled(rect().size(), Qt::KeepAspectRatio);
  const QRectF sheet(QPointF((width() - size.width()) / 2, (height() - size.height()) / 2), size);
  painter.fillRect(sheet, Qt::white);
  renderer_.render(&painter, sheet);
}

CalibrationForm::CalibrationForm(DeskSession* session, QWidget* parent)
    : Form(QStringLiteral("calibration"), tr("Calibrate a camera"), tr("Calibrate"), parent),
      session_(session) {
  auto* split = new QSplitter(Qt::Vertical, this);
  split->setChildrenCollapsible(false);
  body()->addWidget(split, 1);
  files_ = new FileList(
      QStringLiteral("calibration.files"),
      tr("Drop 12 to 20 photographs of the checkerboard here, from different sides, tilted, and "
         "filling the corners of the frame; same focus as for the original."),
      split);
  tabs_ = new QTabWidget(split);
  tabs_->setObjectName(QStringLiteral("calibration.tabs"));
  auto* numbers = new QWidget(tabs_);
  auto* numbers_column = new QVBoxLayout(numbers);
  summary_ = new QLabel(tr("Nothing calibrated yet."), numbers);
  summary_->setObjectName(QStringLiteral("calibration.summary"));
  summary_->setWordWrap(true);
  parameters_ = new QTableWidget(0, 3, numbers);
  parameters_->setObjectName(QStringLiteral("calibration.parameters"));
  parameters_->setHorizontalHeaderLabels({tr("parameter"), tr("value ± u"), QString()});
  parameters_->verticalHeader()->hide();
  parameters_->verticalHeader()->setDefaultSectionSize(fontMetrics().height() + 6);
  parameters_->horizontalHeader()->setSectionResizeMode(QHeaderView::ResizeToContents);
  parameters_->horizontalHeader()->setStretchLastSection(true);
  parameters_->setEditTriggers(QAbstractItemView::NoEditTriggers);
  numbers_column->addWidget(summary_);
  numbers_column->addWidget(parameters_, 1);
  auto* scroll = new QScrollArea(tabs_);
  scroll->setWidgetResizable(true);
  scroll->setFrameShape(QFrame::NoFrame);
  warnings_ = new QLabel(scroll);
  warnings_->setObjectName(QStringLiteral("calibration.warnings"));
  warnings_->setWordWrap(true);
  warnings_->setMargin(8);
  warnings_->setAlignment(Qt::AlignTop);
  warnings_->setTextInteractionFlags(Qt::TextSelectableByMouse);
  scroll->setWidget(warnings_);
  coverage_ =
      new SvgPicture(QStringLiteral("calibration.coverage"),
                     tr("Where in the frame corners were found; shown after calibrating."), tabs_);
  residuals_ =
      new SvgPicture(QStringLiteral("calibration.residuals"),
                     tr("What is left over at each corner; shown after calibrating."), tabs_);
  tabs_->addTab(numbers, tr("Result"));
  tabs_->addTab(coverage_, tr("Coverage"));
  tabs_->addTab(residuals_, tr("Residuals"));
  tabs_->addTab(scroll, tr("What would help"));
  split->setStretchFactor(0, 2);
  split->setStretchFactor(1, 3);

  inner_ = new TypedField(
      QStringLiteral("calibration.inner"),
      tr("Inner corners of the checkerboard, where four squares meet: columns x rows"),
      [](const QString& text) -> calib::Result<QString, QString> {
        const auto inner = read_inner(text);
        if (!inner) return calib::Unexpected(inner.error());
        const calib::BoardSpec board{inner->first, inner->second, 1.0};
        if (const auto problem = board.first_problem()) return calib::Unexpected(q(*problem));
        return tr("%1 columns, %2 rows of inner corners").arg(inner->first).arg(inner->second);
      },
      this);
  inner_->edit()->setPlaceholderText(tr("9 x 6"));
  square_ = new TypedField(
      QStringLiteral("calibration.square"),
      tr("Side of a square, measured over many squares and divided; with unit"),
      [session](const QString& text) -> calib::Result<QString, QString> {
        const auto length = typed_length_mm(text, session->unit());
        if (!length) return calib::Unexpected(length.error());
        const calib::BoardSpec board{9, 6, *length};
        if (const auto problem = board.first_problem()) return calib::Unexpected(q(*problem));
        return length_reading(*length, session->unit());
      },
      this);
  square_->edit()->setPlaceholderText(tr("25 mm"));
  name_ = new TypedField(
      QStringLiteral("calibration.name"),
      tr("Of the camera: body, lens and focus setting; a camera of the dossier with this name gets "
         "the new calibration"),
      [session](const QString& text) -> calib::Result<QString, QString> {
        const auto problem = measure::name_problem(text.toStdString(), "camera");
        if (problem) return calib::Unexpected(q(*problem));
        if (session->dossier().find_camera(text.toStdString())) {
          return tr("The dossier has this camera: saving gives it the new calibration.");
        }
        return QString();
      },
      this);
  add_row(tr("Inner corners"), inner_);
  add_row(tr("Square"), square_);
  add_row(tr("Name"), name_);
  auto* work = new QHBoxLayout;
  progress_ = new QProgressBar(this);
  progress_->setObjectName(QStringLiteral("calibration.progress"));
  cancel_ = new QPushButton(tr("Cancel"), this);
  cancel_->setObjectName(QStringLiteral("calibration.cancel"));
  cancel_->setAutoDefault(false);
  cancel_->setToolTip(tr("Stop; no camera is made  [Esc]"));
  save_ = new QPushButton(tr("Save and enter into the dossier"), this);
  save_->setObjectName(QStringLiteral("calibration.save"));
  save_->setAutoDefault(false);
  save_->setToolTip(tr("Writes the camera file into the dossier's folder cameras"));
  work->addWidget(progress_, 1);
  work->addWidget(cancel_);
  work->addWidget(save_);
  body()->addLayout(work);
  progress_->hide();
  cancel_->hide();
  connect(cancel_, &QPushButton::clicked, this, [this] { reject(); });
  connect(save_, &QPushButton::clicked, this, &CalibrationForm::save);
  connect(files_, &FileList::changed, this, &CalibrationForm::follow);
  follow();
  resize(760, 800);
}

void CalibrationForm::follow() {
  deed()->setEnabled(!busy() && !files_->files().empty());
  save_->setEnabled(!busy() && result_ != nullptr);
}

void CalibrationForm::act() {
  if (busy() || files_->files().empty() || !check_fields()) return;
  const auto inner = read_inner(inner_->text());
  const auto square = typed_length_mm(square_->text(), session_->unit());
  const calib::BoardSpec board{inner->first, inner->second, *square};
  calib::CalibrateOptions options;
  options.camera_name = name_->text().toStdString();
  options.date = QDateTime::currentDateTimeUtc().toString(Qt::ISODate).toStdString();
  const auto files = files_->files();
  result_ = nullptr;
  files_->set_locked(true);
  for (const auto& file : files) files_->set_state(file, tr("waits"));
  progress_->setRange(0, static_cast<int>(files.size()));
  progress_->setValue(0);
  progress_->show();
  cancel_->show();
  sentence()->say(tr("Looking for the board …"));
  background_.run([this, files, board, options](const Background::Job& job) -> Background::Finish {
    std::map<std::string, std::filesystem::path> by_name;
    for (const auto& file : files) by_name[file.filename().string()] = file;
    auto calibration =
        std::make_shared<calib::Result<calib::Calibration, calib::Problem>>(calib::calibrate(
            files, board, options,
            [&](const calib::CalibrateProgress& step) {
              job.post([this, step, file = by_name[step.file]] {
                progress_->setValue(step.done);
                files_->set_state(file, step.found ? tr("board found") : q(step.reason),
                                  !step.found);
                if (step.done == step.total) sentence()->say(tr("Solving the camera …"));
              });
            },
            [&] { return job.cancelled(); }));
    return [this, calibration, by_name] {
      stop();
      if (!*calibration) {
        sentence()->say_problem(q(calibration->error().sentence));
        return;
      }
      result_ = std::make_shared<const calib::Calibration>(std::move(**calibration));
      for (const calib::CalibrationPhoto& photo : result_->camera.photos) {
        const auto at = by_name.find(photo.file);
        if (at == by_name.end()) continue;
        files_->set_state(at->second,
                          photo.used
                              ? tr("used, rms %1 px").arg(photo.rms_px.value_or(0), 0, 'f', 3)
                              : q(photo.reason),
                          !photo.used);
      }
      show_result();
      follow();
      Q_EMIT finished_calibration();
    };
  });
  follow();
}

void CalibrationForm::stop() {
  background_.cancel();
  progress_->hide();
  cancel_->hide();
  files_->set_locked(false);
  sentence()->say({});
  follow();
}

void CalibrationForm::reject() {
  if (busy()) {
    stop();
    for (const auto& file : files_->files()) files_->set_state(file, {});
    sentence()->say(tr("Cancelled: no camera was made."));
  } else {
    Form::reject();
  }
}

void CalibrationForm::show_result() {
  const calib::Camera& camera = result_->camera;
  int used = 0;
  for (const calib::CalibrationPhoto& photo : camera.photos) used += photo.used ? 1 : 0;
  QString summary = tr("%1 of %2 photos used · rms %3 px · sigma0 %4 · redundancy %5")
                        .arg(used)
                        .arg(camera.photos.size())
                        .arg(camera.rms_px, 0, 'f', 3)
                        .arg(camera.sigma0, 0, 'f', 2)
                        .arg(camera.redundancy);
  if (camera.board && camera.board->flatness_mm && camera.board->flatness_u_mm) {
    summary += tr(" · board flat to %1 (k = 2)")
                   .arg(q(measure::length_text(*camera.board->flatness_mm,
                                               2 * *camera.board->flatness_u_mm, session_->unit())
                              .joined()));
  }
  summary_->setText(summary);
  const auto texts = measure::parameter_texts(camera);
  parameters_->setRowCount(static_cast<int>(texts.size()));
  for (std::size_t i = 0; i < texts.size(); ++i) {
    int column = 0;
    for (const QString& text : {q(texts[i].name), q(texts[i].value),
                                texts[i].held ? tr("held, not determined here") : QString()}) {
      parameters_->setItem(static_cast<int>(i), column++, new QTableWidgetItem(text));
    }
  }
  coverage_->show_svg(calib::coverage_picture(result_->solution));
  residuals_->show_svg(calib::residual_picture(result_->solution));
  QString warnings;
  for (const std::string& sentence : camera.warnings)
    warnings += QStringLiteral("▲ ") + q(sentence) + QStringLiteral("\n\n");
  warnings_->setText(warnings.isEmpty() ? tr("Nothing: the photos determine this camera well.")
                                        : warnings);
  tabs_->setTabText(3, camera.warnings.empty()
                           ? tr("What would help")
                           : tr("▲ What would help (%1)").arg(camera.warnings.size()));
  sentence()->say_done(tr("Calibrated. Look at coverage and residuals, then save."));
}

void CalibrationForm::save() {
  if (!result_) return;
  if (!session_->read_only_reason().isEmpty()) {
    sentence()->say_problem(session_->read_only_reason());
    return;
  }
  calib::Camera camera = result_->camera;
  if (!name_->check()) return;
  camera.name = name_->text().toStdString();
  sentence()->say(tr("Writing the camera file …"));
  background_.run([this, camera, folder = session_->folder(),
                   dossier = session_->dossier()](const Background::Job&) -> Background::Finish {
    const auto copies = std::make_shared<measure::FileCopies>();
    const auto edit = measure::enter_calibrated_camera(folder, dossier, camera, *copies);
    if (!edit) {
      return [this, problem = edit.error()] {
        stop();
        sentence()->say_problem(q(problem.sentence));
      };
    }
    return [this, copies, edit = *edit, name = camera.name] {
      stop();
      if (!change(session_, edit)) return;
      copies->keep();
      name_->judge_again();
      sentence()->say_done(tr("Camera \"%1\" is in the dossier.").arg(q(name)));
      Q_EMIT camera_entered(name);
    };
  });
  follow();
}

}  // namespace desk
