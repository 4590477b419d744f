#pragma once

#include <string>

#include "bagsplit/sprint/prior.hpp"
#include "bagsplit/sprint/prior_fit.hpp"

/// Works the priors out from the published tables in data/norms: lib/bagsplit/sprint/priors.md. Run when these change;
/// what it gives is kept in data/models.
namespace bagsplit::sprint::derivation {

struct Derived {
  PriorCoefficients coefficients;
  PriorFit fit;
  bool converged = false;
};

/// @param norms  the folder of the tables.  @throws std::runtime_error when one is missing or lacks a row.
Derived derive(const std::string& norms);

}  // namespace bagsplit::sprint::derivation
