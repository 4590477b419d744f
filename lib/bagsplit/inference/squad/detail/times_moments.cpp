#include "bagsplit/inference/squad/detail/times_moments.hpp"

#include <Eigen/Cholesky>
#include <algorithm>
#include <cmath>

#include "bagsplit/inference/reading/inactive_terms.hpp"

namespace bagsplit::inference {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

TimesMoments::TimesMoments(const Subject& subject, const inference::Posterior& posterior,
                           const SquadTimesQuestion& question)
    : subject_(subject),
      posterior_(posterior),
      question_(question),
      data_(posterior.data()),
      usual_(SlowingSprints(data_)(posterior.mode().top_speed_mps, posterior.mode().time_constant_s)),
      active_(posterior.active_terms().begin(), posterior.active_terms().end()) {
  std::uint64_t needed = 0;
  for (const std::uint64_t terms : subject.course_terms) {
    needed |= terms;
  }
  if (subject.reaction) {
    needed |= std::uint64_t{1} << *subject.reaction;
  }
  if (data_.day_term) {
    needed |= std::uint64_t{1} << *data_.day_term;
  }
  each_bit(needed, [&](std::uint32_t k) {
    if (!posterior.is_active(k)) {
      rest_.push_back(k);
    }
  });
  gather(at_nodes());
}

std::uint32_t TimesMoments::term(Index x) const {
  const auto k = static_cast<std::size_t>(x) - 2;
  return k < active_.size() ? active_[k] : rest_[k - active_.size()];
}

Index TimesMoments::place(std::uint32_t term) const {
  const auto found = std::find(active_.begin(), active_.end(), term);
  return found != active_.end()
             ? found - active_.begin()
             : static_cast<Index>(active_.size()) + (std::find(rest_.begin(), rest_.end(), term) - rest_.begin());
}

TimesMoments::Nodes TimesMoments::at_nodes() const {
  const TimesIndex index{question_.courses.size()};
  const auto nodes = static_cast<Index>(posterior_.size());
  const auto q = static_cast<Index>(active_.size());
  const auto r = static_cast<Index>(rest_.size());
  const inference::TermMeans term_means = subject_.loss_means.callback();
  const inference::InactiveTerms inactive(data_, active_, rest_);

  Nodes out{MatrixXd(x_size(), nodes), MatrixXd(q + r, nodes), MatrixXd(static_cast<Index>(index.courses), nodes),
            VectorXd(nodes), MatrixXd()};
  MatrixXd within = MatrixXd::Zero(q, q);
  std::vector<double> moving(data_.terms.size());
  for (Index node = 0; node < nodes; ++node) {
    const auto at = static_cast<std::size_t>(node);
    const motion::Sprint& sprint = posterior_.sprints()[at];
    out.weights(node) = posterior_.weights()[at];
    out.deviation(0, node) = std::log(sprint.top_speed_mps) - data_.log_top_speed.mean;
    out.deviation(1, node) = std::log(sprint.time_constant_s) - data_.log_time_constant.mean;
    for (std::size_t k = 0; k < moving.size(); ++k) {
      moving[k] = data_.terms[k].mean;
    }
    if (term_means) {
      term_means(sprint, moving);
    }
    const auto sloped = [&](std::uint32_t k) {
      return inactive.sloped(k, out.deviation(0, node), out.deviation(1, node));
    };
    const auto means = posterior_.term_means(at);
    VectorXd surprise(q);
    for (Index a = 0; a < q; ++a) {
      const std::uint32_t k = active_[static_cast<std::size_t>(a)];
      out.terms(a, node) = means[static_cast<std::size_t>(a)];
      out.deviation(2 + a, node) = out.terms(a, node) - moving[k];
      surprise(a) = out.deviation(2 + a, node) - sloped(k);
    }
    const VectorXd follows = inactive.gain() * surprise;
    for (Index b = 0; b < r; ++b) {
      const std::uint32_t k = rest_[static_cast<std::size_t>(b)];
      out.deviation(2 + q + b, node) = sloped(k) + follows(b);
      out.terms(q + b, node) = moving[k] + out.deviation(2 + q + b, node);
    }
    const auto covariance = posterior_.term_covariance(at);
    within +=
        out.weights(node) * Eigen::Map<const Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor>>(
                                covariance.data(), q, q);
    for (std::size_t course = 0; course < index.courses; ++course) {
      out.straight(static_cast<Index>(course), node) = straight_time_s(sprint, question_.courses[course].distance_m);
    }
  }

  out.spread = inactive.spread(within);
  return out;
}

// Components: linear in the terms and the straight times.
void TimesMoments::gather(const Nodes& nodes) {
  const TimesIndex index{question_.courses.size()};
  const auto c = static_cast<Index>(index.size());
  const VectorXd usual = nodes.straight * nodes.weights;
  MatrixXd of_terms = MatrixXd::Zero(c, nodes.terms.rows());
  for (std::size_t course = 0; course < index.courses; ++course) {
    const auto row = static_cast<Index>(index.moving(course));
    each_bit(subject_.course_terms[course], [&](std::uint32_t k) {
      of_terms(row, place(k)) = coefficient_of(data_, k, usual_, 0.0, question_.courses[course].distance_m);
    });
    if (data_.day_term) {
      of_terms(row + 1, place(*data_.day_term)) = usual(static_cast<Index>(course));
    }
  }
  if (subject_.reaction) {
    of_terms(static_cast<Index>(index.reaction()), place(*subject_.reaction)) = 1.0;
  }
  MatrixXd values = of_terms * nodes.terms;
  for (std::size_t course = 0; course < index.courses; ++course) {
    values.row(static_cast<Index>(index.moving(course))) += nodes.straight.row(static_cast<Index>(course));
    values.row(static_cast<Index>(index.straight(course))) = nodes.straight.row(static_cast<Index>(course));
  }
  mean_ = values * nodes.weights;
  const MatrixXd off = values.colwise() - mean_;
  const VectorXd x_mean = nodes.deviation * nodes.weights;
  const MatrixXd x_off = nodes.deviation.colwise() - x_mean;
  covariance_ = off * nodes.weights.asDiagonal() * off.transpose() + of_terms * nodes.spread * of_terms.transpose();
  cross_ = x_off * nodes.weights.asDiagonal() * off.transpose();
  cross_.bottomRows(nodes.terms.rows()) += nodes.spread * of_terms.transpose();
}

MatrixXd TimesMoments::loading(const inference::MemberPrior& prior, const inference::SquadPoint& point) const {
  const auto shared = point.mean.size();
  MatrixXd loading = MatrixXd::Zero(mean_.size(), shared);
  const auto g = static_cast<Index>(prior.about.size());
  std::vector<Index> kept;  // of x
  std::vector<Index> coordinate;
  for (Index x = 0; x < x_size(); ++x) {
    const Index in_prior = x < 2 ? x : 2 + static_cast<Index>(term(x));
    if (prior.covariance(in_prior, in_prior) > 0.0) {
      kept.push_back(x);
      coordinate.push_back(in_prior);
    }
  }
  if (g == 0 || kept.empty()) {
    return loading;
  }
  const auto n = static_cast<Index>(kept.size());
  MatrixXd own(n, n);
  MatrixXd ties(g, n);
  MatrixXd cross(n, mean_.size());
  for (Index a = 0; a < n; ++a) {
    ties.col(a) = prior.cross.col(coordinate[static_cast<std::size_t>(a)]);
    cross.row(a) = cross_.row(kept[static_cast<std::size_t>(a)]);
    for (Index b = 0; b < n; ++b) {
      own(a, b) = prior.covariance(coordinate[static_cast<std::size_t>(a)], coordinate[static_cast<std::size_t>(b)]);
    }
  }
  MatrixXd shared_covariance(g, g);
  for (Index a = 0; a < g; ++a) {
    for (Index b = 0; b < g; ++b) {
      shared_covariance(a, b) =
          point.covariance(prior.about[static_cast<std::size_t>(a)], prior.about[static_cast<std::size_t>(b)]);
    }
  }
  const MatrixXd together = ties * own.ldlt().solve(cross);  // covariance of shared and components
  const MatrixXd part = shared_covariance.llt().solve(together).transpose();
  for (Index a = 0; a < g; ++a) {
    loading.col(prior.about[static_cast<std::size_t>(a)]) = part.col(a);
  }
  return loading;
}

}  // namespace bagsplit::inference
