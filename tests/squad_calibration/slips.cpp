#include "squad_calibration/slips.hpp"

#include <algorithm>
#include <cmath>
#include <set>

#include "bagsplit/stats/random.hpp"

namespace bagsplit::test {

namespace {

struct Made {
  std::set<std::uint32_t> rows;                           // lines with a slip
  std::set<std::pair<std::uint32_t, std::string>> cells;  // line and mark
  std::set<std::string> players;
};

Made make_slips(runs::RunLog& log, const Slips& slips, stats::RandomStream& random) {
  Made out;
  const auto slip_s = [&] { return random.below(2) == 0 ? slips.size_s : -slips.size_s; };
  for (const runs::Run& run : log.runs) {
    for (std::uint32_t r = run.first_reading; r < run.first_reading + run.reading_count; ++r) {
      const runs::Reading& reading = log.readings[r];
      bool hit = false;
      for (std::uint32_t j = 0; j < reading.split_count; ++j) {
        if (random.uniform() < slips.rate) {
          runs::Split& split = log.splits[reading.first_split + j];
          split.time_s += slip_s();
          out.cells.emplace(reading.line, log.name(split.mark));
          hit = true;
        }
      }
      if (reading.split_count > 1 && random.uniform() < 0.5 * slips.rate) {
        const double by_s = slip_s();
        for (std::uint32_t j = 0; j < reading.split_count; ++j) {
          log.splits[reading.first_split + j].time_s += by_s;
        }
        hit = true;
      }
      if (hit) {
        out.rows.insert(reading.line);
        out.players.insert(log.name(run.player));
      }
    }
  }
  return out;
}

// The bag that work_on names first; empty for none.
std::string bag_advised(const jobs::PlayerProfile& profile) {
  for (const jobs::WorkOn& one : profile.work_on) {
    if (one.what == "first" || one.what == "second" || one.what == "third" || one.what == "home") {
      return one.what;
    }
  }
  return {};
}

void count_names(const DrawnSquad& squad, const Made& made, const jobs::ProfileResult& result, SlipCalibration& out) {
  std::set<std::uint32_t> rows;
  std::set<std::pair<std::uint32_t, std::string>> cells;
  for (const jobs::PlayerProfile& player : result.players) {
    for (const jobs::SuspectedReading& named : player.suspected_readings) {
      rows.insert(named.line);
      if (!named.column.empty()) {
        cells.emplace(named.line, named.column);
        ++out.cells;
        out.cells_right += made.cells.contains({named.line, named.column}) ? 1 : 0;
      }
      out.false_names += made.rows.contains(named.line) ? 0 : 1;
    }
  }
  for (const jobs::SuspectedReading& named : result.suspected_rows) {
    rows.insert(named.line);
    out.false_names += made.rows.contains(named.line) ? 0 : 1;
  }
  for (const runs::Run& run : squad.log.runs) {
    for (const runs::Reading& reading : squad.log.readings_of(run)) {
      out.clean_rows += made.rows.contains(reading.line) ? 0 : 1;
      out.clean_readings += made.rows.contains(reading.line) ? 0 : reading.split_count;
    }
  }
  std::map<std::uint32_t, bool> straight;
  for (const runs::Run& run : squad.log.runs) {
    straight[squad.log.readings[run.first_reading].line] = squad.log.courses[run.course].name == "straight";
  }
  for (const auto& cell : made.cells) {
    ++out.slips;
    out.rows_named += rows.contains(cell.first) ? 1 : 0;
    out.cells_named += cells.contains(cell) ? 1 : 0;
    if (straight.at(cell.first)) {
      ++out.straight;
      out.straight_named += rows.contains(cell.first) ? 1 : 0;
    }
  }
}

void count_player(const jobs::PlayerProfile& slipped, const jobs::PlayerProfile& clean,
                  const std::map<std::string, double>& truth, std::map<std::string, Interval>& to,
                  SlipCalibration& out) {
  for (const auto& [name, true_value] : truth) {
    const inference::Estimate* const a = estimate_of(slipped, name);
    const inference::Estimate* const b = estimate_of(clean, name);
    if (a == nullptr || b == nullptr) {
      continue;
    }
    Interval& interval = to[short_name(name)];
    for (const auto& [coverage, estimate] : {std::pair(&interval.slipped, a), std::pair(&interval.clean, b)}) {
      ++coverage->count;
      coverage->covered += true_value >= estimate->lo && true_value <= estimate->hi ? 1 : 0;
    }
    interval.width += (a->hi - a->lo) / (b->hi - b->lo);
  }
  if (const std::string bag = bag_advised(slipped); !bag.empty()) {
    ++out.advised;
    out.advised_falsely += truth.at("loss." + bag) <= 0.10 ? 1 : 0;
  }
  out.advised_clean += bag_advised(clean).empty() ? 0 : 1;
}

template <typename Key>
void add(std::map<Key, Interval>& to, const std::map<Key, Interval>& from) {
  for (const auto& [name, interval] : from) {
    Interval& sum = to[name];
    for (const auto member : {&Interval::slipped, &Interval::clean}) {
      (sum.*member).count += (interval.*member).count;
      (sum.*member).covered += (interval.*member).covered;
    }
    sum.width += interval.width;
  }
}

}  // namespace

SlipCalibration calibrate_slips(int squads, std::uint64_t seed, Nights nights, const Slips& slips, unsigned threads) {
  std::vector<SlipCalibration> parts(static_cast<std::size_t>(squads));
  stats::for_each_index(parts.size(), threads, [&](std::size_t index) {
    DrawnSquad squad = draw_squad(seed, index, {}, nights);
    const auto profiled = [&](bool mixture) {
      jobs::ProfileOptions options;
      if (!mixture) {
        options.model.error.slip = inference::SlipPrior{.rate = 0.0};
      }
      return jobs::profile(squad.log, squad.roster, timing::DeviceBook(), norms::Catalogue::builtin(), options);
    };
    const jobs::ProfileResult clean = profiled(slips.rate > 0.0);
    stats::RandomStream random(seed + 1, index);
    const Made made = make_slips(squad.log, slips, random);
    const jobs::ProfileResult slipped = profiled(true);
    SlipCalibration& part = parts[index];
    count_names(squad, made, slipped, part);
    for (std::size_t p = 0; p < clean.players.size(); ++p) {
      const std::string& id = clean.players[p].player;
      if (clean.players[p].status == inference::PosteriorStatus::not_certified ||
          slipped.players[p].status == inference::PosteriorStatus::not_certified) {
        ++part.not_certified;
        continue;
      }
      count_player(slipped.players[p], clean.players[p], squad.truth.at(id),
                   made.players.contains(id) ? part.hit : part.not_hit, part);
    }
  });
  SlipCalibration sum;
  for (const SlipCalibration& part : parts) {
    add(sum.hit, part.hit);
    add(sum.not_hit, part.not_hit);
    for (const auto member :
         {&SlipCalibration::slips, &SlipCalibration::rows_named, &SlipCalibration::cells_named,
          &SlipCalibration::straight, &SlipCalibration::straight_named, &SlipCalibration::clean_rows,
          &SlipCalibration::clean_readings, &SlipCalibration::false_names, &SlipCalibration::cells,
          &SlipCalibration::cells_right, &SlipCalibration::advised, &SlipCalibration::advised_falsely,
          &SlipCalibration::advised_clean, &SlipCalibration::not_certified}) {
      sum.*member += part.*member;
    }
  }
  return sum;
}

}  // namespace bagsplit::test
