// The shipped JSON files satisfy their schemas, and the readers refuse what the schemas refuse.
#include <gtest/gtest.h>

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <functional>
#include <sstream>
#include <string>

#include "bagsplit/inference/prior/model.hpp"
#include "bagsplit/timing/device.hpp"
#include "schema_check.hpp"

namespace {

using bagsplit::test::SchemaCheck;
using bagsplit::text::Problems;
using nlohmann::json;

std::string read_file(const std::filesystem::path& path) {
  std::ifstream in(path, std::ios::binary);
  EXPECT_TRUE(in) << path;
  std::ostringstream body;
  body << in.rdbuf();
  return body.str();
}

SchemaCheck schema(const std::string& name) {
  return SchemaCheck(json::parse(read_file(std::string(BAGSPLIT_DATA_DIR) + "/schemas/" + name)));
}

bool device_reader_accepts(const json& value) {
  Problems problems;
  bagsplit::timing::read_device(value.dump(), "f.json", problems);
  return problems.empty();
}

bool model_reader_accepts(const json& value) {
  Problems problems;
  bagsplit::inference::read_model(value.dump(), "f.json", problems);
  return std::none_of(problems.begin(), problems.end(),
                      [](const auto& p) { return p.severity == bagsplit::text::Severity::error; });
}

// Source: JSON Schema Core and Validation, draft 2020-12 (2022), sections 10.3.2 (properties, propertyNames,
// additionalProperties) and 6 (type, enum, const, bounds, required): what each keyword asks for.
TEST(SchemaCheck, KnowsItsKeywords) {
  const SchemaCheck check(json::parse(R"({"type": "object", "required": ["a"], "additionalProperties": false,
    "properties": {"a": {"type": ["number", "null"], "minimum": 0, "maximum": 2}, "e": {"enum": ["x", 1]},
                   "l": {"type": "array", "items": {"$ref": "#/$defs/s"}}},
    "propertyNames": {"minLength": 1}, "$defs": {"s": {"type": "string", "minLength": 1}}})"));
  for (const char* good : {R"({"a": 0})", R"({"a": null, "e": 1, "l": ["q"]})", R"({"a": 2.0, "l": []})"}) {
    EXPECT_TRUE(check.faults(json::parse(good)).empty()) << good;
  }
  for (const char* bad :
       {"[]", "{}", R"({"a": -1})", R"({"a": 2.1})", R"({"a": "0"})", R"({"a": 0, "b": 0})", R"({"a": 0, "e": 2})",
        R"({"a": 0, "l": [""]})", R"({"a": 0, "l": [1]})", R"({"a": 0, "": 1})"}) {
    EXPECT_FALSE(check.faults(json::parse(bad)).empty()) << bad;
  }
  EXPECT_FALSE(SchemaCheck(json::parse(R"({"multipleOf": 2})")).faults(4).empty());
}

TEST(Schemas, EveryShippedDeviceSatisfiesItsSchemaAndIsWhole) {
  const SchemaCheck check = schema("device.schema.json");
  std::size_t seen = 0;
  for (const auto& entry : std::filesystem::directory_iterator(std::string(BAGSPLIT_DATA_DIR) + "/devices")) {
    if (entry.path().extension() != ".json") {
      continue;
    }
    ++seen;
    const std::string text = read_file(entry.path());
    const auto faults = check.faults(json::parse(text));
    EXPECT_TRUE(faults.empty()) << entry.path() << " " << (faults.empty() ? "" : faults.front());
    Problems problems;
    const auto profile = bagsplit::timing::read_device(text, entry.path().filename().string(), problems,
                                                       bagsplit::timing::Completeness::whole);
    EXPECT_TRUE(problems.empty()) << entry.path() << " " << (problems.empty() ? "" : problems.front().message);
    EXPECT_EQ(profile.name, entry.path().stem().string());
  }
  EXPECT_GE(seen, 8U);
}

// Every number stands beside its evidence; what claims a source names one, and what claims none has none.
TEST(Schemas, EveryShippedNumberNamesItsSource) {
  std::size_t seen = 0;
  const std::function<void(const json&, const std::string&)> walk = [&](const json& value, const std::string& at) {
    if (!value.is_object()) {
      return;
    }
    if (value.contains("mean") || value.contains("value")) {
      ++seen;
      ASSERT_TRUE(value.contains("evidence") && value.contains("sources")) << at;
      EXPECT_EQ(value["sources"].empty(), value["evidence"] == "common-practice") << at;
      EXPECT_NE(value["evidence"], "own") << at;
      EXPECT_FALSE(value.value("note", "").empty()) << at;
    }
    for (const auto& [name, member] : value.items()) {
      walk(member, at + "/" + name);
    }
  };
  for (const auto& entry : std::filesystem::directory_iterator(std::string(BAGSPLIT_DATA_DIR) + "/devices")) {
    walk(json::parse(read_file(entry.path())), entry.path().filename().string());
  }
  EXPECT_GE(seen, 80U);
}

struct Change {
  const char* pointer;
  json value;
};

// Identity: schema and reader draw the same line. Each change alone must be refused by both, or accepted by both.
TEST(Schemas, DeviceSchemaAndReaderAgree) {
  const SchemaCheck check = schema("device.schema.json");
  const json whole = json::parse(read_file(std::string(BAGSPLIT_DATA_DIR) + "/devices/stopwatch.json"));
  ASSERT_TRUE(device_reader_accepts(whole));
  const std::vector<Change> refused = {{"/schema", "bagsplit.device/2"},
                                       {"/name", ""},
                                       {"/name", 3},
                                       {"/device", "watch"},
                                       {"/rounding", "down"},
                                       {"/signal", "sees"},
                                       {"/resolution_s/value", -0.01},
                                       {"/resolution_s/value", "0.01"},
                                       {"/bias_s/first-move/mean", -31},
                                       {"/bias_s/first-move/sd", -0.1},
                                       {"/bias_s/first-move/bias", 0.1},
                                       {"/bias_s/first_move", {{"mean", 0}, {"sd", 0}}},
                                       {"/sd_s/start/beam/value", -1},
                                       {"/sd_s/split", 0.05},
                                       {"/sd_s/stop", {{"value", 0.05}}},
                                       {"/lag_s/mark/mean", nullptr},
                                       {"/timers", json::array()},
                                       {"/timers", {{"AK", {{"role", "gives"}}}}},
                                       {"/timers", {{"AK", {{"signal", 1}}}}},
                                       {"/sources/ajp2019", 2019},
                                       {"/bias_s/beam/evidence", "guess"},
                                       {"/bias_s/beam/sources", "ajp2019"},
                                       {"/bias_s/beam/sources/0", 1},
                                       {"/based-on", "sundial"},
                                       {"/about", 1},
                                       {"/notes", "x"}};
  for (const Change& change : refused) {
    json made = whole;
    made[json::json_pointer(change.pointer)] = change.value;
    EXPECT_FALSE(check.faults(made).empty()) << change.pointer << " " << change.value;
    EXPECT_FALSE(device_reader_accepts(made)) << change.pointer << " " << change.value;
  }
  const std::vector<Change> accepted = {{"/bias_s/first-move/mean", -0.3},
                                        {"/timers", {{"AK", {{"signal", "gives"}}}}},
                                        {"/timers", {{"AK", {{"sd_s", {{"split", {{"value", 0.04}}}}}}}}},
                                        {"/based-on", "stopwatch"},
                                        {"/rounding", "up"},
                                        {"/sources/mine", "our own evening"}};
  for (const Change& change : accepted) {
    json made = whole;
    made[json::json_pointer(change.pointer)] = change.value;
    EXPECT_TRUE(check.faults(made).empty()) << change.pointer << " " << change.value;
    EXPECT_TRUE(device_reader_accepts(made)) << change.pointer << " " << change.value;
  }
  for (const char* name : {"schema", "name", "device"}) {
    json made = whole;
    made.erase(name);
    EXPECT_FALSE(check.faults(made).empty()) << name;
    EXPECT_FALSE(device_reader_accepts(made)) << name;
  }
}

TEST(Schemas, ModelSchemaAndReaderAgree) {
  const SchemaCheck check = schema("model.schema.json");
  const json whole = json::parse(R"({"schema": "bagsplit.model/1",
    "prior": {"log_top_speed": {"mean": 1.8, "sd": 0.1}, "log_time_constant": {"mean": -0.2, "sd": 0.2},
              "reaction_s": {"mean": 0.3, "sd": 0.1}, "posture_cost_s": {"prone": {"mean": 0.9, "sd": 0.3}},
              "segment_loss_s": {"second-stop": {"mean": 0.2, "sd": 0.1}}, "swing_finish_s": {"mean": 0.4, "sd": 0.1}},
    "error": {"effort_cv": 0.01, "day_cv": 0.01, "reaction_sd_s": 0.05, "start_sd_s": 0.05, "split_sd_s": 0.05,
              "bias_s": -0.1, "move_lag_s": 0}})");
  const std::vector<Change> accepted = {
      {"/prior/reaction_s", nullptr}, {"/error", nullptr},
      {"/error/bias_s", nullptr},     {"/prior/posture_cost_s/standing", {{"mean", 0}, {"sd", 0}}},
      {"/prior/reaction_s/sd", 0},    {"/prior/segment_loss_s/home-from-rest-reverse", {{"mean", 0}, {"sd", 1}}}};
  const std::vector<Change> refused = {{"/schema", "bagsplit.model/2"},
                                       {"/prior", 1},
                                       {"/prior/top_speed", {{"mean", 6}, {"sd", 1}}},
                                       {"/prior/reaction_s", 0.3},
                                       {"/prior/reaction_s/sd", -0.1},
                                       {"/prior/reaction_s/median", 0.3},
                                       {"/prior/reaction_s/mean", nullptr},
                                       {"/prior/posture_cost_s/standing", {{"mean", 0.1}, {"sd", 0}}},
                                       {"/prior/posture_cost_s/kneeling", {{"mean", 0.1}, {"sd", 0}}},
                                       {"/prior/segment_loss_s/second-reverse-stop", {{"mean", 0}, {"sd", 1}}},
                                       {"/error/effort_cv", -0.01},
                                       {"/error/split_sd_s", "0.05"},
                                       {"/error/bias", 0.1}};
  EXPECT_TRUE(check.faults(whole).empty());
  EXPECT_TRUE(model_reader_accepts(whole));
  for (const Change& change : accepted) {
    json made = whole;
    made[json::json_pointer(change.pointer)] = change.value;
    EXPECT_TRUE(check.faults(made).empty()) << change.pointer << " " << change.value;
    EXPECT_TRUE(model_reader_accepts(made)) << change.pointer << " " << change.value;
  }
  for (const Change& change : refused) {
    json made = whole;
    made[json::json_pointer(change.pointer)] = change.value;
    EXPECT_FALSE(check.faults(made).empty()) << change.pointer << " " << change.value;
    EXPECT_FALSE(model_reader_accepts(made)) << change.pointer << " " << change.value;
  }
}

// What is written by the program is a model file, too.
TEST(Schemas, AWrittenModelSatisfiesTheSchema) {
  Problems problems;
  const auto model = bagsplit::inference::read_model(
      R"({"prior": {"reaction_s": {"mean": 0.3, "sd": 0.1}, "segment_loss_s": {"first": {"mean": 0.1, "sd": 0.1}}},
          "error": {"bias_s": 0}})",
      "m.json", problems);
  ASSERT_TRUE(problems.empty());
  EXPECT_TRUE(schema("model.schema.json").faults(json::parse(bagsplit::inference::write_model(model))).empty());
}

}  // namespace
