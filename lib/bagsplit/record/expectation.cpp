#include "bagsplit/record/expectation.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <optional>

#include "bagsplit/runs/typed.hpp"

namespace bagsplit::record {

namespace {

std::string two_digits(double s) {
  return runs::format_number(std::round(s * 100.0) / 100.0);
}

double median(std::vector<double> values) {
  std::sort(values.begin(), values.end());
  const std::size_t half = values.size() / 2;
  return values.size() % 2 == 1 ? values[half] : (values[half - 1] + values[half]) / 2.0;
}

std::optional<double> time_at(std::span<const runs::Split> splits, runs::NameId mark) {
  for (const runs::Split& split : splits) {
    if (split.mark == mark) {
      return split.time_s;
    }
  }
  return std::nullopt;
}

// From one mark (no_name: the start) to another.
std::optional<double> stretch(std::span<const runs::Split> splits, runs::NameId from, runs::NameId to) {
  const auto end = time_at(splits, to);
  const auto begin = from == runs::no_name ? std::optional(0.0) : time_at(splits, from);
  return begin && end ? std::optional(*end - *begin) : std::nullopt;
}

}  // namespace

std::vector<std::string> unexpected(const runs::RunLog& log, std::size_t run, std::size_t reading,
                                    const ExpectationLimits& limits) {
  const runs::Run& mine = log.runs.at(run);
  const runs::Reading& typed = log.readings.at(reading);
  const std::span<const runs::Split> splits = log.splits_of(typed);
  std::vector<std::string> out;
  const std::string& player = log.name(mine.player);

  const auto look = [&](runs::NameId from, const runs::Split& to) {
    const auto now = stretch(splits, from, to.mark);
    if (!now) {
      return;
    }
    std::vector<double> own;
    std::map<runs::NameId, std::vector<double>> others;
    for (const runs::Run& other : log.runs) {
      if (&other == &mine || other.flag != runs::Flag::none || other.course != mine.course ||
          other.base_distance_m != mine.base_distance_m || other.posture != mine.posture ||
          (other.leg > 0) != (mine.leg > 0)) {
        continue;
      }
      for (const runs::Reading& each : log.readings_of(other)) {
        if (each.start != typed.start) {
          continue;
        }
        if (const auto then = stretch(log.splits_of(each), from, to.mark)) {
          (other.player == mine.player ? own : others[other.player]).push_back(*then);
        }
      }
    }
    const std::string what = (from == runs::no_name ? log.name(to.mark) : log.name(from) + " to " + log.name(to.mark)) +
                             " " + two_digits(*now);
    if (!own.empty()) {
      const auto [best, worst] = std::minmax_element(own.begin(), own.end());
      if (*now < *best - std::max(limits.faster_s, limits.faster_share * *best)) {
        out.push_back(what + " is faster than anything player " + player + " has run (" + two_digits(*best) + ")");
      } else if (*now > *worst + std::max(limits.slower_s, limits.slower_share * *worst)) {
        out.push_back(what + " is slower than anything player " + player + " has run (" + two_digits(*worst) + ")");
      }
    } else if (others.size() >= limits.squad_players) {
      std::vector<double> medians;
      for (auto& [who, times] : others) {
        medians.push_back(median(std::move(times)));
      }
      const double usual = median(std::move(medians));
      if (*now < limits.squad_low * usual || *now > limits.squad_high * usual) {
        out.push_back(what + " is far from the squad's usual " + two_digits(usual));
      }
    }
  };

  for (const runs::Split& split : splits) {
    look(runs::no_name, split);
  }
  if (out.empty()) {
    for (std::size_t k = 1; k < splits.size(); ++k) {
      look(splits[k - 1].mark, splits[k]);
    }
  }
  return out;
}

}  // namespace bagsplit::record
