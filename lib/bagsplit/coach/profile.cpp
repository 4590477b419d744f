#include "bagsplit/coach/profile.hpp"

#include <algorithm>
#include <atomic>
#include <charconv>
#include <cmath>
#include <exception>
#include <functional>
#include <stdexcept>
#include <thread>

#include "bagsplit/builtin/builtin.hpp"
#include "bagsplit/coach/advice.hpp"
#include "bagsplit/coach/assemble.hpp"
#include "bagsplit/coach/best_path_losses.hpp"
#include "bagsplit/coach/merge_estimates.hpp"
#include "bagsplit/coach/squad_model.hpp"

#include "bagsplit/runs/units.hpp"
#include "bagsplit/sprint/mechanics.hpp"
#include "bagsplit/sprint/prior.hpp"
#include "bagsplit/stats/distributions.hpp"

namespace bagsplit::coach {

namespace {

struct Distance {
  const char* name;
  double metres;
};
constexpr Distance predicted_distances[] = {
    {"5yd", 5 * runs::metres_per_yard},
    {"10yd", 10 * runs::metres_per_yard},
    {"20yd", 20 * runs::metres_per_yard},
    {"10m", 10.0},
    {"20m", 20.0},
    {"30m", 30.0},
};

constexpr std::uint64_t squad_seed = 20260411;  // of the draw of players in a large log

// Everything that stays the same over the players.
struct Job {
  const runs::RunLog& log;
  const runs::Roster& roster;
  const timing::DeviceBook& devices;
  const norms::Catalogue& norms;
  const ProfileOptions& options;
  const SegmentNames& segments;
  sprint::ModelFile defaults;
  std::optional<basepath::LossTable> best_paths;  // where some course is on the bases
  const SquadModel* squad = nullptr;
};

// Scratch of one thread.
struct Scratch {
  std::vector<double> values, means, sds;
};

template <typename Function>
Estimate of_function(const sprint::Posterior& posterior, Scratch& scratch, double level, Function&& function) {
  scratch.values.resize(posterior.size());
  for (std::size_t i = 0; i < posterior.size(); ++i) {
    scratch.values[i] = function(posterior.sprints()[i]);
  }
  return posterior.of_sprint(scratch.values, level, sprint::prior_variance_of(posterior.data(), function));
}

// The part of a hand watch's bias on signal starts that all such timers share.
std::optional<std::uint32_t> shared_signal_bias(const Assembled& assembled) {
  for (std::uint32_t k = 0; k < assembled.terms.size(); ++k) {
    const Term& term = assembled.terms[k];
    if (term.kind == TermKind::bias_shared && term.hand_on_signal) {
      return k;
    }
  }
  return std::nullopt;
}

void add_percentiles(const Job& job, const sprint::Posterior& posterior, const Assembled& assembled, Scratch& scratch,
                     PlayerProfile& profile) {
  if (!profile.age_years || !profile.sex) {
    return;
  }
  const std::size_t n = posterior.size();
  for (const norms::Choice& choice : job.norms.choose_all(profile.age_years, profile.sex)) {
    ProfilePercentile out;
    const double metres = choice.distance_m;
    out.quantity = std::to_string(static_cast<int>(std::lround(metres))) + "m";
    out.why = choice.why;
    if (choice.norm == nullptr) {
      profile.percentiles.push_back(std::move(out));
      continue;
    }
    const norms::NormInfo& info = choice.norm->info();
    const norms::Conditions& c = choice.norm->conditions();
    out.source = info.id;
    out.label = info.label;
    out.restriction = info.restriction;
    const auto reference = choice.norm->at(*profile.age_years, *profile.sex);
    if (!reference) {
      out.why = choice.norm->why_not(*profile.age_years, *profile.sex);
      profile.percentiles.push_back(std::move(out));
      continue;
    }
    // The player's time as the reference would have measured it.
    const double from = c.flying_from_m > 0.0 ? c.flying_from_m : c.start_offset_m;
    double offset = c.rounding_bias_s + c.timing_bias_mean_s;
    double timing_variance = c.timing_bias_sd_s * c.timing_bias_sd_s;
    // A player who was hand-timed on a signal carries much the same unknown bias as the reference: what the two share
    // (the smaller of the two variances) is one number, so it enters as the player's own bias term.
    std::vector<std::uint32_t> terms;
    std::vector<double> coefficients;
    if (const auto bias = c.shares_hand_bias ? shared_signal_bias(assembled) : std::nullopt) {
      const sprint::Normal& prior = posterior.data().terms[*bias];
      const double variance = prior.sd * prior.sd;
      const double slope = variance > 0.0 ? std::min(1.0, timing_variance / variance) : 0.0;
      terms.push_back(*bias);
      coefficients.push_back(slope);
      offset -= slope * prior.mean;
      timing_variance -= slope * slope * variance;
    }
    scratch.values.resize(n);
    scratch.means.resize(n);
    scratch.sds.resize(n);
    for (std::size_t i = 0; i < n; ++i) {
      const sprint::Sprint& s = posterior.sprints()[i];
      scratch.values[i] =
          (from > 0.0 ? sprint::time_from_beam(s, from, c.distance_m) : sprint::time_to_distance(s, c.distance_m)) +
          offset;
    }
    std::optional<sprint::Normal> reaction_prior;
    if (c.signal_start) {
      if (const auto reaction = assembled.find(TermKind::reaction)) {
        terms.push_back(*reaction);
        coefficients.push_back(1.0);
      } else {
        reaction_prior = profile.prior_reaction_s;
      }
    }
    posterior.mixture(scratch.values, terms, coefficients, scratch.means, scratch.sds);
    for (std::size_t i = 0; i < n; ++i) {
      double variance = scratch.sds[i] * scratch.sds[i] + timing_variance;
      if (reaction_prior) {
        scratch.means[i] += reaction_prior->mean;
        variance += reaction_prior->sd * reaction_prior->sd;
      }
      scratch.sds[i] = std::sqrt(variance);
    }
    Estimate time;
    std::function<double(double)> below;
    if (c.signal_start) {
      time = sprint::summarise_mixture(posterior.weights(), scratch.means, scratch.sds, job.options.level);
      below = [&](double x) { return sprint::mixture_below(posterior.weights(), scratch.means, scratch.sds, x); };
    } else {
      // A function of V and tau with at most a common timing error: its own quantiles, widened by that error.
      time = posterior.of_sprint(scratch.values, job.options.level, std::nullopt);
      const double sd = std::hypot(time.sd, c.timing_bias_sd_s);
      const double wider = time.sd > 0.0 ? sd / time.sd : 1.0;
      time.lo = time.median + wider * (time.lo - time.median);
      time.hi = time.median + wider * (time.hi - time.median);
      time.sd = sd;
      below = [mean = time.mean, sd](double x) { return stats::normal_cdf((x - mean) / std::max(sd, 1e-12)); };
    }
    out.time_s = time;
    out.p_faster = below(reference->median_s());
    if (choice.percentile()) {
      // Mean and SD: a five-point Gauss-Hermite rule over the rest at each node; quantiles: the reference is monotone.
      // Source: Abramowitz & Stegun (1964), table 25.10, n = 5, turned to a standard normal.
      constexpr double point[] = {0.0, 1.355626179974266, 2.856970013872806};
      constexpr double share[] = {8.0 / 15.0, 0.2220759220056126, 0.01125741132772069};
      const auto percentile = [&](double t) { return reference->percentile_of_time(std::max(t, 1e-3)).value(); };
      double mean = 0.0;
      double square = 0.0;
      for (std::size_t i = 0; i < n; ++i) {
        const double w = posterior.weights()[i];
        if (w < 1e-9) {
          continue;
        }
        for (int k = scratch.sds[i] > 0.0 ? -2 : 0; k <= (scratch.sds[i] > 0.0 ? 2 : 0); ++k) {
          const double z = (k < 0 ? -1.0 : 1.0) * point[std::abs(k)];
          const double weight = scratch.sds[i] > 0.0 ? w * share[std::abs(k)] : w;
          const double value = percentile(scratch.means[i] + scratch.sds[i] * z);
          mean += weight * value;
          square += weight * value * value;
        }
      }
      out.percentile = Estimate{mean,
                                std::sqrt(std::max(0.0, square - mean * mean)),
                                percentile(time.hi),
                                percentile(time.median),
                                percentile(time.lo),
                                std::nullopt};
      const auto [lowest, highest] = reference->limits();
      const auto slow = reference->time_at_percentile(lowest);
      const auto fast = reference->time_at_percentile(highest);
      out.share_at_limit =
          (lowest > 0.0 && slow ? 1.0 - below(*slow) : 0.0) + (highest < 100.0 && fast ? below(*fast) : 0.0);
    } else {
      out.band = reference->band_of_time(time.median);
    }
    profile.percentiles.push_back(std::move(out));
  }
}

void add_notes(const Assembled& assembled, const Selection& selection, const runs::Player* player,
               PlayerProfile& profile) {
  if (player == nullptr) {
    profile.notes.push_back("Not in the roster: no age, no sex, so no percentile, and a wide prior for all ages.");
  } else if (!profile.age_years || !profile.sex) {
    profile.notes.push_back(std::string("No ") +
                            (!profile.age_years ? (!profile.sex ? "birth date and no sex" : "birth date") : "sex") +
                            " in the roster: no percentile, and a wider prior.");
  }
  if (profile.reaction_holds_timer_bias) {
    profile.notes.push_back(
        "Reaction here is reaction plus timer bias: no gate, no first move seen and no self-started run tells the two "
        "apart.");
  }
  if (selection.first && selection.last && (*selection.last - *selection.first).count() > 120) {
    profile.notes.push_back(
        "Runs over " + std::to_string((*selection.last - *selection.first).count()) +
        " days are pooled; a child grows faster meanwhile: a --window of fewer days asks for recent form.");
  }
  if (assembled.find(TermKind::bias_many)) {
    profile.notes.push_back("So many timers that the biases of the rarer ones are treated as one.");
  }
}

// The mean time of the last date, read as on that date: T (1 + form of the day) + the linear terms of its readings.
void add_session_times(const Job& job, const Selection& selection, const sprint::Posterior& posterior, Scratch& scratch,
                       PlayerProfile& profile) {
  const sprint::PlayerData& data = posterior.data();
  const auto active = posterior.active_terms();
  const std::size_t q = active.size();
  // Readings of the data stand in the order of the runs used, as assemble() made them.
  std::size_t reading_index = 0;
  for (const std::uint32_t index : selection.used) {
    const runs::Run& run = job.log.runs[index];
    for (const runs::Reading& reading : job.log.readings_of(run)) {
      if (reading.split_count == 0) {
        continue;
      }
      const sprint::ReadingData& numbers = data.readings[reading_index++];
      if (run.date != *selection.last) {
        continue;
      }
      const auto splits = job.log.splits_of(reading);
      for (std::size_t j = 0; j < splits.size(); ++j) {
        const sprint::MarkData& mark = data.marks[numbers.first_mark + j];
        if (splits[j].is_move) {
          continue;
        }
        const std::string key = job.log.name(splits[j].mark) + "@" + job.log.courses[run.course].name;
        if (std::any_of(profile.session_time_s.begin(), profile.session_time_s.end(),
                        [&](const NamedEstimate& known) { return known.name == key; })) {
          continue;
        }
        const std::size_t n = posterior.size();
        scratch.means.resize(n);
        scratch.sds.resize(n);
        for (std::size_t i = 0; i < n; ++i) {
          const sprint::Sprint& s = posterior.sprints()[i];
          const double moving = numbers.beam_m > 0.0 ? sprint::time_from_beam(s, numbers.beam_m, mark.distance_m)
                                                     : sprint::time_to_distance(s, mark.distance_m);
          const auto means = posterior.term_means(i);
          const auto covariance = posterior.term_covariance(i);
          const auto coefficient = [&](std::size_t k) {
            return active[k] == *data.day_term ? moving : static_cast<double>((mark.terms >> active[k]) & 1U);
          };
          double mean = moving;
          double variance = 0.0;
          for (std::size_t a = 0; a < q; ++a) {
            const double at = coefficient(a);
            if (at == 0.0) {
              continue;
            }
            mean += at * means[a];
            for (std::size_t b = 0; b < q; ++b) {
              variance += at * coefficient(b) * covariance[a * q + b];
            }
          }
          scratch.means[i] = mean;
          scratch.sds[i] = std::sqrt(std::max(0.0, variance));
        }
        profile.session_time_s.push_back(
            {key, sprint::summarise_mixture(posterior.weights(), scratch.means, scratch.sds, job.options.level)});
      }
    }
  }
}

// Steps of a quarter second near the start, where the curve bends, then of half a second.
void add_speed_curve(const sprint::Posterior& posterior, Scratch& scratch, double level, PlayerProfile& profile) {
  constexpr double curve_end_s = 6.0;
  for (double time_s = 0.25; time_s <= curve_end_s; time_s += time_s < 2.0 ? 0.25 : 0.5) {
    profile.speed_curve.push_back({time_s, of_function(posterior, scratch, level, [&](const sprint::Sprint& s) {
                                     return sprint::speed_at_time(s, time_s);
                                   })});
  }
}

void add_estimates(const Job& job, const runs::Player* player, const Assembled& assembled, const Selection& selection,
                   const LossMeans& loss_means, const sprint::Posterior& posterior, Scratch& scratch,
                   PlayerProfile& profile) {
  const sprint::PlayerData& data = posterior.data();
  const double level = job.options.level;
  const auto estimate = [&](auto&& function) { return of_function(posterior, scratch, level, function); };

  if (assembled.any_distance) {
    profile.top_speed_mps = estimate([](const sprint::Sprint& s) { return s.top_speed_mps; });
    profile.time_constant_s = estimate([](const sprint::Sprint& s) { return s.time_constant_s; });
    profile.max_acceleration_mps2 = estimate([](const sprint::Sprint& s) { return s.max_acceleration_mps2(); });
    for (const Distance& distance : predicted_distances) {
      profile.predicted_time_s.push_back({distance.name, estimate([&](const sprint::Sprint& s) {
                                            return sprint::time_to_distance(s, distance.metres);
                                          })});
    }
    if (profile.base_distance_m) {
      profile.predicted_time_s.push_back({"home-first", estimate([&](const sprint::Sprint& s) {
                                            return sprint::time_to_distance(s, *profile.base_distance_m);
                                          })});
    }
    if (job.options.speed_curve) {
      add_speed_curve(posterior, scratch, level, profile);
    }
    if (player != nullptr && player->mass_kg && player->height_m) {
      const sprint::Body body{*player->mass_kg, *player->height_m};
      profile.max_force_n = estimate([&](const sprint::Sprint& s) { return sprint::max_force_n(s, body); });
      profile.max_power_w = estimate([&](const sprint::Sprint& s) { return sprint::max_power_w(s, body); });
      profile.max_power_w_per_kg =
          estimate([&](const sprint::Sprint& s) { return sprint::max_power_w(s, body) / body.mass_kg; });
    }
  }
  if (const auto reaction = assembled.find(TermKind::reaction)) {
    const std::uint32_t terms[] = {*reaction};
    profile.reaction_s = posterior.of_terms(terms, level);
  }
  for (const runs::Posture posture : assembled.postures) {
    if (const auto term = assembled.find(TermKind::posture, posture_name(posture))) {
      const std::uint32_t terms[] = {*term};
      if (posterior.is_active(*term)) {
        profile.posture_cost_s.push_back({std::string(posture_name(posture)), posterior.of_terms(terms, level)});
      }
    }
  }
  // Losses: the circuit's in its order, then the others as they came.
  std::vector<std::uint32_t> losses;
  for (const char* key : {"first", "second", "third", "home"}) {
    if (const auto term = assembled.find(TermKind::loss, key)) {
      losses.push_back(*term);
    }
  }
  for (std::uint32_t k = 0; k < assembled.terms.size(); ++k) {
    if (assembled.terms[k].kind == TermKind::loss && std::find(losses.begin(), losses.end(), k) == losses.end()) {
      losses.push_back(k);
    }
  }
  for (const std::uint32_t k : losses) {
    const std::uint32_t terms[] = {k};
    Estimate loss = posterior.of_terms(terms, level);
    if (job.best_paths) {
      loss_means.set_share(loss, data, terms);
    }
    profile.segment_loss_s.push_back({assembled.terms[k].name, loss});
  }

  // Whole courses: moving time from first move and the efficiency against a straight sprint of the same length.
  double longest = 0.0;
  bool circuit = false;
  const runs::Course* yardstick = nullptr;
  std::vector<std::uint32_t> yardstick_terms;
  for (const std::uint16_t c : assembled.courses) {
    const runs::Course& course = job.log.courses[c];
    if (!profile.base_distance_m) {
      break;
    }
    std::vector<std::uint32_t> terms;
    for (const runs::Segment& segment : course.segments) {
      const auto term = assembled.find(TermKind::loss, segment.key);
      if (!term) {
        break;
      }
      terms.push_back(*term);
    }
    if (terms.size() < course.segments.size()) {
      continue;  // some segment was never timed to its end
    }
    const double length = runs::segment_end_m(course, course.segments.back(), *profile.base_distance_m);
    const auto straight = [&](const sprint::Sprint& s) { return sprint::time_to_distance(s, length); };
    const std::size_t n = posterior.size();
    scratch.values.resize(n);
    scratch.means.resize(n);
    scratch.sds.resize(n);
    for (std::size_t i = 0; i < n; ++i) {
      scratch.values[i] = straight(posterior.sprints()[i]);
    }
    posterior.mixture(scratch.values, terms, scratch.means, scratch.sds);
    Estimate time = sprint::summarise_mixture(posterior.weights(), scratch.means, scratch.sds, level);
    std::vector<double> prior_times;
    for (const sprint::Sprint& s : loss_means.grid->sprints) {
      prior_times.push_back(straight(s));
    }
    loss_means.set_share(time, data, terms, std::move(prior_times));
    profile.course_time_s.push_back({course.name, time});
    posterior.mixture({}, terms, scratch.means, scratch.sds);
    const Estimate efficiency =
        sprint::summarise_efficiency(posterior.weights(), scratch.values, scratch.means, scratch.sds, level);
    profile.straight_efficiency_by_course.push_back({course.name, efficiency});
    if (!circuit && (course.name == "circuit" || length > longest)) {
      profile.straight_efficiency = efficiency;
      longest = length;
      circuit = course.name == "circuit";
      yardstick = &course;
      yardstick_terms = terms;
    }
  }
  if (yardstick != nullptr && job.best_paths) {
    measure_against_best_path(posterior, loss_means, *job.best_paths, *yardstick, yardstick_terms, level, profile);
  }

  if (assembled.any_distance) {
    add_percentiles(job, posterior, assembled, scratch, profile);
  }
  if (data.day_term && selection.last) {
    add_session_times(job, selection, posterior, scratch, profile);
  }
}

// Visits every estimate of a profile, always in the same order.
template <typename Profile, typename Visit>
void each_estimate(Profile& profile, Visit&& visit) {
  const auto optional = [&](auto& estimate) {
    if (estimate) {
      visit(*estimate);
    }
  };
  const auto named = [&](auto& estimates) {
    for (auto& estimate : estimates) {
      visit(estimate.value);
    }
  };
  optional(profile.top_speed_mps);
  optional(profile.time_constant_s);
  optional(profile.max_acceleration_mps2);
  optional(profile.reaction_s);
  named(profile.posture_cost_s);
  named(profile.segment_loss_s);
  named(profile.predicted_time_s);
  named(profile.course_time_s);
  for (auto& at : profile.speed_curve) {
    visit(at.speed_mps);
  }
  named(profile.session_time_s);
  named(profile.straight_efficiency_by_course);
  optional(profile.straight_efficiency);
  optional(profile.path_efficiency);
  optional(profile.loss_to_best_path_s);
  named(profile.loss_to_best_path_by_segment_s);
  if (profile.best_path) {
    visit(profile.best_path->time_s);
  }
  optional(profile.max_force_n);
  optional(profile.max_power_w);
  optional(profile.max_power_w_per_kg);
  for (auto& percentile : profile.percentiles) {
    optional(percentile.percentile);
    optional(percentile.time_s);
  }
}

// One profile from those at each point of the squad's design.
PlayerProfile merged(std::span<const double> point_weights, std::vector<PlayerProfile>& versions, double level) {
  // At the edge of the table of best paths some points may have no yardstick: then the player has none.
  if (!std::all_of(versions.begin(), versions.end(), [](const PlayerProfile& v) { return v.best_path.has_value(); })) {
    for (PlayerProfile& version : versions) {
      version.best_path.reset();
      version.path_efficiency.reset();
      version.loss_to_best_path_s.reset();
      version.loss_to_best_path_by_segment_s.clear();
    }
  }
  PlayerProfile out = std::move(versions.front());
  if (versions.size() == 1) {
    return out;
  }
  std::vector<double> weights(point_weights.begin(), point_weights.end());
  std::vector<std::vector<Estimate>> lists(versions.size());
  each_estimate(out, [&](const Estimate& e) { lists[0].push_back(e); });
  for (std::size_t k = 1; k < versions.size(); ++k) {
    each_estimate(versions[k], [&](const Estimate& e) { lists[k].push_back(e); });
    if (lists[k].size() != lists[0].size()) {
      throw std::logic_error("profile: the points of the squad's design give different quantities");
    }
  }
  std::size_t at = 0;
  std::vector<Estimate> same(versions.size());
  each_estimate(out, [&](Estimate& e) {
    for (std::size_t k = 0; k < lists.size(); ++k) {
      same[k] = lists[k][at];
    }
    e = merge_estimates(weights, same, level);
    ++at;
  });
  for (std::size_t i = 0; out.best_path && i < out.best_path->loss_at.size(); ++i) {
    double& loss = out.best_path->loss_at[i].loss_mean_s;
    loss *= weights[0];
    for (std::size_t k = 1; k < versions.size(); ++k) {
      loss += weights[k] * versions[k].best_path->loss_at[i].loss_mean_s;
    }
  }
  for (std::size_t i = 0; i < out.percentiles.size(); ++i) {
    double limit = 0.0;
    double faster = 0.0;
    for (std::size_t k = 0; k < versions.size(); ++k) {
      const ProfilePercentile& p = k == 0 ? out.percentiles[i] : versions[k].percentiles[i];
      limit += weights[k] * p.share_at_limit;
      faster += weights[k] * p.p_faster.value_or(0.0);
    }
    out.percentiles[i].share_at_limit = limit;
    if (out.percentiles[i].p_faster) {
      out.percentiles[i].p_faster = faster;
    }
  }
  return out;
}

PlayerProfile profile_one(const Job& job, runs::NameId name, std::span<const std::uint32_t> runs_of_player,
                          Scratch& scratch) {
  const std::string& id = job.log.names[name];
  const ProfileOptions& options = job.options;
  PlayerProfile profile;
  profile.player = id;
  const Selection selection = select_runs(job.log, runs_of_player, options.as_of, options.window_days);
  profile.runs_used = selection.used.size();
  profile.runs_left_out = runs_of_player.size() - selection.used.size();
  for (const auto& [flag, count] : selection.flagged) {
    profile.left_out_by_flag.push_back({flag, count});
  }
  profile.left_out_window = selection.outside_window;
  profile.left_out_relay = selection.relay;
  profile.left_out_empty = selection.empty;
  profile.first_date = selection.first;
  profile.last_date = selection.last;
  profile.dates = selection.dates;

  const runs::Player* const player = job.roster.find(id);
  if (player != nullptr) {
    profile.sex = player->sex;
    if (player->born && selection.last) {
      profile.age_years = runs::age_years(*player->born, *selection.last);
    }
  }
  const sprint::SprintPrior prior = sprint::sprint_prior(profile.age_years, profile.sex);
  Assembled assembled =
      assemble(job.log, job.segments, selection.used, player, prior, job.devices, options.model, job.defaults);
  LossMeans loss_means =
      job.best_paths ? expect_best_path(assembled, *job.best_paths, options.model) : LossMeans{};
  const sprint::PlayerData& data = assembled.data;
  profile.readings_used = assembled.readings;
  profile.base_distance_m = assembled.base_distance_m;
  profile.prior_log_top_speed = data.log_top_speed;
  profile.prior_log_time_constant = data.log_time_constant;
  profile.prior_source = prior.source;
  profile.prior_reaction_s = options.model.prior.reaction_s.value_or(prior.reaction_s);
  for (std::size_t k = 0; k < assembled.terms.size(); ++k) {
    const Term& term = assembled.terms[k];
    switch (term.kind) {
      case TermKind::posture:
        profile.prior_posture_cost_s.emplace_back(term.name, data.terms[k]);
        break;
      case TermKind::loss:
        profile.prior_segment_loss_s.emplace_back(term.name, data.terms[k]);
        break;
      case TermKind::bias_shared:
      case TermKind::bias_timer:
      case TermKind::bias_many:
        profile.prior_bias_s.emplace_back(term.name, data.terms[k]);
        break;
      case TermKind::reaction:
      case TermKind::swing:
      case TermKind::bias_event:
      case TermKind::move_lag:
      case TermKind::day_form:
        break;
    }
  }
  profile.reaction_holds_timer_bias =
      assembled.find(TermKind::reaction).has_value() && !assembled.bias_told && !options.model.error.bias_s;
  add_notes(assembled, selection, player, profile);
  if (selection.used.empty()) {
    profile.notes.push_back("No run to estimate from.");
    return profile;
  }

  if (job.squad == nullptr) {
    const sprint::Posterior posterior(data, loss_means.callback());
    profile.status = posterior.status();
    if (posterior.usable()) {
      add_estimates(job, player, assembled, selection, loss_means, posterior, scratch, profile);
      profile.next_runs = next_runs(posterior, assembled, profile, profile.base_distance_m);
      profile.work_on = work_on(profile);
    }
  } else {
    const SquadModel& squad = *job.squad;
    const sprint::SquadMember member = member_of(squad, assembled, selection.last);
    Assembled in_squad = assembled;
    in_squad.data = member.data;
    if (member.data.day_term) {
      in_squad.terms.push_back({TermKind::day_form, {}, false});
    }
    const auto known = squad.members.find(name);
    const auto index = known != squad.members.end() ? std::optional(known->second) : std::nullopt;
    std::vector<PlayerProfile> versions;
    std::vector<double> weights;
    for (const sprint::SquadPoint& point : squad.fit.points) {
      const sprint::PlayerData in_point = sprint::member_data(squad.fit, point, member, index);
      if (versions.empty()) {
        loss_means.regrid(in_point);
      }
      const sprint::Posterior posterior(in_point, loss_means.callback());
      profile.status = std::max(profile.status, posterior.status());
      if (!posterior.usable()) {
        break;
      }
      versions.push_back(profile);
      weights.push_back(point.weight);
      add_estimates(job, player, in_squad, selection, loss_means, posterior, scratch, versions.back());
      if (versions.size() == 1) {  // at the mode: which run tells most hardly depends on the scales
        versions.back().next_runs = next_runs(posterior, in_squad, versions.back(), profile.base_distance_m);
      }
    }
    if (profile.status != sprint::PosteriorStatus::not_certified) {
      const auto status = profile.status;
      profile = merged(weights, versions, options.level);
      profile.status = status;
      profile.work_on = work_on(profile);
    }
  }
  if (profile.status == sprint::PosteriorStatus::not_certified) {
    profile.notes.push_back("The computation could not be certified for this player; no estimate is given.");
  }
  return profile;
}

// Ids that are whole numbers by value, before all others by text.
bool id_before(const std::string& a, const std::string& b) {
  const auto number = [](const std::string& id, unsigned long long& value) {
    const auto [end, error] = std::from_chars(id.data(), id.data() + id.size(), value);
    return error == std::errc{} && end == id.data() + id.size();
  };
  unsigned long long x = 0;
  unsigned long long y = 0;
  const bool a_number = number(a, x);
  const bool b_number = number(b, y);
  if (a_number != b_number) {
    return a_number;
  }
  if (a_number && x != y) {
    return x < y;
  }
  return a < b;
}

// The squad's model from all players, or a draw of them; nothing without a run that depends on a sprint.
std::optional<SquadModel> squad_of(const Job& job, std::span<const runs::NameId> players,
                                   std::span<const std::uint32_t> by_player, std::span<const std::uint32_t> start,
                                   unsigned threads) {
  const auto runs_of = [&](runs::NameId id) { return by_player.subspan(start[id], start[id + 1] - start[id]); };
  std::vector<runs::NameId> able;
  std::vector<std::size_t> readings;
  for (const runs::NameId id : players) {
    const Selection selection = select_runs(job.log, runs_of(id), job.options.as_of, job.options.window_days);
    if (!selection.used.empty()) {
      able.push_back(id);
      readings.push_back(0);
      for (const std::uint32_t run : selection.used) {
        readings.back() += job.log.runs[run].reading_count;
      }
    }
  }
  if (able.empty()) {
    return std::nullopt;
  }
  std::vector<SquadPlayer> fitted;
  for (const std::size_t i : draw_fitted(readings, squad_seed)) {
    const runs::NameId id = able[i];
    const Selection selection = select_runs(job.log, runs_of(id), job.options.as_of, job.options.window_days);
    const runs::Player* const player = job.roster.find(job.log.names[id]);
    std::optional<double> age;
    std::optional<runs::Sex> sex;
    if (player != nullptr) {
      sex = player->sex;
      if (player->born && selection.last) {
        age = runs::age_years(*player->born, *selection.last);
      }
    }
    SquadPlayer& added = fitted.emplace_back();
    added.id = id;
    added.assembled = assemble(job.log, job.segments, selection.used, player, sprint::sprint_prior(age, sex), job.devices,
                               job.options.model, job.defaults);
    if (job.best_paths) {
      added.loss_means = expect_best_path(added.assembled, *job.best_paths, job.options.model);
    }
  }
  SquadModel model = fit_squad_model(fitted, able.size() - fitted.size(), threads, squad_seed);
  model.players = able.size();
  return model;
}

Estimate normal_estimate(const sprint::Normal& normal, double level) {
  const double half = -stats::normal_quantile(0.5 * (1.0 - level)) * normal.sd;
  return {normal.mean, normal.sd, normal.mean - half, normal.mean, normal.mean + half, std::nullopt};
}

// exp of a normal, less `shift`.
Estimate lognormal_estimate(const sprint::Normal& log, double level, double shift) {
  const Estimate e = normal_estimate(log, level);
  const double mean = std::exp(log.mean + 0.5 * log.sd * log.sd);
  return {mean - shift,
          mean * std::sqrt(std::expm1(log.sd * log.sd)),
          std::exp(e.lo) - shift,
          std::exp(e.median) - shift,
          std::exp(e.hi) - shift,
          std::nullopt};
}

std::string kind_word(TermKind kind) {
  switch (kind) {
    case TermKind::reaction:
      return "reaction";
    case TermKind::swing:
      return "swing";
    case TermKind::posture:
      return "posture";
    case TermKind::loss:
      return "loss";
    case TermKind::move_lag:
      return "move-lag";
    case TermKind::bias_event:
      return "mark-lag";
    case TermKind::bias_shared:
    case TermKind::bias_timer:
    case TermKind::bias_many:
    case TermKind::day_form:
      break;
  }
  return "bias";
}

SquadSummary summary_of(const SquadModel& model, double level) {
  SquadSummary out;
  out.players = model.players;
  out.players_fitted = model.members.size();
  out.seed = model.seed;
  out.converged = model.fit.converged;
  out.effort_cv = lognormal_estimate(model.fit.log_effort_cv, level, 0.0);
  out.day_cv = lognormal_estimate(model.fit.log_day_cv, level, 0.0);
  out.reaction_sd_s = lognormal_estimate(model.fit.log_reaction_sd, level, 0.0);
  out.press_factor = lognormal_estimate(model.fit.log_press_factor, level, 0.0);
  for (std::uint32_t k = 0; k < model.shared.size(); ++k) {
    const SharedQuantity& quantity = model.shared[k];
    const sprint::Normal posterior = model.fit.shared(k);
    switch (quantity.kind) {
      case SharedQuantity::Kind::top_speed_offset:
        out.top_speed_offset = lognormal_estimate(posterior, level, 1.0);
        break;
      case SharedQuantity::Kind::time_constant_offset:
        out.time_constant_offset = lognormal_estimate(posterior, level, 1.0);
        break;
      case SharedQuantity::Kind::term:
        out.shared.push_back({kind_word(quantity.term.kind), quantity.term.name, quantity.prior,
                              normal_estimate(posterior, level)});
        break;
    }
  }
  return out;
}

}  // namespace

sprint::ModelFile default_model() {
  runs::Problems problems;
  const auto text = builtin::text("models/default.json");
  if (!text) {
    throw std::logic_error("the built-in model is missing");
  }
  sprint::ModelFile model = sprint::read_model(*text, "models/default.json", problems);
  if (!problems.empty()) {
    throw std::logic_error("the built-in model is broken: " + problems.front().message);
  }
  return model;
}

ProfileResult profile(const runs::RunLog& log, const runs::Roster& roster, const timing::DeviceBook& devices,
                      const norms::Catalogue& norms, const ProfileOptions& options) {
  if (!(options.level > 0.0) || !(options.level < 1.0)) {
    throw std::domain_error("profile: level must lie strictly between 0 and 1");
  }
  const SegmentNames segments(log);
  Job job{log, roster, devices, norms, options, segments, default_model(), std::nullopt, nullptr};
  if (std::any_of(log.courses.begin(), log.courses.end(), [](const runs::Course& c) { return !c.segments.empty(); })) {
    job.best_paths = basepath::LossTable::built_in();
  }

  ProfileResult result;
  result.level = options.level;
  result.model = options.model;
  sprint::ModelFile::Error& error = result.model.error;
  error.effort_cv = error.effort_cv ? error.effort_cv : job.defaults.error.effort_cv;
  error.day_cv = error.day_cv ? error.day_cv : job.defaults.error.day_cv;
  error.reaction_sd_s = error.reaction_sd_s ? error.reaction_sd_s : job.defaults.error.reaction_sd_s;

  // Runs by player, in the order of the log.
  std::vector<std::uint32_t> start(log.names.size() + 1, 0);
  for (const runs::Run& run : log.runs) {
    ++start[run.player + 1];
  }
  for (std::size_t k = 1; k < start.size(); ++k) {
    start[k] += start[k - 1];
  }
  std::vector<std::uint32_t> by_player(log.runs.size());
  {
    std::vector<std::uint32_t> next(start.begin(), start.end() - 1);
    for (std::uint32_t i = 0; i < log.runs.size(); ++i) {
      by_player[next[log.runs[i].player]++] = i;
    }
  }
  std::vector<runs::NameId> players;
  for (runs::NameId id = 0; id < log.names.size(); ++id) {
    if (start[id + 1] > start[id]) {
      players.push_back(id);
    }
  }
  std::sort(players.begin(), players.end(), [&](auto a, auto b) { return id_before(log.names[a], log.names[b]); });

  unsigned threads = options.threads != 0 ? options.threads : std::max(1U, std::thread::hardware_concurrency());
  std::optional<SquadModel> squad;
  if (options.squad) {
    squad = squad_of(job, players, by_player, start, threads);
    if (squad) {
      job.squad = &*squad;
      result.squad = summary_of(*squad, options.level);
      error.effort_cv = std::exp(squad->fit.log_effort_cv.mean);
      error.day_cv = std::exp(squad->fit.log_day_cv.mean);
      error.reaction_sd_s = std::exp(squad->fit.log_reaction_sd.mean);
    }
  }

  // Each player is computed alone and stored at its place, so the number of threads cannot show.
  result.players.resize(players.size());
  threads = std::min<unsigned>(threads, std::max<unsigned>(1U, static_cast<unsigned>(players.size() / 8)));
  std::atomic<std::size_t> next{0};
  std::vector<std::exception_ptr> failures(threads);
  const auto work = [&](unsigned thread) {
    try {
      Scratch scratch;
      for (std::size_t i = next++; i < players.size(); i = next++) {
        const runs::NameId id = players[i];
        result.players[i] = profile_one(job, id, std::span(by_player).subspan(start[id], start[id + 1] - start[id]), scratch);
      }
    } catch (...) {
      failures[thread] = std::current_exception();
    }
  };
  {
    std::vector<std::jthread> pool;
    for (unsigned t = 1; t < threads; ++t) {
      pool.emplace_back(work, t);
    }
    work(0);
  }
  for (const std::exception_ptr& failure : failures) {
    if (failure) {
      std::rethrow_exception(failure);
    }
  }

  for (const PlayerProfile& player : result.players) {
    result.runs_used += player.runs_used;
    result.runs_left_out += player.runs_left_out;
  }
  const bool prone = std::any_of(log.runs.begin(), log.runs.end(),
                                 [](const runs::Run& run) { return run.posture == runs::Posture::prone; });
  result.cautions.push_back(
      "Warm up before sprints, leave at least 6 m of clear run-out behind every finish, and rest between efforts; stop "
      "when a "
      "child hurts. League rules and local codes come first.");
  if (prone) {
    result.cautions.push_back("Prone starts: on dry, even, soft ground only; move the course as the ground tears up.");
  }
  return result;
}

}  // namespace bagsplit::coach
