#include "bagsplit/inference/season/detail/evidence.hpp"

#include <Eigen/Cholesky>
#include <array>
#include <cmath>
#include <limits>

#include "bagsplit/stats/detail/elementary.hpp"
#include "bagsplit/stats/minimise.hpp"
#include "bagsplit/stats/random.hpp"

namespace bagsplit::season {

namespace {

double square(double x) {
  return x * x;
}

/// Noise of one run of a block.
Eigen::MatrixXd run_noise(const Block& block, double effort_var) {
  return block.noise.array() + effort_var;
}

Eigen::MatrixXd covariance_of(const Units& units, const Options& options, const Scales& scales, double slope_sd) {
  const Index n = units.size();
  const double level_var = square(options.level_sd);
  const double form_var = square(scales.form_sd);
  const double slope_var = square(slope_sd);
  Eigen::MatrixXd c(n, n);
  for (Index j = 0; j < n; ++j) {
    const auto b = static_cast<std::size_t>(j);
    for (Index i = j; i < n; ++i) {
      const auto a = static_cast<std::size_t>(i);
      c(i, j) =
          (units.level[a] == units.level[b] ? level_var : 0.0) +
          (units.date[a] == units.date[b] ? form_var + units.evening_added[static_cast<std::size_t>(units.date[a])]
                                          : 0.0) +
          units.growth_var * units.time_yr[i] * units.time_yr[j] + slope_var * units.shapes(i, 0) * units.shapes(j, 0);
    }
  }
  for (const auto& block : units.blocks) {
    c.block(block.first, block.first, block.size, block.size) +=
        run_noise(block, square(scales.effort_sd)) / block.runs;
  }
  return c;
}

/// log density of the scatter within blocks.
double scatter_log_density(const Units& units, double effort_var) {
  double sum = 0.0;
  for (const auto& block : units.blocks) {
    if (block.runs < 1.5) {
      continue;
    }
    if (block.size == 1) {
      const double var = block.noise(0, 0) + effort_var;
      sum -= 0.5 * ((block.runs - 1.0) * std::log(var) + block.scatter(0, 0) / var);
      continue;
    }
    const Eigen::LLT<Eigen::MatrixXd> llt(run_noise(block, effort_var));
    sum -= (block.runs - 1.0) * llt.matrixLLT().diagonal().array().log().sum() + 0.5 * llt.solve(block.scatter).trace();
  }
  return sum;
}

/// Gradient of one child's part of the evidence in (log form_sd, log effort_sd, log slope_sd).
std::array<double, 3> child_gradient(const Units& units, const ChildFit& fit, const Scales& scales,
                                     const Eigen::MatrixXd& squad_covariance, const Eigen::VectorXd& squad_mean) {
  // b: inverse covariance with g integrated out; a: b z.
  const Eigen::MatrixXd b = fit.inverse - fit.weighted * squad_covariance * fit.weighted.transpose();
  const Eigen::VectorXd a = fit.residual - fit.weighted * squad_mean;
  const Index n = units.size();
  double form = 0.0;
  for (Index j = 0; j < n; ++j) {
    for (Index i = 0; i < n; ++i) {
      if (units.date[static_cast<std::size_t>(i)] == units.date[static_cast<std::size_t>(j)]) {
        form += a[i] * a[j] - b(i, j);
      }
    }
  }
  const double effort_var = square(scales.effort_sd);
  double effort = 0.0;
  for (const auto& block : units.blocks) {
    effort += (square(a.segment(block.first, block.size).sum()) -
               b.block(block.first, block.first, block.size, block.size).sum()) /
              block.runs;
    if (block.runs < 1.5) {
      continue;
    }
    const Eigen::VectorXd ones = Eigen::VectorXd::Ones(block.size);
    const Eigen::VectorXd w = run_noise(block, effort_var).llt().solve(ones);
    effort += w.dot(block.scatter * w) - (block.runs - 1.0) * w.sum();
  }
  const auto line = units.shapes.col(0);
  const double slope = square(a.dot(line)) - line.dot(b * line);
  return {square(scales.form_sd) * form, effort_var * effort, square(scales.slope_sd) * slope};
}

Scales from_logs(const Eigen::VectorXd& x) {
  return {std::exp(x[0]), std::exp(x[1]), std::exp(x[2]), std::exp(x[3])};
}

}  // namespace

ChildFit fit_child(const Units& units, const Options& options, const Scales& scales, double slope_sd) {
  const Index n = units.size();
  if (n == 0) {
    return {};
  }
  const Eigen::LLT<Eigen::MatrixXd> llt(covariance_of(units, options, scales, slope_sd));
  ChildFit fit;
  fit.inverse = llt.solve(Eigen::MatrixXd::Identity(n, n));
  fit.weighted.noalias() = fit.inverse * units.shared;
  fit.residual.noalias() = fit.inverse * units.z;
  fit.precision.noalias() = units.shared.transpose() * fit.weighted;
  fit.shift.noalias() = fit.weighted.transpose() * units.z;
  fit.log_density = -0.5 * units.z.dot(fit.residual) - llt.matrixLLT().diagonal().array().log().sum() -
                    0.5 * static_cast<double>(n) * stats::log_two_pi + units.log_jacobian +
                    scatter_log_density(units, square(scales.effort_sd));
  return fit;
}

Eigen::MatrixXd gather(const Eigen::MatrixXd& whole, const std::vector<Index>& places) {
  return whole(places, places);
}

Eigen::VectorXd gather(const Eigen::VectorXd& whole, const std::vector<Index>& places) {
  return whole(places);
}

std::vector<ChildFit> fit_children(const std::vector<Units>& units, const Options& options, const Scales& scales,
                                   double slope_sd) {
  std::vector<ChildFit> fits(units.size());
  stats::for_each_index(units.size(), options.threads,
                        [&](std::size_t i) { fits[i] = fit_child(units[i], options, scales, slope_sd); });
  return fits;
}

SquadFit fit_squad(const Design& design, const std::vector<ChildFit>& children, double evening_sd) {
  const Eigen::VectorXd prior = design.prior_precision(evening_sd);
  Eigen::MatrixXd precision = prior.asDiagonal();
  Eigen::VectorXd shift = Eigen::VectorXd::Zero(prior.size());
  SquadFit out;
  for (std::size_t i = 0; i < children.size(); ++i) {
    if (children[i].shift.size() == 0) {
      continue;
    }
    const auto& touched = design.children[i].touched;
    precision(touched, touched) += children[i].precision;
    shift(touched) += children[i].shift;
    out.log_evidence += children[i].log_density;
  }
  const Eigen::LLT<Eigen::MatrixXd> llt(precision);
  out.covariance = llt.solve(Eigen::MatrixXd::Identity(prior.size(), prior.size()));
  out.mean = llt.solve(shift);
  out.log_evidence +=
      0.5 * shift.dot(out.mean) - llt.matrixLLT().diagonal().array().log().sum() + 0.5 * prior.array().log().sum();
  return out;
}

double evidence_gradient(const Design& design, const std::vector<Units>& units, const Scales& scales,
                         Eigen::VectorXd& gradient) {
  const auto children = fit_children(units, design.options, scales, scales.slope_sd);
  const auto squad = fit_squad(design, children, scales.evening_sd);
  std::vector<std::array<double, 3>> by_child(units.size());
  stats::for_each_index(units.size(), design.options.threads, [&](std::size_t i) {
    if (units[i].size() > 0) {
      const auto& touched = design.children[i].touched;
      by_child[i] =
          child_gradient(units[i], children[i], scales, gather(squad.covariance, touched), gather(squad.mean, touched));
    }
  });
  gradient.setZero(4);
  const auto dates = static_cast<Index>(design.season.days.size());
  gradient[0] = (squad.mean.head(dates).squaredNorm() + squad.covariance.diagonal().head(dates).sum()) /
                    square(scales.evening_sd) -
                static_cast<double>(dates);
  for (const auto& part : by_child) {
    for (std::size_t k = 0; k < 3; ++k) {
      gradient[static_cast<Index>(k) + 1] += part[k];
    }
  }
  return squad.log_evidence;
}

double log_prior(const Options& options, const Scales& scales) {
  return -0.5 * square(scales.evening_sd / options.evening_scale) + std::log(scales.evening_sd) -
         0.5 * square(std::log(scales.form_sd / options.form_median) / options.log_sd) -
         0.5 * square(std::log(scales.effort_sd / options.effort_median) / options.log_sd) -
         0.5 * square(scales.slope_sd / options.slope_scale) + std::log(scales.slope_sd);
}

Scales fit_scales(const Design& design, const std::vector<Units>& units, const Scales& start) {
  const auto& options = design.options;
  const auto minus_log_posterior = [&](const Eigen::VectorXd& x, Eigen::VectorXd& gradient) {
    if (x.cwiseAbs().maxCoeff() > 12.0) {
      gradient.setZero(4);
      return std::numeric_limits<double>::infinity();
    }
    const auto scales = from_logs(x);
    const double value = evidence_gradient(design, units, scales, gradient) + log_prior(options, scales);
    gradient[0] += 1.0 - square(scales.evening_sd / options.evening_scale);
    gradient[1] -= std::log(scales.form_sd / options.form_median) / square(options.log_sd);
    gradient[2] -= std::log(scales.effort_sd / options.effort_median) / square(options.log_sd);
    gradient[3] += 1.0 - square(scales.slope_sd / options.slope_scale);
    gradient = -gradient;
    return -value;
  };
  Eigen::VectorXd x(4);
  x << std::log(start.evening_sd), std::log(start.form_sd), std::log(start.effort_sd), std::log(start.slope_sd);
  const auto readings = static_cast<double>(design.season.readings.size());
  const auto children = static_cast<double>(design.season.children.size());
  stats::MinimiseOptions how{.max_iterations = 40, .gradient_tolerance = 2e-3, .value_rounding = 1e-11};
  how.curvature.resize(4);
  how.curvature << static_cast<double>(design.season.days.size()), children, 0.5 * readings, 0.5 * children;
  how.curvature.array() += 2.0;
  return from_logs(stats::minimise(minus_log_posterior, x, how).point);
}

}  // namespace bagsplit::season
