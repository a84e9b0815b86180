#include "tools/desk/contact/photo_model.h"

#include <QCollator>
#include <QImage>
#include <limits>

#include "tools/desk/photos/photo_store.h"
#include "tools/desk/photos/session_trace.h"
#include "tools/desk/session/desk_session.h"

namespace desk {
namespace {

QString words(const std::string& text) { return QString::fromStdString(text); }

}  // namespace

PhotoModel::PhotoModel(DeskSession* session, PhotoStore* store, QObject* parent)
    : QAbstractListModel(parent), session_(session), store_(store) {
  connect(session_, &DeskSession::dossier_changed, this, &PhotoModel::take_photos);
  connect(session_, &DeskSession::live_changed, this, &PhotoModel::take_numbers);
  connect(session_, &DeskSession::point_chosen, this, &PhotoModel::take_numbers);
  const auto changed = [this](const std::string& photo) {
    const QModelIndex at = index_of(photo);
    if (at.isValid()) Q_EMIT dataChanged(at, at);
  };
  connect(store_, &PhotoStore::thumbnail_ready, this, [this](const std::string& photo) {
    const QModelIndex at = index_of(photo);
    // Nothing but the picture: sorted and filtered as before.
    if (at.isValid()) Q_EMIT dataChanged(at, at, {Qt::DecorationRole});
  });
  connect(store_, &PhotoStore::photo_failed, this, changed);
  take_photos();
}

void PhotoModel::take_photos() {
  const auto& photos = session_->dossier().photos;
  const bool same = std::equal(
      photos.begin(), photos.end(), rows_.begin(), rows_.end(),
      [](const measure::Photo& photo, const Row& row) { return photo.name == row.name; });
  if (!same) {
    beginResetModel();
    rows_.clear();
    row_of_.clear();
    for (const measure::Photo& photo : photos) {
      row_of_.emplace(photo.name, static_cast<int>(rows_.size()));
      rows_.push_back({photo.name, 0, 0});
    }
  }
  for (Row& row : rows_) row.marks = 0;
  for (const measure::Mark& mark : session_->dossier().marks) {
    const auto at = row_of_.find(mark.photo);
    if (at != row_of_.end()) ++rows_[at->second].marks;
  }
  if (!same) endResetModel();
  take_numbers();
}

void PhotoModel::take_numbers() {
  for (Row& row : rows_) row.doubted = 0;
  for (const measure::Mark& mark : session_->dossier().marks) {
    const auto at = row_of_.find(mark.photo);
    if (at == row_of_.end() || mark.set_aside) continue;
    rows_[at->second].doubted += session_->is_doubted(mark.photo, mark.point);
  }
  if (!rows_.empty()) {
    Q_EMIT dataChanged(index(0), index(static_cast<int>(rows_.size()) - 1), {kMarksRole});
  }
}

int PhotoModel::rowCount(const QModelIndex& parent) const {
  return parent.isValid() ? 0 : static_cast<int>(rows_.size());
}

QModelIndex PhotoModel::index_of(const std::string& photo) const {
  const auto at = row_of_.find(photo);
  return at == row_of_.end() ? QModelIndex() : index(at->second);
}

std::string PhotoModel::photo_at(const QModelIndex& at) const {
  return at.isValid() && at.row() < rowCount() ? rows_[at.row()].name : std::string();
}

QVariant PhotoModel::data(const QModelIndex& at, int role) const {
  if (!at.isValid() || at.row() >= rowCount()) return {};
  const Row& row = rows_[at.row()];
  const measure::PhotoReport* report = session_->photo_report(row.name);
  const bool is_oriented = report && report->placed;
  switch (role) {
    case Qt::DisplayRole:
    case kNameRole:
      return words(row.name);
    case Qt::DecorationRole:
      return store_->thumbnail(row.name, PhotoStore::Want::kSoon);
    case kMarksRole:
      return row.marks;
    case kDoubtedRole:
      return row.doubted;
    case kOrientedRole:
      return is_oriented;
    case kUnreadableRole:
      return !store_->problem(row.name).isEmpty();
    case kLacksRole: {
      const QString problem = store_->problem(row.name);
      if (!problem.isEmpty()) return problem;
      if (is_oriented) return QString();
      if (report && !report->reason.empty()) return words(report->reason);
      if (row.marks == 0) return tr("has no marks yet");
      return session_->live()->problem ? words(session_->live()->problem->sentence)
                                       : tr("not in the survey yet");
    }
    case kRmsRole:
      return is_oriented && report->rms_px ? QVariant(*report->rms_px) : QVariant();
    case kChosenRole:
      return session_->chosen_point().empty()
                 ? QVariant()
                 : static_cast<int>(state_of(*session_, row.name, session_->chosen_point()));
    case Qt::ToolTipRole: {
      QStringList lines{words(row.name), tr("marks: %1").arg(row.marks)};
      if (row.doubted > 0) lines << tr("doubted: %1").arg(row.doubted);
      const QVariant rms = data(at, kRmsRole);
      if (rms.isValid()) {
        lines << tr("rms of the residuals %1 px").arg(pixel_text(rms.toDouble(), 2));
      }
      const QString lacks = data(at, kLacksRole).toString();
      if (!lacks.isEmpty()) lines << lacks;
      return lines.join('\n');
    }
    case Qt::AccessibleTextRole:
      return data(at, Qt::ToolTipRole);
    default:
      return {};
  }
}

PhotoSorter::PhotoSorter(PhotoModel* model, QObject* parent)
    : QSortFilterProxyModel(parent), model_(model) {
  setSourceModel(model);
  setDynamicSortFilter(true);
  setSortRole(PhotoModel::kMarksRole);
  setFilterRole(PhotoModel::kMarksRole);
  sort(0);
}

void PhotoSorter::set_order(PhotoOrder order) {
  order_ = order;
  invalidate();
}

void PhotoSorter::set_filter(PhotoFilter filter) {
  filter_ = filter;
  invalidate();
}

void PhotoSorter::set_could_see(CouldSee could_see) {
  could_see_ = std::move(could_see);
  if (filter_ == PhotoFilter::kChosenUnmarked) invalidateFilter();
}

bool PhotoSorter::filterAcceptsRow(int row, const QModelIndex&) const {
  const QModelIndex at = model_->index(row);
  switch (filter_) {
    case PhotoFilter::kAll:
      return true;
    case PhotoFilter::kNotOriented:
      return !model_->data(at, PhotoModel::kOrientedRole).toBool();
    case PhotoFilter::kChosenUnmarked: {
      const QVariant chosen = model_->data(at, PhotoModel::kChosenRole);
      return chosen.isValid() && chosen.toInt() == static_cast<int>(MarkState::kPredicted) &&
             could_see_ && could_see_(model_->photo_at(at));
    }
  }
  return true;
}

bool PhotoSorter::lessThan(const QModelIndex& left, const QModelIndex& right) const {
  const auto value = [&](const QModelIndex& at, int role) { return model_->data(at, role); };
  switch (order_) {
    case PhotoOrder::kName:
      break;
    case PhotoOrder::kFewestMarks: {
      const int a = value(left, PhotoModel::kMarksRole).toInt();
      const int b = value(right, PhotoModel::kMarksRole).toInt();
      if (a != b) return a < b;
      break;
    }
    case PhotoOrder::kLargestRms: {
      const auto rms = [&](const QModelIndex& at) {
        const QVariant found = value(at, PhotoModel::kRmsRole);
        return found.isValid() ? found.toDouble() : -1.0;
      };
      if (rms(left) != rms(right)) return rms(left) > rms(right);
      break;
    }
    case PhotoOrder::kLacksFirst: {
      const bool a = value(left, PhotoModel::kOrientedRole).toBool();
      const bool b = value(right, PhotoModel::kOrientedRole).toBool();
      if (a != b) return b;
      break;
    }
  }
  static const QCollator collator = [] {
    QCollator made;
    made.setNumericMode(true);  // photo 9 before photo 10
    made.setCaseSensitivity(Qt::CaseInsensitive);
    return made;
  }();
  const int order = collator.compare(value(left, PhotoModel::kNameRole).toString(),
                                     value(right, PhotoModel::kNameRole).toString());
  return order != 0 ? order < 0 : left.row() < right.row();
}

}  // namespace desk
