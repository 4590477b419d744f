// Reading and writing a model file: the shape is the documented contract of `--model`.
#include "bagsplit/inference/prior/model.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>
#include <nlohmann/json.hpp>
#include <set>
#include <stdexcept>
#include <string>

#include "bagsplit/runs/courses/course.hpp"

namespace {

using bagsplit::inference::ModelFile;
using bagsplit::inference::read_model;
using bagsplit::inference::write_model;
using bagsplit::text::Problems;
using bagsplit::text::Severity;

constexpr const char* full_model = R"({
  "prior": {
    "log_top_speed": {"mean": 1.8, "sd": 0.12},
    "log_time_constant": {"mean": -0.2, "sd": 0.25},
    "reaction_s": {"mean": 0.28, "sd": 0.06},
    "posture_cost_s": {"prone": {"mean": 0.9, "sd": 0.3}, "split": {"mean": -0.05, "sd": 0.05}},
    "segment_loss_s": {"first": {"mean": 0.2, "sd": 0.1}, "second-stop": {"mean": 0.45, "sd": 0.2}},
    "swing_finish_s": {"mean": 0.5, "sd": 0.1}
  },
  "error": {"effort_cv": 0.015, "day_cv": 0.01, "reaction_sd_s": 0.05, "start_sd_s": 0.06, "split_sd_s": 0.05,
            "bias_s": -0.1, "move_lag_s": 0.08}
})";

std::string codes_of(const Problems& problems) {
  std::string all;
  for (const auto& problem : problems) {
    all += problem.code + "@" + std::to_string(problem.line) + ":" + std::to_string(problem.column) + " ";
  }
  return all;
}

// Identity: what was written in the file is what is read, to the last bit.
TEST(Model, EveryParameterOfTheContractIsRead) {
  Problems problems;
  const ModelFile model = read_model(full_model, "model.json", problems);
  ASSERT_TRUE(problems.empty()) << codes_of(problems);
  EXPECT_EQ(model.prior.log_top_speed.value().mean, 1.8);
  EXPECT_EQ(model.prior.log_top_speed.value().sd, 0.12);
  EXPECT_EQ(model.prior.log_time_constant.value().mean, -0.2);
  EXPECT_EQ(model.prior.reaction_s.value().sd, 0.06);
  EXPECT_EQ(model.prior.posture_cost_s.at("prone").mean, 0.9);
  EXPECT_EQ(model.prior.posture_cost_s.at("split").mean, -0.05);
  EXPECT_EQ(model.prior.segment_loss_s.at("second-stop").sd, 0.2);
  EXPECT_EQ(model.prior.swing_finish_s.value().mean, 0.5);
  EXPECT_EQ(model.error.effort_cv.value(), 0.015);
  EXPECT_EQ(model.error.day_cv.value(), 0.01);
  EXPECT_EQ(model.error.reaction_sd_s.value(), 0.05);
  EXPECT_EQ(model.error.start_sd_s.value(), 0.06);
  EXPECT_EQ(model.error.split_sd_s.value(), 0.05);
  EXPECT_EQ(model.error.bias_s.value(), -0.1);
  EXPECT_EQ(model.error.move_lag_s.value(), 0.08);
}

// Identity: first acceleration in place of the time constant, and a correlation of either with the top speed; both at
// once, or a correlation of nothing, are refused where they stand.
TEST(Model, EitherPairAndItsCorrelation) {
  Problems problems;
  const char* pair = R"({"prior": {"log_top_speed": {"mean": 1.8, "sd": 0.1},
    "log_first_acceleration": {"mean": 1.9, "sd": 0.2}, "log_correlation": 0.3}})";
  const ModelFile model = read_model(pair, "model.json", problems);
  ASSERT_TRUE(problems.empty()) << codes_of(problems);
  EXPECT_EQ(model.prior.log_first_acceleration.value().mean, 1.9);
  EXPECT_EQ(model.prior.log_correlation.value(), 0.3);
  EXPECT_EQ(write_model(read_model(write_model(model), "again", problems)), write_model(model));
  read_model(R"({"prior": {"log_time_constant": {"mean": 0, "sd": 0.1},
"log_first_acceleration": {"mean": 1.9, "sd": 0.2}}})",
             "model.json", problems);
  read_model(R"({"prior": {"log_top_speed": {"mean": 1.8, "sd": 0.1},
"log_correlation": 0.3}})",
             "model.json", problems);
  read_model(R"({"prior": {"log_time_constant": {"mean": 0, "sd": 0.1}, "log_correlation": 1}})", "model.json",
             problems);
  EXPECT_EQ(codes_of(problems), "out-of-range@2:27 out-of-range@2:20 out-of-range@1:76 ");
}

TEST(Model, WhatIsAbsentOrNullStaysAbsent) {
  Problems problems;
  for (const char* text :
       {"{}", R"({"prior":{},"error":{}})", R"({"prior":{"reaction_s":null},"error":{"bias_s":null}})",
        R"({"schema":"bagsplit.model/1"})"}) {
    const ModelFile model = read_model(text, "model.json", problems);
    EXPECT_FALSE(model.prior.log_top_speed.has_value());
    EXPECT_FALSE(model.prior.reaction_s.has_value());
    EXPECT_FALSE(model.error.bias_s.has_value());
    EXPECT_TRUE(model.prior.segment_loss_s.empty());
  }
  EXPECT_TRUE(problems.empty()) << codes_of(problems);
}

// Identity: write then read gives the same model, and write is a fixed point.
TEST(Model, WritingAndReadingAreInverse) {
  Problems problems;
  ModelFile model = read_model(full_model, "model.json", problems);
  model.prior.reaction_s = bagsplit::inference::Normal{0.1 + 0.2, 1.0 / 3.0};
  model.error.effort_cv = std::numeric_limits<double>::denorm_min();
  const std::string text = write_model(model);
  const ModelFile again = read_model(text, "again.json", problems);
  ASSERT_TRUE(problems.empty()) << codes_of(problems);
  EXPECT_EQ(write_model(again), text);
  EXPECT_EQ(again.prior.reaction_s.value().mean, 0.1 + 0.2);
  EXPECT_EQ(again.prior.reaction_s.value().sd, 1.0 / 3.0);
  EXPECT_EQ(again.error.effort_cv.value(), std::numeric_limits<double>::denorm_min());
  // An independent reader of JSON finds the same values at the documented places.
  const auto tree = nlohmann::json::parse(text);
  EXPECT_EQ(tree.at("/prior/posture_cost_s/prone/mean"_json_pointer).get<double>(), 0.9);
  EXPECT_EQ(tree.at("/error/split_sd_s"_json_pointer).get<double>(), 0.05);
  EXPECT_EQ(tree.size(), 2U);
}

TEST(Model, AnEmptyModelIsWrittenWithBothParts) {
  EXPECT_EQ(write_model({}), R"({"prior":{},"error":{}})");
}

TEST(Model, ANumberThatJsonCannotHoldIsRefusedOnWriting) {
  ModelFile model;
  model.error.bias_s = std::numeric_limits<double>::quiet_NaN();
  EXPECT_THROW(write_model(model), std::domain_error);
}

TEST(Model, EveryProblemIsReportedInOnePassWithItsPlace) {
  const std::string text = R"({
  "prior": {
    "log_top_sped": {"mean": 1.8, "sd": 0.1},
    "reaction_s": {"mean": 0.28},
    "log_time_constant": {"mean": "0", "sd": -0.2},
    "posture_cost_s": {"prnoe": {"mean": 1, "sd": 1}, "standing": {"mean": 0.1, "sd": 0}},
    "segment_loss_s": {"fourth": {"mean": 0, "sd": 1}}
  },
  "error": {"effort_cv": -0.1, "effort_cv": 0.1, "bias_s": 1, "note": "x"}
})";
  Problems problems;
  read_model(text, "model.json", problems);
  EXPECT_EQ(codes_of(problems),
            "unknown-key@3:5 missing-key@4:5 wrong-type@5:35 out-of-range@5:46 unknown-key@6:24 out-of-range@6:76 "
            "unknown-key@7:24 out-of-range@9:26 duplicate-key@9:32 unknown-key@9:63 ");
  ASSERT_EQ(problems.size(), 10U);
  EXPECT_EQ(problems[0].hint, "did you mean 'log_top_speed'?");
  EXPECT_EQ(problems[0].read, "\"log_top_sped\"");
  EXPECT_EQ(problems[0].source_line, R"(    "log_top_sped": {"mean": 1.8, "sd": 0.1},)");
  EXPECT_EQ(problems[0].path, "model.json");
  EXPECT_EQ(problems[1].message, "'/prior/reaction_s/sd' is missing");
  EXPECT_EQ(problems[4].hint, "did you mean 'prone'?");
  for (const auto& problem : problems) {
    EXPECT_EQ(problem.severity, Severity::error);
  }
}

TEST(Model, NaNIsNotANumberOfTheFile) {
  Problems problems;
  read_model(R"({"error": {"bias_s": NaN}})", "model.json", problems);
  EXPECT_EQ(codes_of(problems), "bad-json@1:22 ");
}

TEST(Model, ASpeedInPlaceOfItsLogarithmIsSuspected) {
  Problems problems;
  const ModelFile model =
      read_model(R"({"prior": {"log_top_speed": {"mean": 6.1, "sd": 0.1}}})", "model.json", problems);
  ASSERT_EQ(problems.size(), 1U);
  EXPECT_EQ(problems[0].severity, Severity::suspicion);
  EXPECT_EQ(problems[0].code, "not-a-logarithm");
  EXPECT_EQ(model.prior.log_top_speed.value().mean, 6.1);  // kept, not mended
}

// Identity: every segment of every built-in course can be given, under the very name the course uses.
TEST(Model, EveryBuiltInSegmentKeyMayBeGiven) {
  std::set<std::string> keys = {"third-stop-from-rest-reverse"};
  for (const auto& course : bagsplit::runs::builtin_courses()) {
    for (const auto& segment : course.segments) {
      keys.insert(segment.key);
    }
  }
  EXPECT_GE(keys.size(), 10U);
  for (const std::string& key : keys) {
    Problems problems;
    const ModelFile model =
        read_model(R"({"prior":{"segment_loss_s":{")" + key + R"(":{"mean":0.1,"sd":0.1}}}})", "m.json", problems);
    EXPECT_TRUE(problems.empty()) << key;
    EXPECT_EQ(model.prior.segment_loss_s.count(key), 1U) << key;
  }
}

}  // namespace
