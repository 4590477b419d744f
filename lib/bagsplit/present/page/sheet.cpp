#include "bagsplit/present/page/sheet.hpp"

#include <algorithm>

#include "bagsplit/jobs/fast_end.hpp"
#include "bagsplit/safety/safety.hpp"
#include "bagsplit/text/csv.hpp"
#include "bagsplit/text/json_writer.hpp"
#include "bagsplit/text/text_table.hpp"

namespace bagsplit::present {

namespace {

std::string timer_name(const Sheet& sheet, std::size_t w) {
  return sheet.timers[w].empty() ? (sheet.timers.size() == 1 ? "" : "watch" + std::to_string(w + 1)) : sheet.timers[w];
}

const std::string& printed_large(const SheetPlayer& player) {
  return player.bib.empty() ? player.id : player.bib;
}

}  // namespace

namespace {

// Ways change with the teams and with the rounds, so that each team runs each way as often.
bool goes_by_first(const Sheet& sheet, const std::string& team, std::size_t round) {
  std::vector<std::string> teams;
  for (const SheetPlayer& player : sheet.players) {
    if (std::find(teams.begin(), teams.end(), player.team) == teams.end()) {
      teams.push_back(player.team);
    }
  }
  const auto at = static_cast<std::size_t>(std::find(teams.begin(), teams.end(), team) - teams.begin());
  return (at + round) % 2 == 1;
}

// One row a team, to be filled with the clock.
std::string relay_rows(const Sheet& sheet, char separator) {
  const std::string parted(1, separator);
  std::string out = "date" + parted + "team" + parted + "trial" + parted + "way" + parted + "runners" + parted +
                    "clock" + parted + "timer" + parted + "flag" + parted + "note\n";
  for (std::size_t round = 1; round <= sheet.rounds; ++round) {
    for (std::size_t k = 0; k < sheet.players.size();) {
      const std::string& team = sheet.players[k].team;
      std::string runners;
      for (; k < sheet.players.size() && sheet.players[k].team == team; ++k) {
        runners += (runners.empty() ? "" : " ") + sheet.players[k].id;
      }
      for (const std::string& timer : sheet.timers) {
        std::string row;
        for (const std::string& cell :
             {sheet.date, team, std::to_string(round),
              std::string(goes_by_first(sheet, team, round) ? "first" : "third"), runners, std::string(), timer}) {
          text::append_csv_field(row, cell);
          row += parted;
        }
        out += row + parted + "\n";
      }
    }
  }
  return out;
}

}  // namespace

std::string leg_words(const Sheet& sheet, const SheetPlayer& player, std::size_t round) {
  if (!sheet.out_and_back || player.leg == 0) {
    return {};
  }
  const bool by_first = goes_by_first(sheet, player.team, round);
  return player.leg % 2 == 1 ? std::string("home, out by ") + (by_first ? "first" : "third")
                             : std::string("second, home by ") + (by_first ? "third" : "first");
}

std::string signal_sentence(const Sheet& sheet) {
  return sheet.signal == "mine"    ? "You call and start the watch together."
         : sheet.signal == "other" ? "Somebody else calls; start the watch on the call."
         : sheet.signal == "gun"   ? "Start the watch on the shot or clap."
                                   : "";
}

std::string about_sentence(const Sheet& sheet) {
  const std::string signal = signal_sentence(sheet);
  return sheet.about + (sheet.about.empty() || signal.empty() ? "" : " ") + signal;
}

std::vector<std::string> cautions_on(const Sheet& sheet) {
  const double fastest_mps = sheet.fastest_mps.value_or(jobs::fast_end_mps(std::nullopt, std::nullopt));
  return safety::field_cautions({.base_path = sheet.is_base_path,
                                 .relay = sheet.is_relay(),
                                 .meet_at_second = sheet.meet_at_second,
                                 .heats = !sheet.heats.empty(),
                                 .lies_down = sheet.posture == "prone"},
                                fastest_mps);
}

bool Sheet::shares_bib(const SheetPlayer& player) const {
  return std::any_of(players.begin(), players.end(), [&](const SheetPlayer& other) {
    return other.id != player.id && printed_large(other) == printed_large(player);
  });
}

std::string sheet_csv(const Sheet& sheet, char separator) {
  std::string out;
  const std::string parted(1, separator);
  const auto add = [&](const std::string& text) {
    if (separator != ',' && text.find(separator) != std::string::npos &&
        text.find_first_of(",\"\r\n") == std::string::npos) {
      out += '"' + text + '"';  // append_csv_field() minds commas only
    } else {
      text::append_csv_field(out, text);
    }
  };
  text::append_directive(out, "place", sheet.place);
  text::append_directive(out, "base-distance", sheet.base_distance);
  text::append_directive(out, "drill", sheet.drill);
  out += "# device: stopwatch\n# start: " + sheet.start + "\n";
  text::append_directive(out, "signal", sheet.signal);
  text::append_directive(out, "posture", sheet.posture);
  if (sheet.out_and_back) {
    return out + "# splits: cumulative\n" + relay_rows(sheet, separator);
  }
  if (!sheet.heats.empty()) {
    return out + heats_csv(sheet, separator);
  }
  // For the rows without a player at the end: they are empty, and whoever fills one types no more than a player and
  // times.
  text::append_directive(out, "date", sheet.date);
  text::append_directive(out, "course", sheet.course);
  out += "# splits: cumulative\ndate" + parted;
  out += sheet.is_relay() ? "team" + parted + "leg" + parted : "";
  out += "player" + parted + "course" + parted + "trial" + parted + "timer";
  for (const std::string& mark : sheet.marks) {
    out += parted;
    add(mark);
  }
  out += parted + "flag" + parted + "note\n";
  for (std::size_t round = 1; round <= sheet.rounds; ++round) {
    for (const SheetPlayer& player : sheet.players) {
      for (std::size_t w = 0; w < (player.absent ? 1 : sheet.timers.size()); ++w) {
        add(sheet.date);
        out += parted;
        if (sheet.is_relay()) {
          add(player.team);
          out += parted + std::to_string(player.leg) + parted;
        }
        for (const std::string& cell : {player.id, sheet.course, std::to_string(round), timer_name(sheet, w)}) {
          add(cell);
          out += parted;
        }
        out += std::string(sheet.marks.size(), separator) + (player.absent ? "absent" : "") + parted + "\n";
      }
    }
  }
  const std::size_t columns = 6 + sheet.marks.size() + (sheet.is_relay() ? 2U : 0U);
  for (std::size_t k = 0; k < blank_rows; ++k) {
    out += std::string(columns, separator) + "\n";
  }
  return out;
}

std::string sheet_text(const Sheet& sheet, const text::TextOptions& options) {
  std::vector<text::TextTable::Column> columns{{sheet.is_relay() ? "leg" : "turn"},
                                               {"bib", {}, text::Align::left},
                                               {"player", {}, text::Align::left},
                                               {"watch", {}, text::Align::left}};
  for (const std::string& mark : sheet.marks) {
    columns.push_back({mark, "s"});
  }
  columns.push_back({"flag", {}, text::Align::left});
  if (sheet.out_and_back) {
    columns.push_back({"waits at", {}, text::Align::left});
  }
  std::vector<SheetPlayer> players = sheet.players;
  players.resize(players.size() + blank_rows);
  const auto table_of = [&](std::size_t round) {
    text::TextTable table(columns, 2);
    std::size_t turn = 0;
    for (const SheetPlayer& player : players) {
      const bool blank = ++turn > sheet.players.size();
      for (std::size_t w = 0; w < sheet.timers.size(); ++w) {
        std::vector<std::string> cells{w > 0 || (blank && sheet.is_relay()) ? ""
                                       : player.leg > 0 ? player.team + " " + std::to_string(player.leg)
                                                        : std::to_string(turn),
                                       w > 0   ? ""
                                       : blank ? "___"
                                               : player.bib,
                                       w > 0   ? ""
                                       : blank ? "______"
                                               : player.id,
                                       sheet.timers[w].empty() ? std::to_string(w + 1) : sheet.timers[w]};
        cells.insert(cells.end(), sheet.marks.size(), "_____");
        cells.emplace_back(player.absent ? "absent" : "____");
        if (sheet.out_and_back) {
          cells.push_back(w == 0 ? leg_words(sheet, player, round) : "");
        }
        table.add_row(std::move(cells));
      }
    }
    return table.str(options);
  };
  const std::string what = about_sentence(sheet);
  std::string out;
  for (std::size_t round = 1; round <= sheet.rounds; ++round) {
    out += (round > 1 ? "\n" : "") + (sheet.drill.empty() ? "" : sheet.drill + ": ") + sheet.course +
           (sheet.posture.empty() ? "" : ", " + sheet.posture) +
           (sheet.rounds > 1 ? ", round " + std::to_string(round) : "") +
           (sheet.date.empty() ? "" : ", " + sheet.date) + (sheet.place.empty() ? "" : ", " + sheet.place) + "\n" +
           (what.empty() ? "" : text::paragraph(what, options.width)) + "\n" +
           (sheet.heats.empty() ? table_of(round) : heats_text(sheet, round, options));
  }
  out += sheet.heats.empty() ? "" : "\n" + text::listed(heats_sentences(sheet), options.width);
  return out + "\n" + text::listed(cautions_on(sheet), options.width);
}

std::string sheet_json(const Sheet& sheet) {
  text::JsonWriter json;
  json.begin_object().member("schema", "bagsplit.sheet/1").member("course", sheet.course);
  json.key("marks").begin_array(text::JsonWriter::Layout::line);
  for (const std::string& mark : sheet.marks) {
    json.text(mark);
  }
  json.end_array().key("timers").begin_array(text::JsonWriter::Layout::line);
  for (std::size_t w = 0; w < sheet.timers.size(); ++w) {
    json.text(timer_name(sheet, w));
  }
  json.end_array().key("rounds").count(sheet.rounds).key("players").begin_array();
  for (const SheetPlayer& player : sheet.players) {
    json.begin_object(text::JsonWriter::Layout::line)
        .member("player", player.id)
        .member("bib", player.bib)
        .member("absent", player.absent);
    if (player.leg > 0) {
      json.member("team", player.team).member("leg", std::uint64_t{player.leg});
    }
    json.end_object();
  }
  json.end_array().member("posture", sheet.posture.empty() ? std::string("standing") : sheet.posture);
  if (!sheet.drill.empty()) {
    json.member("drill", sheet.drill);
  }
  if (!sheet.signal.empty()) {
    json.member("signal", sheet.signal);
  }
  if (!sheet.heats.empty()) {
    json.member("seed", sheet.seed).key("heats").begin_array();
    std::uint64_t number = 0;
    for (std::size_t round = 0; round < sheet.heats.size(); ++round) {
      for (const std::vector<std::size_t>& heat : sheet.heats[round]) {
        json.begin_object(text::JsonWriter::Layout::line)
            .member("heat", ++number)
            .member("round", std::uint64_t{round + 1});
        json.key("players").begin_array(text::JsonWriter::Layout::line);
        for (const std::size_t child : heat) {
          json.text(sheet.players[child].id);
        }
        json.end_array().end_object();
      }
    }
    json.end_array();
  }
  return json.end_object().take();
}

}  // namespace bagsplit::present
