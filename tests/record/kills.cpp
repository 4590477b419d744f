#include <fcntl.h>
#include <poll.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <chrono>
#include <csignal>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iostream>
#include <map>
#include <random>
#include <sstream>
#include <string>

#include "bagsplit/runs/log/run_log.hpp"
#include "bagsplit/runs/typed.hpp"

// Starts the recorder, types runs at it as fast as it answers, kills it with SIGKILL at a random moment, and starts it
// again, N times. A run whose answer "kept" was read must be in the file for good, once; one that was typed and not
// answered may be there, once. After every kill the file must be readable. The runs are numbered by their note, so that
// none can be taken for another. Identity: what was accepted is what is read.
namespace {

namespace fs = std::filesystem;
using Clock = std::chrono::steady_clock;

struct Recorder {
  pid_t pid = -1;
  int to = -1;
  int from = -1;
};

Recorder start(const std::string& program, const std::string& log) {
  int in[2];
  int out[2];
  if (pipe2(in, O_CLOEXEC) != 0 || pipe2(out, O_CLOEXEC) != 0) {
    std::perror("pipe2");
    std::exit(1);
  }
  const pid_t pid = fork();
  if (pid == 0) {
    dup2(in[0], 0);
    dup2(out[1], 1);
    const int nowhere = open("/dev/null", O_WRONLY);
    dup2(nowhere, 2);
    execl(program.c_str(), "bagsplit", "record", log.c_str(), "--course", "home-second", "--base-distance", "60ft",
          "--date", "2026-04-11", static_cast<char*>(nullptr));
    _exit(127);
  }
  close(in[0]);
  close(out[1]);
  return {pid, in[1], out[0]};
}

int count_notes(const std::string& text, std::map<int, int>& found) {
  const auto read = bagsplit::runs::read_run_log(text, "log.csv");
  for (const auto& reading : read.log.readings) {
    ++found[std::atoi(read.log.name(reading.note).c_str())];
  }
  return bagsplit::text::has_errors(read.problems) ? 1 : 0;
}

std::string contents(const std::string& path) {
  std::ifstream in(path, std::ios::binary);
  std::ostringstream text;
  text << in.rdbuf();
  return text.str();
}

}  // namespace

int main(int count, char** values) {
  if (count < 3) {
    return 2;
  }
  std::signal(SIGPIPE, SIG_IGN);
  const std::string program = values[1];
  const int kills = std::atoi(values[2]);
  char folder[] = "/tmp/bagsplit-kills-XXXXXX";
  if (mkdtemp(folder) == nullptr) {
    return 1;
  }
  std::string log = std::string(folder) + "/log1.csv";
  std::mt19937 random(20260411);
  std::map<int, char> typed;  // 't' typed, 'k' kept, 'n' refused
  int next = 1;
  int torn = 0;
  int unreadable = 0;
  int lost = 0;
  int doubled = 0;
  int kept = 0;
  int unanswered_kept = 0;
  int files = 1;
  const auto settle = [&](const std::string& path, int from) {
    std::map<int, int> found;
    unreadable += count_notes(contents(path), found);
    for (auto at = typed.lower_bound(from); at != typed.end(); ++at) {
      const auto here = found.find(at->first);
      const int times = here == found.end() ? 0 : here->second;
      lost += at->second == 'k' && times == 0 ? 1 : 0;
      doubled += times > 1 ? 1 : 0;
      unanswered_kept += at->second == 't' && times == 1 ? 1 : 0;
    }
  };
  // How long a start takes here, so that kills fall before, into and after it.
  const auto begin = Clock::now();
  const Recorder trial = start(program, std::string(folder) + "/trial.csv");
  close(trial.to);
  waitpid(trial.pid, nullptr, 0);
  close(trial.from);
  const auto start_us = std::chrono::duration_cast<std::chrono::microseconds>(Clock::now() - begin).count();
  const auto longest_us = std::min(start_us * 3 / 2, 100'000L);

  int first_of_file = 1;
  for (int kill_number = 0; kill_number < kills; ++kill_number) {
    const Recorder recorder = start(program, log);
    // Every second kill falls into the start or the first line; the others shortly after the first line was accepted.
    const bool early = random() % 2 == 0;
    const auto share = static_cast<long>(random() % 1'000);
    auto end = Clock::now() +
               (early ? std::chrono::microseconds(share * longest_us / 1'000) : std::chrono::microseconds(3'000'000));
    bool first = true;
    std::string said;
    bool waiting = false;
    for (;;) {
      const auto left = std::chrono::duration_cast<std::chrono::microseconds>(end - Clock::now()).count();
      if (left <= 0) {
        break;
      }
      if (!waiting) {
        const std::string line = std::to_string(1 + next % 40) + " 4." + std::to_string(100 + next % 90) + " 8." +
                                 std::to_string(100 + next % 97) + " ; " + std::to_string(next) + "\n";
        typed[next] = 't';
        if (write(recorder.to, line.data(), line.size()) < 0) {
          break;
        }
        waiting = true;
      }
      pollfd wait{recorder.from, POLLIN, 0};
      const timespec time{left / 1'000'000, (left % 1'000'000) * 1'000};
      if (ppoll(&wait, 1, &time, nullptr) > 0) {
        char chunk[4096];
        const ssize_t got = read(recorder.from, chunk, sizeof chunk);
        if (got <= 0) {
          break;
        }
        said.append(chunk, static_cast<std::size_t>(got));
      }
      for (std::size_t line_end = said.find('\n'); line_end != std::string::npos; line_end = said.find('\n')) {
        const std::string line = said.substr(0, line_end);
        said.erase(0, line_end + 1);
        if (line.rfind("kept", 0) == 0) {
          typed[next++] = 'k';
          ++kept;
          waiting = false;
          if (first && !early) {
            end = Clock::now() + std::chrono::microseconds(share * 15);
          }
          first = false;
        } else if (line.find("keep? (y or n)") != std::string::npos) {
          if (write(recorder.to, "y\n", 2) < 0) {
            break;
          }
        } else if (line.rfind("not kept: ", 0) == 0) {
          typed[next++] = 'n';
          waiting = false;
        }
      }
    }
    kill(recorder.pid, SIGKILL);
    waitpid(recorder.pid, nullptr, 0);
    // What was answered up to the kill counts as accepted, read or not.
    char chunk[4096];
    for (ssize_t got = read(recorder.from, chunk, sizeof chunk); got > 0;
         got = read(recorder.from, chunk, sizeof chunk)) {
      said.append(chunk, static_cast<std::size_t>(got));
    }
    if (said.rfind("kept", 0) == 0 && said.find('\n') != std::string::npos) {
      typed[next] = 'k';
      ++kept;
      waiting = false;
    }
    ++next;  // a number typed and not answered is never typed again
    close(recorder.to);
    close(recorder.from);
    if (fs::exists(log)) {
      const std::string text = contents(log);
      torn += !text.empty() && text.back() != '\n' ? 1 : 0;
      std::map<int, int> found;
      unreadable += count_notes(text, found);
      // Now and then the tail is torn by hand, as a power cut may leave it.
      if (random() % 10 == 0) {
        std::ofstream(log, std::ios::app | std::ios::binary) << "2026-04-11,3,home-sec";
      }
    }
    if (kill_number % 100 == 99) {  // a new file, so that the making of one is killed too
      settle(log, first_of_file);
      first_of_file = next;
      log = std::string(folder) + "/log" + std::to_string(++files) + ".csv";
    }
  }
  if (first_of_file < next && fs::exists(log)) {
    settle(log, first_of_file);
  }
  std::cout << kills << " kills, " << files << " files: " << kept << " lines accepted, " << lost << " lost, " << doubled
            << " doubled, " << unanswered_kept << " on the disk but not yet answered, " << torn
            << " times found with a torn end (the test tears some), " << unreadable << " times unreadable\n";
  fs::remove_all(folder);
  return kept < kills / 5 || lost > 0 || doubled > 0 || unreadable > 0 ? 1 : 0;
}
