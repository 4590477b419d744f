#include "bagsplit/sprint/prior_derivation.hpp"

#include <array>
#include <charconv>
#include <system_error>

#include "bagsplit/sprint/prior_steps.hpp"

namespace bagsplit::sprint {

namespace {

using runs::Sex;

std::string fixed(double value, int decimals, std::size_t width) {
  std::array<char, 64> buffer{};
  const auto [end, error] =
      std::to_chars(buffer.data(), buffer.data() + buffer.size(), value, std::chars_format::fixed, decimals);
  std::string text(buffer.data(), error == std::errc{} ? end : buffer.data());
  return std::string(width > text.size() ? width - text.size() : 0, ' ') + text;
}

template <typename Rows>
void table_text(std::string& text, const std::string& title, const Rows& rows) {
  text += title + "\n  sex   age_yr  distance_m  published_s  derived_s  error_%  table\n";
  for (const auto& row : rows) {
    text += std::string("  ") + (row.sex == Sex::female ? "F  " : "M  ") + fixed(row.age_yr, 2, 9) +
            fixed(row.distance_m, 2, 12) + fixed(row.published_s, 3, 13) + fixed(row.predicted_s, 3, 11) +
            fixed(row.error_pct(), 2, 9) + "  " + row.source + "\n";
  }
}

}  // namespace

double time_as_measured(const motion::Sprint& sprint, double reaction_s, const norms::Conditions& conditions) {
  return motion::time_from_beam(sprint, conditions.start_offset_m, conditions.distance_m) +
         derivation::added_s(reaction_s, conditions);
}

DerivedPrior derive_priors(const norms::Catalogue& catalogue) {
  DerivedPrior derived;
  derivation::set_constants(catalogue, derived.coefficients);
  derivation::fit_shape(catalogue, derived);
  derivation::fit_level(catalogue, derived);
  derivation::fit_spread(catalogue, derived);
  return derived;
}

std::string residual_tables(const DerivedPrior& derived) {
  std::string text;
  table_text(text, "Means at 20 m and 50 m", derived.means);
  text += "  whole survey against the curve: Germany " + fixed(100.0 * derived.germany_shift, 2, 0) +
          " %, Japan (9 and under) " + fixed(100.0 * derived.japan_shift, 2, 0) + " %\n\n";
  table_text(text, "Junior athletics squads, all distances fitted", derived.squads);
  text += "\n";
  table_text(text, "Junior athletics squads, the distance left out predicted from the other two", derived.left_out);
  text += "\n";
  table_text(text, "Standard deviations between children", derived.spreads);
  return text;
}

}  // namespace bagsplit::sprint
