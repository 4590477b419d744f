#include "scale.hpp"

#include <algorithm>
#include <array>
#include <chrono>
#include <cmath>
#include <limits>
#include <stdexcept>
#include <string>
#include <vector>

#include "documents.hpp"
#include "world.hpp"

namespace demo_season {

namespace {

constexpr std::size_t players_per_field = 25;
constexpr std::size_t rows_per_player_and_date = 4;  // two drills, two runs each, a second watch on some, some away
constexpr std::string_view columns =
    "date,player,course,trial,timer,place,start,posture,move,10yd,25m,first,second,third,home,flag,note\n";
constexpr std::size_t first_mark_column = 8;
constexpr std::size_t mark_column_count = 7;

struct ScaleChild {
  Child child;
  double day_form = 0.0;
  bool here = true;
};

struct ScaleDrill {
  std::string_view course;
  Start start;
  std::string_view posture;
  std::vector<std::string> marks;
  std::vector<std::size_t> mark_columns;  // 0 is `move`
};

const std::vector<ScaleDrill>& drills() {
  static const std::vector<ScaleDrill> all{
      {"home-first", Start::signal, "standing", {"first"}, {3}},
      {"straight", Start::self, "standing", {"10yd", "25m"}, {1, 2}},
      {"circuit", Start::signal, "standing", {"first", "second", "third", "home"}, {3, 4, 5, 6}},
      {"straight", Start::signal, "prone", {"move", "10yd", "25m"}, {0, 1, 2}},
      {"home-second", Start::signal, "standing", {"first", "second"}, {3, 4}},
  };
  return all;
}

void check_options(const ScaleOptions& options) {
  const auto refuse = [](const char* name, std::size_t value, std::size_t lo, std::size_t hi) {
    throw std::invalid_argument(std::string("write_scale_season: ") + name + " is " + std::to_string(value) +
                                ", but must be from " + std::to_string(lo) + " to " + std::to_string(hi));
  };
  if (options.players < 1 || options.players > 1'000'000) {
    refuse("players", options.players, 1, 1'000'000);
  }
  if (options.rows < 1 || options.rows > 4000 * options.players) {
    refuse("rows", options.rows, 1, 4000 * options.players);
  }
}

std::string date_text(std::chrono::sys_days day) {
  const std::chrono::year_month_day ymd{day};
  const auto two = [](unsigned n) { return joined({n < 10 ? "0" : "", std::to_string(n)}); };
  return joined({std::to_string(static_cast<int>(ymd.year())), "-", two(static_cast<unsigned>(ymd.month())), "-",
                 two(static_cast<unsigned>(ymd.day()))});
}

ScaleChild make_child(std::size_t index, Stream& stream, std::chrono::sys_days last) {
  ScaleChild out;
  Child& child = out.child;
  child.id = std::to_string(index + 1);
  const bool girl = stream.uniform() < 0.5;
  const double age_years = 8.0 + 6.0 * stream.uniform();
  child.sex = girl ? "F" : "M";
  child.born = date_text(last - std::chrono::days{static_cast<int>(age_years * 365.25)});
  child.height_cm = std::to_string(static_cast<int>(stream.normal_within(80.0 + 6.0 * age_years, 6.0, 100.0, 200.0)));
  child.mass_kg = std::to_string(static_cast<int>(stream.normal_within(4.0 * age_years - 5.0, 5.0, 15.0, 90.0)));
  child.bats = stream.uniform() < 0.15 ? "L" : "R";
  const double usual_mps = (girl ? 3.75 : 3.70) + (girl ? 0.23 : 0.26) * age_years;
  child.sprint = {usual_mps * std::exp(stream.normal(0.0, 0.06)), std::exp(stream.normal(std::log(1.02), 0.10))};
  child.reaction_s = stream.normal_within(0.45 - 0.010 * age_years, 0.04, 0.2, 0.6);
  child.prone_cost_s = stream.normal_within(0.85, 0.12, 0.5, 1.4);
  for (const auto& [key, mean_s] :
       {std::pair{"first", 0.28}, {"second", 0.38}, {"third", 0.35}, {"home", 0.22}, {"second-stop", 0.52}}) {
    child.segment_loss_s[key] = stream.normal_within(mean_s, 0.08, 0.02, 1.2);
  }
  return out;
}

// A buffer in front of the stream: one write for many rows.
class Writer {
 public:
  explicit Writer(std::ostream& out) : out_(out) { buffer_.reserve(capacity); }
  Writer(const Writer&) = delete;
  Writer& operator=(const Writer&) = delete;
  ~Writer() { flush(); }
  void add(std::string_view text) {
    if (buffer_.size() + text.size() > capacity) {
      flush();
    }
    buffer_ += text;
  }
  void flush() {
    out_.write(buffer_.data(), static_cast<std::streamsize>(buffer_.size()));
    buffer_.clear();
  }

 private:
  static constexpr std::size_t capacity = 1U << 20U;
  std::ostream& out_;
  std::string buffer_;
};

void append_hundredths(std::string& row, double time_s) {
  const auto whole = std::max(0LL, std::llround(100.0 * time_s));
  row += std::to_string(whole / 100);
  row += '.';
  row += static_cast<char>('0' + whole / 10 % 10);
  row += static_cast<char>('0' + whole % 10);
}

class ScaleSeason {
 public:
  ScaleSeason(const ScaleOptions& options, std::ostream& log)
      : options_(options), runs_(options.seed, "runs"), world_(options.seed, "world"), writer_(log) {
    const std::size_t per_date = options.players * rows_per_player_and_date;
    dates_ = (options.rows + per_date - 1) / per_date;
    step_ = std::chrono::days{std::clamp<std::size_t>(120 / dates_, 1, 7)};
    for (std::size_t i = 0; i < options.players; ++i) {
      children_.push_back(make_child(i, world_, last_));
    }
    const std::size_t fields = (options.players + players_per_field - 1) / players_per_field;
    for (std::size_t i = 0; i < 2 * fields; ++i) {
      timer_bias_s_.push_back(
          {world_.normal(-0.12, 0.05), world_.normal(-0.18, 0.05)});  // hears the call, sees first move
    }
  }

  void write_people(std::ostream& roster, std::ostream& truth) const {
    Writer people(roster);
    people.add("player,bib,name,sex,born,height_cm,mass_kg,sitting_height_cm,bats,team\n");
    Writer facts(truth);
    facts.add(
        "player,top_speed_mps,time_constant_s,reaction_s,prone_cost_s,first_s,second_s,third_s,home_s,second_stop_s\n");
    for (std::size_t i = 0; i < children_.size(); ++i) {
      const Child& c = children_[i].child;
      people.add(c.id + "," + c.id + ",," + c.sex + "," + c.born + "," + c.height_cm + "," + c.mass_kg + ",," + c.bats +
                 ",club-" + std::to_string(i / players_per_field + 1) + "\n");
      const auto loss = [&](const char* key) { return number_text(c.segment_loss_s.find(key)->second); };
      facts.add(c.id + "," + number_text(c.sprint.top_speed_mps) + "," + number_text(c.sprint.time_constant_s) + "," +
                number_text(c.reaction_s) + "," + number_text(c.prone_cost_s) + "," + loss("first") + "," +
                loss("second") + "," + loss("third") + "," + loss("home") + "," + loss("second-stop") + "\n");
    }
  }

  void write_log() {
    writer_.add("# invented data for measuring speed, no real children\n# base-distance: 60 ft\n# device: stopwatch\n");
    writer_.add(columns);
    // Should chance leave too few rows on the planned dates, further dates follow after the last.
    for (std::size_t d = 0; written_ < options_.rows; ++d) {
      write_date(
          last_ - step_ * (static_cast<std::chrono::days::rep>(dates_) - 1 - static_cast<std::chrono::days::rep>(d)),
          d);
    }
  }

 private:
  void write_date(std::chrono::sys_days day, std::size_t index) {
    date_ = date_text(day);
    for (ScaleChild& c : children_) {
      c.here = runs_.uniform() < 0.9;
      c.day_form = runs_.normal(0.0, common_.day_cv);
    }
    // Neighbours in the list are never both straights: on one date they would share their trial numbers.
    const std::size_t n = drills().size();
    for (const std::size_t which : {(2 * index) % n, (2 * index + 1) % n}) {
      const ScaleDrill& drill = drills()[which];
      for (std::size_t trial = 1; trial <= 2; ++trial) {
        for (std::size_t i = 0; i < children_.size() && written_ < options_.rows; ++i) {
          if (children_[i].here) {
            write_run(drill, i, trial);
          }
        }
      }
    }
  }

  void write_run(const ScaleDrill& drill, std::size_t i, std::size_t trial) {
    const ScaleChild& c = children_[i];
    const std::size_t field = i / players_per_field;
    const bool prone = drill.posture == "prone";
    const bool on_signal = drill.start == Start::signal;
    const Effort effort{1.0 + c.day_form + runs_.normal(0.0, common_.effort_cv),
                        on_signal ? runs_.normal_within(c.child.reaction_s, common_.reaction_sd_s, 0.15, 0.9) : 0.0};
    const auto marks = marks_of(drill.course, drill.marks, c.child);
    std::array<double, max_marks> true_s{};
    std::array<double, max_marks> read_s{};
    true_times(c.child.sprint, marks, drill.start, effort, prone ? c.child.prone_cost_s : 0.0,
               std::span(true_s).first(marks.size()));
    const double chance = runs_.uniform();
    const std::string_view flag = chance < 0.004   ? "false-start"
                                  : chance < 0.007 ? "fall"
                                  : chance < 0.01  ? "missed-bag"
                                                   : "";
    const std::size_t readings = runs_.uniform() < 0.2 ? 2 : 1;
    for (std::size_t watch = 0; watch < readings && written_ < options_.rows; ++watch) {
      const std::size_t timer = 2 * field + (watch + trial) % 2;
      read_times(marks, std::span(true_s).first(marks.size()), timer_bias_s_[timer][on_signal ? 0 : 1], false, common_,
                 runs_, std::span(read_s).first(marks.size()));
      row_ = date_;
      row_ += ',';
      row_ += c.child.id;
      row_ += ',';
      row_ += drill.course;
      row_ += ',';
      row_ += static_cast<char>('0' + trial);
      row_ += ",T";
      row_ += std::to_string(timer + 1);
      row_ += ",field-";
      row_ += std::to_string(field + 1);
      row_ += ',';
      row_ += start_text(drill.start);
      row_ += ',';
      row_ += drill.posture;
      std::size_t next = 0;
      for (std::size_t column = 0; column < mark_column_count; ++column) {
        row_ += ',';
        if (next < marks.size() && drill.mark_columns[next] == column) {
          append_hundredths(row_, read_s[next]);
          ++next;
        }
      }
      row_ += ',';
      row_ += flag;
      row_ += ",\n";
      writer_.add(row_);
      ++written_;
    }
  }

  ScaleOptions options_;
  Common common_;
  std::chrono::sys_days last_ = std::chrono::year{2026} / 6 / 30;
  std::chrono::days step_{7};
  std::size_t dates_ = 1;
  Stream runs_;
  Stream world_;
  std::vector<ScaleChild> children_;
  std::vector<std::array<double, 2>> timer_bias_s_;
  std::string date_;
  std::string row_;
  std::size_t written_ = 0;
  Writer writer_;
};

}  // namespace

void write_scale_season(const ScaleOptions& options, std::ostream& roster, std::ostream& log, std::ostream& truth) {
  check_options(options);
  ScaleSeason season(options, log);
  season.write_people(roster, truth);
  season.write_log();
}

}  // namespace demo_season
