#include <algorithm>
#include <cmath>
#include <map>

#include "bagsplit/inference/reading/assemble.hpp"
#include "bagsplit/present/detail/standings_words.hpp"
#include "bagsplit/present/probability_text.hpp"
#include "bagsplit/present/profile_parts.hpp"
#include "bagsplit/present/standings_report.hpp"
#include "bagsplit/present/text/estimate_table.hpp"
#include "bagsplit/present/text/interval_plot.hpp"
#include "bagsplit/runs/typed.hpp"
#include "bagsplit/runs/words.hpp"
#include "bagsplit/safety/safety.hpp"
#include "bagsplit/text/number_text.hpp"
#include "bagsplit/text/text_width.hpp"
#include "bagsplit/text/wording.hpp"

namespace bagsplit::present {

namespace {

using jobs::CutStatus;
using jobs::Standing;
using jobs::StandingsMethod;
using jobs::StandingsResult;

constexpr double least_gain = 0.05;  // of the wrong cuts: below, further runs are not worth the walk to the line
constexpr std::size_t least_bar = 11, most_bar = 40;  // cells
constexpr std::size_t beside_bar = 67;                // cells of the other columns, gaps included

bool plain(const StandingsResult& result) {
  return result.index.empty() && !result.age_adjusted;
}

}  // namespace

int standings_decimals(const StandingsResult& result) {
  if (!plain(result)) {
    return 2;
  }
  switch (result.by.front().quantity) {
    case jobs::Quantity::acceleration:
      return 1;
    case jobs::Quantity::path_efficiency:
      return 3;
    case jobs::Quantity::time:
    case jobs::Quantity::reaction:
    case jobs::Quantity::top_speed:
      break;
  }
  return 2;
}

namespace {

std::string quantity_words(const jobs::RankedQuantity& by) {
  switch (by.quantity) {
    case jobs::Quantity::time:
      return "time at " + by.mark + " over " + by.course;
    case jobs::Quantity::reaction:
      return "reaction";
    case jobs::Quantity::acceleration:
      return "acceleration at first move";
    case jobs::Quantity::top_speed:
      return "top speed";
    case jobs::Quantity::path_efficiency:
      return "path efficiency over " + by.course;
  }
  return {};
}

std::string conditions_words(const jobs::TimeConditions& time) {
  std::string out = time.base_distance_m ? base_words(*time.base_distance_m) + " bases, " : "";
  out += std::string(runs::word_of(time.posture)) + ", ";
  switch (time.start) {
    case runs::StartKind::signal:
      return out + "from the signal";
    case runs::StartKind::self:
      return out + "from the first move";
    case runs::StartKind::beam:
      return out + "through a beam at " + text::fixed(time.beam_m, 2) + " m";
    case runs::StartKind::contact:
      return out + "from contact";
  }
  return out;
}

}  // namespace

std::string standings_by_words(const StandingsResult& result) {
  std::string out;
  if (result.index.empty()) {
    out = quantity_words(result.by.front());
    out += result.time ? " (" + conditions_words(*result.time) + ")" : "";
  } else {
    std::vector<std::string> parts;
    for (const jobs::RankedQuantity& by : result.by) {
      parts.push_back(quantity_words(by) + " (weight " + text::shortest(by.weight) + ")");
    }
    out = "an index of " + text::joined(parts);
  }
  return out + (result.age_adjusted ? ", each child against what is usual at its age and sex" : "");
}

namespace {

std::string title(const StandingsResult& result) {
  std::string out = "Standings of " + text::counted(result.players.size(), "player") + " from " +
                    text::counted(result.runs_used, "run");
  if (result.first_date) {
    out += ", " + runs::format_date(*result.first_date);
    out += *result.first_date == *result.last_date ? "" : " to " + runs::format_date(*result.last_date);
  }
  out += result.method == StandingsMethod::best ? ", by official best " : ", by ";
  return out + standings_by_words(result) + ".";
}

// What the order is made of, where finishing orders are part of it.
std::string heats_words(const StandingsResult& result) {
  if (!result.heats) {
    return {};
  }
  const jobs::HeatsSummary& heats = *result.heats;
  return "Order from " + text::counted(heats.heats, "heat") + " (" + text::counted(heats.runs, "run") + ")" +
         (!heats.any_time ? ", no time for anybody: places only."
          : heats.without_time == 0
              ? "."
              : ", no time of their own for " + text::counted(heats.without_time, "player") + ".");
}

std::string place_words(const Standing& player, bool official) {
  return (official && player.best->tied ? "=" : "") + std::to_string(player.place);
}

// Places of a group along a column of bars.
IntervalAxis axis_of_places(std::size_t players, std::size_t cells) {
  return {1.0 - (players == 1 ? 0.5 : 0.0), static_cast<double>(players) + (players == 1 ? 0.5 : 0.0), cells};
}

// The heading of that column: the ends of the axis.
std::string axis_words(std::size_t players, std::size_t cells) {
  const std::string last = std::to_string(players);
  return "1" + std::string(cells > last.size() + 1 ? cells - last.size() - 1 : 1, ' ') + last;
}

std::string status_cell(const Standing& player) {
  return player.status ? std::string(word_of(*player.status)) : std::string(text::absent);
}

bool is_hand(timing::TimingClass timing_class) {
  return timing_class == timing::TimingClass::hand || timing_class == timing::TimingClass::hand_started;
}

struct GroupTable {
  std::string table, legend;
};

GroupTable group_table(const StandingsResult& result, const std::vector<const Standing*>& players,
                       std::optional<std::size_t> cut, const text::TextOptions& options) {
  const bool official = result.method == StandingsMethod::best;
  const std::size_t taken = beside_bar - (cut ? 0 : 18);
  const IntervalAxis axis = axis_of_places(
      players.size(), std::clamp<std::size_t>(options.width > taken ? options.width - taken : 0, 2, most_bar));
  const bool bars = !official && axis.cells >= least_bar;
  const auto line = cut && *cut < players.size() ? std::optional(static_cast<double>(*cut) + 0.5) : std::nullopt;
  const int decimals = standings_decimals(result);
  const std::string unit = plain(result) ? std::string(unit_of(result.by.front().quantity)) : "SD";
  const bool narrow = options.width < beside_bar;  // the rest matters more than how many runs there were
  std::vector<text::TextTable::Column> columns = {{"place", ""}, {"player", "", text::Align::left}};
  if (!narrow) {
    columns.push_back({"runs", ""});
  }
  const bool heats = result.heats.has_value() && !narrow;
  if (heats) {
    columns.push_back({"heats", ""});
  }
  const bool values = !result.heats || result.heats->any_time;  // places alone hold no seconds
  if (official) {
    columns.push_back({"official", "s"});
    columns.push_back({"as read", "s"});
  }
  if (values) {
    columns.push_back({result.index.empty() ? (result.age_adjusted ? "z-score" : "value") : "index", unit});
  }
  if (bars) {
    columns.push_back({axis_words(players.size(), axis.cells), "places", text::Align::left});
  }
  columns.push_back({"rank", ""});
  const bool tiers = !official && !narrow;
  if (tiers) {
    columns.push_back({"tier", ""});
  }
  if (cut) {
    columns.push_back({"P(in)", ""});
    columns.push_back({"cut", "", text::Align::left});
  }
  EstimateTable table(columns, options);
  for (const Standing* player : players) {
    table.begin_row();
    table.text(place_words(*player, official));
    table.text(player->player);
    if (!narrow) {
      table.text(std::to_string(official ? player->best->runs : player->runs_used));
    }
    if (heats) {
      table.text(std::to_string(player->heats));
    }
    if (official) {
      table.text(text::fixed(player->best->recorded_s, is_hand(player->best->timing_class) ? 1 : 2));
      table.text(text::fixed(player->best->time_s, 2));
    }
    if (values) {
      table.estimate(&player->value, decimals);
    }
    if (bars) {
      const double middle = std::clamp(player->expected_rank, player->rank_lo, player->rank_hi);
      table.text(interval_bar({{}, player->rank_lo, middle, player->rank_hi}, axis, options, line));
    }
    table.text(text::fixed(player->expected_rank, 1));
    if (tiers) {
      table.text(std::to_string(player->tier));
    }
    if (cut) {
      table.text(standings_probability(result, *player, 3));
      table.text(status_cell(*player));
    }
  }
  return {table.str(), table.legend(result.level)};
}

// What may be done about a tie across the line.
std::string how_to_part(const StandingsResult& result) {
  const bool tenths = is_hand(result.players.front().best->timing_class);
  return result.ties == jobs::Ties::as_read || !tenths
             ? std::string()
             : " Their readings to 0.01 s are kept beside (as read); they can be ordered by those, "
               "which the rule book does not.";
}

std::vector<std::string> ids_with(const std::vector<const Standing*>& players, CutStatus status) {
  std::vector<std::string> out;
  for (const Standing* player : players) {
    if (player->status == status) {
      out.push_back(player->player);
    }
  }
  return out;
}

}  // namespace

std::string standings_probability(const StandingsResult& result, const Standing& player, int decimals) {
  const jobs::StandingsGroup& group = result.groups[player.group];
  if (group.cut && *group.cut >= group.players) {
    return text::fixed(player.p_in_cut, decimals);  // there is room for all
  }
  return probability_cell(player.p_in_cut, decimals, result.draws,
                          result.method == StandingsMethod::best ? std::nullopt : std::optional(result.certainty));
}

std::string standings_flagged_words(const jobs::FlaggedRuns& player) {
  std::string out;
  for (const auto& [flag, count] : player.flagged) {
    out += (out.empty() ? "" : ", ") + std::to_string(count) + " " + std::string(runs::word_of(flag));
  }
  return out;
}

std::string standings_flagged_sentence(const StandingsResult& result) {
  return "valid: runs that count" + std::string(result.time ? " for this time" : "") +
         ". A flagged run counts for nothing here; whether it is owed again is for you to say.";
}

std::string standings_ties_sentence(const StandingsResult& result) {
  std::vector<std::string> parted;
  for (const Standing& player : result.players) {
    if (player.best && player.best->parted_as_read) {
      parted.push_back(player.player);
    }
  }
  if (result.method != StandingsMethod::best || result.ties != jobs::Ties::as_read || parted.empty()) {
    return {};
  }
  return "Not the rule book's order: " + text::joined(parted) +
         " have the official time of a neighbour and are placed by the times as read, to 0.01 s. "
         "Readings a few hundredths "
         "apart may well be the other way round.";
}

std::string standings_cut_sentence(const StandingsResult& result, const jobs::StandingsGroup& group,
                                   const std::vector<const Standing*>& players) {
  const std::vector<std::string> undecided = ids_with(players, CutStatus::undecided);
  const std::string in = std::to_string(ids_with(players, CutStatus::in).size());
  const std::string out = std::to_string(ids_with(players, CutStatus::out).size());
  if (result.method == StandingsMethod::best) {
    return "Cut at " + std::to_string(*group.cut) + " by official times: " + in + " in, " + out + " out" +
           (undecided.empty() ? "."
                              : ", tied across the line: " + text::joined(undecided) + "." + how_to_part(result)) +
           " P(in) says how likely each is among the first " + std::to_string(*group.cut) +
           " by ability, of which a single best time tells little.";
  }
  return "Cut at " + std::to_string(*group.cut) + ": " + in + " surely in, " + out + " surely out (" +
         text::percent(result.certainty) + ")" +
         (undecided.empty() ? ", nobody undecided."
                            : ", " + std::to_string(undecided.size()) + " undecided: " + text::joined(undecided) + ".");
}

namespace {

std::string rule_words(timing::TimingClass timing_class) {
  return is_hand(timing_class)
             ? "hand times as the rule book records them (several watches: the middle one or the longer; up to the "
               "next tenth)"
             : "timed " + std::string(timing::timing_class_name(timing_class)) + ", up to the next hundredth";
}

std::string how_to_read(const StandingsResult& result, bool cut) {
  std::string out;
  if (result.age_adjusted) {
    out +=
        "SD: how far better than usual at that age and sex, in SDs between children, by the published tables behind "
        "the "
        "priors. ";
  }
  if (result.method == StandingsMethod::best) {
    out += std::string("official: the best of the runs, ") + rule_words(result.players.front().best->timing_class) +
           (result.ties == jobs::Ties::as_read
                ? "; equal ones in the order of the times as read, which is not the rule book's. "
                : "; equal ones share a place. ") +
           "value and rank: the time to expect of this player, and the place it is worth.";
  } else {
    out += "rank: the place to expect; a bar holds the true place with a chance of " + text::percent(result.level) +
           ". tier: a new one begins where its first is behind the first of the tier before with a chance of " +
           text::percent(result.certainty) + ".";
  }
  if (cut) {
    out += " P(in): chance of a place within the cut";
    out += result.method == StandingsMethod::best ? "." : "; in and out from " + text::percent(result.certainty) + ".";
  }
  return out;
}

std::string order_part(const StandingsResult& result, const text::TextOptions& options) {
  std::string out;
  const bool cut =
      std::any_of(result.groups.begin(), result.groups.end(), [](const auto& g) { return g.cut.has_value(); });
  std::string legend;
  for (std::size_t g = 0; g < result.groups.size(); ++g) {
    const jobs::StandingsGroup& group = result.groups[g];
    std::vector<const Standing*> players;
    for (const Standing& player : result.players) {
      if (player.group == g) {
        players.push_back(&player);
      }
    }
    if (players.empty()) {
      continue;
    }
    const GroupTable made = group_table(result, players, group.cut, options);
    out +=
        "\n" + text::heading(group.name.empty() ? std::string("The order") : "Age " + group.name, options) + made.table;
    legend = made.legend.size() > legend.size() ? made.legend : legend;
    if (group.cut) {
      out += text::paragraph(standings_cut_sentence(result, group, players), options.width);
      for (const Standing* player : players) {
        if (player->hangs_on) {
          out += text::paragraph("Player " + player->player + " would be surely " + player->hangs_on->what +
                                     ", but that hangs on " + jobs::place_of(*player->hangs_on) +
                                     ": one more run settles it.",
                                 options.width);
        }
      }
    }
  }
  if (const std::string ties = standings_ties_sentence(result); !ties.empty()) {
    out += text::paragraph(ties, options.width);
  }
  return out + "\n" + legend + text::paragraph(how_to_read(result, cut), options.width);
}

std::string index_part(const StandingsResult& result, const text::TextOptions& options) {
  if (result.index.empty()) {
    return {};
  }
  std::string out = "\n" + text::heading("The index", options);
  for (const jobs::IndexScale& part : result.index) {
    out += text::paragraph(part.name + ": weight " + text::shortest(part.weight) +
                               (result.age_adjusted ? ""
                                                    : ", mean " + text::fixed(part.mean, 2) +
                                                          ", SD between these players " + text::fixed(part.sd, 2)) +
                               ".",
                           options.width, "- ");
  }
  return out + text::paragraph(std::string("Each part counts in SDs") +
                                   (result.age_adjusted ? " for its age and sex" : " from the mean of these players") +
                                   ", the better the higher; the index is their weighted mean.",
                               options.width);
}

}  // namespace

std::string nobody_again_words(const jobs::StandingsResult& result) {
  return !result.worth                                ? "There is no line to decide."
         : result.heats && result.next_runs_asked < 2 ? "A heat needs two children: ask for two runs or more."
                                                      : "No further run would change who is in.";
}

std::vector<std::string> next_heats_sentences(std::span<const std::vector<std::string>> heats, std::uint64_t seed) {
  std::vector<std::string> out;
  for (std::size_t k = 0; k < heats.size(); ++k) {
    out.push_back("Heat " + std::to_string(k + 1) + ": " + text::joined(heats[k]) + ".");
  }
  out.push_back("Drawn by lot (seed " + std::to_string(seed) +
                ") among those whose place is open. Every heat is a sprint: no more than " +
                std::to_string(safety::most_sprints_an_evening) + " each in an evening.");
  return out;
}

std::string standings_worth_words(const jobs::RunsWorth& worth, std::size_t given) {
  const std::string these = given == 1 ? "this run" : "these " + std::to_string(given) + " runs";
  std::string out = "Players to expect on the wrong side of the line: " + text::fixed(worth.now, 2) + " now, " +
                    text::fixed(worth.after, 2) + " after " + these + " on the same day, " +
                    text::fixed(worth.after_another_day, 2) + " after as many on another day.";
  const auto settles_little = [&](double after) { return after > (1.0 - least_gain) * worth.now; };
  if (settles_little(worth.after)) {
    out +=
        settles_little(worth.after_another_day)
            ? " They would settle next to nothing: too few beside the runs there are."
            : " On the same day they would settle next to nothing: the doubt is in the day's form and in the timers.";
  }
  return out;
}

namespace {

std::string next_part(const StandingsResult& result, const text::TextOptions& options) {
  if (result.next_runs_asked == 0) {
    return {};
  }
  std::string out = "\n" + text::heading("Who should run again", options);
  if (!result.first_run.empty()) {
    out += text::paragraph("First of all those without a run that counts: " + text::joined(result.first_run) + ".",
                           options.width);
  }
  if (result.next_runs.empty()) {
    return out + text::paragraph(nobody_again_words(result), options.width);
  }
  text::TextTable table({{"player", "", text::Align::left}, {"runs", ""}, {"over", "", text::Align::left}});
  std::size_t given = 0;
  for (const jobs::MoreRuns& more : result.next_runs) {
    table.add_row({more.player, std::to_string(more.runs), more.course});
    given += more.runs;
  }
  out += result.next_heats.empty() ? table.str(options)
                                   : text::listed(next_heats_sentences(result.next_heats, result.seed), options.width);
  out += text::paragraph(standings_worth_words(*result.worth, given), options.width);
  out += text::paragraph("Nobody gets more than " + std::to_string(result.most_each) +
                             ": rest between runs; tired legs tell little and hurt easily.",
                         options.width);
  return out;
}

std::string flagged_part(const StandingsResult& result, const text::TextOptions& options) {
  if (result.flagged.empty()) {
    return {};
  }
  text::TextTable table(
      {{"player", "", text::Align::left}, {"valid", "runs"}, {"flagged", "", text::Align::left, true}});
  for (const jobs::FlaggedRuns& player : result.flagged) {
    table.add_row({player.player, std::to_string(player.valid_runs), standings_flagged_words(player)});
  }
  return "\n" + text::heading("Flagged runs: is another owed?", options) + table.str(options) +
         text::paragraph(standings_flagged_sentence(result), options.width);
}

std::string not_ranked_part(const StandingsResult& result, const text::TextOptions& options) {
  std::map<std::string, std::vector<std::string>> by_reason;
  for (const jobs::NotRanked& player : result.not_ranked) {
    by_reason[player.why].push_back(player.player);
  }
  std::string out;
  for (const auto& [why, players] : by_reason) {
    out += text::paragraph(text::joined(players) + ": " + why + ".", options.width, "- ");
  }
  return out.empty() ? out : "\n" + text::heading("Not in the order", options) + out;
}

}  // namespace

std::string standings_text(const StandingsResult& result, const text::TextOptions& options) {
  std::string out = text::paragraph(title(result), options.width);
  if (result.heats) {
    out += text::paragraph(heats_words(result), options.width);
  }
  if (result.age_on) {
    out += text::paragraph("Ages in whole years on " + runs::format_date(*result.age_on) + ".", options.width);
  }
  out += suspected_part(result.suspected.surely, options);
  if (!result.players.empty()) {
    out += order_part(result, options);
    out += text::paragraph("From " + std::to_string(result.draws) + " simulated days, seed " +
                               std::to_string(result.seed) + ": a chance is good to " +
                               text::fixed(1.0 / std::sqrt(static_cast<double>(result.draws)), 2) +
                               ". What a watch does to all alike moves nobody past anybody.",
                           options.width);
  }
  out += index_part(result, options);
  out += not_ranked_part(result, options);
  out += flagged_part(result, options);
  out += next_part(result, options);
  if (!result.notes.empty()) {
    out += "\n" + text::heading("What these runs cannot tell", options);
    out += text::listed(result.notes, options.width);
  }
  out += "\n";
  for (const std::string& caution : result.cautions) {
    out += text::paragraph(caution, options.width);
  }
  return out;
}

}  // namespace bagsplit::present
