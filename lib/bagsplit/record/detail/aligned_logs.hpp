// Recorders' logs brought to one count of runs. Not installed.
#pragma once

#include <span>
#include <string>
#include <vector>

#include "bagsplit/record/merge_logs.hpp"
#include "bagsplit/runs/log/run_log.hpp"

namespace bagsplit::record::detail {

/// What makes two rows one timer's reading of one run.
std::string key_of(const runs::RunLog& log, const runs::Run& run, const runs::Reading& reading);

/// Gives runs of several logs that are one run the same player and trial, flags what is open, and says so.
/// @param logs  read from `files`, one each; trials, players, flags and notes are changed.  @return questions asked.
std::size_t align_logs(std::span<const runs::LogText> files, std::span<runs::RunLog> logs, const MergeAnswers& answers,
                       text::Problems& problems);

}  // namespace bagsplit::record::detail
