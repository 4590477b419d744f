#include "bagsplit/present/chart/own_diamond.hpp"

#include <algorithm>
#include <array>

#include "bagsplit/present/detail/child_answer.hpp"
#include "bagsplit/text/number_text.hpp"

namespace bagsplit::present::chart {

namespace {

struct Corner {
  std::string_view what;  ///< the bag at the end of the side
  Spot at, times, cost;
  Anchor times_anchor, cost_anchor;
};
constexpr Spot home_plate{180.0, 186.0};
constexpr std::array corners = std::to_array<Corner>({
    {"first", {290.0, 104.0}, {306.0, 108.0}, {252.0, 170.0}, Anchor::start, Anchor::start},
    {"second", {180.0, 22.0}, {200.0, 16.0}, {252.0, 50.0}, Anchor::start, Anchor::start},
    {"third", {70.0, 104.0}, {54.0, 108.0}, {108.0, 50.0}, Anchor::end, Anchor::end},
    {"home", home_plate, {200.0, 200.0}, {108.0, 170.0}, Anchor::start, Anchor::end},
});

text::Markup own_side(const Spot& a, const Spot& b, const jobs::Marked& mark) {
  constexpr double thin = 2.0;
  constexpr double units_a_second = 60.0;
  constexpr double thickest = 30.0;
  const double cost = std::max(0.0, mark.cost_s.value_or(0.0));
  const bool known = mark.mark != jobs::Mark::unknown && mark.cost_s;
  return text::element("line", {{"x1", a.x},
                                {"y1", a.y},
                                {"x2", b.x},
                                {"y2", b.y},
                                {"stroke-width", std::min(thickest, thin + units_a_second * (known ? cost : 0.0))},
                                {"class", !known                          ? "side dashed"
                                          : mark.mark == jobs::Mark::work ? "side win"
                                                                          : "side"}});
}

text::Markup own_bag(const Spot& at) {
  constexpr double half = 8.0;
  return area({{at.x, at.y - half}, {at.x + half, at.y}, {at.x, at.y + half}, {at.x - half, at.y}}, "bag");
}

}  // namespace

text::Markup own_diamond(const Caption& caption, const jobs::PlayerProfile& player,
                         const std::optional<jobs::OwnLap>& lap) {
  text::Markup sides;
  text::Markup words;
  Spot from = home_plate;
  for (const Corner& corner : corners) {
    for (std::size_t k = 0; k < jobs::marked_quantities.size(); ++k) {
      if (jobs::marked_quantities[k].what != corner.what) {
        continue;
      }
      const jobs::Marked& mark = player.marks[k];
      sides += own_side(from, corner.at, mark);
      if (mark.mark != jobs::Mark::unknown && mark.cost_s) {
        const std::string cost = "+" + text::fixed(std::max(0.0, *mark.cost_s), 2);
        words += mark.mark == jobs::Mark::work ? label(corner.cost, cost, corner.cost_anchor, "strong")
                                               : label(corner.cost, cost, corner.cost_anchor);
      }
    }
    if (lap) {
      const double time = corner.what == "first"    ? lap->first_s
                          : corner.what == "second" ? lap->second_s
                          : corner.what == "third"  ? lap->third_s
                                                    : lap->home_s;
      words += label(corner.times, text::fixed(time, 2), corner.times_anchor, "strong");
    }
    from = corner.at;
  }
  text::Markup bags;
  for (const Corner& corner : corners) {
    bags += own_bag(corner.at);
  }
  return drawing(caption, 204.0, sides + bags + words);
}

text::Markup own_weeks(const Caption& caption, const jobs::OwnTimes& times) {
  constexpr double left = 38.0, right = 346.0, top = 22.0, bottom = 160.0;
  std::vector<double> values;
  runs::Date first = times.runs.front().date;
  runs::Date last = first;
  for (const jobs::OwnRun& run : times.runs) {
    values.push_back(run.time_s);
    first = std::min(first, run.date);
    last = std::max(last, run.date);
  }
  const auto day = [](runs::Date date) { return static_cast<double>(date.time_since_epoch().count()); };
  const double room = std::max(2.0, 0.06 * (day(last) - day(first)));
  const Scale y = scale_over(values, top, bottom);  // less time is higher
  const Scale x{day(first) - room, day(last) + room, left, right};
  text::Markup out = left_axis(y, left, right, "s", 5) + line({left, bottom}, {right, bottom}, "ink");
  for (const jobs::OwnRun& run : times.runs) {
    out += line({x.at(day(run.date)), bottom}, {x.at(day(run.date)), bottom + 4.0}, "ink");
    out += dot({x.at(day(run.date)), y.at(run.time_s)}, true);
  }
  out += label({x.at(day(first)), bottom + 17.0}, day_words(first), first == last ? Anchor::middle : Anchor::start);
  out += first == last ? text::Markup() : label({x.at(day(last)), bottom + 17.0}, day_words(last), Anchor::end);
  return drawing(caption, bottom + 24.0, out);
}

}  // namespace bagsplit::present::chart
