#pragma once

#include <string>
#include <vector>

#include "bagsplit/motion/curve.hpp"
#include "bagsplit/norms/catalogue.hpp"
#include "bagsplit/sprint/prior.hpp"

/// How the priors for log V and log tau are worked out from the published tables, and how well they give them back.
///
/// A published mean is   T(d) + [signal] (RT + hand-timing bias) + rounding,   with T(d) = t(d + x0) - t(x0) for gates.
///
///   1. Shape. The junior athletics squads (13-18 y) have 10, 30 and 60 m. One tau for each sex, one V for each squad,
///   age
///      and sex, least squares in log time weighted by the number of athletes.
///   2. Level. log V by age and sex is a cubic spline through knots, log tau a line from a child's value (8 and under)
///   to
///      the squads' (14 and over); least squares in log time on the means of 20 m (Germany, 8.1-9.1 y) and 50 m (Japan,
///      6.8-17.8 y). The two surveys may differ from the common curve by a share of the time each (SD 0.5 %), Japan's
///      only for the youngest, who slow down before 50 m; the child's tau is held near the squads' (SD 0.3 of log tau).
///   3. Spread. The published SDs between children at 20 and 50 m (8-9 y) give the two SDs there, those at 10 yd and 50
///   m
///      (about 14 y) give them there, and the SD at 50 m gives that of log V at every age.
///
/// Gauss-Newton throughout, with analytic derivatives. Known dangers: priors.md.
namespace bagsplit::sprint {

/// One published mean and what the derived curve says of it.
struct PriorResidual {
  std::string source;  ///< table
  runs::Sex sex{};
  double age_yr = 0.0;
  double distance_m = 0.0;
  double published_s = 0.0;
  double predicted_s = 0.0;  ///< as that survey would have measured it
  double error_pct() const { return 100.0 * (predicted_s / published_s - 1.0); }
};

/// One published SD between children and what the derived prior says of it.
struct PriorSpread {
  std::string source;
  runs::Sex sex{};
  double age_yr = 0.0;
  double distance_m = 0.0;
  double published_s = 0.0;
  double predicted_s = 0.0;  ///< hand-timing scatter and differences in reaction included, where the survey has them
  double error_pct() const { return 100.0 * (predicted_s / published_s - 1.0); }
};

struct DerivedPrior {
  PriorCoefficients coefficients;
  std::vector<PriorResidual> means;     ///< 20 m and 50 m
  std::vector<PriorResidual> squads;    ///< 10, 30, 60 m, all three fitted
  std::vector<PriorResidual> left_out;  ///< 10, 30, 60 m, each predicted from the other two
  std::vector<PriorSpread> spreads;
  double germany_shift = 0.0;  ///< log time: the German survey against the common curve, fitted
  double japan_shift = 0.0;    ///< the same of the Japanese survey at 9 and under
  int iterations = 0;
  bool converged = false;
};

/// Works the coefficients out from the catalogue's tables. @throws std::invalid_argument when a table is missing.
/// Cost: a few milliseconds.
DerivedPrior derive_priors(const norms::Catalogue& catalogue);

/// Time of a sprint as a reference's survey would have measured it: see above. `reaction_s` counts on signal starts
/// only.
double time_as_measured(const motion::Sprint& sprint, double reaction_s, const norms::Conditions& conditions);

/// The residual tables as text, for people: one line a row, units in the heading.
std::string residual_tables(const DerivedPrior& derived);

}  // namespace bagsplit::sprint
