#include "bagsplit/stats/distributions.hpp"

#include <boost/math/distributions/chi_squared.hpp>
#include <boost/math/distributions/fisher_f.hpp>
#include <boost/math/distributions/non_central_t.hpp>
#include <boost/math/distributions/students_t.hpp>
#include <boost/math/special_functions/erf.hpp>
#include <boost/math/special_functions/owens_t.hpp>
#include <cmath>

#include "bagsplit/stats/detail/check.hpp"
#include "bagsplit/stats/detail/elementary.hpp"

namespace bagsplit::stats {

namespace {

namespace bm = boost::math;
using Policy =
    bm::policies::policy<bm::policies::overflow_error<bm::policies::ignore_error>, bm::policies::promote_double<false>>;

constexpr double sqrt_half = 0.70710678118654752440;
void check_df(const char* who, double df) {
  if (!(df > 0.0)) {
    check::fail(who, "df", df, "above 0");
  }
}

void check_number(const char* who, const char* what, double x) {
  if (std::isnan(x)) {
    check::fail(who, what, x, "a number");
  }
}

}  // namespace

double normal_cdf(double z) {
  return 0.5 * std::erfc(-z * sqrt_half);
}

double normal_log_cdf(double z) {
  if (z > -10.0) {
    return std::log(normal_cdf(z));
  }
  // Asymptotic expansion of Mills' ratio; at z = -10 its seventh term is below 1e-10 of the sum, so iterate while the
  // terms fall (Abramowitz & Stegun 26.2.12).
  const double r = 1.0 / (z * z);
  double term = 1.0;
  double sum = 1.0;
  for (int k = 1; k < 60; ++k) {
    const double next = -term * (2 * k - 1) * r;
    if (std::fabs(next) >= std::fabs(term) || std::fabs(next) < 1e-17) {
      break;
    }
    term = next;
    sum += term;
  }
  return -0.5 * z * z - log_sqrt_two_pi - std::log(-z) + std::log(sum);
}

double normal_quantile(double p) {
  check::open_unit("normal_quantile", "p", p);
  return -bm::erfc_inv(2.0 * p, Policy()) / sqrt_half;
}

double owens_t(double h, double a) {
  check_number("owens_t", "h", h);
  check_number("owens_t", "a", a);
  return bm::owens_t(h, a, Policy());
}

double student_t_cdf(double t, double df) {
  check_df("student_t_cdf", df);
  check_number("student_t_cdf", "t", t);
  if (std::isinf(t)) {
    return t > 0 ? 1.0 : 0.0;
  }
  return bm::cdf(bm::students_t_distribution<double, Policy>(df), t);
}

double student_t_two_sided_p(double t, double df) {
  return std::fmin(1.0, 2.0 * student_t_cdf(-std::fabs(t), df));
}

double student_t_quantile(double p, double df) {
  check_df("student_t_quantile", df);
  check::open_unit("student_t_quantile", "p", p);
  return bm::quantile(bm::students_t_distribution<double, Policy>(df), p);
}

double chi_square_cdf(double x, double df) {
  check_df("chi_square_cdf", df);
  check::not_negative("chi_square_cdf", "x", x);
  return bm::cdf(bm::chi_squared_distribution<double, Policy>(df), x);
}

double chi_square_quantile(double p, double df) {
  check_df("chi_square_quantile", df);
  check::open_unit("chi_square_quantile", "p", p);
  return bm::quantile(bm::chi_squared_distribution<double, Policy>(df), p);
}

double f_upper_tail(double f, double df1, double df2) {
  check_df("f_upper_tail", df1);
  check_df("f_upper_tail", df2);
  check_number("f_upper_tail", "f", f);
  if (std::isinf(f)) {
    return f > 0 ? 0.0 : 1.0;
  }
  return f <= 0.0 ? 1.0 : bm::cdf(bm::complement(bm::fisher_f_distribution<double, Policy>(df1, df2), f));
}

double f_quantile(double p, double df1, double df2) {
  check_df("f_quantile", df1);
  check_df("f_quantile", df2);
  check::open_unit("f_quantile", "p", p);
  return bm::quantile(bm::fisher_f_distribution<double, Policy>(df1, df2), p);
}

double noncentral_t_quantile(double p, double df, double ncp) {
  check_df("noncentral_t_quantile", df);
  check::finite("noncentral_t_quantile", "ncp", ncp);
  check::open_unit("noncentral_t_quantile", "p", p);
  return bm::quantile(bm::non_central_t_distribution<double, Policy>(df, ncp), p);
}

}  // namespace bagsplit::stats
