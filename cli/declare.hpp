#pragma once

#include <functional>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "invocation.hpp"
#include "options.hpp"

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
void declare_switch(Options& app, const std::string& names, bool& target, const Declared& declared);

/// An option whose value is text, taken as it is.
void declare_text(Options& app, const std::string& names, const Declared& declared,
                  const std::function<void(const std::string&)>& take);

/// The same where a value can be wrong: `take` gives what it must be, or nothing when it was taken.
void declare_checked(Options& app, const std::string& names, const Declared& declared,
                     const std::function<std::string(const std::string&)>& take);

/// The files a command names without an option.
void declare_files(Options& app, const std::string& name, std::vector<std::string>& target, const Declared& declared);

/// An option that may be given several times, one value each time.
void declare_list(Options& app, const std::string& names, std::vector<std::string>& target, const Declared& declared);

/// An option whose value must be understood: `read` gives the value or nothing, `expected` says what it must be.
template <typename Value, typename Target>
void declare_value(Options& app, const std::string& names, Target& target, const Declared& declared,
                   const std::string& expected, std::function<std::optional<Value>(const std::string&)> read) {
  declare_checked(app, names, declared, [=, &target](const std::string& text) {
    const std::optional<Value> value = read(text);
    if (value) {
      target = *value;
    }
    return value ? std::string() : expected;
  });
}

// Options several commands share.
void declare_input(Options& app, InputOptions& input);
void declare_model(Options& app, InputOptions& input);
void declare_level(Options& app, double& level);
/// @param about  what the date does, in words.
void declare_as_of(
    Options& app, std::optional<runs::Date>& as_of,
    const std::string& about = "The day that speed and times are of (YYYY-MM-DD); later runs are left out");
void declare_window(Options& app, std::optional<int>& days);
void declare_threads(Options& app, unsigned& threads);
/// @param what, fallback  as in Declared: what it is for differs between commands.
void declare_sex(Options& app, std::optional<runs::Sex>& sex, const std::string& what, const std::string& fallback);
void declare_separator(Options& app, OutputOptions& output);
enum class Forms { usual, own };  // own: the command declares --format itself
void declare_output(Options& app, OutputOptions& output, Forms forms = Forms::usual);

/// What is wrong with the files named, as far as their names tell; empty when nothing is. Opens nothing.
std::string examine_input(const Invocation& invocation);

/// A finite decimal number, as machines write it or with a decimal comma (`8,6`); nothing for any other text.
std::optional<double> read_number(const std::string& text);

}  // namespace bagsplit::cli
