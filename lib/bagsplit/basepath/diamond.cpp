#include "bagsplit/basepath/diamond.hpp"

#include <cmath>
#include <nlohmann/json.hpp>
#include <sstream>
#include <stdexcept>

#include "bagsplit/builtin/builtin.hpp"
#include "bagsplit/runs/units.hpp"
#include "bagsplit/stats/detail/check.hpp"

namespace bagsplit::basepath {

namespace {

using runs::Bag;

std::string text_or_empty(const nlohmann::json& object, const char* key) {
  return object.contains(key) ? object.at(key).get<std::string>() : std::string();
}

std::optional<double> length(const nlohmann::json& object, const char* key, double unit_m) {
  return object.contains(key) ? std::optional(object.at(key).get<double>() * unit_m) : std::nullopt;
}

// The middle of the edge on the base line that faces the neighbour: where a run from or to that neighbour starts or
// ends.
Point near_edge(const Diamond& d, Bag bag, Bag neighbour) {
  const Point at = measuring_point(d, bag);
  const Point to = measuring_point(d, neighbour);
  const double depth = bag == Bag::home ? 0.0 : bag == Bag::second ? 0.5 * d.bag_width_m : d.bag_width_m;
  const double share = depth / d.base_distance_m;
  return {at.x_m + share * (to.x_m - at.x_m), at.y_m + share * (to.y_m - at.y_m)};
}

}  // namespace

void check(const Diamond& diamond) {
  stats::check::positive("diamond", "base_distance_m", diamond.base_distance_m);
  stats::check::positive("diamond", "bag_width_m", diamond.bag_width_m);
  if (diamond.bag_width_m >= 0.5 * diamond.base_distance_m) {
    std::ostringstream text;
    text << "diamond: bag_width_m is " << diamond.bag_width_m << ", but must be below half of base_distance_m ("
         << diamond.base_distance_m << ")";
    throw std::domain_error(text.str());
  }
}

Point measuring_point(const Diamond& diamond, Bag bag) {
  const double b = diamond.base_distance_m;
  switch (bag) {
    case Bag::first:
      return {b, 0.0};
    case Bag::second:
      return {b, b};
    case Bag::third:
      return {0.0, b};
    case Bag::home:
      break;
  }
  return {0.0, 0.0};
}

Point inside_corner(const Diamond& diamond, Bag bag) {
  const double b = diamond.base_distance_m;
  const double w = diamond.bag_width_m;
  switch (bag) {
    case Bag::first:
      return {b - w, w};
    case Bag::second:
      return {b - 0.5 * w, b - 0.5 * w};
    case Bag::third:
      return {w, b - w};
    case Bag::home:
      break;
  }
  return {0.0, 0.0};
}

std::vector<Point> touch_points(const Diamond& diamond, const std::vector<Bag>& bags, runs::Touch touch) {
  check(diamond);
  if (bags.size() < 2) {
    throw std::invalid_argument("touch_points: bags has " + std::to_string(bags.size()) +
                                " entries, but must have at least 2");
  }
  for (std::size_t k = 1; k < bags.size(); ++k) {
    const unsigned apart = (static_cast<unsigned>(bags[k]) + 4U - static_cast<unsigned>(bags[k - 1])) % 4U;
    if (apart != 1U && apart != 3U) {
      throw std::invalid_argument("touch_points: bags[" + std::to_string(k) + "] is " +
                                  std::string(runs::bag_name(bags[k])) + ", but must be a bag next to " +
                                  std::string(runs::bag_name(bags[k - 1])));
    }
  }
  std::vector<Point> points;
  const std::size_t last = bags.size() - 1;
  for (std::size_t k = 0; k <= last; ++k) {
    if (touch == runs::Touch::point) {
      points.push_back(measuring_point(diamond, bags[k]));
    } else if (k == 0) {
      points.push_back(near_edge(diamond, bags[0], bags[1]));
    } else if (k == last) {
      points.push_back(near_edge(diamond, bags[last], bags[last - 1]));
    } else {
      points.push_back(inside_corner(diamond, bags[k]));
    }
  }
  return points;
}

double home_second_m(double base_distance_m) {
  stats::check::positive("diamond", "base_distance_m", base_distance_m);
  return base_distance_m * std::sqrt(2.0);
}

std::vector<Preset> presets() {
  const auto text = builtin::text("courses/diamonds.json");
  if (!text) {
    throw std::runtime_error("presets: courses/diamonds.json is not embedded");
  }
  constexpr double inch_m = runs::metres_per_foot / 12.0;
  std::vector<Preset> all;
  try {
    const nlohmann::json file = nlohmann::json::parse(*text);
    for (const auto& row : file.at("presets")) {
      Preset p;
      p.play = row.at("play").get<std::string>();
      p.age = text_or_empty(row, "age");
      p.base_distance_ft = row.at("base_ft").get<double>();
      p.base_distance_m = p.base_distance_ft * runs::metres_per_foot;
      p.home_second_m = home_second_m(p.base_distance_m);
      p.home_second_printed = text_or_empty(row, "home_second_printed");
      p.pitching_m = length(row, "pitch_ft", runs::metres_per_foot);
      p.bag_width_m = length(row, "bag_in", inch_m);
      p.evidence = row.at("evidence").get<std::string>();
      p.source = row.at("source").get<std::string>();
      p.note = text_or_empty(row, "note");
      all.push_back(std::move(p));
    }
  } catch (const nlohmann::json::exception& error) {
    throw std::runtime_error(std::string("presets: courses/diamonds.json: ") + error.what());
  }
  return all;
}

}  // namespace bagsplit::basepath
