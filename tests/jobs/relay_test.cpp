// Relays on small logs whose answers are known in closed form.
#include "bagsplit/jobs/relay/relay.hpp"
#include "bagsplit/jobs/relay/relay_season.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <string>

#include "bagsplit/inference/squad/squad_settled.hpp"
#include "bagsplit/jobs/relay/detail/relay_world.hpp"
#include "bagsplit/motion/curve.hpp"
#include "bagsplit/runs/log/run_log.hpp"
#include "bagsplit/stats/distributions.hpp"
#include "support/digits.hpp"

namespace {

using namespace bagsplit;
using jobs::RelayLeg;
using jobs::RelayResult;
using jobs::RelayRun;

const std::string header =
    "# base-distance: 60 ft\n# start: signal\ndate,team,leg,player,course,trial,timer,first,second,flag\n";

// Everything known but what the test says: V = 6 m/s, tau = 1 s, losses 0.3 and 0.8 s, reaction 0.25 s, no bias.
std::string model(const std::string& error) {
  return R"({"prior":{"log_top_speed":{"mean":1.791759469228055,"sd":0},"log_time_constant":{"mean":0,"sd":0},)"
         R"("late_slowing_per_s":{"mean":0,"sd":0},"reaction_s":{"mean":0.25,"sd":0},"segment_loss_s":{"first":{"mean":0.3,"sd":0},"second-stop":{"mean":0.8,"sd":0}}},)"
         R"("error":{"bias_s":0,)" +
         error + "}}";
}
const std::string exact = R"("effort_cv":0,"day_cv":0,"reaction_sd_s":0,"start_sd_s":0,"split_sd_s":0.0001)";

double moving_s() {
  return motion::time_to_distance({6.0, 1.0}, 2 * 60 * 0.3048) + 1.1;
}

jobs::RelayOptions with(const std::string& model_text) {
  jobs::RelayOptions options;
  text::Problems wrong;
  options.model = inference::read_model(model_text, "model.json", wrong);
  EXPECT_TRUE(wrong.empty());
  options.squad = false;
  return options;
}

RelayResult relay_of(const std::string& log_text, const jobs::RelayOptions& options = {},
                     text::Problems* problems = nullptr) {
  const runs::RunLogResult log = runs::read_run_log(log_text, "log.csv");
  EXPECT_FALSE(text::has_errors(log.problems)) << (log.problems.empty() ? "" : log.problems.front().message);
  text::Problems found;
  RelayResult result = jobs::relay(log.log, {}, timing::DeviceBook(), options, problems != nullptr ? *problems : found);
  EXPECT_TRUE(found.empty()) << (found.empty() ? "" : found.front().message);
  return result;
}

// Two children who strolled home-second: times (made up) so far from any prior that the squad's fit does not settle.
std::string strolled() {
  std::string log = header;
  const char* const times[] = {"24.09,27.12", "24.27,27.55", "28.30,31.36",
                               "24.00,27.03", "25.90,29.22", "23.36,26.83"};
  for (int k = 0; k < 6; ++k) {
    log += std::string(k % 3 == 1 ? "2026-05-02,,," : "2026-05-01,,,") + std::to_string(1 + k / 3) + ",home-second," +
           std::to_string(1 + k % 3) + ",AK," + times[k] + ",\n";
  }
  return log;
}

// Identity: what is said of a squad's fit that did not settle is said where a relay stands on it, and only there.
TEST(Relay, ASquadsFitThatDidNotSettleIsNoted) {
  const auto noted = [](const RelayResult& result) {
    return std::find(result.notes.begin(), result.notes.end(), inference::unsettled_squad) != result.notes.end();
  };
  const std::string raced =
      strolled() + "2026-06-01,red,1,1,home-second,1,AK,,13.30,\n2026-06-01,red,2,2,home-second,1,AK,,26.50,\n";
  jobs::RelayOptions in_full;  // every reading: a slip would explain these times, and the fit would settle
  in_full.model.error.slip = inference::SlipPrior{};
  EXPECT_TRUE(noted(relay_of(raced, in_full)));
  jobs::RelayOptions alone;
  alone.squad = false;
  EXPECT_FALSE(noted(relay_of(raced, alone)));
}

// Identity: with one watch and independent presses a middle leg has variance 2 s^2, neighbours -s^2, the first leg
// start^2 + s^2, and the sum of all variances and covariances is that of the total, start^2 + s^2.
TEST(Relay, AReadingEntersTheTwoLegsItPartsWithOppositeSigns) {
  const RelayResult result =
      relay_of(header +
                   "2026-06-01,red,1,1,home-second,1,AK,,8.10,\n2026-06-01,red,2,2,home-second,1,AK,,16.30,\n"
                   "2026-06-01,red,3,3,home-second,1,AK,,24.20,\n",
               with(model(R"("effort_cv":0,"day_cv":0,"reaction_sd_s":0,"start_sd_s":0.06,"split_sd_s":0.05)")));
  ASSERT_EQ(result.runs.size(), 1U);
  const RelayRun& run = result.runs[0];
  EXPECT_EQ(run.total_s, 24.2);
  EXPECT_EQ(run.legs[0].leg_s, 8.1);
  EXPECT_EQ(run.legs[1].leg_s, 8.2);
  EXPECT_EQ(run.legs[2].leg_s, 7.9);
  const Eigen::MatrixXd& c = run.leg_covariance_s2;
  EXPECT_NEAR(c(0, 0), 0.0036 + 0.0025, 1e-7);
  EXPECT_NEAR(c(1, 1), 0.0050, 1e-7);
  EXPECT_NEAR(c(0, 1), -0.0025, 1e-7);
  EXPECT_NEAR(c(1, 2), -0.0025, 1e-7);
  EXPECT_NEAR(c(0, 2), 0.0, 1e-7);
  EXPECT_NEAR(c.sum(), run.total_sd_s * run.total_sd_s, 1e-9);
  EXPECT_NEAR(run.total_sd_s, std::hypot(0.06, 0.05), 1e-6);
}

// Identity: where speed, losses and scatter are known, the exchange is the leg less the moving time; the first leg has
// none.
TEST(Relay, TheExchangeIsWhatRemainsOfTheLeg) {
  const double m = moving_s();
  std::string log = header;
  for (const char* id : {"1", "2", "3"}) {
    log += std::string("2026-05-01,,,") + id + ",home-second,1,AK,," + std::to_string(0.25 + m) + ",\n";
  }
  log += "2026-06-01,red,1,1,home-second,1,AK,," + std::to_string(0.25 + m) + ",\n";
  log += "2026-06-01,red,2,2,home-second,1,AK,," + std::to_string(0.25 + m + 0.4 + m) + ",\n";
  log += "2026-06-01,red,3,3,home-second,1,AK,," + std::to_string(0.25 + m + 0.4 + m + 0.1 + m) + ",\n";
  const RelayResult result = relay_of(log, with(model(exact)));
  const RelayRun& run = result.runs.at(0);
  EXPECT_FALSE(run.legs[0].exchange_s);
  ASSERT_TRUE(run.legs[1].exchange_s && run.legs[2].exchange_s);
  EXPECT_NEAR(run.legs[1].exchange_s->mean, 0.4, 1e-3);
  EXPECT_NEAR(run.legs[2].exchange_s->mean, 0.1, 1e-3);
  EXPECT_GT(*run.legs[1].exchange_s->share_from_data, 0.99);
  EXPECT_NEAR(run.legs[0].against_own_runs_s->mean, 0.0, 1e-3);
  EXPECT_NEAR(run.legs[1].against_own_runs_s->mean, 0.15, 1e-3);
  EXPECT_NEAR(run.legs[2].against_own_runs_s->mean, -0.15, 1e-3);
  EXPECT_FALSE(run.legs[1].exchange_and_loss_s);
}

// Identity: without own runs only the leg less a straight sprint is known: exchange and losses together.
TEST(Relay, WithoutOwnRunsOnlyTheSumIsTold) {
  const double m = moving_s();
  const RelayResult result =
      relay_of(header + "2026-06-01,red,1,1,home-second,1,AK,,8.10,\n2026-06-01,red,2,2,home-second,1,AK,," +
                   std::to_string(8.10 + 0.4 + m) + ",\n",
               with(model(exact)));
  const RelayLeg& leg = result.runs.at(0).legs.at(1);
  EXPECT_FALSE(leg.exchange_s);
  EXPECT_FALSE(leg.against_own_runs_s);
  ASSERT_TRUE(leg.exchange_and_loss_s);
  EXPECT_NEAR(leg.exchange_and_loss_s->mean, 0.4 + 1.1, 1e-3);
  EXPECT_TRUE(std::any_of(result.notes.begin(), result.notes.end(), [](const std::string& note) {
    return note.find("cannot be told apart") != std::string::npos;
  }));
}

// Identity: a missing reading leaves the sum of the two legs, 16.30 - 8.10 over the third; the total is not touched.
TEST(Relay, AMissingReadingLeavesTheSumOfTwoLegs) {
  const RelayResult result =
      relay_of(header +
               "2026-06-01,red,1,1,home-second,1,AK,,8.10,\n2026-06-01,red,2,2,home-second,1,AK,12.0,,\n"
               "2026-06-01,red,3,3,home-second,1,AK,,24.40,\n");
  const RelayRun& run = result.runs.at(0);
  EXPECT_EQ(run.legs[0].leg_s, 8.1);
  EXPECT_FALSE(run.legs[1].leg_s);
  EXPECT_FALSE(run.legs[2].leg_s);
  EXPECT_FALSE(run.legs[1].exchange_s || run.legs[2].against_own_runs_s);
  EXPECT_EQ(run.legs[2].together_from, 2U);
  EXPECT_EQ(run.legs[2].together_s, 16.3);
  EXPECT_FALSE(run.legs[1].together_s);
  EXPECT_EQ(run.total_s, 24.4);
}

// Identity: laps add up to the team's clock; two watches that agree but for a shift give their mean.
TEST(Relay, LapsAndSecondWatchesTellTheSameLegs) {
  const RelayResult laps = relay_of(
      "# splits: lap\n# base-distance: 60 ft\ndate,team,leg,player,course,trial,timer,first,second\n"
      "2026-06-01,red,1,1,home-second,1,AK,4.0,4.1\n2026-06-01,red,2,2,home-second,1,AK,4.2,4.0\n");
  EXPECT_EQ(laps.runs.at(0).legs[0].leg_s, 8.1);
  EXPECT_EQ(laps.runs.at(0).legs[1].leg_s, 8.2);
  EXPECT_EQ(laps.runs.at(0).total_s, 16.3);
  const RelayResult two =
      relay_of(header +
                   "2026-06-01,red,1,1,home-second,1,AK,,8.10,\n2026-06-01,red,2,2,home-second,1,AK,,16.30,\n"
                   "2026-06-01,red,1,1,home-second,1,RB,,8.20,\n2026-06-01,red,2,2,home-second,1,RB,,16.40,\n",
               with(model(R"("effort_cv":0,"day_cv":0,"reaction_sd_s":0,"start_sd_s":0.06,"split_sd_s":0.05)")));
  EXPECT_NEAR(*two.runs.at(0).legs[0].leg_s, 8.15, 1e-6);
  EXPECT_NEAR(*two.runs.at(0).legs[1].leg_s, 8.2, 1e-6);
  EXPECT_NEAR(two.runs.at(0).leg_covariance_s2(1, 1), 0.0025, 1e-7);
}

// Identity: with speeds known, a total's variance is that of effort, form, reaction and exchanges; two teams'
// difference is normal, and what all share (here the exchanges' common part) cancels in it.
TEST(Relay, WinProbabilityOfTwoTeamsIsTheClosedForm) {
  std::string log = "# base-distance: 60 ft\ndate,team,leg,player,course,trial,timer,home,second\n";
  log += "2026-06-01,red,1,1,home-second,1,AK,,8.1\n2026-06-01,red,2,2,second-home,1,AK,16.5,\n";
  log += "2026-06-01,blue,1,3,home-second,1,AK,,8.1\n2026-06-01,blue,2,4,home-second,1,AK,,16.5\n";
  const std::string text =
      R"({"prior":{"log_top_speed":{"mean":1.791759469228055,"sd":0},"log_time_constant":{"mean":0,"sd":0},)"
      R"("late_slowing_per_s":{"mean":0,"sd":0},"reaction_s":{"mean":0.25,"sd":0},"segment_loss_s":{"first":{"mean":0.3,"sd":0},"second-stop":{"mean":0.8,"sd":0},)"
      R"("third-from-rest":{"mean":0.2,"sd":0},"home":{"mean":0.5,"sd":0}}},)"
      R"("error":{"bias_s":0,"effort_cv":0.03,"day_cv":0.02,"reaction_sd_s":0.05,"start_sd_s":0.05,"split_sd_s":0.05}})";
  jobs::RelayOptions options = with(text);
  options.orders = {{"red", {"1", "2"}}, {"blue", {"3", "4"}}};
  options.draws = 400000;
  // The exchanges seen tell something of those to come, of both teams alike but for the legs' courses: look ahead
  // without them.
  const std::string alone =
      "# base-distance: 60 ft\ndate,player,course,second\n2026-06-01,1,home-second,8.6\n2026-06-01,2,home-second,8.6\n"
      "2026-06-01,3,home-second,8.6\n2026-06-01,4,home-second,8.6\n";
  options.course = "home-second";
  RelayResult result = relay_of(alone, options);
  ASSERT_EQ(result.expected.size(), 2U);
  EXPECT_NEAR(*result.expected[0].p_win, 0.5, 0.004);
  const double t = motion::time_to_distance({6.0, 1.0}, 2 * 60 * 0.3048);
  const double leg = (0.03 * 0.03 + 0.02 * 0.02) * t * t;
  const double exchange =
      jobs::exchange_own_sd_s * jobs::exchange_own_sd_s + jobs::exchange_scatter_s * jobs::exchange_scatter_s;
  const double one = 2.0 * leg + 0.05 * 0.05 + exchange + jobs::exchange_common_sd_s * jobs::exchange_common_sd_s;
  EXPECT_NEAR(result.expected[0].total_s.mean, 0.5 + 2.0 * (t + 1.1), 1e-6);
  EXPECT_NEAR(result.expected[0].total_s.sd, std::sqrt(one), 1e-6);
  EXPECT_TRUE(result.swapped.empty());  // one course for both: nothing to swap

  // Another course for one team makes a difference of known size.
  options.course.reset();
  options.orders.clear();
  result = relay_of(log, options);
  ASSERT_EQ(result.expected.size(), 2U);
  EXPECT_EQ(result.expected[0].team, "blue");
  EXPECT_GT(*result.expected[1].p_win, *result.expected[0].p_win);  // 0.4 s less is lost from second home
  EXPECT_NEAR(*result.expected[0].p_win + *result.expected[1].p_win, 1.0, 1e-12);
  // With the sides swapped these 0.4 s change hands, and nothing else does.
  ASSERT_EQ(result.swapped.size(), 2U);
  EXPECT_EQ(result.swapped[0].courses, result.expected[1].courses);
  EXPECT_EQ(result.swapped[0].players, result.expected[0].players);
  EXPECT_NEAR(result.swapped[0].total_s.mean, result.expected[0].total_s.mean - 0.4, 1e-6);
  EXPECT_NEAR(result.swapped[1].total_s.mean, result.expected[1].total_s.mean + 0.4, 1e-6);
  EXPECT_GT(*result.swapped[0].p_win, *result.expected[0].p_win);
}

// Identity: one watch that stops for the first team and is read again for the other has one press at the start, which
// falls out of the margin: Phi(margin / sqrt(2 stop^2)); two named watches have one each: Phi(margin / sqrt(2 stop^2 +
// 2 start^2)). A watch that nobody is named for is one where the coach calls and times.
TEST(Relay, OneWatchForTwoTeamsHasOneStartPress) {
  const auto known = with(model(R"("effort_cv":0,"day_cv":0,"reaction_sd_s":0,"start_sd_s":0.12,"split_sd_s":0.05)"));
  const auto p_first = [&](const std::string& red, const std::string& blue, const std::string& signal) {
    const RelayResult result = relay_of(signal + header + "2026-06-01,red,1,1,home-second,1," + red +
                                            ",,8.10,\n2026-06-01,red,2,2,home-second,1," + red +
                                            ",,16.20,\n2026-06-01,blue,1,3,home-second,1," + blue +
                                            ",,8.15,\n2026-06-01,blue,2,4,home-second,1," + blue + ",,16.30,\n",
                                        known);
    EXPECT_EQ(result.heats.size(), 1U);
    EXPECT_EQ(result.heats.at(0).first, "red");
    return result.heats.at(0).p_first;
  };
  const double one = stats::normal_cdf(0.1 / (std::sqrt(2.0) * 0.05));
  const double two = stats::normal_cdf(0.1 / (std::sqrt(2.0) * std::hypot(0.05, 0.12)));
  EXPECT_NEAR(p_first("AK", "AK", ""), one, 1e-6);
  EXPECT_NEAR(p_first("AK", "RB", ""), two, 1e-6);
  EXPECT_NEAR(p_first("", "", "# signal: mine\n"), one, 1e-6);
}

// Identity: a bias that both teams' runs were timed with moves neither's chance; it widens each total.
TEST(Relay, SharedBiasCancels) {
  std::string log = "# base-distance: 60 ft\n# start: signal\ndate,player,course,second\n";
  for (const char* id : {"1", "2", "3", "4"}) {
    for (const char* time : {"8.40", "8.52", "8.46"}) {
      log += std::string("2026-05-01,") + id + ",home-second," + time + "\n";
    }
  }
  jobs::RelayOptions options;
  options.orders = {{"red", {"1", "2"}}, {"blue", {"3", "4"}}};
  options.course = "home-second";
  const RelayResult result = relay_of(log, options);
  EXPECT_NEAR(*result.expected[0].p_win, 0.5, 0.01);
  EXPECT_FALSE(result.expected[0].best.matters);  // the four ran the same times
}

TEST(Relay, SaysWhatMakesARelayUnreadable) {
  // Common practice, no source: our own checks.
  const auto code = [](const std::string& rows) {
    text::Problems problems;
    const RelayResult result = relay_of(header + rows, {}, &problems);
    EXPECT_TRUE(result.runs.empty());
    return problems.empty() ? std::string() : problems.front().code;
  };
  EXPECT_EQ(code("2026-06-01,red,1,1,home-second,1,AK,,8.10,\n2026-06-01,red,1,2,home-second,1,AK,,8.20,\n"),
            "leg-twice");
  EXPECT_EQ(code("2026-06-01,red,1,1,home-second,1,AK,,8.10,\n2026-06-01,blue,1,1,home-second,1,AK,,8.20,\n"),
            "player-in-two-teams");
  EXPECT_EQ(code("2026-06-01,red,1,1,home-second,1,AK,,8.10,\n2026-06-01,red,2,2,home-second,1,AK,,8.05,\n"),
            "relay-clock");
  EXPECT_EQ(code("2026-06-01,,1,1,home-second,1,AK,,8.10,\n"), "leg-without-team");
}

const std::string circuits = "# base-distance: 60 ft\ndate,team,leg,player,course,timer,home,flag\n";

RelayResult with_suspicions(const std::string& rows, text::Problems& problems) {
  const runs::RunLogResult log = runs::read_run_log(circuits + rows, "log.csv");
  EXPECT_FALSE(text::has_errors(log.problems));
  return jobs::relay(log.log, {}, timing::DeviceBook(), {}, problems);
}

// Common practice, no source: a leg of 31.3 s beside five of 15.2 to 15.9 s is suspicious. Identity: its time and the
// total stand; what is expected of that team is what is expected where the leg is flagged by hand.
TEST(Relay, ALegFarFromTheSquadsIsSuspiciousAndConcludesNothing) {
  const std::string legs =
      "2026-04-11,red,1,A,circuit,K,15.2,\n2026-04-11,red,2,B,circuit,K,31.1,\n2026-04-11,red,3,C,circuit,K,46.9,\n"
      "2026-04-11,blue,1,D,circuit,K,15.5,\n2026-04-11,blue,2,E,circuit,K,31.0,\n2026-04-11,blue,3,F,circuit,K,62.3,";
  text::Problems problems;
  const RelayResult result = with_suspicions(legs + "\n", problems);
  ASSERT_EQ(problems.size(), 1U);
  EXPECT_EQ(problems[0].code, "relay-leg");
  EXPECT_EQ(problems[0].severity, text::Severity::suspicion);
  EXPECT_EQ(problems[0].line, 8U);
  ASSERT_EQ(result.runs.size(), 2U);
  const RelayLeg& leg = result.runs[0].legs[2];
  EXPECT_NEAR(leg.leg_s.value(), 31.3, 1e-6);
  EXPECT_NEAR(leg.squad_leg_s.value(), 15.65, 1e-6);
  EXPECT_FALSE(leg.exchange_and_loss_s);
  EXPECT_NEAR(result.runs[0].total_s.value(), 62.3, 1e-6);
  EXPECT_FALSE(result.runs[0].legs[1].squad_leg_s);
  text::Problems none;
  const RelayResult flagged = with_suspicions(legs + "fall\n", none);
  EXPECT_TRUE(none.empty());
  ASSERT_EQ(result.expected.size(), 2U);
  for (std::size_t t = 0; t < 2; ++t) {
    EXPECT_NEAR(result.expected[t].total_s.mean, flagged.expected[t].total_s.mean, 1e-9);
    EXPECT_LT(result.expected[t].total_s.mean, 50.0);
  }
}

// Common practice, no source: one reading written down wrongly spoils the legs at both sides of it; a slow child does
// not make a suspicion.
TEST(Relay, AReadingInDoubtSpoilsBothItsLegsAndASlowChildIsNone) {
  text::Problems problems;
  const RelayResult wrong = with_suspicions(
      "2026-04-11,red,1,A,circuit,K,15.2,\n2026-04-11,red,2,B,circuit,K,31.1,\n2026-04-11,red,3,C,circuit,K,46.9,\n"
      "2026-04-11,blue,1,D,circuit,K,15.5,\n2026-04-11,blue,2,E,circuit,K,38.5,\n2026-04-11,blue,3,F,circuit,K,46.5,\n",
      problems);
  EXPECT_EQ(problems.size(), 2U);
  EXPECT_FALSE(wrong.runs[0].legs[0].squad_leg_s);
  EXPECT_TRUE(wrong.runs[0].legs[1].squad_leg_s);
  EXPECT_TRUE(wrong.runs[0].legs[2].squad_leg_s);
  problems.clear();
  const RelayResult slow = with_suspicions(
      "2026-04-11,red,1,A,circuit,K,15.2,\n2026-04-11,red,2,B,circuit,K,31.1,\n2026-04-11,red,3,C,circuit,K,46.9,\n"
      "2026-04-11,blue,1,D,circuit,K,15.5,\n2026-04-11,blue,2,E,circuit,K,36.5,\n2026-04-11,blue,3,F,circuit,K,52.0,\n",
      problems);
  EXPECT_TRUE(problems.empty());
  EXPECT_EQ(slow.runs.size(), 2U);
}

TEST(Relay, OrdersThatCannotBeRunAreRefused) {
  // Common practice, no source: our own checks.
  const std::string log =
      header + "2026-06-01,red,1,1,home-second,1,AK,,8.10,\n2026-06-01,blue,1,2,home-second,1,AK,,8.20,\n";
  const auto refused = [&](std::vector<jobs::RelayOrder> orders,
                           std::optional<std::string> course = {}) -> std::string {
    jobs::RelayOptions options;
    options.orders = std::move(orders);
    options.course = std::move(course);
    try {
      relay_of(log, options);
    } catch (const jobs::ImpossibleOrder& error) {
      return error.what();
    }
    return "taken";
  };
  EXPECT_NE(refused({{"red", {"1", "9"}}}).find("'9'"), std::string::npos);
  EXPECT_NE(refused({{"red", {"2"}}}).find("give an order for both teams"), std::string::npos);
  EXPECT_NE(refused({{"red", {"1"}}, {"red", {"2"}}}).find("twice"), std::string::npos);
  EXPECT_NE(refused({{"red", {"1"}}}, "home-secnd").find("Did you mean 'home-second'?"), std::string::npos);
  EXPECT_EQ(refused({{"red", {"2"}}, {"blue", {"1"}}}), "taken");
}

RelayRun whole_run(const std::string& team, std::size_t trial, bool by_third, double total_s) {
  RelayRun run;
  run.team = team;
  run.trial = trial;
  run.total_s = total_s;
  for (std::size_t k = 1; k <= 4; ++k) {
    RelayLeg& leg = run.legs.emplace_back();
    leg.leg = k;
    leg.player = team + std::to_string(k);
    leg.course = by_third ? "home-second-reverse" : "home-second";
    leg.usual_scatter_s = 0.1;
  }
  return run;
}

// Identity: blue ahead by 1.71 s by way of first and by 0.71 s by way of third: half the sum is the runners', half the
// difference the way's.
TEST(RelaySeason, SideAndTeamAreToldApartWhereTheWaysWereSwapped) {
  RelayResult result;
  result.runs = {whole_run("blue", 1, true, 30.0), whole_run("red", 1, false, 30.71), whole_run("blue", 2, false, 29.0),
                 whole_run("red", 2, true, 30.71)};
  const jobs::RelaySeason season = jobs::relay_season(result);
  ASSERT_TRUE(season.side_or_team);
  EXPECT_EQ(season.side_or_team->team, "blue");
  EXPECT_NEAR(season.side_or_team->team_s, 1.21, 1e-9);
  EXPECT_TRUE(season.side_or_team->first_quicker);
  EXPECT_NEAR(season.side_or_team->side_s, 0.50, 1e-9);
  // Computed: eight legs of 0.1 s each, two relays: 1.6449 sqrt(0.08 / 2) = 0.329.
  EXPECT_NEAR(season.side_or_team->side_give_s, 0.329, 1e-3);
  result.runs.resize(2);
  EXPECT_FALSE(jobs::relay_season(result).side_or_team);
  EXPECT_TRUE(jobs::relay_season(result).ways_never_swapped);
}

// Identity: gaps are differences of clocks; a leg that one clock did not tell, and a race of another trial, add none.
TEST(RelaySeason, GapsAreDifferencesOfClocks) {
  RelayResult result;
  result.runs = {whole_run("blue", 1, true, 30.0), whole_run("red", 1, false, 30.71),
                 whole_run("blue", 2, false, 29.0)};
  const double clocks[2][4] = {{6.9, 15.0, 23.1, 30.0}, {7.0, 14.9, 0.0, 30.71}};
  for (std::size_t k = 0; k < 4; ++k) {
    result.runs[0].legs[k].clock_s = clocks[0][k];
    result.runs[1].legs[k].clock_s = k == 2 ? std::nullopt : std::optional(clocks[1][k]);
  }
  const std::vector<jobs::RaceGaps> races = jobs::race_gaps(result);
  ASSERT_EQ(races.size(), 2U);
  EXPECT_EQ(races[0].teams.size(), 2U);
  EXPECT_TRUE(races[1].after.empty());
  ASSERT_EQ(races[0].after.size(), 3U);
  EXPECT_EQ(races[0].after[2].leg, 4U);
  const double behind[3][2] = {{0.0, 0.1}, {0.1, 0.0}, {0.0, 0.71}};
  for (std::size_t k = 0; k < 3; ++k) {
    EXPECT_NEAR(races[0].after[k].behind_s[0], behind[k][0], 1e-9) << k;
    EXPECT_NEAR(races[0].after[k].behind_s[1], behind[k][1], 1e-9) << k;
  }
}

// Identity: a fall counts for nothing, a late take-off of three relays is named, one of the others is not.
TEST(RelaySeason, WhoTakesOffLateIsNamed) {
  RelayResult result;
  for (std::size_t trial = 1; trial <= 3; ++trial) {
    result.runs.push_back(whole_run("red", trial, false, 30.0));
    for (RelayLeg& leg : result.runs.back().legs) {
      const double exchange = leg.leg == 3 ? 0.6 : 0.35;
      leg.exchange_s = jobs::Estimate{exchange, 0.1, exchange - 0.16, exchange, exchange + 0.16, std::nullopt};
    }
  }
  result.runs[0].legs[1].exchange_s->mean = 3.0;
  result.runs[0].legs[1].flag = runs::Flag::fall;
  const jobs::RelaySeason season = jobs::relay_season(result);
  ASSERT_EQ(season.exchanges.size(), 4U);
  EXPECT_EQ(season.exchanges[0].player, "red3");
  EXPECT_TRUE(season.exchanges[0].surely_late);
  EXPECT_EQ(season.exchanges[0].relays, 2U) << "the leg after the fall is left out, too";
  for (std::size_t k = 1; k < 4; ++k) {
    EXPECT_FALSE(season.exchanges[k].surely_late) << season.exchanges[k].player;
  }
}

}  // namespace
