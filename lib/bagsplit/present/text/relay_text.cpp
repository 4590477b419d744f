#include <algorithm>
#include <cmath>

#include "bagsplit/jobs/relay/relay_season.hpp"
#include "bagsplit/present/probability_text.hpp"
#include "bagsplit/present/profile_parts.hpp"
#include "bagsplit/present/profile_quantities.hpp"
#include "bagsplit/present/relay_report.hpp"
#include "bagsplit/present/text/estimate_table.hpp"
#include "bagsplit/runs/log/log_summary.hpp"
#include "bagsplit/runs/typed.hpp"
#include "bagsplit/text/number_text.hpp"
#include "bagsplit/text/wording.hpp"

namespace bagsplit::present {

namespace {

using jobs::ExpectedRelay;
using jobs::RelayLeg;
using jobs::RelayResult;
using jobs::RelayRun;

std::string courses_words(const RelayRun& run) {
  std::vector<std::string> out;
  for (std::size_t k = 0; k < run.legs.size();) {
    std::size_t to = k;
    while (to + 1 < run.legs.size() && run.legs[to + 1].course == run.legs[k].course) {
      ++to;
    }
    const std::string which = k == 0 && to + 1 == run.legs.size() ? "every leg"
                              : to == k                           ? "leg " + std::to_string(k + 1)
                                        : "legs " + std::to_string(k + 1) + "-" + std::to_string(to + 1);
    out.push_back(which + " " + (run.legs[k].course.empty() ? "not in the log" : run.legs[k].course));
    k = to + 1;
  }
  return text::joined(out);
}

std::string leg_cell(const RelayLeg& leg) {
  if (leg.leg_s) {
    return text::fixed(*leg.leg_s, 2);
  }
  return leg.together_s ? std::to_string(*leg.together_from) + "-" + std::to_string(leg.leg) + ": " +
                              text::fixed(*leg.together_s, 2)
                        : std::string(text::absent);
}

bool any_sum(std::span<const RelayRun> race) {
  return std::any_of(race.begin(), race.end(), [](const RelayRun& run) {
    return std::any_of(run.legs.begin(), run.legs.end(),
                       [](const RelayLeg& leg) { return leg.exchange_and_loss_s.has_value(); });
  });
}

struct Signs {
  bool estimates = false, mostly_prior = false, sums = false;
};

std::string legs_part(std::span<const RelayRun> race, const text::TextOptions& options, Signs& signs) {
  const bool sums = any_sum(race);
  signs.sums = signs.sums || sums;
  std::vector<text::TextTable::Column> columns{{"team leg", "", text::Align::left},
                                               {"player", "", text::Align::left},
                                               {"clock", "s"},
                                               {"leg", "s"},
                                               {"exchange", "s"}};
  if (sums) {
    columns.push_back({"exch.+loss", "s"});
  }
  columns.push_back({"against own", "s"});
  EstimateTable table(columns, options);
  const auto cell = [&](const std::optional<jobs::Estimate>& e) {
    table.estimate(e ? &*e : nullptr, 2);
    signs.estimates = signs.estimates || e.has_value();
    signs.mostly_prior = signs.mostly_prior || (e && mostly_prior(*e));
  };
  for (const RelayRun& run : race) {
    for (const RelayLeg& leg : run.legs) {
      table.begin_row();
      table.text(run.team + " " + std::to_string(leg.leg));
      table.text(leg.player.empty() ? "?" : leg.player);
      table.text(text::fixed(leg.clock_s, 2));
      table.text(leg_cell(leg));
      cell(leg.exchange_s);
      if (sums) {
        cell(leg.exchange_and_loss_s);
      }
      if (leg.flag != runs::Flag::none) {
        table.text(std::string(runs::flag_name(leg.flag)));
      } else if (leg.squad_leg_s) {
        table.text("suspicious");
      } else {
        cell(leg.against_own_runs_s);
      }
    }
  }
  return table.str();
}

// Behind the team that is ahead, at each exchange all clocks tell.
std::string gaps_part(const jobs::RaceGaps& race, const text::TextOptions& options) {
  std::vector<text::TextTable::Column> columns{{"after leg"}};
  for (const RelayRun& run : race.teams) {
    columns.push_back({run.team, "s"});
  }
  text::TextTable table(columns);
  for (const jobs::RaceGaps::After& after : race.after) {
    std::vector<std::string> cells{std::to_string(after.leg)};
    for (const double behind : after.behind_s) {
      cells.push_back(behind == 0.0 ? "ahead" : text::signed_fixed(behind, 2));
    }
    table.add_row(std::move(cells));
  }
  return table.empty() ? std::string() : "\n" + table.str(options);
}

// Legs that differ from the player's own runs by more than runs of one player usually do.
std::string unusual_part(std::span<const RelayRun> race, double level, const text::TextOptions& options) {
  std::string out;
  bool any = false;
  for (const RelayRun& run : race) {
    for (const RelayLeg& leg : run.legs) {
      if (!leg.against_own_runs_s || !leg.usual_scatter_s) {
        continue;
      }
      any = true;
      const jobs::Estimate& e = *leg.against_own_runs_s;
      // How wide the interval would be with the scatter of a run in it.
      const double wider = e.sd > 0.0 ? std::hypot(e.sd, *leg.usual_scatter_s) / e.sd : 1.0;
      if (e.median + wider * (e.lo - e.median) > 0.0 || e.median + wider * (e.hi - e.median) < 0.0) {
        out +=
            text::paragraph("Player " + leg.player + ", leg " + std::to_string(leg.leg) + " of " + run.team + ": " +
                                text::fixed(std::fabs(e.median), 2) + " s " + (e.median > 0.0 ? "slower" : "faster") +
                                " than alone, more than one run differs from the next.",
                            options.width, "- ");
      }
    }
  }
  if (any && out.empty()) {
    out = text::paragraph(
        "No leg is farther from the player's own runs than one run is from the next (" + text::percent(level) +
            " of the time): where a team gained or lost, these times give nobody the credit or the blame.",
        options.width);
  }
  return out.empty() ? out : "\n" + out;
}

std::string heat_words(const jobs::RelayHeat& heat, std::size_t teams) {
  return "The clock of " + heat.first + " stopped first, by " + text::fixed(heat.margin_s, 2) + " s" +
         (teams > 2 ? " before the next" : "") +
         ". Allowing for the thumbs on the watches, the chance that it was really ahead is " +
         probability_words(heat.p_first, 2) +
         (heat.p_first < 0.5 ? ": what is known of the watches speaks against it." : ".");
}

std::string race_part(const RelayResult& result, const jobs::RaceGaps& gaps, const text::TextOptions& options,
                      Signs& signs) {
  const std::span<const RelayRun> race = gaps.teams;
  const RelayRun& head = race.front();
  std::string out = text::heading("Relay " + std::to_string(head.trial) + " of " + runs::format_date(head.date) +
                                      (head.place.empty() ? "" : ", " + head.place),
                                  options);
  for (const RelayRun& run : race) {
    out += text::paragraph(
        run.team + ": " + (run.total_s ? text::fixed(*run.total_s, 2) + " s" : std::string("no total")) + ", " +
            courses_words(run) + (run.timers.empty() ? "" : "; timed by " + text::joined(run.timers)) + ".",
        options.width);
  }
  for (const jobs::RelayHeat& heat : result.heats) {
    if (heat.date == head.date && heat.place == head.place && heat.trial == head.trial) {
      out += text::paragraph(heat_words(heat, race.size()), options.width);
    }
  }
  out += "\n" + legs_part(race, options, signs);
  if (race.size() > 1) {
    out += gaps_part(gaps, options);
  }
  return out + unusual_part(race, result.level, options) + "\n";
}

std::string legend(const RelayResult& result, const Signs& signs, const text::TextOptions& options) {
  std::string out = text::paragraph(
      "clock: the team's, at the end of the leg. exchange: from the touch (or the sign to go) to the next runner's "
      "first move. against own: the "
      "leg less that player's reaction and running time alone over the same course; below zero is faster.",
      options.width);
  if (signs.sums) {
    out += text::paragraph(
        "exch.+loss: the exchange and what the leg loses at the bags together, where no run alone over the course "
        "parts "
        "them. It is more than an exchange: compare it within its column only.",
        options.width);
  }
  if (signs.estimates) {
    out += text::paragraph(
        "After " + std::string(text::plus_minus(options)) + " stands half of the " + text::percent(result.level) +
            " interval; the number before it is the median. One reading ends a leg and begins the next: "
            "where it is late, "
            "the one is too long and the other too short.",
        options.width);
  }
  if (signs.mostly_prior) {
    out += text::paragraph("mostly what is usual: less than half of it comes from these times.", options.width, "*  ");
  }
  return out + "\n";
}

std::string best_words(const ExpectedRelay& expected) {
  const jobs::BestOrder& best = expected.best;
  if (!best.matters) {
    return "There is no best order for " + expected.team +
           ": only who starts, how each one takes over and which way each one runs could matter. The best and the "
           "worst "
           "order are " +
           text::fixed(best.best_to_worst_s, 2) + " s apart; the chance that the best is faster at all is " +
           probability_words(best.p_best_to_worst, 2) + ".";
  }
  if (best.players == expected.players) {
    return "No other order of " + expected.team + " is expected to be faster; the worst would lose " +
           text::fixed(best.best_to_worst_s, 2) + " s.";
  }
  return "The fastest order for " + expected.team + " is likely " + text::joined(best.players) + ": " +
         text::fixed(best.gain_s.median, 2) + " s faster (" + text::fixed(best.gain_s.lo, 2) + " to " +
         text::fixed(best.gain_s.hi, 2) + "; chance of being faster " + probability_words(best.p_faster, 2) + ").";
}

std::string expected_part(const RelayResult& result, const text::TextOptions& options) {
  if (result.expected.empty()) {
    return {};
  }
  std::string out = text::heading("If they ran on another evening", options);
  const bool wins = result.draws > 0;
  std::vector<text::TextTable::Column> columns{{"team", "", text::Align::left}, {"total", "s"}};
  if (wins) {
    columns.push_back({"wins", "P"});
  }
  columns.push_back({"order", "", text::Align::left, true});
  text::TextTable table(columns);
  for (const ExpectedRelay& expected : result.expected) {
    std::vector<std::string> cells{
        expected.team, text::fixed(expected.total_s.median, 2) + " " + std::string(text::plus_minus(options)) +
                           text::fixed((expected.total_s.hi - expected.total_s.lo) / 2.0, 2)};
    if (wins) {
      cells.push_back(probability_cell(expected.p_win, 2, result.draws));
    }
    std::string order;
    for (const std::string& player : expected.players) {
      order += (order.empty() ? "" : ", ") + player;
    }
    cells.push_back(std::move(order));
    table.add_row(std::move(cells));
  }
  out += table.str(options);
  if (wins) {
    out += text::paragraph(
        "wins: share of " + std::to_string(result.draws) + " simulated relays (seed " + std::to_string(result.seed) +
            ") in which the team comes first. What all players share cancels there, though it widens each total.",
        options.width);
  }
  if (const std::string swapped = sides_swapped_sentence(result); !swapped.empty()) {
    out += "\n" + text::paragraph(swapped, options.width);
  }
  out += "\n";
  for (const ExpectedRelay& expected : result.expected) {
    out += text::paragraph(best_words(expected), options.width);
  }
  return out + "\n";
}

}  // namespace

std::string sides_swapped_sentence(const RelayResult& result) {
  if (result.swapped.size() != 2 || !result.swapped[0].p_win || !result.expected[0].p_win) {
    return {};
  }
  const bool first = *result.swapped[0].p_win >= 0.5;
  const std::size_t winner = first ? 0 : 1;
  // Whole times in a hundred, never none and never all.
  const auto times = [](double p) { return std::to_string(std::lround(100.0 * std::clamp(p, 0.01, 0.99))); };
  const double p = first ? *result.swapped[0].p_win : 1.0 - *result.swapped[0].p_win;
  const double as_run = first ? *result.expected[0].p_win : 1.0 - *result.expected[0].p_win;
  const bool still = as_run >= 0.5;
  return "The same runners with the sides swapped: " + result.swapped[winner].team +
         (still ? " would still win " : " would win ") + times(p) + " times in 100; on the sides as they are, " +
         times(as_run) + "." +
         (p < 0.8 ? " That is too close to call."
          : still ? ""
                  : " The side decides it.");
}

std::vector<std::string> relay_season_sentences(const RelayResult& result) {
  const jobs::RelaySeason season = jobs::relay_season(result);
  std::vector<std::string> out;
  for (const jobs::PooledExchange& one : season.exchanges) {
    const bool slowest = &one == &season.exchanges.front();
    if (one.others_middle_s && (one.surely_late || (slowest && one.probably_late))) {
      out.push_back(one.player + (one.surely_late ? " surely" : " probably") +
                    " takes off late: " + text::fixed(one.mean_s, 2) + " s after the touch, give or take " +
                    text::fixed(one.give_or_take_s, 2) + ", over " + text::counted(one.relays, "relay") +
                    "; the middle of the others is " + text::fixed(*one.others_middle_s, 2) +
                    " s. Practise the touch with " + one.player + ": go on it, no look back.");
    }
  }
  if (out.empty() && !season.exchanges.empty()) {
    out.push_back("Nobody stands out for taking off late after the touch.");
  }
  if (const auto& told = season.side_or_team) {
    const std::string side = told->first_quicker ? "first" : "third";
    out.push_back("Runners, the ways alike: " + told->team + " before " + told->other + " by " +
                  text::fixed(told->team_s, 2) + " s a relay, give or take " + text::fixed(told->team_give_s, 2) +
                  (told->team_s > told->team_give_s ? ", surely." : ": too close to say."));
    out.push_back("Way: by " + side + " is quicker by " + text::fixed(told->side_s, 2) + " s a relay, give or take " +
                  text::fixed(told->side_give_s, 2) +
                  (told->side_s > told->side_give_s ? ", surely. Swap the sides every time."
                                                    : ": too close to say. Swap the sides every time."));
  } else if (season.ways_never_swapped) {
    out.push_back(
        "Each team always ran the same way round, so side and runners cannot be told apart: swap the ways next time.");
  }
  return out;
}

std::string relay_text(const RelayResult& result, const text::TextOptions& options) {
  std::string out = suspected_part(result.suspected.surely, options);
  out.erase(0, out.empty() ? 0 : 1);
  out += out.empty() ? "" : "\n";
  Signs signs;
  for (const jobs::RaceGaps& race : jobs::race_gaps(result)) {
    out += race_part(result, race, options, signs);
  }
  if (!result.runs.empty()) {
    out += legend(result, signs, options);
  }
  if (const auto sentences = relay_season_sentences(result); !sentences.empty()) {
    out += text::heading("All relays together", options) + text::listed(sentences, options.width) + "\n";
  }
  out += expected_part(result, options);
  if (!result.notes.empty()) {
    out += text::heading("What these times cannot tell", options);
    out += text::listed(result.notes, options.width);
    out += "\n";
  }
  out += text::heading("Caution", options);
  out += text::listed(result.cautions, options.width);
  return out;
}

}  // namespace bagsplit::present
