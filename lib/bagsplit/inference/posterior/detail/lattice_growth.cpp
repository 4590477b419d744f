#include "bagsplit/inference/posterior/detail/lattice_growth.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdlib>
#include <limits>
#include <span>

namespace bagsplit::inference {

LatticeFrame::LatticeFrame(const SprintCoordinates& where, const SprintCoordinates::Point& middle,
                           const Curvature& curvature)
    : coordinates(&where),
      centre(middle),
      centre_tau(where.origin_tau() + where.unit_tau() * middle.u),
      centre_time(where.origin_time() + where.unit_time() * middle.w),
      unit_tau(where.unit_tau()),
      unit_time(where.unit_time()) {
  const double det = curvature.determinant();
  root_uu = std::sqrt(curvature.ww / det);
  root_wu = (-curvature.uw / det) / root_uu;
  root_ww = std::sqrt(std::max(curvature.uu / det - root_wu * root_wu, 1e-300));
}

LatticeFrame::Steps LatticeFrame::steps_of(const SprintCoordinates::Point& point) const {
  const double z1 = (point.u - centre.u) / root_uu;
  return {z1, (point.w - centre.w - root_wu * z1) / root_ww};
}

LatticeGrower::LatticeGrower(SprintDensity& density, const LatticeFrame& frame, double log_cut)
    : density_(density),
      frame_(frame),
      log_cut_(log_cut),
      node_at_(static_cast<std::size_t>(lattice_width) * lattice_width, std::int16_t{-1}) {}

void LatticeGrower::grow(double spacing, Lattice& lattice) {
  const std::size_t q = density_.term_count();
  constexpr std::size_t usual_nodes = 160;  // about 90 are needed; more room than that is seldom asked for
  lattice.means.reserve(usual_nodes * q);
  lattice.covariances.reserve(usual_nodes * q * q);
  lattice.spacing = spacing;
  lattice.highest = -std::numeric_limits<double>::infinity();
  lattice.at_edge = false;
  for (std::size_t i = 0; i < lattice.size(); ++i) {
    node_at_[slot(lattice.first[i], lattice.second[i])] = -1;
  }
  lattice.sprints.clear();
  lattice.log_density.clear();
  lattice.first.clear();
  lattice.second.clear();
  lattice.means.clear();
  lattice.covariances.clear();
  visit(0, 0, lattice);
  flood(lattice);
  fill_gaps(lattice);
  weigh(lattice);
}

void LatticeGrower::visit(int a, int b, Lattice& lattice) {
  if (std::abs(a) > lattice_reach || std::abs(b) > lattice_reach) {
    lattice.at_edge = true;
    return;
  }
  std::int16_t& at = node_at_[slot(a, b)];
  if (at >= 0) {
    return;
  }
  const std::size_t node = lattice.size();
  at = static_cast<std::int16_t>(node);
  const SprintCoordinates::Place place = frame_.place(lattice.spacing * a, lattice.spacing * b);
  const std::size_t q = density_.term_count();
  lattice.means.resize((node + 1) * q);
  lattice.covariances.resize((node + 1) * q * q);
  const double value = density_.condition(place.log_v, place.log_tau, std::span(lattice.means).subspan(node * q, q),
                                          std::span(lattice.covariances).subspan(node * q * q, q * q)) +
                       place.log_jacobian;
  lattice.sprints.push_back(place.sprint());
  lattice.log_density.push_back(value);
  lattice.first.push_back(a);
  lattice.second.push_back(b);
  lattice.highest = std::max(lattice.highest, value);
}

// Breadth first: nodes in the order they were visited are the queue.
void LatticeGrower::flood(Lattice& lattice) {
  for (std::size_t node = 0; node < lattice.size(); ++node) {
    if (lattice.log_density[node] < lattice.highest - log_cut_) {
      continue;
    }
    const int a = lattice.first[node];
    const int b = lattice.second[node];
    visit(a + 1, b, lattice);
    visit(a - 1, b, lattice);
    visit(a, b + 1, lattice);
    visit(a, b - 1, lattice);
  }
}

void LatticeGrower::fill_gaps(Lattice& lattice) {
  for (bool changed = true; changed;) {
    const std::size_t before = lattice.size();
    std::array<std::array<int, 2>, lattice_width> row{};
    std::array<std::array<int, 2>, lattice_width> column{};
    row.fill({lattice_width, -lattice_width});
    column.fill({lattice_width, -lattice_width});
    for (std::size_t i = 0; i < before; ++i) {
      auto& r = row[lattice_place(lattice.second[i])];
      auto& c = column[lattice_place(lattice.first[i])];
      r = {std::min(r[0], lattice.first[i]), std::max(r[1], lattice.first[i])};
      c = {std::min(c[0], lattice.second[i]), std::max(c[1], lattice.second[i])};
    }
    for (int k = -lattice_reach; k <= lattice_reach; ++k) {
      const auto& r = row[lattice_place(k)];
      for (int a = r[0]; a <= r[1]; ++a) {
        visit(a, k, lattice);
      }
      const auto& c = column[lattice_place(k)];
      for (int b = c[0]; b <= c[1]; ++b) {
        visit(k, b, lattice);
      }
    }
    changed = lattice.size() != before;
  }
}

// Weights, and the mass told by every other node in both directions.
void LatticeGrower::weigh(Lattice& lattice) const {
  lattice.weights.resize(lattice.size());
  double total = 0.0;
  double sparse = 0.0;
  for (std::size_t i = 0; i < lattice.size(); ++i) {
    lattice.log_density[i] -= lattice.highest;
    lattice.weights[i] = std::exp(lattice.log_density[i]);
    total += lattice.weights[i];
    if (lattice.first[i] % 2 == 0 && lattice.second[i] % 2 == 0) {
      sparse += 4.0 * lattice.weights[i];
    }
  }
  for (double& weight : lattice.weights) {
    weight /= total;
  }
  lattice.log_evidence = lattice.highest + std::log(total * lattice.spacing * lattice.spacing * frame_.unit_tau *
                                                    frame_.unit_time * frame_.root_uu * frame_.root_ww);
  lattice.coarseness = lattice.at_edge ? std::numeric_limits<double>::infinity() : std::fabs(sparse / total - 1.0);
}

bool LatticeGrower::holds(const SprintCoordinates::Point& point, const Lattice& lattice) const {
  const LatticeFrame::Steps steps = frame_.steps_of(point);
  const double a = std::round(steps.z1 / lattice.spacing);
  const double b = std::round(steps.z2 / lattice.spacing);
  return std::fabs(a) <= lattice_reach && std::fabs(b) <= lattice_reach &&
         node_at_[slot(static_cast<int>(a), static_cast<int>(b))] >= 0;
}

}  // namespace bagsplit::inference
