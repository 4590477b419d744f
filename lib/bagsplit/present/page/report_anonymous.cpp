#include <algorithm>
#include <cmath>
#include <numeric>
#include <set>
#include <tuple>

#include "bagsplit/jobs/profile/advice.hpp"
#include "bagsplit/present/page/detail/report_parts.hpp"
#include "bagsplit/runs/typed.hpp"
#include "bagsplit/text/text.hpp"

namespace bagsplit::present {

namespace {

using runs::Date;

void to_whole_years(std::optional<double>& age_years) {
  age_years = age_years ? std::optional(std::floor(*age_years)) : std::nullopt;
}

// "girls of 10 years" for "girls of 10.2 years".
std::string in_whole_years(std::string sentence) {
  constexpr std::string_view years = " years";
  for (std::size_t at = sentence.find(years); at != std::string::npos; at = sentence.find(years, at + 1)) {
    if (at >= 3 && sentence[at - 2] == '.' && text::is_digit(sentence[at - 3]) && text::is_digit(sentence[at - 1])) {
      sentence.erase(at -= 2, 2);
    }
  }
  return sentence;
}

// In the order of the codes: that of the ids would give them away.
class CodeOrder {
 public:
  explicit CodeOrder(const runs::Disguise& disguise) : disguise_(disguise) {}

  const std::string& code(const std::string& mark) const {
    const auto found = disguise_.labels.find(mark);
    return found == disguise_.labels.end() ? mark : found->second;
  }

  // @param key  of an element, before its code.
  template <typename Elements, typename Key>
  void sort(Elements& elements, const Key& key) const {
    std::sort(elements.begin(), elements.end(), [&](const auto& a, const auto& b) {
      return std::tuple(key(a), code(a.player)) < std::tuple(key(b), code(b.player));
    });
  }
  template <typename Elements>
  void sort(Elements& elements) const {
    sort(elements, [](const auto&) { return 0; });
  }
  void sort_ids(std::vector<std::string>& ids) const {
    std::sort(ids.begin(), ids.end(), [&](const auto& a, const auto& b) { return code(a) < code(b); });
  }

  // "No run alone of 3, 7 and 12": each list of players in a sentence.
  void sort_lists(std::vector<std::string>& sentences) const {
    for (std::string& sentence : sentences) {
      std::vector<std::size_t> places;
      for (std::size_t at = 0; at < sentence.size();) {
        const std::size_t size = runs::player_mark_at(sentence, at).size();
        if (size > 0 && (places.empty() || !goes_on(sentence, places.back() + size, at))) {
          sort_list(sentence, places, size);
          places.clear();
        }
        if (size > 0) {
          places.push_back(at);
        }
        at += std::max<std::size_t>(size, 1);
      }
      sort_list(sentence, places, places.empty() ? 0 : runs::player_mark_at(sentence, places.front()).size());
    }
  }

 private:
  static bool goes_on(const std::string& sentence, std::size_t from, std::size_t to) {
    const std::string between = sentence.substr(from, to - from);
    return between == ", " || between == " and " || between == ", and ";
  }

  void sort_list(std::string& sentence, const std::vector<std::size_t>& places, std::size_t size) const {
    std::vector<std::string> marks;
    for (const std::size_t at : places) {
      marks.push_back(sentence.substr(at, size));
    }
    sort_ids(marks);
    for (std::size_t k = 0; k < places.size(); ++k) {
      sentence.replace(places[k], size, marks[k]);
    }
  }

  const runs::Disguise& disguise_;
};

// Days spread evenly over each month, for drawing: they tell the order of the dates and no more.
class SpreadDates {
 public:
  explicit SpreadDates(const jobs::SeasonTrend& trend) {
    for (const jobs::SeasonPlayer& player : trend.players) {
      for (const jobs::TrendTime& time : player.times) {
        dates_.insert(time.date);
      }
    }
  }

  Date operator()(Date date) const {
    const std::chrono::year_month_day day(date);
    const Date first(day.year() / day.month() / 1);
    const auto from = dates_.lower_bound(first);
    const auto to = dates_.lower_bound(Date(day.year() / day.month() / std::chrono::last) + std::chrono::days(1));
    const auto count = std::distance(from, to);
    const auto before = std::distance(from, dates_.lower_bound(std::max(date, first)));
    return first + std::chrono::days(count == 0 ? 0 : 28 * (2 * std::min(before, count - 1) + 1) / (2 * count));
  }

 private:
  std::set<Date> dates_;
};

void hide(jobs::SeasonTrend& trend, const CodeOrder& order) {
  const SpreadDates spread(trend);
  const auto to_hundredths = [](double& value) { value = std::round(100.0 * value) / 100.0; };
  for (jobs::SeasonPlayer& player : trend.players) {
    to_whole_years(player.age_first_years);
    to_whole_years(player.age_last_years);
    for (jobs::TrendTime& time : player.times) {
      time.date = spread(time.date);
    }
    if (player.change) {  // to the last digit it is the age
      to_hundredths(player.change->growth_s.mean);
      to_hundredths(player.change->growth_s.sd);
    }
  }
  for (auto* window : {&trend.early, &trend.late}) {
    if (*window) {
      (*window)->span = {spread((*window)->span.from), spread((*window)->span.to)};
    }
  }
  for (jobs::SeasonSuspect& suspect : trend.suspects) {
    suspect.date = spread(suspect.date);
  }
  order.sort(trend.players);
  std::sort(trend.suspects.begin(), trend.suspects.end(),
            [&](const auto& a, const auto& b) { return order.code(a.reading.player) < order.code(b.reading.player); });
  order.sort_lists(trend.notes);
}

void hide(jobs::StandingsResult& standings, const CodeOrder& order) {
  for (jobs::Standing& player : standings.players) {
    to_whole_years(player.age_years);
  }
  order.sort(standings.players, [](const jobs::Standing& player) { return std::pair(player.group, player.place); });
  order.sort(standings.not_ranked);
  order.sort(standings.flagged, [](const jobs::FlaggedRuns& player) { return player.valid_runs; });
  order.sort(standings.next_runs, [](const jobs::MoreRuns& more) { return -static_cast<double>(more.runs); });
  order.sort_ids(standings.first_run);
  order.sort_lists(standings.notes);
}

void hide(jobs::PlayerProfile& player) {
  to_whole_years(player.age_years);
  for (jobs::ProfilePercentile& percentile : player.percentiles) {
    percentile.why = in_whole_years(std::move(percentile.why));
  }
  player.max_force_n.reset();  // these three together are the weight
  player.max_power_w.reset();
  player.max_power_w_per_kg.reset();
  player.prior_source.clear();  // to the last digit it is the age
  for (std::size_t k = 0; k < jobs::change_quantity; ++k) {
    if (!jobs::marked_quantities[k].at_bag) {  // held against the age
      player.marks[k].cost_s.reset();
      player.marks[k].give_or_take_s.reset();
    }
  }
  player.work_on = jobs::work_on(player);
}

// The month of a date at this place; empty where there is none.
std::string_view month_at(std::string_view text, std::size_t at) {
  constexpr std::string_view form = "dddd-dd-dd";
  const std::string_view date = text.substr(at, form.size());
  const auto digit = [&](std::size_t k) { return k < text.size() && text::is_digit(text[k]); };
  if (date.size() < form.size() || digit(at + form.size()) || (at > 0 && digit(at - 1))) {
    return {};
  }
  for (std::size_t k = 0; k < form.size(); ++k) {
    if (form[k] == '-' ? date[k] != '-' : !text::is_digit(date[k])) {
      return {};
    }
  }
  return date.substr(0, 7);
}

}  // namespace

Report as_shown(const Report& report) {
  Report out = report;
  if (!out.disguise) {
    return out;
  }
  const CodeOrder order(*out.disguise);
  std::vector<std::size_t> sorted(out.profile.players.size());
  std::iota(sorted.begin(), sorted.end(), std::size_t{0});
  std::sort(sorted.begin(), sorted.end(), [&](std::size_t a, std::size_t b) {
    return order.code(out.profile.players[a].player) < order.code(out.profile.players[b].player);
  });
  for (std::size_t k = 0; k < sorted.size(); ++k) {
    out.profile.players[k] = report.profile.players[sorted[k]];
    hide(out.profile.players[k]);
    order.sort_lists(out.profile.players[k].notes);
    if (!out.own.empty()) {
      out.own[k] = report.own.at(sorted[k]);
    }
    if (!out.paths.empty()) {
      out.paths[k] = report.paths.at(sorted[k]);
      if (out.paths[k]) {
        to_whole_years(out.paths[k]->question.runner.age_years);
      }
    }
  }
  order.sort_lists(out.profile.notes);
  if (out.trend) {
    hide(*out.trend, order);
  }
  if (out.standings) {
    hide(*out.standings, order);
  }
  if (out.relay) {
    order.sort_ids(out.relay->uncertified);
    order.sort_lists(out.relay->notes);
  }
  return out;
}

std::string as_shown(const Report& report, const std::string& text) {
  if (!report.disguise) {
    return text;
  }
  const std::string labelled = runs::replace_marks(text, report.disguise->labels);
  std::string out;
  for (std::size_t at = 0; at < labelled.size();) {
    const std::string_view month = month_at(labelled, at);
    if (month.empty()) {
      out += labelled[at++];
      continue;
    }
    const std::string before = std::string(month) + " to ";  // of two dates of one month one is enough
    if (out.ends_with(before)) {
      out.resize(out.size() - before.size());
    }
    out += month;
    at += 10;
  }
  return out;
}

}  // namespace bagsplit::present
