#include <algorithm>

#include "bagsplit/jobs/profile/advice.hpp"
#include "bagsplit/present/detail/squad_answer.hpp"
#include "bagsplit/present/probability_text.hpp"
#include "bagsplit/present/profile_parts.hpp"
#include "bagsplit/present/profile_quantities.hpp"
#include "bagsplit/present/text/interval_plot.hpp"
#include "bagsplit/present/text/profile_text.hpp"
#include "bagsplit/runs/typed.hpp"
#include "bagsplit/safety/safety.hpp"
#include "bagsplit/text/number_text.hpp"
#include "bagsplit/text/text_table.hpp"
#include "bagsplit/text/text_width.hpp"

namespace bagsplit::present {

namespace {

using jobs::PlayerProfile;

std::string who(const PlayerProfile& player) {
  std::string text = "Player " + text::one_line(player.player);
  if (player.sex) {
    text += ", " + sex_word(player.sex);
  }
  if (player.age_years) {
    text += ", " + text::fixed(*player.age_years, 1) + " years";
  }
  return text;
}

// Empty for a player without a run in the last week of the log.
std::string sprints_words(const jobs::ProfileResult& result, const PlayerProfile& player) {
  const jobs::Sprints& sprints = player.sprints;
  return sprints.week == 0 || !result.last_evening
             ? ""
             : " Sprints: " + std::to_string(sprints.last_evening) + " on " + runs::format_date(*result.last_evening) +
                   ", " + std::to_string(sprints.week) + " in the seven days to it; " +
                   std::to_string(safety::most_sprints_an_evening) + " an evening is the most.";
}

// Groups of quantities, each a table of its own, so that the names stay short.
struct FamilyTable {
  std::string_view family;  // key before the point; empty: the single quantities
  std::string_view heading;
};
constexpr FamilyTable family_tables[] = {
    {"", ""},
    {"predicted_time_s", "Straight, standing, from first move, without losses"},
    {"segment_loss_s", "Time lost on the way to each bag, against a straight sprint of the same length"},
    {"loss_to_best_path_by_segment_s", "Of that, beyond what the best path for this sprint loses"},
    {"course_time_s", "Moving time over whole courses, from first move, losses included"},
    {"straight_efficiency_by_course", "Straight efficiency: straight time of the same length by moving time"},
    {"posture_cost_s", "What a start costs against a standing one"},
};

text::TextTable group_table(const PlayerProfile& player, const FamilyTable& group) {
  text::TextTable table({{"", "", text::Align::left},
                         {"median", ""},
                         {"from", ""},
                         {"to", ""},
                         {"", "", text::Align::left},
                         {"SD", ""},
                         {"own runs tell", ""}});
  for (const Quantity& quantity : quantities(player)) {
    if (!quantity.value || quantity.name.family != group.family) {
      continue;
    }
    const jobs::Estimate& e = *quantity.value;
    const int decimals = quantity.name.decimals;
    std::string share(text::absent);
    if (e.share_from_data) {
      share = *e.share_from_data <= 0.0 ? "nothing" : text::fixed(100.0 * *e.share_from_data, 0) + "%";
    }
    table.add_row({quantity.name.member, text::fixed(e.median, decimals), text::fixed(e.lo, decimals),
                   text::fixed(e.hi, decimals), quantity.name.unit, text::fixed(e.sd, decimals),
                   share + (mostly_prior(e) ? "*" : " ")});
  }
  return table;
}

std::string losses_plot(const PlayerProfile& player, const text::TextOptions& options) {
  std::vector<PlottedInterval> bars;
  for (const jobs::NamedEstimate& loss : player.segment_loss_s) {
    bars.push_back({loss.name, loss.value.lo, std::clamp(loss.value.median, loss.value.lo, loss.value.hi),
                    loss.value.hi, text::fixed(loss.value.median, 2)});
  }
  return bars.size() < 2 ? std::string() : "\n" + interval_plot(bars, "s", options, 0.0);
}

std::string values_part(const PlayerProfile& player, double level, const text::TextOptions& options) {
  std::string out;
  for (const FamilyTable& group : family_tables) {
    const text::TextTable table = group_table(player, group);
    if (table.empty()) {
      continue;
    }
    out += "\n" + (group.heading.empty() ? std::string() : text::paragraph(group.heading, options.width));
    out += table.str(options);
    if (group.family == "segment_loss_s") {
      out += losses_plot(player, options);
    }
  }
  if (out.empty()) {
    return out;
  }
  return out + "\n" +
         text::paragraph(
             "from, to: " + text::percent(level) +
                 " interval. own runs tell: how much of a value comes from this player's runs rather than from "
                 "what is usual at this age and in this squad. * marks what is mostly the others'.",
             options.width);
}

std::string best_path_part(const PlayerProfile& player, const text::TextOptions& options) {
  if (!player.best_path || player.best_path->loss_at.size() != 2) {
    return {};
  }
  const jobs::BestPathYardstick& best = *player.best_path;
  const auto at = [&](std::size_t k) {
    return text::fixed(best.loss_at[k].loss_mean_s, 2) + " s at " + text::fixed(best.loss_at[k].lateral_mps2, 1);
  };
  return "\n" +
         text::paragraph("Best path: " + best.course + ", for a turning limit of " + text::fixed(best.lateral_mps2, 1) +
                             " and a braking limit of " + text::fixed(best.braking_mps2, 1) +
                             " m/s2, the same for all. Nobody has measured them on children: the loss to it would be " +
                             at(0) + " and " + at(1) +
                             " m/s2 (below 0: this runner turns harder than that). bagsplit path shows the path.",
                         options.width);
}

std::string percentiles_part(const PlayerProfile& player, double level, const text::TextOptions& options) {
  if (player.percentiles.empty()) {
    return {};
  }
  std::string out = "\nAmong others of the same age and sex (100 is the fastest)\n";
  for (const jobs::ProfilePercentile& p : player.percentiles) {
    std::string text = p.quantity + ": ";
    if (p.percentile) {
      text += "percentile " + text::fixed(p.percentile->median, 0) + " (" + text::percent(level) + " interval " +
              text::fixed(p.percentile->lo, 0) + " to " + text::fixed(p.percentile->hi, 0) + "), ";
    } else if (p.band) {
      text += band_words(p) + ", ";
    }
    if (p.time_s) {
      text += "for the " + text::fixed(p.time_s->median, 2) + " s this player would take there. ";
    }
    if (p.share_at_limit >= 0.05) {
      text +=
          "It is beyond what the reference can say with a chance of " + probability_words(p.share_at_limit, 2) + ". ";
    }
    out += text::paragraph(text + p.why, options.width, "- ");
  }
  return out;
}

std::string sentences_part(const PlayerProfile& player, const text::TextOptions& options) {
  std::string out;
  const auto part = [&](const char* title, const std::vector<std::string>& sentences) {
    if (sentences.empty()) {
      return;
    }
    out.append("\n").append(title).append("\n");
    out += text::listed(sentences, options.width);
  };
  std::vector<std::string> work;
  for (const jobs::WorkOn& one : player.work_on) {
    work.push_back(one.text + " Drill: " + one.drill + ". " + one.how + " " + dose_words(one));
  }
  if (work.empty() && player.runs_used > 0) {
    work.push_back(std::string("N") + (jobs::nothing_to_work_on + 1) + ".");
  }
  part("What to work on", work);
  std::vector<std::string> next_runs;
  for (const jobs::NextRun& next : player.next_runs) {
    const QuantityName name = quantity_name(next.quantity);
    next_runs.push_back(name.label + ": " + next.run + " would bring its SD from " + text::fixed(next.sd_now, 3) +
                        " to about " + text::fixed(next.sd_expected, 3) + (name.unit.empty() ? "" : " " + name.unit) +
                        ".");
  }
  part("What another run would tell", next_runs);
  part("What these runs cannot tell", player.notes);
  if (!player.prior_source.empty()) {
    out += "\n" + text::paragraph("What is usual at this age: " + player.prior_source, options.width);
  }
  return out;
}

}  // namespace

std::string player_text(const jobs::ProfileResult& result, const norms::Catalogue& references,
                        const text::TextOptions& options) {
  std::string out;
  std::vector<std::string> used;
  for (const PlayerProfile& player : result.players) {
    for (const jobs::ProfilePercentile& percentile : player.percentiles) {
      add_once(used, percentile.source);
    }
    out += (out.empty() ? "" : "\n") + text::heading(text::shortened(who(player), options.width), options);
    const std::string span = span_words({player});
    out += text::paragraph(text::counted(player.runs_used, "run") + " with " +
                               text::counted(player.readings_used, "reading") + " on " +
                               text::counted(player.dates, "date") + (span.empty() ? "" : ", " + span) +
                               (player.runs_left_out > 0 ? "; left out: " + left_out_words({player}) : "") + "." +
                               sprints_words(result, player),
                           options.width);
    std::vector<std::string> suspected;
    for (const jobs::SuspectedReading& reading : player.suspected_readings) {
      suspected.push_back(jobs::sentence(reading));
    }
    out += suspected.empty() ? std::string() : "\n" + text::listed(suspected, options.width);
    out += values_part(player, result.level, options);
    out += best_path_part(player, options);
    out += percentiles_part(player, result.level, options);
    out += sentences_part(player, options);
  }
  return out + cautions_part(result, options) + references_part(used, references, options);
}

}  // namespace bagsplit::present
