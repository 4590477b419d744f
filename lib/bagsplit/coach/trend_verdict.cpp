#include "bagsplit/coach/trend_verdict.hpp"

#include <algorithm>
#include <cmath>

#include "bagsplit/coach/trend_data.hpp"
#include "bagsplit/stats/distributions.hpp"
#include "bagsplit/stats/multiplicity.hpp"

namespace bagsplit::coach::detail {

namespace {

constexpr std::size_t most_runs = 200;  // more than anybody will time
constexpr double chance = 0.8416;       // normal quantile of 0.8: so often shall the runs settle it

struct Wanted {
  double size_s = 0.0;  // of the change as believed now
  double worthwhile_s = 0.0;
  double z_real = 0.0;   // SDs from 0 that make it real, false discoveries held
  double z_small = 0.0;  // SDs within the worthwhile change that make it too small
  bool settled(double variance) const {
    const double sd = std::sqrt(variance);
    return (z_real + chance) * sd <= size_s || (z_small + chance) * sd <= worthwhile_s - size_s;
  }
};

// The least n for which the variance suffices. None where `most_runs` do not.
template <typename Variance>
std::optional<std::size_t> least_runs(const Wanted& wanted, const Variance& variance) {
  for (std::size_t n = 1; n <= most_runs; ++n) {
    if (wanted.settled(variance(static_cast<double>(n)))) {
      return n;
    }
  }
  return std::nullopt;
}

// Runs after which the change, if it is what is believed now, would with a chance of 80% be surely there or surely too
// small: in the last window, or in two new windows where that takes fewer.
void say_how_many(PlayerTrend& player, const RunsSoFar& so_far, const Wanted& wanted) {
  std::string where;
  if (so_far.slope) {
    const double now = static_cast<double>(so_far.runs);
    player.more_runs = least_runs(wanted, [&](double n) { return so_far.variance_last * now / (now + n); });
  } else {
    player.more_runs = least_runs(wanted, [&](double n) {
      return so_far.variance_first + 1.0 / (1.0 / so_far.variance_last + n / so_far.per_run);
    });
    // Half of them each in two new windows, where the first one has too little to be worth comparing with.
    const auto anew = least_runs(wanted, [&](double n) { return 4.0 * so_far.per_run / n; });
    if (anew && (!player.more_runs || *anew < *player.more_runs)) {
      player.more_runs = anew;
      where = ", in two new windows";
    }
  }
  player.verdict_words = player.more_runs ? "cannot tell yet: about " + counted(*player.more_runs, "more run") + where
                                          : "cannot tell yet: more than " + std::to_string(most_runs) + " more runs";
}

}  // namespace

void judge(std::vector<PlayerTrend>& players, const std::vector<std::optional<stats::MixtureOfNormals>>& posterior,
           const std::vector<RunsSoFar>& so_far, double worthwhile_s, double level, double false_discovery_share) {
  std::vector<double> p;
  std::vector<std::size_t> who;
  for (std::size_t i = 0; i < players.size(); ++i) {
    if (players[i].p_value) {
      p.push_back(*players[i].p_value);
      who.push_back(i);
    }
  }
  const std::vector<double> q = stats::adjusted_p_values(p, stats::Adjustment::bh);
  const auto found = static_cast<double>(stats::count_rejected(q, false_discovery_share));
  // What the next one would have to reach to be among those found.
  const double next_p =
      false_discovery_share * std::min(1.0, (found + 1.0) / std::max<double>(1.0, static_cast<double>(p.size())));
  const double z_real = stats::normal_quantile(1.0 - 0.5 * next_p);
  const double sure = 0.5 + 0.5 * level;  // one side of the interval
  const double z_small = stats::normal_quantile(sure);
  for (std::size_t k = 0; k < who.size(); ++k) {
    PlayerTrend& player = players[who[k]];
    player.q_value = q[k];
    const auto& theta = posterior[who[k]];
    if (!theta) {
      continue;
    }
    const double faster = theta->below(0.0);
    player.p_worthwhile = theta->below(-worthwhile_s);
    player.p_slower = 1.0 - theta->below(worthwhile_s);
    const double small = std::max(0.0, 1.0 - *player.p_worthwhile - *player.p_slower);
    const bool real = q[k] <= false_discovery_share;
    if (small >= level) {
      player.verdict = TrendVerdict::no_meaningful_change;
      player.verdict_words = "no meaningful change";
    } else if (real && faster >= sure) {
      player.verdict = TrendVerdict::faster;
      player.verdict_words = "faster";
    } else if (real && 1.0 - faster >= sure) {
      player.verdict = TrendVerdict::slower;
      player.verdict_words = "slower";
    } else {
      player.verdict = TrendVerdict::cannot_tell;
      say_how_many(player, so_far[who[k]], {std::fabs(theta->mean()), worthwhile_s, z_real, z_small});
    }
  }
}

}  // namespace bagsplit::coach::detail
