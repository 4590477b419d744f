#include "bagsplit/inference/likelihood/detail/slip_mixture.hpp"

#include <Eigen/Cholesky>
#include <Eigen/LU>
#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>
#include <numeric>
#include <tuple>

#include "bagsplit/inference/likelihood/detail/small_cholesky.hpp"

namespace bagsplit::inference {

namespace {

using Few = Eigen::Matrix<double, Eigen::Dynamic, 1, 0, most_slips, 1>;
using FewSquare = Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, 0, most_slips, most_slips>;

constexpr std::size_t beam = 10;       // sets of one size carried on
constexpr std::size_t most_sets = 40;  // evaluated at each node
constexpr int most_rounds = 4;         // of linearising anew
constexpr double near_enough = 0.3;    // SDs that the last round may have moved the sprint by

// log 2 Phi(x).
double log_twice_normal(double x) {
  if (x < -30.0) {
    return -0.5 * x * x - std::log(-x) - 0.5 * std::log(0.5 * std::numbers::pi);
  }
  return std::log(std::erfc(-x * std::numbers::sqrt2 * 0.5));
}

bool likelier(const SlipSet& a, const SlipSet& b) {
  return std::tie(b.log_odds, a.count, a.column, a.size) < std::tie(a.log_odds, b.count, b.column, b.size);
}

bool same(const SlipSet& a, const SlipSet& b) {
  return a.count == b.count && a.column == b.column && a.size == b.size;
}

// The set with one slip more, in order.
SlipSet with(const SlipSet& from, std::uint32_t column, std::uint32_t size, double log_odds) {
  SlipSet out = from;
  std::size_t at = out.count++;
  for (; at > 0 && out.column[at - 1] > column; --at) {
    out.column[at] = out.column[at - 1];
    out.size[at] = out.size[at - 1];
  }
  out.column[at] = column;
  out.size[at] = size;
  out.log_odds = log_odds;
  return out;
}

double log_sum(std::span<const SlipSet> sets) {
  double top = -std::numeric_limits<double>::infinity();
  for (const SlipSet& set : sets) {
    top = std::max(top, set.log_odds);
  }
  double sum = 0.0;
  for (const SlipSet& set : sets) {
    sum += std::exp(set.log_odds - top);
  }
  return top + std::log(sum);
}

}  // namespace

// Everything about a sprint, linearised: slips with the linear terms, days and the sprint itself integrated out.
struct SlipMixture::Linear {
  Eigen::Vector2d base;  // the sprint without slips
  Eigen::Matrix2d covariance;
  Eigen::VectorXd h, diagonal;
  Eigen::MatrixX2d c_p_z, by_sprint;  // by_sprint: c_p_z times the covariance
  const SlipColumns* columns = nullptr;
  const SlipPrior* prior = nullptr;

  double g(std::uint32_t a, std::uint32_t b) const { return columns->g(a, b) - by_sprint.row(a).dot(c_p_z.row(b)); }
  // V and d of a set.
  void solve(const SlipSet& set, FewSquare& v, Few& d) const {
    const auto n = static_cast<Eigen::Index>(set.count);
    FewSquare m(n, n);
    Few at(n);
    for (Eigen::Index i = 0; i < n; ++i) {
      const std::uint32_t a = set.column[static_cast<std::size_t>(i)];
      const double s = prior->sizes_s[set.size[static_cast<std::size_t>(i)]];
      at(i) = h(a);
      for (Eigen::Index j = 0; j < i; ++j) {
        m(i, j) = m(j, i) = g(a, set.column[static_cast<std::size_t>(j)]);
      }
      m(i, i) = diagonal(a) + 1.0 / (s * s);
    }
    v = m.llt().solve(FewSquare::Identity(n, n));
    d = v * at;
  }
};

// Of one set at the sprint looked at last.
struct SlipMixture::Given {
  double log_odds = 0.0;
  FewSquare v;
  Few d;
};

SlipMixture::~SlipMixture() = default;

SlipMixture::SlipMixture(const PlayerData& data, PlayerLikelihood& likelihood)
    : data_(data), likelihood_(likelihood), columns_(data, likelihood) {
  const SlipPrior& prior = data.slips;
  const double log_odds = std::log(prior.rate / (1.0 - prior.rate));
  for (std::size_t a = 0; a < columns_.size(); ++a) {
    log_prior_.push_back({std::log(columns_[a].share * prior.shares[0]) + log_odds,
                          std::log(columns_[a].share * prior.shares[1]) + log_odds});
  }
  const std::size_t q = likelihood.term_count();
  means_.resize(q);
  covariance_.resize(q * q);
}

// Sets with one slip more, those above `least`; of a set that is not empty the best few in each size.
void SlipMixture::extend(const Linear& linear, const SlipSet& from, double least, std::vector<SlipSet>& to) const {
  const auto count = static_cast<Eigen::Index>(columns_.size());
  Eigen::VectorXd h = linear.h;
  Eigen::VectorXd g = linear.diagonal;
  if (from.count > 0) {
    FewSquare v;
    Few d;
    linear.solve(from, v, d);
    Few with_set(static_cast<Eigen::Index>(from.count));
    for (Eigen::Index a = 0; a < count; ++a) {
      for (std::uint32_t i = 0; i < from.count; ++i) {
        with_set(i) = linear.g(static_cast<std::uint32_t>(a), from.column[i]);
      }
      h(a) -= with_set.dot(d);
      g(a) = std::max(g(a) - with_set.dot(v * with_set), 1e-9);
    }
  }
  for (std::uint32_t k = 0; k < 2; ++k) {
    const double s2 = data_.slips.sizes_s[k] * data_.slips.sizes_s[k];
    const std::size_t first = to.size();
    for (std::uint32_t a = 0; a < columns_.size(); ++a) {
      const auto end = from.column.begin() + from.count;
      if (std::find(from.column.begin(), end, a) != end) {
        continue;
      }
      const double wider = 1.0 + s2 * g(a);
      double odds = from.log_odds + 0.5 * s2 * h(a) * h(a) / wider - 0.5 * std::log(wider) + log_prior_[a][k];
      if (odds + std::numbers::ln2 < least) {
        continue;
      }
      if (columns_[a].positive) {
        odds += log_twice_normal(h(a) * std::sqrt(s2 / wider));
      }
      if (odds >= least) {
        to.push_back(with(from, a, k, odds));
      }
    }
    if (from.count > 0 && to.size() > first + beam) {
      std::sort(to.begin() + static_cast<std::ptrdiff_t>(first), to.end(), likelier);
      to.resize(first + beam);
    }
  }
}

std::vector<SlipSet> SlipMixture::beam_search(const Linear& linear, double log_cut, double& singles) const {
  std::vector<SlipSet> found{SlipSet{}};
  std::vector<SlipSet> front = found;
  double top = 0.0;
  for (std::size_t n = 0; n < most_slips; ++n) {
    std::vector<SlipSet> longer;
    for (const SlipSet& set : front) {
      extend(linear, set, n == 0 ? -std::numeric_limits<double>::max() : top - log_cut, longer);
    }
    if (n == 0) {
      singles = longer.empty() ? -std::numeric_limits<double>::infinity() : log_sum(longer);
    }
    std::sort(longer.begin(), longer.end(), [](const SlipSet& a, const SlipSet& b) {
      return std::tie(a.column, a.size, b.log_odds) < std::tie(b.column, b.size, a.log_odds);
    });
    longer.erase(std::unique(longer.begin(), longer.end(), same), longer.end());
    if (longer.empty()) {
      break;
    }
    std::sort(longer.begin(), longer.end(), likelier);
    found.insert(found.end(), longer.begin(), longer.end());
    top = std::max(top, longer.front().log_odds);
    longer.resize(std::min(longer.size(), beam));
    std::erase_if(longer, [&](const SlipSet& set) { return set.log_odds < top - log_cut; });
    front = std::move(longer);
  }
  return found;
}

// Keeps the likeliest sets and that of no slip.
void SlipMixture::keep(std::vector<SlipSet> found, double log_cut) {
  const double all = log_sum(found);
  std::sort(found.begin(), found.end(), likelier);
  const double least = found.front().log_odds - log_cut;
  sets_.clear();
  for (const SlipSet& set : found) {
    if (set.count == 0 || (set.log_odds > least && sets_.size() < most_sets)) {
      sets_.push_back(set);
    }
  }
  log_left_out_ = all - log_sum(sets_);
  used_.clear();
  for (const SlipSet& set : sets_) {
    used_.insert(used_.end(), set.column.begin(), set.column.begin() + set.count);
  }
  std::sort(used_.begin(), used_.end());
  used_.erase(std::unique(used_.begin(), used_.end()), used_.end());
  together_.assign(used_.size() * used_.size(), 0);
  set_places_ = sets_;
  for (SlipSet& set : set_places_) {
    for (std::uint32_t i = 0; i < set.count; ++i) {
      set.column[i] =
          static_cast<std::uint32_t>(std::lower_bound(used_.begin(), used_.end(), set.column[i]) - used_.begin());
      for (std::uint32_t j = 0; j <= i; ++j) {
        together_[set.column[i] * used_.size() + set.column[j]] = 1;
      }
    }
  }
}

// Of (log V, log tau) over the sets kept.
SlipMixture::Search SlipMixture::moments(const Linear& linear) const {
  Search out;
  const double all = log_sum(sets_);
  Eigen::Vector2d mean = Eigen::Vector2d::Zero();
  Eigen::Matrix2d square = Eigen::Matrix2d::Zero();
  for (const SlipSet& set : sets_) {
    const double weight = std::exp(set.log_odds - all);
    out.expected_slips += weight * set.count;
    Eigen::Vector2d shift = Eigen::Vector2d::Zero();
    Eigen::Matrix2d covariance = linear.covariance;
    if (set.count > 0) {
      FewSquare v;
      Few d;
      linear.solve(set, v, d);
      Eigen::Matrix<double, Eigen::Dynamic, 2, 0, most_slips, 2> rows(static_cast<Eigen::Index>(set.count), 2);
      for (std::uint32_t i = 0; i < set.count; ++i) {
        rows.row(i) = linear.by_sprint.row(set.column[i]);
      }
      shift = -rows.transpose() * d;
      covariance += rows.transpose() * v * rows;
    }
    mean += weight * shift;
    square += weight * (covariance + shift * shift.transpose());
  }
  square -= mean * mean.transpose();
  mean += linear.base;
  out.log_v = mean(0);
  out.log_tau = mean(1);
  out.vv = square(0, 0);
  out.vt = square(0, 1);
  out.tt = square(1, 1);
  return out;
}

SlipMixture::Linear SlipMixture::linearise(double log_v, double log_tau) {
  const double sv = data_.log_top_speed.sd;
  const double st = data_.log_time_constant.sd;
  Eigen::Matrix2d prior;
  prior << sv * sv, data_.log_correlation * sv * st, data_.log_correlation * sv * st, st * st;
  const Eigen::Matrix2d precision = prior.inverse();
  const Eigen::Vector2d at(log_v, log_tau);
  const auto count = static_cast<Eigen::Index>(columns_.size());
  const SlipColumns::Slope slope = columns_.slope(log_v, log_tau);
  Linear out;
  out.columns = &columns_;
  out.prior = &data_.slips;
  Eigen::Matrix2d bend = precision;
  for (Eigen::Index a = 0; a < 2; ++a) {
    for (Eigen::Index b = 0; b < 2; ++b) {
      bend(a, b) += slope.z_p_z[a][b];
    }
  }
  const Eigen::Vector2d off = at - Eigen::Vector2d(data_.log_top_speed.mean, data_.log_time_constant.mean);
  out.covariance = bend.inverse();
  const Eigen::Vector2d move = out.covariance * (Eigen::Vector2d(slope.z_p_e[0], slope.z_p_e[1]) - precision * off);
  out.base = at + move;
  out.c_p_z = Eigen::Map<const Eigen::Matrix<double, Eigen::Dynamic, 2, Eigen::RowMajor>>(slope.c_p_z.data(), count, 2);
  out.by_sprint = out.c_p_z * out.covariance;
  out.h.resize(count);
  out.diagonal.resize(count);
  for (std::uint32_t a = 0; a < columns_.size(); ++a) {
    out.h(a) = columns_.h(a) - out.c_p_z.row(a).dot(move);
    out.diagonal(a) = std::max(out.g(a, a), 1e-9);
  }
  return out;
}

SlipMixture::Search SlipMixture::search(double log_v, double log_tau, double log_cut) {
  Search out;
  for (int round = 0; round < most_rounds; ++round) {
    const Eigen::Vector2d at(log_v, log_tau);
    const Linear linear = linearise(log_v, log_tau);
    double singles = 0.0;
    keep(beam_search(linear, log_cut, singles), log_cut);
    out = moments(linear);
    out.log_odds = singles;
    log_v = out.log_v;
    log_tau = out.log_tau;
    Eigen::Matrix2d spread;
    spread << out.vv, out.vt, out.vt, out.tt;
    const Eigen::Vector2d moved = Eigen::Vector2d(log_v, log_tau) - at;
    if (moved.dot(spread.inverse() * moved) < near_enough * near_enough) {
      break;
    }
  }
  return out;
}

SlipMixture::Given SlipMixture::given(const SlipSet& set) const {
  Given out;
  if (set.count == 0) {
    return out;
  }
  const std::size_t n = used_.size();
  const auto size = static_cast<Eigen::Index>(set.count);
  FewSquare m(size, size);
  Few h(size);
  double sizes = 1.0;
  for (std::uint32_t i = 0; i < set.count; ++i) {
    const double s = data_.slips.sizes_s[set.size[i]];
    h(i) = columns_.h(set.column[i]);
    for (std::uint32_t j = 0; j < set.count; ++j) {
      m(i, j) = g_[set.column[i] * n + set.column[j]];
    }
    m(i, i) = std::max(m(i, i), 0.0) + 1.0 / (s * s);
    sizes *= s;
    out.log_odds += log_prior_[used_[set.column[i]]][set.size[i]];
  }
  const Eigen::LLT<FewSquare> factor(m);
  out.v = factor.solve(FewSquare::Identity(size, size));
  out.d = out.v * h;
  out.log_odds += 0.5 * out.d.dot(h) - std::log(sizes * factor.matrixLLT().diagonal().prod());
  for (std::uint32_t i = 0; i < set.count; ++i) {
    if (columns_[used_[set.column[i]]].positive) {
      out.log_odds += log_twice_normal(out.d(i) / std::sqrt(out.v(i, i)));
    }
  }
  return out;
}

// Adds a set of that probability to what is known of this node.
void SlipMixture::add_to_node(const SlipSet& set, const Given& given, double probability) {
  const std::size_t n = used_.size();
  if (set.count == 0) {
    node_.none = probability;
  }
  for (std::uint32_t i = 0; i < set.count; ++i) {
    const std::uint32_t a = set.column[i];
    const std::uint32_t reading = columns_[used_[a]].reading;
    node_.probability[a] += probability;
    node_.size[a] += probability * given.d(i);
    bool first = true;
    for (std::uint32_t j = 0; j < set.count; ++j) {
      second_[a * n + set.column[j]] += probability * (given.v(i, j) + given.d(i) * given.d(j));
      first = first && (j >= i || columns_[used_[set.column[j]]].reading != reading);
    }
    if (first) {
      node_.reading[reading] += probability;
    }
  }
}

void SlipMixture::clear_node() {
  const std::size_t n = used_.size();
  second_.assign(n * n, 0.0);
  node_.none = 0.0;
  node_.probability.assign(n, 0.0);
  node_.size.assign(n, 0.0);
  node_.size_square.resize(n);
  node_.reading.assign(data_.readings.size(), 0.0);
}

// Fills node_ and second_; the log density with slips.
double SlipMixture::mix(double base) {
  const std::size_t n = used_.size();
  g_.resize(n * n);
  for (std::size_t a = 0; a < n; ++a) {
    for (std::size_t b = 0; b <= a; ++b) {
      if (together_[a * n + b] != 0) {
        g_[a * n + b] = g_[b * n + a] = columns_.g(a, b);
      }
    }
  }
  given_.clear();
  double top = 0.0;
  for (const SlipSet& set : set_places_) {
    given_.push_back(given(set));
    top = std::max(top, given_.back().log_odds);
  }
  double sum = 0.0;
  for (const Given& one : given_) {
    sum += std::exp(one.log_odds - top);
  }
  clear_node();
  set_probability_.clear();
  for (std::size_t k = 0; k < given_.size(); ++k) {
    set_probability_.push_back(std::exp(given_[k].log_odds - top) / sum);
    add_to_node(set_places_[k], given_[k], set_probability_[k]);
  }
  for (std::size_t a = 0; a < n; ++a) {
    node_.size_square[a] = second_[a * n + a];
  }
  return base + top + std::log(sum) + log_left_out_;
}

double SlipMixture::log_posterior(double log_top_speed, double log_time_constant) {
  return mix(columns_.look(log_top_speed, log_time_constant, used_, means_, covariance_));
}

double SlipMixture::condition(double log_top_speed, double log_time_constant, std::span<double> means,
                              std::span<double> covariance) {
  const double out = mix(columns_.look(log_top_speed, log_time_constant, used_, means, covariance));
  plain_means_.assign(means.begin(), means.end());
  plain_covariance_.assign(covariance.begin(), covariance.end());
  shift_terms(means, covariance);
  return out;
}

// From the terms without slips to those of the sets in node_ and second_.
void SlipMixture::shift_terms(std::span<double> means, std::span<double> covariance) {
  const std::size_t q = term_count();
  const std::size_t n = used_.size();
  std::vector<double>& shift = means_;
  std::fill(shift.begin(), shift.end(), 0.0);
  for (std::size_t a = 0; a < n; ++a) {
    small::add_scaled(shift.data(), -node_.size[a], columns_.gain(a).data(), 0, q);
  }
  // The upper half, then the lower one like it.
  for (std::size_t a = 0; a < n; ++a) {
    for (std::size_t b = 0; b < n; ++b) {
      const double both = second_[a * n + b];
      for (std::size_t r = 0; r < q && both != 0.0; ++r) {
        small::add_scaled(covariance.data() + r * q, both * columns_.gain(a)[r], columns_.gain(b).data(), r, q);
      }
    }
  }
  for (std::size_t r = 0; r < q; ++r) {
    means[r] += shift[r];
    small::add_scaled(covariance.data() + r * q, -shift[r], shift.data(), r, q);
    for (std::size_t c = 0; c < r; ++c) {
      covariance[r * q + c] = covariance[c * q + r];
    }
  }
}

void SlipMixture::set_groups(std::span<const double> set_weights, double least) {
  constexpr double nothing = 0.01;  // of all sets that do not stand apart
  double rest = 0.0;
  double most = 0.0;
  for (const double weight : set_weights) {
    most = std::max(most, weight);
    rest += weight < least ? weight : 0.0;
  }
  const std::size_t of_rest = rest > nothing && most >= least ? 1 : 0;
  group_of_.assign(sets_.size(), of_rest);
  groups_ = 1 + of_rest;
  const auto likeliest = std::max_element(set_weights.begin(), set_weights.end()) - set_weights.begin();
  for (std::size_t k = 0; k < sets_.size(); ++k) {
    if (static_cast<std::ptrdiff_t>(k) == likeliest) {
      group_of_[k] = 0;
    } else if (set_weights[k] >= least) {
      group_of_[k] = groups_++;
    }
  }
}

double SlipMixture::condition_group(std::size_t group, std::span<double> means, std::span<double> covariance) {
  double probability = 0.0;
  for (std::size_t k = 0; k < sets_.size(); ++k) {
    probability += group_of_[k] == group ? set_probability_[k] : 0.0;
  }
  if (!(probability > 0.0)) {
    return 0.0;
  }
  clear_node();
  for (std::size_t k = 0; k < sets_.size(); ++k) {
    if (group_of_[k] == group) {
      add_to_node(set_places_[k], given_[k], set_probability_[k] / probability);
    }
  }
  std::copy(plain_means_.begin(), plain_means_.end(), means.begin());
  std::copy(plain_covariance_.begin(), plain_covariance_.end(), covariance.begin());
  shift_terms(means, covariance);
  return probability;
}

}  // namespace bagsplit::inference
