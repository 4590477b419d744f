#include "journal.hpp"

#include <fcntl.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>
#include <filesystem>
#include <fstream>
#include <iterator>

namespace bagsplit::cli {

namespace {

constexpr int most_beside = 1'000;

std::string reason(const std::string& what, int trouble) {
  return what + ": " + std::strerror(trouble);
}

// @return 0, or errno.
int write_all(int file, std::string_view text) {
  while (!text.empty()) {
    const ssize_t written = write(file, text.data(), text.size());
    if (written < 0 && errno != EINTR) {
      return errno;
    }
    text.remove_prefix(written > 0 ? static_cast<std::size_t>(written) : 0);
  }
  return 0;
}

// A name is on the disk only once its folder is.
int sync_folder_of(const std::string& path) {
  const std::size_t slash = path.rfind('/');
  const std::string folder = slash == std::string::npos ? "." : slash == 0 ? "/" : path.substr(0, slash);
  const int file = open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC);
  if (file < 0) {
    return errno;
  }
  // Some file systems cannot sync a folder and say EINVAL: there is nothing better to do there.
  const int trouble = fsync(file) == 0 || errno == EINVAL ? 0 : errno;
  close(file);
  return trouble;
}

// A file beside `path` holding `text`, on the disk; -1 with `trouble`.
int write_beside(const std::string& path, std::string_view text, mode_t mode, std::string& beside, int& trouble) {
  beside = path + ".XXXXXX";
  const int file = mkostemp(beside.data(), O_CLOEXEC | O_APPEND);
  if (file < 0) {
    trouble = errno;
    return -1;
  }
  trouble = write_all(file, text);
  if (trouble == 0 && (fchmod(file, mode) != 0 || fsync(file) != 0)) {
    trouble = errno;
  }
  if (trouble != 0) {
    close(file);
    unlink(beside.c_str());
    return -1;
  }
  return file;
}

}  // namespace

Journal::~Journal() {
  let_go();
}

void Journal::let_go() {
  if (file_ >= 0) {
    close(file_);
    file_ = -1;
  }
}

std::string Journal::create(const std::string& path, std::string_view header, bool& exists) {
  const mode_t mask = umask(0);
  umask(mask);
  std::string beside;
  int trouble = 0;
  const int file = write_beside(path, header, 0666U & ~mask, beside, trouble);
  if (file < 0) {
    return reason("'" + path + "' cannot be made", trouble);
  }
  // link() rather than rename(): it never takes the place of a file that another recorder has just made.
  if (link(beside.c_str(), path.c_str()) != 0) {
    trouble = errno;
    if (trouble == EPERM || trouble == ENOTSUP) {  // a file system without links, such as that of many memory sticks
      trouble = access(path.c_str(), F_OK) == 0 ? EEXIST : rename(beside.c_str(), path.c_str()) == 0 ? 0 : errno;
    }
  }
  unlink(beside.c_str());
  close(file);
  exists = trouble == EEXIST;
  if (trouble == 0) {
    trouble = sync_folder_of(path);
  }
  return trouble == 0 || exists ? std::string() : reason("'" + path + "' cannot be made", trouble);
}

std::string Journal::lock(const std::string& path) {
  for (int tries = 0; tries < 100; ++tries) {
    let_go();  // what another recorder has renamed a new file over meanwhile
    file_ = ::open(path.c_str(), O_RDWR | O_APPEND | O_CLOEXEC | O_NONBLOCK);
    if (file_ < 0) {
      return reason("'" + path + "' cannot be opened for writing", errno);
    }
    struct stat opened {};
    struct stat named {};
    if (fstat(file_, &opened) != 0 || !S_ISREG(opened.st_mode)) {
      return "'" + path + "' is not a file that can be added to and kept safe";
    }
    if (flock(file_, LOCK_EX | LOCK_NB) != 0) {
      return errno == EWOULDBLOCK
                 ? "'" + path +
                       "' is open in another recorder: end that one first, or give this one a file of its own "
                       "and merge them later (record --merge)"
                 : reason("'" + path + "' cannot be locked", errno);
    }
    if (stat(path.c_str(), &named) == 0 && named.st_ino == opened.st_ino && named.st_dev == opened.st_dev) {
      return {};
    }
  }
  return "'" + path + "' changes all the time";
}

std::string Journal::read_all(std::string& text) const {
  struct stat now {};
  if (fstat(file_, &now) != 0) {
    return std::strerror(errno);
  }
  text.resize(static_cast<std::size_t>(now.st_size));
  std::size_t at = 0;
  while (at < text.size()) {
    const ssize_t got = pread(file_, text.data() + at, text.size() - at, static_cast<off_t>(at));
    if (got < 0 && errno != EINTR) {
      return std::strerror(errno);
    }
    if (got == 0) {
      break;
    }
    at += got > 0 ? static_cast<std::size_t>(got) : 0;
  }
  text.resize(at);
  return {};
}

std::string Journal::set_torn_aside(const std::string& path) {
  const std::size_t whole = text_.rfind('\n') == std::string::npos ? 0 : text_.rfind('\n') + 1;
  torn_ = text_.substr(whole);
  if (torn_.empty()) {
    return {};
  }
  const std::string aside = path + ".torn";
  const int kept = ::open(aside.c_str(), O_WRONLY | O_CREAT | O_APPEND | O_CLOEXEC, 0666);
  int trouble = kept < 0 ? errno : write_all(kept, torn_ + "\n");
  if (trouble == 0 && fsync(kept) != 0) {
    trouble = errno;
  }
  if (kept >= 0) {
    close(kept);
  }
  if (trouble != 0) {
    return reason("the torn last line cannot be kept in '" + aside + "'", trouble);
  }
  text_.resize(whole);
  struct stat old {};
  fstat(file_, &old);
  std::error_code error;  // a link to the log stays one
  const std::filesystem::path real = std::filesystem::canonical(path, error);
  const std::string place = error ? path : real.string();
  std::string beside;
  const int file = write_beside(place, text_, old.st_mode & 07777U, beside, trouble);
  if (file < 0) {
    return reason("'" + path + "' cannot be written anew without its torn last line", trouble);
  }
  if (flock(file, LOCK_EX | LOCK_NB) != 0 || rename(beside.c_str(), place.c_str()) != 0) {
    trouble = errno;
    close(file);
    unlink(beside.c_str());
    return reason("'" + path + "' cannot be written anew without its torn last line", trouble);
  }
  let_go();
  file_ = file;
  trouble = sync_folder_of(place);
  return trouble == 0 ? std::string() : reason("the folder of '" + path + "' cannot be written", trouble);
}

std::string Journal::beside(int number) const {
  const std::size_t name = first_path_.rfind('/') == std::string::npos ? 0 : first_path_.rfind('/') + 1;
  const std::size_t dot = first_path_.rfind('.');
  const std::size_t stem = dot == std::string::npos || dot <= name ? first_path_.size() : dot;
  return first_path_.substr(0, stem) + "-" + std::to_string(number) + first_path_.substr(stem);
}

std::string Journal::took_over() const {
  std::string found;
  for (int k = 2; k < most_beside; ++k) {
    std::ifstream file(beside(k), std::ios::binary);
    if (!file) {
      break;
    }
    const std::string text{std::istreambuf_iterator<char>(file), std::istreambuf_iterator<char>()};
    // It began with what was kept in this one: the header and, where there is one, the first entry.
    const std::size_t header = text_.find(",x-entry\n") + std::string_view(",x-entry\n").size();
    const std::string begin = text_.substr(0, std::min(text_.find('\n', header), text_.size() - 1) + 1);
    found = text.starts_with(begin) && text.size() > begin.size() && text != text_ ? beside(k) : found;
  }
  return found;
}

std::string Journal::open(const std::string& path, std::string_view header) {
  if (access(path.c_str(), F_OK) != 0 && errno == ENOENT) {
    bool exists = false;
    if (std::string wrong = create(path, header, exists); !wrong.empty()) {
      return wrong;
    }
    is_new_ = !exists;
  }
  if (std::string wrong = lock(path); !wrong.empty()) {
    return wrong;
  }
  first_path_ = path_ = path;
  if (const std::string wrong = read_all(text_); !wrong.empty()) {
    return "'" + path + "' cannot be read: " + wrong;
  }
  // Before anything is changed: is it a recorder's log at all?
  if (!text_.empty() && text_.find(",x-entry\n") == std::string::npos) {
    return "'" + path +
           "' is not a log that bagsplit record has begun: give a new name; earlier logs are given by --before";
  }
  if (std::string wrong = set_torn_aside(path); !wrong.empty()) {
    return wrong;
  }
  if (text_.empty()) {
    if (std::string wrong = append(header); !wrong.empty()) {
      return wrong;
    }
    is_new_ = true;
  }
  return {};
}

std::string Journal::done_by_others() {
  struct stat named {};
  struct stat ours {};
  if (stat(path_.c_str(), &named) != 0) {
    return errno == ENOENT ? "was removed or renamed by another program" : reason("is out of reach", errno);
  }
  if (fstat(file_, &ours) != 0) {
    return reason("is out of reach", errno);
  }
  if (named.st_dev != ours.st_dev || named.st_ino != ours.st_ino) {
    return "was replaced by another program";
  }
  if (static_cast<std::size_t>(ours.st_size) != text_.size()) {
    return static_cast<std::size_t>(ours.st_size) < text_.size() ? "was shortened by another program"
                                                                 : "was added to by another program";
  }
  // An editor may have written other words of the same length.
  if (ours.st_mtim.tv_sec != seen_.tv_sec || ours.st_mtim.tv_nsec != seen_.tv_nsec) {
    std::string now;
    if (const std::string wrong = read_all(now); !wrong.empty()) {
      return "cannot be read: " + wrong;
    }
    if (now != text_) {
      return "was changed by another program";
    }
    seen_ = ours.st_mtim;
  }
  return {};
}

std::string Journal::look() {
  if (given_up_.empty()) {
    given_up_ = done_by_others();
  }
  if (given_up_.empty()) {
    return {};
  }
  const std::string old = "'" + path_ + "' " + given_up_;
  for (int k = 2; k < most_beside; ++k) {
    const std::string other = beside(k);
    bool exists = false;
    std::string wrong = create(other, text_, exists);
    if (exists) {
      continue;
    }
    if (wrong.empty()) {
      wrong = lock(other);
    }
    if (!wrong.empty()) {
      return old + ", and " + wrong;
    }
    moved_ = old + "; nothing more is written to it";
    path_ = other;
    given_up_.clear();
    seen_ = {};
    return {};
  }
  return old + ", and there are too many files like it";
}

std::string Journal::append(std::string_view lines) {
  if (std::string trouble = look(); !trouble.empty()) {
    return trouble;
  }
  int trouble = write_all(file_, lines);
  if (trouble == 0 && fsync(file_) != 0) {
    trouble = errno;
    given_up_ = reason("cannot be written safely", trouble);  // after a failed fsync nobody knows what the disk holds
  }
  if (trouble == 0) {
    text_ += lines;
    std::string wrong = look();  // it may have been replaced while the line was written
    if (!wrong.empty()) {
      text_.resize(text_.size() - lines.size());
    }
    return wrong;
  }
  // Half a line may be there: take it away again.
  if (ftruncate(file_, static_cast<off_t>(text_.size())) != 0 || fsync(file_) != 0) {
    given_up_ = reason("cannot be written safely", trouble);
  }
  return "'" + path_ + "': " + std::strerror(trouble);
}

}  // namespace bagsplit::cli
