#include "input.hpp"

#include <unistd.h>

#include <algorithm>
#include <filesystem>
#include <iostream>

#include "bagsplit/present/text/problem_text.hpp"
#include "bagsplit/runs/courses/course_file.hpp"
#include "bagsplit/runs/files.hpp"
#include "bagsplit/runs/log/run_log.hpp"
#include "bagsplit/runs/roster/roster.hpp"
#include "bagsplit/text/number_text.hpp"
#include "bagsplit/text/text.hpp"
#include "bagsplit/text/text_width.hpp"

namespace bagsplit::cli {

namespace {

bool is_roster_name(const std::string& path) {
  return text::equal_ignoring_case(path.substr(path.rfind('/') + 1), "roster.csv");
}

bool is_same_file(const std::string& a, const std::string& b) {
  std::error_code error;
  return std::filesystem::equivalent(a, b, error) && !error;
}

// Takes the roster out of what the folders hold. Nobody puts a roster beside the logs for it to be passed over, so it
// is used; a roster named by --roster comes first.
std::optional<runs::LoadedFile> take_roster(const InputOptions& options, std::vector<runs::LoadedFile>& files,
                                            Inputs& inputs, const Session& session) {
  std::vector<runs::LoadedFile> found;
  const auto is_roster = [&](const runs::LoadedFile& file) {
    return file.from_folder && (options.roster ? is_same_file(file.path, *options.roster) : is_roster_name(file.path));
  };
  for (runs::LoadedFile& file : files) {
    if (is_roster(file)) {
      found.push_back(std::move(file));
      file.path.clear();
    }
  }
  std::erase_if(files, [](const runs::LoadedFile& file) { return file.path.empty(); });
  if (options.roster) {
    std::optional<std::string> text = runs::read_file(*options.roster, inputs.problems);
    return text ? std::optional(runs::LoadedFile{*options.roster, std::move(*text), false}) : std::nullopt;
  }
  if (found.empty()) {
    return std::nullopt;
  }
  if (found.size() > 1) {
    inputs.wrong_command_line =
        "both '" + found[0].path + "' and '" + found[1].path + "' are rosters: name one with --roster";
    return std::nullopt;
  }
  session.say("bagsplit: using the roster found in the folder: " + text::printable(found[0].path) + "\n");
  return std::move(found[0]);
}

// The file named by an option, read whole and handed on; a problem where it cannot be read.
template <typename Reader>
void with_file(const std::string& path, text::Problems& problems, const Reader& reader) {
  if (const std::optional<std::string> text = runs::read_file(path, problems)) {
    reader(*text, path);
  }
}

}  // namespace

runs::OwnCourses read_own_courses(const InputOptions& options, text::Problems& problems) {
  runs::OwnCourses own;
  for (const std::string& name : options.courses) {
    with_file(name, problems, [&](std::string_view text, const std::string& path) {
      runs::OwnCourses known{runs::builtin_courses(), runs::builtin_drills()};
      known.courses.insert(known.courses.end(), own.courses.begin(), own.courses.end());
      known.drills.insert(known.drills.end(), own.drills.begin(), own.drills.end());
      runs::OwnCourses read = runs::read_course_file(text, path, known, problems);
      std::move(read.courses.begin(), read.courses.end(), std::back_inserter(own.courses));
      std::move(read.drills.begin(), read.drills.end(), std::back_inserter(own.drills));
    });
  }
  return own;
}

Inputs read_inputs(const InputOptions& options, const Session& session) {
  Inputs inputs;
  if (isatty(STDIN_FILENO) == 1 && std::find(options.logs.begin(), options.logs.end(), "-") != options.logs.end()) {
    session.say("bagsplit: reading a run log from the terminal; Ctrl-D ends it\n");
  }
  if (options.model) {
    with_file(*options.model, inputs.problems, [&](std::string_view text, const std::string& path) {
      inputs.model = inference::read_model(text, path, inputs.problems);
      inputs.own_model = !inference::only_of_slips(inputs.model);
    });
  }
  for (const std::string& name : options.devices) {
    with_file(name, inputs.problems, [&](std::string_view text, const std::string& path) {
      const std::size_t before = inputs.problems.size();
      timing::DeviceProfile profile = timing::read_device(text, path, inputs.problems);
      if (!text::has_errors({inputs.problems.begin() + static_cast<std::ptrdiff_t>(before), inputs.problems.end()})) {
        inputs.devices.add(std::move(profile));
      }
    });
  }
  runs::ReadOptions reading;
  runs::OwnCourses own = read_own_courses(options, inputs.problems);
  reading.courses = std::move(own.courses);
  reading.drills = std::move(own.drills);
  text::Problems log_problems;
  std::vector<runs::LoadedFile> files = runs::load_logs(options.logs, &std::cin, log_problems);
  runs::RosterResult roster;
  if (const auto file = take_roster(options, files, inputs, session)) {
    roster =
        runs::read_roster(file->text, file->path, {.strict = options.strict, .today = session.latest_date_on_earth});
    inputs.roster = roster.roster;
    inputs.has_roster = true;
    inputs.problems.insert(inputs.problems.end(), roster.problems.begin(), roster.problems.end());
  }

  reading.strict = options.strict;
  reading.limits.start_bias = timing::start_biases(inputs.devices);
  reading.today = session.latest_date_on_earth;
  reading.roster = inputs.has_roster ? &inputs.roster : nullptr;
  runs::RunLogResult read = runs::read_run_logs(runs::texts_of(files), reading);
  inputs.log = std::move(read.log);
  text::Problems births = runs::check_births(roster, inputs.log, options.strict);
  std::move(births.begin(), births.end(), std::back_inserter(inputs.problems));
  std::move(log_problems.begin(), log_problems.end(), std::back_inserter(inputs.problems));
  std::move(read.problems.begin(), read.problems.end(), std::back_inserter(inputs.problems));
  return inputs;
}

ExitCode judge(const text::Problems& problems) {
  ExitCode code = ExitCode::done;
  for (const text::Problem& problem : problems) {
    if (problem.severity != text::Severity::error) {
      continue;
    }
    if (problem.code == "file-missing" || problem.code == "file-unreadable" || problem.code == "file-too-large" ||
        problem.code == "no-files") {
      return ExitCode::file_trouble;
    }
    code = ExitCode::data_problems;
  }
  return code;
}

void take_strictly(bool strict, text::Problems& problems) {
  for (text::Problem& problem : problems) {
    if (strict && problem.severity == text::Severity::suspicion) {
      problem.severity = text::Severity::error;
    }
  }
}

void report_problems(const text::Problems& problems, Notes notes, std::size_t most, Colour colour,
                     const Session& session, bool codes) {
  const bool coloured = colour_on_error(colour, session.terminal);
  std::string out;
  std::size_t shown = 0;
  std::size_t counted_only = 0;
  for (const present::FoldedProblem& folded : present::fold_problems(problems)) {
    const text::Problem& problem = problems[folded.index];
    if (problem.severity != text::Severity::error) {
      if (shown == most || (problem.severity == text::Severity::note && notes == Notes::counted)) {
        counted_only += 1 + folded.more.size();
        continue;
      }
      ++shown;
    }
    std::string text = present::format_problem(problem, {.codes = codes});
    const std::string word = present::severity_word(problem.severity) + ":";
    if (const auto at = text.find(word); coloured && at != std::string::npos) {
      const char* code = problem.severity == text::Severity::error       ? "\x1B[1;31m"
                         : problem.severity == text::Severity::suspicion ? "\x1B[1;33m"
                                                                         : "\x1B[1m";
      text.replace(at, word.size(), code + word + "\x1B[0m");
    }
    out += text + present::more_like_it(problems, folded);
  }
  const bool notes_only = std::all_of(problems.begin(), problems.end(), [](const text::Problem& problem) {
    return problem.severity == text::Severity::note;
  });
  if (!problems.empty() && !(notes_only && notes == Notes::counted)) {
    out += present::count_line(problems);
    if (counted_only > 0) {
      out += "; " + std::to_string(counted_only) + " not shown here: bagsplit check shows all";
    }
    out += "\n";
  }
  session.say(out);
}

std::optional<Inputs> sound_inputs(const Invocation& invocation, const std::string& command, const std::string& undone,
                                   const Session& session, ExitCode& code) {
  std::optional<Inputs> inputs = read_inputs(invocation.input, session);
  if (!inputs->wrong_command_line.empty()) {
    session.say("bagsplit " + command + ": " + text::printable(inputs->wrong_command_line) + "\n");
    code = ExitCode::wrong_command_line;
    return std::nullopt;
  }
  report_problems(inputs->problems, Notes::counted, suspicions_shown, invocation.output.colour, session);
  code = judge(inputs->problems);
  if (code != ExitCode::done) {
    session.say("bagsplit: " + undone + ": correct the errors first\n");
    return std::nullopt;
  }
  return inputs;
}

}  // namespace bagsplit::cli
