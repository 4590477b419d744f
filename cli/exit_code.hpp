#pragma once

namespace bagsplit::cli {

/// How a command ended, as the shell sees it. Part of what users build upon: never renumbered.
enum class ExitCode : int {
  done = 0,
  data_problems = 1,       ///< errors in the user's files; no answer was given
  wrong_command_line = 2,  ///< nothing was read
  file_trouble = 3,        ///< a file that cannot be read, an answer that cannot be written, no memory
  not_certified = 4,       ///< a computation that did not meet its own accuracy
  bug = 70,                ///< a broken promise inside bagsplit
  reader_gone = 141,       ///< whoever read the answer has gone away (`| head -1`); main() ends as by SIGPIPE
};

}  // namespace bagsplit::cli
