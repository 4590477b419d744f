#include <algorithm>
#include <map>

#include "bagsplit/present/chart/tiers.hpp"
#include "bagsplit/present/detail/squad_answer.hpp"
#include "bagsplit/present/detail/standings_words.hpp"
#include "bagsplit/present/page/detail/report_parts.hpp"
#include "bagsplit/present/profile_parts.hpp"
#include "bagsplit/text/number_text.hpp"
#include "bagsplit/text/wording.hpp"

namespace bagsplit::present {

using jobs::Standing;
using jobs::StandingsResult;

namespace {

bool is_plain(const StandingsResult& result) {
  return result.index.empty() && !result.age_adjusted;
}

std::string unit_words(const StandingsResult& result) {
  if (!is_plain(result)) {
    return "SDs; further right is better";
  }
  const std::string unit(unit_of(result.by.front().quantity));
  return (unit.empty() ? "" : unit + "; ") +
         (result.lower_is_better ? "further left is better" : "further right is better");
}

// The players cut into charts of a page each, on one axis.
text::Markup charts_of(const Report& report, const std::vector<const Standing*>& players,
                       std::optional<std::size_t> cut, const std::string& title, Page& page) {
  const StandingsResult& result = *report.standings;
  std::vector<chart::TierChart::Row> rows;
  std::vector<chart::IntervalRow> all;
  for (const Standing* player : players) {
    rows.push_back({chart::interval_row(shown_name(report, player->player), player->value, standings_decimals(result)),
                    player->tier - 1, player->tier - 1});
    all.push_back(rows.back().interval);
  }
  text::Markup out;
  for (std::size_t from = 0; from < rows.size(); from += rows_a_chart) {
    const std::size_t to = std::min(rows.size(), from + rows_a_chart);
    chart::TierChart drawn;
    drawn.rows.assign(rows.begin() + static_cast<std::ptrdiff_t>(from), rows.begin() + static_cast<std::ptrdiff_t>(to));
    drawn.unit = unit_words(result);
    drawn.values = chart::shared_axis(all);
    if (cut && *cut > from && *cut <= to && *cut < rows.size()) {
      drawn.cut_after = *cut - from;
    }
    const std::string part =
        rows.size() > rows_a_chart ? ", places " + std::to_string(from + 1) + " to " + std::to_string(to) : "";
    out += chart::tiers(page.caption(title + part,
                                     "A dot and a bar for each player, best first; brackets at the left hold players "
                                     "of one tier; a broken line is the cut. The numbers are in the table below."),
                        drawn);
  }
  return out;
}

HtmlTable table_of(const Report& report, const std::vector<const Standing*>& players, bool cut) {
  const StandingsResult& result = *report.standings;
  std::vector<HtmlTable::Column> columns{
      {"player", ""},         {"place", ""},
      {"runs", ""},           {"value", is_plain(result) ? std::string(unit_of(result.by.front().quantity)) : "SD"},
      {"expected place", ""}, {"tier", ""}};
  if (cut) {
    columns.push_back({"P(in) and cut", "", true});
  }
  HtmlTable table(columns);
  for (const Standing* player : players) {
    table.begin_row(text::isolated(shown_name(report, player->player)));
    table.count(player->place);
    table.count(player->runs_used);
    table.estimate(&player->value, standings_decimals(result));
    table.interval(player->expected_rank, player->rank_lo, player->rank_hi, 1);
    table.count(player->tier);
    if (cut) {
      text::Markup cell = player->p_in_cut ? text::element("data", {{"value", text::shortest(*player->p_in_cut)}},
                                                           standings_probability(result, *player, 2))
                                           : text::Markup(text::absent);
      cell += player->status ? " " + std::string(word_of(*player->status)) : std::string();
      table.text(cell);
    }
  }
  return table;
}

text::Markup group_part(const Report& report, std::size_t index, Page& page) {
  const StandingsResult& result = *report.standings;
  const jobs::StandingsGroup& group = result.groups[index];
  std::vector<const Standing*> players;
  for (const Standing& player : result.players) {
    if (player.group == index) {
      players.push_back(&player);
    }
  }
  if (players.empty()) {
    return {};
  }
  const std::string name = group.name.empty() ? "The order" : "Age " + group.name;
  Figure order;
  order.title = name + " and its tiers";
  order.chart = charts_of(report, players, group.cut, order.title, page);
  order.says = text::counted(players.back()->tier, "tier") +
               ": a bracket holds players who cannot be told from the best of them.";
  if (group.sure_pairs && players.size() > 1) {
    const std::size_t pairs = players.size() * (players.size() - 1) / 2;
    order.says += " Compared all together, " + std::to_string(*group.sure_pairs) + " of " +
                  text::counted(pairs, "pair") + " of players " + (*group.sure_pairs == 1 ? "is" : "are") +
                  " surely in this order (" + text::percent(result.certainty) + " or more).";
  }
  order.cannot =
      "an order within a tier: more runs could turn it round. The bars hold what a timer does to all alike, so players "
      "whose bars overlap may still be "
      "surely in order; the places and tiers count that out.";
  const HtmlTable table = table_of(report, players, group.cut.has_value());
  std::vector<std::string> legend = table.legend();
  legend.insert(legend.begin(), "value: the median, with its " + text::percent(result.level) +
                                    " interval. expected place: mean over all orders that the runs allow, with the "
                                    "places that are possible. in and out from a probability of " +
                                    text::percent(result.certainty) + ".");
  const text::Markup summary =
      group.cut ? text::element("p", {{"class", "first"}}, standings_cut_sentence(result, group, players))
                : text::Markup();
  return section(name, summary + text::element("div", {{"class", "wide"}}, figure(order, 3)) +
                           heading_at(3, "Numbers of " + name) + table.str("Numbers of " + name) +
                           paragraphs(legend, "small"));
}

text::Markup next_part(const Report& report) {
  const StandingsResult& result = *report.standings;
  std::vector<std::string> first;
  for (const std::string& id : result.first_run) {
    first.push_back(shown_name(report, id));
  }
  text::Markup out;
  if (!first.empty()) {
    out += text::element("p", "First of all those without a run that counts: " + text::joined(first) + ".");
  }
  if (result.next_runs_asked == 0) {
    return out;
  }
  if (result.next_runs.empty() || !result.worth) {
    return out + text::element("p", nobody_again_words(result));
  }
  HtmlTable table({{"player", ""}, {"further runs", ""}, {"over", "", true}});
  std::size_t given = 0;
  for (const jobs::MoreRuns& more : result.next_runs) {
    given += more.runs;
    table.begin_row(text::isolated(shown_name(report, more.player)));
    table.count(more.runs);
    table.text(more.course);
  }
  std::vector<std::vector<std::string>> heats = result.next_heats;
  for (std::vector<std::string>& heat : heats) {
    for (std::string& id : heat) {
      id = shown_name(report, id);
    }
  }
  return out + (heats.empty() ? table.str("Who should run again") : bullets(next_heats_sentences(heats, result.seed))) +
         text::element("p", standings_worth_words(*result.worth, given)) +
         text::element("p", "Nobody gets more than " + std::to_string(result.most_each) +
                                ": rest between runs; tired legs tell little and hurt easily.");
}

text::Markup flagged_runs_part(const Report& report) {
  const StandingsResult& result = *report.standings;
  if (result.flagged.empty()) {
    return {};
  }
  HtmlTable table({{"player", ""}, {"valid runs", ""}, {"flagged", "", true}});
  for (const jobs::FlaggedRuns& player : result.flagged) {
    table.begin_row(text::isolated(shown_name(report, player.player)));
    table.count(player.valid_runs);
    table.text(standings_flagged_words(player));
  }
  return table.str("Flagged runs") + text::element("p", standings_flagged_sentence(result));
}

text::Markup not_ranked_part(const Report& report) {
  std::map<std::string, std::vector<std::string>> by_reason;
  for (const jobs::NotRanked& player : report.standings->not_ranked) {
    by_reason[player.why].push_back(shown_name(report, player.player));
  }
  std::vector<std::string> sentences;
  sentences.reserve(by_reason.size());
  for (const auto& [why, players] : by_reason) {
    sentences.push_back(text::joined(players) + ": " + why + ".");
  }
  return bullets(sentences);
}

}  // namespace

text::Markup evaluation_page(const Report& report, Page& page) {
  const StandingsResult& result = *report.standings;
  jobs::PlayerProfile days;
  days.first_date = result.first_date;
  days.last_date = result.last_date;
  const bool one_day = result.first_date == result.last_date;
  const std::string span = report.disguise ? span_words({days}) : days_words({days});
  text::Markup out =
      heading_at(1, (one_day ? "Evaluation day" : "Evaluation days") + (span.empty() ? "" : ", " + span));
  if (result.players.empty()) {
    out += text::element("p", {{"class", "first"}}, "Nobody can be put in an order by these runs.");
  } else {
    out += text::element(
        "p", {{"class", "lead"}},
        text::counted(result.players.size(), "player") + ", " + text::counted(result.runs_used, "run") +
            (one_day ? " of this day alone" : "") + ", ordered by " + standings_by_words(result) +
            (result.method == jobs::StandingsMethod::best ? " (official best)" : "") + "." +
            (result.runs_left_out > 0
                 ? " " + text::counted(result.runs_left_out, "run") + " left out: flagged, or of other days or drills."
                 : ""));
  }
  if (const std::string ties = standings_ties_sentence(result); !ties.empty()) {
    out += text::element("p", {{"class", "cannot"}}, ties);
  }
  for (std::size_t group = 0; group < result.groups.size(); ++group) {
    out += group_part(report, group, page);
  }
  out += section("Who should run again", next_part(report));
  out += section("Flagged runs: is another owed?", flagged_runs_part(report));
  out += section("Not in the order", not_ranked_part(report));
  return out + section("What this order cannot tell", bullets(result.notes));
}

}  // namespace bagsplit::present
