#include "bagsplit/stats/robust.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <stdexcept>
#include <string>
#include <vector>

#include "reference.hpp"
#include "support/digits.hpp"

namespace {

using bagsplit::stats::isotonic;
using bagsplit::stats::Order;
using bagsplit::stats::theil_sen;
using bagsplit::test::Reference;
using bagsplit::test::Table;

// Computed: Python 3.11, scipy 1.10.1 (theilslopes, kendalltau), reference/trend_theil_sen_isotonic/compute.py.
TEST(Robust, TheilSenAgreesWithAnotherProgram) {
  const Reference reference("trend_theil_sen_isotonic");
  const Table data("trend_theil_sen_isotonic/theil.csv");
  for (const std::string key :
       {"sleepstudy_308", "sleepstudy_335", "sleepstudy_370", "ties_in_x", "outlier", "flat_ties"}) {
    const auto line = *theil_sen(data.where("key", key, "x"), data.where("key", key, "y"));
    EXPECT_REFERENCE(reference, key + "_slope", line.slope);
    EXPECT_REFERENCE(reference, key + "_n_pairs", static_cast<double>(line.pairs));
    EXPECT_REFERENCE(reference, key + "_intercept_median_y_minus", line.intercept);
    EXPECT_REFERENCE(reference, key + "_intercept_median_residual", line.residual_intercept);
    EXPECT_REFERENCE(reference, key + "_ci95", std::vector<double>{line.slope_interval->lo, line.slope_interval->hi});
    EXPECT_REFERENCE(reference, key + "_kendall_tau_b", *line.kendall_tau_b);
  }
}

// Identity: an exact line is found whatever a quarter of wild points do; order of points, units and a tilt carry over.
TEST(Robust, TheilSenBearsWildPointsAndCarriesOver) {
  std::vector<double> x, y;
  for (int i = 0; i < 13; ++i) {
    x.push_back(i);
    y.push_back(5.0 - 0.25 * i);
  }
  y[2] = 900.0;
  y[7] = -900.0;
  y[11] = 0.0;
  const auto line = *theil_sen(x, y);
  EXPECT_EQ(line.slope, -0.25);
  EXPECT_EQ(line.residual_intercept, 5.0);
  std::vector<double> xr(x.rbegin(), x.rend()), yr(y.rbegin(), y.rend());
  for (std::size_t i = 0; i < xr.size(); ++i) yr[i] = 8.0 * (yr[i] + 2.0 * xr[i]);
  const auto tilted = *theil_sen(xr, yr);
  EXPECT_DIGITS(tilted.slope, 8.0 * (2.0 - 0.25), 13);
  EXPECT_DIGITS(tilted.slope_interval->hi, 8.0 * (2.0 + line.slope_interval->hi), 12);
}

// Identity: two points are a line; what cannot be told is absent.
TEST(Robust, TheilSenFewOrEqualValues) {
  EXPECT_FALSE(theil_sen({}, {}));
  EXPECT_FALSE(theil_sen(std::vector<double>{1}, std::vector<double>{2}));
  EXPECT_FALSE(theil_sen(std::vector<double>{1, 1, 1}, std::vector<double>{1, 2, 3}));
  EXPECT_EQ(theil_sen(std::vector<double>{1, 3}, std::vector<double>{2, 6})->slope, 2.0);
  const auto flat = *theil_sen(std::vector<double>{1, 2, 3}, std::vector<double>{5, 5, 5});
  EXPECT_EQ(flat.slope, 0.0);
  EXPECT_FALSE(flat.kendall_tau_b);
}

// Source: R help page of stats::isoreg, and Robertson, Wright & Dykstra (1988), example 1.1 (published_*).
// Computed: R 4.2.2 cor.test(method = "kendall", exact = FALSE): z = S / sqrt(variance) with ties in x and in y.
TEST(TheilSen, VarianceOfKendallsSWithTiesInBoth) {
  const std::vector<double> x{1, 1, 2, 2, 2, 3, 3, 4, 5, 5}, y{4.1, 4.1, 4.0, 4.1, 3.9, 4.0, 3.9, 3.9, 3.8, 3.8};
  const auto line = *theil_sen(x, y);
  EXPECT_EQ(line.kendall_s, -31.0);
  EXPECT_NEAR(line.kendall_s / std::sqrt(line.kendall_variance), -2.95468962400453, 1e-12);
  EXPECT_NEAR(*line.kendall_tau_b, -0.816072096063617, 1e-12);
}

// Computed: Python 3.11, scipy 1.10.1 (nnls), reference/trend_theil_sen_isotonic/compute.py.
TEST(Robust, IsotonicAgreesWithAnotherProgram) {
  const Reference reference("trend_theil_sen_isotonic");
  const Table data("trend_theil_sen_isotonic/isotonic.csv");
  for (const std::string key : {"r_help", "pituitary_means", "descending_times", "weights"}) {
    const auto y = data.where("key", key, "y");
    const auto w = data.where("key", key, "w");
    EXPECT_REFERENCE(reference, key + "_increasing", isotonic(y, w));
    EXPECT_REFERENCE(reference, key + "_decreasing", isotonic(y, w, Order::decreasing));
  }
  EXPECT_REFERENCE(reference, "published_r_help_increasing", isotonic(data.where("key", "r_help", "y")));
  EXPECT_REFERENCE(reference, "published_pituitary_increasing",
                   isotonic(data.where("key", "pituitary_means", "y"), data.where("key", "pituitary_means", "w")));
}

// Identity: the fit keeps the weighted mean, is monotone, and leaves monotone values alone; a weight of 2 is a value
// twice.
TEST(Robust, IsotonicIdentities) {
  const std::vector<double> y{5, 3, 4, 4, 1, 9, 7};
  const std::vector<double> w{1, 2, 1, 3, 1, 1, 2};
  const auto fit = isotonic(y, w);
  EXPECT_TRUE(std::is_sorted(fit.begin(), fit.end()));
  double before = 0, after = 0;
  for (std::size_t i = 0; i < y.size(); ++i) {
    before += w[i] * y[i];
    after += w[i] * fit[i];
  }
  EXPECT_NEAR(before, after, 1e-12);
  EXPECT_EQ(isotonic(std::vector<double>{1, 2, 2, 3}), (std::vector<double>{1, 2, 2, 3}));
  EXPECT_EQ(isotonic(fit, w), fit);
  EXPECT_NEAR(isotonic(std::vector<double>{3, 1}, std::vector<double>{2, 1})[0],
              isotonic(std::vector<double>{3, 3, 1})[0], 1e-15);
  EXPECT_TRUE(isotonic({}).empty());
  EXPECT_EQ(isotonic(std::vector<double>{7}), std::vector<double>{7});
}

// Common practice, no source: programmer's errors throw.
TEST(Robust, RefusesBadCalls) {
  EXPECT_THROW(theil_sen(std::vector<double>{1, 2}, std::vector<double>{1}), std::invalid_argument);
  EXPECT_THROW(isotonic(std::vector<double>{1, 2}, std::vector<double>{1, 0}), std::domain_error);
  EXPECT_THROW(isotonic(std::vector<double>{1, std::nan("")}), std::domain_error);
}

}  // namespace
