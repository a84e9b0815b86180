// A camera from photographs of a checkerboard, inside the desk.
#pragma once

#include <QLabel>
#include <QProgressBar>
#include <QSvgRenderer>
#include <QTabWidget>
#include <QTableWidget>
#include <memory>

#include "calib/intrinsics/calibrate.h"
#include "tools/desk/fields/form.h"
#include "tools/desk/forms/file_list.h"
#include "tools/desk/session/background.h"
#include "tools/desk/session/desk_session.h"

namespace desk {

/// A picture of a calibration, as large as there is room for it.
class SvgPicture : public QWidget {
  Q_OBJECT
 public:
  SvgPicture(const QString& object_name, const QString& empty, QWidget* parent = nullptr);
  void show_svg(const std::string& svg);
  [[nodiscard]] bool has_picture() const { return renderer_.isValid(); }

 protected:
  void paintEvent(QPaintEvent* event) override;

 private:
  QSvgRenderer renderer_;
  QString empty_;
};

/// Runs calib::calibrate in the background, shows what it found and what it refused, and enters the
/// camera into the dossier.
class CalibrationForm : public Form {
  Q_OBJECT
 public:
  explicit CalibrationForm(DeskSession* session, QWidget* parent = nullptr);

  [[nodiscard]] FileList* files() const { return files_; }
  [[nodiscard]] bool busy() const { return background_.busy(); }
  [[nodiscard]] const calib::Calibration* result() const { return result_.get(); }
  /// Writes the camera into the dossier's cameras/ and enters it.
  void save();

 Q_SIGNALS:
  void finished_calibration();
  void camera_entered(const std::string& camera);

 protected:
  void act() override;
  void reject() override;  ///< cancels, or closes where nothing runs

 private:
  void follow();
  void stop();
  void show_result();

  DeskSession* session_;
  FileList* files_;
  TypedField* inner_;
  TypedField* square_;
  TypedField* name_;
  QProgressBar* progress_;
  QPushButton* cancel_;
  QPushButton* save_;
  QTabWidget* tabs_;
  QTableWidget* parameters_;
  QLabel* summary_;
  QLabel* warnings_;
  SvgPicture* coverage_;
  SvgPicture* residuals_;
  std::shared_ptr<const calib::Calibration> result_;
  Background background_;
};

}  // namespace desk
