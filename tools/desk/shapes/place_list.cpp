#include "tools/desk/shapes/place_list.h"

#include <QHBoxLayout>
#include <QKeyEvent>
#include <QVBoxLayout>
#include <algorithm>

namespace desk {
namespace {

QString q(const std::string& text) { return QString::fromStdString(text); }

}  // namespace

PlaceList::PlaceList(DeskSession* session, const QString& object_name, QWidget* parent)
    : QWidget(parent), session_(session) {
  auto* column = new QVBoxLayout(this);
  column->setContentsMargins(0, 0, 0, 0);
  auto* line = new QHBoxLayout;
  next_ =
      new PlaceField(session, object_name + QStringLiteral(".next"),
                     tr("Pick the next point in any view, or type its name and Enter"), true, this);
  take_out_ = new QPushButton(tr("Take out"), this);
  take_out_->setObjectName(object_name + QStringLiteral(".take_out"));
  take_out_->setToolTip(tr("Takes the selected rows out of the list  [Del]"));
  take_out_->setAutoDefault(false);
  line->addWidget(next_, 1);
  line->addWidget(take_out_, 0, Qt::AlignTop);
  column->addLayout(line);
  list_ = new QListWidget(this);
  list_->setObjectName(object_name + QStringLiteral(".list"));
  list_->setSelectionMode(QAbstractItemView::ExtendedSelection);
  list_->setToolTip(tr("What it goes through, in the order picked"));
  list_->installEventFilter(this);
  column->addWidget(list_, 1);
  setFocusProxy(next_);
  next_->edit()->installEventFilter(this);
  connect(take_out_, &QPushButton::clicked, this, &PlaceList::take_out);
  connect(list_, &QListWidget::itemSelectionChanged, this,
          [this] { take_out_->setEnabled(!list_->selectedItems().isEmpty()); });
  // A point may be renamed or removed while it stands here.
  connect(session, &DeskSession::dossier_changed, this, &PlaceList::follow);
  show_rows();
}

void PlaceList::follow(const measure::Edit& edit) {
  const std::vector<std::string> before = names_;
  const auto rename = [this](const std::string& old_name, const std::string& new_name) {
    std::replace(names_.begin(), names_.end(), old_name, new_name);
  };
  if (const auto* point = std::get_if<measure::RenamePoint>(&edit.what)) {
    rename(point->point, point->name);
  } else if (const auto* shape = std::get_if<measure::RenameShape>(&edit.what)) {
    rename(shape->shape, shape->name);
  }
  const auto is_gone = [this](const std::string& name) {
    return !session_->dossier().find_point(name) && !session_->dossier().find_shape(name);
  };
  if (in_pairs_) {
    // A pair goes with either of its places: those after it would be paired anew.
    std::vector<std::string> kept;
    for (std::size_t i = 0; i < names_.size(); i += 2) {
      const std::size_t end = std::min(i + 2, names_.size());
      if (std::any_of(names_.begin() + i, names_.begin() + end, is_gone)) continue;
      kept.insert(kept.end(), names_.begin() + i, names_.begin() + end);
    }
    names_ = std::move(kept);
  } else {
    std::erase_if(names_, is_gone);
  }
  if (names_ == before) return;
  show_rows();
  Q_EMIT changed();
}

void PlaceList::set_in_pairs(bool in_pairs) {
  in_pairs_ = in_pairs;
  show_rows();
}

void PlaceList::take(const std::string& name) {
  if (std::find(names_.begin(), names_.end(), name) != names_.end()) return;
  names_.push_back(name);
  show_rows();
  Q_EMIT changed();
}

void PlaceList::set_names(std::vector<std::string> names) {
  names_ = std::move(names);
  next_->set_text({});
  show_rows();
  Q_EMIT changed();
}

void PlaceList::show_rows() {
  list_->clear();
  const std::size_t step = in_pairs_ ? 2 : 1;
  for (std::size_t i = 0; i < names_.size(); i += step) {
    if (!in_pairs_) {
      list_->addItem(q(names_[i]));
    } else if (i + 1 < names_.size()) {
      list_->addItem(tr("%1 / %2").arg(q(names_[i]), q(names_[i + 1])));
    } else {
      list_->addItem(tr("%1 / its partner is to be picked").arg(q(names_[i])));
    }
  }
  list_->scrollToBottom();
  take_out_->setEnabled(false);
}

void PlaceList::take_out() {
  std::vector<int> rows;
  for (const QListWidgetItem* item : list_->selectedItems()) rows.push_back(list_->row(item));
  std::sort(rows.rbegin(), rows.rend());
  const std::size_t step = in_pairs_ ? 2 : 1;
  for (const int row : rows) {
    const auto from = names_.begin() + static_cast<std::ptrdiff_t>(row * step);
    const auto left = static_cast<std::size_t>(names_.end() - from);
    names_.erase(from, from + static_cast<std::ptrdiff_t>(std::min(step, left)));
  }
  if (rows.empty()) return;
  show_rows();
  Q_EMIT changed();
}

bool PlaceList::eventFilter(QObject* watched, QEvent* event) {
  if (event->type() != QEvent::KeyPress) return QWidget::eventFilter(watched, event);
  const int key = static_cast<QKeyEvent*>(event)->key();
  if (watched == list_ && (key == Qt::Key_Delete || key == Qt::Key_Backspace)) {
    take_out();
    return true;
  }
  // Enter takes the name that is typed; in an empty line it is the form's.
  const bool is_enter = key == Qt::Key_Return || key == Qt::Key_Enter;
  if (watched == next_->edit() && is_enter && !next_->text().isEmpty()) {
    if (next_->check()) {
      take(next_->place());
      next_->set_text({});
    }
    return true;
  }
  return QWidget::eventFilter(watched, event);
}

}  // namespace desk
