#include "help.hpp"

#include <algorithm>

#include "bagsplit/text/display.hpp"
#include "bagsplit/text/text_width.hpp"
#include "declare.hpp"

namespace bagsplit::cli {

namespace {

constexpr std::size_t page = 80;

std::string term_of(const Option& option) {
  return option.names() + (option.positional ? "..." : option.is_switch() ? "" : " " + option.value);
}

std::string meaning_of(const Option& option) {
  const bool has_default = !option.positional && !option.is_switch() && !option.fallback.empty();
  return option.what + (has_default ? " [" + option.fallback + "]" : "");
}

std::string indented(std::string_view lines) {
  std::string out;
  while (!lines.empty()) {
    const std::size_t end = std::min(lines.find('\n'), lines.size());
    out += "  " + std::string(lines.substr(0, end)) + "\n";
    lines.remove_prefix(std::min(end + 1, lines.size()));
  }
  return out;
}

}  // namespace

std::string help_entry(const std::string& term, const std::string& meaning, std::size_t column) {
  std::string first = "  " + text::padded(term, column - 3, text::Align::left) + " ";
  if (text::display_width(first) > column) {
    return "  " + term + "\n" + text::paragraph(meaning, page, std::string(column, ' '));
  }
  return text::paragraph(meaning, page, first);
}

std::string where_files_are() {
  return "The folders demo and schemas are in share/bagsplit of the installed package, the documents in "
         "share/doc/bagsplit.";
}

std::string exit_code_help() {
  return "  0   done\n"
         "  1   errors in the data; no answer was given\n"
         "  2   wrong command line\n"
         "  3   a file cannot be read, or the answer cannot be written\n"
         "  4   a computation that would not settle\n"
         "  70  a bug in bagsplit\n";
}

std::string help_pointer(const Command* command) {
  return command == nullptr ? "Try 'bagsplit --help'." : "Try 'bagsplit " + std::string(command->name) + " --help'.";
}

std::string program_help() {
  std::string out =
      "bagsplit - what stopwatch, gate and video times say about each player: reaction,\n"
      "acceleration, top speed, time lost at each bag, with honest intervals.\n"
      "\n"
      "Usage: bagsplit COMMAND [options]\n"
      "\n"
      "Commands\n";
  for (const Command& command : commands()) {
    out += help_entry(command.name, command.summary, 13);
  }
  out += help_entry(
      "help", "Help of a command: bagsplit help profile. What the files hold: bagsplit help log, bagsplit help roster.",
      13);
  out +=
      "\n"
      "Options\n"
      "  -h, --help  This help.\n"
      "  --version   Version, and the commit it was built from.\n"
      "  --man       The manual page, for man -l -.\n"
      "  --completion bash|zsh|fish\n"
      "              Completion of commands and options for that shell.\n"
      "\n"
      "Examples\n"
      "  bagsplit check night.csv\n"
      "  bagsplit profile demo\n"
      "\n"
      "The answer goes to standard output, talk (problems, what was left out) to\n"
      "standard error.\n"
      "\n"
      "Exit status\n" +
      exit_code_help() +
      "\n"
      "More: README.md.\n" +
      text::paragraph(where_files_are(), page);
  return out;
}

std::string command_help(const Command& command, const Options& options) {
  const bool has_positional =
      std::any_of(options.begin(), options.end(), [](const Option& option) { return option.positional; });
  std::string out = text::paragraph("bagsplit " + std::string(command.name) + " - " + command.summary, page);
  out += "\nUsage: bagsplit " + std::string(command.name) + " [options]" + (has_positional ? " LOG..." : "") +
         "\n\nExamples\n";
  out += indented(command.examples);
  for (const char* purpose : {purpose::input, purpose::choice, purpose::output, purpose::other}) {
    std::string entries;
    for (const Option& option : options) {
      if (option.purpose == purpose) {
        entries += help_entry(term_of(option), meaning_of(option), 19);
      }
    }
    if (!entries.empty()) {
      out += "\n" + std::string(purpose) + "\n" + entries;
    }
  }
  out += "\nIn brackets: what holds when the option is not given.\n";
  out += "\nExit status\n" + exit_code_help() + "\n" + text::paragraph("More: " + std::string(command.more), page) +
         text::paragraph(where_files_are(), page);
  return out;
}

}  // namespace bagsplit::cli
