// The player's posterior against brute force: the covariance of every reading written out in full, the linear terms
// kept as unknowns of one dense Gaussian, and (log V, log tau) integrated on a fine grid. Nothing is shared with the
// library but the structs that hold the data and the curve.
#include "bagsplit/inference/posterior/posterior.hpp"

#include <gtest/gtest.h>

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <numbers>
#include <random>
#include <stdexcept>
#include <string>
#include <vector>

#include "support/digits.hpp"

namespace {

using namespace bagsplit::motion;
using namespace bagsplit::inference;

struct Brute {
  std::vector<double> weight, v, tau;
  std::vector<Eigen::VectorXd> mean;  // all terms
  std::vector<Eigen::MatrixXd> covariance;
  double log_evidence = 0.0;
  double cell_v = 0.0, cell_t = 0.0;
  double late_slowing_per_s = 0.0;
};

// What a term counts for at a mark, from times alone: slopes by differences.
double weight_of(const PlayerData& data, std::uint32_t term, const Sprint& sprint, const ReadingData& reading,
                 double distance_m, const RunData& run) {
  const auto time = [&](const Sprint& s, double beam_m) {
    return time_to_distance(s, beam_m + distance_m) - time_to_distance(s, beam_m);
  };
  constexpr double step = 1e-5;
  const auto with = [&](double more) {
    return Sprint{sprint.top_speed_mps, sprint.time_constant_s, sprint.late_slowing_per_s + more};
  };
  switch (data.weigh_of(term)) {
    case Weigh::late:
      return (time(with(step), reading.beam_m) - time(with(-step), reading.beam_m)) / (2.0 * step);
    case Weigh::beam:
      return (time(sprint, reading.beam_m + step) - time(sprint, reading.beam_m - step)) / (2.0 * step);
    case Weigh::order:
      return run.runs_before * time(sprint, reading.beam_m);
    case Weigh::run:
      return time(sprint, reading.beam_m);
    case Weigh::full:
      break;
  }
  return 1.0;
}

double dense_log_likelihood(const PlayerData& data, const Sprint& sprint, Eigen::VectorXd* mean, Eigen::MatrixXd* cov) {
  const auto n = static_cast<Eigen::Index>(data.marks.size());
  const auto q = static_cast<Eigen::Index>(data.terms.size());
  Eigen::VectorXd t(n), y(n), start = Eigen::VectorXd::Zero(n);
  std::vector<int> run_of(data.marks.size()), reading_of(data.marks.size()), day_of(data.marks.size());
  std::vector<double> signal(data.marks.size()), start_sd(data.marks.size());
  Eigen::MatrixXd x = Eigen::MatrixXd::Zero(n, q);
  int run_number = 0;
  for (const RunData& run : data.runs) {
    for (std::uint32_t r = run.first_reading; r < run.first_reading + run.reading_count; ++r) {
      const ReadingData& reading = data.readings[r];
      for (std::uint32_t j = reading.first_mark; j < reading.first_mark + reading.mark_count; ++j) {
        const MarkData& mark = data.marks[j];
        t(j) = mark.distance_m <= 0.0 ? 0.0
               : reading.beam_m > 0.0 ? time_to_distance(sprint, mark.distance_m + reading.beam_m) -
                                            time_to_distance(sprint, reading.beam_m)
                                      : time_to_distance(sprint, mark.distance_m);
        y(j) = mark.time_s;
        run_of[j] = run_number;
        reading_of[j] = static_cast<int>(r);
        day_of[j] = static_cast<int>(run.day);
        signal[j] = reading.signal ? 1.0 : 0.0;
        start_sd[j] = reading.start_sd_s;
        for (Eigen::Index k = 0; k < q; ++k) {
          x(j, k) = ((mark.terms >> k) & 1U) == 0
                        ? 0.0
                        : weight_of(data, static_cast<std::uint32_t>(k), sprint, reading, mark.distance_m, run);
        }
      }
    }
    ++run_number;
  }
  Eigen::MatrixXd c = Eigen::MatrixXd::Zero(n, n);
  for (Eigen::Index a = 0; a < n; ++a) {
    for (Eigen::Index b = 0; b < n; ++b) {
      const auto i = static_cast<std::size_t>(a);
      const auto k = static_cast<std::size_t>(b);
      if (run_of[i] == run_of[k]) {
        c(a, b) += data.effort_cv * data.effort_cv * t(a) * t(b) +
                   signal[i] * signal[k] * data.reaction_sd_s * data.reaction_sd_s;
      }
      if (day_of[i] == day_of[k]) {
        c(a, b) += data.day_cv * data.day_cv * t(a) * t(b);
      }
      if (reading_of[i] == reading_of[k]) {
        c(a, b) += start_sd[i] * start_sd[i];
      }
    }
    c(a, a) += data.marks[static_cast<std::size_t>(a)].sd_s * data.marks[static_cast<std::size_t>(a)].sd_s;
  }
  Eigen::VectorXd m(q), s(q);
  for (Eigen::Index k = 0; k < q; ++k) {
    m(k) = data.terms[static_cast<std::size_t>(k)].mean;
    s(k) = data.terms[static_cast<std::size_t>(k)].sd * data.terms[static_cast<std::size_t>(k)].sd;
  }
  const Eigen::MatrixXd total = c + x * s.asDiagonal() * x.transpose();
  const Eigen::VectorXd residual = y - t - x * m;
  const Eigen::LLT<Eigen::MatrixXd> llt(total);
  const Eigen::VectorXd solved = llt.solve(residual);
  if (mean) {
    *mean = m + s.asDiagonal() * (x.transpose() * solved);
    const Eigen::MatrixXd xs = x * s.asDiagonal();
    *cov = Eigen::MatrixXd(s.asDiagonal()) - xs.transpose() * llt.solve(xs);
  }
  double log_det = 0.0;
  for (Eigen::Index a = 0; a < n; ++a) {
    log_det += 2.0 * std::log(llt.matrixL()(a, a));
  }
  return -0.5 * (residual.dot(solved) + log_det + static_cast<double>(n) * std::log(2.0 * std::numbers::pi));
}

Brute brute_force(const PlayerData& data, double lo_v, double hi_v, double lo_t, double hi_t, int points) {
  Brute brute;
  std::vector<double> log_p;
  const double dv = (hi_v - lo_v) / points;
  const double dt = (hi_t - lo_t) / points;
  brute.cell_v = dv;
  brute.cell_t = dt;
  brute.late_slowing_per_s = data.late_slowing_per_s;
  for (int i = 0; i < points; ++i) {
    for (int j = 0; j < points; ++j) {
      const double lv = lo_v + (i + 0.5) * dv;
      const double lt = lo_t + (j + 0.5) * dt;
      const Sprint sprint{std::exp(lv), std::exp(lt), data.late_slowing_per_s};
      Eigen::VectorXd mean;
      Eigen::MatrixXd cov;
      double p = data.marks.empty() ? 0.0 : dense_log_likelihood(data, sprint, &mean, &cov);
      const double zv = (lv - data.log_top_speed.mean) / data.log_top_speed.sd;
      const double zt = (lt - data.log_time_constant.mean) / data.log_time_constant.sd;
      p += -0.5 * (zv * zv + zt * zt) -
           std::log(2.0 * std::numbers::pi * data.log_top_speed.sd * data.log_time_constant.sd);
      log_p.push_back(p);
      brute.v.push_back(sprint.top_speed_mps);
      brute.tau.push_back(sprint.time_constant_s);
      brute.mean.push_back(mean);
      brute.covariance.push_back(cov);
    }
  }
  const double top = *std::max_element(log_p.begin(), log_p.end());
  double total = 0.0;
  for (double& p : log_p) {
    p = std::exp(p - top);
    total += p;
  }
  for (const double p : log_p) {
    brute.weight.push_back(p / total);
  }
  brute.log_evidence = top + std::log(total * dv * dt);
  return brute;
}

struct Summary {
  double mean, sd, lo, median, hi;
};

// P(g < c) for g linear over a grid cell: the sum of two uniform variables, g0 + a U1 + b U2 with U in (-1/2, 1/2).
double cell_below(double c, double g0, double a, double b) {
  const double wide = std::max(std::fabs(a), std::fabs(b));
  const double narrow = std::min(std::fabs(a), std::fabs(b));
  const double x = c - g0;
  const auto ramp = [](double t) { return t > 0.0 ? t * t : 0.0; };
  if (narrow < 1e-9 * wide) {
    return std::clamp(x / wide + 0.5, 0.0, 1.0);
  }
  const double s = 0.5 * (wide + narrow);
  const double d = 0.5 * (wide - narrow);
  return std::clamp((ramp(x + s) - ramp(x + d) - ramp(x - d) + ramp(x - s)) / (2.0 * wide * narrow), 0.0, 1.0);
}

// A function of (V, tau): bisection on its CDF, the density constant and the function linear over each cell of the
// grid.
template <typename Function>
Summary summary_of(const Brute& brute, Function&& function, double level) {
  const std::size_t n = brute.weight.size();
  std::vector<double> value(n), a(n), b(n);
  Summary s{};
  for (std::size_t i = 0; i < n; ++i) {
    const double v = brute.v[i];
    const double tau = brute.tau[i];
    const double kv = std::exp(0.5 * brute.cell_v);
    const double kt = std::exp(0.5 * brute.cell_t);
    const double k = brute.late_slowing_per_s;
    value[i] = function(Sprint{v, tau, k});
    a[i] = function(Sprint{v * kv, tau, k}) - function(Sprint{v / kv, tau, k});
    b[i] = function(Sprint{v, tau * kt, k}) - function(Sprint{v, tau / kt, k});
    s.mean += brute.weight[i] * value[i];
  }
  for (std::size_t i = 0; i < n; ++i) {
    s.sd += brute.weight[i] * (value[i] - s.mean) * (value[i] - s.mean);
  }
  s.sd = std::sqrt(s.sd);
  const auto quantile = [&](double p) {
    double lo = *std::min_element(value.begin(), value.end());
    double hi = *std::max_element(value.begin(), value.end());
    for (int k = 0; k < 40; ++k) {
      const double x = 0.5 * (lo + hi);
      double cdf = 0.0;
      for (std::size_t i = 0; i < n; ++i) {
        cdf += brute.weight[i] * cell_below(x, value[i], a[i], b[i]);
      }
      (cdf < p ? lo : hi) = x;
    }
    return 0.5 * (lo + hi);
  };
  s.lo = quantile(0.5 * (1.0 - level));
  s.median = quantile(0.5);
  s.hi = quantile(0.5 * (1.0 + level));
  return s;
}

// A sum of linear terms: bisection on the mixture's CDF.
Summary summary_of_terms(const Brute& brute, const std::vector<int>& terms, double level) {
  std::vector<double> m, sd;
  for (std::size_t i = 0; i < brute.weight.size(); ++i) {
    double mean = 0.0;
    double var = 0.0;
    for (const int a : terms) {
      mean += brute.mean[i](a);
      for (const int b : terms) {
        var += brute.covariance[i](a, b);
      }
    }
    m.push_back(mean);
    sd.push_back(std::sqrt(var));
  }
  Summary s{};
  for (std::size_t i = 0; i < m.size(); ++i) {
    s.mean += brute.weight[i] * m[i];
  }
  for (std::size_t i = 0; i < m.size(); ++i) {
    s.sd += brute.weight[i] * (sd[i] * sd[i] + (m[i] - s.mean) * (m[i] - s.mean));
  }
  s.sd = std::sqrt(s.sd);
  const auto quantile = [&](double p) {
    double lo = s.mean - 20.0 * s.sd;
    double hi = s.mean + 20.0 * s.sd;
    for (int k = 0; k < 40; ++k) {
      const double x = 0.5 * (lo + hi);
      double cdf = 0.0;
      for (std::size_t i = 0; i < m.size(); ++i) {
        cdf += brute.weight[i] * 0.5 * std::erfc(-(x - m[i]) / (sd[i] * std::numbers::sqrt2));
      }
      (cdf < p ? lo : hi) = x;
    }
    return 0.5 * (lo + hi);
  };
  s.lo = quantile(0.5 * (1.0 - level));
  s.median = quantile(0.5);
  s.hi = quantile(0.5 * (1.0 + level));
  return s;
}

// Everything within 1% of a posterior SD.
void expect_same(const Estimate& got, const Summary& want, const char* what) {
  const double tolerance = 0.01 * want.sd;
  EXPECT_NEAR(got.mean, want.mean, tolerance) << what;
  EXPECT_NEAR(got.sd, want.sd, tolerance) << what;
  EXPECT_NEAR(got.lo, want.lo, tolerance) << what;
  EXPECT_NEAR(got.median, want.median, tolerance) << what;
  EXPECT_NEAR(got.hi, want.hi, tolerance) << what;
}

enum Term { reaction, loss_first, loss_second, loss_third, loss_home, prone, bias_ak, bias_rb, second_stop };

PlayerData base_data() {
  PlayerData data;
  data.log_top_speed = {std::log(6.0), 0.09};
  data.log_time_constant = {std::log(0.95), 0.2};
  data.terms = {{0.32, 0.08}, {0.3, 0.15}, {0.3, 0.15}, {0.3, 0.15}, {0.2, 0.15},
                {0.8, 0.4},   {-0.1, 0.1}, {-0.1, 0.1}, {0.6, 0.3}};
  data.effort_cv = 0.02;
  data.day_cv = 0.015;
  data.reaction_sd_s = 0.05;
  return data;
}

std::uint64_t bit(Term term) {
  return std::uint64_t{1} << term;
}

void add_circuit(PlayerData& data, std::uint32_t day, const std::vector<double>& times, Term bias, bool second_watch,
                 const std::vector<double>& other = {}) {
  const double base = 18.288;
  const auto marks = [&](const std::vector<double>& t, Term b) {
    std::vector<MarkData> out;
    std::uint64_t terms = bit(reaction) | bit(b);
    const Term losses[] = {loss_first, loss_second, loss_third, loss_home};
    for (std::size_t k = 0; k < t.size(); ++k) {
      terms |= bit(losses[k]);
      out.push_back({base * static_cast<double>(k + 1), t[k], 0.07, terms});
    }
    return out;
  };
  data.add_run(day);
  data.add_reading(true, 0.0, 0.05, marks(times, bias));
  if (second_watch) {
    data.add_reading(true, 0.0, 0.05, marks(other, bias_rb));
  }
}

// A season's mixture: circuits by one and two watches on two days, a beam run, a self-started straight, a prone start
// with a `move` mark, home to second.
PlayerData rich_data() {
  PlayerData data = base_data();
  add_circuit(data, 1, {4.05, 8.02, 12.10, 16.31}, bias_ak, true, {4.11, 8.05, 12.22, 16.36});
  add_circuit(data, 1, {4.15, 8.22, 12.40, 16.51}, bias_ak, false);
  add_circuit(data, 1, {4.01, 8.00, 12.20, 16.21}, bias_ak, false);
  add_circuit(data, 2, {3.95, 7.92, 11.90, 16.01}, bias_ak, false);
  data.add_run(2);
  data.add_reading(false, 0.5, 0.0, std::vector<MarkData>{{10.0, 2.05, 0.015, 0}, {20.0, 3.75, 0.015, 0}});
  data.add_run(3);
  data.add_reading(false, 0.0, 0.06,
                   std::vector<MarkData>{{9.144, 2.15, 0.07, bit(bias_ak)}, {18.288, 3.72, 0.07, bit(bias_ak)}});
  data.add_run(3);
  data.add_reading(true, 0.0, 0.05,
                   std::vector<MarkData>{{0.0, 0.30, 0.07, bit(reaction) | bit(bias_ak)},
                                         {9.144, 3.35, 0.07, bit(reaction) | bit(bias_ak) | bit(prone)}});
  data.add_run(3);
  data.add_reading(
      true, 0.0, 0.05,
      std::vector<MarkData>{{18.288, 4.00, 0.07, bit(reaction) | bit(bias_rb) | bit(loss_first)},
                            {36.576, 8.30, 0.07, bit(reaction) | bit(bias_rb) | bit(loss_first) | bit(second_stop)}});
  return data;
}

void compare(const PlayerData& data, const std::vector<std::vector<int>>& sums, int points = 130) {
  const Posterior posterior(data);
  ASSERT_TRUE(posterior.usable()) << describe(posterior.status());
  // Zoom in from the whole prior until the grid spans seven SDs to each side.
  double mean[] = {data.log_top_speed.mean, data.log_time_constant.mean};
  double reach[] = {6.0 * data.log_top_speed.sd, 6.0 * data.log_time_constant.sd};
  Brute brute;
  for (int zoom = 0; zoom < 5; ++zoom) {
    const int n = zoom < 4 ? 30 : points;
    brute = brute_force(data, mean[0] - reach[0], mean[0] + reach[0], mean[1] - reach[1], mean[1] + reach[1], n);
    for (int k = 0; k < 2 && zoom < 4; ++k) {
      const std::vector<double>& value = k == 0 ? brute.v : brute.tau;
      double m = 0.0, m2 = 0.0;
      for (std::size_t i = 0; i < value.size(); ++i) {
        m += brute.weight[i] * std::log(value[i]);
      }
      for (std::size_t i = 0; i < value.size(); ++i) {
        m2 += brute.weight[i] * (std::log(value[i]) - m) * (std::log(value[i]) - m);
      }
      mean[k] = m;
      reach[k] = std::min(reach[k], 7.0 * std::max(std::sqrt(m2), reach[k] / 30.0));
    }
  }
  for (const double level : {0.5, 0.9, 0.99}) {
    const auto check = [&](auto&& function, const char* what) {
      std::vector<double> nodes;
      for (const Sprint& s : posterior.sprints()) {
        nodes.push_back(function(s));
      }
      expect_same(posterior.of_sprint(nodes, level, std::nullopt), summary_of(brute, function, level), what);
    };
    check([](const Sprint& s) { return s.top_speed_mps; }, "top speed");
    check([](const Sprint& s) { return s.time_constant_s; }, "time constant");
    check([](const Sprint& s) { return s.max_acceleration_mps2(); }, "acceleration");
    check([](const Sprint& s) { return time_to_distance(s, 9.144); }, "time to 10 yd");
    check([](const Sprint& s) { return time_to_distance(s, 20.0); }, "time to 20 m");
    check([](const Sprint& s) { return time_to_distance(s, 73.152); }, "time over the length of a circuit");
    for (const auto& terms : sums) {
      std::vector<std::uint32_t> index(terms.begin(), terms.end());
      expect_same(posterior.of_terms(index, level), summary_of_terms(brute, terms, level), "linear terms");
    }
  }
  EXPECT_NEAR(posterior.log_evidence(), brute.log_evidence, 0.002);
}

// Identity: the same integral by a fine grid and dense matrices.
TEST(Posterior, OneCircuitAgreesWithBruteForce) {
  PlayerData data = base_data();
  add_circuit(data, 1, {4.05, 8.02, 12.10, 16.31}, bias_ak, false);
  compare(data, {{reaction}, {loss_first}, {loss_home}, {loss_first, loss_second, loss_third, loss_home}, {bias_ak}});
}

// Identity: as above.
TEST(Posterior, ASeasonOfMixedRunsAgreesWithBruteForce) {
  compare(rich_data(), {{reaction}, {loss_first}, {prone}, {second_stop}, {reaction, bias_ak}, {bias_rb}});
}

// Identity: as above; many exchangeable runs exercise the within-group scatter.
TEST(Posterior, TenRunsOfFourMarksAgreeWithBruteForce) {
  PlayerData data = base_data();
  std::mt19937_64 engine(7);
  for (int i = 0; i < 10; ++i) {
    const auto noise = [&] { return 0.1 * (static_cast<double>(engine() >> 11) / 9007199254740992.0 - 0.5); };
    add_circuit(data, 1U + static_cast<unsigned>(i) / 4U,
                {4.0 + noise(), 7.9 + noise(), 12.0 + noise(), 16.2 + noise()}, bias_ak, false);
  }
  compare(data, {{reaction}, {loss_third}, {loss_first, loss_second, loss_third, loss_home}}, 130);
}

// Identity: as above; late slowing, the place behind a beam, the order of runs and the first run of an evening, which
// the sprint weighs.
TEST(Posterior, TermsThatTheSprintWeighsAgreeWithBruteForce) {
  PlayerData data = rich_data();
  const auto add = [&](Weigh by, const Normal& prior) {
    data.terms.push_back(prior);
    data.weighs.resize(data.terms.size() - 1, Weigh::full);
    data.weighs.push_back(by);
    return static_cast<int>(data.terms.size()) - 1;
  };
  data.late_slowing_per_s = 0.013;
  const int late = add(Weigh::late, {0.001, 0.006});
  const int beam = add(Weigh::beam, {0.0, 0.2});
  const int order = add(Weigh::order, {0.0, 0.01});
  const int first = add(Weigh::run, {0.005, 0.01});
  for (std::size_t i = 0; i < data.runs.size(); ++i) {
    data.runs[i].runs_before = static_cast<double>(i % 3);
    for (std::uint32_t r = 0; r < data.runs[i].reading_count; ++r) {
      const ReadingData& reading = data.readings[data.runs[i].first_reading + r];
      for (std::uint32_t j = 0; j < reading.mark_count; ++j) {
        MarkData& mark = data.marks[reading.first_mark + j];
        if (mark.distance_m > 0.0) {
          mark.terms |= std::uint64_t{1} << (i % 3 == 0 ? first : order);
          mark.terms |= mark.distance_m > 30.0 ? std::uint64_t{1} << late : 0;
          mark.terms |= reading.beam_m > 0.0 ? std::uint64_t{1} << beam : 0;
        }
      }
    }
  }
  compare(data, {{reaction}, {loss_first}, {loss_home}, {late}, {beam}, {order}, {first}});
}

// Identity: as above; strong data, where the posterior is a hundredth of the prior.
TEST(Posterior, PreciseGateSplitsAgreeWithBruteForce) {
  PlayerData data = base_data();
  data.effort_cv = 0.002;
  data.day_cv = 0.0;
  const Sprint truth{6.4, 1.02};
  for (int i = 0; i < 4; ++i) {
    std::vector<MarkData> marks;
    for (const double d : {5.0, 10.0, 20.0, 30.0, 40.0}) {
      marks.push_back({d, time_from_beam(truth, 0.3, d) * (1.0 + 0.0005 * (i - 1.5)), 0.004, 0});
    }
    data.add_run(1);
    data.add_reading(false, 0.3, 0.0, marks);
  }
  compare(data, {});
}

// Identity: weak data and a wide prior bend the posterior; the lattice must follow.
TEST(Posterior, ABentPosteriorAgreesWithBruteForce) {
  PlayerData data = base_data();
  data.log_top_speed.sd = 0.3;
  data.log_time_constant.sd = 0.6;
  data.add_run(1);
  data.add_reading(false, 0.0, 0.01, std::vector<MarkData>{{10.0, 2.35, 0.02, 0}});
  compare(data, {}, 400);
}

// Identity: without readings the posterior is the prior.
TEST(Posterior, WithoutReadingsItIsThePrior) {
  const PlayerData data = base_data();
  const Posterior posterior(data);
  ASSERT_EQ(posterior.status(), PosteriorStatus::converged);
  std::vector<double> v;
  for (const Sprint& s : posterior.sprints()) {
    v.push_back(s.top_speed_mps);
  }
  const double variance = prior_variance_of(data, [](const Sprint& s) { return s.top_speed_mps; });
  const Estimate e = posterior.of_sprint(v, 0.9, variance);
  EXPECT_DIGITS(e.median, 6.0, 4);
  EXPECT_DIGITS(e.lo, 6.0 * std::exp(-1.6448536269514722 * 0.09), 4);
  EXPECT_DIGITS(e.mean, 6.0 * std::exp(0.5 * 0.09 * 0.09), 6);
  EXPECT_DIGITS(variance, 36.0 * std::exp(0.0081) * (std::exp(0.0081) - 1.0), 4.5);
  EXPECT_NEAR(*e.share_from_data, 0.0, 1e-4);
  EXPECT_NEAR(posterior.log_evidence(), 0.0, 1e-4);
  EXPECT_FALSE(posterior.is_active(reaction));
}

// Identity: the order of runs, and a change of clock zero together with the bias's mean, change nothing.
TEST(Posterior, OrderOfRunsDoesNotMatter) {
  const PlayerData data = rich_data();
  PlayerData reversed = data;
  std::reverse(reversed.runs.begin(), reversed.runs.end());
  const Posterior a(data);
  const Posterior b(reversed);
  const std::uint32_t terms[] = {reaction};
  EXPECT_DIGITS(a.of_terms(terms, 0.9).mean, b.of_terms(terms, 0.9).mean, 9);
  EXPECT_DIGITS(a.log_evidence(), b.log_evidence(), 9);
}

// Identity: a prior sd of 0 fixes the term, and the answer is that of the same data with the term taken off by hand.
TEST(Posterior, AFixedBiasIsTakenOff) {
  PlayerData fixed = base_data();
  fixed.terms[bias_ak] = {0.12, 0.0};
  add_circuit(fixed, 1, {4.05, 8.02, 12.10, 16.31}, bias_ak, false);
  PlayerData by_hand = base_data();
  by_hand.terms[bias_ak] = {0.0, 0.0};
  add_circuit(by_hand, 1, {4.05 - 0.12, 8.02 - 0.12, 12.10 - 0.12, 16.31 - 0.12}, bias_ak, false);
  const std::uint32_t terms[] = {reaction};
  const Estimate a = Posterior(fixed).of_terms(terms, 0.9);
  const Estimate b = Posterior(by_hand).of_terms(terms, 0.9);
  EXPECT_DIGITS(a.mean, b.mean, 9);
  EXPECT_DIGITS(a.hi, b.hi, 7);
}

// Identity: a mixture's CDF is the sum of its normal CDFs; its quantiles are where that sum reaches the level.
TEST(Posterior, AMixturesQuantilesInvertItsCdf) {
  const double weights[] = {0.2, 0.5, 0.3};
  const double means[] = {3.9, 4.1, 4.4};
  const double sds[] = {0.1, 0.15, 0.12};
  for (double x = 3.0; x < 5.5; x += 0.013) {
    double exact = 0.0;
    for (int i = 0; i < 3; ++i) {
      exact += weights[i] * 0.5 * std::erfc(-(x - means[i]) / (sds[i] * std::numbers::sqrt2));
    }
    EXPECT_NEAR(mixture_below(weights, means, sds, x), exact, 1e-8) << x;
  }
  const Estimate e = summarise_mixture(weights, means, sds, 0.8);
  EXPECT_NEAR(mixture_below(weights, means, sds, e.lo), 0.1, 1e-7);
  EXPECT_NEAR(mixture_below(weights, means, sds, e.median), 0.5, 1e-7);
  EXPECT_NEAR(mixture_below(weights, means, sds, e.hi), 0.9, 1e-7);
  EXPECT_DIGITS(e.mean, 0.2 * 3.9 + 0.5 * 4.1 + 0.3 * 4.4, 14);
}

// Identity: what cannot be is refused.
TEST(Posterior, RefusesWhatCannotBe) {
  PlayerData data = base_data();
  data.add_run(1);
  data.add_reading(true, 0.0, 0.05, std::vector<MarkData>{{10.0, 2.0, 0.0, 0}});
  EXPECT_THROW(Posterior{data}, std::domain_error);
  data.marks[0] = {10.0, 2.0, 0.05, std::uint64_t{1} << 40};
  EXPECT_THROW(Posterior{data}, std::invalid_argument);
}

// Identity: what points past the end, or is not finite in a joint prior, is refused before anything reads it.
TEST(Posterior, RefusesWhatPointsPastTheEndOrIsNotFinite) {
  PlayerData good = base_data();
  good.terms = {{0.3, 0.05}};
  good.add_run(1);
  good.add_reading(true, 0.0, 0.05, std::vector<MarkData>{{10.0, 2.0, 0.05, 0b1}});
  const auto refused = [&](auto&& change, const std::string& part) {
    PlayerData data = good;
    change(data);
    try {
      validate(data);
    } catch (const std::logic_error& error) {
      EXPECT_NE(std::string(error.what()).find(part), std::string::npos) << error.what();
      return true;
    }
    return false;
  };
  EXPECT_FALSE(refused([](PlayerData&) {}, ""));
  EXPECT_TRUE(refused(
      [](PlayerData& d) {
        d.clear_readings();
        d.runs = {{0, 3, 0}};
      },
      "run 0 has 3 readings from 0 on, but there are 0"));
  EXPECT_TRUE(refused([](PlayerData& d) { d.runs[0].first_reading = 2; }, "run 0"));
  EXPECT_TRUE(refused([](PlayerData& d) { d.readings[0].mark_count = 2; }, "reading 0 has 2 marks"));
  EXPECT_TRUE(refused([](PlayerData& d) { d.readings[0].first_mark = 0xffffffffU; }, "reading 0"));
  EXPECT_TRUE(refused([](PlayerData& d) { d.term_slopes = {0.0, NAN}; }, "term_slopes[1]"));
  EXPECT_TRUE(refused([](PlayerData& d) { d.term_correlation = {INFINITY}; }, "term_correlation[0]"));
}

// Identity: the distribution of a function of the sprint takes its own quantiles to their levels, rises, and is 0 and 1
// far out.
TEST(Posterior, TheDistributionOfASprintsTimeIsThatOfItsQuantiles) {
  PlayerData data = base_data();
  data.add_run(1);
  data.add_reading(false, 0.0, 0.05, std::vector<MarkData>{{10.0, 2.2, 0.05, 0}});
  const Posterior posterior(data);
  std::vector<double> times;
  for (const Sprint& sprint : posterior.sprints()) {
    times.push_back(time_to_distance(sprint, 40.0));
  }
  const auto distribution = posterior.distribution_of_sprint(times);
  for (const double level : {0.5, 0.9, 0.99}) {
    const Estimate e = posterior.of_sprint(times, level, std::nullopt);
    EXPECT_NEAR(distribution.below(e.lo), 0.5 * (1.0 - level), 1e-6);
    EXPECT_NEAR(distribution.below(e.median), 0.5, 1e-6);
    EXPECT_NEAR(distribution.below(e.hi), 0.5 * (1.0 + level), 1e-6);
  }
  EXPECT_EQ(distribution.below(0.0), 0.0);
  EXPECT_NEAR(distribution.below(100.0), 1.0, 1e-9);
}

// An exact time at 10 m and one circuit by hand, under a wide prior: the ridge is narrow and turns, and a lattice laid
// along its middle is cut on both sides.
// Computed: the readings' density integrated over log T* at each of 400 values of log tau between which it has fallen
// by exp(-14): quantiles of tau at 5, 50, 95 %.
TEST(Posterior, ANarrowRidgeThatTurnsIsNotCut) {
  PlayerData data;
  data.log_top_speed = {std::log(6.0), 0.6};
  data.log_time_constant = {std::log(0.95), 1.0};
  data.terms = {{0.32, 0.08}, {0.35, 0.25}, {0.35, 0.25}, {0.35, 0.25}, {0.2, 0.25}, {0.0, 0.05}};
  data.effort_cv = 0.00145;
  data.day_cv = 0.000725;
  data.reaction_sd_s = 0.06;
  data.add_run(1);
  data.add_reading(false, 0.0, 0.0, std::vector<MarkData>{{10.0, 1.62020, 0.00168, 0}});
  data.add_run(1);
  data.add_reading(true, 0.0, 0.05,
                   std::vector<MarkData>{{18.288, 3.50165, 0.1, 35},
                                         {36.576, 6.39878, 0.1, 39},
                                         {54.864, 9.60805, 0.1, 47},
                                         {73.152, 12.23779, 0.1, 63}});
  const Posterior posterior(data);
  ASSERT_TRUE(posterior.usable());
  std::vector<double> tau;
  for (const Sprint& s : posterior.sprints()) {
    tau.push_back(s.time_constant_s);
  }
  const Estimate e = posterior.of_sprint(tau, 0.9, std::nullopt);
  EXPECT_NEAR(std::log(e.lo / 0.104), 0.0, 0.02);
  EXPECT_NEAR(std::log(e.median / 0.211), 0.0, 0.02);
  EXPECT_NEAR(std::log(e.hi / 0.334), 0.0, 0.02);
  EXPECT_NEAR(posterior.log_evidence(), -2.282, 0.01);
}

// Identity: a prior of any width leaves all to the readings: the answer is that of a merely wide one, and all of it is
// from the data. One whose middle no player can have is answered or refused, but ends.
TEST(Posterior, APriorOfAnyWidthEndsInAnAnswer) {
  PlayerData data;
  data.log_top_speed = {std::log(6.0), 10.0};
  data.log_time_constant = {std::log(0.95), 10.0};
  data.effort_cv = 0.002;
  const Sprint truth{6.4, 1.02};
  data.add_run(1);
  std::vector<MarkData> marks;
  for (const double d : {5.0, 10.0, 20.0, 30.0, 40.0}) {
    marks.push_back({d, time_to_distance(truth, d), 0.01, 0});
  }
  data.add_reading(false, 0.0, 0.0, marks);
  const auto top_speed = [](const PlayerData& of) {
    const Posterior posterior(of);
    EXPECT_TRUE(posterior.usable());
    std::vector<double> v;
    for (const Sprint& s : posterior.sprints()) {
      v.push_back(s.top_speed_mps);
    }
    return posterior.of_sprint(
        v, 0.9, prior_variance_of(of, [](const Sprint& s) { return s.top_speed_mps * time_to_distance(s, 20.0); }));
  };
  const Estimate wide = top_speed(data);
  data.log_top_speed.sd = data.log_time_constant.sd = 1e6;
  const Estimate widest = top_speed(data);
  EXPECT_DIGITS(widest.median, wide.median, 4);
  EXPECT_DIGITS(widest.sd, wide.sd, 3);
  EXPECT_DIGITS(*widest.share_from_data, 1.0, 6);
  data.log_top_speed = {1e6, 0.1};
  EXPECT_NO_THROW(Posterior{data});
}

}  // namespace
