#include "bagsplit/inference/season/detail/units.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <utility>

#include "bagsplit/stats/detail/elementary.hpp"

namespace bagsplit::season {

namespace {

/// All of a row that must agree for two runs to be joined.
std::vector<double> pattern_of(const Row& row) {
  std::vector<double> pattern{static_cast<double>(row.level), row.start_sd, row.reaction_sd, row.mark_var};
  for (const auto& [place, coefficient] : row.shared) {
    pattern.push_back(static_cast<double>(place));
    pattern.push_back(coefficient);
  }
  pattern.push_back(static_cast<double>(row.press));
  return pattern;
}

struct Run {
  std::vector<double> pattern = {};
  std::vector<std::size_t> rows = {};
};

/// Runs by pattern, in order of date and first row.
std::vector<std::vector<Run>> runs_alike(const ChildRows& child) {
  std::map<std::pair<int, int>, std::vector<std::size_t>> by_run;
  for (std::size_t i = 0; i < child.rows.size(); ++i) {
    by_run[{child.rows[i].date, child.rows[i].run}].push_back(i);
  }
  std::map<std::vector<double>, std::size_t> place;
  std::vector<std::vector<Run>> groups;
  for (const auto& [key, rows] : by_run) {
    std::vector<std::pair<std::vector<double>, std::size_t>> sorted;
    bool alone = false;
    for (const auto i : rows) {
      sorted.emplace_back(pattern_of(child.rows[i]), i);
      alone = alone || child.rows[i].added > 0.0;
    }
    std::sort(sorted.begin(), sorted.end());
    Run run;
    for (auto& [pattern, i] : sorted) {
      run.pattern.insert(run.pattern.end(), pattern.begin(), pattern.end());
      run.rows.push_back(i);
    }
    if (alone) {
      groups.push_back({std::move(run)});
      continue;
    }
    const auto [it, is_new] = place.emplace(run.pattern, groups.size());
    if (is_new) {
      groups.emplace_back();
    }
    groups[it->second].push_back(std::move(run));
  }
  return groups;
}

Eigen::MatrixXd noise_of(const ChildRows& child, const std::vector<std::size_t>& rows) {
  const auto k = static_cast<Index>(rows.size());
  Eigen::MatrixXd noise(k, k);
  for (Index a = 0; a < k; ++a) {
    const auto& one = child.rows[rows[static_cast<std::size_t>(a)]];
    for (Index b = 0; b < k; ++b) {
      const auto& other = child.rows[rows[static_cast<std::size_t>(b)]];
      noise(a, b) = one.reaction_sd * other.reaction_sd +
                    (one.press == other.press ? one.start_sd * other.start_sd : 0.0) +
                    (a == b ? one.mark_var + one.added : 0.0);
    }
  }
  return noise;
}

void add_block(const Design& design, const ChildRows& child, const std::vector<Run>& runs, Index first, Units& units) {
  Block block{
      .first = first, .size = static_cast<Index>(runs[0].rows.size()), .runs = static_cast<double>(runs.size())};
  block.noise = noise_of(child, runs[0].rows);
  block.scatter.setZero(block.size, block.size);
  Eigen::MatrixXd z(block.size, static_cast<Index>(runs.size()));
  for (std::size_t run = 0; run < runs.size(); ++run) {
    for (Index q = 0; q < block.size; ++q) {
      z(q, static_cast<Index>(run)) = child.rows[runs[run].rows[static_cast<std::size_t>(q)]].z;
    }
    block.rows.push_back(runs[run].rows);
  }
  const Eigen::VectorXd mean = z.rowwise().mean();
  z.colwise() -= mean;
  block.scatter.noalias() = z * z.transpose();
  units.log_jacobian -=
      0.5 * static_cast<double>(block.size) * (std::log(block.runs) + (block.runs - 1.0) * stats::log_two_pi);
  for (Index q = 0; q < block.size; ++q) {
    const auto& row = child.rows[runs[0].rows[static_cast<std::size_t>(q)]];
    const Index u = first + q;
    units.z[u] = mean[q];
    units.time_yr[u] = row.time_yr;
    units.date[static_cast<std::size_t>(u)] = row.date;
    units.level[static_cast<std::size_t>(u)] = row.level;
    for (const auto& [place, coefficient] : row.shared) {
      const auto at = std::lower_bound(child.touched.begin(), child.touched.end(), place) - child.touched.begin();
      units.shared(u, at) += coefficient;
    }
    for (std::size_t s = 0; s < design.shapes.size(); ++s) {
      const auto& shape = design.shapes[s];
      units.shapes(u, static_cast<Index>(s)) =
          row.response[static_cast<std::size_t>(shape.part)] *
          design.shape_at(shape, design.season.days[static_cast<std::size_t>(row.date)]);
    }
  }
  units.blocks.push_back(std::move(block));
}

}  // namespace

Units collapse(const Design& design, const ChildRows& child) {
  const auto groups = runs_alike(child);
  Index n = 0;
  for (const auto& runs : groups) {
    n += static_cast<Index>(runs[0].rows.size());
  }
  Units units;
  units.evening_added = child.evening_added;
  units.growth_var = child.growth_sd_per_yr * child.growth_sd_per_yr;
  units.shared.setZero(n, static_cast<Index>(child.touched.size()));
  units.shapes.resize(n, static_cast<Index>(design.shapes.size()));
  units.z.resize(n);
  units.time_yr.resize(n);
  units.date.resize(static_cast<std::size_t>(n));
  units.level.resize(static_cast<std::size_t>(n));
  Index first = 0;
  for (const auto& runs : groups) {
    add_block(design, child, runs, first, units);
    first += static_cast<Index>(runs[0].rows.size());
  }
  return units;
}

}  // namespace bagsplit::season
