#pragma once

#include <cstddef>
#include <string>

#include "bagsplit/text/display.hpp"
#include "invocation.hpp"

/// What the command sees of the place it runs in. Looked at once, passed on as values.
namespace bagsplit::cli {

struct Terminal {
  bool out_is_terminal = false;
  bool err_is_terminal = false;
  std::size_t width = 80;      ///< of the terminal on standard output; 80 without one
  bool dumb = false;           ///< TERM is "dumb"
  bool no_colour = false;      ///< NO_COLOR is set and not empty
  bool shows_unicode = false;  ///< the locale named by the environment is UTF-8
};

/// Looks at standard output and error and at TERM, NO_COLOR, LC_ALL, LC_CTYPE, LANG.
Terminal look_at_terminal();

/// Signs beyond ASCII only on a terminal that shows them: what goes to a file or a pipe does not depend on the
/// environment.
text::TextOptions text_options(const OutputOptions& output, const Terminal& terminal);

/// Why a page made for a browser is not written to a terminal; empty where it may be written.
std::string unfit_for_terminal(const OutputOptions& output, const Terminal& terminal);

/// Whether talk on standard error may be coloured.
bool colour_on_error(Colour choice, const Terminal& terminal);

}  // namespace bagsplit::cli
