#pragma once

#include <array>
#include <cstdint>
#include <memory>
#include <optional>
#include <span>
#include <utility>
#include <vector>

#include "bagsplit/basepath/surrogate.hpp"
#include "bagsplit/inference/posterior/posterior.hpp"
#include "bagsplit/inference/reading/assemble.hpp"

/// What the best path says of a player's losses: their prior means before any run, and the yardstick after.
namespace bagsplit::inference {

/// m(V, tau) of one segment: what the best path loses there, averaged over the plausible lateral limits (log L normal,
/// 90% between the ends of basepath::default_lateral_mps2(), three-point Gauss-Hermite rule), B = 0.75 L.
class ExpectedLoss {
 public:
  /// Nothing for an unknown key.
  static std::optional<ExpectedLoss> of(const basepath::LossTable& table, std::string_view key, double base_distance_m);
  double operator()(double log_top_speed, double log_time_constant) const;

  using Cells = std::array<basepath::LossSurface::Cell, 3>;
  /// The same for every segment over one base distance.
  Cells cells(double log_top_speed, double log_time_constant) const;
  double at(const Cells& cells) const;

 private:
  std::shared_ptr<const std::array<basepath::LossSurface, 3>> surfaces_;  // large, and copied with every player
};

/// The nodes of inference::prior_rule() for one player's prior of (V, tau).
struct PriorGrid {
  explicit PriorGrid(const inference::PlayerData& data);
  std::vector<double> of(const basepath::LossSurface& loss) const;

  std::vector<double> weight, log_top_speed, log_time_constant;
  std::vector<motion::Sprint> sprints;
};

/// The terms of a player whose prior mean follows (V, tau).
struct LossMeans {
  std::vector<std::pair<std::uint32_t, ExpectedLoss>> terms;  ///< all of one base distance
  std::optional<PriorGrid> grid;                              ///< always there after expect_best_path
  std::vector<std::vector<double>> on_grid;                   ///< each term's mean at the nodes of the grid
  std::vector<double> at_centre;  ///< each term's mean at the middle of the player's own prior

  /// For inference::Posterior; empty where there are no such terms. Adds to each mean how far m(V, tau) is from its
  /// value at the middle of the prior, so that what a squad has learnt of a loss stays in. Refers to this object.
  inference::TermMeans callback() const;

  /// The grid for another prior of (V, tau).
  void regrid(const inference::PlayerData& data);

  /// Sets the share from data of a summary of f(V, tau) + the sum of some terms: their prior variance, and that of f
  /// and of their means over the prior of (V, tau).  @param values  f at the nodes of the grid; empty: 0.
  /// @param coefficients  of the terms; none: all 1.
  void set_share(Estimate& estimate, const inference::PlayerData& data, std::span<const std::uint32_t> some,
                 std::vector<double> values = {}, std::span<const double> coefficients = {}) const;
};

/// The losses whose prior no model file gives get their mean from the best path; their SD stays the default model's.
/// The constant mean in `assembled` becomes that at the middle of the prior of (V, tau).
LossMeans expect_best_path(Assembled& assembled, const basepath::LossTable& table, const inference::ModelFile& model);

}  // namespace bagsplit::inference
