#pragma once

#include <string_view>

namespace bagsplit::runs {

/// The order players are listed in: ids that are whole numbers by value, before all others by text.
bool id_before(std::string_view a, std::string_view b);

}  // namespace bagsplit::runs
