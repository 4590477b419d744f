#include "bagsplit/inference/prior/prior.hpp"

#include <algorithm>
#include <cmath>
#include <sstream>
#include <stdexcept>

#include "bagsplit/builtin/builtin.hpp"
#include "bagsplit/norms/growth.hpp"

namespace bagsplit::inference {

namespace {

using runs::Sex;

constexpr double youngest_yr = 6.0;
constexpr double adult_yr = 18.0;
constexpr double widening_per_year = 0.1;  // of the SD, for each year below the youngest age

// The independent Gaussians of one age and sex.
struct Part {
  Normal log_top_speed, log_first_acceleration, reaction_s;
};

double squared(double x) {
  return x * x;
}

double simple_reaction_s(const PriorCoefficients& c, double age_yr) {
  return norms::auditory_reaction_s(std::min(age_yr, c.reaction_held_from_yr));
}

Part part_at(const PriorCoefficients& c, double age_yr, Sex sex) {
  const bool girl = sex == Sex::female;
  const bool adult = age_yr >= adult_yr;
  const double widen = 1.0 + widening_per_year * std::max(0.0, youngest_yr - age_yr);
  Part part;
  part.log_top_speed.mean = spline_at(girl ? c.log_top_speed_female : c.log_top_speed_male, age_yr);
  part.log_top_speed.sd = widen * (adult ? c.adult_log_top_speed_sd
                                         : line_at(girl ? c.log_top_speed_sd_female : c.log_top_speed_sd_male, age_yr));
  part.log_first_acceleration.mean =
      part.log_top_speed.mean - line_at(girl ? c.log_time_constant_female : c.log_time_constant_male, age_yr);
  part.log_first_acceleration.sd =
      widen * (adult ? c.adult_log_first_acceleration_sd : line_at(c.log_first_acceleration_sd, age_yr));
  part.reaction_s.mean = reaction_mean_s(c, age_yr);
  part.reaction_s.sd =
      widen * std::hypot(c.reaction_between_cv * simple_reaction_s(c, age_yr), c.reaction_allowance_sd_s);
  return part;
}

// Mean and SD of an equal mixture.
Normal mixed(const std::vector<Part>& parts, Normal Part::*which) {
  const double n = static_cast<double>(parts.size());
  Normal out;
  for (const Part& part : parts) {
    out.mean += (part.*which).mean / n;
  }
  double variance = 0.0;
  for (const Part& part : parts) {
    variance += (squared((part.*which).sd) + squared((part.*which).mean - out.mean)) / n;
  }
  out.sd = std::sqrt(variance);
  return out;
}

// Covariance of log V and log A in the mixture: independent within each part.
double mixed_covariance(const std::vector<Part>& parts, double top_speed_mean, double acceleration_mean) {
  double sum = 0.0;
  for (const Part& part : parts) {
    sum += (part.log_top_speed.mean - top_speed_mean) * (part.log_first_acceleration.mean - acceleration_mean);
  }
  return sum / static_cast<double>(parts.size());
}

// log tau = log V - log A.
Normal time_constant_of(const SprintPrior& prior) {
  const Normal& v = prior.log_top_speed;
  const Normal& a = prior.log_first_acceleration;
  const double variance = squared(v.sd) + squared(a.sd) - 2.0 * prior.log_correlation * v.sd * a.sd;
  return {v.mean - a.mean, std::sqrt(std::max(0.0, variance))};
}

std::string source_words(std::optional<double> age, std::optional<Sex> sex) {
  std::string text =
      "Top speed and first acceleration from the 20 m times of German and the 50 m times of Japanese school children "
      "and from the splits of youth squads; reaction from simple reactions to a sound by age, with an allowance for a "
      "whole-body start.";
  if (!sex) {
    text += " Girls and boys pooled: no sex was given.";
  }
  if (!age) {
    text += " Ages 6 to 18 pooled, so it is wide: no age was given.";
  } else if (*age < youngest_yr) {
    text += " Nothing is published below 6 years: the values at 6, widened.";
  } else if (*age >= adult_yr) {
    text += " Adults: the values at the end of school age, widened to hold college and elite runners.";
  }
  return text;
}

PriorCoefficients builtin_coefficients() {
  text::Problems problems;
  const std::string name = "models/sprint-prior.json";
  const auto text = builtin::text(name);
  auto made = text ? read_prior(*text, name, problems) : std::nullopt;
  if (!made) {
    throw std::logic_error("sprint_prior: the embedded coefficients are missing or broken; this is a bug in bagsplit");
  }
  return *std::move(made);
}

void check_curve(const AgeCurve& curve) {
  if (curve.age_yr.empty() || curve.age_yr.size() != curve.value.size()) {
    std::ostringstream text;
    text << "an age curve has " << curve.age_yr.size() << " ages and " << curve.value.size()
         << " values, but must have as many values as ages, at least 1";
    throw std::invalid_argument(text.str());
  }
}

}  // namespace

double line_at(const AgeCurve& curve, double age_yr) {
  check_curve(curve);
  const auto& x = curve.age_yr;
  const auto& y = curve.value;
  if (age_yr <= x.front()) {
    return y.front();
  }
  if (age_yr >= x.back()) {
    return y.back();
  }
  const auto above = static_cast<std::size_t>(std::upper_bound(x.begin(), x.end(), age_yr) - x.begin());
  return std::lerp(y[above - 1], y[above], (age_yr - x[above - 1]) / (x[above] - x[above - 1]));
}

double spline_at(const AgeCurve& curve, double age_yr) {
  check_curve(curve);
  const auto& x = curve.age_yr;
  const auto& y = curve.value;
  const std::size_t n = x.size();
  if (n < 3) {
    return line_at(curve, age_yr);
  }
  const double at = std::clamp(age_yr, x.front(), x.back());
  // Second derivatives m at the knots: m = 0 at the first, slope 0 at the last; tridiagonal, solved by elimination.
  std::vector<double> upper(n), m(n);
  for (std::size_t i = 1; i < n; ++i) {
    const double h = x[i] - x[i - 1];
    const bool last = i + 1 == n;
    const double next = last ? 0.0 : x[i + 1] - x[i];
    const double diagonal = (last ? h / 3.0 : (h + next) / 3.0) - h / 6.0 * upper[i - 1];
    const double slope = (y[i] - y[i - 1]) / h;
    const double right = (last ? -slope : (y[i + 1] - y[i]) / next - slope) - h / 6.0 * m[i - 1];
    upper[i] = next / 6.0 / diagonal;
    m[i] = right / diagonal;
  }
  for (std::size_t i = n - 1; i-- > 0;) {
    m[i] -= upper[i] * m[i + 1];
  }
  const auto it = std::upper_bound(x.begin() + 1, x.end() - 1, at);
  const auto above = static_cast<std::size_t>(it - x.begin());
  const double h = x[above] - x[above - 1];
  const double a = (x[above] - at) / h;
  const double b = 1.0 - a;
  return a * y[above - 1] + b * y[above] + ((a * a * a - a) * m[above - 1] + (b * b * b - b) * m[above]) * h * h / 6.0;
}

double reaction_mean_s(const PriorCoefficients& coefficients, double age_yr) {
  return simple_reaction_s(coefficients, age_yr) + coefficients.reaction_allowance_s;
}

SprintPrior sprint_prior(const PriorCoefficients& coefficients, std::optional<double> age_years,
                         std::optional<runs::Sex> sex) {
  if (age_years && (!std::isfinite(*age_years) || *age_years < 0.0)) {
    std::ostringstream text;
    text << "sprint_prior: age_years is " << *age_years << ", but must be finite and at least 0";
    throw std::domain_error(text.str());
  }
  std::vector<Part> parts;
  for (const Sex one : {Sex::female, Sex::male}) {
    if (sex && *sex != one) {
      continue;
    }
    if (age_years) {
      parts.push_back(part_at(coefficients, *age_years, one));
      continue;
    }
    for (double age_yr = youngest_yr; age_yr < adult_yr; age_yr += 0.5) {
      parts.push_back(part_at(coefficients, age_yr, one));
    }
  }
  SprintPrior prior;
  if (parts.size() == 1) {
    prior.log_top_speed = parts[0].log_top_speed;
    prior.log_first_acceleration = parts[0].log_first_acceleration;
    prior.reaction_s = parts[0].reaction_s;
  } else {
    prior.log_top_speed = mixed(parts, &Part::log_top_speed);
    prior.log_first_acceleration = mixed(parts, &Part::log_first_acceleration);
    prior.reaction_s = mixed(parts, &Part::reaction_s);
    prior.log_correlation = mixed_covariance(parts, prior.log_top_speed.mean, prior.log_first_acceleration.mean) /
                            (prior.log_top_speed.sd * prior.log_first_acceleration.sd);
  }
  const double level_age_yr = age_years.value_or(youngest_yr);  // without an age the largest doubt of any
  prior.log_top_speed_level_sd = line_at(coefficients.log_top_speed_level_sd, level_age_yr);
  prior.log_first_acceleration_level_sd = line_at(coefficients.log_first_acceleration_level_sd, level_age_yr);
  prior.log_time_constant = time_constant_of(prior);
  prior.late_slowing_per_s = coefficients.late_slowing_per_s;
  prior.late_slowing_level_sd_per_s = coefficients.late_slowing_level_sd_per_s;
  prior.posture_cost_s = coefficients.posture_cost_s;
  prior.swing_finish_s = coefficients.swing_finish_s;
  prior.source = source_words(age_years, sex);
  return prior;
}

double LogSprint::correlation() const {
  const double sds = std::sqrt(covariance[0][0] * covariance[1][1]);
  return sds > 0.0 ? covariance[0][1] / sds : 0.0;
}

LogSprint log_sprint(const SprintPrior& prior) {
  // log tau = log V - log A: the same map for what differs between children and for the level.
  const auto mapped = [](double v_sd, double a_sd, double correlation) {
    const double v = squared(v_sd);
    const double va = correlation * v_sd * a_sd;
    return std::array<std::array<double, 2>, 2>{{{v, v - va}, {v - va, v + squared(a_sd) - 2.0 * va}}};
  };
  return {{prior.log_top_speed.mean, prior.log_top_speed.mean - prior.log_first_acceleration.mean},
          mapped(prior.log_top_speed.sd, prior.log_first_acceleration.sd, prior.log_correlation),
          mapped(prior.log_top_speed_level_sd, prior.log_first_acceleration_level_sd, 0.0)};
}

SprintPrior with_model(SprintPrior prior, const ModelFile::Prior& model) {
  if (model.late_slowing_per_s) {
    prior.late_slowing_per_s = *model.late_slowing_per_s;
    prior.late_slowing_level_sd_per_s = 0.0;
  }
  if (!model.log_top_speed && !model.log_time_constant && !model.log_first_acceleration && !model.log_correlation) {
    return prior;
  }
  if (model.log_top_speed) {
    prior.log_top_speed = *model.log_top_speed;
    prior.log_top_speed_level_sd = 0.0;
  }
  if (model.log_time_constant) {
    // log A = log V - log tau; the file's correlation, or none, is of log V and log tau.
    const Normal& v = prior.log_top_speed;
    const Normal& t = *model.log_time_constant;
    const double vt = model.log_correlation.value_or(0.0) * v.sd * t.sd;
    prior.log_first_acceleration = {v.mean - t.mean, std::sqrt(squared(v.sd) + squared(t.sd) - 2.0 * vt)};
    const double sds = v.sd * prior.log_first_acceleration.sd;
    prior.log_correlation = sds > 0.0 ? std::clamp((squared(v.sd) - vt) / sds, -1.0, 1.0) : 0.0;
    prior.log_first_acceleration_level_sd = 0.0;
    prior.log_time_constant = t;
    return prior;
  }
  if (model.log_first_acceleration) {
    prior.log_first_acceleration = *model.log_first_acceleration;
    prior.log_first_acceleration_level_sd = 0.0;
  }
  if (model.log_correlation || model.log_first_acceleration) {
    prior.log_correlation = model.log_correlation.value_or(0.0);
  }
  prior.log_time_constant = time_constant_of(prior);
  return prior;
}

SprintPrior sprint_prior(std::optional<double> age_years, std::optional<runs::Sex> sex) {
  static const PriorCoefficients coefficients = builtin_coefficients();
  return sprint_prior(coefficients, age_years, sex);
}

}  // namespace bagsplit::inference
