// Identity: an evaluation day's and a relay night's page hold the numbers of their results, and strangers' texts as
// texts.
#include <gtest/gtest.h>

#include <algorithm>

#include "present/profile_fixture.hpp"
#include "present/report_look.hpp"

namespace bagsplit::present {
namespace {

const norms::Catalogue& references() {
  static const norms::Catalogue catalogue = norms::Catalogue::builtin();
  return catalogue;
}

jobs::Standing standing(const std::string& player, std::size_t place, jobs::CutStatus status) {
  jobs::Standing out;
  out.player = player;
  out.place = place;
  out.runs_used = 3;
  const double value = 4.0 + 0.1234567 * static_cast<double>(place);
  out.value = fixture::estimate(value, 0.0871);
  out.expected_rank = static_cast<double>(place) + 0.0625;
  out.rank_lo = static_cast<double>(place) - 0.5;
  out.rank_hi = static_cast<double>(place) + 1.5;
  out.p_in_cut = 0.123456 / static_cast<double>(place);
  out.tier = (place + 1) / 2;
  out.status = status;
  return out;
}

Report evaluation(std::size_t players) {
  Report report;
  report.kind = ReportKind::evaluation;
  jobs::StandingsResult out;
  out.by = {{jobs::Quantity::time, "first", "home-first", 1.0}};
  out.by_word = "time:first@home-first";
  out.lower_is_better = true;
  out.groups = {{"", players, 2, 3}};
  for (std::size_t i = 1; i <= players; ++i) {
    out.players.push_back(standing(i == 1 ? "<b>1</b>" : "p" + std::to_string(i), i,
                                   i == 1  ? jobs::CutStatus::in
                                   : i < 4 ? jobs::CutStatus::undecided
                                           : jobs::CutStatus::out));
  }
  out.next_runs_asked = 2;
  out.most_each = 3;
  out.next_runs = {{"p2", 2, "home-first"}};
  out.worth = jobs::RunsWorth{0.5, 0.4, 0.35};
  out.not_ranked = {{"9", "all runs flagged"}};
  out.runs_used = 3 * players;
  out.notes = {"A note."};
  out.cautions = {"Warm up."};
  report.standings = std::move(out);
  return report;
}

Report relays() {
  Report report;
  report.kind = ReportKind::relay;
  jobs::RelayResult out;
  jobs::RelayRun run;
  run.team = "<i>red";
  run.date = runs::Date(std::chrono::year(2026) / 6 / 30);
  run.total_s = 23.2612;
  for (std::size_t leg = 1; leg <= 3; ++leg) {
    jobs::RelayLeg one;
    one.leg = leg;
    one.player = leg == 3 ? "" : "p" + std::to_string(leg);
    one.course = "home-second";
    if (leg < 3) {
      one.clock_s = 7.7512 * static_cast<double>(leg);
      one.leg_s = 7.7512;
      one.leg_sd_s = 0.1041;
    }
    if (leg == 2) {
      one.exchange_s = fixture::estimate(0.3912, 0.2211);
      one.against_own_runs_s = fixture::estimate(0.0123, 0.2);
    }
    run.legs.push_back(one);
  }
  run.leg_covariance_s2 = Eigen::MatrixXd::Identity(3, 3);
  out.runs = {run};
  out.heats = {{run.date, "", 1, "<i>red", 0.15, 0.93}};
  jobs::ExpectedRelay expected;
  expected.team = "<i>red";
  expected.players = {"p1", "p2"};
  expected.courses = {"home-second", "home-second"};
  expected.total_s = fixture::estimate(23.1, 0.9);
  expected.p_win = 0.61;
  expected.best.players = {"p2", "p1"};
  expected.best.gain_s = fixture::estimate(0.08, 0.05);
  out.expected = {expected};
  out.cautions = {"Runners from both sides meet on second base."};
  report.relay = std::move(out);
  return report;
}

TEST(ReportKinds, AnEvaluationDaysNumbersAreTheStandings) {
  EXPECT_EQ(expect_numbers_of_json(evaluation(5), references()), 5U * (3 + 3 + 1));
  const std::string html = report_html(evaluation(5), references());
  for (const char* part :
       {"Evaluation day",
        "Cut at 2:", "Compared all together, 3 of 10 pairs of players are surely in this order (95% or more)", ">cut<",
        "all runs flagged", "Who should run again", "A note.", "Warm up.", "<bdi>&lt;b&gt;1&lt;/b&gt;</bdi>"}) {
    EXPECT_NE(html.find(part), std::string::npos) << part;
  }
}

// Common practice, no source: a chart is no taller than a sheet of paper.
TEST(ReportKinds, ManyPlayersAreCutIntoChartsOfAPage) {
  const test::MarkupLook look = sound_page(report_html(evaluation(200), references()));
  EXPECT_EQ(std::count(look.tags.begin(), look.tags.end(), "svg"), 7);
}

TEST(ReportKinds, ARelayNightsNumbersAreTheRelays) {
  EXPECT_GT(expect_numbers_of_json(relays(), references()), 10U);
  const std::string html = report_html(relays(), references());
  EXPECT_NE(html.find("1 relay, 1 team."), std::string::npos);
  Report two_teams = relays();  // of one relay
  two_teams.relay->runs.push_back(two_teams.relay->runs.front());
  two_teams.relay->runs.back().team = "blue";
  const std::string met = report_html(two_teams, references());
  EXPECT_NE(met.find("1 relay, 2 teams."), std::string::npos);
  EXPECT_NE(met.find("first by 0.15 s, probably"), std::string::npos);
  for (const char* part : {"Relays, 30 June 2026", "the order hardly matters", "meet on second base", "&lt;i&gt;red"}) {
    EXPECT_NE(html.find(part), std::string::npos) << part;
  }
  EXPECT_EQ(html.find("<i>"), std::string::npos);
}

TEST(ReportKinds, WithoutAnythingThePagesSaySo) {
  Report report;
  report.kind = ReportKind::relay;
  report.relay.emplace();
  EXPECT_NE(sound_page(report_html(report, references())).text.find("There is no relay in these files"),
            std::string::npos);
  report.kind = ReportKind::evaluation;
  report.standings.emplace();
  EXPECT_NE(sound_page(report_html(report, references())).text.find("Nobody can be put in an order"),
            std::string::npos);
}

}  // namespace
}  // namespace bagsplit::present
