#include "bagsplit/jobs/expected_times.hpp"

#include <algorithm>
#include <cmath>

#include "bagsplit/inference/squad/squad_times.hpp"

namespace bagsplit::jobs {

namespace {

// Children's own log levels are known no better than this: from earlier times, and from age and sex. Assumed, no
// source.
constexpr double least_sd_timed = 0.04;
constexpr double least_sd_by_age = 0.10;

}  // namespace

std::vector<ExpectedTime> expected_times(const runs::RunLog& log, const runs::Roster& roster,
                                         const timing::DeviceBook& devices, std::uint16_t course, double base_m,
                                         double distance_m, const std::vector<std::string>& players, runs::Date on) {
  inference::SquadTimesQuestion question;
  question.courses = {{course, base_m, distance_m}};
  question.players = players;
  question.age_at = on;
  question.squad_without_runs = true;
  const inference::SquadTimes times = inference::squad_times(log, roster, devices, question);
  const auto moving = static_cast<Eigen::Index>(times.index.moving(0));
  std::vector<ExpectedTime> out;
  for (std::size_t i = 0; i < players.size(); ++i) {
    const inference::KnownPlayer& known = times.players[i];
    const bool open =
        std::find(times.uncertified.begin(), times.uncertified.end(), players[i]) != times.uncertified.end();
    if (open || (known.runs == 0 && !known.age_years)) {
      continue;
    }
    double mean_s = 0.0;
    double variance_s2 = 0.0;
    for (const inference::TimesPoint& point : times.points) {
      mean_s += point.weight * point.players[i].mean(moving);
      variance_s2 += point.weight * point.players[i].own(moving, moving);
    }
    const double least = known.runs > 0 ? least_sd_timed : least_sd_by_age;
    out.push_back({players[i], std::log(mean_s), std::max(least, std::sqrt(variance_s2) / mean_s)});
  }
  return out;
}

}  // namespace bagsplit::jobs
