// Drives a fuzz target without libFuzzer: the seeds as they are, then so many mutations of each, drawn with a fixed
// seed.
//   fuzz_x MUTATIONS FOLDER... -- ENDING...
#include <algorithm>
#include <csignal>
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <string>
#include <string_view>
#include <vector>

#include "bagsplit/stats/random.hpp"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size);

namespace {

constexpr std::size_t longest_seed = 20'000;
const std::string* tried = nullptr;

// Keeps what broke a property, as libFuzzer would.
void keep_finding(int) {
  std::FILE* const file = std::fopen("fuzz_finding", "wb");
  if (file != nullptr && tried != nullptr) {
    std::fwrite(tried->data(), 1, tried->size(), file);
    std::fclose(file);
    std::fputs("the input is in ./fuzz_finding\n", stderr);
  }
}

void try_one(const std::string& text) {
  tried = &text;
  LLVMFuzzerTestOneInput(reinterpret_cast<const std::uint8_t*>(text.data()),
                         text.size());  // NOLINT: the entry point's type
}

// What breaks readers: numbers out of range, signs, quotes, line ends, bytes that are no text.
constexpr std::string_view tokens[] = {"1e999", "-0",        "nan",         "0000-13-40", "9999999999999999999",
                                       "\"",    "\n",        "\r",          ",",          ";",
                                       "\t",    "{",         "[",           "}",          "\\u0000",
                                       "\xFF",  "\xC3",      "#",           ":",          "1:",
                                       "prone", "0.0000001", "\xEF\xBB\xBF"};

std::string mutated(std::string text, bagsplit::stats::RandomStream& random) {
  for (std::size_t n = 1 + random.below(4); n > 0; --n) {
    const std::size_t at = text.empty() ? 0 : random.below(text.size());
    switch (random.below(6)) {
      case 0:
        text.insert(at, tokens[random.below(std::size(tokens))]);
        break;
      case 1:
        text.erase(at, 1 + random.below(20));
        break;
      case 2:
        if (!text.empty()) {
          text[at] = static_cast<char>(random.below(256));
        }
        break;
      case 3:
        text.resize(at);
        break;
      case 4:
        text.insert(at, text.substr(at, 1 + random.below(200)));
        break;
      default:
        text.insert(at, 1, '\0');
        break;
    }
  }
  return text;
}

}  // namespace

int main(int argc, char** argv) {
  std::signal(SIGABRT, keep_finding);
  const std::vector<std::string> words(argv + 1, argv + argc);
  const auto dashes = std::find(words.begin(), words.end(), "--");
  std::vector<std::filesystem::path> seeds;
  for (auto folder = words.begin() + 1; folder != dashes; ++folder) {
    if (!std::filesystem::exists(*folder)) {
      continue;
    }
    for (const auto& file : std::filesystem::recursive_directory_iterator(*folder)) {
      const std::string name = file.path().filename().string();
      if (file.is_regular_file() && file.file_size() <= longest_seed &&
          std::any_of(dashes + 1, words.end(), [&](const std::string& ending) { return name.ends_with(ending); })) {
        seeds.push_back(file.path());
      }
    }
  }
  std::sort(seeds.begin(), seeds.end());
  const int mutations = std::atoi(words.front().c_str());
  std::uint64_t stream = 0;
  for (const auto& path : seeds) {
    std::ifstream file(path, std::ios::binary);
    const std::string text{std::istreambuf_iterator<char>(file), std::istreambuf_iterator<char>()};
    try_one(text);
    bagsplit::stats::RandomStream random(20261128, stream++);
    for (int i = 0; i < mutations / 10 + (seeds.size() < 20 ? mutations : 0); ++i) {
      try_one(mutated(text, random));
    }
  }
  std::printf("%zu seeds\n", seeds.size());
  return seeds.empty() ? 1 : 0;
}
