#pragma once

#include <cstddef>
#include <cstdint>
#include <span>
#include <vector>

#include "bagsplit/inference/likelihood/detail/likelihood.hpp"
#include "bagsplit/inference/posterior/slip.hpp"

/// What a slip would add to a player's readings, and what the readings say of it; stays inside the module.
///
/// With e = y - T - X w the residuals at the posterior mean w of the linear terms, Q the precision of the readings with
/// the days integrated out, Sigma the posterior covariance of the terms, and c_a the column of a slip:
///     h_a = c_a' Q e,   u_a = X' Q c_a,   G_ab = c_a' Q c_b - u_a' Sigma u_b.
/// h_a^2 / G_aa is the squared z of the slip left out; everything else follows from h and G. Q couples runs of one day
/// only through its form, so all of this is work within a run.
namespace bagsplit::inference {

struct SlipColumn {
  SlipKind kind = SlipKind::mark;
  std::uint32_t reading = 0;    ///< into PlayerData::readings
  std::uint32_t mark = 0;       ///< of the reading, 0, 1, ...
  std::uint32_t place = 0;      ///< of its run, into RunPatterns::places
  double share = 1.0;           ///< of the rate
  bool positive = false;        ///< time can be lost so, not won
  std::vector<double> by_mark;  ///< of the run, N
};

class SlipColumns {
 public:
  /// The likelihood stays with the caller; its data is `data`.
  SlipColumns(const PlayerData& data, PlayerLikelihood& likelihood);

  std::size_t size() const { return columns_.size(); }
  const SlipColumn& operator[](std::size_t a) const { return columns_[a]; }

  /// Looks at some columns at a sprint. What follows is about them, by their place in `which`.
  /// @return the log posterior without slips; mean and covariance of the terms are those without slips.
  double look(double log_v, double log_tau, std::span<const std::uint32_t> which, std::span<double> means,
              std::span<double> covariance);
  double h(std::size_t a) const { return h_[a]; }
  double g(std::size_t a, std::size_t b) const;
  /// Sigma u_a.
  std::span<const double> gain(std::size_t a) const { return std::span(su_).subspan(a * q_, q_); }

  /// What the readings say of a small move of (log V, log tau) from a sprint, and how it goes with each slip: with Z
  /// the change of T + X m by it, and P = Q - Q X Sigma X' Q.
  struct Slope {
    double z_p_z[2][2];
    double z_p_e[2];
    std::vector<double> c_p_z;  ///< 2 a column
  };
  /// Looks at all columns too.
  Slope slope(double log_v, double log_tau);

 private:
  struct PatternAt {
    bool known = false;
    std::vector<double> factor, t, x;  // of A; times and terms through it
    std::vector<double> plain_t, plain_x;
  };

  void add_reading(const PlayerData& data, std::uint32_t reading, std::uint32_t place, std::size_t offset,
                   std::size_t marks);
  void look_at(std::span<const std::uint32_t> which, std::span<const double> means, std::span<const double> covariance);
  const PatternAt& pattern_at(std::size_t p);
  const double* residual_of(std::size_t place, std::span<const double> means);
  std::vector<double> expected(std::size_t p) const;
  std::vector<std::vector<double>> changes(double log_v, double log_tau, std::span<double> means,
                                           std::span<double> covariance);
  void take_off_days(std::span<const double> means, std::span<const double> by_day, std::span<double> u,
                     Slope& out) const;

  PlayerLikelihood& likelihood_;
  std::size_t q_;
  double effort_cv_;
  std::vector<SlipColumn> columns_;
  std::vector<std::vector<double>> times_of_;  // of each place, N

  // At the sprint looked at last.
  std::vector<PatternAt> at_;
  std::vector<std::vector<double>> residual_;  // of each place, through the factor; empty: not needed yet
  std::vector<std::uint32_t> which_;
  std::vector<double> h_, ct_, u_, su_, c_;
  std::size_t widest_;
};

}  // namespace bagsplit::inference
