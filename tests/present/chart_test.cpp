// Identity: a value's place follows from the axis; nothing leaves the drawing.
#include <gtest/gtest.h>

#include <regex>

#include "bagsplit/present/chart/age_bands.hpp"
#include "bagsplit/present/chart/agreement.hpp"
#include "bagsplit/present/chart/intervals.hpp"
#include "bagsplit/present/chart/speed_curve.hpp"
#include "bagsplit/present/chart/tiers.hpp"
#include "present/profile_fixture.hpp"
#include "support/xml_check.hpp"

namespace bagsplit::present::chart {
namespace {

const Caption caption{"c1", "A title & more", "What is seen"};

std::vector<double> numbers_after(const std::string& text, const std::string& attribute) {
  std::vector<double> found;
  const std::regex pattern(attribute + "=\"(-?[0-9.]+)\"");
  for (std::sregex_iterator at(text.begin(), text.end(), pattern), end; at != end; ++at) {
    found.push_back(std::stod((*at)[1]));
  }
  return found;
}

// All places lie within the drawing, nothing is nan, and the drawing says what it is.
void expect_sound(const text::Markup& drawing) {
  const std::string& svg = drawing.str();
  const test::MarkupLook look = test::look_at_markup(svg);
  EXPECT_EQ(look.fault, "") << svg;
  EXPECT_TRUE(svg.starts_with("<svg xmlns=\"http://www.w3.org/2000/svg\"")) << svg.substr(0, 80);
  EXPECT_NE(svg.find("<title id=\"c1-t\">A title &amp; more</title><desc id=\"c1-d\">What is seen</desc>"),
            std::string::npos);
  std::smatch box;
  ASSERT_TRUE(std::regex_search(svg, box, std::regex("viewBox=\"0 0 360 ([0-9]+)\"")));
  for (const char* attribute : {"x", "x1", "x2", "cx"}) {
    for (const double x : numbers_after(svg, std::string(" ") + attribute)) {
      EXPECT_GE(x, 0.0) << attribute;
      EXPECT_LE(x, 360.0) << attribute;
    }
  }
  for (const char* attribute : {"y", "y1", "y2", "cy"}) {
    for (const double y : numbers_after(svg, std::string(" ") + attribute)) {
      EXPECT_GE(y, 0.0) << attribute;
      EXPECT_LE(y, std::stod(box[1])) << attribute;
    }
  }
}

// Source: advance widths of Helvetica, Adobe Font Metrics: W 0.944, M 0.833, m 0.833, G 0.778, w 0.722, a and 0 0.556
// em; svg text is of 12 units.
TEST(Chart, LabelsHaveRoomForWideLetters) {
  EXPECT_GE(text_width("W"), 12.0 * 0.944);
  EXPECT_GE(text_width("Mm"), 12.0 * (0.833 + 0.833));
  EXPECT_GE(text_width("Gwa0"), 12.0 * (0.778 + 0.722 + 0.556 + 0.556));
  EXPECT_LT(text_width("ill"), text_width("nnn"));
}

TEST(Chart, ScalesHoldTheirValues) {
  // Identity: the middle of the values lies in the middle of the drawing.
  const Scale scale = scale_over({1.0, 3.0}, 100.0, 200.0);
  EXPECT_LT(scale.low, 1.0);
  EXPECT_GT(scale.high, 3.0);
  EXPECT_NEAR(scale.at(2.0), 150.0, 1e-9);
  EXPECT_EQ(scale.within(99.0), 200.0);
  const Scale one = scale_over({4.0}, 0.0, 1.0);
  EXPECT_LT(one.low, one.high);
  EXPECT_LT(scale_over({}, 0.0, 1.0).low, 1.0);
}

// Identity: equal values stand at equal places, to the digits of the drawing.
TEST(Chart, DotsStandInTheOrderOfTheirValues) {
  IntervalChart chart;
  chart.unit = "s";
  chart.rows = {{"12", 3.8, 4.0, 4.2, "4.00"},
                {"a rather long name of somebody", 4.4, 4.5, 5.0, "4.50", true},
                {"7", 4.0, 4.0, 4.0, ""}};
  chart.reference = 4.1;
  chart.band = {4.05, 4.15};
  chart.mark_words = "usual";
  const text::Markup svg = intervals(caption, chart);
  expect_sound(svg);
  const auto x = numbers_after(svg.str(), " cx");
  ASSERT_EQ(x.size(), 3U);
  EXPECT_LT(x[0], x[1]);
  EXPECT_NEAR(x[0], x[2], 0.05);
  // Mostly the age group's: told by shape (hollow, broken), not by colour.
  EXPECT_NE(svg.str().find("class=\"hollow\""), std::string::npos);
  EXPECT_NE(svg.str().find("class=\"bar dashed\""), std::string::npos);
}

TEST(Chart, ARowOutsideAFixedAxisIsHeldAtItsEdge) {
  IntervalChart chart;
  chart.values = Scale{0.0, 100.0, 0.0, 1.0};
  chart.rows = {{"12", -20.0, 50.0, 140.0, "50"}};
  expect_sound(intervals(caption, chart));
}

TEST(Chart, SpeedRisesFromRest) {
  jobs::PlayerProfile player = fixture::full_player("12");
  for (double t = 0.5; t <= 6.0; t += 0.5) {
    player.speed_curve.push_back({t, fixture::estimate(6.0 * (1.0 - std::exp(-t)), 0.1)});
  }
  const text::Markup svg = speed_curve(caption, player);
  expect_sound(svg);
  EXPECT_NE(svg.str().find(">20 m<"), std::string::npos);
  EXPECT_EQ(svg.str().find(">30 m<"), std::string::npos);  // the fixture has no time for it
}

// Common practice, no source: a percentile that is higher stands for a shorter time.
TEST(Chart, BandsOfAgeFallWithAge) {
  const norms::Catalogue references = norms::Catalogue::builtin();
  const norms::Norm* norm = references.find("sprint-20m-emotikon");
  ASSERT_NE(norm, nullptr);
  ASSERT_TRUE(has_age_bands(*norm, runs::Sex::female, 8.6));
  const text::Markup svg = age_bands(caption, *norm, runs::Sex::female, 8.6, fixture::estimate(4.4, 0.2));
  expect_sound(svg);
  EXPECT_LT(svg.str().find(">longest 5%<"), svg.str().find(">shortest 5%<"));
  EXPECT_FALSE(has_age_bands(*norm, runs::Sex::female, 30.0));
}

TEST(Chart, AgreementShowsEveryRun) {
  jobs::TimersPair pair;
  pair.points = {{4.1, -0.2}, {4.3, -0.1}, {4.9, -0.3}};
  pair.agreement = stats::Agreement{3, -0.2, 0.1, 0.06, {-0.3, -0.1}, {-0.4, 0.0}, {-0.7, -0.2}, {-0.2, 0.3}};
  const text::Markup svg = agreement(caption, pair);
  expect_sound(svg);
  EXPECT_NE(svg.str().find(">bias -0.20<"), std::string::npos);
}

TEST(Chart, TiersMayOverlap) {
  TierChart chart;
  chart.unit = "s";
  for (std::size_t i = 0; i < 5; ++i) {
    const double middle = 4.0 + 0.1 * static_cast<double>(i);
    chart.rows.push_back({{"p" + std::to_string(i), middle - 0.1, middle, middle + 0.1, "x"}, i / 2, (i + 1) / 2});
  }
  chart.cut_after = 3;
  const text::Markup svg = tiers(caption, chart);
  expect_sound(svg);
  std::size_t brackets = 0;
  for (std::size_t at = 0; (at = svg.str().find("class=\"bracket\"", at)) != std::string::npos; ++at) {
    ++brackets;
  }
  EXPECT_EQ(brackets, 3U);
  EXPECT_NE(svg.str().find(">cut<"), std::string::npos);
}

}  // namespace
}  // namespace bagsplit::present::chart
