#include "bagsplit/norms/norm.hpp"

#include <algorithm>
#include <cmath>
#include <sstream>
#include <stdexcept>

#include "bagsplit/norms/words.hpp"
#include "bagsplit/stats/distributions.hpp"

namespace bagsplit::norms {

namespace {

// One run's typical error in youths, 2-3 % of the time over 20-60 m (data/norms/sprint-within-person-reliability.csv).
constexpr double about_share = 0.025;
// A mean and an SD do not know the tails: sprint times are skewed to the right (EMOTIKON L about -1.1).
constexpr double normal_curve_lowest = 5.0;
constexpr double normal_curve_highest = 95.0;

void check_time(const char* function, double time_s) {
  if (!(time_s > 0.0) || !std::isfinite(time_s)) {
    std::ostringstream text;
    text << function << ": time_s is " << time_s << ", but must be finite and above 0";
    throw std::domain_error(text.str());
  }
}

using Marks = std::vector<std::pair<double, double>>;

// Marks as (z of time, time). Between two marks z is linear in time; beyond the outermost it is held.
double z_between_marks(const Marks& marks, double time_s, double* slope) {
  *slope = 0.0;
  if (time_s <= marks.front().second) {
    return stats::normal_quantile(marks.front().first / 100.0);
  }
  if (time_s >= marks.back().second) {
    return stats::normal_quantile(marks.back().first / 100.0);
  }
  const auto above =
      std::upper_bound(marks.begin(), marks.end(), time_s, [](double t, const auto& mark) { return t < mark.second; });
  const auto below = above - 1;
  const double z0 = stats::normal_quantile(below->first / 100.0);
  const double z1 = stats::normal_quantile(above->first / 100.0);
  *slope = (z1 - z0) / (above->second - below->second);
  return z0 + *slope * (time_s - below->second);
}

Knot between(const Knot& a, const Knot& b, double w) {
  Knot out = a;
  if (a.lms && b.lms) {
    out.lms = interpolate(*a.lms, *b.lms, w);
  }
  if (a.mean_s && b.mean_s) {
    out.mean_s = std::lerp(*a.mean_s, *b.mean_s, w);
  }
  if (a.sd_s && b.sd_s) {
    out.sd_s = std::lerp(*a.sd_s, *b.sd_s, w);
  }
  if (!a.marks.empty() && !b.marks.empty()) {
    out.marks.clear();
    for (const auto& mark : a.marks) {
      const auto same =
          std::find_if(b.marks.begin(), b.marks.end(), [&](const auto& m) { return m.first == mark.first; });
      if (same != b.marks.end()) {
        out.marks.emplace_back(mark.first, std::lerp(mark.second, same->second, w));
      }
    }
  }
  return out;
}

// The row whose own ages hold this one.
const Knot* holding(const std::vector<Knot>& knots, double age_yr) {
  const auto it = std::find_if(knots.begin(), knots.end(),
                               [&](const Knot& k) { return k.age_lo_yr <= age_yr && age_yr < k.age_hi_yr; });
  return it == knots.end() ? nullptr : &*it;
}

}  // namespace

std::optional<double> Reference::z(double time_s) const {
  check_time("Reference::z", time_s);
  switch (kind_) {
    case Kind::lms:
      return -lms_z(*at_.lms, time_s);
    case Kind::mean_sd:
      return (*at_.mean_s - time_s) / *at_.sd_s;
    case Kind::percentile_marks: {
      double slope = 0.0;
      return -z_between_marks(at_.marks, time_s, &slope);
    }
    case Kind::band:
    case Kind::marks:
    case Kind::none:
      break;
  }
  return std::nullopt;
}

std::optional<double> Reference::percentile_of_time(double time_s) const {
  const auto score = z(time_s);
  if (!score) {
    return std::nullopt;
  }
  if (kind_ == Kind::percentile_marks && time_s >= at_.marks.back().second) {
    return lowest_;  // exactly, whatever the rounding of the quantile
  }
  if (kind_ == Kind::percentile_marks && time_s <= at_.marks.front().second) {
    return highest_;
  }
  return std::clamp(100.0 * stats::normal_cdf(*score), lowest_, highest_);
}

std::optional<double> Reference::time_at_percentile(double percentile) const {
  if (!(percentile > 0.0 && percentile < 100.0) || percentile < lowest_ || percentile > highest_) {
    return std::nullopt;
  }
  const double z_of_time = -stats::normal_quantile(percentile / 100.0);
  switch (kind_) {
    case Kind::lms:
      return lms_value(*at_.lms, z_of_time);
    case Kind::mean_sd:
      return *at_.mean_s + *at_.sd_s * z_of_time;
    case Kind::percentile_marks: {
      const double p_of_time = 100.0 - percentile;
      auto above =
          std::find_if(at_.marks.begin(), at_.marks.end(), [&](const auto& m) { return m.first >= p_of_time; });
      if (above == at_.marks.end()) {
        return at_.marks.back().second;
      }
      if (above == at_.marks.begin()) {
        return above->second;
      }
      const auto below = above - 1;
      const double z0 = stats::normal_quantile(below->first / 100.0);
      const double z1 = stats::normal_quantile(above->first / 100.0);
      return std::lerp(below->second, above->second, (z_of_time - z0) / (z1 - z0));
    }
    case Kind::band:
    case Kind::marks:
    case Kind::none:
      break;
  }
  return std::nullopt;
}

double Reference::percentile_density(double time_s) const {
  const auto score = z(time_s);
  if (!score) {
    return 0.0;
  }
  const double percentile = 100.0 * stats::normal_cdf(*score);
  if (percentile <= lowest_ || percentile >= highest_) {
    return 0.0;
  }
  switch (kind_) {
    case Kind::lms:
      return 100.0 * lms_density(*at_.lms, time_s);
    case Kind::mean_sd:
      return 100.0 * normal_density(*score) / *at_.sd_s;
    case Kind::percentile_marks: {
      double slope = 0.0;
      z_between_marks(at_.marks, time_s, &slope);
      return 100.0 * normal_density(*score) * slope;
    }
    case Kind::band:
    case Kind::marks:
    case Kind::none:
      break;
  }
  return 0.0;
}

std::vector<double> Reference::kinks_s() const {
  std::vector<double> times_s;
  if (kind_ == Kind::percentile_marks) {
    for (const auto& mark : at_.marks) {
      times_s.push_back(mark.second);
    }
    return times_s;
  }
  for (const double percentile : {highest_, lowest_}) {
    if (const auto time_s = time_at_percentile(percentile)) {
      times_s.push_back(*time_s);
    }
  }
  return times_s;
}

bool Reference::in_trimmed_tail(double time_s) const {
  const auto percentile = percentile_of_time(time_s);
  return percentile && (*percentile < trimmed_lo_ || *percentile > trimmed_hi_);
}

double Reference::median_s() const {
  if (at_.lms) {
    return at_.lms->m;
  }
  const auto middle = std::find_if(at_.marks.begin(), at_.marks.end(), [](const auto& m) { return m.first == 50.0; });
  if (middle != at_.marks.end()) {
    return middle->second;
  }
  return at_.mean_s ? *at_.mean_s : at_.marks.front().second;
}

std::optional<double> Reference::sd_s() const {
  return kind_ == Kind::band ? std::nullopt : at_.sd_s;
}

Band Reference::band_of_time(double time_s) const {
  check_time("Reference::band_of_time", time_s);
  const double middle = median_s();
  if (time_s < middle * (1.0 - about_share)) {
    return Band::faster;
  }
  return time_s > middle * (1.0 + about_share) ? Band::slower : Band::about;
}

std::string Reference::words(double time_s) const {
  check_time("Reference::words", time_s);
  if (kind_ == Kind::marks) {
    const auto& fast = at_.marks.front();
    if (time_s <= fast.second) {
      return "as fast as the fastest " + shown(fast.first, 0) + " % of " + who_;
    }
    const auto middle = std::find_if(at_.marks.begin(), at_.marks.end(), [](const auto& m) { return m.first == 50.0; });
    if (middle == at_.marks.end()) {
      return "slower than the fastest " + shown(fast.first, 0) + " % of " + who_ + "; no median is held at this age";
    }
    if (time_s == middle->second) {
      return "at the median of " + who_;
    }
    return std::string(time_s < middle->second ? "faster" : "slower") + " than the median of " + who_;
  }
  switch (band_of_time(time_s)) {
    case Band::faster:
      return "faster than the mean of " + who_;
    case Band::slower:
      return "slower than the mean of " + who_;
    case Band::about:
      break;
  }
  return "about the mean of " + who_;
}

std::optional<std::pair<double, double>> Norm::ages(runs::Sex sex) const {
  return sex == runs::Sex::female ? female_ages_ : male_ages_;
}

std::optional<Reference> Norm::at(double age_yr, runs::Sex sex, AgeRule rule) const {
  if (!std::isfinite(age_yr)) {
    throw std::domain_error("Norm::at: age_yr must be finite");
  }
  const auto covered = ages(sex);
  const auto& rows = knots(sex);
  if (!covered || age_yr < covered->first || age_yr >= covered->second || rows.empty()) {
    return std::nullopt;
  }
  Knot at;
  if (bins_ && rule == AgeRule::published) {
    const Knot* row = holding(rows, age_yr);
    if (row == nullptr) {
      return std::nullopt;
    }
    at = *row;
  } else if (age_yr <= rows.front().age_yr) {
    at = rows.front();
  } else if (age_yr >= rows.back().age_yr) {
    at = rows.back();
  } else {
    const auto above =
        std::upper_bound(rows.begin(), rows.end(), age_yr, [](double age, const Knot& k) { return age < k.age_yr; });
    const auto below = above - 1;
    at = between(*below, *above, (age_yr - below->age_yr) / (above->age_yr - below->age_yr));
  }
  at.age_yr = age_yr;

  Reference reference;
  reference.kind_ = info_.kind;
  reference.who_ = info_.who;
  reference.trimmed_lo_ = info_.trimmed_lo;
  reference.trimmed_hi_ = info_.trimmed_hi;
  if (info_.kind == Kind::mean_sd) {
    reference.lowest_ = normal_curve_lowest;
    reference.highest_ = normal_curve_highest;
  } else if (info_.kind == Kind::percentile_marks) {
    reference.lowest_ = 100.0 - at.marks.back().first;
    reference.highest_ = 100.0 - at.marks.front().first;
  }
  reference.at_ = std::move(at);
  return reference;
}

std::string Norm::why_not(double age_yr, runs::Sex sex) const {
  if (at(age_yr, sex)) {
    return {};
  }
  const auto covered = ages(sex);
  const std::string children = sex == runs::Sex::female ? "girls" : "boys";
  if (info_.kind == Kind::none) {
    return info_.label + " is not applied to a player: " + info_.restriction;
  }
  if (!covered) {
    return info_.label + " has no figures for " + children + ".";
  }
  return info_.label + " covers " + children + " of " + shown(covered->first, 1) + " to " + shown(covered->second, 1) +
         " years, not " + shown(age_yr, 1) + "; it is not stretched beyond them.";
}

std::optional<double> Norm::percentile_of_time(double age_yr, runs::Sex sex, double time_s) const {
  const auto reference = at(age_yr, sex);
  return reference ? reference->percentile_of_time(time_s) : std::nullopt;
}

std::optional<double> Norm::time_at_percentile(double age_yr, runs::Sex sex, double percentile) const {
  const auto reference = at(age_yr, sex);
  return reference ? reference->time_at_percentile(percentile) : std::nullopt;
}

std::optional<double> Norm::z(double age_yr, runs::Sex sex, double time_s, AgeRule rule) const {
  const auto reference = at(age_yr, sex, rule);
  return reference ? reference->z(time_s) : std::nullopt;
}

}  // namespace bagsplit::norms
