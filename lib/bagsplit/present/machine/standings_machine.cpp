#include <algorithm>
#include <span>

#include "bagsplit/inference/reading/assemble.hpp"
#include "bagsplit/present/machine/json_parts.hpp"
#include "bagsplit/present/profile_quantities.hpp"
#include "bagsplit/present/standings_report.hpp"
#include "bagsplit/runs/typed.hpp"
#include "bagsplit/runs/words.hpp"
#include "bagsplit/text/csv_writer.hpp"
#include "bagsplit/text/json_writer.hpp"
#include "bagsplit/text/number_text.hpp"

namespace bagsplit::present {

namespace {

using jobs::Standing;
using jobs::StandingsResult;
using Layout = text::JsonWriter::Layout;

std::string_view method_word(jobs::StandingsMethod method) {
  return method == jobs::StandingsMethod::best ? "best" : "estimate";
}

template <typename Count>
void count_or_null(text::JsonWriter& json, std::string_view name, const std::optional<Count>& value) {
  json.key(name);
  if (value) {
    json.count(static_cast<std::uint64_t>(*value));
  } else {
    json.null();
  }
}

std::string date_word(const std::optional<runs::Date>& date) {
  return date ? runs::format_date(*date) : std::string();
}

void write_best(text::JsonWriter& json, const std::optional<jobs::BestTime>& best) {
  json.key("best");
  if (!best) {
    json.null();
    return;
  }
  json.begin_object(Layout::line)
      .member("time_s", best->time_s)
      .member("recorded_s", best->recorded_s)
      .member("class", timing::timing_class_name(best->timing_class))
      .member("watches", std::uint64_t{best->watches})
      .member("runs", std::uint64_t{best->runs})
      .member("date", runs::format_date(best->date));
  count_or_null(json, "place", best->place > 0 ? std::optional(best->place) : std::nullopt);
  json.member("tied", best->tied).member("parted_as_read", best->parted_as_read).end_object();
}

void write_player(text::JsonWriter& json, const StandingsResult& result, const Standing& player) {
  json.begin_object().member("player", player.player);
  write(json.key("value"), player.value);
  json.member("expected_rank", player.expected_rank).member("p_in_cut", player.p_in_cut);
  json.member("tier", std::uint64_t{player.tier});
  text_or_null(json, "status", player.status ? word_of(*player.status) : std::string_view());
  json.member("place", std::uint64_t{player.place}).member("rank_lo", player.rank_lo).member("rank_hi", player.rank_hi);
  text_or_null(json, "group", result.groups.at(player.group).name);
  json.member("age_years", text::told_age(player.age_years));
  count_or_null(json, "league_age", player.league_age);
  text_or_null(json, "sex", sex_word(player.sex));
  json.member("runs_used", std::uint64_t{player.runs_used})
      .member("runs_of_course", std::uint64_t{player.runs_of_course});
  if (!player.parts.empty()) {
    json.key("parts").begin_object();
    for (const jobs::NamedPart& part : player.parts) {
      write(json.key(part.name), part.value);
    }
    json.end_object();
  }
  write_best(json, player.best);
  write_texts(json, "timers", player.timers);
  json.member("probability_all_readings_fit", player.probability_all_readings_fit);
  json.key("hangs_on");
  if (player.hangs_on) {
    write(json, *player.hangs_on);
  } else {
    json.null();
  }
  json.member("heats", std::uint64_t{player.heats});
  json.end_object();
}

void write_conditions(text::JsonWriter& json, const std::optional<jobs::TimeConditions>& time) {
  json.key("time");
  if (!time) {
    json.null();
    return;
  }
  json.begin_object(Layout::line)
      .member("distance_m", time->distance_m)
      .member("base_distance_m", time->base_distance_m)
      .member("start", runs::word_of(time->start))
      .member("beam_m", time->start == runs::StartKind::beam ? std::optional(time->beam_m) : std::nullopt)
      .member("posture", runs::word_of(time->posture))
      .end_object();
}

void write_groups(text::JsonWriter& json, const StandingsResult& result) {
  json.key("groups").begin_array();
  for (const jobs::StandingsGroup& group : result.groups) {
    json.begin_object(Layout::line);
    text_or_null(json, "group", group.name);
    json.member("players", std::uint64_t{group.players});
    count_or_null(json, "cut", group.cut);
    count_or_null(json, "sure_pairs", group.sure_pairs);
    json.end_object();
  }
  json.end_array();
}

void write_next_runs(text::JsonWriter& json, const StandingsResult& result) {
  json.key("next_runs").begin_array();
  for (const jobs::MoreRuns& more : result.next_runs) {
    json.begin_object(Layout::line)
        .member("player", more.player)
        .member("runs", std::uint64_t{more.runs})
        .member("course", more.course)
        .end_object();
  }
  json.end_array();
}

void write_worth(text::JsonWriter& json, const StandingsResult& result) {
  json.key("expected_wrong_cuts");
  if (!result.worth) {
    json.null();
    return;
  }
  json.begin_object(Layout::line)
      .member("now", result.worth->now)
      .member("after", result.worth->after)
      .member("after_another_day", result.worth->after_another_day);
  json.end_object();
}

void write_flagged(text::JsonWriter& json, const StandingsResult& result) {
  json.key("flagged_runs").begin_array();
  for (const jobs::FlaggedRuns& player : result.flagged) {
    json.begin_object(Layout::line)
        .member("player", player.player)
        .member("valid_runs", std::uint64_t{player.valid_runs})
        .key("flagged")
        .begin_object(Layout::line);
    for (const auto& [flag, count] : player.flagged) {
      json.member(runs::word_of(flag), std::uint64_t{count});
    }
    json.end_object().end_object();
  }
  json.end_array();
}

void write_lists(text::JsonWriter& json, std::span<const std::vector<std::string>> lists) {
  for (const std::vector<std::string>& list : lists) {
    json.begin_array(Layout::line);
    for (const std::string& player : list) {
      json.text(player);
    }
    json.end_array();
  }
}

void write_heats(text::JsonWriter& json, const StandingsResult& result) {
  json.key("heats");
  if (!result.heats) {
    json.null();
    return;
  }
  json.begin_object(Layout::line)
      .member("heats", std::uint64_t{result.heats->heats})
      .member("runs", std::uint64_t{result.heats->runs})
      .member("without_time", std::uint64_t{result.heats->without_time})
      .member("any_time", result.heats->any_time)
      .member("same_again", result.heats->same_again)
      .key("groups")
      .begin_array(Layout::line);
  write_lists(json, result.heats->groups);
  json.end_array().end_object();
}

}  // namespace

std::string standings_json(const StandingsResult& result) {
  text::JsonWriter json;
  json.begin_object().member("schema", "bagsplit.standings/1").key("players").begin_array();
  for (const Standing& player : result.players) {
    write_player(json, result, player);
  }
  json.end_array();
  write_next_runs(json, result);
  write_worth(json, result);
  write_texts(json, "first_run", result.first_run);
  json.key("not_ranked").begin_array();
  for (const jobs::NotRanked& player : result.not_ranked) {
    json.begin_object(Layout::line).member("player", player.player).member("why", player.why).end_object();
  }
  json.end_array();
  json.member("by", result.by_word)
      .member("unit", result.index.empty() && !result.age_adjusted && !result.by.empty()
                          ? unit_of(result.by.front().quantity)
                          : std::string_view("SD"))
      .member("lower_is_better", result.lower_is_better)
      .member("age_adjusted", result.age_adjusted)
      .member("method", method_word(result.method));
  write_conditions(json, result.time);
  json.key("index").begin_array();
  for (const jobs::IndexScale& part : result.index) {
    json.begin_object(Layout::line)
        .member("quantity", part.name)
        .member("weight", part.weight)
        .member("mean", part.mean)
        .member("sd", part.sd)
        .end_object();
  }
  json.end_array();
  write_groups(json, result);
  text_or_null(json, "age_on", date_word(result.age_on));
  json.member("level", result.level).member("certainty", result.certainty);
  json.member("draws", std::uint64_t{result.draws}).member("seed", std::uint64_t{result.seed});
  json.member("runs_used", std::uint64_t{result.runs_used})
      .member("runs_left_out", std::uint64_t{result.runs_left_out});
  text_or_null(json, "first_date", date_word(result.first_date));
  text_or_null(json, "last_date", date_word(result.last_date));
  write_texts(json, "notes", result.notes);
  write_texts(json, "cautions", result.cautions);
  write_model(json, result.model);
  json.member("ties", word_of(result.ties));
  write_flagged(json, result);
  write_suspected(json, result.suspected);
  write_heats(json, result);
  json.key("next_heats").begin_array();
  write_lists(json, result.next_heats);
  json.end_array().end_object();
  return json.take();
}

std::string standings_csv(const StandingsResult& result) {
  text::CsvWriter csv;
  for (const char* column :
       {"group",          "place",      "player",  "age_years", "league_age", "sex",       "runs_used",
        "runs_of_course", "mean",       "sd",      "lo",        "median",     "hi",        "share_from_data",
        "expected_rank",  "rank_lo",    "rank_hi", "p_in_cut",  "tier",       "status",    "next_runs",
        "best_s",         "recorded_s", "class",   "watches",   "runs",       "best_date", "official_place",
        "tied",           "not_ranked", "heats"}) {
    csv.text(column);
  }
  csv.end_row();
  constexpr std::size_t after_player = 26;
  for (const Standing& player : result.players) {
    const jobs::Estimate& value = player.value;
    csv.text(result.groups.at(player.group).name)
        .count(player.place)
        .text(player.player)
        .number(text::told_age(player.age_years));
    csv.text(player.league_age ? std::to_string(*player.league_age) : "").text(sex_word(player.sex));
    csv.count(player.runs_used).count(player.runs_of_course);
    csv.number(value.mean).number(value.sd).number(value.lo).number(value.median).number(value.hi);
    csv.number(value.share_from_data).number(player.expected_rank).number(player.rank_lo).number(player.rank_hi);
    csv.number(player.p_in_cut).count(player.tier);
    csv.text(player.status ? word_of(*player.status) : std::string_view());
    const auto more = std::find_if(result.next_runs.begin(), result.next_runs.end(),
                                   [&](const jobs::MoreRuns& m) { return m.player == player.player; });
    csv.count(more != result.next_runs.end() ? more->runs : 0);
    if (player.best) {
      const jobs::BestTime& best = *player.best;
      csv.number(best.time_s).number(best.recorded_s).text(timing::timing_class_name(best.timing_class));
      csv.count(best.watches).count(best.runs).text(runs::format_date(best.date));
      csv.text(best.place > 0 ? std::to_string(best.place) : "").text(best.tied ? "yes" : "no");
    } else {
      csv.empty().empty().empty().empty().empty().empty().empty().empty();
    }
    csv.empty().count(player.heats).end_row();
  }
  for (const jobs::NotRanked& player : result.not_ranked) {
    csv.empty().empty().text(player.player);
    for (std::size_t i = 0; i < after_player; ++i) {
      csv.empty();
    }
    csv.text(player.why).empty().end_row();
  }
  return csv.take();
}

}  // namespace bagsplit::present
