#include "bagsplit/present/season_report.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <string_view>
#include <utility>

#include "bagsplit/present/machine/json_parts.hpp"
#include "bagsplit/present/profile_quantities.hpp"
#include "bagsplit/runs/typed.hpp"
#include "bagsplit/stats/distributions.hpp"
#include "bagsplit/text/csv_writer.hpp"
#include "bagsplit/text/json_writer.hpp"
#include "bagsplit/text/number_text.hpp"
#include "bagsplit/text/text_table.hpp"
#include "bagsplit/text/wording.hpp"

namespace bagsplit::present {

namespace {

using jobs::SeasonPlayer;
using jobs::SeasonTrend;
using season::Verdict;
using Layout = text::JsonWriter::Layout;

bool is_slower(Verdict verdict) {
  return verdict == Verdict::surely_slower || verdict == Verdict::probably_slower || verdict == Verdict::leaning_slower;
}

bool has_direction(Verdict verdict) {
  return is_slower(verdict) || verdict == Verdict::surely_faster || verdict == Verdict::probably_faster ||
         verdict == Verdict::leaning_faster;
}

std::string date_words(const jobs::DateSpan& span) {
  return span.from == span.to ? runs::format_date(span.from)
                              : runs::format_date(span.from) + " to " + runs::format_date(span.to);
}

std::string window_words(const jobs::WindowSummary& window) {
  return date_words(window.span) + " (" + text::counted(window.dates, "evening") + ", " +
         text::counted(window.runs, "run") + ")";
}

// Half of an interval about a mean, as wide as those of the changes.
std::string give_or_take(const SeasonTrend& result, const season::Estimate& estimate, int decimals = 2) {
  return text::fixed(stats::normal_quantile(0.5 + 0.5 * result.level) * estimate.sd, decimals);
}

std::string plain_reason(const std::string& reason, bool reaction) {
  return reason == "no_time_at_mark" ? (reaction ? "without a time at the first move" : "without a time at a mark")
         : reason == "no_signal"     ? "started without a signal"
         : reason == "relay_leg"     ? "in a relay"
                                     : "flagged " + reason;
}

std::string head_part(const SeasonTrend& result, const text::TextOptions& options) {
  std::string words = "Trend of " + text::counted(result.players.size(), "player") + " from " +
                      text::counted(result.times_used, "time") + " in " + text::counted(result.runs_used, "run") +
                      " on " + text::counted(result.dates, "evening") + ", over " +
                      text::counted(result.courses, "course") + ".";
  if (result.reaction) {
    words += " The reaction alone: from the signal to the first move, seconds are its own.";
  } else if (!result.course.empty()) {
    words += " All of them count; seconds are those of " + trend_words(result) + ".";
  }
  std::string out = text::paragraph(words, options.width);
  if (result.early && result.late) {
    out += text::paragraph(
        "First evenings " + window_words(*result.early) + ", last evenings " + window_words(*result.late) + ".",
        options.width);
  }
  if (result.a_week && result.weeks) {
    out += text::paragraph("Changes are seconds a week, over " + text::fixed(*result.weeks, 1) +
                               " weeks from the middle of the first evenings to that of the last.",
                           options.width);
  }
  if (result.runs_left_out > 0) {
    std::vector<std::string> reasons;
    for (const jobs::TrendLeftOut& one : result.left_out) {
      reasons.push_back(std::to_string(one.runs) + " " + plain_reason(one.reason, result.reaction));
    }
    out += text::paragraph(
        "Left out: " + text::counted(result.runs_left_out, "run") + ": " + text::joined(reasons) + ".", options.width);
  }
  return out;
}

int decimals_of(const SeasonTrend& result) {
  return result.a_week ? 4 : 2;
}

std::string detectable_part(const SeasonTrend& result, const text::TextOptions& options) {
  if (!result.smallest_detectable_s) {
    return {};
  }
  const double least_s = *result.smallest_detectable_s;
  return text::paragraph(
      least_s * (result.a_week ? *result.weeks : 1.0) < 0.5 * result.moving_time_s
          ? "A change of " + text::fixed(least_s, decimals_of(result)) + (result.a_week ? " s a week" : " s") +
                " beyond growing would be told of four children in five. Smaller ones may stay unseen: no sign does "
                "not mean no change."
          : "So few times tell no child's change beyond growing: more evenings and more runs are needed.",
      options.width);
}

std::string odds_of(const SeasonPlayer& player) {
  const season::Change& change = *player.change;
  return has_direction(change.verdict)               ? odds_words(std::max(change.p_faster, change.p_slower))
         : change.verdict == Verdict::as_growth_says ? odds_words(change.p_as_growth)
                                                     : std::string(text::absent);
}

std::string table_part(const SeasonTrend& result, const text::TextOptions& options) {
  const std::string unit = result.a_week ? "s/week" : "s";
  text::TextTable table({{"player", "", text::Align::left},
                         {"change", unit},
                         {"between", unit},
                         {"growth", unit},
                         {"beyond", unit},
                         {"odds", ""},
                         {"word", "", text::Align::left, true}});
  const std::string absent(text::absent);
  const std::string about = std::string(text::plus_minus(options));
  const int decimals = decimals_of(result);
  const auto shown = [&](double value) { return text::signed_fixed(value, decimals); };
  for (const SeasonPlayer& player : result.players) {
    // Of a child not seen early and late the model knows no more than of any other.
    if (!player.change || player.change->verdict == Verdict::not_seen_early_and_late) {
      table.add_row({player.player, absent, absent, absent, absent, absent, player.verdict});
      continue;
    }
    const season::Change& change = *player.change;
    table.add_row({player.player, shown(change.change_s),
                   shown(change.interval_s.lo) + " " + shown(change.interval_s.hi),
                   shown(change.growth_s.mean) + about + give_or_take(result, change.growth_s, decimals),
                   shown(change.beyond_growth_s.mean), odds_of(player), player.verdict});
  }
  std::string out = table.str(options);
  out += text::paragraph(
      "change: last evenings less first, below 0 is faster; between: where it "
      "lies "
      "with a chance of " +
          text::percent(result.level) +
          ", wide enough for a child that did change. growth: what growing up alone would do at that age. beyond: what "
          "is "
          "left of it beyond growing and beyond what the whole squad did; the words and odds are of this.",
      options.width);
  out += text::paragraph(
      "odds are for this child. Over many seasons with a known truth surely was right 19 times in 20, probably more "
      "than 4 in 5, leaning about 2 in 3: a hint and no more. as growth says: what growing does, within what is worth "
      "telling. no sign: nothing to be seen beyond that.",
      options.width);
  const bool any_slower = std::any_of(result.players.begin(), result.players.end(), [](const SeasonPlayer& player) {
    return player.change && is_slower(player.change->verdict);
  });
  if (any_slower) {
    out += text::paragraph(
        "Slower is for the coach, not for the child: look first at tiredness, soreness, a growth spurt, motivation.",
        options.width);
  }
  return out;
}

std::string kind_words(const std::string& kind) {
  return kind == "ground"    ? "another ground"
         : kind == "timer"   ? "other people or gates timing"
         : kind == "device"  ? "another kind of timing"
         : kind == "evening" ? "what the evenings did to all alike"
                             : "the wind";
}

std::string conditions_part(const SeasonTrend& result, const text::TextOptions& options) {
  if (!result.squad) {
    return {};
  }
  std::string out = "\n" + text::heading("The squad together", options);
  out +=
      text::paragraph("The whole squad moved by " + text::signed_fixed(result.common_move_s.mean, decimals_of(result)) +
                          (result.a_week ? " s a week" : " s") + " beyond growing, give or take " +
                          give_or_take(result, result.common_move_s, decimals_of(result)) +
                          ". It is not counted as any child's own. Where most of a squad change alike, about half of "
                          "that counts as the squad's.",
                      options.width);
  if (result.typical_error_s) {
    out += text::paragraph("One run lies about " + text::fixed(*result.typical_error_s, 2) +
                               " s from what the same child usually runs (its typical error). Two single runs of two "
                               "evenings must differ by " +
                               text::fixed(*result.retest_difference_s, 2) +
                               " s before that is more than chance 19 times in 20: means of several runs tell more.",
                           options.width);
  }
  std::vector<std::string> explained;
  for (const jobs::SeasonCondition& condition : result.conditions) {
    if (std::fabs(condition.explains_s) >= 0.005) {
      explained.push_back(kind_words(condition.kind) + " " + text::signed_fixed(condition.explains_s, 2) + " s");
    }
  }
  if (!explained.empty()) {
    out += text::paragraph("What else changed from the first evenings to the last could explain: " +
                               text::joined(explained) + ". It is taken off the changes, and its doubt is in them.",
                           options.width);
  }
  constexpr std::size_t most_levels = 6;
  for (const jobs::SeasonCondition& condition : result.conditions) {
    std::vector<std::string> levels;
    std::string most;
    for (const jobs::SeasonLevel& level : condition.levels) {
      if (level.sd_s > 0.0) {
        levels.push_back(text::one_line(level.name) + " " + text::signed_fixed(level.effect_s, 2) +
                         " s, give or take " + give_or_take(result, {level.effect_s, level.sd_s}));
      } else {
        most = text::one_line(level.name);
      }
    }
    if (!levels.empty() && levels.size() <= most_levels) {
      out +=
          text::paragraph("beside " + most + ": " + text::joined(levels) + ".", options.width, condition.kind + ": ");
    }
  }
  return out;
}

std::string suspects_part(const SeasonTrend& result, const text::TextOptions& options) {
  if (result.suspects.empty()) {
    return {};
  }
  std::vector<std::string> words;
  for (const jobs::SeasonSuspect& one : result.suspects) {
    words.push_back(
        (one.reading.file.empty() ? "" : one.reading.file + " ") + "line " + std::to_string(one.reading.line) +
        ": player " + one.reading.player + " on " + runs::format_date(one.date) + ", " + one.what +
        (one.reading.column.empty() ? "" : "; about " + text::fixed(one.reading.expected_s, 2) + " s would fit"));
  }
  return "\n" + text::heading("Times to look at again", options) +
         text::paragraph("They do not fit with the others and hardly count here. Put right or strike what is wrong.",
                         options.width) +
         text::listed(words, options.width);
}

void write(text::JsonWriter& json, std::string_view name, const season::Estimate& estimate) {
  json.key(name).begin_object(Layout::line).member("mean", estimate.mean).member("sd", estimate.sd).end_object();
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
      .member("runs", std::uint64_t{window->runs})
      .member("players", std::uint64_t{window->players})
      .end_object();
}

void write_change(text::JsonWriter& json, const std::optional<season::Change>& change) {
  if (!change) {
    for (const char* name : {"change_s", "growth_s", "beyond_growth_s", "p_faster", "p_slower", "p_faster_total",
                             "p_as_growth", "conditions_s"}) {
      json.key(name).null();
    }
    return;
  }
  json.key("change_s")
      .begin_object(Layout::line)
      .member("estimate", change->change_s)
      .member("lo", change->interval_s.lo)
      .member("hi", change->interval_s.hi)
      .end_object();
  write(json, "growth_s", change->growth_s);
  json.key("beyond_growth_s")
      .begin_object(Layout::line)
      .member("mean", change->beyond_growth_s.mean)
      .member("sd", change->beyond_growth_s.sd)
      .member("lo", change->beyond_growth_interval_s.lo)
      .member("hi", change->beyond_growth_interval_s.hi)
      .end_object();
  json.member("p_faster", change->p_faster)
      .member("p_slower", change->p_slower)
      .member("p_faster_total", change->p_total_faster)
      .member("p_as_growth", change->p_as_growth)
      .member("conditions_s", change->conditions_s);
}

void write_player(text::JsonWriter& json, const SeasonPlayer& player) {
  json.begin_object().member("player", player.player);
  write_change(json, player.change);
  json.member("verdict", player.verdict)
      .member("age_first_years", text::told_age(player.age_first_years))
      .member("age_last_years", text::told_age(player.age_last_years));
  text_or_null(json, "sex", sex_word(player.sex));
  json.member("times_early", std::uint64_t{player.times_early})
      .member("times_between", std::uint64_t{player.times_between})
      .member("times_late", std::uint64_t{player.times_late})
      .member("probability_all_readings_fit", player.probability_all_readings_fit)
      .member("mean_early_s", player.mean_early_s)
      .member("mean_late_s", player.mean_late_s);
  json.key("times").begin_array();
  for (const jobs::TrendTime& time : player.times) {
    json.begin_object(Layout::line).member("date", runs::format_date(time.date)).member("time_s", time.time_s);
    json.end_object();
  }
  json.end_array().end_object();
}

void write_conditions(text::JsonWriter& json, const SeasonTrend& result) {
  json.key("conditions").begin_array();
  for (const jobs::SeasonCondition& condition : result.conditions) {
    json.begin_object().member("kind", condition.kind).member("explains_s", condition.explains_s);
    json.key("levels").begin_array();
    for (const jobs::SeasonLevel& level : condition.levels) {
      json.begin_object(Layout::line)
          .member("level", level.name)
          .member("times", std::uint64_t{level.times})
          .member("effect_s", level.effect_s)
          .member("sd_s", level.sd_s)
          .end_object();
    }
    json.end_array().end_object();
  }
  json.end_array();
}

jobs::SuspectedReadings suspected_of(const SeasonTrend& result) {
  jobs::SuspectedReadings out;
  for (const jobs::SeasonSuspect& one : result.suspects) {
    out.add({one.reading});
  }
  if (result.squad) {
    out.slip_rate = result.squad->slip_rate;
  }
  return out;
}

}  // namespace

std::string odds_words(double p) {
  constexpr std::array<std::pair<int, int>, 7> steps{{{99, 100}, {19, 20}, {9, 10}, {4, 5}, {3, 4}, {2, 3}, {1, 2}}};
  for (const auto& [n, of] : steps) {
    if (p * of >= n) {
      return std::to_string(n) + " in " + std::to_string(of);
    }
  }
  return "less than 1 in 2";
}

std::string trend_words(const SeasonTrend& result) {
  if (result.reaction) {
    return "the reaction" + (result.course.empty() ? "" : " over " + result.course);
  }
  return result.course + (result.from_mark.empty() ? " at " : " from " + result.from_mark + " to ") + result.mark;
}

std::string season_text(const SeasonTrend& result, const text::TextOptions& options) {
  std::string out = head_part(result, options);
  if (!result.players.empty()) {
    out +=
        "\n" + text::heading("Who changed", options) + detectable_part(result, options) + table_part(result, options);
  }
  out += conditions_part(result, options) + suspects_part(result, options);
  if (!result.notes.empty()) {
    out += "\n" + text::heading("What these runs cannot tell", options) + text::listed(result.notes, options.width);
  }
  out += "\n";
  for (const std::string& caution : result.cautions) {
    out += text::paragraph(caution, options.width);
  }
  return out;
}

std::string season_csv(const SeasonTrend& result) {
  text::CsvWriter csv;
  for (const char* column : {"player",
                             "age_first_years",
                             "age_last_years",
                             "sex",
                             "times_early",
                             "times_between",
                             "times_late",
                             "change_s.estimate",
                             "change_s.lo",
                             "change_s.hi",
                             "growth_s.mean",
                             "growth_s.sd",
                             "beyond_growth_s.mean",
                             "beyond_growth_s.sd",
                             "beyond_growth_s.lo",
                             "beyond_growth_s.hi",
                             "p_faster",
                             "p_slower",
                             "p_faster_total",
                             "p_as_growth",
                             "conditions_s",
                             "verdict"}) {
    csv.text(column);
  }
  csv.end_row();
  for (const SeasonPlayer& player : result.players) {
    csv.text(player.player)
        .number(text::told_age(player.age_first_years))
        .number(text::told_age(player.age_last_years))
        .text(sex_word(player.sex));
    csv.count(player.times_early).count(player.times_between).count(player.times_late);
    if (const auto& c = player.change) {
      for (const double value :
           {c->change_s, c->interval_s.lo, c->interval_s.hi, c->growth_s.mean, c->growth_s.sd, c->beyond_growth_s.mean,
            c->beyond_growth_s.sd, c->beyond_growth_interval_s.lo, c->beyond_growth_interval_s.hi, c->p_faster,
            c->p_slower, c->p_total_faster, c->p_as_growth, c->conditions_s}) {
        csv.number(value);
      }
    } else {
      constexpr int numbers = 14;
      for (int k = 0; k < numbers; ++k) {
        csv.empty();
      }
    }
    csv.text(player.verdict).end_row();
  }
  return csv.take();
}

std::string season_json(const SeasonTrend& result) {
  text::JsonWriter json;
  json.begin_object().member("schema", "bagsplit.trend/2").key("players").begin_array();
  for (const SeasonPlayer& player : result.players) {
    write_player(json, player);
  }
  json.end_array();
  json.key("share_changed");
  result.squad ? json.number(result.squad->share_changed) : json.null();
  if (result.squad) {
    write(json, "common_move_s", result.common_move_s);
  } else {
    json.key("common_move_s").null();
  }
  json.member("smallest_detectable_s", result.smallest_detectable_s);
  write_conditions(json, result);
  write_suspected(json, suspected_of(result));
  json.member("level", result.level);
  text_or_null(json, "course", result.course);
  text_or_null(json, "mark", result.mark);
  text_or_null(json, "from_mark", result.from_mark);
  json.member("reaction", result.reaction).member("a_week", result.a_week).member("weeks", result.weeks);
  json.member("distance_m", result.distance_m)
      .member("worthwhile_s", result.worthwhile_s)
      .member("one_run_noise_s", result.one_run_noise_s)
      .member("typical_error_s", result.typical_error_s)
      .member("retest_difference_s", result.retest_difference_s);
  write_window(json, "first_window", result.early);
  write_window(json, "last_window", result.late);
  json.member("dates", std::uint64_t{result.dates})
      .member("courses", std::uint64_t{result.courses})
      .member("marks", std::uint64_t{result.marks})
      .member("times_used", std::uint64_t{result.times_used})
      .member("runs_used", std::uint64_t{result.runs_used})
      .member("runs_left_out", std::uint64_t{result.runs_left_out});
  json.key("left_out").begin_object(Layout::line);
  for (const jobs::TrendLeftOut& left_out : result.left_out) {
    json.key(left_out.reason).count(left_out.runs);
  }
  json.end_object();
  json.key("scatter");
  if (result.squad) {
    json.begin_object(Layout::line)
        .member("evening_share", result.squad->scales.evening_sd)
        .member("form_share", result.squad->scales.form_sd)
        .member("effort_share", result.squad->scales.effort_sd)
        .end_object();
  } else {
    json.null();
  }
  write_texts(json, "notes", result.notes);
  write_texts(json, "cautions", result.cautions);
  write_model(json, result.model);
  json.end_object();
  return json.take();
}

}  // namespace bagsplit::present
