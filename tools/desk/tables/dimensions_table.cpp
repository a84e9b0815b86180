#include "tools/desk/tables/dimensions_table.h"

#include <QToolButton>
#include <algorithm>
#include <cmath>
#include <functional>
#include <limits>

#include "tools/desk/fields/typed_field.h"
#include "tools/desk/fields/typed_value.h"
#include "tools/desk/tables/budget_bar.h"

namespace desk {
namespace {

QString q(const std::string& text) { return QString::fromStdString(text); }
constexpr double kInfinite = std::numeric_limits<double>::infinity();

QString name_list(const std::vector<std::string>& names) {
  QStringList list;
  for (const std::string& name : names) list.push_back(q(name));
  return list.join(QStringLiteral(", "));
}

/// Heads as VOCABULARY has them.
QString head_of(const QString& scale) {
  if (scale == QLatin1String("model")) return DimensionsModel::tr("original");
  if (scale == QLatin1String("full")) return DimensionsModel::tr("full size");
  return scale;
}

}  // namespace

QString kind_text(const measure::DimensionKind& kind) {
  struct Text {
    QString operator()(const measure::Distance&) const { return DimensionsModel::tr("distance"); }
    QString operator()(const measure::DistanceAlong&) const {
      return DimensionsModel::tr("distance along");
    }
    QString operator()(const measure::Angle&) const { return DimensionsModel::tr("angle"); }
    QString operator()(const measure::OffsetFromLine&) const {
      return DimensionsModel::tr("offset from a line");
    }
    QString operator()(const measure::OffsetFromPlane&) const {
      return DimensionsModel::tr("offset from a plane");
    }
    QString operator()(const measure::AngleBetween&) const {
      return DimensionsModel::tr("angle between");
    }
    QString operator()(const measure::Gap&) const { return DimensionsModel::tr("gap"); }
    QString operator()(const measure::Radius&) const { return DimensionsModel::tr("radius"); }
    QString operator()(const measure::Diameter&) const { return DimensionsModel::tr("diameter"); }
    QString operator()(const measure::ConeAngle&) const {
      return DimensionsModel::tr("cone angle");
    }
    QString operator()(const measure::ChainLength&) const {
      return DimensionsModel::tr("length of a chain");
    }
    QString operator()(const measure::ArcLength&) const {
      return DimensionsModel::tr("length of an arc");
    }
    QString operator()(const measure::RowPitch&) const {
      return DimensionsModel::tr("pitch of a row");
    }
    QString operator()(const measure::RowDeparture&) const {
      return DimensionsModel::tr("departure of a row");
    }
    QString operator()(const measure::OutlineArea&) const { return DimensionsModel::tr("area"); }
    QString operator()(const measure::Coordinate&) const {
      return DimensionsModel::tr("coordinate");
    }
    QString operator()(const measure::MirrorDeparture&) const {
      return DimensionsModel::tr("departure from symmetry");
    }
  };
  return std::visit(Text{}, kind);
}

QString asked_text(const measure::DimensionKind& kind) {
  struct Text {
    QString operator()(const measure::Distance& d) const {
      return DimensionsModel::tr("distance from %1 to %2").arg(q(d.from), q(d.to));
    }
    QString operator()(const measure::DistanceAlong& d) const {
      return d.axis_to.empty()
                 ? DimensionsModel::tr("from %1 to %2, along %3")
                       .arg(q(d.from), q(d.to), q(d.axis_from))
                 : DimensionsModel::tr("from %1 to %2, along the direction from %3 to %4")
                       .arg(q(d.from), q(d.to), q(d.axis_from), q(d.axis_to));
    }
    QString operator()(const measure::Angle& d) const {
      return DimensionsModel::tr("angle at %2 between %1 and %3")
          .arg(q(d.first), q(d.vertex), q(d.second));
    }
    QString operator()(const measure::OffsetFromLine& d) const {
      return d.line_to.empty()
                 ? DimensionsModel::tr("offset of %1 from %2").arg(q(d.point), q(d.line_from))
                 : DimensionsModel::tr("offset of %1 from the line through %2 and %3")
                       .arg(q(d.point), q(d.line_from), q(d.line_to));
    }
    QString operator()(const measure::OffsetFromPlane& d) const {
      return d.plane.size() == 1 ? DimensionsModel::tr("offset of %1 from the plane %2")
                                       .arg(q(d.point), q(d.plane.front()))
                                 : DimensionsModel::tr("offset of %1 from the plane through %2")
                                       .arg(q(d.point), name_list(d.plane));
    }
    QString operator()(const measure::AngleBetween& d) const {
      return DimensionsModel::tr("angle between %1 and %2").arg(q(d.first), q(d.second));
    }
    QString operator()(const measure::Gap& d) const {
      return DimensionsModel::tr("gap between %1 and %2").arg(q(d.first), q(d.second));
    }
    QString operator()(const measure::Radius& d) const {
      return DimensionsModel::tr("radius of %1").arg(q(d.shape));
    }
    QString operator()(const measure::Diameter& d) const {
      return DimensionsModel::tr("diameter of %1").arg(q(d.shape));
    }
    QString operator()(const measure::ConeAngle& d) const {
      return DimensionsModel::tr("full angle of %1").arg(q(d.shape));
    }
    QString operator()(const measure::ChainLength& d) const {
      return DimensionsModel::tr("length from place to place: %1").arg(name_list(d.points));
    }
    QString operator()(const measure::ArcLength& d) const {
      return d.via.empty() ? DimensionsModel::tr("along %1 from %2 to %3")
                                 .arg(q(d.circle), q(d.from), q(d.to))
                           : DimensionsModel::tr("along %1 from %2 by way of %4 to %3")
                                 .arg(q(d.circle), q(d.from), q(d.to), q(d.via));
    }
    QString operator()(const measure::RowPitch& d) const {
      return DimensionsModel::tr("spacing of the row %1").arg(name_list(d.points));
    }
    QString operator()(const measure::RowDeparture& d) const {
      return DimensionsModel::tr("largest departure from even spacing in the row %1")
          .arg(name_list(d.points));
    }
    QString operator()(const measure::OutlineArea& d) const {
      return DimensionsModel::tr("area inside %1").arg(name_list(d.points));
    }
    QString operator()(const measure::Coordinate& d) const {
      return DimensionsModel::tr("%1 of %2 in the model axes")
          .arg(QString::fromStdString(d.axis), q(d.item));
    }
    QString operator()(const measure::MirrorDeparture& d) const {
      return DimensionsModel::tr("how far %1 and %2 are from mirroring each other in %3")
          .arg(q(d.first), q(d.second), q(d.mirror));
    }
  };
  return std::visit(Text{}, kind);
}

QString budget_text(const measure::DimensionResult& result) {
  std::vector<std::pair<double, QString>> parts;
  for (const BudgetGroup& group : budget_groups()) {
    const auto at = result.budget.find(group.key);
    if (at == result.budget.end() || at->second < 0.005) continue;
    parts.emplace_back(at->second, word_of(group));
  }
  std::sort(parts.begin(), parts.end(),
            [](const auto& a, const auto& b) { return a.first > b.first; });
  QStringList words;
  for (const auto& [share, word] : parts) {
    words.push_back(QStringLiteral("%1 %2 %").arg(word).arg(std::lround(100 * share)));
  }
  return words.join(QStringLiteral(", "));
}

DimensionsModel::DimensionsModel(DeskSession* session, Tolerance* tolerance)
    : session_(session), tolerance_(tolerance) {
  connect(session, &DeskSession::dossier_changed, this, &DimensionsModel::refresh);
  connect(session, &DeskSession::live_changed, this, &DimensionsModel::refresh);
  connect(session, &DeskSession::unit_changed, this, &DimensionsModel::refresh);
  connect(tolerance, &Tolerance::changed, this, &DimensionsModel::refresh);
  refresh();
}

void DimensionsModel::refresh() {
  const measure::Dossier& dossier = session_->dossier();
  live_ = session_->live();
  std::vector<QString> scales{QStringLiteral("model")};
  if (dossier.model_scale) {
    scales.push_back(QStringLiteral("full"));
    for (const measure::ScaleRatio& replica : dossier.replica_scales) {
      // As measure names it, so that results are found by it.
      scales.push_back(QString::asprintf("replica 1:%g", replica.denominator));
    }
  }
  std::map<std::pair<std::string, std::string>, const measure::DimensionResult*> results;
  for (const measure::DimensionResult& result : live_->dimensions) {
    results[{result.name, result.scale}] = &result;
  }
  const bool new_columns = scales != scales_;
  if (new_columns) beginResetModel();
  scales_ = std::move(scales);
  rows_.clear();
  std::vector<QString> keys;
  for (const measure::AskedDimension& asked : dossier.dimensions) {
    Row row{asked, {}};
    for (const QString& scale : scales_) {
      const auto at = results.find({asked.name, scale.toStdString()});
      row.by_scale.push_back(at == results.end() ? nullptr : at->second);
    }
    rows_.push_back(std::move(row));
    keys.push_back(q(asked.name));
  }
  if (new_columns) endResetModel();
  set_keys(std::move(keys));
}

int DimensionsModel::columnCount(const QModelIndex& parent) const {
  return parent.isValid() ? 0 : problem_column() + 1;
}

const measure::DimensionResult* DimensionsModel::original(const Row& row) const {
  return row.by_scale.empty() ? nullptr : row.by_scale.front();
}

std::optional<double> DimensionsModel::ratio_to_tolerance(const Row& row) const {
  const auto tolerance = tolerance_->of(row.asked);
  const measure::DimensionResult* result = original(row);
  if (!tolerance || !result || !result->problem.empty() ||
      result->unit != measure::DimensionUnit::kMillimetre) {
    return std::nullopt;
  }
  return result->U / *tolerance;
}

QString DimensionsModel::text_of(const Row& row, int column) const {
  if (column == kName) return q(row.asked.name);
  if (column == kind_column()) return kind_text(row.asked.kind);
  const measure::DimensionResult* result = original(row);
  if (column < budget_column()) {
    const auto scale = static_cast<std::size_t>(column - kFirstScale);
    const measure::DimensionResult* own = row.by_scale[scale];
    if (!own) return live_->survey ? tr("…") : tr("—");
    return q(measure::result_text(*own, session_->unit()));
  }
  if (column == budget_column()) {
    if (!result || !result->problem.empty()) return {};
    return budget_text(*result).section(QStringLiteral(", "), 0, 0);
  }
  if (column == tolerance_column()) {
    const auto tolerance = tolerance_->of(row.asked);
    if (!tolerance) return {};
    const auto ratio = ratio_to_tolerance(row);
    const QString limit = typed_text(*tolerance, session_->unit());
    if (!ratio) return tr("no U yet, %1 asked").arg(limit);
    const int percent = static_cast<int>(std::min(std::lround(100 * *ratio), 99999L));
    return *ratio > 1 ? tr("▲ too large: %1 % of %2").arg(percent).arg(limit)
                      : tr("✓ %1 % of %2").arg(percent).arg(limit);
  }
  if (column == problem_column()) {
    if (result) return q(result->problem);
    if (live_->problem) return q(live_->problem->sentence);
    return tr("being adjusted");
  }
  return {};
}

QVariant DimensionsModel::sort_value(const Row& row, int column) const {
  if (column >= kFirstScale && column < budget_column()) {
    const auto* result = row.by_scale[static_cast<std::size_t>(column - kFirstScale)];
    return result && result->problem.empty() ? result->value : kInfinite;
  }
  const measure::DimensionResult* result = original(row);
  if (column == tolerance_column()) {
    if (const auto ratio = ratio_to_tolerance(row)) return *ratio;
    if (!result || !result->problem.empty()) return kInfinite;
    // Without a tolerance: how large U is against the value; above 0, below what fails.
    return result->value != 0 ? std::min(1e-3, std::abs(result->U / result->value)) : 1e-3;
  }
  return text_of(row, column);
}

QString DimensionsModel::tip_of(const Row& row, int column) const {
  if (column == kName || column == kind_column()) return asked_text(row.asked.kind);
  const measure::DimensionResult* result = original(row);
  if (column >= kFirstScale && column < budget_column()) {
    result = row.by_scale[static_cast<std::size_t>(column - kFirstScale)];
    if (!result || !result->problem.empty()) return text_of(row, problem_column());
    QString tip = result->interval
                      ? tr("First order does not hold this near to zero: the interval holds the "
                           "true value with p = 95.45 %")
                      : tr("U = k u, k = %1, p = 95.45 %").arg(result->k, 0, 'f', 2);
    if (!result->reference.empty()) {
      tip += '\n' + tr("No scale bar: a ratio to \"%1\"").arg(q(result->reference));
    }
    return tip;
  }
  if (column == budget_column()) {
    return result && result->problem.empty()
               ? tr("Where U² comes from: %1").arg(budget_text(*result))
               : QString();
  }
  return text_of(row, column);
}

QVariant DimensionsModel::data(const QModelIndex& index, int role) const {
  if (!index.isValid() || index.row() >= static_cast<int>(rows_.size())) return {};
  const Row& row = rows_[static_cast<std::size_t>(index.row())];
  const int column = index.column();
  switch (role) {
    case Qt::DisplayRole:
      return text_of(row, column);
    case Qt::EditRole:
      if (column == kName) return q(row.asked.name);
      if (column == tolerance_column() && row.asked.tolerance_mm) {
        return number_text(*row.asked.tolerance_mm) + tr(" mm");
      }
      return {};
    case Qt::ToolTipRole:
      return tip_of(row, column);
    case Qt::TextAlignmentRole:
      return alignment(index.column());
    case kKeyRole:
      return q(row.asked.name);
    case kSortRole:
      return sort_value(row, column);
    case kShareRole: {
      const measure::DimensionResult* result = original(row);
      QVariantList shares;
      if (column != budget_column() || !result || !result->problem.empty()) return shares;
      for (const BudgetGroup& group : budget_groups()) {
        const auto at = result->budget.find(group.key);
        shares.push_back(at == result->budget.end() ? 0.0 : at->second);
      }
      return shares;
    }
    default:
      return {};
  }
}

Qt::ItemFlags DimensionsModel::flags(const QModelIndex& index) const {
  auto flags = KeyedTable::flags(index);
  if (!session_->read_only_reason().isEmpty() || !index.isValid()) return flags;
  const bool is_angle = std::holds_alternative<measure::Angle>(
      rows_[static_cast<std::size_t>(index.row())].asked.kind);
  if (index.column() == kName || (index.column() == tolerance_column() && !is_angle)) {
    flags |= Qt::ItemIsEditable;
  }
  return flags;
}

bool DimensionsModel::setData(const QModelIndex& index, const QVariant& value, int role) {
  if (role != Qt::EditRole) return false;
  const measure::AskedDimension asked = rows_[static_cast<std::size_t>(index.row())].asked;
  const QString typed = value.toString().trimmed();
  std::function<void()> change;
  if (index.column() == kName && typed != q(asked.name)) {
    change = [this, asked, typed] { rename(asked.name, typed.toStdString()); };
  } else if (index.column() == tolerance_column()) {
    change = [this, asked, typed] { set_tolerance(asked.name, typed); };
  } else {
    return false;
  }
  // Once the view has closed its editor: the rows are made anew under it.
  QMetaObject::invokeMethod(this, std::move(change), Qt::QueuedConnection);
  return true;
}

void DimensionsModel::rename(const std::string& old, const std::string& name) {
  const bool was_chosen = session_->chosen_dimension() == old;
  session_->change_soon(measure::RenameDimension{old, name}, this, [=, this](bool done) {
    if (done && was_chosen) session_->choose_dimension(name);
  });
}

void DimensionsModel::set_tolerance(const std::string& dimension, const QString& typed) {
  if (typed.isEmpty()) {
    session_->change_soon(measure::SetTolerance{dimension, std::nullopt});
    return;
  }
  const auto tolerance_mm = typed_length_mm(typed, session_->unit());
  if (!tolerance_mm) {
    Q_EMIT session_->refused(tolerance_mm.error());
    return;
  }
  session_->change_soon(measure::SetTolerance{dimension, *tolerance_mm});
}

int DimensionsModel::alignment(int column) const {
  const bool is_number = column >= kFirstScale && column < budget_column();
  return static_cast<int>((is_number ? Qt::AlignRight : Qt::AlignLeft) | Qt::AlignVCenter);
}

QVariant DimensionsModel::headerData(int section, Qt::Orientation orientation, int role) const {
  if (orientation != Qt::Horizontal) return {};
  if (role == Qt::TextAlignmentRole) return alignment(section);
  const bool is_scale = section >= kFirstScale && section < budget_column();
  if (role == Qt::DisplayRole) {
    if (section == kName) return tr("dimension");
    if (section == kind_column()) return tr("kind");
    if (is_scale) return head_of(scales_[static_cast<std::size_t>(section - kFirstScale)]);
    if (section == budget_column()) return tr("mostly from");
    if (section == tolerance_column()) return tr("U against tolerance");
    return tr("what is missing");
  }
  if (role == Qt::ToolTipRole) {
    if (section == kFirstScale) return tr("Value ± U of the original as it stands");
    if (is_scale && section == kFirstScale + 1)
      return tr("Value ± U of what the original stands for");
    if (is_scale) return tr("Value ± U of the replica");
    if (section == budget_column()) return tr("Where U² comes from, on the original");
    if (section == tolerance_column())
      return tr(
          "U on the original, against the largest that will do: the dimension's own, typed here "
          "with its unit, or else the one for all");
  }
  return {};
}

DimensionsTable::DimensionsTable(DeskSession* session, KeyBook* keys, Tolerance* tolerance,
                                 QWidget* parent)
    : TablePanel(QStringLiteral("dimensions_table"), tr("Dimensions"), session, keys, parent) {
  set_empty_sentence(
      tr("Nothing is asked yet. Make a dimension by picking its points in a photo, "
         "in the sightings or in the table of points."));
  auto* own = new DimensionsModel(session, tolerance);
  take_model(own);
  view()->sortByColumn(-1, Qt::AscendingOrder);  // as asked
  const auto place_bar = [this, own, bar = new BudgetBar(this)] {
    for (int c = 0; c < own->columnCount(); ++c) {
      view()->setItemDelegateForColumn(c, c == own->budget_column() ? bar : nullptr);
    }
  };
  place_bar();
  connect(own, &QAbstractItemModel::modelReset, this, place_bar);
  connect(this, &TablePanel::key_chosen, session,
          [session](const QString& key) { session->choose_dimension(key.toStdString()); });
  connect(session, &DeskSession::dimension_chosen, this,
          [this](const std::string& dimension) { show_key(q(dimension)); });
  show_key(q(session->chosen_dimension()));
  auto* weakest = new QToolButton(this);
  weakest->setObjectName(QStringLiteral("dimensions_table.weakest_button"));
  weakest->setDefaultAction(
      add_action(QStringLiteral("dimensions_table.weakest"), tr("Weakest first"),
                 tr("Dimensions without a value first, then the largest U against its tolerance"),
                 QKeySequence(Qt::Key_W), [this] { sort_by_weakness(); }));
  bar()->addWidget(weakest);
  add_action(QStringLiteral("dimensions_table.as_asked"), tr("As asked"),
             tr("Dimensions in the order in which they were asked"), QKeySequence(Qt::Key_O),
             [this] { view()->sortByColumn(-1, Qt::AscendingOrder); });
  add_action(QStringLiteral("dimensions_table.remove"), tr("Remove"), tr("Remove the dimensions"),
             QKeySequence(Qt::Key_Delete), [this, session] {
               measure::EditGroup group;
               for (const QString& key : selected_keys()) {
                 group.edits.push_back(measure::RemoveDimension{key.toStdString()});
               }
               if (group.edits.size() == 1) {
                 session->change_soon(group.edits.front());
               } else if (!group.edits.empty()) {
                 session->change_soon(group);
               }
             });
}

void DimensionsTable::sort_by_weakness() {
  view()->sortByColumn(static_cast<DimensionsModel*>(model())->tolerance_column(),
                       Qt::DescendingOrder);
}

QString DimensionsTable::count_text(int shown, int all) const {
  return shown == all ? tr("dimensions: %1").arg(all)
                      : tr("dimensions: %1 of %2").arg(shown).arg(all);
}

}  // namespace desk
