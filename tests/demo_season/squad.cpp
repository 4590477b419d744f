#include "squad.hpp"

#include <cmath>
#include <optional>
#include <string>
#include <utility>

namespace demo_season {

namespace {

struct Row {
  const char *id, *sex, *born, *height_cm, *mass_kg, *sitting_height_cm, *bats, *team;
  double top_speed_mps, time_constant_s, reaction_s, prone_cost_s, swing_finish_s;
  double first_s, second_s, third_s, home_s;  // losses on the circuit
  double top_speed_gain, time_constant_gain;
};

// All invented. V, tau and RT sit around what school children of that age and sex run over 20 and 50 m; the rest is a
// coach's picture of fourteen different children.
// clang-format off
constexpr Row rows[] = {
    // average for her age in everything
    {"3", "F", "2014-08-19", "149", "41.0", "", "R", "rushes",
     6.35, 1.02, 0.33, 0.80, 0.44, 0.28, 0.38, 0.34, 0.20, 0, 0},
    // runs to each bag, stops to look, starts again
    {"5", "M", "2017-02-03", "134", "29.5", "", "R", "reeds",
     5.65, 1.08, 0.38, 1.00, 0.50, 0.46, 0.55, 0.52, 0.30, 0, 0},
    // the fastest once he runs, the last to leave
    {"7", "M", "2013-05-27", "158", "46.0", "82.0", "R", "rushes",
     7.15, 1.08, 0.45, 0.72, 0.40, 0.25, 0.33, 0.30, 0.18, 0, 0},
    // the youngest
    {"8", "F", "2017-11-30", "129", "26.5", "", "", "reeds",
     5.25, 0.95, 0.40, 1.10, 0.52, 0.34, 0.44, 0.42, 0.26, 0, 0},
    // quick off the call, ordinary after it
    {"11", "M", "2015-09-12", "142", "35.0", "", "L", "rushes",
     6.00, 0.98, 0.25, 0.66, 0.33, 0.26, 0.36, 0.33, 0.20, 0, 0},
    // throws away half a second and more at second base
    {"12", "M", "2014-01-22", "", "", "", "R", "rushes",
     6.60, 1.00, 0.33, 0.78, 0.43, 0.24, 0.60, 0.30, 0.19, 0, 0},
    // turns as on rails
    {"14", "F", "2013-10-05", "155", "45.5", "81.0", "R", "rushes",
     6.75, 1.04, 0.31, 0.74, 0.41, 0.17, 0.21, 0.19, 0.15, 0, 0},
    // no date of birth given
    {"17", "M", "", "147", "39.0", "", "L", "rushes",
     6.10, 1.05, 0.35, 0.85, 0.34, 0.30, 0.40, 0.36, 0.22, 0, 0},
    // at speed within a few steps, but the speed is modest
    {"19", "F", "2016-05-24", "138", "31.0", "", "R", "reeds",
     5.80, 0.82, 0.34, 0.82, 0.46, 0.30, 0.39, 0.37, 0.22, 0, 0},
    // improves: faster and quicker to get there
    {"22", "M", "2016-12-09", "137", "", "", "R", "reeds",
     5.55, 1.16, 0.37, 0.95, 0.48, 0.36, 0.46, 0.42, 0.26, 0.05, -0.06},
    // improves: faster
    {"24", "F", "2015-03-14", "146", "38.0", "", "R", "reeds",
     6.00, 1.02, 0.32, 0.84, 0.44, 0.29, 0.37, 0.35, 0.21, 0.06, 0},
    // long legs, late to gather speed
    {"27", "M", "2014-06-30", "151", "43.0", "78.5", "L", "rushes",
     6.85, 1.28, 0.34, 0.88, 0.35, 0.32, 0.42, 0.36, 0.20, 0, 0},
    // joined in June: a handful of runs
    {"31", "F", "2016-01-17", "140", "33.5", "", "", "reeds",
     5.85, 1.00, 0.35, 0.90, 0.47, 0.31, 0.41, 0.38, 0.22, 0, 0},
    // no date of birth, no measures
    {"40", "F", "", "", "", "", "", "reeds",
     6.20, 1.06, 0.36, 0.86, 0.45, 0.27, 0.37, 0.35, 0.21, 0, 0},
};
// clang-format on

double round_to_cs(double x) {
  return std::round(100.0 * x) / 100.0;
}

// As 306 runners of 6 to 18 years slow down, lib/bagsplit/motion/README.md, and a child's own part.
double late_slowing_per_s(const char* id) {
  Stream stream(season_seed, std::string("late slowing of ") + id);
  return std::round(1e4 * stream.normal_within(0.013, 0.003, 0.006, 0.020)) / 1e4;
}

// Losses of courses other than the circuit, from those on it and a personal part.
void add_other_losses(Child& child, Stream& stream) {
  auto& loss = child.segment_loss_s;
  const auto near = [&](double mean) { return round_to_cs(stream.normal_within(mean, 0.04, mean - 0.1, mean + 0.1)); };
  loss["second-stop"] = near(0.22 + 0.8 * loss["second"]);
  loss["third-reverse"] = near(0.06 + 1.05 * loss["first"]);
  loss["second-stop-reverse"] = near(0.26 + 0.8 * loss["second"]);
  loss["second-from-rest"] = near(0.02 + 0.85 * loss["second"]);
  loss["third-stop"] = near(0.22 + 0.8 * loss["third"]);
}

}  // namespace

std::vector<Child> squad() {
  std::vector<Child> children;
  for (const Row& row : rows) {
    Child child{row.id,
                row.sex,
                row.born,
                row.height_cm,
                row.mass_kg,
                row.sitting_height_cm,
                row.bats,
                row.team,
                {row.top_speed_mps, row.time_constant_s, late_slowing_per_s(row.id)},
                row.reaction_s,
                row.prone_cost_s,
                row.swing_finish_s,
                {{"first", row.first_s}, {"second", row.second_s}, {"third", row.third_s}, {"home", row.home_s}},
                row.top_speed_gain,
                row.time_constant_gain};
    Stream stream(season_seed, std::string("losses of ") + row.id);
    add_other_losses(child, stream);
    children.push_back(std::move(child));
  }
  return children;
}

std::vector<Timer> timers() {
  constexpr std::nullopt_t no = std::nullopt;
  // gives the call, hears the call, sees the first move, sees bat contact, gate
  return {{"AK", {{-0.06, no, -0.21, no, no}}},
          {"RB", {{no, -0.22, -0.27, no, no}}},
          {"LM", {{no, -0.17, -0.23, -0.15, no}}},
          {"gates", {{no, no, no, no, 0.0}}}};
}

std::string roster_csv(const std::vector<Child>& children) {
  std::string text = "player,bib,name,sex,born,height_cm,mass_kg,sitting_height_cm,bats,team\n";
  for (const Child& child : children) {
    text += child.id + "," + child.id + ",," + child.sex + "," + child.born + "," + child.height_cm + "," +
            child.mass_kg + "," + child.sitting_height_cm + "," + child.bats + "," + child.team + "\n";
  }
  return text;
}

}  // namespace demo_season
