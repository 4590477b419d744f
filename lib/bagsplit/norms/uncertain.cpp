#include "bagsplit/norms/uncertain.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <sstream>
#include <stdexcept>

#include "bagsplit/stats/distributions.hpp"

namespace bagsplit::norms {

namespace {

// Gauss-Legendre, 16 points on [-1, 1], positive half. Source: Abramowitz & Stegun (1964), table 25.4.
constexpr std::array<double, 8> node = {0.0950125098376374, 0.2816035507792589, 0.4580167776572274, 0.6178762444026438,
                                        0.7554044083550030, 0.8656312023878318, 0.9445750230732326, 0.9894009349916499};
constexpr std::array<double, 8> node_weight = {0.1894506104550685, 0.1826034150449236, 0.1691565193950025,
                                               0.1495959888165767, 0.1246289712555339, 0.0951585116824928,
                                               0.0622535239386479, 0.0271524594117541};

// Time at which the CDF reaches p, by bisection with secant steps (Illinois form); monotone, so always bracketed.
template <typename Cdf>
double quantile(const Cdf& cdf, double p, double lo, double hi) {
  double f_lo = cdf(lo) - p;
  double f_hi = cdf(hi) - p;
  if (f_lo >= 0.0) {
    return lo;
  }
  if (f_hi <= 0.0) {
    return hi;
  }
  int side = 0;
  for (int i = 0; i < 200 && hi - lo > 1e-12 * std::max(1.0, std::abs(hi)); ++i) {
    double middle = (i % 4 == 3) ? 0.5 * (lo + hi) : (lo * f_hi - hi * f_lo) / (f_hi - f_lo);
    if (!(middle > lo && middle < hi)) {
      middle = 0.5 * (lo + hi);
    }
    const double f = cdf(middle) - p;
    if (f == 0.0) {
      return middle;
    }
    if (f < 0.0) {
      lo = middle;
      f_lo = f;
      f_hi = side == -1 ? 0.5 * f_hi : f_hi;
      side = -1;
    } else {
      hi = middle;
      f_hi = f;
      f_lo = side == 1 ? 0.5 * f_lo : f_lo;
      side = 1;
    }
  }
  return 0.5 * (lo + hi);
}

// With g the percentile of a time (falling) and F the distribution of the time between a and b,
//   E[g] = g(b) + int_a^b F(t) (-g'(t)) dt,   E[g^2] = g(b)^2 + int_a^b 2 g(t) F(t) (-g'(t)) dt.
template <typename Cdf>
PercentileSummary summarise(const Reference& reference, const Cdf& cdf, double from_s, double to_s, double narrowest_s,
                            double level) {
  const double tiny = std::numeric_limits<double>::min();
  const double a = std::max(from_s, 1e-3);
  const double b = std::max(to_s, a + tiny);
  const auto place = [&](double time_s) { return *reference.percentile_of_time(time_s); };

  PercentileSummary out;
  const double tail = 0.5 * (1.0 - level);
  out.lo = place(quantile(cdf, 1.0 - tail, a, b));
  out.median = place(quantile(cdf, 0.5, a, b));
  out.hi = place(quantile(cdf, tail, a, b));

  // Panel by panel, none across a jump of the density; nothing moves outside the limits.
  std::vector<double> edges = {a};
  for (const double kink : reference.kinks_s()) {
    if (kink > edges.back() && kink < b) {
      edges.push_back(kink);
    }
  }
  edges.push_back(b);
  const double base = place(b);
  const double step = std::max(2.0 * narrowest_s, (b - a) / 64.0);
  double first = 0.0;
  double second = 0.0;
  for (std::size_t edge = 1; edge < edges.size(); ++edge) {
    const double start = edges[edge - 1];
    const double width = edges[edge] - start;
    if (reference.percentile_density(start + 0.5 * width) == 0.0) {
      continue;
    }
    const int panels = std::max(1, static_cast<int>(std::ceil(width / step)));
    const double half = 0.5 * width / panels;
    for (int panel = 0; panel < panels; ++panel) {
      const double centre = start + half * (2.0 * panel + 1.0);
      for (std::size_t i = 0; i < node.size(); ++i) {
        for (const double sign : {-1.0, 1.0}) {
          const double t = centre + sign * half * node[i];
          const double mass = node_weight[i] * half * cdf(t) * reference.percentile_density(t);
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
  out.share_at_limit = (fastest ? cdf(*fastest) : 0.0) + (slowest ? 1.0 - cdf(*slowest) : 0.0);
  return out;
}

void check(const Reference& reference, double level) {
  if (!(level > 0.0 && level < 1.0)) {
    std::ostringstream text;
    text << "percentile_of: level is " << level << ", but must be in (0, 1)";
    throw std::domain_error(text.str());
  }
  if (!reference.percentile_of_time(reference.median_s())) {
    throw std::invalid_argument("percentile_of: this reference gives only words");
  }
}

}  // namespace

PercentileSummary percentile_of(const Reference& reference, std::span<const Component> time, double level) {
  check(reference, level);
  double total = 0.0;
  for (const Component& c : time) {
    if (!(c.weight >= 0.0) || !std::isfinite(c.weight) || !std::isfinite(c.mean_s) || !(c.sd_s >= 0.0) ||
        !std::isfinite(c.sd_s)) {
      throw std::domain_error("percentile_of: a component is not finite, or has a negative weight or SD");
    }
    total += c.weight;
  }
  if (!(total > 0.0)) {
    throw std::invalid_argument("percentile_of: the weights of the components are all 0");
  }
  constexpr double reach = 6.5;  // SDs; 4e-11 lies beyond on each side
  double from_s = std::numeric_limits<double>::infinity();
  double to_s = -std::numeric_limits<double>::infinity();
  double mean = 0.0;
  double square = 0.0;
  for (const Component& c : time) {
    if (c.weight > 0.0) {
      from_s = std::min(from_s, c.mean_s - reach * c.sd_s);
      to_s = std::max(to_s, c.mean_s + reach * c.sd_s);
      mean += c.weight / total * c.mean_s;
    }
  }
  for (const Component& c : time) {
    square += c.weight / total * (c.sd_s * c.sd_s + (c.mean_s - mean) * (c.mean_s - mean));
  }
  if (!(from_s > 0.0)) {
    from_s = 1e-3;
  }
  const auto cdf = [&](double t) {
    double sum = 0.0;
    for (const Component& c : time) {
      if (c.weight > 0.0) {
        sum += c.weight * (c.sd_s > 0.0 ? stats::normal_cdf((t - c.mean_s) / c.sd_s) : (t >= c.mean_s ? 1.0 : 0.0));
      }
    }
    return sum / total;
  };
  double narrowest = std::sqrt(square);
  for (const Component& c : time) {
    // A part with little weight cannot spoil the sum, so it does not set the step.
    if (c.weight > 1e-3 * total) {
      narrowest = std::min(narrowest, c.sd_s);
    }
  }
  if (std::sqrt(square) == 0.0) {
    PercentileSummary sure;
    sure.mean = sure.lo = sure.median = sure.hi = *reference.percentile_of_time(mean);
    const auto [lowest, highest] = reference.limits();
    sure.share_at_limit = sure.mean <= lowest || sure.mean >= highest ? 1.0 : 0.0;
    return sure;
  }
  return summarise(reference, cdf, from_s, to_s, narrowest, level);
}

PercentileSummary percentile_of(const Reference& reference, const std::function<double(double)>& cdf, double from_s,
                                double to_s, double level) {
  check(reference, level);
  if (!(from_s > 0.0) || !(to_s > from_s) || !std::isfinite(to_s)) {
    throw std::domain_error("percentile_of: from_s and to_s must be finite with 0 < from_s < to_s");
  }
  return summarise(reference, cdf, from_s, to_s, (to_s - from_s) / 24.0, level);
}

}  // namespace bagsplit::norms
