// Seasons of any size: as many rows as asked for, the same from the same seed.
#include "scale.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <sstream>
#include <stdexcept>
#include <string>

#include "random.hpp"

namespace demo_season {
namespace {

struct Texts {
  std::string roster, log, truth;
};

Texts season(const ScaleOptions& options) {
  std::ostringstream roster;
  std::ostringstream log;
  std::ostringstream truth;
  write_scale_season(options, roster, log, truth);
  return {roster.str(), log.str(), truth.str()};
}

std::size_t lines(const std::string& text) {
  return static_cast<std::size_t>(std::count(text.begin(), text.end(), '\n'));
}

TEST(ScaleSeason, HasExactlyTheRowsAndPlayersAskedFor) {
  // Identity: three lines of defaults and a header before the rows; a header before the players.
  for (const auto& [players, rows] : {std::pair<std::size_t, std::size_t>{1, 1}, {1, 4000}, {26, 777}, {300, 20000}}) {
    const Texts texts = season({players, rows, 7});
    EXPECT_EQ(lines(texts.log), rows + 4);
    EXPECT_EQ(lines(texts.roster), players + 1);
    EXPECT_EQ(lines(texts.truth), players + 1);
  }
}

TEST(ScaleSeason, IsTheSameFromTheSameSeedAndOtherFromAnother) {
  // Identity: a deterministic function of its options.
  const Texts once = season({40, 2000, 3});
  const Texts again = season({40, 2000, 3});
  const Texts other = season({40, 2000, 4});
  EXPECT_EQ(once.log, again.log);
  EXPECT_EQ(once.roster, again.roster);
  EXPECT_NE(once.log, other.log);
  EXPECT_NE(once.truth, other.truth);
}

TEST(ScaleSeason, RefusesSizesItCannotMake) {
  EXPECT_THROW(season({0, 10, 1}), std::invalid_argument);
  EXPECT_THROW(season({10, 0, 1}), std::invalid_argument);
  EXPECT_THROW(season({10, 40001, 1}), std::invalid_argument);
}

TEST(Stream, RestsOnTheEngineOfTheStandard) {
  boost::random::mt19937_64 engine;
  engine.discard(9999);
  // Source: ISO/IEC 14882:2020, 26.6.6 [rand.predef]: the 10000th invocation of a default-constructed mt19937_64
  EXPECT_EQ(engine(), 9981545732273789042ULL);
}

TEST(Stream, NormalDrawsHaveTheMomentsOfTheNormalLaw) {
  // Identity: moments 0, 1, 0, 3 of the normal law; bounds at 5 standard errors (error rate below 1e-6 each).
  Stream stream(11, "moments");
  constexpr int n = 200000;
  double m1 = 0.0;
  double m2 = 0.0;
  double m3 = 0.0;
  double m4 = 0.0;
  for (int i = 0; i < n; ++i) {
    const double x = stream.normal();
    m1 += x;
    m2 += x * x;
    m3 += x * x * x;
    m4 += x * x * x * x;
  }
  const double se = 1.0 / std::sqrt(static_cast<double>(n));
  EXPECT_NEAR(m1 / n, 0.0, 5.0 * se);
  EXPECT_NEAR(m2 / n, 1.0, 5.0 * std::sqrt(2.0) * se);
  EXPECT_NEAR(m3 / n, 0.0, 5.0 * std::sqrt(15.0) * se);
  EXPECT_NEAR(m4 / n, 3.0, 5.0 * std::sqrt(96.0) * se);
}

TEST(Stream, NamesGiveStreamsOfTheirOwn) {
  // Identity: a stream depends on its seed and its name only.
  Stream a(1, "a");
  Stream again(1, "a");
  Stream b(1, "b");
  Stream other(2, "a");
  const double first = a.uniform();
  EXPECT_EQ(first, again.uniform());
  EXPECT_NE(first, b.uniform());
  EXPECT_NE(first, other.uniform());
}

}  // namespace
}  // namespace demo_season
