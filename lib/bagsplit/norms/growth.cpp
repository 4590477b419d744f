#include "bagsplit/norms/growth.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <stdexcept>

#include "bagsplit/norms/words.hpp"

namespace bagsplit::norms {

namespace {

constexpr std::string_view variation_table = "norms/sprint-between-subject-variation.csv";
constexpr std::string_view reliability_table = "norms/sprint-within-person-reliability.csv";

// A row of unselected children beats a row of squad athletes at the same distance and age.
bool is_squad(const std::string& group) {
  return group == "throwers2026" || group == "jumpers2026";
}

// How far an age lies outside a row's ages; 0 inside, and 0 where the row states none.
double outside(const Row& row, double age_yr) {
  if (!row.age_lo_yr || !row.age_hi_yr) {
    return 0.0;
  }
  return std::max({0.0, *row.age_lo_yr - age_yr, age_yr - *row.age_hi_yr});
}

}  // namespace

std::optional<Spread> between_children(const Catalogue& catalogue, double distance_m, runs::Sex sex, double age_yr) {
  const Table* table = catalogue.table(variation_table);
  if (table == nullptr) {
    return std::nullopt;
  }
  std::optional<Spread> best;
  double best_miss = 2.0;  // years outside a row's ages; beyond that nothing is said
  bool best_squad = true;
  for (std::size_t i = 0; i < table->rows.size(); ++i) {
    const Row& row = table->rows[i];
    const auto sd_s = cell_number(*table, i, "sd_s");
    const auto cv_pct = cell_number(*table, i, "cv_pct");
    if (row.sex != sex || !sd_s || !cv_pct || !row.distance_m || std::abs(*row.distance_m - distance_m) > 0.005) {
      continue;
    }
    const double miss = outside(row, age_yr);
    const bool squad = is_squad(row.group);
    if (miss < best_miss || (miss == best_miss && best_squad && !squad)) {
      best_miss = miss;
      best_squad = squad;
      best = Spread{.sd_s = *sd_s, .cv = *cv_pct / 100.0, .source = row.group};
    }
  }
  return best;
}

TypicalError within_child(const Catalogue& catalogue, double distance_m, std::optional<runs::Sex> sex,
                          std::optional<double> age_yr) {
  if (!(distance_m > 0.0) || !std::isfinite(distance_m)) {
    throw std::domain_error("within_child: distance_m must be finite and above 0");
  }
  // The largest of the figures at the nearest distance; from the header of the table, 3-5 % over the first 10 m and
  // 2-3 % over 20-60 m, for the case that the table has been taken away.
  double cv = distance_m <= 15.0 ? 0.05 : 0.03;
  std::string source = "typical range of published typical errors";
  if (const Table* table = catalogue.table(reliability_table)) {
    double nearest = std::numeric_limits<double>::infinity();
    for (const Row& row : table->rows) {
      if (row.statistic == "typical_error_pct" && row.distance_m && row.group != "woodward1970") {
        nearest = std::min(nearest, std::abs(std::log(*row.distance_m / distance_m)));
      }
    }
    double largest = 0.0;
    for (std::size_t i = 0; i < table->rows.size(); ++i) {
      const Row& row = table->rows[i];
      const bool from_rest = cell_number(*table, i, "start_m").value_or(0.0) == 0.0;
      if (row.statistic == "typical_error_pct" && row.distance_m && row.value && from_rest &&
          row.group != "woodward1970" && (!sex || row.sex == sex) &&
          std::abs(std::log(*row.distance_m / distance_m)) <= nearest + 0.1 && *row.value > largest) {
        largest = *row.value;
        source = row.group;
      }
    }
    if (largest > 0.0) {
      cv = largest / 100.0;
    }
  }
  if (age_yr && *age_yr < 12.0) {
    source += " (no child under 12 has been measured: the largest figure is taken)";
    cv = std::max(cv, distance_m <= 15.0 ? 0.05 : 0.03);
  }
  return {.cv = cv, .source = source};
}

double auditory_reaction_s(double age_yr) {
  return 1.7254 * std::pow(std::clamp(age_yr, 5.0, 16.0), -0.8147);
}

}  // namespace bagsplit::norms
