#pragma once

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <limits>
#include <random>
#include <vector>

#include "bagsplit/record/detail/same_runs.hpp"

/// Invented evenings: children one after another, recorders who each miss runs, mistype bibs and press late.
namespace bagsplit::test {

/// A value in [0, 1), the same on every platform.
inline double uniform(std::mt19937_64& draw) {
  return static_cast<double>(draw() >> 11U) * 0x1.0p-53;
}
inline double uniform(std::mt19937_64& draw, double low, double high) {
  return low + (high - low) * uniform(draw);
}
inline double normal(std::mt19937_64& draw, double mean, double sd) {
  const double u = 1.0 - uniform(draw);
  return mean + sd * std::sqrt(-2.0 * std::log(u)) * std::cos(2.0 * 3.14159265358979323846 * uniform(draw));
}
inline std::size_t below(std::mt19937_64& draw, std::size_t n) {
  return std::min(n - 1, static_cast<std::size_t>(uniform(draw) * static_cast<double>(n)));
}

struct SprintingChild {
  double top_mps = 0.0, constant_s = 0.0, reaction_s = 0.0, day = 1.0;
};

/// Children of 7 to 14 years.
inline std::vector<SprintingChild> sprinting_children(std::mt19937_64& draw, std::size_t n) {
  std::vector<SprintingChild> out(n);
  for (SprintingChild& child : out) {
    const double age = uniform(draw, 7.2, 13.8);
    const double boy = uniform(draw) < 0.5 ? 1.0 : 0.0;
    child.top_mps = (5.0 + 0.16 * (age - 8.0) + 0.12 * boy) * std::exp(normal(draw, 0.0, 0.075));
    child.constant_s = std::max(0.5, 0.92 * std::exp(normal(draw, 0.0, 0.15)));
    child.reaction_s = std::max(0.15, 0.30 + normal(draw, 0.0, 0.06));
    child.day = std::exp(normal(draw, 0.0, 0.012));
  }
  return out;
}

/// When a child is at a distance: v(t) = V (1 - exp(-t/tau)).
inline double sprint_s(const SprintingChild& child, double metres) {
  double t = metres / child.top_mps + child.constant_s;
  for (int k = 0; k < 30; ++k) {
    const double e = std::exp(-t / child.constant_s);
    t -= (child.top_mps * (t - child.constant_s * (1.0 - e)) - metres) / (child.top_mps * (1.0 - e));
  }
  return t;
}

enum class RunOrder : std::uint8_t { rounds, back_to_back, random };

struct RecordedEvening {
  std::size_t children = 60;
  std::size_t recorders = 2;
  RunOrder order = RunOrder::rounds;
  double miss = 0.02, wrong_bib = 0.01, swap = 0.005, watch_sd_s = 0.06, late = 0.005;
  bool clock = false;
  std::vector<double> marks_m{18.288};
};

struct Recorded {
  std::vector<std::uint32_t> who;                             ///< by run: the child, from 1
  std::vector<std::vector<record::detail::WatchEntry>> logs;  ///< by recorder
  std::vector<std::vector<std::size_t>> run_of;               ///< the true run of each entry
};

inline Recorded recorded_evening(std::uint64_t seed, const RecordedEvening& plan) {
  std::mt19937_64 draw(seed);
  const auto children = sprinting_children(draw, plan.children);
  std::vector<std::size_t> order;
  for (std::size_t k = 0; k < 2 * plan.children; ++k) {
    order.push_back(plan.order == RunOrder::back_to_back ? k / 2 : k % plan.children);
  }
  if (plan.order == RunOrder::random) {
    for (std::size_t round = 0; round < 2; ++round) {
      for (std::size_t k = plan.children; k > 1; --k) {
        std::swap(order[round * plan.children + k - 1], order[round * plan.children + below(draw, k)]);
      }
    }
  }
  const double bias_s[] = {-0.15, -0.05, 0.10};
  Recorded out;
  out.logs.resize(plan.recorders);
  out.run_of.resize(plan.recorders);
  double now_s = 0.0;
  for (std::size_t run = 0; run < order.size(); ++run) {
    const SprintingChild& child = children[order[run]];
    const double form = child.day * std::exp(normal(draw, 0.0, 0.018));
    const double begin_s = child.reaction_s + normal(draw, 0.0, 0.04) + 0.04;
    now_s += uniform(draw, 15.0, 35.0);
    out.who.push_back(static_cast<std::uint32_t>(order[run] + 1));
    for (std::size_t w = 0; w < plan.recorders; ++w) {
      if (uniform(draw) < plan.miss) {
        continue;
      }
      record::detail::WatchEntry entry;
      entry.bib =
          uniform(draw) < plan.wrong_bib ? static_cast<std::uint32_t>(1 + below(draw, plan.children)) : out.who.back();
      const double press_s = normal(draw, 0.0, plan.watch_sd_s / std::sqrt(2.0));
      for (std::size_t k = 0; k < plan.marks_m.size(); ++k) {
        double time_s = sprint_s(child, plan.marks_m[k]) * form + begin_s + bias_s[w] + press_s +
                        normal(draw, 0.0, plan.watch_sd_s / std::sqrt(2.0));
        time_s += uniform(draw) < plan.late ? std::fabs(normal(draw, 0.0, 0.5)) : 0.0;
        entry.times.push_back(
            {static_cast<std::uint32_t>(plan.marks_m[k] * 1000.0), std::round(100.0 * time_s) / 100.0});
      }
      if (plan.clock) {  // a delay of Gamma(2, 3 s) and six seconds, as the sum of two exponentials
        const double delay_s = -3.0 * std::log((1.0 - uniform(draw)) * (1.0 - uniform(draw)));
        entry.clock_s = now_s + entry.times.back().time_s + 6.0 + delay_s + 40.0 * static_cast<double>(w);
      }
      out.logs[w].push_back(std::move(entry));
      out.run_of[w].push_back(run);
    }
  }
  for (std::size_t w = 0; w < plan.recorders; ++w) {
    for (std::size_t k = 0; k + 1 < out.logs[w].size(); ++k) {
      if (uniform(draw) < plan.swap) {
        std::swap(out.logs[w][k], out.logs[w][k + 1]);
        std::swap(out.run_of[w][k], out.run_of[w][k + 1]);
        ++k;
      }
    }
  }
  return out;
}

}  // namespace bagsplit::test
