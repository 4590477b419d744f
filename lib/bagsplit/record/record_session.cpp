#include "bagsplit/record/record_session.hpp"

#include <algorithm>
#include <set>
#include <span>

#include "bagsplit/runs/log/detail/directive.hpp"
#include "bagsplit/runs/typed.hpp"
#include "bagsplit/text/csv.hpp"
#include "bagsplit/text/text.hpp"
#include "bagsplit/text/wording.hpp"

namespace bagsplit::record {

namespace {

using runs::EntryMark;
using text::equal_ignoring_case;
using text::trim;

constexpr std::string_view own_path = "this log";
constexpr std::string_view fixed_before[] = {"date", "player", "course", "trial", "timer"};
constexpr std::string_view fixed_before_relay[] = {"date", "team", "drill", "trial", "timer"};
constexpr std::string_view fixed_before_heats[] = {"date", "player", "course", "heat", "timer"};
// Suspicions of something else than times.
constexpr std::string_view not_of_times[] = {"player-not-in-roster", "two-spellings", "rounded-id", "future-date"};

// Behind the times; logs begun by older recorders lack one or both of the middle ones.
std::vector<std::string_view> fixed_after(bool checked, bool clock) {
  std::vector<std::string_view> out = {"flag", "note"};
  if (checked) {
    out.push_back("checked");
  }
  if (clock) {
    out.push_back(runs::clock_column);
  }
  out.push_back(runs::entry_column);
  return out;
}

text::Problem not_ours(const std::string& path, std::size_t line, std::string message) {
  return {.code = "not-a-recorder-log",
          .path = path,
          .line = line,
          .message = std::move(message),
          .expected = "a file that bagsplit record has begun",
          .hint = "give a new name; a log that is not a recorder's can be read beside, not added to"};
}

}  // namespace

std::string RecordSession::header() const {
  std::string out;
  for (const auto& [key, value] : {std::pair<const char*, const std::string&>{"base-distance", setup_.base_distance},
                                   {"place", setup_.place},
                                   {"drill", setup_.drill},
                                   {"device", setup_.device},
                                   {"start", setup_.start},
                                   {"signal", setup_.signal},
                                   {"posture", setup_.posture},
                                   {"x-roster", setup_.roster_name}}) {
    text::append_directive(out, key, value);
  }
  if (setup_.heats) {
    text::append_directive(out, "finish-at", setup_.marks.back());
  }
  out += "# x-course: " + setup_.course + "\n";
  for (const std::string_view name : setup_.relay   ? fixed_before_relay
                                     : setup_.heats ? fixed_before_heats
                                                    : fixed_before) {
    out += std::string(name) + ",";
  }
  for (const std::string& mark : setup_.marks) {
    text::append_csv_field(out, mark);
    out += ",";
  }
  for (const std::string_view name : fixed_after(has_checked_column_, has_clock_)) {
    out += std::string(name) + (name == runs::entry_column ? "\n" : ",");
  }
  return out;
}

// The keys above the header.  @return whether there is a header, whose fields the reader then holds.
bool RecordSession::read_settings(text::CsvReader& csv, text::CsvRecord& record) {
  const RecordSetup usual;  // what a key that is missing means
  setup_.base_distance = setup_.place = setup_.roster_name = setup_.drill = setup_.signal = "";
  setup_.device = usual.device;
  setup_.start = usual.start;
  setup_.posture = usual.posture;
  while (csv.next_line(record)) {
    if (!record.text.starts_with('#') && !record.text.starts_with("\"#")) {
      csv.seek(record.offset, record.line);
      csv.next(record);
      return true;
    }
    const auto directive = runs::detail::split_directive(record.text);
    const std::string key(record.text.substr(directive.key.begin, directive.key.end - directive.key.begin));
    const std::string value(
        trim(record.text.substr(directive.value.begin, directive.value.end - directive.value.begin)));
    for (const auto& [name, target] : {std::pair<const char*, std::string*>{"base-distance", &setup_.base_distance},
                                       {"place", &setup_.place},
                                       {"device", &setup_.device},
                                       {"start", &setup_.start},
                                       {"drill", &setup_.drill},
                                       {"signal", &setup_.signal},
                                       {"posture", &setup_.posture},
                                       {"x-roster", &setup_.roster_name},
                                       {"x-course", &setup_.course}}) {
      if (key == name) {
        *target = value;
      }
    }
  }
  return false;
}

// Which of a recorder's headers this is.  @return how many columns stand behind the times, 0 where it is none.
std::size_t RecordSession::read_header(const std::vector<std::string_view>& fields) {
  constexpr std::size_t before = std::size(fixed_before);
  setup_.relay = fields.size() > 1 && fields[1] == fixed_before_relay[1];
  setup_.heats = fields.size() > 3 && fields[3] == fixed_before_heats[3];
  const auto& fixed = setup_.relay ? fixed_before_relay : setup_.heats ? fixed_before_heats : fixed_before;
  std::size_t after = 0;
  for (const bool checked : {true, false}) {
    for (const bool clock : {true, false}) {
      const auto names = fixed_after(checked, clock);
      if (fields.size() > before + names.size() &&
          std::equal(names.begin(), names.end(), fields.end() - static_cast<std::ptrdiff_t>(names.size()))) {
        has_checked_column_ = checked;
        has_clock_ = clock;
        after = std::max(after, names.size());
      }
    }
  }
  return after > 0 && std::equal(std::begin(fixed), std::end(fixed), fields.begin()) ? after : 0;
}

// The rows, each with `after` cells behind its times.
bool RecordSession::read_entries(text::CsvReader& csv, text::CsvRecord& record, std::size_t after,
                                 const std::string& path, text::Problems& problems) {
  const std::size_t columns = csv.fields().size();
  constexpr auto before = static_cast<std::ptrdiff_t>(std::size(fixed_before));
  entries_.clear();
  while (csv.next(record)) {
    const auto& cells = csv.fields();
    const auto mark = cells.size() == columns ? runs::parse_entry(trim(cells.back())) : std::nullopt;
    if (record.fault != text::CsvFault::none || !mark ||
        (!entries_.empty() && mark->number <= entries_.back().mark.number)) {
      problems.push_back(not_ours(path, record.line, "this line was not written by a recorder"));
      return false;
    }
    RecordEntry entry;
    entry.mark = *mark;
    entry.date = cells[0];
    entry.player = cells[1];
    entry.trial = runs::parse_count(cells[3], 0, 9'999).value_or(0);
    entry.timer = cells[4];
    entry.times.assign(cells.begin() + before, cells.end() - static_cast<std::ptrdiff_t>(after));
    entry.flag = cells[columns - after];
    entry.note = cells[columns - after + 1];
    entry.clock = has_clock_ ? std::string(cells[columns - 2]) : "";
    entry.checked = has_checked_column_ && equal_ignoring_case(trim(cells[columns - (has_clock_ ? 3 : 2)]), "yes");
    entries_.push_back(std::move(entry));
  }
  return true;
}

bool RecordSession::resume(std::string_view text, const std::string& path, text::Problems& problems) {
  text::CsvReader csv(text);
  text::CsvRecord record;
  const bool found = read_settings(csv, record);
  const std::size_t after = found ? read_header(csv.fields()) : 0;
  if (after == 0) {
    problems.push_back(not_ours(path, found ? record.line : 0, "not a log of bagsplit record"));
    return false;
  }
  setup_.marks.assign(csv.fields().begin() + static_cast<std::ptrdiff_t>(std::size(fixed_before)),
                      csv.fields().end() - static_cast<std::ptrdiff_t>(after));
  if (!read_entries(csv, record, after, path, problems)) {
    return false;
  }
  runs::ReadOptions reading;
  reading.courses = setup_.courses;
  reading.drills = setup_.drills;
  reading.today = setup_.today;
  runs::RunLogResult read = runs::read_run_log(text, path, reading);
  const bool good = !text::has_errors(read.problems);
  if (!good) {
    std::erase_if(read.problems, [](const text::Problem& p) { return p.severity != text::Severity::error; });
    problems.insert(problems.end(), read.problems.begin(), read.problems.end());
  }
  return good;
}

std::vector<bool> RecordSession::stands() const {
  std::vector<EntryMark> marks;
  for (const RecordEntry& entry : entries_) {
    marks.push_back(entry.mark);
  }
  return runs::standing_entries(marks);
}

std::size_t RecordSession::standing() const {
  const std::vector<bool> all = stands();
  std::set<unsigned> heats;
  for (std::size_t k = 0; k < all.size() && setup_.heats; ++k) {
    if (all[k]) {
      heats.insert(entries_[k].trial);
    }
  }
  return setup_.heats ? heats.size() : static_cast<std::size_t>(std::count(all.begin(), all.end(), true));
}

std::string RecordSession::last_line() const {
  if (entries_.empty()) {
    return {};
  }
  if (!setup_.heats) {
    return entry_line(entries_.back());
  }
  std::vector<RecordEntry> rows;
  for (const std::size_t k : rows_of_heat(entries_.back().trial)) {
    rows.push_back(entries_[k]);
  }
  return rows.empty() ? "heat " + std::to_string(entries_.back().trial) + ", taken out" : heat_line(rows);
}

// What was typed and is not written yet.
std::string RecordSession::pending_line() const {
  return setup_.heats ? heat_line(pending_) : entry_line(pending_.front());
}

std::string RecordSession::csv(const RecordEntry& entry) const {
  std::string out;
  for (const std::string& cell : {entry.date, entry.player, setup_.relay ? setup_.drill : setup_.course,
                                  std::to_string(entry.trial), entry.timer}) {
    text::append_csv_field(out, cell);
    out += ",";
  }
  for (const std::string& time : entry.times) {
    out += time + ",";
  }
  text::append_csv_field(out, entry.flag);
  out += ",";
  text::append_csv_field(out, entry.note);
  if (has_checked_column_) {
    out += entry.checked ? ",yes" : ",";
  }
  out += has_clock_ ? "," + entry.clock : "";
  return out + "," + runs::entry_text(entry.mark) + "\n";
}

// What is odd about the rows to be kept, which stand at the end of the last file read, from `first_line` on.
std::vector<std::string> RecordSession::doubts_of(const runs::RunLogResult& read, std::size_t first_line) {
  std::vector<std::string> doubts;
  std::set<std::string> asked;
  std::set<std::string> fresh;
  for (const RecordEntry& row : pending_) {
    const bool is_known = std::any_of(entries_.begin(), entries_.end(),
                                      [&](const RecordEntry& other) { return other.player == row.player; });
    if (!is_known) {
      fresh.insert(row.player);
    }
    if (setup_.roster == nullptr && !setup_.roster_name.empty() && !is_known && asked.insert(row.player).second) {
      doubts.push_back("this log was begun with the roster " + setup_.roster_name + ", which is not given, and '" +
                       row.player + "' is nobody's id in it so far; a bib is not known as one");
    }
  }
  // Without a roster anything is a child: one alone that is new among others may be a slip.
  if (setup_.heats && setup_.roster == nullptr && doubts.empty() && !fresh.empty() &&
      3 * fresh.size() <= pending_.size()) {
    doubts.push_back("nobody has run as " + text::joined({fresh.begin(), fresh.end()}) + " so far");
  }
  for (const text::Problem& problem : read.problems) {
    if (problem.path == own_path && problem.line >= first_line && problem.severity == text::Severity::suspicion) {
      std::string more = problem.code == "far-from-usual" ? problem.expected : std::string();
      more += (more.empty() || problem.hint.empty() ? "" : "; ") + problem.hint;
      doubts.push_back(problem.message + (more.empty() ? "" : " (" + more + ")"));
      times_asked_ = times_asked_ || std::find(std::begin(not_of_times), std::end(not_of_times), problem.code) ==
                                         std::end(not_of_times);
    }
  }
  return doubts;
}

RecordReply RecordSession::check(std::vector<RecordEntry> rows) {
  std::string text = header();
  const std::vector<bool> all = stands();
  const auto add = [&](RecordEntry row) {
    row.mark = {row.mark.number, EntryMark::What::fresh, 0};
    text += csv(row);
  };
  for (std::size_t k = 0; k < entries_.size(); ++k) {
    const bool goes = std::any_of(rows.begin(), rows.end(),
                                  [&](const RecordEntry& row) { return row.mark.of == entries_[k].mark.number; });
    if (all[k] && !goes) {
      add(entries_[k]);
    }
  }
  const auto first_line = static_cast<std::size_t>(std::count(text.begin(), text.end(), '\n')) + 1;
  std::string written;
  for (const RecordEntry& row : rows) {
    if (row.mark.what != EntryMark::What::undoes) {
      add(row);
    }
    written += csv(row);
  }
  std::vector<runs::LogText> files = setup_.before;
  files.push_back({text, std::string(own_path), false});
  runs::ReadOptions reading;
  reading.courses = setup_.courses;
  reading.drills = setup_.drills;
  reading.roster = setup_.roster;
  reading.limits = setup_.limits;
  reading.today = setup_.today;
  const runs::RunLogResult read = runs::read_run_logs(files, reading);
  for (const text::Problem& problem : read.problems) {
    if (problem.path == own_path && problem.severity == text::Severity::error) {
      std::string why = problem.message + (problem.read.empty() ? "" : ": \"" + problem.read + "\"");
      why += problem.hint.empty() ? (problem.expected.empty() ? "" : "; expected " + problem.expected)
                                  : "; " + problem.hint;
      return {RecordReply::Kind::refused, "not kept: " + why + "\n", {}};
    }
  }
  pending_ = std::move(rows);
  times_asked_ = false;
  const std::vector<std::string> doubts = doubts_of(read, first_line);
  if (doubts.empty()) {
    return {RecordReply::Kind::keep, {}, written};
  }
  asked_ = true;
  std::string question = "not kept yet: ";
  for (std::size_t k = 0; k < std::min<std::size_t>(doubts.size(), 3); ++k) {
    question += (k == 0 ? "" : "\n") + doubts[k];
  }
  return {RecordReply::Kind::asked, question + ": keep? (y or n)\n", {}};
}

std::string RecordSession::kept() {
  std::string out = setup_.heats && !pending_.empty() ? "kept " + pending_line() + "\n" : "";
  for (const RecordEntry& row : pending_) {
    if (setup_.heats) {
      break;  // told as one
    }
    const auto undone = std::find_if(entries_.begin(), entries_.end(),
                                     [&](const RecordEntry& entry) { return entry.mark.number == row.mark.of; });
    out += "kept " +
           (row.mark.what == EntryMark::What::undoes && undone != entries_.end()
                ? std::to_string(row.mark.number) + ": undoes " + entry_line(*undone)
                : entry_line(row)) +
           "\n";
  }
  for (RecordEntry& row : pending_) {
    std::erase(skipped_, row.player);
    entries_.push_back(std::move(row));
  }
  pending_.clear();
  return out;
}

std::string RecordSession::next_player() const {
  if (setup_.relay || setup_.heats) {
    return {};  // a line is a team's, or a heat's
  }
  const std::vector<bool> all = stands();
  std::string best;
  std::size_t fewest = 0;
  for (const std::string& player : setup_.order) {
    std::set<unsigned> trials;
    bool absent = false;
    for (std::size_t k = 0; k < entries_.size(); ++k) {
      if (all[k] && entries_[k].player == player && entries_[k].date == setup_.date) {
        trials.insert(entries_[k].trial);
        absent = absent || entries_[k].flag == "absent";
      }
    }
    const std::size_t turns =
        trials.size() + static_cast<std::size_t>(std::count(skipped_.begin(), skipped_.end(), player));
    if (!absent && (best.empty() || turns < fewest)) {
      best = player;
      fewest = turns;
    }
  }
  return best;
}

std::string entry_line(const RecordEntry& entry) {
  if (entry.mark.what == EntryMark::What::undoes) {
    return runs::entry_text(entry.mark);
  }
  std::string out = std::to_string(entry.mark.number) + ": " + entry.player + " trial " + std::to_string(entry.trial);
  out += entry.timer.empty() ? "" : " " + entry.timer;
  for (const std::string& time : entry.times) {
    out += " " + (time.empty() ? "-" : time);
  }
  out += entry.flag.empty() ? "" : " " + entry.flag;
  out += entry.note.empty() ? "" : " (" + entry.note + ")";
  out += entry.checked ? " checked" : "";
  return out + (entry.mark.what == EntryMark::What::replaces ? ", in place of " + std::to_string(entry.mark.of) : "");
}

}  // namespace bagsplit::record
