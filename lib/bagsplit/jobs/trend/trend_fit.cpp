// Plain changes, growth, shrunken changes.
#include <algorithm>
#include <cmath>

#include "bagsplit/inference/prior/prior.hpp"
#include "bagsplit/jobs/trend/detail/trend_job.hpp"
#include "bagsplit/jobs/trend/detail/trend_verdict.hpp"
#include "bagsplit/motion/curve.hpp"
#include "bagsplit/norms/growth.hpp"
#include "bagsplit/stats/distributions.hpp"
#include "bagsplit/text/number_chars.hpp"

namespace bagsplit::jobs::detail {

namespace {

constexpr std::size_t least_day_df = 5;    // below, the form of the day comes from the model
constexpr double prior_spread = 0.05;      // scale of the half-normal prior of true changes' SD, a share of the time
constexpr double well_known_df = 200.0;    // an error known so well is taken as known
constexpr double worthwhile_share = 0.2;   // of the SD between players
constexpr double usual_between_cv = 0.08;  // between children of one age, where the squad cannot tell

// Variance of a player's mean in a window by the scatter of runs and days alone; 0 without runs.
double scatter_variance(const Own& own, std::size_t window, double day_sd, double residual_sd) {
  return own.runs[window].empty() ? 0.0
                                  : square(day_sd) / static_cast<double>(own.sessions[window].size()) +
                                        square(residual_sd) / static_cast<double>(own.runs[window].size());
}

}  // namespace

void TrendJob::fit_plain() {
  const std::size_t n = data_.runs.size();
  stats::GroupContrastSpec spec;
  std::map<std::pair<std::size_t, std::size_t>, int> blocks;
  spec.own = Eigen::MatrixXd::Zero(static_cast<Eigen::Index>(n), options_.slope ? 2 : 3);
  for (std::size_t i = 0; i < n; ++i) {
    const TrendRun& run = data_.runs[i];
    const auto row = static_cast<Eigen::Index>(i);
    spec.response.push_back(run.time_s);
    spec.group.push_back(static_cast<int>(run.player));
    spec.block.push_back(
        blocks.emplace(std::pair(run.player, run.session), static_cast<int>(blocks.size())).first->second);
    if (options_.slope) {
      spec.own(row, 0) = 1.0;
      spec.own(row, 1) = week_of(run.date) - origin_week_;
    } else {
      spec.own(row, static_cast<Eigen::Index>(window_of(run.date))) = 1.0;
    }
  }
  block_ = spec.block;
  spec.contrast =
      options_.slope ? Eigen::VectorXd(Eigen::Vector2d(0.0, 1.0)) : Eigen::VectorXd(Eigen::Vector3d(-1.0, 0.0, 1.0));
  add_shared(spec);
  stats::GroupContrastOptions options;
  options.level = options_.level;
  options.least_residual_sd = data_.rounding_sd_s;
  const auto& error = result_.model.error;
  const double moving_s =
      data_.reaction ? 0.0
                     : std::max(0.0, mean_s_ - (data_.signal ? inference::sprint_prior({}, {}).reaction_s.mean : 0.0));
  const double day_sd = *error.day_cv * moving_s;
  options.residual_sd =
      std::hypot(*error.effort_cv * moving_s, data_.signal ? *error.reaction_sd_s : 0.0, data_.press_sd_s);
  plain_ = stats::fit_group_contrasts(spec, options);
  if (plain_.residual_given || (plain_.within_df > 0 && plain_.between_df < least_day_df)) {
    options.block_sd = day_sd;
    plain_ = stats::fit_group_contrasts(spec, options);
    result_.day_sd_given = true;
  }
  result_.residual_sd_given = plain_.residual_given;
  result_.residual_sd_s = plain_.residual_sd;
  result_.day_sd_s = plain_.block_sd;
  result_.error_df = plain_.residual_df;
  result_.one_run_noise_s =
      stats::normal_quantile(0.5 + 0.5 * options_.level) * std::hypot(result_.residual_sd_s, result_.day_sd_s);
  if (!usable(plain_.status)) {
    result_.notes.push_back("The changes could not be computed: " + plain_.message + ".");
    return;
  }
  if (plain_.mean) {
    result_.squad_change_s = change_of(*plain_.mean);
  }
  for (std::size_t i = 0; i < own_.size() && i < plain_.contrasts.size(); ++i) {
    if (const auto& c = plain_.contrasts[i]) {
      PlayerTrend& player = result_.players[i];
      player.change_s = change_of(*c);
      player.p_value = c->p_two_sided;
      add_growth(i);
    }
  }
}

// Whether two players or more ran in a session.
std::vector<bool> TrendJob::shared_sessions() const {
  constexpr std::size_t nobody = static_cast<std::size_t>(-1);
  std::vector<std::size_t> first_player(data_.sessions.size(), nobody);
  std::vector<bool> out(data_.sessions.size(), false);
  for (const TrendRun& run : data_.runs) {
    std::size_t& who = first_player[run.session];
    out[run.session] = out[run.session] || (who != nobody && who != run.player);
    who = who == nobody ? run.player : who;
  }
  return out;
}

void TrendJob::add_shared(stats::GroupContrastSpec& spec) {
  // Sessions of two players or more share an effect. One alone would fix the level of all others by what that one
  // player did: beside shared sessions of the window it gets a free effect of its own and so tells nothing of the
  // change; where the player has no others, it needs none.
  const std::vector<bool> is_shared = shared_sessions();
  std::vector<int> session_column(is_shared.size(), -1);
  int sessions = 0;
  for (std::size_t s = 0; s < is_shared.size(); ++s) {
    if (is_shared[s]) {
      session_column[s] = sessions++;
    }
  }
  std::map<runs::NameId, std::size_t> surfaces;
  for (const TrendRun& run : data_.runs) {
    ++surfaces[run.surface];
  }
  runs::NameId usual = runs::no_name;
  std::size_t most = 0;
  for (const auto& [surface, count] : surfaces) {
    if (count > most) {
      most = count;
      usual = surface;
    }
  }
  surface_column_.clear();
  int next = sessions;
  for (const auto& [surface, count] : surfaces) {
    surface_column_[surface] = surface == usual ? -1 : next++;
  }
  const bool several_timers = data_.timers.size() > 1;
  const bool several_devices = data_.devices.size() > 1;
  first_timer_ = next;
  next += several_timers ? static_cast<int>(data_.timers.size()) : 0;
  first_device_ = next;
  next += several_devices ? static_cast<int>(data_.devices.size()) : 0;
  for (const Own& own : own_) {
    for (const auto& in_window : own.sessions) {
      const bool beside = std::any_of(in_window.begin(), in_window.end(), [&](std::size_t s) { return is_shared[s]; });
      for (const std::size_t s : in_window) {
        if (beside && !is_shared[s]) {
          session_column[s] = next++;
        }
      }
    }
  }
  spec.shared_columns = next;
  spec.balanced = sessions;
  for (const TrendRun& run : data_.runs) {
    std::vector<stats::SharedEntry> row;
    if (session_column[run.session] >= 0) {
      row.push_back({session_column[run.session], 1.0});
    }
    if (surface_column_.at(run.surface) >= 0) {
      row.push_back({surface_column_.at(run.surface), 1.0});
    }
    for (const stats::SharedEntry& timer : run.timers) {
      if (several_timers) {
        row.push_back({first_timer_ + timer.column, timer.value});
      }
    }
    for (const stats::SharedEntry& device : run.devices) {
      if (several_devices) {
        row.push_back({first_device_ + device.column, device.value});
      }
    }
    spec.shared.push_back(std::move(row));
  }
  const auto column_of = [&](int column) -> int {  // of the overlaps' numbering; -1 where there is no such column
    const int timers = static_cast<int>(data_.timers.size());
    return column < timers ? (several_timers ? first_timer_ + column : -1)
                           : (several_devices ? first_device_ + column - timers : -1);
  };
  for (std::size_t t = 0; several_timers && t < data_.timers.size(); ++t) {
    spec.knowledge.push_back({{{first_timer_ + static_cast<int>(t), 1.0}}, 0.0, data_.timers[t].sd_s});
  }
  for (std::size_t d = 0; several_devices && d < data_.devices.size(); ++d) {
    spec.knowledge.push_back({{{first_device_ + static_cast<int>(d), 1.0}}, 0.0, data_.devices[d].sd_s});
  }
  for (const stats::SharedKnowledge& overlap : data_.overlaps) {
    stats::SharedKnowledge row{{}, overlap.value, overlap.sd};
    for (const stats::SharedEntry& entry : overlap.row) {
      if (const int column = column_of(entry.column); column >= 0) {
        row.row.push_back({column, entry.value});
      }
    }
    if (!row.row.empty()) {
      spec.knowledge.push_back(std::move(row));
    }
  }
  spec.directions = {unlike(first_timer_, several_timers ? data_.timers.size() : 0, &TrendRun::timers),
                     unlike(first_device_, several_devices ? data_.devices.size() : 0, &TrendRun::devices)};
}

std::vector<stats::SharedEntry> TrendJob::unlike(int from, std::size_t count,
                                                 std::vector<stats::SharedEntry> TrendRun::*which) const {
  std::vector<double> difference(count, 0.0);
  std::array<double, 3> runs_in{};
  double sum_of_squares = 0.0;
  for (const TrendRun& run : data_.runs) {
    runs_in.at(window_of(run.date)) += 1.0;
    sum_of_squares += square(week_of(run.date) - origin_week_);
  }
  for (const TrendRun& run : data_.runs) {
    const std::size_t w = window_of(run.date);
    double weight = 0.0;
    if (options_.slope) {
      weight = (week_of(run.date) - origin_week_) / std::max(1e-9, sum_of_squares);
    } else if (w != middle && runs_in.at(w) > 0.0) {
      weight = (w == last ? 1.0 : -1.0) / runs_in.at(w);
    }
    for (const stats::SharedEntry& entry : run.*which) {
      if (count > 0) {
        difference[static_cast<std::size_t>(entry.column)] += weight * entry.value;
      }
    }
  }
  std::vector<stats::SharedEntry> out;
  for (std::size_t j = 0; j < count; ++j) {
    if (std::fabs(difference[j]) > 1e-9) {
      out.push_back({from + static_cast<int>(j), difference[j]});
    }
  }
  return out;
}

void TrendJob::add_growth(std::size_t i) {
  PlayerTrend& player = result_.players[i];
  if (!player.sex || !player.age_first_years || !player.age_last_years) {
    player.growth_source = "no birth date or sex in the roster";
    return;
  }
  if (!data_.reaction && (!data_.distance_m || *data_.distance_m <= 0.0)) {
    player.growth_source = "no distance";
    return;
  }
  const double from = *player.age_first_years;
  const double to = *player.age_last_years;
  const double years = to - from;
  // The player's time at the younger age, where there is a window of it.
  double time_s = own_[i].mean_s;
  if (!options_.slope) {
    time_s = 0.0;
    for (const std::size_t run : own_[i].runs[first]) {
      time_s += data_.runs[run].time_s / static_cast<double>(own_[i].runs[first].size());
    }
  }
  // Of a signal start only the moving time grows so; the reaction is taken to stay.
  const auto reaction_at = [&](double age) { return inference::sprint_prior(age, player.sex).reaction_s.mean; };
  const double still_s =
      data_.signal && data_.from_mark.empty() && !data_.reaction ? std::min(reaction_at(from), 0.5 * time_s) : 0.0;
  auto growth = norms::expected_change(norms_, *player.sex, from, to, time_s - still_s);
  if (growth && data_.reaction) {
    growth->change_s = time_s * (reaction_at(to) / reaction_at(from) - 1.0);
    growth->source = "reaction by age, as the priors of the model have it";
  }
  if (!growth) {
    player.growth_source = "no norm below 5 years";
    return;
  }
  player.growth_source = growth->source;
  const double unit = options_.slope ? years * 365.25 / 7.0 : 1.0;  // weeks, where it is a change a week
  player.expected_growth_s = unit > 0.0 ? growth->change_s / unit : 0.0;
  player.expected_growth_sd_s = unit > 0.0 ? growth->sd_s / unit : 0.0;
  Change beyond = *player.change_s;
  const double half = std::hypot(0.5 * (beyond.hi - beyond.lo),
                                 stats::normal_quantile(0.5 + 0.5 * options_.level) * *player.expected_growth_sd_s);
  beyond.estimate -= *player.expected_growth_s;
  beyond.se = std::hypot(beyond.se, *player.expected_growth_sd_s);
  beyond.lo = beyond.estimate - half;
  beyond.hi = beyond.estimate + half;
  player.beyond_growth_s = beyond;
}

double TrendJob::usual_between_s() const {
  return data_.reaction ? inference::sprint_prior({}, {}).reaction_s.sd : usual_between_cv * mean_s_;
}

void TrendJob::shrink() {
  const double unit = options_.slope ? std::max(1.0, weeks_) : 1.0;
  // What a change of timers or devices does is the same error in every change: comparing the players cannot tell it, so
  // it must not look as if their agreement did. It is taken out here and put back into each one's belief.
  double same_for_all = 0.0;
  for (const auto& direction : plain_.directions) {
    same_for_all += direction && !options_.slope ? square(direction->se) : 0.0;
  }
  std::vector<double> y, v, df, same;
  std::vector<std::size_t> who;
  for (std::size_t i = 0; i < own_.size(); ++i) {
    if (const auto& change = result_.players[i].change_s) {
      const double all = square(std::max(1e-9, change->se));
      const double own = scatter_variance(own_[i], first, plain_.block_sd, plain_.residual_sd) +
                         scatter_variance(own_[i], last, plain_.block_sd, plain_.residual_sd);
      same.push_back(std::clamp(all - own, 0.0, same_for_all));
      y.push_back(change->estimate);
      v.push_back(all - same.back());
      df.push_back(change->df);
      who.push_back(i);
    }
  }
  posterior_.assign(own_.size(), std::nullopt);
  if (y.empty()) {
    return;
  }
  // The error is itself estimated, one for all: its scale is integrated out unless it is well known.
  std::nth_element(df.begin(), df.begin() + static_cast<std::ptrdiff_t>(df.size() / 2), df.end());
  const double usual_df = df[df.size() / 2];
  // Of a reaction the same share of what children differ by.
  const double spread_s = data_.reaction ? prior_spread / usual_between_cv * usual_between_s() : prior_spread * mean_s_;
  const auto h = stats::hierarchical_means(y, v, spread_s / unit,
                                           usual_df < well_known_df ? std::optional(usual_df) : std::nullopt);
  double shared_sum = 0.0;
  for (std::size_t k = 0; k < who.size(); ++k) {
    const double shared_sd = std::sqrt(shared_variance(own_[who[k]]));
    shared_sum += shared_sd / static_cast<double>(who.size());
    const stats::MixtureOfNormals theta = h->theta[k].widened(std::hypot(shared_sd, std::sqrt(same[k])));
    const double tail = 0.5 - 0.5 * options_.level;
    result_.players[who[k]].shrunken_change_s = Change{theta.mean(), theta.sd(), result_.players[who[k]].change_s->df,
                                                       theta.quantile(tail), theta.quantile(1.0 - tail)};
    posterior_[who[k]] = theta;
  }
  if (result_.variance.session) {
    result_.shared_sd_s = shared_sum;
  }
}

double TrendJob::shared_variance(const Own& own) const {
  if (!result_.variance.session) {
    return 0.0;
  }
  if (!options_.slope) {
    return *result_.variance.session * (1.0 / static_cast<double>(own.sessions[first].size()) +
                                        1.0 / static_cast<double>(own.sessions[last].size()));
  }
  double mean = 0.0;
  double squares = 0.0;
  for (const std::size_t s : own.sessions[middle]) {
    mean += week_of(data_.sessions[s].first) / static_cast<double>(own.sessions[middle].size());
  }
  for (const std::size_t s : own.sessions[middle]) {
    squares += square(week_of(data_.sessions[s].first) - mean);
  }
  return squares > 0.0 ? *result_.variance.session / squares : 0.0;
}

void TrendJob::judge() {
  if (options_.worthwhile_s) {
    result_.worthwhile_s = *options_.worthwhile_s;
    result_.worthwhile_source = "as given";
  } else {
    const double unit = options_.slope ? std::max(1.0, weeks_) : 1.0;
    const bool told = between_sd_s_ && *between_sd_s_ > 0.0;
    const double sd = told ? *between_sd_s_ : usual_between_s();
    result_.worthwhile_s = worthwhile_share * sd / unit;
    result_.worthwhile_source =
        "0.2 of the SD " +
        (told             ? between_words_ + ", " + text::plain_fixed(sd, 3) + " s"
         : data_.reaction ? "usual between children, " + text::plain_fixed(sd, 3) + " s (this squad cannot tell it)"
                          : "usual between children of one age, 8% of the time (this squad cannot tell it)");
    if (options_.slope) {
      result_.worthwhile_source += ", over the " + text::plain_fixed(unit, 0) + " weeks of these runs";
    }
  }
  // How many runs a player usually has in a session: more runs would come like that.
  std::vector<double> per_session;
  std::map<int, std::size_t> sizes;
  for (const int block : block_) {
    ++sizes[block];
  }
  per_session.reserve(sizes.size());
  for (const auto& [block, size] : sizes) {
    per_session.push_back(static_cast<double>(size));
  }
  std::nth_element(per_session.begin(), per_session.begin() + static_cast<std::ptrdiff_t>(per_session.size() / 2),
                   per_session.end());
  const double usual = per_session[per_session.size() / 2];
  const double day = square(plain_.block_sd);
  const double residual = square(plain_.residual_sd);
  std::vector<RunsSoFar> so_far(own_.size());
  for (std::size_t i = 0; i < own_.size(); ++i) {
    const auto variance = [&](std::size_t w) {
      return scatter_variance(own_[i], w, plain_.block_sd, plain_.residual_sd);
    };
    so_far[i].slope = options_.slope;
    so_far[i].runs = own_[i].runs[middle].size();
    so_far[i].per_run = usual * day + residual;
    so_far[i].variance_first = variance(first);
    so_far[i].variance_last =
        options_.slope ? (result_.players[i].change_s ? square(result_.players[i].change_s->se) : 0.0) : variance(last);
  }
  TrendObstacle outside = TrendObstacle::none;
  for (const TrendCondition& condition : result_.conditions) {
    if (outside == TrendObstacle::none && condition.status == ConditionStatus::confounded) {
      outside = condition.condition == "timer"    ? TrendObstacle::timer
                : condition.condition == "device" ? TrendObstacle::device
                                                  : TrendObstacle::ground;
    }
  }
  detail::judge(result_.players, posterior_, so_far,
                {*result_.worthwhile_s, options_.level, options_.false_discovery_share, outside, data_.reaction});
}

}  // namespace bagsplit::jobs::detail
