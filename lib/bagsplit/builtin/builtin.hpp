#pragma once

#include <optional>
#include <span>
#include <string_view>

/// The data files compiled into the library: norms, devices, courses, models. Text only; parsing is the caller's.
namespace bagsplit::builtin {

struct File {
  std::string_view name;  ///< path below data/, e.g. "norms/sprint-20m-emotikon-fggk21.csv"
  std::string_view text;  ///< whole content, UTF-8
};

/// All embedded files, ordered by name.
std::span<const File> files();

/// The text of one embedded file, or nothing where there is no such name.
std::optional<std::string_view> text(std::string_view name);

}  // namespace bagsplit::builtin
