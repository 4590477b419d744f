#include "bagsplit/inference/squad/message_passing.hpp"

#include <Eigen/Cholesky>
#include <Eigen/Eigenvalues>
#include <algorithm>
#include <cmath>
#include <limits>
#include <numeric>
#include <stdexcept>
#include <utility>

#include "bagsplit/inference/posterior/posterior.hpp"
#include "bagsplit/inference/squad/detail/member_moments.hpp"
#include "bagsplit/stats/random.hpp"

namespace bagsplit::inference {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

namespace {

constexpr double most_slips = 0.2;  // of the marks: beyond that nothing can be told from slips
constexpr double restless = 0.05;   // SDs that a sweep may still move a settled fit by

void go_back(MessageFit& to, const MessageFit& from, double share) {
  for (std::size_t i = 0; i < to.messages.size(); ++i) {
    to.messages[i].precision += share * (from.messages[i].precision - to.messages[i].precision);
    to.messages[i].shift += share * (from.messages[i].shift - to.messages[i].shift);
  }
}

// By how much the shared quantities differ between two fits, see MessageFit::moved.
double distance(const Gaussian& to, const Gaussian& from) {
  double moved = 0.0;
  for (Index k = 0; k < to.mean.size(); ++k) {
    const double sd = std::sqrt(to.covariance(k, k));
    moved = std::max(
        {moved, std::fabs(to.mean(k) - from.mean(k)) / sd, std::fabs(std::log(sd / std::sqrt(from.covariance(k, k))))});
  }
  return moved;
}

}  // namespace

// What the constant of a member's message follows from.
struct MessagePassing::Anchor {
  bool known = false;
  double log_z = 0.0;  // of the member's readings under the rest
  MatrixXd rest_precision;
  VectorXd rest_shift;

  // log of the constant with which a message stands for a member's readings: rest times message then integrates to
  // their evidence.
  double log_constant(const SharedMessage& message) const {
    return log_z - (log_partition(rest_precision + message.precision, rest_shift + message.shift) -
                    log_partition(rest_precision, rest_shift));
  }
};

MessagePassing::MessagePassing(std::span<const SquadMember> members, std::span<const Normal> shared,
                               std::span<const TermMeans> term_means, unsigned threads)
    : members_(members), shared_(shared), term_means_(term_means), threads_(threads) {
  for (const SquadMember& member : members) {
    links_.emplace_back(member, shared.size());
  }
  if (!term_means.empty() && term_means.size() != members.size()) {
    throw std::invalid_argument("fit_squad: one function of term means a member is needed");
  }
  for (const Normal& prior : shared) {
    if (!(prior.sd > 0.0)) {
      throw std::invalid_argument("fit_squad: a shared quantity needs an sd above 0");
    }
  }
  for (const SquadMember& member : members) {
    slip_rate_ = std::max(slip_rate_, member.data.slips.rate);
    chances_.push_back(chances_of_slips(member.data));
  }
  all_.resize(shared.size());
  std::iota(all_.begin(), all_.end(), std::uint32_t{0});
}

void MessagePassing::learn_slip_rate(const MessageFit& fit) {
  const double weight = members_.empty() ? 0.0 : members_.front().data.slips.rate_weight;
  const double before = members_.empty() ? 0.0 : members_.front().data.slips.rate;
  const double slips = std::accumulate(fit.slips.begin(), fit.slips.end(), weight * before);
  const double chances = std::accumulate(chances_.begin(), chances_.end(), weight);
  if (slip_rate_ > 0.0 && chances > 0.0) {
    slip_rate_ = std::min(slips / chances, most_slips);
  }
}

MessageFit MessagePassing::start() const {
  MessageFit fit;
  for (const SharedLinks& links : links_) {
    fit.messages.push_back(SharedMessage::silent(links.about));
  }
  fit.modes.assign(members_.size(), motion::Sprint{0.0, 0.0});
  fit.logs.assign(members_.size(), 0.0);
  fit.slips.assign(members_.size(), 0.0);
  combine(fit);
  return fit;
}

// Where all messages at once overshoot, so that together they are no distribution, part of the way.  @return how much
// of it; 0 where no part leads to a distribution.
double MessagePassing::go_as_far_as_sound(MessageFit& to, const MessageFit& from) const {
  double gone = 1.0;
  while (!combine(to)) {
    if (gone < 0.005) {
      return 0.0;
    }
    gone *= 0.5;
    go_back(to, from, 0.5);
  }
  return gone;
}

// One pass over all members: new messages, and the evidence they give. `from`, and not sound, where no part of the way
// leads to a distribution.
MessageFit MessagePassing::sweep(const SquadScales& scales, const MessageFit& from) {
  MessageFit to = from;
  std::vector<Anchor> anchors(members_.size());
  stats::for_each_index(members_.size(), threads_, [&](std::size_t i) { anchors[i] = update(i, scales, from, to); });
  ++sweeps_;
  const double gone = go_as_far_as_sound(to, from);
  if (gone == 0.0) {
    to = from;
    to.sound = false;
    to.settled = false;
    return to;
  }
  for (std::size_t i = 0; i < anchors.size() && gone < 1.0; ++i) {
    if (anchors[i].known) {
      to.logs[i] = anchors[i].log_constant(to.messages[i]);
    }
  }
  to.log_evidence = std::accumulate(to.logs.begin(), to.logs.end(), to.log_evidence);
  to.moved = distance(to.shared, from.shared) / (gone * share_);  // had all gone the whole way: a short way is no rest
  to.sound = true;
  to.settled = to.moved <= restless &&
               std::all_of(anchors.begin(), anchors.end(), [](const Anchor& anchor) { return anchor.known; });
  return to;
}

MessageFit MessagePassing::settle(const SquadScales& scales, const MessageFit& from, int most) {
  constexpr double still = 0.02;
  constexpr int most_restless = 12;
  MessageFit fit = sweep(scales, from);
  double before = std::numeric_limits<double>::infinity();
  for (int i = 1; fit.sound && i < most_restless && (i < 2 || fit.moved > (i < most ? still : restless)); ++i) {
    if (fit.moved > 0.7 * before && fit.moved > restless) {
      share_ = std::max(0.25, 0.5 * share_);
    }
    before = fit.moved;
    MessageFit next = sweep(scales, fit);
    if (!next.sound) {
      fit.settled = false;
      break;
    }
    fit = std::move(next);
  }
  return fit;
}

MessageFit MessagePassing::look(const SquadScales& scales, const MessageFit& from) {
  MessageFit fit = sweep(scales, from);
  return share_ < 1.0 ? sweep(scales, fit) : fit;
}

// Posterior of the shared quantities from their prior and all messages.  @return whether it is a distribution, none
// much wider than the prior: messages that nearly cancel it leave a mean and an SD of any size.
bool MessagePassing::combine(MessageFit& fit) const {
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
  fit.shared = std::move(all);
  fit.log_evidence = log_partition(precision, shift) - at_prior;
  return true;
}

// A new message of one member, and what its constant follows from. The last one stays where the new one, or what the
// others say, is no distribution, or where the posterior could not be integrated.
MessagePassing::Anchor MessagePassing::update(std::size_t i, const SquadScales& scales, const MessageFit& from,
                                              MessageFit& to) const {
  const SquadMember& member = members_[i];
  const SharedLinks& links = links_[i];
  SharedMessage& message = to.messages[i];
  const Gaussian rest = without(from.shared, from.messages[i]);
  if (!is_sound(rest, links.about, shared_)) {
    return {};
  }
  const Gaussian prior = prior_of(member, links, rest, scales);
  PosteriorEffort effort{.coarse = true, .near = std::nullopt, .name_slips = false};
  if (from.modes[i].top_speed_mps > 0.0) {
    effort.near = from.modes[i];
  }
  const TermMeans means = term_means_.empty() ? TermMeans{} : term_means_[i];
  PlayerData data = data_under(member, prior, scales);
  data.slips.rate = slip_rate_;
  const Posterior posterior(data, means, effort);
  const double log_z = posterior.log_evidence();
  if (!posterior.usable() || !std::isfinite(log_z)) {
    return {};
  }
  to.modes[i] = posterior.mode();
  to.slips[i] = posterior.expected_slips();
  if (links.about.empty()) {
    to.logs[i] = log_z;
    return {true, log_z, MatrixXd(0, 0), VectorXd(0)};
  }
  const MemberMoments moments = moments_of(posterior, prior, means);
  const CarriedOver carried = carry_over(links, rest, prior, moments);
  const auto g = static_cast<Index>(links.about.size());
  const MatrixXd identity = MatrixXd::Identity(g, g);
  const MatrixXd rest_precision = Eigen::LLT<MatrixXd>(rest.covariance).solve(identity);
  Anchor anchor{true, log_z, rest_precision, rest_precision * rest.mean};
  const Eigen::LLT<MatrixXd> new_factor(carried.covariance);
  if (new_factor.info() == Eigen::Success && carried.mean.allFinite()) {
    MatrixXd new_precision = new_factor.solve(identity);
    if (slip_rate_ > 0.0) {
      // Doubt which reading is wrong may leave the mixture wider than what the others say: such a message says nothing.
      const Eigen::SelfAdjointEigenSolver<MatrixXd> told(new_precision - anchor.rest_precision);
      new_precision = anchor.rest_precision + told.eigenvectors() * told.eigenvalues().cwiseMax(0.0).asDiagonal() *
                                                  told.eigenvectors().transpose();
    }
    message.precision += share_ * (new_precision - anchor.rest_precision - message.precision);
    message.shift += share_ * (new_precision * carried.mean - anchor.rest_shift - message.shift);
  } else {
    anchor.known = false;
  }
  to.logs[i] = anchor.log_constant(message);
  return anchor;
}

}  // namespace bagsplit::inference
