// Photographs on the disk, dropped or chosen, with what became of each.
#pragma once

#include <QLabel>
#include <QPushButton>
#include <QTreeWidget>
#include <filesystem>
#include <functional>
#include <vector>

namespace desk {

/// Files and folders can be dropped; of a folder its pictures are taken, in the order of their
/// names. A file stands in the list once.
class FileList : public QWidget {
  Q_OBJECT
 public:
  /// @param empty  what to do while there is none.
  FileList(const QString& object_name, const QString& empty, QWidget* parent = nullptr);

  void add(const std::vector<std::filesystem::path>& files_and_folders);
  void clear();
  [[nodiscard]] std::vector<std::filesystem::path> files() const;
  /// @param is_problem  draws a sign before the sentence.
  void set_state(const std::filesystem::path& file, const QString& sentence,
                 bool is_problem = false);
  [[nodiscard]] QString state(const std::filesystem::path& file) const;
  /// Takes the files with this answer from the list.
  void remove_if(const std::function<bool(const std::filesystem::path&)>& gone);
  void set_locked(bool locked);  ///< while they are worked at
  [[nodiscard]] QTreeWidget* view() const { return list_; }

 Q_SIGNALS:
  void changed();

 protected:
  void dragEnterEvent(QDragEnterEvent* event) override;
  void dropEvent(QDropEvent* event) override;
  bool eventFilter(QObject* watched, QEvent* event) override;

 private:
  [[nodiscard]] QTreeWidgetItem* item_of(const std::filesystem::path& file) const;
  void place_hint();

  QTreeWidget* list_;
  QLabel* hint_;
  QPushButton* choose_;
  QPushButton* remove_;
  bool locked_ = false;
};

}  // namespace desk
