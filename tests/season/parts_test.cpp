// The parts of the computation against what they stand for.
#include <gtest/gtest.h>

#include <cmath>

#include "bagsplit/inference/season/detail/messages.hpp"
#include "bagsplit/inference/season/detail/slips.hpp"
#include "season/reference_case.hpp"
#include "season/world.hpp"

namespace {

namespace season = bagsplit::season;

std::vector<season::Units> units_of(const season::Design& design) {
  std::vector<season::Units> units;
  for (const auto& child : design.children) {
    units.push_back(season::collapse(design, child));
  }
  return units;
}

/// A variance too small to matter keeps every run by itself.
season::Design apart(season::Design design) {
  for (auto& child : design.children) {
    for (auto& row : child.rows) {
      row.added = 1e-300;
    }
  }
  return design;
}

const season::Scales scales{.evening_sd = 0.006, .form_sd = 0.011, .effort_sd = 0.019, .slope_sd = 0.025};

// Identity: runs measured alike are joined without loss: the same evidence, the same g; several marks and watches too.
TEST(SeasonParts, JoiningRunsLosesNothing) {
  for (const char* name : {"normal", "mixed"}) {
    const auto data = bagsplit::test::season_of(bagsplit::test::reference_case(name).at("season"));
    const season::Options options;
    const auto design = season::make_design(data, options);
    const auto single = apart(design);
    const auto joined_units = units_of(design);
    const auto single_units = units_of(single);
    EXPECT_LT(joined_units[0].size(), single_units[0].size());
    const auto joined =
        season::fit_squad(design, season::fit_children(joined_units, options, scales, scales.slope_sd), 0.006);
    const auto alone =
        season::fit_squad(single, season::fit_children(single_units, options, scales, scales.slope_sd), 0.006);
    EXPECT_NEAR(joined.log_evidence, alone.log_evidence, 1e-7 * std::fabs(alone.log_evidence)) << name;
    EXPECT_LT((joined.mean - alone.mean).norm(), 1e-9);
  }
}

// Identity: P(slip) of each reading is that of the readings taken one by one.
TEST(SeasonParts, JoiningRunsFindsTheSameSlips) {
  const auto data = bagsplit::test::season_of(bagsplit::test::reference_case("mixed").at("season"));
  const season::Options options;
  auto joined = season::make_design(data, options);
  joined.children[2].rows[4].z += 0.2;
  auto single = apart(joined);
  auto joined_units = units_of(joined);
  auto single_units = units_of(single);
  double rate = 0.005, single_rate = 0.005;
  season::find_slips(joined, joined_units, scales, 1, rate);
  season::find_slips(single, single_units, scales, 1, single_rate);
  EXPECT_NEAR(rate, single_rate, 1e-10);
  for (std::size_t c = 0; c < joined.children.size(); ++c) {
    for (std::size_t i = 0; i < joined.children[c].rows.size(); ++i) {
      EXPECT_NEAR(joined.children[c].rows[i].slip, single.children[c].rows[i].slip, 1e-9);
    }
  }
}

// Identity: central differences of the evidence.
TEST(SeasonParts, GradientOfTheEvidenceIsItsSlope) {
  const auto data = bagsplit::test::season_of(bagsplit::test::reference_case("mixed").at("season"));
  const season::Options options;
  const auto design = season::make_design(data, options);
  const auto units = units_of(design);
  Eigen::VectorXd gradient, ignored;
  season::evidence_gradient(design, units, scales, gradient);
  constexpr double step = 1e-5;
  double season::Scales::*const members[] = {&season::Scales::evening_sd, &season::Scales::form_sd,
                                             &season::Scales::effort_sd, &season::Scales::slope_sd};
  for (int k = 0; k < 4; ++k) {
    auto up = scales, down = scales;
    up.*members[k] *= std::exp(step);
    down.*members[k] *= std::exp(-step);
    const double slope = (season::evidence_gradient(design, units, up, ignored) -
                          season::evidence_gradient(design, units, down, ignored)) /
                         (2.0 * step);
    EXPECT_NEAR(gradient[k], slope, 1e-4 * std::fabs(slope) + 1e-4) << k;
  }
}

// Identity: children that touch only some of what the squad shares give the same answer as if they touched all of it.
TEST(SeasonParts, MessagesToSomePlacesAreMessagesToAll) {
  const auto data = bagsplit::test::season_of(bagsplit::test::reference_case("mixed").at("season"));
  const season::Options options;
  auto narrow = season::make_design(data, options);
  auto wide = narrow;
  for (auto& child : wide.children) {
    child.touched.clear();
    for (season::Index place = 0; place < wide.places.count(); ++place) {
      child.touched.push_back(place);
    }
  }
  const auto run = [&](const season::Design& design) {
    const auto units = units_of(design);
    const auto children = season::fit_children(units, options, scales, 0.0);
    std::vector<season::ChangeFit> changes;
    for (std::size_t i = 0; i < units.size(); ++i) {
      changes.push_back(season::fit_changes(units[i], children[i]));
    }
    season::Point point;
    point.evening_sd = 0.006;
    point.size = 0.035;
    season::propagate(design, children, changes, point);
    return point;
  };
  const auto a = run(narrow);
  const auto b = run(wide);
  EXPECT_NEAR(a.squad.log_evidence, b.squad.log_evidence, 1e-6);
  EXPECT_LT((a.squad.mean - b.squad.mean).norm(), 1e-8);
  for (std::size_t i = 0; i < a.changed.size(); ++i) {
    EXPECT_NEAR(a.changed[i], b.changed[i], 1e-8);
  }
}

}  // namespace
