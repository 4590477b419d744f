// The parts of the solver, each against an identity of its own.
#include <gtest/gtest.h>

#include <Eigen/Dense>
#include <cmath>
#include <random>

#include "bagsplit/basepath/detail/certificate.hpp"
#include "bagsplit/basepath/detail/discretised.hpp"
#include "bagsplit/basepath/detail/stage.hpp"
#include "bagsplit/basepath/detail/symmetric.hpp"

namespace {

using namespace bagsplit::basepath;

double uniform(std::mt19937& engine) {
  return static_cast<double>(engine()) / 4294967295.0 - 0.5;
}

TEST(Symmetric, SolvesAndCountsNegativeEigenvalues) {
  // Computed: Eigen 3.4, SelfAdjointEigenSolver and partialPivLu.
  std::mt19937 engine(3);
  for (const Eigen::Index n : {1, 2, 3, 7, 14, 25}) {
    for (int k = 0; k < 20; ++k) {
      Eigen::MatrixXd m(n, n);
      Eigen::VectorXd b(n);
      for (Eigen::Index i = 0; i < n; ++i) {
        b(i) = uniform(engine);
        for (Eigen::Index j = 0; j <= i; ++j) {
          m(i, j) = m(j, i) = uniform(engine);
        }
        if (k % 2 == 0) {
          m(i, i) = 0.0;  // forces pairs of rows as pivots
        }
      }
      if (n == 1 && k % 2 == 0) {
        continue;
      }
      std::vector<double> a(m.data(), m.data() + m.size());
      std::vector<double> x(b.data(), b.data() + b.size());
      const int negative = symmetric::solve(a, x);
      EXPECT_EQ(negative, (Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd>(m).eigenvalues().array() < 0.0).count());
      const Eigen::VectorXd expected = m.partialPivLu().solve(b);
      for (Eigen::Index i = 0; i < n; ++i) {
        EXPECT_NEAR(x[static_cast<std::size_t>(i)], expected(i), 1e-8 * (1.0 + expected.norm()));
      }
    }
  }
}

TEST(Symmetric, ASingularMatrixIsSaidToBe) {
  // Identity: rank 1.
  std::vector<double> a{0.0, 0.0, 0.0, 0.0};
  std::vector<double> b{1.0, 1.0};
  EXPECT_EQ(symmetric::solve(a, b), -1);
}

TEST(Stage, GradientsAreTheDerivativesOfTheLimits) {
  // Identity: central differences. The last two are faster than what late slowing leaves, and hardly slower.
  struct Case {
    bool point_mass;
    double soft, speed;
  };
  for (const auto& [point_mass, soft, speed] :
       {Case{true, 0.0, 0.8}, {false, 0.0, 0.8}, {false, 0.02, 1.33}, {false, 0.02, 1.29}}) {
    const friction::Model m{point_mass, 1.1, 1.3, 0.7, 0.9, 0.6, soft};
    stage::State z;
    z.w = 0.4;
    stage::System s{};
    const double x[4] = {speed, 0.6, point_mass ? -0.3 : 0.2, 0.4};
    stage::evaluate(m, x[0], x[1], x[2], z, 1e-3, s);
    for (std::size_t i = 0; i < 4; ++i) {
      double up[4] = {x[0], x[1], x[2], x[3]};
      double down[4] = {x[0], x[1], x[2], x[3]};
      up[i] += 1e-6;
      down[i] -= 1e-6;
      double cu[stage::most] = {};
      double cd[stage::most] = {};
      stage::values(m, up[0], up[1], up[2], up[3], cu);
      stage::values(m, down[0], down[1], down[2], down[3], cd);
      for (std::size_t q = 0; q < stage::count(m); ++q) {
        EXPECT_NEAR(s.gradient[q][i], point_mass && i == 3 ? 0.0 : (cu[q] - cd[q]) / 2e-6, 1e-7);
      }
    }
  }
}

TEST(Stage, EliminatingTheAuxiliaryGivesTheEllipse) {
  // Identity: on the boundary of the half-ellipse the three limits leave exactly w = sqrt(1 - n^2).
  const friction::Model m{false, 1.0, 1.3, 0.7, 0.9, 0.6};
  for (const double angle : {0.1, 0.8, 1.4, 2.0, 2.9}) {
    const double u = 0.7;
    const double n = std::cos(angle);
    const double share = std::sin(angle);
    for (const double along : {share * m.propulsion(u), -share * m.braking}) {
      double c[stage::most] = {};
      stage::values(m, u, n * m.lateral / u, along, share, c);
      EXPECT_NEAR(c[0], 0.0, 1e-14);
      EXPECT_NEAR(std::fmax(c[1], c[2]), 0.0, 1e-14);
      const friction::Room room = friction::room_along(m, u, n * m.lateral);
      EXPECT_NEAR(along > 0.0 ? room.gaining : -room.losing, along, 1e-14);
    }
  }
}

TEST(Certificate, TellsAPathThatIsNotTheBest) {
  // Identity: a path slowed down evenly is feasible (point mass) but wastes friction: the certificate must see most of
  // what it wastes, and must see nothing on the best path.
  discretised::Problem p;
  p.points = {{0.0, 0.0}, {1.0, 0.0}, {1.0, 1.0}, {0.0, 1.0}, {0.0, 0.0}};
  discretised::Options o;
  const auto best = discretised::improve(p, discretised::first_guess(p, o), o);
  ASSERT_EQ(best.status, discretised::Status::converged);
  const auto good = certificate::examine(p, best);
  EXPECT_LT(good.cost(), 1e-3);
  auto slow = best;
  for (double& d : slow.duration) {
    d *= 1.05;
  }
  for (auto& node : slow.nodes) {
    node.speed /= 1.05;
  }
  for (auto& inner : slow.inner) {
    inner[0].speed /= 1.05;
    inner[1].speed /= 1.05;
  }
  slow.total *= 1.05;
  const auto bad = certificate::examine(p, slow);
  EXPECT_GT(bad.optimality_cost, 0.02 * best.total);
  EXPECT_LT(bad.violation_cost, 1e-3);
}

TEST(Certificate, TellsAPathThatBreaksTheLimitsOrMissesABag) {
  // Identity: the same path 3 % faster needs 6 % more than is allowed; one with a heading bent misses its bags.
  discretised::Problem p;
  p.points = {{0.0, 0.0}, {1.0, 0.0}, {1.0, 1.0}};
  discretised::Options o;
  const auto best = discretised::improve(p, discretised::first_guess(p, o), o);
  auto fast = best;
  for (double& d : fast.duration) {
    d *= 0.97;
  }
  for (auto& node : fast.nodes) {
    node.speed /= 0.97;
  }
  for (auto& inner : fast.inner) {
    inner[0].speed /= 0.97;
    inner[1].speed /= 0.97;
  }
  const auto broken = certificate::examine(p, fast);
  EXPECT_GT(broken.largest_excess, 0.05);
  EXPECT_GT(broken.violation_cost, 0.02 * best.total);
  auto bent = best;
  bent.nodes[4].heading += 0.1;
  EXPECT_GT(certificate::examine(p, bent).displacement_cost, 1e-3);
}

}  // namespace
