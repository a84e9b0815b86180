#include "tools/desk/session/priority.h"

#include <sys/resource.h>
#include <unistd.h>

namespace desk {
namespace {

constexpr int kBehindTheWidgets = 5;

}  // namespace

void go_behind_the_widgets() {
  // Linux keeps a niceness for each thread. Where it cannot be had, all go alike.
  (void)::setpriority(PRIO_PROCESS, static_cast<id_t>(::gettid()), kBehindTheWidgets);
}

}  // namespace desk
