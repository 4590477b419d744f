#pragma once

#include <map>
#include <string>
#include <tuple>
#include <vector>

#include "season.hpp"

/// One evening on its way into a file.
namespace demo_season {

/// One hand watch or set of gates at a drill.
struct Watch {
  std::string timer{};
  Cue cue = Cue::hears_call;
  std::vector<std::string> marks{};  ///< those this timer reads
  std::size_t every = 1;             ///< reads a run when (place in the line + trial) % every == phase
  std::size_t phase = 0;
  std::size_t last_trial = 99;  ///< reads the first trials of the drill only
};

struct Drill {
  std::string course{};
  Start start = Start::signal;
  std::string posture = "standing";
  std::size_t trials = 2;
  std::size_t first_trial = 1;
  std::vector<Watch> watches{};
  std::vector<std::string> without{};  ///< players who sit this one out
};

/// Something that happened in a run.
struct Incident {
  std::string flag{}, note{};
  double reaction_change_s = 0.0;
  double delay_s = 0.0;  ///< lost from mark `delay_from` of the course on
  std::string delay_from{};
  std::string timed_to{};  ///< no times after this mark; empty for all; "none" for none
};

struct NightInfo {
  std::string date{};
  std::string drills{};  ///< one line for the README
  std::string place{}, surface{};
  double surface_factor = 1.0;
  std::vector<std::string> header{};  ///< lines after '#', in order
  std::vector<std::string> columns{};
  std::vector<std::string> present{};  ///< players there, any order
  char delimiter = ',';
  bool laps = false;
  bool write_trial = true;
  bool spreadsheet = false;     ///< byte-order mark, CR LF, decimal comma
  bool sheet_by_sheet = false;  ///< typed from one timer's sheet after the other
  std::map<std::tuple<std::string, std::string, std::size_t>, Incident> incidents{};  ///< player, course, trial
  std::map<std::tuple<std::string, std::string, std::size_t, std::string>, std::string>
      missed{};                                               ///< ... and timer: mark
  std::string absent_course{};                                ///< what they would have run
  std::vector<std::pair<std::string, std::string>> absent{};  ///< player and note: a row with the flag `absent`
};

class Night {
 public:
  Night(Season& season, NightInfo info);
  void run(const Drill& drill);
  void finish();  ///< hands text and truth to the season

 private:
  using Row = std::vector<std::string>;
  struct Sheet {
    std::string timer;
    Row row;
  };
  void run_once(const Drill& drill, const Child& child, std::size_t place_in_line, std::size_t trial);
  void set(Row& row, std::string_view column, const std::string& value) const;
  std::string time_text(double units, bool gate) const;  ///< units: hundredths, or thousandths of a gate

  Season& season_;
  NightInfo info_;
  Stream stream_;
  NightTruth truth_;
  std::vector<const Child*> line_;
  std::vector<Sheet> rows_;
  std::size_t order_ = 0;
};

}  // namespace demo_season
