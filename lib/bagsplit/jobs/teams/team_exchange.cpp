#include <cmath>

#include "bagsplit/jobs/teams/detail/team_parting.hpp"
#include "bagsplit/stats/random.hpp"

namespace bagsplit::jobs {

namespace {

constexpr double most_restarts = 400.0;
constexpr double search_effort = 1.5e8;  // a descent costs about n^3 k; 0.1 s in all
constexpr std::uint64_t seed = 20260411;

}  // namespace

bool Parting::keeps(const std::vector<std::size_t>& team_of_block) const {
  std::vector<std::size_t> size(teams_, 0);
  for (std::size_t b = 0; b < blocks_.size(); ++b) {
    const std::size_t t = team_of_block[b];
    size[t] += blocks_[b].players.size();
    if (blocks_[b].team != any_team && blocks_[b].team != t) {
      return false;
    }
    for (const std::size_t foe : foes_[b]) {
      if (team_of_block[foe] == t) {
        return false;
      }
    }
  }
  if (std::any_of(size.begin(), size.end(),
                  [&](std::size_t s) { return s < base_ || s > base_ + (extra_ > 0 ? 1 : 0); })) {
    return false;
  }
  for (const Even& even : even_) {
    std::vector<std::size_t> count(teams_, 0);
    for (std::size_t b = 0; b < blocks_.size(); ++b) {
      count[team_of_block[b]] += even.members[b];
    }
    if (std::any_of(count.begin(), count.end(),
                    [&](std::size_t c) { return c < even.least || c > even.least + (even.more > 0 ? 1 : 0); })) {
      return false;
    }
  }
  return true;
}

// The exchange of two blocks, or the move of one, that helps most; until none does.
void Parting::descend_by_exchange(std::vector<std::size_t>& team_of_block) const {
  Teams sums = sums_of(team_of_block);
  double now = total(sums);
  for (;;) {
    double best = now - same_imbalance_s;
    std::size_t first = any_team;
    std::size_t second = any_team;
    std::size_t to = any_team;
    const auto consider = [&](std::size_t a, std::size_t b, std::size_t b_team) {
      const std::size_t a_team = team_of_block[a];
      sums.add(blocks_[a], a_team, -1.0);
      sums.add(blocks_[a], b_team, 1.0);
      if (b != any_team) {
        sums.add(blocks_[b], b_team, -1.0);
        sums.add(blocks_[b], a_team, 1.0);
      }
      if (const double there = total(sums); there < best) {
        std::vector<std::size_t> moved(team_of_block);
        moved[a] = b_team;
        if (b != any_team) {
          moved[b] = a_team;
        }
        if (keeps(moved)) {
          best = there;
          first = a;
          second = b;
          to = b_team;
        }
      }
      sums.add(blocks_[a], b_team, -1.0);
      sums.add(blocks_[a], a_team, 1.0);
      if (b != any_team) {
        sums.add(blocks_[b], a_team, -1.0);
        sums.add(blocks_[b], b_team, 1.0);
      }
    };
    for (std::size_t a = 0; a < blocks_.size(); ++a) {
      for (std::size_t b = a + 1; b < blocks_.size(); ++b) {
        if (team_of_block[a] != team_of_block[b] && blocks_[a].players.size() == blocks_[b].players.size()) {
          consider(a, b, team_of_block[b]);
        }
      }
      for (std::size_t t = 0; extra_ > 0 && t < teams_; ++t) {
        if (t != team_of_block[a] && sums.size[team_of_block[a]] > blocks_[a].players.size()) {
          consider(a, any_team, t);
        }
      }
    }
    if (first == any_team) {
      return;
    }
    const std::size_t from = team_of_block[first];
    team_of_block[first] = to;
    if (second != any_team) {
      team_of_block[second] = from;
    }
    sums = sums_of(team_of_block);
    now = total(sums);
  }
}

void Parting::improve(std::vector<std::size_t>& team_of_block) {
  descend_by_exchange(team_of_block);
  double best = total(sums_of(team_of_block));
  std::vector<std::size_t> best_teams = players_teams(team_of_block);
  const std::size_t n = blocks_.size();
  const double descent = std::pow(static_cast<double>(n), 3.0) * static_cast<double>(teams_);
  const auto restarts = static_cast<std::size_t>(std::clamp(search_effort / descent, 1.0, most_restarts));
  for (std::size_t start = 0; start < restarts; ++start) {
    stats::RandomStream random(seed, start);
    std::vector<std::size_t> other = team_of_block;
    for (std::size_t k = 0; k < n; ++k) {
      const std::size_t a = random.below(n);
      const std::size_t b = random.below(n);
      if (blocks_[a].players.size() == blocks_[b].players.size()) {
        std::swap(other[a], other[b]);
        if (!keeps(other)) {
          std::swap(other[a], other[b]);
        }
      }
    }
    descend_by_exchange(other);
    const double there = total(sums_of(other));
    std::vector<std::size_t> teams = players_teams(other);
    if (there < best - same_imbalance_s || (there < best + same_imbalance_s && teams < best_teams)) {
      best = std::min(best, there);
      team_of_block = std::move(other);
      best_teams = std::move(teams);
    }
  }
}

}  // namespace bagsplit::jobs
