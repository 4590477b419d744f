#include "described.hpp"

#include <CLI/CLI.hpp>
#include <algorithm>

#include "command_line.hpp"

namespace bagsplit::cli {

namespace {

std::vector<std::string> split_words(const std::string& text) {
  std::vector<std::string> words;
  if (text.find('|') == std::string::npos) {
    return words;
  }
  for (std::size_t at = 0; at <= text.size();) {
    const std::size_t end = std::min(text.find('|', at), text.size());
    words.push_back(text.substr(at, end - at));
    at = end + 1;
  }
  return words;
}

OptionDescription describe(const CLI::Option& option) {
  OptionDescription out;
  out.long_name = option.get_lnames().front();
  out.short_name = option.get_snames().empty() ? "" : option.get_snames().front();
  if (option.get_items_expected() != 0) {
    out.value = option.get_type_name();
    out.fallback = option.get_default_str();
    out.words = split_words(out.value);
  }
  out.what = option.get_description();
  out.purpose = option.get_group();
  out.repeats = option.get_items_expected_max() > 1;
  return out;
}

}  // namespace

std::vector<CommandDescription> described_commands() {
  Invocation invocation;
  const auto root = build_app(invocation);
  std::vector<CommandDescription> out;
  for (const Command& command : commands()) {
    CommandDescription& described = out.emplace_back();
    described.name = command.name;
    described.summary = command.summary;
    described.examples = command.examples;
    described.more = command.more;
    for (const CLI::Option* option : root->get_subcommand(command.name)->get_options()) {
      if (option->get_positional()) {
        described.files = option->get_description();
      } else {
        described.options.push_back(describe(*option));
      }
    }
  }
  return out;
}

}  // namespace bagsplit::cli
