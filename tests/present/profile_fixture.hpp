#pragma once

#include <cmath>
#include <string>

#include "bagsplit/jobs/profile/profile.hpp"

/// Made-up results with every part of a profile filled in or left out: presenting is tested without computing.
namespace bagsplit::present::fixture {

inline jobs::Estimate estimate(double median, double half, std::optional<double> share = 0.9) {
  return {median + half / 100.0, half / 1.6448536269514722, median - half, median, median + half, share};
}

inline jobs::PlayerProfile full_player(const std::string& id) {
  jobs::PlayerProfile player;
  player.player = id;
  player.age_years = 11.25;
  player.sex = runs::Sex::female;
  player.runs_used = 12;
  player.readings_used = 17;
  player.runs_left_out = 3;
  player.left_out_by_flag = {{runs::Flag::false_start, 2}, {runs::Flag::fall, 1}};
  player.first_date = runs::Date(std::chrono::year(2026) / 4 / 11);
  player.last_date = runs::Date(std::chrono::year(2026) / 6 / 23);
  player.dates = 4;
  player.top_speed_mps = estimate(6.12, 0.31, 0.3);
  player.time_constant_s = estimate(1.02, 0.11);
  player.max_acceleration_mps2 = estimate(6.0, 0.52);
  player.reaction_s = estimate(0.31, 0.16, -0.01);
  player.reaction_holds_timer_bias = true;
  player.posture_cost_s = {{"prone", estimate(0.8, 0.1)}};
  player.segment_loss_s = {
      {"first", estimate(0.31, 0.1)}, {"second", estimate(0.44, 0.1, 0.45)}, {"second-stop", estimate(0.6, 0.12)}};
  player.predicted_time_s = {
      {"10yd", estimate(2.3, 0.05)}, {"20m", estimate(4.1, 0.08)}, {"home-first", estimate(3.82, 0.08)}};
  player.course_time_s = {{"home-second", estimate(7.5, 0.2)}};
  player.straight_efficiency_by_course = {{"home-second", estimate(0.9, 0.02, std::nullopt)}};
  player.straight_efficiency = estimate(0.9, 0.02, std::nullopt);
  player.path_efficiency = estimate(0.95, 0.02, std::nullopt);
  player.loss_to_best_path_s = estimate(0.38, 0.15);
  player.loss_to_best_path_by_segment_s = {{"first", estimate(0.08, 0.1)}, {"second-stop", estimate(0.3, 0.11)}};
  player.best_path = jobs::BestPathYardstick{"home-second", 4.0, 3.0, estimate(7.12, 0.11), {{2.5, -0.2}, {6.0, 0.6}}};
  player.base_distance_m = 60 * 0.3048;
  player.max_force_n = estimate(260, 20);
  player.max_power_w = estimate(420, 30);
  player.max_power_w_per_kg = estimate(10.5, 0.8);
  jobs::ProfilePercentile percentile;
  percentile.quantity = "50m";
  percentile.source = "sprint-50m-japan-2017";
  percentile.label = "Japanese school children, 50 m";
  percentile.why = "The reference held for 50 m and girls of 11.3 years.";
  percentile.restriction = "Approximate.";
  percentile.percentile = jobs::Estimate{60.5, 9.0, 45.0, 61.0, 76.0, std::nullopt};
  percentile.share_at_limit = 0.001;
  percentile.p_faster = 0.86;
  percentile.time_s = estimate(8.9, 0.3, std::nullopt);
  player.percentiles = {percentile};
  percentile.quantity = "30m";
  percentile.source = "squad-30m-throwers";
  percentile.label = "junior athletics squad (throwers), 30 m";
  player.percentiles.push_back(percentile);
  player.next_runs = {{"top_speed_mps", "a 30 m straight with times at 10 m and 30 m", 0.19, 0.12},
                      {"reaction_s", "a 20 m straight on the call with the first move timed", 0.1, 0.07}};
  player.marks[5] = {jobs::Mark::work, jobs::Unknown::none, 0.44, 0.1};
  player.marks[4] = {jobs::Mark::ordinary, jobs::Unknown::none, 0.08, 0.1};
  player.marks[1] = {jobs::Mark::good, jobs::Unknown::none, -0.2, 0.1};
  player.work_on = {{"second", "Loses 0.44 s rounding second beyond the child's own best way round, give or take 0.10.",
                     "the wide turn at second", "A cone 3 m outside the line.", 4, 90.0}};
  player.notes = {"Reaction here is reaction plus timer bias."};
  player.prior_log_top_speed = {1.8, 0.1};
  player.prior_log_time_constant = {0.0, 0.2};
  player.prior_reaction_s = {0.32, 0.1};
  player.prior_posture_cost_s = {{"prone", {0.7, 0.5}}};
  player.prior_segment_loss_s = {{"first", {0.3, 0.25}}};
  player.prior_bias_s = {{"stopwatch, signal", {-0.1, 0.05}}};
  player.prior_source = "Two published tables.";
  return player;
}

/// Nothing but an id and a run that told nothing.
inline jobs::PlayerProfile bare_player(const std::string& id) {
  jobs::PlayerProfile player;
  player.player = id;
  player.notes = {"Not in the roster."};
  return player;
}

inline jobs::ProfileResult squad(std::vector<jobs::PlayerProfile> players) {
  jobs::ProfileResult result;
  result.model.error.effort_cv = 0.02;
  result.model.prior.reaction_s = inference::Normal{0.3, 0.05};
  result.players = std::move(players);
  for (const jobs::PlayerProfile& player : result.players) {
    result.runs_used += player.runs_used;
    result.runs_left_out += player.runs_left_out;
  }
  result.dates = 4;
  result.notes = {"Two timers."};
  result.cautions = {"Warm up before sprints."};
  return result;
}

}  // namespace bagsplit::present::fixture
