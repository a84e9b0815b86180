#include "tools/desk/window/start_page.h"

#include <QDir>
#include <QFileInfo>
#include <QLabel>
#include <QPushButton>
#include <QVBoxLayout>

namespace desk {

StartPage::StartPage(QWidget* parent) : QWidget(parent) {
  setObjectName("start");
  auto* title = new QLabel(tr("No dossier is open"));
  QFont large = title->font();
  large.setPointSizeF(1.6 * large.pointSizeF());
  title->setFont(large);
  auto* words = new QLabel(
      tr("A dossier is a folder that holds all that is known about one original: its photographs, "
         "the cameras they were taken with, marks, points, scale bars and the dimensions asked."));
  words->setWordWrap(true);
  auto* make = new QPushButton(tr("&New dossier …"));
  make->setObjectName("start.new");
  auto* open = new QPushButton(tr("&Open a dossier …"));
  open->setObjectName("start.open");
  recent_ = new QListWidget;
  recent_->setObjectName("start.recent");
  recent_->setAccessibleName(tr("Dossiers that were open last"));
  auto* label = new QLabel(tr("Open last:"));
  label->setBuddy(recent_);

  auto* column = new QVBoxLayout;
  column->addStretch(1);
  column->addWidget(title);
  column->addWidget(words);
  column->addSpacing(12);
  auto* buttons = new QHBoxLayout;
  buttons->addWidget(make);
  buttons->addWidget(open);
  buttons->addStretch(1);
  column->addLayout(buttons);
  column->addSpacing(12);
  column->addWidget(label);
  column->addWidget(recent_, 3);
  column->addStretch(1);
  auto* holder = new QWidget;
  holder->setLayout(column);
  holder->setMaximumWidth(680);
  auto* row = new QHBoxLayout(this);
  row->addStretch(1);
  row->addWidget(holder, 4);
  row->addStretch(1);

  connect(make, &QPushButton::clicked, this, &StartPage::new_asked);
  connect(open, &QPushButton::clicked, this, &StartPage::open_asked);
  connect(recent_, &QListWidget::itemActivated, this, [this](const QListWidgetItem* item) {
    Q_EMIT recent_asked(item->data(Qt::UserRole).toString());
  });
}

void StartPage::set_recent(const QStringList& folders) {
  recent_->clear();
  for (const QString& folder : folders) {
    auto* item =
        new QListWidgetItem(QDir(folder).dirName() + "   " + QDir::toNativeSeparators(folder));
    item->setData(Qt::UserRole, folder);
    item->setToolTip(folder);
    // A stick or a network drive may be away today: shown, and said.
    if (!QFileInfo::exists(folder + "/dossier.json")) {
      item->setText(item->text() + tr("   (not there now)"));
      item->setFlags(item->flags() & ~Qt::ItemIsEnabled);
    }
    recent_->addItem(item);
  }
  if (recent_->count() > 0) recent_->setCurrentRow(0);
}

}  // namespace desk
