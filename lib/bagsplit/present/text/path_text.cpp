#include <cmath>
#include <functional>

#include "bagsplit/present/path_report.hpp"
#include "bagsplit/runs/units.hpp"
#include "bagsplit/text/number_text.hpp"
#include "bagsplit/text/text_table.hpp"

namespace bagsplit::present {

namespace {

using jobs::PathAnswer;
using jobs::PathPlan;

std::string degrees_words(double angle) {
  const std::string number = text::fixed(std::fabs(angle), 0);
  return number + (number == "1" ? " degree" : " degrees");
}

text::TextTable bag_table(const PathAnswer& a) {
  text::TextTable table({{"reached", "", text::Align::left},
                         {"time", "s"},
                         {"leg", "s"},
                         {"speed", "m/s"},
                         {"entry", "deg"},
                         {"leaves", "m"},
                         {"widest", "m"},
                         {"there", "m"}});
  for (std::size_t k = 0; k < a.bags.size(); ++k) {
    const jobs::PathBag& b = a.bags[k];
    const basepath::Swing& s = a.legs[k].swing;
    const bool swings = s.widest_m >= 0.05;
    table.add_row({b.bag, text::fixed(b.time_s, 2), text::fixed(b.leg_s, 2), text::fixed(b.speed_mps, 1),
                   text::fixed(b.entry_angle_deg, 0), text::fixed(s.leaves_m, 1),
                   swings ? text::fixed(s.widest_m, 1) : std::string(text::absent),
                   swings ? text::fixed(s.along_m, 1) : std::string(text::absent)});
  }
  return table;
}

std::string leg_words(const PathPlan& plan, std::size_t k) {
  const PathAnswer& a = plan.answer;
  const basepath::Swing& s = a.legs[k].swing;
  const jobs::PathBag& b = a.bags[k];
  const bool last = k + 1 == a.bags.size();
  std::string out = a.legs[k].from + " to " + b.bag + ": ";
  if (s.widest_m < 0.05) {
    out += "straight along the line";
  } else {
    if (k == 0 && std::fabs(a.start_angle_deg) >= 1.0) {
      out += "head " + degrees_words(a.start_angle_deg) + (a.start_angle_deg > 0.0 ? " outside" : " inside") +
             " the line from the first step, ";
    } else if (s.leaves_m && k == 0) {
      out += "leave the line " + text::fixed(*s.leaves_m, 1) + " m from " + a.legs[k].from + ", ";
    } else if (k > 0) {
      out += "carry the turn on outside the line, ";
    }
    out += "widest " + text::fixed(s.widest_m, 1) + " m outside it, " + text::fixed(s.along_m, 1) + " m from " +
           a.legs[k].from;
  }
  if (last) {
    out += plan.question.course.finish == runs::Finish::stop
               ? ", then stop on " + b.bag
               : ", through " + b.bag + " at " + text::fixed(b.speed_mps, 1) + " m/s";
  } else {
    out += ", over " + b.bag + " at " + text::fixed(b.speed_mps, 1) + " m/s, by then turned " +
           degrees_words(b.entry_angle_deg) +
           (b.entry_angle_deg < -0.5 ? " outwards" : " towards " + a.bags[k + 1].bag);
  }
  return out + ".";
}

// Each number against the lateral limit: a row a number, a column a limit.
std::string lateral_part(const PathPlan& plan, const text::TextOptions& options) {
  if (plan.lateral.size() < 2) {
    return {};
  }
  if (!plan.turns()) {
    return "\n" + text::paragraph("The path is straight: the turning limit plays no part.", options.width);
  }
  const double asked = std::get<basepath::RunnerLimits>(plan.question.limits).lateral_mps2;
  std::vector<text::TextTable::Column> columns{{"turning limit", "", text::Align::left}};
  for (const jobs::LateralCase& c : plan.lateral) {
    columns.push_back({text::fixed(c.lateral_mps2, 1) + (c.lateral_mps2 == asked ? "*" : ""), "m/s2"});
  }
  text::TextTable table(std::move(columns));
  const auto row = [&](std::string name, int decimals,
                       const std::function<std::optional<double>(const PathAnswer&)>& value) {
    std::vector<std::string> cells{std::move(name)};
    for (const jobs::LateralCase& c : plan.lateral) {
      cells.push_back(text::fixed(value(c.answer), decimals));
    }
    table.add_row(std::move(cells));
  };
  row("total, s", 2, [](const PathAnswer& a) { return a.total_s; });
  if (plan.answer.saved_over_square_s) {
    row("saved, slow corners, s", 2, [](const PathAnswer& a) { return a.saved_over_square_s; });
    row("saved, circle, s", 2, [](const PathAnswer& a) { return a.saved_over_circle_s; });
  }
  row("heads outside, deg", 0, [](const PathAnswer& a) { return a.start_angle_deg; });
  for (std::size_t k = 0; k < plan.answer.bags.size(); ++k) {
    const std::string& bag = plan.answer.bags[k].bag;
    row(bag + ": time, s", 2, [k](const PathAnswer& a) { return a.bags[k].time_s; });
    row("  speed, m/s", 1, [k](const PathAnswer& a) { return a.bags[k].speed_mps; });
    row("  entry, deg", 0, [k](const PathAnswer& a) { return a.bags[k].entry_angle_deg; });
    row("  widest before it, m", 1, [k](const PathAnswer& a) { return a.legs[k].swing.widest_m; });
    row("  how far along, m", 1, [k](const PathAnswer& a) {
      return a.legs[k].swing.widest_m >= 0.05 ? std::optional(a.legs[k].swing.along_m) : std::nullopt;
    });
    row("  leaves line at, m", 1, [k](const PathAnswer& a) { return a.legs[k].swing.leaves_m; });
  }
  const basepath::RangedDefault range = basepath::default_lateral_mps2();
  return "\n" + text::paragraph("How strongly each number depends on the turning limit", options.width) +
         text::paragraph("Nobody has measured it on children; " + text::fixed(range.low, 1) + " to " +
                             text::fixed(range.high, 1) + " m/s2 is plausible (from " + std::string(range.source) +
                             ").",
                         options.width) +
         table.str(options) + text::paragraph("* used above.", options.width);
}

}  // namespace

std::string base_distance_words(double metres) {
  const double feet = metres / runs::metres_per_foot;
  const bool round = std::fabs(feet - std::round(feet)) < 1e-6;
  return text::fixed(metres, 2) + " m" + (round ? " (" + text::fixed(feet, 0) + " ft)" : "");
}

std::string path_runner_words(const PathPlan& plan) {
  const jobs::PathRunner& runner = plan.question.runner;
  std::string out;
  const auto add = [&](const std::string& word) { out += (out.empty() ? "" : ", ") + word; };
  if (runner.player) {
    add("Player " + text::one_line(*runner.player));
  }
  if (runner.sex) {
    add(*runner.sex == runs::Sex::female ? "F" : "M");
  }
  if (runner.age_years) {
    add(text::fixed(*runner.age_years, 1) + " years");
  }
  switch (runner.kind) {
    case jobs::PathRunner::Kind::given:
      return "Runner as given";
    case jobs::PathRunner::Kind::age_group:
      return out.empty() ? "Middle of all ages" : out + ", middle of that group";
    case jobs::PathRunner::Kind::player:
      break;
  }
  return out;
}

std::string path_limits_words(const PathPlan& plan) {
  if (const auto* runner = std::get_if<basepath::RunnerLimits>(&plan.question.limits)) {
    return "top speed " + text::fixed(runner->top_speed_mps, 2) + " m/s, time constant " +
           text::fixed(runner->time_constant_s, 2) + " s; turning limit " + text::fixed(runner->lateral_mps2, 1) +
           " m/s2, braking limit " + text::fixed(runner->braking_mps2, 1) + " m/s2";
  }
  return "point mass, acceleration at most " +
         text::fixed(std::get<basepath::PointMassLimit>(plan.question.limits).acceleration_mps2, 3) +
         " m/s2 in any direction, no top speed";
}

std::string path_text(const PathPlan& plan, const text::TextOptions& options) {
  const PathAnswer& a = plan.answer;
  std::string out =
      text::heading(text::shortened("Best base path: " + text::one_line(plan.question.course.name) + ", bases " +
                                        base_distance_words(plan.question.base_distance_m) + " apart",
                                    options.width),
                    options);
  out += text::paragraph(path_runner_words(plan) + ": " + path_limits_words(plan) + ".", options.width);
  if (!plan.question.runner.source.empty()) {
    out += text::paragraph(plan.question.runner.source, options.width);
  }
  out += "\n";
  std::string total = text::fixed(a.total_s, 2) + " s";
  if (plan.total_interval_s) {
    total += plan.question.runner.kind == jobs::PathRunner::Kind::age_group
                 ? " (" + text::percent(plan.question.level) + " of the group from "
                 : " (" + text::percent(plan.question.level) + " interval ";
    total += text::fixed(plan.total_interval_s->lo, 2) + " to " + text::fixed(plan.total_interval_s->hi, 2) + " s)";
  }
  out += text::paragraph(total + " from first move, over " + text::fixed(a.length_m, 1) +
                             " m; a straight sprint as long as the base lines would take " +
                             text::fixed(a.straight_s, 2) + " s.",
                         options.width);
  if (a.saved_over_square_s && a.saved_over_circle_s) {
    out += text::paragraph("Saves " + text::fixed(*a.saved_over_square_s, 2) +
                               " s against the base lines with slow corners (turned on a radius of " +
                               text::fixed(basepath::default_corner_radius_m, 0) + " m), " +
                               text::fixed(*a.saved_over_circle_s, 2) + " s against the circle through the bags.",
                           options.width);
  }
  out += "\n" + bag_table(a).str(options);
  out += text::paragraph(
      "entry: turned from the line just run towards the inside, over the bag. leaves: where along the line the path is "
      "first "
      "0.3 m outside it. widest, there: greatest distance outside the line, and where along it.",
      options.width);
  out += "\nHow to run it\n";
  for (std::size_t k = 0; k < a.legs.size(); ++k) {
    out += text::paragraph(leg_words(plan, k), options.width, "- ");
  }
  out += lateral_part(plan, options);
  out += "\n" + text::paragraph("Certified: checked apart from the solver, within " +
                                    text::fixed(plan.certificate.cost_s(), 4) + " s of the best of all paths near it.",
                                options.width);
  for (const std::string& note : plan.notes) {
    out += text::paragraph(note, options.width);
  }
  out += "\nCautions\n";
  out += text::listed(plan.cautions, options.width);
  return out;
}

}  // namespace bagsplit::present
