#pragma once

#include <string>

#include "bagsplit/timing/device.hpp"

namespace bagsplit::timing {

/// A device profile as JSON text (schema `bagsplit.device/1`), whole: read_device() gives back the same profile, every
/// digit. A profile that lacks numbers lacks them in the text.
std::string write_device(const DeviceProfile& profile);

}  // namespace bagsplit::timing
