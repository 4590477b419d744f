#include "bagsplit/jobs/teams/teams.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <numeric>
#include <set>
#include <tuple>

#include "bagsplit/inference/prior/prior.hpp"
#include "bagsplit/inference/squad/squad_settled.hpp"
#include "bagsplit/inference/squad/squad_times.hpp"
#include "bagsplit/jobs/fast_end.hpp"
#include "bagsplit/jobs/profile/merge_estimates.hpp"
#include "bagsplit/jobs/relay/detail/relay_job.hpp"
#include "bagsplit/jobs/relay/relay.hpp"
#include "bagsplit/runs/player_order.hpp"
#include "bagsplit/runs/typed.hpp"
#include "bagsplit/safety/safety.hpp"
#include "bagsplit/stats/ranking.hpp"

namespace bagsplit::jobs {

namespace {

using Eigen::Index;

std::string list_of(const std::vector<std::string>& ids, const char* between = ",") {
  std::string out;
  for (const std::string& id : ids) {
    out += (out.empty() ? "" : between) + id;
  }
  return out;
}

// Everybody to be parted, by id.
std::vector<std::string> players_of(const runs::RunLog& log, const runs::Roster& roster, const TeamsOptions& options) {
  std::set<std::string> known;
  for (const runs::Player& player : roster.players) {
    known.insert(player.id);
  }
  for (const runs::Run& run : log.runs) {
    known.insert(log.name(run.player));
  }
  const auto check = [&](const std::vector<std::string>& ids, const char* option) {
    for (const std::string& id : ids) {
      if (!known.contains(id)) {
        throw ImpossibleTeams(std::string(option) + " names player '" + id +
                              "', who is neither in a log nor in the roster");
      }
    }
  };
  check(options.players, "--players");
  check(options.absent, "--absent");
  std::set<std::string> taking_part(options.players.begin(), options.players.end());
  if (options.players.empty()) {
    taking_part = known;
  }
  for (const std::string& id : options.absent) {
    taking_part.erase(id);
  }
  std::vector<std::string> out(taking_part.begin(), taking_part.end());
  std::sort(out.begin(), out.end(), runs::id_before);
  return out;
}

class Rules {
 public:
  Rules(const std::vector<std::string>& players, const std::vector<std::string>& names)
      : players_(players), names_(names) {}

  std::vector<TeamRule> of(const TeamsOptions& options) {
    std::vector<TeamRule> out;
    for (const auto& ids : options.together) {
      out.push_back({TeamRule::Kind::together, places(ids, "together"), 0, "together " + list_of(ids)});
    }
    for (const auto& ids : options.apart) {
      out.push_back({TeamRule::Kind::apart, places(ids, "apart"), 0, "apart " + list_of(ids)});
    }
    for (const auto& [team, ids] : options.in_team) {
      const auto at = std::find(names_.begin(), names_.end(), team);
      if (at == names_.end()) {
        throw ImpossibleTeams("a player is to be in team '" + team + "', but the teams are " + list_of(names_, ", "));
      }
      out.push_back({TeamRule::Kind::in_team, places(ids, "in-team"), static_cast<std::size_t>(at - names_.begin()),
                     "in " + team + " " + list_of(ids)});
    }
    return out;
  }

 private:
  std::vector<std::size_t> places(const std::vector<std::string>& ids, const char* option) const {
    std::vector<std::size_t> out;
    for (const std::string& id : ids) {
      const auto at = std::find(players_.begin(), players_.end(), id);
      if (at == players_.end()) {
        throw ImpossibleTeams(std::string(option) + " names player '" + id + "', who does not take part");
      }
      out.push_back(static_cast<std::size_t>(at - players_.begin()));
    }
    std::sort(out.begin(), out.end());
    if (std::adjacent_find(out.begin(), out.end()) != out.end()) {
      throw ImpossibleTeams(std::string(option) + " names a player twice: " + list_of(ids));
    }
    return out;
  }

  const std::vector<std::string>& players_;
  const std::vector<std::string>& names_;
};

std::vector<std::string> names_of(const TeamsOptions& options) {
  std::vector<std::string> names = options.names;
  if (names.empty()) {
    for (std::size_t t = 1; t <= options.teams; ++t) {
      names.push_back(std::to_string(t));
    }
  }
  if (names.size() != options.teams || std::set<std::string>(names.begin(), names.end()).size() != names.size()) {
    throw ImpossibleTeams("--names needs " + std::to_string(options.teams) + " different names, one a team");
  }
  return names;
}

// Groups by age in whole years; a rule for each that is spread over the teams.
struct AgeGroups {
  std::map<int, std::vector<std::size_t>> by_group;
  std::vector<std::string> without;
};

AgeGroups age_groups(const std::vector<std::string>& players, const runs::Roster& roster, int years, runs::Date at) {
  AgeGroups out;
  for (std::size_t i = 0; i < players.size(); ++i) {
    const runs::Player* const player = roster.find(players[i]);
    if (player == nullptr || !player->born) {
      out.without.push_back(players[i]);
    } else {
      out.by_group[static_cast<int>(std::floor(runs::age_years(*player->born, at))) / years].push_back(i);
    }
  }
  return out;
}

std::string group_words(int group, int years) {
  const std::string from = std::to_string(group * years);
  return years == 1 ? from : from + "-" + std::to_string(group * years + years - 1);
}

inference::AskedCourse asked_course(const runs::RunLog& log, const TeamsOptions& options) {
  std::string wrong;
  const auto course = inference::ask_course(log, options.course, options.base_distance_m, wrong);
  if (!course) {
    throw ImpossibleTeams(wrong);
  }
  return *course;
}

void refuse_contradiction(const TeamSearch& search, const TeamProblem& problem) {
  if (!search.searched_all) {
    throw ImpossibleTeams(
        "no split was found that keeps every rule, nor could it be shown that there is none: leave out a rule");
  }
  std::vector<std::string> words;
  for (const std::size_t rule : search.broken) {
    words.push_back(problem.rules[rule].words);
  }
  const std::size_t n = problem.time_s.size();
  const std::string size = std::to_string(problem.teams) + " teams of " + std::to_string(n / problem.teams) +
                           (n % problem.teams > 0 ? " or " + std::to_string(n / problem.teams + 1) : "") + " players";
  throw ImpossibleTeams(words.size() == 1 ? words.front() + " cannot be kept with " + size
                                          : "these cannot all be kept with " + size + ": " + list_of(words, "; "));
}

// The relays of the last date that has some, for what they tell of exchanges and of running the bags.
struct ToldRelays {
  RelayData data;  // no races: nothing is told
  std::optional<runs::Date> day;
  std::string why_not;         // there are relay rows, but nothing is told
  std::size_t suspicious = 0;  // legs of the day that nothing is concluded from, though nobody flagged them

  std::span<const RelayRace> races() const { return day ? races_on(data, *day) : std::span<const RelayRace>{}; }
};

ToldRelays told_relays(const runs::RunLog& log) {
  ToldRelays out;
  text::Problems problems;
  out.data = relay_data(log, problems);
  if (text::has_errors(problems)) {
    const auto first = std::find_if(problems.begin(), problems.end(), [](const text::Problem& problem) {
      return problem.severity == text::Severity::error;
    });
    out.why_not = first->message;
    out.data = {};
    return out;
  }
  if (out.data.races.empty()) {
    return out;
  }
  out.day = out.data.races.back().date;
  for (const RelayRace& race : out.races()) {
    for (const TeamRelay& team : race.teams) {
      out.suspicious += static_cast<std::size_t>(
          std::count_if(team.legs.begin(), team.legs.end(), [](const LegRow& leg) { return leg.usual_s.has_value(); }));
    }
  }
  for (const RelayRace& race : out.races()) {
    for (const RelayReading& reading : race.readings) {
      const TeamRelay& team = race.teams[reading.team];
      if (reading.leg > 0 && team.legs[reading.leg].tells()) {
        return out;
      }
    }
  }
  out.why_not = "no leg after the first has a time that counts";
  out.data = {};
  out.day.reset();
  return out;
}

// From the split to times: expected ones, what is not known of them, and who wins.
class Outlook {
 public:
  Outlook(const runs::RunLog& log, const inference::SquadTimes& times, const ToldRelays& relays, std::size_t course,
          std::size_t players, const TeamsOptions& options)
      : times_(times),
        options_(options),
        course_(course),
        players_(players),
        first_share_(relays.day ? static_cast<double>(options.teams) / static_cast<double>(players) : 1.0),
        steps_per_s_(relays.day ? 1e6 : 1e9) {
    const RelayOptions relay_options;
    RelayJob job{log, relay_options, relays.data, times, {}, relays.day};
    for (const inference::KnownPlayer& player : times.players) {
      job.exchange_mean_s.push_back(
          options.model.prior.reaction_s.value_or(inference::sprint_prior(player.age_years, player.sex).reaction_s)
              .mean);
    }
    for (std::size_t p = 0; p < times.points.size(); ++p) {
      weights_.push_back(times.points[p].weight);
      Point& point = points_.emplace_back(Point{RelayWorld(times, p, job.exchange_mean_s, relays.day), {}});
      if (relays.day) {
        const WorldOfRaces races = races_in(point.world, job, relays.races());
        point.seen = point.world.times().factors().see(races.observed, races.values);
      }
    }
  }

  /// Expected leg of each player, rounded: what the order of rows brings must not decide between equal splits.
  std::vector<double> expected() {
    std::vector<double> out(players_, 0.0);
    for (std::size_t p = 0; p < points_.size(); ++p) {
      std::vector<stats::LinearQuantity> legs;
      for (std::size_t i = 0; i < players_; ++i) {
        legs.push_back(leg(points_[p], i));
      }
      const stats::JointNormal told = points_[p].told(legs);
      for (std::size_t i = 0; i < players_; ++i) {
        out[i] += weights_[p] * told.mean(static_cast<Index>(i));
      }
    }
    for (double& time_s : out) {
      time_s = std::round(time_s * steps_per_s_) / steps_per_s_;
    }
    return out;
  }

  void fill(const std::vector<std::size_t>& team_of, std::size_t slowest, std::size_t fastest, TeamsResult& result);

 private:
  struct Point {
    RelayWorld world;
    stats::LinearGaussian::Seen seen;

    stats::JointNormal told(std::span<const stats::LinearQuantity> wanted) {
      return world.times().factors().given(wanted, seen);
    }
  };

  // Of a leg as the relays tell it: one in a team starts on the call, and nobody knows who.
  stats::LinearQuantity leg(Point& point, std::size_t player) const {
    stats::LinearQuantity out;
    out.add(point.world.expected_leg(player, course_, true), first_share_);
    if (first_share_ < 1.0) {
      out.add(point.world.expected_leg(player, course_, false), 1.0 - first_share_);
    }
    return out;
  }

  const inference::SquadTimes& times_;
  const TeamsOptions& options_;
  std::size_t course_;   // into the courses asked
  std::size_t players_;  // to be parted: the first of those asked
  double first_share_;   // of legs that begin with a start
  double steps_per_s_;   // expected legs are rounded to
  std::vector<double> weights_;
  std::vector<Point> points_;
};

void Outlook::fill(const std::vector<std::size_t>& team_of, std::size_t slowest, std::size_t fastest,
                   TeamsResult& result) {
  const std::size_t n = team_of.size();
  const std::size_t k = result.teams.size();
  std::vector<double> share(k, 1.0);  // of a team's total that is compared
  for (std::size_t t = 0; t < k; ++t) {
    share[t] = result.same_size ? 1.0 : 1.0 / static_cast<double>(result.teams[t].members.size());
  }
  std::vector<std::vector<Estimate>> legs(n);
  std::vector<std::vector<Estimate>> totals(k);
  std::vector<Estimate> difference;
  stats::NormalMixture races;
  races.weights = weights_;
  for (Point& point : points_) {
    const inference::TimesPoint& at_point = point.world.times().point();
    const inference::SquadScales& scales = at_point.scales;
    const double start_variance = first_share_ * scales.reaction_sd_s * scales.reaction_sd_s +
                                  (1.0 - first_share_) * exchange_scatter_s * exchange_scatter_s;
    std::vector<stats::LinearQuantity> known(n + k + 1);
    std::vector<stats::LinearQuantity> race(k);
    for (std::size_t i = 0; i < n; ++i) {
      known[i] = leg(point, i);
      const double straight_s = at_point.players[i].mean(static_cast<Index>(times_.index.straight(course_)));
      const double scatter_s =
          std::hypot(std::hypot(scales.effort_cv, scales.day_cv) * straight_s, std::sqrt(start_variance));
      const std::size_t t = team_of[i];
      known[n + t].add(known[i]);
      race[t].add(known[i], share[t]).add(point.world.times().factors().add(scatter_s), share[t]);
    }
    known[n + k].add(known[n + slowest], share[slowest]).add(known[n + fastest], -share[fastest]);
    const stats::JointNormal of_known = point.told(known);
    const auto estimate = [&](std::size_t q) {
      const auto at = static_cast<Index>(q);
      return inference::gaussian_estimate(of_known.mean(at), of_known.covariance(at, at), options_.level);
    };
    for (std::size_t i = 0; i < n; ++i) {
      legs[i].push_back(estimate(i));
    }
    for (std::size_t t = 0; t < k; ++t) {
      totals[t].push_back(estimate(n + t));
    }
    difference.push_back(estimate(n + k));
    races.parts.push_back(point.told(race));
  }
  std::vector<std::size_t> next(k, 0);
  for (std::size_t i = 0; i < n; ++i) {
    TeamMember& member = result.teams[team_of[i]].members[next[team_of[i]]++];
    member.leg_s = merge_estimates(weights_, legs[i], options_.level);
    member.leg_s.share_from_data = times_.players[i].share_from_data[course_];
  }
  const std::vector<double> p_win = stats::p_lowest(races, options_.draws, options_.seed);
  for (std::size_t t = 0; t < k; ++t) {
    result.teams[t].total_s = merge_estimates(weights_, totals[t], options_.level);
    result.teams[t].p_win = stats::shown_by_draws(p_win[t], options_.draws);
  }
  result.difference_s = merge_estimates(weights_, difference, options_.level);
}

void add_notes(const TeamsResult& result, const AgeGroups& ages, const ToldRelays& relays,
               std::vector<std::string>& notes) {
  std::vector<std::string> norm;
  std::vector<std::string> blind;
  std::vector<std::string> elsewhere;
  std::vector<std::string> in_relay;
  for (const EvenTeam& team : result.teams) {
    for (const TeamMember& member : team.members) {
      if (member.runs == 0 && member.relay_legs == 0) {
        (member.age_years ? norm : blind).push_back(member.player);
      } else if (!member.course_run && !member.relay_course) {
        elsewhere.push_back(member.player);
      } else if (!member.course_run) {
        in_relay.push_back(member.player);
      }
    }
  }
  for (auto* ids : {&norm, &blind, &elsewhere, &in_relay}) {
    std::sort(ids->begin(), ids->end(), runs::id_before);
  }
  if (!norm.empty()) {
    notes.push_back("No run of " + list_of(norm, ", ") +
                    ": placed by the norm of the age group, as far as the squad is from it.");
  }
  if (!blind.empty()) {
    notes.push_back(
        "Neither a run nor a birth date of " + list_of(blind, ", ") +
        ": placed by what is usual between 6 and 18 years, which is hardly more than a guess. A run each would help.");
  }
  if (!elsewhere.empty()) {
    notes.push_back("Never run over " + result.course + ": " + list_of(elsewhere, ", ") +
                    ". Their speed is from their own runs; what the bags cost them is what is usual.");
  }
  if (!in_relay.empty()) {
    notes.push_back("Over " + result.course + " only relay legs of " + list_of(in_relay, ", ") +
                    ": the exchange and what the bags cost cannot be told apart.");
  }
  if (!ages.without.empty()) {
    notes.push_back("No birth date of " + list_of(ages.without, ", ") + ": in no age group.");
  }
  if (result.relays_of) {
    notes.push_back("Exchanges, and how the bags are run in a relay, as the relays of " +
                    runs::format_date(*result.relays_of) +
                    " tell them; for those who ran none, as the others' do. Who starts is not known: each leg carries "
                    "its share of the one start "
                    "on the call." +
                    (relays.suspicious > 0
                         ? " Suspicious legs left out: " + std::to_string(relays.suspicious) + " (relay names them)."
                         : std::string()));
    return;
  }
  notes.push_back(
      (relays.why_not.empty() ? std::string("There is no relay in these files")
                              : "The relays in these files are not used (" + relays.why_not + ")") +
      ": each leg counts as a run alone over " + result.course +
      ", from a stand on the call, with a stop on its last bag where it has one, and an exchange costs what that "
      "start does. A real relay may well be faster than the sum. Rows with a team and a leg would tell.");
}

runs::Date age_date(const runs::RunLog& log, const TeamsOptions& options) {
  if (log.runs.empty()) {
    return options.today.value_or(runs::Date{});
  }
  return std::max_element(log.runs.begin(), log.runs.end(),
                          [](const runs::Run& a, const runs::Run& b) { return a.date < b.date; })
      ->date;
}

// A rule for each age group, where they are asked to be spread.
AgeGroups spread_ages(const inference::SquadTimesQuestion& question, const runs::Roster& roster,
                      const TeamsOptions& options, TeamProblem& problem) {
  if (!options.equal_ages_years) {
    return {};
  }
  const int years = *options.equal_ages_years;
  AgeGroups ages = age_groups(question.players, roster, years, question.age_at);
  if (ages.by_group.empty()) {
    throw ImpossibleTeams("--equal-ages needs birth dates, and the roster has none of these players");
  }
  for (const auto& [group, members] : ages.by_group) {
    problem.rules.push_back({TeamRule::Kind::even, members, 0,
                             "--equal-ages " + std::to_string(years) + " (the " + std::to_string(members.size()) +
                                 " of " + group_words(group, years) + " years)"});
  }
  return ages;
}

// Legs of the relays used.
void count_relay_legs(const runs::RunLog& log, const ToldRelays& relays, std::size_t course, TeamsResult& result) {
  std::map<std::string, std::pair<std::size_t, bool>> legs;
  for (const RelayRace& race : relays.races()) {
    for (const TeamRelay& team : race.teams) {
      for (const LegRow& leg : team.legs) {
        if (leg.tells()) {
          auto& of_player = legs[log.name(leg.player)];
          ++of_player.first;
          of_player.second = of_player.second || leg.course == course;
        }
      }
    }
  }
  for (EvenTeam& team : result.teams) {
    for (TeamMember& member : team.members) {
      std::tie(member.relay_legs, member.relay_course) = legs[member.player];
    }
  }
}

// Members, mean legs, spreads and age groups of the split.
void fill_teams(const TeamProblem& problem, const TeamSearch& search, const inference::SquadTimes& times,
                std::size_t course, const std::vector<std::string>& names, const AgeGroups& ages,
                const TeamsOptions& options, TeamsResult& result) {
  result.imbalance = search.imbalance;
  result.proven = search.searched_all;
  result.best_possible_s = search.best_possible_s;
  for (const TeamRule& rule : problem.rules) {
    result.rules.push_back(rule.words);
  }
  for (const std::string& name : names) {
    result.teams.emplace_back().name = name;
  }
  const auto n = static_cast<double>(problem.time_s.size());
  const double everybody_s = std::accumulate(problem.time_s.begin(), problem.time_s.end(), 0.0) / n;
  for (std::size_t i = 0; i < problem.time_s.size(); ++i) {
    EvenTeam& team = result.teams[search.team_of[i]];
    const inference::KnownPlayer& known = times.players[i];
    TeamMember& member = team.members.emplace_back();
    member.player = known.player;
    member.age_years = known.age_years;
    member.runs = known.runs;
    member.course_run = known.course_run[course];
    member.probability_all_readings_fit = known.probability_all_readings_fit;
    team.mean_leg_s += problem.time_s[i];
    team.spread_s += (problem.time_s[i] - everybody_s) * (problem.time_s[i] - everybody_s);
  }
  for (EvenTeam& team : result.teams) {
    const auto size = static_cast<double>(team.members.size());
    team.mean_leg_s /= size;
    team.spread_s = std::sqrt(team.spread_s / size);
    result.same_size = result.same_size && team.members.size() == result.teams.front().members.size();
  }
  for (const auto& [group, members] : ages.by_group) {
    const int years = *options.equal_ages_years;
    AgeGroup& to = result.age_groups.emplace_back(
        AgeGroup{group * years, group * years + years - 1, std::vector<std::size_t>(names.size(), 0)});
    for (const std::size_t i : members) {
      ++to.in_team[search.team_of[i]];
    }
  }
}

// Two relays: ways exchanged, each order moved on by one, so that who began at home waits at second next.
std::vector<Lineup> lineups_of(const std::vector<EvenTeam>& teams) {
  std::size_t legs = 0;
  for (const EvenTeam& team : teams) {
    legs = std::max(legs, team.members.size());
  }
  std::vector<Lineup> out;
  for (std::size_t relay = 0; relay < 2; ++relay) {
    for (std::size_t t = 0; t < teams.size(); ++t) {
      Lineup& lineup = out.emplace_back(Lineup{relay + 1, teams[t].name, (relay + t) % 2 == 0 ? "first" : "third", {}});
      for (std::size_t leg = 0; leg < legs; ++leg) {
        lineup.runners.push_back(teams[t].members[(leg + relay) % teams[t].members.size()].player);
      }
    }
  }
  return out;
}

}  // namespace

TeamsResult even_teams(const runs::RunLog& log, const runs::Roster& roster, const timing::DeviceBook& devices,
                       const TeamsOptions& options) {
  const std::vector<std::string> names = names_of(options);
  inference::SquadTimesQuestion question;
  question.players = players_of(log, roster, options);
  const std::size_t n = question.players.size();
  if (n < options.teams) {
    throw ImpossibleTeams(std::to_string(options.teams) + " teams of " + std::to_string(n) +
                          (n == 1 ? " player" : " players") + ": every team needs one at least");
  }
  question.age_at = age_date(log, options);
  TeamProblem problem;
  problem.teams = options.teams;
  problem.spread_weight = options.spread_weight;
  problem.rules = Rules(question.players, names).of(options);
  const AgeGroups ages = spread_ages(question, roster, options, problem);
  const inference::AskedCourse asked = asked_course(log, options);
  ToldRelays relays = told_relays(log);
  const std::size_t course = place_of(relays.data.courses, asked);
  question.courses = relays.data.courses;
  question.clocks = relays.data.clocks;
  question.day = relays.day;
  for (const RelayRace& race : relays.races()) {
    for (const TeamRelay& team : race.teams) {
      for (const LegRow& leg : team.legs) {
        if (leg.there) {
          place_of(question.players, log.name(leg.player));
        }
      }
    }
  }
  question.model = options.model;
  question.squad = options.squad;
  question.threads = options.threads;
  const inference::SquadTimes times = inference::squad_times(log, roster, devices, question);
  TeamsResult result;
  result.level = options.level;
  result.model = options.model;
  result.course = log.courses[asked.course].name;
  result.base_distance_m = asked.base_m;
  result.relays_of = relays.day;
  result.spread_weight = options.spread_weight;
  result.uncertified = times.uncertified;
  result.suspected.slip_rate = times.slip_rate;
  for (const inference::KnownPlayer& known : times.players) {
    result.suspected.add(suspected_readings(log, known.player, known.log_reading, known.slips, known.slip_of_reading));
  }
  if (!times.uncertified.empty()) {
    return result;
  }
  Outlook outlook(log, times, relays, course, n, options);
  problem.time_s = outlook.expected();
  const TeamSearch search = most_even_teams(problem);
  if (!search.feasible) {
    refuse_contradiction(search, problem);
  }
  fill_teams(problem, search, times, course, names, ages, options, result);
  count_relay_legs(log, relays, course, result);
  const auto by_leg = [](const EvenTeam& a, const EvenTeam& b) { return a.mean_leg_s < b.mean_leg_s; };
  const auto [fastest, slowest] = std::minmax_element(result.teams.begin(), result.teams.end(), by_leg);
  result.slowest = slowest->name;
  result.fastest = fastest->name;
  result.draws = options.draws;
  result.seed = options.seed;
  outlook.fill(search.team_of, static_cast<std::size_t>(slowest - result.teams.begin()),
               static_cast<std::size_t>(fastest - result.teams.begin()), result);
  if (!times.squad_settled) {
    result.notes.emplace_back(inference::unsettled_squad);
  }
  add_notes(result, ages, relays, result.notes);
  const runs::Course& run = log.courses[asked.course];
  if (run.name == "home-second") {
    result.lineups = lineups_of(result.teams);
  }
  result.cautions =
      safety::relay_cautions(run.is_base_path() && run.bags.back() == runs::Bag::second, fast_end_mps(times.players));
  return result;
}

}  // namespace bagsplit::jobs
