#include <algorithm>

#include "bagsplit/present/chart/age_bands.hpp"
#include "bagsplit/present/chart/own_diamond.hpp"
#include "bagsplit/present/chart/speed_curve.hpp"
#include "bagsplit/present/detail/child_answer.hpp"
#include "bagsplit/present/detail/squad_answer.hpp"
#include "bagsplit/present/detail/squad_parts.hpp"
#include "bagsplit/present/page/detail/report_parts.hpp"
#include "bagsplit/present/profile_parts.hpp"
#include "bagsplit/present/profile_quantities.hpp"
#include "bagsplit/present/season_report.hpp"
#include "bagsplit/text/number_text.hpp"

namespace bagsplit::present {

using jobs::Estimate;
using jobs::PlayerProfile;

namespace {

constexpr std::size_t most_own_times = 4;  // rows of a table that a child reads

// Only where it is the child's own.
std::optional<Figure> speed_figure(const PlayerProfile& player, Page& page) {
  if (player.speed_curve.empty() || !player.top_speed_mps || mostly_prior(*player.top_speed_mps)) {
    return std::nullopt;
  }
  constexpr double kmh = 3.6;
  const std::string speed = text::fixed(kmh * player.top_speed_mps->median, 0) + " km/h";
  Figure out;
  out.title = "How you get up to speed";
  out.chart =
      chart::speed_curve(page.caption(out.title, "A rising curve of your speed after the first move, up to " + speed +
                                                     "; broken lines where 10, 20 and 30 m are reached."),
                         player);
  out.says = "Worked out from all your runs. Full speed is about " + speed +
             ". The grey edge shows how far off the line may be, nine times in ten.";
  return out;
}

std::optional<Figure> bags_figure(const Report& report, const PlayerProfile& player, const jobs::OwnRecord* own,
                                  Page& page) {
  std::string costs;
  for (std::size_t k = 0; k < jobs::marked_quantities.size(); ++k) {
    const jobs::Marked& mark = player.marks[k];
    if (jobs::marked_quantities[k].at_bag && mark.mark != jobs::Mark::unknown && mark.cost_s) {
      costs += (costs.empty() ? "" : ", ") + std::string(jobs::marked_quantities[k].what) + " " +
               text::fixed(std::max(0.0, *mark.cost_s), 2);
    }
  }
  const std::optional<jobs::OwnLap> lap = own != nullptr ? own->best_lap : std::nullopt;
  if (costs.empty() && !lap) {
    return std::nullopt;
  }
  Figure out;
  out.title = "Round the bags";
  const std::string times = !lap ? ""
                                 : "Your times: first " + text::fixed(lap->first_s, 2) + ", second " +
                                       text::fixed(lap->second_s, 2) + ", third " + text::fixed(lap->third_s, 2) +
                                       ", home " + text::fixed(lap->home_s, 2) + " seconds. ";
  out.chart = chart::own_diamond(
      page.caption(out.title,
                   "The diamond. " + times +
                       (costs.empty() ? "" : "Seconds each side costs beyond your own best way round: " + costs + ".")),
      player, lap);
  if (lap) {
    out.says = "Bold: your best lap" + (report.disguise ? std::string() : ", " + day_words(lap->date)) +
               ", as the watch read it. ";
  }
  out.says += costs.empty() ? "What each side costs you is not known yet."
                            : "With a plus: the seconds each side costs you beyond your own best way round. The "
                              "thicker the side, the more there is to win.";
  return out;
}

std::optional<Figure> weeks_figure(const Report& report, const PlayerProfile& player, const jobs::OwnRecord* own,
                                   Page& page) {
  if (own == nullptr || report.disguise) {  // a picture of dates tells the dates
    return std::nullopt;
  }
  const auto several = std::find_if(own->times.begin(), own->times.end(), [](const jobs::OwnTimes& times) {
    return std::any_of(times.runs.begin(), times.runs.end(),
                       [&](const jobs::OwnRun& run) { return run.date != times.runs.front().date; });
  });
  if (several == own->times.end()) {
    return std::nullopt;
  }
  Figure out;
  out.title = "Week by week: " + own_times_words(*several);
  out.chart = chart::own_weeks(page.caption(out.title, "A ring for each run over the dates; higher is faster. Best " +
                                                           text::fixed(several->best_s, 2) + ", last " +
                                                           text::fixed(several->last_s, 2) + " seconds."),
                               *several);
  const jobs::Marked& change = player.marks[jobs::change_quantity];
  out.says = std::string("Each ring is one run, as the watch read it. Higher is faster. ") +
             (change.mark == jobs::Mark::good ? "You got faster, and not by growing alone."
                                              : "One evening says little: wind, ground and the watch take part.");
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
                                            "darker; you are a dot with a bar. Lower is faster."),
                               *norm, *player.sex, age_years, *shown->time_s);
  out.says = "Times fall as children grow; the darker band is the middle half of " + norm->info().who +
             ". Measured their way, you would take about " + text::fixed(shown->time_s->median, 1) +
             " s. Of 100 of them about " + text::fixed(shown->percentile->median, 0) + " take longer (between " +
             text::fixed(shown->percentile->lo, 0) + " and " + text::fixed(shown->percentile->hi, 0) + ").";
  out.cannot = "how you will grow, or how children here run.";
  HtmlTable table({{shown->label, ""}, {"value", ""}});
  table.begin_row("age, years");
  table.number(text::told_age(player.age_years), report.disguise ? 0 : 1);
  table.begin_row("time as measured there, s");
  table.estimate(&*shown->time_s, 2);
  table.begin_row("of 100, so many take longer");
  table.estimate(&*shown->percentile, 0);
  out.table = table.str(out.title);
  return out;
}

text::Markup times_table(const jobs::OwnRecord& own) {
  HtmlTable table({{"", ""}, {"best", "s"}, {"usual", "s"}, {"last", "s"}});
  for (std::size_t k = 0; k < std::min(most_own_times, own.times.size()); ++k) {
    const jobs::OwnTimes& one = own.times[k];
    table.begin_row(own_times_words(one));
    table.number(one.best_s, 2);
    table.number(one.usual_s, 2);
    table.number(one.last_s, 2);
  }
  return table.empty() ? text::Markup()
                       : table.str("Your times, as the watch read them") +
                             text::element("p", {{"class", "small"}},
                                           "Usual: as many runs took longer as less. Where two watches timed a run, "
                                           "the first one counts here.");
}

// @param times  stand below what goes well; the words for a parent below what to work on.
text::Markup first_part(const ChildAnswer& answer, const text::Markup& times) {
  text::Markup well = heading_at(2, "Goes well") + text::element("p", {{"class", "big"}}, answer.well);
  text::Markup work = heading_at(2, "To work on") + text::element("p", {{"class", "big"}}, answer.work);
  if (!answer.drill.empty()) {
    work += text::element("p", text::element("b", "Drill: " + answer.drill + ". ") + answer.how) +
            bullets({answer.dose, answer.care});
  }
  return text::element(
      "div", {{"class", "two"}},
      text::element("div", text::element("div", {{"class", "first"}}, well) + times) +
          text::element("div", text::element("div", {{"class", answer.drill.empty() ? "first" : "first win"}}, work) +
                                   heading_at(2, "For a parent") + text::element("p", answer.note)));
}

}  // namespace

text::Markup player_page(const Report& report, std::size_t index, const norms::Catalogue& references, Page& page) {
  const PlayerProfile& player = report.profile.players[index];
  const jobs::OwnRecord* own = index < report.own.size() ? &report.own[index] : nullptr;
  const std::string name = shown_name(report, player.player);
  text::Markup out =
      heading_at(1, text::Markup(report.names.contains(player.player) ? "" : "Player ") + text::isolated(name));
  const std::string span = report.disguise ? span_words({player}) : days_words({player});
  out += text::element("p", {{"class", "lead"}},
                       text::counted(player.runs_used, "run") + " on " + text::counted(player.dates, "evening") +
                           (span.empty() ? "" : ", " + span) + ".");
  if (player.runs_used == 0) {
    return out +
           text::element("p", {{"class", "first"}},
                         "No run can be used yet (each is flagged, or has no time), so there is nothing to draw.");
  }
  const ChildAnswer answer = child_answer(player, name);
  const text::Markup times = own != nullptr ? times_table(*own) : text::Markup();
  out += first_part(answer, times.empty() ? times : heading_at(2, "Your times, as the watch read them") + times);
  text::Markup charts;
  for (const auto& one : {bags_figure(report, player, own, page), speed_figure(player, page),
                          weeks_figure(report, player, own, page), age_figure(report, player, references, page)}) {
    charts += one ? figure(*one, 3) : text::Markup();
  }
  if (charts.empty()) {
    charts = text::element("p", "No run tells a speed yet, so there is no curve to draw.");
  }
  const text::Markup not_known =
      answer.not_known.empty() ? text::Markup() : heading_at(2, "What we do not know yet") + bullets(answer.not_known);
  charts += not_known.empty() ? not_known : text::element("div", {{"class", "rest"}}, not_known);
  return out + heading_at(2, "In pictures") + text::element("div", {{"class", "charts"}}, charts);
}

}  // namespace bagsplit::present
