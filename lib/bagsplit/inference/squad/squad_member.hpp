#pragma once

#include <Eigen/Core>
#include <cstddef>
#include <cstdint>
#include <limits>
#include <vector>

#include "bagsplit/inference/reading/player_data.hpp"
#include "bagsplit/inference/squad/gaussian.hpp"

/// One player of a squad: which quantities are shared, and the prior of x = (log V, log tau, terms) under what is
/// thought of those.
namespace bagsplit::inference {

inline constexpr std::uint32_t not_shared = std::numeric_limits<std::uint32_t>::max();

/// One player, with the prior of the own part only.
struct SquadMember {
  PlayerData data;  ///< its terms' priors independent; a term with a shared part may have sd 0
  std::uint32_t shared_log_top_speed = not_shared;  ///< index into the shared quantities
  std::uint32_t shared_log_time_constant = not_shared;
  double time_constant_on_its_own = 1.0;      ///< so much of shared_log_time_constant is in log tau
  double time_constant_on_top_speed = 0.0;    ///< and so much of shared_log_top_speed
  std::vector<std::uint32_t> shared_of_term;  ///< one a term; at most one term for each shared quantity
  std::vector<std::uint8_t> hand;             ///< one a reading: 1 where the press-error factor applies
  std::vector<std::uint32_t> losses;          ///< terms whose own part may go with the own part of log V
};

struct SquadScales {
  double effort_cv = 0.0;
  double day_cv = 0.0;
  double reaction_sd_s = 0.0;
  double press_factor = 1.0;
  double loss_slope_s = 0.0;  ///< own loss a unit of own log V: who is faster than the squad loses so much more
};

/// The slope of one loss: that of the squad, but never so much that less than 0.19 of the variance of the child's own
/// part is left to the loss itself.
double slope_of_loss(const SquadMember& member, std::uint32_t term, double loss_slope_s);

/// Shared quantities of a member, and what each of its coordinates holds of them: coordinate 0 is log V, 1 log tau,
/// then the terms.
struct SharedLinks {
  /// @param shared  how many shared quantities there are.
  /// @throws std::invalid_argument for sizes that do not fit, a quantity that does not exist or is pointed to twice.
  SharedLinks(const SquadMember& member, std::size_t shared);

  /// One shared quantity in a coordinate.
  struct Part {
    Eigen::Index coordinate = 0;
    Eigen::Index at = 0;  ///< place in `about`
    double weight = 1.0;
  };

  std::vector<std::uint32_t> about;  ///< ascending
  std::vector<Part> parts;           ///< by coordinate, ascending
  Eigen::Index coordinates = 0;
};

/// Prior of x under a Gaussian for the shared quantities it points to, at some scales (the form of a day has the SD
/// that belongs to them).
Gaussian prior_of(const SquadMember& member, const SharedLinks& links, const Gaussian& shared,
                  const SquadScales& scales);

/// Covariance of the shared quantities with x under that prior, about x (2 + terms).
Eigen::MatrixXd ties_of(const SharedLinks& links, const Gaussian& shared);

/// The member's data at some scales, under a joint prior of x: the sprint's, and the terms' given the sprint.
PlayerData data_under(const SquadMember& member, const Gaussian& prior, const SquadScales& scales);

}  // namespace bagsplit::inference
