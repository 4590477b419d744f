#include "bagsplit/sprint/prior_derivation.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <functional>
#include <stdexcept>

#include "bagsplit/norms/growth.hpp"

namespace bagsplit::sprint {

namespace {

using norms::Catalogue;
using norms::Conditions;
using norms::Row;
using norms::Table;
using runs::Sex;

// --- Choices that the tables do not make; each is argued in priors.md ---------------------------------------

const std::vector<double> knots_female_yr = {6.0, 8.5, 11.0, 13.0, 15.0, 18.0};
const std::vector<double> knots_male_yr = {6.0, 8.5, 11.0, 12.6, 14.2, 15.8, 18.0};  // more where boys grow fastest
const std::vector<double> variance_knots_yr = {7.0, 12.0, 17.0};
constexpr double child_tau_until_yr = 8.0;  // log tau is a line between these two ages and held beyond
constexpr double squad_tau_from_yr = 14.0;
constexpr double germany_cell_sd = 0.004;  // log time: how far one published mean may lie off the common curve
constexpr double japan_cell_sd = 0.006;
constexpr double survey_shift_sd = 0.005;    // log time: how far a whole survey may
constexpr double shift_full_until_yr = 9.0;  // Japan's shift is for the youngest, who slow down before 50 m
constexpr double shift_gone_from_yr = 12.0;
constexpr double child_tau_sd = 0.3;  // log tau of a child against the squads'
constexpr double hand_scatter_s =
    0.08;  // SD of hand minus electronic (Mann et al. 2015, doi 10.1519/JSC.0000000000000941)
constexpr double tenth_rounding_s = 0.0289;  // 0.1 s / sqrt(12)
constexpr double first_spread_yr = 8.56;     // middle of the German children's ages
constexpr double second_spread_yr = 13.8;    // Japanese pupils "aged 13"
constexpr double ten_yards_m = 9.144;
constexpr double ten_yards_start_m = 0.5;  // gates: as for the squads

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

// A time and its slopes in log V and log tau.
struct Slopes {
  double time_s = 0.0, by_log_speed = 0.0, by_log_tau = 0.0;
};

Slopes from_rest(const Sprint& sprint, double distance_m) {
  Slopes out;
  if (distance_m <= 0.0) {
    return out;
  }
  const double tau = sprint.time_constant_s;
  const double a = distance_m / (sprint.top_speed_mps * tau);
  const double u = dimensionless_time(a);
  const double q = a / -std::expm1(-u);  // a du/da
  out.time_s = tau * u;
  out.by_log_speed = -tau * q;
  out.by_log_tau = tau * (u - q);
  return out;
}

Slopes slopes(const Sprint& sprint, double distance_m, double start_offset_m) {
  const Slopes whole = from_rest(sprint, distance_m + start_offset_m);
  const Slopes before = from_rest(sprint, start_offset_m);
  return {whole.time_s - before.time_s, whole.by_log_speed - before.by_log_speed, whole.by_log_tau - before.by_log_tau};
}

// Gauss-Newton with step halving on r(x), J(x) given together. True when the last step was below 1e-11.
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

// --- 1. Shape
// ---------------------------------------------------------------------------------------------------------

struct Cell {
  std::string table;
  double age_lo_yr = 0.0;
  std::array<double, 3> mean_s{};
  std::array<double, 3> n{};
};

constexpr std::array<double, 3> squad_distances_m = {10.0, 30.0, 60.0};

std::vector<Cell> squad_cells(const Catalogue& catalogue, Sex sex) {
  std::vector<Cell> cells;
  for (const char* name : {"norms/sprint-60m-splits-youth-throwers-severin2026.csv",
                           "norms/sprint-60m-splits-youth-jumpers-nolte2026.csv"}) {
    const Table& table = need(catalogue, name);
    for (const Row& row : table.rows) {
      const auto k = std::find(squad_distances_m.begin(), squad_distances_m.end(), row.distance_m.value_or(0.0));
      if (row.sex != sex || row.statistic != "mean" || k == squad_distances_m.end()) {
        continue;
      }
      auto cell = std::find_if(cells.begin(), cells.end(),
                               [&](const Cell& c) { return c.table == name && c.age_lo_yr == row.age_lo_yr; });
      if (cell == cells.end()) {
        cells.push_back({name, row.age_lo_yr.value(), {}, {}});
        cell = cells.end() - 1;
      }
      const auto at = static_cast<std::size_t>(k - squad_distances_m.begin());
      cell->mean_s[at] = row.value.value();
      cell->n[at] = row.n.value_or(10.0);
    }
  }
  return cells;
}

struct Shape {
  double log_tau = 0.0;
  std::vector<double> log_speed;  // of each cell
  bool converged = false;
};

// Least squares on the distances in use.
Shape fit_shape(const std::vector<Cell>& cells, const std::array<bool, 3>& used, double start_offset_m) {
  const auto n_cells = static_cast<Eigen::Index>(cells.size());
  Eigen::VectorXd x = Eigen::VectorXd::Constant(n_cells + 1, std::log(8.0));
  x[n_cells] = std::log(0.9);
  int iterations = 0;
  Shape shape;
  shape.converged = gauss_newton(x, iterations, [&](const Eigen::VectorXd& at, Eigen::VectorXd& r, Eigen::MatrixXd& j) {
    r = Eigen::VectorXd::Zero(3 * n_cells);
    j = Eigen::MatrixXd::Zero(3 * n_cells, n_cells + 1);
    for (Eigen::Index c = 0; c < n_cells; ++c) {
      const Cell& cell = cells[static_cast<std::size_t>(c)];
      for (std::size_t k = 0; k < 3; ++k) {
        if (!used[k]) {
          continue;
        }
        const Slopes s = slopes({std::exp(at[c]), std::exp(at[n_cells])}, squad_distances_m[k], start_offset_m);
        const double weight = std::sqrt(cell.n[k]);
        const Eigen::Index row = 3 * c + static_cast<Eigen::Index>(k);
        r[row] = weight * std::log(s.time_s / cell.mean_s[k]);
        j(row, c) = weight * s.by_log_speed / s.time_s;
        j(row, n_cells) = weight * s.by_log_tau / s.time_s;
      }
    }
  });
  shape.log_tau = x[n_cells];
  shape.log_speed.assign(x.data(), x.data() + n_cells);
  return shape;
}

void squad_residuals(const std::vector<Cell>& cells, const Shape& shape, Sex sex, double start_offset_m, std::size_t k,
                     std::vector<PriorResidual>& into) {
  for (std::size_t c = 0; c < cells.size(); ++c) {
    const double predicted =
        slopes({std::exp(shape.log_speed[c]), std::exp(shape.log_tau)}, squad_distances_m[k], start_offset_m).time_s;
    into.push_back(
        {cells[c].table, sex, cells[c].age_lo_yr + 0.5, squad_distances_m[k], cells[c].mean_s[k], predicted});
  }
}

// --- 2. Level
// ---------------------------------------------------------------------------------------------------------

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

// What the survey adds to the running time.
double added_s(double reaction_s, const Conditions& conditions) {
  return (conditions.signal_start ? reaction_s : 0.0) + conditions.timing_bias_mean_s + conditions.rounding_bias_s;
}

Sprint mean_sprint(const PriorCoefficients& c, Sex sex, double age_yr) {
  const bool girl = sex == Sex::female;
  return {std::exp(spline_at(girl ? c.log_top_speed_female : c.log_top_speed_male, age_yr)),
          std::exp(line_at(girl ? c.log_time_constant_female : c.log_time_constant_male, age_yr))};
}

// Unknowns in order: the girls' knots, the boys' knots, log tau of girls and of boys as children, the two shifts.
void fit_level(const std::vector<Mean>& means, DerivedPrior& derived) {
  PriorCoefficients& c = derived.coefficients;
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

// --- 3. Spread
// --------------------------------------------------------------------------------------------------------

// A published SD between children, with the part of its variance that is neither speed nor acceleration.
struct Sd {
  std::string table;
  Sex sex{};
  double age_yr = 0.0;
  double distance_m = 0.0;
  double start_offset_m = 0.0;
  double sd_s = 0.0;
  double other_variance_s2 = 0.0;
};

double hand_and_reaction_s2(const PriorCoefficients& c, double age_yr) {
  const double reaction_s = c.reaction_between_cv * norms::auditory_reaction_s(age_yr);
  return hand_scatter_s * hand_scatter_s + tenth_rounding_s * tenth_rounding_s + reaction_s * reaction_s;
}

// The two variances (log V, log tau) that give two published SDs.
Eigen::Vector2d two_variances(const PriorCoefficients& c, const Sd& one, const Sd& two) {
  Eigen::Matrix2d a;
  Eigen::Vector2d b;
  int i = 0;
  for (const Sd* sd : {&one, &two}) {
    const Slopes s = slopes(mean_sprint(c, sd->sex, sd->age_yr), sd->distance_m, sd->start_offset_m);
    a(i, 0) = s.by_log_speed * s.by_log_speed;
    a(i, 1) = s.by_log_tau * s.by_log_tau;
    b[i++] = sd->sd_s * sd->sd_s - sd->other_variance_s2;
  }
  return a.fullPivLu().solve(b);
}

std::vector<Sd> published_sds_50m(const Catalogue& catalogue, const PriorCoefficients& c) {
  const Table& young = need(catalogue, "norms/sprint-50m-japan-fy2017.csv");
  const Table& older = need(catalogue, "norms/sprint-50m-japan-fy2015.csv");
  const Table& recent = need(catalogue, "norms/sprint-50m-japan-fy2020-fy2022.csv");
  const Table& old = need(catalogue, "norms/sprint-50m-fukushima1982.csv");
  const double offset_yr = need_norm(catalogue, "sprint-50m-japan-2017").info().age_offset_yr;
  std::vector<Sd> sds;
  const auto add = [&](const Table& table, Sex sex, double age_lo_yr, double sd_s) {
    const double age_yr = age_lo_yr + offset_yr;
    sds.push_back({table.name, sex, age_yr, 50.0, 0.0, sd_s, hand_and_reaction_s2(c, age_yr)});
  };
  for (int age = 6; age <= 11; ++age) {
    add(young, Sex::female, age, value_of(young, Sex::female, age, "sd"));
    add(young, Sex::male, age, value_of(young, Sex::male, age, "sd"));
  }
  for (int age = 12; age <= 13; ++age) {
    add(older, Sex::male, age, value_of(older, Sex::male, age, "sd_derived"));
  }
  for (int age = 15; age <= 17; ++age) {
    add(recent, Sex::male, age, value_of(recent, Sex::male, age, "sd_hs"));
  }
  for (int age = 12; age <= 17; ++age) {  // the coefficient of variation of 1982 at today's mean
    const double cv = value_of(old, Sex::female, age, "sd") / value_of(old, Sex::female, age, "mean");
    add(old, Sex::female, age, cv * value_of(older, Sex::female, age, "mean"));
  }
  return sds;
}

void fit_spread(const Catalogue& catalogue, DerivedPrior& derived) {
  PriorCoefficients& c = derived.coefficients;
  const std::vector<Sd> fifty = published_sds_50m(catalogue, c);
  std::vector<Sd> shown = fifty;

  const Table& germany = need(catalogue, "norms/sprint-20m-emotikon-fggk21.csv");
  const Table& variation = need(catalogue, "norms/sprint-between-subject-variation.csv");
  const Table& reliability = need(catalogue, "norms/sprint-within-person-reliability.csv");
  const auto& japan = need_norm(catalogue, "sprint-50m-japan-2017");
  double child_variance = 0.0;
  double older_variance = 0.0;
  for (const Sex sex : {Sex::female, Sex::male}) {
    Sd twenty{germany.name, sex, first_spread_yr, 20.0, 0.0, 0.0, hand_and_reaction_s2(c, first_spread_yr)};
    for (const Row& row : germany.rows) {
      if (row.sex == sex && row.statistic == "sd" && *row.age_hi_yr - *row.age_lo_yr > 0.5) {
        twenty.sd_s = row.value.value();  // all quarter years pooled
      }
    }
    Sd fifty_here{japan.info().files.front(),
                  sex,
                  first_spread_yr,
                  50.0,
                  0.0,
                  japan.at(first_spread_yr, sex)->sd_s().value(),
                  hand_and_reaction_s2(c, first_spread_yr)};
    child_variance += 0.5 * two_variances(c, twenty, fifty_here)[1];

    Sd ten{variation.name, sex, second_spread_yr, ten_yards_m, ten_yards_start_m, 0.0, 0.0};
    for (std::size_t i = 0; i < variation.rows.size(); ++i) {
      if (variation.rows[i].group == "wannouch2024" && variation.rows[i].sex == sex) {
        ten.sd_s = norms::cell_number(variation, i, "sd_s").value();
      }
    }
    for (const Row& row : reliability.rows) {
      if (row.group == "wannouch2024" && row.sex == sex && row.statistic == "typical_error") {
        ten.other_variance_s2 = *row.value * *row.value;
      }
    }
    const auto older = std::find_if(fifty.begin(), fifty.end(), [&](const Sd& sd) {
      return sd.sex == sex && std::abs(sd.age_yr - second_spread_yr) < 1e-6;
    });
    older_variance += 0.5 * two_variances(c, ten, *older)[1];
    shown.push_back(twenty);
    shown.push_back(ten);
  }
  c.log_time_constant_sd = {{first_spread_yr, second_spread_yr},
                            {std::sqrt(child_variance), std::sqrt(older_variance)}};

  // Variance of log V at every age with an SD at 50 m, then straight lines through three knots by least squares.
  for (const Sex sex : {Sex::female, Sex::male}) {
    std::vector<std::pair<double, double>> points;
    for (const Sd& sd : fifty) {
      if (sd.sex == sex) {
        const Slopes s = slopes(mean_sprint(c, sex, sd.age_yr), 50.0, 0.0);
        const double tau_part = s.by_log_tau * line_at(c.log_time_constant_sd, sd.age_yr);
        points.emplace_back(sd.age_yr, (sd.sd_s * sd.sd_s - sd.other_variance_s2 - tau_part * tau_part) /
                                           (s.by_log_speed * s.by_log_speed));
      }
    }
    const auto rows = static_cast<Eigen::Index>(points.size());
    const auto columns = static_cast<Eigen::Index>(variance_knots_yr.size());
    Eigen::MatrixXd hats(rows, columns);
    Eigen::VectorXd y(rows);
    for (Eigen::Index i = 0; i < rows; ++i) {
      y[i] = points[static_cast<std::size_t>(i)].second;
      for (Eigen::Index k = 0; k < columns; ++k) {
        AgeCurve hat{variance_knots_yr, std::vector<double>(variance_knots_yr.size(), 0.0)};
        hat.value[static_cast<std::size_t>(k)] = 1.0;
        hats(i, k) = line_at(hat, points[static_cast<std::size_t>(i)].first);
      }
    }
    const Eigen::VectorXd fitted = hats.colPivHouseholderQr().solve(y);
    (sex == Sex::female ? c.log_top_speed_variance_female : c.log_top_speed_variance_male) = {
        variance_knots_yr, {fitted.data(), fitted.data() + columns}};
  }
  for (const Sd& sd : shown) {
    const Slopes s = slopes(mean_sprint(c, sd.sex, sd.age_yr), sd.distance_m, sd.start_offset_m);
    const double speed_variance =
        line_at(sd.sex == Sex::female ? c.log_top_speed_variance_female : c.log_top_speed_variance_male, sd.age_yr);
    const double tau_part = s.by_log_tau * line_at(c.log_time_constant_sd, sd.age_yr);
    derived.spreads.push_back(
        {sd.table, sd.sex, sd.age_yr, sd.distance_m, sd.sd_s,
         std::sqrt(s.by_log_speed * s.by_log_speed * speed_variance + tau_part * tau_part + sd.other_variance_s2)});
  }
}

// --- What is not fitted
// -----------------------------------------------------------------------------------------------

void set_constants(const Catalogue& catalogue, PriorCoefficients& c) {
  c.adult_log_top_speed_sd = 0.15;
  c.adult_log_time_constant_sd = 0.35;
  c.reaction_allowance_s = 0.05;
  c.reaction_allowance_sd_s = 0.08;
  c.reaction_between_cv = 0.22;

  // Split and crouch against each other and against a rocking start, at 4.57 and 18.29 m.
  const Table& softball = need(catalogue, "norms/base-running-softball-college.csv");
  const auto mean_over_distances = [&](std::string_view statistic) {
    double sum = 0.0;
    int count = 0;
    for (const Row& row : softball.rows) {
      if (row.statistic == statistic && row.value) {
        sum += *row.value;
        ++count;
      }
    }
    if (count == 0) {
      throw std::invalid_argument("derive_priors: " + softball.name + " lacks " + std::string(statistic));
    }
    return sum / count;
  };
  const double rocking_s = mean_over_distances("mean_rocking");
  const double split_s = mean_over_distances("mean_split");
  const double crouch_s = mean_over_distances("mean_crouch");
  // To the millisecond: the table has hundredths, and 0.1 should read 0.1 in the file.
  const auto millisecond = [](double x) { return std::round(1000.0 * x) / 1000.0; };
  const double doubt_s = millisecond(0.5 * (split_s - rocking_s));
  c.posture_cost_s["split"] = {0.0, doubt_s};
  c.posture_cost_s["crouch"] = {millisecond(crouch_s - split_s), doubt_s};
  c.posture_cost_s["prone"] = {1.0, 0.5};
  c.posture_cost_s["swing"] = {0.4, 0.3};
  c.swing_finish_s = {0.25, 0.2};
}

std::string fixed(double value, int decimals, std::size_t width) {
  std::array<char, 64> buffer{};
  const auto [end, error] =
      std::to_chars(buffer.data(), buffer.data() + buffer.size(), value, std::chars_format::fixed, decimals);
  std::string text(buffer.data(), error == std::errc{} ? end : buffer.data());
  return std::string(width > text.size() ? width - text.size() : 0, ' ') + text;
}

template <typename Rows>
void table_text(std::string& text, const std::string& title, const Rows& rows) {
  text += title + "\n  sex   age_yr  distance_m  published_s  derived_s  error_%  table\n";
  for (const auto& row : rows) {
    text += std::string("  ") + (row.sex == Sex::female ? "F  " : "M  ") + fixed(row.age_yr, 2, 9) +
            fixed(row.distance_m, 2, 12) + fixed(row.published_s, 3, 13) + fixed(row.predicted_s, 3, 11) +
            fixed(row.error_pct(), 2, 9) + "  " + row.source + "\n";
  }
}

}  // namespace

double time_as_measured(const Sprint& sprint, double reaction_s, const Conditions& conditions) {
  return time_from_beam(sprint, conditions.start_offset_m, conditions.distance_m) + added_s(reaction_s, conditions);
}

DerivedPrior derive_priors(const Catalogue& catalogue) {
  DerivedPrior derived;
  set_constants(catalogue, derived.coefficients);
  const double start_offset_m = need_norm(catalogue, "squad-30m-throwers").conditions().start_offset_m;
  for (const Sex sex : {Sex::female, Sex::male}) {
    const std::vector<Cell> cells = squad_cells(catalogue, sex);
    const Shape shape = fit_shape(cells, {true, true, true}, start_offset_m);
    for (std::size_t k = 0; k < 3; ++k) {
      squad_residuals(cells, shape, sex, start_offset_m, k, derived.squads);
      std::array<bool, 3> used = {true, true, true};
      used[k] = false;
      squad_residuals(cells, fit_shape(cells, used, start_offset_m), sex, start_offset_m, k, derived.left_out);
    }
    auto& tau = sex == Sex::female ? derived.coefficients.log_time_constant_female
                                   : derived.coefficients.log_time_constant_male;
    tau = {{child_tau_until_yr, squad_tau_from_yr}, {shape.log_tau, shape.log_tau}};
  }
  fit_level(published_means(catalogue), derived);
  fit_spread(catalogue, derived);
  return derived;
}

std::string residual_tables(const DerivedPrior& derived) {
  std::string text;
  table_text(text, "Means at 20 m and 50 m", derived.means);
  text += "  whole survey against the curve: Germany " + fixed(100.0 * derived.germany_shift, 2, 0) +
          " %, Japan (9 and under) " + fixed(100.0 * derived.japan_shift, 2, 0) + " %\n\n";
  table_text(text, "Junior athletics squads, all distances fitted", derived.squads);
  text += "\n";
  table_text(text, "Junior athletics squads, the distance left out predicted from the other two", derived.left_out);
  text += "\n";
  table_text(text, "Standard deviations between children", derived.spreads);
  return text;
}

}  // namespace bagsplit::sprint
