// Which size of sheet, strip, rod or tube a measured length is, with probabilities.
#pragma once

#include <limits>
#include <optional>
#include <string>
#include <vector>

#include "calib/base/problem.h"
#include "calib/base/result.h"

namespace measure {

enum class StockKind {
  kSheet,  ///< size: thickness
  kStrip,  ///< size: one of its sides
  kRod,    ///< size: diameter
  kTube,   ///< size: outer diameter
};
/// "sheet", "strip", "rod", "tube": the word in files.
[[nodiscard]] std::string stock_word(StockKind kind);
[[nodiscard]] std::optional<StockKind> parse_stock_kind(const std::string& word);

struct StockSize {
  StockKind kind = StockKind::kSheet;
  std::string material;
  std::string text;      ///< as it is sold: "0.75 mm", "1/32 in"
  double size_mm = 0.0;  ///< above 0
  double u_mm = 0.0;     ///< standard uncertainty of the material's own size
};

struct StockTable {
  std::string name;
  std::vector<StockSize> sizes;
};

struct StockCandidate {
  std::string text;                    ///< "0.75 mm"
  std::vector<std::string> materials;  ///< in which the table has it
  double size_mm = 0.0;
  double probability = 0.0;
  /// |value − size| in standard uncertainties of both; infinite where both are exact and differ.
  double apart = 0.0;
};

struct StockAnswer {
  StockKind kind = StockKind::kSheet;
  /// All sizes of that kind, the most probable first; probabilities sum to 1. Where none fits they
  /// are those if it had to be one of the table.
  std::vector<StockCandidate> candidates;
  /// The nearest size is further away than the 99.9 % of an error: 3.29 standard uncertainties
  /// where u is well known, more after Student where it is not.
  bool none_of_these = false;
  std::string sentence;  ///< "0.75 mm sheet 88 %, 0.8 mm 11 %"
};

/// What a length measured in mm, at whatever scale, is asked against.
struct StockQuestion {
  double value_mm = 0.0;
  double u_mm = 0.0;  ///< standard uncertainty; 0: exact
  double effective_dof = std::numeric_limits<double>::infinity();  ///< of u_mm; above 0
  StockKind kind = StockKind::kSheet;
  std::string material{};  ///< only sizes of this material; empty: of all
};

/// Posterior probabilities over the sizes of one kind, all equally probable before (Bayes). The
/// error is normal, or Student's with the effective degrees of freedom of measurement and material
/// together (Welch–Satterthwaite; JCGM 100:2008, G.4.1). A size that several materials have is one
/// candidate: its likelihood is the mean over them.
///
/// Errors: a Problem (kInput) where the table has no size of that kind and material, or value or u
/// is no length.
[[nodiscard]] calib::Result<StockAnswer, calib::Problem> nearest_stock(
    const StockTable& table, const StockQuestion& question);

}  // namespace measure
