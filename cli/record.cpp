#include <unistd.h>

#include <algorithm>
#include <csignal>
#include <ctime>
#include <tuple>

#include "bagsplit/jobs/fast_end.hpp"
#include "bagsplit/record/merge_logs.hpp"
#include "bagsplit/record/record_session.hpp"
#include "bagsplit/runs/files.hpp"
#include "bagsplit/runs/log/write_run_log.hpp"
#include "bagsplit/runs/typed.hpp"
#include "bagsplit/runs/units.hpp"
#include "bagsplit/runs/words.hpp"
#include "bagsplit/safety/safety.hpp"
#include "bagsplit/text/csv.hpp"
#include "bagsplit/text/json_writer.hpp"
#include "bagsplit/text/number_text.hpp"
#include "bagsplit/text/text.hpp"
#include "bagsplit/text/text_width.hpp"
#include "command_line.hpp"
#include "declare.hpp"
#include "input.hpp"
#include "journal.hpp"
#include "line_input.hpp"
#include "running_order.hpp"
#include "session.hpp"
#include "targets.hpp"
#include "timed_course.hpp"

namespace bagsplit::cli {

namespace {

using Reply = record::RecordReply;

void declare(Options& app, Invocation& invocation) {
  RecordRequest& request = invocation.record;
  declare_files(
      app, "LOG", invocation.input.logs,
      {purpose::input, "", "The log to add to; it is made where there is none. With --merge: recorders' logs", "none"});
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
  declare_switch(app, "--strict", invocation.input.strict,
                 {purpose::input, "", "With --merge: write nothing while anything is open or looks wrong", ""});
  declare_list(app, "--same", request.same,
               {purpose::input, "LINES",
                "With --merge, an answer: two lines that are one run, such as a.csv:12,b.csv:13; may be given several "
                "times",
                "no answer"});
  declare_list(
      app, "--alone", request.alone,
      {purpose::input, "LINE",
       "With --merge, an answer: a line that is a run of its own, such as a.csv:12; may be given several times",
       "no answer"});
  declare_drill(app, request.drill);
  declare_switch(app, "--again", request.again,
                 {purpose::choice, "",
                  "Type the sheet a second time: each time is compared with the LOG, and differences are asked about; "
                  "what was typed first stays in it",
                  ""});
  declare_switch(
      app, "--heats", request.heats,
      {purpose::choice, "", "A new log of heats: many start on one call, a line says in which order they came in", ""});
  text("--course", request.course,
       {purpose::choice, "NAME", "Course of a new log, such as circuit or home-first", "must be given"});
  text("--marks", request.marks,
       {purpose::choice, "NAMES",
        "Marks timed, such as first,second or 10yd,30yd; move for the first move of a reaction drill",
        "the bags of the course"});
  text("--base-distance", request.base_distance,
       {purpose::choice, "LENGTH", "Between the bags: 60ft", "must be given for base paths"});
  text("--timer", request.timer, {purpose::choice, "NAME", "Who holds the first watch", "nobody named"});
  text("--place", request.place, {purpose::choice, "NAME", "Where it is", "not named"});
  text("--start", request.start, {purpose::choice, "KIND", "signal, self, contact, or 'beam 0.5 m'", "signal"});
  declare_signal(app, request.signal);
  declare_posture(app, request.posture);
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
  if (request.again && request.merge) {
    return "--again and --merge do not go together";
  }
  if (request.again && request.heats) {
    return "--again and --heats do not go together: list shows the heats, correct sets one right";
  }
  if (!request.merge && invocation.input.logs.size() > 1) {
    return "one log at a time; --merge makes one of several";
  }
  if (!request.merge && !(request.same.empty() && request.alone.empty())) {
    return "--same and --alone answer what --merge has asked";
  }
  for (const std::string& pair : request.same) {
    if (std::count(pair.begin(), pair.end(), ',') != 1) {
      return "--same is '" + pair + "', but must be two lines, such as a.csv:12,b.csv:13";
    }
  }
  if (!request.merge && invocation.output.output != "-") {
    return "--output goes with --merge: a session writes to its log";
  }
  if (!request.date.empty() && !runs::parse_date(request.date, runs::DateOrder::iso)) {
    return "--date is '" + request.date + "', but must be a date such as 2026-04-11";
  }
  return examine_input(invocation);
}

// What is no row, among rows.
std::string as_remarks(const std::string& text) {
  std::string out = "## ";
  for (std::size_t k = 0; k < text.size(); ++k) {
    out += text[k];
    out += text[k] == '\n' && k + 1 < text.size() ? "## " : "";
  }
  return out;
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
      out = row.empty() ? as_remarks(text) : row;
    } else if (format_ == Format::json) {
      text::JsonWriter json;
      const std::string one = text.substr(0, text.find_last_not_of('\n') + 1);
      json.begin_object(text::JsonWriter::Layout::line).member("reply", kind).member("text", one);
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

// What is set for a new log, with the date by the clock and time zone of this place; or why it cannot be.
std::string set_up(const Invocation& invocation, const Session& session, record::RecordSetup& setup) {
  RecordRequest request = invocation.record;
  std::string wrong_drill;
  const auto drill =
      fill_from_drill({setup.courses, setup.drills}, request.drill,
                      {request.course, request.marks, request.posture, request.start, request.signal}, wrong_drill);
  if (!wrong_drill.empty()) {
    return wrong_drill;
  }
  setup.drill = request.drill;
  setup.signal = request.signal;
  setup.base_distance = request.base_distance;
  setup.place = request.place;
  setup.timer = request.timer;
  for (const auto& [target, asked] : {std::pair<std::string*, const std::string*>{&setup.start, &request.start},
                                      {&setup.device, &request.device},
                                      {&setup.posture, &request.posture}}) {
    *target = asked->empty() ? *target : *asked;
  }
  if (const auto& roster = invocation.input.roster) {
    setup.roster_name = roster->substr(roster->rfind('/') + 1);
  }
  setup.date = request.date.empty() ? runs::format_date(session.local_date) : request.date;
  setup.today = session.latest_date_on_earth;
  setup.limits.fastest_of_age_mps = jobs::fastest_of_age_mps();
  if (request.course.empty()) {
    return {};
  }
  std::string wrong;
  const auto asked = timed_course(setup.courses, request.course, request.marks, wrong);
  if (!asked) {
    return wrong;
  }
  setup.course = asked->course.name;
  setup.marks = asked->marks;
  if (drill && drill->relay) {
    setup.relay = true;
    setup.marks = {"way", "runners", "clock"};
  }
  if (request.heats && setup.relay) {
    return "a relay is told by its clock, not by heats: leave out --heats";
  }
  if (request.heats) {
    if (!invocation.record.marks.empty() && setup.marks.size() > 1) {
      return "a heat has one finish: name the mark where you stand with --marks";
    }
    setup.heats = true;
    setup.marks = {"finish", setup.marks.back()};
  }
  if (asked->course.is_base_path() && !runs::parse_length_m(request.base_distance)) {
    return "a course along the bases needs --base-distance, such as 60ft";
  }
  // The header is read as the log will be: no file is begun that could not be gone on with.
  const std::string header = record::RecordSession(setup).header();
  for (const text::Problem& problem :
       runs::read_run_log(header, "", {.courses = setup.courses, .drills = setup.drills}).problems) {
    if (problem.severity == text::Severity::error) {
      return problem.message + (problem.read.empty() ? "" : ": \"" + problem.read + "\"") +
             (problem.expected.empty() ? "" : "; expected " + problem.expected);
    }
  }
  return {};
}

// How a run typed into this log would be read, as words to compare: "60ft" is "18.288 m".
std::string read_as(const record::RecordSetup& setup) {
  record::RecordSession session(setup);
  std::string log = session.header();
  log += "2026-01-01,1,";
  text::append_csv_field(log, setup.course);
  log += ",1,," + (setup.heats ? "1" + std::string(setup.marks.size(), ',') : std::string(setup.marks.size(), ',')) +
         "void,,,,1\n";
  const runs::RunLog read = runs::read_run_log(log, "", {.courses = setup.courses, .drills = setup.drills}).log;
  if (read.runs.empty() || read.readings.empty()) {
    return log;
  }
  const runs::Run& run = read.runs.front();
  const runs::Reading& reading = read.readings.front();
  return runs::format_number(run.base_distance_m) + " " + read.name(run.place) + " " +
         std::string(runs::word_of(run.posture)) + " " + std::string(runs::word_of(reading.start)) + " " +
         runs::format_number(reading.beam_distance_m) + " " + std::string(runs::word_of(reading.signal)) + " " +
         std::string(runs::word_of(reading.device));
}

// What a log begun before says otherwise than the command line; empty where they agree.
std::string begun_otherwise(const RecordRequest& asked, const record::RecordSetup& asked_setup,
                            const record::RecordSetup& log) {
  if (asked.heats && !log.heats) {
    return "was begun for runs one by one: give heats a log of their own";
  }
  if ((!asked.course.empty() || !asked.drill.empty()) && !asked_setup.heats && log.heats) {
    return "was begun for heats: give runs one by one a log of their own";
  }
  if ((!asked.course.empty() || !asked.drill.empty()) &&
      (log.course != asked_setup.course || log.marks != asked_setup.marks)) {
    return "was begun for " + log.course + ": give another course a log of its own";
  }
  for (const auto& [what, typed, member] :
       {std::tuple{"base distance", &asked.base_distance, &record::RecordSetup::base_distance},
        std::tuple{"start", &asked.start, &record::RecordSetup::start},
        std::tuple{"signal", &asked.signal, &record::RecordSetup::signal},
        std::tuple{"posture", &asked.posture, &record::RecordSetup::posture},
        std::tuple{"device", &asked.device, &record::RecordSetup::device},
        std::tuple{"place", &asked.place, &record::RecordSetup::place}}) {
    record::RecordSetup other = log;
    other.*member = *typed;
    if (!typed->empty() && read_as(other) != read_as(log)) {
      const std::string& now = log.*member;
      return "was begun " +
             (now.empty() ? "without a " + std::string(what) : "with the " + std::string(what) + " " + now) + ", not " +
             *typed + ": give other runs a log of their own";
    }
  }
  return {};
}

// The log of a session as told to people: where it is now, and what became of it.
class Desk {
 public:
  Desk(Journal& journal, const Session& session) : journal_(journal), session_(session), path_(journal.path()) {}

  /// Writes rows, or only looks whether all that was kept is there still.  @return empty, or why not.
  std::string settle(const std::string& rows) {
    std::string trouble = rows.empty() ? journal_.look() : journal_.append(rows);
    if (journal_.path() != path_) {
      path_ = journal_.path();
      code_ = ExitCode::file_trouble;
      session_.say(text::paragraph("bagsplit record: " + text::printable(journal_.moved()) + ". Going on in '" +
                                       text::printable(path_) + "', which holds all that was kept: use that one",
                                   80));
    }
    code_ = trouble.empty() ? code_ : ExitCode::file_trouble;
    return trouble;
  }

  /// The last words: where all is, or all that would be lost otherwise.
  void close(std::size_t entries) {
    if (const std::string trouble = settle({}); !trouble.empty()) {
      session_.say("bagsplit record: " + text::printable(trouble) + ". All that was kept:\n" + journal_.text());
      return;
    }
    session_.say("bagsplit record: " + text::counted(entries, "entry", "entries") + " in " + text::printable(path_) +
                 "\n");
  }

  ExitCode code() const { return code_; }

 private:
  Journal& journal_;
  const Session& session_;
  std::string path_;
  ExitCode code_ = ExitCode::done;
};

// One line's reply; every accepted line is on the disk before its reply is written.  @return false once nobody reads.
bool answer(record::RecordSession& work, const Reply& reply, Desk& desk, Replies& replies, const Session& session) {
  const std::string trouble = desk.settle(reply.row);
  if (reply.kind == Reply::Kind::keep) {
    if (trouble.empty()) {
      return replies.say("kept", work.kept(), reply.row);
    }
    work.lost();
    return replies.say("trouble", "not kept: " + text::printable(trouble) + ": settle that and type the line again\n");
  }
  if (!trouble.empty()) {
    session.say("bagsplit record: " + text::printable(trouble) + "\n");
  }
  return replies.say(reply.kind == Reply::Kind::refused ? "refused"
                     : reply.kind == Reply::Kind::asked ? "asked"
                                                        : "told",
                     reply.text);
}

// The time of day of this place: 17:42:08.
std::string clock_here() {
  const std::time_t now = std::time(nullptr);
  std::tm here{};
  localtime_r(&now, &here);
  char text[16];
  return {text, std::strftime(text, sizeof text, "%H:%M:%S", &here)};
}

// Lines in, replies out, until the end.
ExitCode converse(record::RecordSession& work, Journal& journal, Replies& replies, const Session& session,
                  bool dialogue) {
  LineInput input;
  Desk desk(journal, session);
  ExitCode code = ExitCode::done;
  const auto prompt = [&] {
    const std::string next = work.next_player();
    return replies.prompt(work.waits_for_answer() ? "answer> " : next.empty() ? "> " : "next " + next + "> ");
  };
  while (prompt()) {
    const LineInput::Got got = input.next();
    if (got != LineInput::Got::line) {
      session.say(got == LineInput::Got::signal ? "\nbagsplit record: ended by a signal\n" : dialogue ? "\n" : "");
      if (!input.rest().empty()) {
        replies.say("refused",
                    "not kept: the last line had no end: \"" + text::printable(text::clipped(input.rest())) + "\"\n");
        code = ExitCode::data_problems;
      }
      break;
    }
    const Reply reply = work.take(input.line(), clock_here());
    if (reply.kind == Reply::Kind::end || !answer(work, reply, desk, replies, session)) {
      break;
    }
  }
  if (const std::string told = work.told_again(); !told.empty()) {
    session.say("bagsplit record: " + told);
  }
  if (work.waits_for_answer()) {
    session.say("bagsplit record: the last line was not answered for and is not kept\n");
  }
  desk.close(work.standing());
  return !replies.alive() || desk.code() != ExitCode::done ? ExitCode::file_trouble : code;
}

ExitCode stop_at(const text::Problems& problems, const Invocation& invocation, const Session& session,
                 const char* what) {
  report_problems(problems, Notes::all, problems.size(), invocation.output.colour, session);
  const ExitCode code = judge(problems);
  if (code != ExitCode::done) {
    session.say("bagsplit record: " + std::string(what) + "\n");
  }
  return code;
}

ExitCode merge(const Invocation& invocation, const Session& session) {
  text::Problems problems;
  runs::ReadOptions reading;
  runs::OwnCourses own = read_own_courses(invocation.input, problems);
  reading.courses = std::move(own.courses);
  reading.drills = std::move(own.drills);
  reading.today = session.latest_date_on_earth;
  const std::vector<runs::LoadedFile> files = runs::load_logs(invocation.input.logs, nullptr, problems);
  record::MergeAnswers answers;
  answers.alone = invocation.record.alone;
  for (const std::string& pair : invocation.record.same) {
    const std::size_t comma = pair.find(',');
    answers.same.emplace_back(text::trim(std::string_view(pair).substr(0, comma)),
                              text::trim(std::string_view(pair).substr(comma + 1)));
  }
  const record::MergeResult merged = record::merge_logs(runs::texts_of(files), reading, answers);
  problems.insert(problems.end(), merged.problems.begin(), merged.problems.end());
  take_strictly(invocation.input.strict, problems);
  if (const ExitCode code = stop_at(problems, invocation, session, "nothing was written: settle these first");
      code != ExitCode::done) {
    return code;
  }
  session.say("bagsplit record: " + text::counted(merged.log.runs.size(), "run") + ", " +
              text::counted(merged.log.readings.size(), "reading") + " from " + text::counted(files.size(), "file") +
              (merged.same > 0 ? "; " + std::to_string(merged.same) + " in two files alike, kept once" : "") +
              (merged.open > 0 ? "; " + text::counted(merged.open, "open question") +
                                     ", told above: runs in doubt are "
                                     "void until they are settled"
                               : "") +
              "\n");
  return deliver(runs::write_run_log(merged.log), invocation.output, session);
}

// Bibs mean somebody only with the roster that the log was begun with.
void tell_roster(const record::RecordSetup& asked, const record::RecordSetup& log, const Session& session) {
  if (!log.roster_name.empty() && log.roster_name != asked.roster_name) {
    session.say(text::paragraph(
        text::printable("bagsplit record: this log was begun with the roster " + log.roster_name +
                        (asked.roster_name.empty() ? ": without it (--roster) bibs are not known, and players new to "
                                                     "the log are asked about"
                                                   : ", not " + asked.roster_name)),
        80));
  }
}

// What was found in the log, and whether it is the one to go on with.
void tell_log(const std::string& path, const Journal& journal, const record::RecordSession& work, Session& session) {
  if (!journal.torn().empty()) {
    session.say(
        "bagsplit record: the last line had been cut off while it was written; it was never accepted and is kept in '" +
        text::printable(path) + ".torn':\n  " + text::printable(text::clipped(journal.torn(), 200)) + "\n");
  }
  if (const std::string other = journal.took_over(); !other.empty()) {
    session.say(text::paragraph("bagsplit record: '" + text::printable(other) +
                                    "' took over from this log when another program changed it: to go on with what "
                                    "was kept then, end this session and name that one",
                                80));
  }
  std::string marks;
  for (const std::string& mark : work.setup().marks) {
    marks += " " + mark;
  }
  session.say(journal.is_new()
                  ? "bagsplit record: new log '" + text::printable(path) + "', " + work.setup().course + ":" + marks +
                        "\n"
                  : "bagsplit record: going on with '" + text::printable(path) + "', " + work.setup().course + ":" +
                        marks + "; " + text::counted(work.standing(), "entry", "entries") + " found" +
                        (work.entries().empty() ? "" : ", the last " + text::printable(work.last_line())) + "\n");
}

ExitCode run(const Invocation& invocation, Session& session) {
  if (invocation.record.merge) {
    return merge(invocation, session);
  }
  const std::string& path = invocation.input.logs.front();
  text::Problems problems;
  record::RecordSetup setup;
  runs::OwnCourses own = read_own_courses(invocation.input, problems);
  setup.courses = std::move(own.courses);
  setup.drills = std::move(own.drills);
  const runs::Roster roster = read_named_roster(invocation.input.roster, session.latest_date_on_earth, problems);
  setup.roster = invocation.input.roster ? &roster : nullptr;
  setup.order = running_order(invocation.record.order, roster, problems);
  std::vector<runs::LoadedFile> before;
  if (!invocation.record.before.empty()) {
    before = runs::load_logs(invocation.record.before, nullptr, problems);
    std::erase_if(before, [&](const runs::LoadedFile& file) { return is_same_place(file.path, path); });
    setup.before = runs::texts_of(before);
  }
  if (const std::string wrong = set_up(invocation, session, setup); !wrong.empty()) {
    session.say("bagsplit record: " + text::printable(wrong) + "\n");
    return ExitCode::wrong_command_line;
  }
  if (const ExitCode code = stop_at(problems, invocation, session, "no session was begun"); code != ExitCode::done) {
    return code;
  }
  const bool is_there = access(path.c_str(), F_OK) == 0;
  if (!is_there && invocation.record.again) {
    session.say("bagsplit record: there is no '" + text::printable(path) + "' to compare with\n");
    return ExitCode::file_trouble;
  }
  if (!is_there && setup.marks.empty()) {
    session.say("bagsplit record: '" + text::printable(path) +
                "' is new: name its drill with --drill, or its course with --course\n");
    return ExitCode::wrong_command_line;
  }
  std::signal(SIGXFSZ, SIG_IGN);  // a file that may not grow shows as an error of write()
  const record::RecordSetup asked = setup;
  record::RecordSession work(std::move(setup));
  Journal journal;
  if (const std::string wrong = journal.open(path, asked.marks.empty() ? std::string() : work.header());
      !wrong.empty()) {
    session.say("bagsplit record: " + text::printable(wrong) + "\n");
    return ExitCode::file_trouble;
  }
  if (!work.resume(journal.text(), path, problems)) {
    return stop_at(problems, invocation, session, "nothing was changed");
  }
  if (const std::string wrong = begun_otherwise(invocation.record, asked, work.setup()); !wrong.empty()) {
    session.say("bagsplit record: " + text::printable("'" + path + "' " + wrong) + "\n");
    return ExitCode::wrong_command_line;
  }
  if (invocation.record.again) {
    if (work.setup().heats) {
      session.say("bagsplit record: heats are not typed a second time: list shows them, correct sets one right\n");
      return ExitCode::wrong_command_line;
    }
    work.type_again();
  }
  tell_roster(asked, work.setup(), session);
  const bool dialogue = session.terminal.out_is_terminal && isatty(STDIN_FILENO) == 1;
  Replies replies(invocation.output.format, session, dialogue);
  tell_log(path, journal, work, session);
  if (dialogue) {
    session.say("help shows what can be typed. " +
                safety::short_caution(jobs::fast_end_mps(std::nullopt, std::nullopt)) + "\n");
  }
  return converse(work, journal, replies, session, dialogue);
}

}  // namespace

extern const Command record_command;
const Command record_command{
    "record",
    "Type results in at the field, each line safe on the disk; merge recorders' logs.",
    "bagsplit record night.csv --course circuit --base-distance 60ft --timer AK\n"
    "bagsplit record up.csv --drill rise-and-run --timer AK\n"
    "bagsplit record heats.csv --drill rise-and-run --heats --timer AK\n"
    "bagsplit record relay.csv --drill out-and-back --base-distance 60ft\n"
    "bagsplit record --merge a.csv b.csv -o night.csv",
    "README.md (what can be typed, what the log looks like); help log (the columns, a relay, heats). Typed as a line: "
    "'12 2.75 4.31' a run, '9 2.80 fell' with a flag, 'this run belongs to 5', '12 4.31 7=3 5 | 9' a heat in the order "
    "they came in, 'red first 12 7 3 9 | 7.31 14.90 23.20 31.94' a relay; help, then, shows all.",
    declare,
    examine,
    run,
};

}  // namespace bagsplit::cli
