#include "journal.hpp"

#include <fcntl.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>

namespace bagsplit::cli {

namespace {

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
  if (file_ >= 0) {
    close(file_);
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
    close(file_);  // another recorder has renamed a new file into this place meanwhile
    file_ = -1;
  }
  return "'" + path + "' changes all the time";
}

std::string Journal::read_all() {
  struct stat now {};
  if (fstat(file_, &now) != 0) {
    return std::strerror(errno);
  }
  text_.resize(static_cast<std::size_t>(now.st_size));
  std::size_t at = 0;
  while (at < text_.size()) {
    const ssize_t got = pread(file_, text_.data() + at, text_.size() - at, static_cast<off_t>(at));
    if (got < 0 && errno != EINTR) {
      return std::strerror(errno);
    }
    if (got == 0) {
      break;
    }
    at += got > 0 ? static_cast<std::size_t>(got) : 0;
  }
  text_.resize(at);
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
  std::string beside;
  const int file = write_beside(path, text_, old.st_mode & 07777U, beside, trouble);
  if (file < 0) {
    return reason("'" + path + "' cannot be written anew without its torn last line", trouble);
  }
  if (flock(file, LOCK_EX | LOCK_NB) != 0 || rename(beside.c_str(), path.c_str()) != 0) {
    trouble = errno;
    close(file);
    unlink(beside.c_str());
    return reason("'" + path + "' cannot be written anew without its torn last line", trouble);
  }
  close(file_);
  file_ = file;
  trouble = sync_folder_of(path);
  return trouble == 0 ? std::string() : reason("the folder of '" + path + "' cannot be written", trouble);
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
  if (const std::string wrong = read_all(); !wrong.empty()) {
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
  size_ = text_.size();
  if (size_ == 0) {
    if (std::string wrong = append(header); !wrong.empty()) {
      return wrong;
    }
    text_ = header;
    is_new_ = true;
  }
  return {};
}

std::string Journal::append(std::string_view line) {
  if (broken_) {
    return "the file is closed after trouble";
  }
  int trouble = write_all(file_, line);
  if (trouble == 0) {
    if (fsync(file_) == 0) {
      size_ += line.size();
      return {};
    }
    trouble = errno;
    broken_ = true;  // after a failed fsync nobody knows what the disk holds
  }
  // Half a line may be there: take it away again.
  if (ftruncate(file_, static_cast<off_t>(size_)) != 0 || fsync(file_) != 0) {
    broken_ = true;
  }
  return std::strerror(trouble);
}

}  // namespace bagsplit::cli
