#include "bagsplit/jobs/profile/first_steps.hpp"

#include <algorithm>
#include <cmath>

#include "bagsplit/jobs/profile/detail/profile_job.hpp"
#include "bagsplit/motion/curve.hpp"
#include "bagsplit/timing/device.hpp"

namespace bagsplit::jobs {

namespace {

using inference::SharedQuantity;
using inference::TermKind;

// What makes the level of log A told.  Computed: squads of 12 with three runs each, hand clock or beams, marks at 2 to
// 40 m: where the level goes with a clock's start by more than this, more children do not help; a mark within 5 m does.
constexpr double most_correlated = 0.6;
constexpr double most_level_sd = 0.09;
constexpr double doubtful_start = 0.03;  // s (of a beam's place, 0.1 m): SD of a clock's start that could matter

// Children under 13 start with 5.4 to 7.3 m/s2 (priors by age and sex); beyond these a squad as a whole is not to be
// believed.  Computed: of 100 squads with hand clocks 0.3 s late 56 are above, of 100 right ones 1; with 0.35 s of
// reaction in self-started times 47 are below, of 100 right ones 6.
constexpr double hardest_mps2 = 9.5;
constexpr double softest_mps2 = 4.5;
constexpr double checked_under_yr = 13.0;

constexpr double lowest_tenth = -1.2816;  // quantiles of the normal distribution
constexpr double z_95 = 1.6449;

double correlation(const inference::SquadFit& fit, std::uint32_t a, std::uint32_t b) {
  const double sum = fit.shared(1.0, a, b).sd;
  const double sa = fit.shared(a).sd;
  const double sb = fit.shared(b).sd;
  return sa > 0.0 && sb > 0.0 ? (sum * sum - sa * sa - sb * sb) / (2.0 * sa * sb) : 0.0;
}

bool is_start(const SharedQuantity& quantity) {
  return quantity.kind == SharedQuantity::Kind::term &&
         ((quantity.term.kind == TermKind::bias_shared && quantity.prior.sd > doubtful_start) ||
          quantity.term.kind == TermKind::beam_place);
}

bool level_is_told(const inference::SquadModel& model) {
  const std::uint32_t level =
      model.ages_alike ? 3 : 1;  // log tau less what goes with log V: log A with its sign turned
  if (model.fit.shared(level).sd > most_level_sd) {
    return false;
  }
  for (std::uint32_t k = 0; k < model.shared.size(); ++k) {
    if (is_start(model.shared[k]) && std::fabs(correlation(model.fit, level, k)) > most_correlated) {
      return false;
    }
  }
  return true;
}

struct MeanSprint {
  double log_v = 0.0, log_tau = 0.0, age_yr = 0.0;
  int players = 0, aged = 0;

  void add(const PlayerProfile& player) {
    if (player.top_speed_mps && player.time_constant_s) {
      log_v += std::log(player.top_speed_mps->median);
      log_tau += std::log(player.time_constant_s->median);
      ++players;
      age_yr += player.age_years.value_or(0.0);
      aged += player.age_years ? 1 : 0;
    }
  }
  motion::Sprint sprint() const { return {std::exp(log_v / players), std::exp(log_tau / players)}; }
};

// By how much the clocks of one setup start later than usual, as the fit has it: below 0 a time is shorter.
std::optional<double> shift_of(const inference::SquadModel& model, const SharedQuantity& setup,
                               const motion::Sprint& usual) {
  const auto moved = [&](const SharedQuantity& quantity) {
    const auto k = static_cast<std::uint32_t>(&quantity - model.shared.data());
    return model.fit.shared(k).mean - quantity.prior.mean;
  };
  if (setup.term.kind == TermKind::beam_place) {
    constexpr double beam_m = 0.5;
    constexpr double far_m = 20.0;
    return moved(setup) * (motion::slowness_s_pm(usual, far_m) - motion::slowness_s_pm(usual, beam_m));
  }
  if (!setup.term.name.ends_with(timing::start_timing_name(timing::StartTiming::first_move))) {
    return std::nullopt;
  }
  double timers = 0.0;
  double sum = 0.0;
  for (const SharedQuantity& quantity : model.shared) {
    if (quantity.kind == SharedQuantity::Kind::term && quantity.term.kind == TermKind::bias_timer &&
        quantity.term.name.ends_with(", " + setup.term.name)) {
      sum += moved(quantity);
      timers += 1.0;
    }
  }
  return moved(setup) + (timers > 0.0 ? sum / timers : 0.0);
}

}  // namespace

bool OwnFirstAcceleration::surely_in_slowest_tenth() const {
  return told() && log.mean + z_95 * log.sd < lowest_tenth * prior_sd;
}

FirstSteps first_steps_of(const inference::SquadModel& model, std::span<const PlayerProfile> players) {
  FirstSteps out;
  out.level_told = level_is_told(model);
  MeanSprint mean;
  for (const PlayerProfile& player : players) {
    mean.add(player);
  }
  if (mean.players == 0) {
    return out;
  }
  const motion::Sprint usual = mean.sprint();
  for (const SharedQuantity& quantity : model.shared) {
    const auto shift = is_start(quantity) ? shift_of(model, quantity, usual) : std::nullopt;
    if (!shift) {
      continue;
    }
    const double stands = usual.top_speed_mps / std::max(0.05, usual.time_constant_s + *shift);
    const bool children = mean.aged > 0 && mean.age_yr / mean.aged < checked_under_yr;
    const FirstSteps::Clock clock = children && stands > hardest_mps2 ? FirstSteps::Clock::starts_late
                                    : stands < softest_mps2           ? FirstSteps::Clock::starts_early
                                                                      : FirstSteps::Clock::fits;
    if (!out.by_the_clock_mps2 || clock != FirstSteps::Clock::fits) {
      out.by_the_clock_mps2 = stands;
    }
    out.clock = clock != FirstSteps::Clock::fits ? clock : out.clock;
  }
  return out;
}

OwnFirstAcceleration own_first_acceleration(const inference::SquadModel& model, const inference::SquadPoint& point,
                                            const inference::SquadMember& member, std::optional<std::size_t> index,
                                            const inference::Posterior& posterior,
                                            const inference::TermMeans& term_means) {
  const inference::PlayerData& own = member.data;
  const auto squared = [](double x) { return x * x; };
  OwnFirstAcceleration out;
  out.prior_sd =
      std::sqrt(std::max(0.0, squared(own.log_top_speed.sd) + squared(own.log_time_constant.sd) -
                                  2.0 * own.log_correlation * own.log_top_speed.sd * own.log_time_constant.sd));
  inference::NodeQuantity log_a;
  log_a.coefficients.assign(posterior.active_terms().size(), 0.0);
  double mean = 0.0;
  for (std::size_t i = 0; i < posterior.size(); ++i) {
    const motion::Sprint& sprint = posterior.sprints()[i];
    log_a.means.push_back(std::log(sprint.max_acceleration_mps2()));
    mean += posterior.weights()[i] * log_a.means.back();
  }
  const inference::SharedCovariance with =
      inference::covariance_with_shared(model.fit, point, member, index, posterior, term_means, {&log_a, 1});
  // log A = its prior's mean + own part + w' g, w as log V and log tau hold the shared g.
  Eigen::VectorXd w = Eigen::VectorXd::Zero(static_cast<Eigen::Index>(with.about.size()));
  double level = 0.0;
  for (std::size_t k = 0; k < with.about.size(); ++k) {
    const double weight = with.about[k] == member.shared_log_top_speed       ? 1.0 - member.time_constant_on_top_speed
                          : with.about[k] == member.shared_log_time_constant ? -member.time_constant_on_its_own
                                                                             : 0.0;
    w(static_cast<Eigen::Index>(k)) = weight;
    level += weight * point.mean(with.about[k]);
  }
  const double variance = with.own(0, 0) - 2.0 * with.cross.row(0).dot(w) + w.dot(with.shared * w);
  out.log = {mean - (own.log_top_speed.mean - own.log_time_constant.mean) - level, std::sqrt(std::max(0.0, variance))};
  out.share = out.prior_sd > 0.0 ? 1.0 - squared(out.log.sd / out.prior_sd) : 0.0;
  return out;
}

std::vector<std::string> first_steps_notes(const FirstSteps& squad) {
  switch (squad.clock) {
    case FirstSteps::Clock::starts_late:
      return {
          "The clock of self-started runs probably starts late: as it stands these children would start harder than "
          "children can. So nothing is said of anybody's start. Time again with the press at the very first move, or "
          "with a gate; the first metres filmed show how late the press is."};
    case FirstSteps::Clock::starts_early:
      return {
          "A reaction or a getting up is probably in the times of self-started runs: as they stand these children "
          "would "
          "start more softly than children do. So nothing is said of anybody's start. Were these runs on a call, enter "
          "them so; else time again from the first move."};
    case FirstSteps::Clock::fits:
      break;
  }
  if (!squad.level_told) {
    return {
        "How hard the squad starts and when the clock starts cannot be told apart in these runs: first acceleration is "
        "good for comparing the children of this squad, not for their age. A time within 5 m of the start, or a gate "
        "beside the watch, would tell."};
  }
  return {};
}

}  // namespace bagsplit::jobs
