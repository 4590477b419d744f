#pragma once

#include <csignal>
#include <cstdint>
#include <string>
#include <string_view>

namespace bagsplit::cli {

/// Lines from standard input, whole ones only, until it ends or a signal says so (SIGHUP, SIGINT, SIGTERM).
///
/// The signals are blocked while the object lives and looked for only while waiting, so that none interrupts a write.
class LineInput {
 public:
  enum class Got : std::uint8_t { line, end, signal };

  LineInput();
  ~LineInput();
  LineInput(const LineInput&) = delete;
  LineInput& operator=(const LineInput&) = delete;

  Got next();
  const std::string& line() const { return line_; }
  /// What came after the last line end.
  const std::string& rest() const { return buffer_; }

 private:
  std::string buffer_;
  std::string line_;
  sigset_t before_{};
  struct sigaction old_[3]{};
};

}  // namespace bagsplit::cli
