#include "tools/desk/contact/contact_sheet.h"

#include <QComboBox>
#include <QDragEnterEvent>
#include <QDropEvent>
#include <QHBoxLayout>
#include <QLabel>
#include <QListView>
#include <QMimeData>
#include <QPainter>
#include <QUrl>
#include <QVBoxLayout>
#include <algorithm>

#include "tools/desk/contact/photo_delegate.h"
#include "tools/desk/contact/photo_model.h"
#include "tools/desk/look/key_book.h"
#include "tools/desk/photos/photo_store.h"
#include "tools/desk/session/desk_session.h"

namespace desk {
namespace {

constexpr int kSizeStep = 40, kSmallest = 88, kLargest = 328;

std::vector<std::filesystem::path> local_files(const QMimeData* data) {
  std::vector<std::filesystem::path> files;
  for (const QUrl& url : data->urls()) {
    if (url.isLocalFile()) files.emplace_back(url.toLocalFile().toStdString());
  }
  return files;
}

}  // namespace

ContactSheet::ContactSheet(DeskSession* session, PhotoStore* store, KeyBook* keys, QWidget* parent)
    : QWidget(parent), session_(session), store_(store) {
  setObjectName("contact_sheet");
  enter_photos();
  model_ = new PhotoModel(session, store, this);
  sorter_ = new PhotoSorter(model_, this);
  sorter_->set_could_see([this](const std::string& photo) { return could_see(photo); });
  delegate_ = new PhotoDelegate(this);

  list_ = new QListView(this);
  list_->setObjectName("contact_list");
  list_->setModel(sorter_);
  list_->setItemDelegate(delegate_);
  list_->setViewMode(QListView::IconMode);
  list_->setResizeMode(QListView::Adjust);
  list_->setMovement(QListView::Static);
  list_->setUniformItemSizes(true);
  list_->setSelectionMode(QAbstractItemView::SingleSelection);
  list_->setVerticalScrollMode(QAbstractItemView::ScrollPerPixel);
  list_->setMouseTracking(true);
  list_->setEditTriggers(QAbstractItemView::NoEditTriggers);
  list_->setDragDropMode(QAbstractItemView::NoDragDrop);
  list_->viewport()->setAcceptDrops(true);
  list_->viewport()->installEventFilter(this);
  set_size(0);

  order_ = new QComboBox(this);
  order_->setObjectName("contact_order");
  order_->setToolTip(tr("In which order the photos stand"));
  order_->addItem(tr("by name"));
  order_->addItem(tr("fewest marks first"));
  order_->addItem(tr("largest rms first"));
  order_->addItem(tr("not oriented first"));
  filter_ = new QComboBox(this);
  filter_->setObjectName("contact_filter");
  filter_->setToolTip(tr("Which photos are shown"));
  filter_->addItem(tr("all photos"));
  filter_->addItem(tr("not oriented"));
  filter_->addItem(tr("chosen point could be marked"));
  for (QComboBox* box : {order_, filter_}) {
    box->setFocusPolicy(Qt::TabFocus);
    box->setSizeAdjustPolicy(QComboBox::AdjustToContents);
  }
  summary_ = new QLabel(this);
  summary_->setObjectName("contact_summary");
  summary_->setMinimumWidth(1);

  auto* head = new QHBoxLayout;
  head->addWidget(filter_);
  head->addWidget(order_);
  head->addWidget(summary_, 1);
  auto* column = new QVBoxLayout(this);
  column->setContentsMargins(6, 6, 6, 6);
  column->setSpacing(4);
  column->addLayout(head);
  column->addWidget(list_, 1);
  setFocusProxy(list_);

  connect(order_, &QComboBox::currentIndexChanged, this, [this](int which) {
    sorter_->set_order(static_cast<PhotoOrder>(which));
    show_chosen_photo();
  });
  connect(filter_, &QComboBox::currentIndexChanged, this, [this](int which) {
    sorter_->set_filter(static_cast<PhotoFilter>(which));
    show_chosen_photo();
    write_summary();
  });
  connect(list_, &QListView::doubleClicked, this, &ContactSheet::open_current);
  connect(list_->selectionModel(), &QItemSelectionModel::currentChanged, this,
          [this](const QModelIndex& now) {
            // A filter that leaves nothing is no choice of the person.
            if (now.isValid()) session_->choose_photo(model_->photo_at(sorter_->mapToSource(now)));
          });
  connect(session_, &DeskSession::photo_chosen, this, &ContactSheet::show_chosen_photo);
  connect(session_, &DeskSession::dossier_changed, this, [this] {
    enter_photos();
    renew();
  });
  connect(session_, &DeskSession::live_changed, this, &ContactSheet::renew);
  connect(session_, &DeskSession::point_chosen, this, &ContactSheet::renew);
  if (keys) add_keys(keys);
  show_chosen_photo();
  write_summary();
}

ContactSheet::~ContactSheet() = default;

void ContactSheet::add_keys(KeyBook* keys) {
  const auto add = [&](const char* id, const QString& text, const QString& tip,
                       const QKeySequence& key, auto what) {
    keys->add(this, tr("Contact sheet"), id, text, tip, key, what);
  };
  add("contact.open", tr("Open photo"), tr("Shows the chosen photo large"),
      QKeySequence(Qt::Key_Return), [this] { open_current(); });
  add("contact.larger", tr("Larger pictures"), tr("Shows the photos larger"), QKeySequence("+"),
      [this] { set_size(1); });
  add("contact.smaller", tr("Smaller pictures"), tr("Shows more photos at once"), QKeySequence("-"),
      [this] { set_size(-1); });
  add("contact.next_filter", tr("Other photos"),
      tr("All photos, those not oriented, those in which the chosen point could be marked"),
      QKeySequence("F"),
      [this] { filter_->setCurrentIndex((filter_->currentIndex() + 1) % filter_->count()); });
  add("contact.next_order", tr("Other order"),
      tr("By name, fewest marks, largest rms, not oriented first"), QKeySequence("O"),
      [this] { order_->setCurrentIndex((order_->currentIndex() + 1) % order_->count()); });
}

void ContactSheet::set_could_see(std::function<bool(const std::string& photo)> could_see) {
  could_see_ = std::move(could_see);
  sorter_->renew();
}

bool ContactSheet::could_see(const std::string& photo) {
  if (could_see_) return could_see_(photo);
  const auto survey = session_->live()->survey;
  if (!survey) return false;
  if (!predictor_ || predicted_survey_ != survey) {
    predictor_.reset();
    predicted_survey_ = survey;
    predictor_ = std::make_unique<measure::Predictor>(*survey, session_->dossier());
  }
  const measure::Sight sight = predictor_->sight(photo, session_->chosen_point());
  return sight == measure::Sight::kLikely || sight == measure::Sight::kUnclear;
}

void ContactSheet::enter_photos() {
  std::map<std::string, std::filesystem::path> now;
  for (const measure::Photo& photo : session_->dossier().photos) {
    now.emplace(photo.name, session_->file_of(photo));
  }
  for (const auto& [name, file] : entered_) {
    if (!now.contains(name)) store_->forget(name);
  }
  for (const auto& [name, file] : now) {
    const auto before = entered_.find(name);
    if (before == entered_.end() || before->second != file) store_->enter(name, file);
  }
  entered_ = std::move(now);
}

void ContactSheet::open_current() {
  const QModelIndex at = list_->currentIndex();
  if (!at.isValid()) return;
  const std::string photo = model_->photo_at(sorter_->mapToSource(at));
  session_->choose_photo(photo);
  Q_EMIT photo_opened(photo);
}

void ContactSheet::show_chosen_photo() {
  const QModelIndex at = sorter_->mapFromSource(model_->index_of(session_->chosen_photo()));
  if (!at.isValid()) {
    list_->selectionModel()->clear();
    return;
  }
  if (at != list_->currentIndex()) list_->setCurrentIndex(at);
  list_->scrollTo(at);
}

void ContactSheet::renew() {
  predictor_.reset();  // it refers to the dossier as it was
  if (sorter_->filter() == PhotoFilter::kChosenUnmarked) sorter_->renew();
  write_summary();
  list_->viewport()->update();
}

void ContactSheet::write_summary() {
  const int all = model_->rowCount(), here = sorter_->rowCount();
  int oriented = 0;
  for (int row = 0; row < all; ++row) {
    oriented += model_->data(model_->index(row), PhotoModel::kOrientedRole).toBool();
  }
  QString text = tr("photos: %1, oriented: %2").arg(all).arg(oriented);
  if (here != all) text += ", " + tr("shown: %1").arg(here);
  summary_->setText(all == 0 ? QString() : text);
  list_->viewport()->update();
}

void ContactSheet::set_size(int step) {
  delegate_->set_side(std::clamp(delegate_->side() + step * kSizeStep, kSmallest, kLargest));
  list_->setGridSize(delegate_->cell(list_->font()));
  list_->doItemsLayout();
}

std::vector<std::string> ContactSheet::shown() const {
  std::vector<std::string> names;
  for (int row = 0; row < sorter_->rowCount(); ++row) {
    names.push_back(model_->photo_at(sorter_->mapToSource(sorter_->index(row, 0))));
  }
  return names;
}

bool ContactSheet::eventFilter(QObject* object, QEvent* event) {
  if (object != list_->viewport()) return QWidget::eventFilter(object, event);
  switch (event->type()) {
    case QEvent::DragEnter:
    case QEvent::DragMove: {
      auto* drag = static_cast<QDragMoveEvent*>(event);
      if (local_files(drag->mimeData()).empty()) {
        drag->ignore();
      } else {
        drag->setDropAction(Qt::CopyAction);
        drag->accept();
      }
      return true;
    }
    case QEvent::Drop: {
      auto* drop = static_cast<QDropEvent*>(event);
      const auto files = local_files(drop->mimeData());
      if (files.empty()) {
        drop->ignore();
      } else {
        drop->setDropAction(Qt::CopyAction);
        drop->accept();
        Q_EMIT files_dropped(files);
      }
      return true;
    }
    case QEvent::Paint: {
      if (sorter_->rowCount() > 0) break;
      QPainter painter(list_->viewport());
      painter.setPen(list_->palette().color(QPalette::PlaceholderText));
      QString sentence;
      if (model_->rowCount() == 0) {
        sentence = tr("No photographs yet.\nDrop photographs or folders here.");
      } else if (sorter_->filter() == PhotoFilter::kNotOriented) {
        sentence = tr("Every photo is oriented.");
      } else if (session_->chosen_point().empty()) {
        sentence =
            tr("Choose a point first: then the photos stand here in which it could be seen "
               "and is not marked.");
      } else {
        sentence = tr("%1 is marked in every photo in which it could be seen, as far as the survey "
                      "can tell.")
                       .arg(QString::fromStdString(session_->chosen_point()));
      }
      painter.drawText(list_->viewport()->rect().adjusted(24, 24, -24, -24),
                       Qt::AlignCenter | Qt::TextWordWrap, sentence);
      return true;
    }
    default:
      break;
  }
  return QWidget::eventFilter(object, event);
}

}  // namespace desk
