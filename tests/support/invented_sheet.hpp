#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <random>
#include <string>
#include <utility>
#include <vector>

#include "bagsplit/inference/prior/prior.hpp"
#include "bagsplit/motion/curve.hpp"

/// Sheets invented by a seeded script, the truth drawn from the model's own priors: 12 to 14 children of 8 to 13 years,
/// circuits, straights and runs to first by turns, one hand watch. No real child is in them.
namespace bagsplit::test {

/// How much runs of one child differ. Press error: Manual timing in physics experiments (2019), Am J Phys 87(2), 110:
/// SD 0.07 s.
struct InventedScatter {
  double press_s = 0.07, effort = 0.03, bag_s = 0.05;
};

struct InventedRow {
  std::string player, course, trial;
  std::string posture{};             ///< as typed; empty: as the sheet has it
  std::array<std::string, 7> times;  ///< first, second, third, home, 10m, 20m, 30m
  bool is_straight() const { return course == "straight"; }
};

class InventedSheet {
 public:
  /// @param prone  the straights are run from lying down
  explicit InventedSheet(unsigned seed, const InventedScatter& scatter = {}, bool prone = false)
      : scatter_(scatter), draw_(seed), prone_(prone), logged_prone(prone) {
    const int players = 12 + static_cast<int>(draw_() % 3);
    for (int player = 1; player <= players; ++player) {
      add_player(std::to_string(player));
    }
    // By rounds, as a night goes.
    std::stable_sort(rows.begin(), rows.end(),
                     [](const InventedRow& a, const InventedRow& b) { return a.trial < b.trial; });
  }

  std::string text() const {
    std::string out =
        "# base-distance: 60 ft\n# date: 2026-04-11\n"
        "player,course,trial,start,posture,first,second,third,home,10m,20m,30m\n";
    for (const InventedRow& row : rows) {
      out += row.player + "," + row.course + "," + row.trial + (row.is_straight() ? ",self," : ",signal,") +
             (!row.posture.empty()                ? row.posture
              : row.is_straight() && logged_prone ? "prone"
                                                  : "standing");
      for (const std::string& time : row.times) {
        out += "," + time;
      }
      out += "\n";
    }
    return out;
  }
  const std::string& roster() const { return roster_; }
  static std::size_t line_of(std::size_t row) { return row + 4; }
  std::mt19937& draw() { return draw_; }

  std::vector<InventedRow> rows;

 private:
  double normal(double mean, double sd) { return std::normal_distribution<double>(mean, sd)(draw_); }
  double normal(const inference::Normal& n) { return normal(n.mean, n.sd); }

  void add_player(const std::string& player) {
    const double age = std::uniform_real_distribution<double>(8.0, 13.5)(draw_);
    const inference::SprintPrior prior = inference::sprint_prior(age, runs::Sex::female);
    const double speed = std::exp(normal(prior.log_top_speed));
    const motion::Sprint sprint{speed, speed / std::exp(normal(prior.log_first_acceleration))};
    const double months = 12.0 * (2026.28 - age);
    const int year = static_cast<int>(months / 12.0);
    const int month = 1 + static_cast<int>(months) % 12;
    roster_ += player + ",F," + std::to_string(year) + (month < 10 ? "-0" : "-") + std::to_string(month) + "-11\n";
    const double reaction_s = normal(prior.reaction_s);
    const double get_up_s = normal(prior.posture_cost_s.at("prone"));
    const std::array<double, 4> loss_s{0.0, normal(0.35, 0.25), normal(0.35, 0.25), normal(0.35, 0.25)};
    const int runs = 2 + static_cast<int>(draw_() % 5);
    for (int run = 1; run <= runs; ++run) {
      const int kind = (run - 1) % 3;
      const double effort = 1.0 + normal(0.0, scatter_.effort);
      const double start_s = (kind == 1 ? (prone_ ? get_up_s : 0.0) - 0.25 : normal(reaction_s, 0.06) - 0.16) +
                             normal(0.0, scatter_.press_s);
      InventedRow row{player,
                      kind == 0   ? "circuit"
                      : kind == 1 ? "straight"
                                  : "home-first",
                      std::to_string(run),
                      {},
                      {}};
      double lost_s = 0.0;
      const std::size_t marks = kind == 0 ? 4 : kind == 1 ? 3 : 1;
      for (std::size_t k = 0; k < marks; ++k) {
        const double at_m = kind == 1 ? 10.0 * static_cast<double>(k + 1) : 18.288 * static_cast<double>(k + 1);
        lost_s += kind == 0 ? loss_s[k] + (k > 0 ? normal(0.0, scatter_.bag_s) : 0.0) : 0.0;
        const double time_s =
            effort * motion::time_to_distance(sprint, at_m) + lost_s + start_s + normal(0.0, scatter_.press_s);
        std::array<char, 16> typed{};
        std::snprintf(typed.data(), typed.size(), "%.2f", time_s);
        row.times[k + (kind == 1 ? 4U : 0U)] = typed.data();
      }
      rows.push_back(std::move(row));
    }
  }

  InventedScatter scatter_;
  std::mt19937 draw_;
  bool prone_ = false;
  std::string roster_ = "player,sex,born\n";

 public:
  bool logged_prone = false;  ///< what the sheet says of the straights
};

}  // namespace bagsplit::test
