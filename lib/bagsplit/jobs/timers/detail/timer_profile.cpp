#include "bagsplit/jobs/timers/detail/timer_profile.hpp"

#include <Eigen/Cholesky>
#include <Eigen/Core>
#include <algorithm>
#include <cmath>
#include <map>
#include <set>

#include "bagsplit/jobs/timers/detail/timer_differences.hpp"
#include "bagsplit/jobs/trend/detail/trend_data.hpp"
#include "bagsplit/runs/typed.hpp"
#include "bagsplit/stats/detail/elementary.hpp"
#include "bagsplit/stats/distributions.hpp"
#include "bagsplit/stats/spread.hpp"
#include "bagsplit/timing/reading_error.hpp"

namespace bagsplit::jobs::detail {

namespace {

using stats::square;

using timing::StartTiming;

constexpr std::size_t least_runs_for_sd = 5;

// A hand timer's reading against another one of the same run, at the farthest mark both have.
struct Overlap {
  int first = 0, second = -1;        // hand timers; -1: a gate or camera
  double difference_s = 0.0;         // biases of the profile not taken off; a gate's is
  double reference_sd_s = 0.0;       // of the reference's scatter
  double reference_bias_sd_s = 0.0;  // of its bias, common to all runs
};

struct HandTimer {
  runs::NameId timer = runs::no_name;
  timing::ReadingError error;
  std::set<std::uint32_t> runs;
  bool against_reference = false;
};

// All hand timers of one way of starting.
class Class {
 public:
  explicit Class(runs::StartKind start) : start_(start) {}

  int add(runs::NameId timer, const timing::ReadingError& error) {
    for (std::size_t i = 0; i < timers_.size(); ++i) {
      if (timers_[i].timer == timer) {
        return static_cast<int>(i);
      }
    }
    timers_.push_back({timer, error, {}, false});
    return static_cast<int>(timers_.size()) - 1;
  }
  std::vector<HandTimer>& timers() { return timers_; }
  std::vector<Overlap>& overlaps() { return overlaps_; }
  runs::StartKind start() const { return start_; }

  void solve() {
    estimate_scatter();
    // State: shared, own_1..n, bias of the reference. Prior precisions; a part known exactly gets a very high one.
    const auto n = static_cast<Eigen::Index>(timers_.size());
    Eigen::MatrixXd precision = Eigen::MatrixXd::Zero(n + 2, n + 2);
    Eigen::VectorXd pull = Eigen::VectorXd::Zero(n + 2);
    const auto weight = [](double sd) { return 1.0 / square(std::max(sd, 1e-5)); };
    double shared_sd = 0.0;
    double reference_sd = 0.0;
    for (const HandTimer& timer : timers_) {
      shared_sd = std::max(shared_sd, timer.error.bias_shared_sd_s);
    }
    for (const Overlap& overlap : overlaps_) {
      reference_sd = std::max(reference_sd, overlap.reference_bias_sd_s);
    }
    precision(0, 0) = weight(shared_sd);
    precision(n + 1, n + 1) = weight(reference_sd);
    for (Eigen::Index i = 0; i < n; ++i) {
      precision(i + 1, i + 1) = weight(timers_[static_cast<std::size_t>(i)].error.bias_timer_sd_s);
    }
    for (const Overlap& overlap : overlaps_) {
      Eigen::VectorXd row = Eigen::VectorXd::Zero(n + 2);
      double value = overlap.difference_s - timers_[static_cast<std::size_t>(overlap.first)].error.bias_mean_s;
      row[0] += 1.0;
      row[overlap.first + 1] += 1.0;
      if (overlap.second >= 0) {
        value += timers_[static_cast<std::size_t>(overlap.second)].error.bias_mean_s;
        row[0] -= 1.0;
        row[overlap.second + 1] -= 1.0;
      } else {
        row[n + 1] = -1.0;
      }
      const double w = 1.0 / variance_of(overlap);
      precision += w * row * row.transpose();
      pull += w * value * row;
    }
    const Eigen::LLT<Eigen::MatrixXd> llt(precision);
    const Eigen::VectorXd state = llt.solve(pull);
    const Eigen::MatrixXd covariance = llt.solve(Eigen::MatrixXd::Identity(n + 2, n + 2));
    Eigen::MatrixXd take = Eigen::MatrixXd::Zero(n, n + 2);  // b_t - prior mean
    take.col(0).setOnes();
    take.middleCols(1, n) = Eigen::MatrixXd::Identity(n, n);
    mean_ = take * state;
    bias_covariance_ = take * covariance * take.transpose();
    const Eigen::MatrixXd centred =
        Eigen::MatrixXd::Identity(n, n) - Eigen::MatrixXd::Constant(n, n, 1.0 / static_cast<double>(n));
    own_covariance_ = centred * bias_covariance_ * centred.transpose();
  }

  double mean_s(std::size_t i) const { return timers_[i].error.bias_mean_s + mean_[static_cast<Eigen::Index>(i)]; }
  double sd_s(std::size_t i) const {
    const auto at = static_cast<Eigen::Index>(i);
    return std::sqrt(std::max(0.0, bias_covariance_(at, at)));
  }
  // One timer alone: all that is not known is his own in the proportion it was before.
  double own_sd_s(std::size_t i) const {
    const auto at = static_cast<Eigen::Index>(i);
    if (timers_.size() == 1) {
      const double before = timers_[i].error.bias_sd_s();
      return before > 0.0 ? sd_s(i) * timers_[i].error.bias_timer_sd_s / before : 0.0;
    }
    return std::min(sd_s(i), std::sqrt(std::max(0.0, own_covariance_(at, at))));
  }
  // SD of a hand timer's press errors, start and mark together, with its degrees of freedom.
  const std::optional<stats::SdEstimate>& scatter(std::size_t i) const { return scatter_[i]; }

 private:
  static double press_variance(const timing::ReadingError& error) {
    return square(error.start_sd_s) + square(error.split_sd_s);
  }

  double variance_of(const Overlap& overlap) const {
    const auto hand = [&](int i) {
      const auto& told = scatter_[static_cast<std::size_t>(i)];
      // Few runs may agree by chance: never below a quarter of what the profile says.
      const double before = press_variance(timers_[static_cast<std::size_t>(i)].error);
      return told ? std::max(square(told->sd), 0.25 * before) : before;
    };
    return hand(overlap.first) + (overlap.second >= 0 ? hand(overlap.second) : square(overlap.reference_sd_s));
  }

  std::map<std::pair<int, int>, std::vector<Overlap>> by_pair() const {
    std::map<std::pair<int, int>, std::vector<Overlap>> out;
    for (const Overlap& overlap : overlaps_) {
      out[{overlap.first, overlap.second}].push_back(overlap);
    }
    return out;
  }

  // Against a reference: the variance of the differences less the reference's. Watch against watch: half each, pooled.
  void estimate_scatter() {
    scatter_.assign(timers_.size(), std::nullopt);
    std::vector<double> sum(timers_.size(), 0.0), degrees(timers_.size(), 0.0);
    std::vector<bool> referenced(timers_.size(), false);
    for (const auto& [pair, all] : by_pair()) {
      if (all.size() < least_runs_for_sd) {
        continue;
      }
      double mean = 0.0;
      double squares = 0.0;
      double reference = 0.0;
      for (const Overlap& overlap : all) {
        mean += overlap.difference_s / static_cast<double>(all.size());
        reference += square(overlap.reference_sd_s) / static_cast<double>(all.size());
      }
      for (const Overlap& overlap : all) {
        squares += square(overlap.difference_s - mean);
      }
      const double df = static_cast<double>(all.size()) - 1.0;
      const auto first = static_cast<std::size_t>(pair.first);
      const auto enter = [&](std::size_t i, double variance, bool against_reference) {
        if (against_reference && !referenced[i]) {
          referenced[i] = true;
          sum[i] = degrees[i] = 0.0;  // a reference tells more than another watch
        }
        if (against_reference == referenced[i]) {
          sum[i] += df * variance;
          degrees[i] += df;
        }
      };
      if (pair.second < 0) {
        enter(first, std::max(0.0, squares / df - reference), true);
      } else {
        enter(first, 0.5 * squares / df, false);
        enter(static_cast<std::size_t>(pair.second), 0.5 * squares / df, false);
      }
    }
    for (std::size_t i = 0; i < timers_.size(); ++i) {
      if (degrees[i] > 0.0) {
        scatter_[i] = stats::sd_interval(std::sqrt(sum[i] / degrees[i]), degrees[i], 0.9);
      }
    }
  }

  runs::StartKind start_;
  std::vector<HandTimer> timers_;
  std::vector<Overlap> overlaps_;
  Eigen::VectorXd mean_;
  Eigen::MatrixXd bias_covariance_, own_covariance_;
  std::vector<std::optional<stats::SdEstimate>> scatter_;
};

void gather(const runs::RunLog& log, const timing::DeviceBook& devices, const SharedRun& shared,
            const ProfileChoice& choice, Class& all) {
  std::vector<std::uint32_t> hands, references;
  for (const SharedReading& r : shared.readings) {
    const runs::Reading& reading = log.readings[r.reading];
    (reading.device == runs::Device::stopwatch ? hands : references).push_back(r.reading);
  }
  const timing::DeviceProfile& watch = devices.default_for(runs::Device::stopwatch);
  const auto far_off = [&](std::uint32_t a, std::uint32_t b) { return choice.left_out.contains(std::minmax(a, b)); };
  const auto hand_of = [&](std::uint32_t r) {
    const runs::Reading& reading = log.readings[r];
    return all.add(reading.timer, timing::reading_error(watch, reading.start, log.name(reading.timer), reading.signal));
  };
  for (std::size_t i = 0; i < hands.size(); ++i) {
    const runs::Reading& reading = log.readings[hands[i]];
    bool told = false;
    for (const std::uint32_t r : references) {
      const auto times = farthest_common_mark(log, reading, log.readings[r], choice.mark);
      if (!times || told) {
        continue;
      }
      told = true;
      if (far_off(hands[i], r)) {
        continue;
      }
      const timing::ReadingError gate = timing::reading_error(devices.default_for(log.readings[r].device),
                                                              log.readings[r].start, log.name(log.readings[r].timer));
      const int at = hand_of(hands[i]);
      all.overlaps().push_back({at, -1, times->first_s - (times->second_s - gate.bias_mean_s),
                                std::hypot(gate.start_sd_s, gate.split_sd_s), gate.bias_sd_s()});
      all.timers()[static_cast<std::size_t>(at)].runs.insert(shared.run);
      all.timers()[static_cast<std::size_t>(at)].against_reference = true;
    }
    if (told) {
      continue;
    }
    // Each against one other: all pairs of three would count one press three times.
    if (i + 1 < hands.size() && !far_off(hands[i], hands[i + 1])) {
      if (const auto times = farthest_common_mark(log, reading, log.readings[hands[i + 1]], choice.mark)) {
        int a = hand_of(hands[i]);
        int b = hand_of(hands[i + 1]);
        double difference = times->first_s - times->second_s;
        if (a == b) {
          continue;
        }
        if (b < a) {
          std::swap(a, b);
          difference = -difference;
        }
        all.overlaps().push_back({a, b, difference, 0.0, 0.0});
        all.timers()[static_cast<std::size_t>(a)].runs.insert(shared.run);
        all.timers()[static_cast<std::size_t>(b)].runs.insert(shared.run);
      }
    }
  }
}

timing::TimerNumbers& numbers_of(timing::DeviceProfile& profile, const std::string& timer) {
  for (timing::TimerNumbers& each : profile.timers) {
    if (each.timer == timer) {
      return each;
    }
  }
  profile.timers.push_back({timer, {}});
  return profile.timers.back();
}

}  // namespace

void add_profile(const runs::RunLog& log, const timing::DeviceBook& devices, const std::vector<SharedRun>& shared,
                 const ProfileChoice& choice, TimersResult& result) {
  std::map<runs::StartKind, Class> classes;
  std::set<runs::Date> dates;
  for (const SharedRun& each : shared) {
    gather(log, devices, each, choice, classes.emplace(each.start, Class(each.start)).first->second);
    dates.insert(log.runs[each.run].date);
  }
  timing::DeviceProfile profile = devices.default_for(runs::Device::stopwatch);
  bool any = false;
  for (auto& [start, all] : classes) {
    if (all.timers().empty()) {
      continue;
    }
    all.solve();
    for (std::size_t i = 0; i < all.timers().size(); ++i) {
      const HandTimer& hand = all.timers()[i];
      TimerBias bias;
      bias.timer = log.name(hand.timer);
      bias.start = hand.error.role_assumed ? "signal" : std::string(timing::start_timing_name(hand.error.timing));
      bias.runs = hand.runs.size();
      bias.mean_s = all.mean_s(i);
      bias.sd_s = all.sd_s(i);
      bias.timer_sd_s = all.own_sd_s(i);
      bias.mean_before_s = hand.error.bias_mean_s;
      bias.sd_before_s = hand.error.bias_sd_s();
      bias.against_reference = hand.against_reference;
      if (const auto& sd = all.scatter(i)) {
        bias.press_sd_s = sd->sd;
        bias.press_sd_low_s = sd->interval.lo;
        bias.press_sd_high_s = sd->interval.hi;
      }
      if (!bias.timer.empty()) {
        any = true;
        timing::TimingNumbers& numbers = numbers_of(profile, bias.timer).numbers;
        const std::string note =
            counted(bias.runs, "run") +
            (bias.against_reference ? " beside gates or a camera" : " beside another watch: differences only") +
            (choice.mark.empty() ? "" : ", at " + choice.mark) + ", with the profile '" +
            devices.default_for(runs::Device::stopwatch).name + "' as prior";
        const timing::Provenance why{timing::Evidence::own, {"own"}, note};
        // Where nobody said whether the timer hears or gives the signal, the same numbers hold for both.
        std::vector<StartTiming> ways{hand.error.timing};
        if (hand.error.role_assumed) {
          ways = {StartTiming::hears_signal, StartTiming::gives_signal};
        }
        for (const StartTiming way : ways) {
          numbers.bias.at(static_cast<std::size_t>(way)) =
              timing::BiasPrior{bias.mean_s, bias.sd_s, std::min(bias.timer_sd_s, bias.sd_s), why};
        }
        if (bias.press_sd_s && *bias.press_sd_s > 0.0) {
          // Start and mark press share the scatter as they do in the profile in use.
          const double whole = std::hypot(hand.error.start_sd_s, hand.error.split_sd_s);
          const double start_part = whole > 0.0 ? hand.error.start_sd_s / whole : 0.5;
          const double split_part = whole > 0.0 ? hand.error.split_sd_s / whole : 0.5;
          const auto part = [&](double share) {
            return timing::ErrorSd{share * *bias.press_sd_s, share * bias.press_sd_low_s, share * bias.press_sd_high_s,
                                   why};
          };
          for (const StartTiming way : ways) {
            numbers.start_sd.at(static_cast<std::size_t>(way)) = part(start_part);
          }
          if (!numbers.split_sd) {
            numbers.split_sd = part(split_part);
          }
        }
      }
      result.biases.push_back(std::move(bias));
    }
  }
  if (!any) {
    return;
  }
  std::sort(profile.timers.begin(), profile.timers.end(),
            [](const timing::TimerNumbers& a, const timing::TimerNumbers& b) { return a.timer < b.timer; });
  std::string when = runs::format_date(*dates.begin());
  when += dates.size() > 1 ? " to " + runs::format_date(*dates.rbegin()) : "";
  profile.sources.insert_or_assign(
      "own", "bagsplit timers, " + counted(result.runs_shared, "run") + " timed twice or more, " + when);
  profile.name = choice.name;
  profile.title = "Own watches, " + when;
  profile.about +=
      (profile.about.empty() ? "" : " ") + std::string("Timers' own numbers from runs that several timed.");
  result.profile = std::move(profile);
}

}  // namespace bagsplit::jobs::detail
