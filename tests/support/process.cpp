#include "support/process.hpp"

#include <fcntl.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cerrno>
#include <csignal>
#include <cstdlib>
#include <cstring>
#include <fstream>
#include <sstream>
#include <stdexcept>

namespace bagsplit::test {

namespace {

std::string complaint(const std::string& what) {
  return what + ": " + std::strerror(errno);
}

std::vector<std::string> environment(const Surroundings& s, const std::filesystem::path& home,
                                     const std::filesystem::path& bin) {
  std::vector<std::string> all{
      "PATH=" + bin.string() + ":/usr/bin:/bin",
      "HOME=" + home.string(),
      "LC_ALL=" + s.locale,
      "TZ=" + s.time_zone,
      "TERM=dumb",
  };
  if (!s.locale_path.empty()) {
    all.push_back("LOCPATH=" + s.locale_path);
  }
  for (const char* name :
       {"ASAN_OPTIONS", "UBSAN_OPTIONS", "LSAN_OPTIONS", "TSAN_OPTIONS", "GCOV_PREFIX", "GCOV_PREFIX_STRIP"}) {
    if (const char* value = std::getenv(name)) {
      all.push_back(std::string(name) + "=" + value);
    }
  }
  return all;
}

/// In the child: standard stream `to` is the file at `path` from here on.
void redirect(const char* path, int flags, int to) {
  const int from = open(path, flags, 0600);
  if (from < 0 || dup2(from, to) < 0) {
    _exit(126);
  }
  close(from);
}

}  // namespace

std::string read_file(const std::filesystem::path& path) {
  std::ifstream in(path, std::ios::binary);
  if (!in) {
    throw std::runtime_error("cannot read " + path.string());
  }
  std::ostringstream text;
  text << in.rdbuf();
  return text.str();
}

void write_file(const std::filesystem::path& path, const std::string& text) {
  std::ofstream out(path, std::ios::binary);
  out << text;
  out.flush();
  if (!out) {
    throw std::runtime_error("cannot write " + path.string());
  }
}

Workplace::Workplace(Surroundings surroundings) : surroundings_(std::move(surroundings)) {
  std::string pattern = (std::filesystem::temp_directory_path() / "bagsplit-test-XXXXXX").string();
  if (mkdtemp(pattern.data()) == nullptr) {
    throw std::runtime_error(complaint("mkdtemp " + pattern));
  }
  scratch_ = pattern;
  folder_ = scratch_ / "here";
  std::filesystem::create_directories(folder_);
  std::filesystem::create_directories(scratch_ / "bin");
  std::filesystem::create_symlink(std::filesystem::absolute(surroundings_.program), scratch_ / "bin" / "bagsplit");
  std::filesystem::create_directory_symlink(std::filesystem::absolute(surroundings_.data), folder_ / "data");
}

Workplace::~Workplace() {
  std::error_code ignored;
  // A test may have made a folder read-only.
  for (std::filesystem::recursive_directory_iterator it(scratch_, ignored), end; it != end; it.increment(ignored)) {
    if (it->is_directory(ignored) && !it->is_symlink(ignored)) {
      std::filesystem::permissions(it->path(), std::filesystem::perms::owner_all, std::filesystem::perm_options::add,
                                   ignored);
    }
  }
  std::filesystem::remove_all(scratch_, ignored);
}

Outcome Workplace::run(const std::string& script, const std::string& input) {
  const auto in = scratch_ / "in";
  const auto out = scratch_ / "out";
  const auto err = scratch_ / "err";
  write_file(in, input);

  // All that allocates is done before the fork.
  const auto variables = environment(surroundings_, folder_, scratch_ / "bin");
  std::vector<char*> envp;
  for (const auto& variable : variables) {
    envp.push_back(const_cast<char*>(variable.c_str()));
  }
  envp.push_back(nullptr);
  char sh[] = "sh";
  char dash_c[] = "-c";
  std::string text = script;
  char* argv[] = {sh, dash_c, text.data(), nullptr};

  const pid_t child = fork();
  if (child < 0) {
    throw std::runtime_error(complaint("fork"));
  }
  if (child == 0) {
    std::signal(SIGPIPE, SIG_DFL);
    if (chdir(folder_.c_str()) != 0) {
      _exit(126);
    }
    redirect(in.c_str(), O_RDONLY, STDIN_FILENO);
    redirect(out.c_str(), O_WRONLY | O_CREAT | O_TRUNC, STDOUT_FILENO);
    redirect(err.c_str(), O_WRONLY | O_CREAT | O_TRUNC, STDERR_FILENO);
    execve("/bin/sh", argv, envp.data());
    _exit(127);
  }
  int status = 0;
  while (waitpid(child, &status, 0) < 0) {
    if (errno != EINTR) {
      throw std::runtime_error(complaint("waitpid"));
    }
  }
  const int code = WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status);
  return {code, read_file(out), read_file(err)};
}

}  // namespace bagsplit::test
