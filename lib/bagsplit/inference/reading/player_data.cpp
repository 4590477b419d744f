#include "bagsplit/inference/reading/player_data.hpp"

#include <algorithm>
#include <cmath>
#include <sstream>
#include <stdexcept>

namespace bagsplit::inference {

namespace {

constexpr double usually_farthest_m = 130.0;  // a circuit of 90 ft and more

[[noreturn]] void refuse_entry(const char* what, std::size_t index, double value, const char* bound) {
  std::ostringstream text;
  text << "player data: " << what << '[' << index << "] is " << value << ", but must be " << bound;
  throw std::domain_error(text.str());
}

void check_scale(const char* what, std::size_t index, double value) {
  if (!(value >= 0.0) || !std::isfinite(value)) {
    refuse_entry(what, index, value, "finite and at least 0");
  }
}

void check_normal(const char* what, std::size_t index, const Normal& normal) {
  if (!std::isfinite(normal.mean)) {
    refuse_entry(what, index, normal.mean, "finite");
  }
  check_scale(what, index, normal.sd);
}

// Does what a run or reading points to exist?
void check_part(const char* owner, std::size_t index, const char* what, std::size_t first, std::size_t count,
                std::size_t size) {
  if (first > size || count > size - first) {
    std::ostringstream text;
    text << "player data: " << owner << ' ' << index << " has " << count << ' ' << what << " from " << first
         << " on, but there are " << size;
    throw std::invalid_argument(text.str());
  }
}

}  // namespace

void PlayerData::add_run(std::uint32_t day) {
  runs.push_back({static_cast<std::uint32_t>(readings.size()), 0, day});
}

void PlayerData::add_reading(bool signal, double beam_m, double start_sd_s, std::span<const MarkData> reading_marks) {
  if (runs.empty()) {
    throw std::invalid_argument("add_reading: no run was started");
  }
  ++runs.back().reading_count;
  readings.push_back({static_cast<std::uint32_t>(marks.size()), static_cast<std::uint32_t>(reading_marks.size()),
                      beam_m, start_sd_s, signal});
  marks.insert(marks.end(), reading_marks.begin(), reading_marks.end());
}

void PlayerData::clear_readings() {
  runs.clear();
  readings.clear();
  marks.clear();
}

void validate(const PlayerData& data) {
  if (data.terms.size() > max_linear_terms) {
    throw std::invalid_argument("player data: more than 64 linear terms");
  }
  check_normal("log_top_speed", 0, data.log_top_speed);
  check_normal("log_time_constant", 0, data.log_time_constant);
  check_scale("effort_cv", 0, data.effort_cv);
  check_scale("day_cv", 0, data.day_cv);
  check_scale("reaction_sd_s", 0, data.reaction_sd_s);
  check_scale("late_slowing_per_s", 0, data.late_slowing_per_s);
  for (std::size_t k = 0; k < data.terms.size(); ++k) {
    check_normal("terms", k, data.terms[k]);
  }
  const std::size_t p = data.terms.size();
  if (!(std::fabs(data.log_correlation) < 1.0)) {
    refuse_entry("log_correlation", 0, data.log_correlation, "between -1 and 1");
  }
  if ((!data.term_slopes.empty() && data.term_slopes.size() != 2 * p) ||
      (!data.term_correlation.empty() && data.term_correlation.size() != p * p) ||
      (data.day_term && *data.day_term >= p) || data.weighs.size() > p) {
    throw std::invalid_argument("player data: a joint prior of another size than the terms");
  }
  for (std::size_t k = 0; k < data.term_slopes.size(); ++k) {
    if (!std::isfinite(data.term_slopes[k])) {
      refuse_entry("term_slopes", k, data.term_slopes[k], "finite");
    }
  }
  for (std::size_t k = 0; k < data.term_correlation.size(); ++k) {
    if (!std::isfinite(data.term_correlation[k])) {
      refuse_entry("term_correlation", k, data.term_correlation[k], "finite");
    }
  }
  for (std::size_t i = 0; i < data.runs.size(); ++i) {
    check_part("run", i, "readings", data.runs[i].first_reading, data.runs[i].reading_count, data.readings.size());
  }
  for (std::size_t r = 0; r < data.readings.size(); ++r) {
    check_part("reading", r, "marks", data.readings[r].first_mark, data.readings[r].mark_count, data.marks.size());
  }
  for (std::size_t r = 0; r < data.readings.size(); ++r) {
    check_scale("readings.beam_m", r, data.readings[r].beam_m);
    check_scale("readings.start_sd_s", r, data.readings[r].start_sd_s);
  }
  for (std::size_t j = 0; j < data.marks.size(); ++j) {
    const MarkData& mark = data.marks[j];
    check_scale("marks.distance_m", j, mark.distance_m);
    if (!std::isfinite(mark.time_s)) {
      refuse_entry("marks.time_s", j, mark.time_s, "finite");
    }
    if (!(mark.sd_s > 0.0) || !std::isfinite(mark.sd_s)) {
      refuse_entry("marks.sd_s", j, mark.sd_s, "finite and above 0");
    }
    if (data.terms.size() < max_linear_terms && (mark.terms >> data.terms.size()) != 0) {
      throw std::invalid_argument("player data: a mark names a linear term that does not exist");
    }
  }
}

SlowingSprints::SlowingSprints(const PlayerData& data)
    : late_slowing_per_s_(data.late_slowing_per_s), farthest_m_(usually_farthest_m) {
  for (const ReadingData& reading : data.readings) {
    for (std::uint32_t j = 0; j < reading.mark_count; ++j) {
      farthest_m_ = std::max(farthest_m_, reading.beam_m + data.marks[reading.first_mark + j].distance_m);
    }
  }
}

motion::Sprint SlowingSprints::operator()(double top_speed_mps, double time_constant_s) const {
  return motion::slowing_up_to({top_speed_mps, time_constant_s, late_slowing_per_s_}, farthest_m_);
}

std::optional<std::uint32_t> PlayerData::late_term() const {
  const auto found = std::find(weighs.begin(), weighs.end(), Weigh::late);
  return found != weighs.end() ? std::optional(static_cast<std::uint32_t>(found - weighs.begin())) : std::nullopt;
}

double coefficient_of(const PlayerData& data, std::uint32_t term, const motion::Sprint& sprint, double beam_m,
                      double distance_m, double runs_before) {
  const Weigh by = data.weigh_of(term);
  if (by == Weigh::full) {
    return 1.0;
  }
  const motion::Sprint bearable = motion::slowing_up_to(sprint, beam_m + distance_m);
  const motion::TimeGradient at = motion::time_gradient_from_beam(bearable, beam_m, distance_m);
  switch (by) {
    case Weigh::late:
      return at.by_late_slowing_s2;
    case Weigh::beam:
      return motion::slowness_s_pm(bearable, beam_m + distance_m) - motion::slowness_s_pm(bearable, beam_m);
    case Weigh::order:
      return at.time_s * runs_before;
    case Weigh::run:
      return at.time_s;
    case Weigh::full:
      break;
  }
  return 1.0;
}

void set_sprint_prior(PlayerData& data, const LogSprint& prior, bool level) {
  const auto of = [&](std::size_t a, std::size_t b) {
    return prior.covariance[a][b] + (level ? prior.level_covariance[a][b] : 0.0);
  };
  data.log_top_speed = {prior.mean[0], std::sqrt(of(0, 0))};
  data.log_time_constant = {prior.mean[1], std::sqrt(std::max(0.0, of(1, 1)))};
  const double sds = data.log_top_speed.sd * data.log_time_constant.sd;
  data.log_correlation = sds > 0.0 ? std::clamp(of(0, 1) / sds, -0.9999, 0.9999) : 0.0;
}

double chances_of_slips(const PlayerData& data) {
  const SlipPrior& prior = data.slips;
  double sum = 0.0;
  for (const ReadingData& reading : data.readings) {
    const double marks = reading.mark_count;
    const double share = reading.checked ? checked_share : 1.0;
    sum += share * (marks == 1.0  ? 1.0 + prior.start_share
                    : marks > 1.0 ? marks + prior.start_share + (marks - 2.0) * prior.lost_share + prior.slow_share
                                  : 0.0);
  }
  return sum;
}

PriorOfTerms prior_of_terms(const PlayerData& data, std::span<const std::uint32_t> terms,
                            std::span<const double> coefficients) {
  PriorOfTerms out;
  const auto weight = [&](std::size_t i) { return coefficients.empty() ? 1.0 : coefficients[i]; };
  for (std::size_t i = 0; i < terms.size(); ++i) {
    const std::uint32_t k = terms[i];
    if (!data.term_slopes.empty()) {
      out.on_log_top_speed += weight(i) * data.term_slopes.at(2 * k);
      out.on_log_time_constant += weight(i) * data.term_slopes.at(2 * k + 1);
    }
    for (std::size_t j = 0; j < terms.size(); ++j) {
      const std::uint32_t l = terms[j];
      const double correlation = k == l                          ? 1.0
                                 : data.term_correlation.empty() ? 0.0
                                                                 : data.term_correlation.at(k * data.terms.size() + l);
      out.variance_given_sprint += weight(i) * weight(j) * correlation * data.terms.at(k).sd * data.terms.at(l).sd;
    }
  }
  return out;
}

double prior_variance_of_terms(const PlayerData& data, std::span<const std::uint32_t> terms) {
  const PriorOfTerms prior = prior_of_terms(data, terms);
  const double by_speed = prior.on_log_top_speed * data.log_top_speed.sd;
  const double by_constant = prior.on_log_time_constant * data.log_time_constant.sd;
  return prior.variance_given_sprint + by_speed * by_speed + by_constant * by_constant +
         2.0 * data.log_correlation * by_speed * by_constant;
}

}  // namespace bagsplit::inference
