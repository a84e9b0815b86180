// What can be undone and redone, without limit.
#pragma once

#include <cstddef>
#include <string>
#include <vector>

#include "measure/edit/edit.h"

namespace measure {

/// A step of undo or redo: the edit that takes it, and the name of the change that it is about.
struct HistoryStep {
  Edit edit;
  std::string name;  ///< "set mark "A" in "a.jpg""
};

/// Keeps the steps; applying them to the dossier is left to whoever changes it.
class EditHistory {
 public:
  /// A change was made that `inverse` undoes: what had been undone before cannot be redone any
  /// more.
  void changed(HistoryStep inverse);
  /// A change was made that belongs to an earlier one: both are undone in one step. The steps
  /// between must not touch what it changed. What had been undone can still be redone.
  /// @param steps_back  0: it belongs to the last step. Beyond the first step it is only forgotten:
  ///                    the earlier change was made before this history begins.
  void joined(std::size_t steps_back, Edit inverse);
  /// The last change was undone. There need be none: it may have been made before this history
  /// begins.
  /// @param again  does it again.
  void undone(HistoryStep again);
  /// The last change undone was done again; there need be none, as above.
  void redone(HistoryStep inverse);

  /// What the next undo or redo applies; nothing where there is nothing.
  [[nodiscard]] const HistoryStep* next_undo() const;
  [[nodiscard]] const HistoryStep* next_redo() const;

  /// Oldest first; the last of each is the next one to be taken.
  [[nodiscard]] const std::vector<HistoryStep>& undo_steps() const { return undo_; }
  [[nodiscard]] const std::vector<HistoryStep>& redo_steps() const { return redo_; }

 private:
  std::vector<HistoryStep> undo_, redo_;
};

}  // namespace measure
