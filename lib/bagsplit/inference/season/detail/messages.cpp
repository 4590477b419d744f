#include "bagsplit/inference/season/detail/messages.hpp"

#include <Eigen/Cholesky>
#include <algorithm>
#include <cmath>

#include "bagsplit/stats/detail/elementary.hpp"

namespace bagsplit::season {

namespace {

constexpr int most_sweeps = 12;
constexpr double settled = 1e-4;
constexpr double greatest_log = 600.0;

using Llt = Eigen::LLT<Eigen::MatrixXd>;

double log_sum_exp(const Eigen::VectorXd& x) {
  const double top = x.maxCoeff();
  return top + std::log((x.array() - top).exp().sum());
}

/// log of the integral of exp(-g'Pg/2 + h'g), without powers of 2 pi; mean = P^-1 h.
double log_integral(const Llt& precision, const Eigen::VectorXd& shift, const Eigen::VectorXd& mean) {
  return 0.5 * shift.dot(mean) - precision.matrixLLT().diagonal().array().log().sum();
}

Eigen::MatrixXd inverse_of(const Llt& llt) {
  return llt.solve(Eigen::MatrixXd::Identity(llt.rows(), llt.rows()));
}

/// g while messages go round.
struct SharedBelief {
  Eigen::MatrixXd precision;
  Eigen::VectorXd shift;
  Eigen::MatrixXd covariance;
  Eigen::VectorXd mean;

  void solve() {
    const Llt llt(precision);
    covariance = inverse_of(llt);
    mean = llt.solve(shift);
  }
};

struct Update {
  SharedView view;
  double log_bayes_factor = 0.0, changed = 0.0;
  double log_evidence = 0.0;   // of the child's readings, the squad's rest given
  Eigen::MatrixXd covariance;  // of g with the child's mixture, at its places
  Eigen::VectorXd mean;
};

/// Mean and covariance of g under the child's mixture.
void match_moments(const SharedView& view, const Ways& ways, double changed, Update& out) {
  const Index k = ways.moves.cols();
  Eigen::VectorXd first = Eigen::VectorXd::Zero(k);   // E of each shape's size
  Eigen::VectorXd second = Eigen::VectorXd::Zero(k);  // E of its square
  for (Index i = 0; i < 2 * k; ++i) {
    const double w = changed * ways.weight[i];
    first[i % k] += w * ways.mean[i];
    second[i % k] += w * (ways.var[i] + ways.mean[i] * ways.mean[i]);
  }
  const Eigen::VectorXd moved = ways.moves * first;
  out.mean = view.mean - moved;
  out.covariance = view.covariance;
  out.covariance.noalias() += ways.moves * second.asDiagonal() * ways.moves.transpose();
  out.covariance.noalias() -= moved * moved.transpose();
}

double share_given(double log_bayes_factor, double share) {
  return share <= 0.0 ? 0.0 : 1.0 / (1.0 + (1.0 - share) / share * std::exp(-std::min(log_bayes_factor, greatest_log)));
}

/// One child's turn. Returns by how much its message moved; -1 where g would lose its spread (the turn is passed).
double turn(const Design& design, std::size_t i, const ChildFit& child, const ChangeFit& change, Point& point,
            SharedBelief& squad, Update& update) {
  const auto& touched = design.children[i].touched;
  auto& precision = point.message_precision[i];
  auto& shift = point.message_shift[i];
  const Eigen::MatrixXd marginal_covariance = squad.covariance(touched, touched);
  const Eigen::VectorXd marginal_mean = squad.mean(touched);
  const Llt marginal(marginal_covariance);
  const Eigen::MatrixXd marginal_precision = inverse_of(marginal);
  const Eigen::MatrixXd rest = marginal_precision - precision;
  const Eigen::VectorXd rest_shift = marginal_precision * marginal_mean - shift;
  const Llt with_own(rest + child.precision);
  if (marginal.info() != Eigen::Success || with_own.info() != Eigen::Success) {
    return -1.0;
  }
  update.view.covariance = inverse_of(with_own);
  update.view.mean = update.view.covariance * (rest_shift + child.shift);
  const auto ways = ways_to_change(design, change, update.view, point.size);
  update.log_bayes_factor = ways.log_bayes_factor;
  update.changed = share_given(ways.log_bayes_factor, point.share);
  match_moments(update.view, ways, update.changed, update);
  const Llt matched(update.covariance);
  if (matched.info() != Eigen::Success) {
    return -1.0;
  }
  const Eigen::MatrixXd new_precision = inverse_of(matched);
  const Eigen::VectorXd new_shift = new_precision * update.mean;
  const Eigen::VectorXd message = new_shift - rest_shift;
  const double moved = (message - shift).cwiseAbs().maxCoeff() / (shift.cwiseAbs().maxCoeff() + 1.0);
  // The determinant of the matched precision is one over that of the covariance.
  const double after = 0.5 * new_shift.dot(update.mean) + matched.matrixLLT().diagonal().array().log().sum();
  update.log_evidence = child.log_density + log_integral(with_own, rest_shift + child.shift, update.view.mean) - after;
  if (point.share > 0.0) {
    update.log_evidence += stats::log_add(std::log1p(-point.share), std::log(point.share) + ways.log_bayes_factor);
  }
  // The places that the child does not touch follow by what they share with those it does.
  const Eigen::MatrixXd gain = squad.covariance(Eigen::all, touched) * marginal_precision;
  squad.covariance.noalias() += gain * (update.covariance - marginal_covariance) * gain.transpose();
  squad.mean.noalias() += gain * (update.mean - marginal_mean);
  const Eigen::MatrixXd new_message = new_precision - rest;
  squad.precision(touched, touched) += new_message - precision;
  squad.shift(touched) += message - shift;
  precision = new_message;
  shift = message;
  return moved;
}

SharedBelief start(const Design& design, const std::vector<ChildFit>& children, Point& point) {
  if (point.message_shift.empty()) {
    for (const auto& child : children) {
      point.message_precision.push_back(child.precision);
      point.message_shift.push_back(child.shift);
    }
  }
  SharedBelief squad;
  squad.precision = design.prior_precision(point.evening_sd).asDiagonal();
  squad.shift.setZero(squad.precision.rows());
  for (std::size_t i = 0; i < children.size(); ++i) {
    if (point.message_shift[i].size() > 0) {
      const auto& touched = design.children[i].touched;
      squad.precision(touched, touched) += point.message_precision[i];
      squad.shift(touched) += point.message_shift[i];
    }
  }
  squad.solve();
  return squad;
}

}  // namespace

ChangeFit fit_changes(const Units& units, const ChildFit& fit) {
  if (units.size() == 0) {
    return {};
  }
  ChangeFit change;
  const Eigen::MatrixXd weighted = fit.inverse * units.shapes;
  change.with_shared.noalias() = units.shared.transpose() * weighted;
  change.information = (units.shapes.array() * weighted.array()).colwise().sum();
  change.pull.noalias() = units.shapes.transpose() * fit.residual;
  return change;
}

Ways ways_to_change(const Design& design, const ChangeFit& change, const SharedView& view, double size) {
  const auto& options = design.options;
  const Index k = change.information.size();
  Ways ways;
  ways.moves.noalias() = view.covariance * change.with_shared;
  const Eigen::VectorXd own = change.pull - change.with_shared.transpose() * view.mean;
  ways.weight.resize(2 * k);
  ways.mean.resize(2 * k);
  ways.var.resize(2 * k);
  const double prior_var = options.size_rel_sd * size * options.size_rel_sd * size;
  for (Index i = 0; i < k; ++i) {
    const double information = std::max(change.information[i] - change.with_shared.col(i).dot(ways.moves.col(i)), 0.0);
    const double var = prior_var / (1.0 + prior_var * information);
    const double log_shape = std::log(design.shapes[static_cast<std::size_t>(i)].weight);
    for (const bool faster : {true, false}) {
      const Index at = faster ? i : k + i;
      const double centre = faster ? -size : size;
      ways.var[at] = var;
      ways.mean[at] = var * (own[i] + centre / prior_var);
      ways.weight[at] = log_shape + (faster ? std::log(options.faster_share) : std::log1p(-options.faster_share)) -
                        0.5 * std::log1p(prior_var * information) + 0.5 * ways.mean[at] * ways.mean[at] / var -
                        0.5 * size * size / prior_var;
    }
  }
  ways.log_bayes_factor = log_sum_exp(ways.weight);
  ways.weight = (ways.weight.array() - ways.log_bayes_factor).exp();
  return ways;
}

void propagate(const Design& design, const std::vector<ChildFit>& children, const std::vector<ChangeFit>& changes,
               Point& point) {
  auto squad = start(design, children, point);
  const auto n = children.size();
  std::vector<double> log_evidence(n, 0.0);
  point.views.assign(n, {});
  point.changed.assign(n, 0.0);
  point.log_bayes_factor.assign(n, 0.0);
  for (int sweep = 0; sweep < most_sweeps; ++sweep) {
    double worst = 0.0;
    for (std::size_t i = 0; i < n; ++i) {
      if (children[i].shift.size() == 0) {
        continue;
      }
      Update update;
      const double moved = turn(design, i, children[i], changes[i], point, squad, update);
      if (moved < 0.0) {
        continue;
      }
      worst = std::max(worst, moved);
      log_evidence[i] = update.log_evidence;
      point.changed[i] = update.changed;
      point.log_bayes_factor[i] = update.log_bayes_factor;
      point.views[i] = std::move(update.view);
    }
    squad.solve();
    if (worst < settled) {
      break;
    }
  }
  const Eigen::VectorXd prior = design.prior_precision(point.evening_sd);
  point.squad.covariance = squad.covariance;
  point.squad.mean = squad.mean;
  point.squad.log_evidence =
      log_integral(Llt(squad.precision), squad.shift, squad.mean) + 0.5 * prior.array().log().sum();
  for (const double part : log_evidence) {
    point.squad.log_evidence += part;
  }
}

}  // namespace bagsplit::season
