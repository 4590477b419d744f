#include "bagsplit/jobs/relay/detail/relay_data.hpp"

#include <algorithm>
#include <cmath>
#include <tuple>

#include "bagsplit/runs/player_order.hpp"
#include "bagsplit/runs/typed.hpp"
#include "bagsplit/stats/quantile.hpp"

namespace bagsplit::jobs {

namespace {

constexpr std::size_t most_readings = 2000;  // of one date

// A leg is suspicious where it takes half as long again as the squad's middle one over such a distance, or less than
// two thirds of it, and is that far off for this squad, too. Its neighbour, on the other end of the reading in doubt,
// where it is far off the other way. Common practice, no source.
constexpr std::size_t least_legs_compared = 4;
constexpr double suspicious_ratio = 1.5;
constexpr double suspicious_robust_sds = 6.0;
constexpr double neighbour_robust_sds = 3.0;
constexpr double least_leg_cv = 0.05;  // legs of a squad differ by so much at the least
constexpr double mad_to_sd_of_legs = 1.4826;
constexpr double same_distance_m = 0.05;

class Gatherer {
 public:
  Gatherer(const runs::RunLog& log, text::Problems& problems) : log_(log), problems_(problems) {}

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
    if (!text::has_errors(problems_)) {
      find_suspicious();
    }
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
      return runs::id_before(log_.name(race.race.teams[a].team), log_.name(race.race.teams[b].team));
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
    row.course = place_of(out_.courses, inference::AskedCourse{run.course, run.base_distance_m, end_m, run.posture});
    for (const runs::Reading& reading : log_.readings_of(run)) {
      row.signal = reading.start == runs::StartKind::signal;
      const std::string& timer = log_.name(reading.timer);
      if (!timer.empty() && std::find(team.timers.begin(), team.timers.end(), timer) == team.timers.end()) {
        team.timers.push_back(timer);
      }
      const std::size_t clock =
          place_of(out_.clocks, inference::AskedClock{reading.device, reading.start, reading.timer, reading.signal});
      for (const runs::Split& split : log_.splits_of(reading)) {
        if (!split.is_move && std::fabs(split.distance_m - end_m) <= 1e-6 * std::max(1.0, end_m)) {
          const bool one_watch = reading.timer != runs::no_name || reading.signal == runs::Signal::mine;
          race.readings.push_back({t, leg, clock, reading.laps && leg > 0, split.time_s, one_watch});
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
                             .expected = "at most " + std::to_string(most_readings) +
                                         " on one date: give the logs of one place at a time"});
      }
    }
  }

  struct LegTime {
    std::size_t race = 0, team = 0, leg = 0;
    double distance_m = 0.0, time_s = 0.0;
  };

  // What the clocks read of each leg whose both ends they saw; flagged legs left out.
  std::vector<LegTime> leg_times() const {
    std::vector<LegTime> out;
    for (std::size_t r = 0; r < out_.races.size(); ++r) {
      const RelayRace& race = out_.races[r];
      std::map<std::pair<std::size_t, std::size_t>, std::vector<double>> read;  // by team and leg
      for (const RelayReading& end : race.readings) {
        std::optional<double> begin_s = end.lap || end.leg == 0 ? std::optional(0.0) : std::nullopt;
        for (const RelayReading& before : race.readings) {
          if (!begin_s && !before.lap && before.team == end.team && before.clock == end.clock &&
              before.leg + 1 == end.leg) {
            begin_s = before.time_s;
          }
        }
        const LegRow& row = race.teams[end.team].legs[end.leg];
        if (begin_s && row.there && row.flag == runs::Flag::none) {
          read[{end.team, end.leg}].push_back(end.time_s - *begin_s);
        }
      }
      for (const auto& [at, times] : read) {
        const LegRow& row = race.teams[at.first].legs[at.second];
        out.push_back({r, at.first, at.second, out_.courses[row.course].distance_m, *stats::median(times)});
      }
    }
    return out;
  }

  void find_suspicious() {
    const std::vector<LegTime> legs = leg_times();
    const auto row_of = [&](const LegTime& leg) -> LegRow& {
      return out_.races[leg.race].teams[leg.team].legs[leg.leg];
    };
    for (const LegTime& leg : legs) {
      std::vector<double> alike;
      for (const LegTime& other : legs) {
        if (std::fabs(other.distance_m - leg.distance_m) < same_distance_m) {
          alike.push_back(other.time_s);
        }
      }
      if (alike.size() < least_legs_compared) {
        continue;
      }
      const double middle_s = *stats::median(alike);
      for (double& time_s : alike) {
        time_s = std::fabs(time_s - middle_s);
      }
      const double sd_s = std::max(mad_to_sd_of_legs * *stats::median(alike), least_leg_cv * middle_s);
      const double off_s = leg.time_s - middle_s;
      const double ratio = leg.time_s / middle_s;
      if ((ratio < suspicious_ratio && ratio > 1.0 / suspicious_ratio) ||
          std::fabs(off_s) < suspicious_robust_sds * sd_s) {
        continue;
      }
      suspect(leg, row_of(leg), middle_s);
      for (const LegTime& other : legs) {
        const bool beside =
            other.race == leg.race && other.team == leg.team && (other.leg + 1 == leg.leg || leg.leg + 1 == other.leg);
        const double other_off_s = other.time_s - middle_s;
        if (beside && std::fabs(other.distance_m - leg.distance_m) < same_distance_m && other_off_s * off_s < 0.0 &&
            std::fabs(other_off_s) >= neighbour_robust_sds * sd_s) {
          suspect(other, row_of(other), middle_s);
        }
      }
    }
  }

  void suspect(const LegTime& leg, LegRow& row, double middle_s) {
    if (row.usual_s) {
      return;
    }
    row.usual_s = middle_s;
    const RelayRace& race = out_.races[leg.race];
    const TeamRelay& team = race.teams[leg.team];
    const auto run = std::find_if(log_.runs.begin(), log_.runs.end(), [&](const runs::Run& r) {
      return r.team == team.team && r.leg == leg.leg + 1 && r.date == race.date && r.trial == race.trial &&
             r.place == race.place;
    });
    const runs::Reading& first = log_.readings_of(*run).front();
    const auto seconds = [](double s) { return runs::format_number(std::round(s * 100.0) / 100.0) + " s"; };
    problems_.push_back(
        {.severity = text::Severity::suspicion,
         .code = "relay-leg",
         .path = log_.files[first.file],
         .line = first.line,
         .message = "team '" + log_.name(team.team) + "': leg " + std::to_string(leg.leg + 1) + " took " +
                    seconds(leg.time_s) + ", the squad's legs of that length about " + seconds(middle_s),
         .expected = "a leg like the others; nothing is concluded from this one",
         .hint =
             "was the reading at either of its ends missed, or written down wrongly? A fall has a flag of its own"});
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
          return r.team == team.team && r.leg == later.leg + 1 && r.date == race.race.date &&
                 r.trial == race.race.trial && r.place == race.race.place;
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
  text::Problems& problems_;
  RelayData out_;
  std::map<Key, Race> races_;
};

}  // namespace

RelayData relay_data(const runs::RunLog& log, text::Problems& problems) {
  return Gatherer(log, problems).gather();
}

}  // namespace bagsplit::jobs
