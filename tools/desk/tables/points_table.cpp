#include "tools/desk/tables/points_table.h"

#include <QPushButton>
#include <QToolButton>
#include <cmath>
#include <limits>

#include "calib/base/units.h"

namespace desk {
namespace {

QString q(const std::string& text) { return QString::fromStdString(text); }

}  // namespace

PointsModel::PointsModel(DeskSession* session) : session_(session) {
  connect(session, &DeskSession::dossier_changed, this, &PointsModel::refresh);
  connect(session, &DeskSession::live_changed, this, &PointsModel::refresh);
  connect(session, &DeskSession::unit_changed, this, &PointsModel::refresh);
  refresh();
}

void PointsModel::refresh() {
  const measure::Dossier& dossier = session_->dossier();
  const auto live = session_->live();
  if (live->survey != weighed_) {
    weighed_ = live->survey;
    weaknesses_ = weighed_ ? weaknesses_of(*weighed_, dossier) : std::map<std::string, Weakness>();
  }
  struct Count {
    int marks = 0, set_aside = 0, photos = 0, doubted = 0;
  };
  std::map<std::string, Count> counts;
  std::map<std::string, bool> oriented;
  for (const measure::Photo& photo : dossier.photos) {
    const measure::PhotoReport* report = session_->photo_report(photo.name);
    oriented[photo.name] = report && report->placed;
  }
  for (const measure::Mark& mark : dossier.marks) {
    Count& count = counts[mark.point];
    if (mark.set_aside) {
      ++count.set_aside;
      continue;
    }
    ++count.marks;
    if (oriented[mark.photo]) ++count.photos;
    if (session_->is_doubted(mark.photo, mark.point)) ++count.doubted;
  }
  rows_.clear();
  std::vector<QString> keys;
  for (const measure::Point& point : dossier.points) {
    const Count& count = counts[point.name];
    Row row{q(point.name), q(point.kind), {}, count.marks, count.set_aside,
            count.photos,  count.doubted, {}};
    const measure::PointReport* report = session_->point_report(point.name);
    if (const auto at = weaknesses_.find(point.name); at != weaknesses_.end()) {
      row.weakness = at->second;
    }
    if (count.marks == 0) {
      row.lacks = tr("not marked: mark it in two photos or more");
    } else if (count.marks == 1) {
      row.lacks = tr("marked in one photo only: mark it in a second one");
    } else if (!live->survey) {
      row.lacks = live->problem ? tr("no survey yet") : tr("being adjusted");
    } else if (report && !report->placed) {
      row.lacks = q(report->reason);
    } else if (!report) {
      row.lacks = tr("being adjusted");
    } else if (count.photos == 2) {
      row.lacks = tr("two photos only: a third would control its marks");
    } else if (live->survey->report().unit == measure::LengthUnit::kFree) {
      row.lacks = tr("no scale bar: it has no millimetres");
    }
    keys.push_back(row.name);
    rows_.push_back(std::move(row));
  }
  set_keys(std::move(keys));
}

int PointsModel::columnCount(const QModelIndex& parent) const {
  return parent.isValid() ? 0 : kColumns;
}

QVariant PointsModel::data(const QModelIndex& index, int role) const {
  if (!index.isValid() || index.row() >= static_cast<int>(rows_.size())) return {};
  const Row& row = rows_[static_cast<std::size_t>(index.row())];
  switch (role) {
    case Qt::DisplayRole:
      return text_of(row, index.column());
    case Qt::EditRole:
      return index.column() == kName ? QVariant(row.name) : QVariant();
    case Qt::ToolTipRole:
      return tip_of(row, index.column());
    case Qt::TextAlignmentRole:
      return alignment(index.column());
    case kKeyRole:
      return row.name;
    case kSortRole:
      return sort_value(row, index.column());
    default:
      return {};
  }
}

QString PointsModel::text_of(const Row& row, int column) const {
  switch (column) {
    case kName:
      return row.name;
    case kKind:
      return row.kind.isEmpty() ? tr("—") : row.kind;
    case kMarks:
      return row.set_aside == 0 ? QString::number(row.marks)
                                : tr("%1 (+%2 set aside)").arg(row.marks).arg(row.set_aside);
    case kPhotos:
      return QString::number(row.photos);
    case kU: {
      if (!row.weakness) return tr("—");
      const auto text = measure::length_text(0.0, row.weakness->U_mm, session_->unit());
      return QStringLiteral("± ") + q(text.uncertainty) + ' ' + q(text.unit);
    }
    case kAlong:
      if (!row.weakness || row.weakness->photo.empty()) return tr("—");
      return tr("the view of %1, %2° off")
          .arg(q(row.weakness->photo))
          .arg(std::lround(row.weakness->off_rad * calib::kDegreesPerRadian));
    case kDoubted:
      return row.doubted == 0 ? QString() : QStringLiteral("▲ %1").arg(row.doubted);
    case kLacks:
      return row.lacks;
    default:
      return {};
  }
}

QVariant PointsModel::sort_value(const Row& row, int column) const {
  switch (column) {
    case kMarks:
      return double(row.marks);
    case kPhotos:
      return double(row.photos);
    case kU:
      return row.weakness ? row.weakness->U_mm : std::numeric_limits<double>::infinity();
    case kDoubted:
      return double(row.doubted);
    default:
      return text_of(row, column);
  }
}

QString PointsModel::tip_of(const Row& row, int column) const {
  switch (column) {
    case kU:
      if (!row.weakness) return row.lacks;
      return tr("U of the position on the original in its weakest direction, p = 95.45 %, k = %1, "
                "in the free network; the definition uncertainty of its kind is in it")
          .arg(row.weakness->k, 0, 'f', 2);
    case kAlong:
      if (!row.weakness || row.weakness->photo.empty()) return {};
      return tr("It is known worst about along the line of sight of %1: a photo from the side of "
                "that would help most")
          .arg(q(row.weakness->photo));
    default:
      return text_of(row, column);
  }
}

Qt::ItemFlags PointsModel::flags(const QModelIndex& index) const {
  auto flags = KeyedTable::flags(index);
  if (index.column() == kName && session_->read_only_reason().isEmpty()) {
    flags |= Qt::ItemIsEditable;
  }
  return flags;
}

bool PointsModel::setData(const QModelIndex& index, const QVariant& value, int role) {
  if (role != Qt::EditRole || index.column() != kName) return false;
  const std::string old = rows_[static_cast<std::size_t>(index.row())].name.toStdString();
  const std::string name = value.toString().trimmed().toStdString();
  if (name == old) return false;
  // Once the view has closed its editor: the rows are made anew under it.
  QMetaObject::invokeMethod(
      this,
      [this, old, name] {
        const bool was_chosen = session_->chosen_point() == old;
        session_->change_soon(measure::RenamePoint{old, name}, this, [=, this](bool done) {
          if (done && was_chosen) session_->choose_point(name);
        });
      },
      Qt::QueuedConnection);
  return true;
}

int PointsModel::alignment(int column) {
  const bool is_number = (column >= kMarks && column <= kU) || column == kDoubted;
  return static_cast<int>((is_number ? Qt::AlignRight : Qt::AlignLeft) | Qt::AlignVCenter);
}

QVariant PointsModel::headerData(int section, Qt::Orientation orientation, int role) const {
  if (orientation != Qt::Horizontal) return {};
  if (role == Qt::TextAlignmentRole) return alignment(section);
  if (role == Qt::DisplayRole) {
    switch (section) {
      case kName:
        return tr("point");
      case kKind:
        return tr("kind");
      case kMarks:
        return tr("marks");
      case kPhotos:
        return tr("oriented photos");
      case kU:
        return tr("U, original");
      case kAlong:
        return tr("weakest along");
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
      case kMarks:
        return tr("Marks in use, and those set aside");
      case kPhotos:
        return tr("Photos with a mark of the point in use whose place in space is known");
      case kU:
        return tr("Expanded uncertainty of the position in its weakest direction, p = 95.45 %");
      case kAlong:
        return tr(
            "The photo that looks most nearly along the weakest direction, and the angle "
            "between the two");
      case kDoubted:
        return tr("Marks that fail the test for blunders");
      default:
        return {};
    }
  }
  return {};
}

PointsTable::PointsTable(DeskSession* session, KeyBook* keys, QWidget* parent)
    : TablePanel(QStringLiteral("points_table"), tr("Points"), session, keys, parent) {
  set_empty_sentence(
      tr("No points yet. Choose a place on the original that is seen in several "
         "photos, give it a name and mark it in each of them."));
  take_model(new PointsModel(session));
  view()->sortByColumn(PointsModel::kName, Qt::AscendingOrder);
  connect(this, &TablePanel::key_chosen, session,
          [session](const QString& key) { session->choose_point(key.toStdString()); });
  connect(this, &TablePanel::key_activated, session,
          [session](const QString& key) { session->pick_point(key.toStdString()); });
  connect(session, &DeskSession::point_chosen, this,
          [this](const std::string& point) { show_key(q(point)); });
  show_key(q(session->chosen_point()));
  auto* weakest = new QToolButton(this);
  weakest->setObjectName(QStringLiteral("points_table.weakest_button"));
  weakest->setDefaultAction(add_action(QStringLiteral("points_table.weakest"), tr("Weakest first"),
                                       tr("Points that have no place in space first, then the "
                                          "largest U"),
                                       QKeySequence(Qt::Key_W), [this] { sort_by_weakness(); }));
  bar()->addWidget(weakest);
  add_action(QStringLiteral("points_table.pick"), tr("Pick"),
             tr("Take the point for the dimension or scale bar that is being made; Enter and a "
                "double click do the same"),
             QKeySequence(Qt::Key_P), [this, session] {
               if (!current_key().isEmpty()) session->pick_point(current_key().toStdString());
             });
  add_action(QStringLiteral("points_table.remove"), tr("Remove"),
             tr("Remove the points with all their marks"), QKeySequence(Qt::Key_Delete),
             [this, session] {
               measure::EditGroup group;
               for (const QString& key : selected_keys()) {
                 group.edits.push_back(measure::RemovePoint{key.toStdString()});
               }
               if (group.edits.size() == 1) {
                 session->change_soon(group.edits.front());
               } else if (!group.edits.empty()) {
                 session->change_soon(group);
               }
             });
}

void PointsTable::sort_by_weakness() { view()->sortByColumn(PointsModel::kU, Qt::DescendingOrder); }

QString PointsTable::count_text(int shown, int all) const {
  return shown == all ? tr("points: %1").arg(all) : tr("points: %1 of %2").arg(shown).arg(all);
}

}  // namespace desk
