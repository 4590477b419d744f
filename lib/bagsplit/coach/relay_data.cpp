#include "bagsplit/coach/relay_data.hpp"

#include <algorithm>
#include <cmath>
#include <tuple>

#include "bagsplit/coach/player_order.hpp"
#include "bagsplit/runs/typed.hpp"

namespace bagsplit::coach {

namespace {

constexpr std::size_t most_readings = 2000;  // of one date

class Gatherer {
 public:
  Gatherer(const runs::RunLog& log, runs::Problems& problems) : log_(log), problems_(problems) {}

  RelayData gather() {
    for (const runs::Run& run : log_.runs) {
      if (run.leg == 0) {
        out_.rows_without_leg += run.team != runs::no_name ? run.reading_count : 0;
      } else if (run.team == runs::no_name) {
        report(run, "leg-without-team", "leg " + std::to_string(run.leg) + " without a team",
               "the team's name in the column team", "");
      } else {
        add(run);
      }
    }
    for (auto& [key, race] : races_) {
      finish(race);
      out_.races.push_back(std::move(race.race));
    }
    check_size();
    return std::move(out_);
  }

 private:
  struct Race {
    RelayRace race;
    std::vector<std::vector<const runs::Run*>> runs;  // by team and leg
  };
  using Key = std::tuple<runs::Date, std::string, std::uint16_t>;

  void report(const runs::Run& run, const char* code, std::string message, std::string expected, std::string hint) {
    const runs::Reading& first = log_.readings_of(run).front();
    problems_.push_back({.code = code,
                         .path = log_.files[first.file],
                         .line = first.line,
                         .message = std::move(message),
                         .expected = std::move(expected),
                         .hint = std::move(hint)});
  }

  std::string line_of(const runs::Run& run) const {
    return "on line " + std::to_string(log_.readings_of(run).front().line);
  }

  void add(const runs::Run& run) {
    Race& race = races_[{run.date, log_.name(run.place), run.trial}];
    race.race.date = run.date;
    race.race.place = run.place;
    race.race.trial = run.trial;
    std::size_t t = 0;
    while (t < race.race.teams.size() && race.race.teams[t].team != run.team) {
      ++t;
    }
    if (t == race.race.teams.size()) {
      race.race.teams.push_back({run.team, {}, {}});
      race.runs.emplace_back();
    }
    auto& runs_of_team = race.runs[t];
    if (runs_of_team.size() < run.leg) {
      runs_of_team.resize(run.leg, nullptr);
    }
    const runs::Run*& slot = runs_of_team[run.leg - 1U];
    if (slot != nullptr) {
      report(run, "leg-twice",
             "leg " + std::to_string(run.leg) + " of team '" + log_.name(run.team) + "' is there twice: player '" +
                 log_.name(slot->player) + "' " + line_of(*slot) + ", player '" + log_.name(run.player) + "' here",
             "each leg once a relay", "was it another relay? Then trial 1 and trial 2 tell them apart");
      return;
    }
    slot = &run;
  }

  void finish(Race& race) {
    // Teams by name, so that the order of the rows does not show.
    std::vector<std::size_t> order(race.race.teams.size());
    for (std::size_t t = 0; t < order.size(); ++t) {
      order[t] = t;
    }
    std::sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) {
      return id_before(log_.name(race.race.teams[a].team), log_.name(race.race.teams[b].team));
    });
    std::vector<TeamRelay> teams;
    std::map<runs::NameId, const runs::Run*> seen;
    for (std::size_t t = 0; t < order.size(); ++t) {
      TeamRelay& team = teams.emplace_back(std::move(race.race.teams[order[t]]));
      const auto& of_team = race.runs[order[t]];
      for (std::size_t leg = 0; leg < of_team.size(); ++leg) {
        team.legs.emplace_back();
        if (const runs::Run* run = of_team[leg]) {
          add_leg(race.race, t, leg, team, *run);
          const auto [at, is_new] = seen.try_emplace(run->player, run);
          if (!is_new && at->second->team != run->team) {
            report(*run, "player-in-two-teams",
                   "player '" + log_.name(run->player) + "' runs for '" + log_.name(run->team) + "' here and for '" +
                       log_.name(at->second->team) + "' " + line_of(*at->second) + " in one relay",
                   "one team a player in each relay", "was it another relay? Then trial 1 and trial 2 tell them apart");
          }
        }
      }
    }
    race.race.teams = std::move(teams);
    check_clocks(race);
  }

  void add_leg(RelayRace& race, std::size_t t, std::size_t leg, TeamRelay& team, const runs::Run& run) {
    LegRow& row = team.legs.back();
    row.there = true;
    row.player = run.player;
    row.flag = run.flag;
    const runs::Course& course = log_.courses[run.course];
    double end_m = runs::course_length_m(course, run.base_distance_m).value_or(0.0);
    if (end_m == 0.0) {  // a straight of no fixed length ends at the farthest mark
      for (const runs::Reading& reading : log_.readings_of(run)) {
        for (const runs::Split& split : log_.splits_of(reading)) {
          end_m = std::max(end_m, split.distance_m);
        }
      }
    }
    row.course = place_of(out_.courses, AskedCourse{run.course, run.base_distance_m, end_m, run.posture});
    for (const runs::Reading& reading : log_.readings_of(run)) {
      row.signal = reading.start == runs::StartKind::signal;
      const std::string& timer = log_.name(reading.timer);
      if (!timer.empty() && std::find(team.timers.begin(), team.timers.end(), timer) == team.timers.end()) {
        team.timers.push_back(timer);
      }
      const std::size_t clock = place_of(out_.clocks, AskedClock{reading.device, reading.start, reading.timer});
      for (const runs::Split& split : log_.splits_of(reading)) {
        if (!split.is_move && std::fabs(split.distance_m - end_m) <= 1e-6 * std::max(1.0, end_m)) {
          race.readings.push_back({t, leg, clock, reading.laps && leg > 0, split.time_s});
        }
      }
    }
  }

  // A date's relays are worked out together, with a matrix of readings by readings.
  void check_size() {
    std::map<runs::Date, std::size_t> readings;
    for (const RelayRace& race : out_.races) {
      readings[race.date] += race.readings.size();
    }
    for (const auto& [date, count] : readings) {
      if (count > most_readings) {
        problems_.push_back({.code = "too-many-legs",
                             .path = log_.files.front(),
                             .message = std::to_string(count) + " readings of relays on " + runs::format_date(date),
                             .expected = "at most " + std::to_string(most_readings) + " on one date: give the logs of one place at a time"});
      }
    }
  }

  // On one clock every leg ends later than those before it.
  void check_clocks(const Race& race) {
    for (std::size_t i = 0; i < race.race.readings.size(); ++i) {
      const RelayReading& later = race.race.readings[i];
      if (later.lap) {
        continue;
      }
      const RelayReading* before = nullptr;
      for (const RelayReading& other : race.race.readings) {
        if (other.team == later.team && other.clock == later.clock && !other.lap && other.leg < later.leg &&
            (before == nullptr || other.leg > before->leg)) {
          before = &other;
        }
      }
      if (before != nullptr && later.time_s <= before->time_s) {
        const TeamRelay& team = race.race.teams[later.team];
        const auto run = std::find_if(log_.runs.begin(), log_.runs.end(), [&](const runs::Run& r) {
          return r.team == team.team && r.leg == later.leg + 1 && r.date == race.race.date && r.trial == race.race.trial &&
                 r.place == race.race.place;
        });
        report(*run, "relay-clock",
               "team '" + log_.name(team.team) + "': leg " + std::to_string(later.leg + 1) + " ends at " +
                   runs::format_number(later.time_s) + " s, not after leg " + std::to_string(before->leg + 1) + " at " +
                   runs::format_number(before->time_s) + " s",
               "times of the team's own clock, which runs on from leg to leg",
               "if times count from the exchange, say so: '# splits: lap'");
      }
    }
  }

  const runs::RunLog& log_;
  runs::Problems& problems_;
  RelayData out_;
  std::map<Key, Race> races_;
};

}  // namespace

RelayData relay_data(const runs::RunLog& log, runs::Problems& problems) { return Gatherer(log, problems).gather(); }

}  // namespace bagsplit::coach
