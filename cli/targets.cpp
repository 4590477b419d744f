#include "targets.hpp"

#include <fcntl.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <cstring>
#include <filesystem>

#include "bagsplit/runs/courses/course.hpp"
#include "bagsplit/runs/log/file_columns.hpp"
#include "bagsplit/runs/units.hpp"
#include "bagsplit/text/csv.hpp"
#include "bagsplit/text/text.hpp"

namespace bagsplit::cli {

namespace {

namespace fs = std::filesystem;

bool is_file(const std::string& name, const struct stat& wanted) {
  struct stat found {};
  return stat(name.c_str(), &found) == 0 && found.st_dev == wanted.st_dev && found.st_ino == wanted.st_ino;
}

// The name by which `target` is read; empty where it is not.
std::string name_read(const struct stat& target, std::span<const std::string> read) {
  for (const std::string& name : read) {
    std::error_code error;
    if (!fs::is_directory(name, error)) {
      if (is_file(name, target)) {
        return name;
      }
      continue;
    }
    for (fs::directory_iterator it(name, error), end; !error && it != end; it.increment(error)) {
      const std::string inside = it->path().string();
      if (text::lower(inside).ends_with(".csv") && is_file(inside, target)) {
        return inside;
      }
    }
  }
  return {};
}

bool is_mark(std::string_view name) {
  return runs::bag_of_name(name) || text::equal_ignoring_case(name, "move") || runs::parse_length_m(name);
}

bool is_one_of(std::span<const runs::ColumnWords> columns, std::string_view name) {
  return std::any_of(columns.begin(), columns.end(),
                     [&](const runs::ColumnWords& column) { return text::equal_ignoring_case(column.name, name); });
}

// What a file was recorded as, by its header; empty for any other. Answers share words with these (a profile has
// `player` and `sex`, a comparison of timers `first` and `start`), so one word is not enough; and a slip in one column
// must not give a log away.
std::string recorded_as(std::string beginning) {
  // As UTF-16, with its mark or without, the same words stand with NULs between.
  if (beginning.starts_with("\xFF\xFE") || beginning.starts_with("\xFE\xFF")) {
    beginning.erase(0, 2);
  }
  std::erase(beginning, '\0');
  text::CsvReader csv(beginning);
  text::CsvRecord record;
  do {
    if (!csv.next_line(record)) {
      return {};
    }
  } while (record.text.starts_with('#') || text::trim(record.text).empty() ||
           text::lower(record.text).starts_with("sep="));
  csv.set_delimiter(text::detect_delimiter(record.text));
  csv.seek(record.offset, record.line);
  csv.next(record);
  std::vector<std::string_view> names;
  for (const std::string_view name : csv.fields()) {
    names.push_back(text::trim(name));
  }
  const auto has = [&](std::string_view wanted) {
    return std::any_of(names.begin(), names.end(),
                       [&](std::string_view name) { return text::equal_ignoring_case(name, wanted); });
  };
  if (has("gate") && has("time")) {
    return "a gate log";
  }
  if (std::any_of(names.begin(), names.end(), is_mark) &&
      (has("player") || has("date") || has("course") || has("trial"))) {
    return "a run log";
  }
  constexpr std::array own{"bib", "name", "born", "height_cm", "mass_kg", "sitting_height_cm", "bats"};
  const bool only_ours = std::all_of(names.begin(), names.end(), [](std::string_view n) {
    return is_one_of(runs::roster_columns(), n) || n.starts_with("x-");
  });
  return has("player") && (only_ours || std::any_of(own.begin(), own.end(), has)) ? "a roster" : "";
}

// The first bytes of a file: enough for the header.
std::string beginning_of(int file) {
  std::string text(65'536, '\0');
  const ssize_t got = pread(file, text.data(), text.size(), 0);
  text.resize(got > 0 ? static_cast<std::size_t>(got) : 0);
  return text;
}

}  // namespace

std::vector<std::string> names_read(const Invocation& invocation) {
  const InputOptions& input = invocation.input;
  std::vector<std::string> names = input.logs;
  for (const auto& more : {input.devices, input.courses, invocation.record.before}) {
    names.insert(names.end(), more.begin(), more.end());
  }
  names.insert(names.end(), {input.roster.value_or(""), input.model.value_or(""), invocation.gates.starts,
                             invocation.gates.map, invocation.record.order, invocation.sheet.order});
  std::erase_if(names, [](const std::string& name) { return name.empty() || name == "-"; });
  return names;
}

std::string why_not_replaced(const std::string& target, std::span<const std::string> read) {
  struct stat old {};
  if (target == "-" || stat(target.c_str(), &old) != 0 || !S_ISREG(old.st_mode)) {
    return {};
  }
  const std::string quoted = "'" + target + "'";
  if (const std::string name = name_read(old, read); !name.empty()) {
    return quoted + (name == target ? "" : " is '" + name + "', which") +
           " is read and would be overwritten: give the answer a name of its own";
  }
  const int file = open(target.c_str(), O_RDONLY | O_CLOEXEC | O_NONBLOCK);
  if (file < 0) {
    return quoted + " is there already and cannot be looked at (" + std::strerror(errno) +
           "): give another name, or remove it first";
  }
  const bool locked = flock(file, LOCK_EX | LOCK_NB) != 0 && errno == EWOULDBLOCK;
  const std::string what = recorded_as(beginning_of(file));
  close(file);
  if (locked) {
    return quoted + " is in use by another program, such as a recorder: end that one first, or give another name";
  }
  return what.empty() ? ""
                      : quoted + " is " + what +
                            ", and what was recorded is never replaced: give another name, or remove it first";
}

bool is_same_place(const std::string& a, const std::string& b) {
  std::error_code wrong_a;
  std::error_code wrong_b;
  std::error_code none;
  const fs::path one = fs::weakly_canonical(a, wrong_a);
  const fs::path other = fs::weakly_canonical(b, wrong_b);
  return a == b || (!wrong_a && !wrong_b && fs::absolute(one, none) == fs::absolute(other, none)) ||
         fs::equivalent(a, b, none);
}

}  // namespace bagsplit::cli
