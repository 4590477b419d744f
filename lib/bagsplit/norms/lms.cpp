#include "bagsplit/norms/lms.hpp"

#include <cmath>
#include <numbers>
#include <sstream>
#include <stdexcept>

namespace bagsplit::norms {

namespace {

[[noreturn]] void refuse(const char* function, const char* argument, double value, const char* bound) {
  std::ostringstream text;
  text << function << ": " << argument << " is " << value << ", but must be " << bound;
  throw std::domain_error(text.str());
}

void check(const char* function, const Lms& lms) {
  if (!std::isfinite(lms.l)) {
    refuse(function, "lms.l", lms.l, "finite");
  }
  if (!(lms.m > 0.0) || !std::isfinite(lms.m)) {
    refuse(function, "lms.m", lms.m, "finite and above 0");
  }
  if (!(lms.s > 0.0) || !std::isfinite(lms.s)) {
    refuse(function, "lms.s", lms.s, "finite and above 0");
  }
}

void check_value(const char* function, double value) {
  if (!(value > 0.0) || !std::isfinite(value)) {
    refuse(function, "value", value, "finite and above 0");
  }
}

// (exp(w) - 1) / w and log(1 + w) / w, both 1 at w = 0.
double expm1_over(double w) {
  return w == 0.0 ? 1.0 : std::expm1(w) / w;
}
double log1p_over(double w) {
  return w == 0.0 ? 1.0 : std::log1p(w) / w;
}

}  // namespace

double lms_z(const Lms& lms, double value) {
  check("lms_z", lms);
  check_value("lms_z", value);
  const double y = std::log(value / lms.m);
  return y * expm1_over(lms.l * y) / lms.s;
}

std::optional<double> lms_value(const Lms& lms, double z) {
  check("lms_value", lms);
  if (!std::isfinite(z)) {
    refuse("lms_value", "z", z, "finite");
  }
  const double w = lms.l * lms.s * z;
  if (w <= -1.0) {
    return std::nullopt;
  }
  return lms.m * std::exp(lms.s * z * log1p_over(w));
}

double lms_density(const Lms& lms, double value) {
  const double z = lms_z(lms, value);
  // dz/dx = (x/M)^L / (S x)
  return normal_density(z) * std::exp(lms.l * std::log(value / lms.m)) / (lms.s * value);
}

Lms interpolate(const Lms& a, const Lms& b, double w) {
  if (!(w >= 0.0 && w <= 1.0)) {
    refuse("interpolate", "w", w, "in [0, 1]");
  }
  return {std::lerp(a.l, b.l, w), std::lerp(a.m, b.m, w), std::lerp(a.s, b.s, w)};
}

double normal_density(double z) {
  return std::exp(-0.5 * z * z) * std::numbers::inv_sqrtpi / std::numbers::sqrt2;
}

}  // namespace bagsplit::norms
