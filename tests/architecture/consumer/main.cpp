// Uses the installed library from outside: a run log in, each player's top speed out, as `bagsplit profile` says it.
#include <bagsplit/jobs/profile/profile.hpp>
#include <bagsplit/runs/log/run_log.hpp>
#include <fstream>
#include <iostream>
#include <sstream>

int main(int argc, char** argv) {
  const std::string path = argc > 1 ? argv[1] : "five.csv";
  std::ostringstream text;
  text << std::ifstream(path).rdbuf();
  const bagsplit::runs::RunLogResult read = bagsplit::runs::read_run_log(text.str(), path);
  for (const auto& problem : read.problems) {
    std::cerr << problem.path << ":" << problem.line << ": " << problem.message << "\n";
  }
  const auto result = bagsplit::jobs::profile(read.log, {}, {}, bagsplit::norms::Catalogue::builtin(), {});
  for (const auto& player : result.players) {
    std::cout << player.player << "," << player.top_speed_mps.value().median << "\n";
  }
}
