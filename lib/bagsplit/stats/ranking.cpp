#include "bagsplit/stats/ranking.hpp"

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <numeric>
#include <queue>
#include <stdexcept>
#include <utility>

#include "bagsplit/stats/detail/check.hpp"
#include "bagsplit/stats/distributions.hpp"

namespace bagsplit::stats {

namespace {

// SD of the belief after `more` runs.
double sd_after(const Candidate& candidate, std::size_t more) {
  const double run_variance = candidate.run_sd * candidate.run_sd;
  const double runs = static_cast<double>(more);
  if (std::isinf(candidate.sd)) {
    return more > 0 ? std::sqrt(candidate.floor_sd * candidate.floor_sd + run_variance / runs) : candidate.sd;
  }
  const double floor = candidate.floor_sd * candidate.floor_sd;
  const double told = candidate.sd * candidate.sd - floor;
  return std::sqrt(floor + told * run_variance / (run_variance + runs * told));
}

// P(mean after the runs and truth lie on different sides of the line): they are normal about the same mean, with SDs
// sqrt(sd^2 - s^2) and sd and the former as covariance, and the two orthants of that make up 2 T.
double wrong(const Candidate& candidate, double line, std::size_t more) {
  const double after = sd_after(candidate, more);
  const double distance = std::abs(candidate.mean - line);
  if (std::isinf(candidate.sd) || more == 0) {
    return normal_cdf(-distance / after);
  }
  const double moves = std::sqrt(std::max(0.0, candidate.sd * candidate.sd - after * after));
  return moves > 0.0 ? 2.0 * owens_t(distance / candidate.sd, after / moves) : normal_cdf(-distance / after);
}

void check_candidates(std::span<const Candidate> candidates, double line) {
  check::finite("allocate_runs", "line", line);
  for (const Candidate& candidate : candidates) {
    check::finite("allocate_runs", "mean", candidate.mean);
    check::positive("allocate_runs", "run_sd", candidate.run_sd);
    if (!(candidate.sd > 0.0)) {
      throw std::domain_error("allocate_runs: sd must be above 0");
    }
    if (!(candidate.floor_sd >= 0.0) || candidate.floor_sd > candidate.sd) {
      throw std::domain_error("allocate_runs: floor_sd must lie between 0 and sd");
    }
  }
}

// How often each candidate had which rank, in bins of equal width where there are too many for one bin each.
class RankCounts {
 public:
  explicit RankCounts(std::size_t n)
      : ranks_(2 * n), bins_(std::min(ranks_, std::max(most_cells / n, least_bins))), counts_(n * bins_, 0) {}

  /// @param half  the rank in halves from 1.
  void add(std::size_t candidate, std::size_t half) { ++counts_[candidate * bins_ + half * bins_ / ranks_]; }

  /// Ends of the bin in which so many draws are reached.
  double first_rank(std::size_t candidate, double draws) const { return rank_of(first_half(bin(candidate, draws))); }
  double last_rank(std::size_t candidate, double draws) const {
    return rank_of(std::min(first_half(bin(candidate, draws) + 1) - 1, ranks_ - 2));
  }

 private:
  static constexpr std::size_t most_cells = std::size_t{1} << 26U;
  static constexpr std::size_t least_bins = 256;

  static double rank_of(std::size_t half) { return 1.0 + 0.5 * static_cast<double>(half); }
  std::size_t first_half(std::size_t bin) const { return (bin * ranks_ + bins_ - 1) / bins_; }
  std::size_t bin(std::size_t candidate, double draws) const {
    double sum = 0.0;
    std::size_t k = 0;
    while (k + 1 < bins_ && (sum += counts_[candidate * bins_ + k]) < draws) {
      ++k;
    }
    return k;
  }

  std::size_t ranks_, bins_;
  std::vector<std::uint32_t> counts_;
};

// @param clearly  whether the first one given beats the second one clearly enough to begin a new tier with that.
template <typename Clearly>
std::vector<std::size_t> tiers_of(std::span<const std::size_t> order, Clearly&& clearly) {
  std::vector<std::size_t> out(order.size(), 1);
  std::size_t leader = order.front();
  std::size_t tier = 1;
  for (const std::size_t i : order) {
    if (i != leader && clearly(leader, i)) {
      leader = i;
      ++tier;
    }
    out[i] = tier;
  }
  return out;
}

}  // namespace

Ranking rank_draws(std::span<const double> values, std::size_t n, std::size_t cut, Best best, double level,
                   double interval) {
  if (n == 0 || values.empty() || values.size() % n != 0 || cut > n) {
    throw std::invalid_argument("rank_draws: values must be n x draws with n > 0 and cut at most n");
  }
  check::all_finite("rank_draws", "values", values);
  check::open_unit("rank_draws", "level", level);
  check::open_unit("rank_draws", "interval", interval);
  const std::size_t draws = values.size() / n;
  const double sign = best == Best::lowest ? 1.0 : -1.0;
  const auto value = [&](std::size_t i, std::size_t draw) { return sign * values[i * draws + draw]; };
  Ranking out;
  out.p_in_cut.assign(n, 0.0);
  out.expected_rank.assign(n, 0.0);
  std::vector<std::pair<double, std::size_t>> places(n);
  RankCounts counts(n);
  for (std::size_t draw = 0; draw < draws; ++draw) {
    for (std::size_t i = 0; i < n; ++i) {
      places[i] = {value(i, draw), i};
    }
    std::sort(places.begin(), places.end());
    for (std::size_t first = 0; first < n;) {
      std::size_t end = first + 1;
      while (end < n && places[end].first == places[first].first) {
        ++end;
      }
      const std::size_t half = first + end - 1;
      const double rank = 1.0 + 0.5 * static_cast<double>(half);
      const double inside =
          first >= cut ? 0.0 : static_cast<double>(std::min(end, cut) - first) / static_cast<double>(end - first);
      for (; first < end; ++first) {
        out.expected_rank[places[first].second] += rank;
        out.p_in_cut[places[first].second] += inside;
        counts.add(places[first].second, half);
      }
    }
  }
  for (std::size_t i = 0; i < n; ++i) {
    out.p_in_cut[i] /= static_cast<double>(draws);
    out.expected_rank[i] /= static_cast<double>(draws);
    out.rank_lo.push_back(counts.first_rank(i, 0.5 * (1.0 - interval) * static_cast<double>(draws)));
    out.rank_hi.push_back(counts.last_rank(i, 0.5 * (1.0 + interval) * static_cast<double>(draws)));
  }
  out.order.resize(n);
  std::iota(out.order.begin(), out.order.end(), std::size_t{0});
  std::stable_sort(out.order.begin(), out.order.end(),
                   [&](std::size_t a, std::size_t b) { return out.expected_rank[a] < out.expected_rank[b]; });
  out.tier = tiers_of(out.order, [&](std::size_t ahead, std::size_t behind) {
    double beaten = 0.0;
    for (std::size_t draw = 0; draw < draws; ++draw) {
      beaten += value(ahead, draw) < value(behind, draw) ? 1.0 : 0.0;
    }
    return beaten >= level * static_cast<double>(draws);
  });
  return out;
}

double shown_by_draws(double share, std::size_t draws) {
  const double least = std::min(0.5, 3.0 / static_cast<double>(draws));
  return std::clamp(share, least, 1.0 - least);
}

double cut_line(std::span<const Candidate> candidates, std::size_t cut, Best best) {
  if (cut == 0 || cut >= candidates.size()) {
    throw std::invalid_argument("cut_line: cut must lie between 0 and the number of candidates");
  }
  std::vector<double> means;
  for (const Candidate& candidate : candidates) {
    means.push_back(best == Best::lowest ? candidate.mean : -candidate.mean);
  }
  std::sort(means.begin(), means.end());
  const double line = 0.5 * (means[cut - 1] + means[cut]);
  return best == Best::lowest ? line : -line;
}

double expected_wrong_cuts(std::span<const Candidate> candidates, double line, std::span<const std::size_t> more) {
  check_candidates(candidates, line);
  if (!more.empty()) {
    check::same_size("expected_wrong_cuts", "candidates", candidates.size(), "more", more.size());
  }
  double sum = 0.0;
  for (std::size_t i = 0; i < candidates.size(); ++i) {
    sum += wrong(candidates[i], line, more.empty() ? 0 : more[i]);
  }
  return sum;
}

std::vector<std::size_t> allocate_runs(std::span<const Candidate> candidates, double line, std::size_t budget,
                                       std::size_t most_each) {
  check_candidates(candidates, line);
  std::vector<std::size_t> more(candidates.size(), 0);
  if (candidates.empty()) {
    return more;
  }
  // Largest gain on top; of equal gains the first candidate.
  using Gain = std::pair<double, std::size_t>;
  const auto lesser = [](const Gain& a, const Gain& b) {
    return a.first != b.first ? a.first < b.first : a.second > b.second;
  };
  std::priority_queue<Gain, std::vector<Gain>, decltype(lesser)> gains(lesser);
  const auto push = [&](std::size_t i) {
    gains.emplace(wrong(candidates[i], line, more[i]) - wrong(candidates[i], line, more[i] + 1), i);
  };
  for (std::size_t i = 0; i < candidates.size() && most_each > 0; ++i) {
    push(i);
  }
  for (std::size_t run = 0; run < budget && !gains.empty(); ++run) {
    const std::size_t i = gains.top().second;
    gains.pop();
    if (++more[i] < most_each) {
      push(i);
    }
  }
  return more;
}

std::vector<double> ratio_law(std::span<const Candidate> candidates, double line) {
  check_candidates(candidates, line);
  std::vector<double> shares;
  double total = 0.0;
  for (const Candidate& candidate : candidates) {
    const double distance = candidate.mean - line;
    if (distance == 0.0) {
      throw std::domain_error("ratio_law: a mean lies on the line");
    }
    shares.push_back((candidate.run_sd / distance) * (candidate.run_sd / distance));
    total += shares.back();
  }
  for (double& share : shares) {
    share /= total;
  }
  return shares;
}

}  // namespace bagsplit::stats
