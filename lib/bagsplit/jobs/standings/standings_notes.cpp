#include <algorithm>
#include <cmath>
#include <map>

#include "bagsplit/jobs/standings/detail/standings_job.hpp"
#include "bagsplit/jobs/trend/detail/trend_data.hpp"
#include "bagsplit/text/number_chars.hpp"

namespace bagsplit::jobs::detail {

namespace {

constexpr double worth_saying = 0.1;        // of a usual player's SD, and ...
constexpr double of_gap = 0.5;              // ... of the distance of neighbours: below, timers hardly move the order
constexpr std::size_t groups_compared = 6;  // of players timed by the same people
constexpr std::size_t named = 12;
constexpr int pooled_days = 28;

// Players timed by the same people, with how what is not known of these timers enters what is ordered.
struct TimedAlike {
  std::vector<std::string> timers;
  std::size_t players = 0;
  Eigen::VectorXd on_biases;  // mean over the players; one a shared quantity, 0 but for timers' own biases
};

std::vector<TimedAlike> timed_alike(std::span<const Ranked> players, const inference::SquadModel& squad) {
  const auto g = static_cast<Eigen::Index>(squad.shared.size());
  std::map<std::vector<std::string>, TimedAlike> found;
  for (const Ranked& player : players) {
    std::vector<std::string> timers;
    Eigen::VectorXd on = Eigen::VectorXd::Zero(g);
    if (player.belief->points.empty()) {
      continue;  // known from finishing orders alone
    }
    const PointBelief& belief = player.belief->points.front();
    for (std::size_t a = 0; a < belief.about.size(); ++a) {
      const inference::SharedQuantity& shared = squad.shared[belief.about[a]];
      if (shared.kind != inference::SharedQuantity::Kind::term || shared.term.kind != inference::TermKind::bias_timer) {
        continue;
      }
      std::string timer = shared.term.name.substr(0, shared.term.name.find(','));
      if (std::find(timers.begin(), timers.end(), timer) == timers.end()) {
        timers.push_back(std::move(timer));
      }
      for (std::size_t k = 0; k < player.weights.size(); ++k) {
        on(belief.about[a]) +=
            player.weights[k] * belief.on_shared(static_cast<Eigen::Index>(k), static_cast<Eigen::Index>(a));
      }
    }
    std::sort(timers.begin(), timers.end());
    TimedAlike& alike = found[timers];
    if (alike.players == 0) {
      alike.timers = timers;
      alike.on_biases = Eigen::VectorXd::Zero(g);
    }
    ++alike.players;
    alike.on_biases += on;
  }
  std::vector<TimedAlike> out;
  for (auto& [timers, alike] : found) {
    alike.on_biases /= static_cast<double>(alike.players);
    out.push_back(std::move(alike));
  }
  std::stable_sort(out.begin(), out.end(),
                   [](const TimedAlike& a, const TimedAlike& b) { return a.players > b.players; });
  return out;
}

double median_of(std::vector<double> values) {
  if (values.empty()) {
    return 0.0;
  }
  const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
  std::nth_element(values.begin(), middle, values.end());
  return *middle;
}

// Median distance of neighbours in the order.
double usual_gap(std::span<const Ranked> players) {
  std::vector<double> medians;
  for (const Ranked& player : players) {
    medians.push_back(player.standing.value.median);
  }
  std::sort(medians.begin(), medians.end());
  std::vector<double> gaps;
  for (std::size_t i = 1; i < medians.size(); ++i) {
    gaps.push_back(medians[i] - medians[i - 1]);
  }
  return median_of(gaps);
}

std::string alike_words(const TimedAlike& alike) {
  return (alike.timers.empty() ? std::string("no hand timer") : joined(alike.timers)) + " timed " +
         counted(alike.players, "player");
}

void add_timer_note(std::span<const Ranked> players, const inference::SquadModel& squad, StandingsResult& result) {
  std::vector<TimedAlike> groups = timed_alike(players, squad);
  if (groups.size() < 2) {
    return;
  }
  const std::size_t all = groups.size();
  groups.resize(std::min(groups.size(), groups_compared));
  double widest = 0.0;
  std::pair<const TimedAlike*, const TimedAlike*> apart;
  for (std::size_t a = 0; a < groups.size(); ++a) {
    for (std::size_t b = a + 1; b < groups.size(); ++b) {
      const Eigen::VectorXd difference = groups[a].on_biases - groups[b].on_biases;
      const double sd = std::sqrt(std::max(0.0, difference.dot(squad.fit.points.front().covariance * difference)));
      if (sd > widest) {
        widest = sd;
        apart = {&groups[a], &groups[b]};
      }
    }
  }
  std::vector<double> sds;
  for (const Ranked& player : players) {
    sds.push_back(player.standing.value.sd);
  }
  if (widest < worth_saying * median_of(sds) || widest < of_gap * usual_gap(players)) {
    return;
  }
  const bool plain = result.index.empty() && !result.age_adjusted;
  const std::string unit = plain ? " " + std::string(unit_of(result.by.front().quantity)) : "";
  result.notes.push_back(
      "Different timers timed different children, so the timers can decide the order: " + alike_words(*apart.first) +
      ", " + alike_words(*apart.second) + (all > 2 ? " (and there are others)" : "") +
      ". What is not known of their biases moves the ones against the others by " + text::plain_fixed(widest, 2) +
      unit + " (SD); neighbours in the order are " + text::plain_fixed(usual_gap(players), 2) + unit +
      " apart. It is in every probability here. Two watches on the same runs tell it (bagsplit timers), or let timers "
      "change stations.");
}

std::string ids_of(const std::vector<std::string>& ids) {
  std::vector<std::string> some(ids.begin(), ids.begin() + static_cast<std::ptrdiff_t>(std::min(ids.size(), named)));
  if (ids.size() > named) {
    some.push_back(std::to_string(ids.size() - named) + " others");
  }
  return joined(some);
}

}  // namespace

void add_notes(std::span<const Ranked> players, std::span<const ResolvedQuantity> parts,
               const inference::SquadModel& squad, const runs::RunLog& log, StandingsResult& result) {
  add_timer_note(players, squad, result);
  std::vector<std::string> elsewhere;
  for (const Ranked& player : players) {
    if (result.time && player.standing.runs_of_course == 0 && player.standing.heats == 0) {
      elsewhere.push_back(player.standing.player);
    }
  }
  if (!elsewhere.empty() && result.method == StandingsMethod::estimate) {
    result.notes.push_back(
        "Placed by what their other runs tell, without this time of their own: " + ids_of(elsewhere) + ".");
  }
  if (result.time && result.time->base_distance_m) {
    const bool other = std::any_of(log.runs.begin(), log.runs.end(), [&](const runs::Run& run) {
      return parts[0].course && run.course == *parts[0].course && run.base_distance_m != *result.time->base_distance_m;
    });
    if (other) {
      result.notes.push_back(
          "Runs over this course at another base distance are in the estimates, each at its own distance.");
    }
  }
  if (result.first_date && (*result.last_date - *result.first_date).count() > pooled_days) {
    result.notes.push_back(
        "Runs over " + std::to_string((*result.last_date - *result.first_date).count()) +
        " days are pooled; a child grows faster meanwhile: the runs of fewer days alone tell recent form.");
  }
  for (const StandingsGroup& group : result.groups) {
    if (group.cut && *group.cut >= group.players && group.players > 0) {
      result.notes.push_back("A cut of " + std::to_string(*group.cut) + " has room for all" +
                             (group.name.empty() ? "" : " of age " + group.name) + ": nothing is to be decided.");
    }
  }
}

void add_heat_notes(std::span<const Ranked> players, StandingsResult& result) {
  if (!result.heats) {
    return;
  }
  std::vector<std::string> once;
  for (const Ranked& player : players) {
    if (player.standing.heats == 1 && player.standing.runs_of_course == 0) {
      once.push_back(player.standing.player);
    }
  }
  if (!once.empty()) {
    result.notes.push_back(
        "After one heat nobody is surely faster than anybody: " + ids_of(once) +
        " have one heat and no time. Run one more round, and draw lots for the heats. To put like with like is no "
        "better, and always shows who is last.");
  }
  if (result.heats->same_again) {
    result.notes.push_back(
        "The same children ran together every time: change the heats. After two rounds the same heat tells little more "
        "about the others.");
  }
  const auto& groups = result.heats->groups;
  if (groups.size() > 1) {
    std::string apart;
    std::vector<std::string> link;
    for (const std::vector<std::string>& group : groups) {
      apart += (apart.empty() ? "" : "; ") + ids_of(group);
      link.push_back(group.front());
    }
    result.notes.push_back("Never compared, neither in one heat nor by times of their own: " + apart +
                           ". Between them the order is only what is usual at their ages. One heat with " +
                           ids_of(link) + " would link them.");
  }
}

}  // namespace bagsplit::jobs::detail
