#include "measure/edit/history.h"

#include <utility>

namespace measure {
namespace {

/// Takes the last step from one list, if it has one, and adds the way back to the other.
void turn(std::vector<HistoryStep>& from, std::vector<HistoryStep>& to, HistoryStep back) {
  if (!from.empty()) {
    from.pop_back();
  }
  to.push_back(std::move(back));
}

const HistoryStep* last_of(const std::vector<HistoryStep>& steps) {
  return steps.empty() ? nullptr : &steps.back();
}

}  // namespace

void EditHistory::changed(HistoryStep inverse) {
  undo_.push_back(std::move(inverse));
  redo_.clear();
}
void EditHistory::joined(std::size_t steps_back, Edit inverse) {
  if (steps_back >= undo_.size()) {
    return;
  }
  HistoryStep& step = undo_[undo_.size() - 1 - steps_back];
  step.edit = EditGroup{{std::move(inverse), std::move(step.edit)}};
}
void EditHistory::undone(HistoryStep again) { turn(undo_, redo_, std::move(again)); }
void EditHistory::redone(HistoryStep inverse) { turn(redo_, undo_, std::move(inverse)); }

const HistoryStep* EditHistory::next_undo() const { return last_of(undo_); }
const HistoryStep* EditHistory::next_redo() const { return last_of(redo_); }

}  // namespace measure
