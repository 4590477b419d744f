#include "documents.hpp"

#include <array>
#include <charconv>
#include <cmath>
#include <string>

#include "bagsplit/safety/safety.hpp"

namespace demo_season {

std::string number_text(double value, int decimals) {
  std::array<char, 64> buffer{};
  const auto end =
      std::to_chars(buffer.data(), buffer.data() + buffer.size(), value, std::chars_format::fixed, decimals).ptr;
  std::string text(buffer.data(), end);
  if (decimals > 0) {
    text.erase(text.find_last_not_of('0') + 1);
    if (text.back() == '.') {
      text.pop_back();
    }
  }
  return text == "-0" ? "0" : text;
}

std::string joined(std::initializer_list<std::string_view> parts) {
  std::string text;
  for (const std::string_view part : parts) {
    text += part;
  }
  return text;
}

namespace {

// Texts of this program hold no character that JSON would want escaped.
std::string text_pair(std::string_view key, std::string_view value) {
  return joined({"\"", key, "\":\"", value, "\""});
}
std::string number_pair(std::string_view key, double value) {
  return joined({"\"", key, "\":", number_text(value)});
}
std::string number_pair(std::string_view key, std::size_t value) {
  return joined({"\"", key, "\":", std::to_string(value)});
}

// Parts with a comma between, each on a line of its own where `indent` is not empty.
std::string list(const std::vector<std::string>& parts, std::string_view indent = {}) {
  std::string text;
  for (std::size_t i = 0; i < parts.size(); ++i) {
    text += i == 0 ? "" : ",";
    text += indent.empty() ? "" : "\n";
    text += indent;
    text += parts[i];
  }
  return text;
}
std::string object(const std::vector<std::string>& pairs) {
  return joined({"{", list(pairs), "}"});
}

std::string common_json(const Common& c) {
  const std::string watch =
      object({number_pair("start_sd_s", c.watch_start_sd_s), number_pair("split_sd_s", c.watch_split_sd_s),
              number_pair("resolution_s", c.watch_resolution_s)});
  const std::string gate =
      object({number_pair("start_sd_s", c.gate_start_sd_s), number_pair("split_sd_s", c.gate_split_sd_s),
              number_pair("resolution_s", c.gate_resolution_s)});
  return object({number_pair("effort_cv", c.effort_cv), number_pair("day_cv", c.day_cv),
                 number_pair("reaction_sd_s", c.reaction_sd_s), number_pair("growth_per_year", c.growth_per_year),
                 number_pair("move_lag_s", c.move_lag_s), joined({"\n    \"stopwatch\":", watch}),
                 joined({"\n    \"gate\":", gate})});
}

std::string timer_json(const Timer& timer) {
  std::vector<std::string> biases;
  for (std::size_t i = 0; i < cue_count; ++i) {
    if (timer.bias_s[i]) {
      biases.push_back(number_pair(cue_name(static_cast<Cue>(i)), *timer.bias_s[i]));
    }
  }
  return object({text_pair("timer", timer.id), joined({"\"bias_s\":", object(biases)})});
}

std::string night_json(const NightTruth& night) {
  return object({text_pair("date", night.date), text_pair("place", night.place), text_pair("surface", night.surface),
                 number_pair("surface_factor", night.surface_factor), number_pair("rows", night.rows),
                 number_pair("runs", night.runs), number_pair("left_out", night.left_out)});
}

std::string player_json(const Season& season, const Child& child) {
  std::vector<std::string> losses;
  for (const auto& [key, loss_s] : child.segment_loss_s) {
    losses.push_back(number_pair(key, loss_s));
  }
  std::vector<std::string> dates;
  for (const NightTruth& night : season.nights) {
    const auto form = night.day_form.find(child.id);
    if (form != night.day_form.end()) {
      const SeasonTime when = season_time(night.date);
      const auto sprint = sprint_on(child, when.share, when.years, season.common);
      dates.push_back(
          object({text_pair("date", night.date), number_pair("top_speed_mps", sprint.top_speed_mps),
                  number_pair("time_constant_s", sprint.time_constant_s), number_pair("day_form", form->second)}));
    }
  }
  return object(
      {text_pair("player", child.id), number_pair("top_speed_mps", child.sprint.top_speed_mps),
       number_pair("time_constant_s", child.sprint.time_constant_s),
       number_pair("late_slowing_per_s", child.sprint.late_slowing_per_s), number_pair("reaction_s", child.reaction_s),
       joined({"\"posture_cost_s\":", object({number_pair("prone", child.prone_cost_s)})}),
       number_pair("swing_finish_s", child.swing_finish_s), number_pair("top_speed_gain", child.top_speed_gain),
       number_pair("time_constant_gain", child.time_constant_gain),
       joined({"\n     \"segment_loss_s\":", object(losses)}),
       joined({"\n     \"by_date\":[", list(dates, "      "), "]"})});
}

std::string run_json(const RunTruth& run) {
  std::vector<std::string> pairs{
      text_pair("date", run.date),
      text_pair("player", run.player),
      text_pair("course", run.course),
      number_pair("trial", run.trial),
      number_pair("effort", run.effort),
      run.reaction_counts ? number_pair("reaction_s", run.reaction_s) : "\"reaction_s\":null"};
  if (!run.flag.empty()) {
    pairs.push_back(text_pair("flag", run.flag));
  }
  return object(pairs);
}

}  // namespace

std::string truth_json(const Season& season) {
  std::vector<std::string> timers;
  std::vector<std::string> nights;
  std::vector<std::string> players;
  std::vector<std::string> runs;
  for (const Timer& timer : season.timers) {
    timers.push_back(timer_json(timer));
  }
  for (const NightTruth& night : season.nights) {
    nights.push_back(night_json(night));
  }
  for (const Child& child : season.children) {
    players.push_back(player_json(season, child));
  }
  for (const RunTruth& run : season.runs) {
    runs.push_back(run_json(run));
  }
  const auto array = [](std::string_view key, const std::vector<std::string>& parts) {
    return joined({"\"", key, "\":[", list(parts, "    "), "]"});
  };
  const std::string all = list(
      {text_pair("schema", "bagsplit.demo-truth/1"), text_pair("about", "invented; see the README beside this file"),
       number_pair("base_distance_m", base_distance_m), joined({"\"common\":", common_json(season.common)}),
       array("timers", timers), array("nights", nights), array("players", players), array("runs", runs)},
      "  ");
  return joined({"{", all, "\n}\n"});
}

std::string watches_json() {
  return R"({
  "schema": "bagsplit.device/1",
  "name": "odderhithe-watches",
  "device": "stopwatch",
  "based-on": "stopwatch",
  "title": "The demo club's watches",
  "about": "Invented. Only who gives the call and who hears it; every number is that of the built-in stopwatch.",
  "timers": {
    "AK": {"signal": "gives"},
    "LM": {"signal": "hears"},
    "RB": {"signal": "hears"}
  }
}
)";
}

std::string readme_text(const Season& season) {
  std::size_t runs = 0;
  std::size_t rows = 0;
  for (const NightTruth& night : season.nights) {
    runs += night.runs;
    rows += night.rows;
  }
  std::string text = R"(# A demo season: invented

**Nothing here was measured.** The club (Odderhithe evening club), the places, the fourteen children and every time were
made up by a program, `tests/demo_season`, which also keeps the truth they were made from, so that estimates can be held
against it.

Fourteen children of 8 to 13, eight evenings from April to June 2026, bases 60 ft apart. )";
  text += joined({std::to_string(runs), " runs in ", std::to_string(rows), R"( rows: a run
that two people timed has two rows. Ids are shirt numbers; there are no names. Heights and masses are there for most,
dates of birth for all but two (17 and 40): without one there is no percentile.

Among them are a child who leaves last and then runs fastest, one quick off the call, one who loses much at second base,
one who turns as on rails, one with hardly any runs, and two who get faster by more than growing. `squad.cpp` in
`tests/demo_season` says who.

    bagsplit check data/demo/2026-*.csv --roster data/demo/roster.csv
    bagsplit profile data/demo/2026-*.csv --roster data/demo/roster.csv

| evening | drills | where | children | runs | rows |
|---|---|---|---|---|---|
)"});
  for (const NightTruth& night : season.nights) {
    text += joined({"| ", night.date, " | ", night.drills, " | ", night.surface, " | ", std::to_string(night.children),
                    " | ", std::to_string(night.runs), " | ", std::to_string(night.rows), " |\n"});
  }
  const Common& c = season.common;
  text += R"(
Who timed: AK gives the call and holds a watch; RB and LM hear the call. `watches.json`, a device profile, says so and no
more: a coach knows that much and not how large the biases are. On the gate evening a tone from the gate box is
the call; RB and LM stand at the 30 m beam, so their watches can be compared with the gates.

What to look at in the files:

* `2026-04-21`: prone starts with the first move timed beside standing runs over the same distance: the get-up and the
  reaction can be told apart from the running.
* `2026-04-28`: `start` is `beam 0.5 m` for the runs through the first beam (the clock starts half a metre into the run),
  `signal` for those on the tone. Gates print thousandths. Two beams were missed: those cells are empty. `x-order` is
  carried and not analysed.
* `2026-05-19`: `# splits: lap`, times from bag to bag. RB forgot to stop the watch once.
* `2026-06-02`: wet grass, so nobody turned and nobody lay down. No trial numbers: each row is a run.
* `2026-06-09`: out of a spreadsheet: semicolons, decimal commas, a byte-order mark, CR LF.
* `2026-06-23`: one timer's sheet typed after the other's; `trial` says which rows belong to one run.
* Runs flagged `false-start`, `fall`, `missed-bag`, `obstructed` or `void` stay in the record and out of the estimates;
  `absent` marks who was not there. Player 31 joined in June and has five runs, all to first base: not much can be said.
* `relay/2026-06-30.csv`, a folder of its own so that it is read only where it is named: three relays of two teams, each leg
  home to second, one team by way of first and one by way of third. Player 22 leaves on the touch, player 3 looks round
  first; in the third relay red runs the other way round and a child of blue falls.

      bagsplit relay data/demo data/demo/relay

How the numbers were chosen (all invented, within what is published for school children and for hand timing):

| quantity | range or value |
|---|---|
| top speed V, time constant tau | 5.2 to 7.2 m/s, 0.8 to 1.3 s; growth 3 % a year for all; two improve beyond that |
| late slowing, from 6.5 s of running on | 1.3 % of V a second, SD 0.3 % between children |
)";
  text +=
      joined({"| reaction RT, scatter from run to run | 0.25 to 0.45 s, SD ", number_text(c.reaction_sd_s), R"( s |
| get-up from prone; finish of the swing | 0.66 to 1.10 s; 0.33 to 0.52 s, left-handed batters the shorter |
| loss at a bag that is rounded | 0.17 to 0.60 s; more where the run stops on the bag |
| effort from run to run; form of the day | )",
              number_text(100 * c.effort_cv), " %; ", number_text(100 * c.day_cv), R"( % |
| surface | rubber track 1.5 % faster, wet grass 2 % slower than dry grass |
| hand watch | SD )",
              number_text(c.watch_start_sd_s), " s of the start press, ", number_text(c.watch_split_sd_s),
              " s of each mark; bias by timer and cue; a first move is seen ", number_text(c.move_lag_s), R"( s late |
| gates | SD )",
              number_text(c.gate_start_sd_s), " s of the start, ", number_text(c.gate_split_sd_s), R"( s of each mark |

If you run such evenings with children:

)"});
  constexpr double fastest_mps = 8.0;  // nobody here is faster
  for (const std::string& caution : bagsplit::safety::field_cautions({.base_path = true}, fastest_mps)) {
    text += "* " + caution + "\n";
  }
  return text;
}

}  // namespace demo_season
