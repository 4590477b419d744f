// The percentile of an uncertain time. Identity: closed forms where there are any, fine sums where not.
#include "bagsplit/norms/uncertain.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <stdexcept>
#include <vector>

#include "bagsplit/norms/catalogue.hpp"
#include "bagsplit/stats/distributions.hpp"

namespace {

using bagsplit::norms::Catalogue;
using bagsplit::norms::percentile_of;
using bagsplit::norms::Reference;
using bagsplit::norms::UncertainTime;
using bagsplit::runs::Sex;

class Uncertain : public ::testing::Test {
 protected:
  Reference reference(const char* id, double age_yr, Sex sex) { return *catalogue_.find(id)->at(age_yr, sex); }
  Catalogue catalogue_ = Catalogue::builtin();
};

// One part of a mixture of normals.
struct Component {
  double weight = 1.0;
  double mean_s = 0.0;
  double sd_s = 0.0;
};

double cdf_of(const std::vector<Component>& time, double t) {
  double sum = 0.0;
  double total = 0.0;
  for (const auto& c : time) {
    sum += c.weight * bagsplit::stats::normal_cdf((t - c.mean_s) / c.sd_s);
    total += c.weight;
  }
  return sum / total;
}

double quantile_of(const std::vector<Component>& time, double p) {
  double lo = 0.0;
  double hi = 20.0;
  for (int i = 0; i < 80; ++i) {
    const double middle = 0.5 * (lo + hi);
    (cdf_of(time, middle) < p ? lo : hi) = middle;
  }
  return lo;
}

// As the profile hands a time over: six SDs about the mean, and its own quantiles.
UncertainTime as_time(const std::vector<Component>& parts, double level) {
  double total = 0.0;
  double mean = 0.0;
  double square = 0.0;
  for (const auto& c : parts) {
    total += c.weight;
    mean += c.weight * c.mean_s;
    square += c.weight * (c.mean_s * c.mean_s + c.sd_s * c.sd_s);
  }
  mean /= total;
  const double sd = std::sqrt(square / total - mean * mean);
  const double tail = 0.5 * (1.0 - level);
  return {quantile_of(parts, tail), quantile_of(parts, 0.5), quantile_of(parts, 1.0 - tail),
          mean - 6.0 * sd,          mean + 6.0 * sd,         [parts](double t) { return cdf_of(parts, t); }};
}

// Mean and SD by a sum over 40,000 equal slices of the CDF: slow, plain, and no part of the library.
std::pair<double, double> by_sum(const Reference& reference, const std::vector<Component>& time, double lo, double hi) {
  const int n = 40000;
  double first = 0.0;
  double second = 0.0;
  double last = cdf_of(time, lo);
  for (int i = 1; i <= n; ++i) {
    const double t = lo + (hi - lo) * i / n;
    const double now = cdf_of(time, t);
    const double g = *reference.percentile_of_time(t - 0.5 * (hi - lo) / n);
    first += g * (now - last);
    second += g * g * (now - last);
    last = now;
  }
  return {first, std::sqrt(second - first * first)};
}

TEST_F(Uncertain, MeanOfANormalTimeInANormalCurveIsTheClosedForm) {
  const auto japan = reference("sprint-50m-japan-2017", 9.8, Sex::male);
  for (const double sd_s : {0.02, 0.1, 0.3}) {
    const auto got = percentile_of(japan, as_time({{1.0, 9.7, sd_s}}, 0.9));
    // Identity: E Phi((m - T)/s) = Phi((m - mu)/sqrt(s^2 + sd^2)) for T ~ N(mu, sd); the limits at 5 and 95 take off
    // less than 1e-3 here
    const double closed = 100.0 * bagsplit::stats::normal_cdf((9.55 - 9.7) / std::hypot(0.75, sd_s));
    EXPECT_NEAR(got.mean, closed, 1e-3);
    // Identity: the map is monotone, so quantiles go through it
    EXPECT_NEAR(got.median, *japan.percentile_of_time(9.7), 1e-6);
    EXPECT_NEAR(got.lo, *japan.percentile_of_time(9.7 + 1.6448536269514722 * sd_s), 1e-5);
    EXPECT_NEAR(got.hi, *japan.percentile_of_time(9.7 - 1.6448536269514722 * sd_s), 1e-5);
    EXPECT_LT(got.share_at_limit, 1e-3);
  }
}

TEST_F(Uncertain, AgreesWithAFineSumForEveryKindOfReference) {
  const std::vector<Component> two = {{0.3, 4.2, 0.05}, {0.7, 4.6, 0.25}};
  const std::vector<Component> fast = {{1.0, 3.7, 0.2}};
  const std::vector<Component> many = [] {
    std::vector<Component> parts;
    for (int i = 0; i < 40; ++i) {
      parts.push_back({std::exp(-0.5 * std::pow((i - 20) / 8.0, 2)), 4.0 + 0.03 * i, 0.03 + 0.001 * i});
    }
    return parts;
  }();
  for (const auto& ref :
       {reference("sprint-20m-emotikon", 8.6, Sex::male), reference("squad-30m-throwers", 15.3, Sex::female)}) {
    for (const auto& time : {two, fast, many}) {
      const auto got = percentile_of(ref, as_time(time, 0.9));
      const auto [mean, sd] = by_sum(ref, time, 2.0, 7.0);
      // Computed: plain sum over 40,000 slices in this file
      EXPECT_NEAR(got.mean, mean, 2e-3);
      EXPECT_NEAR(got.sd, sd, 2e-3);
      EXPECT_LE(got.lo, got.median);
      EXPECT_LE(got.median, got.hi);
      EXPECT_NEAR(cdf_of(time, *ref.time_at_percentile(
                                   std::clamp(got.median, ref.limits().first + 1e-9, ref.limits().second - 1e-9))),
                  0.5, got.median > ref.limits().first && got.median < ref.limits().second ? 1e-6 : 1.0);
    }
  }
}

TEST_F(Uncertain, AtTheLimitsThePercentileIsTheLimitAndIsSaid) {
  const auto japan = reference("sprint-50m-japan-2017", 9.8, Sex::male);
  const auto got = percentile_of(japan, as_time({{1.0, 7.0, 0.1}}, 0.9));
  // Identity: the whole time lies beyond the 95th percentile
  EXPECT_NEAR(got.mean, 95.0, 1e-9);
  EXPECT_NEAR(got.sd, 0.0, 1e-5);
  EXPECT_NEAR(got.share_at_limit, 1.0, 1e-9);
}

TEST_F(Uncertain, ASureTimeIsItsPercentile) {
  const auto boys = reference("sprint-20m-emotikon", 8.6, Sex::male);
  const auto got = percentile_of(boys, {4.3, 4.3, 4.3, 4.3, 4.3, [](double t) { return t > 4.3 ? 1.0 : 0.0; }});
  // Identity: no uncertainty, no spread
  EXPECT_EQ(got.mean, *boys.percentile_of_time(4.3));
  EXPECT_EQ(got.sd, 0.0);
  EXPECT_EQ(got.lo, got.hi);
}

TEST_F(Uncertain, RefusesWordsOnlyReferencesAndNonsense) {
  const auto band = reference("sprint-50m-japan-2015-girls-older", 15.0, Sex::female);
  const auto boys = reference("sprint-20m-emotikon", 8.6, Sex::male);
  UncertainTime time = as_time({{1.0, 4.3, 0.1}}, 0.9);
  EXPECT_THROW(percentile_of(band, time), std::invalid_argument);
  time.to_s = NAN;
  EXPECT_THROW(percentile_of(boys, time), std::domain_error);
  time.to_s = time.from_s - 1.0;
  EXPECT_THROW(percentile_of(boys, time), std::domain_error);
}

}  // namespace
