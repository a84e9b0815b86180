// The photos of a dossier as rows: what is known of each, for the contact sheet.
#pragma once

#include <QAbstractListModel>
#include <QSortFilterProxyModel>
#include <functional>
#include <map>
#include <string>
#include <vector>

namespace desk {

class DeskSession;
class PhotoStore;

/// One row a photo, in the order of the dossier.
class PhotoModel : public QAbstractListModel {
  Q_OBJECT
 public:
  enum Role {
    kNameRole = Qt::UserRole,
    kMarksRole,      ///< int
    kOrientedRole,   ///< bool
    kLacksRole,      ///< QString: what it lacks, or why it cannot be read; empty where oriented
    kRmsRole,        ///< double, px; invalid where there is none
    kDoubtedRole,    ///< int: marks that are doubted
    kChosenRole,     ///< int, a MarkState: how the chosen point stands in it, kPredicted where it
                     ///< is not marked; invalid where no point is chosen
    kUnreadableRole  ///< bool
  };

  PhotoModel(DeskSession* session, PhotoStore* store, QObject* parent = nullptr);

  [[nodiscard]] int rowCount(const QModelIndex& parent = {}) const override;
  [[nodiscard]] QVariant data(const QModelIndex& index, int role) const override;
  [[nodiscard]] QModelIndex index_of(const std::string& photo) const;
  [[nodiscard]] std::string photo_at(const QModelIndex& index) const;

 private:
  void take_photos();
  void take_numbers();

  struct Row {
    std::string name;
    int marks = 0, doubted = 0;
  };
  DeskSession* session_;
  PhotoStore* store_;
  std::vector<Row> rows_;
  std::map<std::string, int> row_of_;
};

enum class PhotoOrder { kName, kFewestMarks, kLargestRms, kLacksFirst };
enum class PhotoFilter { kAll, kNotOriented, kChosenUnmarked };

/// Sorted and filtered.
class PhotoSorter : public QSortFilterProxyModel {
  Q_OBJECT
 public:
  /// Whether the chosen point could be seen in a photo.
  using CouldSee = std::function<bool(const std::string& photo)>;

  explicit PhotoSorter(PhotoModel* model, QObject* parent = nullptr);
  void set_order(PhotoOrder order);
  void set_filter(PhotoFilter filter);
  /// Asked once a photo and change; `filter` kChosenUnmarked uses it.
  void set_could_see(CouldSee could_see);
  [[nodiscard]] PhotoFilter filter() const { return filter_; }
  [[nodiscard]] PhotoOrder order() const { return order_; }
  void renew() { invalidate(); }

 protected:
  [[nodiscard]] bool filterAcceptsRow(int row, const QModelIndex& parent) const override;
  [[nodiscard]] bool lessThan(const QModelIndex& left, const QModelIndex& right) const override;

 private:
  PhotoModel* model_;
  PhotoOrder order_ = PhotoOrder::kName;
  PhotoFilter filter_ = PhotoFilter::kAll;
  CouldSee could_see_;
};

}  // namespace desk
