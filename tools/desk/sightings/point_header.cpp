#include "tools/desk/sightings/point_header.h"

#include <QEvent>
#include <QHBoxLayout>
#include <QKeyEvent>
#include <QVBoxLayout>
#include <algorithm>
#include <cmath>

#include <Eigen/Eigenvalues>

#include "tools/desk/sightings/order.h"

namespace desk {
namespace {

QString text(const std::string& words) { return QString::fromStdString(words); }

/// A length alone, to two digits, in the unit chosen.
QString length(double mm, measure::TextUnit unit) {
  const measure::ValueText both = measure::length_text(0.0, mm, unit);
  return text(both.uncertainty) + " " + text(both.unit);
}

}  // namespace

double weakest_U(const Eigen::Matrix3d& covariance) {
  const Eigen::SelfAdjointEigenSolver<Eigen::Matrix3d> eigen(covariance, Eigen::EigenvaluesOnly);
  return 2.0 * std::sqrt(std::max(0.0, eigen.eigenvalues()[2]));
}

PointHeader::PointHeader(DeskSession* session, QWidget* parent)
    : QWidget(parent),
      session_(session),
      name_(new QLabel(this)),
      kind_(new QLabel(this)),
      position_(new QLabel(this)),
      dimensions_(new QLabel(this)),
      new_name_(new QLineEdit(this)) {
  setObjectName("sightings.header");
  name_->setObjectName("sightings.point");
  kind_->setObjectName("sightings.kind");
  position_->setObjectName("sightings.position");
  dimensions_->setObjectName("sightings.dimensions");
  new_name_->setObjectName("sightings.new_name");
  QFont large = name_->font();
  large.setPointSizeF(1.35 * large.pointSizeF());
  large.setBold(true);
  name_->setFont(large);
  position_->setToolTip(
      tr("Expanded uncertainty U (k = 2) of the point's position in its weakest "
         "direction, within the survey's free network"));
  dimensions_->setSizePolicy(QSizePolicy::Ignored, QSizePolicy::Preferred);
  new_name_->setPlaceholderText(tr("name of the new point"));
  new_name_->setToolTip(tr("Return makes the point, Escape gives it up"));
  new_name_->setFixedWidth(320);
  new_name_->hide();
  new_name_->installEventFilter(this);

  auto* first = new QHBoxLayout;
  first->setSpacing(14);
  first->addWidget(name_);
  first->addWidget(new_name_);
  first->addWidget(kind_);
  first->addWidget(position_, 1);
  auto* rows = new QVBoxLayout(this);
  rows->setContentsMargins(8, 6, 8, 2);
  rows->setSpacing(2);
  rows->addLayout(first);
  rows->addWidget(dimensions_);

  connect(new_name_, &QLineEdit::returnPressed, this, &PointHeader::make_point);
  connect(session_, &DeskSession::point_chosen, this, &PointHeader::point_changed);
  connect(session_, &DeskSession::live_changed, this, &PointHeader::numbers_changed);
  connect(session_, &DeskSession::unit_changed, this, &PointHeader::numbers_changed);
  connect(session_, &DeskSession::dossier_changed, this, [this](const measure::Edit&) {
    // The number that the next one is compared with.
    before_ = now_;
    numbers_changed();
  });
  point_changed();
}

void PointHeader::ask_for_name() {
  const std::string& chosen = session_->chosen_point();
  new_name_->setText(text(next_name(session_->dossier(), chosen.empty() ? last_named_ : chosen)));
  name_->hide();
  new_name_->show();
  new_name_->setFocus(Qt::OtherFocusReason);
  new_name_->selectAll();
}

void PointHeader::make_point() {
  const std::string name = new_name_->text().trimmed().toStdString();
  if (name.empty()) return;
  measure::Point point;
  point.name = name;
  if (const measure::Point* like = session_->dossier().find_point(session_->chosen_point())) {
    point.kind = like->kind;
  }
  // Where the name is taken, refused() says so and the line stays open.
  if (!session_->change(measure::AddPoint{point})) return;
  last_named_ = name;
  new_name_->hide();
  name_->show();
  session_->choose_point(name);
  Q_EMIT named();
}

bool PointHeader::eventFilter(QObject* watched, QEvent* event) {
  if (watched == new_name_ && event->type() == QEvent::ShortcutOverride &&
      static_cast<QKeyEvent*>(event)->key() == Qt::Key_Escape) {
    event->accept();  // the line's, not the sightings'
    return true;
  }
  if (watched == new_name_ && event->type() == QEvent::KeyPress &&
      static_cast<QKeyEvent*>(event)->key() == Qt::Key_Escape) {
    new_name_->hide();
    name_->show();
    Q_EMIT named();
    return true;
  }
  return QWidget::eventFilter(watched, event);
}

std::optional<double> PointHeader::position_U() const {
  const measure::PointReport* report = session_->point_report(session_->chosen_point());
  if (!report || !report->placed) return std::nullopt;
  return weakest_U(report->covariance);
}

void PointHeader::point_changed() {
  const std::string& point = session_->chosen_point();
  new_name_->hide();
  name_->show();
  before_.reset();
  now_.reset();
  if (point.empty()) {
    name_->setText(tr("No point chosen"));
    kind_->clear();
  } else {
    name_->setText(text(point));
    const measure::Point* entry = session_->dossier().find_point(point);
    kind_->setText(entry ? text(entry->kind) : QString());
    last_named_ = point;
  }
  numbers_changed();
}

void PointHeader::numbers_changed() {
  const std::string& point = session_->chosen_point();
  const auto live = session_->live();
  if (point.empty()) {
    position_->setText(session_->dossier().points.empty()
                           ? tr("Name the first point to begin.")
                           : tr("Choose one to see it in all photos, or name a new one."));
    dimension_texts_.clear();
    dimensions_->clear();
    return;
  }
  const measure::PointReport* report = session_->point_report(point);
  int marks = 0;
  for (const measure::Mark& mark : session_->dossier().marks) {
    marks += mark.point == point && !mark.set_aside ? 1 : 0;
  }
  now_ = position_U();
  QString words = tr("marks: %1").arg(marks);
  if (now_ && live->survey && live->survey->report().unit == measure::LengthUnit::kMillimetre) {
    words += tr(" · position ± %1").arg(length(*now_, session_->unit()));
    if (before_ && std::abs(*before_ - *now_) > 0.005 * *before_) {
      words +=
          *now_ < *before_
              ? tr(", was ± %1 before the last mark").arg(length(*before_, session_->unit()))
              : tr(", grew from ± %1 with the last change").arg(length(*before_, session_->unit()));
    }
  } else if (now_) {
    words += tr(" · placed; add a scale bar for its uncertainty in millimetres");
  } else if (report && !report->reason.empty()) {
    words += " · " + text(report->reason);
  } else if (live->problem) {
    words += " · " + text(live->problem->sentence);
  } else {
    words += tr(" · not placed yet: mark it in two photos");
  }
  position_->setText(words);

  dimension_texts_.clear();
  for (const measure::AskedDimension& asked : session_->dossier().dimensions) {
    const auto names = measure::names_of(asked.kind);
    if (std::find(names.begin(), names.end(), point) == names.end()) continue;
    QString value = tr("no value yet");
    for (const measure::DimensionResult& result : live->dimensions) {
      if (result.name == asked.name && result.scale == "model" && result.problem.empty()) {
        value = text(measure::result_text(result, session_->unit()));
      }
    }
    dimension_texts_ << text(asked.name) + ": " + value;
  }
  show_dimensions();
}

void PointHeader::show_dimensions() {
  if (dimension_texts_.isEmpty()) {
    dimensions_->setText(
        session_->chosen_point().empty() ? QString() : tr("no dimension hangs on this point yet"));
    return;
  }
  // As many as fit; the others are counted and stand in the tooltip.
  const QString between = "   ·   ";
  QString line;
  qsizetype shown = 0;
  for (; shown < dimension_texts_.size(); ++shown) {
    const QString longer =
        shown == 0 ? dimension_texts_[0] : line + between + dimension_texts_[shown];
    const QString more = tr("%1 more").arg(dimension_texts_.size());
    if (shown > 0 &&
        fontMetrics().horizontalAdvance(longer + between + more) > dimensions_->width()) {
      break;
    }
    line = longer;
  }
  if (shown < dimension_texts_.size()) {
    line += between + tr("%1 more").arg(dimension_texts_.size() - shown);
  }
  dimensions_->setText(line);
  dimensions_->setToolTip(
      tr("Dimensions that hang on this point: value ± U (k = 2), of the original") + "\n" +
      dimension_texts_.join('\n'));
}

void PointHeader::resizeEvent(QResizeEvent* event) {
  QWidget::resizeEvent(event);
  layout()->activate();
  show_dimensions();
}

}  // namespace desk
