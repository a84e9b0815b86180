// Some names of many, or all of them.
#pragma once

#include <QLabel>
#include <QLineEdit>
#include <QListWidget>
#include <QToolButton>
#include <string>
#include <vector>

namespace desk {

/// Folded to one line that says what is chosen; unfolded, a list with a line to find names by.
/// Nothing ticked means all.
class NameChoice : public QWidget {
  Q_OBJECT
 public:
  /// @param all  what stands there while nothing is ticked: "all dimensions".
  NameChoice(const QString& object_name, const QString& tip, const QString& all,
             QWidget* parent = nullptr);

  /// Ticks stay where their name is still there.
  void set_names(const std::vector<std::string>& names);
  /// A tick goes with its name.
  void rename(const std::string& old_name, const std::string& new_name);
  void tick(const std::vector<std::string>& names);
  [[nodiscard]] std::vector<std::string> ticked() const;  ///< in the order of the names
  [[nodiscard]] QListWidget* list() const { return list_; }

 Q_SIGNALS:
  void changed();

 private:
  void follow();
  void find(const QString& part);

  QString all_;
  QToolButton* fold_;
  QWidget* folded_;
  QLineEdit* find_;
  QListWidget* list_;
};

}  // namespace desk
