// Which reference is taken, and what is said where there is none.
// Common practice, no source: the sentences are ours. Ages and figures: tables in data/norms.
#include "bagsplit/norms/catalogue.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <set>
#include <stdexcept>

#include "bagsplit/builtin/builtin.hpp"

namespace {

using bagsplit::norms::Catalogue;
using bagsplit::norms::Clock;
using bagsplit::norms::Kind;
using bagsplit::norms::Standing;
using bagsplit::runs::Sex;

class CatalogueTest : public ::testing::Test {
 protected:
  Catalogue catalogue_ = Catalogue::builtin();
};

bool has(const std::string& text, const std::string& part) {
  return text.find(part) != std::string::npos;
}

TEST_F(CatalogueTest, EveryEntrySaysWhoWhereWhenAndWhere) {
  std::set<std::string> ids;
  for (const auto& norm : catalogue_.norms()) {
    const auto& info = norm.info();
    EXPECT_TRUE(ids.insert(info.id).second) << info.id;
    for (const auto* text : {&info.label, &info.population, &info.country, &info.years, &info.citation, &info.licence,
                             &info.evidence, &info.quality, &info.restriction}) {
      EXPECT_FALSE(text->empty()) << info.id;
      EXPECT_FALSE(has(*text, "http")) << info.id;
    }
    EXPECT_FALSE(info.files.empty()) << info.id;
    EXPECT_EQ(info.kind == Kind::none, !info.use_by_default) << info.id;
  }
  EXPECT_GT(ids.size(), 20U);
}

TEST_F(CatalogueTest, EveryTableOfTheFolderIsListed) {
  std::set<std::string> listed;
  for (const auto& norm : catalogue_.norms()) {
    listed.insert(norm.info().files.begin(), norm.info().files.end());
  }
  for (const auto& file : bagsplit::builtin::files()) {
    if (file.name.starts_with("norms/") && file.name.ends_with(".csv")) {
      EXPECT_EQ(listed.count(std::string(file.name)), 1U) << file.name;
    }
  }
}

TEST_F(CatalogueTest, TheDefaultsAreThePublishedOnes) {
  struct Case {
    double distance_m, age_yr;
    Sex sex;
    const char* id;
  };
  // Source: recommended defaults, data/norms/README.md (norms): 20 m 8.0-9.1; 50 m 6-11; boys 12-13; bands; squads
  // 13-18
  for (const Case& c :
       {Case{20.0, 8.5, Sex::female, "sprint-20m-emotikon"}, Case{50.0, 8.5, Sex::female, "sprint-50m-japan-2017"},
        Case{50.0, 11.99, Sex::male, "sprint-50m-japan-2017"},
        Case{50.0, 12.0, Sex::male, "sprint-50m-japan-2015-boys"},
        Case{50.0, 12.0, Sex::female, "sprint-50m-japan-2015-girls-older"},
        Case{50.0, 14.0, Sex::male, "sprint-50m-japan-2015-boys-older"},
        Case{30.0, 13.0, Sex::male, "squad-30m-throwers"}, Case{60.0, 18.5, Sex::female, "squad-60m-jumpers"}}) {
    const auto choice = catalogue_.choose(c.distance_m, c.age_yr, c.sex);
    ASSERT_NE(choice.norm, nullptr) << c.id;
    EXPECT_EQ(choice.norm->info().id, c.id);
    EXPECT_TRUE(has(choice.why, choice.norm->info().label));
  }
}

TEST_F(CatalogueTest, WithoutANormThereIsASentenceAndNoNumber) {
  const auto ten = catalogue_.choose(20.0, 10.2, Sex::female);
  EXPECT_EQ(ten.norm, nullptr);
  EXPECT_EQ(ten.why,
            "No published norm is held for 20 m and girls of 10.2 years (held: German school children, 20 m, 8 to 9.1 "
            "years; never stretched beyond). Compare with the player's own history and the squad.");
  EXPECT_EQ(catalogue_.choose(40.0, 10.0, Sex::male).norm, nullptr);
  EXPECT_EQ(catalogue_.choose(30.0, 12.9, Sex::male).norm, nullptr);
  EXPECT_EQ(catalogue_.choose(20.0, std::nullopt, Sex::male).why, "No percentile without birth date in the roster.");
  EXPECT_EQ(catalogue_.choose(20.0, 8.5, std::nullopt).why, "No percentile without sex in the roster.");
  EXPECT_EQ(catalogue_.choose(20.0, std::nullopt, std::nullopt).why,
            "No percentile without birth date and sex in the roster.");
  EXPECT_THROW(catalogue_.choose(20.0, NAN, Sex::male), std::domain_error);
  EXPECT_THROW(catalogue_.choose(20.0, -1.0, Sex::male), std::domain_error);
}

TEST_F(CatalogueTest, AllThatAppliesAtAnAgeIsOffered) {
  const auto eight = catalogue_.choose_all(8.5, Sex::male);
  ASSERT_EQ(eight.size(), 2U);
  EXPECT_EQ(eight[0].norm->info().id, "sprint-20m-emotikon");
  EXPECT_EQ(eight[1].norm->info().id, "sprint-50m-japan-2017");
  const auto thirteen = catalogue_.choose_all(13.5, Sex::male);
  ASSERT_EQ(thirteen.size(), 7U);
  EXPECT_EQ(thirteen[0].norm->info().standing, Standing::norm);
  EXPECT_EQ(thirteen[1].norm->info().standing, Standing::squad);
  EXPECT_TRUE(catalogue_.choose_all(5.0, Sex::male).empty());
  EXPECT_TRUE(catalogue_.choose_all(std::nullopt, Sex::male).empty());
}

TEST_F(CatalogueTest, ATimeIsLookedUpInEveryReferenceOfItsDistance) {
  const auto found = catalogue_.lookup(50.0, 9.8, Sex::male, 9.55);
  ASSERT_GE(found.size(), 1U);
  EXPECT_EQ(found[0].norm->info().id, "sprint-50m-japan-2017");
  EXPECT_NEAR(*found[0].percentile, 50.0, 1e-6);
  EXPECT_FALSE(found[0].at_limit);
  EXPECT_TRUE(has(found[0].sentence, "Percentile 50 among Japanese school children"));
  const auto fast = catalogue_.lookup(50.0, 9.8, Sex::male, 7.0);
  EXPECT_TRUE(fast[0].at_limit);
  EXPECT_TRUE(has(fast[0].sentence, "Percentile 95 or above"));
  const auto squad = catalogue_.lookup(30.0, 15.2, Sex::female, 4.5);
  ASSERT_EQ(squad.size(), 2U);
  EXPECT_TRUE(has(squad[0].sentence, "within a German junior athletics squad (throwers)"));
  EXPECT_TRUE(has(squad[0].sentence, "Never a norm for the age"));
  const auto band = catalogue_.lookup(50.0, 15.0, Sex::female, 8.0);
  EXPECT_FALSE(band[0].percentile);
  EXPECT_TRUE(band[0].band);
  EXPECT_TRUE(has(band[0].sentence, "Faster than the mean"));
}

TEST_F(CatalogueTest, ClocksAreNeverMixedSilently) {
  const auto self = catalogue_.lookup(20.0, 8.5, Sex::male, 4.0, Clock::first_move);
  ASSERT_FALSE(self.empty());
  EXPECT_FALSE(self[0].percentile);
  EXPECT_TRUE(has(self[0].sentence, "the reaction is in it; this time is not"));
  const auto squad = catalogue_.lookup(30.0, 15.0, Sex::male, 4.4, Clock::signal);
  EXPECT_FALSE(squad[0].percentile);
  // Identity: on the same clock, a Japanese time is rounded up (+0.05 s on average), and that is said
  const auto japan = catalogue_.lookup(50.0, 9.8, Sex::male, 9.50, Clock::signal);
  EXPECT_NEAR(*japan[0].percentile, 50.0, 1e-6);
  EXPECT_TRUE(has(japan[0].sentence, "0.05 s was added"));
}

TEST_F(CatalogueTest, OtherTestsHaveTheirSentences) {
  const auto shuttle = catalogue_.lookup(36.58, 11.4, Sex::male, 10.5, Clock::as_norm, "shuttle-4x30ft");
  ASSERT_EQ(shuttle.size(), 1U);
  EXPECT_TRUE(has(shuttle[0].sentence, "Faster than the median of US pupils of 1985"));
  EXPECT_FALSE(shuttle[0].percentile);
  const auto first = catalogue_.lookup(18.288, 11.4, Sex::male, 3.5, Clock::as_norm, "home-first");
  ASSERT_EQ(first.size(), 1U);
  EXPECT_EQ(first[0].norm, nullptr);
  EXPECT_TRUE(has(first[0].sentence, "only adult professionals"));
  EXPECT_TRUE(
      has(catalogue_.lookup(0.0, 11.4, Sex::male, 0.3, Clock::as_norm, "reaction")[0].sentence, "reaction drill"));
  EXPECT_TRUE(has(catalogue_.lookup(20.0, std::nullopt, Sex::male, 4.0)[0].sentence, "birth date"));
  EXPECT_THROW(catalogue_.lookup(20.0, 8.5, Sex::male, 0.0), std::domain_error);
}

TEST_F(CatalogueTest, AskingAtOtherAgesSaysWhyNot) {
  const auto found = catalogue_.lookup(20.0, 11.0, Sex::male, 3.9);
  ASSERT_EQ(found.size(), 1U);
  EXPECT_FALSE(found[0].percentile);
  EXPECT_TRUE(has(found[0].sentence, "not stretched beyond"));
}

TEST(CatalogueLoad, ReportsABrokenIndexAndAMissingTable) {
  const auto none = [](std::string_view) -> std::optional<std::string_view> { return std::nullopt; };
  bagsplit::text::Problems problems;
  EXPECT_TRUE(Catalogue::load("{\"schema\":\"bagsplit.norms/1\"}", none, problems).norms().empty());
  ASSERT_EQ(problems.size(), 1U);
  EXPECT_EQ(problems[0].code, "missing-key");
  problems.clear();
  const auto index = bagsplit::builtin::text("norms/index.json");
  ASSERT_TRUE(index);
  Catalogue::load(*index, none, problems);
  EXPECT_GE(problems.size(), 20U);
  EXPECT_EQ(problems[0].code, "missing-norm-table");
}

}  // namespace
