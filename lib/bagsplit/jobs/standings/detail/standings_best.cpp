#include "bagsplit/jobs/standings/detail/standings_best.hpp"

#include <algorithm>
#include <array>
#include <map>
#include <string>

#include "bagsplit/timing/reading_error.hpp"

namespace bagsplit::jobs::detail {

namespace {

using timing::TimingClass;

constexpr double automatic_steps_per_s = 100.0;  // recorded to 0.01 s, the next slower where it is not exact
constexpr double same_s = 0.0005;                // recorded times this near are equal

// Official time of a run in each class it was timed in.
std::map<TimingClass, BestTime> official_times(const ResolvedQuantity& time, const runs::Run& run,
                                               const runs::RunLog& log, const timing::DeviceBook& devices) {
  std::map<TimingClass, std::vector<double>> read;
  for (const runs::Reading& reading : log.readings_of(run)) {
    if (const auto at = time.time_of(log, run, reading)) {
      const timing::ReadingError error = timing::reading_error(devices.default_for(reading.device), reading.start,
                                                               log.name(reading.timer), reading.signal);
      read[timing::timing_class(reading.device, error.timing)].push_back(*at);
    }
  }
  std::map<TimingClass, BestTime> out;
  for (const auto& [timing_class, times] : read) {
    BestTime& best = out[timing_class];
    best.timing_class = timing_class;
    best.watches = times.size();
    best.runs = 1;
    best.date = run.date;
    if (timing_class == TimingClass::hand || timing_class == TimingClass::hand_started) {
      const timing::OfficialTime official = timing::official_hand_time(times);
      best.time_s = official.time_s;
      best.recorded_s = official.recorded_s;
    } else {
      best.time_s = *std::max_element(times.begin(), times.end());
      best.recorded_s = timing::convert_up_s(best.time_s, automatic_steps_per_s);
    }
  }
  return out;
}

}  // namespace

Bests official_bests(const ResolvedQuantity& time, std::span<const Entrant> entrants, const runs::RunLog& log,
                     const timing::DeviceBook& devices) {
  std::vector<std::map<TimingClass, BestTime>> bests;
  std::map<TimingClass, std::size_t> runs_of;
  for (const Entrant& entrant : entrants) {
    auto& mine = bests.emplace_back();
    for (const std::uint32_t index : entrant.prepared.selection.used) {
      for (const auto& [timing_class, run] : official_times(time, log.runs[index], log, devices)) {
        ++runs_of[timing_class];
        const auto [known, added] = mine.emplace(timing_class, run);
        if (added) {
          continue;
        }
        const std::size_t count = known->second.runs + 1;
        if (run.recorded_s < known->second.recorded_s - same_s ||
            (run.recorded_s < known->second.recorded_s + same_s && run.time_s < known->second.time_s)) {
          known->second = run;
        }
        known->second.runs = count;
      }
    }
  }
  Bests out;
  std::size_t most = 0;
  for (const auto& [timing_class, runs] : runs_of) {
    if (runs > most) {
      most = runs;
      out.timing_class = timing_class;
    }
    out.other_class += runs;
  }
  out.other_class -= most;
  for (const auto& mine : bests) {
    const auto found = mine.find(out.timing_class);
    out.best.push_back(found != mine.end() ? std::optional(found->second) : std::nullopt);
  }
  return out;
}

void give_places(std::span<BestTime* const> bests, Ties ties) {
  std::vector<BestTime*> order(bests.begin(), bests.end());
  const auto recorded_before = [](const BestTime& a, const BestTime& b) {
    return a.recorded_s < b.recorded_s - same_s;
  };
  const auto before = [&](const BestTime& a, const BestTime& b) {
    return recorded_before(a, b) || (ties == Ties::as_read && !recorded_before(b, a) && a.time_s < b.time_s - same_s);
  };
  std::stable_sort(order.begin(), order.end(), [&](const BestTime* a, const BestTime* b) { return before(*a, *b); });
  for (std::size_t i = 0; i < order.size(); ++i) {
    const bool as_before = i > 0 && !before(*order[i - 1], *order[i]);
    order[i]->place = as_before ? order[i - 1]->place : i + 1;
    order[i]->tied = order[i]->tied || as_before;
    if (as_before) {
      order[i - 1]->tied = true;
    } else if (i > 0 && !recorded_before(*order[i - 1], *order[i])) {
      order[i]->parted_as_read = order[i - 1]->parted_as_read = true;
    }
  }
}

}  // namespace bagsplit::jobs::detail
