#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <cstdlib>
#include <cstring>
#include <string>

#include "bagsplit/text/csv_writer.hpp"
#include "bagsplit/text/text_width.hpp"
#include "session.hpp"
#include "targets.hpp"

namespace bagsplit::cli {

namespace {

// @return 0, or errno.
int write_all(int file, std::string_view text) {
  while (!text.empty()) {
    const ssize_t written = write(file, text.data(), text.size());
    if (written < 0) {
      if (errno == EINTR) {
        continue;
      }
      return errno;
    }
    text.remove_prefix(static_cast<std::size_t>(written));
  }
  return 0;
}

ExitCode report(int trouble, const std::string& where, const Session& session) {
  if (trouble == EPIPE) {
    return ExitCode::reader_gone;
  }
  session.say("bagsplit: the answer could not be written to " + where + ": " + std::strerror(trouble) + "\n");
  return ExitCode::file_trouble;
}

// Through symbolic links, so that a link stays one; the name itself where there is nothing yet.
std::string final_place(const std::string& path) {
  char* resolved = realpath(path.c_str(), nullptr);
  std::string place = resolved == nullptr ? path : resolved;
  std::free(resolved);
  return place;
}

int write_beside_and_rename(std::string_view text, const std::string& path) {
  const std::string place = final_place(path);
  std::string beside = place + ".XXXXXX";
  const int file = mkstemp(beside.data());
  if (file < 0) {
    return errno;
  }
  struct stat old {};
  mode_t mode = 0;
  if (stat(place.c_str(), &old) == 0) {
    mode = old.st_mode & 07777U;
  } else {
    const mode_t mask = umask(0);
    umask(mask);
    mode = 0666U & ~mask;
  }
  int trouble = write_all(file, text);
  if (trouble == 0 && (fchmod(file, mode) != 0 || fsync(file) != 0)) {
    trouble = errno;
  }
  if (close(file) != 0 && trouble == 0) {
    trouble = errno;
  }
  if (trouble == 0 && std::rename(beside.c_str(), place.c_str()) != 0) {
    trouble = errno;
  }
  if (trouble != 0) {
    unlink(beside.c_str());
  }
  return trouble;
}

}  // namespace

ExitCode deliver(std::string_view answer, const OutputOptions& output, const Session& session) {
  const std::string converted = output.semicolons ? text::with_semicolons(answer) : std::string();
  const std::string_view text = output.semicolons ? std::string_view(converted) : answer;
  if (output.output == "-") {
    const int trouble = write_all(session.answer, text);
    return trouble == 0 ? ExitCode::done : report(trouble, "standard output", session);
  }
  const std::string where = "'" + output.output + "'";
  struct stat old {};
  if (stat(output.output.c_str(), &old) == 0 && !S_ISREG(old.st_mode)) {
    const int file = open(output.output.c_str(), O_WRONLY | O_CLOEXEC);
    if (file < 0) {
      return report(errno, where, session);
    }
    int trouble = write_all(file, text);
    if (close(file) != 0 && trouble == 0) {
      trouble = errno;
    }
    return trouble == 0 ? ExitCode::done : report(trouble, where, session);
  }
  if (const std::string why = why_not_replaced(output.output, session.read); !why.empty()) {
    session.say("bagsplit: " + text::printable(why) + "\n");
    return ExitCode::wrong_command_line;
  }
  const int trouble = write_beside_and_rename(text, output.output);
  return trouble == 0 ? ExitCode::done : report(trouble, where, session);
}

}  // namespace bagsplit::cli
