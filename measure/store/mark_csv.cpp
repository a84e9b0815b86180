#include "measure/store/mark_csv.h"

#include <algorithm>
#include <array>
#include <functional>
#include <map>
#include <set>

#include "measure/edit/apply.h"
#include "measure/edit/name_rules.h"
#include "measure/edit/typed_quantity.h"

namespace measure {
namespace {

using calib::Problem;
using calib::Unexpected;

constexpr std::string_view kByteOrderMark = "\xEF\xBB\xBF";
constexpr std::array<std::string_view, 7> kColumns = {"photo", "point", "x",   "y",
                                                      "sigma", "shape", "side"};
enum Column { kPhoto, kPoint, kX, kY, kSigma, kShape, kSide };

/// What the table's marks are set on.
enum class Content { kPoints, kShapes };

struct Record {
  int line = 0;  ///< on which it begins
  std::vector<std::string> fields;
};

/// Takes a table apart, one record after the other.
class RecordReader {
 public:
  explicit RecordReader(std::string_view text) : rest_(text) {}

  [[nodiscard]] bool at_end() const { return rest_.empty(); }
  [[nodiscard]] int line() const { return line_; }

  /// Nothing, and the fault, where the quotes do not fit.
  std::optional<Record> next(std::string& fault) {
    Record record{line_, {}};
    do {
      auto field = next_field(fault);
      if (!field) {
        return std::nullopt;
      }
      record.fields.push_back(std::move(*field));
    } while (take(","));
    if (!rest_.empty() && !take("\r\n") && !take("\n")) {
      fault = rest_.front() == '\r'
                  ? "ends with a carriage return alone: save the table with the line ends of "
                    "Windows or Linux"
                  : "has text after a closing quote: quote the whole field, and double the "
                    "quotes inside it";
      return std::nullopt;
    }
    ++line_;
    return record;
  }

 private:
  bool take(std::string_view token) {
    if (!rest_.starts_with(token)) {
      return false;
    }
    rest_.remove_prefix(token.size());
    return true;
  }

  std::optional<std::string> next_field(std::string& fault) {
    if (!take("\"")) {
      const auto end = std::min(rest_.find_first_of(",\r\n"), rest_.size());
      std::string field(rest_.substr(0, end));
      rest_.remove_prefix(end);
      return field;
    }
    std::string field;
    while (!rest_.empty()) {
      const auto quote = std::min(rest_.find('"'), rest_.size());
      const auto part = rest_.substr(0, quote);
      line_ += static_cast<int>(std::count(part.begin(), part.end(), '\n'));
      field += part;
      rest_.remove_prefix(quote);
      if (take("\"\"")) {
        field += '"';
      } else if (take("\"")) {
        return field;
      }
    }
    fault = "opens a quote that is never closed: close it";
    return std::nullopt;
  }

  std::string_view rest_;
  int line_ = 1;
};

/// A table with its columns found.
class MarkTable {
 public:
  MarkTable(std::string file, const Dossier& dossier, const MarkTableOptions& options,
            Content content)
      : file_(std::move(file)), dossier_(dossier), options_(options), content_(content) {}

  [[nodiscard]] std::optional<Problem> take_header(const Record& header) {
    for (std::size_t i = 0; i < header.fields.size(); ++i) {
      const auto known = std::find(kColumns.begin(), kColumns.end(), header.fields[i]);
      const auto column = known - kColumns.begin();
      const bool foreign = content_ == Content::kPoints ? column >= kShape : column == kPoint;
      if (known == kColumns.end() || foreign) {
        return fault(header, "has the column " + in_quotes(header.fields[i]) +
                                 ", which is not known: " + header_rule());
      }
      auto& place = place_[static_cast<std::size_t>(known - kColumns.begin())];
      if (place) {
        return fault(header,
                     "has the column " + in_quotes(header.fields[i]) + " twice: " + header_rule());
      }
      place = i;
    }
    for (const Column needed : {kPhoto, content_ == Content::kPoints ? kPoint : kShape, kX, kY}) {
      if (!place_[needed]) {
        return fault(header, "has no column " + in_quotes(kColumns[needed]) + ": " + header_rule());
      }
    }
    columns_ = header.fields.size();
    return std::nullopt;
  }

  /// Which side of a cylinder's outline; 0 where the table says none.
  [[nodiscard]] calib::Result<int, Problem> side_of(const Record& record) const {
    if (!place_[kSide] || text(record, kSide).empty()) {
      return 0;
    }
    const std::string& side = text(record, kSide);
    if (side == "1" || side == "2") {
      return side == "1" ? 1 : 2;
    }
    return Unexpected(fault(record, "has " + in_quotes(side) +
                                        " for side: write 1 or 2, or nothing where the shape is no "
                                        "cylinder"));
  }

  /// Of a table of marks on shapes the mark's `point` is the name of the shape.
  [[nodiscard]] calib::Result<Mark, Problem> mark_of(const Record& record) {
    if (record.fields.size() != columns_) {
      return Unexpected(
          fault(record, "has " + std::to_string(record.fields.size()) +
                            " fields where the header has " + std::to_string(columns_) +
                            ": write decimals with a point and quote names that hold commas"));
    }
    Mark mark;
    mark.photo = text(record, kPhoto);
    mark.point = text(record, content_ == Content::kPoints ? kPoint : kShape);
    mark.source = MarkSource::kImported;
    const Photo* photo = photo_named(mark.photo);
    if (photo == nullptr) {
      return Unexpected(
          fault(record, "names photo " + in_quotes(mark.photo) +
                            ", which is not in the dossier: add it first, or correct the name"));
    }
    if (const auto problem =
            name_problem(mark.point, content_ == Content::kPoints ? "point" : "shape")) {
      return Unexpected(
          fault(record, "cannot be used. " + problem->substr(0, problem->size() - 1)));
    }
    for (const Column column : {kX, kY}) {
      const auto value = parse_number(text(record, column));
      if (!value) {
        return Unexpected(no_number(record, column));
      }
      mark.position_px[column == kX ? 0 : 1] = *value;
    }
    mark.sigma_px = options_.default_sigma_px;
    if (place_[kSigma] && !text(record, kSigma).empty()) {
      const auto sigma = parse_number(text(record, kSigma));
      if (!sigma || !(*sigma > 0.0)) {
        return Unexpected(no_number(record, kSigma));
      }
      mark.sigma_px = *sigma;
    }
    if (photo->exif_orientation != 1 && !options_.turned_photos) {
      return Unexpected(
          Problem{file_ + ": photo " + in_quotes(photo->name) +
                  " is turned by its EXIF (orientation " + std::to_string(photo->exif_orientation) +
                  "): say with --as stored or --as shown which way the marks were measured."});
    }
    return placed(record, std::move(mark), *photo);
  }

 private:
  [[nodiscard]] const char* header_rule() const {
    return content_ == Content::kPoints
               ? "the header must be photo,point,x,y or photo,point,x,y,sigma"
               : "the header must be photo,shape,x,y, with side and sigma where they are needed";
  }

  [[nodiscard]] Problem fault(const Record& record, const std::string& what) const {
    return Problem{file_ + ", line " + std::to_string(record.line) + " " + what +
                   "; nothing was imported."};
  }

  [[nodiscard]] Problem no_number(const Record& record, Column column) const {
    return fault(record, "has " + in_quotes(text(record, column)) + " for " +
                             std::string(kColumns[column]) + ": write a number" +
                             (column == kSigma ? " above 0" : "") + " with a decimal point");
  }

  [[nodiscard]] const std::string& text(const Record& record, Column column) const {
    return record.fields[*place_[column]];
  }

  [[nodiscard]] const char* what() const {
    return content_ == Content::kPoints ? "point " : "shape ";
  }

  const Photo* photo_named(const std::string& name) {
    const auto [at, is_new] = photos_.try_emplace(name, nullptr);
    if (is_new) {
      at->second = dossier_.find_photo(name);
    }
    return at->second;
  }

  calib::Result<Mark, Problem> placed(const Record& record, Mark mark, const Photo& photo) {
    if (options_.pixel_origin == PixelOrigin::kCorner) {
      mark.position_px -= Eigen::Vector2d::Constant(0.5);
    }
    if (options_.turned_photos == TurnedPhotos::kAsShown) {
      mark.position_px = stored_from_shown(mark.position_px, photo.exif_orientation, photo.size);
    }
    if (!lies_in_photo(mark.position_px, photo.size)) {
      return Unexpected(fault(record, std::string("puts ") + what() + in_quotes(mark.point) +
                                          " at " + text(record, kX) + ", " + text(record, kY) +
                                          ", outside photo " + in_quotes(photo.name) + " of " +
                                          std::to_string(photo.size.width) + " x " +
                                          std::to_string(photo.size.height) +
                                          " pixels: correct it, or check --pixel-origin and --as"));
    }
    if (content_ == Content::kShapes) {
      return mark;  // a shape has many marks in a photo
    }
    if (const auto [at, is_new] = line_of_.try_emplace({mark.photo, mark.point}, record.line);
        !is_new) {
      return Unexpected(fault(record, "marks point " + in_quotes(mark.point) + " in photo " +
                                          in_quotes(mark.photo) + " a second time (first in line " +
                                          std::to_string(at->second) + "): keep one"));
    }
    return mark;
  }

  std::string file_;
  const Dossier& dossier_;
  MarkTableOptions options_;
  Content content_;
  std::array<std::optional<std::size_t>, kColumns.size()> place_;
  std::size_t columns_ = 0;
  std::map<std::string, const Photo*> photos_;
  std::map<std::pair<std::string, std::string>, int> line_of_;
};

/// Calls `take` with every record below the header; the first problem ends it.
std::optional<Problem> read_table(
    std::string_view text, const std::string& file, MarkTable& table,
    const std::function<std::optional<Problem>(const Record&)>& take) {
  if (text.starts_with(kByteOrderMark)) {
    text.remove_prefix(kByteOrderMark.size());
  }
  if (!is_utf8(text) || text.find('\0') != std::string_view::npos) {
    return Problem{file +
                   " is not UTF-8 text: save the table as CSV in UTF-8; nothing was imported."};
  }
  RecordReader reader(text);
  bool has_header = false;
  while (!reader.at_end()) {
    std::string fault;
    const int line = reader.line();
    const auto record = reader.next(fault);
    if (!record) {
      return Problem{file + ", line " + std::to_string(line) + " " + fault +
                     "; nothing was imported."};
    }
    if (record->fields.size() == 1 && record->fields.front().empty()) {
      continue;  // an empty line
    }
    if (auto problem = has_header ? take(*record) : table.take_header(*record)) {
      return problem;
    }
    has_header = true;
  }
  return std::nullopt;
}

}  // namespace

calib::Result<std::vector<Mark>, Problem> read_mark_table(std::string_view text,
                                                          const std::string& file,
                                                          const Dossier& dossier,
                                                          const MarkTableOptions& options) {
  MarkTable table(file, dossier, options, Content::kPoints);
  std::vector<Mark> marks;
  const auto problem = read_table(text, file, table, [&](const Record& record) {
    auto mark = table.mark_of(record);
    if (!mark) {
      return std::optional(mark.error());
    }
    marks.push_back(std::move(*mark));
    return std::optional<Problem>();
  });
  if (problem) {
    return Unexpected(*problem);
  }
  if (marks.empty()) {
    return Unexpected(Problem{
        file + " holds no marks: it needs the header photo,point,x,y and a line for each mark."});
  }
  return marks;
}

calib::Result<std::vector<ShapeMark>, Problem> read_shape_mark_table(
    std::string_view text, const std::string& file, const Dossier& dossier,
    const MarkTableOptions& options) {
  MarkTable table(file, dossier, options, Content::kShapes);
  std::vector<ShapeMark> marks;
  const auto problem = read_table(text, file, table, [&](const Record& record) {
    const auto mark = table.mark_of(record);
    if (!mark) {
      return std::optional(mark.error());
    }
    const auto side = table.side_of(record);
    if (!side) {
      return std::optional(side.error());
    }
    marks.push_back(
        {mark->photo, mark->point, mark->position_px, *side, mark->sigma_px, mark->source, false});
    return std::optional<Problem>();
  });
  if (problem) {
    return Unexpected(*problem);
  }
  if (marks.empty()) {
    return Unexpected(Problem{
        file + " holds no marks: it needs the header photo,shape,x,y and a line for each mark."});
  }
  return marks;
}

Eigen::Vector2d stored_from_shown(const Eigen::Vector2d& shown_px, int exif_orientation,
                                  const calib::ImageSize& stored) {
  const double x = shown_px.x(), y = shown_px.y();
  const double right = stored.width - 1.0, bottom = stored.height - 1.0;
  switch (exif_orientation) {
    case 2:
      return {right - x, y};
    case 3:
      return {right - x, bottom - y};
    case 4:
      return {x, bottom - y};
    case 5:
      return {y, x};
    case 6:
      return {y, bottom - x};
    case 7:
      return {right - y, bottom - x};
    case 8:
      return {right - y, x};
    default:
      return shown_px;
  }
}

}  // namespace measure
