#include "bagsplit/stats/nonlinear_least_squares.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <fstream>
#include <functional>
#include <map>
#include <nlohmann/json.hpp>
#include <stdexcept>
#include <string>
#include <vector>

#include "reference.hpp"
#include "support/digits.hpp"

namespace {

using bagsplit::stats::FitStatus;
using bagsplit::stats::LeastSquaresProblem;
using bagsplit::stats::nonlinear_least_squares;
using bagsplit::test::Table;

using B = std::span<const double>;
using Model = std::function<double(B b, double x, double x2)>;

double exponential_rise(B b, double x, double) {
  return b[0] * (1.0 - std::exp(-b[1] * x));
}
double cubic_ratio(B b, double x, double) {
  return (b[0] + x * (b[1] + x * (b[2] + x * b[3]))) / (1.0 + x * (b[4] + x * (b[5] + x * b[6])));
}

// Source: NIST StRD, nonlinear regression: the models as certified.json and the data files state them.
const std::map<std::string, Model> models{
    {"Misra1a", exponential_rise},
    {"BoxBOD", exponential_rise},
    {"Chwirut2", [](B b, double x, double) { return std::exp(-b[0] * x) / (b[1] + b[2] * x); }},
    {"DanWood", [](B b, double x, double) { return b[0] * std::pow(x, b[1]); }},
    {"MGH17", [](B b, double x, double) { return b[0] + b[1] * std::exp(-x * b[3]) + b[2] * std::exp(-x * b[4]); }},
    {"Hahn1", cubic_ratio},
    {"Thurber", cubic_ratio},
    {"Roszman1",
     [](B b, double x, double) { return b[0] - b[1] * x - std::atan(b[2] / (x - b[3])) / std::acos(-1.0); }},
    {"Nelson", [](B b, double x, double x2) { return b[0] - b[1] * x * std::exp(-b[2] * x2); }},
    {"Rat42", [](B b, double x, double) { return b[0] / (1.0 + std::exp(b[1] - b[2] * x)); }},
    {"MGH10", [](B b, double x, double) { return b[0] * std::exp(b[1] / (x + b[2])); }},
};

class Nist : public ::testing::TestWithParam<const char*> {};

// Source: NIST StRD, nonlinear regression, certified values (reference/nist_strd_nonlinear/certified.json).
TEST_P(Nist, CertifiedDigitsFromBothStarts) {
  const std::string name = GetParam();
  std::ifstream in(bagsplit::test::reference_path("nist_strd_nonlinear/certified.json"));
  nlohmann::json certified;
  for (const auto& item : nlohmann::json::parse(in)) {
    if (item.at("name") == name) certified = item;
  }
  const Table data("nist_strd_nonlinear/" + name + ".csv");
  const bool two = name == "Nelson";
  auto y = data.numbers("y");
  const auto x = data.numbers(two ? "x1" : "x");
  const auto x2 = data.numbers(two ? "x2" : "x");
  if (two) {
    for (double& v : y) v = std::log(v);
  }
  const Model& model = models.at(name);
  LeastSquaresProblem problem;
  problem.observations = y.size();
  problem.residuals = [&](B b, std::span<double> r) {
    for (std::size_t i = 0; i < r.size(); ++i) r[i] = y[i] - model(b, x[i], x2[i]);
  };
  const auto want_b = certified.at("b").get<std::vector<double>>();
  const auto want_se = certified.at("se").get<std::vector<double>>();
  for (const char* start : {"start1", "start2"}) {
    const auto fit = nonlinear_least_squares(problem, certified.at(start).get<std::vector<double>>());
    EXPECT_TRUE(usable(fit.status)) << start << ": " << fit.message;
    ASSERT_TRUE(fit.se) << start;
    for (std::size_t j = 0; j < want_b.size(); ++j) {
      EXPECT_DIGITS(fit.parameters[static_cast<Eigen::Index>(j)], want_b[j], 8) << start << " b" << j + 1;
      EXPECT_DIGITS((*fit.se)[static_cast<Eigen::Index>(j)], want_se[j], 7) << start << " se" << j + 1;
    }
    EXPECT_DIGITS(fit.rss, certified.at("rss").get<double>(), 9) << start;
    EXPECT_DIGITS(*fit.residual_sd, certified.at("rsd").get<double>(), 9) << start;
    EXPECT_EQ(fit.df, static_cast<double>(y.size() - want_b.size()));
    RecordProperty(std::string(start) + "_iterations", fit.iterations);
  }
}

INSTANTIATE_TEST_SUITE_P(StRD, Nist,
                         ::testing::Values("Misra1a", "Chwirut2", "DanWood", "MGH17", "Hahn1", "Roszman1", "Nelson",
                                           "Thurber", "Rat42", "BoxBOD", "MGH10"),
                         [](const auto& tested) { return std::string(tested.param); });

LeastSquaresProblem line(const std::vector<double>& x, const std::vector<double>& y) {
  LeastSquaresProblem problem;
  problem.observations = y.size();
  problem.residuals = [=](B b, std::span<double> r) {
    for (std::size_t i = 0; i < r.size(); ++i) r[i] = y[i] - b[0] - b[1] * x[i];
  };
  return problem;
}

// Identity: a straight line by the normal equations; slope 0.9, intercept 0.1, rss 0.7 for these points.
TEST(NonlinearLeastSquares, ALineIsOrdinaryLeastSquares) {
  auto problem = line({0, 1, 2, 3}, {0, 1.5, 1.5, 3});
  for (const bool with_jacobian : {false, true}) {
    if (with_jacobian) {
      problem.jacobian = [](B, Eigen::Ref<Eigen::MatrixXd> j) {
        for (Eigen::Index i = 0; i < 4; ++i) {
          j(i, 0) = -1.0;
          j(i, 1) = -static_cast<double>(i);
        }
      };
    }
    const auto fit = nonlinear_least_squares(problem, std::vector<double>{5.0, -3.0});
    EXPECT_EQ(fit.status, FitStatus::converged);
    EXPECT_NEAR(fit.parameters[0], 0.15, 1e-12);
    EXPECT_NEAR(fit.parameters[1], 0.9, 1e-12);
    EXPECT_NEAR(fit.rss, 0.45, 1e-12);
    EXPECT_NEAR((*fit.se)[1], std::sqrt(0.45 / 2.0 / 5.0), 1e-10);
  }
}

// Identity: residuals and Jacobian given in one call or in two are the same problem.
TEST(NonlinearLeastSquares, BothInOneCall) {
  const std::vector<double> x{1, 2, 3, 5, 8};
  const std::vector<double> y{2.9, 5.2, 6.1, 7.2, 7.6};
  int asked = 0;
  LeastSquaresProblem problem;
  problem.observations = y.size();
  problem.residuals = [&](B b, std::span<double> r) {
    for (std::size_t i = 0; i < r.size(); ++i) r[i] = y[i] - exponential_rise(b, x[i], 0.0);
  };
  const auto jacobian = [&](B b, Eigen::Ref<Eigen::MatrixXd> j) {
    for (std::size_t i = 0; i < x.size(); ++i) {
      const auto row = static_cast<Eigen::Index>(i);
      j(row, 0) = std::expm1(-b[1] * x[i]);
      j(row, 1) = -b[0] * x[i] * std::exp(-b[1] * x[i]);
    }
  };
  problem.jacobian = jacobian;
  const std::vector<double> start{5.0, 1.0};
  const auto apart = nonlinear_least_squares(problem, start);
  problem.residuals_and_jacobian = [&](B b, std::span<double> r, Eigen::Ref<Eigen::MatrixXd> j) {
    ++asked;
    problem.residuals(b, r);
    jacobian(b, j);
  };
  const auto together = nonlinear_least_squares(problem, start);
  EXPECT_EQ(together.status, FitStatus::converged);
  EXPECT_EQ(together.parameters, apart.parameters);
  EXPECT_EQ(together.rss, apart.rss);
  EXPECT_EQ(together.evaluations, apart.evaluations);
  EXPECT_GT(asked, 0);
  EXPECT_LT(asked, 20);
}

// Identity: perfect data give rss 0, and units of a parameter only scale it.
TEST(NonlinearLeastSquares, PerfectFitAndScales) {
  std::vector<double> x, y;
  for (int i = 1; i <= 8; ++i) {
    x.push_back(i);
    y.push_back(8.0 * (1.0 - std::exp(-0.4 * i)));
  }
  for (const double unit : {1.0, 1e-6, 1e6}) {
    LeastSquaresProblem problem;
    problem.observations = y.size();
    problem.residuals = [&](B b, std::span<double> r) {
      for (std::size_t i = 0; i < r.size(); ++i) r[i] = y[i] - b[0] * (1.0 - std::exp(-b[1] / unit * x[i]));
    };
    const auto fit = nonlinear_least_squares(problem, std::vector<double>{1.0, 1.0 * unit});
    EXPECT_TRUE(usable(fit.status)) << fit.message;
    EXPECT_DIGITS(fit.parameters[0], 8.0, 11);
    EXPECT_DIGITS(fit.parameters[1], 0.4 * unit, 11);
    EXPECT_LT(fit.rss, 1e-20);
  }
}

// Identity: what the data cannot tell is said, not guessed.
TEST(NonlinearLeastSquares, TooFewOrUntellable) {
  const auto few = nonlinear_least_squares(line({1}, {2}), std::vector<double>{0.1, 0.1});
  EXPECT_EQ(word(few.status), "too-few-data");
  EXPECT_FALSE(few.se);
  const auto exact = nonlinear_least_squares(line({1, 2}, {2, 4}), std::vector<double>{0.5, 0.5});
  EXPECT_TRUE(usable(exact.status));
  EXPECT_NEAR(exact.parameters[1], 2.0, 1e-9);
  EXPECT_FALSE(exact.se);
  EXPECT_FALSE(exact.residual_sd);
  const auto same_x = nonlinear_least_squares(line({2, 2, 2}, {1, 2, 4}), std::vector<double>{0.5, 0.5});
  EXPECT_EQ(word(same_x.status), "not-identifiable");
  EXPECT_FALSE(same_x.covariance);
  LeastSquaresProblem bad;
  bad.observations = 3;
  bad.residuals = [](B, std::span<double> r) { std::fill(r.begin(), r.end(), std::nan("")); };
  EXPECT_EQ(nonlinear_least_squares(bad, std::vector<double>{1.0}).status, FitStatus::failed);
  bad = line({1, 2, 3}, {1, 5, 2});
  bad.jacobian = [](B, Eigen::Ref<Eigen::MatrixXd> j) { j.setConstant(std::nan("")); };
  const auto no_slope = nonlinear_least_squares(bad, std::vector<double>{1.0, 1.0});
  EXPECT_EQ(no_slope.status, FitStatus::failed);
  EXPECT_EQ(no_slope.message, "the derivatives cannot be evaluated at the start");
  bagsplit::stats::LeastSquaresOptions options;
  options.max_iterations = 1;
  EXPECT_EQ(nonlinear_least_squares(line({1, 2, 3}, {1, 5, 2}), std::vector<double>{1e6, -1e6}, options).iterations, 1);
}

// Common practice, no source: programmer's errors throw.
TEST(NonlinearLeastSquares, RefusesBadCalls) {
  EXPECT_THROW(nonlinear_least_squares({}, std::vector<double>{1.0}), std::invalid_argument);
  EXPECT_THROW(nonlinear_least_squares(line({1}, {1}), {}), std::invalid_argument);
  EXPECT_THROW(nonlinear_least_squares(line({1}, {1}), std::vector<double>{std::nan("")}), std::domain_error);
}

}  // namespace
