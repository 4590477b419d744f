#include <algorithm>
#include <cmath>

#include "bagsplit/jobs/standings/detail/standings_job.hpp"

namespace bagsplit::jobs::detail {

namespace {

constexpr double settled = 0.001;  // whose probability is nearer to 0 or 1 is not asked to run again

bool unsettled(const Standing& standing) {
  return std::min(*standing.p_in_cut, 1.0 - *standing.p_in_cut) > settled;
}

// Mean and SD of how far each player of a group is past its line, midway between the last one in and the first one out
// of each draw: what all share falls out.
std::vector<stats::Candidate> candidates_of(std::span<const std::size_t> group, const Values& values, std::size_t cut) {
  const double sign = values.lower_is_better ? 1.0 : -1.0;
  const std::size_t n = group.size();
  std::vector<double> sum(n, 0.0);
  std::vector<double> square(n, 0.0);
  std::vector<double> row(n);
  std::vector<double> sorted;
  for (std::size_t d = 0; d < values.count; ++d) {
    for (std::size_t i = 0; i < n; ++i) {
      row[i] = sign * values.of(group[i])[d];
    }
    sorted = row;
    const auto first_out = sorted.begin() + static_cast<std::ptrdiff_t>(cut);
    std::nth_element(sorted.begin(), first_out, sorted.end());
    const double line = 0.5 * (*first_out + *std::max_element(sorted.begin(), first_out));
    for (std::size_t i = 0; i < n; ++i) {
      sum[i] += row[i] - line;
      square[i] += (row[i] - line) * (row[i] - line);
    }
  }
  std::vector<stats::Candidate> out;
  const double draws = static_cast<double>(values.count);
  for (std::size_t i = 0; i < n; ++i) {
    const double mean = sum[i] / draws;
    const double sd = std::sqrt(std::max(1e-18, square[i] / draws - mean * mean));
    out.push_back({mean, sd, 1.0, sd});  // nothing to be told, for now
  }
  return out;
}

}  // namespace

void give_next_runs(std::span<const Ranked> players, const Values& values, std::span<const ResolvedQuantity> parts,
                    const runs::RunLog& log, StandingsResult& result) {
  std::vector<stats::Candidate> candidates;
  std::vector<std::size_t> who;  // into players, one a candidate
  for (std::size_t g = 0; g < result.groups.size(); ++g) {
    std::vector<std::size_t> group;
    for (std::size_t i = 0; i < players.size(); ++i) {
      if (players[i].standing.group == g) {
        group.push_back(i);
      }
    }
    if (!result.groups[g].cut || *result.groups[g].cut >= group.size()) {
      continue;
    }
    const auto some = candidates_of(group, values, *result.groups[g].cut);
    candidates.insert(candidates.end(), some.begin(), some.end());
    who.insert(who.end(), group.begin(), group.end());
  }
  if (candidates.empty()) {
    return;
  }
  std::vector<std::uint16_t> courses(who.size(), 0);
  const auto with_effects = [&](NextDay day) {
    std::vector<stats::Candidate> out = candidates;
    for (std::size_t i = 0; i < who.size(); ++i) {
      const Ranked& player = players[who[i]];
      if (!unsettled(player.standing)) {
        continue;
      }
      const RunEffect effect = effect_of(*player.entrant, *player.belief, parts, player.weights, log, day);
      const double told = std::min(effect.told, 0.999 * out[i].sd * out[i].sd);
      if (told > 0.0 && effect.run_variance > 0.0) {
        out[i].floor_sd = std::sqrt(out[i].sd * out[i].sd - told);
        out[i].run_sd = std::sqrt(effect.run_variance);
        courses[i] = effect.course;
      }
    }
    return out;
  };
  const std::vector<stats::Candidate> today = with_effects(NextDay::same);
  const std::vector<stats::Candidate> later = with_effects(NextDay::other);
  const std::vector<std::size_t> more = stats::allocate_runs(today, 0.0, result.next_runs_asked, result.most_each);
  RunsWorth worth;
  worth.now = stats::expected_wrong_cuts(today, 0.0, {});
  worth.after = stats::expected_wrong_cuts(today, 0.0, more);
  worth.after_another_day = stats::expected_wrong_cuts(
      later, 0.0, stats::allocate_runs(later, 0.0, result.next_runs_asked, result.most_each));
  result.worth = worth;
  for (std::size_t i = 0; i < who.size(); ++i) {
    const Standing& standing = players[who[i]].standing;
    if (more[i] > 0 && unsettled(standing) && today[i].floor_sd < today[i].sd) {
      result.next_runs.push_back({standing.player, more[i], log.courses[courses[i]].name});
    }
  }
  const auto hangs = [&](const MoreRuns& asked) {
    return std::any_of(players.begin(), players.end(), [&](const Ranked& player) {
      return player.standing.player == asked.player && player.standing.hangs_on;
    });
  };
  std::stable_sort(result.next_runs.begin(), result.next_runs.end(), [&](const MoreRuns& a, const MoreRuns& b) {
    return std::pair(hangs(a), a.runs) > std::pair(hangs(b), b.runs);
  });
}

}  // namespace bagsplit::jobs::detail
