#pragma once

#include <string>

namespace bagsplit::cli {

/// "bagsplit 0.1.0 (commit 0123456789ab)"; without the commit where the build did not know it.
std::string version_line();

/// "bagsplit 0.1.0": the same for every build of a version.
std::string version_number();

}  // namespace bagsplit::cli
