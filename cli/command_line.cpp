#include "command_line.hpp"

#include <CLI/CLI.hpp>
#include <algorithm>
#include <array>

#include "bagsplit/text/text.hpp"
#include "bagsplit/text/text_width.hpp"
#include "declare.hpp"
#include "file_help.hpp"
#include "help.hpp"
#include "manual.hpp"
#include "session.hpp"
#include "version.hpp"

namespace bagsplit::cli {

extern const Command check_command;
extern const Command gates_command;
extern const Command norms_command;
extern const Command path_command;
extern const Command plan_command;
extern const Command profile_command;
extern const Command record_command;
extern const Command relay_command;
extern const Command report_command;
extern const Command sheet_command;
extern const Command standings_command;
extern const Command teams_command;
extern const Command timers_command;
extern const Command trend_command;

std::span<const Command> commands() {
  static const std::array all{check_command, profile_command, trend_command,  standings_command, relay_command,
                              teams_command, timers_command,  report_command, path_command,      plan_command,
                              gates_command, sheet_command,   record_command, norms_command};
  return all;
}

namespace {

const Command* find_command(std::string_view name) {
  const auto all = commands();
  const auto found = std::find_if(all.begin(), all.end(), [&](const Command& command) { return command.name == name; });
  return found == all.end() ? nullptr : &*found;
}

Parsed print(std::string text) {
  Parsed parsed;
  parsed.text = std::move(text);
  return parsed;
}

Parsed wrong(const Command* command, const std::string& what) {
  Parsed parsed;
  parsed.ended = ExitCode::wrong_command_line;
  parsed.text = "bagsplit" + (command == nullptr ? std::string() : " " + std::string(command->name)) + ": " +
                text::printable(what) + "\n" + help_pointer(command) + "\n";
  return parsed;
}

std::string did_you_mean(std::string_view typed, const std::vector<std::string>& known) {
  const std::vector<std::string_view> candidates(known.begin(), known.end());
  const auto nearest = text::nearest(typed, candidates);
  return nearest ? ". Did you mean '" + std::string(*nearest) + "'?" : "";
}

std::vector<std::string> option_names(const Options& options) {
  std::vector<std::string> names;
  for (const Option& option : options) {
    if (!option.positional) {
      names.push_back("--" + option.long_name);
      if (!option.short_name.empty()) {
        names.push_back("-" + option.short_name);
      }
    }
  }
  return names;
}

// What CLI11 found wrong, in our words.
std::string in_words(const CLI::ParseError& error, const CLI::App& app, const Options& options) {
  if (dynamic_cast<const CLI::ExtrasError*>(&error) != nullptr) {
    for (const std::string& extra : app.remaining()) {
      const std::string name = extra.substr(0, extra.find('='));
      if (name.starts_with('-')) {
        return "no option '" + name + "'" + did_you_mean(name, option_names(options));
      }
      return "'" + extra + "' is one word too many";
    }
  }
  if (dynamic_cast<const CLI::ArgumentMismatch*>(&error) != nullptr) {
    for (const Option& option : options) {
      const std::string name = option.positional ? option.long_name : "--" + option.long_name;
      if (std::string_view(error.what()).starts_with(name + ":")) {
        const auto count = app.count(name);
        return count > 1 ? name + " is given " + std::to_string(count) + " times"
                         : name + " needs a value: " + name + " " + option.value;
      }
    }
  }
  return error.what();
}

// Tells CLI11 of the options.
void add_options(CLI::App& app, const Options& options) {
  app.set_help_flag();
  for (const Option& option : options) {
    const std::string name = (option.short_name.empty() ? "" : "-" + option.short_name + ",") +
                             (option.positional ? "" : "--") + option.long_name;
    const auto take = [&option](const std::string& text) {
      if (const std::string wrong = option.take(text); !wrong.empty()) {
        throw CLI::ValidationError(wrong);
      }
    };
    if (option.is_switch()) {
      app.add_flag(name, *option.switched, option.what);
    } else if (option.repeats) {
      // Without allow_extra_args(false) an option would swallow the files after its value.
      app.add_option_function<std::vector<std::string>>(
             name, [take](const std::vector<std::string>& texts) { std::for_each(texts.begin(), texts.end(), take); },
             option.what)
          ->allow_extra_args(option.positional);
    } else {
      app.add_option_function<std::string>(name, take, option.what)->type_name(option.value);
    }
  }
}

}  // namespace

Options declared_options(const Command& command, Invocation& invocation) {
  Options options;
  command.declare(options, invocation);
  declare_switch(options, "-h,--help", invocation.help, {purpose::other, "", "This help", ""});
  return options;
}

std::vector<CommandDescription> described_commands() {
  Invocation invocation;
  std::vector<CommandDescription> out;
  for (const Command& command : commands()) {
    CommandDescription described{command.name, command.summary, command.examples, command.more, {}, {}};
    for (Option& option : declared_options(command, invocation)) {
      if (option.positional) {
        described.files = option.what;
      } else {
        described.options.push_back(std::move(option));
      }
    }
    out.push_back(std::move(described));
  }
  return out;
}

Parsed parse(const std::vector<std::string>& arguments) {
  if (arguments.empty()) {
    Parsed parsed = print(program_help());
    parsed.ended = ExitCode::wrong_command_line;
    return parsed;
  }
  const bool asks_help = arguments[0] == "help";
  if (arguments[0] == "--version") {
    return print(version_line() + "\n");
  }
  if (arguments[0] == "--man" && arguments.size() == 1) {
    return print(manual_page());
  }
  if (arguments[0] == "--completion") {
    const auto shell = arguments.size() == 2 ? read_shell(arguments[1]) : std::nullopt;
    return shell ? print(completion(*shell)) : wrong(nullptr, "--completion needs a shell: bash, zsh or fish");
  }
  if (arguments[0] == "-h" || arguments[0] == "--help" || (asks_help && arguments.size() == 1)) {
    return print(program_help());
  }
  std::vector<std::string> names{"help", "--help", "--version", "--man", "--completion"};
  for (const Command& command : commands()) {
    names.emplace_back(command.name);
  }
  const std::string& verb = arguments[asks_help ? 1 : 0];
  if (const auto page = asks_help ? file_help(verb) : std::nullopt) {
    return print(*page);
  }
  if (asks_help) {
    names.insert(names.end(), {"log", "roster"});
  }
  const Command* command = find_command(verb);
  if (command == nullptr) {
    const bool is_option = verb.starts_with('-');
    const bool names_one = std::any_of(arguments.begin(), arguments.end(),
                                       [](const std::string& argument) { return find_command(argument) != nullptr; });
    return wrong(nullptr, is_option && names_one
                              ? "the command comes first, its options after it; found '" + verb + "'"
                              : (is_option ? "no option '" : "no command '") + verb + "'" + did_you_mean(verb, names));
  }

  Parsed parsed;
  const Options options = declared_options(*command, parsed.invocation);
  if (asks_help) {
    return print(command_help(*command, options));
  }
  CLI::App app;
  add_options(app, options);
  try {
    std::vector<std::string> rest(arguments.rbegin(), std::prev(arguments.rend()));  // CLI11 wants the last one first
    app.parse(rest);
  } catch (const CLI::ParseError& error) {
    return app.count("--help") > 0 ? print(command_help(*command, options))
                                   : wrong(command, in_words(error, app, options));
  }
  if (app.count("--help") > 0) {
    return print(command_help(*command, options));
  }
  if (parsed.invocation.output.semicolons) {
    const CLI::Option* form = app.get_option("--format");
    const auto declared =
        std::find_if(options.begin(), options.end(), [](const Option& option) { return option.long_name == "format"; });
    if ((form->count() > 0 ? form->results().back() : declared->fallback) != "csv") {
      return wrong(command, "--separator is of CSV: give --format csv as well");
    }
  }
  if (const std::string what = command->examine(parsed.invocation); !what.empty()) {
    return wrong(command, what);
  }
  parsed.command = command;
  return parsed;
}

}  // namespace bagsplit::cli
