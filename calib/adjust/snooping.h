// Blunders found by test: data snooping on whole marks, one suspect at a time, with re-admission.
#pragma once

#include <span>
#include <vector>

#include "calib/adjust/variance_factors.h"

namespace calib::adjust {

/// A candidate: one observation, and what it may be swapped within and with.
struct Suspect {
  ObservationId observation;
  int photo = -1;  ///< marks of one photo share this
  BlockId point;   ///< or the edge, circle or cylinder that the mark is set on
  /// Marks that its point needs to stand: 2; of a curve, one a number of its block.
  int least_marks = 2;
  /// A mark anywhere along a curve: it helps no photo to stand, and cannot be swapped with another.
  bool on_curve = false;
};

struct DoubtedMark {
  ObservationId observation;
  /// √ of the mark's test statistic against its σ: for two coordinates comparable with 3.72 =
  /// √13.82.
  double w = 0.0;
  double critical_w = 0.0;
};

struct Swap {
  ObservationId first, second;
};

struct SnoopingReport {
  std::vector<DoubtedMark> doubted;  ///< strongest first; fail the test against all other marks
  std::vector<Swap> swaps;           ///< pairs among the doubted that fit each other's place
  std::vector<ObservationId>
      uncontrolled;  ///< redundancy below 0.05: no test can find their blunder
  /// Each group holds a blunder that its tests cannot place: "one of these". Nobody is blamed, so
  /// none of them is among the doubted. First the mark that fails by most.
  std::vector<std::vector<ObservationId>> inseparable;
  /// Fail the test, but their photo or point has too few marks to be tried without them.
  std::vector<ObservationId> needed;
  double expected_false_doubts = 0.0;
  bool gave_up = false;  ///< more marks failed than can be left out safely
};

struct SnoopingOptions {
  double significance = 0.001;  ///< of one test; χ²₂ = 13.82
  double largest_share = 0.2;   ///< of the marks that may be left out in the trial
  SolveOptions solve;
};

/// Test statistic of one two-residual observation. Trusted σ: T = vᵀR⁻¹v against χ²₂ (T in a-priori
/// units). Estimated σ: externally studentised, F(2, ν−2).
struct MarkTest {
  double w = 0.0;  ///< √ of the statistic on the χ²₂ scale of the σ in use
  double critical_w = 0.0;
  double redundancy = 0.0;  ///< tr(R)/2
};
[[nodiscard]] MarkTest test_mark(const Network& network, const Covariance& covariance,
                                 const FitStatistics& fit, ObservationId id,
                                 double significance = 0.001);

/// The suspects, other than the one given, that a blunder in it cannot be told from.
///
/// With K the cross-cofactor of the normalised residuals of marks i and j and u the direction of
/// i's normalised residual, |ρ_w| = ‖Kᵀu‖: the largest correlation that any normalised residual of
/// j has with the one of i that fails. Above 0.9 either mark explains what is seen nearly as well.
/// Source: W. Förstner, Reliability and discernability of extended Gauss-Markov models, DGK A 98
/// (1983), for one direction (from memory); the two-dimensional form is derived in snooping.cpp.
/// @param id  active or not: it is judged as if it took part.
/// @return strongest correlation first; empty where it stands alone.
[[nodiscard]] std::vector<ObservationId> inseparable_from(const Network& network,
                                                          const Covariance& covariance,
                                                          std::span<const Suspect> suspects,
                                                          ObservationId id);

/// Runs the trial. Where options.solve.cancelled says so it ends early, and what it reports means
/// nothing. On return the network holds the adjustment WITHOUT the doubted marks and without
/// the first of each inseparable group (they are not active): whoever does not want that restores a
/// snapshot and the active flags.
Result<SnoopingReport, CovarianceError> snoop(Network& network, const Datum& datum,
                                              std::span<const Suspect> suspects,
                                              const SnoopingOptions& options = {});

}  // namespace calib::adjust
