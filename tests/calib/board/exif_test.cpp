#include "calib/board/exif.h"

#include <exiv2/exiv2.hpp>
#include <gtest/gtest.h>
#include <opencv2/imgcodecs.hpp>

#include "tests/calib/board/test_folder.h"

namespace calib {
namespace {

class Exif : public testing_support::TestFolder {
 protected:
  std::filesystem::path photo_with(const Exiv2::ExifData& data, int width = 600,
                                   int height = 400) const {
    const auto file = folder_ / "photo.jpg";
    cv::imwrite(file.string(), cv::Mat(height, width, CV_8UC1, cv::Scalar(90)));
    const auto image = Exiv2::ImageFactory::open(file.string());
    image->setExifData(data);
    image->writeMetadata();
    return file;
  }

  static Exiv2::ExifData body_and_lens() {
    Exiv2::ExifData data;
    data["Exif.Image.Make"] = "Kestrel Works ";
    data["Exif.Image.Model"] = "K-3";
    data["Exif.Photo.LensModel"] = "Macro 60 mm";
    data["Exif.Photo.FocalLength"] = Exiv2::Rational(600, 10);
    return data;
  }
};

TEST_F(Exif, NamesBodyLensAndFocalLength) {
  const auto exif = read_exif(photo_with(body_and_lens()));
  EXPECT_EQ(exif.lens_and_body.make, "Kestrel Works");
  EXPECT_EQ(exif.lens_and_body.model, "K-3");
  EXPECT_EQ(exif.lens_and_body.lens, "Macro 60 mm");
  ASSERT_TRUE(exif.lens_and_body.focal_length_mm);
  EXPECT_DOUBLE_EQ(*exif.lens_and_body.focal_length_mm, 60.0);
  EXPECT_FALSE(exif.lens_and_body.focal_length_35mm);
  EXPECT_FALSE(exif.focal_length_px) << "nothing tells the size of the sensor";
  EXPECT_EQ(exif.orientation, 1);
}

// 60 mm on a sensor of 24 mm × 16 mm, 6000 px wide: 15,000 px; the stored copy has a tenth of them.
TEST_F(Exif, StartsTheFocalLengthFromTheResolutionOfTheFocalPlane) {
  auto data = body_and_lens();
  data["Exif.Photo.FocalPlaneXResolution"] = Exiv2::Rational(6350, 1);  // per inch: 250 px/mm
  data["Exif.Photo.FocalPlaneResolutionUnit"] = std::uint16_t{2};
  data["Exif.Photo.PixelXDimension"] = std::uint32_t{6000};
  const auto exif = read_exif(photo_with(data));
  ASSERT_TRUE(exif.focal_length_px);
  EXPECT_NEAR(*exif.focal_length_px, 1500.0, 1e-9);
}

// 50 mm equivalent on 3:2: the width stands for 36 mm, so 50/36 widths.
TEST_F(Exif, StartsTheFocalLengthFromThe35MillimetreEquivalent) {
  Exiv2::ExifData data;
  data["Exif.Photo.FocalLengthIn35mmFilm"] = std::uint16_t{50};
  const auto exif = read_exif(photo_with(data));
  ASSERT_TRUE(exif.focal_length_px);
  EXPECT_NEAR(*exif.focal_length_px, 600.0 * 50.0 / 36.0, 1e-9);
}

TEST_F(Exif, DoesNotBelieveNonsense) {
  auto data = body_and_lens();
  data["Exif.Photo.FocalLength"] = Exiv2::Rational(60, 0);
  data["Exif.Photo.FocalPlaneXResolution"] = Exiv2::Rational(0, 0);
  data["Exif.Photo.FocalLengthIn35mmFilm"] = std::uint16_t{0};
  data["Exif.Image.Orientation"] = std::uint16_t{77};
  const auto exif = read_exif(photo_with(data));
  EXPECT_FALSE(exif.lens_and_body.focal_length_mm);
  EXPECT_FALSE(exif.lens_and_body.focal_length_35mm);
  EXPECT_FALSE(exif.focal_length_px);
  EXPECT_EQ(exif.orientation, 1);
}

TEST_F(Exif, SurvivesFilesThatAreNoPhotos) {
  const auto whole = testing_support::bytes_of(photo_with(body_and_lens()));
  EXPECT_EQ(read_exif(folder_ / "none").lens_and_body, LensAndBody());
  EXPECT_EQ(read_exif(folder_).lens_and_body, LensAndBody());
  EXPECT_EQ(read_exif(write("empty.jpg", "")).lens_and_body, LensAndBody());
  EXPECT_EQ(read_exif(write("text.jpg", "no photo")).lens_and_body, LensAndBody());
  for (std::size_t size = 1; size < std::min<std::size_t>(whole.size(), 500); size += 7) {
    (void)read_exif(write("cut.jpg", whole.substr(0, size)));
  }
  std::uint32_t state = 1;  // a fixed sequence, so that a failure can be repeated
  for (int i = 0; i < 300; ++i) {
    auto hostile = whole;
    for (int k = 0; k < 4; ++k) {
      state = state * 1664525U + 1013904223U;
      hostile[(state >> 8) % std::min<std::size_t>(hostile.size(), 400)] =
          static_cast<char>(state >> 24);
    }
    (void)read_exif(write("hostile.jpg", hostile));
  }
}

}  // namespace
}  // namespace calib
