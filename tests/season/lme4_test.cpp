// Where the season is a mixed model: evenings and children crossed, a child's form on an evening nested, all else at 0.
//
// Computed: lme4 1.1-31 on R 4.2.2 (tests/stats/reference/mixed_model_terms/compute.R), scales at its REML estimates.
#include <gtest/gtest.h>

#include <cmath>
#include <string>
#include <vector>

#include "bagsplit/inference/season/detail/evidence.hpp"
#include "stats/reference.hpp"

namespace {

namespace season = bagsplit::season;
using bagsplit::test::Reference;
using bagsplit::test::Table;

constexpr double two_pi = 6.283185307179586;

struct Sds {
  double child, evening, form, residual;
};

/// Evenings and evidence of y = mean + child + evening + form + residual, the mean N(0, mean_sd^2) about `centre`.
season::SquadFit mixed_model(const std::vector<int>& child, const std::vector<int>& evening,
                             const std::vector<double>& y, const Sds& sds, double centre, double mean_sd) {
  season::Season data;
  const int children = *std::max_element(child.begin(), child.end()) + 1;
  const int evenings = *std::max_element(evening.begin(), evening.end()) + 1;
  for (int i = 0; i < evenings; ++i) {
    data.days.push_back(i);
  }
  data.children.assign(static_cast<std::size_t>(children), {.age_yr = 11.0});
  data.levels = {{}};
  data.timers = {{}};
  data.devices = {{}};
  data.moving_time_s.assign(data.children.size(), {1.0});  // shares are seconds
  for (std::size_t i = 0; i < y.size(); ++i) {
    data.readings.push_back(
        {.child = child[i], .date = evening[i], .run = static_cast<int>(i), .time_s = y[i], .mark_sd_s = sds.residual});
  }
  season::Options options;
  options.growth_sd_per_yr = 1e-12;
  options.squad_growth_sd_per_yr = 1e-9;
  options.squad_training_sd = 0.0;
  options.level_sd = sds.child;
  options.ground_sd = mean_sd;
  auto design = season::make_design(data, options);
  for (auto& rows : design.children) {
    for (auto& row : rows.rows) {
      row.z = y[static_cast<std::size_t>(row.reading)] - centre;  // not about the child's own median, no growth
    }
  }
  std::vector<season::Units> units;
  for (const auto& rows : design.children) {
    units.push_back(season::collapse(design, rows));
  }
  const season::Scales scales{.evening_sd = sds.evening, .form_sd = sds.form, .effort_sd = 1e-9};
  return season::fit_squad(design, season::fit_children(units, options, scales, 0.0), sds.evening);
}

void compare(const std::string& name, const char* file, const char* child, const char* evening, const char* y,
             const Sds& sds) {
  const Reference reference("mixed_model_terms");
  const Table table(std::string("mixed_model_terms/") + file);
  const auto children = table.levels(child);
  const auto evenings = table.levels(evening);
  const double fixed = reference.value(name + "_fixed");
  // Evidence with a mean that nothing is known of, less the density of that.
  constexpr double wide = 1e4;
  const auto free = mixed_model(children, evenings, table.numbers(y), sds, fixed, wide);
  const double criterion = -2.0 * (free.log_evidence + 0.5 * std::log(two_pi * wide * wide));
  EXPECT_NEAR(criterion, reference.value(name + "_reml_criterion"), 1e-3) << name;
  // lme4's conditional SDs take the mean as known.
  const auto known = mixed_model(children, evenings, table.numbers(y), sds, fixed, 1e-9);
  const auto& labels = table.text(evening);
  for (std::size_t i = 0; i < labels.size(); ++i) {
    const auto at = evenings[i];
    EXPECT_NEAR(known.mean[at], reference.value(name + "_blup_" + evening + "_(Intercept)", labels[i]), 2e-5);
    EXPECT_NEAR(std::sqrt(known.covariance(at, at)),
                reference.value(name + "_blup_condSD_" + evening + "_(Intercept)", labels[i]), 2e-5);
  }
}

Sds sds_of(const std::string& name, const char* child, const char* evening, const char* form) {
  const Reference reference("mixed_model_terms");
  const auto sd = [&](const std::string& of) {
    return reference.value(name + "_sd_components", of == "residual" ? of : of + ".(Intercept)");
  };
  return {sd(child), sd(evening), form != nullptr ? sd(form) : 1e-9, sd("residual")};
}

// Computed: lme4 1.1-31, time ~ 1 + (1 | player) + (1 | session) + (1 | player:session).
TEST(SeasonAsAMixedModel, GivesLme4sEveningsAndCriterionOfASquad) {
  compare("squad", "squad.csv", "player", "session", "time", sds_of("squad", "player", "session", "ps"));
}

// Computed: lme4 1.1-31, diameter ~ 1 + (1 | plate) + (1 | sample), plates as children.
TEST(SeasonAsAMixedModel, GivesLme4sSamplesAndCriterionOfPenicillin) {
  compare("penicillin", "penicillin.csv", "plate", "sample", "diameter",
          sds_of("penicillin", "plate", "sample", nullptr));
}

}  // namespace
