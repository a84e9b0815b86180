// Which thread goes first where cores are few.
#pragma once

namespace desk {

/// The calling thread, and those it starts, give way to the thread of the widgets.
void go_behind_the_widgets();

}  // namespace desk
