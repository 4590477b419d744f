#include "bagsplit/jobs/timers/timers.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <numeric>
#include <set>
#include <stdexcept>
#include <tuple>

#include "bagsplit/jobs/timers/detail/timer_differences.hpp"
#include "bagsplit/jobs/timers/detail/timer_profile.hpp"
#include "bagsplit/runs/words.hpp"
#include "bagsplit/stats/distributions.hpp"
#include "bagsplit/stats/univariate.hpp"
#include "bagsplit/text/number_text.hpp"
#include "bagsplit/text/text.hpp"
#include "bagsplit/text/wording.hpp"
#include "bagsplit/timing/reading_error.hpp"

namespace bagsplit::jobs {

std::string Reader::label() const {
  return timer.empty() ? device : timer == device ? timer : timer + ", " + device;
}

namespace {

using detail::SharedReading;
using detail::SharedRun;
using text::counted;
using text::joined;

constexpr std::size_t most_places = 2000;

using ReaderKey = std::pair<runs::Device, runs::NameId>;

struct Difference {
  std::size_t run = 0;  // into the shared runs
  double first_s = 0.0, second_s = 0.0;
  std::uint32_t first_reading = 0, second_reading = 0;
  std::string mark;
};

class Job {
 public:
  Job(const runs::RunLog& log, const timing::DeviceBook& devices, const TimersOptions& options)
      : log_(log), devices_(devices), options_(options) {}

  TimersResult run() {
    result_.level = options_.level;
    find_shared();
    compare_pairs();
    compare_groups();
    add_notes();
    note_growing_bias();
    note_heaped_digits();
    detail::add_profile(log_, devices_, shared_, {options_.profile_name, options_.mark, far_off_}, result_);
    return std::move(result_);
  }

 private:
  // Runs with two readings or more, unflagged; only readings whose clocks were started alike can be compared.
  void find_shared() {
    for (std::uint32_t i = 0; i < log_.runs.size(); ++i) {
      const runs::Run& run = log_.runs[i];
      if (run.flag != runs::Flag::none) {
        result_.runs_left_out += run.reading_count > 1;
        continue;
      }
      std::map<std::pair<runs::StartKind, double>, std::vector<SharedReading>> by_start;
      for (std::uint32_t k = 0; k < run.reading_count; ++k) {
        const runs::Reading& reading = log_.readings[run.first_reading + k];
        if (reading.split_count > 0) {
          by_start[{reading.start, reading.beam_distance_m}].push_back({run.first_reading + k});
        }
      }
      bool shared = false;
      for (auto& [start, readings] : by_start) {
        if (readings.size() > 1) {
          shared = true;
          shared_.push_back({i, start.first, std::move(readings)});
        }
      }
      result_.runs_shared += shared;
      result_.runs_alone += !shared && !by_start.empty();
      starts_differ_ += by_start.size() > 1;
    }
  }

  ReaderKey key_of(std::uint32_t reading) const {
    return {log_.readings[reading].device, log_.readings[reading].timer};
  }
  Reader reader_of(const ReaderKey& key) const {
    return {log_.name(key.second), std::string(runs::word_of(key.first))};
  }

  std::optional<Difference> difference(std::size_t run, std::uint32_t first, std::uint32_t second) const {
    const auto at = detail::farthest_common_mark(log_, log_.readings[first], log_.readings[second], options_.mark);
    return at ? std::optional(Difference{run, at->first_s, at->second_s, first, second, log_.name(at->mark)})
              : std::nullopt;
  }

  void compare_pairs() {
    std::map<std::tuple<bool, ReaderKey, ReaderKey, runs::StartKind>, std::vector<Difference>> pairs;
    std::map<std::pair<ReaderKey, runs::StartKind>, std::vector<Difference>> any_watch;
    std::map<std::pair<ReaderKey, runs::StartKind>, std::set<ReaderKey>> watches;
    for (std::size_t s = 0; s < shared_.size(); ++s) {
      const auto& readings = shared_[s].readings;
      for (std::size_t i = 0; i < readings.size(); ++i) {
        for (std::size_t j = i + 1; j < readings.size(); ++j) {
          std::uint32_t first = readings[i].reading;
          std::uint32_t second = readings[j].reading;
          // A gate or camera stands second, as what the other is held against; else by name.
          const auto rank = [&](std::uint32_t r) {
            return std::tuple(key_of(r).first != runs::Device::stopwatch, log_.name(key_of(r).second), key_of(r).first);
          };
          if (rank(second) < rank(first)) {
            std::swap(first, second);
          }
          const auto d = difference(s, first, second);
          if (!d) {
            continue;
          }
          const bool reference =
              key_of(first).first == runs::Device::stopwatch && key_of(second).first != runs::Device::stopwatch;
          pairs[{!reference, key_of(first), key_of(second), shared_[s].start}].push_back(*d);
          if (reference) {
            any_watch[{key_of(second), shared_[s].start}].push_back(*d);
            watches[{key_of(second), shared_[s].start}].insert(key_of(first));
          }
        }
      }
    }
    for (const auto& [key, differences] : any_watch) {
      if (watches.at(key).size() > 1) {
        result_.pairs.push_back(
            compare({"any watch", "stopwatch"}, reader_of(key.first), key.second, true, differences));
        result_.pairs.back().first.timer = "any watch";
      }
    }
    for (const auto& [key, differences] : pairs) {
      const auto& [later, first, second, start] = key;
      result_.pairs.push_back(compare(reader_of(first), reader_of(second), start, !later, differences, &far_off_));
    }
  }

  // far_off: takes the readings named as outliers.
  TimersPair compare(Reader first, Reader second, runs::StartKind start, bool reference,
                     const std::vector<Difference>& differences,
                     std::set<detail::ReadingPair>* far_off = nullptr) const {
    TimersPair out;
    out.first = std::move(first);
    out.second = std::move(second);
    out.start = runs::word_of(start);
    out.is_reference = reference;
    out.runs = differences.size();
    std::vector<double> a, b, d, both;
    std::vector<int> player;
    std::map<runs::NameId, int> players;
    std::map<runs::Date, std::pair<std::size_t, double>> nights;
    std::set<std::string> marks;
    for (const Difference& each : differences) {
      const runs::Run& run = log_.runs[shared_[each.run].run];
      a.push_back(each.first_s);
      b.push_back(each.second_s);
      // What differs by less than a ten-thousandth is the same: times are typed in hundredths or thousandths.
      d.push_back(std::round((each.first_s - each.second_s) * 1e4) / 1e4);
      both.insert(both.end(), {each.first_s, each.second_s});
      out.points.push_back({0.5 * (each.first_s + each.second_s), d.back()});
      player.push_back(players.emplace(run.player, static_cast<int>(players.size())).first->second);
      auto& night = nights[run.date];
      ++night.first;
      night.second += d.back();
      marks.insert(each.mark);
    }
    out.players = players.size();
    out.dates = nights.size();
    out.marks.assign(marks.begin(), marks.end());
    for (const auto& [date, night] : nights) {
      out.nights.push_back({date, night.first, night.second / static_cast<double>(night.first)});
    }
    stats::AgreementOptions options;
    options.level = options_.level;
    // With only two players the means of two say nothing of the spread between them: runs are then taken one by one.
    out.repeated = players.size() >= 3 && players.size() < d.size();
    if (d.size() >= 2) {
      out.agreement = out.repeated ? stats::limits_of_agreement_repeated(a, b, player, options)
                                   : stats::limits_of_agreement(a, b, options);
      out.bias_df = static_cast<double>(out.repeated ? players.size() : d.size()) - 1.0;
      out.reliability = stats::reliability(both, 2, options_.level);
      out.proportional = stats::proportional_bias(a, b);
    }
    find_outliers(out, differences, d, far_off);
    return out;
  }

  void find_outliers(TimersPair& out, const std::vector<Difference>& differences, const std::vector<double>& d,
                     std::set<detail::ReadingPair>* far_off) const {
    const detail::Outliers found = detail::outliers_of(d);
    out.median_s = found.median_s;
    out.robust_sd_s = found.robust_sd_s;
    std::vector<double> kept;
    for (std::size_t i = 0; i < d.size(); ++i) {
      const Difference& each = differences[i];
      if (!found.far_off[i]) {
        kept.push_back(d[i]);
        continue;
      }
      if (far_off != nullptr) {
        far_off->insert(std::minmax(each.first_reading, each.second_reading));
      }
      if (out.outliers.size() < most_places) {
        const runs::Run& run = log_.runs[shared_[each.run].run];
        out.outliers.push_back(
            {log_.name(run.player), run.date, d[i], place_of(each.first_reading), place_of(each.second_reading)});
      }
    }
    if (!out.outliers.empty() && kept.size() >= 2) {
      out.bias_without_outliers_s = *stats::mean(kept);
      out.sd_without_outliers_s = std::sqrt(*stats::variance(kept));
    }
  }

  std::string place_of(std::uint32_t reading) const {
    const runs::Reading& r = log_.readings[reading];
    return log_.files.at(r.file) + ":" + std::to_string(r.line);
  }

  // Sets of three readers or more that stood at the same runs.
  void compare_groups() {
    std::map<std::pair<std::vector<ReaderKey>, runs::StartKind>, std::vector<double>> tables;
    for (const SharedRun& shared : shared_) {
      if (shared.readings.size() < 3) {
        continue;
      }
      std::vector<std::pair<ReaderKey, std::uint32_t>> readers;
      for (const SharedReading& r : shared.readings) {
        readers.emplace_back(key_of(r.reading), r.reading);
      }
      std::sort(readers.begin(), readers.end());
      std::vector<ReaderKey> keys;
      std::vector<double> times;
      for (const auto& [key, reading] : readers) {
        const auto d = difference(0, readers.front().second, reading);
        if (d) {
          keys.push_back(key);
          times.push_back(d->second_s);
        }
      }
      if (keys.size() == readers.size()) {
        auto& table = tables[{keys, shared.start}];
        table.insert(table.end(), times.begin(), times.end());
      }
    }
    for (const auto& [key, scores] : tables) {
      if (const auto reliability = stats::reliability(scores, key.first.size(), options_.level)) {
        TimersGroup group;
        for (const ReaderKey& reader : key.first) {
          group.readers.push_back(reader_of(reader));
        }
        group.start = runs::word_of(key.second);
        group.runs = reliability->targets;
        group.reliability = *reliability;
        result_.groups.push_back(std::move(group));
      }
    }
  }

  void add_notes() {
    if (result_.runs_shared == 0) {
      result_.notes.push_back(
          "No run was timed twice, so no two timers can be compared: put two watches, or a watch and gates, on the "
          "same "
          "runs. Rows are readings of one run where date, place, player, course and trial agree: a blank trial makes "
          "each row a run of its own.");
      return;
    }
    if (starts_differ_ > 0) {
      result_.notes.push_back(counted(starts_differ_, "run") +
                              " had clocks started at different moments (signal, first move, beam): such readings are "
                              "not held against each other.");
    }
    const bool reference = std::any_of(result_.pairs.begin(), result_.pairs.end(),
                                       [](const TimersPair& pair) { return pair.is_reference; });
    if (!reference) {
      result_.notes.push_back(
          "Watches beside each other tell only how they differ. Which of them reads long or short, and "
          "what they share, takes a gate or a camera on the same runs.");
    } else {
      std::string said =
          "Gates and cameras are no truth either: a beam meets an arm or a torso. What their device profile "
          "says of their own bias is taken off where biases are given";
      std::set<std::string> named;
      for (const SharedRun& shared : shared_) {
        for (const SharedReading& r : shared.readings) {
          const runs::Reading& reading = log_.readings[r.reading];
          const timing::DeviceProfile& profile = devices_.default_for(reading.device);
          if (reading.device != runs::Device::stopwatch) {
            const auto error = timing::reading_error(profile, reading.start, log_.name(reading.timer));
            named.insert(profile.name + ", start " + std::string(runs::word_of(reading.start)) + ": " +
                         text::fixed(error.bias_mean_s, 3) + " s, SD " + text::fixed(error.bias_sd_s(), 3));
          }
        }
      }
      said += " (" + joined({named.begin(), named.end()}) + ").";
      result_.notes.push_back(said);
    }
    std::vector<std::string> few;
    bool no_players_change = false;
    for (const TimersPair& pair : result_.pairs) {
      if (pair.runs < 10) {
        few.push_back(pair.first.label() + " and " + pair.second.label() + " (" + counted(pair.runs, "run") + ")");
      }
      no_players_change = no_players_change || pair.players == 1;
    }
    if (!few.empty()) {
      few.resize(std::min<std::size_t>(few.size(), 6));
      result_.notes.push_back("Hardly anything can be said with fewer than about 10 runs: " + joined(few) + ".");
    }
    if (no_players_change) {
      result_.notes.push_back(
          "With one player only an ICC says nothing of the timing: it compares with differences "
          "between players.");
    }
  }

  // A press that lags more the longer the run, or a watch that runs fast.
  void note_growing_bias() {
    constexpr double unlikely = 0.01;        // of a slope by chance
    constexpr double least_spread_s = 0.03;  // of the bias over the times seen; no source, ours
    for (const TimersPair& pair : result_.pairs) {
      if (!pair.proportional || pair.points.size() < 10 || pair.proportional->p_two_sided.value_or(0.0) > unlikely) {
        continue;
      }
      const auto [least, most] =
          std::minmax_element(pair.points.begin(), pair.points.end(),
                              [](const TimersPoint& a, const TimersPoint& b) { return a.mean_s < b.mean_s; });
      const double grows_s = pair.proportional->slope * (most->mean_s - least->mean_s);
      if (std::fabs(grows_s) >= least_spread_s) {
        result_.notes.push_back(
            pair.first.label() + " against " + pair.second.label() + ": the difference grows with the time, by about " +
            text::signed_fixed(grows_s, 2) + " s from the shortest to the longest (" + text::fixed(least->mean_s, 1) +
            " to " + text::fixed(most->mean_s, 1) + " s). One bias for all distances does not hold for them.");
      }
    }
  }

  // Times by hand whose last digits are not spread evenly were rounded, or written down from memory.
  void note_heaped_digits() {
    constexpr std::size_t digits = 10, least = 50;
    constexpr double unlikely = 0.001;
    std::map<std::string, std::array<std::size_t, digits>> of;
    for (const runs::Reading& reading : log_.readings) {
      if (reading.device == runs::Device::stopwatch && reading.flag == runs::Flag::none) {
        for (const runs::Split& split : log_.splits_of(reading)) {
          ++of[log_.name(reading.timer)][static_cast<std::size_t>(std::lround(100.0 * split.time_s)) % digits];
        }
      }
    }
    for (const auto& [timer, of_timer] : of) {
      const auto& counts = of_timer;  // a structured binding cannot be captured by every compiler
      const auto n = std::accumulate(counts.begin(), counts.end(), std::size_t{0});
      const double expected = static_cast<double>(n) / digits;
      double chi_square = 0.0;
      for (const std::size_t count : counts) {
        const double off = static_cast<double>(count) - expected;
        chi_square += off * off / expected;
      }
      if (n < least || stats::chi_square_cdf(chi_square, digits - 1.0) < 1.0 - unlikely) {
        continue;
      }
      const std::string who = timer.empty() ? "The timer without a name" : timer;
      if (counts[0] == n) {
        result_.notes.push_back(who + " wrote tenths only: read the watch to the hundredth.");
        continue;
      }
      std::vector<std::size_t> order(digits);
      std::iota(order.begin(), order.end(), std::size_t{0});
      std::stable_sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) { return counts[a] > counts[b]; });
      result_.notes.push_back(who + ": " + std::to_string(counts[order[0]] + counts[order[1]]) + " of " +
                              counted(n, "time") + " end in " + std::to_string(std::min(order[0], order[1])) + " or " +
                              std::to_string(std::max(order[0], order[1])) + ", where chance would give about " +
                              text::fixed(2.0 * expected, 0) +
                              ": they were rounded or written from memory. Write down what the watch shows.");
    }
  }

  const runs::RunLog& log_;
  const timing::DeviceBook& devices_;
  const TimersOptions& options_;
  std::vector<SharedRun> shared_;
  std::set<detail::ReadingPair> far_off_;
  std::size_t starts_differ_ = 0;
  TimersResult result_;
};

}  // namespace

TimersResult timers(const runs::RunLog& log, const timing::DeviceBook& devices, const TimersOptions& options) {
  if (!(options.level > 0.0) || !(options.level < 1.0)) {
    throw std::domain_error("timers: level must lie strictly between 0 and 1");
  }
  return Job(log, devices, options).run();
}

}  // namespace bagsplit::jobs
