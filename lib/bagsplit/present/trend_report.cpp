#include "bagsplit/present/trend_report.hpp"

#include <algorithm>
#include <cmath>
#include <string_view>

#include "bagsplit/present/detail/squad_parts.hpp"
#include "bagsplit/present/machine/json_parts.hpp"
#include "bagsplit/present/probability_text.hpp"
#include "bagsplit/present/profile_parts.hpp"
#include "bagsplit/present/profile_quantities.hpp"
#include "bagsplit/present/text/interval_plot.hpp"
#include "bagsplit/runs/typed.hpp"
#include "bagsplit/stats/distributions.hpp"
#include "bagsplit/text/csv_writer.hpp"
#include "bagsplit/text/json_writer.hpp"
#include "bagsplit/text/number_text.hpp"
#include "bagsplit/text/text_table.hpp"
#include "bagsplit/text/wording.hpp"

namespace bagsplit::present {

namespace {

using jobs::Change;
using jobs::ConditionStatus;
using jobs::PlayerTrend;
using jobs::TrendResult;
using Layout = text::JsonWriter::Layout;

std::optional<double> finite_or_none(double value) {
  return std::isfinite(value) ? std::optional(value) : std::nullopt;
}

std::string_view status_word(ConditionStatus status) {
  return status == ConditionStatus::same       ? "same throughout"
         : status == ConditionStatus::adjusted ? "adjusted"
                                               : "confounded with time";
}

std::string_view obstacle_word(jobs::TrendObstacle obstacle) {
  switch (obstacle) {
    case jobs::TrendObstacle::few_runs:
      return "few runs";
    case jobs::TrendObstacle::timer:
      return "timer changed";
    case jobs::TrendObstacle::device:
      return "device or start changed";
    case jobs::TrendObstacle::ground:
      return "ground changed";
    case jobs::TrendObstacle::many_compared:
      return "many compared";
    case jobs::TrendObstacle::scatter:
      return "scatter";
    case jobs::TrendObstacle::none:
      break;
  }
  return {};
}

std::string change_words(const std::optional<Change>& change, int decimals, const text::TextOptions& options) {
  return change ? text::signed_fixed(change->estimate, decimals) + " " + std::string(text::plus_minus(options)) +
                      text::fixed(0.5 * (change->hi - change->lo), decimals)
                : std::string(text::absent);
}

std::string span_words(const jobs::DateSpan& span) {
  return span.from == span.to ? runs::format_date(span.from)
                              : runs::format_date(span.from) + " to " + runs::format_date(span.to);
}

std::string window_words(const jobs::WindowSummary& window) {
  return span_words(window.span) + " (" + text::counted(window.sessions, "evening") + ", " +
         text::counted(window.runs, "run") + ")";
}

std::string what_words(const TrendResult& result) {
  return result.reaction ? trend_words(result)
                         : result.course + ", time " +
                               (result.from_mark.empty() ? "at " : "from " + result.from_mark + " to ") + result.mark;
}

std::string reason_words(const std::string& reason) {
  return reason == "another_start"           ? "with another start"
         : reason == "no_signal"             ? "not started on a signal"
         : reason == "another_base_distance" ? "at another base distance"
         : reason == "no_time_at_mark"       ? "without a time at the mark"
         : reason == "relay_leg"             ? "in a relay"
                                             : "flagged " + reason;
}

std::string left_out_sentence(const TrendResult& result) {
  std::vector<std::string> words;
  for (const jobs::TrendLeftOut& left_out : result.left_out) {
    words.push_back(std::to_string(left_out.runs) + " " + reason_words(left_out.reason));
  }
  return text::counted(result.runs_left_out, "run") + (result.course.empty() ? ": " : " of this course: ") +
         text::joined(words);
}

// How far one child's growth may be off what is expected of it: the most of any here.
std::string growth_doubt(const TrendResult& result, int decimals) {
  double sd = 0.0;
  for (const PlayerTrend& player : result.players) {
    sd = std::max(sd, player.expected_growth_sd_s.value_or(0.0));
  }
  return sd > 0.0
             ? ", give or take up to " + text::fixed(stats::normal_quantile(0.5 + 0.5 * result.level) * sd, decimals) +
                   (result.slope ? " s a week" : " s")
             : std::string();
}

std::string table_part(const TrendResult& result, const text::TextOptions& options) {
  const std::string unit = result.slope ? "s/week" : "s";
  const int decimals = result.slope ? 3 : 2;
  text::TextTable table({{"player", "", text::Align::left},
                         {"runs", ""},
                         {"change", unit},
                         {"believed", unit},
                         {"growth", unit},
                         {"worth", "P"},
                         {"verdict", "", text::Align::left, true}});
  for (const PlayerTrend& player : result.players) {
    const std::string runs_words = result.slope
                                       ? std::to_string(player.runs_middle)
                                       : std::to_string(player.runs_first) + "/" + std::to_string(player.runs_last);
    table.add_row(
        {player.player, runs_words, change_words(player.change_s, decimals, options),
         change_words(player.shrunken_change_s, decimals, options),
         player.expected_growth_s ? text::signed_fixed(*player.expected_growth_s, decimals) : std::string(text::absent),
         probability_cell(player.p_worthwhile, 2), player.verdict_words});
  }
  std::string out = table.str(options);
  out += text::paragraph(
      std::string(result.slope ? "change: seconds a week over all dates" : "change: last window less first") +
          ", negative is faster; after " + std::string(text::plus_minus(options)) + " half of the " +
          text::percent(result.level) +
          " interval. believed: the same, drawn towards the squad as far as one's own runs are few. growth: what "
          "growing up alone would do" +
          growth_doubt(result, decimals) +
          ". worth: probability of being faster by the smallest worthwhile change or more.",
      options.width);
  if (!result.slope && result.first) {
    out += text::paragraph("runs: in the first and in the last window.", options.width);
  }
  if (const std::vector<std::string> help = trend_help(result, {}); !help.empty()) {
    out += "\n" + text::paragraph("Where it cannot be told:", options.width) + text::listed(help, options.width);
  }
  return out;
}

// The believed changes on one axis; no change is marked.
std::string plot_part(const TrendResult& result, const text::TextOptions& options) {
  constexpr std::size_t most_bars = 40;  // more than a page holds tell nobody anything
  std::vector<PlottedInterval> bars;
  for (const PlayerTrend& player : result.players) {
    if (const auto& change = player.shrunken_change_s) {
      bars.push_back({player.player, change->lo, std::clamp(change->estimate, change->lo, change->hi), change->hi,
                      text::signed_fixed(change->estimate, result.slope ? 3 : 2)});
    }
  }
  if (bars.size() < 2 || bars.size() > most_bars) {
    return {};
  }
  return "\n" +
         text::paragraph(
             "Change believed, with " + text::percent(result.level) + " intervals; left of the dotted line is faster.",
             options.width) +
         interval_plot(bars, result.slope ? "s/week" : "s", options, 0.0);
}

std::string squad_part(const TrendResult& result, const text::TextOptions& options) {
  if (!result.worthwhile_s) {
    return {};
  }
  std::string out = "\n" + text::heading("The squad", options);
  if (result.squad_change_s) {
    out += text::paragraph("Mean change " + change_words(result.squad_change_s, result.slope ? 3 : 2, options) +
                               (result.slope ? " s a week." : " s."),
                           options.width);
  }
  out += text::paragraph("Smallest worthwhile change " + text::fixed(*result.worthwhile_s, result.slope ? 4 : 3) +
                             (result.slope ? " s a week: " : " s: ") + result.worthwhile_source + ".",
                         options.width);
  out += text::paragraph("Scatter of a player's runs on one date " + text::fixed(result.residual_sd_s, 3) +
                             " s, form of the day " + text::fixed(result.day_sd_s, 3) + " s (SD)" +
                             (result.shared_sd_s ? "; what evenings do to all alike moves a change by " +
                                                       text::fixed(*result.shared_sd_s, result.slope ? 4 : 3) +
                                                       " s (SD), and is in the believed ones"
                                                 : "") +
                             ".",
                         options.width);
  for (const jobs::TrendCondition& condition : result.conditions) {
    if (condition.status != ConditionStatus::adjusted) {
      continue;
    }
    std::vector<std::string> effects;
    for (const jobs::ConditionEffect& effect : condition.effects) {
      if (effect.effect_s && (*effect.effect_s != 0.0 || *effect.se_s != 0.0)) {
        effects.push_back(text::one_line(effect.level) + " " + text::signed_fixed(*effect.effect_s, 2) + " s (SE " +
                          text::fixed(*effect.se_s, 2) + ")");
      }
    }
    out += text::paragraph(
        condition.words + (effects.empty() || effects.size() > 6 ? "" : ": " + text::joined(effects)) + ".",
        options.width, condition.condition + ": ");
  }
  out += text::paragraph("Of the verdicts faster and slower at most " + text::percent(result.false_discovery_share) +
                             " are expected to be false.",
                         options.width);
  return out;
}

void write(text::JsonWriter& json, std::string_view name, const std::optional<Change>& change) {
  json.key(name);
  if (!change) {
    json.null();
    return;
  }
  json.begin_object(Layout::line)
      .member("estimate", change->estimate)
      .member("se", change->se)
      .member("df", finite_or_none(change->df))
      .member("lo", change->lo)
      .member("hi", change->hi)
      .end_object();
}

void write_player(text::JsonWriter& json, const PlayerTrend& player) {
  json.begin_object().member("player", player.player);
  write(json, "change_s", player.change_s);
  write(json, "shrunken_change_s", player.shrunken_change_s);
  json.member("expected_growth_s", player.expected_growth_s);
  json.member("expected_growth_sd_s", player.expected_growth_sd_s);
  write(json, "beyond_growth_s", player.beyond_growth_s);
  json.member("p_worthwhile", player.p_worthwhile).member("verdict", player.verdict_words);
  json.key("more_runs");
  player.more_runs ? json.count(*player.more_runs) : json.null();
  text_or_null(json, "obstacle", obstacle_word(player.obstacle));
  text_or_null(json, "help", player.help);
  json.member("p_slower", player.p_slower).member("p_value", player.p_value).member("q_value", player.q_value);
  json.member("age_first_years", text::told_age(player.age_first_years))
      .member("age_last_years", text::told_age(player.age_last_years));
  text_or_null(json, "sex", sex_word(player.sex));
  json.member("runs_first", std::uint64_t{player.runs_first})
      .member("runs_middle", std::uint64_t{player.runs_middle})
      .member("runs_last", std::uint64_t{player.runs_last})
      .member("sessions", std::uint64_t{player.sessions});
  text_or_null(json, "growth_source", player.growth_source);
  json.member("mean_first_s", player.mean_first_s).member("mean_last_s", player.mean_last_s);
  json.key("times").begin_array();
  for (const jobs::TrendTime& time : player.times) {
    json.begin_object(Layout::line)
        .member("date", runs::format_date(time.date))
        .member("time_s", time.time_s)
        .end_object();
  }
  json.end_array().end_object();
}

void write_window(text::JsonWriter& json, std::string_view name, const std::optional<jobs::WindowSummary>& window) {
  json.key(name);
  if (!window) {
    json.null();
    return;
  }
  json.begin_object(Layout::line)
      .member("from", runs::format_date(window->span.from))
      .member("to", runs::format_date(window->span.to))
      .member("dates", std::uint64_t{window->dates})
      .member("sessions", std::uint64_t{window->sessions})
      .member("runs", std::uint64_t{window->runs})
      .member("players", std::uint64_t{window->players})
      .end_object();
}

}  // namespace

std::string trend_words(const TrendResult& result) {
  if (result.reaction) {
    return "reaction (time at the first move of runs started on a signal), " +
           (result.course.empty() ? std::string("all courses") : "over " + result.course);
  }
  return result.course + " at " + result.mark;
}

std::vector<std::string> trend_help(const TrendResult& result,
                                    const std::function<std::string(const std::string&)>& shown) {
  Grouped help;
  std::size_t players = 0;
  for (const PlayerTrend& player : result.players) {
    players += player.change_s ? 1U : 0U;
    if (!player.help.empty()) {
      help.add(player.help, shown ? shown(player.player) : player.player);
    }
  }
  std::vector<std::string> out;
  for (const Grouped::Group& group : help.groups()) {
    out.push_back("For " + (group.players.size() == players && players > 2 ? "all" : text::joined(group.players)) +
                  ": " + group.sentence);
  }
  return out;
}

std::string trend_text(const TrendResult& result, const text::TextOptions& options) {
  std::string out = text::paragraph(
      "Trend of " + text::counted(result.players.size(), "player") + " from " + text::counted(result.runs_used, "run") +
          (result.course.empty() && !result.reaction ? "" : ": " + what_words(result)) + ".",
      options.width);
  if (result.slope && result.first) {
    out += text::paragraph("All dates, " + window_words(*result.first) + ".", options.width);
  } else if (result.first && result.last) {
    out += text::paragraph(
        "First window " + window_words(*result.first) + ", last window " + window_words(*result.last) + ".",
        options.width);
  }
  if (result.runs_left_out > 0) {
    out += text::paragraph("Left out: " + left_out_sentence(result) + ".", options.width);
  }
  if (!result.players.empty()) {
    out += "\n" + text::heading("Who changed", options) + table_part(result, options) + plot_part(result, options);
  }
  out += squad_part(result, options);
  if (!result.notes.empty()) {
    out += "\n" + text::heading("What these runs cannot tell", options);
    out += text::listed(result.notes, options.width);
  }
  out += "\n";
  for (const std::string& caution : result.cautions) {
    out += text::paragraph(caution, options.width);
  }
  return out;
}

std::string trend_csv(const TrendResult& result) {
  text::CsvWriter csv;
  for (const char* column :
       {"player", "age_first_years", "age_last_years", "sex", "runs_first", "runs_middle", "runs_last"}) {
    csv.text(column);
  }
  for (const char* change : {"change_s", "shrunken_change_s", "beyond_growth_s"}) {
    for (const char* part : {".estimate", ".se", ".df", ".lo", ".hi"}) {
      csv.text(std::string(change) + part);
    }
  }
  for (const char* column : {"expected_growth_s", "expected_growth_sd_s", "p_worthwhile", "p_slower", "p_value",
                             "q_value", "verdict", "more_runs"}) {
    csv.text(column);
  }
  csv.end_row();
  for (const PlayerTrend& player : result.players) {
    csv.text(player.player)
        .number(text::told_age(player.age_first_years))
        .number(text::told_age(player.age_last_years))
        .text(sex_word(player.sex));
    csv.count(player.runs_first).count(player.runs_middle).count(player.runs_last);
    for (const auto* change : {&player.change_s, &player.shrunken_change_s, &player.beyond_growth_s}) {
      if (!*change) {
        csv.empty().empty().empty().empty().empty();
        continue;
      }
      const Change& c = **change;
      csv.number(c.estimate).number(c.se).number(finite_or_none(c.df)).number(c.lo).number(c.hi);
    }
    csv.number(player.expected_growth_s)
        .number(player.expected_growth_sd_s)
        .number(player.p_worthwhile)
        .number(player.p_slower);
    csv.number(player.p_value).number(player.q_value).text(player.verdict_words);
    player.more_runs ? csv.count(*player.more_runs) : csv.empty();
    csv.end_row();
  }
  return csv.take();
}

std::string trend_json(const TrendResult& result) {
  text::JsonWriter json;
  json.begin_object().member("schema", "bagsplit.trend-mark/1").key("players").begin_array();
  for (const PlayerTrend& player : result.players) {
    write_player(json, player);
  }
  json.end_array();
  json.key("variance")
      .begin_object(Layout::line)
      .member("player", result.variance.player)
      .member("session", result.variance.session)
      .member("player_session", result.variance.player_session)
      .member("residual", result.variance.residual)
      .end_object();
  json.member("level", result.level).member("course", result.course).member("mark", result.mark);
  text_or_null(json, "from_mark", result.from_mark);
  json.member("reaction", result.reaction);
  json.member("distance_m", result.distance_m).member("base_distance_m", result.base_distance_m);
  json.member("kind", result.slope ? "slope per week" : "windows");
  write_window(json, result.slope ? "dates" : "first_window", result.first);
  if (!result.slope) {
    write_window(json, "last_window", result.last);
  }
  json.member("smallest_worthwhile_change_s", result.worthwhile_s);
  text_or_null(json, "smallest_worthwhile_change_source", result.worthwhile_source);
  json.member("false_discovery_share", result.false_discovery_share);
  write(json, "squad_change_s", result.squad_change_s);
  json.key("pooled_error")
      .begin_object(Layout::line)
      .member("residual_sd_s", result.residual_sd_s)
      .member("residual_from_model", result.residual_sd_given)
      .member("day_sd_s", result.day_sd_s)
      .member("day_from_model", result.day_sd_given)
      .member("df", finite_or_none(result.error_df))
      .member("shared_by_evenings_sd_s", result.shared_sd_s)
      .member("one_run_noise_s", result.one_run_noise_s)
      .end_object();
  json.key("conditions").begin_array();
  for (const jobs::TrendCondition& condition : result.conditions) {
    json.begin_object().member("condition", condition.condition).member("status", status_word(condition.status));
    text_or_null(json, "words", condition.words);
    json.key("levels").begin_array();
    for (const jobs::ConditionEffect& effect : condition.effects) {
      json.begin_object(Layout::line)
          .member("level", effect.level)
          .member("runs", std::uint64_t{effect.runs})
          .member("effect_s", effect.effect_s)
          .member("se_s", effect.se_s)
          .end_object();
    }
    json.end_array().end_object();
  }
  json.end_array();
  json.member("runs_used", std::uint64_t{result.runs_used})
      .member("runs_left_out", std::uint64_t{result.runs_left_out});
  json.key("left_out").begin_object(Layout::line);
  for (const jobs::TrendLeftOut& left_out : result.left_out) {
    json.key(left_out.reason).count(left_out.runs);
  }
  json.end_object();
  write_texts(json, "notes", result.notes);
  write_texts(json, "cautions", result.cautions);
  write_model(json, result.model);
  json.end_object();
  return json.take();
}

}  // namespace bagsplit::present
