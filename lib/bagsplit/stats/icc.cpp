#include "bagsplit/stats/icc.hpp"

#include <cmath>
#include <limits>
#include <vector>

#include "bagsplit/stats/detail/check.hpp"
#include "bagsplit/stats/distributions.hpp"
#include "bagsplit/stats/univariate.hpp"

namespace bagsplit::stats {

namespace {

/// The form for the mean of so many from that for one (Spearman-Brown).
double icc_of_mean(double icc_single, double k) {
  return k * icc_single / (1.0 + (k - 1.0) * icc_single);
}

std::optional<double> ratio(double top, double bottom) {
  return bottom > 0.0 ? std::optional(top / bottom) : std::nullopt;
}

/// Mean squares without cancellation: every sum of squares is formed from its own deviations.
void fill_mean_squares(Reliability& out, std::span<const double> scores) {
  const std::size_t n = out.targets;
  const std::size_t k = out.raters;
  const Wide grand = wide_mean(scores);
  std::vector<double> d(scores.size());
  for (std::size_t i = 0; i < d.size(); ++i) {
    d[i] = (scores[i] - grand.hi) - grand.lo;
  }
  std::vector<double> row(n);
  std::vector<double> column(k);
  for (std::size_t i = 0; i < n; ++i) {
    row[i] = sum(std::span(d).subspan(i * k, k)) / static_cast<double>(k);
  }
  std::vector<double> one(n);
  for (std::size_t j = 0; j < k; ++j) {
    for (std::size_t i = 0; i < n; ++i) {
      one[i] = d[i * k + j];
    }
    column[j] = sum(one) / static_cast<double>(n);
  }
  double within = 0.0;
  double residual = 0.0;
  for (std::size_t i = 0; i < n; ++i) {
    for (std::size_t j = 0; j < k; ++j) {
      const double w = d[i * k + j] - row[i];
      within += w * w;
      residual += (w - column[j]) * (w - column[j]);
    }
  }
  const double nd = static_cast<double>(n);
  const double kd = static_cast<double>(k);
  out.bms = kd * sum_of_squares_about(row, {}) / (nd - 1.0);
  out.jms = nd * sum_of_squares_about(column, {}) / (kd - 1.0);
  out.wms = within / (nd * (kd - 1.0));
  out.ems = residual / ((nd - 1.0) * (kd - 1.0));
  out.sd_total = *standard_deviation(scores);
  // Scatter that the rounding of the scores accounts for is none: {3.1, 3.2; 4.1, 4.2} is perfectly consistent.
  double largest = 0.0;
  for (const double x : scores) {
    largest = std::fmax(largest, std::fabs(x));
  }
  const double rounding = 4.0 * std::numeric_limits<double>::epsilon() * largest;
  for (double* square : {&out.bms, &out.jms, &out.wms, &out.ems}) {
    if (*square <= rounding * rounding) {
      *square = 0.0;
    }
  }
}

/// Interval of (b - e) / (b + (k - 1) e) from F = b/e, and of its mean form 1 - e/b.
void fill_from_f(IccForm& single, IccForm& mean, double b, double e, double df1, double df2, double k, double tail) {
  single.icc = ratio(b - e, b + (k - 1.0) * e);
  mean.icc = ratio(b - e, b);
  if (!single.icc) {
    return;
  }
  if (!(b > 0.0 && e > 0.0)) {  // F is 0 or infinite: its interval would be one point, which few targets never tell
    return;
  }
  const double f = b / e;
  const double lo = f / f_quantile(1.0 - tail, df1, df2);
  const double hi = f * f_quantile(1.0 - tail, df2, df1);
  single.interval = Interval{(lo - 1.0) / (lo + k - 1.0), (hi - 1.0) / (hi + k - 1.0)};
  if (lo > 0.0) {
    mean.interval = Interval{1.0 - 1.0 / lo, 1.0 - 1.0 / hi};
  }
}

/// Forms (2,1) and (2,k): Satterthwaite's df for the denominator (Shrout & Fleiss 1979, p. 424; McGraw & Wong 1996).
void fill_agreement(Reliability& out, double n, double k, double tail) {
  const double b = out.bms;
  const double j = out.jms;
  const double e = out.ems;
  out.icc_2_1.icc = ratio(b - e, b + (k - 1.0) * e + k * (j - e) / n);
  out.icc_2_k.icc = ratio(b - e, b + (j - e) / n);
  if (!out.icc_2_1.icc) {
    return;
  }
  const double r = *out.icc_2_1.icc;
  const double a = k * r * j;
  const double c = e * (n * (1.0 + (k - 1.0) * r) - k * r);
  const double bottom = (n - 1.0) * a * a + c * c;
  if (!(b > 0.0 && bottom > 0.0)) {  // no scatter of the targets, or neither of the raters nor a residual one
    return;
  }
  const double df = (n - 1.0) * (k - 1.0) * (a + c) * (a + c) / bottom;
  out.icc_2_df = df;
  if (!(df > 1e-6)) {  // a + c = 0: the F quantiles leave the range of doubles
    return;
  }
  const double f_lo = f_quantile(1.0 - tail, n - 1.0, df);
  const double f_hi = f_quantile(1.0 - tail, df, n - 1.0);
  const double other = k * j + (k * n - k - n) * e;
  // Divided through by the quantiles: with a df near 0 they are infinite.
  const double lo = n * (b / f_lo - e) / (other + n * b / f_lo);
  const double hi = n * (b - e / f_hi) / (other / f_hi + n * b);
  if (!std::isfinite(lo) || !std::isfinite(hi)) {
    return;
  }
  out.icc_2_1.interval = Interval{lo, hi};
  if (1.0 + (k - 1.0) * lo > 0.0) {
    out.icc_2_k.interval = Interval{icc_of_mean(lo, k), icc_of_mean(hi, k)};
  }
}

}  // namespace

std::optional<Reliability> reliability(std::span<const double> scores, std::size_t raters, double level) {
  check::open_unit("reliability", "level", level);
  if (raters == 0 || scores.size() % raters != 0) {
    check::fail_call("reliability", "the number of scores is not a multiple of the number of raters");
  }
  check::all_finite("reliability", "scores", scores);
  Reliability out{};
  out.targets = scores.size() / raters;
  out.raters = raters;
  if (out.targets < 2 || raters < 2) {
    return std::nullopt;
  }
  fill_mean_squares(out, scores);
  const double n = static_cast<double>(out.targets);
  const double k = static_cast<double>(raters);
  const double tail = 0.5 - 0.5 * level;
  const double df_residual = (n - 1.0) * (k - 1.0);
  fill_from_f(out.icc_1_1, out.icc_1_k, out.bms, out.wms, n - 1.0, n * (k - 1.0), k, tail);
  fill_from_f(out.icc_3_1, out.icc_3_k, out.bms, out.ems, n - 1.0, df_residual, k, tail);
  fill_agreement(out, n, k, tail);
  out.f_one_way = ratio(out.bms, out.wms);
  out.f_two_way = ratio(out.bms, out.ems);
  if (out.f_one_way) {
    out.p_one_way = f_upper_tail(*out.f_one_way, n - 1.0, n * (k - 1.0));
  }
  if (out.f_two_way) {
    out.p_two_way = f_upper_tail(*out.f_two_way, n - 1.0, df_residual);
  }
  out.typical_error = sd_interval(std::sqrt(out.ems), df_residual, level);
  // EMS + (JMS - EMS)/n >= 0 for n >= 1.
  out.error_with_rater_bias = std::sqrt(out.ems + (out.jms - out.ems) / n);
  out.error_within = std::sqrt(out.wms);
  return out;
}

double minimal_detectable_change(double sem, double level) {
  check::not_negative("minimal_detectable_change", "sem", sem);
  check::open_unit("minimal_detectable_change", "level", level);
  return normal_quantile(0.5 + 0.5 * level) * std::sqrt(2.0) * sem;
}

}  // namespace bagsplit::stats
