#pragma once

#include <optional>
#include <string>

#include "bagsplit/norms/catalogue.hpp"

/// What growing up alone does to a sprint time, and how far times vary between and within children.
namespace bagsplit::norms {

/// Expected change of a moving time between two ages, growth alone.
struct ExpectedChange {
  double change_s = 0.0;    ///< negative is faster; NaN never
  double change_pct = 0.0;  ///< of the time at the age it is counted from
  double sd_s = 0.0;        ///< what is not known of one child's growth
  std::string source;       ///< where it comes from
};

/// SD of one child's yearly growth about the table, as a share of the time: 2% between children and 1.5% of the whole
/// squad (data/norms/growth-rates.csv).
inline constexpr double growth_rate_sd = 0.025;

/// By the table of yearly rates, one for all distances, so that growth cannot disagree between them; nothing below 5
/// years. Grown up at 18.
/// @param time_s  the child's time from the first move, at age_from_yr.
std::optional<ExpectedChange> expected_change(const Catalogue& catalogue, runs::Sex sex, double age_from_yr,
                                              double age_to_yr, double time_s);

/// Published SD of times between children of one age and sex, nearest table row at that distance.
struct Spread {
  double sd_s = 0.0;
  double cv = 0.0;  ///< sd / mean
  std::string source;
};
std::optional<Spread> between_children(const Catalogue& catalogue, double distance_m, runs::Sex sex, double age_yr);

/// Published typical error of one test (within-person SD) as a share of the time, the largest at the nearest distance.
/// All sources are 12 or older; for younger children the larger of that and the general range (5 % to 15 m, 3 % beyond)
/// is given and `source` says so.
struct TypicalError {
  double cv = 0.0;  ///< SD / time
  std::string source;
};
TypicalError within_child(const Catalogue& catalogue, double distance_m, std::optional<runs::Sex> sex,
                          std::optional<double> age_yr);

/// Simple auditory reaction by age, mean [s]: 1.7254 age^-0.8147, held below 5 and above 16.
/// Source: line through the two published points, Dev Med Child Neurol 26(4):490-494 (1984).
double auditory_reaction_s(double age_yr);

}  // namespace bagsplit::norms
