#include "bagsplit/norms/uncertain.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <sstream>
#include <stdexcept>
#include <vector>

namespace bagsplit::norms {

namespace {

// Gauss-Legendre, 6 points on [-1, 1], positive half. Source: Abramowitz & Stegun (1964), table 25.4.
constexpr std::array<double, 3> node = {0.238619186083197, 0.661209386466265, 0.932469514203152};
constexpr std::array<double, 3> node_weight = {0.467913934572691, 0.360761573048139, 0.171324492379170};
constexpr int fewest_panels = 12;  // an SD each, of a normal
constexpr double least_s = 1e-3;   // a reference knows no time of 0

// Ends of the panels: none may cross a jump of the reference's density.
std::vector<double> edges_of(const Reference& reference, double from_s, double to_s) {
  std::vector<double> edges = {from_s};
  for (const double kink : reference.kinks_s()) {
    if (kink > edges.back() && kink < to_s) {
      edges.push_back(kink);
    }
  }
  edges.push_back(to_s);
  return edges;
}

}  // namespace

PercentileSummary percentile_of(const Reference& reference, const UncertainTime& time) {
  if (!std::isfinite(time.from_s) || !std::isfinite(time.to_s) || !(time.from_s <= time.to_s)) {
    std::ostringstream text;
    text << "percentile_of: the time lies between " << time.from_s << " and " << time.to_s
         << ", but these must be finite and ascending";
    throw std::domain_error(text.str());
  }
  if (!reference.percentile_of_time(reference.median_s())) {
    throw std::invalid_argument("percentile_of: this reference gives only words");
  }
  const auto place = [&](double time_s) { return *reference.percentile_of_time(std::max(time_s, least_s)); };
  PercentileSummary out;
  out.lo = place(time.hi_s);
  out.median = place(time.median_s);
  out.hi = place(time.lo_s);

  // With g the percentile of a time (falling) and F the distribution of the time between a and b,
  //   E[g] = g(b) + int_a^b F(t) (-g'(t)) dt,   E[g^2] = g(b)^2 + int_a^b 2 g(t) F(t) (-g'(t)) dt.
  const double from_s = std::max(time.from_s, least_s);
  const double to_s = std::max(time.to_s, from_s);
  const double base = place(to_s);
  double first = 0.0;
  double second = 0.0;
  const std::vector<double> edges = edges_of(reference, from_s, to_s);
  for (std::size_t edge = 1; edge < edges.size(); ++edge) {
    const double start = edges[edge - 1];
    const double width = edges[edge] - start;
    if (!(width > 0.0) || reference.percentile_density(start + 0.5 * width) == 0.0) {
      continue;  // nothing moves outside the limits
    }
    const int panels = std::max(1, static_cast<int>(std::ceil(width / (to_s - from_s) * fewest_panels)));
    const double half = 0.5 * width / panels;
    for (int panel = 0; panel < panels; ++panel) {
      const double centre = start + half * (2.0 * panel + 1.0);
      for (std::size_t i = 0; i < node.size(); ++i) {
        for (const double sign : {-1.0, 1.0}) {
          const double t = centre + sign * half * node[i];
          const double mass = node_weight[i] * half * time.below(t) * reference.percentile_density(t);
          first += mass;
          second += mass * 2.0 * place(t);
        }
      }
    }
  }
  out.mean = base + first;
  out.sd = std::sqrt(std::max(0.0, base * base + second - out.mean * out.mean));
  const auto [lowest, highest] = reference.limits();
  const auto fastest = reference.time_at_percentile(highest);
  const auto slowest = reference.time_at_percentile(lowest);
  out.share_at_limit = (fastest ? time.below(*fastest) : 0.0) + (slowest ? 1.0 - time.below(*slowest) : 0.0);
  return out;
}

}  // namespace bagsplit::norms
