#include "manual.hpp"

#include <array>

#include "bagsplit/jobs/fast_end.hpp"
#include "bagsplit/safety/safety.hpp"
#include "command_line.hpp"
#include "declare.hpp"
#include "help.hpp"
#include "version.hpp"

namespace bagsplit::cli {

namespace {

// Text as roff reads it: backslashes and hyphens literal; a line cannot begin with a control character.
std::string roff(std::string_view text) {
  std::string out;
  bool line_start = true;
  for (const char c : text) {
    if (line_start && (c == '.' || c == '\'')) {
      out += "\\&";
    }
    if (c == '\\') {
      out += "\\e";
    } else if (c == '-') {
      out += "\\-";
    } else {
      out += c;
    }
    line_start = c == '\n';
  }
  return out;
}

std::string option_entry(const Option& option) {
  std::string term = option.short_name.empty() ? "" : "\\fB" + roff("-" + option.short_name) + "\\fR, ";
  term += "\\fB" + roff("--" + option.long_name) + "\\fR";
  if (!option.value.empty()) {
    term += " \\fI" + roff(option.value) + "\\fR";
  }
  std::string out = ".TP\n" + term + "\n" + roff(option.what) + ".";
  if (!option.fallback.empty()) {
    out += " Default: " + roff(option.fallback) + ".";
  }
  return out + "\n";
}

std::string command_section(const CommandDescription& command) {
  std::string out = ".SS " + roff(command.name) + "\n" + roff(command.summary) + "\n";
  if (!command.files.empty()) {
    out += ".TP\n\\fILOG\\fR...\n" + roff(command.files) + ".\n";
  }
  for (const char* purpose : {purpose::input, purpose::choice, purpose::output}) {
    for (const Option& option : command.options) {
      if (option.purpose == purpose) {
        out += option_entry(option);
      }
    }
  }
  return out + ".PP\nExamples:\n.nf\n" + roff(command.examples) + "\n.fi\n";
}

}  // namespace

std::string manual_page() {
  std::string out = ".\\\" Written by bagsplit --man from the declared options.\n.TH BAGSPLIT 1 \"\" \"" +
                    roff(version_number()) +
                    "\" \"User Commands\"\n"
                    ".SH NAME\nbagsplit \\- reaction and sprint timing analyser for recorded runs\n"
                    ".SH SYNOPSIS\n.B bagsplit\n.I COMMAND\n[\\fIoptions\\fR] [\\fILOG\\fR...]\n"
                    ".SH DESCRIPTION\n"
                    "What stopwatch, gate and video times say about each player: reaction, acceleration, top speed, "
                    "time lost at each bag, "
                    "with honest intervals.\n"
                    "The answer goes to standard output; talk (problems, what was left out) goes to standard error.\n"
                    ".B bagsplit\n.I COMMAND\n.B \\-\\-help\ntells the same of one command.\n.SH COMMANDS\n";
  for (const CommandDescription& command : described_commands()) {
    out += command_section(command);
  }
  out += ".SH EXIT STATUS\n.nf\n" + roff(exit_code_help()) + ".fi\n";
  return out + ".SH FILES\n" + roff(where_files_are()) + "\n.SH CAUTION\n" +
         roff(safety::sprint_caution(jobs::fast_end_mps(std::nullopt, std::nullopt))) + "\n";
}

}  // namespace bagsplit::cli
