#include "bagsplit/sprint/prior_steps.hpp"

#include <algorithm>
#include <array>
#include <cmath>

namespace bagsplit::sprint::derivation {

namespace {

using norms::Catalogue;
using norms::Row;
using norms::Table;
using runs::Sex;

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
Shape fit_cells(const std::vector<Cell>& cells, const std::array<bool, 3>& used, double start_offset_m) {
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

}  // namespace

void fit_shape(const Catalogue& catalogue, DerivedPrior& derived) {
  const double start_offset_m = need_norm(catalogue, "squad-30m-throwers").conditions().start_offset_m;
  for (const Sex sex : {Sex::female, Sex::male}) {
    const std::vector<Cell> cells = squad_cells(catalogue, sex);
    const Shape shape = fit_cells(cells, {true, true, true}, start_offset_m);
    for (std::size_t k = 0; k < 3; ++k) {
      squad_residuals(cells, shape, sex, start_offset_m, k, derived.squads);
      std::array<bool, 3> used = {true, true, true};
      used[k] = false;
      squad_residuals(cells, fit_cells(cells, used, start_offset_m), sex, start_offset_m, k, derived.left_out);
    }
    auto& tau = sex == Sex::female ? derived.coefficients.log_time_constant_female
                                   : derived.coefficients.log_time_constant_male;
    tau = {{child_tau_until_yr, squad_tau_from_yr}, {shape.log_tau, shape.log_tau}};
  }
}

}  // namespace bagsplit::sprint::derivation
