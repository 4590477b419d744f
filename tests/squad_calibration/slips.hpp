#pragma once

#include <cstdint>
#include <map>
#include <string>

#include "squad_calibration/world.hpp"

/// Squads drawn from the model, some of whose numbers are then made wrong: what intervals and names are still worth.
namespace bagsplit::test {

/// A slip at each mark with the rate given, at the start press of a reading of two marks or more with half of it, of
/// either sign.
struct Slips {
  double rate = 0.0;
  double size_s = 0.0;
};

struct Interval {
  Coverage slipped;    ///< with the slips in
  Coverage clean;      ///< the same children without
  double width = 0.0;  ///< sum of the ratios of their 90 % intervals, with the slips to without
  double width_of(int n) const { return n > 0 ? width / n : 0.0; }
};

struct SlipCalibration {
  std::map<std::string, Interval> hit, not_hit;    ///< by quantity, of children with a slip and without
  int slips = 0, rows_named = 0, cells_named = 0;  ///< slips at a mark
  int straight = 0, straight_named = 0;            ///< of those, on a straight
  int clean_rows = 0, clean_readings = 0, false_names = 0;
  int cells = 0, cells_right = 0;                           ///< cells named as surely wrong, and those that are
  int advised = 0, advised_falsely = 0, advised_clean = 0;  ///< bags to work on; falsely: 0.10 s or less are lost there
  int not_certified = 0;
};

/// @param slips  of rate 0: a clean night twice, the second without the mixture, so that `clean` is that.
SlipCalibration calibrate_slips(int squads, std::uint64_t seed, Nights nights, const Slips& slips, unsigned threads);

}  // namespace bagsplit::test
