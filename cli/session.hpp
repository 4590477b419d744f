#pragma once

#include <cstdio>
#include <string>
#include <string_view>
#include <vector>

#include "bagsplit/runs/run.hpp"
#include "exit_code.hpp"
#include "invocation.hpp"
#include "terminal.hpp"

namespace bagsplit::cli {

/// Where a command runs: what it may look at, and where its talk goes.
struct Session {
  Terminal terminal;
  runs::Date latest_date_on_earth{};  ///< at UTC+14: no run of today, wherever it was run, looks as if in the future
  runs::Date local_date{};            ///< where the machine's clock says it is: for ages on the day of asking
  std::FILE* talk = stderr;
  int answer = 1;                 ///< file descriptor of standard output
  std::vector<std::string> read;  ///< names of files and folders that no answer may be written over

  /// One or more whole lines for people on standard error. Trouble there is not reported: there is nowhere to report it
  /// to.
  void say(std::string_view lines) const { std::fwrite(lines.data(), 1, lines.size(), talk); }
};

/// Writes the answer to where `output` says and makes sure that it arrived.
///
/// A file is written beside its final place and renamed once it is whole, so that nobody ever sees half an answer and a
/// failure leaves what was there before. What is read, or was recorded, is not replaced (targets.hpp). Devices and
/// pipes are written to directly. A reader that has gone away (`| head -1`) is no reason for words: reader_gone.
ExitCode deliver(std::string_view text, const OutputOptions& output, const Session& session);

}  // namespace bagsplit::cli
