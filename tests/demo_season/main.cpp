// Writes the demo season, or a season of any size for measuring speed. See README.md in this folder.
#include <charconv>
#include <cstdint>
#include <exception>
#include <filesystem>
#include <fstream>
#include <iostream>
#include <optional>
#include <string>
#include <string_view>

#include "documents.hpp"
#include "relay.hpp"
#include "scale.hpp"
#include "season.hpp"

namespace {

constexpr std::string_view usage =
    "usage: demo_season_generator --out DIR [--truth FILE]\n"
    "       demo_season_generator --players N --rows N [--seed N] --out DIR\n"
    "The first writes the demo season (roster.csv, watches.json, one log an evening, README.md) and its truth; the "
    "second writes\n"
    "roster.csv, season.csv and truth.csv of a season of that size. DIR is made if it does not exist.\n";

struct Options {
  std::string out, truth;
  std::optional<std::uint64_t> players, rows, seed;
};

std::optional<Options> parse(int argc, char** argv) {
  Options options;
  for (int i = 1; i + 1 < argc; i += 2) {
    const std::string_view name = argv[i];
    const std::string_view value = argv[i + 1];
    if (name == "--out" || name == "--truth") {
      (name == "--out" ? options.out : options.truth) = value;
    } else if (name == "--players" || name == "--rows" || name == "--seed") {
      std::uint64_t number = 0;
      const auto [end, error] = std::from_chars(value.data(), value.data() + value.size(), number);
      if (error != std::errc{} || end != value.data() + value.size()) {
        return std::nullopt;
      }
      (name == "--players" ? options.players : name == "--rows" ? options.rows : options.seed) = number;
    } else {
      return std::nullopt;
    }
  }
  const bool scale = options.players && options.rows;
  const bool part_of_scale = options.players || options.rows || options.seed;
  if (argc % 2 == 0 || options.out.empty() || (part_of_scale && (!scale || !options.truth.empty()))) {
    return std::nullopt;
  }
  return options;
}

std::ofstream open(const std::filesystem::path& path) {
  std::ofstream file(path, std::ios::binary);
  if (!file) {
    throw std::runtime_error("cannot write " + path.string());
  }
  return file;
}

void close(std::ofstream& file, const std::filesystem::path& path) {
  file.close();
  if (!file) {
    throw std::runtime_error("cannot write all of " + path.string());
  }
}

void write(const std::filesystem::path& path, const std::string& text) {
  std::ofstream file = open(path);
  file << text;
  close(file, path);
}

}  // namespace

int main(int argc, char** argv) {
  const auto options = parse(argc, argv);
  if (!options) {
    std::cerr << usage;
    return 2;
  }
  try {
    const std::filesystem::path out(options->out);
    std::filesystem::create_directories(out);
    if (options->players) {
      auto roster = open(out / "roster.csv");
      auto log = open(out / "season.csv");
      auto truth = open(out / "truth.csv");
      demo_season::write_scale_season({*options->players, *options->rows, options->seed.value_or(1)}, roster, log,
                                      truth);
      close(roster, out / "roster.csv");
      close(log, out / "season.csv");
      close(truth, out / "truth.csv");
      return 0;
    }
    const auto season = demo_season::make_season();
    write(out / "roster.csv", demo_season::roster_csv(season.children));
    for (const auto& [name, text] : season.logs) {
      write(out / name, text);
    }
    std::filesystem::create_directories(out / "relay");
    for (const auto& [name, text] : demo_season::relay_night(season)) {
      write(out / "relay" / name, text);
    }
    write(out / "watches.json", demo_season::watches_json());
    write(out / "README.md", demo_season::readme_text(season));
    if (!options->truth.empty()) {
      write(options->truth, demo_season::truth_json(season));
    }
    return 0;
  } catch (const std::invalid_argument& error) {
    std::cerr << "demo_season_generator: " << error.what() << '\n';
    return 2;
  } catch (const std::exception& error) {
    std::cerr << "demo_season_generator: " << error.what() << '\n';
    return 3;
  }
}
