#pragma once

#include <array>
#include <cstdint>
#include <map>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <unordered_map>
#include <vector>

#include "bagsplit/runs/log/file_report.hpp"
#include "bagsplit/runs/log/run_log.hpp"
#include "bagsplit/runs/typed.hpp"
#include "bagsplit/text/first_seen.hpp"

/// Inside the reader: rows as they were read, before they are checked against each other and gathered into runs.
namespace bagsplit::runs::detail {

/// Texts by number, each once.
class NameTable {
 public:
  NameId id(std::string_view text);
  const std::string& text(NameId id) const { return names_[id]; }
  std::size_t size() const { return names_.size(); }
  std::vector<std::string> take() { return std::move(names_); }

 private:
  void grow();
  std::vector<std::string> names_;
  std::vector<NameId> slots_;  // open addressing, a power of two
};

enum class Field : std::uint8_t {
  date,
  player,
  course,
  trial,
  team,
  leg,
  way,
  runners,
  clock,
  heat,
  finish,
  finish_at,
  finish_ties,
  drill,
  place,
  timer,
  device,
  start,
  signal,
  posture,
  splits,
  base_distance,
  surface,
  wind,
  temperature,
  flag,
  note,
  mark,
  carried,
  none,
};
inline constexpr std::size_t named_fields = static_cast<std::size_t>(Field::mark);
/// Names of the columns and keys, in the order of Field.
extern const std::array<std::string_view, named_fields> field_names;

struct MarkInfo {
  NameId name = no_name;
  bool is_move = false;
  std::optional<Bag> bag;
  double distance_m = 0.0;  // of a mark at a distance
};

/// A course at one base distance: how far each mark lies along it.
struct Layout {
  std::uint16_t course = 0;
  double base_m = 0.0;
  std::vector<double> mark_m;  // by mark number; NaN: not on this course
};

inline constexpr std::uint16_t no_mark = 0xFFFF;
inline constexpr std::uint16_t no_drill = 0xFFFF;

/// Whether the judge of a heat calls ties.
enum class Ties : std::uint8_t {
  as_written,  ///< who has written any calls them
  called,
  never,
};

/// Which way a relay's first leg goes out to second.
enum class Way : std::uint8_t { unsaid, first, third };

/// What holds for a row beside its times: first the file's defaults, then its own cells.
struct Conditions {
  Date date{};
  double base_m = 0.0;  // 0: not given
  std::uint32_t course = no_name;
  NameId player = no_name;
  NameId place = no_name;
  NameId team = no_name;
  NameId surface = no_name;
  NameId timer = no_name;
  NameId note = no_name;
  double beam_m = 0.0;
  float wind_mps = std::numeric_limits<float>::quiet_NaN();
  float temperature_c = std::numeric_limits<float>::quiet_NaN();
  NameId heat = no_name;
  NameId runners = no_name;  // of a relay told in one row: ids in the order in which they ran
  NameId clock = no_name;    // and the team's clock at each exchange, or at the finish alone
  Way way = Way::unsaid;
  std::uint16_t trial = 0;
  std::uint16_t leg = 0;
  std::uint16_t finish = 0;
  std::uint16_t finish_mark = no_mark;
  Ties ties = Ties::as_written;
  Device device = Device::stopwatch;
  StartKind start = StartKind::signal;
  Signal signal = Signal::unsaid;
  Posture posture = Posture::standing;
  Flag flag = Flag::none;
  std::uint16_t drill = no_drill;
  bool start_said = false;    ///< not the drill's
  bool posture_said = false;  ///< not the drill's
  bool laps = false;
  bool has_date = false;
};

/// What many rows have alike, told once for all of them.
struct Setting {
  std::uint32_t layout = 0;
  NameId place = no_name;
  NameId team = no_name;
  NameId surface = no_name;
  double beam_m = 0.0;
  float wind_mps = 0.0F;
  float temperature_c = 0.0F;
  std::uint16_t file = 0;
  Device device = Device::stopwatch;
  StartKind start = StartKind::signal;
  Signal signal = Signal::unsaid;
  Posture posture = Posture::standing;
};

/// All of a setting; NaNs are themselves here.
using SettingBits = std::array<std::uint64_t, 6>;
struct SettingHash {
  std::size_t operator()(const SettingBits& bits) const {
    std::uint64_t hash = 0;
    for (const std::uint64_t part : bits) {
      hash = text::detail::hash_on(hash, part);
    }
    return static_cast<std::size_t>(hash);
  }
};

struct RawRow {
  std::uint32_t offset = 0;  // of its record in the file
  std::uint32_t line = 0;
  std::uint32_t first_split = 0;
  std::uint32_t setting = 0;
  NameId player = no_name;
  NameId timer = no_name;
  NameId note = no_name;
  std::int32_t date = 0;  // days since 1970-01-01
  std::uint32_t times_hash = 0;
  std::uint16_t split_count = 0;
  std::uint16_t trial = 0;
  std::uint16_t leg = 0;
  Flag flag = Flag::none;
  bool laps = false;
  bool lap_missing = false;  // times were typed, but a lap before them is missing
  bool bad = false;
  bool suspicious = false;
  bool plain = false;  // is_plain(): its times alone give no cause for doubt
};

struct Column {
  Field field = Field::none;
  std::uint16_t mark = 0;  // of a mark
  NameId name = no_name;   // of a mark or a carried column
  bool unnamed = false;    // nothing stands in the header: nothing may stand below it
};

struct LogFile {
  std::string_view text;
  FileReport report;
  bool from_folder = false;
  char delimiter = ',';
  DateOrder dates = DateOrder::iso;
  bool has_unknown_columns = false;
  std::vector<Column> columns;
  std::vector<std::uint32_t> mark_columns;  // into columns
};

struct RawCarried {
  std::uint32_t row = 0;
  NameId column = no_name;
  NameId text = no_name;
};

/// What a row says of a heat; rows are few that say anything.
struct HeatRow {
  std::uint32_t row = 0;
  NameId heat = no_name;
  std::uint16_t finish = 0;
  std::uint16_t finish_mark = no_mark;
  Ties ties = Ties::as_written;
};

/// Numbers of rows: players as first seen, each player's rows as in the files.
struct PlayerRows {
  std::vector<std::uint32_t> rows;
  std::vector<std::uint32_t> ends;  // by player, into `rows`

  std::size_t size() const { return ends.size(); }
  std::span<const std::uint32_t> rows_of(std::size_t player) const {
    const std::uint32_t from = player == 0 ? 0 : ends[player - 1];
    return std::span(rows).subspan(from, ends[player] - from);
  }
};

/// All rows of all files. Times are cumulative and ordered along the course, `move` first.
struct RawLog {
  NameTable names;
  std::vector<Course> courses;
  std::vector<Drill> drills;
  std::vector<MarkInfo> marks;
  std::vector<Layout> layouts;
  std::vector<LogFile> files;
  std::vector<Setting> settings;
  std::vector<RawRow> rows;
  std::vector<Split> splits;  // as they will stand in the RunLog, so that they need not be copied
  std::vector<RawCarried> carried;
  std::map<std::uint32_t, SetAside> set_aside;  // by row; its reading is not yet known
  std::vector<HeatRow> heat_rows;  // ascending by row
  std::vector<Heat> heats;         // finishers by number of row, once checked
  std::vector<Finisher> finishers;
  PlayerRows by_player;  // nothing: not known
  std::size_t rows_read = 0;

  std::unordered_map<SettingBits, std::uint32_t, SettingHash> number_of_setting;
  std::unordered_map<std::string, std::uint16_t> mark_by_name;
  std::unordered_map<std::string, std::uint32_t> layout_by_key;

  /// The number of the mark of that name, made where it is new; nothing for what is no mark: a bag, `move`, or a
  /// distance of more than 0 and at most 10 km.
  std::optional<std::uint16_t> mark_number(std::string_view name);

  /// How far a mark lies along a layout; NaN when it is not on the course.
  double mark_m(std::uint32_t layout, std::uint16_t mark);
  std::uint32_t layout_of(std::uint16_t course, double base_m);

  /// The number of a setting; the same for the same one.
  std::uint32_t setting_number(const Setting& setting);
  const Setting& setting_of(const RawRow& row) const { return settings[row.setting]; }
  const Layout& layout_of(const RawRow& row) const { return layouts[setting_of(row).layout]; }
  LogFile& file_of(const RawRow& row) { return files[setting_of(row).file]; }
  const LogFile& file_of(const RawRow& row) const { return files[setting_of(row).file]; }

  std::span<const Split> splits_of(const RawRow& row) const {
    return std::span(splits).subspan(row.first_split, row.split_count);
  }
};

/// Reads one file's rows into the log; its number is that of its entry in log.files.
void read_rows(RawLog& log, std::uint16_t file, const ReadOptions& options);

/// The record of a row, read again, for pointing at a cell of it.
text::CsvRecord record_of(const RawLog& log, const RawRow& row, const ReadOptions& options);

/// Adds a problem at the cell of a mark of a row.
void report_mark(RawLog& log, const RawRow& row, NameId mark, const ReadOptions& options, text::Problem problem);
/// Adds a problem at the cell of a field, or at the whole line when the file has no such column.
void report_field(RawLog& log, const RawRow& row, Field field, const ReadOptions& options, text::Problem problem);

/// Leaves out rows that a later one of their file replaces or undoes (entries.hpp), and those that undo.
void resolve_entries(RawLog& log, const ReadOptions& options);

/// Gathers rows into heats and checks them: the rows of a heat that cannot be are marked `bad`.
void check_heats(RawLog& log, const ReadOptions& options);

/// Checks rows alone and against each other: marks them `bad` after an error and `suspicious` after a suspicion.
void check_rows(RawLog& log, const ReadOptions& options);

/// Gathers rows that are readings of one run; rows marked `bad` are left out.
RunLog gather_runs(RawLog& log, const ReadOptions& options);

}  // namespace bagsplit::runs::detail
