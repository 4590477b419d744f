#pragma once

#include <string>

#include "bagsplit/inference/prior/prior.hpp"
#include "bagsplit/inference/prior/prior_fit.hpp"

/// Works the priors out from the published tables in data/norms: lib/bagsplit/inference/prior/priors.md. Run when these
/// change; what it gives is kept in data/models.
namespace bagsplit::inference::derivation {

struct Derived {
  PriorCoefficients coefficients;
  PriorFit fit;
  bool converged = false;
};

/// @param norms  the folder of the tables.  @throws std::runtime_error when one is missing or lacks a row.
Derived derive(const std::string& norms);

}  // namespace bagsplit::inference::derivation
