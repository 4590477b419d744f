#include <algorithm>
#include <cmath>
#include <stdexcept>

#include "bagsplit/stats/random.hpp"
#include "season/world.hpp"

namespace bagsplit::test {

namespace {

using season::Verdict;

struct Named {
  bool faster, slower;
  Score::Word Score::*word;
};

Named named_as(Verdict verdict) {
  switch (verdict) {
    case Verdict::surely_faster:
      return {true, false, &Score::surely};
    case Verdict::surely_slower:
      return {false, true, &Score::surely};
    case Verdict::probably_faster:
      return {true, false, &Score::probably};
    case Verdict::probably_slower:
      return {false, true, &Score::probably};
    case Verdict::leaning_faster:
      return {true, false, &Score::leaning};
    case Verdict::leaning_slower:
      return {false, true, &Score::leaning};
    default:
      return {false, false, nullptr};
  }
}

void score_child(const DrawnSeason& drawn, const season::Change& change, Score& score) {
  const auto i = static_cast<std::size_t>(change.child);
  ++score.children;
  score.changed += drawn.changed[i] ? 1 : 0;
  const bool covered = change.interval_s.contains(drawn.total_change_s[i]);
  score.covered += covered ? 1 : 0;
  score.covered_changed += covered && drawn.changed[i] ? 1 : 0;
  const bool is_faster = drawn.change[i] < 0.0;
  const bool is_slower = drawn.change[i] > 0.0;
  (is_faster ? score.p_of_faster : score.p_of_others).push_back(change.p_faster);
  score.said.push_back({change.p_faster, is_faster});
  score.said.push_back({change.p_slower, is_slower});
  const auto name = named_as(change.verdict);
  if (name.word != nullptr) {
    const bool right = (name.faster && is_faster) || (name.slower && is_slower);
    ++(right ? (score.*name.word).right : (score.*name.word).wrong);
    const bool slipped = std::any_of(drawn.slipped.begin(), drawn.slipped.end(), [&](int reading) {
      return drawn.season.readings[static_cast<std::size_t>(reading)].child == change.child;
    });
    const bool swapped = std::any_of(drawn.swapped.begin(), drawn.swapped.end(),
                                     [&](const auto& evening) { return evening.first == change.child; });
    score.swapped_named += swapped ? 1 : 0;
    score.slipped_named += slipped && !drawn.changed[i] ? 1 : 0;
  }
}

void score_slips(const DrawnSeason& drawn, const season::Fit& fit, Score& score) {
  score.slips += static_cast<int>(drawn.slipped.size());
  score.readings += static_cast<int>(drawn.season.readings.size());
  for (const auto& suspected : fit.suspected()) {
    const bool is_slip =
        std::find(drawn.slipped.begin(), drawn.slipped.end(), suspected.reading) != drawn.slipped.end();
    ++(is_slip ? score.slips_found : score.suspected_elsewhere);
  }
}

void score_evenings(const DrawnSeason& drawn, const season::Fit& fit, Score& score) {
  score.swaps += static_cast<int>(drawn.swapped.size());
  for (const auto& suspected : fit.suspected_evenings()) {
    const bool is_swap = std::find(drawn.swapped.begin(), drawn.swapped.end(),
                                   std::pair{suspected.child, suspected.date}) != drawn.swapped.end();
    ++(is_swap ? score.swaps_found : score.evenings_elsewhere);
  }
}

/// Ability on the last date against the plain mean of all runs.
void score_last(const DrawnSeason& drawn, const season::Fit& fit, Score& score) {
  for (std::size_t i = 0; i < drawn.last_s.size(); ++i) {
    const auto ability = fit.ability(static_cast<int>(i), 0, drawn.season.days.back());
    double sum = 0.0, count = 0.0;
    for (const auto& r : drawn.season.readings) {
      if (r.child == static_cast<int>(i) && r.level == 0) {
        sum += r.time_s;
        count += 1.0;
      }
    }
    if (ability) {
      score.last_error2 += std::pow(ability->time_s.mean - drawn.last_s[i], 2);
      score.mean_error2 += std::pow(sum / count - drawn.last_s[i], 2);
    }
  }
}

Score score_season(const World& world, std::uint64_t seed) {
  const auto drawn = draw_season(world, seed);
  const auto fit = season::fit_season(drawn.season);
  Score score;
  score.seasons = 1;
  for (const auto& change : fit.changes()) {
    score_child(drawn, change, score);
  }
  score_slips(drawn, fit, score);
  score_evenings(drawn, fit, score);
  score_last(drawn, fit, score);
  if (world.new_ground != 0.0) {
    const auto ground = fit.difference(season::Shared::ground, 0, 1);
    score.ground_z2 = std::pow((ground.mean - world.new_ground) / ground.sd, 2);
  }
  return score;
}

}  // namespace

double Score::auc_faster() const {
  auto others = p_of_others;
  std::sort(others.begin(), others.end());
  double sum = 0.0;
  for (const double p : p_of_faster) {
    const auto [lo, hi] = std::equal_range(others.begin(), others.end(), p);
    sum += 0.5 * static_cast<double>((lo - others.begin()) + (hi - others.begin()));
  }
  return sum / (static_cast<double>(p_of_faster.size()) * static_cast<double>(others.size()));
}

void Score::add(const Score& other) {
  children += other.children;
  changed += other.changed;
  for (const auto word : {&Score::surely, &Score::probably, &Score::leaning}) {
    (this->*word).right += (other.*word).right;
    (this->*word).wrong += (other.*word).wrong;
  }
  covered += other.covered;
  covered_changed += other.covered_changed;
  p_of_faster.insert(p_of_faster.end(), other.p_of_faster.begin(), other.p_of_faster.end());
  p_of_others.insert(p_of_others.end(), other.p_of_others.begin(), other.p_of_others.end());
  said.insert(said.end(), other.said.begin(), other.said.end());
  swaps += other.swaps;
  swaps_found += other.swaps_found;
  evenings_elsewhere += other.evenings_elsewhere;
  swapped_named += other.swapped_named;
  slips += other.slips;
  slips_found += other.slips_found;
  suspected_elsewhere += other.suspected_elsewhere;
  readings += other.readings;
  slipped_named += other.slipped_named;
  ground_z2 += other.ground_z2;
  seasons += other.seasons;
  last_error2 += other.last_error2;
  mean_error2 += other.mean_error2;
}

Score score(const World& world, int seasons, std::uint64_t seed, unsigned threads) {
  std::vector<Score> each(static_cast<std::size_t>(seasons));
  stats::for_each_index(each.size(), threads, [&](std::size_t i) { each[i] = score_season(world, seed + i); });
  Score all;
  for (const auto& one : each) {
    all.add(one);
  }
  return all;
}

std::vector<World> still_worlds() {
  std::vector<World> worlds;
  for (const char* name : {"null", "wind_turns", "ground", "timer", "device", "long"}) {
    worlds.push_back(named(name));
  }
  return worlds;
}

std::vector<World> changing_worlds() {
  std::vector<World> worlds;
  for (const char* name :
       {"third", "few", "change_of_timer", "normal", "steps", "three_courses", "slips", "wind", "null", "plain"}) {
    worlds.push_back(named(name));
  }
  return worlds;
}

World named(const std::string& name) {
  const std::vector<double> nine_months{0, 39, 78, 117, 156, 195, 234, 273};
  using enum World::Law;
  const World worlds[] = {
      {.name = "null", .share_changed = 0.0},
      {.name = "plain", .share_changed = 0.0, .growth_sd_per_yr = 0.01},
      {.name = "wind_turns", .share_changed = 0.0, .wind = World::Wind::turns},
      {.name = "ground", .share_changed = 0.0, .evening_sd = 0.010, .new_ground = -0.02},
      {.name = "timer", .share_changed = 0.0, .new_timer = true},
      {.name = "device", .share_changed = 0.0, .new_device = true},
      {.name = "long", .days = nine_months, .share_changed = 0.0, .constant_growth_per_yr = 0.035},
      {.name = "third", .share_changed = 1.0 / 3.0},
      {.name = "few", .days = {0, 42, 84}, .runs = 2, .share_changed = 1.0 / 3.0},
      {.name = "change_of_timer", .share_changed = 1.0 / 3.0, .new_timer = true},
      {.name = "normal", .law = normal},
      {.name = "steps", .share_changed = 0.33, .step = true},
      {.name = "three_courses", .three_courses = true, .share_changed = 0.33},
      {.name = "slips", .slips = 6},
      {.name = "wind", .wind = World::Wind::logged},
      {.name = "squad", .law = normal, .squad_move_sd = 0.02},
      {.name = "slip_1.0", .share_changed = 1.0 / 3.0, .one_slip_s = 1.0},
      {.name = "slip_0.7", .share_changed = 1.0 / 3.0, .one_slip_s = 0.7},
      {.name = "slip_-0.7", .share_changed = 1.0 / 3.0, .one_slip_s = -0.7},
      {.name = "swapped", .share_changed = 1.0 / 3.0, .swapped_bibs = true},
      {.name = "nine_months", .days = nine_months, .share_changed = 0.0},
      {.name = "still", .share_changed = 0.0, .constant_growth_per_yr = 1e-9, .growth_sd_per_yr = 0.0},
  };
  for (const auto& world : worlds) {
    if (world.name == name) {
      return world;
    }
  }
  throw std::invalid_argument("no world '" + name + "'");
}

}  // namespace bagsplit::test
