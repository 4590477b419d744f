#include "bagsplit/jobs/relay/relay_season.hpp"
#include "bagsplit/present/machine/json_parts.hpp"
#include "bagsplit/present/relay_report.hpp"
#include "bagsplit/runs/log/log_summary.hpp"
#include "bagsplit/runs/typed.hpp"
#include "bagsplit/text/csv_writer.hpp"

namespace bagsplit::present {

namespace {

using jobs::RelayLeg;
using jobs::RelayRun;
using Layout = text::JsonWriter::Layout;

void count_or_null(text::JsonWriter& json, std::string_view name, std::optional<std::size_t> value) {
  json.key(name);
  value ? json.count(*value) : json.null();
}

void write_line(text::JsonWriter& json, std::string_view name, const std::vector<std::string>& texts) {
  json.key(name).begin_array(Layout::line);
  for (const std::string& text : texts) {
    json.text(text);
  }
  json.end_array();
}

void write_leg(text::JsonWriter& json, const RelayLeg& leg) {
  json.begin_object().member("leg", std::uint64_t{leg.leg});
  text_or_null(json, "player", leg.player);
  json.member("leg_s", leg.leg_s);
  write(json, "exchange_s", leg.exchange_s);
  write(json, "against_own_runs_s", leg.against_own_runs_s);
  write(json, "exchange_and_loss_s", leg.exchange_and_loss_s);
  text_or_null(json, "course", leg.course);
  text_or_null(json, "flag", leg.flag == runs::Flag::none ? std::string_view() : runs::flag_name(leg.flag));
  json.member("clock_s", leg.clock_s);
  json.member("leg_sd_s", leg.leg_s ? std::optional(leg.leg_sd_s) : std::nullopt);
  count_or_null(json, "together_from", leg.together_from);
  json.member("together_s", leg.together_s).member("usual_scatter_s", leg.usual_scatter_s);
  json.member("own_runs", leg.own_runs).member("own_runs_over_course", leg.own_course);
  json.member("suspicious_beside_s", leg.squad_leg_s).end_object();
}

void write_run(text::JsonWriter& json, const RelayRun& run) {
  json.begin_object().member("team", run.team).member("total_s", run.total_s).key("legs").begin_array();
  for (const RelayLeg& leg : run.legs) {
    write_leg(json, leg);
  }
  json.end_array().member("date", runs::format_date(run.date));
  text_or_null(json, "place", run.place);
  json.member("trial", std::uint64_t{run.trial});
  json.member("total_sd_s", run.total_s ? std::optional(run.total_sd_s) : std::nullopt);
  write_line(json, "timers", run.timers);
  json.end_object();
}

// Without its end.
void write_expected_total(text::JsonWriter& json, const jobs::ExpectedRelay& expected) {
  json.begin_object().member("team", expected.team);
  write_line(json, "players", expected.players);
  write_line(json, "courses", expected.courses);
  json.key("total_s");
  write(json, expected.total_s);
  json.member("p_win", expected.p_win);
}

void write_expected(text::JsonWriter& json, const jobs::ExpectedRelay& expected) {
  write_expected_total(json, expected);
  json.key("best_order").begin_object();
  json.member("matters", expected.best.matters);
  write_line(json, "players", expected.best.players);
  json.key("gain_s");
  write(json, expected.best.gain_s);
  json.member("p_faster", expected.best.p_faster)
      .member("best_to_worst_s", expected.best.best_to_worst_s)
      .member("p_best_to_worst", expected.best.p_best_to_worst)
      .end_object()
      .end_object();
}

constexpr const char* parts[] = {".mean", ".sd", ".lo", ".median", ".hi", ".share_from_data"};

void write(text::CsvWriter& csv, const std::optional<jobs::Estimate>& e) {
  if (!e) {
    csv.empty().empty().empty().empty().empty().empty();
    return;
  }
  csv.number(e->mean).number(e->sd).number(e->lo).number(e->median).number(e->hi).number(e->share_from_data);
}

}  // namespace

namespace {

void write_season(text::JsonWriter& json, const jobs::RelaySeason& season) {
  json.key("season").begin_object().key("exchanges").begin_array();
  for (const jobs::PooledExchange& one : season.exchanges) {
    json.begin_object(Layout::line)
        .member("player", one.player)
        .member("relays", std::uint64_t{one.relays})
        .member("mean_s", one.mean_s)
        .member("give_or_take_s", one.give_or_take_s)
        .member("others_middle_s", one.others_middle_s)
        .member("surely_late", one.surely_late)
        .end_object();
  }
  json.end_array().key("side_or_team");
  if (const auto& told = season.side_or_team) {
    json.begin_object(Layout::line)
        .member("team", told->team)
        .member("other", told->other)
        .member("team_s", told->team_s)
        .member("team_give_or_take_s", told->team_give_s)
        .member("quicker_way", told->first_quicker ? "first" : "third")
        .member("side_s", told->side_s)
        .member("side_give_or_take_s", told->side_give_s)
        .member("relays", std::uint64_t{told->relays})
        .end_object();
  } else {
    json.null();
  }
  json.end_object();
}

}  // namespace

std::string relay_json(const jobs::RelayResult& result) {
  text::JsonWriter json;
  json.begin_object().member("schema", "bagsplit.relay/1").key("teams").begin_array();
  for (const RelayRun& run : result.runs) {
    write_run(json, run);
  }
  json.end_array().key("win_probability").begin_object();
  for (const jobs::ExpectedRelay& expected : result.expected) {
    if (expected.p_win) {
      json.member(expected.team, *expected.p_win);
    }
  }
  json.end_object().key("expected").begin_array();
  for (const jobs::ExpectedRelay& expected : result.expected) {
    write_expected(json, expected);
  }
  json.end_array().key("sides_swapped").begin_array();
  for (const jobs::ExpectedRelay& swapped : result.swapped) {
    write_expected_total(json, swapped);
    json.end_object();
  }
  json.end_array().key("gaps").begin_array();
  for (const jobs::RaceGaps& race : jobs::race_gaps(result)) {
    for (const jobs::RaceGaps::After& after : race.after) {
      for (std::size_t team = 0; team < race.teams.size(); ++team) {
        json.begin_object(Layout::line).member("date", runs::format_date(race.date));
        text_or_null(json, "place", race.place);
        json.member("trial", std::uint64_t{race.trial})
            .member("after_leg", std::uint64_t{after.leg})
            .member("team", race.teams[team].team)
            .member("behind_s", after.behind_s[team])
            .end_object();
      }
    }
  }
  json.end_array().key("heats").begin_array();
  for (const jobs::RelayHeat& heat : result.heats) {
    json.begin_object(Layout::line).member("date", runs::format_date(heat.date));
    text_or_null(json, "place", heat.place);
    json.member("trial", std::uint64_t{heat.trial})
        .member("first", heat.first)
        .member("margin_s", heat.margin_s)
        .member("p_first", heat.p_first)
        .end_object();
  }
  json.end_array().member("level", result.level);
  json.member("draws", std::uint64_t{result.draws}).member("seed", result.seed);
  write_texts(json, "notes", result.notes);
  write_texts(json, "cautions", result.cautions);
  write_model(json, result.model);
  json.key("players").begin_array();
  for (const auto& [player, fit] : result.all_readings_fit) {
    json.begin_object(Layout::line).member("player", player).member("probability_all_readings_fit", fit).end_object();
  }
  json.end_array();
  write_suspected(json, result.suspected);
  write_season(json, jobs::relay_season(result));
  json.end_object();
  return json.take();
}

std::string relay_csv(const jobs::RelayResult& result) {
  text::CsvWriter csv;
  for (const char* column : {"what", "team", "date", "place", "trial", "leg", "player", "course", "flag", "clock_s",
                             "leg_s", "leg_sd_s", "together_from", "together_s"}) {
    csv.text(column);
  }
  for (const char* quantity : {"exchange_s", "exchange_and_loss_s", "against_own_runs_s", "total_s"}) {
    for (const char* part : parts) {
      csv.text(std::string(quantity) + part);
    }
  }
  csv.text("p_win").end_row();
  for (const RelayRun& run : result.runs) {
    for (const RelayLeg& leg : run.legs) {
      csv.text("leg").text(run.team).text(runs::format_date(run.date)).text(run.place).count(run.trial).count(leg.leg);
      csv.text(leg.player)
          .text(leg.course)
          .text(leg.flag != runs::Flag::none ? runs::flag_name(leg.flag)
                : leg.squad_leg_s            ? std::string_view("suspicious")
                                             : "");
      csv.number(leg.clock_s).number(leg.leg_s).number(leg.leg_s ? std::optional(leg.leg_sd_s) : std::nullopt);
      leg.together_from ? csv.count(*leg.together_from) : csv.empty();
      csv.number(leg.together_s);
      write(csv, leg.exchange_s);
      write(csv, leg.exchange_and_loss_s);
      write(csv, leg.against_own_runs_s);
      write(csv, std::nullopt);
      csv.empty().end_row();
    }
  }
  const auto add = [&](const char* what, const jobs::ExpectedRelay& expected) {
    csv.text(what).text(expected.team);
    for (int k = 0; k < 4; ++k) {
      csv.empty();
    }
    std::string order;
    for (const std::string& player : expected.players) {
      order += (order.empty() ? "" : " ") + player;
    }
    csv.text(order);
    for (int k = 0; k < 7; ++k) {
      csv.empty();
    }
    write(csv, std::nullopt);
    write(csv, std::nullopt);
    write(csv, std::nullopt);
    write(csv, expected.total_s);
    csv.number(expected.p_win).end_row();
  };
  for (const jobs::ExpectedRelay& expected : result.expected) {
    add("expected", expected);
  }
  for (const jobs::ExpectedRelay& swapped : result.swapped) {
    add("swapped", swapped);
  }
  return csv.take();
}

}  // namespace bagsplit::present
