#include <gtest/gtest.h>

#include <array>
#include <cmath>
#include <random>
#include <set>
#include <string>

#include "bagsplit/runs/log/run_log.hpp"
#include "bagsplit/runs/log/write_run_log.hpp"
#include "bagsplit/runs/typed.hpp"

namespace {

using namespace bagsplit::runs;
namespace text = bagsplit::text;

std::string number_of(float value) {
  return std::isnan(value) ? "-" : format_number(value);
}

// All that a log says, as text: two logs that say the same give the same.
std::string told(const RunLog& log, bool with_laps) {
  std::string out;
  const auto add = [&](const std::string& text) { out += text + "|"; };
  for (const auto& run : log.runs) {
    add(format_date(run.date));
    for (const NameId id : {run.player, run.place, run.team, run.surface}) {
      add(log.name(id));
    }
    add(log.courses[run.course].name);
    for (const int number : {int{run.trial}, int{run.leg}, int{run.reading_count}, static_cast<int>(run.posture),
                             static_cast<int>(run.flag)}) {
      add(std::to_string(number));
    }
    add(format_number(run.base_distance_m) + "," + number_of(run.wind_mps) + "," + number_of(run.temperature_c));
    for (const Reading& reading : log.readings_of(run)) {
      add("\n  " + log.name(reading.timer) + "|" + log.name(reading.note));
      for (const int number : {static_cast<int>(reading.device), static_cast<int>(reading.start),
                               static_cast<int>(reading.flag), run.leg >= 2 ? int{reading.laps} : 0}) {
        add(std::to_string(number));
      }
      add(format_number(reading.beam_distance_m));
      for (const Split& split : log.splits_of(reading)) {
        add(log.name(split.mark) + (split.is_move ? "!" : "") + format_number(split.distance_m) + "=" +
            format_number(with_laps ? std::round(split.time_s * 1e9) / 1e9 : split.time_s));
      }
      const auto number = static_cast<std::uint32_t>(&reading - log.readings.data());
      std::set<std::string> carried;
      for (const Carried& cell : log.carried) {
        if (cell.reading == number) {
          carried.insert(log.name(cell.column) + "=" + log.name(cell.text));
        }
      }
      for (const std::string& cell : carried) {
        add(cell);
      }
    }
    out += "\n";
  }
  return out;
}

// A log with every column, its times free of reason, so that suspicions abound; errors must not.
std::string random_log(std::mt19937_64& random, bool relay) {
  const auto pick = [&](const auto& words) { return std::string(words[random() % words.size()]); };
  const auto number = [&](unsigned below) { return static_cast<unsigned>(random() % below); };
  constexpr std::array<std::string_view, 4> players{"12", "013", "Zo\xC3\xAB", "a;b, \"c\""};
  constexpr std::array<std::string_view, 3> places{"", "north field", "\xE8\xB5\xB0"};
  constexpr std::array<std::string_view, 4> notes{"", "two\nlines", "quote \" and, comma", "plain"};
  constexpr std::array<std::string_view, 3> starts{"signal", "contact", "beam 0.5 m"};
  constexpr std::array<std::string_view, 7> flags{"", "", "false-start", "fall", "missed-bag", "obstructed", "void"};
  constexpr std::array<std::string_view, 3> bases{"60 ft", "18.5 m", "20.123 yd"};
  constexpr std::array<std::string_view, 3> winds{"", "1.25", "-0.8"};
  std::string text =
      "# surface: grass\ndate,player,course,trial,team,leg,place,timer,device,start,posture,splits,base-distance,wind,"
      "temperature,move,first,second,third,home,10yd,7.5m,flag,note,x-lane,x-mood\n";
  const unsigned rows = number(12);
  for (unsigned k = 0; k < rows; ++k) {
    const std::string start = pick(starts);
    const bool laps = number(3) == 0;
    double clock = 0.2 + 0.001 * number(100);
    const auto next = [&](double step) {
      const double lap = step + 0.01 * number(100);
      clock += lap;
      return format_number(std::round((laps ? lap : clock) * 1000.0) / 1000.0);
    };
    text += "2026-0" + std::to_string(1 + number(9)) + "-1" + std::to_string(number(10)) + ",";
    text::append_csv_field(text, pick(players));
    text += number(2) == 0 ? ",circuit," : ",home-third,";
    const bool circuit = text.ends_with("circuit,");
    text += (number(3) == 0 ? "" : std::to_string(k + 1)) + ",";
    text += relay ? "red," + std::to_string(1 + number(3)) + "," : std::string(",,");
    text += pick(places) + "," + (number(2) == 0 ? "AK" : "") + ",stopwatch," + start + ",";
    text += (number(2) == 0 ? "prone," : "standing,") + std::string(laps ? "lap," : "cumulative,") + pick(bases) + ",";
    text += pick(winds) + "," + (number(2) == 0 ? "18.5" : "") + ",";
    text += (start == "beam 0.5 m" || number(2) == 0 ? "" : next(0.1)) + ",";
    const std::string seven = number(2) == 0 ? next(1.4) : "";
    const std::string ten = number(2) == 0 ? next(seven.empty() ? 2.2 : 0.5) : "";
    text += next(3.0) + ",";
    text += next(3.0) + ",";
    text += next(3.0) + ",";
    text += (circuit && number(4) != 0 ? next(3.0) : "") + ",";
    text += ten + "," + seven + "," + pick(flags) + ",";
    text::append_csv_field(text, pick(notes));
    text += "," + std::string(number(2) == 0 ? "4" : "") + ",";
    text::append_csv_field(text, number(2) == 0 ? "well, \"fine\"" : "");
    text += "\n";
  }
  return text;
}

// Identity: a log written and read again says the same.
TEST(RoundTrip, WhatIsWrittenIsReadBack) {
  std::mt19937_64 random(7);
  std::size_t runs = 0;
  for (int round = 0; round < 300; ++round) {
    const bool relay = round % 2 == 1;
    const std::string text = random_log(random, relay);
    const RunLogResult first = read_run_log(text, "random.csv");
    for (const text::Problem& problem : first.problems) {
      ASSERT_NE(problem.severity, text::Severity::error) << problem.code << ": " << problem.message << "\n"
                                                         << problem.source_line;
    }
    const std::string written = write_run_log(first.log);
    const RunLogResult second = read_run_log(written, "written.csv");
    ASSERT_FALSE(text::has_errors(second.problems)) << second.problems.front().message << "\n" << written;
    ASSERT_EQ(told(first.log, relay), told(second.log, relay)) << text << "\n" << written;
    ASSERT_EQ(write_run_log(second.log), written);
    runs += first.log.runs.size();
  }
  EXPECT_GT(runs, 1000U);
}

TEST(RoundTrip, AnEmptyLogIsAHeader) {
  const std::string written = write_run_log(RunLog{});
  EXPECT_EQ(written, "date,player,course,trial,first,flag,note\n");
  EXPECT_FALSE(text::has_errors(read_run_log(written, "w.csv").problems));
}

// Identity: what is the same throughout stands once, above the header.
TEST(RoundTrip, SharedConditionsBecomeKeys) {
  const auto result = read_run_log(
      "# base-distance: 60 ft\n# place: North Field, east\n# splits: lap\ndate,player,course,timer,first,second\n"
      "2026-04-11,12,home-second,AK,4.05,3.97\n2026-04-11,13,home-second,AK,4.15,4.07\n",
      "a.csv");
  EXPECT_EQ(write_run_log(result.log),
            "# place: North Field, east\n# timer: AK\n# device: stopwatch\n# start: signal\n# posture: standing\n"
            "# splits: cumulative\n# base-distance: 60 ft\ndate,player,course,trial,first,second,flag,note\n"
            "2026-04-11,12,home-second,,4.05,8.02,,\n2026-04-11,13,home-second,,4.15,8.22,,\n");
}

}  // namespace
