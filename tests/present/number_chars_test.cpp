#include <gtest/gtest.h>

#include <array>
#include <bit>
#include <charconv>
#include <cmath>
#include <limits>
#include <random>
#include <string>
#include <vector>

#include "bagsplit/text/number_chars.hpp"

namespace {

using namespace bagsplit::text;

// Where the standard library writes and reads doubles itself, what stands in for it elsewhere must do the same.
// Computed: std::to_chars and std::from_chars of the compiler, gcc 12.
static_assert(__cpp_lib_to_chars >= 201611L);

std::vector<double> values() {
  std::vector<double> out{0.0,   1.0,   0.1,    0.3,    4.05,   16.31,  1e15,   123456789012345680.0,
                          1e21,  1e22,  1e-5,   1.5e-5, 1e5,    1e300,  0x1p60, 0x1p-44,
                          2.5,   0.125, 1e-300, 5e-324, 1e-310, 100000, 1e23,   9007199254740993.0,
                          0.005, 0.015, 2.675,  99999.5};
  std::mt19937_64 engine(20260411);  // fixed by the C++ standard: the same numbers everywhere
  for (int k = 0; k < 4000; ++k) {
    const std::uint64_t bits = engine();
    out.push_back(std::bit_cast<double>(bits));
    out.push_back(static_cast<double>(bits >> 44U) / 1000.0);
    out.push_back(static_cast<double>(bits >> 11U) * 0x1p-53);
  }
  for (int power = -1074; power < 1024; ++power) {
    out.push_back(std::ldexp(1.0, power));
  }
  std::erase_if(out, [](double value) { return !std::isfinite(value); });
  const std::size_t count = out.size();
  for (std::size_t k = 0; k < count; k += 7) {
    out.push_back(-out[k]);
  }
  return out;
}

template <typename Write, typename... Arguments>
std::string written(Write write, Arguments... arguments) {
  std::array<char, 1200> buffer{};
  const auto [end, error] = write(buffer.data(), buffer.data() + buffer.size(), arguments...);
  return error == std::errc{} ? std::string(buffer.data(), end) : "too large";
}

TEST(NumberChars, WritesWhatTheStandardLibraryWrites) {
  for (const double value : values()) {
    ASSERT_EQ(written([](char* a, char* b, double v) { return detail::write_shortest_by_c(a, b, v); }, value),
              written([](char* a, char* b, double v) { return std::to_chars(a, b, v); }, value));
    ASSERT_EQ(
        written([](char* a, char* b, double v) { return detail::write_shortest_fixed_by_c(a, b, v); }, value),
        written([](char* a, char* b, double v) { return std::to_chars(a, b, v, std::chars_format::fixed); }, value));
    const float single = static_cast<float>(value);
    if (std::isfinite(single)) {
      ASSERT_EQ(
          written([](char* a, char* b, float v) { return detail::write_shortest_fixed_by_c(a, b, v); }, single),
          written([](char* a, char* b, float v) { return std::to_chars(a, b, v, std::chars_format::fixed); }, single));
    }
    for (const int decimals : {0, 2, 5}) {
      ASSERT_EQ(
          written([](char* a, char* b, double v, int d) { return detail::write_fixed_by_c(a, b, v, d); }, value,
                  decimals),
          written([](char* a, char* b, double v, int d) { return std::to_chars(a, b, v, std::chars_format::fixed, d); },
                  value, decimals));
      ASSERT_EQ(written([](char* a, char* b, double v, int d) { return detail::write_scientific_by_c(a, b, v, d); },
                        value, decimals),
                written([](char* a, char* b, double v,
                           int d) { return std::to_chars(a, b, v, std::chars_format::scientific, d); },
                        value, decimals));
    }
  }
}

TEST(NumberChars, ReadsWhatTheStandardLibraryReads) {
  std::vector<std::string> texts{"",      "-",      ".",        "5.",  ".5",    "-.5e3", "+1",  "1e",    "1e+",
                                 "1e5x",  "1.2.3",  "0x10",     "1,5", " 1",    "1 ",    "1e-", "e5",    "--1",
                                 "1e400", "-1e999", "00012.50", "1E2", "1e+07", "4.05",  "9.",  "1e-400"};
  for (const double value : values()) {
    texts.push_back(written([](char* a, char* b, double v) { return std::to_chars(a, b, v); }, value));
    texts.push_back(written(
        [](char* a, char* b, double v) { return std::to_chars(a, b, v, std::chars_format::scientific, 20); }, value));
  }
  for (const std::string& text : texts) {
    double ours = 77.0;
    double theirs = 77.0;
    const char* const end = text.data() + text.size();
    const auto mine = detail::read_number_by_c(text.data(), end, ours);
    const auto standard = std::from_chars(text.data(), end, theirs);
    EXPECT_EQ(std::bit_cast<std::uint64_t>(ours), std::bit_cast<std::uint64_t>(theirs)) << text;
    EXPECT_EQ(mine.ptr - text.data(), standard.ptr - text.data()) << text;
    EXPECT_EQ(mine.ec, standard.ec) << text;
  }
}

TEST(NumberChars, SaysWhenThereIsNoRoom) {
  std::array<char, 3> small{};
  const auto [end, error] = detail::write_fixed_by_c(small.data(), small.data() + small.size(), 12.5, 1);
  EXPECT_EQ(error, std::errc::value_too_large);
  EXPECT_EQ(end, small.data() + small.size());
}

}  // namespace
