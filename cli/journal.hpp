#pragma once

#include <cstddef>
#include <string>
#include <string_view>

/// A file that is only ever added to, line by line, each line on the disk before the next is taken; one writer at a
/// time.
namespace bagsplit::cli {

class Journal {
 public:
  Journal() = default;
  ~Journal();
  Journal(const Journal&) = delete;
  Journal& operator=(const Journal&) = delete;

  /// Opens the file and locks it, or makes it with `header` in it. A last line without an end, cut off while being
  /// written, is moved to the file `path`.torn: the whole lines are written beside and renamed.
  ///
  /// The lock is flock(2) on the file itself: it ends with the process, whatever way that ends.
  /// @return empty, or what is wrong in one line.
  std::string open(const std::string& path, std::string_view header);

  /// Adds a line and waits until the disk has it (write, fsync). After trouble the file is as before, or `broken()`.
  /// @return empty, or what is wrong.
  std::string append(std::string_view line);

  bool is_new() const { return is_new_; }
  /// What was cut off, without its line end; empty when nothing was.
  const std::string& torn() const { return torn_; }
  /// The whole lines that were there on opening.
  const std::string& text() const { return text_; }
  /// Nothing more can be written: what the disk holds is not known for sure.
  bool broken() const { return broken_; }

 private:
  std::string create(const std::string& path, std::string_view header, bool& exists);
  std::string lock(const std::string& path);
  std::string read_all();
  std::string set_torn_aside(const std::string& path);

  int file_ = -1;
  std::size_t size_ = 0;
  std::string text_;
  std::string torn_;
  bool is_new_ = false;
  bool broken_ = false;
};

}  // namespace bagsplit::cli
