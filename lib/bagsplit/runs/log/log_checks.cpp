#include <algorithm>
#include <cmath>
#include <map>
#include <set>
#include <tuple>
#include <unordered_map>

#include "bagsplit/runs/false_start.hpp"
#include "bagsplit/runs/log/detail/log_compare.hpp"
#include "bagsplit/runs/log/detail/log_rows.hpp"
#include "bagsplit/runs/log/detail/log_spelling.hpp"
#include "bagsplit/runs/log/detail/log_suspect.hpp"
#include "bagsplit/runs/log/detail/log_usual.hpp"
#include "bagsplit/runs/roster/detail/roster_words.hpp"
#include "bagsplit/runs/typed.hpp"
#include "bagsplit/text/text.hpp"
#include "bagsplit/text/wording.hpp"

namespace bagsplit::runs::detail {

namespace {

std::string on_rows(std::size_t count) {
  return count == 1 ? std::string() : " (on " + std::to_string(count) + " rows)";
}

// A hand watch that shows a first move this soon is doubted [s], even where it calls no false start: one press may have
// come twice; the error of two presses makes a reaction as short only seldom. Common practice, no source.
constexpr double soonest_by_hand_s = 0.03;

class Checker {
 public:
  Checker(RawLog& log, const ReadOptions& options) : log_(log), options_(options) {}

  void check() {
    check_heats(log_, options_);
    in_heat_.assign(log_.heat_rows.empty() ? 0 : log_.rows.size(), false);
    for (const HeatRow& heat : log_.heat_rows) {
      in_heat_[heat.row] = true;
    }
    for (const RawRow& row : log_.rows) {
      if (row.leg > 0 && row.split_count > 0) {
        timed_relays_.insert(relay_of(row));
      }
    }
    log_.by_player = rows_by_player(log_);
    check_spellings();
    const UsualTimes usual = usual_times(log_, log_.by_player);
    std::size_t odd = 0;
    for (std::size_t k = 0; k < log_.rows.size(); ++k) {
      const std::size_t from = odd;
      while (odd < usual.odd.size() && usual.odd[odd].row == k) {
        ++odd;
      }
      check_row(log_.rows[k], std::span(usual.odd).subspan(from, odd - from));
      if (k > 0) {
        check_repeated(log_.rows[k - 1], log_.rows[k]);
      }
    }
    for (const auto& [a, b] : usual.swapped) {
      tell_swapped(log_.rows[a], log_.rows[b]);
    }
    check_dates();
    check_roster();
    check_relays();
  }

 private:
  void check_row(RawRow& row, std::span<const OddTime> odd) {
    if (!row.plain || !odd.empty()) {
      check_times(row, odd);
    }
    check_reaction(row);
    const auto number = static_cast<std::size_t>(&row - log_.rows.data());
    const bool may_lack_times = row.lap_missing || log_.file_of(row).has_unknown_columns ||
                                (!in_heat_.empty() && in_heat_[number]) ||
                                (row.leg > 0 && timed_relays_.contains(relay_of(row)));
    if (row.split_count == 0 && row.flag == Flag::none && !may_lack_times) {
      suspect(row, Field::flag,
              {.code = "no-times",
               .message = "a row without any time and without a flag",
               .expected = "a time, or a flag such as absent or void"});
    } else if (row.split_count > 0 && row.flag == Flag::absent) {
      suspect(row, Field::flag,
              {.code = "absent-with-times",
               .message = "an absent player has times",
               .expected = "no times, or another flag"});
    }
  }

  // A team's run of one relay: its clock may have been read at some exchanges only.
  using Relay = std::tuple<std::int32_t, NameId, NameId, std::uint16_t>;
  Relay relay_of(const RawRow& row) const {
    const Setting& setting = log_.setting_of(row);
    return {row.date, setting.place, setting.team, row.trial};
  }

  void check_times(RawRow& row, std::span<const OddTime> odd) {
    const TimeFinding found = examine_times(log_, row, odd, options_);
    if (found.code.empty()) {
      return;
    }
    report_mark(log_, row, log_.splits[found.split].mark, options_,
                {.severity = found.certain ? text::Severity::error : text::Severity::suspicion,
                 .code = std::string(found.code),
                 .message = found.message,
                 .expected = found.expected,
                 .hint = found.hint});
    (found.certain ? row.bad : row.suspicious) = true;
    if (found.slip && !found.certain) {
      log_.set_aside[static_cast<std::uint32_t>(&row - log_.rows.data())] = {
          0, static_cast<std::uint16_t>(found.split - row.first_split), *found.slip, found.too_long_s};
    }
    if (found.certain) {
      log_.by_player = {};  // a bad row has no place in it
    }
  }

  void suspect(RawRow& row, Field field, text::Problem problem) {
    problem.severity = text::Severity::suspicion;
    row.suspicious = true;
    report_field(log_, row, field, options_, std::move(problem));
  }

  void check_reaction(RawRow& row) {
    const Setting& setting = log_.setting_of(row);
    if (row.split_count == 0 || row.flag == Flag::false_start || (row.leg >= 2 && !row.laps)) {
      return;
    }
    const Split& move = log_.splits[row.first_split];
    if (move.is_move && move.time_s < 0.0) {
      tell_jumped(row, move);
      return;
    }
    if (!move.is_move || setting.start != StartKind::signal) {
      return;
    }
    const double press_error_s = options_.limits.press_error_s;
    const bool by_hand = setting.device == Device::stopwatch;
    const bool called = is_false_start(move.time_s, setting.device, press_error_s);
    if (!called && !(by_hand && move.time_s <= soonest_by_hand_s)) {
      return;
    }
    row.suspicious = true;
    if (!called) {
      report_mark(log_, row, move.mark, options_,
                  {.severity = text::Severity::suspicion,
                   .code = "double-press",
                   .message = "a first move at once after the signal",
                   .expected = "more than " + format_number(soonest_by_hand_s) + " s after the signal",
                   .hint = "one press that came twice? if the player was off too early, flag the run false-start"});
      return;
    }
    const double least = least_reaction_s(setting.device, press_error_s);
    report_mark(log_, row, move.mark, options_,
                {.severity = text::Severity::suspicion,
                 .code = "false-start",
                 .message = "a first move too early for a reaction: a false start",
                 .expected = "at least " + format_number(std::round(least * 1000.0) / 1000.0) + " s after the signal",
                 .hint = "if it was one, flag the run false-start"});
  }

  void tell_jumped(RawRow& row, const Split& move) {
    const std::string call = log_.setting_of(row).start == StartKind::contact ? "the ball was met" : "the call";
    row.suspicious = true;
    report_mark(log_, row, move.mark, options_,
                {.severity = text::Severity::suspicion,
                 .code = "false-start",
                 .message = "off " + format_number(-move.time_s) + " s before " + call,
                 .expected = "a first move after it",
                 .hint = "a jumped start? flag the run false-start: it is kept, and stays out of the estimates"});
  }

  // Two rows in a row, of two players, with the same times: one was typed twice.
  void check_repeated(const RawRow& before, RawRow& row) {
    const auto in_one_place = [&] {
      const Setting& here = log_.setting_of(row);
      const Setting& there = log_.setting_of(before);
      return here.file == there.file && here.layout == there.layout;
    };
    if (row.times_hash != before.times_hash || row.split_count < 2 || row.player == before.player ||
        !same_times(log_, row, before) || !in_one_place()) {
      return;
    }
    suspect(row, Field::player,
            {.code = "repeated-row",
             .message = "the same times as player '" + log_.names.text(before.player) + "' on line " +
                        std::to_string(before.line),
             .expected = "times of this player's own"});
  }

  void tell_swapped(RawRow& a, RawRow& b) {
    a.suspicious = true;
    suspect(b, Field::player,
            {.code = "swapped-rows",
             .message = "the times fit player '" + log_.names.text(a.player) + "' on line " + std::to_string(a.line) +
                        ", and that player's times fit here",
             .expected = "times like this player's others",
             .hint = "the two rows may have changed places"});
  }

  // Once for each date of a file: a mistyped year stands on many rows.
  void check_dates() {
    if (!options_.today) {
      return;
    }
    const auto today = static_cast<std::int32_t>(options_.today->time_since_epoch().count());
    std::map<std::pair<std::uint16_t, std::int32_t>, std::vector<std::size_t>> late;
    for (std::size_t k = 0; k < log_.rows.size(); ++k) {
      if (log_.rows[k].date > today) {
        late[{log_.setting_of(log_.rows[k]).file, log_.rows[k].date}].push_back(k);
      }
    }
    for (const auto& [key, rows] : late) {
      for (const std::size_t k : rows) {
        log_.rows[k].suspicious = true;
      }
      suspect(log_.rows[rows.front()], Field::date,
              {.code = "future-date",
               .message = "a date in the future" + on_rows(rows.size()),
               .expected = "a date not after " + format_date(*options_.today)});
    }
  }

  // Once for each pair of words.
  void check_spellings() {
    std::vector<WordUse> uses(log_.names.size());
    for (std::size_t player = 0; player < log_.by_player.size(); ++player) {
      const auto rows = log_.by_player.rows_of(player);
      uses[log_.rows[rows.front()].player] = {rows.size(), rows.front()};
    }
    for (NameId id = 0; id < uses.size(); ++id) {
      const std::string& name = log_.names.text(id);
      if (uses[id].count > 0 && (options_.roster == nullptr || options_.roster->find(name) == nullptr)) {
        if (auto doubt = doubt_rounded_id(name)) {
          suspect(log_.rows[uses[id].row], Field::player, *std::move(doubt));
        }
      }
    }
    for (const TwoSpellings& pair : two_spellings(log_.names, uses)) {
      const Roster* roster = options_.roster;
      // One that is not in the roster is told so there, with what may be meant.
      if (roster == nullptr || (roster->find(log_.names.text(pair.first)) == nullptr &&
                                roster->find(log_.names.text(pair.other)) == nullptr)) {
        tell_spellings(pair, Field::player, "player");
      }
    }
    uses.assign(log_.names.size(), {});
    for (std::uint32_t k = 0; k < log_.rows.size(); ++k) {
      if (const NameId timer = log_.rows[k].timer; timer != no_name) {
        WordUse& use = uses[timer];
        use.row = use.count++ == 0 ? k : use.row;
      }
    }
    for (const TwoSpellings& pair : two_spellings(log_.names, uses)) {
      tell_spellings(pair, Field::timer, "timer");
    }
  }

  void tell_spellings(const TwoSpellings& pair, Field field, const std::string& what) {
    const std::string& first = log_.names.text(pair.first);
    const std::string& other = log_.names.text(pair.other);
    const std::string unseen = unseen_difference(first, other);
    suspect(log_.rows[pair.row], field,
            {.code = "two-spellings",
             .message = "one " + what + " in two spellings? " + text::in_quotes(other) + " stands on " +
                        text::counted(pair.other_count, "row") + ", " + text::in_quotes(first) + " on " +
                        text::counted(pair.first_count, "row"),
             .expected = "each " + what + " always spelled alike: case, blanks and leading zeros count",
             .hint = "as it stands they are two " + what + "s" + (unseen.empty() ? "" : "; " + unseen)});
  }

  // Once for each player.
  void check_roster() {
    if (options_.roster == nullptr) {
      return;
    }
    std::map<NameId, std::pair<std::size_t, std::size_t>> strangers;  // player: first row, number of rows
    std::vector<signed char> known;
    for (std::size_t k = 0; k < log_.rows.size(); ++k) {
      const NameId player = log_.rows[k].player;
      if (known.size() <= player) {
        known.resize(player + 1, -1);
      }
      if (known[player] < 0) {
        known[player] = options_.roster->find(log_.names.text(player)) != nullptr ? 1 : 0;
      }
      if (known[player] == 0) {
        ++strangers.try_emplace(player, k, 0U).first->second.second;
      }
    }
    for (const auto& [player, rows] : strangers) {
      suspect(log_.rows[rows.first], Field::player,
              {.code = "player-not-in-roster",
               .message = "this player is not in the roster" + on_rows(rows.second),
               .expected = "an id of the roster",
               .hint = roster_hint(log_.names.text(player))});
    }
  }

  // Short numbers are all alike: only another spelling of the same id, or a long one nearly the same, is worth naming.
  std::string roster_hint(const std::string& id) {
    if (std::string other = bib_or_name_hint(*options_.roster, id); !other.empty()) {
      return other;
    }
    if (roster_by_bare_word_.empty()) {
      for (const Player& player : options_.roster->players) {
        roster_by_bare_word_.try_emplace(bare_word(player.id), player.id);
      }
    }
    const std::string bare = bare_word(id);
    if (const auto at = roster_by_bare_word_.find(bare); at != roster_by_bare_word_.end()) {
      const std::string unseen = unseen_difference(id, at->second);
      return text::in_quotes(at->second) + " may be meant" + (unseen.empty() ? "" : ": " + unseen);
    }
    if (std::string other = bib_or_name_hint(*options_.roster, bare); !other.empty()) {
      return other;
    }
    std::vector<std::string_view> ids;
    for (const Player& player : options_.roster->players) {
      if (id.size() >= 4 && player.id.size() >= 4) {
        ids.push_back(player.id);
      }
    }
    const auto near = text::nearest(id, ids);
    return near ? text::in_quotes(*near) + " may be meant" : std::string();
  }

  // On one team's clock each leg begins after the one before it.
  void check_relays() {
    struct Team {
      std::int32_t date;
      NameId place, team, timer;
      std::uint16_t trial;
      auto operator<=>(const Team&) const = default;
    };
    std::map<Team, std::vector<std::size_t>> teams;
    for (std::size_t k = 0; k < log_.rows.size(); ++k) {
      const RawRow& row = log_.rows[k];
      if (row.leg > 0 && row.split_count > 0 && !row.laps && !row.bad) {
        const Setting& setting = log_.setting_of(row);
        teams[{row.date, setting.place, setting.team, row.timer, row.trial}].push_back(k);
      }
    }
    for (auto& [key, rows] : teams) {
      std::stable_sort(rows.begin(), rows.end(), [&](auto a, auto b) { return log_.rows[a].leg < log_.rows[b].leg; });
      for (std::size_t k = 1; k < rows.size(); ++k) {
        const RawRow& before = log_.rows[rows[k - 1]];
        RawRow& row = log_.rows[rows[k]];
        const double ended_s = log_.splits_of(before).back().time_s;
        if (row.leg > before.leg && log_.splits_of(row).front().time_s <= ended_s) {
          row.suspicious = true;
          report_mark(log_, row, log_.splits_of(row).front().mark, options_,
                      {.severity = text::Severity::suspicion,
                       .code = "relay-clock",
                       .message = "leg " + std::to_string(row.leg) + " is here before leg " +
                                  std::to_string(before.leg) + " ends",
                       .expected = "more than " + format_number(ended_s) + " s: relay times count on the team's clock",
                       .hint = "if times count from the exchange, say so: '# splits: lap'"});
        }
      }
    }
  }

  RawLog& log_;
  const ReadOptions& options_;
  std::set<Relay> timed_relays_;
  std::vector<bool> in_heat_;                                         // by row; empty where there are no heats
  std::unordered_map<std::string, std::string> roster_by_bare_word_;  // made when a stranger is met
};

}  // namespace

void check_rows(RawLog& log, const ReadOptions& options) {
  Checker(log, options).check();
}

}  // namespace bagsplit::runs::detail
