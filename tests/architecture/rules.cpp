#include "architecture/rules.hpp"

#include <algorithm>
#include <nlohmann/json.hpp>
#include <regex>

namespace bagsplit::test {

namespace {

struct Ban {
  std::regex pattern;
  std::string why;
  std::vector<std::string> needles = {};  ///< where given, the pattern is tried only if the file holds one of them
};

bool may_match(const Ban& ban, std::string_view text) {
  return ban.needles.empty() || std::any_of(ban.needles.begin(), ban.needles.end(), [&](const auto& needle) {
           return text.find(needle) != std::string_view::npos;
         });
}

std::regex caseless(const std::string& pattern) {
  return std::regex(pattern, std::regex::icase);
}

std::vector<Finding> look_for(const std::string& path, std::string_view text, const std::vector<Ban>& bans) {
  std::vector<Finding> findings;
  for (const auto& ban : bans) {
    if (!may_match(ban, text)) {
      continue;
    }
    std::size_t number = 0;
    for (const auto line : lines_of(text)) {
      ++number;
      std::match_results<std::string_view::const_iterator> match;
      if (std::regex_search(line.begin(), line.end(), match, ban.pattern)) {
        findings.push_back({path, number, "'" + match[0].str() + "': " + ban.why});
      }
    }
  }
  return findings;
}

bool is_cpp(std::string_view path) {
  return ends_with_any(path, {".cpp", ".hpp"});
}

std::string file_name(const std::string& path) {
  return path.substr(path.rfind('/') + 1);
}

bool says_where_from(std::string_view text) {
  static const std::regex pattern =
      caseless("\\b(sources?|invented)\\b|doi:|doi\\.org|\\bdoi 10\\.|\\b(computed|derived) (by us )?from\\b");
  return std::regex_search(text.begin(), text.end(), pattern);
}

bool has_source_member(const nlohmann::json& value) {
  if (value.is_object()) {
    for (const char* name : {"source", "sources", "citation", "$comment"}) {
      if (value.contains(name)) {
        return true;
      }
    }
    if (value.contains("about") && value["about"].is_string() && says_where_from(value["about"].get<std::string>())) {
      return true;
    }
  }
  return value.is_structured() && std::any_of(value.begin(), value.end(), has_source_member);
}

/// The `#` lines at the top of a text file, a byte-order mark aside.
std::string top_comment(std::string_view text) {
  std::string comment;
  for (auto line : lines_of(text)) {
    if (line.starts_with("\xEF\xBB\xBF")) {
      line.remove_prefix(3);
    }
    if (!line.starts_with("#")) {
      break;
    }
    comment.append(line).append("\n");
  }
  return comment;
}

}  // namespace

namespace {

// A test that expects a number of two decimals or more says where it is from, in it or above it since the last thing
// ended.
std::vector<Finding> numbers_without_source(const SourceFile& file) {
  static const std::regex says(
      "^\\s*// (Source: |Computed: |Identity: |Common practice, no source|From memory, unverified).*$");
  static const std::regex number(
      "(EXPECT|ASSERT)_(NEAR|DOUBLE_EQ)\\(.*[^A-Za-z0-9_.]([0-9]+\\.[0-9]{2,}|[0-9]{3,}\\.[0-9]).*");
  std::vector<Finding> findings;
  std::size_t at = 0;
  std::size_t first_number = 0;
  std::string name;
  bool said = false;
  for (const auto line : lines_of(file.text)) {
    ++at;
    if (line.starts_with("TEST")) {
      name = line.substr(0, line.find(')') + 1);
    }
    if (line.starts_with("}")) {
      if (!name.empty() && first_number > 0 && !said) {
        findings.push_back({file.path, first_number, name + " expects a number and does not say where it is from"});
      }
      first_number = 0;
      name.clear();
      said = false;
    } else if (std::regex_match(line.begin(), line.end(), says)) {
      said = true;
    } else if (first_number == 0 && line.find("T_") != line.npos &&
               std::regex_search(line.begin(), line.end(), number)) {
      first_number = at;
    }
  }
  return findings;
}

}  // namespace

std::vector<Finding> tests_without_source(const SourceFile& file) {
  static const std::regex form(
      "^\\s*// (Source: .*[0-9]{4}.*|Computed: .*[0-9].*|Identity: .+|Common practice, no source\\b.*|"
      "From memory, unverified\\b.*)$");
  const auto lines = lines_of(file.text);
  if (std::none_of(lines.begin(), lines.end(),
                   [](auto line) { return std::regex_match(line.begin(), line.end(), form); })) {
    return {
        {file.path, 1, "no line says where the expected numbers come from (// Source: authors (year), ... and so on)"}};
  }
  return numbers_without_source(file);
}

std::vector<Finding> left_over_work(const SourceFile& file) {
  // Written in two halves each, so that this file passes its own rule.
  static const std::vector<Ban> bans{
      {std::regex("\\b(TO"
                  "DO|FIX"
                  "ME)\\b"),
       "finish it, or write it under known limits in DEVELOPERS.md"},
      {std::regex("\\bGTEST_"
                  "SKIP\\b"),
       "a test that cannot run is not registered"},
      {std::regex("\\bDIS"
                  "ABLED_"),
       "a test that is switched off is taken out"},
      {std::regex("\\b(EXPECT|ASSERT)_TRUE\\(\\s*tr"
                  "ue\\s*\\)|\\bSUC"
                  "CEED\\(\\)"),
       "a test that cannot fail"},
  };
  return look_for(file.path, file.text, bans);
}

std::vector<Finding> foreign_places(const SourceFile& file) {
  static const std::vector<Ban> bans{
      {std::regex("(^|[^A-Za-z0-9_./-])/(wo"
                  "rk|ho"
                  "me|ro"
                  "ot|mn"
                  "t|Us"
                  "ers)/"),
       "a path of somebody's machine",
       {"/wo"
        "rk/",
        "/ho"
        "me/",
        "/ro"
        "ot/",
        "/mn"
        "t/",
        "/Us"
        "ers/"}},
      {std::regex("[A-Za-z0-9-]+\\.(pkg\\.dev|googleapis\\.com)|\\b(deb|snapshot)\\.deb"
                  "ian\\.org|\\bpypi\\.org|"
                  "\\bcran\\.r-project|\\bproxy\\.golang"),
       "a registry's host",
       {".pkg"
        ".dev",
        ".goog"
        "leapis",
        ".deb"
        "ian.org",
        "py"
        "pi.org",
        "cran"
        ".r-project",
        "proxy"
        ".golang"}},
      {caseless("\\bissue #?[0-9]"), "say what it is, not the number of a ticket", {"ssue ", "SSUE "}},
      {std::regex("\\bDES"
                  "IGN(\\.md| section|,? [0-9])|\\bSTY"
                  "LE\\.md|\\bBRI"
                  "EF\\.md|\\bsha"
                  "red/(facts|norms|checks)"),
       "a document that is not in the project",
       {"DES"
        "IGN",
        "STY"
        "LE.md",
        "BRI"
        "EF.md",
        "sha"
        "red/"}},
  };
  return look_for(file.path, file.text, bans);
}

std::vector<Finding> impure_calls(const SourceFile& file) {
  if (!is_cpp(file.path)) {
    return {};
  }
  // Where the standard library lacks the two, the C library stands in for them in this one file, the locale undone.
  const bool stands_in = file.path == "lib/bagsplit/text/number_chars.cpp";
  static const std::vector<Ban> bans{
      {std::regex("\\bstd::(cout|cerr|clog|cin)\\b|\\b(v?f?printf|puts|perror)\\s*\\("),
       "lib/ does not print or read the terminal"},
      {std::regex("\\b(exit|_Exit|_exit|quick_exit|abort|terminate)\\s*\\("), "lib/ does not end the program"},
      {std::regex("\\b(getenv|setenv|putenv|system)\\s*\\("), "lib/ does not look at the environment"},
      {std::regex("\\b(system_clock|steady_clock|high_resolution_clock|utc_clock)::now\\b|"
                  "\\b(std::time|localtime(_r)?|gmtime(_r)?|gettimeofday|clock_gettime|mktime|strftime)\\s*\\("),
       "lib/ does not look at the clock or the time zone"},
      {std::regex("\\b(setlocale|std::locale|localeconv|imbue|v?sn?printf|sscanf|strto(d|f|ld|l|ul|ll|ull)|ato(f|i|l)|"
                  "std::sto(d|f|ld|i|l|ul|ll|ull))\\s*\\("),
       "depends on the locale: use std::to_chars and std::from_chars"},
      {std::regex(
           "\\bstd::(random_device|rand|srand|default_random_engine|[a-z_]+_distribution)\\b|\\bstd::shuffle\\b"),
       "differs between platforms or runs: use Boost.Random or own draws from a seed passed in"},
  };
  std::vector<Finding> findings = look_for(file.path, take_apart(file.text).code, bans);
  std::erase_if(findings,
                [&](const Finding& f) { return stands_in && f.message.find("std::to_chars") != std::string::npos; });
  return findings;
}

std::vector<Finding> options_named(const SourceFile& file) {
  if (!is_cpp(file.path)) {
    return {};
  }
  static const std::vector<Ban> bans{{std::regex("\"[^\"]*(^|[^-\\w])--[a-z][a-z-]+"),
                                      "a message of the library names an option; the command may add it"}};
  return look_for(file.path, file.text, bans);
}

std::vector<Finding> shifts_too_far(const SourceFile& file) {
  if (!is_cpp(file.path)) {
    return {};
  }
  static const std::vector<Ban> bans{
      {std::regex("(\\bsize_t[({][^(){}]*[)}]|\\b[0-9]+[uU]?[lL]?)\\s*<<\\s*(3[2-9]|[4-6][0-9])"),
       "overflows where size_t and long have 32 bits: std::uint64_t{...} << ..."}};
  return look_for(file.path, take_apart(file.text).code, bans);
}

std::vector<Finding> headers_without_pragma(const SourceFile& file) {
  if (!file.path.ends_with(".hpp")) {
    return {};
  }
  const auto code = take_apart(file.text).code;
  const auto first = code.find_first_not_of(" \n");
  if (first != std::string::npos && std::string_view(code).substr(first).starts_with("#pragma once")) {
    return {};
  }
  return {{file.path, 1, "a header begins with #pragma once (comments may stand before it)"}};
}

std::vector<Finding> own_header_not_first(const SourceFile& file, std::string_view header) {
  if (header.empty()) {
    return {};
  }
  const std::string own =
      file.path.substr(std::string_view("lib/").size(), file.path.size() - std::string_view("lib/.cpp").size()) +
      ".hpp\"";
  const auto first = file.text.find("#include ");
  if (first != std::string::npos && std::string_view(file.text).substr(first).starts_with("#include \"" + own)) {
    return {};
  }
  return {{file.path, 1, "the header of the same name is included first"}};
}

std::vector<Finding> american_spelling(const SourceFile& file) {
  static const std::vector<Ban> bans{
      // The length, not the instrument.
      {caseless("\\b(kilo|centi|milli)meters?\\b|\\b([0-9]+|in|per|ten|hundred) meters?\\b"),
       "metre, British spelling"},
      {caseless("\\bcenter(s|ed|ing)?\\b"), "centre, British spelling"},
      {caseless("\\bbehavior(s|al)?\\b"), "behaviour, British spelling"},
      {caseless("\\b(analyze[drs]?|analyzing)\\b"), "analyse, British spelling"},
      {caseless("\\b(favorite|neighbor|labeled|modeled|modeling|canceled|gray)\\b"), "British spelling"},
  };
  if (file.path.ends_with(".md")) {
    static const std::regex inline_code("`[^`\n]*`|https?://\\S+");
    return look_for(file.path, std::regex_replace(file.text, inline_code, "`"), bans);
  }
  if (!is_cpp(file.path)) {
    return {};
  }
  return look_for(file.path, take_apart(file.text).comments, bans);
}

std::vector<Finding> untidy_whitespace(const SourceFile& file) {
  static const std::vector<Ban> bans{
      {std::regex("\t"), "a tab (two blanks indent)"},
      {std::regex("[ \r]$"), "blanks at the end of a line"},
  };
  auto findings = look_for(file.path, file.text, bans);
  if (!file.text.empty() && file.text.back() != '\n') {
    findings.push_back({file.path, lines_of(file.text).size(), "no line end at the end of the file"});
  }
  return findings;
}

std::vector<Finding> data_without_source(const SourceFile& file, std::string_view readme) {
  const auto name = file_name(file.path);
  if (name == "CMakeLists.txt" || (name == "README.md" && says_where_from(file.text))) {
    return {};
  }
  if (says_where_from(top_comment(file.text))) {
    return {};
  }
  if (name.ends_with(".json")) {
    const auto value = nlohmann::json::parse(file.text, nullptr, false);
    if (value.is_discarded()) {
      return {{file.path, 1, "is not JSON"}};
    }
    const bool is_schema = value.is_object() && value.contains("$schema");  // a form, not data
    if (is_schema || has_source_member(value)) {
      return {};
    }
  }
  static const std::regex every_file = caseless("\\b(every|each) file\\b");
  const bool is_meant =
      readme.find(name) != std::string_view::npos || std::regex_search(readme.begin(), readme.end(), every_file);
  if (is_meant && says_where_from(readme)) {
    return {};
  }
  return {{file.path, 1, "says neither its source nor that it is invented, and no README.md beside it does"}};
}

std::vector<Finding> files_not_built(const SourceFile& file, std::string_view list) {
  const auto name = file_name(file.path);
  for (auto at = list.find(name); at != std::string_view::npos; at = list.find(name, at + 1)) {
    // As a whole name: "run.cpp" is not named by "rerun.cpp".
    const char before = at == 0 ? ' ' : list[at - 1];
    if (before == ' ' || before == '\n' || before == '/' || before == '(' || before == '"') {
      return {};
    }
  }
  return {{file.path, 1, "is named in no sources.cmake or CMakeLists.txt, so it is never compiled"}};
}

}  // namespace bagsplit::test
