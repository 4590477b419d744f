#include "bagsplit/stats/icc.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <random>
#include <stdexcept>
#include <string>
#include <vector>

#include "bagsplit/stats/univariate.hpp"
#include "reference.hpp"
#include "support/digits.hpp"

namespace {

using bagsplit::test::Reference;
using bagsplit::test::Table;
namespace stats = bagsplit::stats;

std::vector<double> rows_of(const Table& data, const std::vector<std::string>& columns) {
  std::vector<double> out;
  const std::size_t n = data.text(columns[0]).size();
  for (std::size_t i = 0; i < n; ++i) {
    for (const auto& column : columns) {
      out.push_back(data.numbers(column)[i]);
    }
  }
  return out;
}

std::vector<std::pair<std::string, stats::IccForm>> forms(const stats::Reliability& r) {
  return {{"1_1", r.icc_1_1}, {"2_1", r.icc_2_1}, {"3_1", r.icc_3_1},
          {"1_k", r.icc_1_k}, {"2_k", r.icc_2_k}, {"3_k", r.icc_3_k}};
}

void expect_all(const Reference& reference, const std::string& prefix, const stats::Reliability& r) {
  for (const auto& [name, form] : forms(r)) {
    EXPECT_REFERENCE(reference, prefix + "icc_" + name, *form.icc);
    EXPECT_REFERENCE(reference, prefix + "icc_" + name + "_ci95",
                     std::vector<double>{form.interval->lo, form.interval->hi});
  }
  EXPECT_REFERENCE(reference, prefix + "mean_squares", std::vector<double>{r.bms, r.wms, r.jms, r.ems});
  EXPECT_REFERENCE(reference, prefix + "F_between", std::vector<double>{*r.f_one_way, *r.f_two_way});
  EXPECT_REFERENCE(reference, prefix + "p_between", std::vector<double>{*r.p_one_way, *r.p_two_way});
  EXPECT_REFERENCE(reference, prefix + "icc2_nu_satterthwaite", *r.icc_2_df);
  EXPECT_REFERENCE(reference, prefix + "sem_consistency_sqrt_EMS", r.typical_error.sd);
  EXPECT_REFERENCE(reference, prefix + "sem_consistency_ci95",
                   std::vector<double>{r.typical_error.interval.lo, r.typical_error.interval.hi});
  EXPECT_REFERENCE(reference, prefix + "sem_agreement", r.error_with_rater_bias);
  EXPECT_REFERENCE(reference, prefix + "sem_within_sqrt_WMS", r.error_within);
  EXPECT_REFERENCE(reference, prefix + "mdc95_from_sqrt_EMS", stats::minimal_detectable_change(r.typical_error.sd));
}

// Source: Shrout & Fleiss (1979), Psychol Bull 86:420-428, Tables 2-4 (published_*).
// Computed: R 4.2.2, own script and psych 2.2.9, reference/icc_shrout_fleiss_1979/compute.R.
TEST(Icc, SixFormsOfShroutAndFleiss) {
  const Reference reference("icc_shrout_fleiss_1979");
  const Table data("icc_shrout_fleiss_1979/data.csv");
  const auto r = *stats::reliability(rows_of(data, {"judge1", "judge2", "judge3", "judge4"}), 4);
  EXPECT_EQ(r.targets, 6u);
  expect_all(reference, "", r);
  std::vector<double> lower, upper;
  for (const auto& [name, form] : forms(r)) {
    EXPECT_REFERENCE(reference, "published_icc_" + name, *form.icc);
    EXPECT_NEAR(*form.icc, reference.value("psych_icc", name), 1e-12);
    EXPECT_NEAR(form.interval->lo, reference.value("psych_lower", name), 1e-9);
    EXPECT_NEAR(form.interval->hi, reference.value("psych_upper", name), 1e-9);
    lower.push_back(form.interval->lo);
    upper.push_back(form.interval->hi);
  }
  EXPECT_REFERENCE(reference, "published_psych_icc_ci95_lower_1_1_2_1_3_1_1_k_2_k_3_k", lower);
  EXPECT_REFERENCE(reference, "published_psych_icc_ci95_upper_1_1_2_1_3_1_1_k_2_k_3_k", upper);
  EXPECT_REFERENCE(reference, "published_mean_squares_BMS_WMS_JMS_EMS",
                   std::vector<double>{r.bms, r.wms, r.jms, r.ems});
}

// Source: Weir (2005), J Strength Cond Res 19:231-240, p. 236 (published_*).
// Computed: R 4.2.2, reference/icc_weir_2005/compute.R.
TEST(Icc, TestRetestOfWeir) {
  const Reference reference("icc_weir_2005");
  const Table data("icc_weir_2005/data.csv");
  for (const std::string set : {"A", "B"}) {
    const auto r = *stats::reliability(rows_of(data, {set + "1", set + "2"}), 2);
    expect_all(reference, set + "_", r);
    EXPECT_REFERENCE(reference, set + "_sd_total", r.sd_total);
    EXPECT_REFERENCE(reference, set + "_minimal_difference_95", stats::minimal_detectable_change(r.typical_error.sd));
    EXPECT_REFERENCE(reference, set + "_typical_error_sd_diff_over_sqrt2", r.typical_error.sd);
    if (set == "A") {
      EXPECT_REFERENCE(reference, "published_A_sem", r.typical_error.sd);
    }
  }
}

std::vector<double> some_scores(std::size_t n, std::size_t k) {
  std::mt19937_64 engine(11);
  std::vector<double> out;
  for (std::size_t i = 0; i < n; ++i) {
    const double target = static_cast<double>(engine() >> 50);
    for (std::size_t j = 0; j < k; ++j) {
      out.push_back(target + static_cast<double>(engine() >> 52) + static_cast<double>(j));
    }
  }
  return out;
}

// The form for the mean of three.
double of_mean(double icc, double k) {
  return k * icc / (1.0 + (k - 1.0) * icc);
}

// Identity: the forms for a mean are Spearman-Brown of the forms for one score, limits included;
// units, shifts, the order of targets and of raters change nothing.
TEST(Icc, Identities) {
  const std::size_t n = 9, k = 3;
  const auto scores = some_scores(n, k);
  const auto r = *stats::reliability(scores, k, 0.9);
  EXPECT_DIGITS(*r.icc_1_k.icc, of_mean(*r.icc_1_1.icc, 3), 12);
  EXPECT_DIGITS(*r.icc_2_k.icc, of_mean(*r.icc_2_1.icc, 3), 12);
  EXPECT_DIGITS(r.icc_3_k.interval->lo, of_mean(r.icc_3_1.interval->lo, 3), 11);
  EXPECT_DIGITS(r.icc_1_k.interval->hi, of_mean(r.icc_1_1.interval->hi, 3), 11);

  std::vector<double> changed(n * k);
  for (std::size_t i = 0; i < n; ++i) {
    for (std::size_t j = 0; j < k; ++j) {
      changed[(n - 1 - i) * k + (j + 1) % k] = 0.01 * scores[i * k + j] - 5.0;
    }
  }
  const auto c = *stats::reliability(changed, k, 0.9);
  for (std::size_t f = 0; f < 6; ++f) {
    EXPECT_NEAR(*forms(c)[f].second.icc, *forms(r)[f].second.icc, 1e-11);
    EXPECT_NEAR(forms(c)[f].second.interval->lo, forms(r)[f].second.interval->lo, 1e-9);
  }
}

// Identity: a constant added to one rater lowers agreement but not consistency.
TEST(Icc, ABiasedRaterHurtsAgreementOnly) {
  const auto scores = some_scores(9, 2);
  auto biased = scores;
  for (std::size_t i = 1; i < biased.size(); i += 2) biased[i] += 20000.0;
  const auto a = *stats::reliability(scores, 2);
  const auto b = *stats::reliability(biased, 2);
  EXPECT_DIGITS(*b.icc_3_1.icc, *a.icc_3_1.icc, 10);
  EXPECT_LT(*b.icc_2_1.icc, *a.icc_2_1.icc);
  EXPECT_LT(*b.icc_1_1.icc, *a.icc_1_1.icc);
  EXPECT_GT(b.error_with_rater_bias, a.error_with_rater_bias);
}

// Identity: perfect agreement is 1; no scatter at all is 0/0 and absent.
TEST(Icc, ExtremeTables) {
  EXPECT_FALSE(stats::reliability({}, 2));
  EXPECT_FALSE(stats::reliability(std::vector<double>{1, 2}, 2));
  EXPECT_FALSE(stats::reliability(std::vector<double>{1, 2, 3}, 1));
  const auto perfect = *stats::reliability(std::vector<double>{1, 1, 2, 2, 5, 5}, 2);
  for (const auto& [name, form] : forms(perfect)) {
    EXPECT_EQ(*form.icc, 1.0) << name;
    EXPECT_FALSE(form.interval) << name;  // three targets do not know it to a point
  }
  EXPECT_FALSE(perfect.f_two_way);
  const auto shifted = *stats::reliability(std::vector<double>{1, 2, 2, 3, 5, 6}, 2);  // consistent, not in agreement
  EXPECT_EQ(*shifted.icc_3_1.icc, 1.0);
  EXPECT_LT(*shifted.icc_2_1.icc, 1.0);
  EXPECT_TRUE(shifted.icc_2_1.interval);
  const auto rounded = *stats::reliability(std::vector<double>{3.1, 3.2, 4.1, 4.2, 6.0, 6.1}, 2);
  EXPECT_EQ(rounded.typical_error.sd, 0.0);
  EXPECT_FALSE(rounded.f_two_way);
  const auto crossed = *stats::reliability(std::vector<double>{1, 2, 2, 1}, 2);
  EXPECT_EQ(*crossed.icc_1_1.icc, -1.0);
  EXPECT_FALSE(crossed.icc_1_1.interval || crossed.icc_2_1.interval || crossed.icc_3_1.interval);
  const auto flat = *stats::reliability(std::vector<double>{3, 3, 3, 3}, 2);
  for (const auto& [name, form] : forms(flat)) {
    EXPECT_FALSE(form.icc) << name;
    EXPECT_FALSE(form.interval) << name;
  }
  const auto opposed = *stats::reliability(std::vector<double>{1, 2, 2, 1}, 2);  // no difference between targets
  EXPECT_EQ(*opposed.icc_3_1.icc, -1.0);
  EXPECT_FALSE(opposed.icc_3_k.icc);
  // Two targets: nearly all scatter is between raters, and Satterthwaite's df come out near 0 (two watches, two runs).
  for (const double level : {0.9, 0.95, 0.999}) {
    const auto two = *stats::reliability(std::vector<double>{5.28, 5.29, 4.80, 4.98}, 2, level);
    for (const auto& [name, form] : forms(two)) {
      if (form.interval) {
        EXPECT_TRUE(std::isfinite(form.interval->lo) && std::isfinite(form.interval->hi)) << name;
        EXPECT_LE(form.interval->lo, form.interval->hi) << name;
      }
    }
  }
}

// Common practice, no source: programmer's errors throw.
TEST(Icc, RefusesBadCalls) {
  EXPECT_THROW(stats::reliability(std::vector<double>{1, 2, 3}, 2), std::invalid_argument);
  EXPECT_THROW(stats::reliability(std::vector<double>{1, 2, 3, std::nan("")}, 2), std::domain_error);
  EXPECT_THROW(stats::reliability(std::vector<double>{1, 2}, 0), std::invalid_argument);
  EXPECT_THROW(stats::minimal_detectable_change(-1.0), std::domain_error);
}

}  // namespace
