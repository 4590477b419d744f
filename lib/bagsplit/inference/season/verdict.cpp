#include "bagsplit/inference/season/verdict.hpp"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <numeric>

#include "bagsplit/stats/distributions.hpp"

namespace bagsplit::season {

namespace {

constexpr double sure_p = 0.90;
constexpr double false_share = 0.05;
constexpr double probable_p = 0.75;
constexpr double leaning_p = 0.50;
constexpr double growth_p = 0.90;

double larger(const Judged& child) {
  return std::max(child.p_faster, child.p_slower);
}

/// Children in the largest set of the highest p whose mean 1 - p is small enough.
std::vector<bool> sure_set(std::span<const Judged> children) {
  std::vector<std::size_t> order(children.size());
  std::iota(order.begin(), order.end(), std::size_t{0});
  std::stable_sort(order.begin(), order.end(),
                   [&](std::size_t a, std::size_t b) { return larger(children[a]) > larger(children[b]); });
  std::size_t largest = 0;
  double sum = 0.0;
  for (std::size_t i = 0; i < order.size(); ++i) {
    sum += 1.0 - larger(children[order[i]]);
    if (sum <= false_share * static_cast<double>(i + 1)) {
      largest = i + 1;
    }
  }
  std::vector<bool> sure(children.size(), false);
  for (std::size_t i = 0; i < largest; ++i) {
    sure[order[i]] = larger(children[order[i]]) >= sure_p;
  }
  return sure;
}

}  // namespace

std::string_view words(Verdict verdict) {
  switch (verdict) {
    case Verdict::surely_faster:
      return "surely faster";
    case Verdict::surely_slower:
      return "surely slower";
    case Verdict::probably_faster:
      return "probably faster";
    case Verdict::probably_slower:
      return "probably slower";
    case Verdict::leaning_faster:
      return "leaning faster";
    case Verdict::leaning_slower:
      return "leaning slower";
    case Verdict::as_growth_says:
      return "as growth says";
    case Verdict::no_sign:
      return "no sign";
    case Verdict::not_seen_early_and_late:
      break;
  }
  return "not seen early and late";
}

std::vector<Verdict> verdicts(std::span<const Judged> children) {
  const auto sure = sure_set(children);
  std::vector<Verdict> out;
  out.reserve(children.size());
  for (std::size_t i = 0; i < children.size(); ++i) {
    const auto& child = children[i];
    const bool faster = child.p_faster >= child.p_slower;
    const double p = larger(child);
    if (sure[i]) {
      out.push_back(faster ? Verdict::surely_faster : Verdict::surely_slower);
    } else if (!child.seen_early_and_late) {
      out.push_back(Verdict::not_seen_early_and_late);
    } else if (p >= probable_p) {
      out.push_back(faster ? Verdict::probably_faster : Verdict::probably_slower);
    } else if (p >= leaning_p) {
      out.push_back(faster ? Verdict::leaning_faster : Verdict::leaning_slower);
    } else {
      out.push_back(child.p_as_growth >= growth_p ? Verdict::as_growth_says : Verdict::no_sign);
    }
  }
  return out;
}

double detectable_change(double information, double share_changed, double size, double weight, double power) {
  const double var = size * size / (1.0 + size * size * information);
  const double need = std::log(probable_p / (1.0 - probable_p)) + std::log((1.0 - share_changed) / share_changed) +
                      0.5 * std::log1p(size * size * information) - 0.5 * std::log(weight);
  return std::sqrt(std::max(2.0 * need, 0.0) / var) / information +
         stats::normal_quantile(power) / std::sqrt(information);
}

double information_to_tell(double change, double share_changed, double size, double weight, double power) {
  double low = 1e-9 / (size * size), high = 1e12 / (change * change);
  for (int i = 0; i < 200 && high > low * (1.0 + 1e-12); ++i) {
    const double middle = std::sqrt(low * high);
    (detectable_change(middle, share_changed, size, weight, power) > change ? low : high) = middle;
  }
  return high;
}

}  // namespace bagsplit::season
