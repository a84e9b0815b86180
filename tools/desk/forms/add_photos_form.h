// Photographs into the dossier.
#pragma once

#include <QComboBox>
#include <QProgressBar>
#include <QRadioButton>

#include "tools/desk/fields/form.h"
#include "tools/desk/forms/file_list.h"
#include "tools/desk/session/background.h"
#include "tools/desk/session/desk_session.h"

namespace desk {

/// Reads, hashes and judges every file away from the thread of the widgets; what can be added is
/// added as one edit, what cannot stays in the list with its reason.
class AddPhotosForm : public Form {
  Q_OBJECT
 public:
  explicit AddPhotosForm(DeskSession* session, QWidget* parent = nullptr);
  /// Files or folders, as dropped on any view of the desk.
  void add(const std::vector<std::filesystem::path>& files_and_folders) {
    files_->add(files_and_folders);
  }
  [[nodiscard]] FileList* files() const { return files_; }
  [[nodiscard]] bool busy() const { return background_.busy(); }

 Q_SIGNALS:
  void added(int photos);
  void camera_wanted();  ///< there is none yet: "lens and body" is to be shown

 protected:
  void act() override;
  void reject() override;  ///< cancels, or closes where nothing runs

 private:
  void fill_cameras();
  void follow();
  void stop(const QString& sentence);

  DeskSession* session_;
  FileList* files_;
  QComboBox* camera_;
  TypedField* epoch_;
  QRadioButton* copy_;
  QRadioButton* refer_;
  QProgressBar* progress_;
  QPushButton* cancel_;
  Background background_;
};

}  // namespace desk
