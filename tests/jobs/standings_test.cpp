#include "bagsplit/jobs/standings/standings.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <sstream>
#include <stdexcept>
#include <string>
#include <vector>

#include "bagsplit/inference/prior/prior.hpp"
#include "bagsplit/jobs/profile/profile.hpp"
#include "bagsplit/jobs/standings/detail/standings_draws.hpp"
#include "bagsplit/motion/curve.hpp"
#include "bagsplit/runs/log/run_log.hpp"
#include "bagsplit/runs/roster/roster.hpp"
#include "bagsplit/stats/distributions.hpp"
#include "bagsplit/stats/random.hpp"
#include "bagsplit/stats/ranking.hpp"
#include "support/no_ages.hpp"

namespace {

using namespace bagsplit;
using jobs::Quantity;
using jobs::RankedQuantity;
using jobs::Standing;
using jobs::StandingsOptions;
using jobs::StandingsRefusal;
using jobs::StandingsResult;

const std::string header = "# base-distance: 60 ft\n# start: signal\ndate,player,course,trial,timer,first,flag\n";

StandingsOptions by(const std::string& word) {
  StandingsOptions out;
  out.by = {jobs::ranked_quantity_of(word).value()};
  return out;
}

StandingsResult order(const std::string& log_text, const StandingsOptions& options,
                      const std::string& roster_text = "player\n") {
  const auto roster = runs::read_roster(roster_text, "roster.csv");
  const auto log = runs::read_run_log(log_text, "log.csv");
  for (const auto& problem : log.problems) {
    EXPECT_NE(problem.severity, text::Severity::error) << problem.message;
  }
  auto made = jobs::standings(log.log, roster.roster, timing::DeviceBook{}, options);
  if (const auto* refusal = std::get_if<StandingsRefusal>(&made)) {
    ADD_FAILURE() << refusal->why;
    return {};
  }
  return std::get<StandingsResult>(std::move(made));
}

const Standing& of(const StandingsResult& result, const std::string& player) {
  const auto found =
      std::find_if(result.players.begin(), result.players.end(), [&](const Standing& s) { return s.player == player; });
  if (found == result.players.end()) {
    throw std::runtime_error("no player " + player + " in the order");
  }
  return *found;
}

bool says(const std::vector<std::string>& notes, const std::string& part) {
  return std::any_of(notes.begin(), notes.end(),
                     [&](const std::string& note) { return note.find(part) != std::string::npos; });
}

std::string row(int player, int trial, const std::string& timer, double time_s, const std::string& flag = "") {
  char buffer[96];
  std::snprintf(buffer, sizeof buffer, "2026-05-01,%d,home-first,%d,%s,%.2f,%s\n", player, trial, timer.c_str(), time_s,
                flag.c_str());
  return buffer;
}

// Twelve children, 0.05 s apart, so many runs each, all by one timer or in turn by two.
std::string twelve(int runs, bool two_timers) {
  std::string out = header;
  for (int player = 1; player <= 12; ++player) {
    for (int trial = 1; trial <= runs; ++trial) {
      out += row(player, trial, two_timers && player % 2 == 0 ? "RB" : "AK", 3.9 + 0.05 * player + 0.03 * (trial % 2));
    }
  }
  return out;
}

// @param first, last  names of files, as dates.
runs::RunLog demo_log(runs::Roster& roster, const std::string& first = "", const std::string& last = "9999") {
  const std::filesystem::path folder = std::filesystem::path(BAGSPLIT_DATA_DIR) / "demo";
  std::vector<std::string> names;
  for (const auto& entry : std::filesystem::directory_iterator(folder)) {
    const std::string stem = entry.path().stem();
    if (entry.path().extension() == ".csv" && stem != "roster" && stem >= first && stem <= last) {
      names.push_back(entry.path());
    }
  }
  std::sort(names.begin(), names.end());
  const auto read = [](const std::string& name) {
    std::ifstream file(name);
    std::ostringstream text;
    text << file.rdbuf();
    return text.str();
  };
  roster = runs::read_roster(read(folder / "roster.csv"), "roster.csv").roster;
  std::vector<std::string> texts;
  for (const std::string& name : names) {
    texts.push_back(read(name));
  }
  std::vector<runs::LogText> files;
  for (std::size_t i = 0; i < names.size(); ++i) {
    files.push_back({texts[i], names[i], false});
  }
  return runs::read_run_logs(files).log;
}

// A player believed N(mean, sd^2), of it on_shared^2 from one quantity that all share, N(0, 1).
jobs::detail::Belief believed(double mean, double sd, double on_shared) {
  const double z = -stats::normal_quantile(0.5 * (1.0 - jobs::detail::draw_level));
  jobs::detail::Belief out;
  out.points.resize(1);
  out.points[0].parts = {{mean, sd, mean - z * sd, mean, mean + z * sd, std::nullopt}};
  out.points[0].own = Eigen::MatrixXd::Constant(1, 1, sd * sd);
  out.points[0].about = {0};
  out.points[0].on_shared = Eigen::MatrixXd::Constant(1, 1, on_shared);
  return out;
}

// P(rank <= cut) of one among normals that are independent given a shared standard normal: two nested integrals; the
// number of others in front is a sum of independent yes and no, whose distribution is built up one by one.
double p_in_cut_by_integration(const std::vector<jobs::detail::Belief>& all, std::size_t i, std::size_t cut) {
  const double step = 0.05;
  double sum = 0.0;
  double total = 0.0;
  const auto mean = [&](std::size_t k, double g) {
    return all[k].points[0].parts[0].mean + all[k].points[0].on_shared(0, 0) * g;
  };
  const auto sd = [&](std::size_t k) {
    const double shared = all[k].points[0].on_shared(0, 0);
    return std::sqrt(all[k].points[0].own(0, 0) - shared * shared);
  };
  for (double g = -6.0; g <= 6.0; g += step) {
    for (double z = -6.0; z <= 6.0; z += step) {
      const double x = mean(i, g) + sd(i) * z;
      std::vector<double> count(all.size(), 0.0);
      count[0] = 1.0;
      for (std::size_t j = 0; j < all.size(); ++j) {
        if (j == i) {
          continue;
        }
        const double p = stats::normal_cdf((x - mean(j, g)) / sd(j));
        for (std::size_t m = all.size() - 1; m > 0; --m) {
          count[m] = count[m] * (1.0 - p) + count[m - 1] * p;
        }
        count[0] *= 1.0 - p;
      }
      double inside = 0.0;
      for (std::size_t m = 0; m < cut; ++m) {
        inside += count[m];
      }
      const double weight = std::exp(-0.5 * (g * g + z * z));
      sum += weight * inside;
      total += weight;
    }
  }
  return sum / total;
}

TEST(StandingsDraws, ProbabilitiesAgreeWithNumericalIntegration) {
  // Half of them are shifted by what is shared, half are not, as by a timer of their own.
  std::vector<jobs::detail::Belief> all;
  for (int i = 0; i < 6; ++i) {
    all.push_back(believed(4.0 + 0.04 * i, 0.06 + 0.01 * (i % 3), i % 2 == 0 ? 0.055 : 0.0));
  }
  inference::SquadFit fit;
  fit.shared_prior = {{0.0, 1.0}};
  fit.points.push_back({1.0, {}, Eigen::VectorXd::Zero(1), Eigen::MatrixXd::Identity(1, 1), {}});
  std::vector<const jobs::detail::Belief*> pointers;
  for (const auto& belief : all) {
    pointers.push_back(&belief);
  }
  constexpr std::size_t draws = 40000;
  const std::vector<double> values = jobs::detail::joint_draws(fit, pointers, 1, draws, 5, 1);
  const stats::Ranking ranking = stats::rank_draws(values, all.size(), 3, stats::Best::lowest, 0.95);
  for (std::size_t i = 0; i < all.size(); ++i) {
    // Identity: the same probability by quadrature; 4 standard errors of the draws.
    EXPECT_NEAR(ranking.p_in_cut[i], p_in_cut_by_integration(all, i, 3), 4.0 * 0.5 / std::sqrt(1.0 * draws)) << i;
  }
  EXPECT_EQ(values, jobs::detail::joint_draws(fit, pointers, 1, draws, 5, 3));
}

// Over more than four weeks a profile is of one day, the standings of all.
TEST(Standings, ValuesAreThoseOfTheProfile) {
  runs::Roster roster;
  const runs::RunLog log = demo_log(roster, "2026-04-21", "2026-05-19");
  const auto norms = norms::Catalogue::builtin();
  jobs::ProfileOptions profile_options;
  profile_options.squad = true;
  const jobs::ProfileResult profile = jobs::profile(log, roster, {}, norms, profile_options);
  for (const char* word : {"top-speed", "reaction", "path-efficiency@circuit"}) {
    StandingsOptions options = by(word);
    options.draws = 200;
    const auto made = jobs::standings(log, roster, {}, options);
    const auto& result = std::get<StandingsResult>(made);
    EXPECT_GE(result.players.size(), 11U);
    for (const Standing& player : result.players) {
      const auto& same = *std::find_if(profile.players.begin(), profile.players.end(),
                                       [&](const auto& p) { return p.player == player.player; });
      const auto& expected = *word == 't' ? same.top_speed_mps : *word == 'r' ? same.reaction_s : same.path_efficiency;
      ASSERT_TRUE(expected) << word << " of " << player.player;
      // Identity: one model, one answer, whichever command is asked.
      EXPECT_NEAR(player.value.mean, expected->mean, 1e-9 * std::abs(expected->mean))
          << word << " of " << player.player;
      EXPECT_NEAR(player.value.hi, expected->hi, 1e-6) << word << " of " << player.player;
      if (expected->share_from_data) {
        EXPECT_NEAR(player.value.share_from_data.value(), *expected->share_from_data, 1e-7);  // two ways of one sum
      }
    }
  }
}

TEST(Standings, ProbabilitiesAddUpToTheCut) {
  StandingsOptions options = by("time:first@home-first");
  options.cut = 5;
  options.next_runs = 7;
  const StandingsResult result = order(twelve(2, false), options);
  ASSERT_EQ(result.players.size(), 12U);
  double p = 0.0;
  double rank = 0.0;
  for (const Standing& player : result.players) {
    p += player.p_in_cut.value();
    rank += player.expected_rank;
    EXPECT_LE(player.rank_lo, player.rank_hi);
  }
  // Identity: five seats are taken in every draw, and the places are 1 to 12. No probability is nearer to 0 or 1 than
  // 4,000 draws can show, 3 / 4000.
  EXPECT_NEAR(p, 5.0, 12.0 * 3.0 / 4000.0);
  for (const Standing& player : result.players) {
    EXPECT_GE(*player.p_in_cut, 3.0 / 4000.0 - 1e-12);
    EXPECT_LE(*player.p_in_cut, 1.0 - 3.0 / 4000.0 + 1e-12);
  }
  EXPECT_NEAR(rank, 78.0, 1e-9);
  EXPECT_EQ(result.players.front().player, "1");
  EXPECT_EQ(result.players.back().player, "12");
  EXPECT_EQ(result.players.front().status, jobs::CutStatus::in);
  EXPECT_EQ(result.players.back().status, jobs::CutStatus::out);
  std::size_t runs = 0;
  for (const jobs::MoreRuns& more : result.next_runs) {
    runs += more.runs;
    EXPECT_LE(more.runs, 3U);
    EXPECT_EQ(of(result, more.player).status, jobs::CutStatus::undecided);
    EXPECT_EQ(more.course, "home-first");
  }
  EXPECT_EQ(runs, 7U);
  EXPECT_LT(result.worth->after, result.worth->now);
}

TEST(Standings, SameAnswerOnOneAndThreeThreads) {
  StandingsOptions options = by("time:first@home-first");
  options.cut = 4;
  const StandingsResult one = order(twelve(3, true), options);
  options.threads = 3;
  const StandingsResult three = order(twelve(3, true), options);
  for (std::size_t i = 0; i < one.players.size(); ++i) {
    // Identity: to the last bit.
    EXPECT_EQ(one.players[i].player, three.players[i].player);
    EXPECT_EQ(one.players[i].p_in_cut, three.players[i].p_in_cut);
    EXPECT_EQ(one.players[i].value.hi, three.players[i].value.hi);
  }
}

TEST(Standings, TimersWhoTimedDifferentChildrenMakeTheOrderLessSure) {
  StandingsOptions options = by("time:first@home-first");
  options.cut = 6;
  const StandingsResult one = order(twelve(4, false), options);
  const StandingsResult two = order(twelve(4, true), options);
  EXPECT_FALSE(says(one.notes, "Different timers timed different children"));
  EXPECT_TRUE(says(two.notes, "Different timers timed different children"));
  EXPECT_TRUE(says(two.notes, "AK timed 6 players, RB timed 6 players"));
  const auto doubt = [](const StandingsResult& result) {
    double sum = 0.0;
    for (const Standing& player : result.players) {
      sum += std::min(*player.p_in_cut, 1.0 - *player.p_in_cut);
    }
    return sum;
  };
  // Common practice, no source: an unknown difference of 0.07 s between two thumbs is worth more than a tenth more
  // doubt.
  EXPECT_GT(doubt(two), 1.1 * doubt(one));
  // A watch that both hold on the same runs tells their difference.
  std::string overlap = twelve(4, true);
  for (int player = 1; player <= 12; ++player) {
    for (int trial = 1; trial <= 4; ++trial) {
      overlap += row(player, trial, player % 2 == 0 ? "AK" : "RB", 3.9 + 0.05 * player + 0.03 * (trial % 2));
    }
  }
  EXPECT_FALSE(says(order(overlap, options).notes, "Different timers timed different children"));
}

// Identity: a timer's bias is in every bar and moves nobody past anybody, so more pairs are surely ordered than have
// bars that stay apart; the leaders of neighbouring tiers are among them.
TEST(Standings, PairsAreComparedJointlyNotByTheirBars) {
  const StandingsResult result = order(twelve(4, false), by("time:first@home-first"));
  ASSERT_TRUE(result.groups.front().sure_pairs.has_value());
  std::size_t apart = 0;
  for (std::size_t i = 0; i < result.players.size(); ++i) {
    for (std::size_t k = i + 1; k < result.players.size(); ++k) {
      apart += result.players[i].value.hi < result.players[k].value.lo ? 1U : 0U;
    }
  }
  EXPECT_GT(*result.groups.front().sure_pairs, apart);
  EXPECT_GE(*result.groups.front().sure_pairs, result.players.back().tier - 1);
  EXPECT_LT(*result.groups.front().sure_pairs, std::size_t{12 * 11 / 2});
  StandingsOptions official = by("time:first@home-first");
  official.method = jobs::StandingsMethod::best;
  EXPECT_FALSE(order(twelve(4, false), official).groups.front().sure_pairs.has_value());
}

TEST(Standings, OfficialTimesByTheRuleBook) {
  const std::string log =
      "# start: signal\ndate,player,course,trial,timer,1500m\n"
      "2026-05-01,1,straight,1,A,4:12.44\n2026-05-01,1,straight,1,B,4:12.54\n2026-05-01,1,straight,1,C,4:12.62\n"
      "2026-05-01,2,straight,1,A,4:12.51\n2026-05-01,2,straight,1,B,4:12.31\n"
      "2026-05-01,2,straight,2,A,4:15.00\n"
      "2026-05-01,3,straight,1,A,4:12.70\n2026-05-01,3,straight,1,B,4:12.70\n2026-05-01,3,straight,1,C,4:12.10\n"
      "2026-05-01,4,straight,1,A,4:20.00\n";
  StandingsOptions options = by("time:1500m@straight");
  options.method = jobs::StandingsMethod::best;
  options.cut = 2;
  const StandingsResult result = order(log, options);
  // Source: World Athletics Technical Rules, hand timing (former Rule 165): 4:12.44, 4:12.54, 4:12.62 give 4:12.6; two
  // that differ: the longer; two of three that agree: theirs; up to the next tenth.
  EXPECT_DOUBLE_EQ(of(result, "1").best->recorded_s, 252.6);
  EXPECT_DOUBLE_EQ(of(result, "1").best->time_s, 252.54);
  EXPECT_DOUBLE_EQ(of(result, "2").best->recorded_s, 252.6);
  EXPECT_EQ(of(result, "2").best->runs, 2U);
  EXPECT_DOUBLE_EQ(of(result, "3").best->recorded_s, 252.7);
  // Identity: equal times share a place and the next is left free.
  EXPECT_EQ(of(result, "1").place, 1U);
  EXPECT_EQ(of(result, "2").place, 1U);
  EXPECT_EQ(of(result, "3").place, 3U);
  EXPECT_TRUE(of(result, "2").best->tied);
  EXPECT_FALSE(of(result, "3").best->tied);
  EXPECT_EQ(of(result, "2").status, jobs::CutStatus::in);
  EXPECT_EQ(of(result, "3").status, jobs::CutStatus::out);
  options.cut = 1;
  EXPECT_EQ(of(order(log, options), "1").status, jobs::CutStatus::undecided);  // two for one place
}

// Source: World Athletics Technical Rules, fully automatic timing: to 0.01 s, the next slower where it is not exact.
// A camera's times are of another class and recorded alike.
TEST(Standings, OfficialTimesOfGatesAndVideoAreInHundredths) {
  const std::string rows =
      "2026-05-01,1,straight,1,4.10\n2026-05-01,2,straight,1,4.50\n2026-05-01,2,straight,2,4.61\n"
      "2026-05-01,3,straight,1,4.301\n";
  StandingsOptions options = by("time:30m@straight");
  options.method = jobs::StandingsMethod::best;
  for (const auto& [device, timing_class] :
       {std::pair{"gate", timing::TimingClass::own_start}, {"video", timing::TimingClass::video}}) {
    const StandingsResult result = order(
        std::string("# device: ") + device + "\n# start: beam 0.5 m\ndate,player,course,trial,30m\n" + rows, options);
    ASSERT_EQ(result.players.size(), 3U) << device;
    EXPECT_DOUBLE_EQ(of(result, "1").best->recorded_s, 4.10);
    EXPECT_DOUBLE_EQ(of(result, "2").best->recorded_s, 4.50);
    EXPECT_DOUBLE_EQ(of(result, "3").best->recorded_s, 4.31);
    EXPECT_EQ(of(result, "1").best->timing_class, timing_class);
    EXPECT_EQ(of(result, "1").place, 1U);
    EXPECT_EQ(of(result, "3").place, 2U);
    EXPECT_EQ(of(result, "2").place, 3U);
    EXPECT_FALSE(of(result, "1").best->tied);
  }
}

// Identity: times that the rule book records alike share a place, or, asked for, come as they were read; equal readings
// share it still.
TEST(Standings, TiesAreSharedOrComeAsTheyWereRead) {
  const std::string log = header + row(1, 1, "AK", 4.28) + row(2, 1, "AK", 4.22) + row(3, 1, "AK", 4.28) +
                          row(4, 1, "AK", 4.18) + row(5, 1, "AK", 4.31);
  StandingsOptions options = by("time:first@home-first");
  options.method = jobs::StandingsMethod::best;
  options.cut = 2;
  const StandingsResult shared = order(log, options);
  EXPECT_DOUBLE_EQ(of(shared, "1").best->recorded_s, 4.3);
  EXPECT_EQ(of(shared, "4").place, 1U);
  for (const char* id : {"1", "2", "3"}) {
    EXPECT_EQ(of(shared, id).place, 2U) << id;
    EXPECT_EQ(of(shared, id).status, jobs::CutStatus::undecided) << id;
    EXPECT_FALSE(of(shared, id).best->parted_as_read);
  }
  options.ties = jobs::Ties::as_read;
  const StandingsResult parted = order(log, options);
  EXPECT_EQ(parted.ties, jobs::Ties::as_read);
  EXPECT_EQ(of(parted, "2").place, 2U);
  EXPECT_EQ(of(parted, "2").status, jobs::CutStatus::in);
  EXPECT_FALSE(of(parted, "2").best->tied);
  EXPECT_TRUE(of(parted, "2").best->parted_as_read);
  for (const char* id : {"1", "3"}) {
    EXPECT_EQ(of(parted, id).place, 3U) << id;
    EXPECT_TRUE(of(parted, id).best->tied) << id;
    EXPECT_EQ(of(parted, id).status, jobs::CutStatus::out) << id;
  }
  EXPECT_EQ(of(parted, "5").place, 5U);
  EXPECT_FALSE(of(parted, "5").best->parted_as_read);
}

// Identity: counted by hand. Flagged runs over the course ordered by, also of those who are not in the order; the
// fewest valid runs first.
TEST(Standings, FlaggedRunsAreListedWithTheValidOnesLeft) {
  const std::string log = header + row(1, 1, "AK", 4.2) + row(1, 2, "AK", 4.3) + row(2, 1, "AK", 4.3) +
                          row(2, 2, "AK", 4.4, "false-start") + row(2, 3, "AK", 4.4, "fall") +
                          row(2, 4, "AK", 4.6, "fall") + row(3, 1, "AK", 4.9, "obstructed") +
                          "2026-05-01,1,home-first,3,AK,,absent\n2026-05-01,1,straight,1,AK,,fall\n" +
                          "2026-04-01,1,home-first,1,AK,5.0,fall\n";
  StandingsOptions options = by("time:first@home-first");
  options.window_days = 7;
  const StandingsResult result = order(log, options);
  ASSERT_EQ(result.flagged.size(), 3U);
  EXPECT_EQ(result.flagged[0].player, "3");
  EXPECT_EQ(result.flagged[0].valid_runs, 0U);
  EXPECT_EQ(result.flagged[1].player, "2");
  EXPECT_EQ(result.flagged[1].valid_runs, 1U);
  using Flagged = std::vector<std::pair<runs::Flag, std::size_t>>;
  EXPECT_EQ(result.flagged[1].flagged, (Flagged{{runs::Flag::false_start, 1}, {runs::Flag::fall, 2}}));
  EXPECT_EQ(result.flagged[2].player, "1");
  EXPECT_EQ(result.flagged[2].valid_runs, 2U);
  EXPECT_EQ(result.flagged[2].flagged, (Flagged{{runs::Flag::absent, 1}}));
}

TEST(Standings, AgeGroupsByLeagueAge) {
  const std::string roster =
      "player,sex,born\n1,F,2017-08-31\n2,F,2017-09-01\n3,F,2016-01-01\n4,M,2015-01-01\n5,M,2014-01-01\n6,M,\n";
  StandingsOptions options = by("time:first@home-first");
  options.age_groups = true;
  options.age_on = runs::Date{std::chrono::year{2026} / 8 / 31};
  options.cut = 1;
  const StandingsResult result = order(twelve(2, false), options, roster);
  // Identity: nine years are reached on the birthday itself.
  EXPECT_EQ(of(result, "1").league_age, 9);
  EXPECT_EQ(of(result, "2").league_age, 8);
  ASSERT_EQ(result.groups.size(), 5U);
  EXPECT_EQ(result.groups[0].name, "8");
  EXPECT_EQ(of(result, "2").place, 1U);
  EXPECT_DOUBLE_EQ(of(result, "2").p_in_cut.value(), 1.0);
  ASSERT_EQ(result.not_ranked.size(), 7U);
  EXPECT_EQ(result.not_ranked.front().why, "no date of birth, so no age group");
  options.age_spans = {{8, 10}};
  const StandingsResult spans = order(twelve(2, false), options, roster);
  ASSERT_EQ(spans.groups.size(), 1U);
  EXPECT_EQ(spans.groups[0].name, "8-10");
  EXPECT_EQ(spans.players.size(), 3U);
  EXPECT_EQ(spans.not_ranked.front().why, "age 11 is in none of the groups");
}

TEST(Standings, AgeAdjustedIsAZScoreAgainstThePrior) {
  const std::string roster = "player,sex,born\n1,F,2017-05-01\n2,M,2012-05-01\n3,F,\n";
  StandingsOptions options = by("top-speed");
  options.age_adjusted = true;
  const StandingsResult result = order(twelve(2, false), options, roster);
  ASSERT_EQ(result.players.size(), 2U);
  EXPECT_FALSE(result.lower_is_better);
  for (const auto& [id, age, sex] : {std::tuple("1", 9.0, runs::Sex::female), std::tuple("2", 14.0, runs::Sex::male)}) {
    const inference::Normal log_v = inference::sprint_prior(age, sex).log_top_speed;
    // Identity: mean and SD of the exponential of a normal.
    const double mean = std::exp(log_v.mean + 0.5 * log_v.sd * log_v.sd);
    const double sd = mean * std::sqrt(std::expm1(log_v.sd * log_v.sd));
    const Standing& player = of(result, id);
    EXPECT_NEAR(player.value.mean, (player.parts.at(0).value.mean - mean) / sd, 0.01) << id;
  }
  EXPECT_EQ(result.not_ranked.at(0).player, "3");
  EXPECT_EQ(result.not_ranked.at(0).why, "no age, so no norm");
}

TEST(Standings, AnIndexIsTheWeightedMeanOfItsParts) {
  StandingsOptions options;
  options.by = {jobs::ranked_quantity_of("top-speed").value(),
                jobs::ranked_quantity_of("time:first@home-first").value()};
  options.by[0].weight = 3.0;
  const StandingsResult result = order(twelve(2, false), options);
  ASSERT_EQ(result.index.size(), 2U);
  for (const Standing& player : result.players) {
    const auto z = [&](std::size_t k) {
      return (player.parts.at(k).value.mean - result.index[k].mean) / result.index[k].sd;
    };
    // Identity: a time counts the lower the better. The mean of the draws is within 5 standard errors.
    EXPECT_NEAR(player.value.mean, (3.0 * z(0) - z(1)) / 4.0, 5.0 * player.value.sd / std::sqrt(4000.0) + 0.01);
  }
  EXPECT_EQ(result.players.front().player, "1");
}

TEST(Standings, WithoutAgesTheValuesStayNearTheTruth) {
  // 150 children of nine and ten as the priors have them, one hand-timed run each, no roster: top speed 5.8 m/s (SD 8
  // %), first acceleration 6.2 m/s2 (SD 20 %), reaction 0.36 s (SD 0.1); the watch reads 0.16 s short, as the built-in
  // profile expects of one that hears the call.
  stats::RandomStream random(21);
  std::string log = header;
  double truth = 0.0;
  for (int player = 1; player <= 150; ++player) {
    const double top_mps = 5.8 * std::exp(0.08 * random.normal());
    const motion::Sprint s{top_mps, top_mps / (6.2 * std::exp(0.2 * random.normal()))};
    const double time_s = motion::time_to_distance(s, 18.288) + 0.36 + 0.1 * random.normal();
    truth += time_s / 150.0;
    log += row(player, 1, "AK", time_s - 0.16 + 0.1 * random.normal());
  }
  const StandingsResult result = order(log, by("time:first@home-first"));
  double mean = 0.0;
  double sd = 0.0;
  for (const Standing& player : result.players) {
    mean += player.value.mean / 150.0;
    sd += player.value.sd / 150.0;
  }
  // Identity: the mean of all is off by what they share alone, which each one's SD holds.
  EXPECT_NEAR(mean, truth, 2.0 * sd);
  EXPECT_LT(sd, 0.25);
}

TEST(Standings, LittleDataAndNone) {
  StandingsOptions options = by("time:first@home-first");
  options.cut = 3;
  options.next_runs = 4;
  const StandingsResult alone = order(header + row(1, 1, "AK", 4.1), options);
  ASSERT_EQ(alone.players.size(), 1U);
  // Identity: who is alone is first, and has room.
  EXPECT_DOUBLE_EQ(alone.players[0].expected_rank, 1.0);
  EXPECT_DOUBLE_EQ(alone.players[0].p_in_cut.value(), 1.0);
  EXPECT_TRUE(alone.next_runs.empty());
  EXPECT_FALSE(alone.worth);
  EXPECT_TRUE(says(alone.notes, "A cut of 3 has room for all: nothing is to be decided."));
  const StandingsResult some = order(header + row(1, 1, "AK", 4.1) + row(2, 1, "AK", 4.2, "fall"), options);
  EXPECT_EQ(some.not_ranked.at(0).why, "all runs flagged");
  EXPECT_EQ(some.first_run, std::vector<std::string>{"2"});
}

TEST(Standings, RefusesWhatNobodyTimed) {
  const auto log = runs::read_run_log(twelve(1, false), "log.csv");
  const auto why = [&](const StandingsOptions& options) {
    const auto made = jobs::standings(log.log, {}, {}, options);
    return std::holds_alternative<StandingsRefusal>(made) ? std::get<StandingsRefusal>(made).why : std::string();
  };
  EXPECT_EQ(why(by("time:second@circuit")),
            "nothing was timed as 'time:second@circuit'. There are: time:first@home-first");
  EXPECT_NE(why(by("path-efficiency")), "");
  StandingsOptions best = by("reaction");
  best.method = jobs::StandingsMethod::best;
  EXPECT_NE(why(best), "");
  StandingsOptions no_cut = by("reaction");
  no_cut.next_runs = 3;
  EXPECT_THROW(jobs::standings(log.log, {}, {}, no_cut), std::domain_error);
  EXPECT_FALSE(jobs::ranked_quantity_of("reaction@circuit"));
  EXPECT_FALSE(jobs::ranked_quantity_of("time:@circuit"));
  EXPECT_FALSE(jobs::ranked_quantity_of("speed"));
  EXPECT_EQ(jobs::word_of(jobs::ranked_quantity_of("time:20m@straight").value()), "time:20m@straight");
}

// Regression: four of these ten were left out as not certified, since the squad's fit swung to and fro.
TEST(Standings, WithoutAnyAgeAllAreInTheOrder) {
  const StandingsResult result = order(bagsplit_test::no_ages_log, by("top-speed"));
  EXPECT_EQ(result.players.size(), 10U);
  EXPECT_TRUE(result.not_ranked.empty());
  EXPECT_FALSE(says(result.notes, "before it settled"));
}

}  // namespace
