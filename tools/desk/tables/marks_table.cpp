#include "tools/desk/tables/marks_table.h"

#include <QIcon>
#include <QPainter>
#include <QPixmap>
#include <QToolButton>
#include <array>
#include <cmath>
#include <limits>

namespace desk {
namespace {

QString q(const std::string& text) { return QString::fromStdString(text); }
constexpr double kInfinite = std::numeric_limits<double>::infinity();

MarkState state_of(const measure::Mark& mark, bool doubted) {
  if (mark.set_aside) return MarkState::kSetAside;
  if (doubted) return MarkState::kDoubted;
  switch (mark.source) {
    case measure::MarkSource::kByHand:
      return MarkState::kByHand;
    case measure::MarkSource::kRefined:
      return MarkState::kRefined;
    case measure::MarkSource::kImported:
      return MarkState::kImported;
  }
  return MarkState::kByHand;
}

/// The sign that stands in the photos.
QIcon icon_of(MarkState state) {
  static std::array<QIcon, 6> icons;
  QIcon& icon = icons[static_cast<std::size_t>(state)];
  if (icon.isNull()) {
    for (const int ratio : {1, 2, 3}) {
      constexpr int kSize = 18;
      QPixmap picture(kSize * ratio, kSize * ratio);
      picture.fill(Qt::transparent);
      picture.setDevicePixelRatio(ratio);
      QPainter painter(&picture);
      draw_mark(painter, QPointF(kSize / 2.0, kSize / 2.0 + 0.5), state, 5.0, false);
      painter.end();
      icon.addPixmap(picture);
    }
  }
  return icon;
}

}  // namespace

QString MarksModel::key_of(const std::string& photo, const std::string& point) {
  return q(photo) + '\n' + q(point);  // names hold no control characters
}

measure::MarkKey MarksModel::mark_of(const QString& key) {
  return {key.section('\n', 0, 0).toStdString(), key.section('\n', 1).toStdString()};
}

MarksModel::MarksModel(DeskSession* session) : session_(session) {
  connect(session, &DeskSession::dossier_changed, this, &MarksModel::refresh);
  connect(session, &DeskSession::live_changed, this, &MarksModel::refresh);
  connect(session, &DeskSession::point_chosen, this, [this] {
    if (scope_ == MarksOf::kPoint) refresh();
  });
  connect(session, &DeskSession::photo_chosen, this, [this] {
    if (scope_ == MarksOf::kPhoto) refresh();
  });
  refresh();
}

void MarksModel::show_marks_of(MarksOf scope) {
  scope_ = scope;
  refresh();
}

void MarksModel::refresh() {
  rows_.clear();
  std::vector<QString> keys;
  for (const measure::Mark& mark : session_->dossier().marks) {
    if (scope_ == MarksOf::kPoint && mark.point != session_->chosen_point()) continue;
    if (scope_ == MarksOf::kPhoto && mark.photo != session_->chosen_photo()) continue;
    const bool doubted = session_->is_doubted(mark.photo, mark.point);
    if (scope_ == MarksOf::kDoubted && !doubted && !mark.set_aside) continue;
    Row row{mark, {}, state_of(mark, doubted)};
    if (const auto* report = session_->report_of(mark.photo, mark.point)) row.report = *report;
    rows_.push_back(std::move(row));
    keys.push_back(key_of(mark.photo, mark.point));
  }
  set_keys(std::move(keys));
}

int MarksModel::columnCount(const QModelIndex& parent) const {
  return parent.isValid() ? 0 : kColumns;
}

QString MarksModel::text_of(const Row& row, int column) const {
  const bool tested = row.report && row.report->in_use && !row.mark.set_aside;
  switch (column) {
    case kPhoto:
      return q(row.mark.photo);
    case kPoint:
      return q(row.mark.point);
    case kResidual:
      return row.report ? tr("%1 px").arg(row.report->residual_px.norm(), 0, 'f', 2) : tr("—");
    case kW:
      if (!tested) return tr("—");
      if (!row.report->controlled) return tr("not controlled");
      return tr("%1 of %2").arg(row.report->w, 0, 'f', 1).arg(row.report->critical_w, 0, 'f', 1);
    case kRedundancy:
      // A doubted mark was judged by the others alone: it had no share in what it was compared
      // with.
      return tested && !row.report->doubted ? QString::number(row.report->redundancy, 'f', 2)
                                            : tr("—");
    case kSigma:
      return tr("%1 px").arg(row.mark.sigma_px, 0, 'f', 2);
    case kState:
      return word_of(row.state);
    default:
      return {};
  }
}

QVariant MarksModel::sort_value(const Row& row, int column) const {
  switch (column) {
    case kResidual:
      return row.report ? row.report->residual_px.norm() : kInfinite;
    case kW:
      if (!row.report || !row.report->in_use || row.report->critical_w <= 0) return -1.0;
      return row.report->controlled ? row.report->w / row.report->critical_w : kInfinite;
    case kRedundancy:
      return row.report ? row.report->redundancy : kInfinite;
    case kSigma:
      return row.mark.sigma_px;
    default:
      return text_of(row, column);
  }
}

QString MarksModel::tip_of(const Row& row, int column) const {
  switch (column) {
    case kResidual:
      return row.report ? tr("Projected − marked: x %1 px, y %2 px")
                              .arg(row.report->residual_px.x(), 0, 'f', 2)
                              .arg(row.report->residual_px.y(), 0, 'f', 2)
                        : tr("Not adjusted yet");
    case kW:
      if (row.report && !row.report->controlled) {
        return tr("Too few other marks control it: no test would find a blunder here");
      }
      return tr("Normalised residual against the value beyond which the mark is doubted");
    case kRedundancy:
      return tr("0: its own residual would show nothing of a blunder; 1: all of it");
    case kSigma:
      return tr("Standard uncertainty of a coordinate, before the adjustment");
    case kState:
      if (row.state == MarkState::kDoubted && row.report) {
        return tr("Fails the test for blunders by %1 px: look at it, then correct it or set it "
                  "aside")
            .arg(row.report->residual_px.norm(), 0, 'f', 2);
      }
      return word_of(row.state);
    default:
      return text_of(row, column);
  }
}

QVariant MarksModel::data(const QModelIndex& index, int role) const {
  if (!index.isValid() || index.row() >= static_cast<int>(rows_.size())) return {};
  const Row& row = rows_[static_cast<std::size_t>(index.row())];
  switch (role) {
    case Qt::DisplayRole:
      return text_of(row, index.column());
    case Qt::DecorationRole:
      return index.column() == kState ? QVariant(icon_of(row.state)) : QVariant();
    case Qt::ToolTipRole:
      return tip_of(row, index.column());
    case Qt::TextAlignmentRole:
      return alignment(index.column());
    case kKeyRole:
      return key_of(row.mark.photo, row.mark.point);
    case kSortRole:
      return sort_value(row, index.column());
    default:
      return {};
  }
}

int MarksModel::alignment(int column) const {
  const bool is_number = column >= kResidual && column <= kSigma;
  return static_cast<int>((is_number ? Qt::AlignRight : Qt::AlignLeft) | Qt::AlignVCenter);
}

QVariant MarksModel::headerData(int section, Qt::Orientation orientation, int role) const {
  if (orientation != Qt::Horizontal) return {};
  if (role == Qt::TextAlignmentRole) return alignment(section);
  if (role == Qt::DisplayRole) {
    switch (section) {
      case kPhoto:
        return tr("photo");
      case kPoint:
        return tr("point");
      case kResidual:
        return tr("residual");
      case kW:
        return tr("w of critical");
      case kRedundancy:
        return tr("redundancy");
      case kSigma:
        return tr("σ");
      case kState:
        return tr("state");
      default:
        return {};
    }
  }
  if (role == Qt::ToolTipRole) {
    switch (section) {
      case kResidual:
        return tr("Distance between the mark and where the survey projects the point, px");
      case kW:
        return tr("Normalised residual, and the value beyond which a mark is doubted");
      case kRedundancy:
        return tr("How much of a blunder the mark's own residual would show, 0 to 1");
      case kSigma:
        return tr("Standard uncertainty of a coordinate before the adjustment, px");
      default:
        return {};
    }
  }
  return {};
}

MarksTable::MarksTable(DeskSession* session, KeyBook* keys, QWidget* parent)
    : TablePanel(QStringLiteral("marks_table"), tr("Marks"), session, keys, parent) {
  take_model(new MarksModel(session));
  view()->sortByColumn(MarksModel::kW, Qt::DescendingOrder);
  scope_ = new QComboBox(this);
  scope_->setMinimumWidth(100);  // where there is room, it takes what its words need
  scope_->setObjectName(QStringLiteral("marks_table.scope"));
  scope_->setToolTip(tr("Which marks are listed"));
  scope_->addItems({tr("of the chosen point"), tr("of the chosen photo"),
                    tr("doubted and set aside"), tr("all")});
  bar()->addWidget(scope_);
  connect(scope_, &QComboBox::currentIndexChanged, this, &MarksTable::follow_scope);
  connect(this, &TablePanel::key_chosen, session, [session](const QString& key) {
    const measure::MarkKey mark = MarksModel::mark_of(key);
    session->choose_photo(mark.photo);
    session->choose_point(mark.point);
  });
  const auto follow = [this, session] {
    show_key(MarksModel::key_of(session->chosen_photo(), session->chosen_point()));
  };
  connect(session, &DeskSession::point_chosen, this, follow);
  connect(session, &DeskSession::photo_chosen, this, follow);
  for (QAction* action : {add_action(QStringLiteral("marks_table.set_aside"), tr("Set aside"),
                                     tr("Keep the marks, but leave them out of the adjustment"),
                                     QKeySequence(Qt::Key_X), [this] { set_aside(true); }),
                          add_action(QStringLiteral("marks_table.take_back"), tr("Take back"),
                                     tr("Use the marks in the adjustment again"),
                                     QKeySequence(Qt::Key_B), [this] { set_aside(false); })}) {
    auto* button = new QToolButton(this);
    button->setObjectName(action->objectName() + QStringLiteral("_button"));
    button->setDefaultAction(action);
    bar()->addWidget(button);
  }
  add_action(QStringLiteral("marks_table.remove"), tr("Remove"), tr("Remove the marks"),
             QKeySequence(Qt::Key_Delete), [this, session] {
               measure::RemoveMarks removed;
               for (const QString& key : selected_keys()) {
                 removed.marks.push_back(MarksModel::mark_of(key));
               }
               if (!removed.marks.empty()) session->change_soon(removed);
             });
  follow_scope();
}

void MarksTable::show_marks_of(MarksOf scope) { scope_->setCurrentIndex(static_cast<int>(scope)); }

void MarksTable::follow_scope() {
  const auto scope = static_cast<MarksOf>(scope_->currentIndex());
  switch (scope) {
    case MarksOf::kPoint:
      set_empty_sentence(
          tr("The chosen point has no marks. Choose a point, then mark it in the "
             "sightings."));
      break;
    case MarksOf::kPhoto:
      set_empty_sentence(
          tr("The chosen photo has no marks. Choose a photo in the contact sheet, "
             "then mark points in it."));
      break;
    case MarksOf::kDoubted:
      set_empty_sentence(tr("No mark is doubted or set aside."));
      break;
    case MarksOf::kAll:
      set_empty_sentence(tr("No marks yet."));
      break;
  }
  static_cast<MarksModel*>(model())->show_marks_of(scope);
}

void MarksTable::set_aside(bool aside) {
  measure::EditGroup group;
  for (const QString& key : selected_keys()) {
    const measure::MarkKey mark = MarksModel::mark_of(key);
    const measure::Mark* now = session()->mark_at(mark.photo, mark.point);
    if (now && now->set_aside != aside) group.edits.push_back(measure::SetAside{mark, aside});
  }
  if (group.edits.size() == 1) {
    session()->change_soon(group.edits.front());
  } else if (!group.edits.empty()) {
    session()->change_soon(group);
  }
}

QString MarksTable::count_text(int shown, int all) const {
  return shown == all ? tr("marks: %1").arg(all) : tr("marks: %1 of %2").arg(shown).arg(all);
}

}  // namespace desk
