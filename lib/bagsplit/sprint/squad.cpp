#include "bagsplit/sprint/squad.hpp"

#include <Eigen/Cholesky>
#include <Eigen/Eigenvalues>
#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <numeric>
#include <stdexcept>
#include <utility>

#include "bagsplit/stats/random.hpp"

namespace bagsplit::sprint {

namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

constexpr std::size_t scale_count = 4;
using Theta = Eigen::Matrix<double, scale_count, 1>;

// Shared quantities of a member, ascending, and where each of its coordinates points: coordinate 0 is log V, 1 log tau,
// then the terms.
struct Links {
  std::vector<std::uint32_t> about;
  std::vector<Index> of_coordinate;  // place in `about`, or -1
};

Links links_of(const SquadMember& member, std::size_t shared) {
  const std::size_t n = 2 + member.data.terms.size();
  std::vector<std::uint32_t> target(n, not_shared);
  target[0] = member.shared_log_top_speed;
  target[1] = member.shared_log_time_constant;
  std::copy(member.shared_of_term.begin(), member.shared_of_term.end(), target.begin() + 2);
  Links links;
  for (const std::uint32_t k : target) {
    if (k != not_shared) {
      if (k >= shared) {
        throw std::invalid_argument("fit_squad: a member points to a shared quantity that does not exist");
      }
      links.about.push_back(k);
    }
  }
  std::sort(links.about.begin(), links.about.end());
  if (std::adjacent_find(links.about.begin(), links.about.end()) != links.about.end()) {
    throw std::invalid_argument("fit_squad: two coordinates of a member share one quantity");
  }
  for (const std::uint32_t k : target) {
    links.of_coordinate.push_back(k == not_shared ? Index{-1}
                                                  : std::lower_bound(links.about.begin(), links.about.end(), k) -
                                                        links.about.begin());
  }
  return links;
}

void check(const SquadMember& member) {
  if (member.shared_of_term.size() != member.data.terms.size() || member.hand.size() != member.data.readings.size()) {
    throw std::invalid_argument("fit_squad: one entry a term and one a reading is needed");
  }
}

struct Gaussian {
  VectorXd mean;
  MatrixXd covariance;
};

// Prior of x = (log V, log tau, terms) under a Gaussian for the shared quantities it points to.
Gaussian prior_of(const SquadMember& member, const Links& links, const Gaussian& shared) {
  const auto n = static_cast<Index>(links.of_coordinate.size());
  Gaussian prior{VectorXd(n), MatrixXd::Zero(n, n)};
  for (Index a = 0; a < n; ++a) {
    const Normal& own = a == 0   ? member.data.log_top_speed
                        : a == 1 ? member.data.log_time_constant
                                 : member.data.terms[static_cast<std::size_t>(a) - 2];
    const Index i = links.of_coordinate[static_cast<std::size_t>(a)];
    prior.mean(a) = own.mean + (i >= 0 ? shared.mean(i) : 0.0);
    prior.covariance(a, a) = own.sd * own.sd;
    for (Index b = 0; b < n; ++b) {
      const Index j = links.of_coordinate[static_cast<std::size_t>(b)];
      if (i >= 0 && j >= 0) {
        prior.covariance(a, b) += shared.covariance(i, j);
      }
    }
  }
  return prior;
}

void apply_scales(const SquadMember& member, const SquadScales& scales, PlayerData& data) {
  data.effort_cv = scales.effort_cv;
  data.day_cv = scales.day_cv;
  data.reaction_sd_s = scales.reaction_sd_s;
  for (std::size_t r = 0; r < data.readings.size(); ++r) {
    if (member.hand[r] == 0) {
      continue;
    }
    ReadingData& reading = data.readings[r];
    reading.start_sd_s = scales.press_factor * member.data.readings[r].start_sd_s;
    for (std::uint32_t j = 0; j < reading.mark_count; ++j) {
      data.marks[reading.first_mark + j].sd_s = scales.press_factor * member.data.marks[reading.first_mark + j].sd_s;
    }
  }
  if (data.day_term) {
    data.terms[*data.day_term].sd = scales.day_cv;
  }
}

// Writes a joint prior of (log V, log tau, terms) into the data: the sprint's, and the terms' given the sprint.
void set_joint_prior(const Gaussian& prior, PlayerData& data) {
  const Index n = prior.mean.size();
  const Index p = n - 2;
  const MatrixXd& c = prior.covariance;
  const double sv = std::sqrt(c(0, 0));
  const double st = std::sqrt(c(1, 1));
  data.log_top_speed = {prior.mean(0), sv};
  data.log_time_constant = {prior.mean(1), st};
  data.log_correlation = sv > 0.0 && st > 0.0 ? std::clamp(c(0, 1) / (sv * st), -0.9999, 0.9999) : 0.0;
  Eigen::Matrix2d inverse = Eigen::Matrix2d::Zero();
  if (sv > 0.0 && st > 0.0) {
    inverse = Eigen::Matrix2d(c.topLeftCorner<2, 2>()).inverse();
  } else if (sv > 0.0) {
    inverse(0, 0) = 1.0 / c(0, 0);
  } else if (st > 0.0) {
    inverse(1, 1) = 1.0 / c(1, 1);
  }
  const MatrixXd slopes = c.bottomLeftCorner(p, 2) * inverse;
  const MatrixXd conditional = c.bottomRightCorner(p, p) - slopes * c.topRightCorner(2, p);
  const auto size = static_cast<std::size_t>(p);
  data.term_slopes.resize(2 * size);
  data.term_correlation.assign(size * size, 0.0);
  for (Index k = 0; k < p; ++k) {
    const auto at = static_cast<std::size_t>(k);
    data.terms[at] = {prior.mean(2 + k), std::sqrt(std::max(0.0, conditional(k, k)))};
    data.term_slopes[2 * at] = slopes(k, 0);
    data.term_slopes[2 * at + 1] = slopes(k, 1);
  }
  for (Index k = 0; k < p; ++k) {
    for (Index l = 0; l < p; ++l) {
      const auto at = static_cast<std::size_t>(k);
      const auto other = static_cast<std::size_t>(l);
      const double sds = data.terms[at].sd * data.terms[other].sd;
      data.term_correlation[at * size + other] = k == l      ? 1.0
                                                 : sds > 0.0 ? conditional(k, l) / sds * (1.0 - 1e-9)
                                                             : 0.0;
    }
  }
}

// What the rest says of the shared quantities a message is about: their marginal with the message taken out.
Gaussian without(const VectorXd& mean, const MatrixXd& covariance, const SharedMessage& message) {
  const auto n = static_cast<Index>(message.about.size());
  Gaussian part{VectorXd(n), MatrixXd(n, n)};
  for (Index a = 0; a < n; ++a) {
    const auto i = static_cast<Index>(message.about[static_cast<std::size_t>(a)]);
    part.mean(a) = mean(i);
    for (Index b = 0; b < n; ++b) {
      part.covariance(a, b) = covariance(i, static_cast<Index>(message.about[static_cast<std::size_t>(b)]));
    }
  }
  if (n == 0 || message.precision.isZero(0.0)) {
    return part;
  }
  // (C^-1 - P)^-1 = C + C (P^-1 - C)^-1 C without inverting P: solve with I - C P.
  const MatrixXd left = MatrixXd::Identity(n, n) - part.covariance * message.precision;
  const Eigen::PartialPivLU<MatrixXd> lu(left);
  Gaussian rest;
  rest.covariance = lu.solve(part.covariance);
  rest.covariance = 0.5 * (rest.covariance + rest.covariance.transpose()).eval();
  rest.mean = lu.solve(part.mean - part.covariance * message.shift);
  return rest;
}

// Moments of a member's coordinates that have an uncertain prior and that readings depend on.
struct Moments {
  std::vector<Index> kept;         // coordinates
  std::vector<std::size_t> place;  // of the kept terms, in the active ones
  VectorXd weights;                // of the nodes
  VectorXd shift;                  // posterior less prior mean
  MatrixXd deviations;  // kept x nodes, from the posterior mean; what the sprint itself says of a term is none
  MatrixXd within;      // mean covariance at a node
  MatrixXd spread;      // posterior covariance
};

Moments moments_of(const Posterior& posterior, const Gaussian& prior, const TermMeans& means) {
  Moments out;
  const PlayerData& data = posterior.data();
  const auto active = posterior.active_terms();
  for (Index a = 0; a < 2; ++a) {
    if (prior.covariance(a, a) > 0.0) {
      out.kept.push_back(a);
    }
  }
  for (std::size_t k = 0; k < active.size(); ++k) {
    const Index a = static_cast<Index>(active[k]) + 2;
    if (prior.covariance(a, a) > 0.0) {
      out.kept.push_back(a);
      out.place.push_back(k);
    }
  }
  const auto n = static_cast<Index>(out.kept.size());
  const Index sprint_part = n - static_cast<Index>(out.place.size());
  const std::size_t q = active.size();
  out.deviations.resize(n, static_cast<Index>(posterior.size()));
  out.within = MatrixXd::Zero(n, n);
  out.weights.resize(static_cast<Index>(posterior.size()));
  std::vector<double> moving(data.terms.size());
  for (std::size_t node = 0; node < posterior.size(); ++node) {
    const auto column = static_cast<Index>(node);
    const motion::Sprint& sprint = posterior.sprints()[node];
    out.weights(column) = posterior.weights()[node];
    for (Index a = 0; a < sprint_part; ++a) {
      const Index coordinate = out.kept[static_cast<std::size_t>(a)];
      out.deviations(a, column) =
          (coordinate == 0 ? std::log(sprint.top_speed_mps) : std::log(sprint.time_constant_s)) -
          prior.mean(coordinate);
    }
    for (std::size_t k = 0; k < moving.size(); ++k) {
      moving[k] = data.terms[k].mean;
    }
    if (means) {
      means(sprint, moving);
    }
    const auto node_means = posterior.term_means(node);
    const auto node_covariance = posterior.term_covariance(node);
    for (std::size_t k = 0; k < out.place.size(); ++k) {
      out.deviations(sprint_part + static_cast<Index>(k), column) =
          node_means[out.place[k]] - moving[active[out.place[k]]];
      for (std::size_t l = 0; l < out.place.size(); ++l) {
        out.within(sprint_part + static_cast<Index>(k), sprint_part + static_cast<Index>(l)) +=
            out.weights(column) * node_covariance[out.place[k] * q + out.place[l]];
      }
    }
  }
  out.shift = out.deviations * out.weights;
  out.deviations.colwise() -= out.shift;
  out.spread = out.within + out.deviations * out.weights.asDiagonal() * out.deviations.transpose();
  return out;
}

// The shared quantities under a member's posterior: given x they are linear in it, so mean and covariance carry over.
struct Carried {
  VectorXd mean;
  MatrixXd covariance;
  MatrixXd gain;  // shared x kept
};

Carried carry_over(const Links& links, const Gaussian& rest, const Gaussian& prior, const Moments& moments) {
  const auto g = static_cast<Index>(links.about.size());
  const auto n = static_cast<Index>(moments.kept.size());
  MatrixXd cross = MatrixXd::Zero(g, n);  // covariance of shared and kept coordinates under the prior
  MatrixXd own(n, n);
  for (Index a = 0; a < n; ++a) {
    const Index j = links.of_coordinate[static_cast<std::size_t>(moments.kept[static_cast<std::size_t>(a)])];
    if (j >= 0) {
      cross.col(a) = rest.covariance.col(j);
    }
    for (Index b = 0; b < n; ++b) {
      own(a, b) =
          prior.covariance(moments.kept[static_cast<std::size_t>(a)], moments.kept[static_cast<std::size_t>(b)]);
    }
  }
  Carried out;
  out.gain = own.ldlt().solve(cross.transpose()).transpose();
  out.mean = rest.mean + out.gain * moments.shift;
  const MatrixXd covariance = rest.covariance + out.gain * (moments.spread - own) * out.gain.transpose();
  out.covariance = 0.5 * (covariance + covariance.transpose());
  return out;
}

constexpr double most_wider =
    2.0;  // SDs: what others have run does not make one know less, and nearly linear terms widen little

// Is it a distribution, and none much wider than the prior?
bool is_sound(const Gaussian& g, std::span<const std::uint32_t> about, std::span<const Normal> prior) {
  for (Index a = 0; a < g.mean.size(); ++a) {
    const double sd = most_wider * prior[about[static_cast<std::size_t>(a)]].sd;
    if (!std::isfinite(g.mean(a)) || !(g.covariance(a, a) <= sd * sd)) {
      return false;
    }
  }
  return g.mean.size() == 0 || Eigen::LLT<MatrixXd>(g.covariance).info() == Eigen::Success;
}

// What all but one member say of what it points to; what all say where that is not sound.  @param index  absent: the
// member is none of those fitted.
Gaussian rest_of(const SquadFit& fit, const SquadPoint& point, const Links& links, std::optional<std::size_t> index) {
  SharedMessage message;
  if (index) {
    message = point.messages.at(*index);
  } else {
    const auto n = static_cast<Index>(links.about.size());
    message = {links.about, MatrixXd::Zero(n, n), VectorXd::Zero(n)};
  }
  Gaussian rest = without(point.mean, point.covariance, message);
  if (is_sound(rest, links.about, fit.shared_prior)) {
    return rest;
  }
  const auto n = static_cast<Index>(links.about.size());
  return without(point.mean, point.covariance, {links.about, MatrixXd::Zero(n, n), VectorXd::Zero(n)});
}

// The prior of x at some scales: the form of a day has the SD that belongs to them.
Gaussian scaled_prior(const SquadMember& member, const Links& links, const Gaussian& rest, const SquadScales& scales) {
  Gaussian prior = prior_of(member, links, rest);
  if (member.data.day_term) {
    const auto d = static_cast<Index>(*member.data.day_term) + 2;
    prior.covariance(d, d) = scales.day_cv * scales.day_cv;
  }
  return prior;
}

// log of the integral of exp(shift' x - x' precision x / 2), but for a constant of the dimension.
double log_partition(const MatrixXd& precision, const VectorXd& shift) {
  if (shift.size() == 0) {
    return 0.0;
  }
  const Eigen::LLT<MatrixXd> factor(precision);
  const MatrixXd lower = factor.matrixL();
  return 0.5 * shift.dot(factor.solve(shift)) - lower.diagonal().array().log().sum();
}

struct Fit {  // of one theta
  VectorXd mean;
  MatrixXd covariance;
  std::vector<SharedMessage> messages;
  std::vector<motion::Sprint> modes;
  std::vector<double> logs;  // of the messages' constants
  double log_evidence = 0.0;
  // By the last sweep, had it gone all of its way: of the shared means, in SDs, or of the logarithms of these SDs,
  // whichever is most.
  double moved = 0.0;
  bool sound = true;     // the last sweep led to a distribution
  bool settled = false;  // nothing moves any more, and every member's message is that of its posterior
};

// What the constant of a member's message follows from.
struct Anchor {
  bool known = false;
  double log_z = 0.0;  // of the member's readings under the rest
  MatrixXd rest_precision;
  VectorXd rest_shift;
};

// log of the constant with which a message stands for a member's readings: rest times message then integrates to their
// evidence.
double log_constant(const Anchor& anchor, const SharedMessage& message) {
  return anchor.log_z - (log_partition(anchor.rest_precision + message.precision, anchor.rest_shift + message.shift) -
                         log_partition(anchor.rest_precision, anchor.rest_shift));
}

class Squad {
 public:
  Squad(std::span<const SquadMember> members, std::span<const Normal> shared, const SquadScalePriors& scales,
        const SquadOptions& options, std::span<const TermMeans> term_means)
      : members_(members), shared_(shared), scale_priors_(scales), term_means_(term_means) {
    for (const SquadMember& member : members) {
      check(member);
      links_.push_back(links_of(member, shared.size()));
    }
    if (!term_means.empty() && term_means.size() != members.size()) {
      throw std::invalid_argument("fit_squad: one function of term means a member is needed");
    }
    for (const Normal& prior : shared) {
      if (!(prior.sd > 0.0)) {
        throw std::invalid_argument("fit_squad: a shared quantity needs an sd above 0");
      }
    }
    threads_ = options.threads;
    all_.resize(shared.size());
    std::iota(all_.begin(), all_.end(), std::uint32_t{0});
  }

  const Normal& prior_of_scale(std::size_t k) const {
    return k == 0   ? scale_priors_.log_effort_cv
           : k == 1 ? scale_priors_.log_day_cv
           : k == 2 ? scale_priors_.log_reaction_sd
                    : scale_priors_.log_press_factor;
  }

  static SquadScales scales_of(const Theta& theta) {
    return {std::exp(theta(0)), std::exp(theta(1)), std::exp(theta(2)), std::exp(theta(3))};
  }

  double log_prior(const Theta& theta) const {
    double sum = 0.0;
    for (std::size_t k = 0; k < scale_count; ++k) {
      const Normal& prior = prior_of_scale(k);
      if (prior.sd > 0.0) {
        const double z = (theta(static_cast<Index>(k)) - prior.mean) / prior.sd;
        sum -= 0.5 * z * z + std::log(prior.sd);
      }
    }
    return sum;
  }

  Fit start() const {
    Fit fit;
    for (std::size_t i = 0; i < members_.size(); ++i) {
      const auto n = static_cast<Index>(links_[i].about.size());
      fit.messages.push_back({links_[i].about, MatrixXd::Zero(n, n), VectorXd::Zero(n)});
    }
    fit.modes.assign(members_.size(), motion::Sprint{0.0, 0.0});
    fit.logs.assign(members_.size(), 0.0);
    combine(fit);
    return fit;
  }

  // One pass over all members at theta: new messages, and the evidence they give. `from`, and not sound, where no part
  // of the way leads to a distribution.
  Fit sweep(const Theta& theta, const Fit& from) {
    Fit to = from;
    const SquadScales scales = scales_of(theta);
    std::vector<Anchor> anchors(members_.size());
    stats::for_each_index(members_.size(), threads_, [&](std::size_t i) { anchors[i] = update(i, scales, from, to); });
    ++sweeps_;
    // Where all messages at once overshoot, so that together they are no distribution, part of the way.
    double gone = 1.0;
    while (!combine(to)) {
      if (gone < 0.005) {
        to = from;
        to.sound = false;
        to.settled = false;
        return to;
      }
      gone *= 0.5;
      go_back(to, from, 0.5);
    }
    if (gone < 1.0) {
      for (std::size_t i = 0; i < anchors.size(); ++i) {
        if (anchors[i].known) {
          to.logs[i] = log_constant(anchors[i], to.messages[i]);
        }
      }
    }
    to.log_evidence = std::accumulate(to.logs.begin(), to.logs.end(), to.log_evidence);
    to.moved = 0.0;
    for (Index k = 0; k < to.mean.size(); ++k) {
      const double sd = std::sqrt(to.covariance(k, k));
      to.moved = std::max({to.moved, std::fabs(to.mean(k) - from.mean(k)) / sd,
                           std::fabs(std::log(sd / std::sqrt(from.covariance(k, k))))});
    }
    to.moved /= gone * share_;  // had all gone the whole way: a short way alone is no rest
    to.sound = true;
    to.settled = to.moved <= restless &&
                 std::all_of(anchors.begin(), anchors.end(), [](const Anchor& anchor) { return anchor.known; });
    return to;
  }

  // Passes until the shared quantities stay where they are. Where they swing to and fro, here and from here on messages
  // go half of the way only.
  Fit settle(const Theta& theta, const Fit& from, int most) {
    constexpr double still = 0.02;
    constexpr int most_restless = 12;
    Fit fit = sweep(theta, from);
    double before = std::numeric_limits<double>::infinity();
    for (int i = 1; fit.sound && i < most_restless && (i < 2 || fit.moved > (i < most ? still : restless)); ++i) {
      if (fit.moved > 0.7 * before && fit.moved > restless) {
        share_ = std::max(0.25, 0.5 * share_);
      }
      before = fit.moved;
      Fit next = sweep(theta, fit);
      if (!next.sound) {
        fit.settled = false;
        break;
      }
      fit = std::move(next);
    }
    return fit;
  }

  // The evidence near theta, from messages settled there: its error is of second order.
  Fit look(const Theta& theta, const Fit& from) {
    Fit fit = sweep(theta, from);
    return share_ < 1.0 ? sweep(theta, fit) : fit;
  }

  // Minus infinity where the messages led to nothing: their evidence is of another theta.
  double objective(const Theta& theta, const Fit& fit) const {
    return fit.sound ? fit.log_evidence + log_prior(theta) : -std::numeric_limits<double>::infinity();
  }
  int sweeps() const { return sweeps_; }

 private:
  static constexpr double restless = 0.05;  // SDs that a sweep may still move a settled fit by

  static void go_back(Fit& to, const Fit& from, double share) {
    for (std::size_t i = 0; i < to.messages.size(); ++i) {
      to.messages[i].precision += share * (from.messages[i].precision - to.messages[i].precision);
      to.messages[i].shift += share * (from.messages[i].shift - to.messages[i].shift);
    }
  }

  // Posterior of the shared quantities from their prior and all messages.  @return whether it is a distribution, none
  // much wider than the prior: messages that nearly cancel it leave a mean and an SD of any size.
  bool combine(Fit& fit) const {
    const auto n = static_cast<Index>(shared_.size());
    MatrixXd precision = MatrixXd::Zero(n, n);
    VectorXd shift = VectorXd::Zero(n);
    for (Index k = 0; k < n; ++k) {
      const Normal& prior = shared_[static_cast<std::size_t>(k)];
      precision(k, k) = 1.0 / (prior.sd * prior.sd);
      shift(k) = prior.mean * precision(k, k);
    }
    const double at_prior = log_partition(precision, shift);
    for (const SharedMessage& message : fit.messages) {
      for (Index a = 0; a < message.shift.size(); ++a) {
        const auto i = static_cast<Index>(message.about[static_cast<std::size_t>(a)]);
        shift(i) += message.shift(a);
        for (Index b = 0; b < message.shift.size(); ++b) {
          precision(i, static_cast<Index>(message.about[static_cast<std::size_t>(b)])) += message.precision(a, b);
        }
      }
    }
    const Eigen::LLT<MatrixXd> factor(precision);
    if (factor.info() != Eigen::Success) {
      return false;
    }
    Gaussian all{factor.solve(shift), factor.solve(MatrixXd::Identity(n, n))};
    if (!is_sound(all, all_, shared_)) {
      return false;
    }
    fit.mean = std::move(all.mean);
    fit.covariance = std::move(all.covariance);
    fit.log_evidence = log_partition(precision, shift) - at_prior;
    return true;
  }

  // A new message of one member, and what its constant follows from. The last one stays where the new one, or what the
  // others say, is no distribution, or where the posterior could not be integrated.
  Anchor update(std::size_t i, const SquadScales& scales, const Fit& from, Fit& to) const {
    const SquadMember& member = members_[i];
    const Links& links = links_[i];
    SharedMessage& message = to.messages[i];
    const Gaussian rest = without(from.mean, from.covariance, from.messages[i]);
    if (!is_sound(rest, links.about, shared_)) {
      return {};
    }
    PlayerData data = member.data;
    apply_scales(member, scales, data);
    const Gaussian scaled = scaled_prior(member, links, rest, scales);
    set_joint_prior(scaled, data);
    PosteriorEffort effort{.coarse = true, .near = std::nullopt};
    if (from.modes[i].top_speed_mps > 0.0) {
      effort.near = from.modes[i];
    }
    const TermMeans means = term_means_.empty() ? TermMeans{} : term_means_[i];
    const Posterior posterior(data, means, effort);
    const double log_z = posterior.log_evidence();
    if (!posterior.usable() || !std::isfinite(log_z)) {
      return {};
    }
    to.modes[i] = posterior.mode();
    if (links.about.empty()) {
      to.logs[i] = log_z;
      return {true, log_z, MatrixXd(0, 0), VectorXd(0)};
    }
    const Moments moments = moments_of(posterior, scaled, means);
    const Carried carried = carry_over(links, rest, scaled, moments);
    const auto g = static_cast<Index>(links.about.size());
    const MatrixXd identity = MatrixXd::Identity(g, g);
    const MatrixXd rest_precision = Eigen::LLT<MatrixXd>(rest.covariance).solve(identity);
    Anchor anchor{true, log_z, rest_precision, rest_precision * rest.mean};
    const Eigen::LLT<MatrixXd> new_factor(carried.covariance);
    if (new_factor.info() == Eigen::Success && carried.mean.allFinite()) {
      const MatrixXd new_precision = new_factor.solve(identity);
      message.precision += share_ * (new_precision - anchor.rest_precision - message.precision);
      message.shift += share_ * (new_precision * carried.mean - anchor.rest_shift - message.shift);
    } else {
      anchor.known = false;
    }
    to.logs[i] = log_constant(anchor, message);
    return anchor;
  }

  std::span<const SquadMember> members_;
  std::span<const Normal> shared_;
  SquadScalePriors scale_priors_;
  std::span<const TermMeans> term_means_;
  std::vector<Links> links_;
  std::vector<std::uint32_t> all_;  // shared quantities
  unsigned threads_ = 1;
  double share_ = 1.0;  // of the way from a member's old message to its new one that is gone
  int sweeps_ = 0;
};

SquadPoint point_of(double weight, const Theta& theta, Fit fit) {
  return {weight, Squad::scales_of(theta), std::move(fit.mean), std::move(fit.covariance), std::move(fit.messages)};
}

}  // namespace

Normal SquadFit::shared(std::uint32_t k) const {
  const auto at = static_cast<Index>(k);
  double mean = 0.0;
  double square = 0.0;
  for (const SquadPoint& point : points) {
    mean += point.weight * point.mean(at);
  }
  for (const SquadPoint& point : points) {
    const double d = point.mean(at) - mean;
    square += point.weight * (point.covariance(at, at) + d * d);
  }
  return {mean, std::sqrt(square)};
}

SquadFit fit_squad(std::span<const SquadMember> members, std::span<const Normal> shared, const SquadScalePriors& scales,
                   const SquadOptions& options, std::span<const TermMeans> term_means) {
  Squad squad(members, shared, scales, options, term_means);
  Theta theta;
  std::vector<Index> free;
  for (std::size_t k = 0; k < scale_count; ++k) {
    theta(static_cast<Index>(k)) = squad.prior_of_scale(k).mean;
    if (squad.prior_of_scale(k).sd > 0.0) {
      free.push_back(static_cast<Index>(k));
    }
  }
  const auto m = static_cast<Index>(free.size());
  Fit fit = squad.settle(theta, squad.start(), 6);
  double value = squad.objective(theta, fit);
  // Until differences tell of it, the prior's.
  MatrixXd curvature = MatrixXd::Zero(m, m);
  for (Index a = 0; a < m; ++a) {
    const double sd = squad.prior_of_scale(static_cast<std::size_t>(free[static_cast<std::size_t>(a)])).sd;
    curvature(a, a) = 1.0 / (sd * sd);
  }
  SquadFit out;
  out.converged = m == 0;
  // Newton's method with differences, each from the settled messages.
  constexpr double step = 0.15;
  // Values of settled messages carry an error of about a hundredth. Once a step gains less than a few times that, it is
  // the last: the next would be of the order of its square.
  constexpr double value_error = 0.01;
  constexpr double last_decrement = 0.1;
  for (int iteration = 0; iteration < 8 && m > 0; ++iteration) {
    const auto at = [&](Index a, double by, Index b = -1, double and_by = 0.0) {
      Theta moved = theta;
      moved(free[static_cast<std::size_t>(a)]) += by;
      if (b >= 0) {
        moved(free[static_cast<std::size_t>(b)]) += and_by;
      }
      return squad.objective(moved, squad.look(moved, fit));
    };
    VectorXd up(m);
    VectorXd down(m);
    for (Index a = 0; a < m; ++a) {
      up(a) = at(a, step);
      down(a) = at(a, -step);
    }
    if (!std::isfinite(value + up.sum() + down.sum())) {
      break;
    }
    const VectorXd gradient = (up - down) / (2.0 * step);
    for (Index a = 0; a < m; ++a) {
      curvature(a, a) = -(up(a) - 2.0 * value + down(a)) / (step * step);
      for (Index b = 0; b < a; ++b) {
        curvature(a, b) = curvature(b, a) = -(at(a, step, b, step) - up(a) - up(b) + value) / (step * step);
      }
    }
    // At least half of the prior's precision in every direction.
    Eigen::SelfAdjointEigenSolver<MatrixXd> eigen(curvature);
    double least = 1e300;
    for (const Index k : free) {
      const double sd = squad.prior_of_scale(static_cast<std::size_t>(k)).sd;
      least = std::min(least, 0.5 / (sd * sd));
    }
    const VectorXd values = eigen.eigenvalues().cwiseMax(least);
    curvature = eigen.eigenvectors() * values.asDiagonal() * eigen.eigenvectors().transpose();
    const MatrixXd inverse =
        eigen.eigenvectors() * values.cwiseInverse().asDiagonal() * eigen.eigenvectors().transpose();
    VectorXd move = inverse * gradient;
    const double decrement = gradient.dot(move);
    const double length = move.cwiseAbs().maxCoeff();
    if (length > 0.7) {
      move *= 0.7 / length;
    }
    if (decrement < 0.01) {
      out.converged = true;
      break;
    }
    Theta next = theta;
    Fit next_fit;
    double next_value = 0.0;
    bool better = false;
    for (int halving = 0; halving < 5 && !better; ++halving) {
      next = theta;
      for (Index a = 0; a < m; ++a) {
        next(free[static_cast<std::size_t>(a)]) += move(a);
      }
      next_fit = squad.settle(next, fit, 4);
      next_value = squad.objective(next, next_fit);
      better = next_value > value - value_error;
      move *= 0.5;
    }
    if (!better) {
      break;
    }
    theta = next;
    fit = std::move(next_fit);
    value = next_value;
    if (decrement < last_decrement) {
      out.converged = true;
      break;
    }
  }

  out.converged = out.converged && fit.settled;
  out.shared_prior.assign(shared.begin(), shared.end());
  Theta mean = theta;
  Theta sd = Theta::Zero();
  out.log_evidence = value;
  if (m == 0) {
    out.points.push_back(point_of(1.0, theta, std::move(fit)));
  } else {
    const Eigen::SelfAdjointEigenSolver<MatrixXd> eigen(curvature);
    const MatrixXd axes = eigen.eigenvectors() * eigen.eigenvalues().cwiseSqrt().cwiseInverse().asDiagonal();
    out.log_evidence -= 0.5 * eigen.eigenvalues().array().log().sum();
    const VectorXd sds = axes.rowwise().norm();
    if (sds.maxCoeff() <= options.narrow_sd) {
      out.points.push_back(point_of(1.0, theta, std::move(fit)));
      for (Index a = 0; a < m; ++a) {
        sd(free[static_cast<std::size_t>(a)]) = sds(a);
      }
    } else {
      // For a normal, the points on the axes carry 1 / 1.21 of the weight between them; the density at each, against
      // what a normal would have there, tells of skewness.
      constexpr double f2 = 1.21;
      const double radius = std::sqrt(f2 * static_cast<double>(m));
      std::vector<Theta> places = {theta};
      std::vector<double> weights = {1.0 - 1.0 / f2};
      std::vector<Fit> fits;
      fits.push_back(fit);
      for (Index axis = 0; axis < m; ++axis) {
        for (const double sign : {1.0, -1.0}) {
          Theta place = theta;
          for (Index a = 0; a < m; ++a) {
            place(free[static_cast<std::size_t>(a)]) += sign * radius * axes(a, axis);
          }
          Fit settled = squad.settle(place, fit, 4);
          out.converged = out.converged && settled.settled;
          const double ratio =
              std::exp(std::clamp(squad.objective(place, settled) - value + 0.5 * radius * radius, -1.5, 1.5));
          places.push_back(place);
          weights.push_back(ratio / (f2 * 2.0 * static_cast<double>(m)));
          fits.push_back(std::move(settled));
        }
      }
      double total = 0.0;
      for (const double w : weights) {
        total += w;
      }
      mean.setZero();
      for (std::size_t i = 0; i < places.size(); ++i) {
        weights[i] /= total;
        mean += weights[i] * places[i];
      }
      for (std::size_t i = 0; i < places.size(); ++i) {
        sd += weights[i] * (places[i] - mean).cwiseAbs2();
        out.points.push_back(point_of(weights[i], places[i], std::move(fits[i])));
      }
      sd = sd.cwiseSqrt();
    }
  }
  const auto normal = [&](Index k) { return Normal{mean(k), sd(k)}; };
  out.log_effort_cv = normal(0);
  out.log_day_cv = normal(1);
  out.log_reaction_sd = normal(2);
  out.log_press_factor = normal(3);
  out.sweeps = squad.sweeps();
  return out;
}

MemberPrior member_prior(const SquadFit& fit, const SquadPoint& point, const SquadMember& member,
                         std::optional<std::size_t> index) {
  check(member);
  const Links links = links_of(member, fit.shared_prior.size());
  const Gaussian rest = rest_of(fit, point, links, index);
  Gaussian prior = scaled_prior(member, links, rest, point.scales);
  const Index n = prior.mean.size();
  MatrixXd cross = MatrixXd::Zero(static_cast<Index>(links.about.size()), n);
  for (Index a = 0; a < n; ++a) {
    if (const Index j = links.of_coordinate[static_cast<std::size_t>(a)]; j >= 0) {
      cross.col(a) = rest.covariance.col(j);
    }
  }
  return {links.about, std::move(prior.mean), std::move(prior.covariance), std::move(cross)};
}

PlayerData member_data(const SquadFit& fit, const SquadPoint& point, const SquadMember& member,
                       std::optional<std::size_t> index) {
  check(member);
  const Links links = links_of(member, fit.shared_prior.size());
  PlayerData data = member.data;
  apply_scales(member, point.scales, data);
  set_joint_prior(scaled_prior(member, links, rest_of(fit, point, links, index), point.scales), data);
  return data;
}

SharedCovariance covariance_with_shared(const SquadFit& fit, const SquadPoint& point, const SquadMember& member,
                                        std::optional<std::size_t> index, const Posterior& posterior,
                                        const TermMeans& term_means, std::span<const NodeQuantity> quantities) {
  const Links links = links_of(member, fit.shared_prior.size());
  const Gaussian rest = rest_of(fit, point, links, index);
  const Gaussian prior = scaled_prior(member, links, rest, point.scales);
  const Moments moments = moments_of(posterior, prior, term_means);
  const Carried carried = carry_over(links, rest, prior, moments);
  const auto q = static_cast<Index>(quantities.size());
  const auto nodes = static_cast<Index>(posterior.size());
  const auto active = static_cast<Index>(posterior.active_terms().size());
  MatrixXd values(q, nodes);
  MatrixXd coefficients(q, active);
  MatrixXd within = MatrixXd::Zero(active, active);
  for (Index i = 0; i < nodes; ++i) {
    const auto covariance = posterior.term_covariance(static_cast<std::size_t>(i));
    within += moments.weights(i) * Eigen::Map<const MatrixXd>(covariance.data(), active, active);
  }
  for (Index k = 0; k < q; ++k) {
    const NodeQuantity& quantity = quantities[static_cast<std::size_t>(k)];
    if (quantity.means.size() != posterior.size() || quantity.coefficients.size() != static_cast<std::size_t>(active)) {
      throw std::invalid_argument(
          "covariance_with_shared: a quantity has a mean a node and a coefficient an active term");
    }
    values.row(k) = Eigen::Map<const Eigen::RowVectorXd>(quantity.means.data(), nodes);
    coefficients.row(k) = Eigen::Map<const Eigen::RowVectorXd>(quantity.coefficients.data(), active);
  }
  values.colwise() -= (values * moments.weights).eval();
  const MatrixXd weighted = values * moments.weights.asDiagonal();
  MatrixXd with_own = weighted * moments.deviations.transpose();  // quantities x kept
  const Index sprint_part = with_own.cols() - static_cast<Index>(moments.place.size());
  const MatrixXd with_terms = coefficients * within;  // quantities x active
  for (std::size_t k = 0; k < moments.place.size(); ++k) {
    with_own.col(sprint_part + static_cast<Index>(k)) += with_terms.col(static_cast<Index>(moments.place[k]));
  }
  return {links.about, carried.covariance, with_own * carried.gain.transpose(),
          weighted * values.transpose() + with_terms * coefficients.transpose()};
}

}  // namespace bagsplit::sprint
