// Points and shapes of a dossier as forms that know how they follow the survey's unknowns. For the
// .cpp files of this room only.
#pragma once

#include <map>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include <Eigen/Core>

#include "calib/base/result.h"
#include "measure/bundle/survey.h"
#include "measure/dossier/dossier.h"
#include "measure/shapes/fit_form.h"
#include "measure/shapes/form.h"

namespace measure::internal {

/// What a fitted shape is open by beyond the survey: its points do not lie on it.
struct LooseForm {
  FormMatrix covariance = FormMatrix::Zero();
};

/// A form, and the derivatives of its eight numbers.
struct Resolved {
  Form form;
  std::map<int, Eigen::MatrixXd> by_block;     ///< 8×size, by index of the network's block
  std::map<std::string, FormMatrix> by_loose;  ///< by the numbers of fitted shapes that are loose
};

/// A pair of points that a mirror plane was made from: how far the second lies from the image of
/// the first.
struct MirroredPair {
  std::string first, second;
  Eigen::Vector3d departure;
  std::map<int, Eigen::MatrixXd> by_block;  ///< 3×size
};

/// Looks names up, fits and constructs, each shape once.
class Resolver {
 public:
  /// @param values  of all blocks, in place of the survey's own (a simulated survey). Weights of
  ///                fits stay those of the survey.
  Resolver(const Survey& survey, const Dossier& dossier,
           const std::vector<Eigen::VectorXd>* values = nullptr);

  /// The form of a point or shape, or the sentence why it has none.
  [[nodiscard]] calib::Result<Resolved, std::string> find(const std::string& name);
  /// The line from one place to another.
  [[nodiscard]] calib::Result<Resolved, std::string> line(const std::string& from,
                                                          const std::string& to);
  /// The best plane through places.
  [[nodiscard]] calib::Result<Resolved, std::string> plane(const std::vector<std::string>& places);

  /// Of a fitted shape that was found: its departures and test.
  [[nodiscard]] const FittedForm* fitted(const std::string& name) const;
  /// Of a mirror plane that was found: its pairs.
  [[nodiscard]] const std::vector<MirroredPair>* mirrored(const std::string& name) const;
  /// Of a crossing of two lines that was found: how far they pass from each other.
  [[nodiscard]] std::optional<double> gap_of(const std::string& name) const;

  /// Covariance of the definition of a block's values: of points and seen shapes with a kind.
  /// Nothing where there is none.
  [[nodiscard]] std::optional<Eigen::MatrixXd> definition_of(int block) const;
  [[nodiscard]] const LooseForm* loose(const std::string& key) const;

  [[nodiscard]] const Survey& survey() const { return survey_; }
  [[nodiscard]] const Dossier& dossier() const { return dossier_; }

 private:
  struct Maker;
  [[nodiscard]] Eigen::VectorXd values_of(calib::adjust::BlockId id) const;
  [[nodiscard]] calib::Result<Resolved, std::string> make(const std::string& name);
  [[nodiscard]] calib::Result<Resolved, std::string> point(const std::string& name);
  [[nodiscard]] calib::Result<Resolved, std::string> seen(const Shape& shape);
  [[nodiscard]] calib::Result<Resolved, std::string> fit(FormKind kind, const std::string& key,
                                                         const std::vector<std::string>& places);
  [[nodiscard]] calib::Result<Resolved, std::string> mirror(const std::string& key,
                                                            const MirrorPlane& origin);
  /// Positions of places and their joint covariance (definition included), 3n.
  struct Places {
    std::vector<Eigen::Vector3d> at;
    std::vector<Resolved> resolved;
    Eigen::MatrixXd covariance;
  };
  [[nodiscard]] calib::Result<Places, std::string> places_of(const std::vector<std::string>& names);
  /// A fitted form with what its points follow; remembers the fit.
  [[nodiscard]] Resolved follow(const FittedForm& fitted, const std::string& key,
                                const Places& places);

  const Survey& survey_;
  const Dossier& dossier_;
  const std::vector<Eigen::VectorXd>* values_;
  double tested_dof_;
  std::map<std::string, calib::Result<Resolved, std::string>> known_;
  std::map<std::string, FittedForm> fits_;
  std::map<std::string, std::vector<MirroredPair>> mirrored_;
  std::map<std::string, double> gaps_;
  std::map<std::string, LooseForm> loose_;
  std::map<int, Eigen::MatrixXd> definitions_;
};

/// A form made of others by a chain of derivatives.
[[nodiscard]] Resolved chained(const Form& form, const std::vector<FormMatrix>& by_input,
                               const std::vector<const Resolved*>& inputs);

/// Joint covariance of `rows` given by their derivatives on blocks: Σ over pairs of blocks J Q Jᵀ,
/// with the definition of blocks, and of loose forms where these are given.
[[nodiscard]] Eigen::MatrixXd covariance_of_rows(
    const Resolver& resolver, const std::map<int, Eigen::MatrixXd>& by_block,
    const std::map<std::string, Eigen::MatrixXd>& by_loose, bool definition);

}  // namespace measure::internal
