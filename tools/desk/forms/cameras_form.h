// Lens and body: the cameras of the dossier, how the survey treats them, which photos they took.
#pragma once

#include <QComboBox>
#include <QLabel>
#include <QTableWidget>
#include <QTreeWidget>

#include "tools/desk/fields/form.h"
#include "tools/desk/session/background.h"
#include "tools/desk/session/desk_session.h"

namespace desk {

class CamerasForm : public Form {
  Q_OBJECT
 public:
  explicit CamerasForm(DeskSession* session, QWidget* parent = nullptr);

  /// Adds the camera of a file, copied into the dossier where it lies outside. Reading, hashing and
  /// copying are done in the background.
  void enter_file(const std::filesystem::path& file);
  /// Gives the chosen camera another file: the same lens and body, calibrated anew. As above.
  void replace_file(const std::filesystem::path& file);
  [[nodiscard]] bool busy() const { return background_.busy(); }
  void choose(const QString& camera);
  [[nodiscard]] QString chosen() const;
  /// The photos that are selected in the list become the chosen camera's.
  void assign_selected();

 Q_SIGNALS:
  void calibration_wanted();  ///< by the button

 protected:
  void act() override;

 private:
  void fill();
  void show_chosen();
  void choose_file(bool replace);
  void set_use(measure::CameraUse use);
  void stop(const calib::Problem& problem);

  DeskSession* session_;
  QTreeWidget* cameras_;
  QLabel* empty_;
  QComboBox* use_;
  QTableWidget* parameters_;
  QLabel* about_;
  QTreeWidget* photos_;
  QPushButton *choose_, *replace_;
  QPushButton* assign_;
  bool filling_ = false;
  Background background_;
};

}  // namespace desk
