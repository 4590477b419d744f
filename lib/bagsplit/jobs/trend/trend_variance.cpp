// Variance components of the squad, and the SD between players with age taken out.
#include <algorithm>
#include <cmath>
#include <set>

#include "bagsplit/jobs/trend/detail/trend_job.hpp"

namespace bagsplit::jobs::detail {

void TrendJob::fit_components() {
  if (!usable(plain_.status)) {
    return;
  }
  const std::size_t n = data_.runs.size();
  stats::MixedModelSpec spec;
  spec.response.resize(static_cast<Eigen::Index>(n));
  std::vector<int> player, session;
  std::set<std::size_t> windows;
  for (const TrendRun& run : data_.runs) {
    windows.insert(window_of(run.date));
  }
  const std::vector<std::size_t> used(windows.begin(), windows.end());
  spec.fixed =
      Eigen::MatrixXd::Zero(static_cast<Eigen::Index>(n), static_cast<Eigen::Index>(options_.slope ? 2 : used.size()));
  for (std::size_t i = 0; i < n; ++i) {
    const TrendRun& run = data_.runs[i];
    const auto row = static_cast<Eigen::Index>(i);
    double time_s = run.time_s;
    const auto take_off = [&](int column, double share) {
      if (column >= 0 && plain_.shared[static_cast<std::size_t>(column)]) {
        time_s -= share * plain_.shared[static_cast<std::size_t>(column)]->estimate;
      }
    };
    take_off(surface_column_.at(run.surface), 1.0);
    for (const stats::SharedEntry& timer : run.timers) {
      take_off(data_.timers.size() > 1 ? first_timer_ + timer.column : -1, timer.value);
    }
    for (const stats::SharedEntry& device : run.devices) {
      take_off(data_.devices.size() > 1 ? first_device_ + device.column : -1, device.value);
    }
    spec.response[row] = time_s;
    player.push_back(static_cast<int>(run.player));
    session.push_back(static_cast<int>(run.session));
    if (options_.slope) {
      spec.fixed(row, 0) = 1.0;
      spec.fixed(row, 1) = week_of(run.date) - origin_week_;
    } else {
      spec.fixed(row, std::find(used.begin(), used.end(), window_of(run.date)) - used.begin()) = 1.0;
    }
  }
  std::vector<stats::RandomTerm> terms;
  const std::size_t fixed = static_cast<std::size_t>(spec.fixed.cols());
  if (std::set<int>(player.begin(), player.end()).size() > 1) {
    terms.push_back({"player", player});
  }
  if (data_.sessions.size() > fixed) {
    terms.push_back({"session", session});
  }
  const auto blocks = static_cast<std::size_t>(*std::max_element(block_.begin(), block_.end())) + 1;
  if (blocks < n && blocks > data_.players.size()) {
    terms.push_back({"player_session", block_});
  }
  stats::MixedModelOptions options;
  options.degrees_of_freedom = options.predictions = false;
  stats::MixedModelFit fit;
  for (;;) {  // a term that cannot be told is given up, the last one first
    spec.random = terms;
    fit = stats::fit_mixed_model(spec, options);
    if (usable(fit.status) || terms.empty()) {
      break;
    }
    terms.pop_back();
  }
  if (!usable(fit.status)) {
    return;
  }
  result_.variance.residual = square(fit.residual_sd);
  const auto read = [&](const stats::MixedModelFit& from, const std::string& name) -> std::optional<double> {
    for (const stats::RandomTermFit& term : from.random) {
      if (term.name == name) {
        return term.covariance(0, 0);
      }
    }
    return std::nullopt;
  };
  result_.variance.player = read(fit, "player");
  result_.variance.session = read(fit, "session");
  result_.variance.player_session = read(fit, "player_session");
  between_players(spec, options);
}

void TrendJob::between_players(stats::MixedModelSpec& spec, const stats::MixedModelOptions& options) {
  if (!result_.variance.player) {
    return;
  }
  between_sd_s_ = std::sqrt(*result_.variance.player);
  between_words_ = "between players";
  std::vector<std::optional<double>> ages(own_.size());
  std::size_t known = 0;
  double sum = 0.0;
  for (std::size_t i = 0; i < own_.size(); ++i) {
    const PlayerTrend& player = result_.players[i];
    ages[i] = player.age_first_years ? player.age_first_years : player.age_last_years;
    known += ages[i].has_value();
    sum += ages[i].value_or(0.0);
  }
  if (known < 5) {
    return;
  }
  const double mean = sum / static_cast<double>(known);
  bool missing = false;
  bool differ = false;
  for (const auto& age : ages) {
    missing = missing || !age;
    differ = differ || (age && std::fabs(*age - mean) > 0.25);
  }
  if (!differ) {
    return;
  }
  const Eigen::Index p = spec.fixed.cols();
  spec.fixed.conservativeResize(Eigen::NoChange, p + 1 + (missing ? 1 : 0));
  bool any_missing = false;
  for (std::size_t i = 0; i < data_.runs.size(); ++i) {
    const auto row = static_cast<Eigen::Index>(i);
    const auto& age = ages[data_.runs[i].player];
    spec.fixed(row, p) = age ? *age - mean : 0.0;
    if (missing) {
      spec.fixed(row, p + 1) = age ? 0.0 : 1.0;
      any_missing = any_missing || !age;
    }
  }
  if (missing && !any_missing) {
    spec.fixed.conservativeResize(Eigen::NoChange, p + 1);
  }
  const auto fit = stats::fit_mixed_model(spec, options);
  if (usable(fit.status) && !fit.random.empty() && fit.random[0].name == "player") {
    between_sd_s_ = fit.random[0].sd[0];
    between_words_ = "between players, age taken out";
  }
}

}  // namespace bagsplit::jobs::detail
