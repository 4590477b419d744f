#include <unistd.h>
#include <CLI/CLI.hpp>

#include <algorithm>
#include <csignal>
#include <ctime>

#include "bagsplit/coach/fast_end.hpp"
#include "bagsplit/coach/merge_logs.hpp"
#include "bagsplit/coach/record_session.hpp"
#include "bagsplit/present/json_writer.hpp"
#include "bagsplit/present/number_text.hpp"
#include "bagsplit/present/text_width.hpp"
#include "bagsplit/runs/files.hpp"
#include "bagsplit/runs/text.hpp"
#include "bagsplit/runs/typed.hpp"
#include "bagsplit/runs/units.hpp"
#include "bagsplit/runs/write_run_log.hpp"
#include "bagsplit/safety/safety.hpp"
#include "command_line.hpp"
#include "declare.hpp"
#include "input.hpp"
#include "journal.hpp"
#include "line_input.hpp"
#include "running_order.hpp"
#include "session.hpp"

namespace bagsplit::cli {

namespace {

using Reply = coach::RecordReply;

void declare(CLI::App& app, Invocation& invocation) {
  RecordRequest& request = invocation.record;
  app.add_option("LOG", invocation.input.logs,
                 "The log to add to; it is made where there is none. With --merge: recorders' logs")
      ->group(purpose::input)
      ->type_name("")
      ->default_str("none");
  const auto text = [&app](const char* name, std::string& target, const Declared& declared) {
    declare_text(app, name, declared, [&target](const std::string& typed) { target = typed; });
  };
  declare_text(app, "--roster",
               {purpose::input, "FILE", "Who the players are (CSV): bibs, and the running order", "none"},
               [&invocation](const std::string& typed) { invocation.input.roster = typed; });
  text("--order", request.order, {purpose::input, "FILE", "Running order: an id or bib a line", "as in the roster"});
  declare_list(app, "--before", request.before,
               {purpose::input, "LOG",
                "Earlier logs or folders, for what is expected of a player; may be given several times", "none"});
  declare_list(app, "--courses", invocation.input.courses,
               {purpose::input, "FILE", "Courses of your own (JSON); may be given several times", "the built-in ones"});
  declare_switch(app, "--merge", request.merge,
                 {purpose::choice, "", "Write the LOGs, one or more, as one plain run log, corrections resolved", ""});
  text("--course", request.course,
       {purpose::choice, "NAME", "Course of a new log, such as circuit or home-first", "must be given"});
  text("--marks", request.marks,
       {purpose::choice, "NAMES", "Marks timed, such as first,second or 10yd,30yd", "the bags of the course"});
  text("--base-distance", request.base_distance,
       {purpose::choice, "LENGTH", "Between the bags: 60ft", "must be given for base paths"});
  text("--timer", request.timer, {purpose::choice, "NAME", "Who holds the first watch", "nobody named"});
  text("--place", request.place, {purpose::choice, "NAME", "Where it is", "not named"});
  text("--start", request.start, {purpose::choice, "KIND", "signal, self, contact, or 'beam 0.5 m'", "signal"});
  text("--device", request.device, {purpose::choice, "KIND", "stopwatch, gate or video", "stopwatch"});
  declare_text(app, "--date", {purpose::choice, "DATE", "Date of the runs (YYYY-MM-DD)", "the day today"},
               [&request](const std::string& typed) { request.date = typed; });
  declare_output(app, invocation.output);
}

std::string examine(const Invocation& invocation) {
  const RecordRequest& request = invocation.record;
  if (invocation.input.logs.empty()) {
    return "name the log to add to";
  }
  if (std::count(invocation.input.logs.begin(), invocation.input.logs.end(), "-") > 0) {
    return "a recorder's log is a file: - cannot be added to or merged";
  }
  if (!request.merge && invocation.input.logs.size() > 1) {
    return "one log at a time; --merge makes one of several";
  }
  if (!request.merge && invocation.output.output != "-") {
    return "--output goes with --merge: a session writes to its log";
  }
  if (!request.date.empty() && !runs::parse_date(request.date, runs::DateOrder::iso)) {
    return "--date is '" + request.date + "', but must be a date such as 2026-04-11";
  }
  return examine_input(invocation);
}

// A reply on standard output: for people, or as one line for programs.
class Replies {
 public:
  Replies(Format format, const Session& session, bool dialogue)
      : format_(format), session_(session), dialogue_(dialogue) {}

  /// @return false once nobody reads any more.
  bool say(const char* kind, const std::string& text, const std::string& row = {}) {
    if (text.empty()) {
      return alive_;
    }
    std::string out = text;
    if (format_ == Format::csv) {
      out = row;
    } else if (format_ == Format::json) {
      present::JsonWriter json;
      const std::string one = text.substr(0, text.find_last_not_of('\n') + 1);
      json.begin_object(present::JsonWriter::Layout::line).member("reply", kind).member("text", one);
      json.key("row");
      row.empty() ? json.null() : json.text(row.substr(0, row.size() - 1));
      out = json.end_object().take();
    }
    return write(out);
  }

  bool alive() const { return alive_; }
  bool prompt(const std::string& text) { return dialogue_ && format_ == Format::text ? write(text) : alive_; }

 private:
  bool write(const std::string& text) {
    if (!text.empty() && alive_) {
      alive_ = deliver(text, {}, session_) == ExitCode::done;
    }
    return alive_;
  }

  Format format_;
  const Session& session_;
  bool dialogue_;
  bool alive_ = true;
};

// The date by the clock and time zone of this place.
// What is set for a new log, or why it cannot be.
std::string set_up(const Invocation& invocation, const Session& session, coach::RecordSetup& setup) {
  const RecordRequest& request = invocation.record;
  setup.base_distance = request.base_distance;
  setup.place = request.place;
  setup.timer = request.timer;
  setup.start = request.start;
  setup.device = request.device;
  setup.date = request.date.empty() ? runs::format_date(session.local_date) : request.date;
  setup.today = session.latest_date_on_earth;
  if (request.course.empty()) {
    return {};
  }
  std::vector<runs::Course> known = runs::builtin_courses();
  known.insert(known.end(), setup.courses.begin(), setup.courses.end());
  const runs::Course* course = runs::find_course(known, request.course);
  if (course == nullptr) {
    std::vector<std::string_view> names;
    for (const runs::Course& one : known) {
      names.push_back(one.name);
    }
    const auto near = runs::nearest(request.course, names);
    return "no course '" + request.course + "'" + (near ? ". Did you mean '" + std::string(*near) + "'?" : "");
  }
  setup.course = course->name;
  if (course->is_base_path() && !runs::parse_length_m(request.base_distance)) {
    return "a course along the bases needs --base-distance, such as 60ft";
  }
  std::string_view marks = request.marks;
  while (!marks.empty()) {
    const std::size_t comma = std::min(marks.find(','), marks.size());
    setup.marks.emplace_back(runs::trim(marks.substr(0, comma)));
    marks.remove_prefix(std::min(comma + 1, marks.size()));
  }
  for (const runs::CourseMark& mark : course->marks) {
    if (request.marks.empty()) {
      setup.marks.push_back(mark.name);
    }
  }
  return setup.marks.empty()
             ? "the course " + setup.course + " has no marks of its own: name them with --marks 10yd,30yd"
             : "";
}

// Lines in, replies out, until the end. Every accepted line is on the disk before its reply is written.
ExitCode converse(coach::RecordSession& work, Journal& journal, Replies& replies, const std::string& path,
                  const Session& session, bool dialogue) {
  LineInput input;
  ExitCode code = ExitCode::done;
  const auto prompt = [&] {
    const std::string next = work.next_player();
    return replies.prompt(work.waits_for_answer() ? "y or n> " : next.empty() ? "> " : "next " + next + "> ");
  };
  while (prompt()) {
    const LineInput::Got got = input.next();
    if (got != LineInput::Got::line) {
      session.say(got == LineInput::Got::signal ? "\nbagsplit record: ended by a signal\n" : dialogue ? "\n" : "");
      if (!input.rest().empty()) {
        session.say("bagsplit record: the last line had no end and was not taken: \"" +
                    present::printable(runs::clipped(input.rest())) + "\"\n");
        code = ExitCode::data_problems;
      }
      break;
    }
    const Reply reply = work.take(input.line());
    if (reply.kind == Reply::Kind::end) {
      break;
    }
    if (reply.kind != Reply::Kind::keep) {
      const char* kind = reply.kind == Reply::Kind::refused ? "refused"
                         : reply.kind == Reply::Kind::asked ? "asked"
                                                            : "told";
      if (!replies.say(kind, reply.text)) {
        break;
      }
      continue;
    }
    const std::string trouble = journal.append(reply.row);
    if (trouble.empty()) {
      if (!replies.say("kept", work.kept(), reply.row)) {
        break;
      }
      continue;
    }
    work.lost();
    code = ExitCode::file_trouble;
    session.say("bagsplit record: NOT kept: " + present::printable(path) + ": " + trouble + "\n" +
                (journal.broken()
                     ? "bagsplit record: the session ends here; what was kept before is in the file. Start again on a "
                       "good disk\n"
                     : "bagsplit record: what was kept before is safe. Make room and type the line again\n"));
    if (journal.broken()) {
      break;
    }
  }
  if (work.waits_for_answer()) {
    session.say("bagsplit record: the last line was not answered for and is not kept\n");
  }
  session.say("bagsplit record: " + present::counted(work.standing(), "entry", "entries") + " in " +
              present::printable(path) + "\n");
  return replies.alive() ? code : ExitCode::file_trouble;
}

ExitCode stop_at(const runs::Problems& problems, const Invocation& invocation, const Session& session,
                 const char* what) {
  report_problems(problems, Notes::all, problems.size(), invocation.output.colour, session);
  const ExitCode code = judge(problems);
  if (code != ExitCode::done) {
    session.say("bagsplit record: " + std::string(what) + "\n");
  }
  return code;
}

ExitCode merge(const Invocation& invocation, const Session& session) {
  runs::Problems problems;
  runs::ReadOptions reading;
  reading.courses = read_own_courses(invocation.input, problems);
  reading.today = session.latest_date_on_earth;
  const std::vector<runs::LoadedFile> files = runs::load_logs(invocation.input.logs, nullptr, problems);
  const coach::MergeResult merged = coach::merge_logs(runs::texts_of(files), reading);
  problems.insert(problems.end(), merged.problems.begin(), merged.problems.end());
  if (const ExitCode code = stop_at(problems, invocation, session, "nothing was written: settle these first");
      code != ExitCode::done) {
    return code;
  }
  session.say("bagsplit record: " + present::counted(merged.log.runs.size(), "run") + ", " +
              present::counted(merged.log.readings.size(), "reading") + " from " +
              present::counted(files.size(), "file") +
              (merged.same > 0 ? "; " + std::to_string(merged.same) + " in two files alike, kept once" : "") + "\n");
  return deliver(runs::write_run_log(merged.log), invocation.output, session);
}

ExitCode run(const Invocation& invocation, Session& session) {
  if (invocation.record.merge) {
    return merge(invocation, session);
  }
  const std::string& path = invocation.input.logs.front();
  runs::Problems problems;
  coach::RecordSetup setup;
  setup.courses = read_own_courses(invocation.input, problems);
  const runs::Roster roster = read_named_roster(invocation.input.roster, session.latest_date_on_earth, problems);
  setup.roster = invocation.input.roster ? &roster : nullptr;
  setup.order = running_order(invocation.record.order, roster, problems);
  std::vector<runs::LoadedFile> before;
  if (!invocation.record.before.empty()) {
    before = runs::load_logs(invocation.record.before, nullptr, problems);
    std::erase_if(before, [&](const runs::LoadedFile& file) { return file.path == path; });
    setup.before = runs::texts_of(before);
  }
  if (const std::string wrong = set_up(invocation, session, setup); !wrong.empty()) {
    session.say("bagsplit record: " + present::printable(wrong) + "\n");
    return ExitCode::wrong_command_line;
  }
  if (const ExitCode code = stop_at(problems, invocation, session, "no session was begun"); code != ExitCode::done) {
    return code;
  }
  const bool is_there = access(path.c_str(), F_OK) == 0;
  if (!is_there && setup.marks.empty()) {
    session.say("bagsplit record: '" + present::printable(path) + "' is new: name its course with --course\n");
    return ExitCode::wrong_command_line;
  }
  std::signal(SIGXFSZ, SIG_IGN);  // a file that may not grow shows as an error of write()
  const coach::RecordSetup asked = setup;
  coach::RecordSession work(std::move(setup));
  Journal journal;
  if (const std::string wrong = journal.open(path, asked.marks.empty() ? std::string() : work.header());
      !wrong.empty()) {
    session.say("bagsplit record: " + present::printable(wrong) + "\n");
    return ExitCode::file_trouble;
  }
  if (!work.resume(journal.text(), path, problems)) {
    return stop_at(problems, invocation, session, "nothing was changed");
  }
  if (!asked.marks.empty() && (work.setup().course != asked.course || work.setup().marks != asked.marks)) {
    session.say("bagsplit record: '" + present::printable(path) + "' was begun for " + work.setup().course +
                ": give another course a log of its own\n");
    return ExitCode::wrong_command_line;
  }
  const bool dialogue = session.terminal.out_is_terminal && isatty(STDIN_FILENO) == 1;
  Replies replies(invocation.output.format, session, dialogue);
  if (!journal.torn().empty()) {
    session.say(
        "bagsplit record: the last line had been cut off while it was written; it was never accepted and is kept in '" +
        present::printable(path) + ".torn':\n  " + present::printable(runs::clipped(journal.torn(), 200)) + "\n");
  }
  std::string marks;
  for (const std::string& mark : work.setup().marks) {
    marks += " " + mark;
  }
  session.say(journal.is_new()
                  ? "bagsplit record: new log '" + present::printable(path) + "', " + work.setup().course + ":" +
                        marks + "\n"
                  : "bagsplit record: going on with '" + present::printable(path) + "', " + work.setup().course + ":" +
                        marks + "; " + present::counted(work.standing(), "entry", "entries") + " found" +
                        (work.entries().empty()
                             ? ""
                             : ", the last " + present::printable(coach::entry_line(work.entries().back()))) +
                        "\n");
  if (dialogue) {
    session.say("help shows what can be typed. " +
                safety::short_caution(coach::fast_end_mps(std::nullopt, std::nullopt)) + "\n");
  }
  return converse(work, journal, replies, path, session, dialogue);
}

}  // namespace

extern const Command record_command;
const Command record_command{
    "record",
    "Type results in at the field, each line safe on the disk; merge recorders' logs.",
    "bagsplit record night.csv --course circuit --base-distance 60ft --timer AK\n"
    "bagsplit record --merge a.csv b.csv -o night.csv",
    "README.md (what can be typed, what the log looks like).",
    declare,
    examine,
    run,
};

}  // namespace bagsplit::cli
