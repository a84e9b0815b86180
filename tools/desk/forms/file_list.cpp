#include "tools/desk/forms/file_list.h"

#include <QCollator>
#include <QDir>
#include <QDropEvent>
#include <QFileDialog>
#include <QFileInfo>
#include <QHeaderView>
#include <QKeyEvent>
#include <QMimeData>
#include <QStyledItemDelegate>
#include <QVBoxLayout>
#include <algorithm>

namespace desk {
namespace {

const QStringList kPictures{QStringLiteral("*.jpg"), QStringLiteral("*.jpeg"),
                            QStringLiteral("*.png"), QStringLiteral("*.tif"),
                            QStringLiteral("*.tiff")};

QString q(const std::filesystem::path& path) { return QString::fromStdString(path.string()); }

QStringList pictures_in(const QString& folder) {
  QStringList names = QDir(folder).entryList(kPictures, QDir::Files);
  QCollator collator;
  collator.setNumericMode(true);
  std::sort(names.begin(), names.end(), collator);
  for (QString& name : names) name = folder + '/' + name;
  return names;
}

/// Sentences are read whole: they wrap, and the row is as high as they need.
class WrappedSentence : public QStyledItemDelegate {
 public:
  explicit WrappedSentence(QTreeWidget* list) : QStyledItemDelegate(list), list_(list) {}
  [[nodiscard]] QSize sizeHint(const QStyleOptionViewItem& option,
                               const QModelIndex& index) const override {
    const int width = std::max(60, list_->columnWidth(index.column()) - 8);
    const QRect text = option.fontMetrics.boundingRect(QRect(0, 0, width, 10000), Qt::TextWordWrap,
                                                       index.data().toString());
    return {width, std::max(text.height(), option.fontMetrics.height()) + 4};
  }

 private:
  QTreeWidget* list_;
};

/// Without the file's own path before it: it stands beside the sentence already.
QString without_path(QString sentence, const std::filesystem::path& file) {
  const QString name = QFileInfo(q(file)).fileName();
  return sentence.replace(q(file), name).replace(name + QStringLiteral(": "), QString());
}

}  // namespace

FileList::FileList(const QString& object_name, const QString& empty, QWidget* parent)
    : QWidget(parent) {
  setObjectName(object_name);
  setAcceptDrops(true);
  auto* column = new QVBoxLayout(this);
  column->setContentsMargins(0, 0, 0, 0);
  list_ = new QTreeWidget(this);
  list_->setObjectName(object_name + QStringLiteral(".view"));
  list_->setRootIsDecorated(false);
  list_->setUniformRowHeights(false);
  list_->setWordWrap(true);
  list_->setSelectionMode(QAbstractItemView::ExtendedSelection);
  list_->setHeaderLabels({tr("file"), tr("what becomes of it")});
  list_->header()->setStretchLastSection(true);
  list_->header()->resizeSection(0, 180);
  list_->setItemDelegateForColumn(1, new WrappedSentence(list_));
  connect(list_->header(), &QHeaderView::sectionResized, list_, &QTreeWidget::doItemsLayout);
  list_->installEventFilter(this);
  list_->viewport()->installEventFilter(this);
  hint_ = new QLabel(empty, list_->viewport());
  hint_->setObjectName(object_name + QStringLiteral(".hint"));
  hint_->setWordWrap(true);
  hint_->setAlignment(Qt::AlignCenter);
  hint_->setAttribute(Qt::WA_TransparentForMouseEvents);
  column->addWidget(list_, 1);
  auto* buttons = new QHBoxLayout;
  choose_ = new QPushButton(tr("Choose files …"), this);
  choose_->setObjectName(object_name + QStringLiteral(".choose"));
  choose_->setAutoDefault(false);
  remove_ = new QPushButton(tr("Take from the list"), this);
  remove_->setObjectName(object_name + QStringLiteral(".remove"));
  remove_->setAutoDefault(false);
  remove_->setToolTip(tr("The files themselves stay where they are  [Del]"));
  buttons->addWidget(choose_);
  buttons->addWidget(remove_);
  buttons->addStretch(1);
  column->addLayout(buttons);
  connect(choose_, &QPushButton::clicked, this, [this] {
    auto* dialog = new QFileDialog(this, tr("Photographs"));
    dialog->setAttribute(Qt::WA_DeleteOnClose);
    dialog->setFileMode(QFileDialog::ExistingFiles);
    dialog->setNameFilter(tr("Photographs (%1)").arg(kPictures.join(' ')));
    connect(dialog, &QFileDialog::filesSelected, this, [this](const QStringList& chosen) {
      std::vector<std::filesystem::path> paths;
      for (const QString& file : chosen) paths.emplace_back(file.toStdString());
      add(paths);
    });
    dialog->show();
  });
  connect(remove_, &QPushButton::clicked, this, [this] {
    if (locked_) return;
    qDeleteAll(list_->selectedItems());
    place_hint();
    Q_EMIT changed();
  });
  place_hint();
}

void FileList::add(const std::vector<std::filesystem::path>& files_and_folders) {
  if (locked_) return;
  for (const std::filesystem::path& path : files_and_folders) {
    const QStringList files =
        QFileInfo(q(path)).isDir() ? pictures_in(q(path)) : QStringList{q(path)};
    for (const QString& file : files) {
      const QString full = QFileInfo(file).absoluteFilePath();
      if (item_of(full.toStdString())) continue;
      auto* item = new QTreeWidgetItem(list_, {QFileInfo(full).fileName(), QString()});
      item->setData(0, Qt::UserRole, full);
      item->setToolTip(0, full);
      for (const int column : {0, 1}) item->setTextAlignment(column, Qt::AlignTop | Qt::AlignLeft);
    }
  }
  place_hint();
  Q_EMIT changed();
}

void FileList::clear() {
  list_->clear();
  place_hint();
  Q_EMIT changed();
}

std::vector<std::filesystem::path> FileList::files() const {
  std::vector<std::filesystem::path> files;
  for (int i = 0; i < list_->topLevelItemCount(); ++i) {
    files.emplace_back(list_->topLevelItem(i)->data(0, Qt::UserRole).toString().toStdString());
  }
  return files;
}

QTreeWidgetItem* FileList::item_of(const std::filesystem::path& file) const {
  for (int i = 0; i < list_->topLevelItemCount(); ++i) {
    QTreeWidgetItem* item = list_->topLevelItem(i);
    if (item->data(0, Qt::UserRole).toString() == q(file)) return item;
  }
  return nullptr;
}

void FileList::set_state(const std::filesystem::path& file, const QString& sentence,
                         bool is_problem) {
  QTreeWidgetItem* item = item_of(file);
  if (!item) return;
  item->setText(1, (is_problem ? QStringLiteral("▲ ") : QString()) + without_path(sentence, file));
  item->setToolTip(1, sentence);
}

QString FileList::state(const std::filesystem::path& file) const {
  const QTreeWidgetItem* item = item_of(file);
  return item ? item->text(1) : QString();
}

void FileList::remove_if(const std::function<bool(const std::filesystem::path&)>& gone) {
  for (const std::filesystem::path& file : files()) {
    if (gone(file)) delete item_of(file);
  }
  place_hint();
  Q_EMIT changed();
}

void FileList::set_locked(bool locked) {
  locked_ = locked;
  choose_->setEnabled(!locked);
  remove_->setEnabled(!locked);
}

void FileList::dragEnterEvent(QDragEnterEvent* event) {
  if (event->mimeData()->hasUrls() && !locked_) event->acceptProposedAction();
}

void FileList::dropEvent(QDropEvent* event) {
  std::vector<std::filesystem::path> paths;
  for (const QUrl& url : event->mimeData()->urls()) {
    if (url.isLocalFile()) paths.emplace_back(url.toLocalFile().toStdString());
  }
  add(paths);
  event->acceptProposedAction();
}

bool FileList::eventFilter(QObject* watched, QEvent* event) {
  if (watched == list_->viewport() && event->type() == QEvent::Resize) place_hint();
  if (watched == list_ && event->type() == QEvent::KeyPress &&
      static_cast<QKeyEvent*>(event)->key() == Qt::Key_Delete) {
    remove_->click();
    return true;
  }
  return QWidget::eventFilter(watched, event);
}

void FileList::place_hint() {
  hint_->setVisible(list_->topLevelItemCount() == 0);
  hint_->setGeometry(list_->viewport()->rect().adjusted(16, 16, -16, -16));
}

}  // namespace desk
