#include "measure/sheet/dimension_page.h"

#include <algorithm>
#include <cstdio>
#include <cstdlib>
#include <span>

#include "calib/base/units.h"
#include "calib/board/photo_hash.h"
#include "measure/sheet/page_files.h"
#include "measure/sheet/page_text.h"
#include "measure/sheet/sheet_font.h"

namespace measure {
namespace {

using Eigen::Vector2d;
using internal::base64;
using internal::html;
using internal::json_number;
using internal::json_string;

std::string tenths(double value) {
  char text[32];
  std::snprintf(text, sizeof text, "%.1f", value);
  return text;
}

/// With hard spaces, so that an uncertainty stays with its sign and its unit.
std::string unbroken(std::string text) {
  constexpr std::string_view kBefore = " ± ", kHard = "\u00A0";
  const std::size_t at = text.find(kBefore);
  if (at == std::string::npos) return text;
  const std::size_t unit = text.find(' ', at + kBefore.size());
  if (unit != std::string::npos) text.replace(unit, 1, kHard);
  text.replace(at + kBefore.size() - 1, 1, kHard);
  return text;
}

/// "sha256-…" of what stands between the tags: the page's policy lets nothing else in.
std::string policy_hash(std::string_view text) {
  const std::string hex = calib::sha256_of_bytes(
      std::span(reinterpret_cast<const unsigned char*>(text.data()), text.size()));
  std::string bytes;
  for (std::size_t at = 0; at + 1 < hex.size(); at += 2) {
    bytes += static_cast<char>(std::strtol(hex.substr(at, 2).c_str(), nullptr, 16));
  }
  return "'sha256-" + base64(bytes) + "'";
}

template <typename Items, typename Write>
std::string json_list(const Items& items, const Write& write) {
  std::string text = "[";
  for (const auto& item : items) text += (text.size() > 1 ? "," : "") + write(item);
  return text + "]";
}

std::string class_of(StrokeKind kind) {
  switch (kind) {
    case StrokeKind::kDimensionLine:
      return "dimension-line";
    case StrokeKind::kExtensionLine:
      return "extension-line";
    case StrokeKind::kCentreLine:
      return "centre-line";
    case StrokeKind::kLeader:
      return "leader";
  }
  return "";
}

std::string path_of_points(const std::vector<Vector2d>& points, bool closed = false) {
  std::string path;
  for (const Vector2d& p : points) {
    path += (path.empty() ? "M" : " ") + tenths(p.x()) + " " + tenths(p.y());
  }
  return path + (closed ? "Z" : "");
}

std::string unit_word(DimensionUnit unit) {
  switch (unit) {
    case DimensionUnit::kMillimetre:
      return "mm";
    case DimensionUnit::kSquareMillimetre:
      return "mm2";
    case DimensionUnit::kRadian:
      return "deg";
    case DimensionUnit::kRatio:
      return "ratio";
  }
  return "";
}

class PageWriter {
 public:
  explicit PageWriter(const SheetContent& content) : content_(content) {}

  std::string write() {
    const auto style = internal::kPageStyle, script = internal::kPageScript;
    page_ += "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n";
    page_ +=
        "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; img-src data:; "
        "style-src " +
        policy_hash(style) + "; script-src " + policy_hash(script) +
        "; base-uri 'none'; form-action 'none'\">\n";
    page_ += "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n";
    page_ +=
        "<meta name=\"color-scheme\" content=\"light dark\">\n<link rel=\"icon\" "
        "href=\"data:,\">\n";
    page_ += "<title>Dimension sheet: " + html(content_.original) + "</title>\n";
    page_ += "<style>";
    page_ += style;
    page_ += "</style>\n</head>\n<body>\n";
    page_ += "<a class=\"skip\" href=\"#dimensions\">to the dimensions</a>\n";
    head();
    page_ += "<main>\n";
    dimensions();
    panel();
    page_ += "</main>\n<p id=\"said\" class=\"unseen\" role=\"status\"></p>\n";
    rest();
    page_ += "<script type=\"application/json\" id=\"data\">";
    data();
    page_ += "</script>\n<script>";
    page_ += script;
    page_ += "</script>\n</body>\n</html>\n";
    return std::move(page_);
  }

 private:
  void head() {
    page_ += "<header>\n<p class=\"what\">Dimension sheet</p>\n<h1>" + html(content_.original) +
             "</h1>\n";
    page_ += std::string("<div class=\"checks") + (content_.checks_agree ? "" : " bad") +
             "\">\n<p>" + html(content_.check_sentence) + "</p>\n";
    if (!content_.known_lengths.empty()) {
      page_ +=
          "<div class=\"scroll\"><table class=\"known\"><caption class=\"unseen\">known "
          "lengths</caption><thead><tr><th scope=\"col\">known length</th><th "
          "scope=\"col\">used as</th><th scope=\"col\" class=\"right\">certified</th><th "
          "scope=\"col\" class=\"right wide\">found</th><th scope=\"col\" "
          "class=\"right\">error</th><th scope=\"col\" class=\"right\">error / "
          "U</th></tr></thead><tbody>\n";
      for (const SheetKnownLength& known : content_.known_lengths) {
        const std::string mark = known.within ? "right" : "right out";
        const auto or_dash = [](const std::string& text) {
          return text.empty() ? "—" : html(text);
        };
        page_ += "<tr><th scope=\"row\">" + html(known.name) + "</th><td>" +
                 (known.check_only ? "check" : "scale bar") + "</td><td class=\"right\">" +
                 html(unbroken(known.certified)) + "</td><td class=\"right wide\">" +
                 or_dash(known.found) + "</td><td class=\"" + mark + "\">" +
                 (known.error.empty() ? html(known.remark.empty() ? "—" : known.remark)
                                      : html(unbroken(known.error))) +
                 "</td><td class=\"" + mark + "\">" + or_dash(known.error_over_U) +
                 (known.error.empty() || known.remark.empty() ? "" : "; " + html(known.remark)) +
                 "</td></tr>\n";
      }
      page_ += "</tbody></table></div>\n";
    }
    page_ += "</div>\n<details open>\n<summary>About this sheet</summary>\n<dl>\n";
    for (const SheetFact& fact : content_.facts) {
      page_ += "<dt>" + html(fact.head) + "</dt><dd>" + html(fact.text) + "</dd>\n";
    }
    page_ += "</dl>\n</details>\n<ul class=\"cautions\">\n";
    for (const std::string& sentence : content_.cautions)
      page_ += "<li>" + html(sentence) + "</li>\n";
    page_ += "</ul>\n</header>\n";
  }

  static std::string option(const std::string& value, const std::string& text,
                            bool chosen = false) {
    return "<option value=\"" + html(value) + "\"" + (chosen ? " selected" : "") + ">" +
           html(text) + "</option>";
  }

  void tools() {
    page_ += "<form id=\"tools\" class=\"tools\" role=\"search\" aria-label=\"Dimensions\">\n";
    page_ +=
        "<label class=\"grow\">words in it<input type=\"search\" id=\"filter\" "
        "autocomplete=\"off\"></label>\n<label>kind<select id=\"kind\">" +
        option("", "all");
    std::vector<std::string> kinds;
    for (const SheetDimension& dimension : content_.dimensions) kinds.push_back(dimension.kind);
    std::sort(kinds.begin(), kinds.end());
    kinds.erase(std::unique(kinds.begin(), kinds.end()), kinds.end());
    for (const std::string& kind : kinds) page_ += option(kind, kind);
    page_ += "</select></label>\n<label>unit of lengths<select id=\"unit\" autocomplete=\"off\">";
    for (std::size_t u = 0; u < content_.units.size(); ++u) {
      page_ += option(std::to_string(u), content_.units[u].head, u == content_.first_unit);
    }
    page_ += "</select></label>\n<label>scale<select id=\"scale\" autocomplete=\"off\">";
    for (std::size_t s = 0; s < content_.scales.size(); ++s) {
      page_ += option(std::to_string(s), content_.scales[s].head, s == 0);
    }
    page_ += "</select></label>\n<label>sort by<select id=\"sort\" autocomplete=\"off\">";
    for (const auto& [key, name] : kSorts) page_ += option(key, name);
    page_ +=
        "</select></label>\n<div class=\"pair\"><span aria-hidden=\"true\">order</span><button "
        "type=\"button\" id=\"direction\">ascending</button></div>\n";
    page_ +=
        "<label class=\"line\"><input type=\"checkbox\" id=\"weak\" autocomplete=\"off\"> only "
        "what is weak</label>\n";
    page_ +=
        "<label>U of lengths above, mm<input type=\"number\" id=\"tolerance-mm\" min=\"0\" "
        "step=\"any\" autocomplete=\"off\" value=\"" +
        plain(content_.tolerance_mm) + "\"></label>\n";
    page_ +=
        "<label>U of angles above, °<input type=\"number\" id=\"tolerance-deg\" min=\"0\" "
        "step=\"any\" autocomplete=\"off\" value=\"" +
        plain(content_.tolerance_deg) + "\"></label>\n";
    page_ += "</form>\n<p id=\"count\" role=\"status\"></p>\n";
  }

  static std::string plain(double value) {
    char text[32];
    std::snprintf(text, sizeof text, "%.6g", value);
    return text;
  }

  static std::string sort_button(const std::string& key, const std::string& text,
                                 const std::string& id = {}) {
    return "<button type=\"button\" data-sort=\"" + key + "\">" +
           (id.empty() ? html(text) : "<span id=\"" + id + "\">" + html(text) + "</span>") +
           "</button>";
  }

  void dimensions() {
    page_ +=
        "<section id=\"dimensions\" aria-labelledby=\"dimensions-head\" tabindex=\"-1\">\n<h2 "
        "id=\"dimensions-head\">Dimensions</h2>\n";
    tools();
    if (!content_.pictures.empty()) {
      page_ += "<p><button type=\"button\" id=\"browse\">show the photographs</button></p>\n";
    }
    page_ +=
        "<table id=\"table\"><caption class=\"unseen\">Dimensions: value ± U; buttons in the head "
        "sort</caption>\n<thead><tr><th scope=\"col\">" +
        sort_button("number", "no.") + "</th><th scope=\"col\">" +
        sort_button("name", "dimension") + " " + sort_button("kind", "kind") +
        "</th><th scope=\"col\" class=\"right\">" +
        sort_button("value", content_.scales.front().head, "value-head") + " " +
        sort_button("U", "± U") + "</th><th scope=\"col\" class=\"right widest\">" +
        sort_button("k", "k") + "</th><th scope=\"col\" class=\"right widest\">" +
        sort_button("dof", "ν eff") + "</th><th scope=\"col\" class=\"wide from\">" +
        sort_button("from", "mostly from") + "</th><th scope=\"col\" class=\"right wide\">" +
        sort_button("picture", "picture") + "</th></tr></thead>\n<tbody id=\"rows\">\n";
    for (const SheetDimension& d : content_.dimensions) {
      std::string pictures;
      for (const std::size_t p : d.pictures) {
        pictures += (pictures.empty() ? "" : ", ") + std::to_string(p + 1);
      }
      page_ += std::string("<tr") + (d.weak ? " class=\"weak\"" : "") + "><td>" +
               std::to_string(d.number) +
               "</td><th scope=\"row\"><button type=\"button\" class=\"name\">" + html(d.name) +
               "</button><span class=\"under\">" + html(d.kind) +
               "<span class=\"tag\">weak</span></span></th>" + "<td class=\"value right" +
               (d.is_interval ? " interval" : "") + "\"><span>" +
               (d.problem.empty() ? html(unbroken(d.text(0, content_.first_unit)))
                                  : "no value: " + html(d.problem)) +
               "</span></td><td class=\"right widest\">" + html(d.is_interval ? "—" : d.k) +
               "</td><td class=\"right widest\">" + html(d.effective_dof) +
               "</td><td class=\"wide from\">" +
               (d.budget.empty()
                    ? ""
                    : html(d.budget.front().name + " " + share_text(d.budget.front().share))) +
               "</td><td class=\"right wide\">" + (pictures.empty() ? "—" : pictures) +
               "</td></tr>\n";
    }
    page_ +=
        "</tbody></table>\n<noscript><p>Without scripts this page shows the values of the "
        "original; "
        "the rest of it needs them.</p></noscript>\n</section>\n";
  }

  void panel() {
    page_ +=
        "<aside id=\"panel\" role=\"region\" aria-label=\"Photographs and details\">\n<div "
        "class=\"bar-of-tools\">";
    page_ += "<button type=\"button\" id=\"close\">close</button>";
    if (!content_.pictures.empty()) {
      page_ +=
          "<button type=\"button\" id=\"earlier\" aria-label=\"previous "
          "picture\">◀</button><button "
          "type=\"button\" id=\"later\" aria-label=\"next picture\">▶</button><span "
          "class=\"where\" "
          "id=\"where\"></span><button type=\"button\" id=\"zoom-in\" "
          "aria-label=\"larger\">+</button><button type=\"button\" id=\"zoom-out\" "
          "aria-label=\"smaller\">−</button><button type=\"button\" id=\"zoom-whole\">whole "
          "picture</button>";
    }
    page_ += "</div>\n<div id=\"pictures\">\n";
    for (std::size_t p = 0; p < content_.pictures.size(); ++p) picture(p);
    if (content_.pictures.empty()) page_ += "<p>No photograph shows these dimensions.</p>\n";
    page_ +=
        "</div>\n<div id=\"detail\"><p class=\"hint\">Choose a dimension in the table or in a "
        "photograph.</p></div>\n</aside>\n";
  }

  void picture(std::size_t index) {
    const SheetPicture& picture = content_.pictures[index];
    const std::string w = tenths(picture.size.x()), h = tenths(picture.size.y());
    page_ +=
        "<figure class=\"picture\">\n<div class=\"view\" role=\"group\" tabindex=\"0\" "
        "aria-label=\"Picture " +
        std::to_string(index + 1) +
        ": plus and minus zoom, arrow keys move, 0 shows all\">\n<svg viewBox=\"0 0 " + w + " " +
        h + "\" role=\"group\" aria-label=\"Photograph " + html(picture.photo) +
        " with dimensions\">\n<image width=\"" + w + "\" height=\"" + h +
        "\" preserveAspectRatio=\"none\" href=\"data:image/jpeg;base64," + base64(picture.jpeg) +
        "\"/>\n";
    // Texts last: none lies under a line.
    for (const DrawnDimension& one : picture.drawn) dimension(one, "dim");
    for (const DrawnDimension& one : picture.also) dimension(one, "dim also");
    page_ += "</svg>\n</div>\n<figcaption>Picture " + std::to_string(index + 1) +
             (picture.is_part ? ": part of " : ": ") + html(picture.photo) + ", camera " +
             html(picture.camera) + "; scale of the values: <span class=\"at-scale\">" +
             html(content_.scales.front().head) + "</span></figcaption>\n</figure>\n";
  }

  void dimension(const DrawnDimension& one, const std::string& classes) {
    const SheetDimension& d = content_.dimensions[one.dimension];
    const std::string value = label_value(d, 0, content_.first_unit);
    page_ += "<g class=\"" + classes + "\" data-dim=\"" + std::to_string(one.dimension) +
             "\" tabindex=\"0\" role=\"button\" aria-pressed=\"false\" aria-label=\"" +
             html(std::to_string(d.number) + ", " + d.name + ": " + value) + "\">";
    std::string hit;
    for (const char* layer : {"case", "ink"}) {
      for (const DrawnStroke& stroke : one.strokes) {
        const std::string path = path_of_points(stroke.points);
        page_ += "<path class=\"" + class_of(stroke.kind) + " " + layer + "\" d=\"" + path + "\"/>";
        if (stroke.kind == StrokeKind::kDimensionLine && layer == std::string_view("ink")) {
          hit += (hit.empty() ? "" : " ") + path;
        }
      }
    }
    for (const DrawnArrow& arrow : one.arrows) {
      const Vector2d side(-arrow.direction.y(), arrow.direction.x());
      const Vector2d back = arrow.tip - kArrowLength * arrow.direction;
      page_ +=
          "<path class=\"arrow\" d=\"" +
          path_of_points({arrow.tip, back + kArrowWidth / 2 * side, back - kArrowWidth / 2 * side},
                         true) +
          "\"/>";
    }
    if (!hit.empty()) page_ += "<path class=\"hit\" d=\"" + hit + "\"/>";
    if (one.label) {
      const std::string number = label_number(d);
      const double badge = text_width_of_em(number, kLabelText, true) + 2 * kLabelPadding;
      const double width = badge + text_width_of_em(value, kLabelText) + 2 * kLabelPadding;
      const double left = -width / 2, top = -kLabelHeight / 2, baseline = 0.36 * kLabelText;
      page_ += "<g class=\"label\" transform=\"translate(" + tenths(one.label->centre.x()) + " " +
               tenths(one.label->centre.y()) + ") rotate(" +
               tenths(one.label->angle_rad * calib::kDegreesPerRadian) + ")\" data-badge=\"" +
               tenths(badge) + "\" data-room=\"" +
               tenths(one.label->size.x() - badge - 2 * kLabelPadding) +
               "\"><rect class=\"plate\" x=\"" + tenths(left) + "\" y=\"" + tenths(top) +
               "\" width=\"" + tenths(width) + "\" height=\"" + tenths(kLabelHeight) +
               "\"/><rect class=\"badge\" x=\"" + tenths(left) + "\" y=\"" + tenths(top) +
               "\" width=\"" + tenths(badge) + "\" height=\"" + tenths(kLabelHeight) +
               "\"/><text class=\"number\" x=\"" + tenths(left + kLabelPadding) + "\" y=\"" +
               tenths(baseline) + "\">" + number + "</text><text class=\"of\" x=\"" +
               tenths(left + badge + kLabelPadding) + "\" y=\"" + tenths(baseline) + "\">" +
               html(value) + "</text></g>";
    }
    page_ += "</g>\n";
  }

  void list(const std::string& head, const std::vector<std::string>& sentences) {
    if (sentences.empty()) return;
    page_ += "<section><h2>" + head + "</h2><ul>\n";
    for (const std::string& sentence : sentences) page_ += "<li>" + html(sentence) + "</li>\n";
    page_ += "</ul></section>\n";
  }

  void rest() {
    page_ += "<div class=\"rest\">\n";
    std::vector<std::string> weak;
    for (const SheetDimension& d : content_.dimensions) {
      if (!d.weak) continue;
      weak.push_back(
          std::to_string(d.number) + "  " +
          (d.weak_sentences.empty()
               ? d.name + (d.problem.empty() ? " is weak" : " has no value: " + d.problem)
               : d.weak_sentences.front()));
    }
    weak.insert(weak.end(), content_.weak_spots.begin(), content_.weak_spots.end());
    if (weak.empty()) weak.emplace_back("None: every dimension is known within its tolerance.");
    list("Weak spots", weak);
    std::vector<std::string> doubted;
    for (const SheetDoubt& doubt : content_.doubted) {
      doubted.push_back("“" + doubt.point + "” in " + doubt.photo + ": " + doubt.text);
    }
    list("Doubted marks", doubted);
    list("Warnings of the survey", content_.warnings);
    list("How to read it", content_.reading);
    page_ += "<section><h2>Cameras</h2><ul>\n";
    for (const SheetCamera& camera : content_.cameras) {
      page_ += "<li>" + html(camera.name) + ": " + html(camera.what) +
               (camera.what.empty() ? "" : "; ") + html(camera.use) + " <span class=\"hash\">" +
               html(camera.file) + (camera.sha256.empty() ? "" : " SHA-256 " + camera.sha256) +
               "</span></li>\n";
    }
    page_ += "</ul></section>\n<section><h2>Photos of the survey</h2><ul>\n";
    for (const SheetPhoto& photo : content_.photos) {
      page_ +=
          "<li>" + html(photo.name) + ", camera " + html(photo.camera) + ": " + html(photo.state) +
          (photo.sha256.empty() ? ""
                                : " <span class=\"hash\">SHA-256 " + photo.sha256 + "</span>") +
          "</li>\n";
    }
    page_ += "</ul></section>\n</div>\n";
  }

  void data() {
    const auto strings = [](const std::vector<std::string>& texts) {
      return json_list(texts, [](const std::string& text) { return json_string(text); });
    };
    const auto numbers = [](const std::vector<std::size_t>& values) {
      return json_list(values, [](std::size_t value) { return std::to_string(value); });
    };
    const auto shares = [](const std::vector<SheetShare>& all) {
      return json_list(all, [](const SheetShare& one) {
        const bool is_hash = one.detail.size() == 64;
        return "[" + json_string(one.name) + "," + json_number(one.share) + "," +
               json_string(share_text(one.share)) + "," +
               json_string(is_hash ? "file SHA-256 " + one.detail : one.detail) + "]";
      });
    };
    page_ +=
        "{\"labelPadding\":" + json_number(kLabelPadding) + ",\"scales\":" +
        json_list(content_.scales, [](const SheetScale& s) { return json_string(s.head); }) +
        ",\"pictures\":" +
        json_list(content_.pictures,
                  [](const SheetPicture& picture) {
                    return "{\"photo\":" + json_string(picture.photo) +
                           ",\"width\":" + tenths(picture.size.x()) +
                           ",\"height\":" + tenths(picture.size.y()) + "}";
                  }) +
        ",\"dimensions\":" +
        json_list(
            content_.dimensions,
            [&](const SheetDimension& d) {
              // Without a value its numbers mean nothing.
              const bool has = d.problem.empty();
              const double dof = std::strtod(d.effective_dof.c_str(), nullptr);
              return "\n{\"number\":" + std::to_string(d.number) +
                     ",\"name\":" + json_string(d.name) + ",\"kind\":" + json_string(d.kind) +
                     ",\"sentence\":" + json_string(d.sentence) +
                     ",\"symbol\":" + json_string(d.symbol) + ",\"note\":" + json_string(d.note) +
                     ",\"problem\":" + json_string(d.problem) + ",\"unit\":\"" + unit_word(d.unit) +
                     "\",\"value\":" + json_number(has ? d.value : 0) +
                     ",\"U\":" + json_number(has ? d.U : 0) + ",\"ownTolerance\":" +
                     (d.own_tolerance && d.tolerance ? json_number(*d.tolerance) : "null") +
                     ",\"interval\":" + (d.is_interval ? "true" : "false") +
                     ",\"texts\":" + json_list(d.texts, strings) + ",\"k\":" + json_string(d.k) +
                     ",\"kValue\":" + json_number(std::strtod(d.k.c_str(), nullptr)) +
                     ",\"dof\":" + json_string(d.effective_dof) +
                     ",\"dofValue\":" + json_number(dof > 0 ? dof : 1e9) +
                     ",\"reliability\":" + strings(d.reliability) +
                     ",\"budget\":" + shares(d.budget) + ",\"photos\":" + shares(d.photos) +
                     ",\"marks\":" + shares(d.marks) + ",\"others\":" + shares(d.others) +
                     ",\"weak\":" + strings(d.weak_sentences) +
                     ",\"pictures\":" + numbers(d.pictures) + ",\"alsoIn\":" + numbers(d.also_in) +
                     "}";
            }) +
        "}";
  }

  static constexpr std::pair<const char*, const char*> kSorts[] = {{"number", "number"},
                                                                   {"name", "name"},
                                                                   {"kind", "kind"},
                                                                   {"value", "value"},
                                                                   {"U", "U"},
                                                                   {"k", "k"},
                                                                   {"dof", "ν eff"},
                                                                   {"from", "mostly from"},
                                                                   {"picture", "picture"}};

  const SheetContent& content_;
  std::string page_;
};

}  // namespace

std::string dimension_page(const SheetContent& content) { return PageWriter(content).write(); }

}  // namespace measure
