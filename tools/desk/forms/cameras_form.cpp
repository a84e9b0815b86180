#include "tools/desk/forms/cameras_form.h"

#include <QFileDialog>
#include <QHeaderView>
#include <QSplitter>
#include <QVBoxLayout>
#include <cmath>

#include "measure/dimension/camera_text.h"
#include "measure/intake/camera_intake.h"
#include "measure/intake/file_copies.h"

namespace desk {
namespace {

QString q(const std::string& text) { return QString::fromStdString(text); }

QString use_text(measure::CameraUse use) {
  switch (use) {
    case measure::CameraUse::kFixed:
      return CamerasForm::tr("as calibrated, taken as exact");
    case measure::CameraUse::kPrior:
      return CamerasForm::tr("as calibrated, within its u");
    case measure::CameraUse::kSelfCalibrated:
      return CamerasForm::tr("solved by the survey");
  }
  return {};
}

constexpr measure::CameraUse kUses[] = {measure::CameraUse::kFixed, measure::CameraUse::kPrior,
                                        measure::CameraUse::kSelfCalibrated};

}  // namespace

CamerasForm::CamerasForm(DeskSession* session, QWidget* parent)
    : Form(QStringLiteral("cameras"), tr("Lens and body"), tr("Calibrate …"), parent),
      session_(session) {
  deed()->setToolTip(tr("Make a camera from photographs of a checkerboard"));
  auto* split = new QSplitter(Qt::Horizontal, this);
  body()->addWidget(split, 1);

  auto* left = new QWidget(split);
  auto* left_column = new QVBoxLayout(left);
  left_column->setContentsMargins(0, 0, 0, 0);
  cameras_ = new QTreeWidget(left);
  cameras_->setObjectName(QStringLiteral("cameras.list"));
  cameras_->setRootIsDecorated(false);
  cameras_->setHeaderLabels({tr("camera"), tr("photos")});
  cameras_->header()->setStretchLastSection(false);
  cameras_->header()->setSectionResizeMode(0, QHeaderView::Stretch);
  cameras_->header()->setSectionResizeMode(1, QHeaderView::ResizeToContents);
  empty_ = new QLabel(tr("No camera yet. Calibrate one from photographs of a checkerboard, or "
                         "choose a camera file."),
                      left);
  empty_->setObjectName(QStringLiteral("cameras.empty"));
  empty_->setWordWrap(true);
  choose_ = new QPushButton(tr("Choose a camera file …"), left);
  choose_->setObjectName(QStringLiteral("cameras.choose"));
  choose_->setAutoDefault(false);
  replace_ = new QPushButton(tr("Replace its file …"), left);
  replace_->setObjectName(QStringLiteral("cameras.replace"));
  replace_->setAutoDefault(false);
  replace_->setToolTip(tr("The same lens and body, calibrated anew"));
  left_column->addWidget(cameras_, 1);
  left_column->addWidget(empty_);
  left_column->addWidget(choose_);
  left_column->addWidget(replace_);

  auto* right = new QWidget(split);
  auto* right_column = new QVBoxLayout(right);
  right_column->setContentsMargins(0, 0, 0, 0);
  about_ = new QLabel(right);
  about_->setObjectName(QStringLiteral("cameras.about"));
  about_->setWordWrap(true);
  auto* use_line = new QHBoxLayout;
  auto* use_words = new QLabel(tr("The survey takes it"), right);
  use_ = new QComboBox(right);
  use_->setObjectName(QStringLiteral("cameras.use"));
  use_->setToolTip(
      tr("Within its u is right for nearly every survey: the covariance of the "
         "calibration then goes into every U"));
  for (const measure::CameraUse use : kUses) use_->addItem(use_text(use));
  use_words->setBuddy(use_);
  use_line->addWidget(use_words);
  use_line->addWidget(use_, 1);
  parameters_ = new QTableWidget(right);
  parameters_->setObjectName(QStringLiteral("cameras.parameters"));
  parameters_->setColumnCount(3);
  parameters_->setHorizontalHeaderLabels({tr("parameter"), tr("calibrated ± u"), tr("survey ± u")});
  parameters_->verticalHeader()->hide();
  parameters_->verticalHeader()->setDefaultSectionSize(fontMetrics().height() + 6);
  parameters_->horizontalHeader()->setSectionResizeMode(QHeaderView::ResizeToContents);
  parameters_->horizontalHeader()->setStretchLastSection(true);
  parameters_->setEditTriggers(QAbstractItemView::NoEditTriggers);
  parameters_->setSelectionBehavior(QAbstractItemView::SelectRows);
  parameters_->setToolTip(
      tr("Standard uncertainties; focal lengths and principal point in pixels"));
  photos_ = new QTreeWidget(right);
  photos_->setObjectName(QStringLiteral("cameras.photos"));
  photos_->setRootIsDecorated(false);
  photos_->setHeaderLabels({tr("photo"), tr("pixels"), tr("camera")});
  photos_->setSelectionMode(QAbstractItemView::ExtendedSelection);
  assign_ = new QPushButton(tr("These photos were taken with this camera"), right);
  assign_->setObjectName(QStringLiteral("cameras.assign"));
  assign_->setAutoDefault(false);
  right_column->addWidget(about_);
  right_column->addLayout(use_line);
  right_column->addWidget(parameters_, 3);
  right_column->addWidget(photos_, 2);
  right_column->addWidget(assign_);
  split->setStretchFactor(0, 1);
  split->setStretchFactor(1, 2);

  connect(cameras_, &QTreeWidget::currentItemChanged, this, [this] {
    if (!filling_) show_chosen();
  });
  connect(use_, &QComboBox::activated, this, [this](int at) { set_use(kUses[at]); });
  connect(choose_, &QPushButton::clicked, this, [this] { choose_file(false); });
  connect(replace_, &QPushButton::clicked, this, [this] { choose_file(true); });
  connect(assign_, &QPushButton::clicked, this, &CamerasForm::assign_selected);
  connect(photos_, &QTreeWidget::itemSelectionChanged, this, [this] {
    assign_->setEnabled(!photos_->selectedItems().isEmpty() && !chosen().isEmpty());
  });
  connect(session, &DeskSession::dossier_changed, this, &CamerasForm::fill);
  connect(session, &DeskSession::live_changed, this, &CamerasForm::show_chosen);
  fill();
  resize(820, 560);
}

QString CamerasForm::chosen() const {
  return cameras_->currentItem() ? cameras_->currentItem()->text(0) : QString();
}

void CamerasForm::choose(const QString& camera) {
  const auto found = cameras_->findItems(camera, Qt::MatchExactly, 0);
  if (!found.isEmpty()) cameras_->setCurrentItem(found.front());
}

void CamerasForm::fill() {
  const QString before = chosen();
  filling_ = true;
  const measure::Dossier& dossier = session_->dossier();
  std::map<std::string, int> photos;
  for (const measure::Photo& photo : dossier.photos) ++photos[photo.camera];
  cameras_->clear();
  for (const measure::CameraEntry& camera : dossier.cameras) {
    auto* item =
        new QTreeWidgetItem(cameras_, {q(camera.name), QString::number(photos[camera.name])});
    item->setToolTip(0, q(camera.file));
    item->setTextAlignment(1, Qt::AlignRight);
    if (q(camera.name) == before) cameras_->setCurrentItem(item);
  }
  if (!cameras_->currentItem() && cameras_->topLevelItemCount() > 0) {
    cameras_->setCurrentItem(cameras_->topLevelItem(0));
  }
  empty_->setVisible(dossier.cameras.empty());
  photos_->clear();
  for (const measure::Photo& photo : dossier.photos) {
    new QTreeWidgetItem(
        photos_,
        {q(photo.name), QStringLiteral("%1 x %2").arg(photo.size.width).arg(photo.size.height),
         q(photo.camera)});
  }
  for (int c = 0; c < 2; ++c) photos_->resizeColumnToContents(c);
  filling_ = false;
  show_chosen();
}

void CamerasForm::show_chosen() {
  const std::string name = chosen().toStdString();
  const auto camera = session_->cameras().find(name);
  const measure::CameraEntry* entry = session_->dossier().find_camera(name);
  const bool known = entry && camera != session_->cameras().end();
  use_->setEnabled(known);
  choose_->setEnabled(!busy());
  replace_->setEnabled(entry && !busy());
  assign_->setEnabled(known && !photos_->selectedItems().isEmpty());
  if (!known) {
    about_->setText(entry ? tr("The file of this camera cannot be read: replace it.") : QString());
    parameters_->setRowCount(0);
    return;
  }
  const calib::Camera& calibrated = camera->second;
  const auto& body = calibrated.lens_and_body;
  QStringList words;
  for (const std::string& part : {body.make, body.model, body.lens}) {
    if (!part.empty()) words.push_back(q(part));
  }
  if (body.focal_length_mm) words.push_back(tr("%1 mm").arg(*body.focal_length_mm));
  words.push_back(
      tr("%1 x %2 pixels").arg(calibrated.image_size.width).arg(calibrated.image_size.height));
  if (!calibrated.date.empty())
    words.push_back(tr("calibrated %1").arg(q(calibrated.date).left(10)));
  if (calibrated.rms_px > 0) {
    words.push_back(tr("rms %1 px").arg(calibrated.rms_px, 0, 'f', 3));
  }
  QString about = words.join(QStringLiteral(" · "));

  std::vector<measure::ParameterText> solved;
  const auto live = session_->live();
  if (live->survey) {
    for (const measure::CameraReport& report : live->survey->report().cameras) {
      if (report.name != name) continue;
      calib::Camera after = calibrated;
      after.intrinsics = report.intrinsics;
      after.covariance = report.covariance;
      if (report.use == measure::CameraUse::kFixed) break;
      for (int i = 0; i < calib::kIntrinsicCount; ++i) {
        after.held[static_cast<std::size_t>(i)] = !(report.covariance(i, i) > 0);
      }
      solved = measure::parameter_texts(after);
      if (!report.as_calibrated) {
        about += '\n' + tr("▲ The camera is not as calibrated: %1 moved most.")
                            .arg(q(report.changed_parameter));
      }
    }
  }
  about_->setText(about);
  for (int i = 0; i < 3; ++i) {
    if (kUses[i] == entry->use) use_->setCurrentIndex(i);
  }
  const auto texts = measure::parameter_texts(calibrated);
  parameters_->setRowCount(static_cast<int>(texts.size()));
  for (std::size_t i = 0; i < texts.size(); ++i) {
    const QString after = i < solved.size() ? q(solved[i].value) : tr("—");
    const QString value = q(texts[i].value) + (texts[i].held ? tr(", held") : QString());
    int column = 0;
    for (const QString& text : {q(texts[i].name), value, after}) {
      parameters_->setItem(static_cast<int>(i), column++, new QTableWidgetItem(text));
    }
  }
}

void CamerasForm::choose_file(bool replace) {
  auto* dialog = new QFileDialog(this, tr("Camera file"));
  dialog->setAttribute(Qt::WA_DeleteOnClose);
  dialog->setFileMode(QFileDialog::ExistingFile);
  dialog->setNameFilter(tr("Camera files (*.json)"));
  connect(dialog, &QFileDialog::fileSelected, this, [this, replace](const QString& file) {
    replace ? replace_file(file.toStdString()) : enter_file(file.toStdString());
  });
  dialog->show();
}

void CamerasForm::enter_file(const std::filesystem::path& file) {
  if (busy()) return;
  sentence()->say(tr("Reading the camera file …"));
  background_.run([this, file, folder = session_->folder(),
                   dossier = session_->dossier()](const Background::Job&) -> Background::Finish {
    const auto copies = std::make_shared<measure::FileCopies>();
    const auto camera = measure::choose_camera(folder, dossier, file.string());
    if (!camera) return [this, problem = camera.error()] { stop(problem); };
    if (camera->is_new && camera->copy) {
      if (const auto copied = copies->copy(*camera->copy); !copied) {
        return [this, problem = copied.error()] { stop(problem); };
      }
    }
    return [this, copies, entry = camera->entry, is_new = camera->is_new] {
      show_chosen();
      if (!is_new) {
        sentence()->say(tr("The dossier has this camera already: \"%1\".").arg(q(entry.name)));
        choose(q(entry.name));
        return;
      }
      if (!change(session_, measure::AddCamera{entry})) return;
      copies->keep();
      choose(q(entry.name));
      sentence()->say_done(tr("Added camera \"%1\".").arg(q(entry.name)));
    };
  });
  show_chosen();
}

void CamerasForm::replace_file(const std::filesystem::path& file) {
  if (busy()) return;
  sentence()->say(tr("Reading the camera file …"));
  const QString name = chosen();
  background_.run([this, file, name, folder = session_->folder(),
                   dossier = session_->dossier()](const Background::Job&) -> Background::Finish {
    const auto copies = std::make_shared<measure::FileCopies>();
    const auto replaced = measure::replace_camera(folder, dossier, name.toStdString(), file);
    if (!replaced) return [this, problem = replaced.error()] { stop(problem); };
    if (replaced->copy) {
      if (const auto copied = copies->copy(*replaced->copy); !copied) {
        return [this, problem = copied.error()] { stop(problem); };
      }
    }
    return [this, copies, name, edit = replaced->edit] {
      show_chosen();
      if (!change(session_, edit)) return;
      copies->keep();
      sentence()->say_done(tr("Replaced the file of camera \"%1\".").arg(name));
    };
  });
  show_chosen();
}

void CamerasForm::stop(const calib::Problem& problem) {
  show_chosen();
  sentence()->say_problem(q(problem.sentence));
}

void CamerasForm::set_use(measure::CameraUse use) {
  const measure::CameraEntry* entry = session_->dossier().find_camera(chosen().toStdString());
  if (!entry || entry->use == use) return;
  if (change(session_, measure::SetCameraUse{entry->name, use})) {
    sentence()->say_done(tr("The survey takes it %1.").arg(use_text(use)));
  } else {
    show_chosen();
  }
}

void CamerasForm::assign_selected() {
  const std::string camera = chosen().toStdString();
  const auto calibrated = session_->cameras().find(camera);
  if (calibrated == session_->cameras().end()) return;
  measure::EditGroup group;
  for (const QTreeWidgetItem* item : photos_->selectedItems()) {
    const measure::Photo* photo = session_->dossier().find_photo(item->text(0).toStdString());
    if (!photo || photo->camera == camera) continue;
    if (photo->size != calibrated->second.image_size) {
      sentence()->say_problem(
          tr("Photo \"%1\" has %2 x %3 pixels, camera \"%4\" was calibrated with %5 x %6: choose "
             "the camera that took it.")
              .arg(q(photo->name))
              .arg(photo->size.width)
              .arg(photo->size.height)
              .arg(q(camera))
              .arg(calibrated->second.image_size.width)
              .arg(calibrated->second.image_size.height));
      return;
    }
    group.edits.push_back(measure::SetPhotoCamera{photo->name, camera});
  }
  if (group.edits.empty()) {
    sentence()->say(tr("These photos have this camera already."));
    return;
  }
  const auto count = static_cast<int>(group.edits.size());
  if (change(session_, group)) {
    sentence()->say_done(tr("Photos given to camera \"%1\": %2.").arg(q(camera)).arg(count));
  }
}

void CamerasForm::act() { Q_EMIT calibration_wanted(); }

}  // namespace desk
