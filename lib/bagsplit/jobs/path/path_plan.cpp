#include "bagsplit/jobs/path/path_plan.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <sstream>

#include "bagsplit/jobs/fast_end.hpp"
#include "bagsplit/safety/safety.hpp"
#include "bagsplit/stats/distributions.hpp"

namespace bagsplit::jobs {

namespace {

constexpr double degrees = 180.0 / std::numbers::pi;

double turned_deg(double heading_deg, double line_deg) {
  return std::remainder(heading_deg - line_deg, 360.0);
}

basepath::PathProblem problem_of(const PathQuestion& question, const basepath::Limits& limits) {
  basepath::PathProblem problem = basepath::course_problem(question.course, question.base_distance_m, limits);
  problem.start_speed_mps = question.start_speed_mps;
  problem.max_outside_m = question.max_outside_m;
  return problem;
}

// Base lines that a runner on the corners of the question's own square would follow.
double mean_leg_m(const std::vector<basepath::Point>& points) {
  double sum = 0.0;
  for (std::size_t k = 1; k < points.size(); ++k) {
    sum += std::hypot(points[k].x_m - points[k - 1].x_m, points[k].y_m - points[k - 1].y_m);
  }
  return sum / static_cast<double>(points.size() - 1);
}

PathAnswer in_words_of_a_coach(const PathQuestion& question, const basepath::PathProblem& problem,
                               const basepath::PathResult& result) {
  PathAnswer a;
  a.total_s = result.total_s;
  a.length_m = result.length_m;
  a.straight_s = result.straight_s;
  a.start_heading_deg = result.passages.front().heading_deg;
  const double inside = question.course.reverse ? -1.0 : 1.0;  // sign of a turn towards the inside
  const auto line_deg = [&](std::size_t leg) {
    const basepath::Point& from = problem.line_points[leg];
    const basepath::Point& to = problem.line_points[leg + 1];
    return degrees * std::atan2(to.y_m - from.y_m, to.x_m - from.x_m);
  };
  a.start_angle_deg = -inside * turned_deg(a.start_heading_deg, line_deg(0));
  for (std::size_t k = 0; k < result.leg_s.size(); ++k) {
    const basepath::Passage& p = result.passages[k + 1];
    a.bags.push_back({std::string(runs::bag_name(question.course.bags[k + 1])), p.time_s, result.leg_s[k], p.speed_mps,
                      p.heading_deg, inside * turned_deg(p.heading_deg, line_deg(k))});
    a.legs.push_back({std::string(runs::bag_name(question.course.bags[k])), a.bags.back().bag, result.swings[k]});
    if (a.legs[k].swing.widest_m > a.legs[a.widest_leg].swing.widest_m) {
      a.widest_leg = k;
    }
  }
  const std::size_t legs = a.legs.size();
  if (legs > 1 && legs <= 4 && question.start_speed_mps == 0.0) {
    const double side = mean_leg_m(problem.points);
    const double corner = std::min(basepath::default_corner_radius_m, 0.25 * side);
    a.saved_over_square_s = basepath::square_path(legs, side, problem.limits, problem.stop, corner).total_s - a.total_s;
    a.saved_over_circle_s = basepath::circle_path(legs, side, problem.limits, problem.stop).total_s - a.total_s;
  }
  return a;
}

// Spread of the total over an age group: log T linear in log V and log tau, slopes from the multipliers.
inference::Estimate spread(const PathQuestion& question, const basepath::RunnerLimits& limits, double total_s,
                           const basepath::Sensitivity& sensitivity) {
  const double by_speed = sensitivity.top_speed * limits.top_speed_mps / total_s * question.runner.log_top_speed->sd;
  const double by_tau =
      sensitivity.time_constant * limits.time_constant_s / total_s * question.runner.log_time_constant->sd;
  const double sd =
      std::sqrt(by_speed * by_speed + by_tau * by_tau + 2.0 * question.runner.log_correlation * by_speed * by_tau);
  const double z = stats::normal_quantile(0.5 + 0.5 * question.level);
  const double mean = total_s * std::exp(0.5 * sd * sd);
  return {mean,
          mean * std::sqrt(std::expm1(sd * sd)),
          total_s * std::exp(-z * sd),
          total_s,
          total_s * std::exp(z * sd),
          std::nullopt};
}

}  // namespace

double fast_end_mps(const PathQuestion& question) {
  if (question.runner.log_top_speed) {
    return fast_end_mps(*question.runner.log_top_speed);
  }
  if (const auto* runner = std::get_if<basepath::RunnerLimits>(&question.limits)) {
    return runner->top_speed_mps;
  }
  return fast_end_mps(question.runner.age_years, question.runner.sex);
}

std::string impossible_stop(const PathQuestion& question) {
  const bool stops = question.course.finish == runs::Finish::stop;
  if (!stops || question.course.bags.size() != 2 || question.start_speed_mps <= 0.0) {
    return {};
  }
  const auto* runner = std::get_if<basepath::RunnerLimits>(&question.limits);
  const double braking =
      runner ? runner->braking_mps2 : std::get<basepath::PointMassLimit>(question.limits).acceleration_mps2;
  const double distance = mean_leg_m(problem_of(question, question.limits).points);
  const double needed = question.start_speed_mps * question.start_speed_mps / (2.0 * distance);
  if (needed <= braking) {
    return {};
  }
  std::ostringstream text;
  text << (runner ? "braking limit" : "point-mass limit") << " is " << braking << " m/s2, but a stop within "
       << distance << " m from " << question.start_speed_mps << " m/s needs at least " << needed;
  return text.str();
}

std::optional<PathQuestion> own_path_question(const PlayerProfile& profile, const std::vector<runs::Course>& courses) {
  if (!profile.best_path || !profile.base_distance_m || !profile.top_speed_mps || !profile.time_constant_s) {
    return std::nullopt;
  }
  const BestPathYardstick& best = *profile.best_path;
  const runs::Course* course = runs::find_course(courses, best.course);
  if (course == nullptr || !course->is_base_path()) {
    return std::nullopt;
  }
  PathQuestion question;
  question.course = *course;
  question.base_distance_m = *profile.base_distance_m;
  question.limits = basepath::RunnerLimits{profile.top_speed_mps->median, profile.time_constant_s->median,
                                           best.lateral_mps2, best.braking_mps2};
  question.runner.kind = PathRunner::Kind::player;
  question.runner.player = profile.player;
  question.runner.age_years = profile.age_years;
  question.runner.sex = profile.sex;
  question.runner.total_s = best.time_s;
  return question;
}

PathPlan plan_path(const PathQuestion& question) {
  PathPlan plan;
  plan.question = question;
  const basepath::PathProblem problem = problem_of(question, question.limits);
  basepath::PathResult result = basepath::best_path(problem);
  plan.status = result.status;
  plan.certificate = result.certificate;
  if (!result.usable()) {
    plan.message = result.message;
    return plan;
  }
  plan.answer = in_words_of_a_coach(question, problem, result);
  plan.sensitivity = result.sensitivity;
  plan.path = std::move(result.path);
  plan.cautions = safety::path_cautions(fast_end_mps(question));

  const auto* runner = std::get_if<basepath::RunnerLimits>(&question.limits);
  if (runner == nullptr) {
    return plan;
  }
  if (question.runner.log_top_speed && question.runner.log_time_constant) {
    plan.total_interval_s = spread(question, *runner, plan.answer.total_s, plan.sensitivity);
  }
  if (question.runner.total_s) {
    plan.total_interval_s = question.runner.total_s;
  }
  if (!question.other_laterals) {
    return plan;
  }
  const basepath::RangedDefault range = basepath::default_lateral_mps2();
  std::vector<double> laterals{range.low, range.value, range.high, runner->lateral_mps2};
  std::sort(laterals.begin(), laterals.end());
  laterals.erase(std::unique(laterals.begin(), laterals.end()), laterals.end());
  for (const double lateral : laterals) {
    if (lateral == runner->lateral_mps2) {
      plan.lateral.push_back({lateral, plan.answer, plan.path});
      continue;
    }
    basepath::RunnerLimits other = *runner;
    other.lateral_mps2 = lateral;
    const basepath::PathProblem changed = problem_of(question, other);
    basepath::PathResult found = basepath::best_path(changed);
    if (found.usable()) {
      PathAnswer answer = in_words_of_a_coach(question, changed, found);
      plan.lateral.push_back({lateral, std::move(answer), std::move(found.path)});
    } else {
      plan.notes.push_back("For one of the plausible turning limits no path could be proven best; it is left out.");
    }
  }
  return plan;
}

}  // namespace bagsplit::jobs
