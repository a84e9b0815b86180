#include "tools/desk/photos/photo_store.h"

#include <QSignalSpy>
#include <QTest>
#include <future>

#include <gtest/gtest.h>

#include "calib/board/photo_file.h"
#include "tests/calib/file/scratch_folder.h"
#include "tests/desk/photos/painted_photo.h"
#include "tools/desk/photos/tile_file.h"

namespace desk {
namespace {

using testing_support::painted_photo;
using testing_support::put;
using testing_support::ScratchFolder;
using testing_support::write_photo;

constexpr int kPatience_ms = 60'000;  // a hang would last for ever; slow machines do not fail

class PhotoStoreTest : public testing::Test {
 protected:
  std::unique_ptr<PhotoStore> store(std::size_t memory = 1u << 30) {
    return std::make_unique<PhotoStore>(
        PhotoStoreOptions{.memory_bytes = memory, .cache = folder_ / "cache", .threads = 2});
  }
  std::filesystem::path photo(const std::string& name, int width = 1203, int height = 807) {
    write_photo(folder_ / name, painted_photo(width, height));
    return folder_ / name;
  }
  static std::shared_ptr<const PhotoPyramid> whole(PhotoStore& from, const std::string& name) {
    EXPECT_TRUE(QTest::qWaitFor(
        [&] {
          const auto now = from.photo(name, PhotoStore::Want::kNow);
          return (now && now->complete()) || !from.problem(name).isEmpty();
        },
        kPatience_ms));
    return from.photo(name, PhotoStore::Want::kNow);
  }
  static QImage cut(PhotoStore& from, const std::string& name, const QRectF& part,
                    const QSize& size, double turn = 0) {
    QImage image;
    EXPECT_TRUE(QTest::qWaitFor(
        [&] {
          image = from.cut_out(name, part, size, turn);
          return !image.isNull() || !from.problem(name).isEmpty();
        },
        kPatience_ms));
    return image;
  }
  static bool settled(const PhotoStore& of) {
    return QTest::qWaitFor([&] { return of.idle(); }, kPatience_ms);
  }
  ScratchFolder folder_;
};

/// Largest difference of any channel.
int difference(const QImage& a, const QImage& b) {
  if (a.size() != b.size()) return 999;
  int most = 0;
  for (int y = 0; y < a.height(); ++y) {
    for (int x = 0; x < a.width(); ++x) {
      const QColor p = a.pixelColor(x, y), q = b.pixelColor(x, y);
      most = std::max({most, std::abs(p.red() - q.red()), std::abs(p.green() - q.green()),
                       std::abs(p.blue() - q.blue()), std::abs(p.alpha() - q.alpha())});
    }
  }
  return most;
}

TEST_F(PhotoStoreTest, GreyPixelsAreThoseThatCalibrationReads) {
  for (const char* name : {"a.jpg", "a.png", "a.tif"}) {
    const auto file = photo(name);
    const auto expected = calib::read_grey_photo(file);
    ASSERT_TRUE(expected) << name;
    const auto from = store();
    from->enter(name, file);
    const auto pyramid = whole(*from, name);
    ASSERT_TRUE(pyramid && pyramid->complete()) << name;
    EXPECT_EQ(pyramid->grey.size(), expected->pixels.size());
    EXPECT_EQ(cv::norm(pyramid->grey, expected->pixels, cv::NORM_INF), 0) << name;
  }
}

TEST_F(PhotoStoreTest, ColoursAreThoseOfOpenCvWithinRounding) {
  const auto file = photo("a.jpg");
  const cv::Mat expected =
      cv::imread(file.string(), cv::IMREAD_COLOR | cv::IMREAD_IGNORE_ORIENTATION);
  const auto from = store();
  from->enter("a", file);
  const auto pyramid = whole(*from, "a");
  ASSERT_TRUE(pyramid);
  QImage reference(expected.data, expected.cols, expected.rows, static_cast<int>(expected.step),
                   QImage::Format_BGR888);
  // OpenCV's colour matrix has 1.403 and 1.773 where JFIF has 1.402 and 1.772.
  EXPECT_LE(difference(pyramid->levels[0], reference.convertToFormat(QImage::Format_RGB32)), 2);
}

TEST_F(PhotoStoreTest, EachLevelIsHalfTheOneBeforeRoundedUp) {
  const auto from = store();
  from->enter("a", photo("a.jpg"));
  const auto pyramid = whole(*from, "a");
  ASSERT_TRUE(pyramid);
  ASSERT_GE(pyramid->levels.size(), 4u);
  for (std::size_t k = 1; k < pyramid->levels.size(); ++k) {
    EXPECT_EQ(pyramid->levels[k].width(), (pyramid->levels[k - 1].width() + 1) / 2);
    EXPECT_EQ(pyramid->levels[k].height(), (pyramid->levels[k - 1].height() + 1) / 2);
  }
}

TEST_F(PhotoStoreTest, TilesHoldTheSameGreyPixelsToTheLastBit) {
  for (const char* name : {"a.jpg", "a.png"}) {
    const auto file = photo(name);
    const auto expected = calib::read_grey_photo(file);
    const auto from = store();
    from->enter("a", file);
    QRect part(-20, 230, 560, 900);  // over several tiles and over two edges
    auto grey = std::async(std::launch::async, [&] { return from->grey_part("a", part); });
    const cv::Mat got = grey.get();
    EXPECT_EQ(part, QRect(0, 230, 540, 577));
    ASSERT_FALSE(got.empty()) << name;
    EXPECT_EQ(cv::norm(got, expected->pixels(cv::Rect(0, 230, 540, 577)), cv::NORM_INF), 0) << name;
  }
}

TEST_F(PhotoStoreTest, CutOutsFromTilesAreThoseFromTheDecodedPhoto) {
  const auto file = photo("a.jpg");
  const QRectF part(300.3, 270.7, 90, 60);
  const auto of_tiles = store(), of_photo = store();
  of_tiles->enter("a", file);
  of_photo->enter("a", file);
  ASSERT_TRUE(whole(*of_photo, "a"));
  for (const double turn : {0.0, 37.0, 180.0}) {
    const QImage first = cut(*of_tiles, "a", part, {360, 240}, turn);
    const QImage second = cut(*of_photo, "a", part, {360, 240}, turn);
    ASSERT_EQ(first.size(), QSize(360, 240));
    // The part lies inside one tile: only the rounding of colours differs.
    EXPECT_LE(difference(first, second), 2) << turn;
  }
}

TEST_F(PhotoStoreTest, ACutOutShowsThePlaceThatItNames) {
  // One white pixel on black, in a PNG, so that no compression moves it.
  cv::Mat black(600, 800, CV_8UC3, cv::Scalar::all(0));
  black.at<cv::Vec3b>(333, 444) = {255, 255, 255};
  write_photo(folder_ / "dot.png", black);
  const auto from = store();
  from->enter("dot", folder_ / "dot.png");
  // 10 view pixels a photo pixel; the dot's centre (444, 333) 4 photo pixels right of and 2 below
  // the middle (440, 331); turned by 90° clockwise it stands left of and below the middle.
  for (const auto& [turn, at] : {std::pair(0.0, QPointF(140, 120)), {90.0, QPointF(80, 140)}}) {
    const QImage image = cut(*from, "dot", QRectF(430, 321, 20, 20), {200, 200}, turn);
    double sum = 0, x_sum = 0, y_sum = 0;
    for (int y = 0; y < 200; ++y) {
      for (int x = 0; x < 200; ++x) {
        const double value = qGray(image.pixel(x, y));
        sum += value;
        x_sum += value * (x + 0.5);
        y_sum += value * (y + 0.5);
      }
    }
    ASSERT_GT(sum, 0);
    // warpAffine interpolates in 1/32 px, 0.3 view pixels.
    EXPECT_NEAR(x_sum / sum, at.x(), 0.3) << turn;
    EXPECT_NEAR(y_sum / sum, at.y(), 0.3) << turn;
  }
}

TEST_F(PhotoStoreTest, BeyondThePhotoACutOutIsTransparent) {
  const auto from = store();
  from->enter("a", photo("a.jpg"));
  const QImage image = cut(*from, "a", QRectF(-50.5, -50.5, 100, 100), {100, 100});
  EXPECT_EQ(qAlpha(image.pixel(10, 10)), 0);
  EXPECT_EQ(qAlpha(image.pixel(90, 90)), 255);
}

TEST_F(PhotoStoreTest, ACutOutOfTheWholePhotoIsSmallAndRight) {
  const auto from = store();
  from->enter("a", photo("a.jpg", 3000, 2000));
  const QImage image = cut(*from, "a", area_of({3000, 2000}), {150, 100});
  ASSERT_EQ(image.size(), QSize(150, 100));
  // Blue grows from 60 to 180 along x, with noise of mean 5.5.
  const auto mean_blue = [&](int x) {
    double sum = 0;
    for (int y = 0; y < 100; ++y) sum += qBlue(image.pixel(x, y));
    return sum / 100;
  };
  EXPECT_NEAR(mean_blue(15), 60 + 12 + 5.5, 4);
  EXPECT_NEAR(mean_blue(135), 60 + 108 + 5.5, 4);
}

TEST_F(PhotoStoreTest, AReducedPictureComesBeforeOrWithTheWholeOne) {
  const auto from = store();
  from->enter("a", photo("a.jpg", 4000, 3000));
  QSignalSpy ready(from.get(), &PhotoStore::photo_ready);
  EXPECT_EQ(from->photo("a", PhotoStore::Want::kNow), nullptr);
  ASSERT_TRUE(ready.wait(kPatience_ms));
  const auto first = from->photo("a", PhotoStore::Want::kNow);
  ASSERT_TRUE(first);
  EXPECT_EQ(first->size, QSize(4000, 3000));
  ASSERT_LT(first->finest(), static_cast<int>(first->levels.size()));
  EXPECT_FALSE(first->levels[first->finest()].isNull());
  EXPECT_TRUE(whole(*from, "a")->complete());
}

TEST_F(PhotoStoreTest, ThumbnailsComeFromTheCacheTheSecondTime) {
  const auto file = photo("a.jpg", 2000, 1000);
  {
    const auto from = store();
    from->enter("a", file);
    QSignalSpy ready(from.get(), &PhotoStore::thumbnail_ready);
    EXPECT_TRUE(from->thumbnail("a").isNull());
    ASSERT_TRUE(ready.wait(kPatience_ms));
    EXPECT_EQ(from->thumbnail("a").size(), QSize(320, 160));
  }
  // The same size and time, but no photo any more: only the cache can answer.
  const auto written = std::filesystem::last_write_time(file);
  const auto size = std::filesystem::file_size(file);
  put(file, std::string(size, 'x'));
  std::filesystem::last_write_time(file, written);
  const auto from = store();
  from->enter("a", file);
  QSignalSpy ready(from.get(), &PhotoStore::thumbnail_ready);
  (void)from->thumbnail("a");
  ASSERT_TRUE(ready.wait(kPatience_ms));
  EXPECT_EQ(from->thumbnail("a").size(), QSize(320, 160));
}

TEST_F(PhotoStoreTest, AnAlteredFileIsReadAnew) {
  const auto file = photo("a.jpg", 640, 480);
  const auto from = store();
  from->enter("a", file);
  EXPECT_EQ(whole(*from, "a")->size, QSize(640, 480));
  (void)photo("a.jpg", 800, 480);
  from->enter("a", file);
  EXPECT_EQ(whole(*from, "a")->size, QSize(800, 480));
  EXPECT_EQ(cut(*from, "a", area_of({800, 480}), {80, 48}).size(), QSize(80, 48));
}

TEST_F(PhotoStoreTest, ADamagedCacheIsMadeAnew) {
  const auto file = photo("a.jpg");
  {
    const auto from = store();
    from->enter("a", file);
    (void)cut(*from, "a", QRectF(0, 0, 100, 100), {100, 100});
  }
  int damaged = 0;
  for (const auto& item : std::filesystem::directory_iterator(folder_ / "cache")) {
    if (item.path().extension() != ".tiles") continue;
    std::filesystem::resize_file(item.path(), item.file_size() / 2);
    ++damaged;
  }
  ASSERT_EQ(damaged, 1);
  const auto from = store();
  from->enter("a", file);
  EXPECT_FALSE(cut(*from, "a", QRectF(0, 0, 100, 100), {100, 100}).isNull());
}

TEST_F(PhotoStoreTest, WithoutAPlaceForTheCacheAllStillWorks) {
  put(folder_ / "cache", "a file where the folder should be");
  const auto from = store();
  from->enter("a", photo("a.jpg"));
  EXPECT_FALSE(cut(*from, "a", QRectF(0, 0, 100, 100), {100, 100}).isNull());
  QSignalSpy ready(from.get(), &PhotoStore::thumbnail_ready);
  (void)from->thumbnail("a");
  EXPECT_TRUE(ready.wait(kPatience_ms));
}

TEST_F(PhotoStoreTest, TheLeastRecentlyUsedPhotoGoesWhenMemoryIsShort) {
  // Two of three fit: each takes 1203·807·(4·4/3 + 1) bytes, 6.1 MB.
  const auto from = store(14'000'000);
  for (const char* name : {"a", "b", "c"}) {
    from->enter(name, photo(std::string(name) + ".jpg"));
    ASSERT_TRUE(whole(*from, name));
    ASSERT_TRUE(settled(*from));
    EXPECT_LE(from->memory_bytes(), 14'000'000u);
  }
  EXPECT_TRUE(from->photo("c", PhotoStore::Want::kLater));
  EXPECT_TRUE(from->photo("b", PhotoStore::Want::kLater));
  EXPECT_FALSE(from->photo("a", PhotoStore::Want::kLater));
}

TEST_F(PhotoStoreTest, BadFilesGetASentenceThatNamesThem) {
  put(folder_ / "empty.jpg", "");
  put(folder_ / "text.jpg", "no photo at all");
  const auto good = photo("cut.jpg");
  std::filesystem::resize_file(good, std::filesystem::file_size(good) / 2);
  std::string noise = "\xFF\xD8\xFF\xE0";
  for (int i = 0; i < 5000; ++i) noise += static_cast<char>(i * 7919 >> 3);
  put(folder_ / "noise.jpg", noise);
  std::filesystem::create_directory(folder_ / "folder.jpg");
  for (const char* name :
       {"empty.jpg", "text.jpg", "cut.jpg", "noise.jpg", "folder.jpg", "absent.jpg"}) {
    const auto from = store();
    from->enter(name, folder_ / name);
    QSignalSpy failed(from.get(), &PhotoStore::photo_failed);
    EXPECT_FALSE(whole(*from, name));
    EXPECT_TRUE(from->problem(name).contains(name)) << name;
    EXPECT_TRUE(from->problem(name).contains(": ")) << name;
    QCoreApplication::processEvents();
    EXPECT_EQ(failed.count(), 1) << name;
    EXPECT_TRUE(from->cut_out(name, QRectF(0, 0, 9, 9), {9, 9}).isNull());
    EXPECT_TRUE(from->thumbnail(name).isNull());
    QRect part(0, 0, 9, 9);
    EXPECT_TRUE(from->grey_part(name, part).empty());
    EXPECT_TRUE(settled(*from));
  }
}

TEST_F(PhotoStoreTest, AStoreMayGoWhileItWorks) {
  const auto file = photo("a.jpg", 3000, 2000);
  for (int i = 0; i < 5; ++i) {
    const auto from = store();
    for (const char* name : {"a", "b", "c", "d"}) {
      from->enter(name, file);
      (void)from->photo(name, PhotoStore::Want::kNow);
      (void)from->thumbnail(name);
      (void)from->cut_out(name, QRectF(0, 0, 50, 50), {50, 50});
    }
    from->forget("b");
    QTest::qWait(i * 5);
  }
}

TEST_F(PhotoStoreTest, GreyAndUnusualJpegsAreReadToo) {
  cv::Mat grey;
  cv::cvtColor(painted_photo(700, 500), grey, cv::COLOR_BGR2GRAY);
  write_photo(folder_ / "grey.jpg", grey);
  cv::imwrite((folder_ / "progressive.jpg").string(), painted_photo(700, 500),
              {cv::IMWRITE_JPEG_PROGRESSIVE, 1, cv::IMWRITE_JPEG_RST_INTERVAL, 7});
  for (const char* name : {"grey.jpg", "progressive.jpg"}) {
    const auto from = store();
    from->enter(name, folder_ / name);
    QRect part(100, 100, 400, 300);
    auto tiles = std::async(std::launch::async, [&] { return from->grey_part(name, part); });
    const cv::Mat grey_pixels = tiles.get();
    const auto pyramid = whole(*from, name);
    ASSERT_TRUE(pyramid) << name;
    EXPECT_EQ(pyramid->size, QSize(700, 500));
    EXPECT_EQ(cv::norm(grey_pixels, pyramid->grey(cv::Rect(100, 100, 400, 300)), cv::NORM_INF), 0);
  }
}

}  // namespace
}  // namespace desk
