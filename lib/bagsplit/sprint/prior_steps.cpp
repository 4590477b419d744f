#include "bagsplit/sprint/prior_steps.hpp"

#include <Eigen/Dense>
#include <cmath>
#include <stdexcept>
#include <string>

namespace bagsplit::sprint::derivation {

namespace {

using norms::Catalogue;
using norms::Conditions;
using norms::Row;
using norms::Table;
using runs::Sex;

Slopes from_rest(const motion::Sprint& sprint, double distance_m) {
  Slopes out;
  if (distance_m <= 0.0) {
    return out;
  }
  const double tau = sprint.time_constant_s;
  const double a = distance_m / (sprint.top_speed_mps * tau);
  const double u = motion::dimensionless_time(a);
  const double q = a / -std::expm1(-u);  // a du/da
  out.time_s = tau * u;
  out.by_log_speed = -tau * q;
  out.by_log_tau = tau * (u - q);
  return out;
}

}  // namespace

const Table& need(const Catalogue& catalogue, std::string_view name) {
  const Table* table = catalogue.table(name);
  if (table == nullptr) {
    throw std::invalid_argument("derive_priors: the table " + std::string(name) + " is not in the catalogue");
  }
  return *table;
}

const norms::Norm& need_norm(const Catalogue& catalogue, std::string_view id) {
  const norms::Norm* norm = catalogue.find(id);
  if (norm == nullptr) {
    throw std::invalid_argument("derive_priors: the reference " + std::string(id) + " is not in the catalogue");
  }
  return *norm;
}

double value_of(const Table& table, Sex sex, double age_lo_yr, std::string_view statistic) {
  for (const Row& row : table.rows) {
    if (row.sex == sex && row.age_lo_yr == age_lo_yr && row.statistic == statistic && row.value) {
      return *row.value;
    }
  }
  throw std::invalid_argument("derive_priors: " + table.name + " lacks a row of '" + std::string(statistic) + "'");
}

Slopes slopes(const motion::Sprint& sprint, double distance_m, double start_offset_m) {
  const Slopes whole = from_rest(sprint, distance_m + start_offset_m);
  const Slopes before = from_rest(sprint, start_offset_m);
  return {whole.time_s - before.time_s, whole.by_log_speed - before.by_log_speed, whole.by_log_tau - before.by_log_tau};
}

motion::Sprint mean_sprint(const PriorCoefficients& c, Sex sex, double age_yr) {
  const bool girl = sex == Sex::female;
  return {std::exp(spline_at(girl ? c.log_top_speed_female : c.log_top_speed_male, age_yr)),
          std::exp(line_at(girl ? c.log_time_constant_female : c.log_time_constant_male, age_yr))};
}

double added_s(double reaction_s, const Conditions& conditions) {
  return (conditions.signal_start ? reaction_s : 0.0) + conditions.timing_bias_mean_s + conditions.rounding_bias_s;
}

bool gauss_newton(Eigen::VectorXd& x, int& iterations,
                  const std::function<void(const Eigen::VectorXd&, Eigen::VectorXd&, Eigen::MatrixXd&)>& model) {
  Eigen::VectorXd r, r_new;
  Eigen::MatrixXd j, j_new;
  model(x, r, j);
  for (iterations = 1; iterations <= 100; ++iterations) {
    const Eigen::VectorXd step = j.colPivHouseholderQr().solve(r);
    double length = 1.0;
    for (; length > 1e-6; length *= 0.5) {
      model(x - length * step, r_new, j_new);
      if (r_new.squaredNorm() <= r.squaredNorm() * (1.0 + 1e-14)) {
        break;
      }
    }
    x -= length * step;
    std::swap(r, r_new);
    std::swap(j, j_new);
    if (length * step.lpNorm<Eigen::Infinity>() < 1e-11) {
      return true;
    }
  }
  return false;
}

}  // namespace bagsplit::sprint::derivation
