#include "bagsplit/present/machine/json_parts.hpp"
#include "bagsplit/present/path_report.hpp"
#include "bagsplit/text/csv_writer.hpp"
#include "bagsplit/text/json_writer.hpp"
#include "bagsplit/text/number_text.hpp"

namespace bagsplit::present {

namespace {

using jobs::PathAnswer;
using jobs::PathPlan;
using Layout = text::JsonWriter::Layout;

template <typename Value>
void value_or_null(text::JsonWriter& json, std::string_view name, const std::optional<Value>& value) {
  json.key(name);
  value ? json.text(*value) : json.null();
}

void write_runner(text::JsonWriter& json, const PathPlan& plan) {
  const jobs::PathRunner& runner = plan.question.runner;
  json.key("runner").begin_object();
  json.member("kind", runner.kind == jobs::PathRunner::Kind::given       ? "given"
                      : runner.kind == jobs::PathRunner::Kind::age_group ? "age-group"
                                                                         : "player");
  value_or_null(json, "player", runner.player);
  // As asked for, or a player's.
  json.member("age_years", runner.player ? text::told_age(runner.age_years) : runner.age_years);
  value_or_null(json, "sex", runner.sex ? std::optional(*runner.sex == runs::Sex::female ? "F" : "M") : std::nullopt);
  const auto* r = std::get_if<basepath::RunnerLimits>(&plan.question.limits);
  const auto* p = std::get_if<basepath::PointMassLimit>(&plan.question.limits);
  const auto limit = [&](double basepath::RunnerLimits::*member) {
    return r ? std::optional(r->*member) : std::nullopt;
  };
  json.member("top_speed_mps", limit(&basepath::RunnerLimits::top_speed_mps))
      .member("time_constant_s", limit(&basepath::RunnerLimits::time_constant_s))
      .member("lateral_limit_mps2", limit(&basepath::RunnerLimits::lateral_mps2))
      .member("braking_limit_mps2", limit(&basepath::RunnerLimits::braking_mps2))
      .member("point_mass_mps2", p ? std::optional(p->acceleration_mps2) : std::nullopt);
  value_or_null(json, "source", runner.source.empty() ? std::nullopt : std::optional(runner.source));
  json.end_object();
}

void write_bags(text::JsonWriter& json, const PathAnswer& a) {
  json.key("bags").begin_array();
  for (const jobs::PathBag& b : a.bags) {
    json.begin_object(Layout::line)
        .member("bag", b.bag)
        .member("time_s", b.time_s)
        .member("speed_mps", b.speed_mps)
        .member("heading_deg", b.heading_deg)
        .member("entry_angle_deg", b.entry_angle_deg)
        .member("leg_s", b.leg_s)
        .end_object();
  }
  json.end_array();
}

void write_legs(text::JsonWriter& json, const PathAnswer& a) {
  json.key("legs").begin_array();
  for (const jobs::PathLeg& leg : a.legs) {
    json.begin_object(Layout::line)
        .member("from", leg.from)
        .member("to", leg.to)
        .member("leaves_line_m", leg.swing.leaves_m)
        .member("widest_m", leg.swing.widest_m)
        .member("widest_at_m", leg.swing.along_m)
        .member("widest_time_s", leg.swing.time_s)
        .end_object();
  }
  json.end_array();
}

void write_lateral(text::JsonWriter& json, const PathPlan& plan) {
  json.key("lateral_limits").begin_array();
  for (const jobs::LateralCase& c : plan.lateral) {
    json.begin_object()
        .member("lateral_limit_mps2", c.lateral_mps2)
        .member("total_s", c.answer.total_s)
        .member("length_m", c.answer.length_m)
        .member("widest_m", c.answer.widest_m())
        .member("start_angle_deg", c.answer.start_angle_deg)
        .member("saved_over_square_s", c.answer.saved_over_square_s)
        .member("saved_over_circle_s", c.answer.saved_over_circle_s);
    write_bags(json, c.answer);
    write_legs(json, c.answer);
    json.end_object();
  }
  json.end_array();
}

void write_certificate(text::JsonWriter& json, const basepath::Certificate& c) {
  json.key("certificate")
      .begin_object()
      .member("status", "certified")
      .member("cost_s", c.cost_s())
      .member("optimality_s", c.optimality_s)
      .member("violation_s", c.violation_s)
      .member("miss_s", c.miss_s)
      .member("hamiltonian_drift", c.hamiltonian_drift)
      .member("start_s_per_rad", c.start_s_per_rad)
      .member("largest_excess_mps2", c.largest_excess_mps2)
      .member("largest_miss_m", c.largest_miss_m)
      .member("intervals", std::uint64_t{c.intervals})
      .member("iterations", static_cast<std::uint64_t>(c.iterations))
      .end_object();
}

}  // namespace

std::string path_json(const PathPlan& plan) {
  const PathAnswer& a = plan.answer;
  const runs::Course& course = plan.question.course;
  text::JsonWriter json;
  json.begin_object().member("schema", "bagsplit.path/1").member("course", course.name);
  json.member("base_distance_m", plan.question.base_distance_m)
      .member("finish", course.finish == runs::Finish::stop ? "stop" : "through")
      .member("touch", course.touch == runs::Touch::edge ? "edge" : "point")
      .member("start_speed_mps", plan.question.start_speed_mps)
      .member("max_outside_m", plan.question.max_outside_m);
  write_runner(json, plan);
  json.member("total_s", a.total_s).key("total_interval_s");
  if (const auto& e = plan.total_interval_s) {
    json.begin_object(Layout::line)
        .member("level", plan.question.level)
        .member("mean", e->mean)
        .member("sd", e->sd)
        .member("lo", e->lo)
        .member("median", e->median)
        .member("hi", e->hi)
        .end_object();
  } else {
    json.null();
  }
  write_bags(json, a);
  json.member("length_m", a.length_m)
      .member("widest_m", a.widest_m())
      .member("straight_s", a.straight_s)
      .member("start_heading_deg", a.start_heading_deg)
      .member("start_angle_deg", a.start_angle_deg)
      .member("saved_over_square_s", a.saved_over_square_s)
      .member("saved_over_circle_s", a.saved_over_circle_s);
  write_legs(json, a);
  write_lateral(json, plan);
  json.key("sensitivity_s")
      .begin_object(Layout::line)
      .member("per_top_speed_mps", plan.sensitivity.top_speed)
      .member("per_time_constant_s", plan.sensitivity.time_constant)
      .member("per_lateral_limit_mps2", plan.sensitivity.lateral)
      .member("per_braking_limit_mps2", plan.sensitivity.braking)
      .member("per_point_mass_mps2", plan.sensitivity.acceleration)
      .end_object();
  write_certificate(json, plan.certificate);
  write_texts(json, "notes", plan.notes);
  write_texts(json, "cautions", plan.cautions);
  json.end_object();
  return json.take();
}

std::string path_csv(const PathPlan& plan) {
  text::CsvWriter csv;
  for (const char* column :
       {"time_s", "x_m", "y_m", "speed_mps", "heading_deg", "along_mps2", "across_mps2", "towards"}) {
    csv.text(column);
  }
  csv.end_row();
  for (const basepath::PathPoint& p : plan.path) {
    csv.number(p.time_s).number(p.x_m).number(p.y_m).number(p.speed_mps).number(p.heading_deg).number(p.along_mps2);
    csv.number(p.across_mps2).text(plan.answer.legs.at(p.leg).to).end_row();
  }
  return csv.take();
}

}  // namespace bagsplit::present
