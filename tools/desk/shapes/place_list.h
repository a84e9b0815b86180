// Places that a shape is made from, gathered one after another, singly or in pairs.
#pragma once

#include <QListWidget>
#include <QPushButton>
#include <string>
#include <vector>

#include "tools/desk/shapes/place_field.h"

namespace desk {

/// A line to type the next name in, and the list of those taken; Delete takes rows out again.
///
/// Object names: NAME.next, NAME.list, NAME.take_out
class PlaceList : public QWidget {
  Q_OBJECT
 public:
  PlaceList(DeskSession* session, const QString& object_name, QWidget* parent = nullptr);

  /// Whether a row is a pair; what is gathered stays.
  void set_in_pairs(bool in_pairs);
  /// At the end; a name that is there already is not taken twice.
  void take(const std::string& name);
  void set_names(std::vector<std::string> names);
  [[nodiscard]] const std::vector<std::string>& names() const { return names_; }
  void focus_next() { next_->edit()->setFocus(); }

 Q_SIGNALS:
  void changed();

 protected:
  bool eventFilter(QObject* watched, QEvent* event) override;

 private:
  void follow(const measure::Edit& edit);
  void show_rows();
  void take_out();

  DeskSession* session_;
  PlaceField* next_;
  QListWidget* list_;
  QPushButton* take_out_;
  bool in_pairs_ = false;
  std::vector<std::string> names_;
};

}  // namespace desk
