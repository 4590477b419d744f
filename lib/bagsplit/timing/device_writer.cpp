#include "bagsplit/timing/device_writer.hpp"

#include <nlohmann/json.hpp>

#include "bagsplit/runs/words.hpp"

namespace bagsplit::timing {

namespace {

using Json = nlohmann::ordered_json;

constexpr std::string_view role_words[] = {"unknown", "hears", "gives", "automatic"};

void add_provenance(Json& json, const Provenance& why) {
  json["evidence"] = evidence_name(why.evidence);
  json["sources"] = why.sources;
  if (!why.note.empty()) {
    json["note"] = why.note;
  }
}

Json bias_json(const BiasPrior& bias) {
  Json json{{"mean", bias.mean_s}, {"sd", bias.sd_s}, {"timer_sd", bias.timer_sd_s}};
  add_provenance(json, bias.why);
  return json;
}

Json lag_json(const LagPrior& lag) {
  Json json{{"mean", lag.mean_s}, {"sd", lag.sd_s}};
  add_provenance(json, lag.why);
  return json;
}

Json sd_json(const ErrorSd& sd) {
  Json json{{"value", sd.value_s}, {"low", sd.low_s}, {"high", sd.high_s}};
  add_provenance(json, sd.why);
  return json;
}

void add_numbers(Json& json, const TimingNumbers& numbers) {
  if (numbers.signal) {
    json["signal"] = role_words[static_cast<std::size_t>(*numbers.signal)];
  }
  Json bias = Json::object();
  Json start = Json::object();
  for (std::size_t i = 0; i < start_timing_count; ++i) {
    const std::string key(start_timing_name(static_cast<StartTiming>(i)));
    if (numbers.bias.at(i)) {
      bias[key] = bias_json(*numbers.bias.at(i));
    }
    if (numbers.start_sd.at(i)) {
      start[key] = sd_json(*numbers.start_sd.at(i));
    }
  }
  if (!bias.empty()) {
    json["bias_s"] = std::move(bias);
  }
  if (!start.empty()) {
    json["sd_s"]["start"] = std::move(start);
  }
  if (numbers.split_sd) {
    json["sd_s"]["split"] = sd_json(*numbers.split_sd);
  }
  if (numbers.mark_lag) {
    json["lag_s"]["mark"] = lag_json(*numbers.mark_lag);
  }
  if (numbers.move_lag) {
    json["lag_s"]["first-move"] = lag_json(*numbers.move_lag);
  }
}

}  // namespace

std::string write_device(const DeviceProfile& profile) {
  Json json;
  json["schema"] = "bagsplit.device/1";
  json["name"] = profile.name;
  json["device"] = runs::word_of(profile.device);
  json["title"] = profile.title;
  json["about"] = profile.about;
  Json step;
  step["value"] = profile.frames_per_s ? *profile.frames_per_s : profile.resolution_s;
  add_provenance(step, profile.resolution_why);
  json[profile.frames_per_s ? "frames_per_s" : "resolution_s"] = std::move(step);
  json["rounding"] = profile.rounding == Rounding::up ? "up" : "nearest";
  add_numbers(json, profile.numbers);
  for (const TimerNumbers& timer : profile.timers) {
    Json own = Json::object();
    add_numbers(own, timer.numbers);
    json["timers"][timer.timer] = std::move(own);
  }
  json["sources"] = Json::object();
  for (const auto& [key, citation] : profile.sources) {
    json["sources"][key] = citation;
  }
  // Bytes that are not UTF-8 cannot come out of a log or a profile; should they, they are replaced, not thrown over.
  return json.dump(2, ' ', false, Json::error_handler_t::replace) + "\n";
}

}  // namespace bagsplit::timing
