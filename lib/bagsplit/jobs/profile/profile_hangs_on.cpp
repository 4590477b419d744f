#include <algorithm>
#include <cmath>
#include <numeric>

#include "bagsplit/inference/posterior/doubt.hpp"
#include "bagsplit/jobs/profile/advice.hpp"
#include "bagsplit/jobs/profile/detail/profile_job.hpp"
#include "bagsplit/stats/distributions.hpp"

namespace bagsplit::jobs {

namespace {

constexpr double least_sure = 0.95;
constexpr double worth_asking = 0.9;  // at the mode of the squad's design; over all of it a statement may be surer

// What the best path spares of a segment's loss: minus its own, at each node; zeros where there is none.
std::vector<double> spared_by_best_path(const ProfileJob& job, const Prepared& prepared,
                                        const inference::Posterior& posterior, const PlayerProfile& profile,
                                        const std::string& segment) {
  std::vector<double> out(posterior.size(), 0.0);
  if (!profile.best_path || !job.best_paths) {
    return out;
  }
  for (const std::uint16_t c : prepared.assembled.courses) {
    const runs::Course& course = job.log.courses[c];
    for (std::size_t k = 0; course.name == profile.best_path->course && k < course.segments.size(); ++k) {
      if (course.segments[k].key != segment) {
        continue;
      }
      const auto leg =
          job.best_paths->leg_loss(course, k, profile.base_distance_m.value(), profile.best_path->lateral_mps2);
      for (std::size_t i = 0; leg && i < out.size(); ++i) {
        const motion::Sprint& sprint = posterior.sprints()[i];
        out[i] = -(*leg)(std::log(sprint.top_speed_mps), std::log(sprint.time_constant_s));
      }
    }
  }
  return out;
}

// The one reading of the only run that tells a term; nothing where there are several.
std::optional<std::uint32_t> only_reading(const inference::PlayerData& data, std::uint32_t term) {
  std::optional<std::uint32_t> out;
  for (const inference::RunData& run : data.runs) {
    for (std::uint32_t r = run.first_reading; r < run.first_reading + run.reading_count; ++r) {
      const inference::ReadingData& reading = data.readings[r];
      const auto marks = std::span(data.marks).subspan(reading.first_mark, reading.mark_count);
      if (std::any_of(marks.begin(), marks.end(), [&](const auto& mark) { return ((mark.terms >> term) & 1U) != 0; })) {
        if (out) {
          return std::nullopt;
        }
        out = r;
        break;  // two watches on one run are one run
      }
    }
  }
  return out;
}

}  // namespace

void add_hangs_on(const ProfileJob& job, const Prepared& prepared, const inference::Posterior& posterior,
                  PlayerProfile& profile) {
  const inference::Assembled& assembled = prepared.assembled;
  const std::size_t n = posterior.size();
  std::vector<double> centres(n);
  std::vector<double> sds(n);
  std::vector<double> holds(n);
  const auto add = [&](std::optional<std::uint32_t> reading, std::string what, bool only_one) {
    if (reading) {
      profile.hangs_on.push_back(hangs_on_reading(job.log, assembled.log_reading.at(*reading), std::move(what)));
      profile.hangs_on.back().only_one = only_one;
    }
  };
  // Whether it would be said that a sum of a term and a function of the sprint is above a limit.
  const auto said = [&] {
    return std::inner_product(holds.begin(), holds.end(), posterior.weights().begin(), 0.0) >= worth_asking;
  };
  const auto above = [&](std::span<const double> values, std::uint32_t term, double limit) {
    posterior.mixture(values, std::span(&term, 1), centres, sds);
    for (std::size_t i = 0; i < n; ++i) {
      holds[i] = stats::normal_cdf((centres[i] - limit) / std::max(sds[i], 1e-9));
    }
    return said();
  };
  for (const NamedEstimate& loss : profile.segment_loss_s) {
    const auto term = assembled.find(inference::TermKind::loss, loss.name).value();
    if (!above(spared_by_best_path(job, prepared, posterior, profile, loss.name), term, surely_lost_s)) {
      continue;
    }
    const auto only = only_reading(posterior.data(), term);
    add(only ? only : inference::hangs_on(posterior, holds, least_sure), "segment_loss_s." + loss.name,
        only.has_value());
  }
  if (profile.reaction_s) {
    const auto term = assembled.find(inference::TermKind::reaction).value();
    if (above({}, term, slow_reaction_s(profile))) {
      add(inference::hangs_on(posterior, holds, least_sure), "reaction_s", false);
    }
  }
  if (profile.max_acceleration_mps2) {
    for (std::size_t i = 0; i < n; ++i) {
      holds[i] = posterior.sprints()[i].max_acceleration_mps2() < weak_start_mps2(profile) ? 1.0 : 0.0;
    }
    if (said()) {
      add(inference::hangs_on(posterior, holds, least_sure), "max_acceleration_mps2", false);
    }
  }
}

}  // namespace bagsplit::jobs
