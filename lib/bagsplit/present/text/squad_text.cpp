#include <algorithm>
#include <cmath>

#include "bagsplit/inference/squad/squad_settled.hpp"
#include "bagsplit/present/detail/squad_parts.hpp"
#include "bagsplit/present/profile_parts.hpp"
#include "bagsplit/present/profile_quantities.hpp"
#include "bagsplit/present/text/estimate_table.hpp"
#include "bagsplit/present/text/interval_plot.hpp"
#include "bagsplit/present/text/profile_text.hpp"
#include "bagsplit/text/number_text.hpp"
#include "bagsplit/text/text_table.hpp"
#include "bagsplit/text/text_width.hpp"
#include "bagsplit/text/wording.hpp"

namespace bagsplit::present {

namespace {

using jobs::Estimate;
using jobs::PlayerProfile;

constexpr std::size_t most_bars = 40;  // more bars than a page holds tell nobody anything

std::string running_part(const jobs::ProfileResult& result, const Headline& first, const text::TextOptions& options) {
  EstimateTable table({{"player", "", text::Align::left},
                       {"age", "yr"},
                       {"runs", ""},
                       {"reaction", "s"},
                       {"first accel.", "m/s2"},
                       {"top speed", "m/s"},
                       {first.heading, "s"}},
                      options);
  for (const PlayerProfile& player : result.players) {
    table.begin_row();
    table.text(player.player);
    table.text(text::fixed(player.age_years, 1));
    table.text(std::to_string(player.runs_used));
    table.estimate(pointer(player.reaction_s), 2, player.reaction_holds_timer_bias);
    table.estimate(pointer(first_acceleration(result, player)), 1);
    table.estimate(pointer(player.top_speed_mps), 2);
    table.estimate(find_estimate(player.predicted_time_s, first.key), 2);
  }
  return "\n" + text::heading("Running", options) + table.str() +
         text::paragraph(first.heading + ": " + first.words + ".", options.width) + table.legend(result.level);
}

std::string plot_part(const jobs::ProfileResult& result, const Headline& first, const text::TextOptions& options) {
  std::vector<PlottedInterval> bars;
  for (const PlayerProfile& player : result.players) {
    if (const Estimate* time = find_estimate(player.predicted_time_s, first.key)) {
      bars.push_back({player.player, time->lo, std::clamp(time->median, time->lo, time->hi), time->hi,
                      text::fixed(time->median, 2)});
    }
  }
  if (bars.size() < 2 || bars.size() > most_bars) {
    return {};
  }
  std::stable_sort(bars.begin(), bars.end(), [](const auto& a, const auto& b) { return a.middle < b.middle; });
  return "\n" +
         text::paragraph(
             "Fastest first, " + first.words + ", with " + text::percent(result.level) +
                 " intervals. The bars hold what a timer does to all alike, so players whose bars overlap may "
                 "still be surely in this "
                 "order: bagsplit standings compares them all together.",
             options.width) +
         interval_plot(bars, "s", options);
}

std::string loss_part(const jobs::ProfileResult& result, const text::TextOptions& options) {
  std::vector<std::string> keys(std::begin(circuit_segments), std::end(circuit_segments));
  for (const PlayerProfile& player : result.players) {
    for (const jobs::NamedEstimate& loss : player.segment_loss_s) {
      add_once(keys, loss.name);
    }
  }
  std::vector<text::TextTable::Column> columns{{"player", "", text::Align::left}};
  for (const std::string& key : keys) {
    columns.push_back({key, "s"});
  }
  EstimateTable table(columns, options);
  for (const PlayerProfile& player : result.players) {
    if (!player.segment_loss_s.empty()) {
      table.begin_row();
      table.text(player.player);
      for (const std::string& key : keys) {
        table.estimate(find_estimate(player.segment_loss_s, key), 2);
      }
    }
  }
  if (table.empty()) {
    return {};
  }
  return "\n" + text::heading("Time lost on the way to each bag", options) + table.str() +
         text::paragraph(
             "Against a straight sprint over the same distance. -stop: the run ends on the bag; -from-rest: it "
             "began at the bag before; -reverse: run by way of third.",
             options.width) +
         table.legend(result.level);
}

std::string best_path_part(const jobs::ProfileResult& result, const text::TextOptions& options) {
  EstimateTable table(
      {{"player", "", text::Align::left}, {"course", "", text::Align::left}, {"efficiency", ""}, {"loss", "s"}},
      options);
  const jobs::BestPathYardstick* any = nullptr;
  for (const PlayerProfile& player : result.players) {
    if (player.best_path) {
      any = &*player.best_path;
      table.begin_row();
      table.text(player.player);
      table.text(player.best_path->course);
      table.estimate(pointer(player.path_efficiency), 2);
      table.estimate(pointer(player.loss_to_best_path_s), 2);
    }
  }
  if (any == nullptr) {
    return {};
  }
  return "\n" + text::heading("Against the best path for each one's own sprint", options) + table.str() +
         text::paragraph("efficiency: best time by own moving time. The best path is that for a turning limit of " +
                             text::fixed(any->lateral_mps2, 1) +
                             " m/s2, assumed for all and measured on no child: compare players, or one "
                             "player over time; who turns harder can be above 1. bagsplit path shows the path.",
                         options.width) +
         table.legend(result.level);
}

// Adds the references used.
std::string percentile_part(const jobs::ProfileResult& result, const norms::Catalogue& references,
                            std::vector<std::string>& used, const text::TextOptions& options) {
  text::TextTable table({{"player", "", text::Align::left},
                         {"over", "", text::Align::left},
                         {"percentile", ""},
                         {text::percent(result.level) + " interval", ""},
                         {"among", "", text::Align::left, true}});
  std::string in_words;
  Grouped without;
  for (const PlayerProfile& player : result.players) {
    const jobs::ProfilePercentile* shown = shown_percentile(player, references);
    if (shown == nullptr) {
      if (!player.percentiles.empty()) {
        without.add(player.percentiles.front().why, player.player);
      }
      continue;
    }
    add_once(used, shown->source);
    if (shown->percentile) {
      const Estimate& p = *shown->percentile;
      table.add_row({player.player, shown->quantity, text::fixed(p.median, 0),
                     text::fixed(p.lo, 0) + " to " + text::fixed(p.hi, 0), shown->label});
    } else {
      in_words += text::paragraph(band_words(*shown) + ". This reference allows only words.", options.width,
                                  text::one_line(player.player) + ": ");
    }
  }
  if (table.empty() && in_words.empty() && without.groups().empty()) {
    return {};
  }
  std::string out = "\n" + text::heading("Among children of the same age and sex", options);
  if (!table.empty()) {
    out += table.str(options);
    out += text::paragraph(
        "100 is the fastest; 60 means faster than 60 of 100. Measured as that reference was: its "
        "distance, its start, its clock.",
        options.width);
  }
  out += in_words;
  for (const Grouped::Group& group : without.groups()) {
    out += text::paragraph("No percentile for " + text::joined(group.players) + ": " + group.sentence, options.width);
  }
  return out;
}

std::string work_part(const jobs::ProfileResult& result, const text::TextOptions& options) {
  std::string work;
  for (const PlayerProfile& player : result.players) {
    for (const jobs::WorkOn& one : player.work_on) {
      work += text::paragraph(one.text, options.width, text::one_line(player.player) + ": ");
    }
  }
  return work.empty() ? work : "\n" + text::heading("What to work on", options) + work;
}

std::string next_part(const jobs::ProfileResult& result, const text::TextOptions& options) {
  const std::vector<std::string> sentences = next_run_sentences(result);
  if (sentences.empty()) {
    return {};
  }
  std::string out = "\n" + text::heading("What another run would tell", options) +
                    text::paragraph("Values marked * become the player's own soonest with:", options.width);
  out += text::listed(sentences, options.width);
  return out;
}

std::string range(double lo, double hi, int digits) {
  return " (" + text::fixed(lo, digits) + " to " + text::fixed(hi, digits) + ")";
}

// What all players share: scatter, the squad against the norms, timers.
std::string shared_part(const jobs::ProfileResult& result, const text::TextOptions& options) {
  if (!result.squad) {
    return {};
  }
  const jobs::SquadSummary& squad = *result.squad;
  std::string out = "\n" + text::heading("What this squad shares", options) +
                    text::paragraph("Learnt from all runs together, with " + text::percent(result.level) +
                                        " intervals; each player's values lean on it." +
                                        (squad.players_fitted < squad.players
                                             ? " Learnt from " + text::counted(squad.players_fitted, "player") +
                                                   " of " + std::to_string(squad.players) + ", drawn with seed " +
                                                   std::to_string(squad.seed) + "."
                                             : ""),
                                    options.width);
  const auto percent_line = [&](const std::string& words, const Estimate& e) {
    out += text::paragraph(
        words + " " + text::fixed(100.0 * e.median, 1) + "%" + range(100.0 * e.lo, 100.0 * e.hi, 1) + ".",
        options.width, "- ");
  };
  percent_line("From run to run a child's time varies by", squad.effort_cv);
  percent_line("From day to day by", squad.day_cv);
  out += text::paragraph("A child's reaction varies by " + text::fixed(squad.reaction_sd_s.median, 3) + " s" +
                             range(squad.reaction_sd_s.lo, squad.reaction_sd_s.hi, 3) + " from call to call.",
                         options.width, "- ");
  percent_line(squad.ages_unknown ? "Top speed against the mean over the ages 6 to 18, since most ages are not known:"
                                  : "Top speed against what is usual at their age:",
               squad.top_speed_offset);
  text::TextTable clocks(
      {{"clock and start", "", text::Align::left}, {"reads", "s"}, {"between", "s", text::Align::left}});
  for (const jobs::SquadSummary::Shared& shared : squad.shared) {
    if (shared.kind == "bias" && shared.value.sd < 0.8 * shared.prior.sd) {
      clocks.add_row({shared.name, text::signed_fixed(shared.value.median, 2),
                      text::fixed(shared.value.lo, 2) + " and " + text::fixed(shared.value.hi, 2)});
    }
  }
  if (!clocks.empty()) {
    out +=
        text::paragraph("What the clocks read against the truth; below 0 is too fast:", options.width, "- ") +
        clocks.str(options) +
        text::paragraph("A line that begins with a name is what that timer adds to the line without.", options.width);
  }
  if (!squad.converged) {
    out += text::paragraph(std::string(inference::unsettled_squad), options.width, "- ");
  }
  return out;
}

std::string notes_part(const jobs::ProfileResult& result, const text::TextOptions& options) {
  const std::vector<std::string> sentences = note_sentences(result);
  if (sentences.empty()) {
    return {};
  }
  std::string out = "\n" + text::heading("What these runs cannot tell", options);
  out += text::listed(sentences, options.width);
  return out;
}

std::string suspected_in(const jobs::ProfileResult& result, const text::TextOptions& options) {
  std::vector<jobs::SuspectedReading> readings;
  for (const PlayerProfile& player : result.players) {
    readings.insert(readings.end(), player.suspected_readings.begin(), player.suspected_readings.end());
  }
  readings.insert(readings.end(), result.suspected_rows.begin(), result.suspected_rows.end());
  return suspected_part(readings, options);
}

}  // namespace

std::string squad_text(const jobs::ProfileResult& result, const norms::Catalogue& references,
                       const text::TextOptions& options) {
  std::string out = squad_grid(result, true, options);
  if (result.runs_left_out > 0) {
    out += text::paragraph("Left out: " + left_out_words(result.players) + ".", options.width);
  }
  if (result.players.empty()) {
    return out;
  }
  const Headline first = headline(result.players);
  std::vector<std::string> used;
  out += suspected_in(result, options);
  out += running_part(result, first, options);
  out += plot_part(result, first, options);
  out += loss_part(result, options);
  out += best_path_part(result, options);
  out += percentile_part(result, references, used, options);
  out += work_part(result, options);
  out += next_part(result, options);
  out += shared_part(result, options);
  out += notes_part(result, options);
  out += cautions_part(result, options);
  out += references_part(used, references, options);
  return out;
}

}  // namespace bagsplit::present
