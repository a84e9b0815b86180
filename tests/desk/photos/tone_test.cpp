#include "tools/desk/photos/tone.h"

#include <gtest/gtest.h>

namespace desk {
namespace {

QImage shades(QImage::Format format = QImage::Format_RGB32) {
  QImage image(256, 1, format);
  for (int x = 0; x < 256; ++x) image.setPixel(x, 0, qRgb(x, x, x));
  return image;
}

const ViewMap kView{{127.5, 0}, 1.0, 0.0, {256, 1}};

TEST(Tone, NeutralChangesNothing) {
  QImage image = shades();
  apply_tone(image, kView, {});
  EXPECT_EQ(image, shades());
}

TEST(Tone, KeepsBlackAndWhiteAndTheOrderOfShades) {
  for (const Tone& tone :
       {Tone{0.7, 0, 0}, Tone{-0.7, 0, 0}, Tone{0, 0.9, 0}, Tone{0.4, -0.8, 0}}) {
    QImage image = shades();
    apply_tone(image, kView, tone);
    EXPECT_EQ(qRed(image.pixel(0, 0)), 0);
    EXPECT_EQ(qRed(image.pixel(255, 0)), 255);
    for (int x = 1; x < 256; ++x) {
      EXPECT_GE(qRed(image.pixel(x, 0)), qRed(image.pixel(x - 1, 0)));
    }
  }
}

TEST(Tone, BrighterIsBrighterAndContrastSpreadsTheMiddle) {
  QImage bright = shades(), hard = shades();
  apply_tone(bright, kView, {0.5, 0, 0});
  apply_tone(hard, kView, {0, 0.5, 0});
  EXPECT_GT(qRed(bright.pixel(60, 0)), 80);
  EXPECT_LT(qRed(hard.pixel(80, 0)), 80);
  EXPECT_GT(qRed(hard.pixel(176, 0)), 176);
}

// A dark half and a bright one, both with a faint pattern.
QImage half_dark(int width, int height) {
  QImage image(width, height, QImage::Format_RGB32);
  for (int y = 0; y < height; ++y) {
    for (int x = 0; x < width; ++x) {
      const int base = x < width / 2 ? 20 : 180, step = (x / 4 + y / 4) % 2 ? 4 : 0;
      image.setPixel(x, y, qRgb(base + step, base + step, base + step));
    }
  }
  return image;
}

TEST(Tone, LocalContrastLightsUpDarkRegionsAndTheirDetail) {
  const QImage photo = half_dark(400, 300);
  const LocalLight light(photo.scaled(100, 75, Qt::IgnoreAspectRatio, Qt::SmoothTransformation),
                         photo.size());
  QImage image = photo;
  apply_tone(image, {{199.5, 149.5}, 1.0, 0.0, {400, 300}}, {0, 0, 1.0}, light);
  const auto at = [](const QImage& of, int x, int y) { return qRed(of.pixel(x, y)); };
  EXPECT_GT(at(image, 81, 81), at(photo, 81, 81) + 10);
  const int detail_before = std::abs(at(photo, 81, 81) - at(photo, 85, 81));
  EXPECT_GT(std::abs(at(image, 81, 81) - at(image, 85, 81)), detail_before);
}

TEST(Tone, TwoPartsOfAPhotoAgreeWhereTheyOverlap) {
  const QImage photo = half_dark(400, 300);
  const LocalLight light(photo.scaled(100, 75), photo.size());
  const Tone tone{0.2, 0.1, 0.7};
  QImage all = photo, part = photo.copy(100, 50, 200, 200);
  apply_tone(all, {{199.5, 149.5}, 1.0, 0.0, {400, 300}}, tone, light);
  apply_tone(part, {{199.5, 149.5}, 1.0, 0.0, {200, 200}}, tone, light);
  for (int y = 0; y < 200; y += 7) {
    for (int x = 0; x < 200; x += 7) {
      EXPECT_NEAR(qRed(part.pixel(x, y)), qRed(all.pixel(x + 100, y + 50)), 1) << x << ' ' << y;
    }
  }
}

TEST(Tone, TransparentPlacesStayTransparent) {
  QImage image(10, 10, QImage::Format_ARGB32_Premultiplied);
  image.fill(Qt::transparent);
  apply_tone(image, {{0, 0}, 1.0, 0.0, {10, 10}}, {1.0, 0.5, 0});
  EXPECT_EQ(image.pixel(5, 5), 0u);
}

}  // namespace
}  // namespace desk
