// Runs the examples of a Markdown document:  docs_driver --program bagsplit --data data [--at-least N] README.md
//
// In order of the document: a block ```csv NAME (or json NAME, text NAME.ext ...) makes the file NAME; in a block ```sh
// each line that begins with `bagsplit ` is run, and must end with 0 or with N of a trailing `# exit N`; when the next
// block is
// ```text, it must be what those commands wrote to standard output (```text stderr: to standard error), to the byte,
// but that a line `...` stands for lines left out.
#include <exception>
#include <iostream>
#include <stdexcept>

#include "docs/markdown.hpp"
#include "support/process.hpp"
#include "support/text_diff.hpp"

namespace {

using namespace bagsplit::test;

struct Report {
  std::size_t commands = 0;
  std::size_t compared = 0;
  bool passed = true;
};

Report run_document(const std::string& path, const Surroundings& surroundings) {
  Report report;
  const auto complain = [&](std::size_t line, const std::string& text) {
    std::cerr << path << ":" << line << ": " << text << "\n";
    report.passed = false;
  };
  Workplace place(surroundings);
  std::string out;
  std::string err;
  bool ran = false;  // whether the block before held a command
  for (const auto& block : blocks_of(read_file(path))) {
    if (block.language == "text" && ran && (block.rest.empty() || block.rest == "stderr")) {
      const auto& got = block.rest.empty() ? out : err;
      if (!matches_with_gaps(block.body, got)) {
        complain(block.line, "the output shown differs from what comes out" + first_difference(block.body, got));
      }
      ++report.compared;
      continue;  // a second block may show the other stream
    }
    ran = false;
    if (block.language == "sh") {
      out.clear();
      err.clear();
      for (const auto& command : commands_of(block)) {
        const auto outcome = place.run(command.text, "");
        out += outcome.out;
        err += outcome.err;
        ran = true;
        ++report.commands;
        if (outcome.exit_code != command.exit_code) {
          complain(command.line, "exit code is " + std::to_string(outcome.exit_code) + ", expected " +
                                     std::to_string(command.exit_code) + "\n" + indented(outcome.err));
        }
      }
    } else if (!block.language.empty() && !block.rest.empty()) {
      write_file(place.folder() / block.rest, block.body);
    }
  }
  return report;
}

}  // namespace

int main(int argc, char** argv) {
  try {
    Surroundings surroundings;
    std::size_t at_least = 0;
    std::string document;
    for (int i = 1; i < argc; ++i) {
      const std::string word = argv[i];
      const auto value = [&]() -> std::string {
        if (i + 1 == argc) {
          throw std::runtime_error(word + " wants a value");
        }
        return argv[++i];
      };
      if (word == "--program") {
        surroundings.program = value();
      } else if (word == "--data") {
        surroundings.data = value();
      } else if (word == "--at-least") {
        at_least = std::stoul(value());
      } else {
        document = word;
      }
    }
    const auto report = run_document(document, surroundings);
    std::cout << document << ": " << report.commands << " commands run, " << report.compared << " outputs compared\n";
    if (report.commands < at_least) {
      std::cerr << document << ":1: holds " << report.commands << " examples, expected at least " << at_least << "\n";
      return 1;
    }
    return report.passed ? 0 : 1;
  } catch (const std::exception& error) {
    std::cerr << "docs_driver: " << error.what() << "\n";
    return 2;
  }
}
