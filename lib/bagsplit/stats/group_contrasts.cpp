#include "bagsplit/stats/group_contrasts.hpp"

#include <Eigen/LU>
#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <span>

#include "bagsplit/stats/detail/check.hpp"
#include "bagsplit/stats/detail/group_system.hpp"

namespace bagsplit::stats {

namespace {

using detail::GroupSystem;

constexpr const char* job = "fit_group_contrasts";

void check_spec(const GroupContrastSpec& spec, const GroupContrastOptions& options) {
  const std::size_t n = spec.response.size();
  check::same_size(job, "response", n, "group", spec.group.size());
  check::same_size(job, "response", n, "block", spec.block.size());
  check::same_size(job, "response", n, "rows of own", static_cast<std::size_t>(spec.own.rows()));
  check::same_size(job, "contrast", static_cast<std::size_t>(spec.contrast.size()), "columns of own",
                   static_cast<std::size_t>(spec.own.cols()));
  if (!spec.shared.empty()) {
    check::same_size(job, "response", n, "rows of shared", spec.shared.size());
  }
  check::all_finite(job, "response", spec.response);
  check::all_finite(job, "own", std::span(spec.own.data(), static_cast<std::size_t>(spec.own.size())));
  for (std::size_t i = 0; i < n; ++i) {
    if (spec.group[i] < 0 || spec.block[i] < 0) {
      check::fail(job, "a label", spec.group[i] < 0 ? spec.group[i] : spec.block[i], "at least 0");
    }
  }
  const auto entries = [&](const std::vector<SharedEntry>& row) {
    for (const SharedEntry& entry : row) {
      if (entry.column < 0 || entry.column >= spec.shared_columns) {
        check::fail(job, "a shared column", entry.column, "from 0 to shared_columns - 1");
      }
      check::finite(job, "a shared value", entry.value);
    }
  };
  for (const auto& row : spec.shared) {
    entries(row);
  }
  for (const auto& row : spec.directions) {
    entries(row);
  }
  for (const SharedKnowledge& known : spec.knowledge) {
    entries(known.row);
    check::finite(job, "knowledge.value", known.value);
    check::positive(job, "knowledge.sd", known.sd);
  }
  check::open_unit(job, "level", options.level);
}

// The best lambda for a residual variance that scales the knowledge: where the criterion was least before, or over the
// whole range; then golden sections, the last digits by Newton steps on differences.
double best_lambda(const GroupSystem& all, double scale, double degrees, std::optional<double> before) {
  const auto criterion = [&](double lambda) {
    const auto v = all.at(lambda, scale, false);
    return v.fine && v.rss > 0.0 ? v.log_det + degrees * std::log(v.rss) : std::numeric_limits<double>::infinity();
  };
  double lo = 0.0;
  double hi = 0.0;
  if (before) {
    lo = std::log(*before) - 0.5;
    hi = lo + 1.0;
  } else {
    constexpr double lowest = -11.0;  // of log lambda
    constexpr double step = 1.5;
    constexpr int points = 15;
    double best_value = criterion(0.0);
    int at = -1;
    for (int i = 0; i < points; ++i) {
      const double value = criterion(std::exp(lowest + step * i));
      if (value < best_value - 1e-10) {
        best_value = value;
        at = i;
      }
    }
    if (at < 0) {
      return 0.0;
    }
    lo = lowest + step * (at - 1);
    hi = lo + 2.0 * step;
  }
  const double golden = 0.5 * (std::sqrt(5.0) - 1.0);
  double x1 = hi - golden * (hi - lo);
  double x2 = lo + golden * (hi - lo);
  double f1 = criterion(std::exp(x1));
  double f2 = criterion(std::exp(x2));
  while (hi - lo > 0.03) {
    if (f1 < f2) {
      hi = x2;
      x2 = x1;
      f2 = f1;
      x1 = hi - golden * (hi - lo);
      f1 = criterion(std::exp(x1));
    } else {
      lo = x1;
      x1 = x2;
      f1 = f2;
      x2 = lo + golden * (hi - lo);
      f2 = criterion(std::exp(x2));
    }
  }
  double t = 0.5 * (lo + hi);
  for (int i = 0; i < 3; ++i) {
    constexpr double h = 2e-3;
    const double below = criterion(std::exp(t - h));
    const double above = criterion(std::exp(t + h));
    const double curvature = above - 2.0 * criterion(std::exp(t)) + below;
    const double step = curvature > 0.0 ? std::clamp(-0.5 * h * (above - below) / curvature, -0.05, 0.05) : 0.0;
    t += step;
    if (std::fabs(step) < 1e-5) {
      break;
    }
  }
  return std::exp(t);
}

}  // namespace

GroupContrastFit fit_group_contrasts(const GroupContrastSpec& spec, const GroupContrastOptions& options) {
  check_spec(spec, options);
  GroupContrastFit fit;
  if (spec.response.empty()) {
    fit.status = FitStatus::too_few_data;
    fit.message = "no observations";
    return fit;
  }
  const GroupSystem all(spec);
  fit.within_df = all.within();
  fit.between_df = all.between();
  fit.confounded = all.confounded();
  const double degrees = all.degrees();
  fit.residual_given = degrees < 0.5;
  if (fit.residual_given && !options.residual_sd) {
    fit.status = FitStatus::too_few_data;
    fit.message = "as many coefficients as observations: no scatter is left to divide";
    return fit;
  }
  fit.residual_df = fit.residual_given ? std::numeric_limits<double>::infinity() : degrees;
  const double floor = options.least_residual_sd * options.least_residual_sd;
  const bool estimated = !options.block_sd && !fit.residual_given && fit.within_df > 0 && fit.between_df > 0;

  // The knowledge is in the response's unit, so the residual variance takes part in its weight: repeat until it stands.
  double variance = fit.residual_given ? *options.residual_sd * *options.residual_sd : 1.0;
  double lambda = 0.0;
  const auto residual = [&](double at_lambda) {
    return std::max(floor, all.at(at_lambda, variance, false).rss / degrees);
  };
  if (!fit.residual_given) {
    if (all.has_knowledge()) {
      double mean = 0.0;
      for (const double y : spec.response) {
        mean += y / static_cast<double>(spec.response.size());
      }
      variance = std::max(floor, 1e-4 * mean * mean);
    }
    for (int pass = 0; pass < (all.has_knowledge() ? 8 : 1); ++pass) {
      const double before = variance;
      if (options.block_sd) {
        for (int i = 0; i < 30; ++i) {
          const double was = lambda;
          const double now = residual(lambda);
          lambda = now > 0.0 ? *options.block_sd * *options.block_sd / now : 0.0;
          if (std::fabs(lambda - was) < 1e-10 * (1.0 + lambda)) {
            break;
          }
        }
      } else if (estimated && residual(0.0) > floor) {
        lambda = best_lambda(all, variance, degrees, lambda > 0.0 ? std::optional(lambda) : std::nullopt);
      }
      variance = residual(lambda);
      if (std::fabs(variance - before) < 1e-5 * variance) {
        break;
      }
    }
  } else if (options.block_sd && variance > 0.0) {
    lambda = *options.block_sd * *options.block_sd / variance;
  }
  if (!(variance > 0.0)) {
    fit.status = FitStatus::failed;
    fit.message = "the coefficients fit every observation exactly: no scatter is left to divide";
    return fit;
  }
  fit.residual_sd = std::sqrt(variance);
  fit.block_sd = std::sqrt(lambda * variance);
  const auto here = all.at(lambda, variance, true);
  if (!here.fine) {
    fit.status = FitStatus::failed;
    fit.message = "the normal equations could not be solved";
    return fit;
  }
  fit.status = estimated && lambda == 0.0 ? FitStatus::at_boundary : FitStatus::converged;
  fit.message = fit.status == FitStatus::at_boundary ? "at the boundary: no variance between blocks" : "";

  // Satterthwaite's df: Var(c) = sigma^2 f(lambda), covariance of (sigma^2, lambda) from the curvature of
  // log_det(lambda) + df log sigma^2 + rss(lambda) / sigma^2.
  const auto estimates = all.contrasts(lambda, here);
  std::vector<double> by_variance(estimates.size());
  std::vector<double> by_lambda(estimates.size(), 0.0);
  Eigen::Matrix2d covariance = Eigen::Matrix2d::Zero();
  covariance(0, 0) = 2.0 * variance * variance / degrees;
  for (std::size_t i = 0; i < estimates.size(); ++i) {
    by_variance[i] = estimates[i].variance;
  }
  if (lambda > 0.0) {
    constexpr double h = 4e-3;  // of log lambda
    std::array<GroupSystem::Values, 5> v;
    std::array<std::vector<GroupSystem::Contrast>, 5> c;
    for (std::size_t i = 0; i < 5; ++i) {
      const double there = lambda * std::exp(h * (static_cast<double>(i) - 2.0));
      v.at(i) = all.at(there, variance, true);
      c.at(i) = all.contrasts(there, v.at(i));
    }
    const auto first = [&](const auto& value) {
      return (value(0) - 8.0 * value(1) + 8.0 * value(3) - value(4)) / (12.0 * h);
    };
    const auto second = [&](const auto& value) {
      return (-value(0) + 16.0 * value(1) - 30.0 * value(2) + 16.0 * value(3) - value(4)) / (12.0 * h * h);
    };
    for (std::size_t i = 0; i < estimates.size(); ++i) {
      by_lambda[i] = variance * first([&](std::size_t k) { return c.at(k)[i].variance; });
    }
    if (options.block_sd) {
      // lambda = block variance / sigma^2: by_variance along that curve, d log lambda / d sigma^2 = -1 / sigma^2.
      for (std::size_t i = 0; i < estimates.size(); ++i) {
        by_variance[i] -= by_lambda[i] / variance;
        by_lambda[i] = 0.0;
      }
    } else {
      Eigen::Matrix2d curvature;
      curvature(0, 0) = degrees / (variance * variance);
      curvature(0, 1) = curvature(1, 0) = -first([&](std::size_t k) { return v.at(k).rss; }) / (variance * variance);
      curvature(1, 1) = second([&](std::size_t k) { return v.at(k).log_det + v.at(k).rss / variance; });
      if (curvature.determinant() > 0.0 && curvature(1, 1) > 0.0) {
        covariance = 2.0 * curvature.inverse();
      }
    }
  }
  const auto made = [&](std::size_t i) -> std::optional<TEstimate> {
    if (!estimates[i].exists) {
      return std::nullopt;
    }
    const double var = variance * estimates[i].variance;
    double df = std::numeric_limits<double>::infinity();
    if (!fit.residual_given) {
      const Eigen::Vector2d gradient(by_variance[i], by_lambda[i]);
      const double of_variance = gradient.dot(covariance * gradient);
      df = of_variance > 0.0 ? 2.0 * var * var / of_variance : df;
    }
    return t_estimate(estimates[i].estimate, std::sqrt(var), df, options.level);
  };
  for (std::size_t i = 0; i + 1 < estimates.size(); ++i) {
    fit.contrasts.push_back(made(i));
  }
  fit.mean = made(estimates.size() - 1);
  const auto scaled = [&](std::optional<SharedEstimate> e) {
    if (e) {
      e->se = std::sqrt(std::max(0.0, e->se) * variance);
    }
    return e;
  };
  for (int j = 0; j < spec.shared_columns; ++j) {
    fit.shared.push_back(scaled(all.direction({{j, 1.0}}, here)));
  }
  for (const auto& row : spec.directions) {
    fit.directions.push_back(scaled(all.direction(row, here)));
    fit.direction_known_sd.push_back(all.known_sd(row));
  }
  return fit;
}

}  // namespace bagsplit::stats
