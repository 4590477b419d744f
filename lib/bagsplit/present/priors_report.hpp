#pragma once

#include <string>

#include "bagsplit/inference/prior/prior_fit.hpp"
#include "bagsplit/text/display.hpp"

/// What is believed of a player before any run is seen, by age and sex, and how well it gives the published tables
/// back.
namespace bagsplit::present {

/// Tables of V, A, tau and RT by age and sex, both SDs, then how the fit gives the published tables back.
std::string priors_text(const inference::PriorFit& fit, const text::TextOptions& options);
/// One row an age and sex: means and SDs of the priors; units in the names of the columns.
std::string priors_csv();
/// Schema "bagsplit.norms-priors/2": priors by age and sex, the fit's unknowns and residuals as percentages.
std::string priors_json(const inference::PriorFit& fit);

}  // namespace bagsplit::present
