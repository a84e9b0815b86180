#include "tools/desk/tables/weak_spots_panel.h"

#include <QApplication>
#include <QHBoxLayout>
#include <QPainter>
#include <QStyledItemDelegate>
#include <QVBoxLayout>
#include <algorithm>

#include "tools/desk/fields/typed_value.h"

namespace desk {
namespace {

constexpr int kQuiet_ms = 250, kIndent = 22, kPad = 5, kNumberWidth = 128;
constexpr double kDefaultTolerance_mm = 0.1;

QString q(const std::string& text) { return QString::fromStdString(text); }

QString sentence_of(const std::string& words) {
  QString text = q(words);
  if (!text.isEmpty()) text[0] = text[0].toUpper();
  return text;
}

/// A sentence that wraps, and at its right the U now, or what U would become.
class WeakSpotDelegate : public QStyledItemDelegate {
 public:
  explicit WeakSpotDelegate(QListView* view) : QStyledItemDelegate(view), view_(view) {}

  [[nodiscard]] QSize sizeHint(const QStyleOptionViewItem& option,
                               const QModelIndex& index) const override {
    const int width = view_->viewport()->width();
    const QFontMetrics metrics(font_of(option, index));
    const QRect text = metrics.boundingRect(text_rect(QRect(0, 0, width, 10000), index),
                                            Qt::TextWordWrap, index.data().toString());
    return {width, text.height() + 2 * kPad};
  }

  void paint(QPainter* painter, const QStyleOptionViewItem& option,
             const QModelIndex& index) const override {
    QStyleOptionViewItem item = option;
    initStyleOption(&item, index);
    item.text.clear();
    QApplication::style()->drawControl(QStyle::CE_ItemViewItem, &item, painter, item.widget);
    const QPalette::ColorRole role =
        option.state & QStyle::State_Selected ? QPalette::HighlightedText : QPalette::Text;
    painter->save();
    painter->setPen(option.palette.color(role));
    painter->setFont(font_of(option, index));
    painter->drawText(text_rect(option.rect, index), Qt::TextWordWrap, index.data().toString());
    if (index.data(WeakSpotRows::kIsHelpRole).toBool()) {
      painter->drawText(
          QRect(option.rect.left() + kPad, option.rect.top() + kPad, kIndent, option.rect.height()),
          Qt::AlignTop | Qt::AlignLeft, QStringLiteral("→"));
    }
    painter->drawText(option.rect.adjusted(option.rect.width() - kNumberWidth, kPad, -kPad, 0),
                      Qt::AlignTop | Qt::AlignRight,
                      index.data(WeakSpotRows::kNumberRole).toString());
    painter->restore();
  }

 private:
  static QFont font_of(const QStyleOptionViewItem& option, const QModelIndex& index) {
    QFont font = option.font;
    font.setBold(!index.data(WeakSpotRows::kIsHelpRole).toBool());
    return font;
  }
  static QRect text_rect(const QRect& all, const QModelIndex& index) {
    const bool is_help = index.data(WeakSpotRows::kIsHelpRole).toBool();
    return all.adjusted(is_help ? kIndent : kPad, kPad, -kNumberWidth - 2 * kPad, -kPad);
  }

  QListView* view_;
};

}  // namespace

void WeakSpotRows::show(std::vector<measure::WeakSpot> spots, std::set<std::string> angles) {
  beginResetModel();
  angles_ = std::move(angles);
  spots_ = std::move(spots);
  places_.clear();
  for (std::size_t s = 0; s < spots_.size(); ++s) {
    places_.push_back({s, {}});
    for (std::size_t h = 0; h < spots_[s].helps.size(); ++h) places_.push_back({s, h});
  }
  endResetModel();
}

void WeakSpotRows::set_unit(measure::TextUnit unit) {
  unit_ = unit;
  if (!places_.empty()) Q_EMIT dataChanged(index(0), index(rowCount() - 1));
}

int WeakSpotRows::rowCount(const QModelIndex& parent) const {
  return parent.isValid() ? 0 : static_cast<int>(places_.size());
}

const measure::WeakSpot& WeakSpotRows::spot(int row) const {
  return spots_[places_[static_cast<std::size_t>(row)].spot];
}

const measure::Help* WeakSpotRows::help(int row) const {
  const Place& place = places_[static_cast<std::size_t>(row)];
  return place.help ? &spots_[place.spot].helps[*place.help] : nullptr;
}

QString WeakSpotRows::number_text(const Place& place) const {
  const measure::WeakSpot& spot = spots_[place.spot];
  const std::optional<double> U = place.help ? spot.helps[*place.help].predicted_U : spot.U;
  if (!U) return {};
  const bool is_angle = angles_.contains(spot.dimension);
  const auto text = is_angle ? measure::angle_text(0, *U) : measure::length_text(0, *U, unit_);
  const QString number = QStringLiteral("± ") + q(text.uncertainty) + ' ' + q(text.unit);
  return place.help ? tr("then %1").arg(number) : tr("U %1").arg(number);
}

QVariant WeakSpotRows::data(const QModelIndex& index, int role) const {
  if (!index.isValid() || index.row() >= rowCount()) return {};
  const Place& place = places_[static_cast<std::size_t>(index.row())];
  const measure::WeakSpot& spot = spots_[place.spot];
  switch (role) {
    case Qt::DisplayRole:
      return sentence_of(place.help ? spot.helps[*place.help].sentence : spot.sentence);
    case Qt::ToolTipRole:
      return place.help ? tr("Enter goes there. Each mark adds to those above it.")
                        : tr("Enter goes there. U on the original, p = 95.45 %.");
    case kNumberRole:
      return number_text(place);
    case kIsHelpRole:
      return place.help.has_value();
    default:
      return {};
  }
}

WeakSpotsPanel::WeakSpotsPanel(DeskSession* session, KeyBook* keys, Tolerance* tolerance,
                               QWidget* parent)
    : QWidget(parent), session_(session), tolerance_(tolerance) {
  setObjectName(QStringLiteral("weak_spots"));
  auto* column = new QVBoxLayout(this);
  column->setContentsMargins(4, 4, 4, 4);
  auto* top = new QHBoxLayout;
  auto* words = new QLabel(tr("Lengths must be known to ±"), this);
  tolerance_field_ = new TypedField(
      QStringLiteral("weak_spots.tolerance"),
      tr("The largest U that will do, on the original, p = 95.45 %: with unit, for example 0.1 mm "
         "or 1/64 in"),
      [session](const QString& text) -> calib::Result<QString, QString> {
        const auto length = typed_length_mm(text, session->unit());
        if (!length) return calib::Unexpected(length.error());
        if (*length <= 0) return calib::Unexpected(tr("A tolerance is more than 0."));
        return length_reading(*length, session->unit());
      },
      this);
  tolerance_field_->edit()->setMaximumWidth(140);
  words->setBuddy(tolerance_field_);
  state_ = new QLabel(this);
  state_->setObjectName(QStringLiteral("weak_spots.state"));
  top->addWidget(words, 0, Qt::AlignTop);
  top->addWidget(tolerance_field_, 0, Qt::AlignTop);
  top->addStretch(1);
  top->addWidget(state_, 0, Qt::AlignTop);
  column->addLayout(top);

  rows_ = new WeakSpotRows(this);
  rows_->set_unit(session->unit());
  view_ = new QListView(this);
  view_->setObjectName(QStringLiteral("weak_spots.view"));
  view_->setModel(rows_);
  view_->setItemDelegate(new WeakSpotDelegate(view_));
  view_->setResizeMode(QListView::Adjust);
  view_->setVerticalScrollMode(QAbstractItemView::ScrollPerPixel);
  view_->setHorizontalScrollBarPolicy(Qt::ScrollBarAlwaysOff);
  // Rows are measured before a bar that comes with them would take its width from them.
  view_->setVerticalScrollBarPolicy(Qt::ScrollBarAlwaysOn);
  empty_ = new QLabel(this);
  empty_->setObjectName(QStringLiteral("weak_spots.empty"));
  empty_->setAlignment(Qt::AlignCenter);
  empty_->setWordWrap(true);
  empty_->setMargin(16);
  stack_ = new QStackedLayout;
  stack_->addWidget(view_);
  stack_->addWidget(empty_);
  column->addLayout(stack_, 1);

  if (!tolerance_->mm()) tolerance_->set_mm(kDefaultTolerance_mm);
  tolerance_field_->set_text(desk::number_text(*tolerance_->mm()) + QStringLiteral(" mm"));
  connect(tolerance_field_, &TypedField::changed, this, [this] {
    if (const auto length = typed_length_mm(tolerance_field_->text(), session_->unit());
        length && *length > 0) {
      tolerance_->set_mm(*length);
    }
  });
  connect(view_, &QAbstractItemView::activated, this, &WeakSpotsPanel::jump);
  quiet_.setSingleShot(true);
  quiet_.setInterval(kQuiet_ms);
  connect(&quiet_, &QTimer::timeout, this, &WeakSpotsPanel::look_anew);
  const auto wait = [this] {
    quiet_.start();
    show_state();
  };
  connect(session, &DeskSession::live_changed, this, wait);
  connect(session, &DeskSession::dossier_changed, this, wait);
  connect(tolerance, &Tolerance::changed, this, wait);
  connect(session, &DeskSession::unit_changed, this, [this] {
    rows_->set_unit(session_->unit());
    look_anew();  // for the sentences
  });
  keys->add(this, tr("Weak spots"), QStringLiteral("weak_spots.tolerance_line"), tr("Tolerance"),
            tr("Type the largest U that will do"), QKeySequence(Qt::Key_T), [this] {
              tolerance_field_->setFocus();
              tolerance_field_->edit()->selectAll();
            });
  wait();
}

void WeakSpotsPanel::look_anew() {
  const auto live = session_->live();
  if (!live->survey || session_->live_is_behind()) {
    if (!live->survey) rows_->show({}, {});
    show_state();
    return;  // live_changed follows
  }
  measure::WeakSpotOptions options;
  options.tolerance_mm = tolerance_->mm().value_or(kDefaultTolerance_mm);
  options.unit = session_->unit();
  background_.run([this, live, dossier = session_->dossier(),
                   options](const Background::Job& job) mutable -> Background::Finish {
    options.cancelled = [job] { return job.cancelled(); };
    auto spots = std::make_shared<std::vector<measure::WeakSpot>>(
        measure::find_weak_spots(*live->survey, dossier, live->dimensions, options));
    std::set<std::string> angles;
    for (const measure::AskedDimension& asked : dossier.dimensions) {
      if (std::holds_alternative<measure::Angle>(asked.kind)) angles.insert(asked.name);
    }
    return [this, spots, angles] {
      looked_ = true;
      const QModelIndex before = view_->currentIndex();
      const int row = before.row();
      rows_->show(std::move(*spots), angles);
      if (row >= 0 && row < rows_->rowCount()) view_->setCurrentIndex(rows_->index(row));
      show_state();
    };
  });
  show_state();
}

void WeakSpotsPanel::show_state() {
  const auto live = session_->live();
  const bool none = rows_->rowCount() == 0;
  stack_->setCurrentIndex(none ? 1 : 0);
  if (busy()) {
    state_->setText(tr("looking …"));
  } else {
    state_->setText(none ? QString() : tr("weak spots: %1").arg(rows_->spot_count()));
  }
  if (!none) return;
  if (live->problem) {
    empty_->setText(q(live->problem->sentence));
  } else if (!live->survey || !looked_ || busy()) {
    empty_->setText(tr("Being computed from the covariance of the survey …"));
  } else if (session_->dossier().dimensions.empty()) {
    empty_->setText(tr("No dimension is asked yet: make one, and what it lacks is listed here."));
  } else {
    empty_->setText(tr("Every dimension that is asked is known well enough for this tolerance."));
  }
}

void WeakSpotsPanel::jump(const QModelIndex& at) {
  const measure::WeakSpot spot = rows_->spot(at.row());
  const measure::Help* help = rows_->help(at.row());
  if (!spot.dimension.empty()) session_->choose_dimension(spot.dimension);
  std::string photo = spot.photo, point = spot.point;
  if (help) {
    if (!help->photo.empty()) photo = help->photo;
    if (!help->point.empty()) point = help->point;
    if (help->camera_position && help->looking_at) {
      Q_EMIT camera_wanted(*help->camera_position, *help->looking_at);
    }
  } else if (!spot.helps.empty()) {
    // The spot itself goes where the first help would.
    if (photo.empty()) photo = spot.helps.front().photo;
    if (point.empty()) point = spot.helps.front().point;
  }
  if (!photo.empty()) session_->choose_photo(photo);
  if (!point.empty()) session_->choose_point(point);
}

}  // namespace desk
