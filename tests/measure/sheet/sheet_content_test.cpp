#include "measure/sheet/sheet_content.h"

#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <numeric>
#include <set>
#include <string>

#include <gtest/gtest.h>
#include <opencv2/imgcodecs.hpp>
#include <unistd.h>

#include "measure/sheet/dimension_page.h"
#include "measure/sheet/dimension_pdf.h"
#include "tests/support/simulated_shapes.h"
#include "tests/support/simulated_survey.h"

namespace measure {
namespace {

/// A simulated survey with grey photographs on the disk.
class SheetContentTest : public ::testing::Test {
 protected:
  static void SetUpTestSuite() {
    file_ = new std::filesystem::path(std::filesystem::path(::testing::TempDir()) /
                                      ("sheet_content_" + std::to_string(::getpid()) + ".jpg"));
    cv::imwrite(file_->string(), cv::Mat(3000, 4000, CV_8UC3, cv::Scalar(90, 100, 110)));
  }
  static void TearDownTestSuite() {
    std::filesystem::remove(*file_);
    delete file_;
  }

  SheetContentTest() : simulated_(testing_support::make_simulated_survey()) {
    // A check length between two points of the survey, right within its error bar.
    Dossier& dossier = simulated_.dossier;
    ScaleBar check;
    check.name = "check";
    check.from = "P05";
    check.to = "P07";
    check.length_mm = (simulated_.true_points.at("P05") - simulated_.true_points.at("P07")).norm();
    check.u_own_mm = 0.01;
    check.check_only = true;
    dossier.bars.push_back(check);
    dossier.replica_scales.push_back({72, 0});
    options_.photo_file = [](const Photo&) { return *file_; };
    options_.date = "2025-05-17";
  }

  calib::Result<SheetContent, calib::Problem> gather() {
    auto survey = solve_survey(simulated_.dossier, simulated_.cameras);
    if (!survey) return calib::Unexpected(survey.error());
    return gather(*survey);
  }
  calib::Result<SheetContent, calib::Problem> gather(const Survey& survey) {
    results_ = evaluate_dimensions(survey, simulated_.dossier);
    return gather_sheet(survey, simulated_.dossier, simulated_.cameras, results_, options_);
  }

  static std::filesystem::path* file_;
  testing_support::SimulatedSurvey simulated_;
  SheetOptions options_;
  std::vector<DimensionResult> results_;
};
std::filesystem::path* SheetContentTest::file_ = nullptr;

TEST_F(SheetContentTest, SaysOfEachDimensionWhatWasComputed) {
  const auto content = gather();
  ASSERT_TRUE(content) << content.error().sentence;
  ASSERT_EQ(content->dimensions.size(), simulated_.dossier.dimensions.size());
  ASSERT_EQ(content->scales.size(), 3u);
  EXPECT_EQ(content->scales[0].head, "original");
  EXPECT_EQ(content->scales[1].head, "full size");
  for (const SheetDimension& dimension : content->dimensions) {
    for (std::size_t s = 0; s < content->scales.size(); ++s) {
      const auto result = std::find_if(results_.begin(), results_.end(), [&](const auto& r) {
        return r.name == dimension.name && r.scale == content->scales[s].key;
      });
      ASSERT_NE(result, results_.end());
      for (std::size_t u = 0; u < content->units.size(); ++u) {
        EXPECT_EQ(dimension.text(s, u), result_text(*result, content->units[u].unit));
      }
    }
    EXPECT_EQ(dimension.is_interval, dimension.name.starts_with("near zero"));
  }
}

TEST_F(SheetContentTest, SharesOfWhatCarriesADimensionSumToOne) {
  simulated_.dossier.point_kinds.push_back({"moulded edge", 0.05});
  for (Point& point : simulated_.dossier.points) point.kind = "moulded edge";
  const auto content = gather();
  ASSERT_TRUE(content) << content.error().sentence;
  for (const SheetDimension& d : content->dimensions) {
    const auto sum = [](const std::vector<SheetShare>& shares) {
      return std::accumulate(shares.begin(), shares.end(), 0.0,
                             [](double all, const SheetShare& one) { return all + one.share; });
    };
    // Shares below 0.05 % are not named: some ten of them at most.
    EXPECT_NEAR(sum(d.budget), 1, 0.005) << d.name;
    EXPECT_NEAR(sum(d.photos) + sum(d.others), 1, 0.005) << d.name;
    // Group by group they are the budget of the dimension.
    const auto share_named = [](const std::vector<SheetShare>& shares, const std::string& name) {
      double share = 0;
      for (const SheetShare& one : shares) share += one.name == name ? one.share : 0;
      return share;
    };
    if (d.is_interval) continue;
    EXPECT_NEAR(sum(d.photos), share_named(d.budget, "marks"), 0.005) << d.name;
    EXPECT_NEAR(share_named(d.others, "definition of its points"),
                share_named(d.budget, "definition"), 0.005)
        << d.name;
  }
}

TEST_F(SheetContentTest, OpensWithTheCheckLength) {
  auto content = gather();
  ASSERT_TRUE(content);
  ASSERT_FALSE(content->known_lengths.empty());
  EXPECT_TRUE(content->known_lengths.front().check_only);
  EXPECT_TRUE(content->checks_agree) << content->check_sentence;
  EXPECT_FALSE(content->known_lengths.front().error_over_U.empty());

  // 2 mm wrong: far outside.
  simulated_.dossier.bars.back().length_mm += 2;
  content = gather();
  ASSERT_TRUE(content);
  EXPECT_FALSE(content->checks_agree);
  EXPECT_FALSE(content->known_lengths.front().within);

  simulated_.dossier.bars.pop_back();
  content = gather();
  ASSERT_TRUE(content);
  EXPECT_FALSE(content->checks_agree);
  EXPECT_NE(content->check_sentence.find("No check length"), std::string::npos);
}

TEST_F(SheetContentTest, EveryDimensionIsDrawnWithItsTextOnce) {
  const auto content = gather();
  ASSERT_TRUE(content);
  for (const SheetDimension& dimension : content->dimensions) {
    EXPECT_EQ(dimension.pictures.size(), 1u) << dimension.name;
  }
  for (const SheetPicture& picture : content->pictures) {
    EXPECT_FALSE(picture.drawn.empty());
    for (const DrawnDimension& one : picture.drawn) EXPECT_TRUE(one.label);
    EXPECT_TRUE(picture.jpeg.starts_with("\xFF\xD8"));
    EXPECT_LE(std::max(picture.jpeg_size.width, picture.jpeg_size.height), 1600);
    EXPECT_NEAR(static_cast<double>(picture.jpeg_size.width) / picture.jpeg_size.height,
                picture.size.x() / picture.size.y(), 0.01);
  }
}

TEST_F(SheetContentTest, EveryKindOfDimensionIsDrawnAndToldInWords) {
  simulated_ = testing_support::make_simulated_shapes({.photo_count = 8, .seed = 3}).survey;
  const auto content = gather();
  ASSERT_TRUE(content) << content.error().sentence;
  std::set<std::string> kinds;
  for (std::size_t d = 0; d < content->dimensions.size(); ++d) {
    const SheetDimension& dimension = content->dimensions[d];
    EXPECT_EQ(dimension.problem, "");
    EXPECT_EQ(dimension.kind.find('_'), std::string::npos);
    EXPECT_NE(dimension.sentence, "");
    EXPECT_EQ(dimension.pictures.size(), 1u) << dimension.kind << ", " << dimension.name;
    EXPECT_FALSE(dimension.photos.empty()) << dimension.name;
    kinds.insert(dimension.kind);
    for (const std::size_t p : dimension.pictures) {
      for (const DrawnDimension& one : content->pictures[p].drawn) {
        EXPECT_TRUE(one.dimension != d || !one.strokes.empty()) << dimension.name;
      }
    }
  }
  // The angle at a point is not among them: the other tests of this file have it.
  EXPECT_EQ(kinds.size(), std::variant_size_v<DimensionKind> - 1);
  const auto area =
      std::find_if(content->dimensions.begin(), content->dimensions.end(),
                   [](const auto& one) { return one.unit == DimensionUnit::kSquareMillimetre; });
  ASSERT_NE(area, content->dimensions.end());
  EXPECT_NE(area->text(0, 0).find("mm²"), std::string::npos);
  EXPECT_FALSE(area->tolerance);
  if (const char* folder = std::getenv("SHEET_OUTPUT")) {  // to be looked at
    std::ofstream(std::filesystem::path(folder) / "shapes.pdf") << *dimension_pdf(*content);
    std::ofstream(std::filesystem::path(folder) / "shapes.html") << dimension_page(*content);
  }
}

TEST_F(SheetContentTest, WithoutAScaleBarItShowsRatios) {
  simulated_ = testing_support::make_simulated_survey({.bars = false});
  const auto content = gather();
  ASSERT_TRUE(content) << content.error().sentence;
  const SheetDimension& along = content->dimensions[2];
  EXPECT_EQ(along.unit, DimensionUnit::kRatio);
  EXPECT_EQ(along.text(0, 0).find("mm"), std::string::npos);
  double carried = 0;
  for (const SheetShare& photo : along.photos) carried += photo.share;
  EXPECT_GT(carried, 0.5);
  EXPECT_FALSE(dimension_page(*content).empty());
  EXPECT_TRUE(dimension_pdf(*content));
}

TEST_F(SheetContentTest, UnknownNamesAndMissingPhotosGetTheirSentence) {
  options_.only = {"no such"};
  auto content = gather();
  ASSERT_FALSE(content);
  EXPECT_NE(content.error().sentence.find("no such"), std::string::npos);
  options_.only = {"distance"};
  options_.photo_file = [](const Photo& photo) { return "/nowhere/" + photo.name; };
  content = gather();
  ASSERT_FALSE(content);
  EXPECT_NE(content.error().sentence.find("/nowhere/photo"), std::string::npos);
}

TEST_F(SheetContentTest, CanBeStoppedAtAnyMoment) {
  const auto survey = solve_survey(simulated_.dossier, simulated_.cameras);
  ASSERT_TRUE(survey);
  int steps = 0;
  options_.progress = [&](double, const std::string&) { ++steps; };
  auto content = gather(*survey);
  ASSERT_TRUE(content);
  ASSERT_GT(steps, 5);
  int left = 0;
  options_.progress = {};
  for (int after = 0; after < 12; ++after) {
    left = after;
    options_.cancelled = [&] { return left-- <= 0; };
    content = gather(*survey);
    ASSERT_FALSE(content) << after;
    EXPECT_EQ(content.error().blame, calib::Blame::kOurs);
    EXPECT_NE(content.error().sentence.find("stopped"), std::string::npos);
  }
  options_.cancelled = {};
  content = gather(*survey);
  ASSERT_TRUE(content);
  EXPECT_FALSE(dimension_pdf(*content, {{"A4", 210.0, 297.0}, {}, [] { return true; }}));
}

TEST_F(SheetContentTest, PaperAndPageAreTheSameBytesEachTime) {
  const auto first = gather(), second = gather();
  ASSERT_TRUE(first && second);
  EXPECT_EQ(dimension_page(*first), dimension_page(*second));
  EXPECT_EQ(*dimension_pdf(*first), *dimension_pdf(*second));
}

TEST_F(SheetContentTest, HostileNamesStayText) {
  simulated_.dossier.name = "</script><script>alert(1)</script> \"&' \\ \x01";
  simulated_.dossier.dimensions[0].name = "</script><b onclick=\"x\">";
  const auto content = gather();
  ASSERT_TRUE(content);
  const std::string page = dimension_page(*content);
  EXPECT_EQ(page.find("<script>alert"), std::string::npos);
  EXPECT_EQ(page.find("<b onclick"), std::string::npos);
  // As many ends of scripts as the page has of its own.
  std::size_t ends = 0;
  for (std::size_t at = page.find("</script"); at != std::string::npos;
       at = page.find("</script", at + 1)) {
    ++ends;
  }
  EXPECT_EQ(ends, 2u);
}

}  // namespace
}  // namespace measure
