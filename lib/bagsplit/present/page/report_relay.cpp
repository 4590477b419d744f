#include <algorithm>
#include <set>
#include <tuple>

#include "bagsplit/present/chart/intervals.hpp"
#include "bagsplit/present/page/detail/report_parts.hpp"
#include "bagsplit/present/probability_text.hpp"
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

std::string when_words(runs::Date date, const std::string& place, std::size_t trial) {
  return runs::format_date(date) + (place.empty() ? "" : ", " + place) +
         (trial > 1 ? ", trial " + std::to_string(trial) : "");
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
  std::vector<HtmlTable::Column> columns{{"leg", ""},       {"over", "", true},    {"clock", "s"},
                                         {"leg time", "s"}, {"reading's SD", "s"}, {"exchange", "s"}};
  if (sums) {
    columns.push_back({"exchange and losses", "s"});
  }
  columns.push_back({"against own runs", "s"});
  HtmlTable table(columns);
  const auto cell = [&](const std::optional<jobs::Estimate>& value) { table.estimate(value ? &*value : nullptr, 2); };
  for (const RelayLeg& leg : run.legs) {
    table.begin_row(text::isolated(leg_name(report, leg)));
    table.text(leg.course + leg_mark_words(leg));
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
  out.title = run.team + ", " + when_words(run.date, run.place, run.trial);
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
             "Each dot is the time of a leg, exchange included, on one axis for all relays; the bar is one SD of "
             "its reading to each side.") +
         text::element("div", {{"class", "charts"}}, charts) +
         text::element(
             "p", {{"class", "cannot"}},
             text::element("b", "Not told: ") +
                 "how much of a leg is running and how much the exchange, where a player has no runs alone over "
                 "the same "
                 "course: there the exchange holds the losses of the leg, too, in a column of its own "
                 "(exchange and losses), not to be compared with an exchange.");
}

std::vector<std::string> heat_sentences(const RelayResult& result) {
  std::vector<std::string> out;
  for (const jobs::RelayHeat& heat : result.heats) {
    out.push_back(when_words(heat.date, heat.place, heat.trial) + ": " + heat.first + " first by " +
                  text::fixed(heat.margin_s, 2) +
                  " s; that it was really ahead, the clocks' errors allowed for, has probability " +
                  probability_words(heat.p_first, 2) + ".");
  }
  return out;
}

std::string order_sentence(const Report& report, const jobs::ExpectedRelay& relay) {
  std::vector<std::string> best;
  for (const std::string& id : relay.best.players) {
    best.push_back(shown_name(report, id));
  }
  if (!relay.best.matters) {
    return relay.team + ": the order hardly matters; between the best and the worst lie " +
           text::fixed(relay.best.best_to_worst_s, 2) + " s.";
  }
  return relay.team + ": the order " + text::joined(best) + " may be expected to gain " +
         text::fixed(relay.best.gain_s.median, 2) + " s (between " + text::fixed(relay.best.gain_s.lo, 2) + " and " +
         text::fixed(relay.best.gain_s.hi, 2) + " s); faster than this one with probability " +
         probability_words(relay.best.p_faster, 2) + ".";
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
  HtmlTable table({{"team", ""}, {"order", "", true}, {"total", "s"}, {"P(first)", ""}});
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
                                           probability_cell(relay.p_win, 2, result.draws))
                           : text::Markup(text::absent));
    orders.push_back(order_sentence(report, relay));
  }
  out.chart =
      chart::intervals(page.caption(out.title, "A dot and a bar for each team; further left is faster."), drawn);
  out.says = "Each dot is the total to expect of a team, the bar its " + text::percent(result.level) +
             " interval, the scatter from evening to evening included.";
  out.cannot = "dropped exchanges, falls and missed bags: they are left out of what is expected.";
  out.table = table.str(out.title);
  out.legend = table.legend();
  return text::element("div", {{"class", "wide"}}, figure(out, 3)) + bullets(orders);
}

}  // namespace

text::Markup relay_page(const Report& report, Page& page) {
  const RelayResult& result = *report.relay;
  std::string span;
  if (!result.runs.empty()) {
    const runs::Date first = result.runs.front().date;
    const runs::Date last = result.runs.back().date;
    span = ", " + runs::format_date(first) + (first == last ? "" : " to " + runs::format_date(last));
  }
  text::Markup out = heading_at(1, "Relays" + span);
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
  out += section("Who was first", bullets(heat_sentences(result)));
  out += section("All relays together", bullets(relay_season_sentences(result)));
  out += section("Leg by leg", legs_part(report, page));
  out += section("Looking ahead", ahead_part(report, page));
  return out + section("What these relays cannot tell", bullets(result.notes));
}

}  // namespace bagsplit::present
