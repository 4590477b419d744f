#include "bagsplit/runs/files.hpp"

#include <fcntl.h>
#include <poll.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <cstdio>
#include <cstring>
#include <filesystem>
#include <istream>
#include <iterator>
#include <memory>
#include <set>

#include "bagsplit/text/memory_hints.hpp"
#include "bagsplit/text/text.hpp"

namespace bagsplit::runs {

namespace {

namespace fs = std::filesystem;

struct Close {
  void operator()(std::FILE* file) const { std::fclose(file); }
};

text::Problem file_problem(std::string path, std::string code, std::string message, std::string hint = {}) {
  text::Problem problem;
  problem.code = std::move(code);
  problem.path = std::move(path);
  problem.message = std::move(message);
  problem.hint = std::move(hint);
  return problem;
}

text::Problem too_large(const std::string& path, std::size_t max_bytes) {
  text::Problem problem = file_problem(path, "file-too-large", "the file is too large");
  problem.expected = "at most " + std::to_string(max_bytes) + " bytes";
  problem.hint = "split it into several files and give them together";
  return problem;
}

constexpr std::size_t most_from_device = 1U << 20U;  // bytes: a device need not end

bool is_workbook_name(const std::string& name) {
  const std::string small = text::lower(name);
  return small.ends_with(".xlsx") || small.ends_with(".xls") || small.ends_with(".ods");
}

bool is_log_name(const std::string& name) {
  return name.size() > 4 && name.front() != '.' && text::lower(name).ends_with(".csv");
}

// A named pipe, once somebody writes to it; nothing, and errno 0, where nobody does within a second or has written
// nothing: opened plainly, it would wait for ever.
std::FILE* open_pipe(const std::string& path) {
  constexpr int tries = 50;
  const int pipe = open(path.c_str(), O_RDONLY | O_NONBLOCK | O_CLOEXEC);
  for (int k = 0; pipe >= 0 && k < tries; ++k) {
    pollfd waits{pipe, POLLIN, 0};
    char none = 0;
    if ((poll(&waits, 1, 20) > 0 && (waits.revents & POLLIN) != 0) || (read(pipe, &none, 1) < 0 && errno == EAGAIN)) {
      fcntl(pipe, F_SETFL, fcntl(pipe, F_GETFL) & ~O_NONBLOCK);
      return fdopen(pipe, "rb");
    }
    if ((waits.revents & POLLHUP) != 0) {
      break;
    }
    poll(nullptr, 0, 20);
  }
  if (pipe >= 0) {
    close(pipe);
    errno = 0;
  }
  return nullptr;
}

// The file itself, whatever the way to it; the name as typed where that cannot be told.
std::string identity(const std::string& path) {
  std::error_code error;
  const fs::path real = fs::canonical(path, error);
  return error ? path : real.string();
}

class Loader {
 public:
  Loader(std::istream* standard_input, text::Problems& problems)
      : standard_input_(standard_input), problems_(problems) {}

  std::vector<LoadedFile> load(std::span<const std::string> names) {
    for (const std::string& name : names) {
      std::error_code error;
      if (name == "-" && standard_input_ != nullptr) {
        load_standard_input();
      } else if (fs::is_directory(name, error)) {
        load_folder(name);
      } else {
        load_file(name, false);
      }
    }
    return std::move(files_);
  }

 private:
  bool is_new(const std::string& path) {
    if (seen_.insert(path == "-" ? path : identity(path)).second) {
      return true;
    }
    text::Problem problem = file_problem(path, "file-given-twice", "the file is named twice; it is read once");
    problem.severity = text::Severity::suspicion;
    problems_.push_back(std::move(problem));
    return false;
  }

  void load_standard_input() {
    if (!is_new("-")) {
      return;
    }
    constexpr std::size_t chunk = 1U << 20U;
    const std::size_t most = text::CsvLimits{}.max_file_bytes;
    std::string text;
    while (*standard_input_ && text.size() <= most) {
      const std::size_t before = text.size();
      text.resize(before + chunk);
      standard_input_->read(text.data() + before, static_cast<std::streamsize>(chunk));
      text.resize(before + static_cast<std::size_t>(standard_input_->gcount()));
    }
    if (text.size() > most) {
      problems_.push_back(too_large("-", most));
    } else if (standard_input_->bad()) {
      problems_.push_back(file_problem("-", "file-unreadable", "standard input cannot be read"));
    } else {
      files_.push_back({"-", std::move(text), false});
    }
  }

  void load_file(const std::string& path, bool from_folder) {
    if (!is_new(path)) {
      return;
    }
    if (auto text = read_file(path, problems_)) {
      files_.push_back({path, std::move(*text), from_folder});
    }
  }

  void load_folder(const std::string& folder) {
    std::error_code error;
    std::vector<std::string> logs;
    std::vector<std::string> others;
    for (fs::directory_iterator it(folder, error), end; !error && it != end; it.increment(error)) {
      const std::string name = it->path().filename().string();
      std::error_code ignored;
      // A link to nothing is told when it is read; a pipe or a device might never end.
      const fs::file_status status = it->status(ignored);
      const bool is_log = is_log_name(name) && (fs::is_regular_file(status) || !fs::exists(status));
      (is_log ? logs : others).push_back(name);
    }
    if (error) {
      problems_.push_back(file_problem(folder, "file-unreadable", "the folder cannot be read: " + error.message()));
      return;
    }
    std::sort(logs.begin(), logs.end());
    std::sort(others.begin(), others.end());
    const auto join = [&](const std::string& name) {
      return folder.ends_with('/') ? folder + name : folder + "/" + name;
    };
    for (const std::string& name : others) {
      text::Problem note = file_problem(join(name), "ignored-file", "passed over: the name does not end in .csv");
      std::error_code ignored;
      if (fs::is_directory(join(name), ignored)) {
        note.message = "passed over: a folder in a folder";
      } else if (name.front() == '.') {
        note.message = "passed over: a hidden file";
      } else if (is_log_name(name)) {
        note.message = "passed over: a pipe or a device, not a file";
      } else if (is_workbook_name(name)) {
        note.hint = "a spreadsheet's workbook: to have it read, save its sheet as CSV in UTF-8";
      }
      note.severity = text::Severity::note;
      problems_.push_back(std::move(note));
    }
    if (logs.empty()) {
      problems_.push_back(file_problem(folder, "no-files", "the folder holds no file whose name ends in .csv"));
    }
    for (const std::string& name : logs) {
      load_file(join(name), true);
    }
  }

  std::istream* standard_input_;
  text::Problems& problems_;
  std::vector<LoadedFile> files_;
  std::set<std::string> seen_;
};

}  // namespace

std::optional<std::string> read_file(const std::string& path, text::Problems& problems, std::size_t max_bytes) {
  std::error_code error;
  const fs::file_status status = fs::status(path, error);
  if (!fs::exists(status)) {
    const bool missing = !error || error == std::errc::no_such_file_or_directory;
    problems.push_back(missing ? file_problem(path, "file-missing", "there is no such file")
                               : file_problem(path, "file-unreadable", "the file cannot be read: " + error.message()));
    return std::nullopt;
  }
  if (fs::is_directory(status)) {
    problems.push_back(file_problem(path, "file-unreadable", "a folder stands where a file is expected"));
    return std::nullopt;
  }
  const bool is_device = fs::is_character_file(status) || fs::is_block_file(status);
  max_bytes = is_device ? std::min(max_bytes, most_from_device) : max_bytes;
  errno = 0;
  const bool is_pipe = fs::is_fifo(status);
  const std::unique_ptr<std::FILE, Close> file(is_pipe ? open_pipe(path) : std::fopen(path.c_str(), "rb"));
  if (is_pipe && !file && errno == 0) {
    problems.push_back(file_problem(path, "file-unreadable", "a pipe that nobody writes to, not a file"));
    return std::nullopt;
  }
  if (!file) {
    problems.push_back(
        file_problem(path, "file-unreadable", std::string("the file cannot be opened: ") + std::strerror(errno)));
    return std::nullopt;
  }
  // The size is only a first guess: a pipe has none, and a file may grow.
  std::string text;
  const std::uintmax_t size = fs::is_regular_file(status) ? fs::file_size(path, error) : 0;
  if (!error && size > max_bytes) {
    problems.push_back(too_large(path, max_bytes));
    return std::nullopt;
  }
  text.reserve(error ? 0 : static_cast<std::size_t>(size));
  text::detail::hint_large_pages(text.data(), text.capacity());
  // By way of a piece that stays in the cache: a string that is made larger fills itself with zeros first.
  std::vector<char> piece(65'536);
  while (std::feof(file.get()) == 0 && std::ferror(file.get()) == 0) {
    text.append(piece.data(), std::fread(piece.data(), 1, piece.size(), file.get()));
    if (text.size() > max_bytes) {
      problems.push_back(is_device ? file_problem(path, "file-unreadable", "a device that does not end, not a file")
                                   : too_large(path, max_bytes));
      return std::nullopt;
    }
  }
  if (std::ferror(file.get()) != 0) {
    problems.push_back(
        file_problem(path, "file-unreadable", std::string("the file cannot be read: ") + std::strerror(errno)));
    return std::nullopt;
  }
  return text;
}

std::vector<LoadedFile> load_logs(std::span<const std::string> names, std::istream* standard_input,
                                  text::Problems& problems) {
  return Loader(standard_input, problems).load(names);
}

std::vector<LogText> texts_of(std::span<const LoadedFile> files) {
  std::vector<LogText> texts;
  texts.reserve(files.size());
  for (const LoadedFile& file : files) {
    texts.push_back({file.text, file.path, file.from_folder});
  }
  return texts;
}

}  // namespace bagsplit::runs
