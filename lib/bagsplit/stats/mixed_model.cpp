#include "bagsplit/stats/mixed_model.hpp"

#include <Eigen/Eigenvalues>
#include <algorithm>
#include <cmath>
#include <cstdint>
#include <limits>
#include <unordered_map>
#include <utility>

#include "bagsplit/stats/detail/check.hpp"
#include "bagsplit/stats/detail/mixed_system.hpp"
#include "bagsplit/stats/minimise.hpp"

namespace bagsplit::stats {

namespace detail {

/// What a fit keeps for later predictions.
class FittedSystem {
 public:
  MixedSystem system;
};

}  // namespace detail

namespace {

using detail::MixedSystem;
using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

constexpr double two_pi = 6.283185307179586476925286766559;
/// A Cholesky diagonal (in units of the residual SD, columns scaled to 1) below this counts as 0, as in lme4.
constexpr double singular_below = 1e-4;

void check_spec(const MixedModelSpec& spec) {
  constexpr const char* who = "fit_mixed_model";
  const Index n = spec.response.size();
  if (spec.fixed.rows() != n || spec.fixed.cols() < 1) {
    check::fail_call(who, "spec.fixed must have one row an observation and at least one column");
  }
  check::all_finite(who, "spec.response", {spec.response.data(), static_cast<std::size_t>(n)});
  check::all_finite(who, "spec.fixed", {spec.fixed.data(), static_cast<std::size_t>(spec.fixed.size())});
  for (const auto& term : spec.random) {
    check::same_size(who, "spec.response", static_cast<std::size_t>(n), "the groups of '" + term.name + "'",
                     term.group.size());
    if (term.columns.size() > 0 && term.columns.rows() != n) {
      check::fail_call(who, "the columns of '" + term.name + "' must have one row an observation");
    }
    check::all_finite(who, "the columns of '" + term.name + "'",
                      {term.columns.data(), static_cast<std::size_t>(term.columns.size())});
    for (const int label : term.group) {
      if (label < 0 || (term.levels > 0 && label >= term.levels)) {
        check::fail(who, "a label of '" + term.name + "'", label, "at least 0 and below the number of levels");
      }
    }
  }
}

/// Where each free parameter sits in the blocks: the lower triangle (correlated) or the diagonal.
struct Parameter {
  std::size_t term;
  int i, j;
  std::size_t slot;
};

class Fitter {
 public:
  Fitter(const MixedModelSpec& spec, const MixedModelOptions& options, MixedSystem& system)
      : spec_(spec), options_(options), system_(system) {
    for (std::size_t t = 0; t < system_.terms().size(); ++t) {
      const auto& term = system_.terms()[t];
      for (int j = 0; j < term.columns; ++j) {
        for (int i = j; i < term.columns; ++i) {
          if (i == j || term.correlated) {
            parameters_.push_back({t, i, j, static_cast<std::size_t>(term.first_block + i * term.columns + j)});
          }
        }
      }
    }
    blocks_.assign(static_cast<std::size_t>(system_.block_size()), 0.0);
    reml_ = options.criterion == Criterion::reml;
    effective_n_ = system_.observations() - (reml_ ? system_.fixed_columns() : 0);
  }

  void run(MixedModelFit& fit) {
    VectorXd theta(size());
    for (Index k = 0; k < size(); ++k) {
      theta[k] = parameter(k).i == parameter(k).j ? 1.0 : 0.0;
    }
    MinimiseOptions options;
    options.max_iterations = options_.max_iterations;
    options.gradient_tolerance = 1e-7 * std::fmax(100.0, effective_n_);
    options.curvature = expected_curvature();
    Minimum best = minimise([this](const VectorXd& x, VectorXd& g) { return deviance(x, g); }, theta, options);
    fit.iterations = best.iterations;
    // At most a few saddles are left along their direction of descent; then Newton's last step.
    bool positive = size() == 0;
    for (int round = 0; round < 4 && size() > 0 && std::isfinite(best.value); ++round) {
      hessian_ = curvature(best.point);
      hessian_point_ = best.point;
      const Eigen::SelfAdjointEigenSolver<MatrixXd> eigen(hessian_);
      positive = eigen.eigenvalues()[0] > -1e-6 * std::fmax(1.0, eigen.eigenvalues().cwiseAbs().maxCoeff());
      if (positive) {
        break;
      }
      Minimum other = minimise([this](const VectorXd& x, VectorXd& g) { return deviance(x, g); },
                               best.point + 0.1 * eigen.eigenvectors().col(0), options);
      fit.iterations += other.iterations;
      if (!(other.value < best.value)) {
        break;
      }
      best = std::move(other);
    }
    fit.evaluations = evaluations_;
    if (!std::isfinite(best.value) || (size() > 0 && best.point.cwiseAbs().maxCoeff() > 1e5)) {
      fit.status = FitStatus::failed;
      fit.message = "the likelihood has no maximum: the random effects fit every observation";
      return;
    }
    newton_step(best);
    const bool singular = snap_to_boundary(best);
    finish(fit, best, singular, positive);
  }

 private:
  Index size() const { return static_cast<Index>(parameters_.size()); }
  const Parameter& parameter(Index k) const { return parameters_[static_cast<std::size_t>(k)]; }

  /// Roughly, for the search to start with: a variance between many levels bends the deviance more than one of few.
  VectorXd expected_curvature() const {
    VectorXd out(size());
    for (Index k = 0; k < size(); ++k) {
      out[k] = 2.0 * system_.terms()[parameter(k).term].levels;
    }
    return out;
  }

  bool set(const VectorXd& theta) {
    ++evaluations_;
    for (Index k = 0; k < size(); ++k) {
      blocks_[parameter(k).slot] = theta[k];
    }
    return system_.evaluate(blocks_);
  }

  double criterion_at_present() const {
    const double n = effective_n_;
    return system_.log_det_w() + (reml_ ? system_.log_det_h() + system_.log_det_x() : 0.0) +
           n * (1.0 + std::log(two_pi * system_.rss() / n));
  }

  /// Profiled criterion and its gradient.
  double deviance(const VectorXd& theta, VectorXd& gradient) {
    gradient.resize(size());
    if (!set(theta)) {
      gradient.setZero();
      return std::numeric_limits<double>::infinity();
    }
    system_.differentiate();
    gather_gradient(gradient);
    return criterion_at_present();
  }

  void gather_gradient(VectorXd& gradient) const {
    const double per_rss = effective_n_ / system_.rss();
    for (Index k = 0; k < size(); ++k) {
      const std::size_t s = parameter(k).slot;
      gradient[k] = system_.d_log_det_w()[s] + (reml_ ? system_.d_log_det_h()[s] : 0.0) + per_rss * system_.d_rss()[s];
    }
  }

  /// That of the end of the search where it was so near that nothing has changed; else taken anew.
  MatrixXd curvature_near(const VectorXd& theta) {
    const bool near = (theta - hessian_point_).norm() <= 1e-6 * std::fmax(1.0, theta.norm());
    return near ? hessian_ : curvature(theta);
  }

  /// Second derivatives of the profiled criterion by central differences of the exact gradient.
  MatrixXd curvature(const VectorXd& theta) {
    MatrixXd h(size(), size());
    VectorXd point = theta;
    VectorXd up(size()), down(size());
    for (Index k = 0; k < size(); ++k) {
      const double step = 1e-4 * std::fmax(1.0, std::fabs(theta[k]));
      for (const bool above : {true, false}) {
        point[k] = theta[k] + (above ? step : -step);
        VectorXd& g = above ? up : down;
        if (set(point)) {
          system_.differentiate();
          gather_gradient(g);
        } else {
          g.setConstant(std::numeric_limits<double>::quiet_NaN());
        }
      }
      point[k] = theta[k];
      h.col(k) = (up - down) / (2.0 * step);
    }
    if (!h.allFinite()) {
      return MatrixXd::Zero(size(), size());
    }
    return 0.5 * (h + h.transpose());
  }

  void newton_step(Minimum& best) {
    if (size() == 0 || !(hessian_.norm() > 0.0)) {
      return;
    }
    const Eigen::SelfAdjointEigenSolver<MatrixXd> eigen(hessian_);
    const double largest = eigen.eigenvalues().cwiseAbs().maxCoeff();
    VectorXd coefficients = eigen.eigenvectors().transpose() * best.gradient;
    for (Index k = 0; k < size(); ++k) {  // flat directions stay where they are
      coefficients[k] = eigen.eigenvalues()[k] > 1e-7 * largest ? coefficients[k] / eigen.eigenvalues()[k] : 0.0;
    }
    VectorXd step = eigen.eigenvectors() * coefficients;
    if (step.norm() > 0.1) {
      return;
    }
    VectorXd gradient;
    const VectorXd point = best.point - step;
    const double value = deviance(point, gradient);
    if (value <= best.value + 1e-10 * (1.0 + std::fabs(best.value)) &&
        gradient.cwiseAbs().maxCoeff() <= best.gradient.cwiseAbs().maxCoeff()) {
      best.point = point;
      best.value = value;
      best.gradient = gradient;
    }
  }

  /// A factor's diagonal next to 0 is put to 0 if that costs nothing. True if any is.
  bool snap_to_boundary(Minimum& best) {
    bool singular = false;
    for (Index k = 0; k < size(); ++k) {
      if (parameter(k).i != parameter(k).j || std::fabs(best.point[k]) >= singular_below) {
        continue;
      }
      singular = true;
      VectorXd point = best.point;
      point[k] = 0.0;
      VectorXd gradient;
      const double value = deviance(point, gradient);
      if (value <= best.value + 1e-7) {
        best.point = point;
        best.value = value;
        best.gradient = gradient;
      }
    }
    return singular;
  }

  void finish(MixedModelFit& fit, const Minimum& best, bool singular, bool positive) {
    const double n = effective_n_;
    set(best.point);
    const double sigma2 = system_.rss() / n;
    if (options_.degrees_of_freedom) {
      fill_df_ingredients(fit, best.point, sigma2);
      set(best.point);
    }
    system_.differentiate();
    fit.evaluations = evaluations_;
    fit.largest_gradient = size() > 0 ? best.gradient.cwiseAbs().maxCoeff() : 0.0;
    fit.criterion = criterion_at_present();
    fit.log_likelihood = -0.5 * fit.criterion;
    fit.residual_sd = std::sqrt(sigma2);
    fit.fixed = system_.fixed_effects();
    fit.fixed_covariance = sigma2 * system_.unscaled_covariance();
    fit.fixed_se = fit.fixed_covariance.diagonal().cwiseSqrt();
    fit.fitted = spec_.fixed * fit.fixed;
    std::string at_zero;
    for (std::size_t t = 0; t < spec_.random.size(); ++t) {
      fill_term(fit, t, sigma2);
      const auto& term = system_.terms()[t];
      for (Index k = 0; k < size(); ++k) {
        if (parameter(k).term == t && parameter(k).i == parameter(k).j && std::fabs(best.point[k]) < singular_below) {
          at_zero += (at_zero.empty() ? "'" : ", '") + spec_.random[t].name + "'";
          at_zero +=
              term.columns > 1 && fit.random[t].sd.minCoeff() > 0.0 ? " (correlation at its limit)" : " (variance 0)";
          break;
        }
      }
    }
    fit.residuals = spec_.response - fit.fitted;
    const bool steep = fit.largest_gradient > 1e-5 * std::fmax(100.0, n);
    if (!best.converged && !best.stalled && steep) {
      fit.status = FitStatus::hit_iteration_limit;
      fit.message = "the iteration limit was reached";
    } else if (steep || !positive) {
      fit.status = FitStatus::limited_by_rounding;
      fit.message = "no further progress in double precision";
    } else if (singular) {
      fit.status = FitStatus::at_boundary;
      fit.message = "at the boundary: " + at_zero;
    } else {
      fit.status = FitStatus::converged;
      fit.message = "converged";
    }
    if (options_.degrees_of_freedom) {
      for (Index j = 0; j < fit.fixed.size(); ++j) {
        VectorXd weights = VectorXd::Zero(fit.fixed.size());
        weights[j] = 1.0;
        const auto estimate = contrast_df(fit, weights);
        fit.df.push_back(estimate);
      }
    } else {
      fit.df.assign(static_cast<std::size_t>(fit.fixed.size()), std::nullopt);
    }
  }

 public:
  /// Satterthwaite: 2 v^2 / (g'A g), v the variance of the contrast, g its gradient, A the variance of the parameters.
  static std::optional<double> contrast_df(const MixedModelFit& fit, const VectorXd& weights) {
    const double v = weights.dot(fit.fixed_covariance * weights);
    const Index k = fit.variance_parameter_covariance.rows();
    if (k == 0 || !(v > 0.0)) {
      return std::nullopt;
    }
    VectorXd g(k);
    for (Index i = 0; i < k; ++i) {
      g[i] = weights.dot(fit.fixed_covariance_slopes[static_cast<std::size_t>(i)] * weights);
    }
    const double spread = g.dot(fit.variance_parameter_covariance * g);
    return spread > 0.0 ? std::optional(2.0 * v * v / spread) : std::nullopt;
  }

 private:
  /// Covariance of (theta, sigma) from the curvature of the criterion with beta alone profiled out, as lmerTest has it:
  /// 2 H^-1 over the directions of positive curvature.
  void fill_df_ingredients(MixedModelFit& fit, const VectorXd& theta, double sigma2) {
    const double n = effective_n_;
    const double sigma = std::sqrt(sigma2);
    set(theta);
    system_.differentiate();
    const Index k = size();
    MatrixXd h(k + 1, k + 1);
    VectorXd rss_slope(k);
    fit.fixed_covariance_slopes.clear();
    for (Index i = 0; i < k; ++i) {
      const auto& p = parameter(i);
      fit.fixed_covariance_slopes.push_back(sigma2 * system_.covariance_slope(p.term, p.i, p.j));
      rss_slope[i] = system_.d_rss()[p.slot];
      h(i, k) = h(k, i) = -2.0 / (sigma * sigma2) * rss_slope[i];
    }
    fit.fixed_covariance_slopes.push_back(2.0 * sigma * system_.unscaled_covariance());
    h(k, k) = -2.0 * n / sigma2 + 6.0 * system_.rss() / (sigma2 * sigma2);
    // Profiling sigma out takes n/rss^2 times the square of the slope of rss from the curvature.
    h.topLeftCorner(k, k) = (n / (system_.rss() * system_.rss())) * rss_slope * rss_slope.transpose();
    h.topLeftCorner(k, k) += curvature_near(theta);
    // sigma in its own units: scaled, so that "positive" means the same for every parameter.
    h.row(k) *= sigma;
    h.col(k) *= sigma;
    const Eigen::SelfAdjointEigenSolver<MatrixXd> eigen(h);
    VectorXd inverse = VectorXd::Zero(k + 1);
    for (Index i = 0; i <= k; ++i) {
      if (eigen.eigenvalues()[i] > 1e-8) {
        inverse[i] = 2.0 / eigen.eigenvalues()[i];
      }
    }
    MatrixXd a = eigen.eigenvectors() * inverse.asDiagonal() * eigen.eigenvectors().transpose();
    a.row(k) *= sigma;
    a.col(k) *= sigma;
    fit.variance_parameter_covariance = a;
  }

  void fill_term(MixedModelFit& fit, std::size_t t, double sigma2) const {
    const auto& given = spec_.random[t];
    RandomTermFit out;
    out.name = given.name;
    const MatrixXd lambda = system_.relative_factor(t);
    out.covariance = sigma2 * (lambda * lambda.transpose());
    out.sd = out.covariance.diagonal().cwiseSqrt();
    if (out.sd.size() > 1 && out.sd.minCoeff() > 0.0) {
      out.correlation = out.sd.cwiseInverse().asDiagonal() * out.covariance * out.sd.cwiseInverse().asDiagonal();
    }
    out.effects = system_.effects_of(t);
    if (options_.predictions) {
      out.conditional_sd = (sigma2 * system_.conditional_variance(t)).cwiseMax(0.0).cwiseSqrt();
    }
    for (Index i = 0; i < fit.fitted.size(); ++i) {
      const int level = given.group[static_cast<std::size_t>(i)];
      if (given.columns.size() > 0) {
        fit.fitted[i] += given.columns.row(i).dot(out.effects.row(level));
      } else {
        fit.fitted[i] += out.effects(level, 0);
      }
    }
    fit.random.push_back(std::move(out));
  }

  const MixedModelSpec& spec_;
  const MixedModelOptions& options_;
  MixedSystem& system_;
  std::vector<Parameter> parameters_;
  std::vector<double> blocks_;
  MatrixXd hessian_;
  VectorXd hessian_point_;
  double effective_n_ = 0.0;
  bool reml_ = true;
  int evaluations_ = 0;
};

}  // namespace

MixedModelFit fit_mixed_model(const MixedModelSpec& spec, const MixedModelOptions& options) {
  check_spec(spec);
  MixedModelFit fit;
  fit.criterion_kind = options.criterion;
  fit.observations = static_cast<std::size_t>(spec.response.size());
  const auto fitted = std::make_shared<detail::FittedSystem>();
  fit.message = fitted->system.build(spec, fit.status, fit.aliased);
  if (!fit.message.empty()) {
    return fit;
  }
  Fitter(spec, options, fitted->system).run(fit);
  fit.system = fitted;
  return fit;
}

std::optional<TEstimate> contrast(const MixedModelFit& fit, const VectorXd& weights, double level) {
  check::open_unit("contrast", "level", level);
  if (!usable(fit.status)) {
    return std::nullopt;
  }
  check::same_size("contrast", "weights", static_cast<std::size_t>(weights.size()), "fit.fixed",
                   static_cast<std::size_t>(fit.fixed.size()));
  const double variance = weights.dot(fit.fixed_covariance * weights);
  const auto df = Fitter::contrast_df(fit, weights);
  return t_estimate(weights.dot(fit.fixed), std::sqrt(std::fmax(0.0, variance)),
                    df.value_or(std::numeric_limits<double>::infinity()), level);
}

std::optional<Prediction> prediction(const MixedModelFit& fit, const VectorXd& fixed_weights,
                                     std::span<const RandomWeight> random_weights) {
  if (!usable(fit.status)) {
    return std::nullopt;
  }
  check::same_size("prediction", "fixed_weights", static_cast<std::size_t>(fixed_weights.size()), "fit.fixed",
                   static_cast<std::size_t>(fit.fixed.size()));
  Prediction out{fixed_weights.dot(fit.fixed), 0.0};
  for (const auto& w : random_weights) {
    if (w.term >= fit.random.size() || w.level < 0 || w.level >= fit.random[w.term].effects.rows() || w.column < 0 ||
        w.column >= fit.random[w.term].effects.cols()) {
      check::fail_call("prediction", "a random weight names a term, level or column that the fit does not have");
    }
    out.estimate += w.weight * fit.random[w.term].effects(w.level, w.column);
  }
  const double variance = fit.system->system.prediction_variance(
      fixed_weights, std::vector<RandomWeight>(random_weights.begin(), random_weights.end()));
  out.se = fit.residual_sd * std::sqrt(std::fmax(0.0, variance));
  return out;
}

std::vector<int> interaction(std::span<const int> first, std::span<const int> second) {
  check::same_size("interaction", "first", first.size(), "second", second.size());
  std::unordered_map<std::uint64_t, int> seen;
  seen.reserve(first.size());
  std::vector<int> out(first.size());
  for (std::size_t i = 0; i < first.size(); ++i) {
    const auto key = (static_cast<std::uint64_t>(static_cast<std::uint32_t>(first[i])) << 32) |
                     static_cast<std::uint64_t>(static_cast<std::uint32_t>(second[i]));
    out[i] = seen.emplace(key, static_cast<int>(seen.size())).first->second;
  }
  return out;
}

}  // namespace bagsplit::stats
