#include "measure/store/journal.h"

#include <array>
#include <limits>
#include <utility>

#include "calib/board/photo_hash.h"
#include "calib/file/atomic_write.h"
#include "calib/file/versioned_json.h"
#include "measure/store/dossier_json.h"

namespace measure {
namespace {

namespace fs = std::filesystem;
using calib::Json;
using calib::JsonItem;
using calib::Problem;
using calib::Unexpected;

constexpr calib::FileSchema kSchema{"scantling journal", "journal", 1, 1};
constexpr std::string_view kTorn = "journal.torn-";
constexpr const char* kGoOn =
    "restore it from a copy, or move it out of the folder to go on from dossier.json as last saved";

// In the order of JournalStep; then what is no edit.
constexpr std::array<std::string_view, 4> kSteps = {"change", "undo", "redo", "save"};
constexpr std::size_t kSaveStep = 3;

// The check stands last in its line and is of all that stands before it.
constexpr std::string_view kCheckBegin = ",\"check\":\"", kCheckEnd = "\"}";
constexpr std::size_t kCheckDigits = 16;

std::string hash_of(std::string_view text) {
  return calib::sha256_of_bytes({reinterpret_cast<const unsigned char*>(text.data()), text.size()});
}

std::string check_of(std::string_view text) { return hash_of(text).substr(0, kCheckDigits); }

/// The object in one line, with its check and the line's end.
std::string sealed_line(const Json& json) {
  std::string line = json.dump(-1, ' ', false, Json::error_handler_t::replace);
  line.pop_back();
  const std::string check = check_of(line);
  line.append(kCheckBegin).append(check).append(kCheckEnd);
  return line + '\n';
}

bool is_whole(std::string_view line) {
  const std::size_t tail = kCheckBegin.size() + kCheckDigits + kCheckEnd.size();
  if (line.size() < tail) {
    return false;
  }
  const std::string_view body = line.substr(0, line.size() - tail);
  const std::string_view seal = line.substr(body.size());
  return seal.starts_with(kCheckBegin) && seal.ends_with(kCheckEnd) &&
         seal.substr(kCheckBegin.size(), kCheckDigits) == check_of(body);
}

/// Whether two lines have run into one. A check never stands inside a text: its quotes would be
/// escaped there.
bool holds_inner_check(std::string_view line) {
  const std::size_t check = line.find(kCheckBegin);
  return check != std::string_view::npos &&
         check + kCheckBegin.size() + kCheckDigits + kCheckEnd.size() < line.size();
}

Json json_of(const JournalLine& line, std::size_t number) {
  Json json = {{"number", number}, {"utc", line.utc}};
  if (const auto* made = std::get_if<JournalEdit>(&line.what)) {
    json["step"] = kSteps[static_cast<std::size_t>(made->step)];
    json["name"] = made->name;
    if (made->joins) {
      json["joins"] = *made->joins;
    }
    json["edit"] = measure::json_of(made->edit);
  } else {
    json["step"] = kSteps[kSaveStep];
    json["dossier_sha256"] = std::get<JournalSave>(line.what).dossier_sha256;
  }
  return json;
}

JournalLine line_from(const JsonItem& item, std::size_t number) {
  if (item.at("number").number() != static_cast<double>(number)) {
    item.at("number").refuse("should be " + std::to_string(number) +
                             ": a line is missing or out of its place");
  }
  const std::string utc = item.at("utc").text();
  const std::size_t step = item.at("step").word(kSteps);
  if (step == kSaveStep) {
    return {utc, JournalSave{item.at("dossier_sha256").text()}};
  }
  JournalEdit made{static_cast<JournalStep>(step), edit_from(item.at("edit")),
                   item.text_or("name", ""), std::nullopt};
  if (const auto joins = item.find("joins")) {
    made.joins = static_cast<std::size_t>(joins->integer(0, std::numeric_limits<int>::max()));
  }
  return {utc, std::move(made)};
}

Unexpected<Problem> damaged(const std::string& source, std::size_t line) {
  return Unexpected(Problem{source + ", line " + std::to_string(line) +
                            " is damaged, and what follows builds on it: " + kGoOn +
                            "; nothing was changed."});
}

}  // namespace

std::string torn_file_name(std::string_view torn) {
  return std::string(kTorn) + hash_of(torn).substr(0, 8);
}

bool is_torn_file(const fs::path& file) { return file.filename().string().starts_with(kTorn); }

calib::Result<JournalContents, Problem> journal_from_text(std::string_view text,
                                                          const std::string& source) {
  JournalContents contents;
  if (text.empty()) {
    return contents;
  }
  contents.exists = true;
  for (std::size_t begin = 0, number = 0; begin < text.size(); ++number) {
    const std::size_t end = std::min(text.find('\n', begin), text.size());
    const std::string_view line = text.substr(begin, end - begin);
    const bool is_last = end + 1 >= text.size();
    const std::string place = source + ", line " + std::to_string(number + 1);
    if (!is_whole(line)) {
      if (!is_last || number == 0 || holds_inner_check(line)) {
        return damaged(source, number + 1);
      }
      contents.torn = text.substr(begin);
      break;
    }
    if (number == 0) {
      const auto head = calib::parse_versioned(line, place, kSchema);
      if (!head) {
        return Unexpected(head.error());
      }
      const auto base = calib::read_json<std::string>(
          *head, place, [](const JsonItem& item) { return item.at("dossier_sha256").text(); });
      if (!base) {
        return Unexpected(base.error());
      }
      contents.base_sha256 = *base;
    } else {
      const auto json = calib::parse_json(line, place);
      if (!json) {
        return Unexpected(json.error());
      }
      auto read = calib::read_json<JournalLine>(
          *json, place, [&](const JsonItem& item) { return line_from(item, number); });
      if (!read) {
        return Unexpected(read.error());
      }
      contents.lines.push_back(std::move(*read));
    }
    contents.lacks_line_end = end == text.size();
    contents.whole_bytes = std::min(end + 1, text.size());
    begin = end + 1;
  }
  return contents;
}

Journal::Journal(fs::path folder, JournalContents contents, std::string base_sha256)
    : folder_(std::move(folder)),
      path_(folder_ / kJournalFileName),
      base_sha256_(std::move(base_sha256)),
      left_(std::move(contents)),
      lines_(left_.lines.size()) {
  left_.lines.clear();
}

std::uintmax_t Journal::bytes() const {
  // The missing line end counts: it is put there before anything else.
  return file_ ? file_->size() : left_.whole_bytes + (left_.lacks_line_end ? 1 : 0);
}

calib::Result<calib::Done, Problem> Journal::append(std::span<const JournalLine> lines) {
  std::string text;
  std::size_t number = lines_;
  for (const JournalLine& line : lines) {
    text += sealed_line(json_of(line, ++number));
  }
  if (!file_ && left_.exists) {
    if (auto opened = open_and_mend(); !opened) {
      return opened;
    }
  }
  if (file_ && !file_->is_in_place()) {
    return Unexpected(Problem{path_.string() +
                              " was taken away or changed while the dossier was open: save the "
                              "dossier now, which writes all of it anew."});
  }
  auto written = file_ ? file_->append(text) : make(text);
  if (written) {
    lines_ = number;
  }
  return written;
}

calib::Result<calib::Done, Problem> Journal::make(std::string_view text) {
  Json head = calib::new_file(kSchema);
  head["dossier_sha256"] = base_sha256_;
  // Whole or not at all, so that a first line is never torn.
  if (auto written = calib::atomic_write(path_, sealed_line(head).append(text)); !written) {
    return written;
  }
  auto opened = calib::AppendFile::open(path_);
  if (!opened) {
    [[maybe_unused]] const auto taken_back = calib::remove_file(path_);
    return Unexpected(opened.error());
  }
  file_ = std::move(*opened);
  return calib::Done{};
}

calib::Result<calib::Done, Problem> Journal::keep_torn() const {
  return left_.torn.empty() ? calib::Done{}
                            : calib::atomic_write(folder_ / torn_file_name(left_.torn), left_.torn);
}

calib::Result<calib::Done, Problem> Journal::open_and_mend() {
  if (auto kept = keep_torn(); !kept) {
    return kept;
  }
  auto opened = calib::AppendFile::open(path_);
  if (!opened) {
    return Unexpected(opened.error());
  }
  if (opened->size() != left_.whole_bytes) {
    if (auto mended = opened->shorten(left_.whole_bytes); !mended) {
      return mended;
    }
  }
  if (left_.lacks_line_end) {
    if (auto mended = opened->append("\n"); !mended) {
      return mended;
    }
  }
  file_ = std::move(*opened);
  left_ = {};
  return calib::Done{};
}

calib::Result<calib::Done, Problem> Journal::begin_anew(std::string base_sha256) {
  if (auto kept = keep_torn(); !kept) {
    return kept;
  }
  if (auto removed = calib::remove_file(path_); !removed) {
    return removed;
  }
  file_.reset();
  left_ = {};
  lines_ = 0;
  base_sha256_ = std::move(base_sha256);
  return calib::Done{};
}

calib::Result<calib::Done, Problem> Journal::cut_back(const Length& length) {
  if (!file_) {
    return calib::Done{};
  }
  if (length.lines == 0 && length.bytes == 0) {
    return begin_anew(base_sha256_);
  }
  auto shortened = file_->shorten(length.bytes);
  if (shortened) {
    lines_ = length.lines;
  }
  return shortened;
}

}  // namespace measure
