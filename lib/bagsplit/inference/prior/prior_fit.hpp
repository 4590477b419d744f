#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "bagsplit/inference/prior/model.hpp"
#include "bagsplit/runs/player.hpp"

/// How the priors were fitted to the published tables and how well they give them back: kept in
/// data/models/sprint-prior-fit.json, written with the coefficients by the program tests/sprint_prior.
namespace bagsplit::inference {

/// Something that was not known of the tables and was fitted along.
struct PriorUnknown {
  std::string name;     ///< a key
  std::string meaning;  ///< in words
  std::string unit;     ///< empty: a share
  Normal before, after;
};

/// A published figure and what the priors say of it.
struct PriorResidual {
  std::string table;  ///< "norms/sprint-50m-japan-fy2017.csv", or the table and the group in it
  runs::Sex sex{};
  double age_yr = 0.0;
  double distance_m = 0.0;
  double published_s = 0.0;
  double derived_s = 0.0;        ///< as that survey would have measured it
  double without_shift_s = 0.0;  ///< the same, had the survey not been given its own population; means only
  double error_pct() const { return 100.0 * (derived_s / published_s - 1.0); }
  double error_without_shift_pct() const { return 100.0 * (without_shift_s / published_s - 1.0); }
};

struct PriorFit {
  std::vector<PriorUnknown> unknowns;
  std::vector<PriorResidual> means;    ///< 20 m and 50 m of school children
  std::vector<PriorResidual> gates;    ///< splits of squads, each squad with a top speed of its own
  std::vector<PriorResidual> spreads;  ///< SDs between children
};

/// The fit compiled into the library.
PriorFit prior_fit();

std::string write_prior_fit(const PriorFit& fit);
/// @throws std::runtime_error naming what is wrong.
PriorFit read_prior_fit(std::string_view text);

}  // namespace bagsplit::inference
