#pragma once

#include <string>

#include "bagsplit/jobs/path/path_plan.hpp"
#include "bagsplit/text/display.hpp"

/// A best path for people and programs. All of these want a usable plan.
namespace bagsplit::present {

/// Times, what to do on each leg, what it saves, how much depends on the lateral limit, cautions.
std::string path_text(const jobs::PathPlan& plan, const text::TextOptions& options);

/// Schema "bagsplit.path/1" (data/schemas/path.schema.json).
std::string path_json(const jobs::PathPlan& plan);

/// The drawn path: one row a point, units in the names of the columns.
std::string path_csv(const jobs::PathPlan& plan);

/// The diamond with the path, to be printed: black on white, 720 by 960 units, nothing told by colour.
///
/// Home is at the bottom. The path is a band whose width is the speed, with a stroke across it every half second, whole
/// seconds numbered; thin lines are the paths for the ends of the plausible lateral limits. Below: speed over time.
std::string path_svg(const jobs::PathPlan& plan);

/// "Player 12, F, 11.3 years", "F, 10 years (middle of that age)" or "given": whose path.
std::string path_runner_words(const jobs::PathPlan& plan);
/// "top speed 6.20 m/s, time constant 0.85 s; lateral limit 5.0 m/s2, braking limit 4.0 m/s2".
std::string path_limits_words(const jobs::PathPlan& plan);
/// "18.29 m (60 ft)".
std::string base_distance_words(double metres);

}  // namespace bagsplit::present
