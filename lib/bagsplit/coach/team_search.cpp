#include "bagsplit/coach/team_search.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numeric>
#include <stdexcept>

#include "bagsplit/stats/random.hpp"

namespace bagsplit::coach {

namespace {

constexpr std::size_t anywhere = std::numeric_limits<std::size_t>::max();
constexpr double same_s = 1e-12;                    // closer than this is equal
constexpr std::size_t feasibility_steps = 300'000;  // of one search for any split that keeps the rules
constexpr double most_restarts = 400.0;
constexpr double search_effort = 1.5e8;  // a descent costs about n^3 k; 0.1 s in all
constexpr double bound_saves = 1e6;      // splits the bound leaves out for each it lets through, at best
constexpr std::uint64_t seed = 20260411;

/// Players that stay together, as one.
struct Block {
  std::vector<std::size_t> players;
  std::size_t team = anywhere;  ///< fixed by a rule
  double sum_s = 0.0, square_s2 = 0.0;  ///< of the players' distances from the mean of all
  std::size_t ruled = 0;                ///< rules that name it
};

/// Sums by team while a split is being made.
struct Teams {
  std::vector<std::size_t> size;
  std::vector<double> sum_s, square_s2;

  explicit Teams(std::size_t n) : size(n, 0), sum_s(n, 0.0), square_s2(n, 0.0) {}
  void add(const Block& block, std::size_t t, double sign) {
    size[t] = sign > 0.0 ? size[t] + block.players.size() : size[t] - block.players.size();
    sum_s[t] += sign * block.sum_s;
    square_s2[t] += sign * block.square_s2;
  }
};

class Parting {
 public:
  Parting(const TeamProblem& problem, std::span<const std::uint8_t> kept) : problem_(problem), teams_(problem.teams) {
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

  /// Rules that contradict each other before anything is tried.
  bool impossible() const { return impossible_; }

  /// Any split that keeps the rules, blocks with rules first.  @return done: found, or nothing left to try.
  bool find_any(std::vector<std::size_t>& team_of_block, bool& done) {
    if (impossible_) {
      done = true;
      return false;
    }
    order_blocks([&](const Block& a, const Block& b) { return a.ruled != b.ruled ? a.ruled > b.ruled : a.players.size() > b.players.size(); });
    best_.clear();
    best_total_ = std::numeric_limits<double>::infinity();
    first_only_ = true;
    steps_left_ = feasibility_steps;
    search();
    done = !best_.empty() || steps_left_ > 0;
    team_of_block = best_;
    return !best_.empty();
  }

  /// Exchanges blocks between teams until nothing helps, from several starts.
  void improve(std::vector<std::size_t>& team_of_block);

  /// Whether there is any hope of trying them all: the number of ways to part so many blocks, rules left aside.
  bool may_be_proven() const {
    const auto n = static_cast<double>(blocks_.size());
    const auto k = static_cast<double>(teams_);
    const double log_splits = std::lgamma(n + 1.0) - k * std::lgamma(n / k + 1.0) - std::lgamma(k + 1.0);
    return log_splits < std::log(bound_saves * static_cast<double>(problem_.most_steps));
  }

  /// Branch and bound from a known split.  @return proven.
  bool prove(std::vector<std::size_t>& team_of_block) {
    order_blocks([](const Block& a, const Block& b) {
      return a.players.size() != b.players.size() ? a.players.size() > b.players.size() : std::fabs(a.sum_s) > std::fabs(b.sum_s);
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

  /// Teams of the players; teams no rule names are numbered by their first player.
  std::vector<std::size_t> players_teams(std::span<const std::size_t> team_of_block) const;

 private:
  void make_blocks();
  template <typename Before>
  void order_blocks(Before&& before) {
    order_.resize(blocks_.size());
    std::iota(order_.begin(), order_.end(), std::size_t{0});
    std::stable_sort(order_.begin(), order_.end(), [&](std::size_t a, std::size_t b) {
      const bool a_fixed = blocks_[a].team != anywhere;
      const bool b_fixed = blocks_[b].team != anywhere;
      return a_fixed != b_fixed ? a_fixed : before(blocks_[a], blocks_[b]);
    });
    prepare_bounds();
  }
  void prepare_bounds();
  void search() {
    Teams sums(teams_);
    std::vector<std::size_t> placed(blocks_.size(), anywhere);
    counts_.assign(even_.size(), std::vector<std::size_t>(teams_, 0));
    descend(0, sums, placed);
  }
  void descend(std::size_t depth, Teams& sums, std::vector<std::size_t>& placed);
  void take(const Teams& sums, const std::vector<std::size_t>& placed);
  bool may_join(std::size_t block, std::size_t t, const Teams& sums, const std::vector<std::size_t>& placed) const;
  bool keeps(const std::vector<std::size_t>& team_of_block) const;
  double bound(std::size_t depth, const Teams& sums) const;
  Teams sums_of(std::span<const std::size_t> team_of_block) const {
    Teams sums(teams_);
    for (std::size_t b = 0; b < blocks_.size(); ++b) {
      sums.add(blocks_[b], team_of_block[b], 1.0);
    }
    return sums;
  }
  double total(const Teams& sums) const;
  void descend_by_exchange(std::vector<std::size_t>& team_of_block) const;

  const TeamProblem& problem_;
  std::size_t teams_;
  double mean_s_ = 0.0;
  std::size_t base_ = 0, extra_ = 0;
  std::vector<const TeamRule*> rules_;
  bool impossible_ = false;
  std::vector<Block> blocks_;
  std::vector<std::size_t> block_of_;                      // of a player
  std::vector<std::uint8_t> named_;                        // teams that a rule names
  std::vector<std::vector<std::size_t>> foes_;             // blocks that must be apart
  struct Even {
    std::vector<std::size_t> members;  // of each block
    std::size_t least = 0, more = 0;   // `more` teams may have one above the least
  };
  std::vector<Even> even_;
  std::vector<std::vector<std::size_t>> counts_;  // of even_, by team, while searching

  std::vector<std::size_t> order_;
  // Of the players not yet placed at a depth: sums of the k smallest and k largest distances, and of their squares.
  struct Rest {
    std::vector<double> low_sum, high_sum, low_square, high_square;
  };
  std::vector<Rest> rest_;
  bool first_only_ = false;
  std::size_t steps_left_ = 0;
  std::vector<std::size_t> best_, best_teams_;
  double best_total_ = 0.0;
};

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
  block_of_.assign(n, anywhere);
  for (std::size_t i = 0; i < n; ++i) {
    const std::size_t r = root(i);
    if (block_of_[r] == anywhere) {
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
      impossible_ = impossible_ || (block.team != anywhere && block.team != rule->team);
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

bool Parting::may_join(std::size_t block, std::size_t t, const Teams& sums, const std::vector<std::size_t>& placed) const {
  const Block& joining = blocks_[block];
  if (joining.team != anywhere && joining.team != t) {
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
  if (!first_only_ && bound(depth, sums) > best_total_ + same_s) {
    return;
  }
  const std::size_t block = order_[depth];
  bool tried_empty = false;
  for (std::size_t t = 0; t < teams_; ++t) {
    // Empty teams are alike: blocks bound to a team stand first in the order.
    if (sums.size[t] == 0 && blocks_[block].team == anywhere) {
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
    placed[block] = anywhere;
  }
}

void Parting::take(const Teams& sums, const std::vector<std::size_t>& placed) {
  const double now = total(sums);
  if (now > best_total_ + same_s) {
    return;
  }
  std::vector<std::size_t> teams = players_teams(placed);
  if (best_.empty() || now < best_total_ - same_s || teams < best_teams_) {
    best_total_ = std::min(now, best_total_);
    best_ = placed;
    best_teams_ = std::move(teams);
  }
}

std::vector<std::size_t> Parting::players_teams(std::span<const std::size_t> team_of_block) const {
  std::vector<std::size_t> number(teams_, anywhere);
  std::vector<std::uint8_t> taken(named_);
  for (std::size_t t = 0; t < teams_; ++t) {
    if (named_[t] != 0) {
      number[t] = t;
    }
  }
  std::vector<std::size_t> out;
  for (const std::size_t block : block_of_) {
    std::size_t& as = number[team_of_block[block]];
    if (as == anywhere) {
      as = static_cast<std::size_t>(std::find(taken.begin(), taken.end(), 0) - taken.begin());
      taken[as] = 1;
    }
    out.push_back(as);
  }
  return out;
}

bool Parting::keeps(const std::vector<std::size_t>& team_of_block) const {
  std::vector<std::size_t> size(teams_, 0);
  for (std::size_t b = 0; b < blocks_.size(); ++b) {
    const std::size_t t = team_of_block[b];
    size[t] += blocks_[b].players.size();
    if (blocks_[b].team != anywhere && blocks_[b].team != t) {
      return false;
    }
    for (const std::size_t foe : foes_[b]) {
      if (team_of_block[foe] == t) {
        return false;
      }
    }
  }
  if (std::any_of(size.begin(), size.end(), [&](std::size_t s) { return s < base_ || s > base_ + (extra_ > 0 ? 1 : 0); })) {
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
    double best = now - same_s;
    std::size_t first = anywhere;
    std::size_t second = anywhere;
    std::size_t to = anywhere;
    const auto consider = [&](std::size_t a, std::size_t b, std::size_t b_team) {
      const std::size_t a_team = team_of_block[a];
      sums.add(blocks_[a], a_team, -1.0);
      sums.add(blocks_[a], b_team, 1.0);
      if (b != anywhere) {
        sums.add(blocks_[b], b_team, -1.0);
        sums.add(blocks_[b], a_team, 1.0);
      }
      if (const double there = total(sums); there < best) {
        std::vector<std::size_t> moved(team_of_block);
        moved[a] = b_team;
        if (b != anywhere) {
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
      if (b != anywhere) {
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
          consider(a, anywhere, t);
        }
      }
    }
    if (first == anywhere) {
      return;
    }
    const std::size_t from = team_of_block[first];
    team_of_block[first] = to;
    if (second != anywhere) {
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
    if (there < best - same_s || (there < best + same_s && teams < best_teams)) {
      best = std::min(best, there);
      team_of_block = std::move(other);
      best_teams = std::move(teams);
    }
  }
}

// Fewest rules that contradict each other: each is left out in turn, and stays out where the rest contradicts itself without it.
std::vector<std::size_t> contradiction(const TeamProblem& problem) {
  std::vector<std::uint8_t> kept(problem.rules.size(), 1);
  for (std::size_t r = 0; r < kept.size(); ++r) {
    kept[r] = 0;
    std::vector<std::size_t> any;
    bool done = false;
    if (Parting(problem, kept).find_any(any, done) || !done) {
      kept[r] = 1;
    }
  }
  std::vector<std::size_t> out;
  for (std::size_t r = 0; r < kept.size(); ++r) {
    if (kept[r] != 0) {
      out.push_back(r);
    }
  }
  return out;
}

}  // namespace

Imbalance imbalance_of(const TeamProblem& problem, std::span<const std::size_t> team_of) {
  const double mean = std::accumulate(problem.time_s.begin(), problem.time_s.end(), 0.0) / static_cast<double>(problem.time_s.size());
  std::vector<double> sum(problem.teams, 0.0);
  std::vector<double> square(problem.teams, 0.0);
  std::vector<double> size(problem.teams, 0.0);
  for (std::size_t i = 0; i < team_of.size(); ++i) {
    const double off = problem.time_s[i] - mean;
    sum[team_of[i]] += off;
    square[team_of[i]] += off * off;
    size[team_of[i]] += 1.0;
  }
  for (std::size_t t = 0; t < problem.teams; ++t) {
    sum[t] /= size[t];
    square[t] = std::sqrt(square[t] / size[t]);
  }
  const auto range = [](const std::vector<double>& x) {
    const auto [low, high] = std::minmax_element(x.begin(), x.end());
    return *high - *low;
  };
  Imbalance out{range(sum), range(square), 0.0};
  out.total_s = out.time_s + problem.spread_weight * out.spread_s;
  return out;
}

TeamSearch most_even_teams(const TeamProblem& problem) {
  const std::size_t n = problem.time_s.size();
  if (problem.teams < 2 || problem.teams > 64 || n < problem.teams || !(problem.spread_weight >= 0.0)) {
    throw std::invalid_argument("most_even_teams: 2 to 64 teams, a player for each, and a weight of at least 0 are needed");
  }
  for (const TeamRule& rule : problem.rules) {
    if (rule.players.empty() || rule.team >= problem.teams ||
        std::any_of(rule.players.begin(), rule.players.end(), [&](std::size_t p) { return p >= n; })) {
      throw std::invalid_argument("most_even_teams: a rule names no player, or a player or team that does not exist");
    }
  }
  TeamSearch out;
  Parting parting(problem, {});
  std::vector<std::size_t> split;
  bool done = false;
  out.feasible = parting.find_any(split, done);
  if (!out.feasible) {
    out.searched_all = done;
    out.broken = done ? contradiction(problem) : std::vector<std::size_t>();
    return out;
  }
  parting.improve(split);
  out.searched_all = parting.may_be_proven() && parting.prove(split);
  out.team_of = parting.players_teams(split);
  out.imbalance = imbalance_of(problem, out.team_of);
  out.best_possible_s = out.searched_all ? out.imbalance.total_s : 0.0;
  return out;
}

}  // namespace bagsplit::coach
