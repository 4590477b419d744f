#pragma once

#include <string_view>

namespace bagsplit::coach {

/// The order players are listed in: ids that are whole numbers by value, before all others by text.
bool id_before(std::string_view a, std::string_view b);

}  // namespace bagsplit::coach
