#include "bagsplit/present/profile_quantities.hpp"

#include <algorithm>
#include <array>

namespace bagsplit::present {

namespace {

struct Fixed {
  std::string_view key, label, unit;
  int decimals;
};
constexpr std::array fixed_names = std::to_array<Fixed>({
    {"reaction_s", "reaction", "s", 2},
    {"top_speed_mps", "top speed", "m/s", 2},
    {"time_constant_s", "time constant", "s", 2},
    {"max_acceleration_mps2", "first acceleration", "m/s2", 1},
    {"straight_efficiency", "straight efficiency", "", 2},
    {"path_efficiency", "path efficiency", "", 2},
    {"loss_to_best_path_s", "loss to the best path", "s", 2},
    {"best_path_time_s", "best path, moving time", "s", 2},
    {"max_force_N", "greatest force", "N", 0},
    {"max_power_W", "greatest power", "W", 0},
    {"max_power_W_per_kg", "greatest power by mass", "W/kg", 1},
});

struct Family {
  std::string_view key, label, unit;
};
constexpr std::array families = std::to_array<Family>({
    {"posture_cost_s", "cost of the start: ", "s"},
    {"segment_loss_s", "loss at ", "s"},
    {"loss_to_best_path_by_segment_s", "loss to the best path at ", "s"},
    {"predicted_time_s", "straight, ", "s"},
    {"course_time_s", "moving time, ", "s"},
    {"straight_efficiency_by_course", "straight efficiency, ", ""},
});

// "second-stop-reverse" as "second, stopping, run in reverse".
std::string segment_label(std::string_view key) {
  std::string label(key);
  const auto replace = [&](std::string_view suffix, std::string_view words) {
    if (const auto at = label.find(suffix); at != std::string::npos) {
      label.replace(at, suffix.size(), words);
    }
  };
  replace("-stop", ", stopping");
  replace("-from-rest", ", from rest");
  replace("-reverse", ", in reverse");
  return label;
}

std::string distance_label(std::string_view name) {
  if (name == "home-first") {
    return "home to first";
  }
  const std::size_t digits = std::min(name.find_first_not_of("0123456789."), name.size());
  return std::string(name.substr(0, digits)) + " " + std::string(name.substr(digits));
}

}  // namespace

QuantityName quantity_name(std::string_view key) {
  for (const Fixed& name : fixed_names) {
    if (name.key == key) {
      const std::string label(name.label);
      return {std::string(key), "", label, label, std::string(name.unit), name.decimals};
    }
  }
  const std::size_t point = key.find('.');
  for (const Family& family : families) {
    if (point != std::string_view::npos && key.substr(0, point) == family.key) {
      const std::string_view member = key.substr(point + 1);
      const std::string words = family.key == "segment_loss_s" || family.key == "loss_to_best_path_by_segment_s"
                                    ? segment_label(member)
                                : family.key == "predicted_time_s" ? distance_label(member)
                                                                   : std::string(member);
      return {std::string(key),
              std::string(family.key),
              words,
              std::string(family.label) + words,
              std::string(family.unit),
              2};
    }
  }
  return {std::string(key), "", std::string(key), std::string(key), "", 2};
}

const jobs::Estimate* find_estimate(const std::vector<jobs::NamedEstimate>& estimates, std::string_view name) {
  const auto found =
      std::find_if(estimates.begin(), estimates.end(), [&](const jobs::NamedEstimate& e) { return e.name == name; });
  return found == estimates.end() ? nullptr : &found->value;
}

std::vector<Quantity> quantities(const jobs::PlayerProfile& player) {
  std::vector<Quantity> all;
  const auto add = [&](const std::string& key, const std::optional<jobs::Estimate>& value) {
    all.push_back({quantity_name(key), value});
  };
  // The names that are always there first, then what else occurs.
  const auto add_family = [&](const std::string& family, std::span<const std::string_view> always,
                              const std::vector<jobs::NamedEstimate>& estimates) {
    for (const std::string_view name : always) {
      const jobs::Estimate* found = find_estimate(estimates, name);
      add(family + "." + std::string(name), found == nullptr ? std::nullopt : std::optional(*found));
    }
    for (const jobs::NamedEstimate& estimate : estimates) {
      if (std::find(always.begin(), always.end(), estimate.name) == always.end()) {
        add(family + "." + estimate.name, estimate.value);
      }
    }
  };
  constexpr std::string_view always_postures[] = {"prone"};
  add("top_speed_mps", player.top_speed_mps);
  add("time_constant_s", player.time_constant_s);
  add("max_acceleration_mps2", player.max_acceleration_mps2);
  add("reaction_s", player.reaction_s);
  add_family("posture_cost_s", always_postures, player.posture_cost_s);
  add_family("segment_loss_s", circuit_segments, player.segment_loss_s);
  add_family("predicted_time_s", predicted_distances, player.predicted_time_s);
  add("straight_efficiency", player.straight_efficiency);
  add("path_efficiency", player.path_efficiency);
  add("loss_to_best_path_s", player.loss_to_best_path_s);
  add_family("straight_efficiency_by_course", {}, player.straight_efficiency_by_course);
  add_family("course_time_s", {}, player.course_time_s);
  add("max_force_N", player.max_force_n);
  add("max_power_W", player.max_power_w);
  add("max_power_W_per_kg", player.max_power_w_per_kg);
  add_family("loss_to_best_path_by_segment_s", {}, player.loss_to_best_path_by_segment_s);
  add("best_path_time_s", player.best_path ? std::optional(player.best_path->time_s) : std::nullopt);
  return all;
}

std::optional<jobs::Estimate> first_acceleration(const jobs::ProfileResult& result, const jobs::PlayerProfile& player) {
  std::optional<jobs::Estimate> out = player.max_acceleration_mps2;
  if (out && result.squad && !result.squad->first_steps.advice()) {
    out->share_from_data = 0.0;
  }
  return out;
}

bool first_acceleration_for_page(const jobs::PlayerProfile& player) {
  return player.max_acceleration_mps2 && !mostly_prior(*player.max_acceleration_mps2) &&
         (!player.own_first_acceleration || player.own_first_acceleration->told());
}

std::string sex_word(const std::optional<runs::Sex>& sex) {
  return !sex ? "" : *sex == runs::Sex::female ? "F" : "M";
}

std::string_view status_word(inference::PosteriorStatus status) {
  switch (status) {
    case inference::PosteriorStatus::converged:
      return "converged";
    case inference::PosteriorStatus::refined:
      return "refined";
    case inference::PosteriorStatus::not_certified:
      return "not-certified";
  }
  return "";
}

}  // namespace bagsplit::present
