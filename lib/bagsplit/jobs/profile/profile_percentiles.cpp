#include <algorithm>
#include <cmath>
#include <functional>

#include "bagsplit/jobs/profile/detail/profile_job.hpp"
#include "bagsplit/norms/uncertain.hpp"

namespace bagsplit::jobs {

namespace {

// A player's time as a reference would have measured it, and how likely it lies below some time.
struct TimeCompared {
  Estimate time;
  std::function<double(double)> below;
  Estimate level;  // what weeks leave open of the day left aside
};

// The part of a hand watch's bias on signal starts that all such timers share.
std::optional<std::uint32_t> shared_signal_bias(const inference::Assembled& assembled) {
  for (std::uint32_t k = 0; k < assembled.terms.size(); ++k) {
    const inference::Term& term = assembled.terms[k];
    if (term.kind == inference::TermKind::bias_shared && term.hand_on_signal) {
      return k;
    }
  }
  return std::nullopt;
}

// Leaves the mean and SD at each node in `scratch`: the time in the reference's convention, its timing error included.
void time_at_nodes(const norms::Conditions& c, const Prepared& prepared, const inference::Posterior& posterior,
                   const inference::Normal& prior_reaction_s, Scratch& scratch) {
  const inference::Assembled& assembled = prepared.assembled;
  double offset = c.rounding_bias_s + c.timing_bias_mean_s;
  double timing_variance = c.timing_bias_sd_s * c.timing_bias_sd_s;
  std::vector<std::uint32_t> terms;
  std::vector<double> coefficients;
  // A player who was hand-timed on a signal carries much the same unknown bias as the reference: what the two share
  // (the smaller of the two variances) is one number, so it enters as the player's own bias term. The prior is that
  // before any run: what a squad's runs told of its timer is news of the reference's timers as well.
  if (const auto bias = c.shares_hand_bias ? shared_signal_bias(assembled) : std::nullopt) {
    const inference::Normal& prior = assembled.data.terms[*bias];
    const double variance = prior.sd * prior.sd;
    const double slope = variance > 0.0 ? std::min(1.0, timing_variance / variance) : 0.0;
    terms.push_back(*bias);
    coefficients.push_back(slope);
    offset -= slope * prior.mean;
    timing_variance -= slope * slope * variance;
  }
  if (c.signal_start) {
    if (const auto reaction = assembled.find(inference::TermKind::reaction)) {
      terms.push_back(*reaction);
      coefficients.push_back(1.0);
    } else {
      offset += prior_reaction_s.mean;
      timing_variance += prior_reaction_s.sd * prior_reaction_s.sd;
    }
  }
  const double from_m = c.flying_from_m > 0.0 ? c.flying_from_m : c.start_offset_m;
  scratch.resize(posterior.size());
  for (std::size_t i = 0; i < posterior.size(); ++i) {
    scratch.values[i] = motion::time_from_beam(posterior.sprints()[i], from_m, c.distance_m) + offset;
  }
  posterior.mixture(scratch.values, terms, coefficients, scratch.means, scratch.sds);
  for (double& sd : scratch.sds) {
    sd = std::sqrt(sd * sd + timing_variance);
  }
}

// A time and its distribution, stretched about the median to another time's interval.
TimeCompared stretched(TimeCompared own, const Estimate& to) {
  const Estimate from = own.time;
  const auto ratio = [](double wide, double narrow) { return narrow > 0.0 ? wide / narrow : 1.0; };
  const double down = ratio(to.median - to.lo, from.median - from.lo);
  const double up = ratio(to.hi - to.median, from.hi - from.median);
  return {to,
          [below = std::move(own.below), median = from.median, down, up](double x) {
            return below(median + (x - median) / (x < median ? down : up));
          },
          own.level};
}

// `below` refers to the posterior and the scratch. The interval and it are of one distribution.
TimeCompared compared(const norms::Conditions& c, const Prepared& prepared, const inference::Posterior& posterior,
                      const Scratch& scratch, double level) {
  if (c.signal_start) {
    const Estimate time = inference::summarise_mixture(posterior.weights(), scratch.means, scratch.sds, level);
    Estimate wide = time;
    widen(wide, prepared.lead_doubt, time.mean);
    return stretched(
        {time, [&](double x) { return inference::mixture_below(posterior.weights(), scratch.means, scratch.sds, x); },
         time},
        wide);
  }
  // A function of V and tau with at most a common timing error: its own distribution, stretched about its median by
  // what that error adds to the SD. A mixture over the nodes would be lumps: the error is small beside the steps
  // between them.
  const Estimate time = posterior.of_sprint(scratch.values, level, std::nullopt);
  Estimate wide = time;
  wide.sd = std::hypot(time.sd, c.timing_bias_sd_s);
  const double wider = time.sd > 0.0 ? wide.sd / time.sd : 1.0;
  wide.lo = time.median + wider * (time.lo - time.median);
  wide.hi = time.median + wider * (time.hi - time.median);
  const Estimate on_level = wide;
  widen(wide, prepared.lead_doubt, time.mean);
  return stretched(
      {time, [own = posterior.distribution_of_sprint(scratch.values)](double x) { return own.below(x); }, on_level},
      wide);
}

norms::PercentileSummary percentile_of(const norms::Reference& reference, const TimeCompared& time) {
  constexpr double reach = 6.0;  // SDs
  const Estimate& t = time.time;
  return norms::percentile_of(reference, {t.lo, t.median, t.hi, t.mean - reach * t.sd, t.mean + reach * t.sd,
                                          [&](double x) { return time.below(x); }});
}

}  // namespace

void add_percentiles(const ProfileJob& job, const Prepared& prepared, const inference::Posterior& posterior,
                     Scratch& scratch, PlayerProfile& profile) {
  if (!profile.age_years || !profile.sex) {
    return;
  }
  for (const norms::Choice& choice : job.norms.choose_all(profile.age_years, profile.sex)) {
    ProfilePercentile& out = profile.percentiles.emplace_back();
    out.quantity = std::to_string(static_cast<int>(std::lround(choice.distance_m))) + "m";
    out.why = choice.why;
    if (choice.norm == nullptr) {
      continue;
    }
    const norms::NormInfo& info = choice.norm->info();
    out.source = info.id;
    out.label = info.label;
    out.restriction = info.restriction;
    const auto reference = choice.norm->at(*profile.age_years, *profile.sex);
    if (!reference) {
      out.why = choice.norm->why_not(*profile.age_years, *profile.sex);
      continue;
    }
    const norms::Conditions& conditions = choice.norm->conditions();
    time_at_nodes(conditions, prepared, posterior, profile.prior_reaction_s, scratch);
    const TimeCompared time = compared(conditions, prepared, posterior, scratch, job.options.level);
    out.time_s = time.time;
    out.level_time_s = time.level;
    out.p_faster = time.below(reference->median_s());
    if (choice.percentile()) {
      const norms::PercentileSummary summary = percentile_of(*reference, time);
      out.percentile = {summary.mean, summary.sd, summary.lo, summary.median, summary.hi, std::nullopt};
      out.share_at_limit = summary.share_at_limit;
    } else {
      out.band = reference->band_of_time(time.time.median);
    }
  }
}

void add_places(const ProfileJob& job, runs::NameId name, PlayerProfile& profile) {
  if (job.as_of == nullptr || !profile.age_years || !profile.sex || !job.as_of->dates.contains(name)) {
    return;
  }
  constexpr double days_a_year = 365.25;
  for (ProfilePercentile& percentile : profile.percentiles) {
    const norms::Norm* const norm = job.norms.find(percentile.source);
    if (norm == nullptr || !percentile.percentile || !percentile.level_time_s) {
      continue;
    }
    for (const Then& then : job.as_of->dates.at(name)) {
      const double age_years =
          *profile.age_years - static_cast<double>((job.as_of->day - then.date).count()) / days_a_year;
      const auto reference = norm->at(age_years, *profile.sex, norms::AgeRule::between_bins);
      if (!reference) {
        continue;
      }
      Estimate time = *percentile.level_time_s;
      const double slower_s = then.slower * time.mean;
      for (double* part : {&time.mean, &time.lo, &time.median, &time.hi}) {
        *part += slower_s;
      }
      widen(time, then.doubt, time.mean);
      PlaceThen& out = percentile.over_dates.emplace_back();
      out.date = then.date;
      out.time_s = {time.lo, time.median, time.hi};
      const auto of = [&](const auto& place) {  // the slowest time has the lowest place
        return RangeThen{place(time.hi).value_or(0.0), place(time.median).value_or(0.0), place(time.lo).value_or(0.0)};
      };
      out.percentile = of([&](double time_s) { return reference->percentile_of_time(time_s); });
      const auto [lowest, highest] = reference->limits();
      if (out.percentile.lo > lowest && out.percentile.hi < highest) {
        out.z = of([&](double time_s) { return reference->z(time_s); });
      }
    }
  }
}

}  // namespace bagsplit::jobs
