#include "terminal.hpp"

#include <sys/ioctl.h>
#include <unistd.h>

#include <algorithm>
#include <cstdlib>
#include <string>

#include "bagsplit/text/text.hpp"

namespace bagsplit::cli {

namespace {

std::string environment(const char* name) {
  const char* value = std::getenv(name);
  return value == nullptr ? "" : value;
}

bool coloured(Colour choice, const Terminal& terminal, bool is_terminal) {
  return choice == Colour::always ||
         (choice == Colour::automatic && is_terminal && !terminal.dumb && !terminal.no_colour);
}

}  // namespace

Terminal look_at_terminal() {
  Terminal terminal;
  terminal.out_is_terminal = isatty(STDOUT_FILENO) == 1;
  terminal.err_is_terminal = isatty(STDERR_FILENO) == 1;
  winsize size{};
  if (terminal.out_is_terminal && ioctl(STDOUT_FILENO, TIOCGWINSZ, &size) == 0 && size.ws_col > 0) {
    terminal.width = std::clamp<std::size_t>(size.ws_col, 40, 1000);
  }
  terminal.dumb = environment("TERM") == "dumb";
  terminal.no_colour = !environment("NO_COLOR").empty();
  for (const char* name : {"LC_ALL", "LC_CTYPE", "LANG"}) {
    if (const std::string value = text::lower(environment(name)); !value.empty()) {
      terminal.shows_unicode = value.find("utf-8") != std::string::npos || value.find("utf8") != std::string::npos;
      break;
    }
  }
  return terminal;
}

text::TextOptions text_options(const OutputOptions& output, const Terminal& terminal) {
  const bool to_terminal = terminal.out_is_terminal && output.output == "-";
  text::TextOptions options;
  options.width = output.width.value_or(to_terminal ? terminal.width : 80);
  options.unicode = to_terminal && terminal.shows_unicode && !terminal.dumb;
  options.colour = coloured(output.colour, terminal, to_terminal);
  return options;
}

std::string unfit_for_terminal(const OutputOptions& output, const Terminal& terminal) {
  return terminal.out_is_terminal && output.output == "-"
             ? "a page for a browser is not shown in a terminal: name a file with -o, or send it on with > or |"
             : "";
}

bool colour_on_error(Colour choice, const Terminal& terminal) {
  return coloured(choice, terminal, terminal.err_is_terminal);
}

}  // namespace bagsplit::cli
