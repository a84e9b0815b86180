#include "calib/board/judge_set.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <sstream>
#include <utility>

namespace calib {
namespace {

constexpr double kSameView_square = 0.05;

std::string text_of(const ImageSize& size) {
  return std::to_string(size.width) + "x" + std::to_string(size.height);
}

bool shows_the_same(const FoundBoard& a, const FoundBoard& b) {
  if (!(a.board == b.board) || !(a.size == b.size)) {
    return false;
  }
  const int columns = a.board.inner_columns, rows = a.board.inner_rows;
  const auto same_under = [&](auto place_in_b) {
    for (int row = 0; row < rows; ++row) {
      for (int column = 0; column < columns; ++column) {
        const auto [c, r] = place_in_b(column, row);
        const auto& here = a.corners[static_cast<std::size_t>(row * columns + column)];
        const auto& there = b.corners[static_cast<std::size_t>(r * columns + c)];
        if ((here.position_px - there.position_px).norm() > kSameView_square * here.square_px) {
          return false;
        }
      }
    }
    return true;
  };
  using Place = std::pair<int, int>;
  if (same_under([](int c, int r) { return Place(c, r); }) ||
      same_under([&](int c, int r) { return Place(columns - 1 - c, rows - 1 - r); })) {
    return true;
  }
  return columns == rows && (same_under([&](int c, int r) { return Place(r, rows - 1 - c); }) ||
                             same_under([&](int c, int r) { return Place(columns - 1 - r, c); }));
}

std::string text_of(const LensAndBody& camera) {
  std::ostringstream text;
  text << (camera.model.empty() ? (camera.make.empty() ? "body not told" : camera.make)
                                : camera.model);
  if (!camera.lens.empty()) {
    text << ", " << camera.lens;
  }
  if (camera.focal_length_mm) {
    text << ", " << *camera.focal_length_mm << " mm";
  }
  return text.str();
}

bool agree(const std::string& a, const std::string& b) { return a.empty() || b.empty() || a == b; }

bool agree(const LensAndBody& a, const LensAndBody& b) {
  // EXIF keeps tenths of a millimetre; a zoom at another position differs by more.
  constexpr double kSameFocalLength_mm = 0.05;
  const bool same_focal_length =
      !a.focal_length_mm || !b.focal_length_mm ||
      std::abs(*a.focal_length_mm - *b.focal_length_mm) <= kSameFocalLength_mm;
  return agree(a.make, b.make) && agree(a.model, b.model) && agree(a.lens, b.lens) &&
         same_focal_length;
}

}  // namespace

std::vector<std::optional<PhotoRefusal>> judge_set(std::span<const SetPhoto> photos) {
  std::vector<std::optional<PhotoRefusal>> verdicts(photos.size());
  std::map<std::pair<int, int>, int> votes;
  const ImageSize* usual = nullptr;
  for (const auto& photo : photos) {
    if (photo.board != nullptr) {
      ++votes[{photo.board->size.width, photo.board->size.height}];
    }
  }
  for (const auto& photo : photos) {
    if (photo.board != nullptr &&
        (usual == nullptr || votes[{photo.board->size.width, photo.board->size.height}] >
                                 votes[{usual->width, usual->height}])) {
      usual = &photo.board->size;
    }
  }
  for (std::size_t i = 0; i < photos.size(); ++i) {
    const FoundBoard* board = photos[i].board;
    if (board == nullptr) {
      continue;
    }
    if (!(board->size == *usual)) {
      const bool turned = board->size.width == usual->height && board->size.height == usual->width;
      verdicts[i] = PhotoRefusal{PhotoRefusalKind::kAnotherSize,
                                 text_of(board->size) + " in place of " + text_of(*usual) +
                                     (turned ? ", turned by a program" : "")};
      continue;
    }
    for (std::size_t j = 0; j < i; ++j) {
      if (photos[j].board != nullptr && !verdicts[j] && shows_the_same(*board, *photos[j].board)) {
        verdicts[i] = PhotoRefusal{PhotoRefusalKind::kSameView, photos[j].file};
        break;
      }
    }
  }
  return verdicts;
}

std::optional<Problem> mixed_cameras(std::span<const PhotoCamera> photos) {
  struct Kind {
    LensAndBody camera;
    std::vector<std::string> files;
  };
  std::vector<Kind> kinds;
  for (const auto& photo : photos) {
    const auto same = std::find_if(kinds.begin(), kinds.end(), [&](const Kind& kind) {
      return agree(kind.camera, photo.lens_and_body);
    });
    if (same == kinds.end()) {
      kinds.push_back({photo.lens_and_body, {photo.file}});
    } else {
      same->files.push_back(photo.file);
    }
  }
  if (kinds.size() < 2) {
    return std::nullopt;
  }
  constexpr std::size_t kListed = 4;
  std::ostringstream text;
  text << "the photos come from " << kinds.size()
       << " cameras (body, lens or focal length differ): calibrate each by itself. ";
  for (std::size_t k = 0; k < kinds.size(); ++k) {
    text << (k == 0 ? "" : "; ") << text_of(kinds[k].camera) << ": ";
    for (std::size_t i = 0; i < std::min(kListed, kinds[k].files.size()); ++i) {
      text << (i == 0 ? "" : ", ") << kinds[k].files[i];
    }
    if (kinds[k].files.size() > kListed) {
      text << " and " << kinds[k].files.size() - kListed << " more";
    }
  }
  return Problem{text.str()};
}

}  // namespace calib
