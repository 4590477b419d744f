#include <cmath>
#include <nlohmann/json.hpp>
#include <stdexcept>

#include "bagsplit/basepath/surrogate.hpp"
#include "bagsplit/builtin/builtin.hpp"
#include "bagsplit/text/number_chars.hpp"
#include "bagsplit/text/number_text.hpp"

namespace bagsplit::basepath {

namespace {

constexpr const char* schema = "bagsplit.best-path-losses/1";

}  // namespace

std::string LossTable::to_json() const {
  std::string out = "{\n  \"schema\": \"" + std::string(schema) + "\",\n";
  out +=
      "  \"about\": \"Time lost on the best base path against a straight sprint, leg by leg, divided by sqrt(base "
      "distance / "
      "lateral limit). Nodes: V/sqrt(D L) by V/(tau L), both evenly spaced in their logarithms. Courses: 1 leg with a "
      "stop, 2 "
      "legs with a stop and through, 3, 4; each leg one list, V/sqrt(D L) outermost.\",\n";
  out += "  \"source\": \"Computed by LossTable::build, tests/basepath/make_loss_table.cpp; licence as bagsplit\",\n";
  out += "  \"braking_over_lateral\": " + text::shortest(options_.braking_over_lateral) + ",\n";
  out += "  \"speed\": {\"lowest\": " + text::shortest(options_.lowest_speed) +
         ", \"highest\": " + text::shortest(options_.highest_speed) +
         ", \"nodes\": " + std::to_string(options_.speed_nodes) + "},\n";
  out += "  \"push\": {\"lowest\": " + text::shortest(options_.lowest_push) +
         ", \"highest\": " + text::shortest(options_.highest_push) +
         ", \"nodes\": " + std::to_string(options_.push_nodes) + "},\n";
  out += "  \"certified_share\": " + text::shortest(certified_share_) + ",\n";
  out += "  \"largest_cost_share\": " + text::plain_fixed(largest_cost_share_, 5) + ",\n";
  out += "  \"losses\": [\n";
  for (std::size_t c = 0; c < losses_.size(); ++c) {
    out += "    [";
    for (std::size_t k = 0; k < losses_[c].size(); ++k) {
      if (k > 0) {
        out += k % options_.push_nodes == 0 ? ",\n     " : ", ";
      }
      out += text::plain_fixed(losses_[c][k], 5);
    }
    out += c + 1 < losses_.size() ? "],\n" : "]\n";
  }
  return out + "  ]\n}\n";
}

LossTable LossTable::from_json(std::string_view text) {
  LossTable table;
  try {
    const nlohmann::json file = nlohmann::json::parse(text);
    if (file.at("schema").get<std::string>() != schema) {
      throw std::runtime_error("LossTable: schema is not " + std::string(schema));
    }
    Options& o = table.options_;
    o.braking_over_lateral = file.at("braking_over_lateral").get<double>();
    o.lowest_speed = file.at("speed").at("lowest").get<double>();
    o.highest_speed = file.at("speed").at("highest").get<double>();
    o.speed_nodes = file.at("speed").at("nodes").get<std::size_t>();
    o.lowest_push = file.at("push").at("lowest").get<double>();
    o.highest_push = file.at("push").at("highest").get<double>();
    o.push_nodes = file.at("push").at("nodes").get<std::size_t>();
    table.certified_share_ = file.at("certified_share").get<double>();
    table.largest_cost_share_ = file.at("largest_cost_share").get<double>();
    table.losses_ = file.at("losses").get<std::vector<std::vector<double>>>();
  } catch (const nlohmann::json::exception& error) {
    throw std::runtime_error(std::string("LossTable: ") + error.what());
  }
  constexpr std::size_t legs = 1 + 2 * (2 + 3 + 4);
  const Options& o = table.options_;
  const bool sound = o.lowest_speed > 0.0 && o.highest_speed > o.lowest_speed && o.lowest_push > 0.0 &&
                     o.highest_push > o.lowest_push && o.speed_nodes >= 5 && o.push_nodes >= 5 &&
                     table.losses_.size() == legs;
  if (!sound) {
    throw std::runtime_error("LossTable: ranges, node counts or the number of lists are not sound");
  }
  for (const auto& list : table.losses_) {
    if (list.size() != table.nodes()) {
      throw std::runtime_error("LossTable: a list has " + std::to_string(list.size()) + " losses, but must have " +
                               std::to_string(table.nodes()));
    }
  }
  table.fit();
  return table;
}

LossTable LossTable::built_in() {
  const auto text = builtin::text("courses/best-path-losses.json");
  if (!text) {
    throw std::runtime_error("LossTable::built_in: courses/best-path-losses.json is not embedded");
  }
  return from_json(*text);
}

}  // namespace bagsplit::basepath
