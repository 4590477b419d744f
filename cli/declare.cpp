#include "declare.hpp"

#include <algorithm>
#include <cmath>

#include "bagsplit/runs/detail/sex_word.hpp"
#include "bagsplit/runs/typed.hpp"
#include "bagsplit/text/decimal_comma.hpp"
#include "bagsplit/text/number_chars.hpp"

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

// "-o,--output" or "--level"; a positional has no dashes.
Option described(const std::string& names, const Declared& declared) {
  Option option;
  const std::size_t dashes = names.rfind("--");
  option.long_name = dashes == std::string::npos ? names : names.substr(dashes + 2);
  option.short_name = names.starts_with("--") || dashes == std::string::npos ? "" : names.substr(1, 1);
  option.value = declared.value;
  option.words = split_words(option.value);
  option.what = declared.what;
  option.fallback = declared.fallback;
  option.purpose = declared.purpose;
  return option;
}

}  // namespace

void declare_switch(Options& app, const std::string& names, bool& target, const Declared& declared) {
  app.push_back(described(names, declared));
  app.back().switched = &target;
}

void declare_text(Options& app, const std::string& names, const Declared& declared,
                  const std::function<void(const std::string&)>& take) {
  app.push_back(described(names, declared));
  app.back().take = [take](const std::string& text) {
    take(text);
    return std::string();
  };
}

void declare_checked(Options& app, const std::string& names, const Declared& declared,
                     const std::function<std::string(const std::string&)>& take) {
  app.push_back(described(names, declared));
  app.back().take = [take, name = "--" + app.back().long_name](const std::string& text) {
    const std::string expected = take(text);
    return expected.empty() ? expected : name + " is '" + text + "', but must be " + expected;
  };
}

void declare_list(Options& app, const std::string& names, std::vector<std::string>& target, const Declared& declared) {
  declare_text(app, names, declared, [&target](const std::string& text) { target.push_back(text); });
  app.back().repeats = true;
}

void declare_files(Options& app, const std::string& name, std::vector<std::string>& target, const Declared& declared) {
  declare_list(app, name, target, declared);
  app.back().positional = true;
}

std::optional<double> read_number(const std::string& typed) {
  // A comma before three digits may be one of thousands: that is not guessed, but for 0,125.
  const std::size_t comma = typed.find(',');
  const bool thousands = comma != std::string::npos && typed.size() == comma + 4 && typed.substr(0, comma) != "0";
  const std::string text = thousands ? typed : text::with_decimal_point(typed);
  double value = 0.0;
  const auto [end, error] = text::read_number(text.data(), text.data() + text.size(), value);
  if (error != std::errc{} || end != text.data() + text.size() || !std::isfinite(value)) {
    return std::nullopt;
  }
  return value;
}

void declare_input(Options& app, InputOptions& input) {
  declare_files(app, "LOG", input.logs,
                {purpose::input, "", "Run logs: files (CSV), folders of them, or - for standard input", "none"});
  declare_text(app, "--roster",
               {purpose::input, "FILE", "Who the players are: birth, sex, height, mass (CSV)",
                "roster.csv in a folder given as LOG"},
               [&input](const std::string& text) { input.roster = text; });
  declare_list(app, "--courses", input.courses,
               {purpose::input, "FILE", "Courses of your own (JSON); may be given several times", "the built-in ones"});
  declare_switch(app, "--strict", input.strict, {purpose::input, "", "Take suspicions for errors", ""});
}

void declare_model(Options& app, InputOptions& input) {
  declare_list(
      app, "--device", input.devices,
      {purpose::input, "FILE", "Your watches, gates or cameras and their errors (JSON); may be given several times",
       "the built-in ones"});
  declare_text(app, "--model",
               {purpose::input, "FILE", "Priors and errors to use in place of the built-in ones (JSON)",
                "by age, sex and device"},
               [&input](const std::string& text) { input.model = text; });
}

void declare_level(Options& app, double& level) {
  declare_value<double>(app, "--level", level,
                        {purpose::choice, "SHARE", "Probability of every interval, between 0.01 and 0.9999", "0.9"},
                        "a number from 0.01 to 0.9999, such as 0.9 for 90%", [](const std::string& text) {
                          const std::optional<double> value = read_number(text);
                          return value && *value >= 0.01 && *value <= 0.9999 ? value : std::nullopt;
                        });
}

void declare_as_of(Options& app, std::optional<runs::Date>& as_of, const std::string& about) {
  declare_value<runs::Date>(app, "--as-of", as_of, {purpose::choice, "DATE", about, "the last run"},
                            "a date such as 2026-06-23",
                            [](const std::string& text) { return runs::parse_date(text, runs::DateOrder::iso); });
}

void declare_window(Options& app, std::optional<int>& days) {
  declare_value<int>(app, "--window", days,
                     {purpose::choice, "DAYS", "Only runs of so many days up to that date, 1 to 36500", "all runs"},
                     "a whole number of days from 1 to 36500", [](const std::string& text) -> std::optional<int> {
                       const auto count = runs::parse_count(text, 1, 36500);
                       return count ? std::optional(static_cast<int>(*count)) : std::nullopt;
                     });
}

void declare_threads(Options& app, unsigned& threads) {
  declare_value<unsigned>(
      app, "--threads", threads,
      {purpose::choice, "N", "Threads, 0 to 256, 0 for as many as the machine has; the answer is the same", "0"},
      "a whole number from 0 to 256", [](const std::string& text) { return runs::parse_count(text, 0, 256); });
}

void declare_sex(Options& app, std::optional<runs::Sex>& sex, const std::string& what, const std::string& fallback) {
  declare_value<runs::Sex>(app, "--sex", sex, {purpose::choice, "F|M", what, fallback}, "F or M",
                           [](const std::string& text) { return runs::parse_sex(text); });
}

void declare_separator(Options& app, OutputOptions& output) {
  declare_value<bool>(
      app, "--separator", output.semicolons,
      {purpose::output, "comma|semicolon", "Of CSV; semicolon, with decimal commas, for spreadsheets that want both",
       "comma"},
      "comma or semicolon", [](const std::string& text) {
        return text == "semicolon" ? std::optional(true) : text == "comma" ? std::optional(false) : std::nullopt;
      });
}

void declare_output(Options& app, OutputOptions& output, Forms forms) {
  if (forms == Forms::usual) {
    declare_value<Format>(
        app, "--format", output.format,
        {purpose::output, "text|csv|json", "text for people, csv for spreadsheets, json for programs", "text"},
        "text, csv or json", [](const std::string& text) -> std::optional<Format> {
          return text == "text"   ? std::optional(Format::text)
                 : text == "csv"  ? std::optional(Format::csv)
                 : text == "json" ? std::optional(Format::json)
                                  : std::nullopt;
        });
    declare_separator(app, output);
  }
  declare_text(app, "-o,--output",
               {purpose::output, "FILE", "Write the answer to FILE, whole or not at all; - for standard output", "-"},
               [&output](const std::string& text) { output.output = text; });
  declare_value<std::size_t>(
      app, "--width", output.width,
      {purpose::output, "CELLS", "Width of text, 40 to 1000 characters", "the terminal's, else 80"},
      "a whole number from 40 to 1000",
      [](const std::string& text) -> std::optional<std::size_t> { return runs::parse_count(text, 40, 1000); });
  declare_value<Colour>(app, "--color", output.colour, {purpose::output, "auto|always|never", "Colour in text", "auto"},
                        "auto, always or never", [](const std::string& text) -> std::optional<Colour> {
                          return text == "auto"     ? std::optional(Colour::automatic)
                                 : text == "always" ? std::optional(Colour::always)
                                 : text == "never"  ? std::optional(Colour::never)
                                                    : std::nullopt;
                        });
}

std::string examine_input(const Invocation& invocation) {
  const InputOptions& input = invocation.input;
  if (input.logs.empty()) {
    return "name at least one run log: a file, a folder, or - for standard input";
  }
  std::vector<std::string> all = input.logs;
  all.insert(all.end(), input.devices.begin(), input.devices.end());
  all.insert(all.end(), input.courses.begin(), input.courses.end());
  for (const auto& one : {input.roster, input.model}) {
    if (one) {
      all.push_back(*one);
    }
  }
  for (const std::string& name : all) {
    if (name.empty()) {
      return "a file's name is empty";
    }
  }
  if (std::count(input.logs.begin(), input.logs.end(), "-") > 1) {
    return "standard input (-) is named twice";
  }
  if (std::count(all.begin(), all.end(), "-") > std::count(input.logs.begin(), input.logs.end(), "-")) {
    return "only a run log can come from standard input (-)";
  }
  return {};
}

}  // namespace bagsplit::cli
