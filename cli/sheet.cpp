#include <algorithm>

#include "bagsplit/jobs/draw_heats.hpp"
#include "bagsplit/jobs/fast_end.hpp"
#include "bagsplit/present/page/sheet.hpp"
#include "bagsplit/runs/typed.hpp"
#include "bagsplit/runs/units.hpp"
#include "bagsplit/text/number_text.hpp"
#include "bagsplit/text/text.hpp"
#include "bagsplit/text/text_width.hpp"
#include "command_line.hpp"
#include "declare.hpp"
#include "id_list.hpp"
#include "input.hpp"
#include "running_order.hpp"
#include "session.hpp"
#include "timed_course.hpp"

namespace bagsplit::cli {

namespace {

std::optional<SheetForm> read_form(const std::string& text) {
  return text == "html"   ? std::optional(SheetForm::html)
         : text == "csv"  ? std::optional(SheetForm::csv)
         : text == "text" ? std::optional(SheetForm::text)
         : text == "json" ? std::optional(SheetForm::json)
                          : std::nullopt;
}

void declare(Options& app, Invocation& invocation) {
  SheetRequest& request = invocation.sheet;
  const auto text = [&app](const char* name, std::string& target, const Declared& declared) {
    declare_text(app, name, declared, [&target](const std::string& typed) { target = typed; });
  };
  declare_text(app, "--roster", {purpose::input, "FILE", "Who the players are (CSV)", "must be given"},
               [&invocation](const std::string& typed) { invocation.input.roster = typed; });
  text("--order", request.order, {purpose::input, "FILE", "Running order: an id or bib a line", "as in the roster"});
  declare_list(app, "--courses", invocation.input.courses,
               {purpose::input, "FILE", "Courses of your own (JSON); may be given several times", "the built-in ones"});
  declare_drill(app, request.drill);
  text("--course", request.course,
       {purpose::choice, "NAME", "What is run, such as circuit or home-second", "home-first"});
  text("--marks", request.marks,
       {purpose::choice, "NAMES",
        "Marks timed, such as first,second or 10yd,30yd; move for the first move of a reaction drill",
        "the bags of the course"});
  declare_posture(app, request.posture);
  declare_signal(app, request.signal);
  text("--base-distance", request.base_distance, {purpose::choice, "LENGTH", "Between the bags: 60ft", "not printed"});
  declare_value<unsigned>(app, "--rounds", request.rounds,
                          {purpose::choice, "N", "Runs of each player, 1 to 9; each round begins a page", "1"},
                          "a whole number from 1 to 9",
                          [](const std::string& typed) { return runs::parse_count(typed, 1, 9); });
  declare_value<unsigned>(app, "--watches", request.watches, {purpose::choice, "N", "Watches on each run, 1 to 4", "1"},
                          "a whole number from 1 to 4",
                          [](const std::string& typed) { return runs::parse_count(typed, 1, 4); });
  declare_value<unsigned>(
      app, "--heats", request.heats,
      {purpose::choice, "N", "Heats: so many children start on one call, 2 to 8; lots are drawn anew each round",
       "each alone"},
      "a whole number from 2 to 8", [](const std::string& typed) { return runs::parse_count(typed, 2, 8); });
  declare_value<std::uint64_t>(app, "--seed", request.seed, {purpose::choice, "N", "Of the lots drawn", "the date"},
                               "a whole number from 0 to 999999999",
                               [](const std::string& typed) -> std::optional<std::uint64_t> {
                                 const auto n = runs::parse_count(typed, 0, 999'999'999);
                                 return n ? std::optional<std::uint64_t>(*n) : std::nullopt;
                               });
  text("--timers", request.timers,
       {purpose::choice, "NAMES", "Who holds the watches: AK,RB", "as many lines as --watches"});
  text("--absent", request.absent, {purpose::choice, "IDS", "Players known to be away: 7,12", "nobody"});
  text("--date", request.date, {purpose::choice, "DATE", "Date of the runs (YYYY-MM-DD)", "a line to write on"});
  text("--place", request.place, {purpose::choice, "NAME", "Where it is", "a line to write on"});
  declare_list(
      app, "--relay", request.relay,
      {purpose::choice, "TEAM=IDS", "A relay team in running order, such as red=12,7,3; once a team", "no relay"});
  declare_switch(app, "--names", request.names, {purpose::choice, "", "Print names and teams, not only bibs", ""});
  declare_value<bool>(
      app, "--paper", request.letter, {purpose::output, "a4|letter", "Size of paper", "a4"}, "a4 or letter",
      [](const std::string& typed) -> std::optional<bool> {
        return typed == "letter" ? std::optional(true) : typed == "a4" ? std::optional(false) : std::nullopt;
      });
  declare_value<SheetForm>(
      app, "--format", request.form,
      {purpose::output, "html|csv|text|json", "html for paper, csv: the blank log to type into, text, json", "html"},
      "html, csv, text or json", read_form);
  declare_separator(app, invocation.output);
  declare_output(app, invocation.output, Forms::own);
}

std::string examine(const Invocation& invocation) {
  const SheetRequest& request = invocation.sheet;
  if (!request.date.empty() && !runs::parse_date(request.date, runs::DateOrder::iso)) {
    return "--date is '" + request.date + "', but must be a date such as 2026-04-11";
  }
  if (!request.base_distance.empty() && !runs::parse_length_m(request.base_distance)) {
    return "--base-distance is '" + request.base_distance + "', but must be a length such as 60ft";
  }
  for (const std::string& team : request.relay) {
    if (read_named_ids(team).ids.empty()) {
      return "--relay is '" + team + "', but must be a team and its players, such as red=12,7,3";
    }
  }
  if (!request.relay.empty() && request.heats > 0) {
    return "a relay is told by its clock, not by heats: leave out --heats";
  }
  if (request.heats > 0 && request.watches > 1) {
    return "in a heat one watch stops on the first one in: leave out --watches";
  }
  if (!request.relay.empty() && !request.order.empty()) {
    return "--relay gives the running order itself: leave out --order";
  }
  return {};
}

// Typed in, two players of one bib would become one: the id stands beside such bibs.
void tell_shared_bibs(const present::Sheet& sheet, const Session& session) {
  constexpr std::size_t most_named = 10;
  std::vector<std::string> bibs;
  for (const present::SheetPlayer& player : sheet.players) {
    if (!player.bib.empty() && sheet.shares_bib(player) &&
        std::find(bibs.begin(), bibs.end(), player.bib) == bibs.end()) {
      bibs.push_back(player.bib);
    }
  }
  if (bibs.empty()) {
    return;
  }
  std::string named;
  for (std::size_t k = 0; k < std::min(bibs.size(), most_named); ++k) {
    named += (k == 0 ? "" : ", ") + bibs[k];
  }
  session.say(text::paragraph("bagsplit: " + text::counted(bibs.size(), "bib") + (bibs.size() == 1 ? " is" : " are") +
                                  " worn by several players (" + text::printable(named) +
                                  (bibs.size() > most_named ? ", ..." : "") +
                                  "): their ids stand beside them; type the id, not the bib",
                              80));
}

double fastest_of(const runs::Player* player, runs::Date today) {
  const bool has_age = player != nullptr && player->born && *player->born <= today;
  return jobs::fast_end_mps(has_age ? std::optional(runs::age_years(*player->born, today)) : std::nullopt,
                            player == nullptr ? std::nullopt : player->sex);
}

// Who runs, in which order; or what is wrong with what was asked.
std::string add_players(const SheetRequest& request, const runs::Roster& roster, const std::vector<std::string>& order,
                        present::Sheet& sheet, runs::Date today) {
  std::vector<std::string> absent = read_ids(request.absent);
  std::vector<present::SheetPlayer> rows;
  for (const std::string& text : request.relay) {
    const NamedIds team = read_named_ids(text);
    for (const std::string& id : team.ids) {
      if (roster.find(id) == nullptr) {
        return "--relay names '" + id + "', who is not in the roster";
      }
      rows.push_back(
          {id, {}, {}, team.name, false, rows.empty() || rows.back().team != team.name ? 1 : rows.back().leg + 1});
    }
  }
  for (const std::string& id : order) {
    if (request.relay.empty()) {
      rows.push_back({id, {}, {}, {}, false});
    }
  }
  for (present::SheetPlayer& row : rows) {
    const std::string& id = row.id;
    const runs::Player* player = roster.find(id);
    const double speed = fastest_of(player, today);
    sheet.fastest_mps = std::max(sheet.fastest_mps.value_or(speed), speed);
    row.bib = player == nullptr ? "" : player->bib;
    if (request.names && player != nullptr) {
      row.name = player->name;
      row.team = row.leg > 0 ? row.team : player->team;
    }
    const auto away =
        std::find_if(absent.begin(), absent.end(), [&](const std::string& one) { return one == id || one == row.bib; });
    row.absent = away != absent.end();
    if (row.absent) {
      absent.erase(away);
    }
    sheet.players.push_back(std::move(row));
  }
  return absent.empty() ? "" : "--absent names '" + absent.front() + "', who is not in the running order";
}

// Draws who runs with whom; or says why not.
std::string draw_lots(const SheetRequest& request, runs::Date today, present::Sheet& sheet) {
  if (request.heats == 0) {
    return {};
  }
  if (!request.marks.empty() && sheet.marks.size() > 1 && request.drill.empty()) {
    return "a heat has one finish: name the mark where you stand with --marks";
  }
  sheet.marks = {sheet.marks.back()};
  std::vector<std::size_t> here;
  for (std::size_t k = 0; k < sheet.players.size(); ++k) {
    if (!sheet.players[k].absent) {
      here.push_back(k);
    }
  }
  if (here.size() < 2) {
    return "a heat needs two children or more who are there";
  }
  // Another evening, other lots: the date, as 20260418.
  const runs::Date date = request.date.empty() ? today : *runs::parse_date(request.date, runs::DateOrder::iso);
  std::string digits = runs::format_date(date);
  std::erase(digits, '-');
  sheet.seed = request.seed.value_or(std::stoull(digits));
  sheet.heats = jobs::draw_heats(here.size(), request.heats, request.rounds, sheet.seed);
  for (auto& round : sheet.heats) {
    for (std::vector<std::size_t>& heat : round) {
      for (std::size_t& child : heat) {
        child = here[child];
      }
    }
  }
  return {};
}

ExitCode run(const Invocation& invocation, Session& session) {
  SheetRequest request = invocation.sheet;
  const auto wrong = [&](const std::string& what) {
    session.say("bagsplit sheet: " + text::printable(what) + "\n");
    return ExitCode::wrong_command_line;
  };
  if (const std::string unfit = unfit_for_terminal(invocation.output, session.terminal);
      request.form == SheetForm::html && !unfit.empty()) {
    return wrong(unfit);
  }
  if (!invocation.input.roster) {
    return wrong("name the roster: --roster FILE");
  }
  text::Problems problems;
  const runs::OwnCourses own = read_own_courses(invocation.input, problems);
  const runs::Roster roster = read_named_roster(invocation.input.roster, session.latest_date_on_earth, problems);
  const std::vector<std::string> order = running_order(request.order, roster, problems);
  report_problems(problems, Notes::counted, problems.size(), invocation.output.colour, session);
  if (const ExitCode code = judge(problems); code != ExitCode::done) {
    session.say("bagsplit: no sheet was made: correct the errors first\n");
    return code;
  }
  std::string why;
  std::string start;
  const auto drill =
      fill_from_drill(own, request.drill, {request.course, request.marks, request.posture, start, request.signal}, why);
  if (!why.empty()) {
    return wrong(why);
  }
  request.course = request.course.empty() ? "home-first" : request.course;
  const auto timed = timed_course(own.courses, request.course, request.marks, why);
  if (!timed) {
    return wrong(why);
  }
  const runs::Course* course = &timed->course;
  present::Sheet sheet;
  sheet.course = course->name;
  sheet.is_base_path = course->is_base_path();
  sheet.meet_at_second = course->is_base_path() && course->bags.back() == runs::Bag::second;
  sheet.date = request.date;
  sheet.place = request.place;
  sheet.base_distance = request.base_distance;
  sheet.rounds = request.rounds;
  sheet.paper = request.letter ? present::Paper::letter : present::Paper::a4;
  sheet.timers = read_ids(request.timers);
  sheet.timers.resize(std::max<std::size_t>(sheet.timers.size(), request.timers.empty() ? request.watches : 1));
  sheet.marks = timed->marks;
  sheet.posture = request.posture;
  sheet.signal = request.signal;
  sheet.start = start.empty() ? "signal" : start;
  sheet.drill = drill ? drill->name : "";
  sheet.about = drill ? drill->about : "";
  sheet.out_and_back = drill && drill->relay && !request.relay.empty();
  if (request.heats > 0 && drill && drill->relay) {
    return wrong("a relay is told by its clock, not by heats: leave out --heats");
  }
  if (sheet.out_and_back) {
    sheet.marks = {"clock"};
  } else if (drill && drill->relay) {
    return wrong("the drill " + drill->name + " is a relay: name its teams with --relay red=12,7,3");
  }
  why = add_players(request, roster, order, sheet, session.local_date);
  why = why.empty() ? draw_lots(request, session.local_date, sheet) : why;
  if (!why.empty()) {
    return wrong(why);
  }
  tell_shared_bibs(sheet, session);
  session.say("bagsplit: " + text::counted(sheet.players.size(), "player") + ", " +
              text::counted(sheet.rounds, "round") +
              (request.form == SheetForm::html ? ": open it in a browser and print it\n" : "\n"));
  const std::string answer =
      request.form == SheetForm::html   ? present::sheet_html(sheet)
      : request.form == SheetForm::csv  ? present::sheet_csv(sheet, invocation.output.semicolons ? ';' : ',')
      : request.form == SheetForm::json ? present::sheet_json(sheet)
                                        : present::sheet_text(sheet, text_options(invocation.output, session.terminal));
  OutputOptions output = invocation.output;
  output.semicolons = false;  // there are no numbers in it yet, and an id such as 3.1 is none
  return deliver(answer, output, session);
}

}  // namespace

extern const Command sheet_command;
const Command sheet_command{
    "sheet",
    "Recording sheets for paper from a roster and a course, or the blank log to type into.",
    "bagsplit sheet --roster squad.csv --course circuit --watches 2 -o sheet.html\n"
    "bagsplit sheet --roster squad.csv --drill rise-and-run --heats 6 -o heats.html\n"
    "bagsplit sheet --roster squad.csv --course home-first --rounds 3 --format csv",
    "README.md (how a sheet is used).",
    declare,
    examine,
    run,
};

}  // namespace bagsplit::cli
