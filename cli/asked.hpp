#pragma once

#include <string>
#include <vector>

#include "bagsplit/jobs/profile/profile.hpp"
#include "bagsplit/runs/run.hpp"

/// What was asked for, held against what the files hold.
namespace bagsplit::cli {

/// Keeps the players asked for, in that order.  @return what is wrong, or nothing.
std::string keep_players(const std::vector<std::string>& wanted, jobs::ProfileResult& result);

/// What is wrong with the course and marks to compare across weeks; empty when nothing is.
/// @param marks  the mark, then others; empty ones are not asked for.
std::string wrong_comparison(const std::string& course, const std::vector<std::string>& marks, const runs::RunLog& log);

}  // namespace bagsplit::cli
