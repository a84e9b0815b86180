// Edits as a person at the desk might make them, drawn from a fixed seed.
#pragma once

#include <cstdint>
#include <random>
#include <string>

#include "measure/edit/apply.h"
#include "measure/edit/edit.h"
#include "tests/measure/edit/small_dossier.h"

namespace testing_support {

class RandomEdits {
 public:
  explicit RandomEdits(std::uint32_t seed) : random_(seed) {}

  [[nodiscard]] int below(int end) {
    return std::uniform_int_distribution<int>(0, end - 1)(random_);
  }

  /// An edit that the dossier takes. Marks are the most frequent, as at the desk.
  [[nodiscard]] measure::Edit next(const measure::Dossier& dossier) {
    while (true) {
      measure::Edit edit = drawn(dossier);
      measure::Dossier trial = dossier;
      if (measure::apply(edit, trial)) {
        return edit;
      }
    }
  }

 private:
  template <typename Items>
  [[nodiscard]] std::string any_name(const Items& items) {
    return items.empty() ? "none" : items[static_cast<std::size_t>(below(int(items.size())))].name;
  }
  [[nodiscard]] std::string fresh_name() { return "n " + std::to_string(below(100'000)); }
  [[nodiscard]] double number(double end) {
    return std::uniform_real_distribution<double>(0.0, end)(random_);
  }

  [[nodiscard]] measure::Edit drawn(const measure::Dossier& d) {
    using namespace measure;
    const std::string photo = any_name(d.photos), point = any_name(d.points);
    switch (below(22)) {
      case 0:
        return AddPoint{{fresh_name(), ""}};
      case 1:
        return RenamePoint{point, fresh_name()};
      case 2:
        return d.marks.size() > 6 ? Edit(RemoveMarks{{{photo, point}}}) : SetDossierName{"d"};
      case 3:
        return SetHidden{{{photo, point}}, below(3) > 0};
      case 4:
        return AddDimension{{fresh_name(), Distance{point, any_name(d.points)}},
                            std::size_t(below(3))};
      case 5:
        return RenameDimension{any_name(d.dimensions), fresh_name()};
      case 6:
        return SetTolerance{any_name(d.dimensions), number(1.0) + 1e-3};
      case 7:
        return RemoveDimension{any_name(d.dimensions)};
      case 8:
        return SetPhotoEpoch{photo, below(2) == 0 ? "" : fresh_name()};
      case 9:
        return SetAside{{photo, point}, below(2) == 0};
      case 10:
        return RemovePoint{point};
      case 11:
        return SetTemperature{Uncertain{number(30.0), number(1.0)}};
      case 12:
        return EditGroup{{AddPoint{{fresh_name(), ""}}, SetDossierName{fresh_name()}}};
      default:
        return set_mark({photo,
                         point,
                         {number(2399.0), number(1599.0)},
                         number(1.0) + 0.01,
                         MarkSource::kByHand,
                         false});
    }
  }

  std::mt19937 random_;
};

}  // namespace testing_support
