#pragma once

#include <iosfwd>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "bagsplit/runs/log/run_log.hpp"
#include "bagsplit/text/problem.hpp"

/// From what a user names to texts in memory: files, folders of files, standard input. All file access of the module is
/// here.
namespace bagsplit::runs {

/// A file as the user named it, or as found in a folder, with its text.
struct LoadedFile {
  std::string path;
  std::string text;
  bool from_folder = false;
};

/// Reads a whole file. Problem codes: `file-missing`, `file-unreadable` (a folder, no permission, an error while
/// reading), `file-too-large`.
std::optional<std::string> read_file(const std::string& path, text::Problems& problems,
                                     std::size_t max_bytes = text::CsvLimits{}.max_file_bytes);

/// Reads the logs a user names: a file, a folder (its `*.csv`, ordered by the bytes of their names; not its
/// subfolders), or `-` for `standard_input`, in the order given.
///
/// What a folder holds besides is told as a note (`ignored-file`), a folder without logs as `no-files`, a file named
/// twice as `file-given-twice` and read once; other codes as in read_file.
/// @param standard_input  read at most once; nullptr when `-` is not allowed.
std::vector<LoadedFile> load_logs(std::span<const std::string> names, std::istream* standard_input,
                                  text::Problems& problems);

/// Views of the files for read_run_logs.
std::vector<LogText> texts_of(std::span<const LoadedFile> files);

}  // namespace bagsplit::runs
