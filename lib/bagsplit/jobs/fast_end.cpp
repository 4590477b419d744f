#include "bagsplit/jobs/fast_end.hpp"

#include <algorithm>
#include <cmath>
#include <map>

#include "bagsplit/inference/prior/prior.hpp"

namespace bagsplit::jobs {

namespace {

constexpr double z_fast_end = 1.6448536269514722;  // normal quantile of 0.95

}  // namespace

double fast_end_mps(const inference::Normal& log_top_speed) {
  return std::exp(log_top_speed.mean + z_fast_end * log_top_speed.sd);
}

double fast_end_mps(std::optional<double> age_years, std::optional<runs::Sex> sex) {
  return fast_end_mps(inference::sprint_prior(age_years, sex).log_top_speed);
}

std::vector<double> fastest_of_age_mps() {
  constexpr double z_fastest = 3.0;
  std::vector<double> out;
  for (int years = 0; years < 18; ++years) {
    double fastest = 0.0;
    for (const auto sex : {runs::Sex::female, runs::Sex::male}) {
      const inference::Normal prior = inference::sprint_prior(years, sex).log_top_speed;
      fastest = std::max(fastest, std::exp(prior.mean + z_fastest * prior.sd));
    }
    out.push_back(std::max(fastest, out.empty() ? 0.0 : out.back()));
  }
  return out;
}

double fast_end_mps(const runs::RunLog& log, const runs::Roster& roster) {
  std::map<runs::NameId, runs::Date> last_run;
  for (const runs::Run& run : log.runs) {
    const auto [at, is_new] = last_run.try_emplace(run.player, run.date);
    at->second = is_new ? run.date : std::max(at->second, run.date);
  }
  std::optional<double> fastest;
  for (const auto& [name, date] : last_run) {
    const runs::Player* player = roster.find(log.name(name));
    const bool has_age = player != nullptr && player->born && *player->born <= date;
    const double speed = fast_end_mps(has_age ? std::optional(runs::age_years(*player->born, date)) : std::nullopt,
                                      player == nullptr ? std::nullopt : player->sex);
    fastest = std::max(fastest.value_or(speed), speed);
  }
  return fastest ? *fastest : fast_end_mps(std::nullopt, std::nullopt);
}

double fast_end_mps(std::span<const inference::KnownPlayer> players) {
  std::optional<double> fastest;
  for (const inference::KnownPlayer& player : players) {
    const double speed = fast_end_mps(player.age_years, player.sex);
    fastest = std::max(fastest.value_or(speed), speed);
  }
  return fastest ? *fastest : fast_end_mps(std::nullopt, std::nullopt);
}

}  // namespace bagsplit::jobs
