#include "bagsplit/inference/prior/model.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <stdexcept>
#include <utility>
#include <vector>

#include "bagsplit/builtin/builtin.hpp"
#include "bagsplit/text/json_text.hpp"

namespace bagsplit::inference {

namespace {

using text::JsonNeed;
using text::JsonObject;
using text::JsonRange;
using text::JsonText;
using text::JsonValue;
using text::Severity;

const JsonRange not_negative{.low = 0.0, .expected = "a number, at least 0"};

std::optional<Normal> read_normal(JsonObject& parent, std::string_view name) {
  auto object = parent.object(name);
  if (!object) {
    return std::nullopt;
  }
  const auto mean = object->number("mean", {}, JsonNeed::required);
  const auto sd = object->number("sd", not_negative, JsonNeed::required);
  object->refuse_other_names();
  if (!mean || !sd) {
    return std::nullopt;
  }
  return Normal{*mean, *sd};
}

using NormalMap = std::map<std::string, Normal, std::less<>>;

// Priors by name; `known` are the names there may be.
NormalMap read_normals(JsonObject& parent, std::string_view name, const std::vector<std::string>& known) {
  NormalMap made;
  auto object = parent.object(name);
  if (!object) {
    return made;
  }
  for (const JsonValue& item : object->value().items) {
    if (std::find(known.begin(), known.end(), item.key) == known.end()) {
      object->refuse_name(item, known);
    } else if (const auto normal = read_normal(*object, item.key)) {
      made.emplace(item.key, *normal);
    }
  }
  return made;
}

// Every segment key there can be: the bag reached, then how the course differs from the circuit.
std::vector<std::string> segment_keys() {
  std::vector<std::string> keys;
  for (const char* bag : {"first", "second", "third", "home"}) {
    for (const char* stop : {"", "-stop"}) {
      for (const char* rest : {"", "-from-rest"}) {
        for (const char* reverse : {"", "-reverse"}) {
          keys.push_back(std::string(bag) + stop + rest + reverse);
        }
      }
    }
  }
  return keys;
}

// A prior for log V typed as V, or for log tau typed as tau, is a likely slip with large effects.
void suspect_not_a_logarithm(JsonText& json, const JsonValue& root, std::string_view pointer, double low, double high,
                             std::string_view unit) {
  const JsonValue* mean = root.at(pointer);
  if (mean != nullptr && mean->kind == text::JsonKind::number &&
      (mean->number < std::log(low) || mean->number > std::log(high))) {
    json.report(Severity::suspicion, "not-a-logarithm", mean->place,
                "'" + std::string(pointer) + "' does not look like a natural logarithm of " + std::string(unit),
                "between " + text::json_number(std::log(low)) + " and " + text::json_number(std::log(high)),
                "the natural logarithm is meant: 1.79 for 6 m/s, 0 for 1 s");
  }
}

// The curve is there for 4 k tau up to 0.9 and tau of some seconds.
std::optional<Normal> read_late_slowing(JsonObject& prior, JsonText& json, const JsonValue& root) {
  const auto slowing = read_normal(prior, "late_slowing_per_s");
  if (slowing && !(slowing->mean >= 0.0 && slowing->mean <= 0.1)) {
    json.report(Severity::error, "out-of-range", root.at("/prior/late_slowing_per_s/mean")->place,
                "'/prior/late_slowing_per_s/mean' is " + text::json_number(slowing->mean), "a number from 0 to 0.1",
                "0.013: beyond 6.5 s a child's speed falls by 1.3 % of the top speed a second; 0: it does not fall");
    return std::nullopt;
  }
  return slowing;
}

// log tau = log V - log A: both would say one thing twice, and a correlation alone does not say of what.
void check_pair(JsonText& json, const JsonValue& root, const ModelFile::Prior& prior) {
  const JsonValue* acceleration = root.at("/prior/log_first_acceleration");
  if (prior.log_time_constant && prior.log_first_acceleration) {
    json.report(Severity::error, "out-of-range", acceleration->place,
                "'log_first_acceleration' stands beside 'log_time_constant'",
                "one of the two: the one follows from the other and the top speed", "leave one out");
  }
  if (prior.log_correlation && !prior.log_time_constant && !prior.log_first_acceleration) {
    json.report(Severity::error, "out-of-range", root.at("/prior/log_correlation")->place,
                "'log_correlation' stands without 'log_time_constant' or 'log_first_acceleration'",
                "one of the two: the correlation is that of the top speed with it", "add one, or leave it out");
  }
}

// Every other posture's cost is against a standing start, so its own is 0 and nothing else.
void refuse_cost_of_standing(JsonText& json, const JsonValue& root) {
  for (const std::string_view part : {"/prior/posture_cost_s/standing/mean", "/prior/posture_cost_s/standing/sd"}) {
    const JsonValue* value = root.at(part);
    if (value != nullptr && value->kind == text::JsonKind::number && value->number != 0.0) {
      json.report(Severity::error, "out-of-range", value->place,
                  "'" + std::string(part) + "' is " + text::json_number(value->number),
                  "0: what a posture costs is measured against a standing start", "leave 'standing' out");
    }
  }
}

// What is left out is as built in.
SlipPrior read_slip(JsonObject& slip) {
  SlipPrior out;
  const auto take = [&](std::string_view name, double& value, const JsonRange& bounds) {
    if (const auto read = slip.number(name, bounds)) {
      value = *read;
    }
  };
  const JsonRange share{.low = 0.0, .high = 1.0, .expected = "a number from 0 to 1"};
  const JsonRange size{.low = 0.01, .high = 60.0, .expected = "a number from 0.01 to 60"};
  out.rate = 0.01;
  take("rate", out.rate, {.low = 0.0, .high = 0.2, .expected = "a number from 0 to 0.2"});
  take("rate_weight", out.rate_weight, not_negative);
  take("thumb_s", out.sizes_s[0], size);
  take("typing_s", out.sizes_s[1], size);
  take("typing_share", out.shares[1], {.low = 0.01, .high = 0.99, .expected = "a number from 0.01 to 0.99"});
  take("start_share", out.start_share, share);
  take("lost_share", out.lost_share, share);
  take("slow_share", out.slow_share, share);
  out.shares[0] = 1.0 - out.shares[1];
  slip.refuse_other_names();
  return out;
}

class Writer {
 public:
  void open(std::string_view name) {
    comma();
    text_ += name.empty() ? "{" : text::json_string(name) + ":{";
    fresh_ = true;
  }
  void close() {
    text_ += '}';
    fresh_ = false;
  }
  void number(std::string_view name, const std::optional<double>& value) {
    if (value) {
      comma();
      text_ += text::json_string(name) + ":" + text::json_number(*value);
    }
  }
  void normal(std::string_view name, const std::optional<Normal>& value) {
    if (value) {
      open(name);
      number("mean", value->mean);
      number("sd", value->sd);
      close();
    }
  }
  void normals(std::string_view name, const NormalMap& values) {
    if (!values.empty()) {
      open(name);
      for (const auto& [key, value] : values) {
        normal(key, value);
      }
      close();
    }
  }
  std::string take() { return std::move(text_); }

 private:
  void comma() {
    if (!fresh_) {
      text_ += ',';
    }
    fresh_ = false;
  }

  std::string text_;
  bool fresh_ = true;
};

}  // namespace

ModelFile read_model(std::string_view text, std::string_view path, text::Problems& problems) {
  ModelFile model;
  JsonText json(text, path);
  if (const auto root = json.parse()) {
    JsonObject file(json, *root);
    file.word("schema", {"bagsplit.model/1"});
    if (auto prior = file.object("prior")) {
      model.prior.log_top_speed = read_normal(*prior, "log_top_speed");
      model.prior.log_time_constant = read_normal(*prior, "log_time_constant");
      model.prior.log_first_acceleration = read_normal(*prior, "log_first_acceleration");
      model.prior.log_correlation =
          prior->number("log_correlation", {.low = -0.99, .high = 0.99, .expected = "a number from -0.99 to 0.99"});
      check_pair(json, *root, model.prior);
      model.prior.late_slowing_per_s = read_late_slowing(*prior, json, *root);
      model.prior.reaction_s = read_normal(*prior, "reaction_s");
      model.prior.posture_cost_s =
          read_normals(*prior, "posture_cost_s", {"standing", "split", "crouch", "prone", "swing"});
      refuse_cost_of_standing(json, *root);
      model.prior.segment_loss_s = read_normals(*prior, "segment_loss_s", segment_keys());
      model.prior.swing_finish_s = read_normal(*prior, "swing_finish_s");
      prior->refuse_other_names();
      // World records average 10.4 m/s and reach 12.4; a slow toddler walks faster than 0.5.
      suspect_not_a_logarithm(json, *root, "/prior/log_top_speed/mean", 0.5, 13.0, "a top speed in m/s");
      suspect_not_a_logarithm(json, *root, "/prior/log_time_constant/mean", 0.1, 5.0, "a time constant in s");
      suspect_not_a_logarithm(json, *root, "/prior/log_first_acceleration/mean", 1.5, 20.0,
                              "a first acceleration in m/s2");
    }
    if (auto error = file.object("error")) {
      model.error.effort_cv = error->number("effort_cv", not_negative);
      model.error.day_cv = error->number("day_cv", not_negative);
      model.error.reaction_sd_s = error->number("reaction_sd_s", not_negative);
      model.error.start_sd_s = error->number("start_sd_s", not_negative);
      model.error.split_sd_s = error->number("split_sd_s", not_negative);
      model.error.bias_s = error->number("bias_s");
      model.error.move_lag_s = error->number("move_lag_s");
      if (auto slip = error->object("slip")) {
        model.error.slip = read_slip(*slip);
      }
      error->refuse_other_names();
    }
    file.refuse_other_names();
  }
  json.deliver(problems);
  return model;
}

std::string write_model(const ModelFile& model) {
  Writer out;
  out.open("");
  out.open("prior");
  out.normal("log_top_speed", model.prior.log_top_speed);
  out.normal("log_time_constant", model.prior.log_time_constant);
  out.normal("log_first_acceleration", model.prior.log_first_acceleration);
  out.number("log_correlation", model.prior.log_correlation);
  out.normal("late_slowing_per_s", model.prior.late_slowing_per_s);
  out.normal("reaction_s", model.prior.reaction_s);
  out.normals("posture_cost_s", model.prior.posture_cost_s);
  out.normals("segment_loss_s", model.prior.segment_loss_s);
  out.normal("swing_finish_s", model.prior.swing_finish_s);
  out.close();
  out.open("error");
  out.number("effort_cv", model.error.effort_cv);
  out.number("day_cv", model.error.day_cv);
  out.number("reaction_sd_s", model.error.reaction_sd_s);
  out.number("start_sd_s", model.error.start_sd_s);
  out.number("split_sd_s", model.error.split_sd_s);
  out.number("bias_s", model.error.bias_s);
  out.number("move_lag_s", model.error.move_lag_s);
  if (const auto& slip = model.error.slip) {
    out.open("slip");
    out.number("rate", slip->rate);
    out.number("rate_weight", slip->rate_weight);
    out.number("thumb_s", slip->sizes_s[0]);
    out.number("typing_s", slip->sizes_s[1]);
    out.number("typing_share", slip->shares[1]);
    out.number("start_share", slip->start_share);
    out.number("lost_share", slip->lost_share);
    out.number("slow_share", slip->slow_share);
    out.close();
  }
  out.close();
  out.close();
  return out.take();
}

bool only_of_slips(const ModelFile& model) {
  ModelFile rest = model;
  rest.error.slip.reset();
  return model.error.slip && rest == ModelFile{};
}

ModelFile default_model() {
  text::Problems problems;
  const auto text = builtin::text("models/default.json");
  if (!text) {
    throw std::logic_error("the built-in model is missing");
  }
  ModelFile model = read_model(*text, "models/default.json", problems);
  if (!problems.empty()) {
    throw std::logic_error("the built-in model is broken: " + problems.front().message);
  }
  return model;
}

}  // namespace bagsplit::inference
