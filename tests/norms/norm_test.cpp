// Each built-in reference against its own published figures, its ages, its limits and its words.
// Source: tables in data/norms, each with its citation.
#include "bagsplit/norms/norm.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <stdexcept>

#include "bagsplit/norms/catalogue.hpp"
#include "bagsplit/stats/distributions.hpp"
#include "support/digits.hpp"

namespace {

using bagsplit::norms::AgeRule;
using bagsplit::norms::Band;
using bagsplit::norms::Catalogue;
using bagsplit::norms::Kind;
using bagsplit::norms::Norm;
using bagsplit::runs::Sex;

class NormTest : public ::testing::Test {
 protected:
  const Norm& norm(const char* id) {
    const Norm* found = catalogue_.find(id);
    EXPECT_NE(found, nullptr) << id;
    return *found;
  }
  Catalogue catalogue_ = Catalogue::builtin();
};

TEST_F(NormTest, TheGermanTableGivesItsOwnPercentilesBack) {
  const Norm& emotikon = norm("sprint-20m-emotikon");
  const auto& table = *catalogue_.table("norms/sprint-20m-emotikon-fggk21.csv");
  int seen = 0;
  for (const auto& row : table.rows) {
    if (row.statistic[0] != 'p' || *row.age_hi_yr - *row.age_lo_yr > 0.5) {
      continue;
    }
    const double p = std::stod(row.statistic.substr(1));
    const double age_yr = 0.5 * (*row.age_lo_yr + *row.age_hi_yr);
    // Source: Fuehner et al. (2021) data, sprint-20m-emotikon-fggk21.csv: the largest difference between the empirical
    // percentile and the LMS curve is 0.035 s (pooled); 0.045 s in the smallest quarter-year bins
    const auto time_s = emotikon.time_at_percentile(age_yr, *row.sex, 100.0 - p);
    ASSERT_TRUE(time_s);
    EXPECT_NEAR(*time_s, *row.value, 0.045) << row.statistic << ' ' << age_yr;
    ++seen;
  }
  EXPECT_EQ(seen, 2 * 5 * 9);
}

TEST_F(NormTest, TheGermanTableIsReadByQuarterYearBin) {
  const Norm& emotikon = norm("sprint-20m-emotikon");
  // Computed: Python 3.11, 100 (1 - Phi(((4.35/M)^L - 1)/(L S))) with the row M 8.25-8.5: L -1.1736, M 4.3711, S
  // 0.09140
  const double z = (std::pow(4.35 / 4.3711, -1.1736) - 1.0) / (-1.1736 * 0.09140);
  for (const double age_yr : {8.25, 8.3, 8.4999}) {
    EXPECT_NEAR(*emotikon.percentile_of_time(age_yr, Sex::male, 4.35), 100.0 * bagsplit::stats::normal_cdf(-z), 1e-9);
  }
  // Source: same table, row M 8.5-8.75, M 4.3519: the median of the next bin
  EXPECT_NEAR(*emotikon.percentile_of_time(8.5, Sex::male, 4.3519), 50.0, 1e-9);
}

TEST_F(NormTest, BetweenBinsThereAreNoSteps) {
  const Norm& emotikon = norm("sprint-20m-emotikon");
  double last = *emotikon.z(8.0, Sex::female, 4.4, AgeRule::between_bins);
  for (double age_yr = 8.001; age_yr < 9.12; age_yr += 0.001) {
    const double z = *emotikon.z(age_yr, Sex::female, 4.4, AgeRule::between_bins);
    // Identity: continuous in age, and an older child needs a faster time for the same place
    EXPECT_LE(z, last + 1e-12);
    EXPECT_NEAR(z, last, 0.002);
    last = z;
  }
  // Identity: at the middle of a bin both rules read the row itself
  EXPECT_NEAR(*emotikon.z(8.625, Sex::female, 4.4, AgeRule::between_bins), *emotikon.z(8.625, Sex::female, 4.4), 1e-12);
}

TEST_F(NormTest, ANormalCurveHasTheWrongTails) {
  // Source: Fuehner et al. (2021) data, boys of 8-9.12 y pooled: mean 4.396, SD 0.418, p3 3.712, p97 5.305,
  // L -1.1483, M 4.3550, S 0.09183
  const double z3 = bagsplit::stats::normal_quantile(0.03);
  EXPECT_NEAR(4.396 + 0.418 * z3, 3.61, 0.005);
  EXPECT_NEAR(4.396 - 0.418 * z3, 5.18, 0.005);
  const bagsplit::norms::Lms boys{-1.1483, 4.3550, 0.09183};
  EXPECT_NEAR(*lms_value(boys, z3), 3.712, 0.02);
  EXPECT_NEAR(*lms_value(boys, -z3), 5.305, 0.036);
  // Identity: so the normal curve puts the fastest 3 % lower than they are, and the slowest 3 % lower still
  EXPECT_LT(100.0 * bagsplit::stats::normal_cdf((4.396 - 3.712) / 0.418), 95.0);
  EXPECT_LT(100.0 * bagsplit::stats::normal_cdf((4.396 - 5.305) / 0.418), 1.5);
}

TEST_F(NormTest, JapaneseRowsStandAtTheMeanAgeOfTheTest) {
  const Norm& japan = norm("sprint-50m-japan-2017");
  // Source: Japan Sports Agency, fiscal 2017, boys "aged 9": 9.55 s, SD 0.75; their mean age at the test is 9.8
  EXPECT_NEAR(*japan.percentile_of_time(9.8, Sex::male, 9.55), 50.0, 1e-6);
  // Identity: one SD faster than the mean is Phi(1)
  EXPECT_NEAR(*japan.percentile_of_time(9.8, Sex::male, 8.80), 84.1344746, 1e-6);
  // Identity: linear between the rows at 8.8 (10.02, 0.79) and 9.8 (9.55, 0.75); at 9.0 the mean is 9.926, SD 0.782
  EXPECT_NEAR(*japan.z(9.0, Sex::male, 9.926), 0.0, 1e-9);
  EXPECT_NEAR(*japan.z(9.0, Sex::male, 9.926 - 0.782), 1.0, 1e-9);
}

TEST_F(NormTest, FiftyMetresHasNoStepFromTheFirstAgeToTheLast) {
  for (const Sex sex : {Sex::female, Sex::male}) {
    double last = NAN;
    int seen = 0;
    for (double age_yr = 6.8005; age_yr < 17.8; age_yr += 0.001) {
      const auto choice = catalogue_.choose(50.0, age_yr, sex);
      ASSERT_NE(choice.norm, nullptr) << age_yr;
      const double middle = choice.norm->at(age_yr, sex)->median_s();
      if (seen++ > 0) {
        // Identity: the steepest published change is 0.83 s a year, and 0.05 s where two years of the survey meet
        EXPECT_NEAR(middle, last, 0.002) << age_yr;
      }
      last = middle;
    }
    EXPECT_EQ(seen, 11000);
  }
}

TEST_F(NormTest, ANormalCurveIsLimitedTo5And95) {
  const Norm& japan = norm("sprint-50m-japan-2017");
  // Common practice, no source: tails of a mean and SD are not believed (SPRINT tables are skewed)
  EXPECT_EQ(*japan.percentile_of_time(9.8, Sex::male, 7.0), 95.0);
  EXPECT_EQ(*japan.percentile_of_time(9.8, Sex::male, 13.0), 5.0);
  EXPECT_FALSE(japan.time_at_percentile(9.8, Sex::male, 97.0));
  EXPECT_TRUE(japan.time_at_percentile(9.8, Sex::male, 95.0));
  // Identity: the score itself is not cut, for following a child over time
  EXPECT_NEAR(*japan.z(9.8, Sex::male, 7.0), 2.55 / 0.75, 1e-9);
}

TEST_F(NormTest, OlderJapaneseBoysAndGirlsGetABandOnly) {
  const auto boys = catalogue_.choose(50.0, 15.0, Sex::male);
  ASSERT_NE(boys.norm, nullptr);
  EXPECT_FALSE(boys.percentile());
  const auto reference = *boys.norm->at(14.8, Sex::male);
  // Source: MEXT, fiscal 2015, boys "aged 14": 7.47 s
  EXPECT_NEAR(reference.median_s(), 7.47, 1e-9);
  EXPECT_FALSE(reference.percentile_of_time(7.0));
  EXPECT_FALSE(reference.z(7.0));
  EXPECT_EQ(reference.band_of_time(7.0), Band::faster);
  EXPECT_EQ(reference.band_of_time(7.5), Band::about);
  EXPECT_EQ(reference.band_of_time(8.0), Band::slower);
  EXPECT_NE(reference.words(7.0).find("faster than the mean"), std::string::npos);
  const auto girls = catalogue_.choose(50.0, 12.0, Sex::female);
  ASSERT_NE(girls.norm, nullptr);
  EXPECT_FALSE(girls.percentile());
  // Identity: a girl of 11.9 and boys of 13.9 still have a percentile
  EXPECT_TRUE(catalogue_.choose(50.0, 11.9, Sex::female).percentile());
  EXPECT_TRUE(catalogue_.choose(50.0, 13.9, Sex::male).percentile());
}

TEST_F(NormTest, BoysOf12And13UseTheDerivedSd) {
  const Norm& boys = norm("sprint-50m-japan-2015-boys");
  // Source: MEXT, fiscal 2015: boys "aged 12" 8.50 s, derived SD 0.74; "aged 13" 7.84 s, 0.67
  EXPECT_NEAR(*boys.z(12.8, Sex::male, 8.50 - 0.74), 1.0, 1e-9);
  EXPECT_NEAR(*boys.z(13.8, Sex::male, 7.84 - 0.67), 1.0, 1e-9);
  EXPECT_FALSE(boys.ages(Sex::female));
}

TEST_F(NormTest, NothingIsStretchedBeyondItsAges) {
  const Norm& emotikon = norm("sprint-20m-emotikon");
  // Source: Fuehner et al. (2021), ages 8.0 to 9.12
  EXPECT_FALSE(emotikon.at(7.999, Sex::female));
  EXPECT_TRUE(emotikon.at(8.0, Sex::female));
  EXPECT_TRUE(emotikon.at(9.1199, Sex::female));
  EXPECT_FALSE(emotikon.at(9.12, Sex::female));
  EXPECT_EQ(emotikon.why_not(10.2, Sex::female),
            "German school children, 20 m covers girls of 8 to 9.1 years, not 10.2; it is not stretched beyond them.");
  EXPECT_EQ(emotikon.why_not(8.5, Sex::female), "");
  const Norm& japan = norm("sprint-50m-japan-2017");
  EXPECT_FALSE(japan.at(6.79, Sex::male));
  EXPECT_TRUE(japan.at(6.8, Sex::male));
  EXPECT_FALSE(catalogue_.choose(50.0, 17.8, Sex::male).norm);
  EXPECT_THROW(japan.at(NAN, Sex::male), std::domain_error);
}

TEST_F(NormTest, SquadsStayWithinTheirOutermostMarks) {
  const Norm& jumpers = norm("squad-30m-jumpers");
  const auto girls = *jumpers.at(15.5, Sex::female);
  // Source: Nolte et al. (2026) data, girls of 15, 30 m: n 157, so p5 to p95 were published here
  EXPECT_EQ(girls.limits(), std::pair(5.0, 95.0));
  EXPECT_EQ(*girls.percentile_of_time(3.0), 95.0);
  EXPECT_EQ(*girls.percentile_of_time(6.0), 5.0);
  // Identity: a small cell (boys of 17, n 13) has quartiles only
  EXPECT_EQ(jumpers.at(17.2, Sex::male)->limits(), std::pair(25.0, 75.0));
  EXPECT_NE(jumpers.info().label.find("junior athletics squad"), std::string::npos);
}

TEST_F(NormTest, PercentilesGoThereAndBackAndRiseWithSpeed) {
  for (const Norm& norm : catalogue_.norms()) {
    for (const Sex sex : {Sex::female, Sex::male}) {
      const auto ages = norm.ages(sex);
      if (!ages) {
        continue;
      }
      for (double age_yr = ages->first; age_yr < ages->second; age_yr += 0.13) {
        const auto reference = norm.at(age_yr, sex);
        ASSERT_TRUE(reference) << norm.info().id << ' ' << age_yr;
        const double middle = reference->median_s();
        double last = 101.0;
        for (double share = 0.7; share < 1.4; share += 0.01) {
          const auto percentile = reference->percentile_of_time(middle * share);
          if (!percentile) {
            continue;
          }
          EXPECT_LE(*percentile, last);
          last = *percentile;
          const auto [lowest, highest] = reference->limits();
          if (*percentile > lowest + 1e-9 && *percentile < highest - 1e-9) {
            // Identity: time at the percentile of a time is the time
            EXPECT_DIGITS(*reference->time_at_percentile(*percentile), middle * share, 9.0) << norm.info().id;
            // Identity: the density is the slope, by central differences
            const double h = 1e-6;
            const double slope = (*reference->percentile_of_time(middle * share - h) -
                                  *reference->percentile_of_time(middle * share + h)) /
                                 (2.0 * h);
            if (norm.info().kind != Kind::percentile_marks) {
              EXPECT_NEAR(reference->percentile_density(middle * share), slope, 1e-4 * (1.0 + slope));
            }
          }
        }
      }
    }
  }
}

TEST_F(NormTest, TheTrimmedTailsAreSaid) {
  const auto boys = *norm("sprint-20m-emotikon").at(8.6, Sex::male);
  // Source: Fuehner et al. (2021): scores beyond 3 SD were dropped, so p3 and p97 are slightly too narrow
  EXPECT_TRUE(boys.in_trimmed_tail(3.6));
  EXPECT_FALSE(boys.in_trimmed_tail(4.4));
  EXPECT_TRUE(boys.in_trimmed_tail(5.6));
}

TEST_F(NormTest, TheShuttleHasWordsOnly) {
  const auto boys11 = *norm("shuttle-4x30ft-us-1985").at(11.4, Sex::male);
  // Source: President's Council 1985, boys of 11: 85th percentile of performance 10.0 s, 50th 11.1 s
  EXPECT_FALSE(boys11.percentile_of_time(10.5));
  EXPECT_EQ(boys11.words(9.9), "as fast as the fastest 15 % of US pupils of 1985 of the same age");
  EXPECT_EQ(boys11.words(10.5), "faster than the median of US pupils of 1985 of the same age");
  EXPECT_EQ(boys11.words(11.1), "at the median of US pupils of 1985 of the same age");
  EXPECT_EQ(boys11.words(12.0), "slower than the median of US pupils of 1985 of the same age");
  const auto girls15 = *norm("shuttle-4x30ft-us-1985").at(15.4, Sex::female);
  EXPECT_NE(girls15.words(11.0).find("no median is held"), std::string::npos);
}

TEST_F(NormTest, RefusesWhatIsNoTime) {
  const auto boys = *norm("sprint-20m-emotikon").at(8.6, Sex::male);
  EXPECT_THROW(boys.z(0.0), std::domain_error);
  EXPECT_THROW(boys.percentile_of_time(NAN), std::domain_error);
  EXPECT_THROW(boys.band_of_time(-1.0), std::domain_error);
  EXPECT_FALSE(boys.time_at_percentile(0.0));
  EXPECT_FALSE(boys.time_at_percentile(100.0));
}

}  // namespace
