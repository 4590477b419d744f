#include "bagsplit/present/chart/diamond.hpp"

#include <algorithm>
#include <cmath>

#include "bagsplit/present/detail/path_drawing.hpp"
#include "bagsplit/present/profile_quantities.hpp"
#include "bagsplit/text/number_text.hpp"

namespace bagsplit::present::chart {

namespace {

text::Markup bags_part(const jobs::PathPlan& plan, const Ground& ground) {
  const double b = plan.question.base_distance_m;
  text::Markup out = area({ground.at(0, 0), ground.at(b, 0), ground.at(b, b), ground.at(0, b)}, "grid hollowed");
  for (const auto& outline : bag_outlines(plan.question, ground, 8.0)) {
    out += area(outline, "bag");
  }
  for (const BagPlace& place : bag_places(b)) {
    const auto reached = std::find_if(plan.answer.bags.begin(), plan.answer.bags.end(),
                                      [&](const auto& one) { return one.bag == place.bag; });
    const Spot s = ground.at(place.x_m, place.y_m);
    const std::string name = place.bag;
    const std::string time = reached == plan.answer.bags.end() ? "" : text::fixed(reached->time_s, 1) + " s";
    // Beyond the bag and the band.
    const Anchor anchor = name == "first" ? Anchor::end : name == "third" ? Anchor::start : Anchor::middle;
    const double x = name == "first" ? width - 2.0 : name == "third" ? 2.0 : s.x;
    const double y = name == "home" ? s.y + 30.0 : name == "second" ? s.y - 36.0 : s.y - 2.0;
    out += label({x, y}, name, anchor, "strong") + (time.empty() ? text::Markup() : label({x, y + 14.0}, time, anchor));
  }
  return out;
}

text::Markup seconds_part(const jobs::PathPlan& plan, const Ground& ground) {
  text::Markup out;
  for (int second = 1; second < plan.path.back().time_s; ++second) {
    const basepath::PathPoint p = at_time(plan.path, second);
    const Spot s = ground.at(p);
    const Spot r = right_of(p);
    out += line({s.x - 7.0 * r.x, s.y - 7.0 * r.y}, {s.x + 7.0 * r.x, s.y + 7.0 * r.y}, "ink");
  }
  return out;
}

// Inside the diamond beside the middle of each leg: what is lost there.
text::Markup losses_part(const jobs::PathPlan& plan, const jobs::PlayerProfile& player, const Ground& ground) {
  text::Markup out;
  const auto places = bag_places(plan.question.base_distance_m);
  const auto place_of = [&](const std::string& bag) {
    return *std::find_if(places.begin(), places.end(), [&](const BagPlace& p) { return p.bag == bag; });
  };
  const double centre = 0.5 * plan.question.base_distance_m;
  for (std::size_t leg = 0; leg < plan.answer.legs.size(); ++leg) {
    const std::string key = loss_key(player, leg);
    const jobs::Estimate* loss = find_estimate(player.segment_loss_s, key);
    if (loss == nullptr) {
      continue;
    }
    const BagPlace a = place_of(plan.answer.legs[leg].from);
    const BagPlace b = place_of(plan.answer.legs[leg].to);
    constexpr double inwards = 0.36;  // of the way from the middle of the leg to the middle of the diamond
    const Spot at = ground.at((1.0 - inwards) * 0.5 * (a.x_m + b.x_m) + inwards * centre,
                              (1.0 - inwards) * 0.5 * (a.y_m + b.y_m) + inwards * centre);
    out += label({at.x, at.y}, text::signed_fixed(loss->median, 2) + " s" + (mostly_prior(*loss) ? " *" : ""),
                 Anchor::middle, "strong");
    out += label({at.x, at.y + 13.0}, text::fixed(loss->lo, 2) + " to " + text::fixed(loss->hi, 2), Anchor::middle,
                 "small");
  }
  return out;
}

}  // namespace

std::string loss_key(const jobs::PlayerProfile& player, std::size_t leg) {
  return leg < player.loss_to_best_path_by_segment_s.size() ? player.loss_to_best_path_by_segment_s[leg].name
                                                            : std::string();
}

text::Markup diamond(const Caption& caption, const jobs::PathPlan& plan, const jobs::PlayerProfile& player) {
  constexpr double height = 330.0;
  const Ground ground({&plan.path}, plan.question.base_distance_m, {54.0, 44.0}, {width - 54.0, height - 50.0});
  text::Markup out = area(speed_band(plan.path, ground, 1.5, 9.0, 7.0), "band edge");
  out += bags_part(plan, ground);
  return drawing(caption, height, out + seconds_part(plan, ground) + losses_part(plan, player, ground));
}

}  // namespace bagsplit::present::chart
