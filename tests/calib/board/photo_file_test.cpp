#include "calib/board/photo_file.h"

#include <exiv2/exiv2.hpp>
#include <gtest/gtest.h>
#include <opencv2/imgcodecs.hpp>

#include "calib/board/exif.h"
#include "calib/board/photo_hash.h"
#include "tests/calib/board/test_folder.h"

namespace calib {
namespace {

using testing_support::bytes_of;

class PhotoFile : public testing_support::TestFolder {
 protected:
  // 40 × 30, bright in the top left quarter only: a turn would show.
  static cv::Mat marked_picture() {
    cv::Mat picture(30, 40, CV_8UC3, cv::Scalar::all(30));
    picture(cv::Rect(0, 0, 20, 15)).setTo(cv::Scalar::all(220));
    return picture;
  }

  std::filesystem::path picture(const std::string& name, const cv::Mat& pixels) const {
    cv::imwrite((folder_ / name).string(), pixels);
    return folder_ / name;
  }

  void expect_refused(const std::filesystem::path& file, const std::string& words) const {
    const auto photo = read_grey_photo(file);
    ASSERT_FALSE(photo) << file;
    EXPECT_NE(photo.error().sentence.find(words), std::string::npos) << photo.error().sentence;
    EXPECT_NE(photo.error().sentence.find(file.string()), std::string::npos)
        << photo.error().sentence;
    EXPECT_EQ(photo.error().blame, Blame::kInput);
  }
};

TEST_F(PhotoFile, ReadsColourAndGreyJpegPngAndTiff) {
  cv::Mat grey(30, 40, CV_8UC1, cv::Scalar(30));
  grey(cv::Rect(0, 0, 20, 15)).setTo(cv::Scalar(220));
  for (const std::string ending : {".jpg", ".png", ".tif", ".jpeg", ".tiff"}) {
    for (const cv::Mat& pixels : {marked_picture(), grey}) {
      const auto photo = read_grey_photo(picture("p" + ending, pixels));
      ASSERT_TRUE(photo) << photo.error().sentence;
      EXPECT_EQ(photo->pixels.type(), CV_8UC1);
      EXPECT_EQ(photo->size(), (ImageSize{40, 30}));
      EXPECT_NEAR(photo->pixels.at<unsigned char>(5, 5), 220, 3) << ending;  // JPEG is not exact
      EXPECT_NEAR(photo->pixels.at<unsigned char>(25, 35), 30, 3) << ending;
    }
  }
}

TEST_F(PhotoFile, KeepsSixteenBitsOnlyWhereAsked) {
  const cv::Mat deep(30, 40, CV_16UC1, cv::Scalar(51400));
  for (const std::string ending : {".png", ".tif"}) {
    const auto file = picture("deep" + ending, deep);
    const auto kept = read_grey_photo(file, GreyDepth::kAsStored);
    ASSERT_TRUE(kept);
    EXPECT_EQ(kept->pixels.type(), CV_16UC1);
    EXPECT_EQ(kept->pixels.at<unsigned short>(3, 3), 51400);
    const auto reduced = read_grey_photo(file);
    ASSERT_TRUE(reduced);
    EXPECT_EQ(reduced->pixels.type(), CV_8UC1);
    EXPECT_EQ(reduced->pixels.at<unsigned char>(3, 3), 200);  // 51400 / 257
  }
}

TEST_F(PhotoFile, IsNotTurnedByItsExifOrientation) {
  const auto file = picture("turned.jpg", marked_picture());
  const auto image = Exiv2::ImageFactory::open(file.string());
  Exiv2::ExifData data;
  data["Exif.Image.Orientation"] = std::uint16_t{6};
  image->setExifData(data);
  image->writeMetadata();

  const auto photo = read_grey_photo(file);
  ASSERT_TRUE(photo) << photo.error().sentence;
  EXPECT_EQ(photo->size(), (ImageSize{40, 30}));
  EXPECT_NEAR(photo->pixels.at<unsigned char>(3, 3), 220, 3);
  EXPECT_NEAR(photo->pixels.at<unsigned char>(3, 36), 30, 3);
  const auto exif = read_exif(file);
  EXPECT_EQ(exif.orientation, 6);
  EXPECT_EQ(exif.size, (ImageSize{40, 30}));
}

TEST_F(PhotoFile, HashesTheBytesThatWereDecoded) {
  const auto file = picture("p.png", marked_picture());
  const auto photo = read_grey_photo(file);
  ASSERT_TRUE(photo);
  const auto hash = sha256_of_file(file);
  ASSERT_TRUE(hash);
  EXPECT_EQ(photo->sha256, *hash);
}

// FIPS 180-4's example "abc" and the empty message (NIST, SHA-256 examples; from memory, checked
// with sha256sum).
TEST_F(PhotoFile, HashesAsTheStandardSays) {
  const auto abc = sha256_of_file(write("abc", "abc"));
  ASSERT_TRUE(abc);
  EXPECT_EQ(*abc, "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
  EXPECT_EQ(sha256_of_bytes({}),
            "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855");
  EXPECT_FALSE(sha256_of_file(folder_));
  EXPECT_FALSE(sha256_of_file(folder_ / "none"));
}

TEST_F(PhotoFile, RefusesWhatIsNoPhotoWithASentence) {
  expect_refused(folder_ / "none.jpg", "there is no such file");
  expect_refused(folder_, "is a folder");
  expect_refused(write("empty.jpg", ""), "is empty");
  expect_refused(write("letter.jpg", "Dear archive, may I measure the hauler?"),
                 "is no JPEG, PNG or TIFF");
  expect_refused(write("one_byte.png", "\x89"), "is no JPEG, PNG or TIFF");
  expect_refused("/dev/null", "is no ordinary file");
}

TEST_F(PhotoFile, RefusesAPhotoThatIsCutShort) {
  for (const std::string ending : {".jpg", ".png", ".tif"}) {
    cv::Mat noise(200, 300, CV_8UC3);
    cv::RNG(1).fill(noise, cv::RNG::UNIFORM, 0, 255);
    const auto whole = bytes_of(picture("whole" + ending, noise));
    for (const double part : {0.02, 0.5, 0.98}) {
      const auto size = static_cast<std::size_t>(static_cast<double>(whole.size()) * part);
      const auto file = write("part" + ending, whole.substr(0, size));
      const auto photo = read_grey_photo(file);
      ASSERT_FALSE(photo) << ending << " " << part;
      EXPECT_NE(photo.error().sentence.find("cut short"), std::string::npos)
          << photo.error().sentence;
    }
  }
}

TEST_F(PhotoFile, ReadsAJpegThatCarriesAPreviewAndBytesAfterItsEnd) {
  const auto file = picture("phone.jpg", marked_picture());
  auto bytes = bytes_of(file);
  // A preview in an application segment has end markers of its own, and telephones append whole
  // films.
  const std::string preview = "\xFF\xD8preview\xFF\xD9";
  const std::string segment =
      std::string("\xFF\xE5\x00", 3) + static_cast<char>(preview.size() + 2) + preview;
  const auto with_preview = bytes.substr(0, 2) + segment + bytes.substr(2);
  EXPECT_TRUE(read_grey_photo(write("both.jpg", with_preview + "a film follows")));
  EXPECT_FALSE(read_grey_photo(write("cut.jpg", with_preview.substr(0, with_preview.size() - 40))));
}

TEST_F(PhotoFile, RefusesASizeThatNoPhotoHasBeforeMakingRoomForIt) {
  auto bytes = bytes_of(picture("p.png", marked_picture()));
  bytes.replace(16, 8,
                std::string("\x00\x00\xFF\xFF\x00\x00\xFF\xFF", 8));  // 65535 × 65535 in the header
  expect_refused(write("bomb.png", bytes), "more than 600 megapixels");
}

TEST_F(PhotoFile, RefusesFloatingPointPixels) {
  const cv::Mat depths(30, 40, CV_32FC1, cv::Scalar(0.5));
  const auto photo = read_grey_photo(picture("depth.tif", depths), GreyDepth::kAsStored);
  ASSERT_FALSE(photo);
  EXPECT_NE(photo.error().sentence.find("8 or 16 bits"), std::string::npos)
      << photo.error().sentence;
}

}  // namespace
}  // namespace calib
