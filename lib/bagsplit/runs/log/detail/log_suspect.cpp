#include "bagsplit/runs/log/detail/log_suspect.hpp"

#include <algorithm>
#include <cmath>

#include "bagsplit/runs/log/detail/log_times.hpp"
#include "bagsplit/runs/typed.hpp"
#include "bagsplit/text/text.hpp"

namespace bagsplit::runs::detail {

namespace {

constexpr double lap_doubt = 0.6;  // a lap this much slower than the fastest, when all are rising, may be no lap

std::string rounded(double value, double per_unit) {
  return format_number(std::round(value * per_unit) / per_unit);
}

class Examiner {
 public:
  Examiner(RawLog& log, const RawRow& row, std::span<const OddTime> odd, const ReadOptions& options)
      : log_(log), row_(row), odd_(odd), options_(options), times_(log, row, options.limits) {}

  TimeFinding examine() {
    find_symptom();
    if (found_.code.empty() && odd_.empty()) {
      doubt_laps();
      return std::move(found_);
    }
    if (explain_minutes(true) || explain_slip() || explain_minutes(false) || explain_laps() || explain_exchange()) {
      return std::move(found_);
    }
    if (found_.code.empty()) {
      tell_far_from_usual();
    }
    return std::move(found_);
  }

 private:
  const std::string& name(std::size_t k) const { return log_.names.text(log_.splits[row_.first_split + k].mark); }
  void point_at(std::size_t k) { found_.split = row_.first_split + static_cast<std::uint32_t>(k); }

  // What cannot be, else what is hardly so.
  void find_symptom() {
    for (std::size_t k = 0; k < times_.size(); ++k) {
      if (times_.falls_back(k)) {
        point_at(k);
        found_.code = "splits-out-of-order";
        found_.certain = true;
        found_.message = "'" + name(k) + "' is not later than '" + name(k - 1) + "'";
        found_.expected =
            row_.laps ? "a lap of more than 0 s" : "more than " + rounded(times_.clock_s(k - 1), 1000.0) + " s";
        return;
      }
      if (times_.too_fast(k)) {
        point_at(k);
        found_.code = "impossible-speed";
        found_.certain = true;
        const bool from_start = k == 0;
        found_.message = "nobody runs " + rounded(times_.stretch_m(k), 10.0) + " m" +
                         (from_start ? " from the start" : " from '" + name(k - 1) + "'") + " to '" + name(k) +
                         "' in " + rounded(times_.stretch_s(k), 1000.0) + " s";
        found_.expected =
            "at most " + rounded(options_.limits.top_speed_mps, 10.0) + " m/s, less from a standing start";
        return;
      }
    }
    if (row_.flag != Flag::none) {
      return;
    }
    for (std::size_t k = 0; k < times_.size(); ++k) {
      if (times_.too_slow(k)) {
        point_at(k);
        found_.code = "too-slow";
        found_.message = rounded(times_.stretch_s(k), 100.0) + " s for " + rounded(times_.stretch_m(k), 10.0) + " m" +
                         (k == 0 ? " from the start" : " from '" + name(k - 1) + "'") + " to '" + name(k) + "'";
        found_.expected = "faster than an unhurried walk, or a flag";
        return;
      }
    }
  }

  // Whether the row would do with this time in this cell.
  bool would_do(std::size_t k, double own_s) {
    const double typed = times_.own_s(k);
    times_.set_own_s(k, own_s);
    const bool good = times_.make_sense();
    times_.set_own_s(k, typed);
    return good;
  }

  const OddTime* odd_at(std::size_t k) const {
    const auto it =
        std::find_if(odd_.begin(), odd_.end(), [&](const OddTime& o) { return o.split == row_.first_split + k; });
    return it == odd_.end() ? nullptr : &*it;
  }

  bool explain_slip() {
    for (std::size_t k = 0; k < times_.size(); ++k) {
      const double typed = times_.own_s(k);
      if (const OddTime* odd = odd_at(k); odd != nullptr && typed > 0.0) {
        const double power = std::round(std::log10(typed / odd->usual_s));
        const double meant = typed / std::pow(10.0, power);
        if (power != 0.0 && meant > 0.7 * odd->usual_s && meant < 1.43 * odd->usual_s && would_do(k, meant)) {
          tell_slip(k, meant, odd);
          return true;
        }
      }
    }
    // Without anything to compare with: only when the row cannot be right, or hardly, and one cell puts it right.
    if (found_.code.empty()) {
      return false;
    }
    for (std::size_t k = 0; k < times_.size(); ++k) {
      for (const double factor : {0.1, 10.0, 0.01}) {
        if (times_.size() >= 2 && would_do(k, times_.own_s(k) * factor)) {
          tell_slip(k, times_.own_s(k) * factor, nullptr);
          return true;
        }
      }
    }
    return false;
  }

  void tell_slip(std::size_t k, double meant, const OddTime* odd) {
    point_at(k);
    found_.code = "decimal-slip";
    found_.slip = SetAside::Slip::decimal;
    found_.too_long_s = times_.own_s(k) - meant;
    found_.message =
        odd == nullptr ? "'" + name(k) + "' does not go with the other times of this run" : misfit(k, *odd);
    found_.expected = odd == nullptr ? "a time like the others" : expected(*odd);
    found_.hint = "the decimal point may have slipped: " + format_number(std::round(meant * 1e4) / 1e4) + " s?";
  }

  // The cell's text, as typed.
  std::string_view typed(std::size_t k) {
    if (record_.text.empty()) {
      record_ = record_of(log_, row_, options_);
    }
    const LogFile& file = log_.file_of(row_);
    const auto ranges = text::field_ranges(record_.text, file.delimiter);
    for (std::size_t c = 0; c < std::min(file.columns.size(), ranges.size()); ++c) {
      if (file.columns[c].field == Field::mark && file.columns[c].name == log_.splits[row_.first_split + k].mark) {
        return record_.text.substr(ranges[c].begin, ranges[c].end - ranges[c].begin);
      }
    }
    return {};
  }

  std::string misfit(std::size_t k, const OddTime& odd) const {
    return "'" + name(k) + "' does not fit " + (odd.of_player ? "this player's other times" : "the squad's times");
  }

  static std::string expected(const OddTime& odd) {
    return "about " + rounded(odd.usual_s, 100.0) + " s, give or take " + rounded(std::max(odd.sd_s, 0.01), 100.0);
  }

  void tell_far_from_usual() {
    const OddTime& odd = odd_.front();
    const std::size_t k = odd.split - row_.first_split;
    point_at(k);
    found_.code = "far-from-usual";
    if (odd.all) {
      const double off_s = times_.own_s(k) - odd.usual_s;
      found_.message = "all times of this row look about " + rounded(std::fabs(off_s), 10.0) + " s too " +
                       (off_s > 0.0 ? "long" : "short") + " for " + (odd.of_player ? "this player" : "the squad");
      found_.expected = "'" + name(k) + "' " + expected(odd);
      found_.hint = off_s > 0.0 ? "did the clock start early?" : "did the clock start late?";
      return;
    }
    found_.message = misfit(k, odd);
    found_.expected = expected(odd);
    const std::string meant = one_slip_from(typed(k), k, odd);
    found_.hint = meant.empty() ? "" : meant + "?";
  }

  // The text that one slip of the hand may have made of another that fits: two figures that changed places, else one
  // wrong figure. Empty where several would do.
  std::string one_slip_from(std::string_view typed_text, std::size_t k, const OddTime& odd) {
    const double near_s = std::max(2.0 * odd.sd_s, 0.02);
    std::string best;
    std::size_t found = 0;
    const auto weigh = [&](const std::string& other) {
      const auto time = parse_time_s(other, true);
      const bool as_typed = other.size() < 2 || other[0] != '0' || !text::is_digit(other[1]);
      if (as_typed && time && std::fabs(*time - odd.usual_s) < near_s && would_do(k, *time)) {
        best = other;
        ++found;
      }
    };
    const auto is_figure = [&](std::size_t i) { return text::is_digit(typed_text[i]); };
    for (std::size_t i = 0; i < typed_text.size(); ++i) {
      const std::size_t next = i + 1 < typed_text.size() && is_figure(i + 1) ? i + 1 : i + 2;
      if (next < typed_text.size() && is_figure(i) && is_figure(next) && typed_text[i] != typed_text[next]) {
        std::string other(typed_text);
        std::swap(other[i], other[next]);
        weigh(other);
      }
    }
    if (found == 1) {
      return "two figures that changed places, " + best;
    }
    found = 0;
    for (std::size_t i = 0; i < typed_text.size(); ++i) {
      for (char figure = '0'; is_figure(i) && figure <= '9'; ++figure) {
        if (figure != typed_text[i]) {
          std::string other(typed_text);
          other[i] = figure;
          weigh(other);
        }
      }
    }
    return found == 1 ? "one wrong figure, " + best : std::string();
  }

  // With a colon: seconds typed as minutes and seconds. Without: the reverse.
  bool explain_minutes(bool with_colon) {
    for (std::size_t k = 0; k < times_.size(); ++k) {
      const std::string_view text = typed(k);
      const std::size_t colon = text.find(':');
      const double value = times_.own_s(k);
      if ((colon != std::string_view::npos) != with_colon) {
        continue;
      }
      if (with_colon) {
        const double minutes = std::floor(value / 60.0);
        const double meant = minutes + (value - 60.0 * minutes) / 100.0;
        if (minutes >= 1.0 && would_do(k, meant)) {
          return tell_minutes(
              k, meant, "seconds-as-minutes", std::string(text) + " is read as minutes and seconds",
              "if " + format_number(std::round(meant * 1e4) / 1e4) + " s is meant, write it with a point");
        }
        continue;
      }
      const std::size_t point = text.find_first_of(".,");
      if (point != std::string_view::npos && text.size() == point + 3 && value >= 1.0) {
        const double minutes = std::floor(value);
        const double seconds = std::round((value - minutes) * 100.0);
        const double meant = 60.0 * minutes + seconds;
        const OddTime* odd = odd_at(k);
        const bool usual = odd == nullptr || (meant > 0.7 * odd->usual_s && meant < 1.43 * odd->usual_s);
        if (seconds < 60.0 && usual && would_do(k, meant)) {
          return tell_minutes(k, meant, "minutes-as-seconds", std::string(text) + " is read as seconds",
                              "if " + format_number(minutes) + " min " + format_number(seconds) +
                                  " s is meant, write " + format_number(minutes) + ":" + (seconds < 10.0 ? "0" : "") +
                                  format_number(seconds));
        }
      }
    }
    return false;
  }

  bool tell_minutes(std::size_t k, double meant, std::string_view code, std::string message, std::string hint) {
    point_at(k);
    found_.slip = SetAside::Slip::minutes;
    found_.too_long_s = times_.own_s(k) - meant;
    found_.code = code;
    found_.message = "'" + name(k) + "': " + std::move(message);
    found_.expected = "seconds such as 64.05, or minutes and seconds such as 1:04.05";
    found_.hint = std::move(hint);
    return true;
  }

  bool explain_laps() {
    if (row_.laps || times_.on_team_clock() || !found_.certain || times_.size() < 2) {
      return false;
    }
    times_.read_as(true);
    const bool good = times_.make_sense(even_laps);
    times_.read_as(false);
    if (!good) {
      return false;
    }
    found_.code = "laps-as-cumulative";
    found_.message = "these times look like laps, but count as times from the start";
    found_.expected = "times from the start at every mark";
    found_.hint = "if they are laps, say so: '# splits: lap' above the header, or a column 'splits'";
    return true;
  }

  bool explain_exchange() {
    if (found_.code != "splits-out-of-order" || row_.laps) {
      return false;
    }
    const std::size_t k = found_.split - row_.first_split;
    for (std::size_t other = 0; other < times_.size(); ++other) {
      if (other == k) {
        continue;
      }
      times_.swap_times(k, other);
      const bool good = times_.make_sense();
      times_.swap_times(k, other);
      if (good) {
        found_.hint = "the times at '" + name(std::min(k, other)) + "' and '" + name(std::max(k, other)) +
                      "' may have changed places";
        return true;
      }
    }
    return false;
  }

  // Times from the start typed where laps are expected rise all along and make the later laps ever slower.
  void doubt_laps() {
    if (!row_.laps || row_.flag != Flag::none) {
      return;
    }
    double slowest = 1e9;
    double fastest = 0.0;
    std::size_t marks = 0;
    for (std::size_t k = 0; k < times_.size(); ++k) {
      if (times_.stretch_m(k) <= 0.0) {
        continue;
      }
      if (marks > 0 && times_.own_s(k) <= times_.own_s(k - 1)) {
        return;
      }
      ++marks;
      slowest = std::min(slowest, times_.stretch_m(k) / times_.own_s(k));
      fastest = std::max(fastest, times_.stretch_m(k) / times_.own_s(k));
    }
    if (marks < 2 || slowest > lap_doubt * fastest) {
      return;
    }
    times_.read_as(false);
    const bool good = times_.make_sense(even_laps);
    times_.read_as(true);
    if (good) {
      point_at(times_.size() - 1);
      found_.code = "cumulative-as-laps";
      found_.message = "these times look like times from the start, but count as laps";
      found_.expected = "the time from mark to mark";
      found_.hint = "if they are times from the start, say so: '# splits: cumulative'";
    }
  }

  RawLog& log_;
  const RawRow& row_;
  std::span<const OddTime> odd_;
  const ReadOptions& options_;
  RunTimes times_;
  TimeFinding found_;
  text::CsvRecord record_;
};

}  // namespace

TimeFinding examine_times(RawLog& log, const RawRow& row, std::span<const OddTime> odd, const ReadOptions& options) {
  return Examiner(log, row, odd, options).examine();
}

}  // namespace bagsplit::runs::detail
