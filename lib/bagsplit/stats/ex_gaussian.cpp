#include "bagsplit/stats/ex_gaussian.hpp"

#include <Eigen/Cholesky>
#include <Eigen/Core>
#include <algorithm>
#include <cmath>
#include <limits>
#include <vector>

#include "bagsplit/stats/check.hpp"
#include "bagsplit/stats/distributions.hpp"
#include "bagsplit/stats/elementary.hpp"
#include "bagsplit/stats/minimise.hpp"
#include "bagsplit/stats/univariate.hpp"

namespace bagsplit::stats {

namespace {

using Eigen::MatrixXd;
using Eigen::VectorXd;

/// In units of the SD of the data: a part this small is taken for absent.
constexpr double negligible = 1e-3;

void check_parameters(const char* who, const ExGaussian& p) {
  check::finite(who, "mu", p.mu);
  check::positive(who, "sigma", p.sigma);
  check::positive(who, "tau", p.tau);
}

/// With z = (x - mu)/sigma and r = sigma/tau: log f = -log tau + r^2/2 - r z + log Phi(z - r). For z - r far below 0
/// the two large parts cancel against the tail of Phi: log f = log phi(z) - log tau + log(Mills ratio at r - z).
double log_density(double z, double r, double log_tau) {
  const double u = z - r;
  if (u > -5.0) {
    return -log_tau + 0.5 * r * r - r * z + normal_log_cdf(u);
  }
  // log Phi(u) + u^2/2 + log sqrt(2 pi) is the log of Mills' ratio, of moderate size.
  const double log_mills = normal_log_cdf(u) + 0.5 * u * u + log_sqrt_two_pi;
  return -log_tau - 0.5 * z * z - log_sqrt_two_pi + (u > -1e4 ? log_mills : -std::log(-u));
}

/// phi(u)/Phi(u), finite for any u.
double hazard(double u) {
  return u > -1e4 ? std::exp(-0.5 * u * u - log_sqrt_two_pi - normal_log_cdf(u)) : -u;
}

/// Minus the log likelihood and its gradient in (mu, log sigma, log tau).
double minus_log_likelihood(std::span<const double> x, const VectorXd& p, VectorXd& gradient) {
  const double sigma = std::exp(p[1]);
  const double tau = std::exp(p[2]);
  const double r = sigma / tau;
  gradient = VectorXd::Zero(3);
  if (!std::isfinite(sigma) || !(sigma > 0.0) || !(tau > 0.0) || !std::isfinite(r) || r > 1e6) {
    return std::numeric_limits<double>::infinity();
  }
  double total = 0.0;
  for (const double v : x) {
    const double z = (v - p[0]) / sigma;
    total += log_density(z, r, p[2]);
    const double h = hazard(z - r);
    gradient[0] += (r - h) / sigma;
    gradient[1] += r * r - h * (z + r);
    gradient[2] += -1.0 - r * r + r * z + h * r;
  }
  gradient = -gradient;
  return -total;
}

struct Run {
  VectorXd point;
  double value = std::numeric_limits<double>::infinity();
  int iterations = 0;
  bool converged = false;
};

/// Best of a few starts: the moments, a faint tail and a strong one.
Run best_of_starts(std::span<const double> x, const ExGaussian& start, int max_iterations) {
  MinimiseOptions options;
  options.max_iterations = max_iterations;
  options.gradient_tolerance = 1e-7 * static_cast<double>(x.size());
  Run best;
  int iterations = 0;
  for (const double tau : {start.tau, 0.3, 0.85}) {
    VectorXd p(3);
    p << -tau, 0.5 * std::log1p(-tau * tau), std::log(tau);  // in units of the SD, about the mean
    const auto found =
        minimise([&](const VectorXd& q, VectorXd& g) { return minus_log_likelihood(x, q, g); }, p, options);
    iterations += found.iterations;
    if (found.value < best.value - 1e-9) {
      best = {found.point, found.value, 0, found.converged || found.stalled};
    }
  }
  best.iterations = iterations;
  return best;
}

std::optional<ExGaussian> standard_errors(std::span<const double> x, const VectorXd& p) {
  MatrixXd h(3, 3);
  VectorXd up, down;
  for (Eigen::Index k = 0; k < 3; ++k) {
    VectorXd q = p;
    q[k] = p[k] + 1e-4;
    minus_log_likelihood(x, q, up);
    q[k] = p[k] - 1e-4;
    minus_log_likelihood(x, q, down);
    h.col(k) = (up - down) / 2e-4;
  }
  h = (0.5 * (h + h.transpose())).eval();
  const Eigen::LLT<MatrixXd> llt(h);
  if (llt.info() != Eigen::Success) {
    return std::nullopt;
  }
  const VectorXd v = llt.solve(MatrixXd::Identity(3, 3)).diagonal();
  if (!(v.minCoeff() > 0.0)) {
    return std::nullopt;
  }
  return ExGaussian{std::sqrt(v[0]), std::exp(p[1]) * std::sqrt(v[1]), std::exp(p[2]) * std::sqrt(v[2])};
}

}  // namespace

double ex_gaussian_log_density(double x, const ExGaussian& p) {
  check_parameters("ex_gaussian_log_density", p);
  check::finite("ex_gaussian_log_density", "x", x);
  return log_density((x - p.mu) / p.sigma, p.sigma / p.tau, std::log(p.tau));
}

double ex_gaussian_cdf(double x, const ExGaussian& p) {
  check_parameters("ex_gaussian_cdf", p);
  check::finite("ex_gaussian_cdf", "x", x);
  // Phi(z) - tau f(x).
  const double z = (x - p.mu) / p.sigma;
  return std::clamp(normal_cdf(z) - std::exp(log_density(z, p.sigma / p.tau, 0.0)), 0.0, 1.0);
}

ExGaussianFit fit_ex_gaussian(std::span<const double> values, const ExGaussianOptions& options) {
  check::all_finite("fit_ex_gaussian", "values", values);
  ExGaussianFit fit;
  const double n = static_cast<double>(values.size());
  if (values.size() < std::max<std::size_t>(options.fewest, 4)) {
    fit.status = FitStatus::too_few_data;
    fit.message = std::to_string(values.size()) + " values; at least " +
                  std::to_string(std::max<std::size_t>(options.fewest, 4)) + " are needed";
    return fit;
  }
  const double m = *mean(values);
  const double s = std::sqrt(*variance(values) * (n - 1.0) / n);
  if (!(s > 0.0)) {
    fit.message = "all values are equal";
    return fit;
  }
  std::vector<double> x(values.begin(), values.end());
  for (double& v : x) {
    v = (v - m) / s;
  }
  // Moments: skewness 2 tau^3; kept to where both parts exist.
  const double tau = std::cbrt(0.5 * std::clamp(*skewness(values), 0.02, 1.8));
  fit.start = ExGaussian{m - s * tau, s * std::sqrt(1.0 - tau * tau), s * tau};
  const Run run = best_of_starts(x, {-tau, 0.0, tau}, options.max_iterations);
  fit.iterations = run.iterations;
  const double shift = -n * std::log(s);  // of the log likelihood, by the change of units

  // The two edges in closed form.
  const double normal = -n * (log_sqrt_two_pi + 0.5);
  const double least = *std::min_element(x.begin(), x.end());
  const double exponential = -n * (std::log(-least) + 1.0);
  const double inside = -run.value;
  const double tolerance = 1e-6 * std::fmax(1.0, n / 100.0);
  if (!std::isfinite(inside)) {
    fit.message = "the likelihood cannot be evaluated";
    return fit;
  }
  if (normal >= inside - tolerance && normal >= exponential) {
    fit.status = FitStatus::at_boundary;
    fit.message = "no slow tail: a normal distribution fits as well (tau = 0)";
    fit.parameters = {m, s, 0.0};
    fit.log_likelihood = normal + shift;
    return fit;
  }
  if (exponential >= inside - tolerance) {
    fit.status = FitStatus::at_boundary;
    fit.message = "no normal part: a bare exponential fits as well (sigma = 0)";
    fit.parameters = {m + s * least, 0.0, -s * least};
    fit.log_likelihood = exponential + shift;
    return fit;
  }
  const double sigma_hat = std::exp(run.point[1]);
  const double tau_hat = std::exp(run.point[2]);
  fit.parameters = {m + s * run.point[0], s * sigma_hat, s * tau_hat};
  fit.log_likelihood = inside + shift;
  const auto se = standard_errors(x, run.point);
  if (!run.converged) {
    fit.status = FitStatus::hit_iteration_limit;
    fit.message = "the iteration limit was reached";
  } else if (!se || sigma_hat < negligible || tau_hat < negligible) {
    fit.status = FitStatus::limited_by_rounding;
    fit.message = "next to a boundary: the standard errors cannot be had";
  } else {
    fit.status = FitStatus::converged;
    fit.message = "converged";
    fit.se = ExGaussian{s * se->mu, s * se->sigma, s * se->tau};
  }
  return fit;
}

}  // namespace bagsplit::stats
