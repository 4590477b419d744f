// Seasons with truth: invented, drawn by laws of their own, for checking what the season model says.
#pragma once

#include <cstdint>
#include <string>
#include <utility>
#include <vector>

#include "bagsplit/inference/season/fit.hpp"

namespace bagsplit::test {

/// What a season is like. Shares are of moving time, + slower.
struct World {
  std::string name = {};
  enum class Law { fixed, normal };  ///< of changes: 3-5 %, three in four faster; normal with `change_sd`
  enum class Wind { none, logged, turns };

  int children = 30;
  std::vector<double> days{0, 7, 21, 35, 49, 63, 77, 84};
  int runs = 3;                ///< over 60 ft an evening
  bool three_courses = false;  ///< two runs to second and a circuit more an evening; all of it through V at one tau
  enum class Part { all, top_speed, first_acceleration };
  Part part = Part::all;  ///< what changes beyond growth: all of the sprint or one of its quantities
  double share_changed = 0.25;
  Law law = Law::fixed;
  double change_sd = 0.03;
  bool step = false;                    ///< between two dates, else through the season
  double constant_growth_per_yr = 0.0;  ///< in place of growth by age, where above 0
  double growth_sd_per_yr = 0.02;
  double squad_move_sd = 0.0;  ///< of the whole squad through the season
  double evening_sd = 0.005, form_sd = 0.012, effort_sd = 0.018;
  Wind wind = Wind::none;  ///< logged: new each evening; turns: -2 and from half time on +2 m/s, by another drag
  bool new_timer = false, new_device = false;  ///< from half time on
  double new_ground = 0.0;                     ///< effect of another ground from half time on
  double absent = 0.04;
  int slips = 0;              ///< of 0.5-1.2 s, on readings drawn
  bool swapped_bibs = false;  ///< of two unlike children on one evening
  double one_slip_s = 0.0;    ///< on one reading of a child that does not change
};

struct DrawnSeason {
  season::Season season = {};
  std::vector<bool> changed = {};
  std::vector<double> change = {};                ///< share beyond growth between the windows; by child
  std::vector<double> total_change_s = {};        ///< of the time over 60 ft, between the windows
  std::vector<double> last_s = {};                ///< time over 60 ft on the last date, watch bias included
  std::vector<int> slipped = {};                  ///< readings
  std::vector<std::pair<int, int>> swapped = {};  ///< child, date
};

DrawnSeason draw_season(const World& world, std::uint64_t seed);

/// What the model said in many seasons of a world, against the truth.
struct Score {
  int children = 0, changed = 0;
  struct Word {
    int right = 0, wrong = 0;
    double right_share() const { return right + wrong > 0 ? static_cast<double>(right) / (right + wrong) : 0.0; }
  } surely, probably, leaning;
  int covered = 0, covered_changed = 0;
  std::vector<double> p_of_faster = {}, p_of_others = {};
  struct Said {
    double p;
    bool is_true;
  };
  std::vector<Said> said = {};  ///< P(faster) and P(slower), in the direction they are of
  int swaps = 0, swaps_found = 0, evenings_elsewhere = 0, swapped_named = 0;  ///< evenings of a child
  int slips = 0, slips_found = 0, suspected_elsewhere = 0, readings = 0, slipped_named = 0;
  double ground_z2 = 0.0;
  int seasons = 0;
  double last_error2 = 0.0, mean_error2 = 0.0;  ///< squared errors of ability on the last date, of the plain mean

  double coverage() const { return static_cast<double>(covered) / children; }
  double coverage_changed() const { return static_cast<double>(covered_changed) / changed; }
  double auc_faster() const;
  void add(const Score& other);
};

/// Draws and fits so many seasons.  Deterministic for any number of threads.
Score score(const World& world, int seasons, std::uint64_t seed, unsigned threads);

/// All worlds, and those by groups of the acceptance.
std::vector<World> still_worlds();     ///< nobody changes
std::vector<World> changing_worlds();  ///< pooled: with and without changes
World named(const std::string& name);

}  // namespace bagsplit::test
