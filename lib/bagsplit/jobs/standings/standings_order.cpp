#include <algorithm>
#include <cmath>
#include <numeric>

#include "bagsplit/inference/posterior/doubt.hpp"
#include "bagsplit/jobs/standings/detail/standings_best.hpp"
#include "bagsplit/jobs/standings/detail/standings_job.hpp"
#include "bagsplit/stats/quantile.hpp"

namespace bagsplit::jobs::detail {

namespace {

double sign_of(const ResolvedQuantity& part) {
  return lower_is_better(part.words.quantity) ? -1.0 : 1.0;
}

inference::Estimate moved(const inference::Estimate& e, double factor, double shift) {
  inference::Estimate out{factor * e.mean + shift,   std::abs(factor) * e.sd, factor * e.lo + shift,
                          factor * e.median + shift, factor * e.hi + shift,   e.share_from_data};
  if (out.lo > out.hi) {
    std::swap(out.lo, out.hi);
  }
  return out;
}

inference::Estimate summary_of(std::span<const double> draws, double level) {
  std::vector<double> sorted(draws.begin(), draws.end());
  std::sort(sorted.begin(), sorted.end());
  const double n = static_cast<double>(sorted.size());
  inference::Estimate out;
  out.mean = std::accumulate(sorted.begin(), sorted.end(), 0.0) / n;
  for (const double value : sorted) {
    out.sd += (value - out.mean) * (value - out.mean);
  }
  out.sd = std::sqrt(out.sd / (n - 1.0));
  out.lo = stats::quantile_sorted(sorted, 0.5 * (1.0 - level)).value();
  out.median = stats::quantile_sorted(sorted, 0.5).value();
  out.hi = stats::quantile_sorted(sorted, 0.5 * (1.0 + level)).value();
  return out;
}

// Mean and SD between the players of one part, each a mean over the draws: what all players share is not in the SD.
inference::Normal between_players(std::span<const double> part_draws, std::size_t players, std::size_t parts,
                                  std::size_t part, std::size_t draws) {
  inference::Normal out;
  for (std::size_t d = 0; d < draws; ++d) {
    double sum = 0.0;
    double square = 0.0;
    const double first = part_draws[part * draws + d];
    for (std::size_t i = 0; i < players; ++i) {
      const double off = part_draws[(i * parts + part) * draws + d] - first;
      sum += off;
      square += off * off;
    }
    const double n = static_cast<double>(players);
    out.mean += (first + sum / n) / static_cast<double>(draws);
    out.sd += std::sqrt(std::max(0.0, square - sum * sum / n) / std::max(1.0, n - 1.0)) / static_cast<double>(draws);
  }
  return out;
}

CutStatus status_of(double p_in_cut, double certainty) {
  return p_in_cut >= certainty ? CutStatus::in : p_in_cut <= 1.0 - certainty ? CutStatus::out : CutStatus::undecided;
}

// By the official list a place is certain, but for ties across the line.
CutStatus official_status(const BestTime& best, std::size_t tied, std::size_t cut) {
  return best.place + tied - 1 <= cut ? CutStatus::in : best.place > cut ? CutStatus::out : CutStatus::undecided;
}

constexpr std::size_t most_in_pairs = 400;  // players; pairs take their square times the draws

// Whether the order of two holds in at least the share `certainty` of the joint draws, equal ones by halves. Stops as
// soon as the draws to come cannot change the answer.
bool surely_ordered(std::span<const double> a, std::span<const double> b, double certainty) {
  constexpr std::size_t block = 256;
  const std::size_t count = a.size();
  const auto share = [&](std::size_t halves) { return static_cast<double>(halves) / static_cast<double>(2 * count); };
  std::size_t halves = 0;  // by which a lies below b
  for (std::size_t from = 0; from < count; from += block) {
    const std::size_t end = std::min(from + block, count);
    std::size_t less = 0;
    std::size_t equal = 0;
    for (std::size_t d = from; d < end; ++d) {
      less += a[d] < b[d] ? 1U : 0U;
      equal += a[d] == b[d] ? 1U : 0U;
    }
    halves += 2 * less + equal;
    const double least = share(halves);
    const double most = share(halves + 2 * (count - end));
    if (least >= certainty || 1.0 - most >= certainty) {
      return true;
    }
    if (most < certainty && 1.0 - least < certainty) {
      return false;
    }
  }
  return false;
}

// What is ordered, of one player, given a group of slips: draws as they are, moved and stretched.
struct Moved {
  double shift = 0.0, factor = 1.0;

  double operator()(double draw) const { return shift + factor * draw; }
};

// One a group of the player's slips; none: readings fit.
std::vector<Moved> moved_by_slips(const Ranked& player, std::span<const double> draws) {
  const std::vector<GroupBelief>& groups = player.belief->groups;
  const std::size_t parts = player.weights.size();
  double all = 0.0;
  std::vector<double> mean(parts, 0.0);
  std::vector<double> square(parts, 0.0);
  for (const GroupBelief& group : groups) {
    all += group.slips.probability;
    for (std::size_t k = 0; k < parts; ++k) {
      mean[k] += group.slips.probability * group.parts[k].mean;
      square[k] +=
          group.slips.probability * (group.parts[k].mean * group.parts[k].mean + group.parts[k].sd * group.parts[k].sd);
    }
  }
  const double centre = std::accumulate(draws.begin(), draws.end(), 0.0) / static_cast<double>(draws.size());
  std::vector<Moved> out;
  for (const GroupBelief& group : groups) {
    double by = 0.0;
    double own = 0.0;
    double total = 0.0;
    for (std::size_t k = 0; k < parts; ++k) {
      const double w2 = player.weights[k] * player.weights[k];
      by += player.weights[k] * (group.parts[k].mean - mean[k] / all);
      own += w2 * group.parts[k].sd * group.parts[k].sd;
      total += w2 * (square[k] / all - mean[k] * mean[k] / (all * all));
    }
    const double factor = total > 0.0 ? std::sqrt(own / total) : 1.0;
    out.push_back({centre + by - factor * centre, factor});
  }
  return out;
}

std::vector<inference::SlipGroup> slips_of(const Ranked& player) {
  std::vector<inference::SlipGroup> out;
  for (const GroupBelief& group : player.belief->groups) {
    out.push_back(group.slips);
  }
  return out;
}

// Whether a sure order of two stays sure whatever is wrong with the readings of `a`.
bool stays_ordered(const Ranked& player, std::span<const Moved> moved, std::span<const double> a,
                   std::span<const double> b, double certainty) {
  std::vector<double> holds;
  std::size_t less = 0;
  for (std::size_t d = 0; d < a.size(); ++d) {
    less += a[d] < b[d] ? 1U : 0U;
  }
  const bool below = 2 * less > a.size();
  for (const Moved& move : moved) {
    std::size_t kept = 0;
    for (std::size_t d = 0; d < a.size(); ++d) {
      kept += (move(a[d]) < b[d]) == below ? 1U : 0U;
    }
    holds.push_back(static_cast<double>(kept) / static_cast<double>(a.size()));
  }
  return !inference::fails_in(holds, slips_of(player), certainty);
}

// After one heat the spread of the children is the prior's, not the heat's: nobody is surely in front of anybody.
void say_nothing_too_soon(std::span<Ranked* const> members, StandingsGroup& group) {
  const auto too_soon = [](const Ranked* one) { return one->standing.heats < 2 && one->standing.runs_of_course == 0; };
  if (std::none_of(members.begin(), members.end(), too_soon)) {
    return;
  }
  group.sure_pairs = std::nullopt;
  for (Ranked* one : members) {
    one->standing.tier = 1;
    if (too_soon(one) && one->standing.status) {
      one->standing.status = CutStatus::undecided;
    }
  }
}

std::size_t sure_pairs_of(std::span<Ranked* const> players, std::span<const std::vector<Moved>> moved,
                          std::span<const double> draws, std::size_t count, double certainty) {
  std::size_t sure = 0;
  for (std::size_t i = 0; i < players.size(); ++i) {
    for (std::size_t k = i + 1; k < players.size(); ++k) {
      const auto a = draws.subspan(i * count, count);
      const auto b = draws.subspan(k * count, count);
      sure += surely_ordered(a, b, certainty) && stays_ordered(*players[i], moved[i], a, b, certainty) &&
                      stays_ordered(*players[k], moved[k], b, a, certainty)
                  ? 1U
                  : 0U;
    }
  }
  return sure;
}

// A sure place within the cut, or outside, that hangs on one row is undecided.
void refuse_what_hangs(std::span<Ranked* const> players, std::span<const std::vector<Moved>> moved,
                       std::span<const double> draws, std::size_t count, std::size_t cut, const StandingsResult& result,
                       bool lower_is_better, const runs::RunLog& log) {
  const double sign = lower_is_better ? 1.0 : -1.0;
  std::vector<double> others(players.size());
  for (std::size_t i = 0; i < players.size(); ++i) {
    Standing& standing = players[i]->standing;
    if (moved[i].empty() || standing.status == CutStatus::undecided || cut >= players.size()) {
      continue;
    }
    std::vector<double> in(moved[i].size(), 0.0);
    for (std::size_t d = 0; d < count; ++d) {
      others.clear();
      for (std::size_t k = 0; k < players.size(); ++k) {
        if (k != i) {
          others.push_back(sign * draws[k * count + d]);
        }
      }
      const auto line = others.begin() + static_cast<std::ptrdiff_t>(cut - 1);
      std::nth_element(others.begin(), line, others.end());
      for (std::size_t g = 0; g < in.size(); ++g) {
        in[g] += sign * moved[i][g](draws[i * count + d]) < *line ? 1.0 / static_cast<double>(count) : 0.0;
      }
    }
    if (standing.status == CutStatus::out) {
      for (double& p : in) {
        p = 1.0 - p;
      }
    }
    if (const auto group = inference::fails_in(in, slips_of(*players[i]), result.certainty)) {
      standing.hangs_on =
          hangs_on_reading(log, players[i]->belief->groups[*group].log_reading, std::string(word_of(*standing.status)));
      standing.status = CutStatus::undecided;
    }
  }
}

void order_officially(std::span<Ranked*> group, std::optional<std::size_t> cut, Ties ties) {
  std::vector<BestTime*> bests;
  for (Ranked* player : group) {
    bests.push_back(&player->standing.best.value());
  }
  give_places(bests, ties);
  for (Ranked* player : group) {
    const BestTime& best = *player->standing.best;
    player->standing.place = best.place;
    if (cut) {
      const auto tied =
          std::count_if(bests.begin(), bests.end(), [&](const BestTime* b) { return b->place == best.place; });
      player->standing.status = official_status(best, static_cast<std::size_t>(tied), *cut);
    }
  }
}

}  // namespace

Values compose(std::span<Ranked> players, std::span<const ResolvedQuantity> parts, std::vector<double> part_draws,
               StandingsResult& result) {
  Values out;
  out.count = result.draws;
  const std::size_t k = parts.size();
  const bool index = k > 1;
  out.lower_is_better = !index && !result.age_adjusted && lower_is_better(parts[0].words.quantity);
  std::vector<double> shares;
  double total = 0.0;
  for (const ResolvedQuantity& part : parts) {
    total += part.words.weight;
  }
  for (std::size_t p = 0; p < k; ++p) {
    shares.push_back(parts[p].words.weight / total);
    if (index) {
      const inference::Normal scale = result.age_adjusted
                                          ? inference::Normal{0.0, 1.0}
                                          : between_players(part_draws, players.size(), k, p, out.count);
      result.index.push_back({word_of(parts[p].words), parts[p].words.weight, scale.mean, scale.sd});
    }
  }
  if (!index && !result.age_adjusted) {
    for (Ranked& player : players) {
      player.weights = {1.0};
      player.standing.value = player.belief->parts[0];
    }
    out.draws = std::move(part_draws);
    return out;
  }
  out.draws.assign(players.size() * out.count, 0.0);
  for (std::size_t i = 0; i < players.size(); ++i) {
    Ranked& player = players[i];
    double* const mine = out.draws.data() + i * out.count;
    for (std::size_t p = 0; p < k; ++p) {
      const inference::Normal scale = result.age_adjusted ? *player.belief->expected[p]
                                                          : inference::Normal{result.index[p].mean, result.index[p].sd};
      const double factor = sign_of(parts[p]) * (index ? shares[p] : 1.0) / std::max(scale.sd, 1e-12);
      player.weights.push_back(factor);
      player.standing.parts.push_back({word_of(parts[p].words), player.belief->parts[p]});
      const double* const part = part_draws.data() + (i * k + p) * out.count;
      for (std::size_t d = 0; d < out.count; ++d) {
        mine[d] += factor * (part[d] - scale.mean);
      }
      if (!index) {
        player.standing.value = moved(player.belief->parts[p], factor, -factor * scale.mean);
      }
    }
    if (index) {
      player.standing.value = summary_of(out.of(i), result.level);
    }
  }
  return out;
}

void order_groups(std::vector<Ranked>& players, const Values& values, const runs::RunLog& log,
                  StandingsResult& result) {
  const stats::Best best = values.lower_is_better ? stats::Best::lowest : stats::Best::highest;
  for (std::size_t g = 0; g < result.groups.size(); ++g) {
    StandingsGroup& group = result.groups[g];
    std::vector<Ranked*> members;
    std::vector<double> draws;
    for (std::size_t i = 0; i < players.size(); ++i) {
      if (players[i].standing.group == g) {
        members.push_back(&players[i]);
        draws.insert(draws.end(), values.of(i).begin(), values.of(i).end());
      }
    }
    group.players = members.size();
    if (members.empty()) {
      continue;
    }
    const stats::Ranking ranking = stats::rank_draws(
        draws, members.size(), std::min(group.cut.value_or(0), members.size()), best, result.certainty, result.level);
    for (std::size_t at = 0; at < members.size(); ++at) {
      const std::size_t i = ranking.order[at];
      Standing& standing = members[i]->standing;
      standing.place = at + 1;
      standing.expected_rank = ranking.expected_rank[i];
      standing.rank_lo = ranking.rank_lo[i];
      standing.rank_hi = ranking.rank_hi[i];
      standing.tier = ranking.tier[i];
      if (group.cut) {
        standing.p_in_cut = ranking.p_in_cut[i];
        standing.status = status_of(ranking.p_in_cut[i], result.certainty);
      }
    }
    if (result.method == StandingsMethod::best) {
      order_officially(members, group.cut, result.ties);
      continue;
    }
    std::vector<std::vector<Moved>> moved;
    for (std::size_t i = 0; i < members.size(); ++i) {
      moved.push_back(moved_by_slips(*members[i], std::span(draws).subspan(i * values.count, values.count)));
    }
    if (group.cut) {
      refuse_what_hangs(members, moved, draws, values.count, *group.cut, result, values.lower_is_better, log);
    }
    if (members.size() <= most_in_pairs) {
      group.sure_pairs = sure_pairs_of(members, moved, draws, values.count, result.certainty);
    }
    if (result.heats) {
      say_nothing_too_soon(members, group);
    }
  }
}

}  // namespace bagsplit::jobs::detail
