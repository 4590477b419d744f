#pragma once

#include <string>

#include "bagsplit/present/display.hpp"
#include "bagsplit/sprint/prior_derivation.hpp"

/// What is believed of a player before any run is seen, by age and sex, and how well it gives the published tables
/// back.
namespace bagsplit::present {

/// Tables of V, tau, V/tau and RT by age and sex, then the residuals of the derivation.
std::string priors_text(const sprint::DerivedPrior& derived, const TextOptions& options);
/// One row an age and sex: means and SDs of the priors; units in the names of the columns.
std::string priors_csv(const sprint::DerivedPrior& derived);
/// Schema "bagsplit.norms-priors/1": priors by age and sex, residuals in log time as percentages.
std::string priors_json(const sprint::DerivedPrior& derived);

}  // namespace bagsplit::present
