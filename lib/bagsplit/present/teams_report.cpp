#include "bagsplit/present/teams_report.hpp"

#include <cmath>

#include "bagsplit/present/machine/json_parts.hpp"
#include "bagsplit/present/probability_text.hpp"
#include "bagsplit/present/profile_parts.hpp"
#include "bagsplit/present/profile_quantities.hpp"
#include "bagsplit/present/text/estimate_table.hpp"
#include "bagsplit/runs/typed.hpp"
#include "bagsplit/runs/units.hpp"
#include "bagsplit/text/csv_writer.hpp"
#include "bagsplit/text/number_text.hpp"
#include "bagsplit/text/wording.hpp"

namespace bagsplit::present {

namespace {

using jobs::EvenTeam;
using jobs::TeamMember;
using jobs::TeamsResult;
using Layout = text::JsonWriter::Layout;

std::string half_width(const jobs::Estimate& e, int decimals, const text::TextOptions& options) {
  return std::string(text::plus_minus(options)) + text::fixed((e.hi - e.lo) / 2.0, decimals);
}

std::string teams_part(const TeamsResult& result, const text::TextOptions& options) {
  text::TextTable table({{"team", "", text::Align::left},
                         {"relay", "s"},
                         {"leg", "s"},
                         {"spread", "s"},
                         {"wins", "P"},
                         {"players", "", text::Align::left, true}});
  for (const EvenTeam& team : result.teams) {
    std::string ids;
    for (const TeamMember& member : team.members) {
      ids += (ids.empty() ? "" : ", ") + member.player;
    }
    table.add_row({team.name, text::fixed(team.total_s.median, 2) + " " + half_width(team.total_s, 2, options),
                   text::fixed(team.mean_leg_s, 3), text::fixed(team.spread_s, 2),
                   probability_cell(team.p_win, 2, result.draws), std::move(ids)});
  }
  return table.str(options);
}

std::string evenness_words(const TeamsResult& result) {
  const std::string rules = result.rules.empty() ? "" : " that keeps the rules";
  std::string out = "As expected, " + result.slowest + " is " + text::fixed(result.imbalance.time_s, 3) +
                    " s a leg slower than " + result.fastest + "; their spreads differ by up to " +
                    text::fixed(result.imbalance.spread_s, 3) + " s. ";
  if (result.proven) {
    return out + "Proven: no other split" + rules + " is more even (a leg's time, and " +
           text::fixed(result.spread_weight, 2) + " of the spread).";
  }
  return out + "Not proven to be the best: there are too many splits to try them all. But none" + rules +
         " can be more even than not differing at all, so at most " +
         text::fixed(result.imbalance.total_s - result.best_possible_s, 4) + " s a leg could still be gained.";
}

std::string truth_words(const TeamsResult& result, const text::TextOptions& options) {
  return "How fast these children really are is known less well: " +
         std::string(result.same_size ? "over the whole relay " : "a leg, ") + result.slowest + " is slower by " +
         text::fixed(result.difference_s.median, 2) + " " + half_width(result.difference_s, 2, options) + " s (" +
         text::percent(result.level) + " interval).";
}

std::string legend(const TeamsResult& result, const text::TextOptions& options) {
  return text::paragraph("relay: a leg of each player, one after the other; after " +
                             std::string(text::plus_minus(options)) + " half of the " + text::percent(result.level) +
                             " interval. leg: mean expected leg. spread: how far the players' legs are from "
                             "everybody's mean. wins: share of " +
                             std::to_string(result.draws) + " simulated relays (seed " + std::to_string(result.seed) +
                             ") in which the team comes first, the luck of the day included. What all share cancels.",
                         options.width) +
         (result.same_size
              ? std::string()
              : text::paragraph("The teams differ in size: the mean leg is compared, not the whole relay; let "
                                "somebody of the smaller team run twice, or "
                                "count the leg.",
                                options.width));
}

std::string players_part(const TeamsResult& result, const text::TextOptions& options) {
  EstimateTable table(
      {{"player", "", text::Align::left}, {"team", "", text::Align::left}, {"age", "yr"}, {"runs"}, {"leg", "s"}},
      options);
  bool any_prior = false;
  for (const EvenTeam& team : result.teams) {
    for (const TeamMember& member : team.members) {
      table.begin_row();
      table.text(member.player);
      table.text(team.name);
      table.text(text::fixed(member.age_years, 1));
      table.text(std::to_string(member.runs));
      table.estimate(&member.leg_s, 2);
      any_prior = any_prior || mostly_prior(member.leg_s);
    }
  }
  return table.str() +
         (any_prior
              ? text::paragraph("mostly what is usual at this age: less than half of it comes from this player's runs.",
                                options.width, "*  ")
              : "");
}

std::string ages_part(const TeamsResult& result, const text::TextOptions& options) {
  if (result.age_groups.empty()) {
    return {};
  }
  std::vector<text::TextTable::Column> columns{{"age", "yr", text::Align::left}};
  for (const EvenTeam& team : result.teams) {
    columns.push_back({team.name});
  }
  text::TextTable table(columns);
  for (const jobs::AgeGroup& group : result.age_groups) {
    std::vector<std::string> cells{group.from_years == group.to_years
                                       ? std::to_string(group.from_years)
                                       : std::to_string(group.from_years) + "-" + std::to_string(group.to_years)};
    for (const std::size_t count : group.in_team) {
      cells.push_back(std::to_string(count));
    }
    table.add_row(std::move(cells));
  }
  return "\n" + text::heading("Players by age", options) + table.str(options);
}

// Who runs in which order, which way, and who waits where.
std::string lineup_part(const TeamsResult& result, const text::TextOptions& options) {
  if (result.lineups.empty()) {
    return {};
  }
  text::TextTable table({{"relay"},
                         {"team", "", text::Align::left},
                         {"goes by", "", text::Align::left},
                         {"in order", "", text::Align::left, true}});
  bool odd = false;
  for (const jobs::Lineup& lineup : result.lineups) {
    std::string order;
    for (const std::string& id : lineup.runners) {
      order += (order.empty() ? "" : ", ") + id;
    }
    odd = odd || lineup.runners.size() % 2 == 1;
    table.add_row({std::to_string(lineup.relay), lineup.team, lineup.way, std::move(order)});
  }
  return "\n" + text::heading("Who runs when, out to second and back", options) + table.str(options) +
         text::paragraph(
             std::string("The first, third, fifth and so on start from home, the others wait at second. After two "
                         "relays each team has run each way once; for more, go on in turn.") +
                 (odd ? " With an odd number of legs the last one ends at second." : ""),
             options.width);
}

std::string course_words(const TeamsResult& result) {
  if (result.base_distance_m <= 0.0) {
    return result.course;
  }
  return result.course + ", bags " +
         runs::format_number(std::round(result.base_distance_m / runs::metres_per_foot * 10.0) / 10.0) + " ft apart";
}

}  // namespace

std::string teams_text(const TeamsResult& result, const text::TextOptions& options) {
  std::size_t players = 0;
  for (const EvenTeam& team : result.teams) {
    players += team.members.size();
  }
  std::string out =
      text::heading(text::counted(players, "player") + " in " + text::counted(result.teams.size(), "team"), options);
  out += text::paragraph(
      "Over " + course_words(result) + ", " +
          (result.relays_of ? "each leg as the relays of " + runs::format_date(*result.relays_of) + " tell it."
                            : std::string("each leg as a run alone from a stand.")),
      options.width);
  if (!result.rules.empty()) {
    out += text::paragraph("Kept: " + text::joined(result.rules) + ".", options.width);
  }
  out += suspected_part(result.suspected.surely, options);
  out += "\n" + teams_part(result, options) + legend(result, options) + "\n";
  out += text::paragraph(evenness_words(result), options.width) +
         text::paragraph(truth_words(result, options), options.width);
  out += lineup_part(result, options);
  out += ages_part(result, options);
  out += "\n" + text::heading("Players", options) + players_part(result, options);
  out += "\n" + text::heading("What these teams rest on", options);
  out += text::listed(result.notes, options.width);
  out += "\n" + text::heading("Caution", options);
  out += text::listed(result.cautions, options.width);
  return out;
}

std::string teams_csv(const TeamsResult& result) {
  text::CsvWriter csv;
  for (const char* column : {"team", "player", "age_years", "own_runs", "own_runs_over_course", "leg_s.mean",
                             "leg_s.sd", "leg_s.lo", "leg_s.median", "leg_s.hi", "leg_s.share_from_data"}) {
    csv.text(column);
  }
  csv.end_row();
  for (const EvenTeam& team : result.teams) {
    for (const TeamMember& member : team.members) {
      const jobs::Estimate& e = member.leg_s;
      csv.text(team.name)
          .text(member.player)
          .number(text::told_age(member.age_years))
          .count(member.runs)
          .text(member.course_run ? "yes" : "no");
      csv.number(e.mean).number(e.sd).number(e.lo).number(e.median).number(e.hi).number(e.share_from_data).end_row();
    }
  }
  return csv.take();
}

std::string teams_json(const TeamsResult& result) {
  text::JsonWriter json;
  json.begin_object().member("schema", "bagsplit.teams/1").key("teams").begin_array();
  for (const EvenTeam& team : result.teams) {
    json.begin_object().member("team", team.name).key("players").begin_array(Layout::line);
    for (const TeamMember& member : team.members) {
      json.text(member.player);
    }
    json.end_array().key("expected_s");
    write(json, team.total_s);
    json.member("mean_leg_s", team.mean_leg_s).member("spread_s", team.spread_s).member("p_win", team.p_win);
    json.key("members").begin_array();
    for (const TeamMember& member : team.members) {
      json.begin_object().member("player", member.player).key("leg_s");
      write(json, member.leg_s);
      json.member("age_years", text::told_age(member.age_years))
          .member("own_runs", std::uint64_t{member.runs})
          .member("own_runs_over_course", member.course_run)
          .member("relay_legs", std::uint64_t{member.relay_legs})
          .member("relay_legs_over_course", member.relay_course)
          .member("probability_all_readings_fit", member.probability_all_readings_fit)
          .end_object();
    }
    json.end_array().end_object();
  }
  json.end_array().key("imbalance").begin_object();
  json.member("time_s", result.imbalance.time_s)
      .member("spread_s", result.imbalance.spread_s)
      .member("total_s", result.imbalance.total_s);
  json.member("spread_weight", result.spread_weight)
      .member("proven_optimal", result.proven)
      .member("at_most_better_s", result.imbalance.total_s - result.best_possible_s);
  json.member("slowest", result.slowest).member("fastest", result.fastest).key("difference_s");
  write(json, result.difference_s);
  json.end_object().key("win_probability").begin_object();
  for (const EvenTeam& team : result.teams) {
    json.member(team.name, team.p_win);
  }
  json.end_object().member("compared_by", result.same_size ? "relay" : "mean leg").member("course", result.course);
  json.member("base_distance_m", result.base_distance_m > 0.0 ? std::optional(result.base_distance_m) : std::nullopt);
  write_texts(json, "rules", result.rules);
  json.key("age_groups").begin_array();
  for (const jobs::AgeGroup& group : result.age_groups) {
    json.begin_object(Layout::line)
        .member("from_years", std::uint64_t(group.from_years))
        .member("to_years", std::uint64_t(group.to_years))
        .key("in_team")
        .begin_array(Layout::line);
    for (const std::size_t count : group.in_team) {
      json.count(count);
    }
    json.end_array().end_object();
  }
  json.end_array()
      .member("level", result.level)
      .member("draws", std::uint64_t{result.draws})
      .member("seed", result.seed);
  write_texts(json, "notes", result.notes);
  write_texts(json, "cautions", result.cautions);
  write_model(json, result.model);
  text_or_null(json, "relays_of", result.relays_of ? runs::format_date(*result.relays_of) : std::string());
  write_suspected(json, result.suspected);
  json.key("lineups").begin_array();
  for (const jobs::Lineup& lineup : result.lineups) {
    json.begin_object(Layout::line)
        .member("relay", std::uint64_t{lineup.relay})
        .member("team", lineup.team)
        .member("way", lineup.way)
        .key("runners")
        .begin_array(Layout::line);
    for (const std::string& id : lineup.runners) {
      json.text(id);
    }
    json.end_array().end_object();
  }
  json.end_array();
  json.end_object();
  return json.take();
}

}  // namespace bagsplit::present
