#pragma once

#include <ctime>
#include <string>
#include <string_view>

/// A file that is only ever added to, line by line, each line on the disk before the next is taken; one writer at a
/// time.
namespace bagsplit::cli {

/// When another program replaces, removes, shortens or changes the file (editors and programs that keep folders alike
/// do), nothing more is written to it: a new file beside it, `night-2.csv` beside `night.csv`, takes all that was kept,
/// and the journal goes on there.
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

  /// Adds lines and waits until the disk has them (write, fsync): then the file at `path()` holds all that was kept, to
  /// the byte. After trouble it is as if nothing had been added.
  /// @return empty, or what is wrong.
  std::string append(std::string_view lines);

  /// Compares the file with what was kept, and goes on in a new one where another program has changed it.
  /// @return empty, or why there is no file to go on in; tried again each time.
  std::string look();

  /// The last file beside it that an earlier session went on in, after another program had changed this one; empty:
  /// none, or it holds no more than this one.
  std::string took_over() const;

  /// Where the lines are.
  const std::string& path() const { return path_; }
  /// Why `path()` is another file than the one before; empty when it never was.
  const std::string& moved() const { return moved_; }
  bool is_new() const { return is_new_; }
  /// What was cut off, without its line end; empty when nothing was.
  const std::string& torn() const { return torn_; }
  /// All that is kept: the whole lines that were there on opening, and those added.
  const std::string& text() const { return text_; }

 private:
  std::string create(const std::string& path, std::string_view header, bool& exists);
  std::string lock(const std::string& path);
  std::string read_all(std::string& text) const;
  std::string set_torn_aside(const std::string& path);
  std::string done_by_others();
  std::string beside(int number) const;
  void let_go();

  int file_ = -1;
  std::string first_path_, path_;
  std::string text_;
  std::string torn_;
  std::string moved_;
  std::string given_up_;  // why the file at `path_` is left; empty while it is the one written to
  std::timespec seen_{};  // when the file was last written to, as of the last comparison
  bool is_new_ = false;
};

}  // namespace bagsplit::cli
