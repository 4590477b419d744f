#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "architecture/source_tree.hpp"

/// Habits of the source that a machine can check. Each rule looks at one file and names the places that break it.
namespace bagsplit::test {

/// Tests: every file `*_test.cpp` says where its expected numbers come from, in one of the five forms
/// `// Source: authors (year), table` - `// Computed: software version, script` - `// Identity: closed form` -
/// `// Common practice, no source` - `// From memory, unverified`.
std::vector<Finding> tests_without_source(const SourceFile& file);

/// Everywhere: no work left over, no test that is skipped, switched off or cannot fail.
std::vector<Finding> left_over_work(const SourceFile& file);

/// Everywhere: no path or host of somebody's machine, no reference to documents that are not in the project.
std::vector<Finding> foreign_places(const SourceFile& file);

/// lib/: no printing, ending, environment, clock, locale, or random numbers that differ between platforms.
std::vector<Finding> impure_calls(const SourceFile& file);

/// lib/, cli/: no size_t shifted by 32 bits or more, which is 0 or undefined where size_t has 32.
std::vector<Finding> shifts_too_far(const SourceFile& file);

/// lib/: no text names an option of the command, which others than the command may show.
std::vector<Finding> options_named(const SourceFile& file);

/// Headers begin with `#pragma once`.
std::vector<Finding> headers_without_pragma(const SourceFile& file);

/// lib/: a source includes the header of its own name first, so that compiling it shows that the header stands alone.
/// @param header  the text of that header, empty where there is none.
std::vector<Finding> own_header_not_first(const SourceFile& file, std::string_view header);

/// Comments and documents keep British spelling (spot checks).
std::vector<Finding> american_spelling(const SourceFile& file);

/// No tabs, no blanks at line ends, a line end at the end of the file.
std::vector<Finding> untidy_whitespace(const SourceFile& file);

/// data/: a file says where it comes from, or that it is invented: in `#` lines at its top, in a JSON member "source"
/// or
/// "$comment" at any depth, or in a README.md beside it (`readme`, empty when there is none) that names the file or
/// says "every file".
std::vector<Finding> data_without_source(const SourceFile& file, std::string_view readme);

/// A source file that no build description names is never compiled: `list` is the text of the sources.cmake or
/// CMakeLists.txt that should name it.
std::vector<Finding> files_not_built(const SourceFile& file, std::string_view list);

}  // namespace bagsplit::test
