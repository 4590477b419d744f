#include "bagsplit/jobs/trend/detail/trend_verdict.hpp"

#include <algorithm>
#include <cmath>

#include "bagsplit/jobs/trend/detail/trend_data.hpp"
#include "bagsplit/stats/distributions.hpp"
#include "bagsplit/stats/multiplicity.hpp"

namespace bagsplit::jobs::detail {

namespace {

constexpr double chance = 0.8416;  // normal quantile of 0.8: so often shall the runs settle it

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

// The least n for which the variance suffices. None where `most_more_runs` do not.
template <typename Variance>
std::optional<std::size_t> least_runs(const Wanted& wanted, const Variance& variance) {
  for (std::size_t n = 1; n <= most_more_runs; ++n) {
    if (wanted.settled(variance(static_cast<double>(n)))) {
      return n;
    }
  }
  return std::nullopt;
}

// Runs after which the change, if it is what is believed now, would with a chance of 80% be surely there or surely too
// small: more in the last window, for the first one cannot be run again.
std::optional<std::size_t> runs_wanted(const RunsSoFar& so_far, const Wanted& wanted) {
  if (so_far.slope) {
    const double now = static_cast<double>(so_far.runs);
    return least_runs(wanted, [&](double n) { return so_far.variance_last * now / (now + n); });
  }
  return least_runs(wanted, [&](double n) {
    return so_far.variance_first + 1.0 / (1.0 / so_far.variance_last + n / so_far.per_run);
  });
}

// Names what stands in the way, and what would help against it.
void say_why(PlayerTrend& player, const RunsSoFar& so_far, const Wanted& wanted, const Yardstick& by, bool clear_alone,
             std::size_t compared) {
  switch (by.outside) {
    case TrendObstacle::timer:
      player.verdict_words = "cannot tell: who timed changed";
      player.help =
          "More runs do not cure a change of timer: the same person should time, or both time the same runs on one "
          "evening with a watch each.";
      break;
    case TrendObstacle::device:
      player.verdict_words = "cannot tell: device or start changed";
      player.help =
          "More runs do not cure a change of device or of starting the clock: keep to one, or time the same runs both "
          "ways on one evening.";
      break;
    case TrendObstacle::ground:
      player.verdict_words = "cannot tell: the ground changed";
      player.help = "More runs do not cure a change of ground: run on the same one, or on both on one evening.";
      break;
    default:
      break;
  }
  player.obstacle = by.outside;
  if (by.outside != TrendObstacle::none) {
    return;
  }
  player.more_runs = runs_wanted(so_far, wanted);
  if (player.more_runs) {
    player.obstacle = TrendObstacle::few_runs;
    player.verdict_words = "cannot tell yet: about " + counted(*player.more_runs, "more run");
    player.help =
        "That many, spread over further evenings, would tell with a chance of four in five, if the change is what is "
        "believed now.";
  } else if (clear_alone) {
    player.obstacle = TrendObstacle::many_compared;
    player.verdict_words = "cannot tell: one of " + std::to_string(compared) + " compared";
    player.help =
        "Clear by itself, but among " + std::to_string(compared) +
        " players compared at once some differ as much by luck: what new evenings say of this child alone would tell.";
  } else {
    player.obstacle = TrendObstacle::scatter;
    player.verdict_words = "cannot tell: smaller than normal run-to-run variation";
    player.help = "Even " + std::to_string(most_more_runs) +
                  " more runs, the most we would ask of a child, would not settle this. " +
                  (by.reaction ? "A gate or video for the first move, or two watches on each run, would tell more."
                               : "Two watches or a gate on each run, and more weeks between, would tell more.");
  }
  // Where growing up alone makes as much of it, no run tells the two apart.
  if (player.expected_growth_s && std::fabs(*player.expected_growth_s) >= by.worthwhile_s &&
      *player.expected_growth_s * player.shrunken_change_s->estimate > 0.0 &&
      std::fabs(*player.expected_growth_s) >= 0.5 * std::fabs(player.shrunken_change_s->estimate)) {
    player.help += " At least half of this is expected from growth alone.";
  }
}

}  // namespace

void judge(std::vector<PlayerTrend>& players, const std::vector<std::optional<stats::MixtureOfNormals>>& posterior,
           const std::vector<RunsSoFar>& so_far, const Yardstick& by) {
  const double worthwhile_s = by.worthwhile_s;
  const double level = by.level;
  const double false_discovery_share = by.false_discovery_share;
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
      const bool clear_alone = p[k] <= false_discovery_share && std::max(faster, 1.0 - faster) >= sure && !real;
      say_why(player, so_far[who[k]], {std::fabs(theta->mean()), worthwhile_s, z_real, z_small}, by, clear_alone,
              p.size());
    }
  }
}

}  // namespace bagsplit::jobs::detail
