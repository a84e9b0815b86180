// One line that says how the survey stands.
#pragma once

#include <QString>

#include "tools/desk/session/desk_session.h"

namespace desk {

/// "64 of 66 points placed in 16 photos · rms 0.51 px · doubted marks: 3", or why there is no
/// survey.
[[nodiscard]] QString survey_sentence(const DeskSession& session);

}  // namespace desk
