// What the reader does to be quick must not be seen: conditions that go on from row to row, short ways for short texts,
// tables used again.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <random>
#include <set>
#include <string>
#include <vector>

#include "bagsplit/runs/log/run_log.hpp"
#include "bagsplit/runs/typed.hpp"
#include "bagsplit/text/csv.hpp"
#include "bagsplit/text/eight_bytes.hpp"
#include "bagsplit/text/first_seen.hpp"
#include "bagsplit/text/plain_number.hpp"

namespace {

using namespace bagsplit::runs;
namespace text = bagsplit::text;

// Everything a row says, as text.
std::string said_by(const RunLog& log, const Run& run) {
  std::string out;
  const auto add = [&](const auto& value) { out += std::to_string(value) + ";"; };
  for (const NameId id : {run.player, run.place, run.team, run.surface}) {
    out += log.name(id) + ";";
  }
  out += log.courses[run.course].name + ";" + format_date(run.date) + ";";
  add(run.trial);
  add(run.leg);
  add(static_cast<int>(run.posture));
  add(static_cast<int>(run.flag));
  add(run.base_distance_m);
  add(run.wind_mps);
  add(run.temperature_c);
  for (const Reading& reading : log.readings_of(run)) {
    out += log.name(reading.timer) + ";" + log.name(reading.note) + ";";
    add(static_cast<int>(reading.device));
    add(static_cast<int>(reading.start));
    add(reading.beam_distance_m);
    add(static_cast<int>(reading.laps));
    for (const Split& split : log.splits_of(reading)) {
      out += log.name(split.mark) + "@";
      add(split.distance_m);
      add(split.time_s);
    }
  }
  return out;
}

std::vector<std::string> errors_of(const text::Problems& problems, std::size_t line) {
  std::vector<std::string> out;
  for (const text::Problem& problem : problems) {
    if (problem.severity == text::Severity::error && problem.line == line) {
      out.push_back(problem.code + ":" + std::to_string(problem.column) + ":" + problem.message);
    }
  }
  return out;
}

// Identity: a row means what it says, whatever stands above it. Each player has one row, so that no row is compared
// with another.
TEST(RowAfterRow, ARowMeansTheSameAloneAndBelowOthers) {
  const std::string above =
      "# place: park\n# base-distance: 60 ft\n# start: beam 0.5 m\n# wind: 1.5\n# note: \"as ever\"\n"
      "player,date,course,trial,team,leg,place,timer,device,start,posture,splits,base-distance,surface,wind,"
      "temperature,flag,note,first,second\n";
  const std::vector<std::vector<std::string>> cells{{"2026-04-11", "2026-04-12", "", "2026-02-30"},
                                                    {"circuit", "home-second", "circut", ""},
                                                    {"", "1", "2", "x"},
                                                    {"", "red", "blue"},
                                                    {"", "1", "2", "100"},
                                                    {"", "hall", "park"},
                                                    {"AK", "RB", "", "\"A \"\"K\"\"\"", "\"R \"\"B\"\"\""},
                                                    {"", "gate", "video", "gait"},
                                                    {"", "signal", "self", "beam", "beam 1 m"},
                                                    {"", "standing", "crouch", "crouched"},
                                                    {"", "lap", "cumulative"},
                                                    {"", "18 m", "60 ft", "60"},
                                                    {"", "grass", " grass ", "clay"},
                                                    {"", "0.5", "5 mph", "gale"},
                                                    {"", "18", "64 F", "64"},
                                                    {"", "", "fall", "void", "fell"},
                                                    {"", "windy", "\"said \"\"go\"\"\"", "\"said \"\"no\"\"\""},
                                                    {"4.05", "4.1", " 4.05", "", "4:o5"},
                                                    {"8.15", "8.225", "0:08.20", "8.20000000000000000001"}};
  std::mt19937 random(3);
  std::vector<std::string> rows;
  std::string whole = above;
  for (int player = 0; player < 3000; ++player) {
    std::string row = "p" + std::to_string(player);
    for (const auto& choices : cells) {
      // The first choices are good ones; most rows hold no bad cell.
      const std::size_t count = random() % 16 == 0 ? choices.size() : std::min<std::size_t>(2, choices.size());
      row += "," + choices[random() % count];
    }
    rows.push_back(row);
    whole += row + "\n";
  }
  const RunLogResult all = read_run_log(whole, "all.csv");
  std::size_t run = 0;
  std::size_t good = 0;
  constexpr std::size_t lines_above = 6;
  for (std::size_t k = 0; k < rows.size(); ++k) {
    const RunLogResult one = read_run_log(above + rows[k] + "\n", "one.csv");
    ASSERT_EQ(errors_of(all.problems, lines_above + 1 + k), errors_of(one.problems, lines_above + 1)) << rows[k];
    if (one.log.runs.empty()) {
      continue;
    }
    ASSERT_LT(run, all.log.runs.size());
    ASSERT_EQ(said_by(all.log, all.log.runs[run++]), said_by(one.log, one.log.runs.front())) << rows[k];
    ++good;
  }
  EXPECT_EQ(run, all.log.runs.size());
  EXPECT_GT(good, rows.size() / 4);
  EXPECT_LT(good, rows.size());
}

// Computed: glibc strtod in the C locale, which rounds correctly.
TEST(PlainNumber, IsTheNearestDoubleOrNothing) {
  std::mt19937_64 random(1);
  const std::string_view characters = "0123456789.,:o /";
  std::size_t read = 0;
  for (int round = 0; round < 200'000; ++round) {
    std::string text;
    for (std::size_t n = random() % 10; n > 0; --n) {
      const bool odd = random() % 4 == 0;
      text += characters[random() % (odd ? characters.size() : 11)];
    }
    const bool decimal_comma = random() % 2 == 0;
    const double plain = text::detail::plain_number(text, decimal_comma);
    if (!std::isnan(plain)) {
      ++read;
      std::string with_point = text;
      std::replace(with_point.begin(), with_point.end(), ',', '.');
      char* end = nullptr;
      ASSERT_EQ(plain, std::strtod(with_point.c_str(), &end)) << text;
      ASSERT_EQ(*end, '\0') << text;
      ASSERT_EQ(parse_decimal(text, decimal_comma), plain) << text;
    } else if (text.size() <= 8) {
      ASSERT_FALSE(parse_decimal(text, decimal_comma)) << text;
    }
  }
  EXPECT_GT(read, 10'000U);
}

// Identity: the same answer as comparing the texts.
TEST(SameText, AgreesWithTheTextsAtEveryLength) {
  for (std::size_t size = 0; size <= 40; ++size) {
    std::string a(size, 'a');
    for (std::size_t k = 0; k < size; ++k) {
      a[k] = static_cast<char>('a' + k % 23);
    }
    EXPECT_TRUE(text::detail::same_text(a, std::string(a)));
    EXPECT_FALSE(text::detail::same_text(a, a + "x"));
    for (std::size_t k = 0; k < size; ++k) {
      std::string b = a;
      b[k] = static_cast<char>(b[k] ^ 0x80);
      EXPECT_FALSE(text::detail::same_text(a, b)) << size << " " << k;
    }
  }
}

// Identity: a set of all items so far says the same.
TEST(FirstSeen, FindsTheFirstOfEachKindInEachRound) {
  text::detail::FirstSeen table;
  std::mt19937 random(5);
  for (int round = 0; round < 200; ++round) {
    std::vector<std::uint32_t> kinds(random() % 100);
    table.start(kinds.size());
    for (std::uint32_t k = 0; k < kinds.size(); ++k) {
      kinds[k] = static_cast<std::uint32_t>(random() % 40);
      const auto same = [&](std::uint32_t other) { return kinds[other] == kinds[k]; };
      const std::uint64_t hash = round % 2 == 0 ? text::detail::hash_on(0, kinds[k]) : 7;  // in odd rounds all collide
      const auto first =
          static_cast<std::uint32_t>(std::find(kinds.begin(), kinds.begin() + k, kinds[k]) - kinds.begin());
      ASSERT_EQ(table.contains(hash, same), first != k);
      ASSERT_EQ(table.first_of(hash, k, same), first);
    }
  }
}

// Identity: what is in a text does not hang on where it stands in it, nor on how long the text is.
TEST(LongTexts, AreReadLikeShortOnes) {
  const std::string filler = "2026-04-11,12,circuit\n";
  for (const std::size_t before : {16'370U, 16'384U, 32'760U, 32'768U, 100'000U}) {
    for (std::size_t shift = 0; shift < 24; ++shift) {
      std::string text;
      while (text.size() < before) {
        text += filler;
      }
      text.insert(0, std::string(shift, 'x') + "\n");
      const std::size_t lines = static_cast<std::size_t>(std::count(text.begin(), text.end(), '\n'));
      const auto first_fault = [&](const std::string& line) {
        const std::string all = text + line + "\n" + filler;
        text::CsvReader reader(all);
        EXPECT_EQ(reader.lines_left(), lines + 3);
        text::CsvRecord record;
        while (reader.next(record)) {
          if (record.fault != text::CsvFault::none) {
            EXPECT_EQ(record.line, lines + 1);
            return record.fault;
          }
        }
        return text::CsvFault::none;
      };
      ASSERT_EQ(first_fault("1,\xE2\x80\x93,\"2,3\",\xF0\x9F\x98\x80"), text::CsvFault::none);
      ASSERT_EQ(first_fault("1,\xE2\x80,2"), text::CsvFault::not_utf8);
      ASSERT_EQ(first_fault(std::string("1,\0,2", 5)), text::CsvFault::nul_byte);
      ASSERT_EQ(first_fault("1,\"2"), text::CsvFault::unclosed_quote);
    }
  }
}

// Identity: a row that falls out takes its splits with it, and leaves those of all others where their readings say.
TEST(RowAfterRow, SplitsOfRowsThatFallOutAreGone) {
  std::string text = "# base-distance: 60 ft\ndate,player,course,trial,first,second\n";
  for (int k = 0; k < 50; ++k) {
    const std::string second = k % 7 == 3 ? "3.00" : "8." + std::to_string(10 + k);  // before first: an error
    text += "2026-04-11," + std::to_string(k % 5) + ",home-second," + std::to_string(1 + k / 5) + ",4." +
            std::to_string(10 + k) + "," + second + "\n";
  }
  const RunLogResult result = read_run_log(text, "a.csv");
  EXPECT_EQ(result.problems.size(), 7U);
  ASSERT_EQ(result.log.readings.size(), 43U);
  EXPECT_EQ(result.log.splits.size(), 2 * result.log.readings.size());
  std::set<std::uint32_t> starts;
  for (const Reading& reading : result.log.readings) {
    const auto splits = result.log.splits_of(reading);
    ASSERT_EQ(splits.size(), 2U);
    const auto k = static_cast<int>(reading.line) - 3;
    EXPECT_EQ(splits[0].time_s, *parse_time_s("4." + std::to_string(10 + k), false));
    EXPECT_EQ(splits[1].time_s, *parse_time_s("8." + std::to_string(10 + k), false));
    starts.insert(reading.first_split);
  }
  EXPECT_EQ(starts.size(), result.log.readings.size());
}

}  // namespace
