#include "bagsplit/jobs/profile/suspected.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

#include "bagsplit/text/number_text.hpp"

namespace bagsplit::jobs {

namespace {

constexpr double as_good_as_sure = 0.99;  // that a time that cannot be what was meant is a slip: no source

const char* word_of(inference::SlipKind kind) {
  switch (kind) {
    case inference::SlipKind::mark:
      return "mark";
    case inference::SlipKind::time:
      return "time";
    case inference::SlipKind::start:
      return "start";
    case inference::SlipKind::lost:
      return "lost";
    case inference::SlipKind::slow:
      return "slow";
  }
  return "row";
}

bool of_one_mark(inference::SlipKind kind) {
  return kind == inference::SlipKind::mark || kind == inference::SlipKind::time || kind == inference::SlipKind::lost;
}

// What the reader has left out of a reading.
void add_set_aside(const runs::RunLog& log, const std::string& player, std::uint32_t number,
                   std::vector<SuspectedReading>& out) {
  const runs::Reading& reading = log.readings[number];
  const auto splits = log.splits_of(reading);
  for (std::size_t j = 0; reading.suspicious && j < splits.size(); ++j) {
    if (const runs::SetAside* aside = log.aside(number, j); aside != nullptr && aside->mark == j) {
      SuspectedReading& made = out.emplace_back();
      made.file = log.files[reading.file];
      made.line = reading.line;
      made.column = log.names[splits[j].mark];
      made.player = player;
      made.kind = aside->slip == runs::SetAside::Slip::decimal ? "decimal" : "minutes";
      made.probability = as_good_as_sure;
      made.read_s = splits[j].time_s;
      made.size_s = aside->too_long_s;
      made.expected_s = splits[j].time_s - aside->too_long_s;
    }
  }
}

}  // namespace

std::vector<SuspectedReading> suspected_readings(const runs::RunLog& log, const std::string& player,
                                                 std::span<const std::uint32_t> log_reading,
                                                 std::span<const inference::Slip> slips,
                                                 std::span<const double> slip_of_reading) {
  std::vector<SuspectedReading> out;
  for (std::uint32_t r = 0; r < log_reading.size(); ++r) {
    add_set_aside(log, player, log_reading[r], out);
    const double any = r < slip_of_reading.size() ? slip_of_reading[r] : 0.0;
    const inference::Slip* best = nullptr;
    for (const inference::Slip& slip : slips) {
      if (slip.reading == r && (best == nullptr || slip.probability > best->probability)) {
        best = &slip;
      }
    }
    if (best == nullptr || any < maybe_suspected) {
      continue;
    }
    const runs::Reading& reading = log.readings[log_reading[r]];
    const auto splits = log.splits_of(reading);
    const runs::Split& split = splits[of_one_mark(best->kind) ? best->mark : splits.size() - 1];
    // Surely this row, but not surely this cell of it: the row is named.
    const bool row = any >= surely_suspected && best->probability < surely_suspected;
    SuspectedReading& made = out.emplace_back();
    made.file = log.files[reading.file];
    made.line = reading.line;
    made.column = row || !of_one_mark(best->kind) ? std::string() : log.names[split.mark];
    made.player = player;
    made.kind = row ? "row" : word_of(best->kind);
    made.probability = row ? any : best->probability;
    made.read_s = split.time_s;
    made.size_s = best->size_s;
    made.expected_s = split.time_s - best->size_s;
    made.expected_sd_s = best->size_sd_s;
  }
  return out;
}

void SuspectedReadings::add(std::vector<SuspectedReading> more) {
  for (SuspectedReading& one : more) {
    (one.probability >= surely_suspected ? surely : maybe).push_back(std::move(one));
  }
}

HangsOn hangs_on_reading(const runs::RunLog& log, std::uint32_t log_reading, std::string what) {
  const runs::Reading& reading = log.readings[log_reading];
  return {std::move(what), log.files[reading.file], reading.line, false};
}

std::string place_of(const HangsOn& row) {
  return row.file + " line " + std::to_string(row.line);
}

namespace {

// About whose a run is, or how it was run; empty for another kind.
std::string odd_row(const SuspectedReading& reading) {
  const std::string sure = " (" + text::fixed(100.0 * std::min(reading.probability, 0.99), 0) + " % sure)";
  if (reading.kind == "swap") {
    return "looks swapped with line " + std::to_string(reading.other_line) + " (player " + reading.other_player + ")" +
           sure + ": were the bibs mixed up?";
  }
  if (reading.kind == "bib") {
    return "these times look like player " + reading.other_player + "'s" + sure + ": a wrong bib?";
  }
  if (reading.kind == "posture") {
    const bool prone = reading.size_s > 0.0;
    const std::string who = reading.drill > 0
                                ? "this and all " + std::to_string(reading.drill) + " runs of the drill look"
                                : std::string("looks");
    return who + " run from " + (prone ? "lying down" : "standing") + sure + ", or from another start: posture " +
           (prone ? "prone" : "standing") + "?";
  }
  return {};
}

}  // namespace

std::string what_is_odd(const SuspectedReading& reading) {
  if (std::string row = odd_row(reading); !row.empty()) {
    return row;
  }
  const std::string off = "about " + text::fixed(std::fabs(reading.size_s), 1) + " s";
  const char* const way = reading.size_s > 0.0 ? "long" : "short";
  if (reading.kind == "mark" || reading.kind == "time") {
    return "'" + reading.column + "' of " + text::fixed(reading.read_s, 2) + " s looks " + off + " too " + way +
           "; about " + text::fixed(reading.expected_s, 1) + " s would fit the other times";
  }
  if (reading.kind == "decimal" || reading.kind == "minutes") {
    return "'" + reading.column + "' of " + text::fixed(reading.read_s, 2) +
           " s cannot be meant: " + text::fixed(reading.expected_s, 2) + " s would fit, " +
           (reading.kind == "decimal" ? "with the decimal point moved"
            : reading.size_s > 0.0    ? "with a point in place of the colon"
                                      : "with a colon in place of the point");
  }
  if (reading.kind == "start") {
    return "all its times look " + off + " too " + way + ", as if the clock had started " +
           (reading.size_s > 0.0 ? "early" : "late");
  }
  if (reading.kind == "lost") {
    return "from '" + reading.column + "' on it is " + off + " late, as after a fall";
  }
  if (reading.kind == "slow") {
    return "the whole run looks slow for this player";
  }
  return "it does not fit this player's other times; which of its times is wrong cannot be told";
}

std::string sentence(const SuspectedReading& reading) {
  std::string out = reading.file + ", line " + std::to_string(reading.line) +
                    (reading.player.empty() ? "" : " (player " + reading.player + ")") + ": " + what_is_odd(reading);
  if (reading.kind == "posture" && reading.drill > 0) {
    return out + " Until that is settled nothing is said of the start from it.";
  }
  if (reading.kind == "decimal" || reading.kind == "minutes") {
    return out + ". It is left out. Put it right, or write yes under 'checked' if it is right.";
  }
  return odd_row(reading).empty() ? out + ". It counts for little here. If it is wrong, correct it or leave it empty."
                                  : out + " Nothing was changed: correct the file if so.";
}

}  // namespace bagsplit::jobs
