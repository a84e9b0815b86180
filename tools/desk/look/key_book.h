// Every action of the desk with its key: shown on demand, changed by the user, remembered.
#pragma once

#include <QAction>
#include <QKeySequence>
#include <QObject>
#include <QPointer>
#include <functional>
#include <vector>

class QSettings;

namespace desk {

/// One action that a key can start.
struct KeyEntry {
  QString id;     ///< stable, "sightings.accept": the name under which a changed key is kept
  QString place;  ///< where it works, for the list: "Sightings"
  QPointer<QAction> action;
  QKeySequence default_key;
};

/// All keys of one window. Keys work where their owner, or a child of it, has the focus.
class KeyBook : public QObject {
  Q_OBJECT
 public:
  explicit KeyBook(QSettings* settings, QObject* parent = nullptr);

  /// Makes an action of the owner. `tip` becomes tooltip and status tip, with the key behind it.
  QAction* add(QWidget* owner, const QString& place, const QString& id, const QString& text,
               const QString& tip, const QKeySequence& key, std::function<void()> what);
  /// As add(), but the key works in the whole window.
  QAction* add_everywhere(QWidget* window, const QString& place, const QString& id,
                          const QString& text, const QString& tip, const QKeySequence& key,
                          std::function<void()> what);

  [[nodiscard]] const std::vector<KeyEntry>& entries() const { return entries_; }
  /// What else uses this key where the two could meet; empty: nothing.
  [[nodiscard]] QString taken_by(const QString& id, const QKeySequence& key) const;
  /// Changes and remembers a key; an empty one takes it away.
  void set_key(const QString& id, const QKeySequence& key);
  void restore_defaults();

 Q_SIGNALS:
  void keys_changed();

 private:
  QAction* enter(QWidget* owner, const QString& place, const QString& id, const QString& text,
                 const QString& tip, const QKeySequence& key, Qt::ShortcutContext context,
                 std::function<void()> what);
  void describe(KeyEntry& entry);

  QSettings* settings_;
  std::vector<KeyEntry> entries_;
};

}  // namespace desk
