#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "architecture/source_tree.hpp"

/// Which module may include which.
namespace bagsplit::test {

/// Includes in `file` (below lib/ or cli/) that go against the arrows
///
///     cli -> present -> jobs -> inference -> basepath, norms, timing -> runs;   gates, record -> runs, timing;
///     text, stats, motion, safety, builtin: leaves, for anyone
///
/// or that could go round them: quoted includes in lib/ that do not begin with bagsplit/, and modules not in the map.
std::vector<Finding> against_the_arrows(const SourceFile& file);

/// More sources and headers than anyone can know in one folder: beyond 56, some 25 pairs. One finding a folder.
/// @param paths  of all files below lib/ and cli/.
std::vector<Finding> crowded_folders(const std::vector<std::string>& paths);

/// Includes in a header of lib/ that only .cpp files should have (Boost.Math, CLI11, json.hpp), and includes that no
/// file of lib/ should have.
std::vector<Finding> heavy_includes(const SourceFile& file);

}  // namespace bagsplit::test
