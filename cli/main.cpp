#include <chrono>
#include <csignal>
#include <ctime>
#include <exception>
#include <new>
#include <string>
#include <vector>

#include "bagsplit/text/text_width.hpp"
#include "command_line.hpp"
#include "manual.hpp"
#include "session.hpp"
#include "targets.hpp"

namespace {

using bagsplit::cli::ExitCode;

ExitCode run(const std::vector<std::string>& arguments, bagsplit::cli::Session& session) {
  if (!arguments.empty() && arguments[0] == "--values") {
    return deliver(bagsplit::cli::option_values(arguments, session), {}, session);
  }
  const bagsplit::cli::Parsed parsed = bagsplit::cli::parse(arguments);
  if (parsed.command != nullptr) {
    session.read = names_read(parsed.invocation);
    // deliver() asks again; asked here, nothing is computed in vain.
    for (const std::string& target :
         {parsed.invocation.output.output, parsed.invocation.timers.write_device.value_or("-")}) {
      if (const std::string why = bagsplit::cli::why_not_replaced(target, session.read); !why.empty()) {
        session.say("bagsplit " + std::string(parsed.command->name) + ": " + bagsplit::text::printable(why) + "\n");
        return ExitCode::wrong_command_line;
      }
    }
    return parsed.command->run(parsed.invocation, session);
  }
  if (parsed.ended != ExitCode::done) {
    session.say(parsed.text);
    return parsed.ended;
  }
  return deliver(parsed.text, {}, session);
}

bagsplit::runs::Date local_date(std::time_t now) {
  std::tm here{};
  localtime_r(&now, &here);
  return std::chrono::sys_days{std::chrono::year{here.tm_year + 1900} / (here.tm_mon + 1) / here.tm_mday};
}

}  // namespace

int main(int count, char** values) {
  std::signal(SIGPIPE, SIG_IGN);  // a reader that has gone away shows as an error of write()
  bagsplit::cli::Session session;
  try {
    session.terminal = bagsplit::cli::look_at_terminal();
    const auto now = std::chrono::system_clock::now();
    session.latest_date_on_earth = std::chrono::floor<std::chrono::days>(now + std::chrono::hours(14));
    session.local_date = local_date(std::chrono::system_clock::to_time_t(now));
    const ExitCode ended = run(std::vector<std::string>(values + (count > 0 ? 1 : 0), values + count), session);
    if (ended == ExitCode::reader_gone) {
      std::signal(SIGPIPE, SIG_DFL);  // a shell knows this end and says nothing
      std::raise(SIGPIPE);
    }
    return static_cast<int>(ended);
  } catch (const std::bad_alloc&) {
    session.say("bagsplit: not enough memory\n");
    return static_cast<int>(ExitCode::file_trouble);
  } catch (const std::exception& error) {
    session.say("bagsplit: this is a bug in bagsplit: " + bagsplit::text::printable(error.what()) + "\n");
    return static_cast<int>(ExitCode::bug);
  }
}
