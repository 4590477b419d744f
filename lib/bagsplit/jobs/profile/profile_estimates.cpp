#include <algorithm>
#include <cmath>

#include "bagsplit/inference/posterior/straight_times.hpp"
#include "bagsplit/jobs/profile/detail/best_path_yardstick.hpp"
#include "bagsplit/jobs/profile/detail/profile_job.hpp"
#include "bagsplit/motion/mechanics.hpp"
#include "bagsplit/runs/units.hpp"
#include "bagsplit/runs/words.hpp"

namespace bagsplit::jobs {

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

// Every time longer by a share.
motion::Sprint slower(motion::Sprint sprint, double share) {
  sprint.top_speed_mps /= 1.0 + share;
  sprint.time_constant_s *= 1.0 + share;
  return sprint;
}

template <typename Function>
Estimate of_function(const inference::Posterior& posterior, Scratch& scratch, double level, const LeadDoubt& doubt,
                     Function&& function) {
  constexpr double step = 0.01;
  scratch.values.resize(posterior.size());
  double slope = 0.0;
  for (std::size_t i = 0; i < posterior.size(); ++i) {
    const motion::Sprint& sprint = posterior.sprints()[i];
    scratch.values[i] = function(sprint);
    if (doubt.sd > 0.0) {
      slope += posterior.weights()[i] * (function(slower(sprint, step)) - scratch.values[i]) / step;
    }
  }
  Estimate out = posterior.of_sprint(scratch.values, level, inference::prior_variance_of(posterior.data(), function));
  widen(out, doubt, slope);
  return out;
}

// Steps of a quarter second near the start, where the curve bends, then of half a second.
void add_speed_curve(const inference::Posterior& posterior, Scratch& scratch, double level, const LeadDoubt& doubt,
                     PlayerProfile& profile) {
  constexpr double curve_end_s = 6.0;
  for (double time_s = 0.25; time_s <= curve_end_s; time_s += time_s < 2.0 ? 0.25 : 0.5) {
    profile.speed_curve.push_back({time_s, of_function(posterior, scratch, level, doubt, [&](const motion::Sprint& s) {
                                     return motion::speed_at_time(s, time_s);
                                   })});
  }
}

// What follows from V and tau alone.
void add_sprint(const ProfileJob& job, const Prepared& prepared, const inference::Posterior& posterior,
                Scratch& scratch, PlayerProfile& profile) {
  const runs::Player* const player = prepared.player;
  const auto estimate = [&](auto&& function) {
    return of_function(posterior, scratch, job.options.level, prepared.lead_doubt, function);
  };
  profile.top_speed_mps = estimate([](const motion::Sprint& s) { return s.top_speed_mps; });
  profile.time_constant_s = estimate([](const motion::Sprint& s) { return s.time_constant_s; });
  profile.max_acceleration_mps2 = estimate([](const motion::Sprint& s) { return s.max_acceleration_mps2(); });
  for (const Distance& distance : predicted_distances) {
    profile.predicted_time_s.push_back({distance.name, estimate([&](const motion::Sprint& s) {
                                          return motion::time_to_distance(s, distance.metres);
                                        })});
  }
  if (profile.base_distance_m) {
    profile.predicted_time_s.push_back({"home-first", estimate([&](const motion::Sprint& s) {
                                          return motion::time_to_distance(s, *profile.base_distance_m);
                                        })});
  }
  if (job.options.speed_curve) {
    add_speed_curve(posterior, scratch, job.options.level, prepared.lead_doubt, profile);
  }
  if (player != nullptr && player->mass_kg && player->height_m) {
    const motion::Body body{*player->mass_kg, *player->height_m};
    profile.max_force_n = estimate([&](const motion::Sprint& s) { return motion::max_force_n(s, body); });
    profile.max_power_w = estimate([&](const motion::Sprint& s) { return motion::max_power_w(s, body); });
    profile.max_power_w_per_kg =
        estimate([&](const motion::Sprint& s) { return motion::max_power_w(s, body) / body.mass_kg; });
  }
}

void add_reaction_and_postures(const inference::Assembled& assembled, const inference::Posterior& posterior,
                               double level, PlayerProfile& profile) {
  if (const auto reaction = assembled.find(inference::TermKind::reaction)) {
    const std::uint32_t terms[] = {*reaction};
    profile.reaction_s = posterior.of_terms(terms, level);
  }
  for (const runs::Posture posture : assembled.postures) {
    if (const auto term = assembled.find(inference::TermKind::posture, runs::word_of(posture))) {
      const std::uint32_t terms[] = {*term};
      if (posterior.is_active(*term)) {
        profile.posture_cost_s.push_back({std::string(runs::word_of(posture)), posterior.of_terms(terms, level)});
      }
    }
  }
}

void add_losses(const inference::Assembled& assembled, const inference::LossMeans& loss_means,
                const inference::Posterior& posterior, double level, PlayerProfile& profile) {
  // Losses: the circuit's in its order, then the others as they came.
  std::vector<std::uint32_t> losses;
  for (const char* key : {"first", "second", "third", "home"}) {
    if (const auto term = assembled.find(inference::TermKind::loss, key)) {
      losses.push_back(*term);
    }
  }
  for (std::uint32_t k = 0; k < assembled.terms.size(); ++k) {
    if (assembled.terms[k].kind == inference::TermKind::loss &&
        std::find(losses.begin(), losses.end(), k) == losses.end()) {
      losses.push_back(k);
    }
  }
  for (const std::uint32_t k : losses) {
    const std::uint32_t terms[] = {k};
    Estimate loss = posterior.of_terms(terms, level);
    if (loss_means.grid) {
      loss_means.set_share(loss, posterior.data(), terms);
    }
    profile.segment_loss_s.push_back({assembled.terms[k].name, loss});
  }
}

// The losses of a course, in its order; ends at the first segment that was never timed to its end.
std::vector<std::uint32_t> loss_terms(const inference::Assembled& assembled, const runs::Course& course) {
  std::vector<std::uint32_t> terms;
  for (const runs::Segment& segment : course.segments) {
    const auto term = assembled.find(inference::TermKind::loss, segment.key);
    if (!term) {
      break;
    }
    terms.push_back(*term);
  }
  return terms;
}

// Whole courses: moving time from first move, and the efficiency against a straight sprint of the same length and
// against the best path.
void add_courses(const ProfileJob& job, const Prepared& prepared, const inference::Posterior& posterior,
                 Scratch& scratch, PlayerProfile& profile) {
  const inference::Assembled& assembled = prepared.assembled;
  const inference::LossMeans& loss_means = prepared.loss_means;
  const inference::PlayerData& data = posterior.data();
  const double level = job.options.level;
  double longest = 0.0;
  bool circuit = false;
  const runs::Course* yardstick = nullptr;
  std::vector<std::uint32_t> yardstick_terms;
  for (const std::uint16_t c : assembled.courses) {
    const runs::Course& course = job.log.courses[c];
    if (!profile.base_distance_m) {
      break;
    }
    const std::vector<std::uint32_t> terms = loss_terms(assembled, course);
    if (terms.size() < course.segments.size()) {
      continue;  // some segment was never timed to its end
    }
    const double length = runs::segment_end_m(course, course.segments.back(), *profile.base_distance_m);
    const auto straight = [&](const motion::Sprint& s) { return motion::time_to_distance(s, length); };
    scratch.resize(posterior.size());
    for (std::size_t i = 0; i < posterior.size(); ++i) {
      scratch.values[i] = straight(posterior.sprints()[i]);
    }
    const auto [sum, coefficients] = posterior.with_late(terms, length);
    posterior.mixture(scratch.values, sum, coefficients, scratch.means, scratch.sds);
    Estimate time = inference::summarise_mixture(posterior.weights(), scratch.means, scratch.sds, level);
    std::vector<double> prior_times;
    for (const motion::Sprint& s : loss_means.grid->sprints) {
      prior_times.push_back(straight(s));
    }
    loss_means.set_share(time, data, sum, std::move(prior_times), coefficients);
    widen(time, prepared.lead_doubt, time.mean);
    profile.course_time_s.push_back({course.name, time});
    posterior.mixture({}, terms, scratch.means, scratch.sds);
    const Estimate efficiency = inference::summarise_efficiency(
        posterior.weights(), inference::straight_times_s(posterior, length), scratch.means, scratch.sds, level);
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
    if (profile.best_path) {
      widen(profile.best_path->time_s, prepared.lead_doubt, profile.best_path->time_s.mean);
    }
  }
}

// The mean time of the last date, read as on that date: T (1 + form of the day) + the linear terms of its readings.
void add_session_times(const ProfileJob& job, const Prepared& prepared, const inference::Posterior& posterior,
                       Scratch& scratch, PlayerProfile& profile) {
  const inference::Selection& selection = prepared.selection;
  const inference::PlayerData& data = posterior.data();
  const auto active = posterior.active_terms();
  const std::size_t q = active.size();
  std::vector<double> coefficients(q);
  // Readings of the data stand in the order of the runs used, as assemble() made them.
  std::size_t reading_index = 0;
  for (const std::uint32_t index : selection.used) {
    const runs::Run& run = job.log.runs[index];
    for (const runs::Reading& reading : job.log.readings_of(run)) {
      if (reading.split_count == 0) {
        continue;
      }
      const inference::ReadingData& numbers = data.readings[reading_index++];
      if (run.date != *selection.last) {
        continue;
      }
      const auto splits = job.log.splits_of(reading);
      for (std::size_t j = 0; j < splits.size(); ++j) {
        const inference::MarkData& mark = data.marks[numbers.first_mark + j];
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
          const motion::Sprint& s = posterior.sprints()[i];
          const double moving = motion::time_from_beam(s, numbers.beam_m, mark.distance_m);
          const auto means = posterior.term_means(i);
          const auto covariance = posterior.term_covariance(i);
          const auto coefficient = [&](std::size_t k) {
            if (active[k] == *data.day_term) {
              return moving;
            }
            const inference::Weigh by = data.weigh_of(active[k]);
            return ((mark.terms >> active[k]) & 1U) == 0 || by == inference::Weigh::order || by == inference::Weigh::run
                       ? 0.0  // as if rested
                       : inference::coefficient_of(data, active[k], s, numbers.beam_m, mark.distance_m);
          };
          for (std::size_t a = 0; a < q; ++a) {
            coefficients[a] = coefficient(a);
          }
          double mean = moving;
          double variance = 0.0;
          for (std::size_t a = 0; a < q; ++a) {
            if (coefficients[a] == 0.0) {
              continue;
            }
            mean += coefficients[a] * means[a];
            for (std::size_t b = 0; b < q; ++b) {
              variance += coefficients[a] * coefficients[b] * covariance[a * q + b];
            }
          }
          scratch.means[i] = mean;
          scratch.sds[i] = std::sqrt(std::max(0.0, variance));
        }
        Estimate time =
            inference::summarise_mixture(posterior.weights(), scratch.means, scratch.sds, job.options.level);
        widen(time, prepared.lead_doubt, time.mean);
        profile.session_time_s.push_back({key, time});
      }
    }
  }
}

}  // namespace

void add_estimates(const ProfileJob& job, const Prepared& prepared, const inference::Posterior& posterior,
                   Scratch& scratch, PlayerProfile& profile) {
  const inference::Assembled& assembled = prepared.assembled;
  const double level = job.options.level;
  if (assembled.any_distance) {
    add_sprint(job, prepared, posterior, scratch, profile);
  }
  add_reaction_and_postures(assembled, posterior, level, profile);
  add_losses(assembled, prepared.loss_means, posterior, level, profile);
  add_courses(job, prepared, posterior, scratch, profile);
  if (assembled.any_distance) {
    add_percentiles(job, prepared, posterior, scratch, profile);
  }
  if (posterior.data().day_term && prepared.selection.last) {
    add_session_times(job, prepared, posterior, scratch, profile);
  }
}

}  // namespace bagsplit::jobs
