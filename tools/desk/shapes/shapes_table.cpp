#include "tools/desk/shapes/shapes_table.h"

#include <map>
#include <set>

#include "tools/desk/shapes/shape_words.h"

namespace desk {
namespace {

QString q(const std::string& text) { return QString::fromStdString(text); }

}  // namespace

ShapesModel::ShapesModel(DeskSession* session) : session_(session) {
  connect(session, &DeskSession::dossier_changed, this, &ShapesModel::refresh);
  connect(session, &DeskSession::live_changed, this, &ShapesModel::refresh);
  connect(session, &DeskSession::unit_changed, this, &ShapesModel::refresh);
  refresh();
}

QString ShapesModel::lacks(const measure::Shape& shape) const {
  const auto live = session_->live();
  if (!live->survey) return live->problem ? tr("no survey yet") : tr("being adjusted");
  const measure::FormResult* form = session_->form_of(shape.name);
  if (!form) return tr("being adjusted");
  return q(form->problem);
}

void ShapesModel::refresh() {
  struct Count {
    int marks = 0, set_aside = 0, doubted = 0, too_sharp = 0;
    std::set<std::string> photos;
  };
  std::map<std::string, Count> counts;
  for (const measure::ShapeMark& mark : session_->dossier().shape_marks) {
    Count& count = counts[mark.shape];
    if (mark.set_aside) {
      ++count.set_aside;
      continue;
    }
    ++count.marks;
    count.photos.insert(mark.photo);
    const measure::ShapeMarkReport* report = session_->report_of(mark);
    count.doubted += report && report->doubted;
    count.too_sharp += report && report->too_sharp;
  }
  const auto live = session_->live();
  const measure::LengthUnit length =
      live->survey ? live->survey->report().unit : measure::LengthUnit::kMillimetre;
  rows_.clear();
  std::vector<QString> keys;
  for (const measure::Shape& shape : session_->dossier().shapes) {
    Row row{.name = q(shape.name), .origin = origin_text(shape.origin), .lacks = lacks(shape)};
    if (const auto& axes = session_->dossier().axes) {
      if (axes->plane == shape.name) row.origin += tr("; z of the model axes counts from it");
      if (axes->line == shape.name) row.origin += tr("; x of the model axes runs along it");
      if (axes->origin == shape.name) row.origin += tr("; the origin of the model axes");
    }
    if (measure::is_seen(shape.origin)) {
      const Count& count = counts[shape.name];
      row.mark_count = count.marks;
      row.doubted_count = count.doubted;
      row.marks = tr("%1 in %2 photos").arg(count.marks).arg(count.photos.size());
      if (count.set_aside > 0) row.marks += tr(" (+%1 set aside)").arg(count.set_aside);
      if (count.too_sharp > 0) row.marks += tr(" (%1 too sharp to use)").arg(count.too_sharp);
      if (count.doubted > 0) row.doubted = QStringLiteral("▲ %1").arg(count.doubted);
      if (count.marks == 0) row.lacks = tr("not marked: choose it, then click along it in photos");
    }
    if (const measure::FormResult* form = session_->form_of(shape.name)) {
      row.size = size_text(*form, length, session_->unit());
      row.form = form_text(*form, length, session_->unit());
      row.radius = form->problem.empty() ? form->form.radius : 0.0;
    }
    keys.push_back(row.name);
    rows_.push_back(std::move(row));
  }
  set_keys(std::move(keys));
}

int ShapesModel::columnCount(const QModelIndex& parent) const {
  return parent.isValid() ? 0 : kColumns;
}

QString ShapesModel::text_of(const Row& row, int column) {
  switch (column) {
    case kName:
      return row.name;
    case kOrigin:
      return row.origin;
    case kSize:
      return row.size.isEmpty() ? tr("—") : row.size;
    case kForm:
      return row.form.isEmpty() ? tr("—") : row.form;
    case kMarks:
      return row.marks.isEmpty() ? tr("—") : row.marks;
    case kDoubted:
      return row.doubted;
    case kLacks:
      return row.lacks;
    default:
      return {};
  }
}

QVariant ShapesModel::data(const QModelIndex& index, int role) const {
  if (!index.isValid() || index.row() >= static_cast<int>(rows_.size())) return {};
  const Row& row = rows_[static_cast<std::size_t>(index.row())];
  switch (role) {
    case Qt::DisplayRole:
      return text_of(row, index.column());
    case Qt::EditRole:
      return index.column() == kName ? QVariant(row.name) : QVariant();
    case Qt::ToolTipRole:
      if (index.column() == kSize && !row.size.isEmpty()) {
        return tr("%1, on the original; U at p = 95.45 %").arg(row.size);
      }
      return text_of(row, index.column());
    case kKeyRole:
      return row.name;
    case kSortRole:
      if (index.column() == kSize) return row.radius;
      if (index.column() == kMarks) return double(row.mark_count);
      if (index.column() == kDoubted) return double(row.doubted_count);
      return text_of(row, index.column());
    default:
      return {};
  }
}

QVariant ShapesModel::headerData(int section, Qt::Orientation orientation, int role) const {
  if (orientation != Qt::Horizontal) return {};
  if (role == Qt::DisplayRole) {
    switch (section) {
      case kName:
        return tr("edge or round");
      case kOrigin:
        return tr("what it is");
      case kSize:
        return tr("size, original");
      case kForm:
        return tr("form");
      case kMarks:
        return tr("marks");
      case kDoubted:
        return tr("doubted");
      case kLacks:
        return tr("what it lacks");
      default:
        return {};
    }
  }
  if (role == Qt::ToolTipRole) {
    switch (section) {
      case kSize:
        return tr("Diameter or angle ± U, p = 95.45 %");
      case kForm:
        return tr("Whether its points lie on it within their error bars, and their range ± U");
      case kMarks:
        return tr("Marks in use along it, of those that are marked by themselves");
      case kDoubted:
        return tr("Marks that fail the test for blunders");
      default:
        return {};
    }
  }
  return {};
}

Qt::ItemFlags ShapesModel::flags(const QModelIndex& index) const {
  auto flags = KeyedTable::flags(index);
  if (index.column() == kName && session_->read_only_reason().isEmpty()) {
    flags |= Qt::ItemIsEditable;
  }
  return flags;
}

bool ShapesModel::setData(const QModelIndex& index, const QVariant& value, int role) {
  if (role != Qt::EditRole || index.column() != kName) return false;
  const std::string old = rows_[static_cast<std::size_t>(index.row())].name.toStdString();
  const std::string name = value.toString().trimmed().toStdString();
  if (name == old) return false;
  // Once the view has closed its editor: the rows are made anew under it.
  QMetaObject::invokeMethod(
      this,
      [this, old, name] {
        const bool was_chosen = session_->chosen_shape() == old;
        session_->change_soon(measure::RenameShape{old, name}, this, [=, this](bool done) {
          if (done && was_chosen) session_->choose_shape(name);
        });
      },
      Qt::QueuedConnection);
  return true;
}

}  // namespace desk
