#pragma once

#include <CLI/CLI.hpp>
#include <functional>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "invocation.hpp"

/// How options are declared: each once, with what it is, its unit, range and default. The help is made from these.
namespace bagsplit::cli {

/// Headings the options stand under in the help, by what they are for.
namespace purpose {
inline constexpr const char* input = "What is read";
inline constexpr const char* choice = "What is computed";
inline constexpr const char* output = "The answer";
inline constexpr const char* other = "Other";
}  // namespace purpose

struct Declared {
  const char* purpose = purpose::other;
  const char* value = "";  ///< placeholder of the value: "FILE"; empty for a switch
  std::string what;        ///< one sentence, with unit and range
  std::string fallback;    ///< the default, as typed or in words
};

/// A switch.
CLI::Option* declare_switch(CLI::App& app, const std::string& names, bool& target, const Declared& declared);

/// An option whose value is text, taken as it is.
CLI::Option* declare_text(CLI::App& app, const std::string& names, const Declared& declared,
                          const std::function<void(const std::string&)>& take);

/// An option that may be given several times, one value each time.
CLI::Option* declare_list(CLI::App& app, const std::string& names, std::vector<std::string>& target,
                          const Declared& declared);

/// An option whose value must be understood: `read` gives the value or nothing, `expected` says what it must be.
template <typename Value, typename Target>
CLI::Option* declare_value(CLI::App& app, const std::string& names, Target& target, const Declared& declared,
                           const std::string& expected, std::function<std::optional<Value>(const std::string&)> read) {
  const std::string name = names.substr(names.rfind("--"));
  return declare_text(app, names, declared, [=, &target](const std::string& text) {
    const std::optional<Value> value = read(text);
    if (!value) {
      throw CLI::ValidationError(name + " is '" + text + "', but must be " + expected);
    }
    target = *value;
  });
}

// Options several commands share.
void declare_input(CLI::App& app, InputOptions& input);
void declare_model(CLI::App& app, InputOptions& input);
void declare_level(CLI::App& app, double& level);
void declare_as_of(CLI::App& app, std::optional<runs::Date>& as_of);
void declare_window(CLI::App& app, std::optional<int>& days);
void declare_threads(CLI::App& app, unsigned& threads);
/// @param what, fallback  as in Declared: what it is for differs between commands.
void declare_sex(CLI::App& app, std::optional<runs::Sex>& sex, const std::string& what, const std::string& fallback);
void declare_separator(CLI::App& app, OutputOptions& output);
enum class Forms { usual, own };  // own: the command declares --format itself
void declare_output(CLI::App& app, OutputOptions& output, Forms forms = Forms::usual);

/// What is wrong with the files named, as far as their names tell; empty when nothing is. Opens nothing.
std::string examine_input(const Invocation& invocation);

/// A finite decimal number, as machines write it or with a decimal comma (`8,6`); nothing for any other text.
std::optional<double> read_number(const std::string& text);

}  // namespace bagsplit::cli
