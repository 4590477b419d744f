#include <algorithm>
#include <set>
#include <tuple>

#include "bagsplit/jobs/relay/relay_season.hpp"
#include "bagsplit/present/chart/intervals.hpp"
#include "bagsplit/present/chart/race_gaps.hpp"
#include "bagsplit/present/detail/squad_answer.hpp"
#include "bagsplit/present/page/detail/report_parts.hpp"
#include "bagsplit/present/profile_parts.hpp"
#include "bagsplit/present/relay_report.hpp"
#include "bagsplit/runs/log/log_summary.hpp"
#include "bagsplit/runs/typed.hpp"
#include "bagsplit/text/number_text.hpp"
#include "bagsplit/text/wording.hpp"

namespace bagsplit::present {

using chart::IntervalRow;
using jobs::RelayLeg;
using jobs::RelayResult;
using jobs::RelayRun;

namespace {

std::string relay_days(const Report& report, runs::Date first, runs::Date last) {
  jobs::PlayerProfile days;
  days.first_date = first;
  days.last_date = last;
  return report.disguise ? span_words({days}) : days_words({days});
}

// "home-second-reverse" is home to second; other names as they are.
std::string course_words(std::string name) {
  const std::size_t way = name.rfind("-reverse");
  name = way == std::string::npos ? name : name.substr(0, way);
  const std::size_t dash = name.find('-');
  const auto is_bag = [](std::string_view word) {
    return word == "home" || word == "first" || word == "second" || word == "third";
  };
  return name == "circuit" ? "once round"
         : dash != std::string::npos && is_bag(name.substr(0, dash)) && is_bag(name.substr(dash + 1))
             ? name.substr(0, dash) + " to " + name.substr(dash + 1)
             : name;
}

// Where a team ran, and by which side.
std::string side_words(const RelayRun& run) {
  std::vector<std::string> courses;
  std::size_t reversed = 0;
  for (const RelayLeg& leg : run.legs) {
    if (!leg.course.empty()) {
      add_once(courses, course_words(leg.course));
      reversed += leg.course.ends_with("-reverse") ? 1U : 0U;
    }
  }
  return run.team + ": " + text::joined(courses) + ", " +
         (reversed == 0                 ? "by way of first"
          : reversed == run.legs.size() ? "by way of third"
                                        : "both ways round");
}

// Who was first, and whether the watches can tell.
std::string heat_words(const jobs::RelayHeat& heat) {
  return heat.first + " first by " + text::fixed(heat.margin_s, 2) + " s" +
         (heat.p_first >= 0.95  ? ", surely."
          : heat.p_first >= 0.8 ? ", probably: the watches may be off by as much."
                                : ": too close for these watches to say.");
}

std::string leg_name(const Report& report, const RelayLeg& leg) {
  return std::to_string(leg.leg) + "  " + (leg.player.empty() ? "?" : shown_name(report, leg.player));
}

// " (fall)", " (suspicious)", or nothing.
std::string leg_mark_words(const RelayLeg& leg) {
  return leg.flag != runs::Flag::none ? " (" + std::string(runs::flag_name(leg.flag)) + ")"
         : leg.squad_leg_s            ? " (suspicious)"
                                      : "";
}

HtmlTable legs_table(const Report& report, const RelayRun& run) {
  const bool sums = std::any_of(run.legs.begin(), run.legs.end(),
                                [](const RelayLeg& leg) { return leg.exchange_and_loss_s.has_value(); });
  std::vector<HtmlTable::Column> columns{{"leg", ""},       {"over", "", true}, {"clock", "s"},
                                         {"leg time", "s"}, {"watch", "s"},     {"exchange", "s"}};
  if (sums) {
    columns.push_back({"exchange and losses", "s"});
  }
  columns.push_back({"against own runs", "s"});
  HtmlTable table(columns);
  const auto cell = [&](const std::optional<jobs::Estimate>& value) { table.estimate(value ? &*value : nullptr, 2); };
  for (const RelayLeg& leg : run.legs) {
    table.begin_row(text::isolated(leg_name(report, leg)));
    table.text(course_words(leg.course) + leg_mark_words(leg));
    table.number(leg.clock_s, 2);
    table.number(leg.leg_s, 2);
    table.number(leg.leg_s ? std::optional(leg.leg_sd_s) : std::nullopt, 3);
    cell(leg.exchange_s);
    if (sums) {
      cell(leg.exchange_and_loss_s);
    }
    cell(leg.against_own_runs_s);
  }
  return table;
}

std::vector<IntervalRow> leg_rows(const Report& report, const RelayRun& run) {
  std::vector<IntervalRow> rows;
  for (const RelayLeg& leg : run.legs) {
    if (leg.leg_s) {
      rows.push_back({leg_name(report, leg) + leg_mark_words(leg), *leg.leg_s - leg.leg_sd_s, *leg.leg_s,
                      *leg.leg_s + leg.leg_sd_s, text::fixed(*leg.leg_s, 2)});
    }
  }
  return rows;
}

// @param axis  that of all relays, so that legs can be compared between them.
Figure relay_figure(const Report& report, const RelayRun& run, const chart::Scale& axis, Page& page) {
  Figure out;
  out.title = run.team + ", relay " + std::to_string(run.trial) + " of " + relay_days(report, run.date, run.date);
  chart::IntervalChart drawn;
  drawn.unit = "seconds a leg";
  drawn.values = axis;
  drawn.rows = leg_rows(report, run);
  const HtmlTable table = legs_table(report, run);
  out.says = run.total_s ? "The team took " + text::fixed(*run.total_s, 2) + " s." : "The team has no time at its end.";
  if (drawn.rows.empty()) {
    out.says += " No leg has a reading at both of its ends, so no leg has a time.";
  } else {
    out.chart = chart::intervals(
        page.caption(out.title, "A dot and a bar for each leg in running order; further left is faster."), drawn);
  }
  out.table = table.str(out.title);
  out.legend = table.legend();
  return out;
}

text::Markup legs_part(const Report& report, Page& page) {
  std::vector<IntervalRow> all;
  for (const RelayRun& run : report.relay->runs) {
    const std::vector<IntervalRow> rows = leg_rows(report, run);
    all.insert(all.end(), rows.begin(), rows.end());
  }
  text::Markup charts;
  for (const RelayRun& run : report.relay->runs) {
    charts += figure(relay_figure(report, run, chart::shared_axis(all), page), 3);
  }
  return text::element(
             "p", {{"class", "intro"}},
             "Each dot is the time of a leg, take-off included, on one axis for all relays. The bar, and the column "
             "watch, say how far off the watch usually is.") +
         text::element("div", {{"class", "charts"}}, charts) +
         text::element(
             "p", {{"class", "cannot"}},
             text::element("b", "Not told: ") +
                 "how much of a leg is running and how much the exchange, where a player has no runs alone over "
                 "the same "
                 "course: there the exchange holds the losses of the leg, too, in a column of its own "
                 "(exchange and losses), not to be compared with an exchange.");
}

HtmlTable gaps_table(const jobs::RaceGaps& race) {
  std::vector<HtmlTable::Column> columns{{"after leg", ""}};
  for (const RelayRun& run : race.teams) {
    columns.push_back({run.team + " behind", "s"});
  }
  HtmlTable table(columns);
  for (const jobs::RaceGaps::After& after : race.after) {
    table.begin_row(std::to_string(after.leg));
    for (const double behind : after.behind_s) {
      table.number(behind, 2);
    }
  }
  return table;
}

Figure race_figure(const Report& report, const jobs::RaceGaps& race, double most_s, Page& page) {
  Figure out;
  out.title = "Relay " + std::to_string(race.trial) + ", " + relay_days(report, race.date, race.date);
  std::vector<std::vector<std::string>> runners;
  bool bracketed = false;
  for (const RelayRun& run : race.teams) {
    runners.emplace_back();
    for (const RelayLeg& leg : run.legs) {
      const bool flagged = leg.flag != runs::Flag::none || leg.squad_leg_s;
      bracketed = bracketed || flagged;
      const std::string name = leg.player.empty() ? "?" : shown_name(report, leg.player);
      runners.back().push_back(flagged ? "(" + name + ")" : name);
    }
    out.says += side_words(run) + ". ";
  }
  const auto& heats = report.relay->heats;
  const auto heat = std::find_if(heats.begin(), heats.end(), [&](const jobs::RelayHeat& one) {
    return one.date == race.date && one.place == race.place && one.trial == race.trial;
  });
  out.says += heat != heats.end() ? heat_words(*heat) : "";
  out.says += bracketed ? " In brackets: a leg that counts in the race and for nothing else." : "";
  std::string heard;
  for (const jobs::RaceGaps::After& after : race.after) {
    heard += " After leg " + std::to_string(after.leg) + ":";
    for (std::size_t team = 0; team < race.teams.size(); ++team) {
      heard += " " + race.teams[team].team +
               (after.behind_s[team] > 0.0 ? " behind by " + text::fixed(after.behind_s[team], 2) + " s" : " ahead") +
               (team + 1 < race.teams.size() ? "," : ".");
    }
  }
  out.chart = chart::race_gaps(page.caption(out.title, "A line for each team, the one ahead at the top." + heard), race,
                               most_s, runners);
  out.table = gaps_table(race).str(out.title);
  return out;
}

// How the lead changed, relay by relay, on one scale.
text::Markup races_part(const Report& report, Page& page) {
  const std::vector<jobs::RaceGaps> races = jobs::race_gaps(*report.relay);
  double most_s = 0.0;
  for (const jobs::RaceGaps& race : races) {
    for (const jobs::RaceGaps::After& after : race.after) {
      most_s = std::max(most_s, *std::max_element(after.behind_s.begin(), after.behind_s.end()));
    }
  }
  text::Markup charts;
  for (const jobs::RaceGaps& race : races) {
    if (race.teams.size() > 1 && !race.after.empty()) {
      charts += figure(race_figure(report, race, most_s, page), 3);
    }
  }
  return charts.empty()
             ? charts
             : text::element("p", {{"class", "intro"}},
                             "The line at the top is ahead; the further down, the further behind. Gaps under "
                             "0.15 s may be the watches.") +
                   text::element("div", {{"class", "charts"}}, charts);
}

std::string order_sentence(const Report& report, const jobs::ExpectedRelay& relay) {
  std::vector<std::string> best;
  for (const std::string& id : relay.best.players) {
    best.push_back(shown_name(report, id));
  }
  if (!relay.best.matters) {
    return relay.team + ": the order hardly matters. Between the best and the worst lie " +
           text::fixed(relay.best.best_to_worst_s, 2) + " s.";
  }
  return relay.team + ": the order " + text::joined(best) + " may win " + text::fixed(relay.best.gain_s.median, 2) +
         " s (between " + text::fixed(relay.best.gain_s.lo, 2) + " and " + text::fixed(relay.best.gain_s.hi, 2) +
         " s).";
}

text::Markup ahead_part(const Report& report, Page& page) {
  const RelayResult& result = *report.relay;
  if (result.expected.empty()) {
    return {};
  }
  Figure out;
  out.title = "What may be expected of another evening";
  chart::IntervalChart drawn;
  drawn.unit = "seconds";
  HtmlTable table({{"team", ""}, {"order", "", true}, {"total", "s"}, {"wins, of 100", ""}});
  std::vector<std::string> orders;
  for (const jobs::ExpectedRelay& relay : result.expected) {
    drawn.rows.push_back(chart::interval_row(relay.team, relay.total_s, 1));
    std::vector<std::string> names;
    for (const std::string& id : relay.players) {
      names.push_back(shown_name(report, id));
    }
    table.begin_row(text::isolated(relay.team));
    table.text(text::joined(names));
    table.estimate(&relay.total_s, 2);
    table.text(relay.p_win ? text::element("data", {{"value", text::shortest(*relay.p_win)}},
                                           text::fixed(100.0 * std::clamp(*relay.p_win, 0.01, 0.99), 0))
                           : text::Markup(text::absent));
    orders.push_back(order_sentence(report, relay));
  }
  out.chart =
      chart::intervals(page.caption(out.title, "A dot and a bar for each team; further left is faster."), drawn);
  out.says =
      "Each dot is the total to expect of a team; its bar holds " + text::percent(result.level) + " of evenings.";
  out.cannot = "dropped exchanges, falls and missed bags: they are left out of what is expected.";
  out.table = table.str(out.title);
  out.legend = table.legend();
  return bullets(orders) + text::element("div", {{"class", "wide"}}, figure(out, 3));
}

}  // namespace

text::Markup relay_page(const Report& report, Page& page) {
  const RelayResult& result = *report.relay;
  text::Markup out = heading_at(1, "Relays" + (result.runs.empty() ? std::string()
                                                                   : ", " + relay_days(report, result.runs.front().date,
                                                                                       result.runs.back().date)));
  if (result.runs.empty()) {
    return out + text::element(
                     "p", {{"class", "first"}},
                     "There is no relay in these files (rows with a team and a leg), so there is nothing to show yet.");
  }
  std::vector<std::string> teams;
  std::set<std::tuple<runs::Date, std::string, std::size_t>> relays;  // the teams of one run together
  for (const RelayRun& run : result.runs) {
    add_once(teams, run.team);
    relays.emplace(run.date, run.place, run.trial);
  }
  out += text::element("p", {{"class", "lead"}},
                       text::counted(relays.size(), "relay") + ", " + text::counted(teams.size(), "team") + ".");
  auto sentences = relay_season_sentences(result);
  if (std::string swapped = sides_swapped_sentence(result); !swapped.empty()) {
    sentences.push_back(std::move(swapped));
  }
  if (!sentences.empty()) {
    out += text::element("div", {{"class", "first"}}, paragraphs(sentences, ""));
  }
  out += section("How the lead changed", races_part(report, page));
  out += section("Leg by leg", legs_part(report, page));
  out += section("Looking ahead", ahead_part(report, page));
  return out + section("What these relays cannot tell", bullets(result.notes));
}

}  // namespace bagsplit::present
