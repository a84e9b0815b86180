#include "tools/desk/tables/table_panel.h"

#include <QHeaderView>
#include <QVBoxLayout>
#include <algorithm>

namespace desk {
namespace {

constexpr int kWidestColumn_px = 260, kRowsToFit = 60, kSettled_ms = 120;

}  // namespace

TablePanel::TablePanel(const QString& object_name, const QString& place, DeskSession* session,
                       KeyBook* keys, QWidget* parent)
    : QWidget(parent), place_(place), session_(session), keys_(keys) {
  setObjectName(object_name);
  auto* column = new QVBoxLayout(this);
  column->setContentsMargins(4, 4, 4, 4);
  column->setSpacing(4);
  bar_ = new QHBoxLayout;
  filter_ = new QLineEdit(this);
  filter_->setObjectName(object_name + QStringLiteral(".filter"));
  filter_->setPlaceholderText(tr("Show rows with these words"));
  filter_->setToolTip(tr("Only rows in which every one of these words occurs are shown"));
  filter_->setClearButtonEnabled(true);
  filter_->setMinimumWidth(70);
  count_ = new QLabel(this);
  count_->setObjectName(object_name + QStringLiteral(".count"));
  bar_->addWidget(filter_, 1);
  auto* line = new QHBoxLayout;
  line->addLayout(bar_, 1);
  line->addWidget(count_);
  column->addLayout(line);

  order_ = new KeyedOrder(this);
  view_ = new QTableView(this);
  view_->setObjectName(object_name + QStringLiteral(".view"));
  view_->setModel(order_);
  view_->setSortingEnabled(true);
  view_->setSelectionBehavior(QAbstractItemView::SelectRows);
  view_->setSelectionMode(QAbstractItemView::ExtendedSelection);
  view_->setEditTriggers(QAbstractItemView::EditKeyPressed);
  view_->setAlternatingRowColors(true);
  view_->setShowGrid(false);
  view_->setWordWrap(false);
  view_->setTabKeyNavigation(false);  // Tab goes on to the next view
  view_->setContextMenuPolicy(Qt::ActionsContextMenu);
  view_->verticalHeader()->hide();
  view_->verticalHeader()->setDefaultSectionSize(fontMetrics().height() + 8);
  view_->horizontalHeader()->setHighlightSections(false);
  view_->horizontalHeader()->setResizeContentsPrecision(kRowsToFit);
  view_->horizontalHeader()->setSectionsMovable(true);
  view_->horizontalHeader()->setDefaultAlignment(Qt::AlignLeft | Qt::AlignVCenter);
  view_->horizontalHeader()->setStretchLastSection(true);

  empty_ = new QLabel(this);
  empty_->setObjectName(object_name + QStringLiteral(".empty"));
  empty_->setAlignment(Qt::AlignCenter);
  empty_->setWordWrap(true);
  empty_->setMargin(16);
  stack_ = new QStackedLayout;
  stack_->addWidget(view_);
  stack_->addWidget(empty_);
  column->addLayout(stack_, 1);

  widen_.setSingleShot(true);
  widen_.setInterval(kSettled_ms);
  connect(&widen_, &QTimer::timeout, this, &TablePanel::widen_columns);
  connect(view_->horizontalHeader(), &QHeaderView::sectionResized, this, [this](int section) {
    // The last one stretches by itself.
    if (!fitting_ && section != view_->horizontalHeader()->count() - 1) {
      sized_by_person_.insert(section);
    }
  });
  connect(filter_, &QLineEdit::textChanged, this, [this](const QString& words) {
    order_->set_filter(words);
    follow();
  });
  connect(filter_, &QLineEdit::returnPressed, this, [this] {
    view_->setFocus();
    if (!view_->currentIndex().isValid() && order_->rowCount() > 0) {
      view_->setCurrentIndex(order_->index(0, 0));
    }
  });
  add_action(object_name + QStringLiteral(".filter_rows"), tr("Filter"),
             tr("Type words that the rows must hold"), QKeySequence(Qt::CTRL | Qt::Key_F), [this] {
               filter_->setFocus();
               filter_->selectAll();
             });
}

void TablePanel::take_model(KeyedTable* model) {
  model_ = model;
  model_->setParent(this);
  order_->setSourceModel(model_);
  connect(view_->selectionModel(), &QItemSelectionModel::currentRowChanged, this,
          [this](const QModelIndex& now) {
            if (showing_ || !now.isValid()) return;
            wanted_key_ = now.data(KeyedTable::kKeyRole).toString();
            Q_EMIT key_chosen(wanted_key_);
          });
  connect(view_, &QAbstractItemView::activated, this, [this](const QModelIndex& at) {
    Q_EMIT key_activated(at.data(KeyedTable::kKeyRole).toString());
  });
  connect(order_, &QAbstractItemModel::modelReset, this, &TablePanel::follow);
  connect(model_, &QAbstractItemModel::dataChanged, &widen_, qOverload<>(&QTimer::start));
  follow();
}

void TablePanel::follow() {
  const int shown = order_->rowCount(), all = model_ ? model_->rowCount() : 0;
  count_->setText(count_text(shown, all));
  stack_->setCurrentIndex(all == 0 ? 1 : 0);
  fit_columns();
  show_key(wanted_key_);
}

void TablePanel::fit_columns() {
  if (!model_ || model_->rowCount() == 0 || fitted_columns_ == model_->columnCount()) return;
  fitted_columns_ = model_->columnCount();
  sized_by_person_.clear();
  fitting_ = true;
  view_->resizeColumnsToContents();
  for (int c = 0; c < fitted_columns_; ++c) {
    view_->setColumnWidth(c, std::min(view_->columnWidth(c) + 8, kWidestColumn_px));
  }
  fitting_ = false;
}

/// Numbers come after the rows: a column grows with them, and never shrinks under the eye.
void TablePanel::widen_columns() {
  fitting_ = true;
  const QAbstractItemView* view = view_;  // QTableView itself keeps the hint to itself
  for (int c = 0; c < view_->horizontalHeader()->count(); ++c) {
    if (sized_by_person_.contains(c)) continue;
    const int wanted = std::min(view->sizeHintForColumn(c) + 8, kWidestColumn_px);
    if (wanted > view_->columnWidth(c)) view_->setColumnWidth(c, wanted);
  }
  fitting_ = false;
}

QString TablePanel::current_key() const {
  return view_->currentIndex().data(KeyedTable::kKeyRole).toString();
}

QStringList TablePanel::selected_keys() const {
  QStringList keys;
  for (const QModelIndex& row : view_->selectionModel()->selectedRows()) {
    keys.push_back(row.data(KeyedTable::kKeyRole).toString());
  }
  return keys;
}

void TablePanel::show_key(const QString& key) {
  wanted_key_ = key;
  if (!model_ || (current_key() == key && !key.isEmpty())) return;
  const int row = model_->row_of(key);
  const QModelIndex at = row < 0 ? QModelIndex() : order_->mapFromSource(model_->index(row, 0));
  showing_ = true;
  if (at.isValid()) {
    view_->setCurrentIndex(at);
    view_->scrollTo(at);
  } else {
    view_->clearSelection();
    view_->setCurrentIndex({});
  }
  showing_ = false;
}

void TablePanel::set_empty_sentence(const QString& sentence) { empty_->setText(sentence); }

QAction* TablePanel::add_action(const QString& id, const QString& text, const QString& tip,
                                const QKeySequence& key, std::function<void()> what) {
  QAction* action = keys_->add(this, place_, id, text, tip, key, std::move(what));
  view_->addAction(action);
  return action;
}

}  // namespace desk
