#include <algorithm>
#include <cmath>

#include "bagsplit/jobs/circumstances.hpp"
#include "bagsplit/jobs/profile/advice.hpp"
#include "bagsplit/present/chart/age_bands.hpp"
#include "bagsplit/present/chart/diamond.hpp"
#include "bagsplit/present/chart/intervals.hpp"
#include "bagsplit/present/chart/speed_curve.hpp"
#include "bagsplit/present/chart/weeks.hpp"
#include "bagsplit/present/detail/squad_parts.hpp"
#include "bagsplit/present/page/detail/report_parts.hpp"
#include "bagsplit/present/profile_parts.hpp"
#include "bagsplit/present/profile_quantities.hpp"
#include "bagsplit/present/season_report.hpp"
#include "bagsplit/present/text/profile_text.hpp"
#include "bagsplit/runs/typed.hpp"
#include "bagsplit/text/number_text.hpp"

namespace bagsplit::present {

using jobs::Estimate;
using jobs::PlayerProfile;

namespace {

std::string range_words(const Estimate& e, int decimals, const std::string& unit) {
  return "between " + text::fixed(e.lo, decimals) + " and " + text::fixed(e.hi, decimals) + " " + unit;
}

Figure speed_figure(const PlayerProfile& player, Page& page) {
  Figure out;
  out.title = "From standing still to top speed";
  out.chart = chart::speed_curve(page.caption(out.title,
                                              "A rising curve of speed over the seconds after the first move, with the "
                                              "band it lies in; broken lines where 10, 20 and 30 m are reached."),
                                 player);
  const Estimate& top = *player.top_speed_mps;
  out.says = "Top speed is about " + text::fixed(top.median, 1) + " m/s (" + range_words(top, 1, "m/s") + ").";
  out.cannot = mostly_prior(top) ? "much of this child's own: so far it is mostly what is usual at this age."
                                 : "how long top speed is held: the curve knows no tiring.";
  HtmlTable table({{"after", "s"}, {"speed", "m/s"}});
  for (const jobs::SpeedAt& at : player.speed_curve) {
    if (std::fmod(at.time_s, 0.5) != 0.0 || (at.time_s > 2.0 && std::fmod(at.time_s, 1.0) != 0.0)) {
      continue;  // the curve is drawn finer than anybody reads it
    }
    table.begin_row(number_cell(at.time_s, 2));
    table.estimate(&at.speed_mps, 2);
  }
  out.table = table.str(out.title);
  out.legend = table.legend();
  return out;
}

HtmlTable losses_table(const PlayerProfile& player) {
  HtmlTable table(
      {{"on the way to", ""}, {"lost against a straight sprint", "s"}, {"of that, beyond the best path", "s"}});
  for (const jobs::NamedEstimate& loss : player.segment_loss_s) {
    table.begin_row(quantity_name("segment_loss_s." + loss.name).member);
    table.estimate(&loss.value, 2);
    table.estimate(find_estimate(player.loss_to_best_path_by_segment_s, loss.name), 2);
  }
  return table;
}

// @param drawn  only those on the legs of the best path.
std::string largest_loss_words(const PlayerProfile& player, bool drawn) {
  const jobs::NamedEstimate* largest = nullptr;
  for (const jobs::NamedEstimate& loss : player.segment_loss_s) {
    if (drawn && find_estimate(player.loss_to_best_path_by_segment_s, loss.name) == nullptr) {
      continue;
    }
    if (loss.value.lo > 0.0 && !mostly_prior(loss.value) &&
        (largest == nullptr || loss.value.median > largest->value.median)) {
      largest = &loss;
    }
  }
  if (largest == nullptr) {
    return "No single loss stands out surely yet.";
  }
  std::string text = "Most surely goes on the way to " + quantity_name("segment_loss_s." + largest->name).member +
                     ": " + text::fixed(largest->value.median, 2) + " s against a straight sprint (" +
                     range_words(largest->value, 2, "s") + ")";
  if (const Estimate* excess = find_estimate(player.loss_to_best_path_by_segment_s, largest->name)) {
    text += excess->lo > 0.0 ? ", of that " + text::fixed(excess->median, 2) + " s more than the best path loses"
                             : "; the best path may lose as much there";
  }
  return text + ".";
}

std::optional<Figure> losses_figure(const PlayerProfile& player, const jobs::PathPlan* plan, Page& page) {
  if (player.segment_loss_s.empty()) {
    return std::nullopt;
  }
  Figure out;
  const HtmlTable table = losses_table(player);
  out.table = table.str("Where the time goes");
  out.legend = table.legend();
  const bool has_path = plan != nullptr && plan->usable();
  out.says = largest_loss_words(player, has_path);
  if (has_path) {
    out.title = "Where the time goes, and the best path";
    out.chart = chart::diamond(
        page.caption(out.title,
                     "The diamond with a band that swings out before each bag: the best path, wide where the runner is "
                     "fast, a stroke across it every second. On each leg stands what is lost there."),
        *plan, player);
    const double gain = player.loss_to_best_path_s ? player.loss_to_best_path_s->median : 0.0;
    out.says += " The band is the best path for this sprint (" + plan->question.course.name + ", " +
                text::fixed(plan->answer.total_s, 1) + " s of moving time), widest " +
                text::fixed(plan->answer.widest_m(), 1) + " m outside the line" +
                (gain >= 0.05 ? "; this child's own takes about " + text::fixed(gain, 1) + " s more." : ".");
    out.cannot = "how hard this child can turn: the path assumes one turning limit for all. * mostly what is usual.";
  } else {
    out.title = "Where the time goes";
    chart::IntervalChart drawn;
    drawn.unit = "seconds lost";
    drawn.reference = 0.0;
    for (const jobs::NamedEstimate& loss : player.segment_loss_s) {
      drawn.rows.push_back(chart::interval_row(quantity_name("segment_loss_s." + loss.name).member, loss.value, 2));
    }
    out.chart =
        chart::intervals(page.caption(out.title, "A dot and a bar for each bag; the broken line is no loss."), drawn);
    out.cannot = "whether a better path or a better turn would save it.";
  }
  return out;
}

// The reference that gives a number, with bands to draw.
std::optional<Figure> age_figure(const Report& report, const PlayerProfile& player, const norms::Catalogue& references,
                                 Page& page) {
  // The child among all others is a place, too.
  if (!report.places || !player.age_years || !player.sex) {
    return std::nullopt;
  }
  const double age_years = *player.age_years + (report.disguise ? 0.5 : 0.0);  // the middle of the year
  const jobs::ProfilePercentile* shown = shown_percentile(player, references);
  const norms::Norm* norm = shown == nullptr ? nullptr : references.find(shown->source);
  if (norm == nullptr || !shown->time_s || !shown->percentile || !chart::has_age_bands(*norm, *player.sex, age_years)) {
    return std::nullopt;
  }
  page.used(shown->source);
  Figure out;
  out.title = "Growing up: times over " + quantity_name("predicted_time_s." + shown->quantity).member + " by age";
  out.chart = chart::age_bands(page.caption(out.title,
                                            "Bands of what children run at each age, falling with age, the middle half "
                                            "darker; this child is a dot with a bar. Lower is faster."),
                               *norm, *player.sex, age_years, *shown->time_s);
  out.says = "Times fall as children grow; the darker band is the middle half of " + norm->info().who +
             ". Measured their way, this child would take about " + text::fixed(shown->time_s->median, 1) +
             " s. That is percentile " + text::fixed(shown->percentile->median, 0) + " (" +
             text::fixed(shown->percentile->lo, 0) + " to " + text::fixed(shown->percentile->hi, 0) +
             "; 100 is the fastest).";
  out.cannot = "how this child will grow, or how children from here compare with those measured there.";
  HtmlTable table({{shown->label, ""}, {"value", ""}});
  table.begin_row("age, years");
  table.number(text::told_age(player.age_years), report.disguise ? 0 : 1);
  table.begin_row("time as measured there, s");
  table.estimate(&*shown->time_s, 2);
  table.begin_row("percentile");
  table.estimate(&*shown->percentile, 0);
  out.table = table.str(out.title);
  return out;
}

std::string verdict_words(const jobs::SeasonPlayer& player) {
  if (!player.change || player.change->verdict == season::Verdict::not_seen_early_and_late) {
    return "No change can be worked out: " + player.verdict + ".";
  }
  const season::Change& c = *player.change;
  // That a child got slower is for the coach, never for its own page.
  const std::string verdict = player.verdict.ends_with("slower") ? "no gain to be seen this time" : player.verdict;
  return "From the first evenings to the last about " + text::signed_fixed(c.change_s, 2) + " s, between " +
         text::signed_fixed(c.interval_s.lo, 2) + " and " + text::signed_fixed(c.interval_s.hi, 2) +
         " s (below 0 is faster): " + verdict + ".";
}

std::optional<Figure> weeks_figure(const Report& report, const PlayerProfile& profile, Page& page) {
  if (!report.trend) {
    return std::nullopt;
  }
  const auto found = std::find_if(report.trend->players.begin(), report.trend->players.end(),
                                  [&](const jobs::SeasonPlayer& p) { return p.player == profile.player; });
  if (found == report.trend->players.end() || found->times.size() < 2 || found->evenings < 2) {
    return std::nullopt;
  }
  Figure out;
  out.title = "Across the weeks: " + trend_words(*report.trend);
  out.chart = chart::weeks(
      page.caption(out.title,
                   "A cross for each run over the dates; heavy lines with a dot are the means of the first and of the "
                   "last evenings; the shaded band is where runs lie when nothing has changed."),
      *report.trend, *found, report.disguise.has_value());
  out.says = verdict_words(*found);
  out.cannot = "anything by one run inside the shaded band: with nothing changed, one on another evening lies there " +
               text::fixed(100.0 * report.trend->level, 0) + " times of 100.";
  HtmlTable table({{"", ""}, {"value", "s"}});
  for (const jobs::TrendTime& time : found->times) {
    table.begin_row(runs::format_date(time.date));
    table.number(time.time_s, 2);
  }
  table.begin_row("mean, first evenings");
  table.number(found->mean_early_s, 2);
  table.begin_row("mean, last evenings");
  table.number(found->mean_late_s, 2);
  if (found->change && found->change->seen_early_and_late) {
    table.begin_row("change believed");
    table.interval(found->change->change_s, found->change->interval_s.lo, found->change->interval_s.hi, 2);
  }
  out.table = table.str(out.title);
  return out;
}

text::Markup all_numbers(const PlayerProfile& player) {
  HtmlTable table({{"", ""}, {"value", ""}, {"unit", "", true}});
  for (const Quantity& quantity : quantities(player)) {
    if (quantity.value) {
      table.begin_row(quantity.name.label);
      table.estimate(&*quantity.value, quantity.name.decimals,
                     quantity.name.key == "reaction_s" && player.reaction_holds_timer_bias);
      table.text(quantity.name.unit);
    }
  }
  return table.empty() ? text::Markup()
                       : text::element("details", text::element("summary", "All numbers") + table.str("All numbers") +
                                                      paragraphs(table.legend(), "small"));
}

std::string lead_words(const PlayerProfile& player, bool whole_years) {
  std::string text = player.age_years ? text::fixed(*player.age_years, whole_years ? 0 : 1) + " years old. " : "";
  text += text::counted(player.runs_used, "run") + " on " + text::counted(player.dates, "date");
  const std::string span = span_words({player});
  return text + (span.empty() ? "" : ", " + span) + "." +
         (player.runs_left_out > 0 ? " Left out: " + left_out_words({player}) + "." : "");
}

// Reaction in a line: a child's page has no chart of it.
std::string reaction_words(const PlayerProfile& player) {
  if (!player.reaction_s) {
    return {};
  }
  const Estimate& e = *player.reaction_s;
  return std::string("Reaction, from the call to the first move") +
         (player.reaction_holds_timer_bias ? " and with the timer's own delay in it" : "") + ": " +
         text::fixed(e.median, 2) + " s (" + range_words(e, 2, "s") + ")" +
         (mostly_prior(e) ? ", mostly what is usual at this age." : ".");
}

// That the runs are of many weeks, and what is known of the change meanwhile.
std::string weeks_words(const Report& report, const PlayerProfile& player) {
  const auto weeks = jobs::pooled_weeks(player.first_date, player.last_date);
  if (!weeks) {
    return {};
  }
  std::string out = "These values average " + std::to_string(*weeks) + " weeks: today's form may differ.";
  if (!report.trend || report.trend->reaction) {
    return out;
  }
  for (const jobs::SeasonPlayer& one : report.trend->players) {
    if (one.player == player.player && one.change && one.change->verdict == season::Verdict::surely_faster) {
      out += " This child surely got faster meanwhile.";
    }
  }
  return out;
}

text::Markup first_part(const PlayerProfile& player) {
  text::Markup words = heading_at(2, "What to work on");
  words += player.work_on.empty()
               ? text::element("p", "Keep running, keep it fun: " + std::string(jobs::nothing_to_work_on) + ".")
               : paragraphs({player.work_on.begin(), player.work_on.end()});
  if (!player.next_runs.empty()) {
    words += text::element("p", {{"class", "small"}}, "To know more next time: " + player.next_runs.front().run + ".");
  }
  return text::element("div", {{"class", "first"}}, words);
}

}  // namespace

text::Markup player_page(const Report& report, std::size_t index, const norms::Catalogue& references, Page& page) {
  const PlayerProfile& player = report.profile.players[index];
  const jobs::PathPlan* plan = index < report.paths.size() && report.paths[index] ? &*report.paths[index] : nullptr;
  text::Markup out = heading_at(1, text::Markup(report.names.contains(player.player) ? "" : "Player ") +
                                       text::isolated(shown_name(report, player.player)));
  out += text::element("p", {{"class", "lead"}}, lead_words(player, report.disguise.has_value()));
  text::Markup charts;
  if (player.runs_used == 0) {
    out += text::element("p", {{"class", "first"}},
                         "No run can be used yet (each is flagged, or has no time), so there is nothing to draw.");
  } else {
    out += first_part(player);
    const std::string reaction = reaction_words(player);
    const std::string weeks = weeks_words(report, player);
    if (!reaction.empty() || !weeks.empty()) {
      out +=
          text::element("p", {{"class", "small"}}, reaction + (reaction.empty() || weeks.empty() ? "" : " ") + weeks);
    }
    if (!player.speed_curve.empty() && player.top_speed_mps) {
      charts += figure(speed_figure(player, page), 3);
    }
    for (const auto& one : {losses_figure(player, plan, page), weeks_figure(report, player, page),
                            age_figure(report, player, references, page)}) {
      charts += one ? figure(*one, 3) : text::Markup();
    }
    out += charts.empty() ? text::element("p", "No run tells a speed yet, so there is no curve to draw.")
                          : heading_at(2, "What the runs show") + text::element("div", {{"class", "charts"}}, charts);
    out += report.kind == ReportKind::players ? all_numbers(player) : text::Markup();
  }
  return out;
}

}  // namespace bagsplit::present
