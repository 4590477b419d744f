#pragma once

#include <string>

#include "bagsplit/inference/prior/model.hpp"
#include "bagsplit/runs/courses/course_file.hpp"
#include "bagsplit/runs/player.hpp"
#include "bagsplit/runs/run.hpp"
#include "bagsplit/text/problem.hpp"
#include "bagsplit/timing/device.hpp"
#include "invocation.hpp"
#include "session.hpp"

namespace bagsplit::cli {

/// Everything a command reads, with what was wrong in it.
struct Inputs {
  runs::RunLog log;
  runs::Roster roster;  ///< its index is built
  bool has_roster = false;
  inference::ModelFile model;      ///< empty without --model
  bool own_model = false;          ///< --model says more than how often numbers are wrong
  timing::DeviceBook devices;      ///< the built-in ones, and those of --device
  text::Problems problems;         ///< of all files: those named by options first, then the logs
  std::string wrong_command_line;  ///< what only the folders could tell: empty, or why the command line cannot be right
};

/// Reads all files of a command, all problems in one pass. Says on standard error what a user may not expect: that a
/// folder's roster is used, that a terminal is waited for.
Inputs read_inputs(const InputOptions& options, const Session& session);

/// The courses of --courses, the built-in ones left out.
runs::OwnCourses read_own_courses(const InputOptions& options, text::Problems& problems);

/// How a command ends for these problems: file_trouble where a file could not be read, data_problems where there are
/// errors.
ExitCode judge(const text::Problems& problems);

/// With --strict suspicions are errors.
void take_strictly(bool strict, text::Problems& problems);

/// Shown of suspicions and notes beside an answer; `check` shows all.
inline constexpr std::size_t suspicions_shown = 20;

enum class Notes { all, counted };

/// Problems for people on standard error.  @param most  shown of suspicions and notes; errors are all shown.
/// @param codes  end each with its code.
void report_problems(const text::Problems& problems, Notes notes, std::size_t most, Colour colour,
                     const Session& session, bool codes = false);

/// Reads and judges in one: the inputs, or nothing where they bear no answer. Then `code` is how to end and standard
/// error says why.
/// @param undone  what does not happen then: "no profile was made".
std::optional<Inputs> sound_inputs(const Invocation& invocation, const std::string& command, const std::string& undone,
                                   const Session& session, ExitCode& code);

}  // namespace bagsplit::cli
