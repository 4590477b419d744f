#include "bagsplit/stats/group_contrasts.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>
#include <stdexcept>
#include <string>
#include <vector>

#include "bagsplit/stats/mixed_model.hpp"
#include "bagsplit/stats/random.hpp"
#include "reference.hpp"
#include "support/digits.hpp"

namespace {

using namespace bagsplit::stats;
using bagsplit::test::Reference;
using bagsplit::test::Table;
using Eigen::MatrixXd;
using Eigen::VectorXd;

struct Squad {
  Squad() : table("mixed_model_terms/squad.csv") {
    player = table.levels("player");
    for (const double s : table.numbers("session")) session.push_back(static_cast<int>(s) - 1);
    run = table.numbers("run");
    time = table.numbers("time");
  }
  std::size_t size() const { return time.size(); }

  /// Windows of sessions 1 and 2, 3, 4 and 5; one shared effect a session; last window against first.
  GroupContrastSpec windows() const {
    GroupContrastSpec spec;
    spec.response = time;
    spec.group = player;
    spec.block = interaction(player, session);
    spec.own = MatrixXd::Zero(static_cast<Eigen::Index>(size()), 3);
    constexpr int window[] = {0, 0, 1, 2, 2};
    for (std::size_t i = 0; i < size(); ++i) {
      spec.own(static_cast<Eigen::Index>(i), window[session[i]]) = 1.0;
      spec.shared.push_back({{session[i], 1.0}});
    }
    spec.shared_columns = spec.balanced = 5;
    spec.contrast = Eigen::Vector3d(-1.0, 0.0, 1.0);
    return spec;
  }
  GroupContrastSpec slopes() const {
    GroupContrastSpec spec = windows();
    spec.own.resize(static_cast<Eigen::Index>(size()), 2);
    for (std::size_t i = 0; i < size(); ++i) {
      spec.own.row(static_cast<Eigen::Index>(i)) << 1.0, session[i];
    }
    spec.contrast = Eigen::Vector2d(0.0, 1.0);
    return spec;
  }
  double share(std::size_t i) const {  // as in compute.R
    return ((player[i] + 1 + 2 * (session[i] + 1) + static_cast<int>(run[i])) % 3) / 2.0;
  }

  Table table;
  std::vector<int> player, session;
  std::vector<double> run, time;
};

void expect_contrasts(const Reference& r, const std::string& name, const Squad& squad, const GroupContrastFit& fit) {
  SCOPED_TRACE(name);
  ASSERT_TRUE(usable(fit.status)) << fit.message;
  std::vector<double> estimate, se, df;
  for (const auto& c : fit.contrasts) {
    if (c) {
      estimate.push_back(c->estimate);
      se.push_back(c->se);
      df.push_back(c->df);
    }
  }
  EXPECT_REFERENCE(r, name + "_estimate", estimate);
  EXPECT_REFERENCE(r, name + "_se", se);
  EXPECT_REFERENCE(r, name + "_df", df);
  EXPECT_REFERENCE(r, name + "_sd_block_residual", (std::vector<double>{fit.block_sd, fit.residual_sd}));
  EXPECT_EQ(fit.contrasts.size(), 9U);
  static_cast<void>(squad);
}

// Computed: R 4.2.2, lme4 1.1-31, lmerTest 3.1-3, reference/group_contrasts/compute.R (cells missing, unbalanced).
TEST(GroupContrasts, AgreesWithLmerTest) {
  const Reference r("group_contrasts");
  const Squad squad;
  const auto fit = fit_group_contrasts(squad.windows());
  expect_contrasts(r, "windows", squad, fit);
  EXPECT_FALSE(fit.contrasts[4]);  // player 5 was away at first, player 7 at the end
  EXPECT_FALSE(fit.contrasts[6]);
  EXPECT_REFERENCE(r, "windows_mean", (std::vector<double>{fit.mean->estimate, fit.mean->se, fit.mean->df}));
  EXPECT_REFERENCE(r, "windows_sessions", (std::vector<double>{fit.shared[0]->estimate, fit.shared[3]->estimate}));
  EXPECT_NEAR(fit.shared[0]->estimate + fit.shared[1]->estimate, 0.0, 1e-12);
  EXPECT_NEAR(fit.shared[2]->estimate, 0.0, 1e-12);
  expect_contrasts(r, "slope", squad, fit_group_contrasts(squad.slopes()));
}

// Computed: as above. A shared column that varies within sessions (a timer's share), and one that is constant in each
// (wet grass), which then takes the place of its window's session effects.
TEST(GroupContrasts, AdjustsForConditions) {
  const Reference r("group_contrasts");
  const Squad squad;
  auto spec = squad.windows();
  spec.shared_columns = 6;
  auto wet = spec;
  for (std::size_t i = 0; i < squad.size(); ++i) {
    spec.shared[i].push_back({5, squad.share(i)});
    spec.response[i] += 0.1 * squad.share(i);
    wet.shared[i].push_back({5, squad.session[i] == 1 ? 1.0 : 0.0});
  }
  const auto fit = fit_group_contrasts(spec);
  expect_contrasts(r, "share", squad, fit);
  EXPECT_REFERENCE(r, "share_half", (std::vector<double>{fit.shared[5]->estimate, fit.shared[5]->se}));
  const auto of_wet = fit_group_contrasts(wet);
  expect_contrasts(r, "wet", squad, of_wet);
  EXPECT_TRUE(of_wet.confounded.empty());
}

// Identity: a condition that goes with the window cannot be told from the players' change, nor from nothing at all.
TEST(GroupContrasts, NamesWhatCannotBeTold) {
  const Squad squad;
  auto spec = squad.windows();
  const auto plain = fit_group_contrasts(spec);
  spec.shared_columns = 7;
  for (std::size_t i = 0; i < squad.size(); ++i) {
    spec.shared[i].push_back({5, squad.session[i] >= 3 ? 1.0 : 0.0});
    spec.shared[i].push_back({6, squad.session[i] == 1 ? 1.0 : 0.0});
  }
  const auto fit = fit_group_contrasts(spec);
  EXPECT_EQ(fit.confounded, std::vector<int>{5});
  EXPECT_FALSE(fit.shared[5]);
  EXPECT_TRUE(fit.shared[6]);
  EXPECT_DIGITS(fit.residual_sd, plain.residual_sd, 6);
  // With something known of it, it is not left out, and what is not known goes into the standard error.
  spec.knowledge = {{{{5, 1.0}}, 0.0, 0.05}};
  spec.directions = {{{5, 1.0}}, {{6, 1.0}}};
  const auto known = fit_group_contrasts(spec);
  EXPECT_TRUE(known.confounded.empty());
  EXPECT_NEAR(*known.direction_known_sd[0], 0.05, 1e-9);
  EXPECT_FALSE(known.direction_known_sd[1]);
  EXPECT_NEAR(known.directions[0]->se, 0.05, 1e-6);
  const double se = fit.contrasts[0]->se;
  EXPECT_DIGITS(known.contrasts[0]->se, std::hypot(se, 0.05), 4);
  EXPECT_DIGITS(known.contrasts[0]->estimate, fit.contrasts[0]->estimate, 6);
}

// Identity: the same model in mixed_model.hpp with all its columns written out.
TEST(GroupContrasts, IsTheMixedModelWrittenOut) {
  RandomStream random(7);
  Squad squad;
  for (double& t : squad.time) t = 4.0 + 0.1 * random.normal();
  auto spec = squad.windows();
  for (std::size_t i = 0; i < squad.size(); ++i) {
    spec.response[i] = squad.time[i] + 0.15 * std::sin(static_cast<double>(spec.block[i]));
  }
  const auto fit = fit_group_contrasts(spec);
  std::vector<std::vector<double>> columns;
  std::vector<int> cell;
  for (std::size_t i = 0; i < squad.size(); ++i) {
    cell.push_back(squad.player[i] * 3 + (squad.session[i] < 2 ? 0 : squad.session[i] == 2 ? 1 : 2));
  }
  std::vector<int> labels;
  for (int c = 0; c < 27; ++c) {
    if (std::find(cell.begin(), cell.end(), c) != cell.end()) labels.push_back(c);
  }
  const auto n = static_cast<Eigen::Index>(squad.size());
  MatrixXd x = MatrixXd::Zero(n, static_cast<Eigen::Index>(labels.size()) + 2);
  for (Eigen::Index i = 0; i < n; ++i) {
    const auto at = static_cast<std::size_t>(i);
    x(i, std::find(labels.begin(), labels.end(), cell[at]) - labels.begin()) = 1.0;
    x(i, x.cols() - 2) = squad.session[at] == 0 ? 1.0 : squad.session[at] == 1 ? -1.0 : 0.0;
    x(i, x.cols() - 1) = squad.session[at] == 3 ? 1.0 : squad.session[at] == 4 ? -1.0 : 0.0;
  }
  const auto whole = fit_mixed_model({Eigen::Map<const VectorXd>(spec.response.data(), n), x, {{"block", spec.block}}});
  ASSERT_TRUE(usable(whole.status)) << whole.message;
  EXPECT_DIGITS(fit.residual_sd, whole.residual_sd, 6);
  EXPECT_DIGITS(fit.block_sd, whole.random[0].sd[0], 5);
  for (const int p : {0, 1, 3, 8}) {
    VectorXd w = VectorXd::Zero(x.cols());
    w[std::find(labels.begin(), labels.end(), 3 * p) - labels.begin()] = -1.0;
    w[std::find(labels.begin(), labels.end(), 3 * p + 2) - labels.begin()] = 1.0;
    const auto c = *contrast(whole, w);
    const auto& got = fit.contrasts[static_cast<std::size_t>(p)];
    EXPECT_NEAR(got->estimate, c.estimate, 1e-7);
    EXPECT_DIGITS(got->se, c.se, 6);
    EXPECT_DIGITS(got->df, c.df, 3);
  }
}

// Identity: one evening a window, three runs each: the difference of means; the form of the day, if given, is added.
TEST(GroupContrasts, WithOneBlockAWindowTheFormOfTheDayMustBeGiven) {
  GroupContrastSpec spec;
  spec.response = {4.0, 4.1, 4.2, 3.9, 4.0, 4.1, 5.0, 5.2, 4.8, 5.1};
  spec.group = {0, 0, 0, 0, 0, 0, 1, 1, 1, 1};
  spec.block = {0, 0, 0, 1, 1, 1, 2, 2, 3, 3};
  spec.own = MatrixXd::Zero(10, 2);
  for (Eigen::Index i = 0; i < 10; ++i) spec.own(i, spec.block[static_cast<std::size_t>(i)] % 2) = 1.0;
  spec.contrast = Eigen::Vector2d(-1.0, 1.0);
  GroupContrastOptions options;
  const auto fit = fit_group_contrasts(spec, options);
  EXPECT_EQ(fit.between_df, 0U);
  EXPECT_EQ(fit.within_df, 6U);
  EXPECT_NEAR(fit.contrasts[0]->estimate, -0.1, 1e-12);
  const double s2 = (0.02 + 0.02 + 0.02 + 0.045) / 6.0;
  EXPECT_NEAR(fit.contrasts[0]->se, std::sqrt(s2 * 2.0 / 3.0), 1e-12);
  EXPECT_NEAR(fit.contrasts[0]->df, 6.0, 1e-9);
  options.block_sd = 0.06;
  const auto given = fit_group_contrasts(spec, options);
  EXPECT_NEAR(given.contrasts[0]->se, std::sqrt(s2 * 2.0 / 3.0 + 2.0 * 0.06 * 0.06), 1e-9);
  const double v = s2 * 2.0 / 3.0;
  EXPECT_DIGITS(given.contrasts[0]->df, 6.0 * std::pow((v + 0.0072) / v, 2.0), 5);
}

// Common practice, no source: what is missing is said, and a given scatter answers where there is none.
TEST(GroupContrasts, TooFewData) {
  GroupContrastSpec spec;
  spec.response = {4.0, 3.9};
  spec.group = {0, 0};
  spec.block = {0, 1};
  spec.own = MatrixXd::Identity(2, 2);
  spec.contrast = Eigen::Vector2d(-1.0, 1.0);
  EXPECT_EQ(fit_group_contrasts(spec).status, FitStatus::too_few_data);
  GroupContrastOptions options;
  options.residual_sd = 0.1;
  const auto fit = fit_group_contrasts(spec, options);
  ASSERT_TRUE(usable(fit.status));
  EXPECT_TRUE(fit.residual_given);
  EXPECT_NEAR(fit.contrasts[0]->se, 0.1 * std::sqrt(2.0), 1e-12);
  EXPECT_EQ(fit.contrasts[0]->df, std::numeric_limits<double>::infinity());
  // Equal times: the floor of rounding.
  spec.response = {4.0, 4.0, 4.0, 4.0};
  spec.group = {0, 0, 0, 0};
  spec.block = {0, 0, 1, 1};
  spec.own = MatrixXd::Zero(4, 2);
  spec.own.col(0) << 1, 1, 0, 0;
  spec.own.col(1) << 0, 0, 1, 1;
  EXPECT_EQ(fit_group_contrasts(spec).status, FitStatus::failed);
  options.least_residual_sd = 0.003;
  EXPECT_NEAR(fit_group_contrasts(spec, options).contrasts[0]->se, 0.003, 1e-12);
  EXPECT_EQ(fit_group_contrasts({.response = {},
                                 .group = {},
                                 .block = {},
                                 .own = MatrixXd(0, 2),
                                 .shared = {},
                                 .knowledge = {},
                                 .contrast = Eigen::Vector2d(-1, 1),
                                 .directions = {}})
                .status,
            FitStatus::too_few_data);
}

// Identity: a label that does not occur is a group without a contrast and changes nothing else.
TEST(GroupContrasts, AGroupWithoutRows) {
  const Squad squad;
  const auto before = fit_group_contrasts(squad.windows());
  auto spec = squad.windows();
  for (int& g : spec.group) g += 2;
  const auto after = fit_group_contrasts(spec);
  EXPECT_EQ(after.contrasts.size(), before.contrasts.size() + 2);
  EXPECT_FALSE(after.contrasts[0]);
  EXPECT_EQ(after.contrasts[2]->se, before.contrasts[0]->se);
  EXPECT_EQ(after.mean->se, before.mean->se);
}

// Common practice, no source: programmer's errors throw.
TEST(GroupContrasts, RefusesBadCalls) {
  GroupContrastSpec spec;
  spec.response = {1.0, 2.0};
  spec.group = {0, 1};
  spec.block = {0, 0};
  spec.own = MatrixXd::Ones(2, 1);
  spec.contrast = VectorXd::Ones(1);
  EXPECT_THROW(fit_group_contrasts(spec), std::invalid_argument);  // a block in two groups
  spec.block = {0, 1};
  spec.shared = {{{0, 1.0}}, {{1, 1.0}}};
  spec.shared_columns = 1;
  EXPECT_THROW(fit_group_contrasts(spec), std::domain_error);
  spec.shared = {};
  spec.response[1] = std::nan("");
  EXPECT_THROW(fit_group_contrasts(spec), std::domain_error);
}

}  // namespace
