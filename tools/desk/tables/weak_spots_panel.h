// What is unmeasured or too uncertain for a tolerance, and the mark or photo that would help most.
#pragma once

#include <QAbstractListModel>
#include <QLabel>
#include <QListView>
#include <QStackedLayout>
#include <QTimer>
#include <QWidget>
#include <set>
#include <vector>

#include "measure/live/weak_spots.h"
#include "tools/desk/fields/typed_field.h"
#include "tools/desk/look/key_book.h"
#include "tools/desk/session/background.h"
#include "tools/desk/session/desk_session.h"
#include "tools/desk/tables/tolerance.h"

namespace desk {

/// One row: a weak spot, or below it one help.
class WeakSpotRows : public QAbstractListModel {
  Q_OBJECT
 public:
  enum Role { kNumberRole = Qt::UserRole + 1, kIsHelpRole };
  using QAbstractListModel::QAbstractListModel;

  /// @param angles  names of the dimensions that are angles: their U is in radians.
  void show(std::vector<measure::WeakSpot> spots, std::set<std::string> angles);
  [[nodiscard]] int rowCount(const QModelIndex& parent = {}) const override;
  [[nodiscard]] QVariant data(const QModelIndex& index, int role) const override;
  void set_unit(measure::TextUnit unit);

  [[nodiscard]] const measure::WeakSpot& spot(int row) const;
  /// Null: the row is the spot itself.
  [[nodiscard]] const measure::Help* help(int row) const;
  [[nodiscard]] std::size_t spot_count() const { return spots_.size(); }

 private:
  struct Place {
    std::size_t spot;
    std::optional<std::size_t> help;
  };
  [[nodiscard]] QString number_text(const Place& place) const;

  std::vector<measure::WeakSpot> spots_;
  std::vector<Place> places_;
  std::set<std::string> angles_;
  measure::TextUnit unit_ = measure::TextUnit::kMm;
};

/// Follows the survey: computed anew in the background once it has settled.
class WeakSpotsPanel : public QWidget {
  Q_OBJECT
 public:
  WeakSpotsPanel(DeskSession* session, KeyBook* keys, Tolerance* tolerance,
                 QWidget* parent = nullptr);

  [[nodiscard]] QListView* view() const { return view_; }
  [[nodiscard]] TypedField* tolerance_field() const { return tolerance_field_; }
  [[nodiscard]] bool busy() const { return background_.busy() || quiet_.isActive(); }

 Q_SIGNALS:
  /// A new photo would help: the view in space shows where it would stand (object frame).
  void camera_wanted(const Eigen::Vector3d& position, const Eigen::Vector3d& looking_at);

 private:
  void look_anew();
  void show_state();
  void jump(const QModelIndex& at);

  DeskSession* session_;
  Tolerance* tolerance_;
  WeakSpotRows* rows_;
  QListView* view_;
  TypedField* tolerance_field_;
  QLabel* state_;
  QLabel* empty_;
  QStackedLayout* stack_;
  QTimer quiet_;
  bool looked_ = false;
  Background background_;  // last: its thread ends before what its answers touch
};

}  // namespace desk
