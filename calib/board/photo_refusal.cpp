#include "calib/board/photo_refusal.h"

namespace calib {

std::string_view short_name(PhotoRefusalKind kind) {
  switch (kind) {
    case PhotoRefusalKind::kUnreadable:
      return "unreadable";
    case PhotoRefusalKind::kNotFound:
      return "not found";
    case PhotoRefusalKind::kCutOff:
      return "cut off";
    case PhotoRefusalKind::kTooBlurred:
      return "too blurred";
    case PhotoRefusalKind::kCancelled:
      return "cancelled";
    case PhotoRefusalKind::kAnotherSize:
      return "another size";
    case PhotoRefusalKind::kSameView:
      return "same view";
  }
  return "";
}

std::string describe(const PhotoRefusal& refusal, std::string_view photo) {
  const std::string name(photo);
  switch (refusal.kind) {
    case PhotoRefusalKind::kUnreadable:
      return refusal.detail;  // it names the file already
    case PhotoRefusalKind::kNotFound:
      return name + ": no board of " + refusal.detail +
             " inner corners was found: check the count (where four squares meet), show the whole "
             "board with a "
             "white border, and light it evenly";
    case PhotoRefusalKind::kCutOff:
      return name + ": the board seems to leave the photo: show all of it, with its white border";
    case PhotoRefusalKind::kTooBlurred:
      return name + ": the board is too blurred (" + refusal.detail +
             "): hold the camera still or use a shorter exposure, and keep the focus where it was "
             "calibrated";
    case PhotoRefusalKind::kCancelled:
      return name + ": cancelled before it was done";
    case PhotoRefusalKind::kAnotherSize:
      return name + ": has another size than most photos (" + refusal.detail +
             "): give only whole, unturned photos of one camera";
    case PhotoRefusalKind::kSameView:
      return name + ": shows the board just as " + refusal.detail +
             " does: move the camera or turn the board between photos";
  }
  return name;
}

}  // namespace calib
