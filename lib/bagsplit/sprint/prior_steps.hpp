#pragma once

#include <Eigen/Core>
#include <functional>
#include <string_view>

#include "bagsplit/motion/curve.hpp"
#include "bagsplit/norms/catalogue.hpp"
#include "bagsplit/sprint/prior_derivation.hpp"

/// The steps of derive_priors, and what they share. Not for use outside the derivation.
namespace bagsplit::sprint::derivation {

/// A table or reference of the catalogue. @throws std::invalid_argument when it is not there.
const norms::Table& need(const norms::Catalogue& catalogue, std::string_view name);
const norms::Norm& need_norm(const norms::Catalogue& catalogue, std::string_view id);

/// One figure of a table. @throws std::invalid_argument when it is not there.
double value_of(const norms::Table& table, runs::Sex sex, double age_lo_yr, std::string_view statistic);

/// A time to a distance and its slopes in log V and log tau.
struct Slopes {
  double time_s = 0.0, by_log_speed = 0.0, by_log_tau = 0.0;
};

/// t(d + x0) - t(x0) with its slopes. With a = d/(V tau) and u = t/tau: dt/dlog V = -tau a/(1 - exp(-u)),
/// dt/dlog tau = tau (u - a/(1 - exp(-u))).
Slopes slopes(const motion::Sprint& sprint, double distance_m, double start_offset_m);

/// The sprint at the means of the priors.
motion::Sprint mean_sprint(const PriorCoefficients& coefficients, runs::Sex sex, double age_yr);

/// What a survey adds to the running time: reaction on a signal, timing bias, rounding.
double added_s(double reaction_s, const norms::Conditions& conditions);

/// Gauss-Newton with step halving; `model` fills residuals and their Jacobian. True when the last step was below 1e-11.
bool gauss_newton(Eigen::VectorXd& x, int& iterations,
                  const std::function<void(const Eigen::VectorXd&, Eigen::VectorXd&, Eigen::MatrixXd&)>& model);

/// Ages between which log tau runs in a straight line from the child's value to the squads'; held beyond.
inline constexpr double child_tau_until_yr = 8.0;
inline constexpr double squad_tau_from_yr = 14.0;

void set_constants(const norms::Catalogue& catalogue, PriorCoefficients& coefficients);
void fit_shape(const norms::Catalogue& catalogue, DerivedPrior& derived);   ///< step 1
void fit_level(const norms::Catalogue& catalogue, DerivedPrior& derived);   ///< step 2
void fit_spread(const norms::Catalogue& catalogue, DerivedPrior& derived);  ///< step 3

}  // namespace bagsplit::sprint::derivation
