#include "measure/sheet/template_dxf.h"

#include <algorithm>
#include <cctype>
#include <cerrno>
#include <cmath>
#include <cstdlib>
#include <cstring>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <memory>
#include <numbers>
#include <vector>

#include <dxflib/dl_dxf.h>
#include <unistd.h>

#include "calib/base/units.h"
#include "measure/sheet/dxf_text.h"

namespace measure {
namespace {

using Eigen::Vector2d;

constexpr const char* kApplication = "SCANTLING";
constexpr const char* kTextStyle = "Standard";
constexpr const char* kLegendLayer = "LEGEND";
constexpr int kMillimetres = 4;  // of $INSUNITS
constexpr double kLegendHeight_mm = 2.5, kLegendLine_mm = 4.5;

std::string layer_name(DrawingLayer layer) {
  std::string name = pen_of(layer).id;
  std::transform(name.begin(), name.end(), name.begin(),
                 [](unsigned char c) { return static_cast<char>(std::toupper(c)); });
  return name;
}

const char* line_type(DrawingLayer layer) {
  switch (layer) {
    case DrawingLayer::kCentreLines:
      return "CENTRE";
    case DrawingLayer::kUncertainty:
      return "DOTTED";
    default:
      return "CONTINUOUS";
  }
}

/// A file of its own that is gone when this is.
class ScratchFile {
 public:
  ScratchFile() {
    std::error_code ignored;
    path_ = (std::filesystem::temp_directory_path(ignored) / "scantling-XXXXXX.dxf").string();
    const int descriptor = ::mkstemps(path_.data(), 4);
    error_ = descriptor < 0 ? errno : 0;
    if (descriptor >= 0) {
      ::close(descriptor);
    }
  }
  ScratchFile(const ScratchFile&) = delete;
  ScratchFile& operator=(const ScratchFile&) = delete;
  ~ScratchFile() {
    if (error_ == 0) {
      ::unlink(path_.c_str());
    }
  }
  [[nodiscard]] const std::string& path() const { return path_; }
  [[nodiscard]] int error() const { return error_; }

 private:
  std::string path_;
  int error_ = 0;
};

class DxfFile {
 public:
  explicit DxfFile(const std::string& path) : writer_(dxf_.out(path.c_str(), DL_Codes::AC1015)) {}

  [[nodiscard]] bool is_open() const { return writer_ && !writer_->openFailed(); }

  void write(const LaidOutDrawing& drawing) {
    header(drawing.frame);
    tables();
    blocks();
    writer_->sectionEntities();
    for (const DrawingLayer layer : kDrawingLayers) {
      for (const Stroke& stroke : drawing.strokes) {
        if (stroke.layer == layer) {
          write(stroke);
        }
      }
    }
    for (const LaidOutText& text : drawing.texts) {
      write(text, layer_name(text.layer));
    }
    for (std::size_t i = 0; i < drawing.legend.size(); ++i) {
      LaidOutText line;
      line.text = drawing.legend[i];
      line.height_mm = kLegendHeight_mm;
      line.at_mm = drawing.frame.low - Vector2d(0.0, kLegendLine_mm * (static_cast<double>(i) + 1));
      write(line, kLegendLayer);
    }
    writer_->sectionEnd();
    dxf_.writeObjects(*writer_);
    dxf_.writeObjectsEnd(*writer_);
    writer_->dxfEOF();
    writer_->close();
  }

 private:
  void header(const PageBox& frame) {
    dxf_.writeHeader(*writer_);
    const auto variable = [&](const char* name, int code, int value) {
      writer_->dxfString(9, name);
      writer_->dxfInt(code, value);
    };
    variable("$INSUNITS", 70, kMillimetres);
    variable("$MEASUREMENT", 70, 1);  // metric line types
    variable("$PDMODE", 70, 2);       // points as crosses …
    writer_->dxfString(9, "$PDSIZE");
    writer_->dxfReal(40, kPlaceCross_mm);  // … this large
    for (const auto& [name, corner] :
         {std::pair("$EXTMIN", frame.low), std::pair("$EXTMAX", frame.high)}) {
      writer_->dxfString(9, name);
      writer_->coord(10, corner.x(), corner.y());
    }
    writer_->sectionEnd();
  }

  void tables() {
    writer_->sectionTables();
    dxf_.writeVPort(*writer_);
    writer_->tableLinetypes(5);
    for (const char* name : {"BYBLOCK", "BYLAYER", "CONTINUOUS"}) {
      dxf_.writeLinetype(*writer_, DL_LinetypeData(name, name, 0, 0, 0.0));
    }
    for (const DrawingLayer layer : {DrawingLayer::kCentreLines, DrawingLayer::kUncertainty}) {
      std::array<double, 4> dashes = pen_of(layer).dashes_mm;
      double length = 0.0;
      for (std::size_t i = 0; i < dashes.size(); ++i) {
        length += dashes[i];
        dashes[i] *= i % 2 == 0 ? 1.0 : -1.0;  // what is left out is negative
      }
      dxf_.writeLinetype(*writer_, DL_LinetypeData(line_type(layer), pen_of(layer).title, 0, 4,
                                                   length, dashes.data()));
    }
    writer_->tableEnd();
    writer_->tableLayers(static_cast<int>(kDrawingLayers.size()) + 2);
    layer("0", 25, "CONTINUOUS", 7);
    for (const DrawingLayer each : kDrawingLayers) {
      layer(layer_name(each), static_cast<int>(std::lround(100.0 * pen_of(each).width_mm)),
            line_type(each), each == DrawingLayer::kUncertainty ? 8 : 7);
    }
    layer(kLegendLayer, 18, "CONTINUOUS", 7);
    writer_->tableEnd();
    writer_->tableStyle(1);
    dxf_.writeStyle(*writer_, DL_StyleData(kTextStyle, 0, 0.0, 1.0, 0.0, 0, 2.5, "arial.ttf", ""));
    writer_->tableEnd();
    dxf_.writeView(*writer_);
    dxf_.writeUcs(*writer_);
    writer_->tableAppid(2);
    dxf_.writeAppid(*writer_, "ACAD");
    dxf_.writeAppid(*writer_, kApplication);
    writer_->tableEnd();
    dxf_.writeDimStyle(*writer_, kArrowLength_mm, 1.5, 0.8, 0.6, 2.5);
    dxf_.writeBlockRecord(*writer_);
    writer_->tableEnd();
    writer_->sectionEnd();
  }

  void layer(const std::string& name, int width, const char* type, int colour) {
    dxf_.writeLayer(*writer_, DL_LayerData(name, 0), DL_Attributes("", colour, width, type, 1.0));
  }

  void blocks() {
    writer_->sectionBlocks();
    for (const char* name : {"*Model_Space", "*Paper_Space", "*Paper_Space0"}) {
      dxf_.writeBlock(*writer_, DL_BlockData(name, 0, 0.0, 0.0, 0.0));
      dxf_.writeEndBlock(*writer_, name);
    }
    writer_->sectionEnd();
  }

  static DL_Attributes on(const std::string& layer) { return {layer, 256, -1, "BYLAYER", 1.0}; }

  void write(const Stroke& stroke) {
    const DL_Attributes attributes = on(layer_name(stroke.layer));
    const auto point = [](const Vector2d& at) { return DL_PointData(at.x(), at.y(), 0.0); };
    if (const auto* line = std::get_if<LineStroke>(&stroke.shape)) {
      dxf_.writeLine(*writer_,
                     DL_LineData(line->from_mm.x(), line->from_mm.y(), 0.0, line->to_mm.x(),
                                 line->to_mm.y(), 0.0),
                     attributes);
    } else if (const auto* ellipse = std::get_if<EllipseStroke>(&stroke.shape)) {
      write(*ellipse, attributes);
    } else if (const auto* arc = std::get_if<ArcStroke>(&stroke.shape)) {
      dxf_.writeArc(*writer_,
                    DL_ArcData(arc->centre_mm.x(), arc->centre_mm.y(), 0.0, arc->radius_mm,
                               arc->from_rad * calib::kDegreesPerRadian,
                               arc->to_rad * calib::kDegreesPerRadian),
                    attributes);
    } else if (const auto* path = std::get_if<PathStroke>(&stroke.shape)) {
      dxf_.writePolyline(
          *writer_,
          DL_PolylineData(static_cast<int>(path->corners_mm.size()), 0, 0, path->closed ? 1 : 0),
          attributes);
      for (const Vector2d& corner : path->corners_mm) {
        dxf_.writeVertex(*writer_, DL_VertexData(corner.x(), corner.y(), 0.0, 0.0));
      }
      dxf_.writePolylineEnd(*writer_);
    } else if (const auto* place = std::get_if<PlaceStroke>(&stroke.shape)) {
      dxf_.writePoint(*writer_, point(place->at_mm), attributes);
    } else if (const auto* arrow = std::get_if<ArrowStroke>(&stroke.shape)) {
      const Vector2d base = arrow->tip_mm - kArrowLength_mm * arrow->direction;
      const Vector2d across(-arrow->direction.y(), arrow->direction.x());
      const Vector2d left = base + 0.5 * kArrowWidth_mm * across,
                     right = base - 0.5 * kArrowWidth_mm * across, &tip = arrow->tip_mm;
      // The fourth corner on the third: a triangle.
      dxf_.writeSolid(*writer_,
                      DL_SolidData(tip.x(), tip.y(), 0.0, left.x(), left.y(), 0.0, right.x(),
                                   right.y(), 0.0, right.x(), right.y(), 0.0),
                      attributes);
    }
    write_name(stroke.name);
  }

  void write(const EllipseStroke& ellipse, const DL_Attributes& attributes) {
    const Vector2d& centre = ellipse.centre_mm;
    const double ratio = ellipse.minor_mm / ellipse.major_mm;
    if (ratio >= 1.0 - 1e-9) {
      dxf_.writeCircle(*writer_, DL_CircleData(centre.x(), centre.y(), 0.0, ellipse.major_mm),
                       attributes);
      return;
    }
    dxf_.writeEllipse(
        *writer_,
        DL_EllipseData(centre.x(), centre.y(), 0.0, ellipse.major_mm * std::cos(ellipse.turn_rad),
                       ellipse.major_mm * std::sin(ellipse.turn_rad), 0.0, std::max(ratio, 1e-6),
                       0.0, 2.0 * std::numbers::pi),
        attributes);
  }

  void write(const LaidOutText& text, const std::string& layer) {
    dxf_.writeText(*writer_,
                   DL_TextData(text.at_mm.x(), text.at_mm.y(), 0.0, text.at_mm.x(), text.at_mm.y(),
                               0.0, text.height_mm, 1.0, 0, 0, 0, dxf_drawn_text(text.text),
                               kTextStyle, text.turn_rad),
                   on(layer));
  }

  /// Extended data of the entity just written: it ends where the next group 0 begins.
  void write_name(const std::string& name) {
    if (name.empty()) {
      return;
    }
    constexpr std::size_t kLongest = 240;  // a string of extended data holds 255
    const std::string text = dxf_text(name);
    writer_->dxfString(1001, kApplication);
    for (std::size_t at = 0; at < text.size();) {
      std::size_t length = std::min(kLongest, text.size() - at);
      // Not within a code: "\U+XXXX" has seven characters.
      for (std::size_t back = 1; back < 7 && at + length < text.size() && back < length; ++back) {
        if (text.compare(at + length - back, 3, "\\U+") == 0) {
          length -= back;
          break;
        }
      }
      writer_->dxfString(1000, text.substr(at, length));
      at += length;
    }
  }

  DL_Dxf dxf_;
  std::unique_ptr<DL_WriterA> writer_;
};

}  // namespace

calib::Result<std::string, calib::Problem> template_dxf(const TemplateDrawing& drawing,
                                                        const LayoutOptions& options) {
  if (auto problem = drawing.first_problem()) {
    return calib::Unexpected(*problem);
  }
  const ScratchFile file;
  const auto refused = [&](const std::string& why) {
    return calib::Unexpected(calib::Problem{"the DXF could not be written to " + file.path() +
                                            " on its way (" + why +
                                            "): make room in the folder for temporary files."});
  };
  if (file.error() != 0) {
    return refused(std::strerror(file.error()));
  }
  {
    DxfFile dxf(file.path());
    if (!dxf.is_open()) {
      return refused("it cannot be opened");
    }
    dxf.write(lay_out(drawing, options));
  }
  std::ifstream in(file.path(), std::ios::binary);
  std::string bytes((std::istreambuf_iterator<char>(in)), std::istreambuf_iterator<char>());
  constexpr std::string_view kEnd = "EOF";
  if (bytes.find(kEnd, bytes.size() - std::min<std::size_t>(bytes.size(), 8)) ==
      std::string::npos) {
    return refused("its end is missing");
  }
  return bytes;
}

}  // namespace measure
