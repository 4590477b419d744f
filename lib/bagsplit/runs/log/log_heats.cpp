#include <algorithm>
#include <cmath>
#include <map>
#include <set>
#include <tuple>

#include "bagsplit/runs/log/detail/log_rows.hpp"
#include "bagsplit/runs/typed.hpp"
#include "bagsplit/text/wording.hpp"

namespace bagsplit::runs::detail {

namespace {

// Times that go against the order by more than this are no judge's slip [s]. Common practice, no source.
constexpr double against_order_s = 0.3;
constexpr std::size_t most_placed = 8;  // that one pair of eyes can place. Common practice, no source.

class HeatChecker {
 public:
  HeatChecker(RawLog& log, const ReadOptions& options) : log_(log), options_(options) {}

  void check() {
    using Key = std::tuple<std::int32_t, NameId, std::uint16_t, NameId>;
    std::map<Key, std::size_t> number_of;
    std::vector<std::vector<const HeatRow*>> heats;
    for (const HeatRow& heat : log_.heat_rows) {
      RawRow& row = log_.rows[heat.row];
      if (heat.heat == no_name) {
        fault(row, Field::finish, "a place at the finish without a heat",
              "the heat beside it: rows with the same one started on one call");
        continue;
      }
      const Key key{row.date, log_.setting_of(row).place, log_.layout_of(row).course, heat.heat};
      const auto [at, is_new] = number_of.try_emplace(key, heats.size());
      if (is_new) {
        heats.emplace_back();
      }
      heats[at->second].push_back(&heat);
    }
    find_judges_of_ties(heats);
    for (const auto& heat : heats) {
      check_heat(heat);
    }
  }

 private:
  RawRow& row_of(const HeatRow& heat) { return log_.rows[heat.row]; }
  std::string name_of(const HeatRow& heat) { return "heat " + log_.names.text(heat.heat); }
  std::string player_of(const HeatRow& heat) { return "player '" + log_.names.text(row_of(heat).player) + "'"; }

  void fault(RawRow& row, Field field, std::string message, std::string expected, std::string hint = {}) {
    row.bad = true;
    good_ = false;
    report_field(
        log_, row, field, options_,
        {.code = "bad-heat", .message = std::move(message), .expected = std::move(expected), .hint = std::move(hint)});
  }

  // Who has written a tie in any heat calls ties.
  void find_judges_of_ties(const std::vector<std::vector<const HeatRow*>>& heats) {
    for (const auto& heat : heats) {
      for (std::size_t i = 0; i < heat.size(); ++i) {
        for (std::size_t j = 0; j < i; ++j) {
          if (heat[i]->finish != 0 && heat[i]->finish == heat[j]->finish) {
            judges_of_ties_.insert(row_of(*heat[i]).timer);
          }
        }
      }
    }
  }

  void check_heat(const std::vector<const HeatRow*>& heat) {
    good_ = true;
    check_alike(heat);
    check_players(heat);
    check_places(heat);
    const auto mark = good_ ? finish_mark(heat) : std::nullopt;
    if (!mark) {
      return;
    }
    const double finish_m = log_.mark_m(log_.setting_of(row_of(*heat.front())).layout, *mark);
    check_times(heat, finish_m);
    check_size(heat);
    Heat out;
    out.name = heat.front()->heat;
    out.finish_mark = log_.marks[*mark].name;
    out.finish_m = finish_m;
    out.ties_called = heat.front()->ties == Ties::called ||
                      (heat.front()->ties == Ties::as_written && judges_of_ties_.contains(row_of(*heat.front()).timer));
    out.first_finisher = static_cast<std::uint32_t>(log_.finishers.size());
    out.finisher_count = static_cast<std::uint32_t>(heat.size());
    for (const HeatRow* one : heat) {
      log_.finishers.push_back({one->row, one->finish});
    }
    log_.heats.push_back(out);
  }

  // One call, one line, one way to stand.
  void check_alike(const std::vector<const HeatRow*>& heat) {
    const HeatRow& first = *heat.front();
    const Setting& there = log_.setting_of(row_of(first));
    for (const HeatRow* one : heat) {
      RawRow& row = row_of(*one);
      const Setting& here = log_.setting_of(row);
      const std::string as_first =
          "as in the first row of " + name_of(first) + ", on line " + std::to_string(row_of(first).line);
      if (here.start != StartKind::signal) {
        fault(row, Field::start, "a heat starts on one call, and this row says otherwise", "start signal");
      } else if (here.posture != there.posture) {
        fault(row, Field::posture, "two postures in one heat", as_first);
      } else if (log_.layout_of(row).base_m != log_.layout_of(row_of(first)).base_m) {
        fault(row, Field::base_distance, "two base distances in one heat", as_first);
      } else if (one->finish_mark != first.finish_mark) {
        fault(row, Field::finish_at, "two finishes in one heat", as_first);
      } else if (row.leg > 0 || here.team != no_name) {
        fault(row, Field::leg, "a relay leg in a heat", "neither team nor leg", "a relay is told by its clock");
      }
    }
  }

  void check_players(const std::vector<const HeatRow*>& heat) {
    std::map<NameId, const HeatRow*> seen;
    for (const HeatRow* one : heat) {
      const auto [at, is_new] = seen.try_emplace(row_of(*one).player, one);
      if (!is_new) {
        fault(row_of(*one), Field::player,
              player_of(*one) + " stands twice in " + name_of(*one) + ", first on line " +
                  std::to_string(row_of(*at->second).line),
              "each child once in a heat", "is it the next heat, or another child's number?");
      }
    }
  }

  // After a tie of m, the next place is the next number or m further on: 1, 2, 2, 3 and 1, 2, 2, 4.
  void check_places(const std::vector<const HeatRow*>& heat) {
    std::map<unsigned, std::vector<const HeatRow*>> by_place;
    for (const HeatRow* one : heat) {
      if (one->finish != 0) {
        by_place[one->finish].push_back(one);
      }
    }
    if (by_place.empty()) {
      fault(row_of(*heat.front()), Field::finish, "nobody has a place in " + name_of(*heat.front()),
            "1 for who came in first; those behind the last place known may stay empty");
      return;
    }
    unsigned least = 1;
    unsigned most = 1;
    for (const auto& [place, rows] : by_place) {
      if (place < least || place > most) {
        fault(row_of(*rows.front()), Field::finish,
              "place " + std::to_string(place) + " in " + name_of(*rows.front()) + ", but nobody has place " +
                  std::to_string(least),
              "places without a gap; after a tie, 1, 2, 2, 4 or 1, 2, 2, 3",
              "a child who fell or stopped keeps its row: give it a flag and no place");
        return;
      }
      least = place + 1;
      most = place + static_cast<unsigned>(rows.size());
    }
  }

  bool counts(const HeatRow& heat) { return row_of(heat).flag == Flag::none; }

  // The mark said, the end of the course, or the only mark with a time.
  std::optional<std::uint16_t> finish_mark(const std::vector<const HeatRow*>& heat) {
    const HeatRow& first = *heat.front();
    RawRow& row = row_of(first);
    const std::uint32_t layout = log_.setting_of(row).layout;
    const Course& course = log_.courses[log_.layouts[layout].course];
    const auto length_m = course_length_m(course, log_.layouts[layout].base_m);
    if (first.finish_mark != no_mark) {
      if (!std::isnan(log_.mark_m(layout, first.finish_mark))) {
        return first.finish_mark;
      }
      fault(row, Field::finish_at, "'finish-at' is no mark of the course '" + course.name + "'",
            "a bag of the course, or a distance such as 15 yd");
      return std::nullopt;
    }
    if (length_m) {
      return course.is_base_path() ? log_.mark_number(bag_name(course.bags.back()))
                                   : log_.mark_number(format_number(*length_m) + "m");
    }
    std::set<NameId> timed;
    for (const HeatRow* one : heat) {
      for (const Split& split : log_.splits_of(row_of(*one))) {
        if (!split.is_move) {
          timed.insert(split.mark);
        }
      }
    }
    if (timed.size() == 1) {
      return log_.mark_number(log_.names.text(*timed.begin()));
    }
    fault(row, Field::heat, "nothing says where the order of " + name_of(first) + " was seen",
          "a line such as '# finish-at: 15 yd' above the header, or a column");
    return std::nullopt;
  }

  void check_times(const std::vector<const HeatRow*>& heat, double finish_m) {
    struct Timed {
      const HeatRow* heat;
      const Split* split;
      unsigned place;
    };
    std::vector<Timed> timed;
    for (const HeatRow* one : heat) {
      for (const Split& split : log_.splits_of(row_of(*one))) {
        if (counts(*one) && !split.is_move && std::fabs(split.distance_m - finish_m) < 1e-6 * finish_m) {
          timed.push_back({one, &split, one->finish == 0 ? 1000U : one->finish});
        }
      }
    }
    for (const Timed& a : timed) {
      for (const Timed& b : timed) {
        const bool before = a.place < b.place && a.split->time_s - b.split->time_s > against_order_s;
        const bool level = a.place == b.place && a.place < 1000U && a.split->time_s - b.split->time_s > against_order_s;
        if (before || level) {
          RawRow& row = row_of(*a.heat);
          row.bad = true;
          report_mark(log_, row, a.split->mark, options_,
                      {.code = "bad-heat",
                       .message = before ? "came in before " + player_of(*b.heat) + ", and its time says well after"
                                         : "level with " + player_of(*b.heat) + ", and its time says well after",
                       .expected = "times that go with the order of the finish",
                       .hint = "were two numbers exchanged, or is the time another child's?"});
          return;
        }
      }
    }
  }

  void check_size(const std::vector<const HeatRow*>& heat) {
    std::size_t ran = 0;
    std::size_t placed = 0;
    for (const HeatRow* one : heat) {
      ran += counts(*one) ? 1U : 0U;
      placed += counts(*one) && one->finish != 0 ? 1U : 0U;
    }
    std::string message;
    std::string hint;
    if (ran < 2) {
      message = "nobody to compare with in " + name_of(*heat.front());
      hint = "a child who ran alone needs a time, and no heat";
    } else if (placed == ran && ran > most_placed) {
      message = name_of(*heat.front()) + " has " + std::to_string(ran) + " children, each with a place";
      hint = "more than eight at once is hard to see: were some guessed? leave those empty";
    }
    if (!message.empty()) {
      RawRow& row = row_of(*heat.front());
      row.suspicious = true;
      report_field(log_, row, Field::heat, options_,
                   {.severity = text::Severity::suspicion,
                    .code = "odd-heat",
                    .message = message,
                    .expected = "two to eight children that count",
                    .hint = hint});
    }
  }

  RawLog& log_;
  const ReadOptions& options_;
  std::set<NameId> judges_of_ties_;
  bool good_ = true;  // the heat at hand
};

}  // namespace

void check_heats(RawLog& log, const ReadOptions& options) {
  if (!log.heat_rows.empty()) {
    HeatChecker(log, options).check();
  }
}

}  // namespace bagsplit::runs::detail
