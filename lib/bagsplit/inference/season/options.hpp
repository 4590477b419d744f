#pragma once

#include <array>
#include <optional>

/// Priors of the season model: shares of moving time unless a unit says otherwise. Sources: README.md.
namespace bagsplit::season {

/// SDs that the season itself tells.
struct Scales {
  double evening_sd = 0.005;  ///< whole squad, evening to evening
  double form_sd = 0.012;     ///< a child's day
  double effort_sd = 0.02;    ///< run to run
  double slope_sd = 0.02;     ///< of a line through the season: stands for changes while the others are fitted
};

struct SlipPrior {
  double rate = 0.005;          ///< of readings
  double evening_rate = 0.005;  ///< of a child's evenings: all its times of one evening, as with a wrong bib; 0: never
  double rate_weight = 200.0;   ///< the rate counts as so many readings
  double sd_s = 0.6;
  int passes = 3;  ///< 0: no reading is suspected
};

struct Options {
  double growth_sd_per_yr = 0.02;       ///< a child's own growth rate about that of its age and sex
  double unknown_age_sd_per_yr = 0.02;  ///< further, where the age is not known
  bool straight_growth = false;         ///< one rate all season, that at its end, in place of the curve by age
  double squad_growth_sd_per_yr = 0.015;
  double squad_training_sd = 0.010;  ///< of the whole squad in 12 weeks; its variance grows with time
  double level_sd = 0.25;            ///< a child's level on a course about its own median
  double ground_sd = 0.03;
  double wind_factor_sd = 0.20;
  double drag_scale = 0.77;
  double typical_height_m = 1.45;
  double typical_mass_kg = 38.0;
  double reaction_s = 0.32;
  double least_moving_time_s = 0.5;

  double evening_scale = 0.010;  ///< of the half-normal prior of Scales::evening_sd
  double form_median = 0.012;    ///< of the log-normal prior of Scales::form_sd
  double effort_median = 0.02;
  double log_sd = 0.5;                ///< of both log-normal priors
  double slope_scale = 0.03;          ///< of the half-normal prior of Scales::slope_sd
  std::optional<Scales> scales = {};  ///< known: not estimated and evening_sd not integrated over

  SlipPrior slips = {};

  std::optional<double> share_changed = {};  ///< known, 0 to 1: not learnt
  double share_a = 2.0, share_b = 6.0;       ///< of the beta prior of the share that changed
  double faster_share = 0.7;                 ///< of changes
  double line_share = 0.7;                   ///< changes through the season; the others are steps between two dates
  std::array<double, 3> sizes = {0.02, 0.035, 0.06};
  double size_rel_sd = 0.5;
  /// Lets a change be of top speed or of first acceleration alone as well: what several courses may tell apart.
  bool parts = false;
  double parts_share = 0.5;  ///< with `parts`: of changes that are one of the two

  double interval_odds = 4.0;  ///< prior odds of a change that intervals are drawn with
  double worth = 0.01;         ///< a change worth telling
  double interval_level = 0.9;
  unsigned threads = 1;  ///< 0: as many as the machine has; answers are the same
};

}  // namespace bagsplit::season
