#include "tools/desk/sheets/name_choice.h"

#include <QSignalBlocker>
#include <QVBoxLayout>
#include <set>

namespace desk {
namespace {

constexpr int kRowsSeen = 8;

}  // namespace

NameChoice::NameChoice(const QString& object_name, const QString& tip, const QString& all,
                       QWidget* parent)
    : QWidget(parent), all_(all) {
  setObjectName(object_name);
  auto* column = new QVBoxLayout(this);
  column->setContentsMargins(0, 0, 0, 0);
  column->setSpacing(2);
  fold_ = new QToolButton(this);
  fold_->setObjectName(object_name + QStringLiteral(".fold"));
  fold_->setCheckable(true);
  fold_->setToolButtonStyle(Qt::ToolButtonTextBesideIcon);
  fold_->setSizePolicy(QSizePolicy::Expanding, QSizePolicy::Fixed);
  fold_->setToolTip(tip);
  column->addWidget(fold_);
  folded_ = new QWidget(this);
  auto* inside = new QVBoxLayout(folded_);
  inside->setContentsMargins(0, 0, 0, 0);
  inside->setSpacing(2);
  find_ = new QLineEdit(folded_);
  find_->setObjectName(object_name + QStringLiteral(".find"));
  find_->setPlaceholderText(tr("part of a name"));
  find_->setClearButtonEnabled(true);
  find_->setAccessibleName(tr("Find by a part of the name"));
  list_ = new QListWidget(folded_);
  list_->setObjectName(object_name + QStringLiteral(".list"));
  list_->setAccessibleName(tip);
  list_->setUniformItemSizes(true);
  list_->setMinimumHeight(kRowsSeen * (fontMetrics().height() + 4));
  inside->addWidget(find_);
  inside->addWidget(list_);
  folded_->hide();
  column->addWidget(folded_);
  setFocusProxy(fold_);
  connect(fold_, &QToolButton::toggled, this, [this](bool open) {
    folded_->setVisible(open);
    follow();
  });
  connect(find_, &QLineEdit::textChanged, this, &NameChoice::find);
  connect(list_, &QListWidget::itemChanged, this, [this] {
    follow();
    Q_EMIT changed();
  });
  follow();
}

void NameChoice::set_names(const std::vector<std::string>& names) {
  const auto kept = ticked();
  const std::set<std::string> on(kept.begin(), kept.end());
  {
    const QSignalBlocker quiet(list_);
    list_->clear();
    for (const std::string& name : names) {
      auto* item = new QListWidgetItem(QString::fromStdString(name), list_);
      item->setFlags(Qt::ItemIsEnabled | Qt::ItemIsSelectable | Qt::ItemIsUserCheckable);
      item->setCheckState(on.contains(name) ? Qt::Checked : Qt::Unchecked);
    }
  }
  find(find_->text());
  follow();
  if (ticked() != kept) Q_EMIT changed();
}

void NameChoice::rename(const std::string& old_name, const std::string& new_name) {
  const QSignalBlocker quiet(list_);
  for (int i = 0; i < list_->count(); ++i) {
    QListWidgetItem* item = list_->item(i);
    if (item->text().toStdString() == old_name) item->setText(QString::fromStdString(new_name));
  }
}

void NameChoice::tick(const std::vector<std::string>& names) {
  const std::set<std::string> on(names.begin(), names.end());
  {
    const QSignalBlocker quiet(list_);
    for (int i = 0; i < list_->count(); ++i) {
      const bool is_on = on.contains(list_->item(i)->text().toStdString());
      list_->item(i)->setCheckState(is_on ? Qt::Checked : Qt::Unchecked);
    }
  }
  follow();
  Q_EMIT changed();
}

std::vector<std::string> NameChoice::ticked() const {
  std::vector<std::string> names;
  for (int i = 0; i < list_->count(); ++i) {
    const QListWidgetItem* item = list_->item(i);
    if (item->checkState() == Qt::Checked) names.push_back(item->text().toStdString());
  }
  return names;
}

void NameChoice::follow() {
  const auto count = ticked().size();
  fold_->setArrowType(fold_->isChecked() ? Qt::DownArrow : Qt::RightArrow);
  fold_->setText(count == 0 ? all_ : tr("%1 of %2").arg(count).arg(list_->count()));
}

void NameChoice::find(const QString& part) {
  for (int i = 0; i < list_->count(); ++i) {
    list_->item(i)->setHidden(!list_->item(i)->text().contains(part, Qt::CaseInsensitive));
  }
}

}  // namespace desk
