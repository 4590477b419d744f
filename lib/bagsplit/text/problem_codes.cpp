#include "bagsplit/text/problem_codes.hpp"

#include <algorithm>
#include <array>

namespace bagsplit::text {

namespace {

constexpr Severity error = Severity::error;
constexpr Severity suspicion = Severity::suspicion;
constexpr Severity note = Severity::note;
constexpr ProblemOf log = ProblemOf::run_log;
constexpr ProblemOf roster = ProblemOf::roster;
constexpr ProblemOf json = ProblemOf::json;
constexpr ProblemOf recorders = ProblemOf::recorders;
constexpr ProblemOf gates = ProblemOf::gates;
constexpr ProblemOf squad = ProblemOf::squad;
constexpr ProblemOf files = ProblemOf::files;

constexpr auto table = std::to_array<ProblemCode>({
    {"absent-with-times", suspicion, log, "A run is flagged absent but has times."},
    {"bad-date", error, log, "A date is not a date, or not in the order the file uses."},
    {"bad-entry", error, log, "An entry of a recorder's log does not follow those before it."},
    {"bad-heat", error, log,
     "The rows of a heat do not go together: a child twice, a place left out, no place at all, another posture or "
     "start, times against the order, or a place without a heat."},
    {"bad-length", error, log, "A length is not a number with ft, yd or m, or is out of bounds."},
    {"bad-number", error, log, "A number is not one, or is out of the bounds of its column."},
    {"bad-relay", error, log,
     "A relay told in one row lacks its team, way or runners, or its clock has neither a time for each nor one alone."},
    {"bad-start", error, log,
     "A kind of start is incomplete, such as a beam without its distance, or has text after it."},
    {"bad-text", error, log, "A text is too long, or holds line ends or control characters."},
    {"bad-time", error, log, "A time is neither seconds nor minutes and seconds."},
    {"conflicting-readings", error, log,
     "Two readings of one run disagree about posture, base distance, surface, wind or temperature."},
    {"cumulative-as-laps", suspicion, log, "Times typed as laps look like times from the start."},
    {"decimal-slip", suspicion, log,
     "A time is about 10 or 100 times, or a tenth or a hundredth of, what is usual or goes with its row."},
    {"double-press", suspicion, log, "A hand watch shows the first move at the signal: one press may have come twice."},
    {"duplicate-run", suspicion, log,
     "Two runs of a player on one date and course have the same times at two marks or more."},
    {"empty-file", suspicion, log, "A file holds nothing."},
    {"false-start", suspicion, log, "A first move comes before the signal, or too early after it to be a reaction."},
    {"far-from-usual", suspicion, log,
     "A time does not fit the player's other runs, the squad's, and the other times of its row."},
    {"field-count", error, log, "A line has more or fewer fields than the header has columns."},
    {"flag-for-time", note, log, "A word such as FS or fell stands where a time should, and is read as the flag."},
    {"future-date", suspicion, log, "A date lies after today."},
    {"ignored-file", note, log,
     "A file or folder in a folder of logs is passed over: a roster, or a name that does not end in .csv."},
    {"impossible-speed", error, log, "A stretch is run faster than anyone has run it."},
    {"laps-as-cumulative", error, log, "Times typed as times from the start cannot be that, and look like laps."},
    {"late-key", error, log, "A line '# key: value' stands below the header, where it has no effect."},
    {"left-out-row", note, log,
     "A line below the header begins with # and is left out; a suspicion where it may be a player's id."},
    {"line-too-long", error, log, "A line is longer than the limit."},
    {"mark-beyond-end", suspicion, log, "A time is given for a distance beyond the end of the course."},
    {"mark-not-on-course", error, log, "A time is given for a bag that is not reached on the course."},
    {"minutes-as-seconds", error, log,
     "A time in seconds cannot be, but would do as minutes and seconds typed with a point."},
    {"missing-colon", error, log, "A line like '# device stopwatch' lacks the colon after its key."},
    {"missing-column", error, log,
     "A column that every row needs is missing: date, player, course, or any column of times."},
    {"missing-header", error, log, "There is no line of column names."},
    {"missing-lap", note, log, "After a missing lap the later times of the run are unknown and left out."},
    {"missing-value", error, log, "A cell that must not be empty is, or a key has no value."},
    {"move-without-signal", error, log, "A 'move' time is given where the clock starts with the move itself."},
    {"no-base-distance", error, log, "Runs along the bases have no base distance."},
    {"no-rows", note, log, "There is a header and no row below it."},
    {"no-times", suspicion, log, "A row has neither a time nor a flag."},
    {"not-text", error, log, "A file is no text in UTF-8: a spreadsheet's workbook, a packed file, UTF-16."},
    {"not-utf8", error, log, "A line holds bytes that are not UTF-8."},
    {"nul-byte", error, log, "A line holds a NUL byte."},
    {"odd-heat", suspicion, log, "A heat of one child, or of more than eight who all have a place."},
    {"player-not-in-roster", suspicion, log, "A player of the log is not in the roster given."},
    {"relay-clock", suspicion, log, "A relay leg begins before the leg before it ends."},
    {"repeated-column", error, log, "A column stands twice, or two columns mean the same distance."},
    {"repeated-key", error, log, "A key stands twice above the header."},
    {"repeated-reading", error, log, "The same timer has timed the same run twice."},
    {"repeated-row", suspicion, log, "Neighbouring rows of two players have the same times."},
    {"replaced-rows", note, log, "Rows of a recorder's log are corrected or undone by later ones and left out."},
    {"roster-as-log", error, log, "A roster is given where a run log is expected."},
    {"rounded-id", suspicion, log, "A player's id is a number in few digits, as a spreadsheet shows long ones."},
    {"seconds-as-minutes", suspicion, log, "A time typed with a colon is minutes and seconds, but seconds look meant."},
    {"splits-out-of-order", error, log, "A time is not later than that of a mark before it."},
    {"stray-quote", error, log, "A quote stands inside an unquoted field, or text after a closing quote."},
    {"swapped-rows", suspicion, log, "The times of two neighbouring rows fit the other row's player."},
    {"too-fast-for-age", suspicion, log, "A stretch is run faster than children of that age run."},
    {"too-many-columns", error, log, "A line has more fields than the limit."},
    {"too-many-problems", error, log, "Problems beyond the limit for one file are counted, not listed."},
    {"too-many-readings", error, log, "One run has more readings than the limit."},
    {"too-slow", suspicion, log, "A stretch is slower than an unhurried walk, without a flag."},
    {"torn-line", suspicion, log,
     "The last line of a recorder's log has no end: it was cut off while being written, and is left out."},
    {"two-spellings", suspicion, log,
     "Two players or two timers differ only in how they are typed: case, blanks, leading zeros, #, .0, how accents are "
     "stored."},
    {"unclosed-quote", error, log, "A quote is opened and never closed."},
    {"unknown-column", error, log, "A column has a name that is not known."},
    {"unknown-course", error, log, "A course is neither built in nor defined in a course file."},
    {"unknown-drill", error, log, "A drill is neither built in nor defined in a course file."},
    {"unknown-key", error, log, "A key above the header, or a name in a JSON file, is not known."},
    {"unknown-word", error, log, "A word is none of those its column, key or name may have."},
    {"unnamed-column", error, log, "A field stands in a column without a name."},
    {"unusual-base-distance", suspicion, log, "The bags are closer than 30 ft or farther than 100 ft apart."},
    {"watches-disagree", suspicion, log, "Two watches of one kind tell much different times of one run."},

    {"birth-after-run", error, roster, "A player is born after one of his or her runs."},
    {"future-birth", error, roster, "A player is born after today."},
    {"repeated-bib", suspicion, roster, "Two players of a team have the same bib."},
    {"repeated-player", error, roster, "A player stands in the roster twice."},
    {"unlikely-birth", suspicion, roster, "A player is younger than 3 or older than 80 years."},
    {"unlikely-size", suspicion, roster, "A height, mass or sitting height is unusual."},

    {"bad-course", error, json, "A user-defined course cannot be run as it is described."},
    {"bad-json", error, json, "A text is not JSON from some place on."},
    {"duplicate-key", error, json, "A name stands twice in one object."},
    {"json-too-deep", error, json, "Brackets are nested deeper than the limit."},
    {"missing-key", error, json, "A required name is missing in an object."},
    {"out-of-range", error, json, "A number is out of its bounds."},
    {"repeated-course", error, json, "Two courses have the same name."},
    {"wrong-type", error, json, "A value is of another kind than expected."},

    {"conflicting-entries", error, recorders, "One watch has two different times of one run in two logs."},
    {"missed-run", note, recorders, "A recorder has no entry for runs that another has: a gap, not a shift."},
    {"not-a-recorder-log", error, recorders, "A log to be added to was not begun by a recorder, or was edited since."},
    {"one-run-fewer", suspicion, recorders,
     "A child has fewer runs than most: missed by all, or under another number."},
    {"one-run-more", suspicion, recorders, "A child has more runs than most: one may be another child's."},
    {"out-of-order", suspicion, recorders,
     "One run of a child stands in one log only, and another in the other only: they may be one run, typed late."},
    {"same-run", suspicion, recorders, "An entry may be one of several runs of the other log."},
    {"side-by-side", suspicion, recorders,
     "Two children's runs stand at the same place, each in one log only: they may be one, with a wrong number."},
    {"unknown-line", error, recorders, "An answer names a line where no run stands that was compared."},
    {"which-bib", suspicion, recorders, "Two recorders have one run under two numbers."},

    {"ambiguous-passage", suspicion, gates,
     "A break of a beam may be one runner's or another's; the time is left out."},
    {"clock-step", suspicion, gates, "The gates' clock went back, and nothing explains it."},
    {"clock-wrapped", note, gates, "The gates' clock went back to 0 as it was said to."},
    {"double-trigger", note, gates, "One body broke a beam twice; the last, the torso, is taken."},
    {"missed-beam", suspicion, gates, "A run never breaks one of the beams on its way."},
    {"missing-date", error, gates, "A gate log has no date, and none was given."},
    {"missing-mark", error, gates, "A gate map has no start, or no gate behind it."},
    {"no-run", suspicion, gates, "A child of the start list seems to have no run."},
    {"order-not-used", note, gates,
     "A start list is neither one round nor the same order again: its order tells less of who ran."},
    {"other-list", error, gates, "The times go with the children of a start list worse than with anybody's."},
    {"overtaking", note, gates, "A runner overtook another between two gates."},
    {"repeated-mark", error, gates, "Two gates stand at one mark."},
    {"start-list-mismatch", suspicion, gates, "A start list and the runs seen do not go together; how many are named."},
    {"start-without-passage", suspicion, gates, "A start is broken, and no other gate follows."},
    {"stray-passage", suspicion, gates, "A beam is broken where nobody runs."},
    {"three-breaks", suspicion, gates, "A beam is broken three times within one body's time."},
    {"unknown-answer", error, gates, "A start list answers for a line of the gate log where no run starts."},
    {"unknown-gate", error, gates, "A gate log names a gate that the map does not have."},
    {"unsorted-lines", note, gates, "Lines of a gate log were written late; they are sorted in."},
    {"who-ran", suspicion, gates, "Who ran here? The answer settles most of what is open."},

    {"clock-start", suspicion, squad,
     "All times of a row look as much too long or too short: the clock started early or late."},
    {"does-not-fit", suspicion, squad,
     "A time, or a whole row, does not fit what the player's other runs and the squad's tell."},
    {"lost-time", suspicion, squad, "From one mark on a run is late, as after a fall."},
    {"slow-run", suspicion, squad, "A whole run looks slow for its player."},
    {"swapped-runs", suspicion, squad, "Two children's runs look swapped."},
    {"unlike-squad", suspicion, squad, "A squad's runs differ more, or a watch is further off, than is ever so."},
    {"wrong-bib", suspicion, squad, "A run looks like another player's."},
    {"wrong-posture", suspicion, squad, "A run, or all of a drill, looks run from another posture than is written."},

    {"file-given-twice", suspicion, files, "A file is named twice; it is read once."},
    {"file-missing", error, files, "There is no such file."},
    {"file-too-large", error, files, "A file is larger than the limit."},
    {"file-unreadable", error, files, "A file or folder cannot be read."},
    {"json-too-large", error, files, "A JSON file is larger than the limit."},
    {"no-files", error, files, "A folder holds no run log."},
    {"too-many-files", error, files, "More files than can be read at once."},
});

}  // namespace

std::span<const ProblemCode> problem_codes() {
  return table;
}

const ProblemCode* find_problem_code(std::string_view code) {
  const auto at =
      std::find_if(table.begin(), table.end(), [&](const ProblemCode& entry) { return entry.code == code; });
  return at == table.end() ? nullptr : &*at;
}

}  // namespace bagsplit::text
