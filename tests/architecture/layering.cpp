#include "architecture/layering.hpp"

#include <map>
#include <optional>
#include <regex>

namespace bagsplit::test {

namespace {

/// Height of a module: includes go downwards only. Leaves have height 0 and include nothing but themselves.
std::optional<int> height_of(const std::string& module) {
  static const std::map<std::string, int> heights{
      {"cli", 7},     {"present", 6},  {"jobs", 5},   {"inference", 4}, {"gates", 3},
      {"record", 3},  {"basepath", 2}, {"norms", 2},  {"timing", 2},    {"runs", 1},
      {"builtin", 0}, {"motion", 0},   {"safety", 0}, {"stats", 0},     {"text", 0},
  };
  const auto it = heights.find(module);
  return it == heights.end() ? std::nullopt : std::optional(it->second);
}

/// "sprint" of lib/bagsplit/motion/curve.hpp, "cli" of cli/main.cpp; empty elsewhere.
std::string module_of(std::string_view path) {
  constexpr std::string_view lib = "lib/bagsplit/";
  if (path.starts_with("cli/")) {
    return "cli";
  }
  if (!path.starts_with(lib)) {
    return "";
  }
  path.remove_prefix(lib.size());
  return std::string(path.substr(0, path.find('/')));
}

struct Include {
  std::size_t line;
  std::string name;
  bool quoted;
};

std::vector<Include> includes_of(const SourceFile& file) {
  static const std::regex pattern(R"re(^\s*#\s*include\s*(["<])([^">]+)[">])re");
  std::vector<Include> includes;
  const auto code = take_apart(file.text).code;
  std::size_t number = 0;
  for (const auto line : lines_of(code)) {
    ++number;
    std::match_results<std::string_view::const_iterator> match;
    if (std::regex_search(line.begin(), line.end(), match, pattern)) {
      includes.push_back({number, match[2].str(), match[1].str() == "\""});
    }
  }
  return includes;
}

}  // namespace

std::vector<Finding> against_the_arrows(const SourceFile& file) {
  std::vector<Finding> findings;
  const auto own = module_of(file.path);
  const auto own_height = height_of(own);
  if (!own_height) {
    findings.push_back({file.path, 1, "module '" + own + "' has no place in the map of modules (tests/architecture)"});
    return findings;
  }
  for (const auto& include : includes_of(file)) {
    if (!include.name.starts_with("bagsplit/")) {
      if (include.quoted && own != "cli") {
        findings.push_back({file.path, include.line, "write \"bagsplit/<module>/...\" for \"" + include.name + "\""});
      }
      continue;
    }
    const auto other = module_of("lib/" + include.name);
    const auto other_height = height_of(other);
    if (!other_height) {
      findings.push_back({file.path, include.line, "includes a module that is not in the map: " + include.name});
    } else if (other != own && (*own_height == 0 || (*other_height > 0 && *other_height >= *own_height))) {
      findings.push_back({file.path, include.line, own + " must not include " + other + " (" + include.name + ")"});
    }
  }
  return findings;
}

std::vector<Finding> crowded_folders(const std::vector<std::string>& paths) {
  constexpr std::size_t most = 56;
  std::map<std::string, std::size_t> files;
  for (const std::string& path : paths) {
    if (path.ends_with(".hpp") || path.ends_with(".cpp")) {
      ++files[path.substr(0, path.rfind('/'))];
    }
  }
  std::vector<Finding> findings;
  for (const auto& [folder, count] : files) {
    if (count > most) {
      findings.push_back({folder, 1, std::to_string(count) + " sources and headers, at most " + std::to_string(most)});
    }
  }
  return findings;
}

std::vector<Finding> heavy_includes(const SourceFile& file) {
  std::vector<Finding> findings;
  for (const auto& include : includes_of(file)) {
    const auto& name = include.name;
    if (name == "execution" || name == "iostream" || name.starts_with("CLI/")) {
      findings.push_back({file.path, include.line, "lib/ does without <" + name + ">"});
    } else if (file.path.ends_with(".hpp") && (name.starts_with("boost/math/") || name == "nlohmann/json.hpp")) {
      findings.push_back({file.path, include.line, "<" + name + "> belongs in a .cpp file"});
    }
  }
  return findings;
}

}  // namespace bagsplit::test
