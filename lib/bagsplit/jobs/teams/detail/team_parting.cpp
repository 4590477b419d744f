#include "bagsplit/jobs/teams/detail/team_parting.hpp"

#include <boost/math/special_functions/gamma.hpp>
#include <cmath>
#include <numeric>

namespace bagsplit::jobs {

namespace {

constexpr std::size_t feasibility_steps = 300'000;  // of one search for any split that keeps the rules
constexpr double bound_saves = 1e6;                 // splits the bound leaves out for each it lets through, at best

}  // namespace

Parting::Parting(const TeamProblem& problem, std::span<const std::uint8_t> kept)
    : problem_(problem), teams_(problem.teams) {
  const std::size_t n = problem.time_s.size();
  mean_s_ = std::accumulate(problem.time_s.begin(), problem.time_s.end(), 0.0) / static_cast<double>(n);
  base_ = n / teams_;
  extra_ = n % teams_;
  for (std::size_t r = 0; r < problem.rules.size(); ++r) {
    if (kept.empty() || kept[r] != 0) {
      rules_.push_back(&problem.rules[r]);
    }
  }
  make_blocks();
}

void Parting::make_blocks() {
  const std::size_t n = problem_.time_s.size();
  std::vector<std::size_t> parent(n);
  std::iota(parent.begin(), parent.end(), std::size_t{0});
  const auto root = [&](std::size_t i) {
    while (parent[i] != i) {
      i = parent[i];
    }
    return i;
  };
  const auto join = [&](const TeamRule& rule) {
    for (const std::size_t player : rule.players) {
      const std::size_t a = root(rule.players.front());
      const std::size_t b = root(player);
      parent[std::max(a, b)] = std::min(a, b);
    }
  };
  for (const TeamRule* rule : rules_) {
    if (rule->kind == TeamRule::Kind::together || rule->kind == TeamRule::Kind::in_team) {
      join(*rule);
    }
  }
  block_of_.assign(n, any_team);
  for (std::size_t i = 0; i < n; ++i) {
    const std::size_t r = root(i);
    if (block_of_[r] == any_team) {
      block_of_[r] = blocks_.size();
      blocks_.emplace_back();
    }
    block_of_[i] = block_of_[r];
    Block& block = blocks_[block_of_[i]];
    const double off = problem_.time_s[i] - mean_s_;
    block.players.push_back(i);
    block.sum_s += off;
    block.square_s2 += off * off;
  }
  named_.assign(teams_, 0);
  foes_.resize(blocks_.size());
  for (const TeamRule* rule : rules_) {
    for (const std::size_t player : rule->players) {
      ++blocks_[block_of_[player]].ruled;
    }
    if (rule->kind == TeamRule::Kind::in_team) {
      named_[rule->team] = 1;
      Block& block = blocks_[block_of_[rule->players.front()]];
      impossible_ = impossible_ || (block.team != any_team && block.team != rule->team);
      block.team = rule->team;
    } else if (rule->kind == TeamRule::Kind::apart) {
      for (const std::size_t a : rule->players) {
        for (const std::size_t b : rule->players) {
          if (a != b) {
            impossible_ = impossible_ || block_of_[a] == block_of_[b];
            foes_[block_of_[a]].push_back(block_of_[b]);
          }
        }
      }
    } else if (rule->kind == TeamRule::Kind::even) {
      Even& even = even_.emplace_back();
      even.members.assign(blocks_.size(), 0);
      for (const std::size_t player : rule->players) {
        ++even.members[block_of_[player]];
      }
      even.least = rule->players.size() / teams_;
      even.more = rule->players.size() % teams_;
    }
  }
}

template <typename Before>
void Parting::order_blocks(Before&& before) {
  order_.resize(blocks_.size());
  std::iota(order_.begin(), order_.end(), std::size_t{0});
  std::stable_sort(order_.begin(), order_.end(), [&](std::size_t a, std::size_t b) {
    const bool a_fixed = blocks_[a].team != any_team;
    const bool b_fixed = blocks_[b].team != any_team;
    return a_fixed != b_fixed ? a_fixed : before(blocks_[a], blocks_[b]);
  });
  prepare_bounds();
}

bool Parting::find_any(std::vector<std::size_t>& team_of_block, bool& done) {
  if (impossible_) {
    done = true;
    return false;
  }
  order_blocks([&](const Block& a, const Block& b) {
    return a.ruled != b.ruled ? a.ruled > b.ruled : a.players.size() > b.players.size();
  });
  best_.clear();
  best_total_ = std::numeric_limits<double>::infinity();
  first_only_ = true;
  steps_left_ = feasibility_steps;
  search();
  done = !best_.empty() || steps_left_ > 0;
  team_of_block = best_;
  return !best_.empty();
}

bool Parting::may_be_proven() const {
  const auto n = static_cast<double>(blocks_.size());
  const auto k = static_cast<double>(teams_);
  const double log_splits =
      boost::math::lgamma(n + 1.0) - k * boost::math::lgamma(n / k + 1.0) - boost::math::lgamma(k + 1.0);
  return log_splits < std::log(bound_saves * static_cast<double>(problem_.most_steps));
}

bool Parting::prove(std::vector<std::size_t>& team_of_block) {
  order_blocks([](const Block& a, const Block& b) {
    return a.players.size() != b.players.size() ? a.players.size() > b.players.size()
                                                : std::fabs(a.sum_s) > std::fabs(b.sum_s);
  });
  best_ = team_of_block;
  best_total_ = total(sums_of(best_));
  best_teams_ = players_teams(best_);
  first_only_ = false;
  steps_left_ = problem_.most_steps;
  search();
  team_of_block = best_;
  return steps_left_ > 0;
}

Teams Parting::sums_of(std::span<const std::size_t> team_of_block) const {
  Teams sums(teams_);
  for (std::size_t b = 0; b < blocks_.size(); ++b) {
    sums.add(blocks_[b], team_of_block[b], 1.0);
  }
  return sums;
}

void Parting::search() {
  Teams sums(teams_);
  std::vector<std::size_t> placed(blocks_.size(), any_team);
  counts_.assign(even_.size(), std::vector<std::size_t>(teams_, 0));
  descend(0, sums, placed);
}

void Parting::prepare_bounds() {
  rest_.assign(blocks_.size() + 1, {});
  for (std::size_t depth = 0; depth <= blocks_.size(); ++depth) {
    std::vector<double> off;
    for (std::size_t k = depth; k < order_.size(); ++k) {
      for (const std::size_t player : blocks_[order_[k]].players) {
        off.push_back(problem_.time_s[player] - mean_s_);
      }
    }
    std::vector<double> squares;
    squares.reserve(off.size());
    for (const double x : off) {
      squares.push_back(x * x);
    }
    std::sort(off.begin(), off.end());
    std::sort(squares.begin(), squares.end());
    Rest& rest = rest_[depth];
    rest.low_sum.push_back(0.0);
    rest.high_sum.push_back(0.0);
    rest.low_square.push_back(0.0);
    rest.high_square.push_back(0.0);
    for (std::size_t k = 0; k < off.size(); ++k) {
      rest.low_sum.push_back(rest.low_sum.back() + off[k]);
      rest.high_sum.push_back(rest.high_sum.back() + off[off.size() - 1 - k]);
      rest.low_square.push_back(rest.low_square.back() + squares[k]);
      rest.high_square.push_back(rest.high_square.back() + squares[squares.size() - 1 - k]);
    }
  }
}

// What every completion is at least: no team can come closer to the others than its best remaining players let it.
double Parting::bound(std::size_t depth, const Teams& sums) const {
  const Rest& rest = rest_[depth];
  double highest_low = 0.0;  // the teams' means, weighted by size, add up to 0: some mean is not below, some not above
  double lowest_high = 0.0;
  double widest_low = 0.0;
  double narrowest_high = std::numeric_limits<double>::infinity();
  for (std::size_t t = 0; t < teams_; ++t) {
    double low = std::numeric_limits<double>::infinity();
    double high = -low;
    double wide = low;
    double narrow = 0.0;
    for (std::size_t size = base_; size <= base_ + (extra_ > 0 ? 1 : 0); ++size) {
      if (sums.size[t] > size || size - sums.size[t] >= rest.low_sum.size() || size == 0) {
        continue;
      }
      const std::size_t open = size - sums.size[t];
      const auto n = static_cast<double>(size);
      low = std::min(low, (sums.sum_s[t] + rest.low_sum[open]) / n);
      high = std::max(high, (sums.sum_s[t] + rest.high_sum[open]) / n);
      wide = std::min(wide, (sums.square_s2[t] + rest.low_square[open]) / n);
      narrow = std::max(narrow, (sums.square_s2[t] + rest.high_square[open]) / n);
    }
    if (low > high) {
      return std::numeric_limits<double>::infinity();  // too many, or too few left
    }
    highest_low = std::max(highest_low, low);
    lowest_high = std::min(lowest_high, high);
    widest_low = std::max(widest_low, wide);
    narrowest_high = std::min(narrowest_high, narrow);
  }
  const double spread = std::max(0.0, std::sqrt(std::max(0.0, widest_low)) - std::sqrt(std::max(0.0, narrowest_high)));
  return highest_low - lowest_high + problem_.spread_weight * spread;
}

double Parting::total(const Teams& sums) const {
  double low = std::numeric_limits<double>::infinity();
  double high = -low;
  double narrow = low;
  double wide = -low;
  for (std::size_t t = 0; t < teams_; ++t) {
    const auto n = static_cast<double>(sums.size[t]);
    low = std::min(low, sums.sum_s[t] / n);
    high = std::max(high, sums.sum_s[t] / n);
    narrow = std::min(narrow, sums.square_s2[t] / n);
    wide = std::max(wide, sums.square_s2[t] / n);
  }
  return high - low + problem_.spread_weight * (std::sqrt(std::max(0.0, wide)) - std::sqrt(std::max(0.0, narrow)));
}

bool Parting::may_join(std::size_t block, std::size_t t, const Teams& sums,
                       const std::vector<std::size_t>& placed) const {
  const Block& joining = blocks_[block];
  if (joining.team != any_team && joining.team != t) {
    return false;
  }
  const std::size_t size = sums.size[t] + joining.players.size();
  if (size > base_) {
    std::size_t larger = 1;
    for (std::size_t other = 0; other < teams_; ++other) {
      larger += other != t && sums.size[other] > base_ ? 1U : 0U;
    }
    if (size > base_ + 1 || larger > extra_) {
      return false;
    }
  }
  for (const std::size_t foe : foes_[block]) {
    if (placed[foe] == t) {
      return false;
    }
  }
  for (std::size_t e = 0; e < even_.size(); ++e) {
    const std::size_t count = counts_[e][t] + even_[e].members[block];
    if (even_[e].members[block] == 0 || count <= even_[e].least) {
      continue;
    }
    std::size_t larger = 1;
    for (std::size_t other = 0; other < teams_; ++other) {
      larger += other != t && counts_[e][other] > even_[e].least ? 1U : 0U;
    }
    if (count > even_[e].least + 1 || larger > even_[e].more) {
      return false;
    }
  }
  return true;
}

void Parting::descend(std::size_t depth, Teams& sums, std::vector<std::size_t>& placed) {
  if (steps_left_ == 0 || (first_only_ && !best_.empty())) {
    return;
  }
  --steps_left_;
  if (depth == order_.size()) {
    take(sums, placed);
    return;
  }
  if (!first_only_ && bound(depth, sums) > best_total_ + same_imbalance_s) {
    return;
  }
  const std::size_t block = order_[depth];
  bool tried_empty = false;
  for (std::size_t t = 0; t < teams_; ++t) {
    // Empty teams are alike: blocks bound to a team stand first in the order.
    if (sums.size[t] == 0 && blocks_[block].team == any_team) {
      if (tried_empty) {
        continue;
      }
      tried_empty = true;
    }
    if (!may_join(block, t, sums, placed)) {
      continue;
    }
    placed[block] = t;
    sums.add(blocks_[block], t, 1.0);
    for (std::size_t e = 0; e < even_.size(); ++e) {
      counts_[e][t] += even_[e].members[block];
    }
    descend(depth + 1, sums, placed);
    for (std::size_t e = 0; e < even_.size(); ++e) {
      counts_[e][t] -= even_[e].members[block];
    }
    sums.add(blocks_[block], t, -1.0);
    placed[block] = any_team;
  }
}

void Parting::take(const Teams& sums, const std::vector<std::size_t>& placed) {
  const double now = total(sums);
  if (now > best_total_ + same_imbalance_s) {
    return;
  }
  std::vector<std::size_t> teams = players_teams(placed);
  if (best_.empty() || now < best_total_ - same_imbalance_s || teams < best_teams_) {
    best_total_ = std::min(now, best_total_);
    best_ = placed;
    best_teams_ = std::move(teams);
  }
}

std::vector<std::size_t> Parting::players_teams(std::span<const std::size_t> team_of_block) const {
  std::vector<std::size_t> number(teams_, any_team);
  std::vector<std::uint8_t> taken(named_);
  for (std::size_t t = 0; t < teams_; ++t) {
    if (named_[t] != 0) {
      number[t] = t;
    }
  }
  std::vector<std::size_t> out;
  for (const std::size_t block : block_of_) {
    std::size_t& as = number[team_of_block[block]];
    if (as == any_team) {
      as = static_cast<std::size_t>(std::find(taken.begin(), taken.end(), 0) - taken.begin());
      taken[as] = 1;
    }
    out.push_back(as);
  }
  return out;
}

}  // namespace bagsplit::jobs
