// Every key of the desk: found, changed by pressing the new one.
#pragma once

#include <QLineEdit>
#include <QPushButton>
#include <QTreeWidget>
#include <QWidget>

#include "tools/desk/fields/sentence_label.h"
#include "tools/desk/look/key_book.h"

namespace desk {

/// Enter or a double click on a row, then the new key; Backspace takes the key away, Escape leaves
/// it as it is.
class KeyList : public QWidget {
  Q_OBJECT
 public:
  explicit KeyList(KeyBook* keys, QWidget* parent = nullptr);

  [[nodiscard]] QTreeWidget* view() const { return list_; }
  /// Waits for the new key of this action.
  void begin_change(const QString& id);

 protected:
  bool eventFilter(QObject* watched, QEvent* event) override;

 private:
  void fill();
  void filter(const QString& words);
  void end_change();
  void take(const QKeySequence& key);

  KeyBook* keys_;
  QLineEdit* filter_;
  QTreeWidget* list_;
  SentenceLabel* sentence_;
  QString changing_;  // id; empty: nothing is being changed
};

}  // namespace desk
