#include "bagsplit/jobs/profile/detail/as_of.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>
#include <tuple>

#include "bagsplit/jobs/circumstances.hpp"
#include "bagsplit/jobs/trend/detail/season_data.hpp"

namespace bagsplit::jobs {

namespace {

constexpr std::size_t most_children = 3'000;  // about 3 s; a league of more is asked by squads

std::size_t index_of(int index) {
  return static_cast<std::size_t>(index);
}

/// The runs that count, alone.
runs::RunLog counted(const runs::RunLog& log, std::span<const inference::Selection> selections) {
  runs::RunLog out = log;
  out.runs.clear();
  for (const inference::Selection& selection : selections) {
    for (const std::uint32_t run : selection.used) {
      out.runs.push_back(log.runs[run]);
    }
  }
  return out;
}

LeadDoubt doubt_of(const season::Ability& lead) {
  return {lead.time_s.sd, std::max(0.0, lead.time_s.mean - lead.interval_s.lo),
          std::max(0.0, lead.interval_s.hi - lead.time_s.mean)};
}

}  // namespace

std::optional<AsOf> as_of(const runs::RunLog& log, const runs::Roster& roster, const timing::DeviceBook& devices,
                          const ProfileOptions& options, std::span<const inference::Selection> selections) {
  std::optional<runs::Date> first, last;
  for (const inference::Selection& selection : selections) {
    if (selection.first) {
      first = std::min(first.value_or(*selection.first), *selection.first);
      last = std::max(last.value_or(*selection.last), *selection.last);
    }
  }
  const std::optional<runs::Date> day = options.as_of ? options.as_of : last;
  const std::optional<long> weeks = pooled_weeks(first, day);
  if (!weeks || first == last || selections.size() > most_children) {
    return std::nullopt;
  }
  season::Options how;
  how.threads = options.threads;
  how.interval_level = options.level;
  const detail::SeasonData data =
      detail::season_data(counted(log, selections), roster, devices, options.model, false, how);
  if (data.dates.size() < 2) {
    return std::nullopt;
  }
  const season::Season& season = data.season;
  const season::Fit fit = season::fit_season(season, how);
  const double on = static_cast<double>(day->time_since_epoch().count());
  AsOf out{*day, *weeks, std::vector<double>(log.splits.size(), 0.0), {}, {}};

  // A child's readings by date, and of each date and level asked once.
  std::vector<std::vector<double>> readings(season.children.size(), std::vector<double>(season.days.size(), 0.0));
  std::map<std::tuple<int, int, int>, double> known;
  for (std::size_t r = 0; r < season.readings.size(); ++r) {
    const season::Reading& reading = season.readings[r];
    readings[index_of(reading.child)][index_of(reading.date)] += 1.0;
    const auto [at, fresh] = known.emplace(std::tuple(reading.child, reading.level, reading.date), 0.0);
    if (fresh) {
      std::vector<double> then(season.days.size(), 0.0);
      then[index_of(reading.date)] = 1.0;
      at->second = season.moving_time_s[index_of(reading.child)][index_of(reading.level)] *
                   fit.lead(reading.child, reading.level, on, then).time_s.mean;
    }
    out.later_s[data.split[r]] = at->second;
  }
  for (std::size_t c = 0; c < readings.size(); ++c) {
    const double count = std::accumulate(readings[c].begin(), readings[c].end(), 0.0);
    if (!(count > 0.0)) {
      continue;
    }
    for (double& of_date : readings[c]) {
      of_date /= count;
    }
    const auto lead_on = [&](double day_on) {
      return fit.lead(static_cast<int>(c), fit.squad().reference_level, day_on, readings[c]);
    };
    const auto name =
        static_cast<runs::NameId>(std::find(log.names.begin(), log.names.end(), data.players[c]) - log.names.begin());
    const season::Ability lead = lead_on(on);
    out.doubt[name] = doubt_of(lead);
    for (std::size_t d = 0; d < season.days.size(); ++d) {
      if (readings[c][d] > 0.0) {
        const season::Ability then = lead_on(season.days[d]);
        out.dates[name].push_back({data.dates[d], then.time_s.mean - lead.time_s.mean, doubt_of(then)});
      }
    }
  }
  return out;
}

void widen(Estimate& estimate, const LeadDoubt& doubt, double slope) {
  const double up = slope > 0.0 ? doubt.slower : doubt.faster;
  const double down = slope > 0.0 ? doubt.faster : doubt.slower;
  estimate.lo = estimate.median - std::hypot(estimate.median - estimate.lo, down * slope);
  estimate.hi = estimate.median + std::hypot(estimate.hi - estimate.median, up * slope);
  const double sd = std::hypot(estimate.sd, doubt.sd * slope);
  if (estimate.share_from_data && estimate.sd > 0.0) {
    *estimate.share_from_data = 1.0 - (sd / estimate.sd) * (sd / estimate.sd) * (1.0 - *estimate.share_from_data);
  }
  estimate.sd = sd;
}

}  // namespace bagsplit::jobs
