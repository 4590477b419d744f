// Words that never stand where a coach, a child or a parent reads; and numbers and marks there are those for programs.
// Source: the project's own lists of words (common practice of talking with families, no source beyond it).
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <functional>
#include <nlohmann/json.hpp>
#include <regex>
#include <set>

#include "support/process.hpp"

namespace bagsplit::test {
namespace {

Surroundings here() {
  Surroundings out;
  out.program = BAGSPLIT_PROGRAM;
  out.data = BAGSPLIT_DATA_DIR;
  return out;
}

// For nobody but trainers: terms of statistics and mechanics, options, codes of files, dates as 06-23.
const char* const never_for_a_coach =
    R"((^|[^A-Za-z])(percentiles?|quantiles?|medians?|means?|intervals?|confidence|credible|probabilit(y|ies)|p-value|)"
    R"(significan(t|ce)|posteriors?|priors?|shrunken|models?|residuals?|bias|estimates?|parameters?|converged|seed|)"
    R"(draws|scatter|efficiency|time constant|tau|lateral|yardstick|Not told yet)([^A-Za-z]|$))"
    R"(|m/s2|P\(|\+-|[a-z]+-(stop|reverse|from-rest)|(^| )--[a-z]|\[[a-z-]+\]|(^|[^0-9-])0[1-9]-[0-3][0-9]([^0-9-]|$))";
// Of a child to the child or a parent.
const char* const never_of_a_child =
    R"((^|[^A-Za-z])(slow|slower|slowest|weak|poor|bad|below|worst|fails|lazy|problem|deficit|rank|ranked|surely|)"
    R"(should be at|for a girl|for a boy|left foot|right foot|behind the others|still|again|your place)([^A-Za-z]|$))";

// What a reader sees or hears of a page.
std::string words_of(const std::string& html) {
  std::string out;
  bool in_tag = false;
  for (std::size_t k = 0; k < html.size(); ++k) {
    if (html.compare(k, 7, "<style>") == 0) {
      k = html.find("</style>", k);
    }
    if (html[k] == '<') {
      in_tag = true;
      out += ' ';
    } else if (html[k] == '>') {
      in_tag = false;
    } else if (!in_tag) {
      out += html[k];
    }
  }
  return out;
}

// The first place where something stands that should not; empty: nowhere.
std::string found(const std::string& text, const char* never) {
  std::smatch at;
  if (!std::regex_search(text, at, std::regex(never, std::regex::icase))) {
    return {};
  }
  const auto from = static_cast<std::size_t>(std::max<std::ptrdiff_t>(0, at.position() - 40));
  return text.substr(from, 100);
}

// The demo season, and the same with a slip of a second, a posture typed wrong, a swapped bib and a missing mark.
class Words : public ::testing::TestWithParam<bool> {
 protected:
  Words() : place_(here()) {}
  Outcome run(const std::string& script) {
    const std::string dirt = !GetParam()
                                 ? "true"
                                 : "sed -i 's/^\\(2026-06-23,12,circuit,1,AK,.*\\),7.56,/\\1,8.56,/; "
                                   "s/^2026-06-23,14,/2026-06-23,41,/; s/,prone,/,standing,/' "
                                   "season/2026-06-23.csv; sed -i 's/,5.92,9.73,/,,9.73,/' season/2026-05-12.csv";
    const Outcome made = place_.run("cp -r data/demo season && chmod -R u+w season;" + dirt, "");
    EXPECT_EQ(made.exit_code, 0) << made.err;
    return place_.run(script, "");
  }
  std::string file(const std::string& name) const { return read_file(place_.folder() / name); }

  Workplace place_;
};

INSTANTIATE_TEST_SUITE_P(Season, Words, ::testing::Bool(),
                         [](const auto& instance) { return instance.param ? "dirty" : "clean"; });

TEST_P(Words, OfACoachAreACoachs) {
  const Outcome screen = run("bagsplit profile season 2>/dev/null");
  ASSERT_EQ(screen.exit_code, 0);
  std::string said = screen.out;
  said.erase(said.rfind("\n", said.size() - 2));  // the last line may show a command
  EXPECT_EQ(found(said, never_for_a_coach), "");
  const Outcome pages = place_.run(
      "bagsplit report season -o squad.html 2>/dev/null && bagsplit report season season/relay --relay -o relay.html "
      "2>/dev/null",
      "");
  ASSERT_EQ(pages.exit_code, 0);
  const std::string squad = file("squad.html");
  const std::size_t trainers = squad.find("<details");
  ASSERT_NE(trainers, std::string::npos);
  EXPECT_EQ(found(words_of(squad.substr(0, trainers)), never_for_a_coach), "");
  EXPECT_EQ(found(words_of(file("relay.html")), never_for_a_coach), "");
}

TEST_P(Words, OfAChildAreAChilds) {
  const Outcome made =
      run("bagsplit report season --each --output pages/ 2>/dev/null && "
          "bagsplit report season --each --places --output places/ 2>/dev/null");
  ASSERT_EQ(made.exit_code, 0);
  std::size_t pages = 0;
  for (const char* folder : {"pages", "places"}) {
    for (const auto& entry : std::filesystem::directory_iterator(place_.folder() / folder)) {
      if (entry.path().filename() == "index.html") {
        continue;
      }
      ++pages;
      // Citations are the publishers' words.
      const std::string said =
          words_of(std::regex_replace(read_file(entry.path()), std::regex("<p class=\"small\">Source:[^<]*</p>"), " "));
      EXPECT_EQ(found(said, never_for_a_coach), "") << entry.path();
      EXPECT_EQ(found(said, never_of_a_child), "") << entry.path();
    }
  }
  EXPECT_GE(pages, 28U);
  const Outcome notes = place_.run(
      "bagsplit profile season --note $(for id in 3 5 7 8 11 12 14 17 19 22 24 27 31 40; do echo --player $id; done) "
      "2>/dev/null",
      "");
  EXPECT_GT(notes.out.size(), 14U * 60U);
  EXPECT_EQ(found(notes.out, never_for_a_coach), "");
  EXPECT_EQ(found(notes.out, never_of_a_child), "");
}

// Identity: every number with two decimals in a child's words, pictures and tables is one of the page's JSON, rounded.
TEST_P(Words, NumbersOfAChildsPageAreThoseForPrograms) {
  const Outcome made =
      run("bagsplit report season --player 12 --player 5 -o page.html 2>/dev/null && "
          "bagsplit report season --player 12 --player 5 --format json -o page.json 2>/dev/null");
  ASSERT_EQ(made.exit_code, 0);
  std::set<std::string> known;
  const std::function<void(const nlohmann::json&)> collect = [&](const nlohmann::json& json) {
    if (json.is_number()) {
      char text[64];
      std::snprintf(text, sizeof text, "%.2f", std::fabs(json.get<double>()));
      known.insert(text);
    }
    for (const auto& part : json.is_structured() ? json : nlohmann::json::array()) {
      collect(part);
    }
  };
  collect(nlohmann::json::parse(file("page.json")));
  known.insert("0.00");  // a cost below nothing is shown as nothing
  const std::string said = words_of(file("page.html"));
  const std::regex number(R"([0-9]+\.[0-9][0-9])");
  std::size_t numbers = 0;
  for (std::sregex_iterator at(said.begin(), said.end(), number), end; at != end; ++at) {
    ++numbers;
    EXPECT_TRUE(known.contains(at->str())) << at->str();
  }
  EXPECT_GT(numbers, 40U);
}

TEST(WordLists, FindWhatTheyAreFor) {
  for (const char* wrong : {"the median is", "a 90% interval", "by 5 m/s2", "ask --window 3", "on 06-23 she", "P(in)",
                            "second-reverse", "0.24 +-0.08", "[slip]"}) {
    EXPECT_NE(found(wrong, never_for_a_coach), "") << wrong;
  }
  for (const char* fine : {"Meanwhile you ran", "2026-06-23", "give or take 0.08", "third to home"}) {
    EXPECT_EQ(found(fine, never_for_a_coach), "") << fine;
  }
  EXPECT_NE(found("You are slower.", never_of_a_child), "");
  EXPECT_EQ(found("free behind the finish", never_of_a_child), "");
}

}  // namespace
}  // namespace bagsplit::test
