#pragma once

#include <string>

namespace bagsplit::norms {

/// A number with a fixed count of decimals, for a sentence; trailing zeros and a bare point go ("8", "9.1"), never
/// "-0".
std::string shown(double value, int decimals);

}  // namespace bagsplit::norms
