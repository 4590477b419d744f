#pragma once

#include <span>
#include <string>
#include <vector>

#include "invocation.hpp"

/// Which files an answer must not take the place of.
namespace bagsplit::cli {

/// The names of all that a command line has a command read: files and folders, as typed, without "-".
std::vector<std::string> names_read(const Invocation& invocation);

/// Whether an answer may be written to `target`: not where that is a file that is read, whatever the way to it (another
/// spelling, a link, a name in a folder that is read), nor a file of what was once recorded (a run log, a roster, a
/// gate log), nor one that another program has locked.
/// @param read  names of files and folders, as of names_read()
/// @return empty, or why not and what to do instead, in one line.
std::string why_not_replaced(const std::string& target, std::span<const std::string> read);

/// Whether two names are one place, whether there is a file yet or not.
bool is_same_place(const std::string& a, const std::string& b);

}  // namespace bagsplit::cli
