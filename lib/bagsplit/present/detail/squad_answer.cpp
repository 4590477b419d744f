#include "bagsplit/present/detail/squad_answer.hpp"

#include <algorithm>
#include <cmath>

#include "bagsplit/present/detail/squad_parts.hpp"
#include "bagsplit/present/profile_parts.hpp"
#include "bagsplit/safety/safety.hpp"
#include "bagsplit/text/number_text.hpp"
#include "bagsplit/text/wording.hpp"

namespace bagsplit::present {

namespace {

using jobs::Mark;
using jobs::MarkGroup;
using jobs::PlayerProfile;
using Shown = std::function<std::string(const std::string&)>;

// Some of many: a screen has no room for forty ids.
std::string some_of(std::vector<std::string> players) {
  constexpr std::size_t most = 6;
  if (players.size() > most) {
    const std::size_t more = players.size() - most + 1;
    players.resize(most - 1);
    players.push_back(std::to_string(more) + " more");
  }
  return text::joined(players);
}

std::vector<std::string> each_group(const Grouped& groups) {
  std::vector<std::string> out;
  for (const Grouped::Group& group : groups.groups()) {
    out.push_back(some_of(group.players) + ": " + group.sentence + ".");
  }
  return out;
}

// The run that would tell most of what is not known of this child; empty where none is wanted.
std::string wanted_run(const PlayerProfile& player, const std::vector<std::size_t>& timed) {
  // Only starts from lying, on the call: what is the call's and what is getting up's is not known.
  const auto few = [&](std::size_t column) { return player.marks[column].why == jobs::Unknown::few_runs; };
  if (few(0) && few(1)) {
    return "two standing starts on the call, to part the call from getting up";
  }
  for (std::size_t column = 0; column < jobs::change_quantity; ++column) {
    if (player.marks[column].why == jobs::Unknown::one_time) {
      const jobs::MarkedQuantity& quantity = jobs::marked_quantities[column];
      return (quantity.at_bag ? "a lap" : std::string("a run on the call")) + " once more, since " +
             std::string(quantity.words) + " hangs on one time";
    }
  }
  if (!player.next_runs.empty()) {
    return player.next_runs.front().run;
  }
  for (const std::size_t column : timed) {
    if (player.marks[column].why == jobs::Unknown::never_timed) {
      const jobs::MarkedQuantity& quantity = jobs::marked_quantities[column];
      return quantity.at_bag             ? "a lap with a time at every bag"
             : quantity.what == "get-up" ? "a start from lying, time at 10 m"
             : quantity.what == "call"   ? "a start on the call"
                                         : "a 30 m straight, times at 10 m and 30 m";
    }
  }
  return {};
}

std::vector<std::string> next_sentences(const jobs::ProfileResult& result, const SquadAnswer& answer,
                                        const Shown& shown) {
  Grouped runs;
  for (const bool unknown_first : {true, false}) {
    for (const std::size_t k : answer.order) {
      const PlayerProfile& player = result.players[k];
      const bool unknown = jobs::group_of(player, answer.timed) == MarkGroup::not_known;
      if (const std::string run = wanted_run(player, answer.timed); unknown == unknown_first && !run.empty()) {
        runs.add(run, shown(player.player));
      }
    }
  }
  std::vector<std::string> out = each_group(runs);
  if (out.empty()) {
    out.push_back("What was timed is known well enough.");
  }
  std::vector<std::string> never;
  for (std::size_t column = 0; column < jobs::change_quantity; ++column) {
    if (std::find(answer.timed.begin(), answer.timed.end(), column) == answer.timed.end()) {
      never.emplace_back(jobs::marked_quantities[column].words);
    }
  }
  if (!never.empty() && never.size() < jobs::change_quantity) {
    out.push_back("Never timed here: " + text::joined(never) + ".");
  }
  return out;
}

std::string slip_words(const jobs::SuspectedReading& reading, const Shown& shown) {
  const std::string off = text::fixed(std::abs(reading.size_s), 1) + " s";
  const std::string where =
      "LOOK: " + reading.file + " line " + std::to_string(reading.line) + ", " + shown(reading.player) + ": ";
  if (reading.kind == "mark" || reading.kind == "time" || reading.kind == "decimal" || reading.kind == "minutes") {
    return where + reading.column + " " + text::fixed(reading.read_s, 2) + " looks wrong, about " +
           text::fixed(reading.expected_s, 1) + " would fit.";
  }
  return where + (reading.kind == "start" ? std::string("the clock looks started ") +
                                                (reading.size_s > 0.0 ? "early, " : "late, ") + off + "."
                  : reading.kind == "lost" ? off + " lost from " + reading.column + " on, as by a fall."
                  : reading.kind == "slow" ? "a run not in earnest?"
                                           : "one of its times looks wrong.");
}

// A whole row or drill: swapped, under a wrong bib, or of another posture.
std::string row_words(const jobs::SuspectedReading& row, const Shown& shown) {
  const std::string where = "LOOK: " + row.file + " line " + std::to_string(row.line);
  const std::string who =
      row.drill > 0 ? " and the rest of " + text::counted(row.drill, "run") : ", " + shown(row.player);
  if (row.kind == "swap") {
    return where + " and line " + std::to_string(row.other_line) + ": runs of " + shown(row.player) + " and " +
           shown(row.other_player) + " swapped?";
  }
  if (row.kind == "bib") {
    return where + who + ": the run of " + shown(row.other_player) + "?";
  }
  return where + who + ": run from " + (row.size_s > 0.0 ? "lying down?" : "standing?");
}

std::vector<std::string> sheet_sentences(const jobs::ProfileResult& result, const Shown& shown) {
  std::vector<std::string> out;
  std::vector<std::string> no_age;
  std::vector<std::string> unsettled;
  bool looked = false;
  std::size_t maybe = 0;
  for (const PlayerProfile& player : result.players) {
    for (const jobs::SuspectedReading& reading : player.suspected_readings) {
      out.push_back(slip_words(reading, shown));
    }
    looked = looked || player.probability_all_readings_fit.has_value();
    maybe += player.maybe_readings.size();
    if (!player.age_years && player.runs_used > 0) {
      no_age.push_back(shown(player.player));
    }
    if (player.status == inference::PosteriorStatus::not_certified) {
      unsettled.push_back(shown(player.player));
    }
  }
  if (!out.empty()) {
    out.push_back(std::string(out.size() == 1 ? "It counts" : "They count") +
                  " for little until put right, or checked.");
  }
  for (const jobs::SuspectedReading& row : result.suspected_rows) {
    const auto told = [&](const jobs::SuspectedReading& other) {
      return row.kind == "swap" && other.kind == "swap" && other.line == row.other_line && other.line < row.line;
    };
    if (std::none_of(result.suspected_rows.begin(), result.suspected_rows.end(), told)) {
      out.push_back(row_words(row, shown));
    }
  }
  if (result.squad && result.squad->first_steps.clock != jobs::FirstSteps::Clock::fits) {
    out.push_back(result.squad->first_steps.clock == jobs::FirstSteps::Clock::starts_late
                      ? "LOOK: the clock of self-started runs probably starts late."
                      : "LOOK: a reaction is probably in the times of self-started runs.");
  }
  if (out.empty() && looked) {
    out.push_back("No time looks wrong.");
  }
  if (maybe > 0) {
    out.push_back(std::to_string(maybe) + " more may be wrong.");
  }
  if (result.runs_left_out > 0) {
    out.push_back(text::counted(result.runs_left_out, "run") + " left out.");
  }
  if (!no_age.empty()) {
    const bool nobody_has = no_age.size() == result.players.size() && no_age.size() > 2;
    out.push_back("No birth date: " + (nobody_has ? "everybody" : some_of(no_age)) + ".");
  }
  if (!unsettled.empty()) {
    out.push_back("Could not be worked out: " + text::joined(unsettled) + ".");
  }
  if (out.empty()) {
    out.push_back("Nothing was left out.");
  }
  return out;
}

// Who sprinted more often on the last evening than one evening should see.
std::string tired_sentence(const jobs::ProfileResult& result, const Shown& shown) {
  std::vector<std::string> tired;
  for (const PlayerProfile& player : result.players) {
    if (player.sprints.last_evening > safety::most_sprints_an_evening) {
      tired.push_back(shown(player.player) + " (" + std::to_string(player.sprints.last_evening) + ")");
    }
  }
  return tired.empty() ? ""
                       : "Sprinted enough: " + some_of(tired) + "; " + std::to_string(safety::most_sprints_an_evening) +
                             " an evening is the most.";
}

std::vector<ToDo> to_do_list(const jobs::ProfileResult& result, const SquadAnswer& answer, const Shown& shown) {
  struct Drilled {
    jobs::WorkOn work;
    ToDo to_do;
  };
  std::vector<Drilled> drills;
  Grouped others;
  for (const std::size_t k : answer.order) {
    const PlayerProfile& player = result.players[k];
    if (player.work_on.empty()) {
      const MarkGroup group = jobs::group_of(player, answer.timed);
      others.add(group == MarkGroup::not_known   ? "too few own runs yet: see what to run next"
                 : group == MarkGroup::strengths ? "strengths, and nothing to work on: let them show it to the others"
                                                 : "nothing stands out: go on as now",
                 shown(player.player));
      continue;
    }
    const jobs::WorkOn& work = player.work_on.front();
    auto found = std::find_if(drills.begin(), drills.end(), [&](const Drilled& d) { return d.work.what == work.what; });
    if (found == drills.end()) {
      drills.push_back({work, {}});
      found = std::prev(drills.end());
    }
    found->work.rest_s = std::max(found->work.rest_s, work.rest_s);
    found->to_do.players.push_back(shown(player.player));
  }
  std::vector<ToDo> out;
  for (Drilled& one : drills) {
    one.to_do.words = one.work.drill + ". " + one.work.how + " " + dose_words(one.work);
    out.push_back(std::move(one.to_do));
  }
  for (const Grouped::Group& group : others.groups()) {
    out.push_back({group.players, group.sentence + "."});
  }
  return out;
}

}  // namespace

SquadAnswer squad_answer(const jobs::ProfileResult& result, const Shown& shown) {
  SquadAnswer out;
  out.timed = jobs::timed_quantities(result);
  out.order = jobs::by_what_matters(result, out.timed);
  out.size = text::counted(result.players.size(), "child", "children") + ", " + text::counted(result.runs_used, "run") +
             ", " + text::counted(result.dates, "evening");
  Grouped tonight;
  for (const std::size_t k : out.order) {
    const PlayerProfile& player = result.players[k];
    if (!player.work_on.empty()) {
      for (const jobs::MarkedQuantity& quantity : jobs::marked_quantities) {
        if (quantity.what == player.work_on.front().what) {
          tonight.add(std::string(quantity.words), shown(player.player));
        }
      }
    }
  }
  out.tonight = each_group(tonight);
  if (std::string tired = tired_sentence(result, shown); !tired.empty()) {
    out.tonight.insert(out.tonight.begin(), std::move(tired));
  }
  if (out.tonight.empty()) {
    out.tonight.push_back("Nothing surely stands out to work on.");
  }
  out.next = next_sentences(result, out, shown);
  out.sheets = sheet_sentences(result, shown);
  out.slips = !result.suspected_rows.empty() ||
              std::any_of(result.players.begin(), result.players.end(),
                          [](const PlayerProfile& player) { return !player.suspected_readings.empty(); });
  out.to_do = to_do_list(result, out, shown);
  return out;
}

std::string days_words(const std::vector<PlayerProfile>& players) {
  std::optional<runs::Date> first;
  std::optional<runs::Date> last;
  for (const PlayerProfile& player : players) {
    if (player.first_date && player.last_date) {
      first = std::min(first.value_or(*player.first_date), *player.first_date);
      last = std::max(last.value_or(*player.last_date), *player.last_date);
    }
  }
  if (!first || !last) {
    return {};
  }
  constexpr const char* months[] = {"January", "February", "March",     "April",   "May",      "June",
                                    "July",    "August",   "September", "October", "November", "December"};
  const std::chrono::year_month_day a(*first);
  const std::chrono::year_month_day b(*last);
  const auto day = [&](const std::chrono::year_month_day& date) {
    return std::to_string(static_cast<unsigned>(date.day())) + " " + months[static_cast<unsigned>(date.month()) - 1];
  };
  const auto year = [](const std::chrono::year_month_day& date) {
    return " " + std::to_string(static_cast<int>(date.year()));
  };
  return (a == b ? "" : day(a) + (a.year() == b.year() ? "" : year(a)) + " to ") + day(b) + year(b);
}

std::string mark_number(const jobs::Marked& mark) {
  if (!mark.cost_s || (mark.mark != Mark::work && mark.mark != Mark::good)) {
    return {};
  }
  const std::string number = text::fixed(std::abs(*mark.cost_s), 2);
  return number.starts_with("0.") ? number.substr(1) : number;
}

std::string mark_sentence(const jobs::Marked& mark) {
  const std::string number = mark.cost_s ? ", " + text::fixed(std::abs(*mark.cost_s), 2) + " s" : "";
  switch (mark.mark) {
    case Mark::work:
      return "surely time to win" + number;
    case Mark::good:
      return "sure strength" + number;
    case Mark::ordinary:
      return "ordinary, or too close to say";
    case Mark::unknown:
      break;
  }
  return "not known yet";
}

std::string dose_words(const jobs::WorkOn& work) {
  const long rest = std::lround(work.rest_s);
  return text::counted(work.runs, "run") + ", " +
         (rest % 60 == 0 ? text::counted(static_cast<std::size_t>(rest / 60), "minute") + "'" + (rest == 60 ? "s" : "")
                         : std::to_string(rest) + " seconds'") +
         " rest between them.";
}

}  // namespace bagsplit::present
