#include "bagsplit/present/chart/agreement.hpp"

#include "bagsplit/text/number_text.hpp"

namespace bagsplit::present::chart {

text::Markup agreement(const Caption& caption, const jobs::TimersPair& pair) {
  constexpr double left = 40.0, right = 296.0, top = 22.0, bottom = 190.0;
  const stats::Agreement& a = *pair.agreement;
  std::vector<double> means;
  std::vector<double> differences{0.0, a.lower_limit_interval.lo, a.upper_limit_interval.hi};
  for (const jobs::TimersPoint& point : pair.points) {
    means.push_back(point.mean_s);
    differences.push_back(point.difference_s);
  }
  const Scale x = scale_over(means, left, right);
  const Scale y = scale_over(differences, bottom, top);
  text::Markup out;
  for (const stats::Interval& known : {a.lower_limit_interval, a.bias_interval, a.upper_limit_interval}) {
    out += box({left, y.at(known.hi)}, {right, y.at(known.lo)}, "band");
  }
  out += left_axis(y, left, right, "difference, s", 6) + bottom_axis(x, bottom, bottom, "mean of the two, s", 6);
  out += line({left, y.at(0.0)}, {right, y.at(0.0)}, "ink");
  const auto across = [&](double value, const char* words, text::Literal style) {
    out += line({left, y.at(value)}, {right, y.at(value)}, style);
    out += label({right + 4.0, y.at(value) + 4.0}, std::string(words) + " " + text::signed_fixed(value, 2),
                 Anchor::start, "small");
  };
  across(a.limits.hi, "limit", "mark");
  across(a.bias, "bias", "curve");
  across(a.limits.lo, "limit", "mark");
  for (const jobs::TimersPoint& point : pair.points) {
    out += cross({x.at(point.mean_s), y.at(point.difference_s)});
  }
  return drawing(caption, bottom + 32.0, out);
}

}  // namespace bagsplit::present::chart
