#pragma once

#include <optional>
#include <string>

#include "bagsplit/norms/catalogue.hpp"

/// How far times vary between and within children, and reaction by age. What growing up does to a sprint time:
/// inference/season/growth.hpp.
namespace bagsplit::norms {

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
