#include "bagsplit/present/path_report.hpp"

#include <gtest/gtest.h>

#include <fstream>
#include <nlohmann/json.hpp>
#include <sstream>

#include "bagsplit/text/text_width.hpp"
#include "support/json_schema.hpp"

namespace bagsplit::present {
namespace {

using nlohmann::ordered_json;

jobs::PathPlan plan(const char* course, const basepath::Limits& limits) {
  jobs::PathQuestion question;
  question.course = *runs::find_course(runs::builtin_courses(), course);
  question.limits = limits;
  return jobs::plan_path(question);
}

const jobs::PathPlan& circuit() {
  static const jobs::PathPlan one = plan("circuit", basepath::RunnerLimits{6.2, 0.85, 5.0, 4.0});
  return one;
}

std::vector<std::string> lines_of(const std::string& text) {
  std::istringstream stream(text);
  std::vector<std::string> lines;
  for (std::string line; std::getline(stream, line);) {
    lines.push_back(line);
  }
  return lines;
}

// Common practice, no source: the names that others rely on, written out here once more.
TEST(PathReport, JsonHasTheAgreedNames) {
  const ordered_json json = ordered_json::parse(path_json(circuit()));
  EXPECT_EQ(json.at("schema"), "bagsplit.path/1");
  for (const char* name : {"total_s", "bags", "length_m", "widest_m", "straight_s", "certificate"}) {
    EXPECT_TRUE(json.contains(name)) << name;
  }
  ASSERT_EQ(json.at("bags").size(), 4U);
  const char* bags[] = {"first", "second", "third", "home"};
  for (std::size_t k = 0; k < 4; ++k) {
    const ordered_json& bag = json.at("bags").at(k);
    EXPECT_EQ(bag.at("bag"), bags[k]);
    EXPECT_TRUE(bag.at("time_s").is_number() && bag.at("speed_mps").is_number() && bag.at("heading_deg").is_number());
  }
  EXPECT_EQ(json.at("bags").at(3).at("time_s"), json.at("total_s"));
}

// Identity: what the schema in data/ promises.
TEST(PathReport, JsonKeepsToItsSchema) {
  std::ifstream file(BAGSPLIT_DATA_DIR "/schemas/path.schema.json");
  ASSERT_TRUE(file);
  const nlohmann::json schema = nlohmann::json::parse(file);
  jobs::PathPlan aged = circuit();
  aged.question.runner.kind = jobs::PathRunner::Kind::age_group;
  aged.question.runner.age_years = 11.0;
  aged.question.runner.sex = runs::Sex::female;
  aged.question.runner.source = "somewhere";
  aged.total_interval_s = inference::Estimate{13.3, 0.5, 12.5, 13.3, 14.2, std::nullopt};
  for (const jobs::PathPlan& one : {circuit(), aged, plan("home-second", basepath::PointMassLimit{3.048}),
                                    plan("home-first", basepath::RunnerLimits{6.2, 0.85, 5.0, 4.0})}) {
    const auto problems = test::SchemaCheck(schema)(nlohmann::json::parse(path_json(one)));
    EXPECT_TRUE(problems.empty()) << (problems.empty() ? "" : problems.front());
  }
}

// Identity: the points of the path, first and last at home, times ascending.
TEST(PathReport, CsvIsThePath) {
  const auto lines = lines_of(path_csv(circuit()));
  ASSERT_EQ(lines.size(), circuit().path.size() + 1);
  EXPECT_EQ(lines.front(), "time_s,x_m,y_m,speed_mps,heading_deg,along_mps2,across_mps2,towards");
  EXPECT_TRUE(lines[1].starts_with("0,0,0,0,")) << lines[1];
  EXPECT_TRUE(lines.back().ends_with(",home"));
}

// Common practice, no source: what a coach must be told.
TEST(PathReport, TextSaysWhatToDoAndWhatToMind) {
  text::TextOptions options;
  for (const std::size_t width : {40U, 80U, 120U}) {
    options.width = width;
    const std::string text = path_text(circuit(), options);
    for (const std::string& line : lines_of(text)) {
      EXPECT_LE(text::display_width(line), width) << line;
      EXPECT_FALSE(line.ends_with(' ')) << line;
    }
  }
  options.width = 200;
  const std::string text = path_text(circuit(), options);
  for (const char* part :
       {"13.32 s", "How to run it", "home to first: head", "over first at 6.1 m/s", "slow corners", "turning limit",
        "Certified", "second, as in relays", "release bases", "fielder", "league's book"}) {
    EXPECT_NE(text.find(part), std::string::npos) << part;
  }
}

// Identity: on a straight nothing is used for turning.
TEST(PathReport, AStraightSaysThatTheLateralLimitPlaysNoPart) {
  const jobs::PathPlan straight = plan("home-first", basepath::RunnerLimits{6.2, 0.85, 5.0, 4.0});
  const std::string text = path_text(straight, {});
  EXPECT_NE(text.find("The path is straight: the turning limit plays no part."), std::string::npos);
  EXPECT_EQ(text.find("How strongly"), std::string::npos);
  EXPECT_EQ(path_svg(straight).find("if the turning limit were"), std::string::npos);
}

// Identity: XML is well nested; every number is finite; a stranger's text stays text.
TEST(PathReport, SvgIsWholeAndEscapesNames) {
  jobs::PathPlan one = circuit();
  one.question.runner.kind = jobs::PathRunner::Kind::player;
  one.question.runner.player = "<b>&\"12";
  const std::string svg = path_svg(one);
  EXPECT_TRUE(svg.starts_with("<svg "));
  EXPECT_TRUE(svg.ends_with("</svg>\n"));
  EXPECT_EQ(svg.find("<b>"), std::string::npos);
  EXPECT_NE(svg.find("&lt;b&gt;&amp;&quot;12"), std::string::npos);
  for (const char* bad : {"nan", "inf\"", "\"inf"}) {
    EXPECT_EQ(svg.find(bad), std::string::npos) << bad;
  }
  for (const char* part :
       {"<title>", "<desc>", ">first<", ">second<", ">third<", ">home<", "13.32 s", "stroke-dasharray"}) {
    EXPECT_NE(svg.find(part), std::string::npos) << part;
  }
}

// Identity: nothing is told by colour, so every colour is a grey (three equal digits).
TEST(PathReport, SvgIsGrey) {
  const std::string svg = path_svg(circuit());
  std::size_t at = 0;
  int found = 0;
  while ((at = svg.find("\"#", at)) != std::string::npos) {
    EXPECT_EQ(svg[at + 2], svg[at + 3]);
    EXPECT_EQ(svg[at + 3], svg[at + 4]);
    EXPECT_EQ(svg[at + 5], '"');
    at += 5;
    ++found;
  }
  EXPECT_GT(found, 10);
}

}  // namespace
}  // namespace bagsplit::present
