#include "measure/store/sheet_files.h"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <optional>

#include "calib/file/atomic_write.h"
#include "measure/sheet/csv.h"
#include "measure/sheet/dimension_page.h"
#include "measure/sheet/dimension_pdf.h"
#include "measure/sheet/point_files.h"
#include "measure/sheet/sheet_font.h"
#include "measure/sheet/survey_drawing.h"
#include "measure/sheet/template_dxf.h"
#include "measure/sheet/template_pdf.h"
#include "measure/sheet/template_svg.h"
#include "measure/store/sheet_json.h"

namespace measure {
namespace {

using calib::Problem;
using calib::Unexpected;

/// A size in which things are built: the original's own, or a replica's.
struct BuiltScale {
  std::string scale;  ///< of the dimension results
  std::string text;   ///< "replica 1:72", "the original's size"
  std::string file;   ///< "1-72", "original"
  double factor = 1.0;
  double factor_relative_u = 0.0;
};

std::vector<BuiltScale> built_scales(const Dossier& dossier) {
  std::vector<BuiltScale> scales{{"model", "the original's size", "original", 1.0}};
  if (!dossier.model_scale) return scales;
  for (const ScaleRatio& replica : dossier.replica_scales) {
    char number[32];
    std::snprintf(number, sizeof number, "%g", replica.denominator);
    scales.push_back({std::string("replica 1:") + number, std::string("replica 1:") + number,
                      std::string("1-") + number,
                      dossier.model_scale->denominator / replica.denominator,
                      std::hypot(dossier.model_scale->u / dossier.model_scale->denominator,
                                 replica.u / replica.denominator)});
  }
  return scales;
}

/// A name that every file system takes.
std::string file_name(std::string text) {
  for (char& c : text) {
    if (static_cast<unsigned char>(c) < 0x20 ||
        std::string_view("/\\:*?\"<>|").find(c) != std::string_view::npos)
      c = '_';
  }
  // Some take no more than 255 bytes; a letter of several is not cut in the middle.
  constexpr std::size_t kLongest = 150;
  if (text.size() > kLongest) {
    std::size_t end = kLongest;
    while (end > 0 && (static_cast<unsigned char>(text[end]) & 0xC0) == 0x80) --end;
    text.resize(end);
  }
  return text;
}

class Maker {
 public:
  Maker(const Survey& survey, const Dossier& dossier,
        const std::map<std::string, calib::Camera>& cameras, const SheetFilesOptions& options)
      : survey_(survey),
        dossier_(dossier),
        cameras_(cameras),
        options_(options),
        results_(evaluate_dimensions(survey, dossier)) {}

  calib::Result<SheetFiles, Problem> make() {
    if (options_.parts.contains(SheetPart::kDimensions)) {
      if (auto problem = dimensions()) return Unexpected(*problem);
    }
    if (options_.parts.contains(SheetPart::kTemplates)) {
      if (auto problem = templates()) return Unexpected(*problem);
    }
    if (options_.parts.contains(SheetPart::kData)) {
      if (auto problem = data()) return Unexpected(*problem);
    }
    if (options_.parts.contains(SheetPart::kDimensions) ||
        options_.parts.contains(SheetPart::kTemplates)) {
      warn_of_missing_letters();
    }
    if (cancelled()) return Unexpected(Problem{"the sheet was stopped: nothing was written"});
    const auto& of_survey = survey_.report().warnings;
    made_.warnings.insert(made_.warnings.end(), of_survey.begin(), of_survey.end());
    return std::move(made_);
  }

 private:
  using Fault = std::optional<Problem>;

  [[nodiscard]] bool cancelled() const { return options_.cancelled && options_.cancelled(); }
  void tell(double share, const std::string& what) const {
    if (options_.sheet.progress) options_.sheet.progress(share, what);
  }

  /// Names can be written in any script, and not every system has the fonts.
  void warn_of_missing_letters() {
    constexpr std::size_t kNamed = 5;  // a dossier may hold a thousand names of one script
    std::size_t count = 0;
    std::string first_letters, named;
    const auto check = [&](const std::string& what, const std::string& text) {
      const std::string letters = letters_without_font(text);
      if (letters.empty()) return;
      if (++count > kNamed) return;
      first_letters += letters;
      named += (named.empty() ? "" : ", ") + what;
    };
    const auto check_name = [&](const std::string& kind, const std::string& name) {
      check(kind + " \"" + name + "\"", name);
    };
    check("the original's name \"" + dossier_.name + "\"", dossier_.name);
    check("who measured, \"" + options_.sheet.measured_by + "\"", options_.sheet.measured_by);
    for (const AskedDimension& asked : dossier_.dimensions) check_name("dimension", asked.name);
    for (const Shape& shape : dossier_.shapes) check_name("shape", shape.name);
    for (const PointReport& point : survey_.report().points) check_name("point", point.name);
    for (const ScaleBar& bar : dossier_.bars) check_name("scale bar", bar.name);
    for (const Photo& photo : dossier_.photos) check_name("photo", photo.name);
    for (const CameraEntry& camera : dossier_.cameras) check_name("camera", camera.name);
    if (count == 0) return;
    if (count > kNamed) named += " and " + std::to_string(count - kNamed) + " more";
    made_.warnings.push_back(
        "No font of this system has the letters \"" + first_letters + "\" of " + named +
        ": the PDFs show \uFFFD in their place. Install a font that has them, such as those of the "
        "package fonts-noto-core, fonts-noto-cjk or fonts-symbola, and write the sheet again.");
  }

  Fault dimensions() {
    SheetOptions options = options_.sheet;
    options.cancelled = options_.cancelled;
    const auto content = gather_sheet(survey_, dossier_, cameras_, results_, options);
    if (!content) return content.error();
    const auto pdf = dimension_pdf(*content, {options_.paper, options.progress, options.cancelled});
    if (!pdf) return pdf.error();
    made_.files.push_back({"dimensions.pdf", *pdf});
    made_.files.push_back({"dimensions.html", dimension_page(*content)});
    made_.check_sentence = content->check_sentence;
    return std::nullopt;
  }

  Fault templates() {
    const bool alone = options_.parts.size() == 1;
    if (survey_.report().unit != LengthUnit::kMillimetre) {
      const Problem no_scale{
          "There is no scale bar, so nothing can be drawn at the size to be built: add one with "
          "\"scantling bar add\"."};
      if (alone) return no_scale;
      made_.warnings.push_back(no_scale.sentence);
      return std::nullopt;
    }
    std::vector<BuiltScale> scales = built_scales(dossier_);
    if (scales.size() > 1) scales.erase(scales.begin());  // what is built is the replica
    std::size_t drawn = 0;
    for (std::size_t s = 0; s < scales.size(); ++s) {
      auto views = views_of(survey_, dossier_, options_.onto, scales[s].factor);
      if (!views) return views.error();
      for (View& view : *views) view.plane.factor_relative_u = scales[s].factor_relative_u;
      for (std::size_t v = 0; v < views->size(); ++v) {
        if (cancelled()) return std::nullopt;
        tell(static_cast<double>(s * views->size() + v) /
                 static_cast<double>(scales.size() * views->size()),
             "template " + (*views)[v].name);
        if (auto problem = draw((*views)[v], scales[s])) {
          made_.warnings.push_back("The template " + (*views)[v].name +
                                   " cannot be drawn: " + problem->sentence);
        } else {
          ++drawn;
        }
      }
    }
    if (drawn == 0 && alone) return Problem{made_.warnings.back()};
    return std::nullopt;
  }

  Fault draw(const View& view, const BuiltScale& scale) {
    TemplateContent content;
    content.title = dossier_.name;
    content.scale_text = scale.text;
    content.scale = scale.scale;
    content.unit = options_.sheet.unit;
    content.only = options_.draw;
    const TemplateDrawing drawing = draw_view(view, survey_, dossier_, results_, content);
    if (auto problem = drawing.first_problem()) return problem;
    TemplatePdfOptions pdf_options;
    pdf_options.paper = options_.paper;
    if (!options_.sheet.date.empty()) pdf_options.date = options_.sheet.date + "T12:00:00Z";
    pdf_options.cancelled = options_.cancelled;
    const auto pdf = template_pdf(drawing, pdf_options);
    if (!pdf) return pdf.error();
    const auto svg = template_svg(drawing);
    if (!svg) return svg.error();
    const auto dxf = template_dxf(drawing);
    if (!dxf) return dxf.error();
    const std::string name = "templates/" + file_name(scale.file + " " + view.name);
    made_.files.push_back({name + ".pdf", pdf->bytes});
    made_.files.push_back({name + ".svg", *svg});
    made_.files.push_back({name + ".dxf", *dxf});
    return std::nullopt;
  }

  Fault data() {
    tell(0.9, "data");
    made_.files.push_back({"data/dimensions.csv", dimensions_csv(results_)});
    const auto json = sheet_json(shape_list(survey_, dossier_, options_.draw, true), results_);
    if (!json) return json.error();
    made_.files.push_back({"data/survey.json", *json});
    const ShapeList shapes = shape_list(survey_, dossier_, options_.draw);
    for (const BuiltScale& scale : built_scales(dossier_)) {
      const ShapeList sized =
          scale.factor == 1.0 && scale.scale == "model"
              ? shapes
              : scaled(shapes, scale.factor, scale.scale, scale.factor_relative_u);
      const auto ply = shapes_ply(sized);
      if (!ply) return ply.error();
      const auto obj = shapes_obj(sized);
      if (!obj) return obj.error();
      made_.files.push_back({"data/points " + scale.file + ".ply", *ply});
      made_.files.push_back({"data/points " + scale.file + ".obj", *obj});
    }
    return std::nullopt;
  }

  const Survey& survey_;
  const Dossier& dossier_;
  const std::map<std::string, calib::Camera>& cameras_;
  const SheetFilesOptions& options_;
  std::vector<DimensionResult> results_;
  SheetFiles made_;
};

}  // namespace

calib::Result<SheetFiles, Problem> sheet_files(const Survey& survey, const Dossier& dossier,
                                               const std::map<std::string, calib::Camera>& cameras,
                                               const SheetFilesOptions& options) {
  return Maker(survey, dossier, cameras, options).make();
}

calib::Result<std::vector<std::filesystem::path>, Problem> write_sheet_files(
    const std::filesystem::path& folder, const SheetFiles& made,
    const std::function<bool()>& stop) {
  std::vector<std::filesystem::path> paths;
  std::vector<calib::FileContents> contents;
  for (const SheetFile& file : made.files) {
    paths.push_back(folder / std::filesystem::path(file.name));
    contents.push_back({paths.back(), file.bytes});
  }
  if (auto written = calib::atomic_write_all(contents, stop); !written) {
    return Unexpected(written.error());
  }
  return paths;
}

}  // namespace measure
