#include "bagsplit/stats/permutation.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <stdexcept>
#include <string>
#include <vector>

#include "reference.hpp"

namespace {

using bagsplit::stats::paired_permutation_test;
using bagsplit::stats::PermutationOptions;
using bagsplit::stats::PermutationTest;
using bagsplit::stats::two_sample_permutation_test;
using bagsplit::test::Reference;
using bagsplit::test::Table;

void expect_all(const Reference& reference, const std::string& name, const PermutationTest& got) {
  EXPECT_TRUE(got.exact);
  EXPECT_REFERENCE(reference, name + "_p_two", got.p_two_sided);
  EXPECT_REFERENCE(reference, name + "_p_ge", got.p_greater);
  EXPECT_REFERENCE(reference, name + "_p_le", got.p_less);
  EXPECT_REFERENCE(reference, name + "_n_permutations", static_cast<double>(got.arrangements));
  EXPECT_REFERENCE(reference, name + "_count_ge", static_cast<double>(got.count_greater));
  EXPECT_REFERENCE(reference, name + "_count_two_sided", static_cast<double>(got.count_two_sided));
}

// Source: Student (1908), Biometrika 6:1-25 (data).
// Computed: R 4.2.2, complete enumeration and exactRankTests 0.8-35, reference/sleep_student_1908/compute.R.
TEST(Permutation, SleepOfStudentExactly) {
  const Reference reference("sleep_student_1908");
  const Table data("sleep_student_1908/data.csv");
  const auto x = data.numbers("drug1");
  const auto y = data.numbers("drug2");
  const auto paired = *paired_permutation_test(x, y);
  const auto two = *two_sample_permutation_test(x, y);
  expect_all(reference, "perm_paired_exact", paired);
  expect_all(reference, "perm_two_sample_exact", two);
  EXPECT_REFERENCE(reference, "exactRankTests_paired_p", paired.p_two_sided);
  EXPECT_REFERENCE(reference, "exactRankTests_two_sample_p", two.p_two_sided);
  EXPECT_NEAR(paired.observed, -1.58, 1e-12);
}

// Source: Efron & Tibshirani (1993), chapter 15: achieved significance level .132 from 1000 random permutations.
// Computed: R 4.2.2, complete enumeration, reference/bootstrap_exhaustive_mouse/compute.R.
TEST(Permutation, MiceExactly) {
  const Reference reference("bootstrap_exhaustive_mouse");
  const Table data("bootstrap_exhaustive_mouse/data.csv");
  const auto treated = data.where("group", "treatment", "days");
  const auto control = data.where("group", "control", "days");
  const auto test = *two_sample_permutation_test(treated, control);
  expect_all(reference, "perm_mean_difference", test);
  EXPECT_REFERENCE(reference, "published_permutation_asl_monte_carlo", test.p_greater);
}

// Identity: random arrangements approach the enumeration. With 20,000 of them the standard error of a p near .14 is
// .0025; five of those are allowed for.
TEST(Permutation, SamplingApproachesEnumeration) {
  const Table data("bootstrap_exhaustive_mouse/data.csv");
  const auto treated = data.where("group", "treatment", "days");
  const auto control = data.where("group", "control", "days");
  const Table sleep("sleep_student_1908/data.csv");
  PermutationOptions options;
  options.exact_limit = 0;
  options.samples = 20'000;
  options.seed = 7;
  const auto two = *two_sample_permutation_test(treated, control, options);
  EXPECT_FALSE(two.exact);
  EXPECT_NEAR(two.p_greater, 0.14055944055944056, 5 * 0.0025);
  EXPECT_NEAR(two.p_two_sided, 0.27814685314685317, 5 * 0.0032);
  const auto paired = *paired_permutation_test(sleep.numbers("drug1"), sleep.numbers("drug2"), options);
  EXPECT_NEAR(paired.p_two_sided, 0.00390625, 5 * 0.00045);
  EXPECT_EQ(paired.p_two_sided, (static_cast<double>(paired.count_two_sided) + 1.0) / 20'001.0);
}

// Identity: the result depends on the seed, never on the number of threads.
TEST(Permutation, ThreadsDoNotMatter) {
  std::vector<double> x, y;
  for (int i = 0; i < 40; ++i) {
    x.push_back(std::sin(i));
    y.push_back(std::cos(1.7 * i) + 0.2);
  }
  PermutationOptions options;
  options.samples = 5'000;
  const auto one = *two_sample_permutation_test(x, y, options);
  const auto one_paired = *paired_permutation_test(x, y, options);
  EXPECT_FALSE(one.exact);
  options.threads = 4;
  EXPECT_EQ(two_sample_permutation_test(x, y, options)->count_two_sided, one.count_two_sided);
  EXPECT_EQ(paired_permutation_test(x, y, options)->count_less, one_paired.count_less);
  options.seed = 2;
  EXPECT_NE(two_sample_permutation_test(x, y, options)->count_greater, one.count_greater);
}

// Identity: swapping the groups swaps the one-sided tests; units and origin change nothing; ties are not split by
// rounding.
TEST(Permutation, Invariances) {
  const std::vector<double> x{3.52, 3.61, 3.48, 3.55};
  const std::vector<double> y{3.66, 3.60, 3.71};
  const auto a = *two_sample_permutation_test(x, y);
  const auto b = *two_sample_permutation_test(y, x);
  EXPECT_EQ(a.count_greater, b.count_less);
  EXPECT_EQ(a.count_two_sided, b.count_two_sided);
  EXPECT_EQ(a.arrangements, 35u);
  std::vector<double> xs = x, ys = y;
  for (double& v : xs) v = 1000.0 * v - 12345.678;
  for (double& v : ys) v = 1000.0 * v - 12345.678;
  const auto c = *two_sample_permutation_test(xs, ys);
  EXPECT_EQ(c.count_greater, a.count_greater);
  EXPECT_EQ(c.count_two_sided, a.count_two_sided);
}

// Identity: what few or equal values give.
TEST(Permutation, FewOrEqualValues) {
  const std::vector<double> one{3.5};
  const std::vector<double> equal{2, 2, 2};
  EXPECT_FALSE(paired_permutation_test({}, {}));
  EXPECT_FALSE(two_sample_permutation_test({}, one));
  EXPECT_EQ(paired_permutation_test(one, std::vector<double>{3.0})->p_two_sided, 1.0);
  EXPECT_EQ(two_sample_permutation_test(one, std::vector<double>{3.0})->p_greater, 0.5);
  EXPECT_EQ(two_sample_permutation_test(equal, equal)->p_two_sided, 1.0);
  // Three pairs, all in one direction: 2 of 8.
  EXPECT_EQ(paired_permutation_test(std::vector<double>{1, 2, 3}, std::vector<double>{0, 0, 0})->p_two_sided, 0.25);
}

// Common practice, no source: programmer's errors throw.
TEST(Permutation, RefusesBadCalls) {
  const std::vector<double> two{1, 2};
  EXPECT_THROW(paired_permutation_test(two, std::vector<double>{1}), std::invalid_argument);
  PermutationOptions options;
  options.samples = 0;
  EXPECT_THROW(two_sample_permutation_test(two, two, options), std::domain_error);
}

}  // namespace
