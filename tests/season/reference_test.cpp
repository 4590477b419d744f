// The season model beside the Python one, written apart from it, on seven invented seasons.
//
// Computed: OMP_NUM_THREADS=1 python3 tests/season/reference/compute.py (Python 3.11, numpy 1.24.2, scipy 1.10.1)
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <string>
#include <vector>

#include "bagsplit/inference/season/fit.hpp"
#include "season/reference_case.hpp"

namespace {

namespace season = bagsplit::season;
using bagsplit::test::reference_case;
using bagsplit::test::season_of;

/// What the Python model simplifies.
season::Options simplified() {
  season::Options options;
  options.straight_growth = true;
  options.slips.evening_rate = 0.0;
  return options;
}

class ReferenceSeason : public testing::TestWithParam<const char*> {
 protected:
  const nlohmann::json wanted = reference_case(GetParam());
  const season::Fit fit = season::fit_season(season_of(wanted.at("season")), simplified());
};

// Computed: compute.py (2026), see the top. Probabilities to 0.01, seconds to 0.002.
TEST_P(ReferenceSeason, TellsOfEachChildWhatPythonTells) {
  const auto changes = fit.changes();
  const auto& children = wanted.at("children");
  ASSERT_EQ(changes.size(), children.size());
  std::map<std::string, double> worst;
  const auto compare = [&](std::size_t i, const char* name, double got, double tolerance) {
    const double want = children[i].at(name);
    EXPECT_NEAR(got, want, tolerance) << GetParam() << ", child " << i + 1 << ", " << name;
    worst[name] = std::max(worst[name], std::fabs(got - want));
  };
  for (std::size_t i = 0; i < changes.size(); ++i) {
    const auto& c = changes[i];
    compare(i, "change_s", c.change_s, 0.002);
    compare(i, "growth_s", c.growth_s.mean, 0.002);
    compare(i, "beyond_s", c.beyond_growth_s.mean, 0.002);
    compare(i, "lo", c.interval_s.lo, 0.002);
    compare(i, "hi", c.interval_s.hi, 0.002);
    compare(i, "p_faster", c.p_faster, 0.01);
    compare(i, "p_slower", c.p_slower, 0.01);
    compare(i, "p_faster_worth", c.p_faster_worth, 0.01);
    compare(i, "p_slower_worth", c.p_slower_worth, 0.01);
    compare(i, "p_total_faster", c.p_total_faster, 0.01);
  }
  for (const auto& [name, difference] : worst) {
    RecordProperty(name, std::to_string(difference));
  }
}

// Computed: compute.py (2026), see the top.
TEST_P(ReferenceSeason, SaysTheSameWords) {
  const auto changes = fit.changes();
  for (std::size_t i = 0; i < changes.size(); ++i) {
    EXPECT_EQ(words(changes[i].verdict), wanted.at("children")[i].at("verdict").get<std::string>()) << i;
  }
}

// Computed: compute.py (2026), see the top. Scales to 2 % (the Python optimiser stops early), shares to 0.01.
TEST_P(ReferenceSeason, TellsOfTheSquadWhatPythonTells) {
  const auto& squad = fit.squad();
  const auto& want = wanted.at("squad");
  EXPECT_NEAR(squad.scales.form_sd, want.at("form_sd"), 0.02 * squad.scales.form_sd);
  EXPECT_NEAR(squad.scales.effort_sd, want.at("effort_sd"), 0.02 * squad.scales.effort_sd);
  EXPECT_NEAR(squad.scales.evening_sd, want.at("evening_sd"), 0.02 * squad.scales.evening_sd);
  EXPECT_NEAR(squad.share_changed, want.at("share_changed"), 0.01);
  EXPECT_NEAR(squad.usual_size, want.at("size_of_changes"), 0.001);
  EXPECT_NEAR(squad.slip_rate, want.at("slip_rate"), 0.0002);
  EXPECT_NEAR(squad.common_move.mean, want.at("common_move")[0], 0.0005);
  EXPECT_NEAR(squad.common_move.sd, want.at("common_move")[1], 0.0005);
  ASSERT_TRUE(squad.smallest_detectable);
  EXPECT_NEAR(*squad.smallest_detectable, want.at("detectable"), 0.001);
}

// Computed: compute.py (2026), see the top. Shares to 0.001, seconds (timers, devices) to 0.002.
TEST_P(ReferenceSeason, TellsOfEveningsGroundsTimersAndWindWhatPythonTells) {
  const auto& want = wanted.at("squad").at("shared");
  const std::vector<std::pair<season::Shared, const char*>> kinds{{season::Shared::evening, "evening"},
                                                                  {season::Shared::timer, "timer"},
                                                                  {season::Shared::device, "device"},
                                                                  {season::Shared::ground, "ground"}};
  for (const auto& [kind, name] : kinds) {
    const bool in_seconds = kind == season::Shared::timer || kind == season::Shared::device;
    for (std::size_t i = 0; i < want.at(name).size(); ++i) {
      const auto got = fit.shared(kind, static_cast<int>(i)).value;
      EXPECT_NEAR(got.mean, want.at(name)[i][0], in_seconds ? 0.002 : 0.001) << name << " " << i;
      EXPECT_NEAR(got.sd, want.at(name)[i][1], in_seconds ? 0.002 : 0.001) << name << " " << i;
    }
  }
  EXPECT_NEAR(fit.squad().wind_factor.value.mean, want.at("wind")[0][0], 0.005);
  EXPECT_NEAR(fit.squad().wind_factor.value.sd, want.at("wind")[0][1], 0.005);
}

// Computed: compute.py (2026), see the top.
TEST_P(ReferenceSeason, SuspectsTheSameReadings) {
  const auto suspected = fit.suspected(0.05);
  const auto& want = wanted.at("slips");
  ASSERT_EQ(suspected.size(), want.size());
  for (const auto& entry : want) {
    const int reading = entry[0];
    const auto at =
        std::find_if(suspected.begin(), suspected.end(), [&](const auto& s) { return s.reading == reading; });
    ASSERT_NE(at, suspected.end()) << "reading " << reading;
    EXPECT_NEAR(at->p, entry[1], 0.01);
  }
}

// Computed: compute.py (2026), see the top. Seconds to 0.002.
TEST_P(ReferenceSeason, PutsEachChildOnTheLastDayWherePythonDoes) {
  const auto& data = wanted.at("season");
  for (std::size_t i = 0; i < wanted.at("children").size(); ++i) {
    const auto& want = wanted.at("children")[i].at("ability");
    const auto got = fit.ability(static_cast<int>(i), data.at("reference"), data.at("days").back());
    ASSERT_EQ(got.has_value(), !want.is_null()) << i;
    if (got) {
      EXPECT_NEAR(got->time_s.mean, want[0], 0.002);
      EXPECT_NEAR(got->time_s.sd, want[1], 0.002);
    }
  }
}

INSTANTIATE_TEST_SUITE_P(Python, ReferenceSeason,
                         testing::Values("normal", "steps", "three_courses", "wind", "slips", "two_evenings", "mixed"),
                         [](const auto& which) { return std::string(which.param); });

}  // namespace
