// The library reads the demo season back, and what it reads is as far from the truth as the truth says.
#include <gtest/gtest.h>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <fstream>
#include <map>
#include <nlohmann/json.hpp>
#include <sstream>
#include <string>
#include <tuple>
#include <vector>

#include "bagsplit/runs/files.hpp"
#include "bagsplit/runs/log/run_log.hpp"
#include "bagsplit/runs/roster/roster.hpp"
#include "bagsplit/timing/device.hpp"
#include "scale.hpp"
#include "season.hpp"

namespace demo_season {
namespace {

namespace runs = bagsplit::runs;
namespace text = bagsplit::text;
using nlohmann::json;

std::string text_of(const std::string& path) {
  std::ifstream in(path, std::ios::binary);
  EXPECT_TRUE(in) << path;
  std::ostringstream body;
  body << in.rdbuf();
  return body.str();
}

const runs::Date after_the_season = std::chrono::sys_days{std::chrono::year{2026} / 7 / 1};

runs::RosterResult roster() {
  return runs::read_roster(text_of(BAGSPLIT_DATA_DIR "/demo/roster.csv"), "roster.csv",
                           {.strict = true, .today = after_the_season});
}

// The folder as a user would name it; what is passed over in it is told in `notes`.
runs::RunLogResult read_season(text::Problems& notes) {
  const std::vector<std::string> names{BAGSPLIT_DATA_DIR "/demo"};
  const std::vector<runs::LoadedFile> files = runs::load_logs(names, nullptr, notes);
  const runs::RosterResult known = roster();
  runs::ReadOptions options;
  options.roster = &known.roster;
  options.today = after_the_season;
  return runs::read_run_logs(runs::texts_of(files), options);
}

runs::RunLogResult read_season() {
  text::Problems notes;
  return read_season(notes);
}

std::string told(const text::Problem& problem) {
  return problem.path + ":" + std::to_string(problem.line) + ": " + problem.message + " [" + problem.code + "]";
}

std::string date_text(runs::Date date) {
  const std::chrono::year_month_day ymd{date};
  std::ostringstream out;
  out << static_cast<int>(ymd.year()) << (static_cast<unsigned>(ymd.month()) < 10 ? "-0" : "-")
      << static_cast<unsigned>(ymd.month()) << (static_cast<unsigned>(ymd.day()) < 10 ? "-0" : "-")
      << static_cast<unsigned>(ymd.day());
  return out.str();
}

TEST(DemoSeasonReading, HasNoErrorAndNoSuspicion) {
  // Identity: the generator writes the format the reader reads. A folder's other files are told, as notes.
  text::Problems notes;
  const runs::RunLogResult result = read_season(notes);
  ASSERT_EQ(result.log.files.size(), 9U);  // eight evenings, and the roster that is passed over
  for (const text::Problems* problems : {&result.problems, static_cast<const text::Problems*>(&notes)}) {
    for (const text::Problem& problem : *problems) {
      EXPECT_EQ(problem.severity, text::Severity::note) << told(problem);
      EXPECT_EQ(problem.code, "ignored-file") << told(problem);
    }
  }
}

TEST(DemoSeasonReading, RosterHoldsChildrenOfEightToThirteenByIdAlone) {
  // Identity: the promises of data/demo/README.md.
  const runs::RosterResult result = roster();
  for (const text::Problem& problem : result.problems) {
    ADD_FAILURE() << told(problem);
  }
  ASSERT_EQ(result.roster.players.size(), 14U);
  std::vector<std::string> without_birth;
  for (const runs::Player& player : result.roster.players) {
    EXPECT_TRUE(player.name.empty()) << player.id;
    EXPECT_TRUE(player.sex.has_value()) << player.id;
    if (!player.born) {
      without_birth.push_back(player.id);
      continue;
    }
    EXPECT_GE(runs::age_years(*player.born, std::chrono::sys_days{std::chrono::year{2026} / 4 / 14}), 8.0) << player.id;
    EXPECT_LT(runs::age_years(*player.born, std::chrono::sys_days{std::chrono::year{2026} / 6 / 23}), 14.0)
        << player.id;
  }
  EXPECT_EQ(without_birth, (std::vector<std::string>{"17", "40"}));
}

TEST(DemoSeasonReading, DeviceProfileSaysWhoGivesTheCall) {
  // Identity: as the README says it.
  text::Problems problems;
  const auto profile =
      bagsplit::timing::read_device(text_of(BAGSPLIT_DATA_DIR "/demo/watches.json"), "watches.json", problems);
  for (const text::Problem& problem : problems) {
    ADD_FAILURE() << told(problem);
  }
  for (const auto& [timer, role] : {std::pair{"AK", bagsplit::timing::SignalRole::gives},
                                    {"RB", bagsplit::timing::SignalRole::hears},
                                    {"LM", bagsplit::timing::SignalRole::hears}}) {
    ASSERT_NE(profile.timer(timer), nullptr) << timer;
    EXPECT_EQ(profile.timer(timer)->signal, role) << timer;
  }
}

TEST(DemoSeasonReading, FindsEveryRunAndEveryRow) {
  // Identity: runs and rows as the generator counted them; a row flagged `absent` is a run that was not run.
  const runs::RunLogResult result = read_season();
  const json truth = json::parse(text_of(BAGSPLIT_TEST_DATA "/demo_season/truth.json"));
  std::map<std::string, std::size_t> found;
  std::map<std::string, std::size_t> left_out;
  std::size_t absent = 0;
  for (const runs::Run& run : result.log.runs) {
    if (run.flag == runs::Flag::absent) {
      ++absent;
      continue;
    }
    ++found[date_text(run.date)];
    left_out[date_text(run.date)] += run.flag == runs::Flag::none ? 0U : 1U;
  }
  std::size_t rows = 0;
  for (const json& night : truth.at("nights")) {
    const std::string date = night.at("date");
    EXPECT_EQ(found[date], night.at("runs").get<std::size_t>()) << date;
    EXPECT_EQ(left_out[date], night.at("left_out").get<std::size_t>()) << date;
    rows += night.at("rows").get<std::size_t>();
  }
  EXPECT_EQ(result.log.rows_read, rows);
  EXPECT_EQ(absent, 9U);
}

// Errors of one timer's readings with one kind of start: how many, their sum, and their squared Mahalanobis lengths.
struct Errors {
  std::size_t readings = 0;
  std::size_t marks = 0;
  double sum_of_means_s = 0.0;
  double variance_of_sum_s2 = 0.0;
  double chi_square = 0.0;
};

class Truth {
 public:
  explicit Truth(const json& root) : root_(root) {
    for (const json& player : root.at("players")) {
      players_[player.at("player")] = &player;
      for (const json& day : player.at("by_date")) {
        days_[{player.at("player"), day.at("date")}] = &day;
      }
    }
    for (const json& run : root.at("runs")) {
      runs_[{run.at("date"), run.at("player"), run.at("course"), run.at("trial")}] = &run;
    }
    for (const json& night : root.at("nights")) {
      surface_[night.at("date")] = night.at("surface_factor");
    }
    for (const json& timer : root.at("timers")) {
      bias_[timer.at("timer")] = &timer.at("bias_s");
    }
  }

  // Reading minus truth at each mark of a reading, and the cue its clock was started by.
  std::vector<double> errors_s(const runs::RunLog& log, const runs::Run& run, const runs::Reading& reading,
                               std::string& cue) const {
    const std::string date = date_text(run.date);
    const std::string& id = log.name(run.player);
    const runs::Course& course = log.courses[run.course];
    const json& player = *players_.at(id);
    const json& day = *days_.at({id, date});
    const json& truth = *runs_.at({date, id, course.name, run.trial});
    const bool gate = reading.device == runs::Device::gate;
    const bool on_signal = reading.start == runs::StartKind::signal;
    const std::string& timer = log.name(reading.timer);
    cue = gate                                        ? "gate"
          : reading.start == runs::StartKind::self    ? "sees_first_move"
          : reading.start == runs::StartKind::contact ? "sees_contact"
          : bias_.at(timer)->contains("gives_call")   ? "gives_call"
                                                      : "hears_call";
    const bagsplit::motion::Sprint sprint{day.at("top_speed_mps"), day.at("time_constant_s"),
                                          player.at("late_slowing_per_s")};
    const double factor =
        (1.0 + day.at("day_form").get<double>() + truth.at("effort").get<double>()) * surface_.at(date);
    double constant_s = bias_.at(timer)->at(cue);
    if (on_signal) {
      constant_s += truth.at("reaction_s").get<double>();
    }
    if (reading.start == runs::StartKind::contact) {
      constant_s += player.at("swing_finish_s").get<double>();
    }
    std::vector<double> errors;
    for (const runs::Split& split : log.splits_of(reading)) {
      if (split.is_move) {
        errors.push_back(split.time_s - constant_s - root_.at("common").at("move_lag_s").get<double>());
        continue;
      }
      double expected_s = constant_s;
      if (run.posture == runs::Posture::prone) {
        expected_s += player.at("posture_cost_s").at("prone").get<double>();
      }
      for (const runs::Segment& segment : course.segments) {
        if (segment.end_bases * base_distance_m < split.distance_m + 0.01) {
          expected_s += player.at("segment_loss_s").at(segment.key).get<double>();
        }
      }
      expected_s += factor * (reading.start == runs::StartKind::beam
                                  ? bagsplit::motion::time_from_beam(sprint, beam_start_m, split.distance_m)
                                  : bagsplit::motion::time_to_distance(sprint, split.distance_m));
      errors.push_back(split.time_s - expected_s);
    }
    return errors;
  }

 private:
  using RunKey = std::tuple<std::string, std::string, std::string, std::size_t>;
  const json& root_;
  std::map<std::string, const json*> players_;
  std::map<std::pair<std::string, std::string>, const json*> days_;
  std::map<RunKey, const json*> runs_;
  std::map<std::string, double> surface_;
  std::map<std::string, const json*> bias_;
};

TEST(DemoSeasonReading, ReadingsScatterAboutTheTruthAsTheTruthSays) {
  const runs::RunLogResult result = read_season();
  const json root = json::parse(text_of(BAGSPLIT_TEST_DATA "/demo_season/truth.json"));
  const Truth truth(root);
  std::map<std::string, Errors> by_cue;
  for (const runs::Run& run : result.log.runs) {
    if (run.flag != runs::Flag::none) {
      continue;
    }
    for (const runs::Reading& reading : result.log.readings_of(run)) {
      std::string cue;
      const std::vector<double> errors = truth.errors_s(result.log, run, reading, cue);
      if (errors.empty()) {
        continue;
      }
      const json& device = root.at("common").at(reading.device == runs::Device::gate ? "gate" : "stopwatch");
      const double start_sd_s = device.at("start_sd_s");
      const double split_sd_s = device.at("split_sd_s");
      const double resolution_s = device.at("resolution_s");
      // Covariance a I + b 11': its inverse is (I - b 11' / (a + n b)) / a.
      const double a = split_sd_s * split_sd_s + resolution_s * resolution_s / 12.0;
      const double b = start_sd_s * start_sd_s;
      const auto n = static_cast<double>(errors.size());
      double sum = 0.0;
      double squares = 0.0;
      for (const double e : errors) {
        sum += e;
        squares += e * e;
      }
      Errors& all = by_cue[result.log.name(reading.timer) + " " + cue];
      ++all.readings;
      all.marks += errors.size();
      all.sum_of_means_s += sum / n;
      all.variance_of_sum_s2 += b + a / n;
      all.chi_square += (squares - b * sum * sum / (a + n * b)) / a;
    }
  }
  EXPECT_EQ(by_cue.size(), 8U);
  for (const auto& [who, errors] : by_cue) {
    // Identity: mean 0 and chi-square with as many degrees of freedom as marks, within five standard deviations.
    const auto marks = static_cast<double>(errors.marks);
    EXPECT_GE(errors.readings, 10U) << who;
    EXPECT_LT(std::abs(errors.sum_of_means_s), 5.0 * std::sqrt(errors.variance_of_sum_s2)) << who;
    EXPECT_NEAR(errors.chi_square, marks, 5.0 * std::sqrt(2.0 * marks)) << who;
  }
}

TEST(DemoSeasonReading, ASeasonOfAnySizeReadsWithoutErrors) {
  // Identity: as above, for the other files this program writes.
  std::ostringstream roster_text;
  std::ostringstream log;
  std::ostringstream truth;
  write_scale_season({200, 5000, 5}, roster_text, log, truth);
  const runs::RunLogResult result = runs::read_run_log(log.str(), "season.csv");
  // Chance alone makes a few rows look suspicious (the same times twice, a press before the call, and of some 12,000
  // times 1.5 in 1,000 far from what is usual, the bound of the reader); errors there must be none.
  std::size_t suspicions = 0;
  for (const text::Problem& problem : result.problems) {
    if (problem.severity == text::Severity::suspicion) {
      ++suspicions;
      continue;
    }
    ADD_FAILURE() << problem.line << ": " << problem.message << " [" << problem.code << "] " << problem.source_line;
  }
  EXPECT_LE(suspicions, 23U);
  EXPECT_EQ(result.log.rows_read, 5000U);
  EXPECT_EQ(result.log.readings.size(), 5000U);
}

}  // namespace
}  // namespace demo_season
