#include "calib/board/blurred_saddle.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include <Eigen/Cholesky>
#include <Eigen/LU>

namespace calib {
namespace {

// Shape, then the numbers that the grey value is linear in: with S the blurred crossing (−1 to +1)
// and x, y from the window's middle, grey = level + levelX x + levelY y + (gain + gainX x + gainY
// y) S + bow (1 − S²). The bow is the camera's grey curve, which works on the light after the blur;
// a term in S³ would be a change of blur by another name.
constexpr int kShapeCount = 6;
constexpr int kLinearCount = 7;
constexpr int kParameterCount = kShapeCount + kLinearCount;
enum Parameter {
  kX,
  kY,
  kAngle1,
  kAngle2,
  kLogBlur1,
  kLogBlur2,
  kLevel,
  kLevelX,
  kLevelY,
  kGain,
  kGainX,
  kGainY,
  kBow
};
using Parameters = Eigen::Matrix<double, kParameterCount, 1>;
using NormalMatrix = Eigen::Matrix<double, kParameterCount, kParameterCount>;
using LinearParameters = Eigen::Matrix<double, kLinearCount, 1>;

// The area of a pixel alone blurs by 1/√12 px, and nothing can be sharper than that.
constexpr double kSharpest_px = 0.28;
constexpr double kBluntest_px = 60.0;
constexpr double kFewPairs = 200.0;

// erf(x/√2) and the normal density, from a table: the exact functions would take most of the fit's
// time. Cubic between nodes 1/64 apart with exact slopes: error below 1e-9.
class NormalTable {
 public:
  NormalTable() {
    for (int i = 0; i < kCount; ++i) {
      const double x = i * kStep;
      value_[static_cast<std::size_t>(i)] = std::erf(x / std::numbers::sqrt2);
      slope_[static_cast<std::size_t>(i)] = 2.0 * density_of(x);
    }
  }

  struct Pair {
    double erf, density;
  };

  [[nodiscard]] Pair at(double x) const {
    const double magnitude = std::abs(x);
    if (magnitude >= kReach) {
      return {x > 0.0 ? 1.0 : -1.0, 0.0};
    }
    const auto i = static_cast<std::size_t>(magnitude * (1.0 / kStep));
    const double t = magnitude * (1.0 / kStep) - static_cast<double>(i);
    const double v0 = value_[i], v1 = value_[i + 1];
    const double s0 = slope_[i] * kStep, s1 = slope_[i + 1] * kStep;
    const double c2 = 3.0 * (v1 - v0) - 2.0 * s0 - s1;
    const double c3 = 2.0 * (v0 - v1) + s0 + s1;
    const double erf = v0 + t * (s0 + t * (c2 + t * c3));
    const double slope = s0 + t * (2.0 * c2 + t * 3.0 * c3);
    return {x >= 0.0 ? erf : -erf, 0.5 * slope / kStep};
  }

 private:
  static double density_of(double x) {
    return std::exp(-0.5 * x * x) * 0.5 * std::numbers::inv_sqrtpi * std::numbers::sqrt2;
  }
  static constexpr double kStep = 1.0 / 64.0;
  static constexpr double kReach = 6.0;
  static constexpr int kCount = 6 * 64 + 2;
  std::array<double, kCount> value_{}, slope_{};
};

const NormalTable& normal_table() {
  static const NormalTable table;
  return table;
}

// Gauss–Legendre on (0, 1), the positive halves of the rules of 6, 12 and 20 nodes on (−1, 1).
constexpr std::array<double, 3> kNode6 = {0.9324695142031522, 0.6612093864662647,
                                          0.2386191860831970};
constexpr std::array<double, 3> kWeight6 = {0.1713244923791705, 0.3607615730481384,
                                            0.4679139345726904};
constexpr std::array<double, 6> kNode12 = {0.9815606342467191, 0.9041172563704750,
                                           0.7699026741943050, 0.5873179542866171,
                                           0.3678314989981802, 0.1252334085114692};
constexpr std::array<double, 6> kWeight12 = {0.04717533638651177, 0.1069393259953183,
                                             0.1600783285433464,  0.2031674267230659,
                                             0.2334925365383547,  0.2491470458134029};
constexpr std::array<double, 10> kNode20 = {
    0.9931285991850949, 0.9639719272779138, 0.9122344282513259, 0.8391169718222188,
    0.7463319064601508, 0.6360536807265150, 0.5108670019508271, 0.3737060887154196,
    0.2277858511416451, 0.07652652113349733};
constexpr std::array<double, 10> kWeight20 = {
    0.01761400713915212, 0.04060142980038694, 0.06267204833410906, 0.08327674157670475,
    0.1019301198172404,  0.1181945319615184,  0.1316886384491766,  0.1420961093183821,
    0.1491729864726037,  0.1527533871307259};

// The nodes of the integral over the correlation, ready for one crossing: they depend on ρ only.
class Crossing {
 public:
  explicit Crossing(double rho) : rho_(std::clamp(rho, -0.9999, 0.9999)) {
    const double end = std::asin(rho_);
    const auto fill = [this, end](const auto& node, const auto& weight) {
      for (std::size_t i = 0; i < node.size(); ++i) {
        for (const double side : {-1.0, 1.0}) {
          const double t = 0.5 * end * (1.0 + side * node[i]);
          const double half_inverse_cos2 = 0.5 / (std::cos(t) * std::cos(t));
          sine_[count_] = std::sin(t);
          half_inverse_cos2_[count_] = half_inverse_cos2;
          weight_[count_] = weight[i] * 0.5 * end * (2.0 / std::numbers::pi);
          ++count_;
        }
      }
    };
    if (std::abs(rho_) < 0.5) {
      fill(kNode6, kWeight6);
    } else if (std::abs(rho_) < 0.9) {
      fill(kNode12, kWeight12);
    } else {
      fill(kNode20, kWeight20);
    }
    inverse_root_ = 1.0 / std::sqrt(1.0 - rho_ * rho_);
  }

  struct Value {
    double s, by_a, by_b, by_rho;
  };

  [[nodiscard]] Value at(double a, double b) const {
    const auto& normal = normal_table();
    const auto pa = normal.at(a);
    const auto pb = normal.at(b);
    Value value{pa.erf * pb.erf, 0.0, 0.0, 0.0};
    value.by_a =
        pa.density == 0.0 ? 0.0 : 2.0 * pa.density * normal.at((b - rho_ * a) * inverse_root_).erf;
    value.by_b =
        pb.density == 0.0 ? 0.0 : 2.0 * pb.density * normal.at((a - rho_ * b) * inverse_root_).erf;
    const double squares = a * a + b * b, product = 2.0 * a * b;
    // The exponent is largest in size at ρ's end or at 0: far out both terms vanish.
    const double at_end = (squares - product * rho_) * 0.5 * inverse_root_ * inverse_root_;
    if (std::min(0.5 * squares, at_end) < 14.0) {
      for (std::size_t i = 0; i < count_; ++i) {
        value.s += weight_[i] * std::exp((product * sine_[i] - squares) * half_inverse_cos2_[i]);
      }
      value.by_rho = 2.0 / std::numbers::pi * inverse_root_ * std::exp(-at_end);
    }
    return value;
  }

 private:
  double rho_, inverse_root_ = 1.0;
  std::size_t count_ = 0;
  std::array<double, 20> sine_{}, half_inverse_cos2_{}, weight_{};
};

struct Sample {
  int x, y;
  double grey;
};

double pixel(const cv::Mat& image, int x, int y) {
  switch (image.depth()) {
    case CV_8U:
      return image.at<unsigned char>(y, x);
    case CV_16U:
      return image.at<unsigned short>(y, x);
    default:
      return static_cast<double>(image.at<float>(y, x));
  }
}

struct EdgeFrame {
  Eigen::Vector2d along, across;
  explicit EdgeFrame(double angle)
      : along(std::cos(angle), std::sin(angle)), across(-along.y(), along.x()) {}
};

// Empty where the window leaves the picture.
std::vector<Sample> samples_in(const cv::Mat& image, const Saddle& saddle,
                               const SaddleWindow& window, int most_pixels) {
  Eigen::Matrix2d axes;
  axes << window.half_axis_px[0], window.half_axis_px[1];
  const double area = std::abs(axes.determinant());
  if (!(area > 1.0)) {
    return {};
  }
  const Eigen::Matrix2d inverse = axes.inverse();
  const Eigen::Vector2d reach = axes.cwiseAbs().rowwise().sum();
  const Eigen::Vector2d low = saddle.centre_px - reach, high = saddle.centre_px + reach;
  if (!(low.minCoeff() > -0.5) || !(high.x() < image.cols - 0.5) ||
      !(high.y() < image.rows - 0.5)) {
    return {};
  }
  const EdgeFrame edge1(saddle.angle_rad[0]), edge2(saddle.angle_rad[1]);
  const double band_area =
      std::min(4.0 * area, 4.0 * window.band_px *
                               (window.half_axis_px[0].norm() + window.half_axis_px[1].norm()));
  const int stride = std::max(1, static_cast<int>(std::ceil(std::sqrt(band_area / most_pixels))));
  std::vector<Sample> samples;
  samples.reserve(static_cast<std::size_t>(std::min(4.0 * area, band_area) / (stride * stride)) +
                  64);
  const int x0 = std::max(0, static_cast<int>(std::ceil(low.x())));
  const int y0 = std::max(0, static_cast<int>(std::ceil(low.y())));
  const int x1 = std::min(image.cols - 1, static_cast<int>(std::floor(high.x())));
  const int y1 = std::min(image.rows - 1, static_cast<int>(std::floor(high.y())));
  for (int y = y0; y <= y1; y += stride) {
    for (int x = x0; x <= x1; x += stride) {
      const Eigen::Vector2d offset = Eigen::Vector2d(x, y) - saddle.centre_px;
      const Eigen::Vector2d uv = inverse * offset;
      const bool inside =
          window.elliptic ? uv.squaredNorm() <= 1.0 : uv.cwiseAbs().maxCoeff() <= 1.0;
      if (inside && (std::abs(edge1.across.dot(offset)) <= window.band_px ||
                     std::abs(edge2.across.dot(offset)) <= window.band_px)) {
        samples.push_back({x, y, pixel(image, x, y)});
      }
    }
  }
  return samples;
}

class SaddleProblem {
 public:
  SaddleProblem(const std::vector<Sample>& samples, const Saddle& start, const SaddleWindow& window,
                const SaddlePrior& prior)
      : samples_(samples), start_(start), prior_(prior) {
    reach_px_ = std::max(window.half_axis_px[0].norm(), window.half_axis_px[1].norm());
  }

  // Normal equations of the image alone at p; returns the sum of squared residuals.
  double evaluate(const Parameters& p, NormalMatrix* normal, Parameters* gradient) const {
    if (normal != nullptr) {
      normal->setZero();
      gradient->setZero();
    }
    double sum = 0.0;
    visit(p, [&](const Sample&, double residual, const Parameters& row) {
      sum += residual * residual;
      if (normal != nullptr) {
        normal->selfadjointView<Eigen::Lower>().rankUpdate(row);
        gradient->noalias() += row * residual;
      }
    });
    return sum;
  }

  // Calls use(sample, residual = grey − model, row = ∂model/∂p) for every pixel.
  template <typename Use>
  void visit(const Parameters& p, Use use) const {
    const EdgeFrame edge1(p[kAngle1]), edge2(p[kAngle2]);
    const double inverse_blur1 = std::exp(-p[kLogBlur1]), inverse_blur2 = std::exp(-p[kLogBlur2]);
    const Crossing crossing(edge1.across.dot(edge2.across));
    const double rho_by_angle1 = -std::sin(p[kAngle1] - p[kAngle2]);
    const double curvature1 = start_.curvature_per_px[0], curvature2 = start_.curvature_per_px[1];
    const double inverse_reach = 1.0 / reach_px_;
    Parameters row;
    for (const Sample& sample : samples_) {
      const Eigen::Vector2d offset(sample.x - p[kX], sample.y - p[kY]);
      const double t1 = edge1.along.dot(offset), t2 = edge2.along.dot(offset);
      const double a = (edge1.across.dot(offset) - 0.5 * curvature1 * t1 * t1) * inverse_blur1;
      const double b = (edge2.across.dot(offset) - 0.5 * curvature2 * t2 * t2) * inverse_blur2;
      const auto value = crossing.at(a, b);
      // The illumination is measured from the window's own centre, not from the moving crossing.
      const double x = (sample.x - start_.centre_px.x()) * inverse_reach;
      const double y = (sample.y - start_.centre_px.y()) * inverse_reach;
      const double gain = p[kGain] + p[kGainX] * x + p[kGainY] * y;
      const double s2 = value.s * value.s;
      const double model =
          p[kLevel] + p[kLevelX] * x + p[kLevelY] * y + gain * value.s + p[kBow] * (1.0 - s2);
      const double by_s = gain - 2.0 * p[kBow] * value.s;
      const double by_a = by_s * value.by_a * inverse_blur1,
                   by_b = by_s * value.by_b * inverse_blur2;
      const double by_rho = by_s * value.by_rho * rho_by_angle1;
      row[kX] = -by_a * (edge1.across.x() - curvature1 * t1 * edge1.along.x()) -
                by_b * (edge2.across.x() - curvature2 * t2 * edge2.along.x());
      row[kY] = -by_a * (edge1.across.y() - curvature1 * t1 * edge1.along.y()) -
                by_b * (edge2.across.y() - curvature2 * t2 * edge2.along.y());
      row[kAngle1] = -by_a * t1 + by_rho;
      row[kAngle2] = -by_b * t2 - by_rho;
      row[kLogBlur1] = -by_s * value.by_a * a;
      row[kLogBlur2] = -by_s * value.by_b * b;
      row[kLevel] = 1.0;
      row[kLevelX] = x;
      row[kLevelY] = y;
      row[kGain] = value.s;
      row[kGainX] = x * value.s;
      row[kGainY] = y * value.s;
      row[kBow] = 1.0 - s2;
      use(sample, sample.grey - model, row);
    }
  }

  // Weights of the prior, in units of the noise.
  [[nodiscard]] Parameters prior_weight(const Parameters& p) const {
    Parameters weight = Parameters::Zero();
    const auto square_inverse = [](double sd) { return std::isfinite(sd) ? 1.0 / (sd * sd) : 0.0; };
    weight[kAngle1] = weight[kAngle2] = square_inverse(prior_.angle_rad);
    weight[kLogBlur1] = weight[kLogBlur2] = square_inverse(prior_.log_blur);
    // Light and contrast seldom change by more than half over one window, and no grey curve bows by
    // more.
    const double change = 0.5 * std::max(std::abs(p[kGain]), 1.0);
    for (const int i : {kLevelX, kLevelY, kGainX, kGainY, kBow}) {
      weight[i] = square_inverse(change);
    }
    return weight;
  }

  [[nodiscard]] Parameters prior_offset(const Parameters& p) const {
    Parameters offset = Parameters::Zero();
    offset[kAngle1] = start_.angle_rad[0] - p[kAngle1];
    offset[kAngle2] = start_.angle_rad[1] - p[kAngle2];
    offset[kLogBlur1] = std::log(start_.blur_px[0]) - p[kLogBlur1];
    offset[kLogBlur2] = std::log(start_.blur_px[1]) - p[kLogBlur2];
    for (const int i : {kLevelX, kLevelY, kGainX, kGainY, kBow}) {
      offset[i] = -p[i];
    }
    return offset;
  }

  // Level and contrast that fit best while the shape stays as it is.
  void solve_linear_part(Parameters& p) const {
    NormalMatrix normal;
    Parameters gradient;
    p.tail<kLinearCount>().setZero();
    evaluate(p, &normal, &gradient);
    // With no gain every derivative by the shape is zero: only the linear block counts.
    Eigen::Matrix<double, kLinearCount, kLinearCount> block =
        normal.bottomRightCorner<kLinearCount, kLinearCount>().selfadjointView<Eigen::Lower>();
    const double ridge = 1e-3 * static_cast<double>(samples_.size());
    for (const int i : {kLevelX, kLevelY, kGainX, kGainY, kBow}) {
      block(i - kShapeCount, i - kShapeCount) += ridge * (i == kBow ? 100.0 : 1.0);
    }
    p.tail<kLinearCount>() = block.ldlt().solve(gradient.tail<kLinearCount>());
  }

 private:
  const std::vector<Sample>& samples_;
  Saddle start_;
  SaddlePrior prior_;
  double reach_px_ = 1.0;
};

// Distance of a pixel from the edge that it lies nearest to, towards that edge's bright side.
struct EdgePlace {
  std::size_t edge = 0;
  double towards_bright_px = 0.0;
  bool clear = false;  ///< away from the other edge, where the first one's profile is undisturbed
};

EdgePlace edge_place(const Saddle& saddle, double contrast, const Sample& sample) {
  const Eigen::Vector2d offset = Eigen::Vector2d(sample.x, sample.y) - saddle.centre_px;
  std::array<double, 2> distance_px{};
  for (std::size_t k = 0; k < 2; ++k) {
    const EdgeFrame edge(saddle.angle_rad[k]);
    const double along = edge.along.dot(offset);
    distance_px[k] = edge.across.dot(offset) - 0.5 * saddle.curvature_per_px[k] * along * along;
  }
  EdgePlace place;
  place.edge = std::abs(distance_px[0]) <= std::abs(distance_px[1]) ? 0 : 1;
  const double other_px = distance_px[1 - place.edge];
  place.towards_bright_px = distance_px[place.edge] * (other_px * contrast > 0.0 ? 1.0 : -1.0);
  place.clear = std::abs(other_px) > 2.0 * saddle.blur_px[1 - place.edge] + 1.0;
  return place;
}

// Takes the mean residual at each distance from the edge off the residuals. Both halves of an edge,
// on either side of the crossing, have their bright sides turned opposite ways: a shift of the
// crossing is no part of that mean. Returns how many numbers were fitted for it.
int remove_profile(const std::vector<Sample>& samples, const Saddle& saddle, double contrast,
                   std::vector<double>& residuals) {
  constexpr double kBin_px = 0.5;
  constexpr std::size_t kHalfBins = 120;
  constexpr std::size_t kBins = 2 * kHalfBins + 2;
  constexpr double kPixelsPerBin = 8.0;
  struct Mean {
    double sum = 0.0, count = 0.0;
  };
  std::array<std::vector<Mean>, 2> profile{std::vector<Mean>(kBins), std::vector<Mean>(kBins)};
  std::vector<EdgePlace> places;
  places.reserve(samples.size());
  // Linear between the nodes: weights of a pixel at its two neighbours.
  const auto node_of = [](double towards_bright_px) {
    const double at = std::clamp(towards_bright_px / kBin_px + static_cast<double>(kHalfBins), 0.0,
                                 static_cast<double>(kBins - 2));
    return std::pair(static_cast<std::size_t>(at), at - std::floor(at));
  };
  for (std::size_t i = 0; i < samples.size(); ++i) {
    places.push_back(edge_place(saddle, contrast, samples[i]));
    if (places.back().clear) {
      const auto [node, part] = node_of(places.back().towards_bright_px);
      auto& means = profile[places.back().edge];
      means[node].sum += (1.0 - part) * residuals[i];
      means[node].count += 1.0 - part;
      means[node + 1].sum += part * residuals[i];
      means[node + 1].count += part;
    }
  }
  int used = 0;
  for (auto& means : profile) {
    for (auto& mean : means) {
      used += mean.count >= kPixelsPerBin ? 1 : 0;
      mean.sum = mean.count >= kPixelsPerBin ? mean.sum / mean.count : 0.0;
    }
  }
  if (static_cast<double>(samples.size()) < kPixelsPerBin * used) {
    return 0;
  }
  for (std::size_t i = 0; i < samples.size(); ++i) {
    const auto [node, part] = node_of(places[i].towards_bright_px);
    const auto& means = profile[places[i].edge];
    residuals[i] -= (1.0 - part) * means[node].sum + part * means[node + 1].sum;
  }
  return used;
}

NoiseSums noise_sums_of(const std::vector<Sample>& samples, const std::vector<double>& residuals) {
  NoiseSums sums;
  const auto by_x = [](const Sample& p, const Sample& q) { return p.x < q.x; };
  const auto [x_low, x_high] = std::minmax_element(samples.begin(), samples.end(), by_x);
  const int x0 = x_low->x, width = x_high->x - x0 + 1 + 2 * kNoiseReach;
  const int y0 = samples.front().y, height = samples.back().y - y0 + 1 + 2 * kNoiseReach;
  constexpr float kAbsent = std::numeric_limits<float>::quiet_NaN();
  std::vector<float> grid(static_cast<std::size_t>(width) * static_cast<std::size_t>(height),
                          kAbsent);
  const auto index = [&](int x, int y) {
    return static_cast<std::size_t>(y - y0 + kNoiseReach) * static_cast<std::size_t>(width) +
           static_cast<std::size_t>(x - x0 + kNoiseReach);
  };
  for (std::size_t i = 0; i < samples.size(); ++i) {
    grid[index(samples[i].x, samples[i].y)] = static_cast<float>(residuals[i]);
  }
  for (std::size_t i = 0; i < samples.size(); ++i) {
    for (int dy = 0; dy <= kNoiseReach; ++dy) {
      for (int dx = dy == 0 ? 0 : -kNoiseReach; dx <= kNoiseReach; ++dx) {
        const float other = grid[index(samples[i].x + dx, samples[i].y + dy)];
        if (!std::isnan(other)) {
          sums.product(kNoiseReach + dy, kNoiseReach + dx) +=
              residuals[i] * static_cast<double>(other);
          sums.count(kNoiseReach + dy, kNoiseReach + dx) += 1.0;
        }
      }
    }
  }
  for (int dy = 0; dy <= kNoiseReach; ++dy) {  // the other half is the same by symmetry
    for (int dx = -kNoiseReach; dx <= kNoiseReach; ++dx) {
      if (dy > 0 || dx > 0) {
        sums.product(kNoiseReach - dy, kNoiseReach - dx) =
            sums.product(kNoiseReach + dy, kNoiseReach + dx);
        sums.count(kNoiseReach - dy, kNoiseReach - dx) =
            sums.count(kNoiseReach + dy, kNoiseReach + dx);
      }
    }
  }
  return sums;
}

}  // namespace

double blurred_crossing(double a, double b, double rho) { return Crossing(rho).at(a, b).s; }

void NoiseSums::add(const NoiseSums& other) {
  product += other.product;
  count += other.count;
}

Eigen::Matrix<double, kNoiseSpan, kNoiseSpan> NoiseSums::autocorrelation() const {
  Eigen::Matrix<double, kNoiseSpan, kNoiseSpan> rho = decltype(rho)::Zero();
  const double pairs = count(kNoiseReach, kNoiseReach);
  const double variance = pairs > 0.0 ? product(kNoiseReach, kNoiseReach) / pairs : 0.0;
  if (variance > 0.0) {
    for (int i = 0; i < rho.size(); ++i) {
      if (count(i) >= kFewPairs) {
        rho(i) = product(i) / count(i) / variance;
      }
    }
  }
  rho(kNoiseReach, kNoiseReach) = 1.0;
  return rho;
}

Eigen::Matrix2d SaddleFit::covariance_px2(
    const Eigen::Matrix<double, kNoiseSpan, kNoiseSpan>& autocorrelation) const {
  if (influence.empty()) {
    return white_covariance_px2;
  }
  int x0 = influence.front().x, x1 = x0;
  for (const auto& item : influence) {
    x0 = std::min(x0, item.x);
    x1 = std::max(x1, item.x);
  }
  const int y0 = influence.front().y;
  const int width = x1 - x0 + 1 + 2 * kNoiseReach;
  const int height = influence.back().y - y0 + 1 + 2 * kNoiseReach;
  std::vector<Eigen::Vector2d> grid(
      static_cast<std::size_t>(width) * static_cast<std::size_t>(height), Eigen::Vector2d::Zero());
  const auto index = [&](int x, int y) {
    return static_cast<std::size_t>(y - y0 + kNoiseReach) * static_cast<std::size_t>(width) +
           static_cast<std::size_t>(x - x0 + kNoiseReach);
  };
  for (const auto& item : influence) {
    grid[index(item.x, item.y)] = item.px_per_grey;
  }
  Eigen::Matrix2d sum = Eigen::Matrix2d::Zero();
  for (const auto& item : influence) {
    Eigen::Vector2d neighbours = Eigen::Vector2d::Zero();
    for (int dy = -kNoiseReach; dy <= kNoiseReach; ++dy) {
      for (int dx = -kNoiseReach; dx <= kNoiseReach; ++dx) {
        neighbours += autocorrelation(kNoiseReach + dy, kNoiseReach + dx) *
                      grid[index(item.x + dx, item.y + dy)];
      }
    }
    sum += item.px_per_grey * neighbours.transpose();
  }
  const Eigen::Matrix2d correlated = 0.5 * noise * noise * (sum + sum.transpose());
  // An estimated correlation can come out too negative; noise never helps beyond its white part.
  return correlated.trace() > white_covariance_px2.trace() && correlated.determinant() > 0.0
             ? correlated
             : white_covariance_px2;
}

std::optional<SaddleFit> fit_blurred_saddle(const cv::Mat& image, const Saddle& start,
                                            const SaddleWindow& window, const SaddlePrior& prior,
                                            const SaddleFitOptions& options) {
  const auto samples = samples_in(image, start, window, options.most_pixels);
  constexpr std::size_t kFewestPixels = 2 * kParameterCount;
  if (samples.size() < kFewestPixels) {
    return std::nullopt;
  }
  const SaddleProblem problem(samples, start, window, prior);
  Parameters p = Parameters::Zero();
  p << start.centre_px, start.angle_rad[0], start.angle_rad[1], std::log(start.blur_px[0]),
      std::log(start.blur_px[1]), LinearParameters::Zero();
  problem.solve_linear_part(p);

  SaddleFit fit;
  fit.pixel_count = static_cast<int>(samples.size());
  const double redundancy = static_cast<double>(samples.size()) - kParameterCount;
  NormalMatrix normal;
  Parameters gradient;
  double sum = problem.evaluate(p, &normal, &gradient);
  double damping = 1e-3;
  for (int iteration = 0; iteration < options.max_iterations; ++iteration) {
    // The noise sets how much the prior counts; a floor of a quarter grey value for pictures
    // without noise.
    const double variance = std::max(sum / redundancy, 0.0625);
    const Parameters weight = problem.prior_weight(p) * variance;
    const Parameters offset = problem.prior_offset(p);
    NormalMatrix damped = normal.selfadjointView<Eigen::Lower>();
    damped.diagonal() += weight;
    Parameters right_hand_side = gradient + weight.cwiseProduct(offset);
    for (const int i : {kLogBlur1, kLogBlur2}) {
      // A blur at its limit that would go beyond stays there, and the others step without it.
      if ((p[i] <= std::log(kSharpest_px) && right_hand_side[i] < 0.0) ||
          (p[i] >= std::log(kBluntest_px) && right_hand_side[i] > 0.0)) {
        damped.row(i).setZero();
        damped.col(i).setZero();
        damped(i, i) = 1.0;
        right_hand_side[i] = 0.0;
      }
    }
    const double cost = sum + weight.dot(offset.cwiseAbs2());
    damped.diagonal() *= 1.0 + damping;
    const Eigen::LDLT<NormalMatrix> factor(damped);
    Parameters step = factor.solve(right_hand_side);
    if (!step.allFinite()) {
      return std::nullopt;
    }
    // A step of more than two blurs leaves the range in which the edges still attract.
    const double longest = 2.0 * std::exp(std::max(p[kLogBlur1], p[kLogBlur2])) + 1.0;
    if (const double length = step.head<2>().norm(); length > longest) {
      step *= longest / length;
    }
    Parameters trial = p + step;
    for (const int i : {kLogBlur1, kLogBlur2}) {
      trial[i] = std::clamp(trial[i], std::log(kSharpest_px), std::log(kBluntest_px));
    }
    NormalMatrix trial_normal;
    Parameters trial_gradient;
    const double trial_sum = problem.evaluate(trial, &trial_normal, &trial_gradient);
    const double trial_cost = trial_sum + weight.dot(problem.prior_offset(trial).cwiseAbs2());
    // Settled, too, where a step no longer lowers the cost: sharp edges along the pixel rows have a
    // flat minimum.
    constexpr double kFlat = 1e-7;
    const bool settled = step.head<2>().norm() < options.settled_px ||
                         (trial_cost <= cost && cost - trial_cost < kFlat * cost && damping < 1.0);
    if (trial_cost <= cost) {
      p = trial;
      sum = trial_sum;
      normal = trial_normal;
      gradient = trial_gradient;
      damping = std::max(damping * 0.1, 1e-7);
    } else {
      damping *= 10.0;
    }
    if (settled) {
      fit.converged = true;
      break;
    }
    if (damping > 1e6) {
      break;
    }
  }

  fit.saddle = start;
  fit.saddle.centre_px = p.head<2>();
  fit.saddle.angle_rad = {p[kAngle1], p[kAngle2]};
  fit.saddle.blur_px = {std::exp(p[kLogBlur1]), std::exp(p[kLogBlur2])};
  fit.contrast = p[kGain];
  fit.misfit = std::sqrt(sum / redundancy);
  fit.noise = fit.misfit;
  if (!options.want_covariance) {
    return fit;
  }
  const Parameters weight = problem.prior_weight(p) * std::max(fit.misfit * fit.misfit, 0.0625);
  NormalMatrix full = normal.selfadjointView<Eigen::Lower>();
  full.diagonal() += weight;
  const NormalMatrix cofactor = full.ldlt().solve(NormalMatrix::Identity());
  const Eigen::Matrix<double, 2, kParameterCount> rows = cofactor.topRows<2>();
  std::vector<double> residuals;
  residuals.reserve(samples.size());
  fit.influence.reserve(samples.size());
  problem.visit(p, [&](const Sample& sample, double residual, const Parameters& row) {
    residuals.push_back(residual);
    fit.influence.push_back({sample.x, sample.y, rows * row});
  });
  const int fitted = remove_profile(samples, fit.saddle, fit.contrast, residuals);
  double squares = 0.0;
  for (const double residual : residuals) {
    squares += residual * residual;
  }
  fit.noise = std::sqrt(squares / std::max(redundancy - fitted, 1.0));
  fit.white_covariance_px2 = fit.noise * fit.noise * cofactor.topLeftCorner<2, 2>();
  if (!fit.white_covariance_px2.allFinite()) {
    return std::nullopt;
  }
  fit.noise_sums = noise_sums_of(samples, residuals);
  return fit;
}

}  // namespace calib
