// Reading of device profiles. A value is an object with its number, its evidence and its sources beside it.
#include <algorithm>
#include <cmath>
#include <utility>

#include "bagsplit/builtin/builtin.hpp"
#include "bagsplit/runs/words.hpp"
#include "bagsplit/text/json_text.hpp"
#include "bagsplit/timing/device.hpp"

namespace bagsplit::timing {

namespace {

using text::JsonNeed;
using text::JsonObject;
using text::JsonRange;
using text::JsonText;
using text::JsonValue;
using text::Severity;

const JsonRange not_negative{.low = 0.0, .expected = "a number, at least 0"};
// A bias or lag of a second is no press but a mistake in the file (milliseconds, most likely).
const JsonRange below_a_second{.low = -1.0, .high = 1.0, .expected = "a number of seconds between -1 and 1"};
constexpr std::string_view evidence_hint =
    "each source is named once under 'sources', with its citation, and by that name here";

class Reader {
 public:
  Reader(JsonText& json, Completeness completeness) : json_(json), completeness_(completeness) {}

  DeviceProfile read(const JsonValue& root) {
    DeviceProfile profile;
    JsonObject file(json_, root);
    file.word("schema", {"bagsplit.device/1"}, JsonNeed::required);
    const auto name = file.text("name", JsonNeed::required);
    const auto device = file.word("device", {runs::device_words.begin(), runs::device_words.end()}, JsonNeed::required);
    const auto based_on = base_name(file, device);
    if (based_on) {
      text::Problems none;
      const auto text = builtin::text("devices/" + *based_on + ".json");
      profile = read_device(text.value(), "devices/" + *based_on + ".json", none, Completeness::whole);
    }
    if (name && name->empty()) {
      json_.report(Severity::error, "out-of-range", file.value().find("name")->place, "'/name' is empty",
                   "a name of at least one character");
    }
    profile.name = name.value_or("");
    profile.device = static_cast<runs::Device>(device.value_or(0));
    if (auto title = file.text("title")) {
      profile.title = std::move(*title);
    } else if (based_on) {
      profile.title = profile.name;
    }
    if (auto about = file.text("about")) {
      profile.about = std::move(*about);
    }
    if (auto sources = file.object("sources")) {
      for (const JsonValue& item : sources->value().items) {
        if (auto citation = sources->text(item.key)) {
          profile.sources.insert_or_assign(item.key, std::move(*citation));
        }
      }
    }
    sources_ = profile.sources;
    read_resolution(file, profile);
    read_numbers(file, profile.numbers);
    if (auto timers = file.object("timers")) {
      for (const JsonValue& item : timers->value().items) {
        if (auto timer = timers->object(item.key)) {
          TimerNumbers made;
          made.timer = item.key;
          read_numbers(*timer, made.numbers);
          timer->refuse_other_names();
          profile.timers.push_back(std::move(made));
        }
      }
      std::sort(profile.timers.begin(), profile.timers.end(),
                [](const TimerNumbers& a, const TimerNumbers& b) { return a.timer < b.timer; });
    }
    file.refuse_other_names();
    require_complete(root, profile);
    return profile;
  }

 private:
  std::optional<std::string> base_name(JsonObject& file, std::optional<std::size_t> device) {
    if (completeness_ == Completeness::whole || !device) {
      file.allow("based-on");
      return std::nullopt;
    }
    std::vector<std::string_view> names;
    for (const builtin::File& each : builtin::files()) {
      static constexpr std::array<std::string_view, 3> kinds = {"devices/stopwatch", "devices/gate", "devices/video"};
      if (each.name.starts_with(kinds.at(*device)) && each.name.ends_with(".json")) {
        names.push_back(each.name.substr(8, each.name.size() - 13));
      }
    }
    const auto chosen = file.word("based-on", names);
    static constexpr std::array<std::string_view, 3> cautious = {"stopwatch", "gate-single-beam", "video-30"};
    return std::string(chosen ? names[*chosen] : cautious.at(*device));
  }

  Provenance read_provenance(JsonObject& object) {
    Provenance why;
    const auto evidence = object.word("evidence", {"read", "secondary", "derived", "common-practice", "memory", "own"},
                                      completeness_ == Completeness::whole ? JsonNeed::required : JsonNeed::optional);
    why.evidence = evidence ? static_cast<Evidence>(*evidence) : Evidence::own;
    if (const auto* items = object.array("sources")) {
      for (const JsonValue& item : *items) {
        if (item.kind != text::JsonKind::string || !sources_.contains(item.text)) {
          json_.report(Severity::error, "unknown-source", item.place,
                       "a source that 'sources' of the file does not list", "a name listed under 'sources'",
                       std::string(evidence_hint));
        } else {
          why.sources.push_back(item.text);
        }
      }
    }
    why.note = object.text("note").value_or("");
    return why;
  }

  void read_resolution(JsonObject& file, DeviceProfile& profile) {
    static const JsonRange rate{.low = 1.0, .high = 100000.0, .expected = "a number of frames a second, at least 1"};
    static const JsonRange step{.low = 0.0, .high = 1.0, .expected = "a number of seconds between 0 and 1"};
    const JsonValue* given = file.value().find("resolution_s");
    if (auto frames = profile.device == runs::Device::video ? file.object("frames_per_s") : std::nullopt) {
      if (const auto value = frames->number("value", rate, JsonNeed::required)) {
        profile.frames_per_s = *value;
        profile.resolution_s = 1.0 / *value;
      }
      profile.resolution_why = read_provenance(*frames);
      frames->refuse_other_names();
      if (given != nullptr) {
        json_.report(Severity::error, "two-resolutions", given->key_place,
                     "'/resolution_s' and '/frames_per_s' are both given",
                     "one of them: a frame is the resolution of a video");
      }
      file.allow("resolution_s");
    } else if (auto resolution = file.object(
                   "resolution_s", completeness_ == Completeness::whole ? JsonNeed::required : JsonNeed::optional)) {
      if (const auto value = resolution->number("value", step, JsonNeed::required)) {
        profile.resolution_s = *value;
        profile.frames_per_s.reset();
      }
      profile.resolution_why = read_provenance(*resolution);
      resolution->refuse_other_names();
    }
    if (const auto rounding = file.word("rounding", {"nearest", "up"}, need())) {
      profile.rounding = static_cast<Rounding>(*rounding);
    }
  }

  // The parts that a device and a timer have alike.
  void read_numbers(JsonObject& object, TimingNumbers& numbers) {
    if (const auto role = object.word("signal", {"unknown", "hears", "gives", "automatic"})) {
      numbers.signal = static_cast<SignalRole>(*role);
    }
    if (auto biases = object.object("bias_s")) {
      each_start(*biases,
                 [&](std::string_view key, std::size_t timing) { read_bias(*biases, key, numbers.bias.at(timing)); });
    }
    if (auto sds = object.object("sd_s")) {
      if (auto starts = sds->object("start")) {
        each_start(*starts, [&](std::string_view key, std::size_t timing) {
          read_sd(*starts, key, numbers.start_sd.at(timing));
        });
      }
      read_sd(*sds, "split", numbers.split_sd);
      sds->refuse_other_names();
    }
    if (auto lags = object.object("lag_s")) {
      read_lag(*lags, "mark", numbers.mark_lag);
      read_lag(*lags, "first-move", numbers.move_lag);
      lags->refuse_other_names();
    }
  }

  template <class Read>
  void each_start(JsonObject& object, const Read& read) {
    for (std::size_t timing = 0; timing < start_timing_count; ++timing) {
      read(start_timing_name(static_cast<StartTiming>(timing)), timing);
    }
    object.refuse_other_names();
  }

  void read_bias(JsonObject& parent, std::string_view key, std::optional<BiasPrior>& made) {
    if (auto object = parent.object(key)) {
      const auto mean = object->number("mean", below_a_second, JsonNeed::required);
      const auto sd = object->number("sd", not_negative, JsonNeed::required);
      const JsonRange part{
          .low = 0.0, .high = sd.value_or(1.0), .expected = "a number between 0 and 'sd', of which it is a part"};
      const auto timer_sd = object->number("timer_sd", part);
      Provenance why = read_provenance(*object);
      object->refuse_other_names();
      if (mean && sd) {
        made = BiasPrior{*mean, *sd, timer_sd.value_or(0.0), std::move(why)};
      }
    }
  }

  void read_lag(JsonObject& parent, std::string_view key, std::optional<LagPrior>& made) {
    if (auto object = parent.object(key)) {
      const auto mean = object->number("mean", below_a_second, JsonNeed::required);
      const auto sd = object->number("sd", not_negative, JsonNeed::required);
      Provenance why = read_provenance(*object);
      object->refuse_other_names();
      if (mean && sd) {
        made = LagPrior{*mean, *sd, std::move(why)};
      }
    }
  }

  void read_sd(JsonObject& parent, std::string_view key, std::optional<ErrorSd>& made) {
    if (auto object = parent.object(key)) {
      const auto value = object->number("value", not_negative, JsonNeed::required);
      const JsonRange below{.low = 0.0, .high = value.value_or(1.0), .expected = "a number between 0 and 'value'"};
      const JsonRange above{.low = value.value_or(0.0), .expected = "a number, at least 'value'"};
      const auto low = object->number("low", below);
      const auto high = object->number("high", above);
      Provenance why = read_provenance(*object);
      object->refuse_other_names();
      if (value) {
        made = ErrorSd{*value, low.value_or(*value), high.value_or(*value), std::move(why)};
      }
    }
  }

  // Which starts a profile must be able to answer for: all but the ways of a signal that its role never uses.
  void require_complete(const JsonValue& root, const DeviceProfile& profile) {
    if (json_.has_errors()) {
      return;  // a number that could not be read would be reported a second time as missing
    }
    const TimingNumbers& numbers = profile.numbers;
    const auto missing = [&](const std::string& pointer) {
      json_.report(Severity::error, "missing-key", root.place, "'" + pointer + "' is missing",
                   "'" + pointer + "' in a whole profile");
    };
    if (!numbers.signal) {
      missing("/signal");
    }
    for (std::size_t i = 0; i < start_timing_count; ++i) {
      const auto timing = static_cast<StartTiming>(i);
      const auto role_uses = [&](const std::optional<SignalRole>& role) {
        return (timing == StartTiming::hears_signal && (role == SignalRole::hears || role == SignalRole::unknown)) ||
               (timing == StartTiming::gives_signal && (role == SignalRole::gives || role == SignalRole::unknown)) ||
               (timing == StartTiming::automatic_signal && role == SignalRole::automatic);
      };
      const bool always =
          timing == StartTiming::first_move || timing == StartTiming::beam || timing == StartTiming::contact;
      if (always || role_uses(numbers.signal)) {
        if (!numbers.bias.at(i)) {
          missing("/bias_s/" + std::string(start_timing_name(timing)));
        }
        if (!numbers.start_sd.at(i)) {
          missing("/sd_s/start/" + std::string(start_timing_name(timing)));
        }
      }
      for (const TimerNumbers& timer : profile.timers) {
        if (role_uses(timer.numbers.signal)) {
          if (!numbers.bias.at(i) && !timer.numbers.bias.at(i)) {
            missing("/timers/" + timer.timer + "/bias_s/" + std::string(start_timing_name(timing)));
          }
          if (!numbers.start_sd.at(i) && !timer.numbers.start_sd.at(i)) {
            missing("/timers/" + timer.timer + "/sd_s/start/" + std::string(start_timing_name(timing)));
          }
        }
      }
    }
    if (!numbers.split_sd) {
      missing("/sd_s/split");
    }
    if (!numbers.mark_lag) {
      missing("/lag_s/mark");
    }
    if (!numbers.move_lag) {
      missing("/lag_s/first-move");
    }
  }

  JsonNeed need() const { return completeness_ == Completeness::whole ? JsonNeed::required : JsonNeed::optional; }

  JsonText& json_;
  Completeness completeness_;
  std::map<std::string, std::string, std::less<>> sources_;
};

}  // namespace

DeviceProfile read_device(std::string_view text, std::string_view path, text::Problems& problems,
                          Completeness completeness) {
  DeviceProfile profile;
  JsonText json(text, path);
  if (const auto root = json.parse()) {
    profile = Reader(json, completeness).read(*root);
  }
  json.deliver(problems);
  return profile;
}

}  // namespace bagsplit::timing
