#include "bagsplit/inference/season/detail/slips.hpp"

#include <Eigen/Cholesky>
#include <algorithm>
#include <cmath>

#include "bagsplit/stats/random.hpp"

namespace bagsplit::season {

namespace {

constexpr double least_var = 1e-8;
constexpr double no_suspicion = 0.02;  // P(slip) below which a reading counts in full

struct LeftOut {
  double residual, var;  // the reading less what all others say, and the variance of that
};

struct JudgedReading {
  double p, added;
};

/// @param own  variance that it has of its own where it is no slip; `added` so far is in left_out.var.
JudgedReading judge(const LeftOut& left_out, double added, double own, double slip_var, double rate) {
  const double var = std::max(left_out.var - added, least_var);
  const double square = left_out.residual * left_out.residual;
  const double slip = std::log(rate) - 0.5 * std::log(var + slip_var) - 0.5 * square / (var + slip_var);
  const double none = std::log1p(-rate) - 0.5 * std::log(var) - 0.5 * square / var;
  const double p = 1.0 / (1.0 + std::exp(std::clamp(none - slip, -700.0, 700.0)));
  // The mixture's mean precision.
  const double precision = (1.0 - p) / own + p / (own + slip_var);
  return {p, p < no_suspicion ? 0.0 : 1.0 / precision - own};
}

double slip_var_at(double moving_s, const SlipPrior& prior) {
  return (prior.sd_s / moving_s) * (prior.sd_s / moving_s);
}

/// Judges one reading; returns whether the variance it adds has changed.
bool judge_row(Row& row, const LeftOut& left_out, const Scales& scales, const SlipPrior& prior, double rate) {
  const double own = row.mark_var + scales.effort_sd * scales.effort_sd + row.start_sd * row.start_sd +
                     row.reaction_sd * row.reaction_sd;
  const auto judged = judge(left_out, row.added, own, slip_var_at(row.moving_s, prior), rate);
  const bool changed = judged.added != row.added;
  row.slip = judged.p;
  row.off = left_out.residual;
  row.off_sd = std::sqrt(std::max(left_out.var - row.added - own, least_var));
  row.added = judged.added;
  return changed;
}

/// Judges the evenings on which a child has two readings or more: one alone is judged as a reading.
bool judge_evenings(const ChildFit& fit, const Eigen::MatrixXd& squad_covariance, const Eigen::VectorXd& squad_mean,
                    const Units& units, ChildRows& child, const Scales& scales, const SlipPrior& prior) {
  const auto dates = child.evening_slip.size();
  std::vector<double> count(dates, 0.0), moving(dates, 0.0);
  for (const auto& row : child.rows) {
    count[static_cast<std::size_t>(row.date)] += 1.0;
    moving[static_cast<std::size_t>(row.date)] += row.moving_s;
  }
  bool changed = false;
  for (std::size_t date = 0; date < dates; ++date) {
    if (count[date] < 2.0) {
      continue;
    }
    Eigen::VectorXd on = Eigen::VectorXd::Zero(units.size());
    for (Index u = 0; u < units.size(); ++u) {
      on[u] = units.date[static_cast<std::size_t>(u)] == static_cast<int>(date) ? 1.0 : 0.0;
    }
    const Eigen::VectorXd weighted = fit.weighted.transpose() * on;
    const double precision = on.dot(fit.inverse * on) - weighted.dot(squad_covariance * weighted);
    const double pull = on.dot(fit.residual) - weighted.dot(squad_mean);
    const auto judged =
        judge({pull / precision, 1.0 / precision}, child.evening_added[date], scales.form_sd * scales.form_sd,
              slip_var_at(moving[date] / count[date], prior), prior.evening_rate);
    changed = changed || judged.added != child.evening_added[date];
    child.evening_slip[date] = judged.p;
    child.evening_added[date] = judged.added;
  }
  return changed;
}

/// Each reading of a block left out in turn, from what its block's mean says: the runs of a block differ by their own
/// noise only, so the inverse for single readings follows from that of the units.
bool judge_block(const Block& block, const ChildFit& fit, const Eigen::MatrixXd& squad_covariance,
                 const Eigen::VectorXd& squad_mean, const Units& units, ChildRows& child, const Scales& scales,
                 const SlipPrior& prior, double rate) {
  const double m = block.runs;
  const Eigen::MatrixXd noise = block.noise.array() + scales.effort_sd * scales.effort_sd;
  const Eigen::MatrixXd own = noise.llt().solve(Eigen::MatrixXd::Identity(block.size, block.size));
  bool changed = false;
  for (const auto& run : block.rows) {
    Eigen::VectorXd about(block.size);
    for (Index q = 0; q < block.size; ++q) {
      about[q] = child.rows[run[static_cast<std::size_t>(q)]].z - units.z[block.first + q];
    }
    const Eigen::VectorXd scatter = own * about;
    for (Index q = 0; q < block.size; ++q) {
      const Index u = block.first + q;
      const Eigen::VectorXd weighted = fit.weighted.row(u).transpose() / m;
      const double precision =
          own(q, q) * (1.0 - 1.0 / m) + fit.inverse(u, u) / (m * m) - weighted.dot(squad_covariance * weighted);
      const double pull = scatter[q] + fit.residual[u] / m - weighted.dot(squad_mean);
      const LeftOut left_out{pull / precision, 1.0 / precision};
      changed = judge_row(child.rows[run[static_cast<std::size_t>(q)]], left_out, scales, prior, rate) || changed;
    }
  }
  return changed;
}

}  // namespace

void find_slips(Design& design, std::vector<Units>& units, const Scales& scales, int passes, double& rate) {
  const auto& options = design.options;
  constexpr double least_slope_sd = 0.03;  // so that a child that changed is not taken for one that slips
  for (int pass = 0; pass < passes; ++pass) {
    const auto children = fit_children(units, options, scales, std::max(scales.slope_sd, least_slope_sd));
    const auto squad = fit_squad(design, children, scales.evening_sd);
    stats::for_each_index(units.size(), options.threads, [&](std::size_t i) {
      auto& child = design.children[i];
      const Eigen::MatrixXd covariance = gather(squad.covariance, child.touched);
      const Eigen::VectorXd mean = gather(squad.mean, child.touched);
      if (child.rows.empty()) {
        return;
      }
      bool changed = options.slips.evening_rate > 0.0 &&
                     judge_evenings(children[i], covariance, mean, units[i], child, scales, options.slips);
      for (const auto& block : units[i].blocks) {
        changed =
            judge_block(block, children[i], covariance, mean, units[i], child, scales, options.slips, rate) || changed;
      }
      if (changed) {
        units[i] = collapse(design, child);
      }
    });
    double sum = options.slips.rate * options.slips.rate_weight;
    double count = options.slips.rate_weight;
    for (const auto& child : design.children) {
      for (const auto& row : child.rows) {
        sum += row.slip;
        count += 1.0;
      }
    }
    rate = sum / count;
  }
}

}  // namespace bagsplit::season
