#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "bagsplit/norms/lms.hpp"
#include "bagsplit/runs/player.hpp"

/// One published reference behind one interface, whatever its statistics are: LMS, mean and SD, percentile marks, or
/// award marks that allow only words.
///
/// A percentile here runs from 0 to 100 and higher is better (the tables give percentiles of time; they are turned
/// round on loading). A z-score likewise: positive is faster than the reference. Nothing is ever extrapolated in age.
namespace bagsplit::norms {

/// How the reference was measured: what must be predicted of a player before the two can be compared.
struct Conditions {
  double distance_m = 0.0;
  double flying_from_m = 0.0;   ///< > 0: a flying segment that begins here
  bool signal_start = true;     ///< the clock starts at the signal: the reaction is inside the time
  double start_offset_m = 0.0;  ///< runner starts this far behind the line that starts the clock (gate starts)
  bool hand_timed = true;       ///< hand watches, with their press errors
  double rounding_bias_s =
      0.0;  ///< added by the recording rule on average: +0.05 where fractions are rounded up to 0.1 s
  /// Bias of the reference's own timing, reading minus truth, and how uncertain it is (one unknown number for all
  /// comparisons with this reference). For hand watches it is that of the stopwatch profile whose timer hears the
  /// signal.
  double timing_bias_mean_s = 0.0;
  double timing_bias_sd_s = 0.0;
  /// True where that bias is of the same kind as a coach's stopwatch on a signal: most of it is then shared with the
  /// player's own readings and cancels, and the two must not be drawn independently.
  bool shares_hand_bias = false;
  std::string note;  ///< what of this is not stated by the source
};

enum class Kind : std::uint8_t {
  lms,               ///< L, M, S by age: a percentile
  mean_sd,           ///< normal curve: a percentile, limited to [5, 95]
  percentile_marks,  ///< published percentiles: interpolated between them, limited to the outermost marks
  band,              ///< faster than, about, slower than the mean: words, no percentile
  marks,             ///< award or standard marks: words, no percentile
  none,              ///< listed with its source, never applied to a player
};

/// What may be said with it.
enum class Standing : std::uint8_t {
  norm,        ///< of the age group: may be called a percentile for age and sex
  squad,       ///< of a selected group: always with its label ("junior athletics squad"), never a norm for the age
  comparison,  ///< words only
  check,       ///< for checking other tables; never shown as a place
  anchor,      ///< adult figures or school marks: limits of sense only
};

enum class Band : std::uint8_t { faster, about, slower };

/// Parameters of a reference at one age. Times in seconds.
struct Knot {
  double age_yr = 0.0;     ///< age the row stands for: the mean age at the test
  double age_lo_yr = 0.0;  ///< the row's own bounds, lo <= age < hi
  double age_hi_yr = 0.0;
  std::optional<Lms> lms;
  std::optional<double> mean_s;
  std::optional<double> sd_s;
  std::vector<std::pair<double, double>> marks;  ///< (percentile of TIME, time [s]), ascending
  std::optional<double> n;
};

enum class AgeRule : std::uint8_t {
  published,     ///< as the source's table is meant to be read (a bin, or between rows placed at their mean age)
  between_bins,  ///< always between the middles of the rows, held at the ends: no steps, for following one child over
                 ///< time
};

/// A reference for one sex at one age, ready for use. Made by Norm::at.
class Reference {
 public:
  /// z-score of a time, positive is faster. @param time_s > 0. Nothing for words-only references.
  std::optional<double> z(double time_s) const;
  /// Percentile of a time, 0-100, higher is better, within `limits()`. Nothing for words-only references.
  std::optional<double> percentile_of_time(double time_s) const;
  /// Time at a percentile (higher is better); nothing outside `limits()` or for words-only references.
  std::optional<double> time_at_percentile(double percentile) const;
  /// Percentile points per second at a time (absolute value), 0 outside the limits; for carrying uncertainty through.
  double percentile_density(double time_s) const;
  /// Times at which that density jumps, ascending: the limits and, of percentile marks, the marks.
  std::vector<double> kinks_s() const;
  /// Lowest and highest percentile it will say: [5, 95] for a mean and SD, the outermost marks, [0, 100] for LMS.
  std::pair<double, double> limits() const { return {lowest_, highest_}; }
  /// True where the source's own tail was cut, so that the percentile is nearer to 0 or 100 than it says.
  bool in_trimmed_tail(double time_s) const;
  /// Faster, about or slower than the middle: "about" is within 2.5 % of it (one run's typical error).
  Band band_of_time(double time_s) const;
  /// One sentence on a time, for references that allow only words.
  std::string words(double time_s) const;
  double median_s() const;             ///< median, or mean where there is no median
  std::optional<double> sd_s() const;  ///< SD of the times, where the reference has one that is not disputed
  Kind kind() const { return kind_; }

 private:
  friend class Norm;
  Kind kind_ = Kind::band;
  std::string who_;          ///< for sentences: "US pupils of 1985"
  double trimmed_lo_ = 0.0;  ///< percentiles beyond which the source's own tails were cut
  double trimmed_hi_ = 100.0;
  double lowest_ = 0.0;
  double highest_ = 100.0;
  Knot at_;
};

/// One reference with its papers.
struct NormInfo {
  std::string id;          ///< stable word, e.g. "sprint-20m-emotikon"
  std::string label;       ///< short, for people: "German school children, 20 m"
  std::string who;         ///< for sentences: "German school children of 8.0-9.1 years"
  std::string population;  ///< who
  std::string country;
  std::string years;     ///< when measured
  std::string citation;  ///< authors (year), title, journal or publisher
  std::string doi;       ///< empty where there is none
  std::string licence;
  std::string evidence;            ///< how far the figures were confirmed
  std::string quality;             ///< A raw data or complete table ... D not a norm
  std::string restriction;         ///< what must be said with it; empty when nothing
  std::string test;                ///< "sprint", "shuttle-4x30ft", "home-first"
  std::vector<std::string> files;  ///< below data/
  Kind kind = Kind::band;
  Standing standing = Standing::norm;
  bool use_by_default = false;  ///< choose() may take it
  double trimmed_lo = 0.0;      ///< percentiles beyond which the source's own tails were cut: 3 and 97, or 0 and 100
  double trimmed_hi = 100.0;
  double age_offset_yr = 0.0;  ///< mean age at the test minus the row's lower age (0.8 in the Japanese survey)
  Conditions conditions;
};

class Norm {
 public:
  const NormInfo& info() const { return info_; }
  const Conditions& conditions() const { return info_.conditions; }
  /// Covered ages for a sex, lo <= age < hi; nothing when the sex is not in it.
  std::optional<std::pair<double, double>> ages(runs::Sex sex) const;
  /// The reference at an age; nothing outside the covered ages. @throws std::domain_error on an age that is not finite.
  std::optional<Reference> at(double age_yr, runs::Sex sex, AgeRule rule = AgeRule::published) const;
  /// Plain sentence: why there is no reference at that age and sex. Empty when there is one.
  std::string why_not(double age_yr, runs::Sex sex) const;
  const std::vector<Knot>& knots(runs::Sex sex) const { return sex == runs::Sex::female ? female_ : male_; }

  std::optional<double> percentile_of_time(double age_yr, runs::Sex sex, double time_s) const;
  std::optional<double> time_at_percentile(double age_yr, runs::Sex sex, double percentile) const;
  std::optional<double> z(double age_yr, runs::Sex sex, double time_s, AgeRule rule = AgeRule::published) const;

 private:
  friend class Catalogue;
  NormInfo info_;
  bool bins_ = false;  ///< published rule: the row that holds the age; otherwise between rows at their mean age
  std::vector<Knot> female_, male_;
  std::optional<std::pair<double, double>> female_ages_, male_ages_;
};

}  // namespace bagsplit::norms
