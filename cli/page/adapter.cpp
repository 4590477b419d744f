// The command, asked by a page instead of a shell: files lie in memory, an answer is a text. Nothing is computed here.
#include <emscripten/emscripten.h>
#include <fcntl.h>
#include <unistd.h>

#include <chrono>
#include <cstdio>
#include <exception>
#include <fstream>
#include <iterator>
#include <string>
#include <vector>

#include "bagsplit/runs/courses/course.hpp"
#include "bagsplit/runs/words.hpp"
#include "bagsplit/text/json_text.hpp"
#include "bagsplit/text/json_writer.hpp"
#include "command_line.hpp"
#include "manual.hpp"
#include "session.hpp"

namespace bagsplit::cli {

namespace {

constexpr const char* answer_file = "/answer";
constexpr const char* talk_file = "/talk";

std::string whole(const char* path) {
  std::ifstream file(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(file), std::istreambuf_iterator<char>()};
}

ExitCode run(const std::vector<std::string>& arguments, Session& session) {
  if (!arguments.empty() && arguments[0] == "--values") {
    return deliver(option_values(arguments, session), {}, session);
  }
  const Parsed parsed = parse(arguments);
  if (parsed.command != nullptr) {
    return parsed.command->run(parsed.invocation, session);
  }
  session.say(parsed.text);
  return parsed.ended;
}

// What a shell would have shown: how the command ended, its answer, what it said beside it.
std::string ask(const std::vector<std::string>& arguments, int local_day) {
  Session session;
  session.answer = open(answer_file, O_WRONLY | O_CREAT | O_TRUNC, 0600);
  session.talk = std::fopen(talk_file, "w");
  if (session.answer < 0 || session.talk == nullptr) {
    return R"({"ended": 3, "answer": "", "talk": "bagsplit: no room for an answer\n"})";
  }
  session.latest_date_on_earth =
      std::chrono::floor<std::chrono::days>(std::chrono::system_clock::now() + std::chrono::hours(14));
  session.local_date = std::chrono::sys_days(std::chrono::days(local_day));
  ExitCode ended = ExitCode::bug;
  try {
    ended = run(arguments, session);
  } catch (const std::bad_alloc&) {
    session.say("bagsplit: not enough memory\n");
    ended = ExitCode::file_trouble;
  } catch (const std::exception& error) {
    session.say(std::string("bagsplit: this is a bug in bagsplit: ") + error.what() + "\n");
  }
  close(session.answer);
  std::fclose(session.talk);
  text::JsonWriter out;
  out.begin_object();
  out.member("ended", static_cast<double>(ended));
  out.member("answer", whole(answer_file));
  out.member("talk", whole(talk_file));
  out.end_object();
  return out.take();
}

template <typename Words>
void write_words(text::JsonWriter& out, const char* name, const Words& words) {
  out.key(name).begin_array(text::JsonWriter::Layout::line);
  for (const auto& word : words) {
    out.text(word);
  }
  out.end_array();
}

// What the page offers to choose from, as the library knows it.
std::string choices() {
  text::JsonWriter out;
  out.begin_object();
  out.key("courses").begin_array();
  for (const runs::Course& course : runs::builtin_courses()) {
    out.begin_object();
    out.member("name", course.name);
    std::vector<std::string> marks;
    for (const runs::CourseMark& mark : course.marks) {
      marks.push_back(mark.name);
    }
    write_words(out, "marks", marks);
    out.member("bases", course.is_base_path());
    out.end_object();
  }
  out.end_array();
  write_words(out, "postures", runs::posture_words);
  write_words(out, "flags", runs::flag_words);
  out.end_object();
  return out.take();
}

}  // namespace

}  // namespace bagsplit::cli

extern "C" {

/// @param words  {"arguments": ["report", "logs"], "local_day": 20000}; no words: what there is to choose from.
/// @return {"ended": 0, "answer": "...", "talk": "..."}, held until the next call.
EMSCRIPTEN_KEEPALIVE const char* bagsplit_ask(const char* words) {
  static std::string answer;
  const std::string text = words;
  if (text.empty()) {
    answer = bagsplit::cli::choices();
    return answer.c_str();
  }
  bagsplit::text::JsonText json(text, "the page");
  std::vector<std::string> arguments;
  int local_day = 0;
  if (const auto read = json.parse()) {
    if (const auto* list = read->find("arguments")) {
      for (const auto& item : list->items) {
        arguments.push_back(item.text);
      }
    }
    if (const auto* day = read->find("local_day")) {
      local_day = static_cast<int>(day->number);
    }
  }
  answer = bagsplit::cli::ask(arguments, local_day);
  return answer.c_str();
}
}
