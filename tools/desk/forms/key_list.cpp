#include "tools/desk/forms/key_list.h"

#include <QHeaderView>
#include <QKeyEvent>
#include <QVBoxLayout>
#include <algorithm>
#include <map>

namespace desk {
namespace {

constexpr int kIdRole = Qt::UserRole;

bool is_modifier(int key) {
  return key == Qt::Key_Shift || key == Qt::Key_Control || key == Qt::Key_Alt ||
         key == Qt::Key_Meta || key == Qt::Key_AltGr || key == 0 || key == Qt::Key_unknown;
}

}  // namespace

KeyList::KeyList(KeyBook* keys, QWidget* parent) : QWidget(parent), keys_(keys) {
  setObjectName(QStringLiteral("key_list"));
  auto* column = new QVBoxLayout(this);
  column->setContentsMargins(4, 4, 4, 4);
  filter_ = new QLineEdit(this);
  filter_->setObjectName(QStringLiteral("key_list.filter"));
  filter_->setPlaceholderText(tr("Show keys with these words"));
  filter_->setClearButtonEnabled(true);
  list_ = new QTreeWidget(this);
  list_->setObjectName(QStringLiteral("key_list.view"));
  list_->setHeaderLabels({tr("what it does"), tr("key")});
  list_->header()->setStretchLastSection(false);
  list_->header()->setSectionResizeMode(0, QHeaderView::Stretch);
  list_->header()->setSectionResizeMode(1, QHeaderView::ResizeToContents);
  list_->setEditTriggers(QAbstractItemView::NoEditTriggers);
  list_->setToolTip(tr("Enter, then the new key; Backspace: no key; Escape: as it was"));
  list_->installEventFilter(this);
  sentence_ = new SentenceLabel(QStringLiteral("key_list.sentence"), this);
  auto* restore = new QPushButton(tr("Restore all keys"), this);
  restore->setObjectName(QStringLiteral("key_list.restore"));
  restore->setToolTip(tr("As they were when the desk was installed"));
  column->addWidget(filter_);
  column->addWidget(list_, 1);
  column->addWidget(sentence_);
  column->addWidget(restore, 0, Qt::AlignLeft);
  connect(filter_, &QLineEdit::textChanged, this, &KeyList::filter);
  connect(list_, &QTreeWidget::itemActivated, this,
          [this](QTreeWidgetItem* item) { begin_change(item->data(0, kIdRole).toString()); });
  connect(restore, &QPushButton::clicked, this, [this] {
    end_change();
    keys_->restore_defaults();
    sentence_->say_done(tr("All keys are as they were when the desk was installed."));
  });
  connect(keys, &KeyBook::keys_changed, this, &KeyList::fill);
  fill();
  sentence_->say(tr("Choose an action and press Enter, then its new key."));
}

void KeyList::fill() {
  const QString before =
      list_->currentItem() ? list_->currentItem()->data(0, kIdRole).toString() : QString();
  list_->clear();
  std::map<QString, QTreeWidgetItem*> places;
  for (const KeyEntry& entry : keys_->entries()) {
    if (!entry.action) continue;
    QTreeWidgetItem*& place = places[entry.place];
    if (!place) {
      place = new QTreeWidgetItem(list_, {entry.place, QString()});
      QFont bold = list_->font();
      bold.setBold(true);
      place->setFont(0, bold);
      place->setFlags(Qt::ItemIsEnabled);
      place->setExpanded(true);
    }
    const QKeySequence key = entry.action->shortcut();
    const bool is_default = key == entry.default_key;
    auto* item = new QTreeWidgetItem(
        place, {entry.action->text().remove('&'),
                key.isEmpty() ? tr("none")
                              : key.toString(QKeySequence::NativeText) +
                                    (is_default ? QString() : tr("  (changed)"))});
    item->setData(0, kIdRole, entry.id);
    item->setToolTip(0, entry.action->property("tip").toString());
    if (!is_default) {
      item->setToolTip(
          1, tr("Installed as %1").arg(entry.default_key.toString(QKeySequence::NativeText)));
    }
    if (entry.id == before) list_->setCurrentItem(item);
  }
  filter(filter_->text());
}

void KeyList::filter(const QString& words) {
  const QStringList wanted = words.split(' ', Qt::SkipEmptyParts);
  for (int p = 0; p < list_->topLevelItemCount(); ++p) {
    QTreeWidgetItem* place = list_->topLevelItem(p);
    bool any = false;
    for (int i = 0; i < place->childCount(); ++i) {
      QTreeWidgetItem* item = place->child(i);
      const QString all = place->text(0) + ' ' + item->text(0) + ' ' + item->text(1);
      const bool fits = std::all_of(wanted.begin(), wanted.end(), [&](const QString& word) {
        return all.contains(word, Qt::CaseInsensitive);
      });
      item->setHidden(!fits);
      any = any || fits;
    }
    place->setHidden(!any);
  }
}

void KeyList::begin_change(const QString& id) {
  if (id.isEmpty()) return;
  for (const KeyEntry& entry : keys_->entries()) {
    if (entry.id != id || !entry.action) continue;
    changing_ = id;
    list_->setFocus();
    sentence_->say(tr("Press the new key for \"%1\"; Backspace: no key; Escape: as it was.")
                       .arg(entry.action->text().remove('&')));
  }
}

void KeyList::end_change() { changing_.clear(); }

bool KeyList::eventFilter(QObject* watched, QEvent* event) {
  if (watched != list_ || changing_.isEmpty()) return QWidget::eventFilter(watched, event);
  if (event->type() == QEvent::ShortcutOverride) {
    event->accept();  // the key is meant for the list, whatever it does elsewhere
    return true;
  }
  if (event->type() == QEvent::FocusOut) {
    end_change();
    sentence_->say(tr("The key is as it was."));
    return false;
  }
  if (event->type() != QEvent::KeyPress) return QWidget::eventFilter(watched, event);
  const auto* pressed = static_cast<QKeyEvent*>(event);
  if (is_modifier(pressed->key())) return true;
  if (pressed->key() == Qt::Key_Escape) {
    end_change();
    sentence_->say(tr("The key is as it was."));
  } else if (pressed->key() == Qt::Key_Backspace && pressed->modifiers() == Qt::NoModifier) {
    take({});
  } else {
    take(QKeySequence(pressed->keyCombination()));
  }
  return true;
}

void KeyList::take(const QKeySequence& key) {
  const QString word = key.toString(QKeySequence::NativeText);
  if (const QString other = keys_->taken_by(changing_, key); !other.isEmpty()) {
    sentence_->say_problem(
        tr("%1 is the key of \"%2\" already: press another, or Escape.").arg(word, other));
    return;  // goes on waiting
  }
  const QString id = changing_;
  end_change();
  keys_->set_key(id, key);
  sentence_->say_done(key.isEmpty() ? tr("It has no key now.") : tr("It is %1 now.").arg(word));
}

}  // namespace desk
