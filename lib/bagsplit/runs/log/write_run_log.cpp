#include "bagsplit/runs/log/write_run_log.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <functional>
#include <map>

#include "bagsplit/runs/typed.hpp"
#include "bagsplit/runs/units.hpp"
#include "bagsplit/runs/words.hpp"
#include "bagsplit/text/csv.hpp"

namespace bagsplit::runs {

namespace {

std::string start_text(const Reading& reading) {
  switch (reading.start) {
    case StartKind::signal:
      return "signal";
    case StartKind::self:
      return "self";
    case StartKind::beam:
      return "beam " + format_number(reading.beam_distance_m) + " m";
    case StartKind::contact:
      return "contact";
  }
  return {};
}

// In feet where that is what was typed: the same number comes back either way.
std::string base_distance_text(double base_m) {
  if (base_m <= 0.0) {
    return {};
  }
  const double feet = std::round(base_m / metres_per_foot);
  if (feet * metres_per_foot == base_m) {
    return format_number(feet) + " ft";
  }
  return format_number(base_m) + " m";
}

std::string number_text(float value) {
  return std::isnan(value) ? std::string() : format_number(value);
}

bool counts_from_exchange(const Run& run, const Reading& reading) {
  return reading.laps && run.leg >= 2;
}

// A text that a line '# key: value' gives back unchanged.
bool fits_key(const std::string& text) {
  return text.empty() ||
         (std::string_view(",;\t \"").find(text.back()) == std::string_view::npos && text.front() != ' ' &&
          text.front() != '\t' && text.find_first_of("\r\n") == std::string::npos &&
          (text.find('"') == std::string::npos || text.find_first_of(",;\t") == std::string::npos));
}

using CellText = std::function<std::string(const Run&, const Reading&)>;

struct OutColumn {
  std::string name;
  CellText text;
};

class Writer {
 public:
  explicit Writer(const RunLog& log) : log_(log) {}

  std::string write() {
    std::string keys;
    const auto same_or_column = [&](std::string name, CellText text) {
      const auto value = same_value(text);
      if (value && fits_key(*value)) {
        text::append_directive(keys, name, *value);
      } else {
        columns_.push_back({std::move(name), std::move(text)});
      }
    };
    columns_.push_back({"date", [](const Run& run, const Reading&) { return format_date(run.date); }});
    same_or_column("place", [this](const Run& run, const Reading&) { return log_.name(run.place); });
    columns_.push_back({"player", [this](const Run& run, const Reading&) { return log_.name(run.player); }});
    columns_.push_back({"course", [this](const Run& run, const Reading&) { return log_.courses[run.course].name; }});
    columns_.push_back({"trial", [](const Run& run, const Reading&) { return std::to_string(run.trial); }});
    same_or_column("team", [this](const Run& run, const Reading&) { return log_.name(run.team); });
    same_or_column(
        "leg", [](const Run& run, const Reading&) { return run.leg == 0 ? std::string() : std::to_string(run.leg); });
    add_heats(same_or_column);
    same_or_column("timer", [this](const Run&, const Reading& reading) { return log_.name(reading.timer); });
    same_or_column("device", [](const Run&, const Reading& reading) { return std::string(word_of(reading.device)); });
    same_or_column("start", [](const Run&, const Reading& reading) { return start_text(reading); });
    if (std::any_of(log_.readings.begin(), log_.readings.end(),
                    [](const Reading& reading) { return reading.signal != Signal::unsaid; })) {
      same_or_column("signal", [](const Run&, const Reading& reading) { return std::string(word_of(reading.signal)); });
    }
    same_or_column("posture", [](const Run& run, const Reading&) { return std::string(word_of(run.posture)); });
    same_or_column("splits", [](const Run& run, const Reading& reading) {
      return std::string(counts_from_exchange(run, reading) ? "lap" : "cumulative");
    });
    same_or_column("base-distance",
                   [](const Run& run, const Reading&) { return base_distance_text(run.base_distance_m); });
    same_or_column("surface", [this](const Run& run, const Reading&) { return log_.name(run.surface); });
    same_or_column("wind", [](const Run& run, const Reading&) { return number_text(run.wind_mps); });
    same_or_column("temperature", [](const Run& run, const Reading&) { return number_text(run.temperature_c); });
    collect_marks();
    collect_carried();
    columns_after_.push_back(
        {"flag", [](const Run&, const Reading& reading) { return std::string(word_of(reading.flag)); }});
    columns_after_.push_back({"note", [this](const Run&, const Reading& reading) { return log_.name(reading.note); }});
    std::string out = std::move(keys);
    append_header(out);
    for (const Run& run : log_.runs) {
      for (const Reading& reading : log_.readings_of(run)) {
        append_row(out, run, reading);
      }
    }
    return out;
  }

 private:
  template <typename Add>
  void add_heats(const Add& same_or_column) {
    if (log_.heats.empty()) {
      return;
    }
    for (const Heat& heat : log_.heats) {
      for (const Finisher& finisher : log_.finishers_of(heat)) {
        heat_of_[finisher.run] = {&heat, finisher.place};
      }
    }
    const auto column = [&](std::string name, const auto& text) {
      same_or_column(std::move(name), [this, text](const Run& run, const Reading&) {
        const auto at = heat_of_.find(static_cast<std::uint32_t>(&run - log_.runs.data()));
        return at == heat_of_.end() ? std::string() : text(*at->second.first, at->second.second);
      });
    };
    column("heat", [this](const Heat& heat, std::uint16_t) { return log_.name(heat.name); });
    column("finish",
           [](const Heat&, std::uint16_t place) { return place == 0 ? std::string() : std::to_string(place); });
    column("finish-at", [this](const Heat& heat, std::uint16_t) { return log_.name(heat.finish_mark); });
    column("finish-ties",
           [](const Heat& heat, std::uint16_t) { return std::string(heat.ties_called ? "called" : "never"); });
  }

  // The value that all readings share, empty ones included; nothing where they differ.
  std::optional<std::string> same_value(const CellText& text) const {
    std::optional<std::string> value;
    for (const Run& run : log_.runs) {
      for (const Reading& reading : log_.readings_of(run)) {
        const std::string here = text(run, reading);
        if (value && *value != here) {
          return std::nullopt;
        }
        value = here;
      }
    }
    return value.value_or(std::string());
  }

  // `move`, then the bags, then distances from the shortest.
  void collect_marks() {
    std::map<NameId, double> seen;
    for (const Split& split : log_.splits) {
      seen.try_emplace(split.mark, 0.0);
    }
    for (auto& [mark, order] : seen) {
      const auto bag = bag_of_name(log_.name(mark));
      order = log_.name(mark) == "move" ? -10.0
              : bag                     ? -9.0 + (*bag == Bag::home ? 4.0 : static_cast<double>(*bag))
                                        : parse_length_m(log_.name(mark)).value_or(0.0);
      marks_.emplace_back(order, mark);
    }
    std::sort(marks_.begin(), marks_.end());
  }

  void collect_carried() {
    for (const Carried& cell : log_.carried) {
      if (std::find(carried_.begin(), carried_.end(), cell.column) == carried_.end()) {
        carried_.push_back(cell.column);
      }
    }
    std::sort(carried_.begin(), carried_.end(), [&](NameId a, NameId b) { return log_.name(a) < log_.name(b); });
  }

  void append_header(std::string& out) const {
    std::string line;
    const auto add = [&](const std::string& name) {
      line += line.empty() ? "" : ",";
      text::append_csv_field(line, name);
    };
    for (const OutColumn& column : columns_) {
      add(column.name);
    }
    for (const auto& [order, mark] : marks_) {
      add(log_.name(mark));
    }
    if (marks_.empty()) {
      add("first");  // a log needs a column of times, also when nothing is timed
    }
    for (const OutColumn& column : columns_after_) {
      add(column.name);
    }
    for (const NameId column : carried_) {
      add(log_.name(column));
    }
    out += line + "\n";
  }

  void append_row(std::string& out, const Run& run, const Reading& reading) {
    bool first = true;
    const auto add = [&](const std::string& text) {
      out += first ? "" : ",";
      first = false;
      text::append_csv_field(out, text);
    };
    for (const OutColumn& column : columns_) {
      add(column.text(run, reading));
    }
    const auto splits = log_.splits_of(reading);
    for (const auto& [order, mark] : marks_) {
      const auto at = std::find_if(splits.begin(), splits.end(), [m = mark](const Split& s) { return s.mark == m; });
      if (at == splits.end()) {
        add("");
      } else if (counts_from_exchange(run, reading) && at != splits.begin()) {
        add(format_number(std::round((at->time_s - std::prev(at)->time_s) * 1e12) / 1e12));
      } else {
        add(format_number(at->time_s));
      }
    }
    if (marks_.empty()) {
      add("");
    }
    for (const OutColumn& column : columns_after_) {
      add(column.text(run, reading));
    }
    append_carried(reading, add);
    out += '\n';
  }

  template <typename Add>
  void append_carried(const Reading& reading, const Add& add) const {
    if (carried_.empty()) {
      return;
    }
    const auto number = static_cast<std::uint32_t>(&reading - log_.readings.data());
    const auto from = std::lower_bound(log_.carried.begin(), log_.carried.end(), number,
                                       [](const Carried& cell, std::uint32_t n) { return cell.reading < n; });
    for (const NameId column : carried_) {
      auto cell = from;
      while (cell != log_.carried.end() && cell->reading == number && cell->column != column) {
        ++cell;
      }
      add(cell != log_.carried.end() && cell->reading == number ? log_.name(cell->text) : std::string());
    }
  }

  const RunLog& log_;
  std::vector<OutColumn> columns_;
  std::vector<OutColumn> columns_after_;
  std::vector<std::pair<double, NameId>> marks_;
  std::vector<NameId> carried_;
  std::map<std::uint32_t, std::pair<const Heat*, std::uint16_t>> heat_of_;  // by run
};

}  // namespace

std::string write_run_log(const RunLog& log) {
  return Writer(log).write();
}

}  // namespace bagsplit::runs
