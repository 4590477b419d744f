#pragma once

#include <array>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "bagsplit/inference/prior/model.hpp"
#include "bagsplit/runs/player.hpp"

/// What is believed of a player's sprint before any run is seen: priors for log V, log tau and RT by age and sex. The
/// coefficients are derived from the published tables by a program (tests/sprint_prior) and kept in
/// data/models/sprint-prior.json; how well they give the tables back: prior_fit.hpp; why so: priors.md.
namespace bagsplit::inference {

struct SprintPrior {
  Normal log_top_speed;                 ///< log V, V in m/s; between children
  Normal log_first_acceleration;        ///< log A, A = V/tau in m/s2; between children
  double log_correlation = 0.0;         ///< of the two; 0 but where ages or sexes are pooled
  double log_top_speed_level_sd = 0.0;  ///< doubt of the means, shared by all children
  double log_first_acceleration_level_sd = 0.0;
  Normal log_time_constant;   ///< log tau, tau in s: what the two make of it
  Normal late_slowing_per_s;  ///< k, between children
  double late_slowing_level_sd_per_s = 0.0;
  Normal reaction_s;                                          ///< RT, signal to first move, whole body
  std::map<std::string, Normal, std::less<>> posture_cost_s;  ///< G for split, crouch, prone, swing (standing is 0)
  Normal swing_finish_s;                                      ///< C, for contact starts
  std::string source;  ///< a few sentences: which tables, what was pooled or widened
};

/// What is believed of (log V, log tau): a mean, a covariance between children, and a covariance of the level, shared
/// by all children of a squad.
struct LogSprint {
  std::array<double, 2> mean{};
  std::array<std::array<double, 2>, 2> covariance{};
  std::array<std::array<double, 2>, 2> level_covariance{};

  /// Of log V and log tau between children.
  double correlation() const;
};
LogSprint log_sprint(const SprintPrior& prior);

/// The prior with what a model file says of V, tau, A and their correlation in its place. What the file gives is taken
/// as known of each player: the level's doubt goes with what it replaces.
SprintPrior with_model(SprintPrior prior, const ModelFile::Prior& model);

/// Means at ages, to be joined by a curve. Ages ascending.
struct AgeCurve {
  std::vector<double> age_yr;
  std::vector<double> value;
};

/// The numbers behind sprint_prior. Curves are held at their first and last age.
struct PriorCoefficients {
  AgeCurve log_top_speed_female, log_top_speed_male;  ///< cubic spline, natural at the first age, flat at the last
  AgeCurve log_time_constant_female, log_time_constant_male;  ///< straight lines, as all that follow
  AgeCurve log_top_speed_sd_female, log_top_speed_sd_male;    ///< between children
  AgeCurve log_first_acceleration_sd;
  AgeCurve log_top_speed_level_sd, log_first_acceleration_level_sd;  ///< doubt of the means, shared by all
  double adult_log_top_speed_sd = 0.0;                               ///< between adults, from 18 years on
  double adult_log_first_acceleration_sd = 0.0;
  Normal late_slowing_per_s;  ///< between children, at every age
  double late_slowing_level_sd_per_s = 0.0;
  double reaction_held_from_yr = 0.0;  ///< the line of simple reactions is held from this age on
  double reaction_allowance_s = 0.0;   ///< whole-body start against a key press, mean
  double reaction_allowance_sd_s = 0.0;
  double reaction_between_cv = 0.0;  ///< between children of one age, share of the mean
  std::map<std::string, Normal, std::less<>> posture_cost_s;
  Normal swing_finish_s;
};

/// Prior for a player from given coefficients.
///
/// Without sex the two sexes are pooled, without age 6-18 years: mean and SD of the mixture, and `source` says so.
/// Below 6 the values at 6 hold, wider by a tenth of the SD per year. From 18 on the adult prior: the curves' last
/// values, wider.
/// @param age_years >= 0, finite.   @throws std::domain_error.   Cost: some microseconds, no I/O.
SprintPrior sprint_prior(const PriorCoefficients& coefficients, std::optional<double> age_years,
                         std::optional<runs::Sex> sex);

/// The same with the coefficients compiled into the library (read on the first call, then kept).
SprintPrior sprint_prior(std::optional<double> age_years, std::optional<runs::Sex> sex);

/// Mean of RT by age [s]: the auditory line plus the allowance for a whole-body start.
double reaction_mean_s(const PriorCoefficients& coefficients, double age_yr);

/// Value of a curve at an age: cubic spline (natural at the first age, flat at the last), or straight lines.
/// @throws std::invalid_argument for a curve without ages, or of another number of values.
double spline_at(const AgeCurve& curve, double age_yr);
double line_at(const AgeCurve& curve, double age_yr);

/// The coefficients as JSON text, every digit, and back. Problems of the text are collected.
std::string write_prior(const PriorCoefficients& coefficients);
std::optional<PriorCoefficients> read_prior(std::string_view text, std::string_view path, text::Problems& problems);

}  // namespace bagsplit::inference
