#include "bagsplit/sprint/prior_steps.hpp"

#include <algorithm>
#include <cmath>
#include <string>
#include <vector>

namespace bagsplit::sprint::derivation {

namespace {

using norms::Catalogue;
using norms::Conditions;
using norms::Row;
using norms::Table;
using runs::Sex;

// Choices that the tables do not make; each is argued in priors.md.
constexpr double germany_cell_sd = 0.004;  // log time: how far one published mean may lie off the common curve
constexpr double japan_cell_sd = 0.006;
constexpr double survey_shift_sd = 0.005;    // log time: how far a whole survey may
constexpr double shift_full_until_yr = 9.0;  // Japan's shift is for the youngest, who slow down before 50 m
constexpr double shift_gone_from_yr = 12.0;
constexpr double child_tau_sd = 0.3;  // log tau of a child against the squads'

// Ages at which log V is free: more where boys grow fastest.
std::vector<double> knots_yr(Sex sex) {
  if (sex == Sex::female) {
    return {6.0, 8.5, 11.0, 13.0, 15.0, 18.0};
  }
  return {6.0, 8.5, 11.0, 12.6, 14.2, 15.8, 18.0};
}

struct Mean {
  std::string table;
  Sex sex{};
  double age_yr = 0.0;
  double time_s = 0.0;
  Conditions conditions;
  bool germany = false;
};

std::vector<Mean> published_means(const Catalogue& catalogue) {
  std::vector<Mean> means;
  const auto& germany = need_norm(catalogue, "sprint-20m-emotikon");
  const auto& japan = need_norm(catalogue, "sprint-50m-japan-2017");
  const auto take = [&](const char* name, const norms::Norm& norm, bool is_germany, double until_yr) {
    for (const Row& row : need(catalogue, name).rows) {
      const double lo = row.age_lo_yr.value();
      const double width = row.age_hi_yr.value() - lo;
      if (row.statistic != "mean" || !row.sex || lo >= until_yr || (is_germany && width > 0.5)) {
        continue;
      }
      const double age_yr = is_germany ? lo + 0.5 * width : lo + norm.info().age_offset_yr;
      means.push_back({name, *row.sex, age_yr, row.value.value(), norm.conditions(), is_germany});
    }
  };
  take("norms/sprint-20m-emotikon-fggk21.csv", germany, true, 100.0);
  take("norms/sprint-50m-japan-fy2017.csv", japan, false, 18.0);
  take("norms/sprint-50m-japan-fy2015.csv", japan, false, 18.0);
  return means;
}

double share_young(double age_yr) {
  return std::clamp((shift_gone_from_yr - age_yr) / (shift_gone_from_yr - shift_full_until_yr), 0.0, 1.0);
}

}  // namespace

// Unknowns in order: the girls' knots, the boys' knots, log tau of girls and of boys as children, the two shifts.
void fit_level(const Catalogue& catalogue, DerivedPrior& derived) {
  const std::vector<Mean> means = published_means(catalogue);
  PriorCoefficients& c = derived.coefficients;
  const std::vector<double> knots_female_yr = knots_yr(Sex::female);
  const std::vector<double> knots_male_yr = knots_yr(Sex::male);
  const auto n_female = static_cast<Eigen::Index>(knots_female_yr.size());
  const auto n_male = static_cast<Eigen::Index>(knots_male_yr.size());
  const Eigen::Index tau_at = n_female + n_male;
  const Eigen::Index shift_at = tau_at + 2;
  const Eigen::Index n = shift_at + 2;
  const auto m = static_cast<Eigen::Index>(means.size());

  // The spline is linear in its values: the weight of each knot at each published age.
  Eigen::MatrixXd weights = Eigen::MatrixXd::Zero(m, n);
  for (Eigen::Index i = 0; i < m; ++i) {
    const Mean& mean = means[static_cast<std::size_t>(i)];
    const bool girl = mean.sex == Sex::female;
    const auto& knots = girl ? knots_female_yr : knots_male_yr;
    for (std::size_t k = 0; k < knots.size(); ++k) {
      AgeCurve one{knots, std::vector<double>(knots.size(), 0.0)};
      one.value[k] = 1.0;
      weights(i, (girl ? 0 : n_female) + static_cast<Eigen::Index>(k)) = spline_at(one, mean.age_yr);
    }
    const double child = line_at({{child_tau_until_yr, squad_tau_from_yr}, {1.0, 0.0}}, mean.age_yr);
    weights(i, tau_at + (girl ? 0 : 1)) = child;
  }
  Eigen::VectorXd x = Eigen::VectorXd::Zero(n);
  x.head(tau_at).setConstant(std::log(6.0));
  x[tau_at] = c.log_time_constant_female.value.back();
  x[tau_at + 1] = c.log_time_constant_male.value.back();
  const Eigen::Vector2d squad_tau = x.segment(tau_at, 2);

  derived.converged =
      gauss_newton(x, derived.iterations, [&](const Eigen::VectorXd& at, Eigen::VectorXd& r, Eigen::MatrixXd& j) {
        r = Eigen::VectorXd::Zero(m + 4);
        j = Eigen::MatrixXd::Zero(m + 4, n);
        for (Eigen::Index i = 0; i < m; ++i) {
          const Mean& mean = means[static_cast<std::size_t>(i)];
          const Eigen::Index sex = mean.sex == Sex::female ? 0 : 1;
          const double child = weights(i, tau_at + sex);
          const double log_speed = weights.row(i).head(tau_at).dot(at.head(tau_at));
          const double log_tau = child * at[tau_at + sex] + (1.0 - child) * squad_tau[sex];
          const Slopes s = slopes({std::exp(log_speed), std::exp(log_tau)}, mean.conditions.distance_m,
                                  mean.conditions.start_offset_m);
          const double time_s = s.time_s + added_s(reaction_mean_s(c, mean.age_yr), mean.conditions);
          const Eigen::Index shift = shift_at + (mean.germany ? 0 : 1);
          const double share = mean.germany ? 1.0 : share_young(mean.age_yr);
          const double sd = mean.germany ? germany_cell_sd : japan_cell_sd;
          r[i] = (std::log(time_s / mean.time_s) - share * at[shift]) / sd;
          j.row(i).head(tau_at) = weights.row(i).head(tau_at) * (s.by_log_speed / time_s / sd);
          j(i, tau_at + sex) = child * s.by_log_tau / time_s / sd;
          j(i, shift) = -share / sd;
        }
        for (Eigen::Index k = 0; k < 2; ++k) {
          r[m + k] = (at[tau_at + k] - squad_tau[k]) / child_tau_sd;
          j(m + k, tau_at + k) = 1.0 / child_tau_sd;
          r[m + 2 + k] = at[shift_at + k] / survey_shift_sd;
          j(m + 2 + k, shift_at + k) = 1.0 / survey_shift_sd;
        }
      });

  c.log_top_speed_female = {knots_female_yr, {x.data(), x.data() + n_female}};
  c.log_top_speed_male = {knots_male_yr, {x.data() + n_female, x.data() + tau_at}};
  c.log_time_constant_female.value.front() = x[tau_at];
  c.log_time_constant_male.value.front() = x[tau_at + 1];
  derived.germany_shift = x[shift_at];
  derived.japan_shift = x[shift_at + 1];
  for (const Mean& mean : means) {
    derived.means.push_back(
        {mean.table, mean.sex, mean.age_yr, mean.conditions.distance_m, mean.time_s,
         time_as_measured(mean_sprint(c, mean.sex, mean.age_yr), reaction_mean_s(c, mean.age_yr), mean.conditions)});
  }
}

}  // namespace bagsplit::sprint::derivation
