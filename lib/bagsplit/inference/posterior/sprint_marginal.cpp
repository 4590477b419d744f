#include "bagsplit/inference/posterior/sprint_marginal.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <stdexcept>

#include "bagsplit/stats/detail/elementary.hpp"

namespace bagsplit::inference {

namespace {

constexpr std::size_t fine_per_cell = 4;  // points between two nodes of a row

// Value at fraction x of the cell between v[1] and v[2] of four equally spaced values: cubic through all four.
double cubic(double v0, double v1, double v2, double v3, double x) {
  const double c3 = (v3 - v0) / 6.0 + (v1 - v2) / 2.0;
  const double c2 = (v0 + v2) / 2.0 - v1;
  const double c1 = v2 - v0 / 3.0 - v1 / 2.0 - v3 / 6.0;
  return v1 + x * (c1 + x * (c2 + x * c3));
}

}  // namespace

LatticeRows::LatticeRows(const Lattice& lattice, bool along_first)
    : step_(lattice.spacing / static_cast<double>(fine_per_cell)) {
  const std::vector<int>& along = along_first ? lattice.first : lattice.second;
  const std::vector<int>& across = along_first ? lattice.second : lattice.first;
  nodes_.resize(lattice.size());
  std::array<std::uint32_t, lattice_width + 1> start{};
  for (const int k : across) {
    ++start[lattice_place(k) + 1];
  }
  for (std::size_t k = 1; k < start.size(); ++k) {
    start[k] += start[k - 1];
  }
  std::array<int, lattice_width> smallest{};
  smallest.fill(lattice_width);
  for (std::size_t i = 0; i < lattice.size(); ++i) {
    int& least = smallest[lattice_place(across[i])];
    least = std::min(least, along[i]);
  }
  for (std::size_t i = 0; i < lattice.size(); ++i) {
    const auto k = lattice_place(across[i]);
    nodes_[start[k] + static_cast<std::uint32_t>(along[i] - smallest[k])] = static_cast<std::uint32_t>(i);
  }
  double total = 0.0;
  for (std::size_t k = 0; k + 1 < start.size(); ++k) {
    if (const std::uint32_t n = start[k + 1] - start[k]; n > 0) {
      add_row(lattice, {start[k], n, static_cast<double>(smallest[k]), static_cast<std::uint32_t>(density_.size()),
                        static_cast<std::uint32_t>((n + 1) * fine_per_cell + 1)});
      total += cumulative_.back();
    }
  }
  for (double& value : density_) {
    value /= total;
  }
  for (double& value : cumulative_) {
    value /= total;
  }
}

void LatticeRows::add_row(const Lattice& lattice, Row row) {
  const std::uint32_t n = row.nodes;
  // What the density has beyond a unit Gaussian is smooth: interpolate that, held constant outside the nodes.
  std::vector<double> residual(n + 4, 0.0);
  for (std::uint32_t i = 0; i < n; ++i) {
    residual[i + 2] =
        lattice.log_density[nodes_[row.first_node + i]] + 0.5 * stats::square(lattice.spacing * (row.start + i));
  }
  residual[0] = residual[1] = residual[2];
  residual[n + 2] = residual[n + 3] = residual[n + 1];
  for (std::uint32_t i = 0; i < row.fine; ++i) {
    const std::uint32_t cell = std::min<std::uint32_t>(i / fine_per_cell, n);
    const double x = static_cast<double>(i - cell * fine_per_cell) / static_cast<double>(fine_per_cell);
    const double z = lattice.spacing * (row.start - 1.0) + step_ * i;
    density_.push_back(
        std::exp(cubic(residual[cell], residual[cell + 1], residual[cell + 2], residual[cell + 3], x) - 0.5 * z * z));
  }
  // Cumulative mass: integral of the cubic through four neighbours of each fine interval.
  const double* const p = &density_[row.first_fine];
  double mass = 0.0;
  cumulative_.push_back(0.0);
  for (std::uint32_t i = 0; i + 1 < row.fine; ++i) {
    const double before = i > 0 ? p[i - 1] : 0.0;
    const double after = i + 2 < row.fine ? p[i + 2] : 0.0;
    mass += step_ * (13.0 * (p[i] + p[i + 1]) - before - after) / 24.0;
    cumulative_.push_back(mass);
  }
  rows_.push_back(row);
}

SprintMarginal::SprintMarginal(const Lattice& lattice, const LatticeRows& along_first, const LatticeRows& along_second,
                               std::span<const double> values) {
  if (values.size() != lattice.size()) {
    throw std::invalid_argument("of_sprint: values must have one entry a node");
  }
  double mean = 0.0;
  for (std::size_t i = 0; i < lattice.size(); ++i) {
    mean += lattice.weights[i] * values[i];
  }
  double by_first = 0.0;
  double by_second = 0.0;
  for (std::size_t i = 0; i < lattice.size(); ++i) {
    const double wd = lattice.weights[i] * (values[i] - mean);
    by_first += wd * lattice.first[i];
    by_second += wd * lattice.second[i];
  }
  const bool first = std::fabs(by_first) >= std::fabs(by_second);
  const double slope = first ? by_first : by_second;  // per node, where a row has one node only
  rows_ = first ? &along_first : &along_second;
  fine_.resize(rows_->density_.size());
  direction_.resize(rows_->rows_.size());
  lowest_ = std::numeric_limits<double>::infinity();
  highest_ = -lowest_;
  for (std::size_t r = 0; r < rows_->rows_.size(); ++r) {
    follow(rows_->rows_[r], values, slope, direction_[r]);
  }
}

void SprintMarginal::follow(const LatticeRows::Row& row, std::span<const double> values, double slope,
                            std::int8_t& direction) {
  const std::uint32_t n = row.nodes;
  padded_.resize(n + 4);
  for (std::uint32_t i = 0; i < n; ++i) {
    padded_[i + 2] = values[rows_->nodes_[row.first_node + i]];
  }
  const double low_step = n > 1 ? padded_[3] - padded_[2] : slope;
  const double high_step = n > 1 ? padded_[n + 1] - padded_[n] : slope;
  padded_[1] = padded_[2] - low_step;
  padded_[0] = padded_[1] - low_step;
  padded_[n + 2] = padded_[n + 1] + high_step;
  padded_[n + 3] = padded_[n + 2] + high_step;
  double* const g = &fine_[row.first_fine];
  for (std::uint32_t cell = 0; cell <= n; ++cell) {
    for (std::uint32_t k = 0; k < fine_per_cell; ++k) {
      g[cell * fine_per_cell + k] = cubic(padded_[cell], padded_[cell + 1], padded_[cell + 2], padded_[cell + 3],
                                          static_cast<double>(k) / static_cast<double>(fine_per_cell));
    }
  }
  g[row.fine - 1] = padded_[n + 2];
  bool rising = true;
  bool falling = true;
  for (std::uint32_t i = 0; i + 1 < row.fine; ++i) {
    rising &= g[i + 1] > g[i];
    falling &= g[i + 1] < g[i];
  }
  direction = static_cast<std::int8_t>(rising ? 1 : falling ? -1 : 0);
  for (std::uint32_t i = 0; i < row.fine; ++i) {
    lowest_ = std::min(lowest_, g[i]);
    highest_ = std::max(highest_, g[i]);
  }
}

// Mass of a row below where the function is c between its fine points i and i + 1; adds the density there. Hermite on
// the cumulative mass, whose slope is the density.
double SprintMarginal::cross(const LatticeRows::Row& row, std::uint32_t i, double c, double& density) const {
  const double* const g = &fine_[row.first_fine];
  const double* const p = &rows_->density_[row.first_fine + i];
  const double* const mass = &rows_->cumulative_[row.first_fine + i];
  const double step = rows_->step_;
  const double span = g[i + 1] - g[i];
  const double x = (c - g[i]) / span;
  density += (p[0] + x * (p[1] - p[0])) * step / std::fabs(span);
  const double c0 = mass[0];
  const double c1 = mass[1];
  const double m0 = p[0] * step;
  const double m1 = p[1] * step;
  return c0 + x * (m0 + x * (3.0 * (c1 - c0) - 2.0 * m0 - m1 + x * (2.0 * (c0 - c1) + m0 + m1)));
}

void SprintMarginal::evaluate(double c, double& cdf, double& density) const {
  for (std::size_t r = 0; r < rows_->rows_.size(); ++r) {
    const LatticeRows::Row& row = rows_->rows_[r];
    const double* const g = &fine_[row.first_fine];
    const double row_mass = rows_->cumulative_[row.first_fine + row.fine - 1];
    if (direction_[r] > 0) {
      if (c >= g[row.fine - 1]) {
        cdf += row_mass;
      } else if (c > g[0]) {
        cdf += cross(row, static_cast<std::uint32_t>(std::upper_bound(g, g + row.fine, c) - g - 1), c, density);
      }
    } else if (direction_[r] < 0) {
      if (c >= g[0]) {
        cdf += row_mass;
      } else if (c > g[row.fine - 1]) {
        const auto i = static_cast<std::uint32_t>(
            std::upper_bound(g, g + row.fine, c, [](double a, double b) { return a > b; }) - g - 1);
        cdf += row_mass - cross(row, std::min(i, row.fine - 2), c, density);
      }
    } else {
      for (std::uint32_t i = 0; i + 1 < row.fine; ++i) {
        const double left = rows_->cumulative_[row.first_fine + i];
        const double right = rows_->cumulative_[row.first_fine + i + 1];
        const bool below_left = g[i] < c;
        const bool below_right = g[i + 1] < c;
        if (below_left && below_right) {
          cdf += right - left;
        } else if (below_left != below_right) {
          const double part = cross(row, i, c, density);
          cdf += below_left ? part - left : right - part;
        }
      }
    }
  }
}

double SprintMarginal::below(double x) const {
  double cdf = 0.0;
  double density = 0.0;
  evaluate(x, cdf, density);
  return std::clamp(cdf, 0.0, 1.0);
}

}  // namespace bagsplit::inference
