#include "bagsplit/jobs/profile/team_notes.hpp"

#include <cmath>
#include <map>
#include <tuple>

#include "bagsplit/stats/distributions.hpp"

namespace bagsplit::jobs {

namespace {

constexpr std::string_view by_third = "-reverse";
constexpr int days_a_week = 7;

}  // namespace

std::optional<BothWays> both_ways(std::span<const OwnRecord> records, double level) {
  using Kind = std::tuple<std::string, std::string, runs::Posture, runs::StartKind, double>;
  std::map<Kind, std::vector<double>> differences;  // one a child
  for (const OwnRecord& record : records) {
    for (const OwnTimes& first : record.times) {
      for (const OwnTimes& third : record.times) {
        if (third.course == first.course + std::string(by_third) && third.mark == first.mark &&
            third.posture == first.posture && third.start == first.start &&
            third.base_distance_m == first.base_distance_m) {
          differences[{first.course, first.mark, first.posture, first.start, first.base_distance_m}].push_back(
              third.usual_s - first.usual_s);
        }
      }
    }
  }
  std::optional<BothWays> out;
  for (const auto& [kind, values] : differences) {
    if (values.size() < fewest_both_ways || (out && values.size() <= out->players)) {
      continue;
    }
    const double n = static_cast<double>(values.size());
    double mean = 0.0;
    for (const double value : values) {
      mean += value / n;
    }
    double squares = 0.0;
    for (const double value : values) {
      squares += (value - mean) * (value - mean);
    }
    const double half = stats::student_t_quantile(0.5 + 0.5 * level, n - 1.0) * std::sqrt(squares / (n - 1.0) / n);
    out = BothWays{std::get<0>(kind), std::get<1>(kind), values.size(), mean, mean - half, mean + half};
  }
  return out;
}

Sprints sprints_of(const runs::RunLog& log, std::span<const std::uint32_t> runs_of_player, runs::Date last_evening) {
  Sprints out;
  for (const std::uint32_t index : runs_of_player) {
    const runs::Run& run = log.runs[index];
    if (run.flag == runs::Flag::absent || run.date > last_evening) {
      continue;
    }
    out.last_evening += run.date == last_evening ? 1U : 0U;
    out.week += run.date > last_evening - std::chrono::days{days_a_week} ? 1U : 0U;
  }
  return out;
}

}  // namespace bagsplit::jobs
