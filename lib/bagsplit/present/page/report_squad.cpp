#include <algorithm>
#include <cmath>
#include <tuple>

#include "bagsplit/jobs/profile/marks.hpp"
#include "bagsplit/present/chart/agreement.hpp"
#include "bagsplit/present/chart/intervals.hpp"
#include "bagsplit/present/detail/squad_answer.hpp"
#include "bagsplit/present/detail/squad_parts.hpp"
#include "bagsplit/present/page/detail/report_parts.hpp"
#include "bagsplit/present/profile_parts.hpp"
#include "bagsplit/present/profile_quantities.hpp"
#include "bagsplit/present/season_report.hpp"
#include "bagsplit/present/text/profile_text.hpp"
#include "bagsplit/stats/distributions.hpp"
#include "bagsplit/text/number_text.hpp"
#include "bagsplit/text/wording.hpp"

namespace bagsplit::present {

using chart::IntervalRow;
using jobs::Estimate;
using jobs::PlayerProfile;

namespace {

constexpr std::size_t most_bag_charts = 40;  // players; beyond, the table of losses is read by row
constexpr std::size_t most_timer_charts = 4;

// The rows cut into charts of a page each, on one axis.
text::Markup interval_charts(const std::vector<IntervalRow>& rows, chart::IntervalChart drawn, const std::string& title,
                             const std::string& desc, Page& page) {
  text::Markup out;
  if (!drawn.values) {
    drawn.values = chart::shared_axis(rows);
  }
  for (std::size_t from = 0; from < rows.size(); from += rows_a_chart) {
    const std::size_t to = std::min(rows.size(), from + rows_a_chart);
    drawn.rows.assign(rows.begin() + static_cast<std::ptrdiff_t>(from), rows.begin() + static_cast<std::ptrdiff_t>(to));
    const std::string part =
        rows.size() > rows_a_chart ? ", " + drawn.rows.front().label + " to " + drawn.rows.back().label : "";
    out += chart::intervals(page.caption(title + part, desc), drawn);
  }
  return out;
}

text::Markup mark_cell(const jobs::Marked& mark) {
  const bool work = mark.mark == jobs::Mark::work;
  const bool good = mark.mark == jobs::Mark::good;
  const char* sign = work                                ? "\xE2\x97\x86"
                     : good                              ? "\xE2\x97\x8B"
                     : mark.mark == jobs::Mark::ordinary ? "\xC2\xB7"
                                                         : "?";
  return text::element("td",
                       {{"class", work   ? "w"
                                  : good ? "g"
                                         : ""}},
                       text::element("span", {{"aria-hidden", "true"}}, sign + mark_number(mark)) +
                           text::element("span", {{"class", "heard"}}, mark_sentence(mark)));
}

// A row a child, a rule where another group begins.
text::Markup grid_part(const Report& report, const SquadAnswer& answer) {
  text::Markup head = text::element("th", {{"scope", "col"}}, text::element("span", {{"class", "heard"}}, "player"));
  for (const std::size_t column : answer.timed) {
    head += text::element("th", {{"scope", "col"}}, std::string(jobs::marked_quantities[column].heading));
  }
  text::Markup rows;
  std::optional<jobs::MarkGroup> group;
  for (const std::size_t k : answer.order) {
    const PlayerProfile& player = report.profile.players[k];
    const jobs::MarkGroup own = jobs::group_of(player, answer.timed);
    text::Markup cells = text::element("th", {{"scope", "row"}}, text::isolated(shown_name(report, player.player)));
    for (const std::size_t column : answer.timed) {
      cells += mark_cell(player.marks[column]);
    }
    rows += text::element("tr", {{"class", group != own ? "rule" : ""}}, cells);
    group = own;
  }
  text::Markup key;
  for (const auto& [sign, words, style] :
       {std::tuple{"\xE2\x97\x86", " surely time to win", "w"}, std::tuple{"\xE2\x97\x8B", " sure strength", ""},
        std::tuple{"\xC2\xB7", " ordinary, or too close to say", ""}, std::tuple{"?", " not known yet", ""}}) {
    key += text::element("li", text::element("span", {{"class", style}}, sign) + words);
  }
  const text::Markup caption = text::element(
      "caption", {{"class", "heard"}}, "The players by what was timed, those with most time to win first. Seconds.");
  return text::element("table", {{"class", "marks"}},
                       caption + text::element("thead", text::element("tr", head)) + text::element("tbody", rows)) +
         text::element("ul", {{"class", "key"}}, key) +
         text::element("p", {{"class", "small"}},
                       "Seconds: at a bag, beyond the child's own best way round; elsewhere, beside what is usual in "
                       "this squad at that age.");
}

std::string in_one_line(const std::vector<std::string>& sentences) {
  std::string out;
  for (const std::string& sentence : sentences) {
    out += (out.empty() ? "" : " ") + sentence;
  }
  return out;
}

text::Markup answer_part(const SquadAnswer& answer) {
  text::Markup list;
  for (const auto& [term, sentences] : {std::pair{"Tonight", &answer.tonight}, std::pair{"Run next", &answer.next},
                                        std::pair{"Sheets", &answer.sheets}}) {
    list += text::element("dt", term) + text::element("dd", in_one_line(*sentences));
  }
  text::Markup items;
  for (const ToDo& one : answer.to_do) {
    items += text::element("li", text::element("b", text::joined(one.players) + ": ") + one.words);
  }
  return text::element("dl", {{"class", "say"}}, list) +
         section("What to do", text::element("ul", items) +
                                   text::element("p", {{"class", "small"}},
                                                 "The drills are common practice; no study of them is held."));
}

text::Markup running_part(const Report& report, Page& page) {
  const jobs::ProfileResult& result = report.profile;
  const Headline first = headline(result.players);
  HtmlTable table({{"player", ""},
                   {"age", "yr"},
                   {"runs", ""},
                   {"reaction", "s"},
                   {"first acceleration", "m/s2"},
                   {"top speed", "m/s"},
                   {first.heading, "s"}});
  std::vector<IntervalRow> rows;
  for (const PlayerProfile& player : result.players) {
    const std::string name = shown_name(report, player.player);
    table.begin_row(text::isolated(name));
    table.number(text::told_age(player.age_years), report.disguise ? 0 : 1);
    table.count(player.runs_used);
    table.estimate(pointer(player.reaction_s), 2, player.reaction_holds_timer_bias);
    table.estimate(first_acceleration_for_page(player) ? pointer(first_acceleration(report.profile, player)) : nullptr,
                   1);
    table.estimate(pointer(player.top_speed_mps), 2);
    const Estimate* time = find_estimate(player.predicted_time_s, first.key);
    table.estimate(time, 2);
    if (time != nullptr) {
      rows.push_back(chart::interval_row(name, *time, 2));
    }
  }
  if (report.places) {
    std::stable_sort(rows.begin(), rows.end(),
                     [](const IntervalRow& a, const IntervalRow& b) { return a.middle < b.middle; });
  }
  text::Markup out;
  if (!rows.empty()) {
    Figure time;
    time.title = first.heading == "20 m" ? "Time over 20 m" : "Time from home to first";
    chart::IntervalChart drawn;
    drawn.unit = "seconds";
    time.chart = interval_charts(
        rows, drawn, time.title,
        "A dot and a bar for each player; further left is faster. The numbers are in the table below.", page);
    time.says = "Each dot is the time to expect of a player, " + first.words + "; the bar is its " +
                text::percent(result.level) + " interval.";
    time.cannot =
        "who is surely faster than whom: the bars hold what a timer does to all alike, so players whose bars overlap "
        "may still be surely in an order. "
        "The page of an evaluation day compares them pair by pair.";
    out += text::element("div", {{"class", "wide"}}, figure(time, 3));
  } else {
    out += text::element("p", "No run tells a speed, so there is nothing to draw here.");
  }
  out += heading_at(3, "All players") + table.str("All players");
  std::vector<std::string> small{"Medians, with " + text::percent(result.level) + " intervals beside them. " +
                                 first.heading + ": " + first.words + "."};
  const auto legend = table.legend();
  small.insert(small.end(), legend.begin(), legend.end());
  return out + paragraphs(small, "small");
}

// Everybody's losses on the way to one bag.
Figure losses_figure(const Report& report, const std::string& key, const std::vector<IntervalRow>& rows,
                     const chart::Scale& axis, Page& page) {
  const QuantityName name = quantity_name("segment_loss_s." + key);
  Figure bag;
  bag.title = "On the way to " + name.member;
  chart::IntervalChart drawn;
  drawn.unit = "seconds lost";
  drawn.values = axis;
  drawn.reference = 0.0;
  drawn.values->low = std::min(drawn.values->low, 0.0);
  bag.chart = interval_charts(
      rows, drawn, bag.title,
      "A dot and a bar for each player; the broken line is no loss. The numbers are in the table below.", page);
  const auto sure = std::count_if(rows.begin(), rows.end(), [](const IntervalRow& row) { return row.lo > 0.0; });
  bag.says =
      sure == 0
          ? "Nobody surely loses time here against a straight sprint: no bar lies wholly right of the broken line."
          : std::to_string(sure) + " of " + text::counted(rows.size(), "player") + " surely " +
                (sure == 1 ? "loses" : "lose") +
                " time here against a straight sprint: bars wholly right of the broken line.";
  std::size_t compared = 0;
  std::size_t beyond = 0;
  for (const PlayerProfile& player : report.profile.players) {
    if (const Estimate* excess = find_estimate(player.loss_to_best_path_by_segment_s, key)) {
      ++compared;
      beyond += excess->lo > 0.0 ? 1U : 0U;
    }
  }
  if (compared > 0) {
    bag.says += " " + (beyond == 0 ? std::string("Nobody") : std::to_string(beyond)) + " surely " +
                (beyond < 2 ? "loses" : "lose") + " more than the best path does.";
  }
  return bag;
}

text::Markup losses_part(const Report& report, Page& page) {
  const jobs::ProfileResult& result = report.profile;
  std::vector<std::string> keys;
  for (const std::string_view key : circuit_segments) {
    keys.emplace_back(key);
  }
  for (const PlayerProfile& player : result.players) {
    for (const jobs::NamedEstimate& loss : player.segment_loss_s) {
      add_once(keys, loss.name);
    }
  }
  std::erase_if(keys, [&](const std::string& key) {
    return std::none_of(result.players.begin(), result.players.end(), [&](const PlayerProfile& player) {
      return find_estimate(player.segment_loss_s, key) != nullptr;
    });
  });
  if (keys.empty()) {
    return {};
  }
  std::vector<HtmlTable::Column> columns{{"player", ""}};
  std::vector<std::vector<IntervalRow>> rows(keys.size());
  std::vector<IntervalRow> all;
  for (const std::string& key : keys) {
    columns.push_back({quantity_name("segment_loss_s." + key).member, "s"});
  }
  HtmlTable table(columns);
  for (const PlayerProfile& player : result.players) {
    if (player.segment_loss_s.empty()) {
      continue;
    }
    table.begin_row(text::isolated(shown_name(report, player.player)));
    for (std::size_t k = 0; k < keys.size(); ++k) {
      const Estimate* loss = find_estimate(player.segment_loss_s, keys[k]);
      table.estimate(loss, 2);
      if (loss != nullptr) {
        rows[k].push_back(chart::interval_row(shown_name(report, player.player), *loss, 2));
        all.push_back(rows[k].back());
      }
    }
  }
  text::Markup charts;
  for (std::size_t k = 0; k < keys.size() && result.players.size() <= most_bag_charts; ++k) {
    charts += figure(losses_figure(report, keys[k], rows[k], chart::shared_axis(all), page), 3);
  }
  text::Markup out = text::element(
      "p", {{"class", "intro"}},
      "What rounding and turning cost on the way to each bag, against a straight sprint over the same distance.");
  out += charts.empty() ? charts : text::element("div", {{"class", "charts"}}, charts);
  out += text::element(
      "p", {{"class", "cannot"}},
      text::element("b", "Not told: ") +
          "how much of it a better path would save; that is on a child's own page. A bar across the broken "
          "line may be no loss at all.");
  return out + heading_at(3, "Losses of all players") + table.str("Losses of all players") +
         paragraphs(table.legend(), "small");
}

// How each child stood among its age at first and at last, at its age then.
std::optional<Figure> places_figure(const Report& report, const norms::Catalogue& references) {
  HtmlTable table({{"player", ""},
                   {"over", "", true},
                   {"at first", "percentile"},
                   {"at last", "percentile"},
                   {"z at first", ""},
                   {"z at last", ""}});
  for (const PlayerProfile& player : report.profile.players) {
    const jobs::ProfilePercentile* shown = shown_percentile(player, references);
    if (shown == nullptr || shown->over_dates.size() < 2) {
      continue;
    }
    const jobs::PlaceThen& first = shown->over_dates.front();
    const jobs::PlaceThen& last = shown->over_dates.back();
    table.begin_row(text::isolated(shown_name(report, player.player)));
    table.text(shown->quantity);
    for (const jobs::RangeThen& place : {first.percentile, last.percentile}) {
      table.interval(place.median, place.lo, place.hi, 0);
    }
    for (const std::optional<jobs::RangeThen>& place : {first.z, last.z}) {
      place ? table.interval(place->median, place->lo, place->hi, 1) : table.text("");
    }
  }
  if (table.empty()) {
    return std::nullopt;
  }
  Figure out;
  out.title = "Among children of the same age over the weeks";
  out.says =
      "Growing is in the reference as well: who keeps pace with the children of its age keeps its percentile. z: 0 is "
      "the "
      "middle, above 0 faster; two in three children lie between -1 and 1. None stands where a reference ends.";
  out.cannot =
      "who changed: both ends of a row share the child's own level, so a move is told better under Across weeks.";
  out.table = table.str(out.title);
  return out;
}

text::Markup norms_part(const Report& report, const norms::Catalogue& references, Page& page) {
  HtmlTable table({{"player", ""}, {"over", "", true}, {"percentile", ""}, {"among", "", true}});
  std::vector<IntervalRow> rows;
  std::vector<std::string> words;
  Grouped without;
  for (const PlayerProfile& player : report.profile.players) {
    const std::string name = shown_name(report, player.player);
    const jobs::ProfilePercentile* shown = shown_percentile(player, references);
    if (shown == nullptr) {
      if (!player.percentiles.empty()) {
        without.add(player.percentiles.front().why, name);
      }
      continue;
    }
    page.used(shown->source);
    if (!shown->percentile) {
      words.push_back(name + ": " + band_words(*shown) + ". This reference allows only words.");
      continue;
    }
    table.begin_row(text::isolated(name));
    table.text(shown->quantity);
    table.estimate(&*shown->percentile, 0);
    table.text(shown->label);
    rows.push_back(chart::interval_row(name, *shown->percentile, 0));
  }
  text::Markup out;
  if (!rows.empty()) {
    Figure places;
    places.title = "Percentile for age and sex";
    chart::IntervalChart drawn;
    drawn.unit = "percentile (100 is the fastest)";
    drawn.values = chart::Scale{0.0, 100.0, 0.0, 1.0};
    drawn.band = {25.0, 75.0};
    drawn.mark_words = "middle half of children";
    places.chart = interval_charts(
        rows, drawn, places.title,
        "A dot and a bar for each player on a scale from 0 to 100, the middle half of children shaded.", page);
    places.says = "60 means faster than 60 of 100 children of the same age and sex, measured as that reference was.";
    places.cannot =
        "how children of this club or country would compare; each reference is of the children it measured.";
    places.table = table.str(places.title);
    out += text::element("div", {{"class", "wide"}}, figure(places, 3));
  }
  if (const auto over_weeks = places_figure(report, references)) {
    out += text::element("div", {{"class", "wide"}}, figure(*over_weeks, 3));
  }
  out += bullets(words);
  for (const Grouped::Group& group : without.groups()) {
    out += text::element("p", {{"class", "small"}},
                         "No percentile for " + text::joined(group.players) + ": " + group.sentence);
  }
  return out;
}

text::Markup timers_part(const Report& report, Page& page) {
  if (!report.timers) {
    return {};
  }
  text::Markup out;
  for (const Figure& one : timers_figures(*report.timers, page)) {
    out += figure(one, 3);
  }
  return out.empty() ? out : text::element("div", {{"class", "charts"}}, out);
}

}  // namespace

std::optional<Figure> changes_figure(const Report& report, Page& page) {
  if (!report.trend || !report.trend->worthwhile_s) {
    return std::nullopt;
  }
  const jobs::SeasonTrend& trend = *report.trend;
  std::vector<IntervalRow> rows;
  HtmlTable table({{"player", ""}, {"change", "s"}, {"growing alone", "s"}, {"verdict", "", true}});
  for (const jobs::SeasonPlayer& player : trend.players) {
    if (!player.change || player.change->verdict == season::Verdict::not_seen_early_and_late) {
      continue;
    }
    const std::string name = shown_name(report, player.player);
    const season::Change& change = *player.change;
    const stats::Interval& between = change.interval_s;
    rows.push_back({name, between.lo, std::clamp(change.change_s, between.lo, between.hi), between.hi,
                    text::signed_fixed(change.change_s, 2)});
    table.begin_row(text::isolated(name));
    table.interval(change.change_s, between.lo, between.hi, 2);
    table.number(change.growth_s.mean, 2);
    table.text(player.verdict);
  }
  if (rows.empty()) {
    return std::nullopt;
  }
  Figure out;
  out.title = "Change from the first to the last evenings, " + trend_words(trend);
  chart::IntervalChart drawn;
  drawn.unit = "seconds; left of the band is faster";
  drawn.band = {-*trend.worthwhile_s, *trend.worthwhile_s};
  drawn.mark_words = "too small to matter";
  drawn.values = chart::shared_axis(rows);
  drawn.values->low = std::min(drawn.values->low, -1.2 * *trend.worthwhile_s);
  drawn.values->high = std::max(drawn.values->high, 1.2 * *trend.worthwhile_s);
  out.chart =
      interval_charts(rows, drawn, out.title,
                      "A dot and a bar for each player; the shaded band holds changes too small to matter.", page);
  std::vector<std::string> said;
  bool slower = false;
  using season::Verdict;
  for (const Verdict verdict :
       {Verdict::surely_faster, Verdict::surely_slower, Verdict::probably_faster, Verdict::probably_slower,
        Verdict::leaning_faster, Verdict::leaning_slower, Verdict::as_growth_says, Verdict::no_sign}) {
    const auto n = std::count_if(trend.players.begin(), trend.players.end(), [&](const jobs::SeasonPlayer& player) {
      return player.change && player.change->verdict == verdict;
    });
    if (n > 0) {
      const std::string_view words = verdict == Verdict::no_sign ? "without a sign of it" : season::words(verdict);
      said.push_back(std::to_string(n) + " " + std::string(words));
      slower = slower || words.ends_with("slower");
    }
  }
  out.says = "Of " + text::counted(rows.size(), "player") + ": " + text::joined(said) + ".";
  out.cannot =
      "why a time changed; growing, the ground and the evening take part. A bar that reaches into the band may be no "
      "change worth having.";
  if (slower) {
    out.cannot += " Where a child got slower, look first at tiredness, soreness, a growth spurt, motivation.";
  }
  out.table = table.str(out.title);
  return out;
}

std::vector<Figure> timers_figures(const jobs::TimersResult& timers, Page& page) {
  std::vector<Figure> out;
  for (const jobs::TimersPair& pair : timers.pairs) {
    if (!pair.agreement || pair.points.size() < 3 || out.size() >= most_timer_charts) {
      continue;
    }
    const stats::Agreement& a = *pair.agreement;
    Figure one;
    one.title = pair.first.label() + " against " + pair.second.label();
    one.chart = chart::agreement(page.caption(one.title,
                                              "A cross for each run: the difference of the two times over their mean, "
                                              "with the bias and the limits of agreement."),
                                 pair);
    one.says = "On average " + pair.first.label() + " reads " + text::fixed(std::abs(a.bias), 2) + " s " +
               (a.bias < 0.0 ? "shorter" : "longer") + " than " + pair.second.label() +
               "; 95% of differences lie between " + text::signed_fixed(a.limits.lo, 2) + " and " +
               text::signed_fixed(a.limits.hi, 2) + " s.";
    one.cannot = std::string("which of the two is right") +
                 (pair.is_reference ? " to better than the reference itself; " : "; ") +
                 "the shaded strips show how well " + text::counted(pair.runs, "run") + " can know these lines.";
    HtmlTable table({{"of the differences", ""}, {"value", "s"}});
    table.begin_row("bias");
    table.interval(a.bias, a.bias_interval.lo, a.bias_interval.hi, 3);
    table.begin_row("SD");
    table.number(a.sd, 3);
    table.begin_row("lower limit of agreement");
    table.interval(a.limits.lo, a.lower_limit_interval.lo, a.lower_limit_interval.hi, 3);
    table.begin_row("upper limit of agreement");
    table.interval(a.limits.hi, a.upper_limit_interval.lo, a.upper_limit_interval.hi, 3);
    one.table = table.str(one.title);
    out.push_back(std::move(one));
  }
  return out;
}

text::Markup squad_page(const Report& report, const norms::Catalogue& references, Page& page) {
  const jobs::ProfileResult& result = report.profile;
  const std::string span = report.disguise ? span_words(result.players) : days_words(result.players);
  const SquadAnswer answer = squad_answer(result, [&](const std::string& id) { return shown_name(report, id); });
  text::Markup out = heading_at(1, span.empty() ? "Squad" : "Squad, " + span);
  out += text::element("p", {{"class", "lead"}}, answer.size + ".");
  if (result.runs_used == 0) {
    return out + text::element("p", {{"class", "first"}},
                               result.players.empty()
                                   ? "There are no runs in these files, so there is nothing to show yet."
                                   : "None of the runs can be used (each is flagged, or has no time), so "
                                     "there is nothing to show yet.");
  }
  out += grid_part(report, answer) + answer_part(answer);
  text::Markup rest = section("How fast", running_part(report, page));
  rest += section("Where time is lost", losses_part(report, page));
  rest += section("Among children of the same age and sex", norms_part(report, references, page));
  if (const auto changes = changes_figure(report, page)) {
    rest += section("Across weeks", text::element("div", {{"class", "wide"}}, figure(*changes, 3)));
  }
  rest += section("How well the times agree", timers_part(report, page));
  rest += section("What another run would tell", bullets(next_run_sentences(result)));
  std::vector<std::string> notes = note_sentences(result);
  if (result.runs_left_out > 0) {
    notes.push_back("Left out: " + left_out_words(result.players) + ".");
  }
  rest += section("What these runs cannot tell", bullets(notes));
  return out +
         text::element("details", text::element("summary", "All numbers, charts and notes, for who wants them") + rest);
}

}  // namespace bagsplit::present
