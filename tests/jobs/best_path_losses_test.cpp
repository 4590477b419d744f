#include "bagsplit/inference/reading/best_path_losses.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <boost/random/mersenne_twister.hpp>
#include <boost/random/normal_distribution.hpp>
#include <cmath>

#include "bagsplit/basepath/path.hpp"
#include "bagsplit/basepath/straight.hpp"
#include "bagsplit/jobs/profile/detail/best_path_yardstick.hpp"
#include "bagsplit/jobs/profile/profile.hpp"
#include "bagsplit/norms/catalogue.hpp"
#include "bagsplit/runs/log/run_log.hpp"

namespace bagsplit::jobs {
namespace {

constexpr double base_m = 18.288;
const runs::Course& circuit() {
  return *runs::find_course(runs::builtin_courses(), "circuit");
}

const basepath::LossTable& table() {
  static const basepath::LossTable one = basepath::LossTable::built_in();
  return one;
}

double solved_s(const runs::Course& course, const motion::Sprint& s, double lateral, double braking) {
  const auto path = basepath::best_path(basepath::course_problem(
      course, base_m, basepath::RunnerLimits{s.top_speed_mps, s.time_constant_s, lateral, braking}));
  EXPECT_TRUE(path.usable());
  return path.total_s;
}

// A child with circuits only: reaction known, four losses, times at the four bags.
struct Child {
  inference::Assembled assembled;
  inference::LossMeans means;
  std::vector<std::uint32_t> terms{0, 1, 2, 3};

  explicit Child(double speed_sd = 0.1, double tau_sd = 0.2, const inference::ModelFile& model = {}) {
    inference::PlayerData& data = assembled.data;
    data.log_top_speed = {std::log(6.0), speed_sd};
    data.log_time_constant = {std::log(0.85), tau_sd};
    for (const char* key : {"first", "second", "third", "home"}) {
      assembled.terms.push_back({inference::TermKind::loss, key});
      data.terms.push_back({0.3, 0.25});
    }
    data.effort_cv = 0.02;
    data.day_cv = 0.015;
    data.reaction_sd_s = 0.05;
    assembled.base_distance_m = base_m;
    means = inference::expect_best_path(assembled, table(), model);
  }

  void add_run(const double (&time_s)[4], double sd_s = 0.06) {
    assembled.data.add_run(1);
    std::vector<inference::MarkData> marks;
    std::uint64_t bits = 0;
    for (std::size_t k = 0; k < 4; ++k) {
      bits |= std::uint64_t{1} << k;
      marks.push_back({base_m * static_cast<double>(k + 1), time_s[k], sd_s, bits});
    }
    assembled.data.add_reading(false, 0.0, 0.04, marks);
  }

  PlayerProfile measured(const inference::Posterior& posterior, double level = 0.9) const {
    PlayerProfile profile;
    profile.base_distance_m = base_m;
    measure_against_best_path(posterior, means, table(), circuit(), terms, level, profile);
    return profile;
  }
};

TEST(BestPathLosses, PriorMeansAverageOverThePlausibleLateralLimits) {
  // Identity: three solves, weights 1/6, 4/6, 1/6, at L 4.0 and sqrt(3) SDs of log L away; 90% of L between 2.5
  // and 6.0.
  const motion::Sprint s{6.0, 0.85};
  double expected = 0.0;
  for (const auto& [lateral, weight] : {std::pair{2.5222, 1.0}, {4.0, 4.0}, {6.3436, 1.0}}) {
    expected += weight / 6.0 *
                (solved_s(circuit(), s, lateral, 0.75 * lateral) -
                 basepath::straight_time_s(basepath::RunnerLimits{6.0, 0.85, 4.0, 3.0}, 4 * base_m));
  }
  double sum = 0.0;
  for (const char* key : {"first", "second", "third", "home"}) {
    sum += (*inference::ExpectedLoss::of(table(), key, base_m))(std::log(6.0), std::log(0.85));
  }
  EXPECT_NEAR(sum, expected, 0.01);
  EXPECT_FALSE(inference::ExpectedLoss::of(table(), "fourth", base_m));
}

TEST(BestPathLosses, AModelFilesLossesStayAsTheyAre) {
  // Identity: what the user fixed is fixed.
  inference::ModelFile model;
  model.prior.segment_loss_s["second"] = {0.3, 0.25};
  const Child child(0.1, 0.2, model);
  EXPECT_EQ(child.means.terms.size(), 3U);
  EXPECT_EQ(child.assembled.data.terms[1].mean, 0.3);
  EXPECT_NE(child.assembled.data.terms[0].mean, 0.3);
  std::vector<double> means(4, -1.0);
  child.means.callback()({7.0, 0.85}, means);
  EXPECT_EQ(means[1], -1.0);
  EXPECT_NE(means[0], -1.0);
}

TEST(BestPathLosses, WithASprintKnownItIsTheSolversTimeOverTheMovingTime) {
  // Identity: V and tau fixed, losses fixed: best path of the solver / (straight + losses).
  inference::ModelFile model;
  for (const char* key : {"first", "second", "third", "home"}) {
    model.prior.segment_loss_s[key] = {0.4, 1e-6};
  }
  Child child(1e-6, 1e-6, model);
  for (inference::Normal& term : child.assembled.data.terms) {
    term = {0.4, 1e-6};
  }
  child.add_run({4.2, 7.6, 11.0, 14.3});
  const inference::Posterior posterior(child.assembled.data, child.means.callback());
  ASSERT_TRUE(posterior.usable());
  const PlayerProfile p = child.measured(posterior);
  const double best = solved_s(circuit(), {6.0, 0.85}, 4.0, 3.0);
  const double moving = basepath::straight_time_s(basepath::RunnerLimits{6.0, 0.85, 4.0, 3.0}, 4 * base_m) + 1.6;
  ASSERT_TRUE(p.path_efficiency && p.loss_to_best_path_s && p.best_path);
  EXPECT_NEAR(p.best_path->time_s.median, best, 0.006);
  EXPECT_NEAR(p.loss_to_best_path_s->median, moving - best, 0.006);
  EXPECT_NEAR(p.path_efficiency->median, best / moving, 0.0006);
  EXPECT_EQ(p.best_path->course, "circuit");
  // Identity: another turning limit moves the yardstick by what the solver says.
  ASSERT_EQ(p.best_path->loss_at.size(), 2U);
  EXPECT_NEAR(p.best_path->loss_at[0].loss_mean_s, moving - solved_s(circuit(), {6.0, 0.85}, 2.5, 1.875), 0.01);
  EXPECT_NEAR(p.best_path->loss_at[1].loss_mean_s, moving - solved_s(circuit(), {6.0, 0.85}, 6.0, 4.5), 0.01);
}

TEST(BestPathLosses, UncertaintyIsThatOfSolvingAtEveryNode) {
  // Identity: the same mixture, with the solver in place of the table.
  Child child;
  child.add_run({4.25, 7.7, 11.2, 14.4});
  child.add_run({4.31, 7.8, 11.1, 14.5});
  const inference::Posterior posterior(child.assembled.data, child.means.callback());
  ASSERT_TRUE(posterior.usable());
  const PlayerProfile p = child.measured(posterior);
  std::vector<double> values(posterior.size());
  std::vector<double> means(posterior.size());
  std::vector<double> sds(posterior.size());
  for (std::size_t i = 0; i < posterior.size(); ++i) {
    const motion::Sprint& s = posterior.sprints()[i];
    values[i] = motion::time_to_distance(s, 4 * base_m) - solved_s(circuit(), s, 4.0, 3.0);
  }
  posterior.mixture(values, child.terms, means, sds);
  const inference::Estimate direct = inference::summarise_mixture(posterior.weights(), means, sds, 0.9);
  EXPECT_NEAR(p.loss_to_best_path_s->mean, direct.mean, 0.003);
  EXPECT_NEAR(p.loss_to_best_path_s->sd, direct.sd, 0.003);
  EXPECT_NEAR(p.loss_to_best_path_s->lo, direct.lo, 0.005);
  EXPECT_NEAR(p.loss_to_best_path_s->hi, direct.hi, 0.005);
  // Identity: parts sum to the whole.
  double sum = 0.0;
  ASSERT_EQ(p.loss_to_best_path_by_segment_s.size(), 4U);
  for (const NamedEstimate& part : p.loss_to_best_path_by_segment_s) {
    sum += part.value.mean;
  }
  EXPECT_NEAR(sum, p.loss_to_best_path_s->mean, 1e-9);
  EXPECT_LT(p.path_efficiency->lo, p.path_efficiency->median);
  EXPECT_LT(p.path_efficiency->hi, 1.2);
}

TEST(BestPathLosses, ReadingsThatTellNothingHaveNoShare) {
  // Identity: posterior = prior, so 1 - posterior variance / prior variance is 0, the spread of the means over (V, tau)
  // counted.
  Child child(0.15, 0.3);
  child.add_run({4.0, 8.0, 12.0, 16.0}, 500.0);
  const inference::Posterior posterior(child.assembled.data, child.means.callback());
  ASSERT_TRUE(posterior.usable());
  const PlayerProfile p = child.measured(posterior);
  EXPECT_NEAR(*p.loss_to_best_path_s->share_from_data, 0.0, 0.02);
  const std::uint32_t third[] = {2};
  inference::Estimate loss = posterior.of_terms(third, 0.9);
  child.means.set_share(loss, child.assembled.data, third);
  EXPECT_NEAR(*loss.share_from_data, 0.0, 0.02);
  EXPECT_GT(loss.sd, 0.25);
}

TEST(BestPathLosses, IntervalsCoverWhatTheyState) {
  // Identity: drawn from the model with losses about the best path's, 90% of 300 true values lie in their intervals;
  // the bounds are 5 standard deviations of a binomial.
  boost::random::mt19937 engine(404);
  boost::random::normal_distribution<double> normal;
  const auto draw = [&] { return normal(engine); };
  int inside = 0;
  int efficiency_inside = 0;
  const int players = 300;
  for (int k = 0; k < players; ++k) {
    Child child;
    const motion::Sprint s{std::exp(child.assembled.data.log_top_speed.mean + 0.1 * draw()),
                           std::exp(child.assembled.data.log_time_constant.mean + 0.2 * draw())};
    std::vector<double> loss;
    for (const inference::Normal& term : child.assembled.data.terms) {
      loss.push_back(term.mean);
    }
    child.means.callback()(s, loss);
    double total = 0.0;
    for (double& one : loss) {
      one += 0.25 * draw();
      total += one;
    }
    const double day = 0.015 * draw();
    for (int run = 0; run < 2; ++run) {
      const double effort = 0.02 * draw();
      const double start = 0.04 * draw();
      double time_s[4];
      double lost = 0.0;
      for (std::size_t m = 0; m < 4; ++m) {
        lost += loss[m];
        time_s[m] = motion::time_to_distance(s, base_m * static_cast<double>(m + 1)) * (1.0 + day + effort) + lost +
                    start + 0.06 * draw();
      }
      child.add_run(time_s);
    }
    const inference::Posterior posterior(child.assembled.data, child.means.callback());
    ASSERT_TRUE(posterior.usable());
    const PlayerProfile p = child.measured(posterior);
    const double best =
        (*table().course_loss(circuit(), base_m, 4.0))(std::log(s.top_speed_mps), std::log(s.time_constant_s));
    const double truth = total - best;
    inside += truth >= p.loss_to_best_path_s->lo && truth <= p.loss_to_best_path_s->hi;
    const double straight = motion::time_to_distance(s, 4 * base_m);
    const double efficiency = (straight + best) / (straight + total);
    efficiency_inside += efficiency >= p.path_efficiency->lo && efficiency <= p.path_efficiency->hi;
  }
  EXPECT_NEAR(inside, 0.9 * players, 26.0);
  EXPECT_NEAR(efficiency_inside, 0.9 * players, 26.0);
}

TEST(BestPathLosses, AProfileHasThemAndAStraightHasNot) {
  // Identity: efficiency = best time / moving time.
  const auto profile_of = [](const char* log) {
    const runs::RunLogResult read = runs::read_run_logs(std::vector<runs::LogText>{{log, "log.csv", false}});
    EXPECT_TRUE(read.problems.empty());
    return jobs::profile(read.log, {}, {}, norms::Catalogue::builtin(), {}).players.at(0);
  };
  const PlayerProfile p = profile_of(
      "# base-distance: 60 "
      "ft\ndate,player,course,first,second,third,home\n2026-04-11,12,circuit,4.05,8.02,12.10,16.31\n"
      "2026-04-11,12,circuit,4.15,8.12,12.20,16.41\n");
  ASSERT_TRUE(p.path_efficiency && p.best_path);
  EXPECT_NEAR(p.path_efficiency->median, p.best_path->time_s.median / p.course_time_s.at(0).value.median, 0.01);
  EXPECT_GT(p.path_efficiency->median, p.straight_efficiency->median);
  EXPECT_FALSE(
      profile_of("# base-distance: 60 ft\ndate,player,course,first\n2026-04-11,12,home-first,4.05\n").path_efficiency);
  const PlayerProfile stopping = profile_of(
      "# base-distance: 60 ft\ndate,player,course,first,second\n2026-04-11,12,home-second,4.05,8.42\n"
      "2026-04-11,12,home-second,4.15,8.42\n");
  ASSERT_TRUE(stopping.best_path);
  EXPECT_TRUE(std::any_of(stopping.notes.begin(), stopping.notes.end(),
                          [](const std::string& note) { return note.find("still slowing") != std::string::npos; }));
}

}  // namespace
}  // namespace bagsplit::jobs
