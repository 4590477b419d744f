#pragma once

#include <span>
#include <string_view>
#include <vector>

namespace bagsplit::season {

enum class Verdict {
  surely_faster,
  surely_slower,
  probably_faster,
  probably_slower,
  leaning_faster,
  leaning_slower,
  as_growth_says,
  no_sign,
  not_seen_early_and_late,
};

/// "surely faster" and so on.
std::string_view words(Verdict verdict);

/// What is known of one child's change beyond growth and the squad's common move.
struct Judged {
  double p_faster = 0.0, p_slower = 0.0;
  double p_as_growth = 0.0;  ///< changed by less than is worth telling
  bool seen_early_and_late = true;
};

/// Rules of the words, p the larger of p_faster and p_slower:
///   surely     p >= 0.90, and in the largest set of children whose mean 1 - p is at most 0.05 (Bayesian false
///              discovery rate; Newton, Noueiry, Sarkar & Ahlquist (2004), Biostatistics 5:155-176)
///   probably   p >= 0.75        leaning   p >= 0.50
///   as growth says   p_as_growth >= 0.90        no sign   else
/// A child not seen early and late has a word only where it is sure.
std::vector<Verdict> verdicts(std::span<const Judged> children);

/// The least change that is told as probable with chance `power`, in the unit of `size`.
///
/// A change is told where log odds beforehand + log Bayes factor of a normal centred at 0 with SD `size` reach those of
/// 0.75; the estimate's own error is taken once more for the chance.
/// @param information  on the change: 1 / variance of its estimate, > 0.
/// @param share_changed  in (0, 1): children expected to have changed.  @param weight  of this form of a change.
double detectable_change(double information, double share_changed, double size, double weight, double power = 0.8);

/// The least information with which a change of `change` is told so.
double information_to_tell(double change, double share_changed, double size, double weight, double power = 0.8);

}  // namespace bagsplit::season
