#include "tools/desk/forms/add_photos_form.h"

#include <QHBoxLayout>
#include <QLabel>
#include <set>

#include "measure/edit/apply.h"
#include "measure/edit/name_rules.h"
#include "measure/intake/camera_intake.h"
#include "measure/intake/file_copies.h"
#include "measure/intake/photo_intake.h"

namespace desk {
namespace {

QString q(const std::string& text) { return QString::fromStdString(text); }

/// What the search of the files hands over.
struct TakenIn {
  measure::EditGroup edits;
  std::set<std::filesystem::path> files;  // of the edits
  std::shared_ptr<measure::FileCopies> copies = std::make_shared<measure::FileCopies>();
  QString problem;  // of the work as a whole
};

}  // namespace

AddPhotosForm::AddPhotosForm(DeskSession* session, QWidget* parent)
    : Form(QStringLiteral("add_photos"), tr("Add photographs"), tr("Add"), parent),
      session_(session) {
  setAcceptDrops(true);
  files_ = new FileList(QStringLiteral("add_photos.files"),
                        tr("Drop photographs or a folder here, or choose files. They are never "
                           "altered."),
                        this);
  body()->addWidget(files_, 1);
  camera_ = new QComboBox(this);
  camera_->setObjectName(QStringLiteral("add_photos.camera"));
  camera_->setToolTip(tr("Body, lens and focus setting that took all of these photos"));
  epoch_ = new TypedField(
      QStringLiteral("add_photos.epoch"),
      tr("The state of the original that they show; empty: as visited"),
      [](const QString& text) -> calib::Result<QString, QString> {
        if (text.isEmpty()) return QString();
        const auto problem = measure::name_problem(text.toStdString(), "epoch");
        if (problem) return calib::Unexpected(q(*problem));
        return QString();
      },
      this);
  epoch_->edit()->setPlaceholderText(tr("as visited"));
  auto* where = new QWidget(this);
  auto* line = new QHBoxLayout(where);
  line->setContentsMargins(0, 0, 0, 0);
  copy_ = new QRadioButton(tr("copied into the dossier"), where);
  copy_->setObjectName(QStringLiteral("add_photos.copy"));
  copy_->setToolTip(tr("The dossier then holds everything; it takes as much room again"));
  refer_ = new QRadioButton(tr("left where they lie"), where);
  refer_->setObjectName(QStringLiteral("add_photos.refer"));
  refer_->setToolTip(tr("The dossier names their place: do not move them"));
  copy_->setChecked(true);
  line->addWidget(copy_);
  line->addWidget(refer_);
  line->addStretch(1);
  add_row(tr("Lens and body"), camera_);
  add_row(tr("Epoch"), epoch_);
  add_row(tr("The files are"), where);
  auto* work = new QHBoxLayout;
  progress_ = new QProgressBar(this);
  progress_->setObjectName(QStringLiteral("add_photos.progress"));
  cancel_ = new QPushButton(tr("Cancel"), this);
  cancel_->setObjectName(QStringLiteral("add_photos.cancel"));
  cancel_->setAutoDefault(false);
  cancel_->setToolTip(tr("Stop; nothing is added  [Esc]"));
  work->addWidget(progress_, 1);
  work->addWidget(cancel_);
  body()->addLayout(work);
  progress_->hide();
  cancel_->hide();
  connect(cancel_, &QPushButton::clicked, this,
          [this] { stop(tr("Cancelled: nothing was added.")); });
  connect(files_, &FileList::changed, this, &AddPhotosForm::follow);
  connect(session, &DeskSession::dossier_changed, this, &AddPhotosForm::fill_cameras);
  fill_cameras();
  resize(640, 480);
}

void AddPhotosForm::fill_cameras() {
  const QString before = camera_->currentText();
  const QSignalBlocker quiet(camera_);
  camera_->clear();
  for (const measure::CameraEntry& camera : session_->dossier().cameras) {
    camera_->addItem(q(camera.name));
  }
  camera_->setCurrentIndex(std::max(0, camera_->findText(before)));
  follow();
}

void AddPhotosForm::follow() {
  const bool none = camera_->count() == 0;
  camera_->setEnabled(!none);
  deed()->setEnabled(!busy() && !none && !files_->files().empty());
  if (none) {
    sentence()->say_problem(
        tr("The dossier has no camera yet: calibrate one, or choose a camera "
           "file, under \"lens and body\"; then add its photos."));
  } else if (sentence()->is_problem() && !busy()) {
    sentence()->say({});
  }
}

void AddPhotosForm::act() {
  if (busy() || !check_fields()) return;
  if (!session_->read_only_reason().isEmpty()) {
    sentence()->say_problem(session_->read_only_reason());
    return;
  }
  if (camera_->count() == 0) {
    Q_EMIT camera_wanted();
    return;
  }
  const auto files = files_->files();
  files_->set_locked(true);
  progress_->setRange(0, static_cast<int>(files.size()));
  progress_->setValue(0);
  progress_->show();
  cancel_->show();
  sentence()->say(tr("Reading the photographs …"));
  const measure::PhotoIntakeOptions options{{}, epoch_->text().toStdString(), copy_->isChecked()};
  background_.run([this, files, options, folder = session_->folder(), dossier = session_->dossier(),
                   camera = camera_->currentText().toStdString()](
                      const Background::Job& job) mutable -> Background::Finish {
    auto taken_in = std::make_shared<TakenIn>();
    const auto say = [&](const std::filesystem::path& file, const QString& words, bool problem) {
      job.post([this, file, words, problem] { files_->set_state(file, words, problem); });
    };
    const auto chosen = measure::choose_camera(folder, dossier, camera);
    if (!chosen) taken_in->problem = q(chosen.error().sentence);
    for (std::size_t i = 0; chosen && i < files.size() && !job.cancelled(); ++i) {
      const std::filesystem::path& file = files[i];
      auto taken = measure::take_in_photo(folder, file, chosen->entry, chosen->camera, options);
      job.post([this, i] { progress_->setValue(static_cast<int>(i) + 1); });
      if (!taken) {
        say(file, q(taken.error().sentence), true);
        continue;
      }
      // Tried before it is copied: a name or a picture that is there already costs no copy.
      const measure::Edit edit = measure::AddPhoto{taken->photo};
      if (const auto applied = measure::apply(edit, dossier); !applied) {
        say(file, q(applied.error().sentence), true);
        continue;
      }
      if (taken->copy) {
        if (const auto copied = taken_in->copies->copy(*taken->copy); !copied) {
          (void)measure::apply(measure::RemovePhoto{taken->photo.name}, dossier);
          say(file, q(copied.error().sentence), true);
          continue;
        }
      }
      say(file, taken->doubt.empty() ? tr("can be added") : q(taken->doubt), !taken->doubt.empty());
      taken_in->edits.edits.push_back(edit);
      taken_in->files.insert(file);
    }
    return [this, taken_in, total = files.size()] {
      stop({});
      if (!taken_in->problem.isEmpty()) {
        sentence()->say_problem(taken_in->problem);
        return;
      }
      const auto count = static_cast<int>(taken_in->files.size());
      const int refused = static_cast<int>(total) - count;
      if (count == 0) {
        sentence()->say_problem(tr("No photo was added: the list says why."));
        return;
      }
      if (!change(session_, taken_in->edits)) return;  // the copies are taken back
      taken_in->copies->keep();
      files_->remove_if(
          [&](const std::filesystem::path& file) { return taken_in->files.contains(file); });
      if (refused == 0) {
        sentence()->say_done(tr("Photos added: %1.").arg(count));
      } else {
        sentence()->say_problem(
            tr("Photos added: %1. Not added: %2; the list says why.").arg(count).arg(refused));
      }
      Q_EMIT added(count);
    };
  });
  follow();
}

void AddPhotosForm::stop(const QString& words) {
  background_.cancel();
  progress_->hide();
  cancel_->hide();
  files_->set_locked(false);
  follow();
  sentence()->say(words);
}

void AddPhotosForm::reject() {
  if (busy()) {
    stop(tr("Cancelled: nothing was added."));
  } else {
    Form::reject();
  }
}

}  // namespace desk
