#include "tools/desk/tables/bars_table.h"

#include <algorithm>
#include <cmath>
#include <limits>

namespace desk {
namespace {

QString q(const std::string& text) { return QString::fromStdString(text); }
constexpr double kInfinite = std::numeric_limits<double>::infinity();
constexpr double kCoverage = 2.0;  // k of bars: their u are stated, not estimated

bool compared(const std::optional<measure::BarReport>& report) {
  return report && report->reason.empty();
}

}  // namespace

BarsModel::BarsModel(DeskSession* session) : session_(session) {
  connect(session, &DeskSession::dossier_changed, this, &BarsModel::refresh);
  connect(session, &DeskSession::live_changed, this, &BarsModel::refresh);
  connect(session, &DeskSession::unit_changed, this, &BarsModel::refresh);
  refresh();
}

void BarsModel::refresh() {
  const auto live = session_->live();
  rows_.clear();
  std::vector<QString> keys;
  for (const measure::ScaleBar& bar : session_->dossier().bars) {
    Row row{bar, {}, false};
    if (live->survey) {
      const auto& bars = live->survey->report().bars;
      const auto at =
          std::find_if(bars.begin(), bars.end(), [&](const auto& b) { return b.name == bar.name; });
      if (at != bars.end()) row.report = *at;
      row.alone =
          row.report && row.report->used &&
          std::count_if(bars.begin(), bars.end(), [](const auto& b) { return b.used; }) == 1;
    }
    rows_.push_back(std::move(row));
    keys.push_back(q(bar.name));
  }
  set_keys(std::move(keys));
}

int BarsModel::columnCount(const QModelIndex& parent) const {
  return parent.isValid() ? 0 : kColumns;
}

QString BarsModel::text_of(const Row& row, int column) const {
  const measure::TextUnit unit = session_->unit();
  switch (column) {
    case kName:
      return q(row.bar.name);
    case kUse:
      return row.bar.check_only ? tr("check length") : tr("scale bar");
    case kFrom:
      return q(row.bar.from);
    case kTo:
      return q(row.bar.to);
    case kCertified: {
      const double length_mm = row.report ? row.report->certified_mm : row.bar.length_mm;
      const double u_mm = row.report && row.report->u_mm > 0
                              ? row.report->u_mm
                              : std::hypot(row.bar.u_own_mm, row.bar.u_common_mm);
      return q(measure::length_text(length_mm, kCoverage * u_mm, unit).joined());
    }
    case kFound: {
      if (!compared(row.report)) return tr("—");
      const auto text =
          measure::length_text(row.report->found_mm, kCoverage * row.report->u_error_mm, unit);
      return q(text.value) + ' ' + q(text.unit);
    }
    case kError:
      if (!compared(row.report)) return tr("—");
      if (row.alone) return tr("unchecked");
      return q(measure::length_text(row.report->error_mm, kCoverage * row.report->u_error_mm, unit)
                   .joined());
    case kState:
      if (!row.report) {
        return session_->live()->problem ? tr("no survey yet") : tr("being adjusted");
      }
      if (!row.report->reason.empty()) return q(row.report->reason);
      if (row.report->contradicts) return tr("▲ contradicts the others");
      if (row.alone) return tr("sets the scale alone: a second length would check it");
      if (row.bar.check_only) {
        const double U = kCoverage * row.report->u_error_mm;
        return std::abs(row.report->error_mm) > U
                   ? tr("▲ error is %1 times its U")
                         .arg(std::abs(row.report->error_mm) / U, 0, 'f', 1)
                   : tr("✓ error within U");
      }
      return tr("✓ agrees with the others");
    default:
      return {};
  }
}

QVariant BarsModel::sort_value(const Row& row, int column) const {
  switch (column) {
    case kCertified:
      return row.bar.length_mm;
    case kFound:
      return compared(row.report) ? row.report->found_mm : kInfinite;
    case kError:
      if (!compared(row.report) || row.alone || row.report->u_error_mm <= 0) return kInfinite;
      return std::abs(row.report->error_mm) / row.report->u_error_mm;
    default:
      return text_of(row, column);
  }
}

QString BarsModel::tip_of(const Row& row, int column) const {
  switch (column) {
    case kCertified: {
      QString tip =
          tr("At the temperature of the day. Standard uncertainty: own %1")
              .arg(q(measure::length_text(0, row.bar.u_own_mm, session_->unit()).uncertainty) +
                   ' ' + q(measure::length_text(0, 1, session_->unit()).unit));
      if (!row.bar.certificate.empty()) {
        tip +=
            tr("; common to certificate %1: %2")
                .arg(q(row.bar.certificate))
                .arg(q(measure::length_text(0, row.bar.u_common_mm, session_->unit()).uncertainty) +
                     ' ' + q(measure::length_text(0, 1, session_->unit()).unit));
      }
      return tip;
    }
    case kError:
      return row.alone ? tr("The only length in the solution: it cannot be compared with anything")
                       : tr("Found − certified, ± U, k = 2; sorted by error over its u");
    default:
      return text_of(row, column);
  }
}

QVariant BarsModel::data(const QModelIndex& index, int role) const {
  if (!index.isValid() || index.row() >= static_cast<int>(rows_.size())) return {};
  const Row& row = rows_[static_cast<std::size_t>(index.row())];
  switch (role) {
    case Qt::DisplayRole:
      return text_of(row, index.column());
    case Qt::ToolTipRole:
      return tip_of(row, index.column());
    case Qt::TextAlignmentRole:
      return alignment(index.column());
    case kKeyRole:
      return q(row.bar.name);
    case kSortRole:
      return sort_value(row, index.column());
    default:
      return {};
  }
}

int BarsModel::alignment(int column) const {
  const bool is_number = column >= kCertified && column <= kError;
  return static_cast<int>((is_number ? Qt::AlignRight : Qt::AlignLeft) | Qt::AlignVCenter);
}

QVariant BarsModel::headerData(int section, Qt::Orientation orientation, int role) const {
  if (orientation != Qt::Horizontal) return {};
  if (role == Qt::TextAlignmentRole) return alignment(section);
  if (role == Qt::DisplayRole) {
    switch (section) {
      case kName:
        return tr("bar");
      case kUse:
        return tr("use");
      case kFrom:
        return tr("from");
      case kTo:
        return tr("to");
      case kCertified:
        return tr("certified");
      case kFound:
        return tr("found");
      case kError:
        return tr("error");
      case kState:
        return tr("what it says");
      default:
        return {};
    }
  }
  if (role == Qt::ToolTipRole) {
    switch (section) {
      case kUse:
        return tr("A scale bar sets the scale; a check length never takes part in the solution");
      case kCertified:
        return tr("As certified ± U, k = 2, at the temperature of the day");
      case kFound:
        return tr("As the survey finds it");
      case kError:
        return tr("Found − certified, ± U, k = 2");
      default:
        return {};
    }
  }
  return {};
}

BarsTable::BarsTable(DeskSession* session, KeyBook* keys, QWidget* parent)
    : TablePanel(QStringLiteral("bars_table"), tr("Scale bars"), session, keys, parent) {
  set_empty_sentence(
      tr("No scale bar yet: without one the survey yields ratios only. Mark both "
         "ends of a known length in the photos and add it."));
  take_model(new BarsModel(session));
  view()->sortByColumn(BarsModel::kName, Qt::AscendingOrder);
  // A bar is no thing that other views choose: its two ends are.
  const auto end_of = [session](const QString& key) -> std::string {
    for (const measure::ScaleBar& bar : session->dossier().bars) {
      if (q(bar.name) == key) return session->chosen_point() == bar.from ? bar.to : bar.from;
    }
    return {};
  };
  connect(this, &TablePanel::key_activated, session,
          [session, end_of](const QString& key) { session->choose_point(end_of(key)); });
  view()->setToolTip(tr("Enter chooses one end of the bar, and the other when pressed again"));
  add_action(QStringLiteral("bars_table.remove"), tr("Remove"), tr("Remove the scale bars"),
             QKeySequence(Qt::Key_Delete), [this, session] {
               measure::EditGroup group;
               for (const QString& key : selected_keys()) {
                 group.edits.push_back(measure::RemoveBar{key.toStdString()});
               }
               if (group.edits.size() == 1) {
                 session->change_soon(group.edits.front());
               } else if (!group.edits.empty()) {
                 session->change_soon(group);
               }
             });
}

QString BarsTable::count_text(int shown, int all) const {
  return shown == all ? tr("scale bars: %1").arg(all)
                      : tr("scale bars: %1 of %2").arg(shown).arg(all);
}

}  // namespace desk
