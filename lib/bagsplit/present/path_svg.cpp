#include <algorithm>
#include <array>
#include <cmath>

#include "bagsplit/present/detail/path_drawing.hpp"
#include "bagsplit/present/path_report.hpp"
#include "bagsplit/safety/safety.hpp"
#include "bagsplit/text/markup.hpp"
#include "bagsplit/text/number_text.hpp"

namespace bagsplit::present {

namespace {

using basepath::PathPoint;
using jobs::PathPlan;

constexpr double page_width = 720.0, margin = 40.0;

std::string number(double value) {
  return text::fixed(value, 1);
}
std::string spot(const Spot& s) {
  return number(s.x) + "," + number(s.y);
}

std::string text_at(const Spot& at, std::string_view text, const char* anchor, int size, bool bold = false) {
  return "<text x=\"" + number(at.x) + "\" y=\"" + number(at.y) + "\" text-anchor=\"" + anchor + "\" font-size=\"" +
         std::to_string(size) + "\"" + (bold ? " font-weight=\"bold\"" : "") + ">" + text::escaped(text) + "</text>\n";
}

std::string stroke(const Spot& a, const Spot& b, std::string_view pen) {
  return "<line x1=\"" + number(a.x) + "\" y1=\"" + number(a.y) + "\" x2=\"" + number(b.x) + "\" y2=\"" + number(b.y) +
         "\" " + std::string(pen) + "/>\n";
}

std::string polyline(const std::vector<Spot>& spots, std::string_view pen, const char* shape = "polyline") {
  std::string out = std::string("<") + shape + " points=\"";
  for (const Spot& s : spots) {
    out += spot(s) + " ";
  }
  out.back() = '"';
  return out + " " + std::string(pen) + "/>\n";
}

// A paragraph of small print, its lines one under the other; moves `at` below it.
std::string lines_at(Spot& at, std::string_view text, std::size_t characters, int size) {
  std::string out;
  for (const std::string& one : text::wrapped(text::one_line(text), characters)) {
    out += text_at(at, one, "start", size);
    at.y += 1.3 * size;
  }
  return out;
}

constexpr std::string_view thin_styles[] = {
    "fill=\"none\" stroke=\"#333\" stroke-width=\"1\" stroke-dasharray=\"1.5 3\"",
    "fill=\"none\" stroke=\"#333\" stroke-width=\"1\" stroke-dasharray=\"7 3\"",
};

// The lowest and the highest plausible lateral limit, but for the one asked for.
std::vector<const jobs::LateralCase*> ends_of_range(const PathPlan& plan) {
  std::vector<const jobs::LateralCase*> ends;
  if (plan.lateral.size() > 1 && plan.turns()) {
    const double asked = std::get<basepath::RunnerLimits>(plan.question.limits).lateral_mps2;
    for (const jobs::LateralCase* c : {&plan.lateral.front(), &plan.lateral.back()}) {
      if (c->lateral_mps2 != asked) {
        ends.push_back(c);
      }
    }
  }
  return ends;
}

std::vector<Spot> spots_of(const std::vector<PathPoint>& path, const Ground& ground) {
  std::vector<Spot> spots;
  for (const PathPoint& p : path) {
    spots.push_back(ground.at(p));
  }
  return spots;
}

std::string bags_part(const PathPlan& plan, const Ground& ground) {
  const double b = plan.question.base_distance_m;
  std::string out = polyline({ground.at(0, 0), ground.at(b, 0), ground.at(b, b), ground.at(0, b)},
                             "fill=\"none\" stroke=\"#777\" stroke-width=\"0.8\"", "polygon");
  for (const std::vector<Spot>& outline : bag_outlines(plan.question, ground, 9.0)) {
    out += polyline(outline, "fill=\"#fff\" stroke=\"#000\" stroke-width=\"1.2\"", "polygon");
  }
  struct Label {
    const char* bag;
    double x, y, dx, dy;
    const char* anchor;
  };
  const std::array labels{Label{"home", 0, 0, 0, -88, "middle"}, Label{"first", b, 0, -22, -3, "end"},
                          Label{"second", b, b, 0, 72, "middle"}, Label{"third", 0, b, 22, -3, "start"}};
  for (const Label& l : labels) {
    Spot s = ground.at(l.x, l.y);
    s = {s.x + l.dx, s.y + l.dy};
    const auto reached = std::find_if(plan.answer.bags.begin(), plan.answer.bags.end(),
                                      [&](const jobs::PathBag& one) { return one.bag == l.bag; });
    std::string name = l.bag;
    if (name == runs::bag_name(plan.question.course.bags.front()) && reached == plan.answer.bags.end()) {
      name += " (start)";
    }
    out += text_at(s, name, l.anchor, 13, true);
    if (reached != plan.answer.bags.end()) {
      const bool stops = reached + 1 == plan.answer.bags.end() && plan.question.course.finish == runs::Finish::stop;
      out += text_at(
          {s.x, s.y + 15},
          text::fixed(reached->time_s, 2) + " s, " + (stops ? "stop" : text::fixed(reached->speed_mps, 1) + " m/s"),
          l.anchor, 12);
    }
  }
  return out;
}

std::string path_part(const PathPlan& plan, const Ground& ground) {
  std::string out = polyline(speed_band(plan.path, ground, 1.0, 12.0),
                             "fill=\"#ccc\" stroke=\"#000\" stroke-width=\"0.8\"", "polygon");
  const double outside = plan.question.course.reverse ? -1.0 : 1.0;
  const double end = plan.path.back().time_s;
  for (int k = 1; 0.5 * k < end; ++k) {
    const PathPoint p = at_time(plan.path, 0.5 * k);
    const Spot s = ground.at(p);
    const Spot r = right_of(p);
    const double half = k % 2 == 0 ? 10.0 : 7.0;
    out += stroke({s.x - half * r.x, s.y - half * r.y}, {s.x + half * r.x, s.y + half * r.y},
                  "stroke=\"#000\" stroke-width=\"1.2\"");
    if (k % 2 == 0) {
      out +=
          text_at({s.x + outside * 20.0 * r.x, s.y + outside * 20.0 * r.y + 4.0}, std::to_string(k / 2), "middle", 11);
    }
  }
  return out;
}

// How far out, on each leg: a measure from the base line to the path, its number inside the diamond.
std::string widest_part(const PathPlan& plan, const Ground& ground) {
  std::string out;
  const auto& bags = plan.question.course.bags;
  const double b = plan.question.base_distance_m;
  const auto point = [&](runs::Bag bag) {
    return basepath::measuring_point({b, plan.question.course.bag_width_m}, bag);
  };
  for (std::size_t k = 0; k < plan.answer.legs.size(); ++k) {
    const basepath::Swing& swing = plan.answer.legs[k].swing;
    if (swing.widest_m < 0.25) {
      continue;
    }
    const basepath::Point from = point(bags[k]);
    const basepath::Point to = point(bags[k + 1]);
    const double share = swing.along_m / b;
    const Spot foot = ground.at(from.x_m + share * (to.x_m - from.x_m), from.y_m + share * (to.y_m - from.y_m));
    const Spot tip = ground.at(at_time(plan.path, swing.time_s));
    const double length = std::hypot(tip.x - foot.x, tip.y - foot.y);
    const Spot in{(foot.x - tip.x) / length, (foot.y - tip.y) / length};
    out += stroke(foot, tip, "stroke=\"#000\" stroke-width=\"0.8\"");
    out += "<circle cx=\"" + number(foot.x) + "\" cy=\"" + number(foot.y) + "\" r=\"2\"/>\n";
    const char* anchor = in.x < 0.0 ? "end" : "start";
    // The words keep away from the corners, where the bags have theirs.
    const double aside = std::clamp(share, 0.43, 0.57);
    const Spot beside = ground.at(from.x_m + aside * (to.x_m - from.x_m), from.y_m + aside * (to.y_m - from.y_m));
    const double y = beside.y + (in.y < 0.0 ? -19.0 : 12.0);
    out += text_at({beside.x + 8.0 * in.x, y}, text::fixed(swing.widest_m, 1) + " m out,", anchor, 11);
    out += text_at({beside.x + 8.0 * in.x, y + 13.0}, text::fixed(swing.along_m, 1) + " m along", anchor, 11);
  }
  return out;
}

std::string speed_chart(const PathPlan& plan, const Spot& low, const Spot& high) {
  double last = plan.path.back().time_s;
  double top = top_speed(plan.path);
  const auto ends = ends_of_range(plan);
  for (const jobs::LateralCase* c : ends) {
    last = std::max(last, c->path.back().time_s);
    top = std::max(top, top_speed(c->path));
  }
  top = std::ceil(top);
  const auto place = [&](double time, double speed) {
    return Spot{low.x + (high.x - low.x) * time / last, high.y - (high.y - low.y) * speed / top};
  };
  std::string out = text_at({low.x, low.y - 22.0}, "Speed, m/s, over time, s", "start", 12, true);
  const int step = top > 12.0 ? 4 : 2;
  for (int v = 0; v <= static_cast<int>(top); v += step) {
    out += stroke(place(0, v), place(last, v), "stroke=\"#aaa\" stroke-width=\"0.6\"");
    out += text_at({low.x - 6.0, place(0, v).y + 4.0}, std::to_string(v), "end", 11);
  }
  for (int t = 0; t <= static_cast<int>(last); ++t) {
    out += stroke(place(t, 0), {place(t, 0).x, high.y + 4.0}, "stroke=\"#000\" stroke-width=\"0.8\"");
    if (last < 25.0 || t % 5 == 0) {
      out += text_at({place(t, 0).x, high.y + 16.0}, std::to_string(t), "middle", 11);
    }
  }
  for (const jobs::PathBag& bag : plan.answer.bags) {
    const Spot foot = place(bag.time_s, 0);
    out += stroke(foot, {foot.x, low.y - 4.0}, "stroke=\"#000\" stroke-width=\"0.8\" stroke-dasharray=\"3 3\"");
    out += text_at({foot.x, low.y - 7.0}, bag.bag, foot.x > high.x - 25.0 ? "end" : "middle", 11);
  }
  const auto curve = [&](const std::vector<PathPoint>& path, std::string_view pen) {
    std::vector<Spot> spots;
    for (const PathPoint& p : path) {
      spots.push_back(place(p.time_s, p.speed_mps));
    }
    return polyline(spots, pen);
  };
  for (std::size_t k = 0; k < ends.size(); ++k) {
    out += curve(ends[k]->path, thin_styles[k]);
  }
  return out + curve(plan.path, "fill=\"none\" stroke=\"#000\" stroke-width=\"2\"");
}

std::string legend_part(const PathPlan& plan, Spot at) {
  std::string out = lines_at(
      at, "Band: the path, as wide as the runner is fast; strokes across it every half second, whole seconds numbered.",
      112, 11);
  const auto ends = ends_of_range(plan);
  for (std::size_t k = 0; k < ends.size(); ++k) {
    out += stroke({at.x, at.y - 4.0}, {at.x + 34.0, at.y - 4.0}, thin_styles[k]);
    out += text_at({at.x + 42.0, at.y},
                   "if the turning limit were " + text::fixed(ends[k]->lateral_mps2, 1) +
                       " m/s2: " + text::fixed(ends[k]->answer.total_s, 2) + " s, widest " +
                       text::fixed(ends[k]->answer.widest_m(), 1) + " m",
                   "start", 11);
    at.y += 15.0;
  }
  out +=
      lines_at(at, safety::words(safety::Caution::yardstick) + " " + safety::words(safety::Caution::league), 112, 11);
  return out;
}

}  // namespace

std::string path_svg(const PathPlan& plan) {
  std::vector<const std::vector<PathPoint>*> paths{&plan.path};
  const auto ends = ends_of_range(plan);
  for (const jobs::LateralCase* c : ends) {
    paths.push_back(&c->path);
  }
  const std::string title = "Best base path: " + plan.question.course.name + ", bases " +
                            base_distance_words(plan.question.base_distance_m) + " apart";
  std::string out =
      "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"720\" height=\"960\" viewBox=\"0 0 720 960\" role=\"img\" "
      "font-family=\"Helvetica, Arial, sans-serif\">\n";
  out += "<title>" + text::escaped(title) + "</title>\n<desc>" +
         text::escaped(path_runner_words(plan) + ", " + path_limits_words(plan) + ": " +
                       text::fixed(plan.answer.total_s, 2) + " s, widest " + text::fixed(plan.answer.widest_m(), 1) +
                       " m outside the line") +
         "</desc>\n";
  out += "<rect width=\"720\" height=\"960\" fill=\"#fff\"/>\n";
  out += text_at({margin, 44.0}, title, "start", 19, true);
  Spot at{margin, 66.0};
  out += lines_at(at, path_runner_words(plan) + ": " + path_limits_words(plan) + ".", 108, 12);
  std::string total =
      text::fixed(plan.answer.total_s, 2) + " s from first move over " + text::fixed(plan.answer.length_m, 1) + " m";
  if (plan.answer.saved_over_square_s && plan.answer.saved_over_circle_s) {
    total += "; saves " + text::fixed(*plan.answer.saved_over_square_s, 2) +
             " s against the lines with slow corners, " + text::fixed(*plan.answer.saved_over_circle_s, 2) +
             " s against the circle";
  }
  out += lines_at(at, total + ".", 108, 12);
  const Ground ground(paths, plan.question.base_distance_m, {margin + 25.0, at.y + 20.0},
                      {page_width - margin - 25.0, 650.0});
  out += bags_part(plan, ground);
  for (std::size_t k = 0; k < ends.size(); ++k) {
    out += polyline(spots_of(ends[k]->path, ground), thin_styles[k]);
  }
  out += path_part(plan, ground) + widest_part(plan, ground);
  out += speed_chart(plan, {margin + 20.0, 730.0}, {page_width - margin, 850.0});
  out += legend_part(plan, {margin, 890.0});
  return out + "</svg>\n";
}

}  // namespace bagsplit::present
