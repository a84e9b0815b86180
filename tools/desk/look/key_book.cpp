#include "tools/desk/look/key_book.h"

#include <QSettings>
#include <QWidget>

namespace desk {

KeyBook::KeyBook(QSettings* settings, QObject* parent) : QObject(parent), settings_(settings) {}

QAction* KeyBook::add(QWidget* owner, const QString& place, const QString& id, const QString& text,
                      const QString& tip, const QKeySequence& key, std::function<void()> what) {
  return enter(owner, place, id, text, tip, key, Qt::WidgetWithChildrenShortcut, std::move(what));
}

QAction* KeyBook::add_everywhere(QWidget* window, const QString& place, const QString& id,
                                 const QString& text, const QString& tip, const QKeySequence& key,
                                 std::function<void()> what) {
  return enter(window, place, id, text, tip, key, Qt::WindowShortcut, std::move(what));
}

QAction* KeyBook::enter(QWidget* owner, const QString& place, const QString& id,
                        const QString& text, const QString& tip, const QKeySequence& key,
                        Qt::ShortcutContext context, std::function<void()> what) {
  auto* action = new QAction(text, owner);
  action->setObjectName(id);
  action->setProperty("tip", tip);
  action->setShortcutContext(context);
  const QString setting = "keys/" + id;
  action->setShortcut(settings_ && settings_->contains(setting)
                          ? QKeySequence(settings_->value(setting).toString())
                          : key);
  connect(action, &QAction::triggered, owner, [what = std::move(what)] { what(); });
  owner->addAction(action);
  // A view that was closed with its dossier comes again with the next one.
  std::erase_if(entries_, [&](const KeyEntry& entry) { return entry.id == id || !entry.action; });
  entries_.push_back({id, place, action, key});
  describe(entries_.back());
  return action;
}

void KeyBook::describe(KeyEntry& entry) {
  const QString tip = entry.action->property("tip").toString();
  const QString key = entry.action->shortcut().toString(QKeySequence::NativeText);
  entry.action->setToolTip(key.isEmpty() ? tip : tip + "  [" + key + "]");
  entry.action->setStatusTip(entry.action->toolTip());
}

QString KeyBook::taken_by(const QString& id, const QKeySequence& key) const {
  if (key.isEmpty()) return {};
  const KeyEntry* self = nullptr;
  for (const KeyEntry& entry : entries_) {
    if (entry.id == id) self = &entry;
  }
  for (const KeyEntry& entry : entries_) {
    if (entry.id == id || !entry.action || entry.action->shortcut() != key) continue;
    const bool meets = !self || entry.place == self->place ||
                       entry.action->shortcutContext() == Qt::WindowShortcut ||
                       self->action->shortcutContext() == Qt::WindowShortcut;
    if (meets) return entry.action->text().remove('&');
  }
  return {};
}

void KeyBook::set_key(const QString& id, const QKeySequence& key) {
  for (KeyEntry& entry : entries_) {
    if (entry.id != id || !entry.action) continue;
    entry.action->setShortcut(key);
    if (settings_) settings_->setValue("keys/" + id, key.toString(QKeySequence::PortableText));
    describe(entry);
  }
  Q_EMIT keys_changed();
}

void KeyBook::restore_defaults() {
  for (KeyEntry& entry : entries_) {
    if (!entry.action) continue;
    entry.action->setShortcut(entry.default_key);
    if (settings_) settings_->remove("keys/" + entry.id);
    describe(entry);
  }
  Q_EMIT keys_changed();
}

}  // namespace desk
