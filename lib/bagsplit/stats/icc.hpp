#pragma once

#include <cstddef>
#include <optional>
#include <span>

#include "bagsplit/stats/interval.hpp"
#include "bagsplit/stats/spread.hpp"

/// Reliability of a complete table of n targets (players) by k measurements (raters, timers, trials).
///
///   form    model                                        one score   mean of k
///   (1,.)   one-way: each target has its own raters      icc_1_1     icc_1_k
///   (2,.)   two-way random, absolute agreement           icc_2_1     icc_2_k
///   (3,.)   two-way mixed, consistency                   icc_3_1     icc_3_k
///
/// Assumes: normal effects, same error variance for every target and rater, no missing cell. Coefficients are not
/// truncated: a negative one says that targets differ less than their readings do. Small samples: the intervals are
/// honest and very wide (n = 6, k = 2: often most of [-1, 1]); an ICC from fewer than about 10 targets should not be
/// read without its interval. An ICC also falls when the targets are alike: compare typical errors. Source: Shrout &
/// Fleiss (1979), Psychol Bull 86:420-428, doi:10.1037/0033-2909.86.2.420; McGraw & Wong (1996), Psychol Methods
/// 1:30-46, for the intervals of forms (2,.); Weir (2005), J Strength Cond Res 19:231-240, doi:10.1519/15184.1.
namespace bagsplit::stats {

/// One coefficient. Absent where it is 0/0 (no scatter at all) or its denominator is not positive.
struct IccForm {
  std::optional<double> icc;
  std::optional<Interval>
      interval;  ///< F-based, two-sided at the level asked for; upper end never above 1; none where a mean square is 0
};

struct Reliability {
  std::size_t targets;
  std::size_t raters;
  // Mean squares, in the notation of Shrout & Fleiss.
  double bms;  ///< between targets, n - 1 df
  double wms;  ///< within targets, n (k - 1) df
  double jms;  ///< between raters, k - 1 df
  double ems;  ///< residual, (n - 1)(k - 1) df
  IccForm icc_1_1, icc_2_1, icc_3_1, icc_1_k, icc_2_k, icc_3_k;
  std::optional<double> f_one_way, p_one_way;  ///< BMS/WMS, and P(F >= it)
  std::optional<double> f_two_way, p_two_way;  ///< BMS/EMS, and P(F >= it)
  std::optional<double> icc_2_df;              ///< Satterthwaite's df behind the interval of (2,1)
  SdEstimate typical_error;      ///< sqrt(EMS): rater means removed (Weir's SEM), with its chi-square interval
  double error_with_rater_bias;  ///< sqrt(EMS + (JMS - EMS)/n): differences between raters count as error
  double error_within;           ///< sqrt(WMS)
  double sd_total;               ///< SD of all n k scores
};

/// All six coefficients with their mean squares.
/// @param scores  n k values, target after target (row by row).   @param raters k.
/// n < 2 or k < 2: none.  @throws std::invalid_argument if the size is no multiple of k; std::domain_error on NaN.
std::optional<Reliability> reliability(std::span<const double> scores, std::size_t raters, double level = 0.95);

/// Smallest difference of two single scores that noise alone exceeds in only 1 - level of cases: z sqrt(2) SEM (Weir's
/// minimal difference). The SEM is taken as known; with few df it is not (see SdEstimate).  @param sem >= 0.
double minimal_detectable_change(double sem, double level = 0.95);

}  // namespace bagsplit::stats
