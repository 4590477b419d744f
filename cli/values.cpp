#include <algorithm>
#include <cstdio>
#include <filesystem>

#include "bagsplit/runs/courses/course.hpp"
#include "bagsplit/text/text.hpp"
#include "command_line.hpp"
#include "input.hpp"
#include "manual.hpp"
#include "standings_choice.hpp"

namespace bagsplit::cli {

namespace {

// What is read of the words on the line: options with their values, and the files among the rest.
InputOptions files_on_the_line(const std::vector<std::string>& words) {
  InputOptions out;
  for (std::size_t k = 0; k < words.size(); ++k) {
    const bool has_value = k + 1 < words.size();
    if (words[k] == "--roster" && has_value) {
      out.roster = words[++k];
    } else if (words[k] == "--courses" && has_value) {
      out.courses.push_back(words[++k]);
    } else if (std::error_code error; !words[k].starts_with('-') && std::filesystem::exists(words[k], error)) {
      out.logs.push_back(words[k]);
    }
  }
  return out;
}

void add_once(std::vector<std::string>& values, std::string value) {
  if (!value.empty() && std::find(values.begin(), values.end(), value) == values.end()) {
    values.push_back(std::move(value));
  }
}

std::vector<std::string> player_ids(const Inputs& inputs) {
  std::vector<std::string> ids;
  for (const runs::Player& player : inputs.roster.players) {
    add_once(ids, player.id);
  }
  for (const runs::Run& run : inputs.log.runs) {
    add_once(ids, inputs.log.name(run.player));
  }
  return ids;
}

std::vector<std::string> course_names(const Inputs& inputs) {
  std::vector<std::string> names;
  for (const runs::Run& run : inputs.log.runs) {
    add_once(names, inputs.log.courses[run.course].name);
  }
  for (const runs::Course& course : runs::builtin_courses()) {
    add_once(names, course.name);
  }
  return names;
}

std::vector<std::string> quantities(const Inputs& inputs) {
  std::vector<std::string> out;
  for (const std::string_view word : quantity_words) {
    if (word != "time") {
      out.emplace_back(word);
    }
  }
  for (const runs::Run& run : inputs.log.runs) {
    for (const runs::Reading& reading : inputs.log.readings_of(run)) {
      for (const runs::Split& split : inputs.log.splits_of(reading)) {
        add_once(out, "time:" + inputs.log.name(split.mark) + "@" + inputs.log.courses[run.course].name);
      }
    }
  }
  return out;
}

}  // namespace

bool has_listed_values(std::string_view option) {
  return option == "player" || option == "players" || option == "course" || option == "by";
}

std::string option_values(const std::vector<std::string>& arguments, Session session) {
  if (arguments.size() < 3) {
    return {};
  }
  const std::string& option = arguments[2];
  std::vector<std::string> values;
  for (const CommandDescription& command : described_commands()) {
    for (const Option& described : command.options) {
      if (command.name == arguments[1] && "--" + described.long_name == option) {
        values = described.words;
      }
    }
  }
  const bool players = option.starts_with("--player");
  if (values.empty() && option.starts_with("--") && has_listed_values(option.substr(2))) {
    session.talk = std::fopen("/dev/null", "w");  // what is wrong in the files is for the command itself to say
    if (session.talk == nullptr) {
      return {};
    }
    const Inputs inputs = read_inputs(files_on_the_line({arguments.begin() + 3, arguments.end()}), session);
    std::fclose(session.talk);
    values = players ? player_ids(inputs) : option == "--course" ? course_names(inputs) : quantities(inputs);
  }
  std::string out;
  for (const std::string& value : values) {
    out += value + "\n";
  }
  return out;
}

}  // namespace bagsplit::cli
