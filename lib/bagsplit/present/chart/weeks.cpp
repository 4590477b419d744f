#include "bagsplit/present/chart/weeks.hpp"

#include <algorithm>

#include "bagsplit/runs/typed.hpp"

namespace bagsplit::present::chart {

namespace {

double day_of(runs::Date date) {
  return static_cast<double>(date.time_since_epoch().count());
}

// Month and day of each date with runs, those left out that would run into each other; or the first of each month.
text::Markup dates_axis(const std::vector<runs::Date>& dates, bool months, const Scale& x, double bottom) {
  text::Markup out = line({x.from, bottom}, {x.to, bottom}, "ink");
  double free_from = -100.0;
  std::string last;
  for (const runs::Date date : dates) {
    const double at = x.at(day_of(date));
    out += line({at, bottom}, {at, bottom + 4.0}, "ink");
    constexpr double room = 38.0;
    const std::string words = months ? runs::format_date(date).substr(0, 7) : runs::format_date(date).substr(5);
    if (at >= free_from && words != last) {
      out += label({at, bottom + 16.0}, words, Anchor::middle, "small");
      free_from = at + (months ? 1.4 : 1.0) * room;
      last = words;
    }
  }
  return out + label({x.to, bottom + 29.0}, months ? "year-month" : "month-day", Anchor::end, "small");
}

// The mean of a window, over the dates it holds.
text::Markup mean_part(const std::optional<double>& mean_s, const std::optional<jobs::WindowSummary>& window,
                       const Scale& x, const Scale& y) {
  if (!mean_s || !window) {
    return {};
  }
  const double from = x.within(day_of(window->span.from)) - 8.0;
  const double to = x.within(day_of(window->span.to)) + 8.0;
  const double at = y.at(*mean_s);
  return line({from, at}, {to, at}, "curve") + dot({0.5 * (from + to), at});
}

}  // namespace

text::Markup weeks(const Caption& caption, const jobs::SeasonTrend& result, const jobs::SeasonPlayer& player,
                   bool months) {
  constexpr double left = 38.0, right = 346.0, top = 22.0, bottom = 180.0;
  std::vector<runs::Date> dates;
  std::vector<double> values;
  for (const jobs::TrendTime& time : player.times) {
    dates.push_back(time.date);
    values.push_back(time.time_s);
  }
  std::sort(dates.begin(), dates.end());
  dates.erase(std::unique(dates.begin(), dates.end()), dates.end());
  const double noise_s = result.one_run_noise_s.value_or(0.0);
  const bool has_band = player.mean_early_s && noise_s > 0.0;
  if (has_band) {
    values.insert(values.end(), {*player.mean_early_s - noise_s, *player.mean_early_s + noise_s});
  }
  const Scale y = scale_over(values, bottom, top);
  const double room = std::max(2.0, 0.06 * (day_of(dates.back()) - day_of(dates.front())));
  const Scale x{day_of(dates.front()) - room, day_of(dates.back()) + room, left, right};
  text::Markup out;
  if (has_band) {
    const double a = y.at(*player.mean_early_s + noise_s);
    const double b = y.at(*player.mean_early_s - noise_s);
    out +=
        box({left, a}, {right, b}, "band") + line({left, a}, {right, a}, "edge") + line({left, b}, {right, b}, "edge");
  }
  out += left_axis(y, left, right, "s", 6) + dates_axis(dates, months, x, bottom);
  for (const jobs::TrendTime& time : player.times) {
    out += cross({x.at(day_of(time.date)), y.at(time.time_s)});
  }
  out += mean_part(player.mean_early_s, result.early, x, y) + mean_part(player.mean_late_s, result.late, x, y);
  return drawing(caption, bottom + 34.0, out);
}

}  // namespace bagsplit::present::chart
