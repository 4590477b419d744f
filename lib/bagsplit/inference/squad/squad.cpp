#include "bagsplit/inference/squad/squad.hpp"

#include <algorithm>
#include <cmath>
#include <iterator>
#include <stdexcept>
#include <utility>

#include "bagsplit/inference/squad/detail/member_moments.hpp"
#include "bagsplit/inference/squad/message_passing.hpp"

namespace bagsplit::inference {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

namespace {

// What is said of some quantities with a message about others, too, taken out.
Gaussian marginal_without(const Gaussian& all, const SharedMessage& message, const std::vector<std::uint32_t>& about) {
  std::vector<std::uint32_t> both;
  std::set_union(message.about.begin(), message.about.end(), about.begin(), about.end(), std::back_inserter(both));
  const auto place = [&](std::uint32_t k) {
    return static_cast<Index>(std::lower_bound(both.begin(), both.end(), k) - both.begin());
  };
  SharedMessage widened = SharedMessage::silent(both);
  for (std::size_t a = 0; a < message.about.size(); ++a) {
    widened.shift(place(message.about[a])) = message.shift(static_cast<Index>(a));
    for (std::size_t b = 0; b < message.about.size(); ++b) {
      widened.precision(place(message.about[a]), place(message.about[b])) =
          message.precision(static_cast<Index>(a), static_cast<Index>(b));
    }
  }
  const Gaussian rest = without(all, widened);
  const auto n = static_cast<Index>(about.size());
  Gaussian out{VectorXd(n), MatrixXd(n, n)};
  for (Index a = 0; a < n; ++a) {
    const Index i = place(about[static_cast<std::size_t>(a)]);
    out.mean(a) = rest.mean(i);
    for (Index b = 0; b < n; ++b) {
      out.covariance(a, b) = rest.covariance(i, place(about[static_cast<std::size_t>(b)]));
    }
  }
  return out;
}

// What all but one member say of what it points to; what all say where that is not sound.  @param index  absent: the
// member is none of those fitted.
Gaussian rest_of(const SquadFit& fit, const SquadPoint& point, const SharedLinks& links,
                 std::optional<std::size_t> index) {
  const Gaussian all{point.mean, point.covariance};
  const SharedMessage none = SharedMessage::silent(links.about);
  const bool as_fitted = index && point.messages.at(*index).about == links.about;
  Gaussian rest = without(all, as_fitted ? point.messages.at(*index) : none);
  if (index && !as_fitted) {  // of other runs than those it was fitted by
    rest = marginal_without(all, point.messages.at(*index), links.about);
  }
  return is_sound(rest, links.about, fit.shared_prior) ? rest : without(all, none);
}

}  // namespace

Normal SquadFit::shared(std::uint32_t k) const {
  return shared(0.0, k, k);
}

Normal SquadFit::shared(double weight, std::uint32_t k, std::uint32_t other) const {
  const auto a = static_cast<Index>(k);
  const auto b = static_cast<Index>(other);
  const auto at = [&](const SquadPoint& point) { return weight * point.mean(a) + point.mean(b); };
  double mean = 0.0;
  double square = 0.0;
  for (const SquadPoint& point : points) {
    mean += point.weight * at(point);
  }
  for (const SquadPoint& point : points) {
    const double d = at(point) - mean;
    const double variance =
        weight * weight * point.covariance(a, a) + 2.0 * weight * point.covariance(a, b) + point.covariance(b, b);
    square += point.weight * (variance + d * d);
  }
  return {mean, std::sqrt(square)};
}

SquadFit fit_squad(std::span<const SquadMember> members, std::span<const Normal> shared, const SquadScalePriors& scales,
                   const SquadOptions& options, std::span<const TermMeans> term_means) {
  MessagePassing passing(members, shared, term_means, options.threads);
  ScaleSearch search(passing, scales);
  search.find_mode();
  ScaleDesign design = search.design(options.narrow_sd);
  SquadFit out;
  out.shared_prior.assign(shared.begin(), shared.end());
  out.converged = design.settled;
  out.log_evidence = design.log_evidence;
  for (ScalePoint& point : design.points) {
    out.points.push_back({point.weight, scales_of(point.at), std::move(point.fit.shared.mean),
                          std::move(point.fit.shared.covariance), std::move(point.fit.messages)});
  }
  const auto normal = [&](Index k) { return Normal{design.mean(k), design.sd(k)}; };
  out.log_effort_cv = normal(0);
  out.log_day_cv = normal(1);
  out.log_reaction_sd = normal(2);
  out.log_press_factor = normal(3);
  out.loss_slope_s = {design.mean(4) / slope_unit, design.sd(4) / slope_unit};
  out.slip_rate = passing.slip_rate();
  out.sweeps = passing.sweeps();
  return out;
}

MemberPrior member_prior(const SquadFit& fit, const SquadPoint& point, const SquadMember& member,
                         std::optional<std::size_t> index) {
  const SharedLinks links(member, fit.shared_prior.size());
  const Gaussian rest = rest_of(fit, point, links, index);
  Gaussian prior = prior_of(member, links, rest, point.scales);
  return {links.about, std::move(prior.mean), std::move(prior.covariance), ties_of(links, rest)};
}

PlayerData member_data(const SquadFit& fit, const SquadPoint& point, const SquadMember& member,
                       std::optional<std::size_t> index) {
  const SharedLinks links(member, fit.shared_prior.size());
  PlayerData data =
      data_under(member, prior_of(member, links, rest_of(fit, point, links, index), point.scales), point.scales);
  data.slips.rate = fit.slip_rate;
  return data;
}

SharedCovariance covariance_with_shared(const SquadFit& fit, const SquadPoint& point, const SquadMember& member,
                                        std::optional<std::size_t> index, const Posterior& posterior,
                                        const TermMeans& term_means, std::span<const NodeQuantity> quantities) {
  const SharedLinks links(member, fit.shared_prior.size());
  const Gaussian rest = rest_of(fit, point, links, index);
  const Gaussian prior = prior_of(member, links, rest, point.scales);
  const MemberMoments moments = moments_of(posterior, prior, term_means);
  const CarriedOver carried = carry_over(links, rest, prior, moments);
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

}  // namespace bagsplit::inference
