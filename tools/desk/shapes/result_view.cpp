#include "tools/desk/shapes/result_view.h"

#include <QHeaderView>
#include <QVBoxLayout>

#include "tools/desk/shapes/shape_words.h"

namespace desk {
namespace {

QString q(const std::string& text) { return QString::fromStdString(text); }

void put(QTableWidget* table, int row, int column, const QString& text) {
  auto* item = new QTableWidgetItem(text);
  item->setToolTip(text);
  table->setItem(row, column, item);
}

}  // namespace

ResultView::ResultView(const QString& object_name, QWidget* parent) : QWidget(parent) {
  setObjectName(object_name);
  auto* column = new QVBoxLayout(this);
  column->setContentsMargins(0, 0, 0, 0);
  words_ = new QLabel(this);
  words_->setObjectName(object_name + QStringLiteral(".words"));
  words_->setWordWrap(true);
  words_->setTextInteractionFlags(Qt::TextSelectableByMouse);
  problem_ = new SentenceLabel(object_name + QStringLiteral(".problem"), this);
  departures_ = new QTableWidget(this);
  departures_->setObjectName(object_name + QStringLiteral(".departures"));
  departures_->setEditTriggers(QAbstractItemView::NoEditTriggers);
  departures_->setSelectionBehavior(QAbstractItemView::SelectRows);
  departures_->setAlternatingRowColors(true);
  departures_->setShowGrid(false);
  departures_->setWordWrap(false);
  departures_->setTextElideMode(Qt::ElideMiddle);  // what tells a pair stands at its ends
  departures_->verticalHeader()->hide();
  departures_->verticalHeader()->setDefaultSectionSize(fontMetrics().height() + 6);
  departures_->horizontalHeader()->setHighlightSections(false);
  departures_->horizontalHeader()->setDefaultAlignment(Qt::AlignLeft | Qt::AlignVCenter);
  departures_->setHorizontalScrollBarPolicy(Qt::ScrollBarAlwaysOff);
  column->addWidget(words_);
  column->addWidget(problem_);
  column->addWidget(departures_, 1);
  column->addStretch(0);
  say({});
}

void ResultView::say(const QString& words) {
  words_->setText(words);
  words_->setVisible(!words.isEmpty());
  problem_->say({});
  departures_->setRowCount(0);
  departures_->hide();
}

void ResultView::show_result(const measure::FormResult& result, measure::LengthUnit length,
                             measure::TextUnit unit) {
  say({});
  if (!result.problem.empty()) return problem_->say_problem(q(result.problem));
  QStringList words;
  for (const QString& part : {size_text(result, length, unit), form_text(result, length, unit)}) {
    if (!part.isEmpty()) words << part;
  }
  if (words.isEmpty()) words << tr("a %1").arg(form_name(result.form.kind));
  words_->setText(words.join(QStringLiteral("; ")));
  words_->setVisible(true);
  words_->setToolTip(tr("On the original; U at p = 95.45 %"));
  if (!result.pairs.empty()) {
    show_pairs(result, length, unit);
  } else {
    show_points(result, length, unit);
  }
  departures_->setVisible(departures_->rowCount() > 0);
  // The numbers whole; what is left is for the names, whose tooltip has them whole.
  QHeaderView* header = departures_->horizontalHeader();
  header->setSectionResizeMode(QHeaderView::ResizeToContents);
  header->setSectionResizeMode(0, QHeaderView::Stretch);
}

void ResultView::show_points(const measure::FormResult& result, measure::LengthUnit length,
                             measure::TextUnit unit) {
  // Where nothing tests the form, all points lie on it by what it is.
  const auto count = result.test ? static_cast<int>(result.departures.size()) : 0;
  departures_->setColumnCount(2);
  departures_->setHorizontalHeaderLabels({tr("point"), tr("lies off it by")});
  departures_->setRowCount(count);
  for (int row = 0; row < count; ++row) {
    const auto& one = result.departures[static_cast<std::size_t>(row)];
    put(departures_, row, 0, q(one.point));
    put(departures_, row, 1, with_u_text(one.departure, one.u, std::nullopt, length, unit));
  }
}

void ResultView::show_pairs(const measure::FormResult& result, measure::LengthUnit length,
                            measure::TextUnit unit) {
  departures_->setColumnCount(3);
  departures_->setHorizontalHeaderLabels({tr("pair"), tr("departure from symmetry"), QString()});
  departures_->setRowCount(static_cast<int>(result.pairs.size()));
  for (int row = 0; row < departures_->rowCount(); ++row) {
    const auto& pair = result.pairs[static_cast<std::size_t>(row)];
    put(departures_, row, 0, tr("%1 / %2").arg(q(pair.first), q(pair.second)));
    put(departures_, row, 1, with_u_text(pair.value, pair.u, pair.interval, length, unit));
    put(departures_, row, 2, pair.symmetric ? tr("symmetric") : tr("not symmetric"));
    departures_->item(row, 2)->setToolTip(pair.symmetric
                                              ? tr("symmetric within the error bars")
                                              : tr("not symmetric: more than the error bars "
                                                   "explain"));
  }
}

}  // namespace desk
