#include "calib/adjust/distributions.h"

#include <cmath>
#include <limits>

#include <boost/math/distributions/chi_squared.hpp>
#include <boost/math/distributions/fisher_f.hpp>
#include <boost/math/distributions/non_central_chi_squared.hpp>
#include <boost/math/distributions/normal.hpp>
#include <boost/math/distributions/students_t.hpp>

namespace calib::adjust {

double chi_square_quantile(double p, double degrees_of_freedom) {
  return boost::math::quantile(boost::math::chi_squared(degrees_of_freedom), p);
}

double chi_square_upper(double x, double degrees_of_freedom) {
  return boost::math::cdf(boost::math::complement(boost::math::chi_squared(degrees_of_freedom), x));
}

double f_quantile(double p, double numerator_dof, double denominator_dof) {
  return boost::math::quantile(boost::math::fisher_f(numerator_dof, denominator_dof), p);
}

double student_factor(double p, double degrees_of_freedom) {
  const double upper = (1 + p) / 2;
  // Beyond a million the difference to the normal distribution is below 1e-6.
  if (!(degrees_of_freedom < 1e6)) return boost::math::quantile(boost::math::normal(), upper);
  return boost::math::quantile(boost::math::students_t(degrees_of_freedom), upper);
}

double normal_cdf(double x) { return boost::math::cdf(boost::math::normal(), x); }

double detectable_noncentrality(double significance, double power, int directions) {
  const double critical = chi_square_quantile(1 - significance, directions);
  return boost::math::non_central_chi_squared::find_non_centrality(directions, critical, 1 - power);
}

double tau_critical(double significance, double redundancy) {
  const double t = student_factor(1 - significance, redundancy - 1);
  return std::sqrt(redundancy) * t / std::sqrt(redundancy - 1 + t * t);
}

}  // namespace calib::adjust
