#include "world.hpp"

#include <stdexcept>

#include "bagsplit/runs/units.hpp"

namespace demo_season {

using bagsplit::motion::Sprint;

namespace {

constexpr std::array circuit_legs{Leg{"first", 1, "first"}, Leg{"second", 2, "second"}, Leg{"third", 3, "third"},
                                  Leg{"home", 4, "home"}};
constexpr std::array home_first_legs{Leg{"first", 1, ""}};
constexpr std::array home_second_legs{Leg{"first", 1, "first"}, Leg{"second", 2, "second-stop"}};
constexpr std::array home_second_reverse_legs{Leg{"third", 1, "third-reverse"},
                                              Leg{"second", 2, "second-stop-reverse"}};
constexpr std::array first_third_legs{Leg{"second", 1, "second-from-rest"}, Leg{"third", 2, "third-stop"}};

}  // namespace

std::string_view cue_name(Cue cue) {
  switch (cue) {
    case Cue::gives_call:
      return "gives_call";
    case Cue::hears_call:
      return "hears_call";
    case Cue::sees_first_move:
      return "sees_first_move";
    case Cue::sees_contact:
      return "sees_contact";
    case Cue::gate:
      return "gate";
  }
  throw std::invalid_argument("cue_name: not a cue");
}

std::string_view start_text(Start start) {
  switch (start) {
    case Start::signal:
      return "signal";
    case Start::self:
      return "self";
    case Start::beam:
      return "beam 0.5 m";
    case Start::contact:
      return "contact";
  }
  throw std::invalid_argument("start_text: not a start");
}

std::span<const Leg> legs_of(std::string_view course) {
  if (course == "circuit") return circuit_legs;
  if (course == "home-first") return home_first_legs;
  if (course == "home-second") return home_second_legs;
  if (course == "home-second-reverse") return home_second_reverse_legs;
  if (course == "first-third") return first_third_legs;
  throw std::invalid_argument("legs_of: no such course: " + std::string(course));
}

std::vector<Mark> marks_of(std::string_view course, std::span<const std::string> names, const Child& child) {
  std::vector<Mark> marks;
  for (const std::string& name : names) {
    if (name == "move") {
      marks.push_back({name, 0.0, 0.0, true});
    } else if (const auto distance_m = bagsplit::runs::parse_length_m(name)) {
      marks.push_back({name, *distance_m, 0.0, false});
    } else {
      double lost_s = 0.0;
      bool found = false;
      for (const Leg& leg : legs_of(course)) {
        if (!leg.loss_key.empty()) {
          lost_s += child.segment_loss_s.find(leg.loss_key)->second;
        }
        if (leg.mark == name) {
          marks.push_back({name, leg.bases * base_distance_m, lost_s, false});
          found = true;
          break;
        }
      }
      if (!found) {
        throw std::invalid_argument("marks_of: " + std::string(course) + " has no mark " + name);
      }
    }
  }
  return marks;
}

Sprint sprint_on(const Child& child, double season_share, double years, const Common& common) {
  Sprint sprint = child.sprint;
  sprint.top_speed_mps *= (1.0 + common.growth_per_year * years) * (1.0 + child.top_speed_gain * season_share);
  sprint.time_constant_s *= 1.0 + child.time_constant_gain * season_share;
  return sprint;
}

void true_times(const Sprint& sprint, std::span<const Mark> marks, Start start, const Effort& effort, double cost_s,
                std::span<double> times_s) {
  for (std::size_t j = 0; j < marks.size(); ++j) {
    if (marks[j].is_move) {
      times_s[j] = effort.reaction_s;
      continue;
    }
    const double running_s = start == Start::beam
                                 ? bagsplit::motion::time_from_beam(sprint, beam_start_m, marks[j].distance_m)
                                 : bagsplit::motion::time_to_distance(sprint, marks[j].distance_m);
    times_s[j] = effort.factor * running_s + effort.reaction_s + cost_s + marks[j].lost_s;
  }
}

void read_times(std::span<const Mark> marks, std::span<const double> true_s, double bias_s, bool gate,
                const Common& common, Stream& stream, std::span<double> read_s) {
  const double start_s = stream.normal(0.0, gate ? common.gate_start_sd_s : common.watch_start_sd_s);
  for (std::size_t j = 0; j < marks.size(); ++j) {
    read_s[j] = true_s[j] + bias_s + start_s + (marks[j].is_move ? common.move_lag_s : 0.0) +
                stream.normal(0.0, gate ? common.gate_split_sd_s : common.watch_split_sd_s);
  }
}

}  // namespace demo_season
