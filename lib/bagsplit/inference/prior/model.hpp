#pragma once

#include <array>
#include <map>
#include <optional>
#include <string>
#include <string_view>

#include "bagsplit/text/problem.hpp"

/// Every prior and error parameter of the model (what a reading is; the player's posterior), and the model file that
/// fixes them. Natural logarithms, SI; priors are Gaussian and independent.
namespace bagsplit::inference {

/// A Gaussian prior: mean and standard deviation in the quantity's own unit (dimensionless for logarithms).
struct Normal {
  double mean = 0.0;
  double sd = 0.0;  ///< >= 0; 0 fixes the quantity

  bool operator==(const Normal&) const = default;
};

/// What is thought of wrong numbers before a reading is looked at. A slip adds delta to some marks of a reading,
/// delta ~ sum of shares_k N(0, sizes_s_k^2).
struct SlipPrior {
  double rate = 0.0;                         ///< of a slip at a mark; 0: every reading counts in full
  double rate_weight = 150.0;                ///< readings that a squad's own slips are weighed against
  std::array<double, 2> sizes_s{0.45, 2.0};  ///< of a thumb, of a typed digit
  std::array<double, 2> shares{0.8, 0.2};
  double start_share = 0.5;  ///< rate of a start pressed early or late, in parts of `rate`
  double lost_share = 0.5;   ///< of time lost within a run and not told, from one mark on
  double slow_share = 0.5;   ///< of a run not in earnest

  bool operator==(const SlipPrior&) const = default;
};

/// What a model file gives. Absent is absent: age, device and squad decide then.
struct ModelFile {
  struct Prior {
    std::optional<Normal> log_top_speed;                        ///< log V, V in m/s
    std::optional<Normal> log_time_constant;                    ///< log tau, tau in s; or else
    std::optional<Normal> log_first_acceleration;               ///< log A, A = V/tau in m/s2
    std::optional<double> log_correlation;                      ///< of log V and whichever of the two is given, (-1, 1)
    std::optional<Normal> late_slowing_per_s;                   ///< k
    std::optional<Normal> reaction_s;                           ///< RT
    std::map<std::string, Normal, std::less<>> posture_cost_s;  ///< G by posture word ("prone", ...)
    std::map<std::string, Normal, std::less<>> segment_loss_s;  ///< L_k by segment key; replaces m(V, tau)
    std::optional<Normal> swing_finish_s;                       ///< C, for contact starts

    bool operator==(const Prior&) const = default;
  } prior;
  struct Error {
    std::optional<double> effort_cv;      ///< cv, effort from run to run
    std::optional<double> day_cv;         ///< cv_day, form of the day
    std::optional<double> reaction_sd_s;  ///< s_RT
    std::optional<double> start_sd_s;     ///< s_start of every device
    std::optional<double> split_sd_s;     ///< the whole per-split error, rounding included
    std::optional<double> bias_s;         ///< the whole device and timer bias, reading minus truth
    std::optional<SlipPrior> slip;        ///< wrong numbers
    std::optional<double> move_lag_s;     ///< observer lag of a `move` mark beyond bias_s; 0 where bias_s is given

    bool operator==(const Error&) const = default;
  } error;

  bool operator==(const ModelFile&) const = default;
};

/// Reads a model file. Unknown or duplicate keys, wrong types, NaN, negative SDs are problems, all reported in one pass
/// with line and column where they can be known.
/// @return the model; unusable when `problems` gained an error.
ModelFile read_model(std::string_view text, std::string_view path, text::Problems& problems);

/// The same structure as JSON text, keys in the order of the contract; every digit (shortest round-trip form).
std::string write_model(const ModelFile& model);

/// Does it say what is thought of wrong numbers and nothing else? Then a squad still tells the rest.
bool only_of_slips(const ModelFile& model);

/// Built-in hyperparameters (data/models/default.json): what a model file leaves out.
ModelFile default_model();

}  // namespace bagsplit::inference
