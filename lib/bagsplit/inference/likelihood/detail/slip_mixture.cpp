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

constexpr std::size_t beam = 10;     // sets of one size carried on
constexpr int most_rounds = 4;       // of linearising anew
constexpr double far_down = 12.0;    // a node so far below the highest has no weight
constexpr double near_enough = 0.3;  // SDs that the last round may have moved the sprint by

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

// All that are likely enough, by beam search from the single slips on.
std::vector<SlipSet> SlipMixture::beam_search(const Linear& linear, std::vector<SlipSet> singles,
                                              double log_cut) const {
  std::vector<SlipSet> found{SlipSet{}};
  std::vector<SlipSet> longer = std::move(singles);
  double top = 0.0;
  while (!longer.empty()) {
    std::sort(longer.begin(), longer.end(), likelier);
    found.insert(found.end(), longer.begin(), longer.end());
    top = std::max(top, longer.front().log_odds);
    longer.resize(std::min(longer.size(), beam));
    std::erase_if(longer, [&](const SlipSet& set) { return set.log_odds < top - log_cut; });
    const std::vector<SlipSet> front = std::move(longer);
    longer.clear();
    for (const SlipSet& set : front) {
      if (set.count < most_slips) {
        extend(linear, set, top - log_cut, longer);
      }
    }
    std::sort(longer.begin(), longer.end(), [](const SlipSet& a, const SlipSet& b) {
      return std::tie(a.column, a.size, b.log_odds) < std::tie(b.column, b.size, a.log_odds);
    });
    longer.erase(std::unique(longer.begin(), longer.end(), same), longer.end());
  }
  return found;
}

// Keeps the likeliest sets and that of no slip.
void SlipMixture::keep(std::vector<SlipSet> found, double log_cut, std::size_t most) {
  const double all = log_sum(found);
  std::sort(found.begin(), found.end(), likelier);
  const double least = found.front().log_odds - log_cut;
  sets_.clear();
  for (const SlipSet& set : found) {
    if (set.count == 0 || (set.log_odds > least && sets_.size() < most)) {
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

SlipMixture::Search SlipMixture::search(double log_v, double log_tau, double log_cut, std::size_t most_sets,
                                        double least_log_odds) {
  Search out;
  for (int round = 0; round < most_rounds && !out.settled; ++round) {
    const Eigen::Vector2d at(log_v, log_tau);
    const Linear linear = linearise(log_v, log_tau);
    std::vector<SlipSet> singles;
    extend(linear, SlipSet{}, -std::numeric_limits<double>::max(), singles);
    const double log_odds = singles.empty() ? -std::numeric_limits<double>::infinity() : log_sum(singles);
    const bool clean =
        std::all_of(singles.begin(), singles.end(), [&](const SlipSet& set) { return set.log_odds < least_log_odds; });
    const double expected = std::exp(log_odds) / (1.0 + std::exp(log_odds));
    keep(clean ? std::vector<SlipSet>{SlipSet{}} : beam_search(linear, std::move(singles), log_cut), log_cut,
         most_sets);
    out = moments(linear);
    out.log_odds = log_odds;
    out.looks_clean = clean;
    if (clean) {
      out.expected_slips = expected;
    }
    log_v = out.log_v;
    log_tau = out.log_tau;
    Eigen::Matrix2d spread;
    spread << out.vv, out.vt, out.vt, out.tt;
    const Eigen::Vector2d moved = Eigen::Vector2d(log_v, log_tau) - at;
    out.settled = moved.dot(spread.inverse() * moved) < near_enough * near_enough;
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
  node_.sets.clear();
  for (std::size_t k = 0; k < given_.size(); ++k) {
    node_.sets.push_back(std::exp(given_[k].log_odds - top) / sum);
    add_to_node(set_places_[k], given_[k], node_.sets[k]);
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
  if (group_count_ == 1) {
    shift_terms(means, covariance);
  }
  if (keeping_) {
    highest_ = std::max(highest_, out);
    nodes_.push_back(node_);
    if (group_count_ > 1) {
      add_groups(means, covariance, out > highest_ - far_down);
    }
  }
  return out;
}

// From the terms without slips to those of the sets in node_ and second_.
void SlipMixture::shift_terms(std::span<double> means, std::span<double> covariance) {
  const std::size_t q = term_count();
  const std::size_t n = used_.size();
  shift_.assign(q, 0.0);
  moved_.assign(n * q, 0.0);
  for (std::size_t a = 0; a < n; ++a) {
    if (node_.probability[a] == 0.0) {
      continue;  // of another group
    }
    small::add_scaled(shift_.data(), -node_.size[a], columns_.gain(a).data(), 0, q);
    for (std::size_t b = 0; b < n; ++b) {
      if (const double both = second_[a * n + b]; both != 0.0) {
        small::add_scaled(moved_.data() + a * q, both, columns_.gain(b).data(), 0, q);
      }
    }
  }
  // The upper half, then the lower one like it.
  for (std::size_t r = 0; r < q; ++r) {
    double* const row = covariance.data() + r * q;
    for (std::size_t a = 0; a < n; ++a) {
      if (node_.probability[a] != 0.0) {
        small::add_scaled(row, columns_.gain(a)[r], moved_.data() + a * q, r, q);
      }
    }
    means[r] += shift_[r];
    small::add_scaled(row, -shift_[r], shift_.data(), r, q);
    for (std::size_t c = 0; c < r; ++c) {
      row[c] = covariance[c * q + r];
    }
  }
}

// Groups of the sets kept, by what the linearisation makes of them.
void SlipMixture::keep_nodes(double least) {
  constexpr double nothing = 0.03;  // of all sets that do not stand apart
  const double all = log_sum(sets_);
  double rest = 0.0;
  std::size_t likeliest = 0;
  for (std::size_t k = 0; k < sets_.size(); ++k) {
    const double weight = std::exp(sets_[k].log_odds - all);
    rest += weight < least ? weight : 0.0;
    likeliest = sets_[k].log_odds > sets_[likeliest].log_odds ? k : likeliest;
  }
  const std::size_t of_rest = rest > nothing && std::exp(sets_[likeliest].log_odds - all) >= least ? 1 : 0;
  group_of_.assign(sets_.size(), of_rest);
  group_count_ = 1 + of_rest;
  for (std::size_t k = 0; k < sets_.size(); ++k) {
    if (k == likeliest) {
      group_of_[k] = 0;
    } else if (std::exp(sets_[k].log_odds - all) >= least) {
      group_of_[k] = group_count_++;
    }
  }
  keeping_ = true;
  highest_ = -std::numeric_limits<double>::infinity();
  nodes_.clear();
}

// To the last node, that of each group; the terms without slips are given, and do where the node has no weight.
void SlipMixture::add_groups(std::span<const double> means, std::span<const double> covariance, bool weighty) {
  constexpr double nothing = 1e-7;
  const std::size_t q = term_count();
  Node& to = nodes_.back();
  for (std::size_t group = 0; group < group_count_; ++group) {
    double probability = 0.0;
    for (std::size_t k = 0; k < sets_.size(); ++k) {
      probability += group_of_[k] == group ? to.sets[k] : 0.0;
    }
    means_.assign(means.begin(), means.end());
    covariance_.assign(covariance.begin(), covariance.end());
    if (weighty && probability > nothing) {
      clear_node();
      for (std::size_t k = 0; k < sets_.size(); ++k) {
        if (group_of_[k] == group) {
          add_to_node(set_places_[k], given_[k], to.sets[k] / probability);
        }
      }
      shift_terms(means_, covariance_);
    }
    to.group.push_back(probability);
    to.means.insert(to.means.end(), means_.begin(), means_.begin() + static_cast<std::ptrdiff_t>(q));
    to.covariances.insert(to.covariances.end(), covariance_.begin(), covariance_.end());
  }
}

std::vector<SlipGroup> SlipMixture::groups(std::span<const double> set_weights) const {
  constexpr double commoner = 5.0;
  std::vector<SlipGroup> out(group_count_);
  std::vector<double> most(group_count_, 0.0);  // of one set
  for (std::size_t k = 0; k < sets_.size(); ++k) {
    SlipGroup& group = out[group_of_[k]];
    group.probability += set_weights[k];
    group.if_commoner += set_weights[k] * std::pow(commoner, sets_[k].count);
    if (set_weights[k] > most[group_of_[k]]) {
      most[group_of_[k]] = set_weights[k];
      group.readings.clear();
      for (std::uint32_t i = 0; i < sets_[k].count; ++i) {
        group.readings.push_back(columns_[sets_[k].column[i]].reading);
      }
    }
  }
  return out;
}

}  // namespace bagsplit::inference
