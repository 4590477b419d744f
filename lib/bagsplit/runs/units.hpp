#pragma once

#include <optional>
#include <string_view>

/// Lengths and the edge where feet and yards become metres. SI everywhere inside.
namespace bagsplit::runs {

/// International foot and yard, exact by definition.
/// Source: international yard and pound agreement (1959); NIST Handbook 44, appendix C.
inline constexpr double metres_per_foot = 0.3048;
inline constexpr double metres_per_yard = 0.9144;
inline constexpr double metres_per_mile = 1609.344;
inline constexpr double seconds_per_hour = 3600.0;

/// Reads a length with its unit: `60 ft`, `60ft`, `60 feet`, `18.288 m`, `18,29 m`, `10yd`, `10 yards`. The unit is
/// required.
/// @return metres, or nothing when the text is not wholly a finite, non-negative number followed by m, ft, yd or their
/// words.
std::optional<double> parse_length_m(std::string_view text);

/// Reads a speed: `6.2`, `6.2 m/s`, `20ft/s`, `14 mph`, `22km/h`; metres a second where no unit stands.
/// @return m/s, or nothing when the text is not wholly a finite number followed by one of these.
std::optional<double> parse_speed_mps(std::string_view text);

/// Reads an acceleration: `4`, `4 m/s2`, `10ft/s2`; metres a second squared where no unit stands.
/// @return m/s2, or nothing when the text is not wholly a finite number followed by one of these.
std::optional<double> parse_acceleration_mps2(std::string_view text);

}  // namespace bagsplit::runs
