#include "bagsplit/timing/device.hpp"

#include <algorithm>
#include <stdexcept>
#include <utility>

#include "bagsplit/builtin/builtin.hpp"

namespace bagsplit::timing {

std::string_view start_timing_name(StartTiming timing) {
  static constexpr std::array<std::string_view, start_timing_count> names = {
      "hears-signal", "gives-signal", "automatic-signal", "first-move", "beam", "contact"};
  return names.at(static_cast<std::size_t>(timing));
}

std::string_view evidence_name(Evidence evidence) {
  static constexpr std::array<std::string_view, 6> names = {"read",   "secondary", "derived", "common-practice",
                                                            "memory", "own"};
  return names.at(static_cast<std::size_t>(evidence));
}

const TimingNumbers* DeviceProfile::timer(std::string_view timer_name) const {
  const auto it = std::lower_bound(timers.begin(), timers.end(), timer_name,
                                   [](const TimerNumbers& a, std::string_view key) { return a.timer < key; });
  return it != timers.end() && it->timer == timer_name ? &it->numbers : nullptr;
}

DeviceBook::DeviceBook() {
  for (const builtin::File& file : builtin::files()) {
    if (!file.name.starts_with("devices/")) {
      continue;
    }
    text::Problems problems;
    profiles_.push_back(read_device(file.text, file.name, problems, Completeness::whole));
    if (!problems.empty()) {
      throw std::logic_error("this is a bug in bagsplit: its own file " + std::string(file.name) + ": " +
                             problems.front().message);
    }
  }
  constexpr std::array<std::pair<runs::Device, std::string_view>, 3> cautious = {
      {{runs::Device::stopwatch, "stopwatch"},
       {runs::Device::gate, "gate-single-beam"},
       {runs::Device::video, "video-30"}}};
  for (const auto& [device, name] : cautious) {
    const DeviceProfile* profile = find(name);
    if (profile == nullptr) {
      throw std::logic_error("this is a bug in bagsplit: the built-in profile " + std::string(name) + " is missing");
    }
    default_.at(static_cast<std::size_t>(device)) = static_cast<std::size_t>(profile - profiles_.data());
  }
}

void DeviceBook::add(DeviceProfile profile) {
  const std::size_t device = static_cast<std::size_t>(profile.device);
  const auto it = std::find_if(profiles_.begin(), profiles_.end(),
                               [&](const DeviceProfile& other) { return other.name == profile.name; });
  if (it == profiles_.end()) {
    profiles_.push_back(std::move(profile));
    default_.at(device) = profiles_.size() - 1;
  } else {
    *it = std::move(profile);
    default_.at(device) = static_cast<std::size_t>(it - profiles_.begin());
  }
}

const DeviceProfile* DeviceBook::find(std::string_view name) const {
  const auto it = std::find_if(profiles_.begin(), profiles_.end(),
                               [&](const DeviceProfile& profile) { return profile.name == name; });
  return it == profiles_.end() ? nullptr : &*it;
}

const DeviceProfile& DeviceBook::default_for(runs::Device device) const {
  return profiles_[default_.at(static_cast<std::size_t>(device))];
}

}  // namespace bagsplit::timing
