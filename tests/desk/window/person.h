// A person at the desk's window: types, clicks and waits.
#pragma once

#include <QSettings>
#include <QString>
#include <QWidget>
#include <functional>
#include <string>

#include <Eigen/Core>

#include "tools/desk/window/desk_window.h"

namespace testing_desk {

/// Waits until the condition holds; false after the time.
bool wait_until(const std::function<bool()>& condition, int milliseconds = 60000);

class Person {
 public:
  explicit Person(desk::DeskWindow& window) : window_(window) {}

  /// A widget or action by its object name, in any window of the desk; a failure where there is
  /// none.
  template <typename Widget>
  Widget* find(const QString& name) const {
    auto* found = window_.findChild<Widget*>(name);
    if (!found) fail("there is no " + name);
    return found;
  }
  void trigger(const QString& action);                   ///< by its key, where it has one
  void type(const QString& line, const QString& words);  ///< replaces what stands in the line
  void press(const QString& button);
  /// The sentences that stand below fields in all windows, for a failing test to show.
  [[nodiscard]] std::string problems() const;
  /// Until views, refinements and adjustment have come to rest.
  void settle();

  /// In the sightings: a new point, which is then chosen.
  void new_point(const QString& name);
  /// Clicks a place of a photo in the sightings; where the whole photo is shown, looks nearer
  /// first.
  void click_sighting(const std::string& photo, const Eigen::Vector2d& at_px);

 private:
  static void fail(const QString& sentence);
  desk::DeskWindow& window_;
};

/// Opens the dossier in a window and marks one point after another in the photo, telling each that
/// was shown as done on its standard output; never ends by itself.
int mark_until_killed(const std::string& folder, const std::string& photo);

}  // namespace testing_desk
