// Messages between children and squad against a sampler of the same model, its scales fixed.
//
// Source: Gelman, Carlin, Stern & Rubin (1995), Bayesian Data Analysis, section 11.3, for the Gibbs sampler. The seed
// is fixed; 18,000 draws: the error of a probability is below 0.02.
#include <gtest/gtest.h>

#include <Eigen/Cholesky>
#include <cmath>

#include "bagsplit/inference/season/detail/messages.hpp"
#include "bagsplit/stats/distributions.hpp"
#include "bagsplit/stats/random.hpp"
#include "season/world.hpp"

namespace {

namespace season = bagsplit::season;

struct Prepared {
  season::Options options;
  season::Season data;
  season::Design design;
  std::vector<season::ChildFit> children = {};
  std::vector<season::ChangeFit> changes = {};

  Prepared() : data(drawn()), design(season::make_design(data, options)) {
    const season::Scales scales{.evening_sd = 0.005, .form_sd = 0.012, .effort_sd = 0.018};
    for (const auto& rows : design.children) {
      const auto units = season::collapse(design, rows);
      children.push_back(season::fit_child(units, options, scales, 0.0));
      changes.push_back(season::fit_changes(units, children.back()));
    }
  }
  static season::Season drawn() {
    auto world = bagsplit::test::named("third");
    world.children = 16;
    world.days = {0, 14, 28, 56, 84};
    return bagsplit::test::draw_season(world, 9001).season;
  }
};

constexpr double evening_sd = 0.005, size = 0.035, share = 0.3;

struct Sampled {
  std::vector<double> changed, faster, mean;
  Eigen::VectorXd shared;
};

/// Draws in turn each child's way to change and its size given g, and g given all changes.
Sampled sample(const Prepared& p, int draws, int burn_in) {
  bagsplit::stats::RandomStream random(1);
  const auto n = p.children.size();
  Eigen::MatrixXd precision = p.design.prior_precision(evening_sd).asDiagonal();
  Eigen::VectorXd shift = Eigen::VectorXd::Zero(precision.rows());
  for (std::size_t i = 0; i < n; ++i) {
    const auto& touched = p.design.children[i].touched;
    precision(touched, touched) += p.children[i].precision;
    shift(touched) += p.children[i].shift;
  }
  const Eigen::LLT<Eigen::MatrixXd> llt(precision);
  Sampled out{std::vector<double>(n), std::vector<double>(n), std::vector<double>(n),
              Eigen::VectorXd::Zero(precision.rows())};
  std::vector<Eigen::Index> shape(n, -1);
  std::vector<double> change(n, 0.0);
  for (int draw = 0; draw < draws; ++draw) {
    Eigen::VectorXd h = shift;
    for (std::size_t i = 0; i < n; ++i) {
      if (shape[i] >= 0) {
        h(p.design.children[i].touched) -= p.changes[i].with_shared.col(shape[i]) * change[i];
      }
    }
    Eigen::VectorXd noise(h.size());
    for (auto& x : noise) {
      x = random.normal();
    }
    const Eigen::VectorXd g = llt.solve(h) + llt.matrixU().solve(noise);
    for (std::size_t i = 0; i < n; ++i) {
      // With g known, the ways to change are those seen from a g without spread.
      const auto& touched = p.design.children[i].touched;
      const auto k = static_cast<Eigen::Index>(touched.size());
      const auto ways = season::ways_to_change(p.design, p.changes[i], {Eigen::MatrixXd::Zero(k, k), g(touched)}, size);
      const double changed = 1.0 / (1.0 + (1.0 - share) / share * std::exp(-ways.log_bayes_factor));
      shape[i] = -1;
      change[i] = 0.0;
      if (random.uniform() < changed) {
        double u = random.uniform();
        Eigen::Index w = 0;
        while (w + 1 < ways.weight.size() && u >= ways.weight[w]) {
          u -= ways.weight[w++];
        }
        shape[i] = w % (ways.weight.size() / 2);
        change[i] = ways.mean[w] + std::sqrt(ways.var[w]) * random.normal();
      }
      if (draw >= burn_in) {
        const double per_draw = 1.0 / (draws - burn_in);
        out.changed[i] += shape[i] >= 0 ? per_draw : 0.0;
        out.faster[i] += change[i] < 0.0 ? per_draw : 0.0;
        out.mean[i] += per_draw * change[i];
      }
    }
    if (draw >= burn_in) {
      out.shared += g / (draws - burn_in);
    }
  }
  return out;
}

// Source: see the top (1995).
TEST(SeasonSampler, AgreesWithMessages) {
  const Prepared p;
  season::Point point;
  point.evening_sd = evening_sd;
  point.size = size;
  point.share = share;
  season::propagate(p.design, p.children, p.changes, point);
  const auto sampled = sample(p, 20000, 2000);
  int undecided = 0;
  for (std::size_t i = 0; i < p.children.size(); ++i) {
    const auto ways = season::ways_to_change(p.design, p.changes[i], point.views[i], size);
    double faster = 0.0;
    for (Eigen::Index w = 0; w < ways.weight.size(); ++w) {
      faster += point.changed[i] * ways.weight[w] * bagsplit::stats::normal_cdf(-ways.mean[w] / std::sqrt(ways.var[w]));
    }
    EXPECT_NEAR(point.changed[i], sampled.changed[i], 0.03) << i;
    EXPECT_NEAR(faster, sampled.faster[i], 0.03) << i;
    EXPECT_NEAR(point.changed[i] * ways.weight.dot(ways.mean), sampled.mean[i], 0.001) << i;
    undecided += point.changed[i] > 0.2 && point.changed[i] < 0.8 ? 1 : 0;
  }
  EXPECT_GT(undecided, 2);  // else little would be compared
  for (Eigen::Index k = 0; k < point.squad.mean.size(); ++k) {
    EXPECT_NEAR(point.squad.mean[k], sampled.shared[k], 0.1 * std::sqrt(point.squad.covariance(k, k))) << k;
  }
}

}  // namespace
