#include "bagsplit/present/chart/speed_curve.hpp"

#include <algorithm>

#include "bagsplit/present/profile_quantities.hpp"

namespace bagsplit::present::chart {

namespace {

// The middle speed at a time, between the points of the curve; 0 at first move.
double speed_at(const std::vector<jobs::SpeedAt>& curve, double time_s) {
  jobs::SpeedAt before;
  for (const jobs::SpeedAt& at : curve) {
    if (at.time_s >= time_s) {
      const double share = (time_s - before.time_s) / (at.time_s - before.time_s);
      return before.speed_mps.median + share * (at.speed_mps.median - before.speed_mps.median);
    }
    before = at;
  }
  return curve.back().speed_mps.median;
}

}  // namespace

text::Markup speed_curve(const Caption& caption, const jobs::PlayerProfile& player) {
  constexpr double left = 30.0, right = 350.0, top = 22.0, bottom = 168.0;
  constexpr double kmh = 3.6;  // of 1 m/s: what families know from the road
  double most = 0.0;
  for (const jobs::SpeedAt& at : player.speed_curve) {
    most = std::max(most, kmh * at.speed_mps.hi);
  }
  const Scale x{0.0, player.speed_curve.back().time_s, left, right};
  const Scale y{0.0, 1.06 * most, bottom, top};
  std::vector<Spot> low{{x.at(0.0), y.at(0.0)}};
  std::vector<Spot> middle = low;
  std::vector<Spot> high = low;
  for (const jobs::SpeedAt& at : player.speed_curve) {
    low.push_back({x.at(at.time_s), y.at(kmh * at.speed_mps.lo)});
    middle.push_back({x.at(at.time_s), y.at(kmh * at.speed_mps.median)});
    high.push_back({x.at(at.time_s), y.at(kmh * at.speed_mps.hi)});
  }
  text::Markup out = area_between(high, low, "band edge");
  out += left_axis(y, left, right, "km/h", 6) + bottom_axis(x, bottom, bottom, "seconds after the first move", 7);
  out += curve(middle, "curve");
  for (const char* distance : {"10m", "20m", "30m"}) {
    const jobs::Estimate* time = find_estimate(player.predicted_time_s, distance);
    if (time != nullptr && time->median < x.high) {
      const double at = x.at(time->median);
      out += line({at, y.at(kmh * speed_at(player.speed_curve, time->median))}, {at, bottom}, "mark");
      out += label({at + 4.0, bottom - 6.0}, quantity_name("predicted_time_s." + std::string(distance)).member,
                   Anchor::start, "small");
    }
  }
  return drawing(caption, bottom + 32.0, out);
}

}  // namespace bagsplit::present::chart
