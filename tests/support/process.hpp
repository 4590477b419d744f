#pragma once

#include <filesystem>
#include <string>
#include <utility>
#include <vector>

/// Running commands as a user would type them, for the tests of the program and of the documents.
namespace bagsplit::test {

struct Outcome {
  int exit_code = 0;  ///< 128 + signal where one ended it
  std::string out;
  std::string err;
};

struct Surroundings {
  std::filesystem::path program;   ///< the `bagsplit` to be found under that name
  std::filesystem::path data;      ///< the project's data folder, seen as `data`
  std::string locale = "C";        ///< LC_ALL
  std::string locale_path;         ///< LOCPATH, empty for the machine's own
  std::string time_zone = "UTC0";  ///< TZ
};

/// A folder of its own for one test, taken away at the end; `data` in it leads to the project's data folder.
class Workplace {
 public:
  explicit Workplace(Surroundings surroundings);
  ~Workplace();
  Workplace(const Workplace&) = delete;
  Workplace& operator=(const Workplace&) = delete;

  const std::filesystem::path& folder() const { return folder_; }

  /// Runs `script` with /bin/sh in the folder, `input` on standard input. The environment is made from nothing: PATH,
  /// HOME (the folder), LC_ALL, TZ, TERM=dumb, and what sanitizers and coverage read.
  Outcome run(const std::string& script, const std::string& input);

 private:
  Surroundings surroundings_;
  std::filesystem::path folder_;   ///< where the script runs
  std::filesystem::path scratch_;  ///< folder_ and the captured output lie here
};

std::string read_file(const std::filesystem::path& path);
void write_file(const std::filesystem::path& path, const std::string& text);

}  // namespace bagsplit::test
