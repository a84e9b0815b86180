// Refinements, one after another, away from the thread of the widgets.
#pragma once

#include <QObject>
#include <QThreadPool>
#include <cstdint>
#include <functional>

#include "tools/desk/sightings/refiner.h"

namespace desk {

class RefineRunner : public QObject {
  Q_OBJECT
 public:
  explicit RefineRunner(QObject* parent = nullptr);
  /// Waits for the refinements that run; those that wait are dropped.
  ~RefineRunner() override;

  /// @param work  fetches the pixels and refines, on a thread of the runner.
  /// @param done  called on this object's thread, unless the runner is gone or has been told to
  /// forget.
  void ask(std::function<Refined()> work, std::function<void(Refined)> done);
  /// Drops what waits and what runs: its answers are not told any more.
  void forget_all();
  [[nodiscard]] int under_way() const { return under_way_; }

 private:
  QThreadPool pool_;
  std::uint64_t era_ = 0;  // answers of an earlier one are not told
  int under_way_ = 0;
};

}  // namespace desk
