#include "measure/dimension/stock.h"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <limits>
#include <numbers>

#include "calib/adjust/distributions.h"

namespace measure {
namespace {

using calib::Problem;

constexpr double kInfinite = std::numeric_limits<double>::infinity();
// 3.29 of a normal error: as the critical value of data snooping.
constexpr double kNoneProbability = 0.999;
// Two sizes, or a value and a size, that differ by less are the same: a picometre.
constexpr double kSame_mm = 1e-9;
constexpr std::array kWords = {"sheet", "strip", "rod", "tube"};
// Above this many degrees of freedom Student's density is the normal one.
constexpr double kManyDof = 1e6;

/// How well one entry of the table explains the value.
struct Fit {
  double log_likelihood = -kInfinite;
  double apart = kInfinite;
  double allowed = 0.0;  ///< of apart
};

Fit fit_of(const StockQuestion& question, const StockSize& size) {
  const double difference = std::abs(question.value_mm - size.size_mm);
  const double variance = question.u_mm * question.u_mm + size.u_mm * size.u_mm;
  if (!(variance > 0.0)) {
    const bool same = difference <= kSame_mm;
    return {same ? 0.0 : -kInfinite, same ? 0.0 : kInfinite, 0.0};
  }
  const double u = std::sqrt(variance);
  // The material's own part is taken as well known.
  const double share = question.u_mm * question.u_mm / variance;
  const double dof = share > 0.0 ? question.effective_dof / (share * share) : kInfinite;
  Fit fit;
  fit.apart = difference / u;
  fit.allowed = calib::adjust::student_factor(kNoneProbability, dof > kManyDof ? kInfinite : dof);
  if (dof > kManyDof) {
    fit.log_likelihood =
        -0.5 * fit.apart * fit.apart - 0.5 * std::log(2.0 * std::numbers::pi) - std::log(u);
  } else {
    fit.log_likelihood = std::lgamma(0.5 * (dof + 1.0)) - std::lgamma(0.5 * dof) -
                         0.5 * std::log(dof * std::numbers::pi) - std::log(u) -
                         0.5 * (dof + 1.0) * std::log1p(fit.apart * fit.apart / dof);
  }
  return fit;
}

struct Weighed {
  StockCandidate candidate;
  std::vector<double> log_likelihoods;
  double allowed = 0.0;  ///< of the nearest entry
  double log_mean = -kInfinite;
};

double log_mean_of(const std::vector<double>& logs) {
  const double largest = *std::max_element(logs.begin(), logs.end());
  if (!std::isfinite(largest)) {
    return largest;
  }
  double sum = 0.0;
  for (const double each : logs) {
    sum += std::exp(each - largest);
  }
  return largest + std::log(sum / static_cast<double>(logs.size()));
}

void add_entry(std::vector<Weighed>& all, const StockSize& size, const Fit& fit) {
  auto at = std::find_if(all.begin(), all.end(), [&](const Weighed& weighed) {
    return std::abs(weighed.candidate.size_mm - size.size_mm) <= kSame_mm;
  });
  if (at == all.end()) {
    all.push_back({{size.text, {}, size.size_mm, 0.0, fit.apart}, {}, fit.allowed});
    at = std::prev(all.end());
  } else if (fit.apart < at->candidate.apart) {
    at->candidate.apart = fit.apart;
    at->allowed = fit.allowed;
  }
  at->log_likelihoods.push_back(fit.log_likelihood);
  auto& materials = at->candidate.materials;
  if (std::find(materials.begin(), materials.end(), size.material) == materials.end()) {
    materials.push_back(size.material);
  }
}

std::string percent(double probability) {
  if (probability > 0.995) {
    return probability >= 1.0 ? "100 %" : "> 99 %";
  }
  return std::to_string(std::lround(100.0 * probability)) + " %";
}

std::string sentence_of(const StockAnswer& answer) {
  const std::string kind = stock_word(answer.kind);
  const StockCandidate& first = answer.candidates.front();
  if (answer.none_of_these) {
    // The nearest is not always the most probable of those that do not fit.
    const auto nearest = std::min_element(
        answer.candidates.begin(), answer.candidates.end(),
        [](const StockCandidate& a, const StockCandidate& b) { return a.apart < b.apart; });
    std::string text = "none of these sizes: the nearest, " + nearest->text + " " + kind;
    if (!std::isfinite(nearest->apart)) {
      return text + ", is another one";
    }
    char apart[64];
    const auto end = std::to_chars(apart, apart + sizeof apart, std::min(nearest->apart, 1e6),
                                   std::chars_format::fixed, 1)
                         .ptr;
    return text + ", is " + std::string(apart, end) + " standard uncertainties away";
  }
  // What is less probable than one in a hundred is not worth a word.
  constexpr double kWorthAWord = 0.01;
  std::string text = first.text + " " + kind + " " + percent(first.probability);
  for (std::size_t i = 1; i < answer.candidates.size(); ++i) {
    if (answer.candidates[i].probability >= kWorthAWord) {
      text += ", " + answer.candidates[i].text + " " + percent(answer.candidates[i].probability);
    }
  }
  return text;
}

}  // namespace

std::string stock_word(StockKind kind) { return kWords[static_cast<std::size_t>(kind)]; }

std::optional<StockKind> parse_stock_kind(const std::string& word) {
  for (std::size_t i = 0; i < kWords.size(); ++i) {
    if (word == kWords[i]) {
      return static_cast<StockKind>(i);
    }
  }
  return std::nullopt;
}

calib::Result<StockAnswer, Problem> nearest_stock(const StockTable& table,
                                                  const StockQuestion& question) {
  const std::string kind = stock_word(question.kind);
  if (!(question.value_mm > 0.0 && std::isfinite(question.value_mm) && question.u_mm >= 0.0 &&
        std::isfinite(question.u_mm) && question.effective_dof > 0.0)) {
    return calib::Unexpected(
        Problem{"only a length above 0 with its uncertainty can be a size of " + kind + "."});
  }
  std::vector<Weighed> all;
  for (const StockSize& size : table.sizes) {
    if (size.kind == question.kind &&
        (question.material.empty() || size.material == question.material)) {
      add_entry(all, size, fit_of(question, size));
    }
  }
  if (all.empty()) {
    return calib::Unexpected(Problem{"the stock table \"" + table.name + "\" has no " + kind +
                                     (question.material.empty() ? "" : " of " + question.material) +
                                     ": add its sizes, or ask for another kind."});
  }
  double largest = -kInfinite;
  StockAnswer answer;
  answer.kind = question.kind;
  answer.none_of_these = true;
  for (Weighed& weighed : all) {
    weighed.log_mean = log_mean_of(weighed.log_likelihoods);
    largest = std::max(largest, weighed.log_mean);
    answer.none_of_these = answer.none_of_these && weighed.candidate.apart > weighed.allowed;
  }
  double sum = 0.0;
  for (Weighed& weighed : all) {
    // All exact, and none equal: as far as anybody can say, one is as wrong as the other.
    weighed.candidate.probability =
        std::isfinite(largest) ? std::exp(weighed.log_mean - largest) : 1.0;
    sum += weighed.candidate.probability;
  }
  for (Weighed& weighed : all) {
    weighed.candidate.probability /= sum;
    answer.candidates.push_back(weighed.candidate);
  }
  std::stable_sort(answer.candidates.begin(), answer.candidates.end(),
                   [](const StockCandidate& a, const StockCandidate& b) {
                     return a.probability != b.probability ? a.probability > b.probability
                                                           : a.size_mm < b.size_mm;
                   });
  answer.sentence = sentence_of(answer);
  return answer;
}

}  // namespace measure
