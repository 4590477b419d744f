// Runs tests of the program that are written as text. README.md beside this file describes the form and the options.
#include <clocale>
#include <cstdlib>
#include <exception>
#include <iostream>
#include <string>
#include <string_view>
#include <vector>

#include "cli/case_file.hpp"
#include "cli/number_reader.hpp"
#include "support/process.hpp"
#include "support/text_diff.hpp"

namespace {

using bagsplit::test::CaseFile;
using bagsplit::test::Section;

struct Options {
  bagsplit::test::Surroundings surroundings;
  bool update = false;
  std::vector<std::string> cases;
};

Options parse_options(int argc, char** argv) {
  Options options;
  const std::vector<std::string> words(argv + 1, argv + argc);
  for (std::size_t i = 0; i < words.size(); ++i) {
    const auto value = [&] {
      if (i + 1 == words.size()) {
        throw std::runtime_error(words[i] + " wants a value");
      }
      return words[++i];
    };
    if (words[i] == "--program") {
      options.surroundings.program = value();
    } else if (words[i] == "--data") {
      options.surroundings.data = value();
    } else if (words[i] == "--locale") {
      options.surroundings.locale = value();
    } else if (words[i] == "--locale-path") {
      options.surroundings.locale_path = value();
    } else if (words[i] == "--time-zone") {
      options.surroundings.time_zone = value();
    } else if (words[i].starts_with("--")) {
      throw std::runtime_error("unknown option " + words[i]);
    } else {
      options.cases.push_back(words[i]);
    }
  }
  const char* update = std::getenv("BAGSPLIT_UPDATE_CASES");
  options.update = update != nullptr && std::string_view(update) == "1";
  return options;
}

/// A run under another locale shows nothing unless that locale is really in force.
void check_locale(const bagsplit::test::Surroundings& s) {
  if (s.locale == "C") {
    return;
  }
  setenv("LOCPATH", s.locale_path.c_str(), 1);
  if (std::setlocale(LC_ALL, s.locale.c_str()) == nullptr ||
      std::string_view(std::localeconv()->decimal_point) != ",") {
    throw std::runtime_error("the locale " + s.locale + " in " + s.locale_path +
                             " has no decimal comma or cannot be set");
  }
  std::setlocale(LC_ALL, "C");
}

/// Compares one stream or file with its section. @return what is wrong, empty when nothing is.
std::string compare(const Section& section, const std::string& got) {
  using namespace bagsplit::test;
  const std::string what = section.kind + (section.kind == "output" ? " " + section.name : "");
  if (section.mode == "any") {
    return "";
  }
  if (section.mode.empty()) {
    return got == section.body ? "" : what + " differs" + first_difference(section.body, got);
  }
  if (section.mode == "near") {
    return near(section.body, got) ? "" : what + " differs" + first_difference(section.body, five_digits(got));
  }
  std::size_t from = 0;
  for (const auto line : split_lines(section.body)) {
    if (line.empty()) {
      continue;
    }
    if (section.mode == "lacks") {
      if (got.find(line) != std::string::npos) {
        return what + " must not contain: " + std::string(line) + "\n" + indented(got);
      }
      continue;
    }
    const auto at = got.find(line, from);
    if (at == std::string::npos) {
      return what + " does not contain (in this order): " + std::string(line) + "\n" + indented(got);
    }
    from = at + line.size();
  }
  return "";
}

/// One `run` with the sections that belong to it: indices into CaseFile::sections, the run first.
using Step = std::vector<std::size_t>;

std::vector<Step> steps_of(const CaseFile& file) {
  std::vector<Step> steps(1);  // what comes before the first run
  for (std::size_t i = 0; i < file.sections.size(); ++i) {
    if (file.sections[i].kind == "run") {
      steps.emplace_back();
    }
    steps.back().push_back(i);
  }
  return steps;
}

bool mentions(const CaseFile& file, const Step& step, std::string_view kind) {
  for (const auto i : step) {
    if (file.sections[i].kind == kind) {
      return true;
    }
  }
  return false;
}

/// Runs one step and lists what is wrong. With `update` the exact sections are set to what came out, new ones put in
/// `added`.
std::vector<std::string> run_step(bagsplit::test::Workplace& place, CaseFile& file, const Step& step, bool update,
                                  std::vector<Section>& added) {
  std::string script;
  std::string input;
  std::size_t line = 0;
  for (const auto i : step) {
    const auto& section = file.sections[i];
    if (section.kind == "run") {
      script = section.body;
      line = section.line;
    } else if (section.kind == "stdin") {
      input = section.body;
    }
  }
  const auto outcome = place.run(script, input);
  std::vector<std::string> wrong;
  const auto note = [&](std::size_t at, const std::string& text) {
    if (!text.empty()) {
      wrong.push_back(std::to_string(at) + ": " + text);
    }
  };
  // What is not mentioned must be empty, and the exit code 0.
  for (const auto& [kind, got] :
       {std::pair<std::string, std::string>("stdout", outcome.out), {"stderr", outcome.err}}) {
    if (!mentions(file, step, kind) && !got.empty()) {
      note(line, compare({kind, "", "", "", line}, got));
      added.push_back({kind, "", "", got, line});
    }
  }
  if (!mentions(file, step, "exit") && outcome.exit_code != 0) {
    note(line, "exit code is " + std::to_string(outcome.exit_code) + ", expected 0\n" +
                   bagsplit::test::indented(outcome.err));
    added.push_back({"exit", std::to_string(outcome.exit_code), "", "", line});
  }
  for (const auto i : step) {
    auto& section = file.sections[i];
    if (section.kind == "exit" && std::to_string(outcome.exit_code) != section.name) {
      note(section.line, "exit code is " + std::to_string(outcome.exit_code) + ", expected " + section.name);
      section.name = update ? std::to_string(outcome.exit_code) : section.name;
    }
    if (section.kind != "stdout" && section.kind != "stderr" && section.kind != "output") {
      continue;
    }
    std::string got = section.kind == "stdout" ? outcome.out : outcome.err;
    if (section.kind == "output") {
      const auto path = place.folder() / section.name;
      if (!std::filesystem::is_regular_file(path)) {
        note(section.line, "the file " + section.name + " was not made");
        continue;
      }
      got = bagsplit::test::read_file(path);
    }
    note(section.line, compare(section, got));
    if (update && (section.mode.empty() || section.mode == "near")) {
      section.body = section.mode.empty() ? got : bagsplit::test::five_digits(got);
    }
  }
  return wrong;
}

/// @return whether the case passed
bool run_case(const std::string& path, const Options& options) {
  auto file = bagsplit::test::parse_case(bagsplit::test::read_file(path));
  bagsplit::test::Workplace place(options.surroundings);
  std::vector<std::string> wrong;
  std::vector<std::pair<std::size_t, std::vector<Section>>> to_add;  // after which section
  for (const auto& step : steps_of(file)) {
    if (mentions(file, step, "run")) {
      std::vector<Section> added;
      const auto some = run_step(place, file, step, options.update, added);
      wrong.insert(wrong.end(), some.begin(), some.end());
      to_add.emplace_back(step.back() + 1, added);
    }
    for (const auto i : step) {  // files given after a run are for the next one
      const auto& section = file.sections[i];
      if (section.kind == "file") {
        std::filesystem::create_directories((place.folder() / section.name).parent_path());
        bagsplit::test::write_file(place.folder() / section.name, section.body);
      }
    }
  }
  for (const auto& text : wrong) {
    std::cerr << path << ":" << text << "\n";
  }
  if (options.update && !wrong.empty()) {
    for (auto it = to_add.rbegin(); it != to_add.rend(); ++it) {
      const auto at = file.sections.begin() + static_cast<std::ptrdiff_t>(it->first);
      file.sections.insert(at, it->second.begin(), it->second.end());
    }
    bagsplit::test::write_file(path, bagsplit::test::write_case(file));
    std::cerr << path << ": rewritten; read the difference before you keep it\n";
  }
  return wrong.empty();
}

}  // namespace

int main(int argc, char** argv) {
  bool passed = true;
  try {
    const auto options = parse_options(argc, argv);
    check_locale(options.surroundings);
    for (const auto& path : options.cases) {
      try {
        passed = run_case(path, options) && passed;
      } catch (const std::exception& error) {
        std::cerr << path << ":" << error.what() << "\n";
        passed = false;
      }
    }
    if (options.cases.empty()) {
      throw std::runtime_error("no case given");
    }
  } catch (const std::exception& error) {
    std::cerr << "case_driver: " << error.what() << "\n";
    return 2;
  }
  return passed ? 0 : 1;
}
