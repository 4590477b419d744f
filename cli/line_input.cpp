#include "line_input.hpp"

#include <poll.h>
#include <unistd.h>

#include <array>
#include <cerrno>

namespace bagsplit::cli {

namespace {

constexpr std::array watched{SIGHUP, SIGINT, SIGTERM};

// Set by the handler, which may do no more.
volatile std::sig_atomic_t signalled = 0;

void note_signal(int) {
  signalled = 1;
}

// Signals come in while it waits and at no other moment. In a browser there are none, and no ppoll.
int wait_for_input(pollfd& wait, [[maybe_unused]] const sigset_t& open) {
#ifdef __EMSCRIPTEN__
  return poll(&wait, 1, -1);
#else
  return ppoll(&wait, 1, nullptr, &open);
#endif
}

}  // namespace

LineInput::LineInput() {
  sigset_t block;
  sigemptyset(&block);
  for (std::size_t k = 0; k < watched.size(); ++k) {
    sigaddset(&block, watched.at(k));
  }
  sigprocmask(SIG_BLOCK, &block, &before_);
  signalled = 0;
  for (std::size_t k = 0; k < watched.size(); ++k) {
    struct sigaction action {};
    action.sa_handler = note_signal;
    sigemptyset(&action.sa_mask);
    sigaction(watched.at(k), &action, &old_[k]);
  }
}

LineInput::~LineInput() {
  for (std::size_t k = 0; k < watched.size(); ++k) {
    sigaction(watched.at(k), &old_[k], nullptr);
  }
  sigprocmask(SIG_SETMASK, &before_, nullptr);
}

LineInput::Got LineInput::next() {
  for (;;) {
    if (const std::size_t end = buffer_.find('\n'); end != std::string::npos) {
      line_ = buffer_.substr(0, end);
      buffer_.erase(0, end + 1);
      return Got::line;
    }
    pollfd wait{STDIN_FILENO, POLLIN, 0};
    sigset_t open = before_;
    for (const int one : watched) {
      sigdelset(&open, one);
    }
    const int ready = wait_for_input(wait, open);
    if (signalled != 0) {
      return Got::signal;
    }
    if (ready < 0 && errno == EINTR) {
      continue;
    }
    char chunk[4096];
    const ssize_t got = read(STDIN_FILENO, chunk, sizeof chunk);
    if (got > 0) {
      buffer_.append(chunk, static_cast<std::size_t>(got));
    } else if (got == 0 || (errno != EINTR && errno != EAGAIN)) {
      return Got::end;  // a terminal that has gone says EIO
    }
  }
}

}  // namespace bagsplit::cli
