#include "bagsplit/stats/multiplicity.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <stdexcept>
#include <string>
#include <vector>

#include "reference.hpp"

namespace {

using bagsplit::stats::adjusted_p_values;
using bagsplit::stats::Adjustment;
using bagsplit::stats::count_rejected;
using bagsplit::test::Reference;
using bagsplit::test::Table;

const std::vector<std::pair<std::string, Adjustment>> methods{{"holm", Adjustment::holm},
                                                              {"BH", Adjustment::bh},
                                                              {"bonferroni", Adjustment::bonferroni},
                                                              {"hochberg", Adjustment::hochberg},
                                                              {"BY", Adjustment::by}};

// Source: Benjamini & Hochberg (1995), J R Stat Soc B 57:289-300, section 4 (published_*).
// Computed: R 4.2.2, p.adjust, reference/multiplicity_bh_1995/compute.R.
TEST(Multiplicity, FifteenTestsOfBenjaminiAndHochberg) {
  const Reference reference("multiplicity_bh_1995");
  const auto p = Table("multiplicity_bh_1995/data.csv").numbers("p");
  for (const auto& [name, method] : methods) {
    EXPECT_REFERENCE(reference, "adjusted_" + name, adjusted_p_values(p, method));
  }
  const auto rejected = [&](Adjustment m) {
    return static_cast<double>(count_rejected(adjusted_p_values(p, m), 0.05));
  };
  EXPECT_REFERENCE(reference, "published_bh_rejections_at_0.05", rejected(Adjustment::bh));
  EXPECT_REFERENCE(reference, "published_bonferroni_rejections_at_0.05", rejected(Adjustment::bonferroni));
  EXPECT_EQ(rejected(Adjustment::holm), reference.value("n_reject_0.05", "holm"));
}

// Computed: R 4.2.2, p.adjust on shuffled and tied p-values, reference/multiplicity_bh_1995/compute.R.
TEST(Multiplicity, KeepsTheOrderOfTheInputAndTreatsTiesAlike) {
  const Reference reference("multiplicity_bh_1995");
  const auto p = Table("multiplicity_bh_1995/data.csv").numbers("p");
  std::vector<double> shuffled;
  for (const double i : reference.values("shuffled_order")) {
    shuffled.push_back(p[static_cast<std::size_t>(i) - 1]);
  }
  EXPECT_REFERENCE(reference, "shuffled_holm", adjusted_p_values(shuffled, Adjustment::holm));
  EXPECT_REFERENCE(reference, "shuffled_BH", adjusted_p_values(shuffled, Adjustment::bh));
  const auto ties = reference.values("ties_p");
  EXPECT_REFERENCE(reference, "ties_holm", adjusted_p_values(ties, Adjustment::holm));
  EXPECT_REFERENCE(reference, "ties_BH", adjusted_p_values(ties, Adjustment::bh));
}

// Identity: BH <= Hochberg <= Holm <= Bonferroni, none below p; one test needs no adjustment; m equal p-values are
// multiplied by m under Holm and left alone by BH.
TEST(Multiplicity, OrderOfTheMethods) {
  const std::vector<double> p{0.04, 0.001, 0.2, 0.04, 0.03, 0.9, 0.0004};
  const auto bh = adjusted_p_values(p, Adjustment::bh);
  const auto hochberg = adjusted_p_values(p, Adjustment::hochberg);
  const auto holm = adjusted_p_values(p, Adjustment::holm);
  const auto bonferroni = adjusted_p_values(p, Adjustment::bonferroni);
  for (std::size_t i = 0; i < p.size(); ++i) {
    EXPECT_LE(p[i], bh[i]);
    EXPECT_LE(bh[i], hochberg[i] * (1 + 1e-15));
    EXPECT_LE(hochberg[i], holm[i]);
    EXPECT_LE(holm[i], bonferroni[i]);
  }
  for (const auto& [name, method] : methods) {
    EXPECT_TRUE(adjusted_p_values({}, method).empty());
    EXPECT_EQ(adjusted_p_values(std::vector<double>{0.03}, method)[0], 0.03) << name;
    EXPECT_EQ(adjusted_p_values(std::vector<double>{1, 1}, method)[1], 1.0) << name;
    EXPECT_EQ(adjusted_p_values(std::vector<double>{0, 0}, method)[1], 0.0) << name;
  }
  EXPECT_DOUBLE_EQ(adjusted_p_values(std::vector<double>{0.02, 0.02, 0.02}, Adjustment::holm)[2], 0.06);
  EXPECT_DOUBLE_EQ(adjusted_p_values(std::vector<double>{0.02, 0.02, 0.02}, Adjustment::bh)[2], 0.02);
}

// Common practice, no source: programmer's errors throw.
TEST(Multiplicity, RefusesWhatIsNoPValue) {
  EXPECT_THROW(adjusted_p_values(std::vector<double>{0.1, 1.1}, Adjustment::bh), std::domain_error);
  EXPECT_THROW(adjusted_p_values(std::vector<double>{std::nan("")}, Adjustment::holm), std::domain_error);
}

}  // namespace
