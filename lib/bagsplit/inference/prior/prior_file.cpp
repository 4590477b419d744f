#include <cmath>

#include "bagsplit/inference/prior/prior.hpp"
#include "bagsplit/text/json_text.hpp"

namespace bagsplit::inference {

namespace {

using text::JsonNeed;
using text::JsonObject;
using text::JsonRange;
using text::JsonText;
using text::JsonValue;

constexpr std::string_view schema = "bagsplit.sprint-prior/2";
constexpr std::string_view about =
    "Coefficients of the priors for log V, log A (A = V/tau) and RT by age and sex, derived from data/norms and "
    "written "
    "by the target derive_sprint_prior (tests/sprint_prior). Not to be edited by hand.";

std::string numbers(const std::vector<double>& values) {
  std::string text = "[";
  for (const double value : values) {
    text += (text.size() > 1 ? ", " : "") + text::json_number(value);
  }
  return text + "]";
}

std::string curve_text(const AgeCurve& curve) {
  return R"({"age_yr": )" + numbers(curve.age_yr) + R"(, "value": )" + numbers(curve.value) + "}";
}

std::string normal_text(const Normal& normal) {
  return R"({"mean": )" + text::json_number(normal.mean) + R"(, "sd": )" + text::json_number(normal.sd) + "}";
}

class Reader {
 public:
  Reader(JsonText& json, JsonObject& file) : json_(json), file_(file) {}

  AgeCurve curve(std::string_view group, std::string_view name) {
    AgeCurve curve;
    auto parent = group.empty() ? std::optional<JsonObject>() : file_.object(group, JsonNeed::required);
    if (!group.empty() && !parent) {
      return curve;
    }
    JsonObject& from = parent ? *parent : file_;
    from.allow("female");
    from.allow("male");
    if (auto object = from.object(name, JsonNeed::required)) {
      take(*object, "age_yr", curve.age_yr);
      take(*object, "value", curve.value);
      object->refuse_other_names();
      bool fits = !curve.age_yr.empty() && curve.age_yr.size() == curve.value.size();
      for (std::size_t i = 1; fits && i < curve.age_yr.size(); ++i) {
        fits = curve.age_yr[i] > curve.age_yr[i - 1];
      }
      if (!fits) {
        json_.report(text::Severity::error, "wrong-type", object->value().place,
                     "the ages and values of '" + std::string(name) + "' do not belong together",
                     "as many ages, ascending, as values");
      }
    }
    return curve;
  }

  Normal normal(JsonObject& from, std::string_view name) {
    Normal out;
    if (auto object = from.object(name, JsonNeed::required)) {
      out.mean = object->number("mean", {}, JsonNeed::required).value_or(0.0);
      out.sd = object->number("sd", {.low = 0.0, .expected = "a number, at least 0"}, JsonNeed::required).value_or(0.0);
      object->refuse_other_names();
    }
    return out;
  }

  double number(std::string_view name) {
    return file_.number(name, {.low = 0.0, .expected = "a number, at least 0"}, JsonNeed::required).value_or(0.0);
  }

 private:
  void take(JsonObject& object, std::string_view name, std::vector<double>& into) {
    if (const auto* items = object.array(name, JsonNeed::required)) {
      for (const JsonValue& item : *items) {
        if (item.kind != text::JsonKind::number) {
          json_.report(text::Severity::error, "wrong-type", item.place, "this is not a number", "a number");
          continue;
        }
        into.push_back(item.number);
      }
    }
  }

  JsonText& json_;
  JsonObject& file_;
};

}  // namespace

std::string write_prior(const PriorCoefficients& c) {
  std::string text = "{\n  \"schema\": " + text::json_string(schema) + ",\n  \"about\": " + text::json_string(about);
  const auto pair = [&](std::string_view name, const AgeCurve& female, const AgeCurve& male) {
    text += ",\n  " + text::json_string(name) + ": {\n    \"female\": " + curve_text(female) +
            ",\n    \"male\": " + curve_text(male) + "\n  }";
  };
  const auto number = [&](std::string_view name, double value) {
    text += ",\n  " + text::json_string(name) + ": " + text::json_number(value);
  };
  pair("log_top_speed_mean", c.log_top_speed_female, c.log_top_speed_male);
  pair("log_time_constant_mean", c.log_time_constant_female, c.log_time_constant_male);
  pair("log_top_speed_sd", c.log_top_speed_sd_female, c.log_top_speed_sd_male);
  const auto curve = [&](std::string_view name, const AgeCurve& values) {
    text += ",\n  " + text::json_string(name) + ": " + curve_text(values);
  };
  curve("log_first_acceleration_sd", c.log_first_acceleration_sd);
  curve("log_top_speed_level_sd", c.log_top_speed_level_sd);
  curve("log_first_acceleration_level_sd", c.log_first_acceleration_level_sd);
  number("adult_log_top_speed_sd", c.adult_log_top_speed_sd);
  number("adult_log_first_acceleration_sd", c.adult_log_first_acceleration_sd);
  text += ",\n  \"late_slowing_per_s\": " + normal_text(c.late_slowing_per_s);
  number("late_slowing_level_sd_per_s", c.late_slowing_level_sd_per_s);
  number("reaction_held_from_yr", c.reaction_held_from_yr);
  number("reaction_allowance_s", c.reaction_allowance_s);
  number("reaction_allowance_sd_s", c.reaction_allowance_sd_s);
  number("reaction_between_cv", c.reaction_between_cv);
  text += ",\n  \"posture_cost_s\": {";
  bool first = true;
  for (const auto& [posture, cost] : c.posture_cost_s) {
    text += (first ? "\n    " : ",\n    ") + text::json_string(posture) + ": " + normal_text(cost);
    first = false;
  }
  text += "\n  },\n  \"swing_finish_s\": " + normal_text(c.swing_finish_s) + "\n}\n";
  return text;
}

std::optional<PriorCoefficients> read_prior(std::string_view text, std::string_view path, text::Problems& problems) {
  JsonText json(text, path);
  const auto root = json.parse();
  PriorCoefficients c;
  if (root) {
    JsonObject file(json, *root);
    Reader read(json, file);
    file.word("schema", {schema}, JsonNeed::required);
    file.allow("about");
    c.log_top_speed_female = read.curve("log_top_speed_mean", "female");
    c.log_top_speed_male = read.curve("log_top_speed_mean", "male");
    c.log_time_constant_female = read.curve("log_time_constant_mean", "female");
    c.log_time_constant_male = read.curve("log_time_constant_mean", "male");
    c.log_top_speed_sd_female = read.curve("log_top_speed_sd", "female");
    c.log_top_speed_sd_male = read.curve("log_top_speed_sd", "male");
    c.log_first_acceleration_sd = read.curve("", "log_first_acceleration_sd");
    c.log_top_speed_level_sd = read.curve("", "log_top_speed_level_sd");
    c.log_first_acceleration_level_sd = read.curve("", "log_first_acceleration_level_sd");
    c.adult_log_top_speed_sd = read.number("adult_log_top_speed_sd");
    c.adult_log_first_acceleration_sd = read.number("adult_log_first_acceleration_sd");
    c.late_slowing_per_s = read.normal(file, "late_slowing_per_s");
    c.late_slowing_level_sd_per_s = read.number("late_slowing_level_sd_per_s");
    c.reaction_held_from_yr = read.number("reaction_held_from_yr");
    c.reaction_allowance_s = read.number("reaction_allowance_s");
    c.reaction_allowance_sd_s = read.number("reaction_allowance_sd_s");
    c.reaction_between_cv = read.number("reaction_between_cv");
    if (auto postures = file.object("posture_cost_s", JsonNeed::required)) {
      for (const JsonValue& item : postures->value().items) {
        c.posture_cost_s.emplace(item.key, read.normal(*postures, item.key));
      }
    }
    c.swing_finish_s = read.normal(file, "swing_finish_s");
    file.refuse_other_names();
  }
  if (json.deliver(problems) > 0) {
    return std::nullopt;
  }
  return c;
}

}  // namespace bagsplit::inference
