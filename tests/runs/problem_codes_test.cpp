// Common practice, no source: one provoking file for each problem, its exact text beside it (tests/runs/problems). To
// make a text anew after a change: BAGSPLIT_WRITE_EXPECTED=1 runs_test --gtest_filter='*Provoking*', then read every
// difference.
#include "bagsplit/text/problem_codes.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <regex>
#include <set>
#include <sstream>
#include <string>

#include "bagsplit/jobs/fast_end.hpp"
#include "bagsplit/present/text/problem_text.hpp"
#include "bagsplit/runs/courses/course_file.hpp"
#include "bagsplit/runs/log/run_log.hpp"
#include "bagsplit/runs/roster/roster.hpp"

namespace {

using namespace bagsplit::runs;
namespace text = bagsplit::text;
namespace fs = std::filesystem;

const fs::path folder = fs::path(BAGSPLIT_TEST_DATA) / "runs" / "problems";

std::string contents(const fs::path& path) {
  std::ifstream in(path, std::ios::binary);
  std::ostringstream text;
  text << in.rdbuf();
  return text.str();
}

Date fixed_today() {
  return Date{std::chrono::year{2026} / 6 / 30};
}

text::Problems problems_in_log(const fs::path& path, bool from_folder) {
  const Roster roster = read_roster(contents(folder / "roster.csv"), "roster.csv", {.today = fixed_today()}).roster;
  ReadOptions options;
  options.today = fixed_today();
  options.roster = &roster;
  options.limits.fastest_of_age_mps = bagsplit::jobs::fastest_of_age_mps();
  // Small limits, so that the files that break them are small.
  options.max_problems = 12;
  options.csv.max_record_bytes = 400;
  options.csv.max_columns = 40;
  const std::string text = contents(path);
  const LogText file{text, path.filename().string(), from_folder};
  return read_run_logs(std::span(&file, 1), options).problems;
}

// With a run of player 12 to hold the births against.
text::Problems problems_in_roster(const fs::path& path) {
  RosterResult read = read_roster(contents(path), path.filename().string(), {.today = fixed_today()});
  const RunLog log = read_run_log("date,player,course,10m\n2026-04-11,12,straight,2.5\n", "a.csv").log;
  const text::Problems births = check_births(read, log, false);
  read.problems.insert(read.problems.end(), births.begin(), births.end());
  return read.problems;
}

struct Provoked {
  fs::path file;
  text::Problems problems;
};

Provoked provoke(const text::ProblemCode& entry) {
  const std::string code(entry.code);
  Provoked out;
  switch (entry.of) {
    case text::ProblemOf::run_log:
      out.file = folder / (code + ".csv");
      out.problems = problems_in_log(out.file, code == "ignored-file");
      break;
    case text::ProblemOf::roster:
      out.file = folder / (code + ".roster.csv");
      out.problems = problems_in_roster(out.file);
      break;
    case text::ProblemOf::json:
      out.file = folder / (code + ".courses.json");
      read_courses(contents(out.file), out.file.filename().string(), builtin_courses(), out.problems);
      break;
    case text::ProblemOf::recorders:
    case text::ProblemOf::gates:
    case text::ProblemOf::squad:
    case text::ProblemOf::files:
      break;
  }
  return out;
}

TEST(ProblemCodes, EachHasAProvokingFileWithItsExactText) {
  for (const text::ProblemCode& entry : text::problem_codes()) {
    if (entry.of != text::ProblemOf::run_log && entry.of != text::ProblemOf::roster &&
        entry.of != text::ProblemOf::json) {
      continue;  // files_test.cpp, json_text_test.cpp, run_log_test.cpp, sheet_doubts_test.cpp and the cases of gates
                 // and record provoke these
    }
    SCOPED_TRACE(std::string(entry.code));
    const Provoked got = provoke(entry);
    ASSERT_TRUE(fs::exists(got.file)) << got.file;
    const auto is_it = [&](const text::Problem& p) { return p.code == entry.code && p.severity == entry.severity; };
    EXPECT_TRUE(std::any_of(got.problems.begin(), got.problems.end(), is_it));
    const std::string text = bagsplit::present::format_problems(got.problems);
    const fs::path expected = folder / (std::string(entry.code) + ".txt");
    if (std::getenv("BAGSPLIT_WRITE_EXPECTED") != nullptr) {
      std::ofstream(expected, std::ios::binary) << text;
    }
    EXPECT_EQ(text, contents(expected));
  }
}

TEST(ProblemCodes, EachProvokingFileHasItsEntry) {
  for (const auto& item : fs::directory_iterator(folder)) {
    const std::string name = item.path().filename().string();
    if (name != "roster.csv") {
      EXPECT_NE(text::find_problem_code(name.substr(0, name.find('.'))), nullptr) << name;
    }
  }
}

TEST(ProblemCodes, NoneStandsTwiceAndEachIsASentence) {
  std::set<std::string_view> seen;
  for (const text::ProblemCode& entry : text::problem_codes()) {
    EXPECT_TRUE(seen.insert(entry.code).second) << entry.code;
    EXPECT_TRUE(entry.meaning.ends_with('.')) << entry.code;
  }
}

// The codes that the sources of a room of the library may give, by the calls that give one.
std::set<std::string> codes_in(const char* room) {
  const std::regex code_word(
      "(?:code = |problem\\([a-z]+, |problem\\([a-z.]+, |problem\\(0, |cell_error\\(k, |doubt\\([a-z_*]+, |\\breturn "
      "\\{|cell_problem\\(k, \\{|report\\([^\"]*|suspect\\(\\s*[a-z]+, |tell\\([^\"]*)\"([a-z0-9]+(?:-[a-z0-9]+)+)\"");
  std::set<std::string> found;
  for (const auto& item :
       fs::recursive_directory_iterator(fs::path(BAGSPLIT_DATA_DIR).parent_path() / "lib" / "bagsplit" / room)) {
    if (item.path().extension() != ".cpp") {
      continue;
    }
    const std::string text = contents(item.path());
    for (std::sregex_iterator it(text.begin(), text.end(), code_word), end; it != end; ++it) {
      found.insert((*it)[1]);
    }
  }
  return found;
}

// Identity: what the sources may say is what the table says; of recorders and gates the table says no more, either.
TEST(ProblemCodes, EveryCodeInTheSourcesStandsInTheTable) {
  std::set<std::string> found = codes_in("runs");
  EXPECT_GT(found.size(), 50U);
  for (const char* room : {"record", "gates"}) {
    const std::set<std::string> here = codes_in(room);
    EXPECT_GT(here.size(), 8U) << room;
    found.insert(here.begin(), here.end());
  }
  for (const std::string& code : found) {
    EXPECT_NE(text::find_problem_code(code), nullptr) << code;
  }
  for (const text::ProblemCode& entry : text::problem_codes()) {
    const bool by_command = entry.code == "missing-date" || entry.code == "overtaking";  // one word, or the command's
    if ((entry.of == text::ProblemOf::recorders || entry.of == text::ProblemOf::gates) && !by_command) {
      EXPECT_TRUE(found.contains(std::string(entry.code))) << entry.code;
    }
  }
}

}  // namespace
