#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "bagsplit/jobs/standings/standings.hpp"
#include "bagsplit/jobs/trend/trend.hpp"
#include "bagsplit/norms/catalogue.hpp"
#include "bagsplit/runs/courses/course.hpp"
#include "bagsplit/runs/player.hpp"

/// What the user asked for, as plain values. Parsing makes one without opening a file; a command then works from it.
namespace bagsplit::cli {

enum class Format : std::uint8_t { text, csv, json };
enum class Colour : std::uint8_t { automatic, always, never };

/// What is read.
struct InputOptions {
  std::vector<std::string> logs;      ///< files, folders, "-"
  std::optional<std::string> roster;  ///< none: a roster.csv in a folder among the logs
  std::optional<std::string> model;
  std::vector<std::string> devices;
  std::vector<std::string> courses;
  bool strict = false;
};

/// What the answer looks like and where it goes.
struct OutputOptions {
  Format format = Format::text;
  std::string output = "-";  ///< "-": standard output
  Colour colour = Colour::automatic;
  std::optional<std::size_t> width;  ///< cells a line; none: the terminal's, or 80
  bool semicolons = false;           ///< CSV with semicolons and decimal commas
};

struct CheckOptions {
  bool codes = false;  ///< list the problem codes instead of reading files
};

struct ProfileRequest {
  double level = 0.9;
  std::optional<runs::Date> as_of;
  std::optional<int> window_days;
  unsigned threads = 0;              ///< 0: as many as the machine has
  std::vector<std::string> players;  ///< none: all
  bool all = false;                  ///< every table
  bool note = false;                 ///< two sentences for a parent
};

struct TrendRequest {
  std::string course, mark, from_mark;  ///< empty: the one with most runs; the start
  std::optional<jobs::DateSpan> first, last;
  bool slope = false;
  std::optional<double> worthwhile_s;
  double level = 0.9;
};

struct StandingsRequest {
  std::string by;                    ///< empty: the time most players have
  std::vector<std::string> weights;  ///< as typed: "top-speed=2"
  jobs::StandingsMethod method = jobs::StandingsMethod::estimate;
  jobs::Ties ties = jobs::Ties::shared;
  bool age_adjusted = false, age_groups = false;
  std::vector<jobs::AgeSpan> age_spans;
  std::optional<runs::Date> age_on;
  std::optional<std::size_t> cut;
  double certainty = 0.95;
  std::size_t next_runs = 0, most_each = 3;
  double level = 0.9;
  std::optional<runs::Date> as_of;
  std::optional<int> window_days;
  std::size_t draws = 4000;
  std::uint64_t seed = 20260411;
  unsigned threads = 0;
};

struct TimersRequest {
  std::string mark;  ///< empty: the farthest that both timed
  double level = 0.9;
  std::optional<std::string> write_device;
};

struct NormsRequest {
  bool priors = false;
  std::optional<double> distance_m;
  std::optional<double> age_years;
  std::optional<runs::Sex> sex;
  std::optional<double> time_s;
  norms::Clock clock = norms::Clock::as_norm;
};

enum class PathForm : std::uint8_t { text, csv, json, svg };

struct PathRequest {
  std::string course = "circuit";
  std::optional<double> base_distance_m;  ///< none: the player's most used, or 60 ft
  std::optional<runs::Touch> touch;       ///< none: as the course says
  std::optional<runs::Finish> finish;
  double start_speed_mps = 0.0;
  std::optional<double> max_outside_m;
  // Whose path: exactly one of player (with run logs), age and sex, V and tau, point mass.
  std::optional<std::string> player;
  std::optional<double> age_years;
  std::optional<runs::Sex> sex;
  std::optional<double> top_speed_mps, time_constant_s, point_mass_mps2;
  std::optional<double> lateral_mps2, braking_mps2;  ///< none: the defaults of basepath
  double level = 0.9;
  std::optional<runs::Date> as_of;
  std::optional<int> window_days;
  PathForm form = PathForm::text;
};

struct PlanRequest {
  std::vector<std::string> drills;     ///< by name: the night is of these
  std::optional<double> minutes;       ///< none: no night is planned
  std::optional<std::size_t> players;  ///< none: those of the log, or 12
  unsigned watches = 1;
  bool gates = false;
  std::optional<double> age_years;
  std::optional<runs::Sex> sex;
  std::optional<double> base_distance_m;
  std::vector<std::string> wanted;
  std::string course = "home-first", mark = "first";
  std::optional<double> half_width_s, change_s;
  double power = 0.8;
  double level = 0.9;
};

struct GatesRequest {
  std::string starts, map;          ///< files
  std::vector<std::string> before;  ///< logs, folders
  std::optional<runs::Date> date;
  std::optional<std::string> place;
  double one_body_s = 0.3;
  Format form = Format::csv;
};

struct RecordRequest {
  bool again = false;
  bool heats = false;               ///< a line a heat
  std::string order;                ///< a file; empty: the roster's
  std::vector<std::string> before;  ///< logs, folders
  bool merge = false;
  std::vector<std::string> same, alone;  ///< answers for merging: "a.csv:12,b.csv:13", "a.csv:12"
  std::string course, marks, base_distance, timer, place, date;  ///< empty: not given
  std::string drill, start, signal, device, posture;             ///< empty: the log's, or the usual
};

struct RelayRequest {
  std::vector<std::string> orders;  ///< "red=12,7,3"
  std::optional<std::string> course;
  double level = 0.9;
  unsigned threads = 0;
};

struct TeamsRequest {
  std::optional<std::size_t> teams;                   ///< none: as many as names, else 2
  std::vector<std::string> names;                     ///< "red,blue"
  std::vector<std::string> players, absent;           ///< lists of ids, as typed
  std::vector<std::string> together, apart, in_team;  ///< "3,7", "1,2", "red=7"
  std::optional<int> equal_ages_years;                ///< age groups of so many years spread evenly
  std::string course = "home-second";
  std::optional<double> base_distance_m;
  double spread_weight = 0.25;
  double level = 0.9;
  unsigned threads = 0;
};

enum class SheetForm : std::uint8_t { html, csv, text, json };

struct SheetRequest {
  std::string order;                                                             ///< a file; empty: the roster's
  std::string drill, course, marks, base_distance, place, date, timers, absent;  ///< as typed
  std::string signal;                                                            ///< empty: not said
  std::string posture;                                                           ///< empty: standing
  std::vector<std::string> relay;                                                ///< "red=12,7,3"
  unsigned rounds = 1, watches = 1;
  unsigned heats = 0;                 ///< children in a heat; 0: each runs alone
  std::optional<std::uint64_t> seed;  ///< of the lots; none: the date
  bool letter = false;
  bool names = false;
  SheetForm form = SheetForm::html;
};

enum class ReportForm : std::uint8_t { html, json };

struct ReportRequest {
  std::vector<std::string> players;  ///< none: the squad
  bool each = false;
  bool evaluation = false;   ///< with Invocation::standings
  bool relay = false;        ///< with Invocation::relay
  std::string course, mark;  ///< of the change across weeks; empty: the one with most to compare
  bool names = false, places = false, anonymise = false;
  std::optional<std::string> salt;  ///< none: a random one
  double level = 0.9;
  std::optional<runs::Date> as_of;
  std::optional<int> window_days;
  unsigned threads = 0;
  ReportForm form = ReportForm::html;
};

struct Invocation {
  bool help = false;
  InputOptions input;
  OutputOptions output;
  CheckOptions check;
  ProfileRequest profile;
  TrendRequest trend;
  StandingsRequest standings;
  TimersRequest timers;
  NormsRequest norms;
  PathRequest path;
  PlanRequest plan;
  GatesRequest gates;
  RecordRequest record;
  RelayRequest relay;
  ReportRequest report;
  SheetRequest sheet;
  TeamsRequest teams;
};

}  // namespace bagsplit::cli
