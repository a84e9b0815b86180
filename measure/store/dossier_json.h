// A dossier's parts as JSON, shared by the dossier file and the edits of the journal. Private to
// this room.
#pragma once

#include "calib/file/versioned_json.h"
#include "measure/dossier/dossier.h"
#include "measure/edit/edit.h"

namespace measure {

inline constexpr calib::FileSchema kDossierSchema{"scantling dossier", "dossier", 1, 2};

[[nodiscard]] calib::Json json_of(const CameraEntry& camera);
[[nodiscard]] calib::Json json_of(const Photo& photo);
[[nodiscard]] calib::Json json_of(const PointKind& kind);
[[nodiscard]] calib::Json json_of(const Point& point);
[[nodiscard]] calib::Json json_of(const Mark& mark);
[[nodiscard]] calib::Json json_of(const Hidden& place);
[[nodiscard]] calib::Json json_of(const ScaleBar& bar);
[[nodiscard]] calib::Json json_of(const ScaleRatio& ratio);
[[nodiscard]] calib::Json json_of(const AskedDimension& dimension);
[[nodiscard]] calib::Json json_of(const Shape& shape);
[[nodiscard]] calib::Json json_of(const ShapeMark& mark);
[[nodiscard]] calib::Json json_of(const AxesNames& axes);
[[nodiscard]] calib::Json json_of(const Edit& edit);
/// Without the keys that this version does not know.
[[nodiscard]] calib::Json json_of(const Dossier& dossier);

[[nodiscard]] std::string_view word_of(CameraUse use);

/// These throw calib::JsonRefusal: run them in calib::read_json.
[[nodiscard]] CameraEntry camera_from(const calib::JsonItem& item);
[[nodiscard]] CameraUse camera_use_from(const calib::JsonItem& item);
[[nodiscard]] Photo photo_from(const calib::JsonItem& item);
[[nodiscard]] PointKind kind_from(const calib::JsonItem& item);
[[nodiscard]] Point point_from(const calib::JsonItem& item);
[[nodiscard]] Mark mark_from(const calib::JsonItem& item);
[[nodiscard]] Hidden hidden_from(const calib::JsonItem& item);
[[nodiscard]] ScaleBar bar_from(const calib::JsonItem& item);
[[nodiscard]] ScaleRatio ratio_from(const calib::JsonItem& item);
[[nodiscard]] AskedDimension dimension_from(const calib::JsonItem& item);
[[nodiscard]] Shape shape_from(const calib::JsonItem& item);
[[nodiscard]] ShapeMark shape_mark_from(const calib::JsonItem& item);
[[nodiscard]] AxesNames axes_from(const calib::JsonItem& item);
[[nodiscard]] Edit edit_from(const calib::JsonItem& item);

/// Value under `key` + unit and its u under `key` + "_u" + unit; nothing where the value is
/// missing.
void put_uncertain(calib::Json& object, const std::string& key, const std::string& unit,
                   const std::optional<Uncertain>& value);
[[nodiscard]] std::optional<Uncertain> find_uncertain(const calib::JsonItem& item,
                                                      const std::string& key,
                                                      const std::string& unit);

}  // namespace measure
