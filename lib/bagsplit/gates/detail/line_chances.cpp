#include "bagsplit/gates/detail/line_chances.hpp"

#include <algorithm>
#include <cmath>

#include "bagsplit/stats/quantile.hpp"

namespace bagsplit::gates::detail {

namespace {

constexpr double two_pi = 6.283185307179586;
constexpr double fewest_to_doubt = 5.0;  // runs of children of whom something is known, before a list is doubted

double normal(double d, double variance) {
  return std::exp(-0.5 * d * d / variance) / std::sqrt(two_pi * variance);
}

// Odds of runs and lines, the same for both orders.
class Odds {
 public:
  Odds(const ListProblem& problem, const ListRules& rules)
      : p_(problem), rules_(rules), pin_(problem.slots.size(), not_pinned), hint_(problem.slots.size() + 1, 0.0) {
    std::vector<double> levels;
    for (const Slot& slot : p_.slots) {
      levels.push_back(slot.level);
    }
    const double middle = stats::median(levels).value_or(0.0);
    std::vector<double> away;
    for (double& level : levels) {
      level -= middle;
      away.push_back(std::fabs(level));
    }
    const double sd = std::max(0.08, 1.4826 * stats::median(away).value_or(0.0));
    squad_ = sd * sd;
    level_ = levels;
    for (const ListChild& child : p_.children) {
      own_.push_back(child.level_sd ? *child.level_sd * *child.level_sd : squad_);
    }
    for (std::size_t j = 0; j < p_.slots.size(); ++j) {
      null_.push_back(normal(level_[j], squad_ + p_.slots[j].variance) + 1e-12);
      extra_.push_back(std::min(0.5, rules.extra + 1.0 - p_.slots[j].exists));
      if (j > 0 && p_.slots[j].clock != p_.slots[j - 1].clock) {
        hint_[j] = rules.at_step;
      }
    }
    for (const auto& [at, weight] : p_.hints) {
      hint_[at] += weight;
    }
    for (const auto& [slot, child] : p_.answers) {
      pin_[slot] = child;
      extra_[slot] = child < 0 ? 1.0 : 1e-9;
    }
  }

  double hint(std::size_t j) const { return hint_[std::min(j, p_.slots.size())]; }
  double extra(std::size_t j, bool tried) const {
    return tried && pin_[j] == not_pinned ? std::min(0.5, extra_[j] + rules_.tried) : extra_[j];
  }
  double no_show() const { return p_.everybody_ran ? rules_.no_show_told : rules_.no_show; }
  double away() const { return p_.everybody_ran ? rules_.away_told : rules_.away; }

  double typed(const std::optional<ListLine>& line, std::size_t j) const {
    if (!line || !line->start_s) {
      return 1.0;
    }
    const double d = p_.slots[j].start_s - *line->start_s;
    return ((1.0 - rules_.typed_wrong) * normal(d, rules_.typed_sd_s * rules_.typed_sd_s) +
            rules_.typed_wrong / p_.span_s) *
           p_.span_s;
  }

  // Odds that a slot is a child's run, against a run of nobody on the list.
  double one(std::size_t child, std::size_t j) const {
    const double off = level_[j] - p_.children[child].level;
    return can_be(child, j) ? ((1.0 - 1e-4) * normal(off, own_[child] + p_.slots[j].variance) + 1e-4) / null_[j] : 0.0;
  }

  // Both runs of a child: its level is the same in both.
  double two(std::size_t child, std::size_t a, std::size_t b) const {
    if (!can_be(child, a) || !can_be(child, b)) {
      return 0.0;
    }
    const double own = own_[child];
    const double va = p_.slots[a].variance + own;
    const double vb = p_.slots[b].variance + own;
    const double det = va * vb - own * own;
    const double xa = level_[a] - p_.children[child].level;
    const double xb = level_[b] - p_.children[child].level;
    const double joint =
        std::exp(-0.5 * (vb * xa * xa - 2.0 * own * xa * xb + va * xb * xb) / det) / (two_pi * std::sqrt(det));
    return (0.999 * joint + 0.001 * normal(xa, va) * normal(xb, vb)) / (null_[a] * null_[b]);
  }

 private:
  static constexpr std::ptrdiff_t not_pinned = -2;
  bool can_be(std::size_t child, std::size_t j) const {
    return pin_[j] == not_pinned || pin_[j] == static_cast<std::ptrdiff_t>(child);
  }

  const ListProblem& p_;
  const ListRules& rules_;
  double squad_ = 0.0;       // variance of children's levels
  std::vector<double> own_;  // of each child about its own
  std::vector<double> level_, null_, extra_;
  std::vector<std::ptrdiff_t> pin_;
  std::vector<double> hint_;
};

// So that long lists do not underflow. @return the log of what the table was divided by.
double divide_by_largest(std::vector<double>& table) {
  const double most = std::max(1e-300, *std::max_element(table.begin(), table.end()));
  for (double& one : table) {
    one /= most;
  }
  return std::log(most);
}

// Children one after another: F[i][j], i children done, j slots used.
class SingleOrder {
 public:
  SingleOrder(const ListProblem& problem, const ListRules& rules)
      : p_(problem), rules_(rules), odds_(problem, rules), n_(problem.children.size()), m_(problem.slots.size()) {}

  LineChances sum() {
    LineChances out{n_, std::vector<double>(n_ * m_, 0.0), 0.0, false};
    prepare();
    forward();
    if (ahead_[n_][m_] <= 0.0) {
      return out;
    }
    out.fits = true;
    const double log_z = std::log(ahead_[n_][m_]) + ahead_scale_[n_];
    std::vector<double> next(m_ + 1, 0.0);  // behind child i + 1, after its extras; and i + 2
    std::vector<double> after_next;
    next[m_] = 1.0;
    extras_back(next, n_);
    double scale = 0.0;
    double scale_after = 0.0;
    for (std::size_t i = n_; i-- > 0;) {
      std::vector<double> now(m_ + 1, 0.0);
      const double share = std::exp(ahead_scale_[i] + scale - log_z);
      for (std::size_t j = 0; j <= m_; ++j) {
        now[j] += next[j] * none(i, j);
        if (j < m_) {
          const double weight = one_[i][j] * next[j + 1];
          now[j] += weight;
          out.chance[j * n_ + i] += ahead_[i][j] * weight * share;
        }
        if (j + 1 < m_ && two_[i][j] > 0.0) {
          const double weight = two_[i][j] * next[j + 2];
          now[j] += weight;
          out.chance[j * n_ + i] += ahead_[i][j] * weight * share;
          out.chance[(j + 1) * n_ + i] += ahead_[i][j] * weight * share;
        }
        if (j + 1 < m_ && i + 1 < n_ && swap_[i][j] > 0.0) {
          const double weight = swap_[i][j] * after_next[j + 2] * std::exp(scale_after - scale);
          now[j] += weight;
          const double both = ahead_[i][j] * weight * share;
          out.chance[(j + 1) * n_ + i] += both;
          out.chance[j * n_ + i + 1] += both;
          out.swapped = std::max(out.swapped, both);
        }
      }
      extras_back(now, i);
      const double log_most = divide_by_largest(now);
      after_next = std::move(next);
      scale_after = scale;
      next = std::move(now);
      scale += log_most;
    }
    return out;
  }

 private:
  static std::size_t lines(const ListChild& child) { return (child.first ? 1U : 0U) + (child.second ? 1U : 0U); }

  void prepare() {
    one_.assign(n_, std::vector<double>(m_, 0.0));
    two_ = swap_ = one_;
    std::vector<std::vector<double>> plain = one_;
    const double no_show = odds_.no_show();
    for (std::size_t i = 0; i < n_; ++i) {
      const ListChild& child = p_.children[i];
      for (std::size_t j = 0; j < m_ && lines(child) > 0; ++j) {
        const double first = odds_.typed(child.first, j);
        const bool twice = lines(child) == 2;
        plain[i][j] = odds_.one(i, j) * (twice ? 0.5 * (first + odds_.typed(child.second, j))
                                               : odds_.typed(child.first ? child.first : child.second, j));
        one_[i][j] =
            plain[i][j] * (twice ? 2.0 * no_show + odds_.hint(j) + odds_.hint(j + 1) : 1.0 - no_show - rules_.swap);
        if (twice && j + 1 < m_) {
          two_[i][j] =
              odds_.two(i, j, j + 1) * first * odds_.typed(child.second, j + 1) * (1.0 - odds_.away() - 2.0 * no_show);
        }
      }
    }
    for (std::size_t i = 0; i + 1 < n_; ++i) {
      for (std::size_t j = 0; j + 1 < m_ && lines(p_.children[i]) == 1 && lines(p_.children[i + 1]) == 1; ++j) {
        swap_[i][j] = rules_.swap * plain[i][j + 1] * plain[i + 1][j];
      }
    }
  }

  double none(std::size_t i, std::size_t j) const {
    const std::size_t expected = lines(p_.children[i]);
    const double line = odds_.no_show() + odds_.hint(j);
    return expected == 0 ? 1.0 : expected == 1 ? line : odds_.away() + odds_.hint(j) * line;
  }

  bool tried(std::size_t i) const { return i > 0 && p_.children[i - 1].try_after; }

  void extras(std::vector<double>& f, std::size_t i) const {
    for (std::size_t j = 0; j < m_; ++j) {
      f[j + 1] += f[j] * odds_.extra(j, tried(i));
    }
  }
  void extras_back(std::vector<double>& f, std::size_t i) const {
    for (std::size_t j = m_; j-- > 0;) {
      f[j] += f[j + 1] * odds_.extra(j, tried(i));
    }
  }

  void forward() {
    ahead_.assign(n_ + 1, std::vector<double>(m_ + 1, 0.0));
    ahead_scale_.assign(n_ + 1, 0.0);
    ahead_[0][0] = 1.0;
    extras(ahead_[0], 0);
    for (std::size_t i = 0; i < n_; ++i) {
      std::vector<double>& f = ahead_[i + 1];
      const std::vector<double>& before = ahead_[i];
      const double two_back = i > 0 ? std::exp(ahead_scale_[i - 1] - ahead_scale_[i]) : 0.0;
      for (std::size_t j = 0; j <= m_; ++j) {
        f[j] += before[j] * none(i, j);
        if (j < m_) {
          f[j + 1] += before[j] * one_[i][j];
        }
        if (j + 1 < m_) {
          f[j + 2] += before[j] * two_[i][j];
          if (i > 0) {
            f[j + 2] += ahead_[i - 1][j] * swap_[i - 1][j] * two_back;
          }
        }
      }
      extras(f, i + 1);
      const double log_most = divide_by_largest(f);
      ahead_scale_[i + 1] = ahead_scale_[i] + log_most;
    }
  }

  const ListProblem& p_;
  const ListRules& rules_;
  Odds odds_;
  std::size_t n_, m_;
  std::vector<std::vector<double>> one_, two_, swap_;  // child x first slot
  std::vector<std::vector<double>> ahead_;
  std::vector<double> ahead_scale_;
};

// Two rounds in one order: how far lines and runs are out of step in both at once, for every number of runs in the
// first.
class TwoRounds {
 public:
  TwoRounds(const ListProblem& problem, const ListRules& rules, std::size_t window)
      : p_(problem),
        rules_(rules),
        odds_(problem, rules),
        n_(problem.children.size()),
        m_(static_cast<std::ptrdiff_t>(problem.slots.size())),
        d_(static_cast<std::ptrdiff_t>(window)),
        k_(2 * window + 1),
        before_{{0}, {0}} {
    for (const ListChild& child : p_.children) {
      before_[0].push_back(before_[0].back() + (child.first ? 1 : 0));
      before_[1].push_back(before_[1].back() + (child.second ? 1 : 0));
    }
    for (std::ptrdiff_t b = before_[0].back() - d_; b <= before_[0].back() + d_; ++b) {
      if (b >= 0 && b <= m_ && std::abs(m_ - b - before_[1].back()) <= d_) {
        splits_.push_back(b);
      }
    }
  }

  LineChances sum() {
    LineChances out{n_, std::vector<double>(n_ * p_.slots.size(), 0.0), 0.0, false};
    if (splits_.empty()) {
      return out;
    }
    gather_pairs();
    forward();
    Table next(size(), 0.0);
    double z = 0.0;
    for (std::size_t s = 0; s < splits_.size(); ++s) {
      const std::ptrdiff_t a = splits_[s] - before_[0].back() + d_;
      const std::ptrdiff_t b = m_ - splits_[s] - before_[1].back() + d_;
      const std::size_t end = at(s, static_cast<std::size_t>(a), static_cast<std::size_t>(b));
      next[end] = 1.0;
      z += ahead_[n_][end];
    }
    if (z <= 0.0) {
      return out;
    }
    out.fits = true;
    log_z_ = std::log(z) + ahead_scale_[n_];
    extras(next, n_, true);
    Table after_next;
    double scale = 0.0;
    double scale_after = 0.0;
    for (std::size_t i = n_; i-- > 0;) {
      Table now(size(), 0.0);
      share_ = std::exp(ahead_scale_[i] + scale - log_z_);
      moves(i, [&](std::size_t from, std::size_t to, double weight, std::ptrdiff_t a, std::ptrdiff_t b) {
        const double w = weight * next[to];
        now[from] += w;
        add(out, i, a, ahead_[i][from] * w * share_);
        add(out, i, b, ahead_[i][from] * w * share_);
      });
      if (i + 1 < n_) {
        const double on = std::exp(scale_after - scale);
        exchanges(i, [&](std::size_t cell, double weight, const Exchange& who) {
          const double w = weight * after_next[cell] * on;
          now[cell] += w;
          const double both = ahead_[i][cell] * w * share_;
          add(out, i, who.mine[0], both);
          add(out, i, who.mine[1], both);
          add(out, i + 1, who.next[0], both);
          add(out, i + 1, who.next[1], both);
          swapped_[i] += both;
        });
        out.swapped = std::max(out.swapped, swapped_[i]);
      }
      if (i > 0) {
        extras(now, i, true);
      }
      const double log_most = divide_by_largest(now);
      after_next = std::move(next);
      scale_after = scale;
      next = std::move(now);
      scale += log_most;
    }
    return out;
  }

 private:
  using Table = std::vector<double>;
  static constexpr std::ptrdiff_t none = -1;

  struct Exchange {
    std::ptrdiff_t mine[2], next[2];
  };

  std::size_t size() const { return splits_.size() * k_ * k_; }
  std::size_t at(std::size_t split, std::size_t a, std::size_t b) const { return (split * k_ + a) * k_ + b; }
  // The slot of child i's line of a round at an offset; none where there is none.
  std::ptrdiff_t first_slot(std::size_t i, std::size_t split, std::size_t a) const {
    const std::ptrdiff_t j = before_[0][i] + static_cast<std::ptrdiff_t>(a) - d_;
    return j >= 0 && j < splits_[split] ? j : none;
  }
  std::ptrdiff_t second_slot(std::size_t i, std::size_t split, std::size_t b) const {
    const std::ptrdiff_t j = splits_[split] + before_[1][i] + static_cast<std::ptrdiff_t>(b) - d_;
    return j >= splits_[split] && j < m_ ? j : none;
  }
  // A line without a run: a place for one that a single beam saw, about that slot.
  double no_run(std::size_t i, std::size_t round, std::size_t split, std::size_t offset) const {
    const std::ptrdiff_t j =
        (round == 0 ? 0 : splits_[split]) + before_[round][i] + static_cast<std::ptrdiff_t>(offset) - d_;
    return odds_.no_show() + odds_.hint(static_cast<std::size_t>(std::clamp<std::ptrdiff_t>(j, 0, m_ - 1)));
  }
  static void add(LineChances& out, std::size_t child, std::ptrdiff_t slot, double weight) {
    if (slot != none) {
      out.chance[static_cast<std::size_t>(slot) * out.children + child] += weight;
    }
  }

  double seen(std::size_t i, std::size_t round, std::ptrdiff_t j) const {
    const auto slot = static_cast<std::size_t>(j);
    return j == none
               ? 0.0
               : odds_.one(i, slot) * odds_.typed(round == 0 ? p_.children[i].first : p_.children[i].second, slot);
  }
  double seen_twice(std::size_t i, std::ptrdiff_t a, std::ptrdiff_t b, bool by_time) const {
    const auto first = static_cast<std::size_t>(a);
    const auto second = static_cast<std::size_t>(b);
    return a == none || b == none
               ? 0.0
               : pairs_[i][pair_at(i, a, b)] *
                     (by_time ? odds_.typed(p_.children[i].first, first) * odds_.typed(p_.children[i].second, second)
                              : 1.0);
  }

  // Both runs of each child, for all slots its lines may come to, and its neighbours'.
  std::size_t pair_at(std::size_t i, std::ptrdiff_t a, std::ptrdiff_t b) const {
    const std::ptrdiff_t first = a - (before_[0][i] - d_ - 1);
    const std::ptrdiff_t second = b - (splits_.front() + before_[1][i] - d_ - 1);
    return static_cast<std::size_t>(first * pair_width() + second);
  }
  std::ptrdiff_t pair_width() const { return splits_.back() - splits_.front() + static_cast<std::ptrdiff_t>(k_) + 2; }
  void gather_pairs() {
    for (std::size_t i = 0; i < n_; ++i) {
      const std::ptrdiff_t a0 = before_[0][i] - d_ - 1;
      const std::ptrdiff_t b0 = splits_.front() + before_[1][i] - d_ - 1;
      std::vector<double>& pairs = pairs_.emplace_back();
      for (std::ptrdiff_t a = a0; a < a0 + static_cast<std::ptrdiff_t>(k_) + 2; ++a) {
        for (std::ptrdiff_t b = b0; b < b0 + pair_width(); ++b) {
          const bool is_slot = a >= 0 && a < m_ && b >= 0 && b < m_ && a != b;
          pairs.push_back(is_slot ? odds_.two(i, static_cast<std::size_t>(a), static_cast<std::size_t>(b)) : 0.0);
        }
      }
    }
  }

  // All that may have happened at child i: visit(from, to, weight, slot of the first run, of the second).
  template <typename Visit>
  void moves(std::size_t i, const Visit& visit) const {
    const ListChild& child = p_.children[i];
    const double pn = odds_.no_show();
    const double both = 1.0 - odds_.away() - 2.0 * pn - 4.0 * rules_.swap;
    for (std::size_t s = 0; s < splits_.size(); ++s) {
      for (std::size_t a = 0; a < k_; ++a) {
        const std::ptrdiff_t j1 = child.first ? first_slot(i, s, a) : none;
        const double one = child.first ? seen(i, 0, j1) : 0.0;
        const double no_first = no_run(i, 0, s, a);
        for (std::size_t b = 0; b < k_; ++b) {
          const std::size_t from = at(s, a, b);
          const std::ptrdiff_t j2 = child.second ? second_slot(i, s, b) : none;
          const double no_second = no_run(i, 1, s, b);
          if (child.first && child.second) {
            if (j1 != none && j2 != none) {
              visit(from, from, both * seen_twice(i, j1, j2, true), j1, j2);
            }
            if (j1 != none && b > 0) {
              visit(from, at(s, a, b - 1), one * no_second, j1, none);
            }
            if (j2 != none && a > 0) {
              visit(from, at(s, a - 1, b), seen(i, 1, j2) * no_first, none, j2);
            }
            if (a > 0 && b > 0) {
              visit(from, at(s, a - 1, b - 1), odds_.away() + (no_first - pn) * (no_second - pn), none, none);
            }
          } else if (child.first) {
            visit(from, from, (1.0 - pn) * one, j1, none);
            if (a > 0) {
              visit(from, at(s, a - 1, b), no_first, none, none);
            }
          } else if (child.second) {
            visit(from, from, (1.0 - pn) * (j2 == none ? 0.0 : seen(i, 1, j2)), none, j2);
            if (b > 0) {
              visit(from, at(s, a, b - 1), no_second, none, none);
            }
          } else {
            visit(from, from, 1.0, none, none);
          }
        }
      }
    }
  }

  // Child i and the next exchanged in one of the rounds: visit(cell, weight, whose slots).
  template <typename Visit>
  void exchanges(std::size_t i, const Visit& visit) const {
    const ListChild& mine = p_.children[i];
    const ListChild& next = p_.children[i + 1];
    if (!mine.first || !mine.second || !next.first || !next.second) {
      return;
    }
    for (std::size_t s = 0; s < splits_.size(); ++s) {
      for (std::size_t a = 0; a < k_; ++a) {
        const std::ptrdiff_t j1 = first_slot(i, s, a);
        const std::ptrdiff_t l1 = first_slot(i + 1, s, a);
        for (std::size_t b = 0; b < k_ && j1 != none && l1 != none; ++b) {
          const std::ptrdiff_t j2 = second_slot(i, s, b);
          const std::ptrdiff_t l2 = second_slot(i + 1, s, b);
          if (j2 == none || l2 == none) {
            continue;
          }
          visit(at(s, a, b), rules_.swap * seen_twice(i, l1, j2, false) * seen_twice(i + 1, j1, l2, false),
                Exchange{{l1, j2}, {j1, l2}});
          visit(at(s, a, b), rules_.swap * seen_twice(i, j1, l2, false) * seen_twice(i + 1, l1, j2, false),
                Exchange{{j1, l2}, {l1, j2}});
        }
      }
    }
  }

  // Runs of nobody before child i's lines.
  void extras(Table& f, std::size_t i, bool back) const {
    const bool tried = i > 0 && p_.children[i - 1].try_after;
    for (std::size_t s = 0; s < splits_.size(); ++s) {
      for (std::size_t step = 0; step + 1 < k_; ++step) {
        const std::size_t a = back ? k_ - 2 - step : step;
        const std::ptrdiff_t j = first_slot(i, s, a);
        for (std::size_t b = 0; b < k_ && j != none; ++b) {
          const double x = odds_.extra(static_cast<std::size_t>(j), tried);
          back ? f[at(s, a, b)] += f[at(s, a + 1, b)] * x : f[at(s, a + 1, b)] += f[at(s, a, b)] * x;
        }
      }
      for (std::size_t step = 0; step + 1 < k_; ++step) {
        const std::size_t b = back ? k_ - 2 - step : step;
        const std::ptrdiff_t j = second_slot(i, s, b);
        for (std::size_t a = 0; a < k_ && j != none; ++a) {
          const double x = odds_.extra(static_cast<std::size_t>(j), tried);
          back ? f[at(s, a, b)] += f[at(s, a, b + 1)] * x : f[at(s, a, b + 1)] += f[at(s, a, b)] * x;
        }
      }
    }
  }

  void forward() {
    ahead_.assign(n_ + 1, Table(size(), 0.0));
    ahead_scale_.assign(n_ + 1, 0.0);
    swapped_.assign(n_, 0.0);
    for (std::size_t s = 0; s < splits_.size(); ++s) {
      ahead_[0][at(s, static_cast<std::size_t>(d_), static_cast<std::size_t>(d_))] = 1.0;
    }
    extras(ahead_[0], 0, false);
    for (std::size_t i = 0; i < n_; ++i) {
      Table& f = ahead_[i + 1];
      moves(i, [&](std::size_t from, std::size_t to, double weight, std::ptrdiff_t, std::ptrdiff_t) {
        f[to] += ahead_[i][from] * weight;
      });
      if (i > 0) {
        const double two_back = std::exp(ahead_scale_[i - 1] - ahead_scale_[i]);
        exchanges(i - 1, [&](std::size_t cell, double weight, const Exchange&) {
          f[cell] += ahead_[i - 1][cell] * weight * two_back;
        });
      }
      extras(f, i + 1, false);
      const double log_most = divide_by_largest(f);
      ahead_scale_[i + 1] = ahead_scale_[i] + log_most;
    }
  }

  const ListProblem& p_;
  const ListRules& rules_;
  Odds odds_;
  std::size_t n_;
  std::ptrdiff_t m_, d_;
  std::size_t k_;
  std::vector<std::ptrdiff_t> before_[2];  // by child: lines of a round before its own
  std::vector<std::ptrdiff_t> splits_;     // how many slots the first round may have
  std::vector<std::vector<double>> pairs_;
  std::vector<Table> ahead_;
  std::vector<double> ahead_scale_, swapped_;
  double log_z_ = 0.0, share_ = 0.0;
};

double mean_log_odds(const ListProblem& problem, const ListRules& rules, const LineChances& chances) {
  const Odds odds(problem, rules);
  double sum = 0.0;
  double weight = 0.0;
  for (std::size_t j = 0; j < problem.slots.size(); ++j) {
    for (std::size_t c = 0; c < problem.children.size(); ++c) {
      const double p = problem.children[c].level_sd ? chances.at(j, c) : 0.0;
      const double one = p > 0.0 ? odds.one(c, j) : 0.0;
      if (one > 0.0) {
        sum += p * std::log(one);
        weight += p;
      }
    }
  }
  return weight >= fewest_to_doubt ? sum / weight : 0.0;
}

}  // namespace

LineChances line_chances(const ListProblem& problem, const ListRules& rules) {
  LineChances out;
  if (problem.order == ListOrder::single) {
    out = SingleOrder(problem, rules).sum();
  } else {
    out = TwoRounds(problem, rules, rules.window).sum();
    if (!out.fits) {
      out = TwoRounds(problem, rules, 2 * rules.window).sum();
    }
  }
  for (double& one : out.chance) {
    one = std::clamp(one, 0.0, 1.0);
  }
  out.mean_log_odds = mean_log_odds(problem, rules, out);
  return out;
}

}  // namespace bagsplit::gates::detail
