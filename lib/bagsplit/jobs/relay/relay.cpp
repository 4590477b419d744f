#include "bagsplit/jobs/relay/relay.hpp"

#include <algorithm>
#include <cmath>
#include <set>

#include "bagsplit/inference/prior/prior.hpp"
#include "bagsplit/inference/squad/squad_settled.hpp"
#include "bagsplit/jobs/fast_end.hpp"
#include "bagsplit/jobs/profile/advice.hpp"
#include "bagsplit/jobs/relay/detail/relay_job.hpp"
#include "bagsplit/runs/log/run_log.hpp"
#include "bagsplit/runs/player_order.hpp"
#include "bagsplit/runs/typed.hpp"
#include "bagsplit/safety/safety.hpp"
#include "bagsplit/text/wording.hpp"

namespace bagsplit::jobs {

namespace {

[[noreturn]] void refuse(const std::string& text) {
  throw ImpossibleOrder(text);
}

// The relays to look ahead to, by ids; courses into the data.
class Planner {
 public:
  Planner(const runs::RunLog& log, const runs::Roster& roster, const RelayOptions& options, RelayData& data)
      : log_(log), roster_(roster), options_(options), data_(data) {}

  struct Plan {
    std::string team;
    std::vector<std::string> players;
    std::vector<std::size_t> courses;
  };

  std::vector<Plan> plan(std::vector<std::string>& notes) {
    find_last();
    std::vector<Plan> out;
    if (options_.orders.empty()) {
      for (const auto& [name, team] : last_) {
        add_as_run(name, *team, out, notes);
      }
    } else {
      for (const RelayOrder& order : options_.orders) {
        out.push_back(as_asked(order));
      }
      for (const auto& team : last_) {
        const bool asked =
            std::any_of(out.begin(), out.end(), [&](const Plan& plan) { return plan.team == team.first; });
        if (!asked && options_.orders.size() == 1) {
          add_as_run(team.first, *team.second, out, notes);
        }
      }
    }
    check(out);
    return out;
  }

 private:
  // Each team's last relay on the last date.
  void find_last() {
    for (const RelayRace& race : data_.races) {
      if (race.date == data_.races.back().date) {
        for (const TeamRelay& team : race.teams) {
          const std::string& name = log_.name(team.team);
          const auto at =
              std::find_if(last_.begin(), last_.end(), [&](const auto& entry) { return entry.first == name; });
          at == last_.end() ? static_cast<void>(last_.emplace_back(name, &team))
                            : static_cast<void>(at->second = &team);
        }
      }
    }
    std::sort(last_.begin(), last_.end(),
              [](const auto& a, const auto& b) { return runs::id_before(a.first, b.first); });
  }

  void add_as_run(const std::string& name, const TeamRelay& team, std::vector<Plan>& out,
                  std::vector<std::string>& notes) const {
    Plan plan{name, {}, {}};
    for (const LegRow& leg : team.legs) {
      if (!leg.there) {
        notes.push_back("Team " + name +
                        " has a leg without a row, so nothing is said of what it may be expected to run.");
        return;
      }
      plan.players.push_back(log_.name(leg.player));
      plan.courses.push_back(leg.course);
    }
    out.push_back(std::move(plan));
  }

  Plan as_asked(const RelayOrder& order) {
    Plan plan{order.team, order.players, {}};
    for (const std::string& id : order.players) {
      if (!is_known(id)) {
        refuse("--order names player '" + id + "', who is neither in a log nor in the roster");
      }
    }
    if (options_.course) {
      plan.courses.assign(order.players.size(), asked_course());
      return plan;
    }
    if (last_.empty()) {
      refuse("no relay in the log tells over which course the legs of the order go: name one, such as home-second");
    }
    const auto own =
        std::find_if(last_.begin(), last_.end(), [&](const auto& entry) { return entry.first == order.team; });
    const TeamRelay& like = own != last_.end() ? *own->second : *last_.front().second;
    std::vector<std::size_t> legs;
    for (const LegRow& leg : like.legs) {
      if (leg.there) {
        legs.push_back(leg.course);
      }
    }
    for (std::size_t k = 0; k < order.players.size(); ++k) {
      plan.courses.push_back(legs[k % legs.size()]);
    }
    return plan;
  }

  bool is_known(const std::string& id) const {
    return roster_.find(id) != nullptr || std::any_of(log_.runs.begin(), log_.runs.end(), [&](const runs::Run& run) {
             return log_.name(run.player) == id;
           });
  }

  std::size_t asked_course() {
    std::string wrong;
    const auto course = inference::ask_course(log_, *options_.course, std::nullopt, wrong);
    if (!course) {
      refuse(wrong);
    }
    return place_of(data_.courses, *course);
  }

  static void check(const std::vector<Plan>& plans) {
    for (std::size_t a = 0; a < plans.size(); ++a) {
      for (std::size_t b = 0; b < a; ++b) {
        if (plans[a].team == plans[b].team) {
          refuse("--order names team '" + plans[a].team + "' twice");
        }
        for (const std::string& id : plans[a].players) {
          if (std::find(plans[b].players.begin(), plans[b].players.end(), id) != plans[b].players.end()) {
            refuse("player '" + id + "' would run for both '" + plans[b].team + "' and '" + plans[a].team +
                   "': give an order for both teams");
          }
        }
      }
    }
  }

  const runs::RunLog& log_;
  const runs::Roster& roster_;
  const RelayOptions& options_;
  RelayData& data_;
  std::vector<std::pair<std::string, const TeamRelay*>> last_;
};

// Everybody who runs, or may.
std::vector<std::string> all_players(const runs::RunLog& log, const RelayData& data,
                                     const std::vector<Planner::Plan>& plans) {
  std::set<std::string> ids;
  for (const RelayRace& race : data.races) {
    for (const TeamRelay& team : race.teams) {
      for (const LegRow& leg : team.legs) {
        if (leg.there) {
          ids.insert(log.name(leg.player));
        }
      }
    }
  }
  for (const Planner::Plan& plan : plans) {
    ids.insert(plan.players.begin(), plan.players.end());
  }
  std::vector<std::string> out(ids.begin(), ids.end());
  std::sort(out.begin(), out.end(), runs::id_before);
  return out;
}

void note_unknown_exchanges(const RelayResult& result, std::vector<std::string>& notes) {
  std::set<std::string, decltype(&runs::id_before)> alone(&runs::id_before);
  std::set<std::string, decltype(&runs::id_before)> elsewhere(&runs::id_before);
  for (const RelayRun& run : result.runs) {
    for (const RelayLeg& leg : run.legs) {
      if (!leg.player.empty() && leg.leg > 1 && !leg.own_course) {
        (leg.own_runs ? elsewhere : alone).insert(leg.player);
      }
    }
  }
  const auto list = [](const auto& ids) { return text::joined({ids.begin(), ids.end()}); };
  if (!alone.empty()) {
    notes.push_back(
        "No run alone of " + list(alone) +
        ": exchange and time lost at the bags cannot be told apart; their sum is given, and their speed is the "
        "norm of the age group.");
  }
  if (!elsewhere.empty()) {
    notes.push_back("No run alone over the leg's course of " + list(elsewhere) +
                    ": exchange and time lost at the bags cannot be told apart; their sum is given.");
  }
}

// The same players in the same legs, timed by others within what two watches may differ by: probably one relay.
void note_two_watches(const RelayResult& result, std::vector<std::string>& notes) {
  const double apart_s = runs::SuspicionLimits().watches_apart_s;
  const auto alike = [&](const RelayRun& a, const RelayRun& b) {
    if (a.team != b.team || a.date != b.date || a.place != b.place || a.timers == b.timers ||
        a.legs.size() != b.legs.size()) {
      return false;
    }
    for (std::size_t k = 0; k < a.legs.size(); ++k) {
      const RelayLeg& x = a.legs[k];
      const RelayLeg& y = b.legs[k];
      if (x.player != y.player || !x.clock_s || !y.clock_s || std::fabs(*x.clock_s - *y.clock_s) > apart_s) {
        return false;
      }
    }
    return true;
  };
  for (std::size_t a = 0; a < result.runs.size(); ++a) {
    for (std::size_t b = a + 1; b < result.runs.size(); ++b) {
      if (alike(result.runs[a], result.runs[b])) {
        notes.push_back("Relays " + std::to_string(result.runs[a].trial) + " and " +
                        std::to_string(result.runs[b].trial) + " of " + result.runs[a].team +
                        " look like one relay on two watches: then give its rows the same trial.");
      }
    }
  }
}

std::string hundredths(double s) {
  return runs::format_number(std::round(s * 100.0) / 100.0) + " s";
}

void note_what_is_missing(const runs::RunLog& log, const RelayData& data, RelayResult& result) {
  for (const RelayRun& run : result.runs) {
    const std::string of =
        "Team " + run.team +
        (result.runs.size() > 1 ? " (" + runs::format_date(run.date) + ", relay " + std::to_string(run.trial) + ")"
                                : std::string());
    for (const RelayLeg& leg : run.legs) {
      if (leg.player.empty()) {
        result.notes.push_back(of + ": no row for leg " + std::to_string(leg.leg) + ".");
      }
      if (leg.together_s) {
        result.notes.push_back(of + ": a reading between legs " + std::to_string(*leg.together_from) + " and " +
                               std::to_string(leg.leg) +
                               " is missing; only their sum is known, and it is not split by guess.");
      }
      if (leg.flag != runs::Flag::none) {
        result.notes.push_back(of + ": leg " + std::to_string(leg.leg) +
                               " is flagged; its time stands, nothing is concluded from it.");
      }
    }
    for (const RelayLeg& leg : run.legs) {
      if (leg.squad_leg_s && leg.leg_s) {
        result.notes.push_back(of + ": leg " + std::to_string(leg.leg) + " took " + hundredths(*leg.leg_s) +
                               ", the squad's legs of that length about " + hundredths(*leg.squad_leg_s) +
                               ": suspicious. Its time stands, and the total and who was first rest on it; nothing is "
                               "concluded from it, and "
                               "what another evening may bring is expected without it.");
      }
    }
    if (!run.total_s) {
      result.notes.push_back(of + ": no reading at the end of the last leg, so no total.");
    }
  }
  if (data.rows_without_leg > 0) {
    result.notes.push_back(std::to_string(data.rows_without_leg) +
                           (data.rows_without_leg == 1 ? " row names" : " rows name") +
                           " a team and no leg, and is no part of a relay.");
  }
  bool apart = false;
  for (const RelayRace& race : data.races) {
    for (const TeamRelay& team : race.teams) {
      for (std::size_t k = 1; k < team.legs.size(); ++k) {
        if (team.legs[k - 1].there && team.legs[k].there) {
          const runs::Course& before = log.courses[data.courses[team.legs[k - 1].course].course];
          const runs::Course& after = log.courses[data.courses[team.legs[k].course].course];
          apart = apart || (before.is_base_path() && after.is_base_path() && before.bags.back() != after.bags.front());
        }
      }
    }
  }
  if (apart) {
    result.notes.push_back(
        "Some legs begin at another bag than the one before ended: there the exchange is the reaction to a sign across "
        "the field, not a touch.");
  }
}

}  // namespace

RelayResult relay(const runs::RunLog& log, const runs::Roster& roster, const timing::DeviceBook& devices,
                  const RelayOptions& options, text::Problems& problems) {
  RelayResult result;
  result.level = options.level;
  result.model = options.model;
  RelayData data = relay_data(log, problems);
  if (text::has_errors(problems)) {
    return result;
  }
  const std::vector<Planner::Plan> plans = Planner(log, roster, options, data).plan(result.notes);
  inference::SquadTimesQuestion question;
  question.players = all_players(log, data, plans);
  if (question.players.empty()) {
    return result;
  }
  question.courses = data.courses;
  question.clocks = data.clocks;
  question.model = options.model;
  question.squad = options.squad;
  question.threads = options.threads;
  for (const runs::Run& run : log.runs) {
    question.age_at = std::max(question.age_at, run.date);
  }
  if (!data.races.empty()) {
    question.day = data.races.back().date;
  }
  const inference::SquadTimes times = inference::squad_times(log, roster, devices, question);
  result.uncertified = times.uncertified;
  result.suspected.slip_rate = times.slip_rate;
  for (const inference::KnownPlayer& known : times.players) {
    result.suspected.add(suspected_readings(log, known.player, known.log_reading, known.slips, known.slip_of_reading));
    result.all_readings_fit.emplace_back(known.player, known.probability_all_readings_fit);
  }
  if (!times.uncertified.empty()) {
    return result;
  }
  RelayJob job{log, options, data, times, {}, question.day};
  for (const inference::KnownPlayer& player : times.players) {
    job.exchange_mean_s.push_back(
        options.model.prior.reaction_s.value_or(inference::sprint_prior(player.age_years, player.sex).reaction_s).mean);
  }
  std::vector<PlannedRelay> planned;
  for (const Planner::Plan& plan : plans) {
    PlannedRelay& to = planned.emplace_back();
    to.team = plan.team;
    to.courses = plan.courses;
    for (const std::string& id : plan.players) {
      to.players.push_back(static_cast<std::size_t>(std::find(question.players.begin(), question.players.end(), id) -
                                                    question.players.begin()));
    }
  }
  analyse_races(job, result);
  look_ahead(job, planned, result);
  if (!times.squad_settled) {
    result.notes.emplace_back(inference::unsettled_squad);
  }
  note_what_is_missing(log, data, result);
  note_two_watches(result, result.notes);
  note_unknown_exchanges(result, result.notes);
  if (planned.size() == 1) {
    result.notes.push_back("One team alone: there is nobody to win against.");
  } else if (planned.size() > 1 && !result.expected.front().p_win) {
    result.notes.push_back(
        "The teams have different numbers of legs, so their totals do not compare: no win probability.");
  }
  const bool meet_at_second =
      std::any_of(data.courses.begin(), data.courses.end(), [&](const inference::AskedCourse& asked) {
        const std::vector<runs::Bag>& bags = log.courses[asked.course].bags;
        return !bags.empty() && (bags.front() == runs::Bag::second || bags.back() == runs::Bag::second);
      });
  result.cautions = safety::relay_cautions(meet_at_second, fast_end_mps(times.players));
  return result;
}

}  // namespace bagsplit::jobs
