#include "random.hpp"

#include <cmath>

namespace demo_season {

namespace {

// FNV-1a, 64 bits.
std::uint64_t hash(std::uint64_t seed, std::string_view name) {
  std::uint64_t h = 14695981039346656037ULL ^ (seed * 0x9E3779B97F4A7C15ULL);
  for (const char c : name) {
    h = (h ^ static_cast<unsigned char>(c)) * 1099511628211ULL;
  }
  return h;
}

}  // namespace

Stream::Stream(std::uint64_t seed, std::string_view name) : engine_(hash(seed, name)) {}

double Stream::uniform() {
  return static_cast<double>(engine_() >> 11U) * 0x1p-53;
}

double Stream::normal() {
  if (has_spare_) {
    has_spare_ = false;
    return spare_;
  }
  double u = 0.0;
  double v = 0.0;
  double s = 0.0;
  do {
    u = 2.0 * uniform() - 1.0;
    v = 2.0 * uniform() - 1.0;
    s = u * u + v * v;
  } while (s >= 1.0 || s == 0.0);
  const double factor = std::sqrt(-2.0 * std::log(s) / s);
  spare_ = v * factor;
  has_spare_ = true;
  return u * factor;
}

double Stream::normal_within(double mean, double sd, double lo, double hi) {
  double x = 0.0;
  do {
    x = normal(mean, sd);
  } while (x < lo || x > hi);
  return x;
}

std::size_t Stream::below(std::size_t n) {
  return static_cast<std::size_t>(uniform() * static_cast<double>(n));
}

}  // namespace demo_season
