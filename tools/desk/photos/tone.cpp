#include "tools/desk/photos/tone.h"

#include <algorithm>
#include <array>
#include <cmath>

#include <opencv2/imgproc.hpp>

namespace desk {
namespace {

constexpr double kBlurParts = 40;     // a region is a fortieth of the photo's longer side
constexpr double kCompression = 0.6;  // of the regions' light; 1: all alike
constexpr float kMostGain = 6.0F;
constexpr double kGammaRange = 2.5;  // brightness 1: out = in^(1/2.5)
constexpr double kDetail = 0.8;      // by how much detail beyond the region's light grows

std::array<unsigned char, 256> curve_of(const Tone& tone) {
  std::array<unsigned char, 256> curve{};
  const double gamma = std::pow(kGammaRange, -tone.brightness);
  // An S about the middle grey: its slope there is that of the contrast, black and white stay.
  const double slope = std::pow(4.0, tone.contrast);
  for (int i = 0; i < 256; ++i) {
    double v = std::pow(i / 255.0, gamma);
    v = v < 0.5 ? 0.5 * std::pow(2 * v, slope) : 1 - 0.5 * std::pow(2 * (1 - v), slope);
    curve[i] = static_cast<unsigned char>(std::lround(255 * v));
  }
  return curve;
}

cv::Mat mat_of(QImage& image) {
  return {image.height(), image.width(), CV_8UC4, image.bits(),
          static_cast<std::size_t>(image.bytesPerLine())};
}

}  // namespace

LocalLight::LocalLight(const QImage& small, const QSize& photo) : photo_(photo) {
  if (small.isNull() || photo.isEmpty()) return;
  QImage copy = small.convertToFormat(QImage::Format_RGB32);
  cv::Mat grey, light, gain;
  cv::cvtColor(mat_of(copy), grey, cv::COLOR_BGRA2GRAY);
  grey.convertTo(light, CV_32F, 1 / 255.0);
  cv::GaussianBlur(light, light, {}, std::max(1.0, std::max(grey.cols, grey.rows) / kBlurParts));
  // The light of a region is compressed towards that of the brightest ones, and its detail grows
  // with it. Source: A. Oppenheim, R. Schafer & T. Stockham, Proc. IEEE 56 (1968) 1264–1291.
  std::vector<float> sorted(light.begin<float>(), light.end<float>());
  const auto bright =
      sorted.begin() + static_cast<std::ptrdiff_t>(0.95 * static_cast<double>(sorted.size() - 1));
  std::nth_element(sorted.begin(), bright, sorted.end());
  const float little = 1.0F / 64;
  cv::pow((light + little) / (*bright + little), -kCompression, gain);
  cv::max(gain, 1.0F, gain);
  cv::min(gain, kMostGain, gain);
  cv::merge(std::vector<cv::Mat>{light, gain}, light_);
}

void apply_tone(QImage& image, const ViewMap& view, const Tone& tone, const LocalLight& light) {
  if (tone.is_neutral() || image.isNull()) return;
  cv::Mat pixels = mat_of(image);
  const auto curve = curve_of(tone);

  const bool is_local = tone.local > 0 && !light.is_null();
  cv::Mat here;
  if (is_local) {
    const QTransform photo_from_view = view.transform().inverted();
    const double scale_x = static_cast<double>(light.light_.cols) / light.photo_.width();
    const double scale_y = static_cast<double>(light.light_.rows) / light.photo_.height();
    const auto light_from = [&](double u, double v) {
      const QPointF at = photo_from_view.map(QPointF(u + 0.5, v + 0.5));
      return QPointF((at.x() + 0.5) * scale_x - 0.5, (at.y() + 0.5) * scale_y - 0.5);
    };
    const QPointF zero = light_from(0, 0), u = light_from(1, 0) - zero, v = light_from(0, 1) - zero;
    const cv::Matx23d map(u.x(), v.x(), zero.x(), u.y(), v.y(), zero.y());
    cv::warpAffine(light.light_, here, map, pixels.size(), cv::INTER_LINEAR | cv::WARP_INVERSE_MAP,
                   cv::BORDER_REPLICATE);
  }
  const float strength = static_cast<float>(tone.local);
  const float detail = static_cast<float>(kDetail * tone.local);
  cv::parallel_for_(cv::Range(0, pixels.rows), [&](const cv::Range& rows) {
    for (int y = rows.start; y < rows.end; ++y) {
      unsigned char* at = pixels.ptr(y);
      if (is_local) {
        // out = gain · (in + detail · (in − light)): 256 steps a channel, clipped.
        const float* lit = here.ptr<float>(y);
        for (int x = 0; x < pixels.cols; ++x, at += 4, lit += 2) {
          const float gain = 1 + strength * (lit[1] - 1);
          const float slope = gain * (1 + detail), offset = -255 * gain * detail * lit[0];
          for (int c = 0; c < 3; ++c) {
            const float value = slope * at[c] + offset;
            at[c] = curve[static_cast<unsigned char>(std::clamp(value, 0.0F, 255.0F))];
          }
        }
      } else {
        for (int x = 0; x < pixels.cols; ++x, at += 4) {
          for (int c = 0; c < 3; ++c) at[c] = curve[at[c]];
        }
      }
    }
  });
  if (image.format() == QImage::Format_ARGB32_Premultiplied) {
    // No channel may be beyond its alpha.
    for (int y = 0; y < pixels.rows; ++y) {
      unsigned char* at = pixels.ptr(y);
      for (int x = 0; x < pixels.cols; ++x, at += 4) {
        if (at[3] == 255) continue;
        for (int c = 0; c < 3; ++c) at[c] = std::min(at[c], at[3]);
      }
    }
  }
}

}  // namespace desk
