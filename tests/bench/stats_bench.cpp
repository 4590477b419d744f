// Speed of the statistics at sizes from life: a sleep study of 18 x 10, a squad of 12, a season of 1,000 players.
#include <benchmark/benchmark.h>

#include <cmath>
#include <vector>

#include "bagsplit/stats/group_contrasts.hpp"
#include "bagsplit/stats/hierarchical_means.hpp"
#include "bagsplit/stats/icc.hpp"
#include "bagsplit/stats/mixed_model.hpp"
#include "bagsplit/stats/random.hpp"
#include "bagsplit/stats/t_interval.hpp"
#include "bagsplit/stats/univariate.hpp"
#include "stats/reference.hpp"

namespace {

namespace stats = bagsplit::stats;

stats::MixedModelSpec sleep_study(bool slopes) {
  const bagsplit::test::Table table("sleepstudy_lmm/data.csv");
  const auto days = table.numbers("Days");
  const auto y = table.numbers("Reaction");
  const auto n = static_cast<Eigen::Index>(y.size());
  stats::MixedModelSpec spec;
  spec.response = Eigen::Map<const Eigen::VectorXd>(y.data(), n);
  spec.fixed = Eigen::MatrixXd::Ones(n, 2);
  spec.fixed.col(1) = Eigen::Map<const Eigen::VectorXd>(days.data(), n);
  spec.random = {{"Subject", table.levels("Subject")}};
  if (slopes) {
    spec.random[0].columns = spec.fixed;
  }
  return spec;
}

/// Invented: every player on every session, three runs each.
stats::MixedModelSpec season(int players, int sessions, int runs) {
  stats::RandomStream random(1);
  const auto effects = [&](int n, double sd) {
    std::vector<double> out(static_cast<std::size_t>(n));
    for (double& v : out) {
      v = sd * random.normal();
    }
    return out;
  };
  const auto by_player = effects(players, 0.3);
  const auto by_session = effects(sessions, 0.05);
  std::vector<int> player, session;
  std::vector<double> y;
  for (int p = 0; p < players; ++p) {
    for (int s = 0; s < sessions; ++s) {
      const double form = 0.06 * random.normal();
      for (int r = 0; r < runs; ++r) {
        y.push_back(4.2 + by_player[static_cast<std::size_t>(p)] + by_session[static_cast<std::size_t>(s)] + form +
                    0.08 * random.normal());
        player.push_back(p);
        session.push_back(s);
      }
    }
  }
  stats::MixedModelSpec spec;
  spec.response = Eigen::Map<const Eigen::VectorXd>(y.data(), static_cast<Eigen::Index>(y.size()));
  spec.fixed = Eigen::MatrixXd::Ones(spec.response.size(), 1);
  spec.random = {{"player", player}, {"session", session}, {"player:session", stats::interaction(player, session)}};
  return spec;
}

void fit(benchmark::State& state, const stats::MixedModelSpec& spec) {
  for (auto _ : state) {
    const auto result = stats::fit_mixed_model(spec);
    if (!usable(result.status)) {
      state.SkipWithError(result.message.c_str());
    }
    benchmark::DoNotOptimize(result.criterion);
  }
}

void sleep_study_intercepts(benchmark::State& state) {
  fit(state, sleep_study(false));
}
BENCHMARK(sleep_study_intercepts)->Unit(benchmark::kMicrosecond);
void sleep_study_slopes(benchmark::State& state) {
  fit(state, sleep_study(true));
}
BENCHMARK(sleep_study_slopes)->Unit(benchmark::kMicrosecond);

void season_of_players(benchmark::State& state) {
  fit(state, season(static_cast<int>(state.range(0)), 20, 3));
}
BENCHMARK(season_of_players)->Arg(12)->Arg(60)->Arg(200)->Arg(1000)->Unit(benchmark::kMillisecond);

/// Every player's change between the first and the last third of 20 sessions, session effects shared.
void change_of_each_player(benchmark::State& state) {
  const auto players = static_cast<int>(state.range(0));
  const stats::MixedModelSpec all = season(players, 20, 3);
  stats::GroupContrastSpec spec;
  const auto n = all.response.size();
  spec.response.assign(all.response.data(), all.response.data() + n);
  spec.group = all.random[0].group;
  spec.block = all.random[2].group;
  spec.own = Eigen::MatrixXd::Zero(n, 3);
  for (Eigen::Index i = 0; i < n; ++i) {
    const int session = all.random[1].group[static_cast<std::size_t>(i)];
    spec.own(i, session < 7 ? 0 : session < 13 ? 1 : 2) = 1.0;
    spec.shared.push_back({{session, 1.0}});
  }
  spec.shared_columns = spec.balanced = 20;
  spec.contrast = Eigen::Vector3d(-1.0, 0.0, 1.0);
  for (auto _ : state) {
    const auto result = stats::fit_group_contrasts(spec);
    if (!usable(result.status)) {
      state.SkipWithError(result.message.c_str());
    }
    benchmark::DoNotOptimize(result.residual_sd);
  }
}
BENCHMARK(change_of_each_player)->Arg(12)->Arg(200)->Arg(1000)->Unit(benchmark::kMillisecond);

std::vector<double> values(std::size_t n) {
  stats::RandomStream random(2);
  std::vector<double> out(n);
  for (double& v : out) {
    v = random.normal();
  }
  return out;
}

void mean_and_variance(benchmark::State& state) {
  const auto x = values(static_cast<std::size_t>(state.range(0)));
  for (auto _ : state) {
    benchmark::DoNotOptimize(stats::variance(x));
  }
}
BENCHMARK(mean_and_variance)->Arg(3)->Arg(60)->Arg(1'000'000);

void t_of_three(benchmark::State& state) {
  const auto x = values(3);
  for (auto _ : state) {
    benchmark::DoNotOptimize(stats::one_sample_t(x));
  }
}
BENCHMARK(t_of_three);

void six_coefficients(benchmark::State& state) {
  const auto x = values(static_cast<std::size_t>(state.range(0)) * 3);
  for (auto _ : state) {
    benchmark::DoNotOptimize(stats::reliability(x, 3));
  }
}
BENCHMARK(six_coefficients)->Arg(12)->Arg(200)->Unit(benchmark::kMicrosecond);

void shrunken_means(benchmark::State& state) {
  const auto y = values(static_cast<std::size_t>(state.range(0)));
  const std::vector<double> v(y.size(), 0.5);
  for (auto _ : state) {
    benchmark::DoNotOptimize(stats::hierarchical_means(y, v, 1.0, 20.0)->theta[0].quantile(0.05));
  }
}
BENCHMARK(shrunken_means)->Arg(12)->Arg(200)->Unit(benchmark::kMillisecond);

}  // namespace
