#include "tools/desk/forms/new_dossier_form.h"

#include <QDir>
#include <QFileDialog>
#include <QFileInfo>
#include <QPushButton>

#include "measure/edit/apply.h"
#include "measure/edit/name_rules.h"
#include "measure/store/dossier_file.h"

namespace desk {
namespace {

std::filesystem::path path_of(QString text) {
  if (text == QLatin1String("~") || text.startsWith(QLatin1String("~/"))) {
    text.replace(0, 1, QDir::homePath());
  }
  return std::filesystem::path(text.toStdString());
}

calib::Result<QString, QString> judge_folder(const QString& text) {
  if (text.isEmpty()) {
    return calib::Unexpected(
        NewDossierForm::tr("Say where the dossier is to be: a folder, new or "
                           "empty."));
  }
  const std::filesystem::path folder = path_of(text);
  std::error_code ignored;
  if (std::filesystem::exists(folder / measure::kDossierFileName, ignored)) {
    return calib::Unexpected(
        NewDossierForm::tr("There is a dossier in this folder already: open it, or choose another "
                           "folder."));
  }
  if (std::filesystem::exists(folder, ignored) && !std::filesystem::is_directory(folder, ignored)) {
    return calib::Unexpected(NewDossierForm::tr("This is a file: choose a folder."));
  }
  return std::filesystem::exists(folder, ignored)
             ? NewDossierForm::tr("The dossier is made in this folder.")
             : NewDossierForm::tr("The folder is made.");
}

}  // namespace

NewDossierForm::NewDossierForm(QWidget* parent)
    : Form(QStringLiteral("new_dossier"), tr("New dossier"), tr("Make the dossier"), parent),
      scales_(QStringLiteral("new_dossier")) {
  folder_ = new TypedField(QStringLiteral("new_dossier.folder"),
                           tr("The folder that holds all that is known about one original"),
                           judge_folder, this);
  auto* choose = new QPushButton(tr("Choose …"), this);
  choose->setObjectName(QStringLiteral("new_dossier.choose"));
  choose->setAutoDefault(false);
  connect(choose, &QPushButton::clicked, this, [this] {
    auto* dialog = new QFileDialog(this, tr("Folder of the dossier"), folder_->text());
    dialog->setAttribute(Qt::WA_DeleteOnClose);
    dialog->setFileMode(QFileDialog::Directory);
    connect(dialog, &QFileDialog::fileSelected, this,
            [this](const QString& folder) { folder_->set_text(folder); });
    dialog->show();
  });
  name_ = new TypedField(
      QStringLiteral("new_dossier.name"), tr("Of the original, as sheets will name it"),
      [this](const QString&) -> calib::Result<QString, QString> {
        if (name().isEmpty()) return QString();
        const auto problem = measure::name_problem(name().toStdString(), "dossier");
        if (problem) return calib::Unexpected(QString::fromStdString(*problem));
        return QString();
      },
      this);
  connect(folder_, &TypedField::changed, this,
          [this] { name_->edit()->setPlaceholderText(QFileInfo(folder_->text()).fileName()); });
  add_row(tr("Folder"), folder_);
  rows()->addRow(QString(), choose);
  add_row(tr("Name"), name_);
  add_row(tr("Original to full size"), scales_.original);
  add_row(tr("Replicas"), scales_.replicas);
  resize(560, sizeHint().height());
}

QString NewDossierForm::name() const {
  return name_->text().isEmpty() ? QFileInfo(folder_->text()).fileName() : name_->text();
}

void NewDossierForm::act() {
  if (!check_fields()) return;
  const std::filesystem::path folder = path_of(folder_->text());
  measure::Dossier dossier;
  const measure::Edit edit =
      measure::EditGroup{{measure::SetDossierName{name().toStdString()}, scales_.scales()}};
  if (const auto applied = measure::apply(edit, dossier); !applied) {
    sentence()->say_problem(QString::fromStdString(applied.error().sentence));
    return;
  }
  if (const auto created = measure::create_dossier(folder, dossier); !created) {
    sentence()->say_problem(QString::fromStdString(created.error().sentence));
    return;
  }
  sentence()->say({});
  Q_EMIT made(folder);
  accept();
}

}  // namespace desk
