// What must be said with a trend: conditions, and what the runs cannot tell.
#include <algorithm>
#include <cmath>

#include "bagsplit/jobs/circumstances.hpp"
#include "bagsplit/jobs/trend/detail/trend_job.hpp"
#include "bagsplit/text/number_chars.hpp"

namespace bagsplit::jobs::detail {

namespace {

constexpr double matters_share =
    0.3;                            // an unknown bias matters when its SD is this large beside a player's own error...
constexpr double told_share = 0.7;  // ...and counts as told when its SD falls to this share of what it was

}  // namespace

std::optional<stats::SharedEstimate> TrendJob::shared_at(int column) const {
  return column >= 0 && static_cast<std::size_t>(column) < plain_.shared.size()
             ? plain_.shared[static_cast<std::size_t>(column)]
             : std::nullopt;
}

bool TrendJob::matters(runs::NameId surface) const {
  return std::any_of(data_.runs.begin(), data_.runs.end(), [&](const TrendRun& run) {
    return run.surface == surface && (options_.slope || window_of(run.date) != middle);
  });
}

void TrendJob::say_conditions() {
  TrendCondition surface{.condition = "surface", .status = ConditionStatus::same, .words = "", .effects = {}};
  std::map<runs::NameId, std::size_t> counts;
  for (const TrendRun& run : data_.runs) {
    ++counts[run.surface];
  }
  std::vector<std::string> confounded;
  for (const auto& [id, count] : counts) {
    ConditionEffect effect{surface_name(id), count, std::nullopt, std::nullopt};
    const auto column = surface_column_.find(id);
    if (counts.size() > 1 && column != surface_column_.end()) {
      if (column->second < 0) {
        effect.effect_s = effect.se_s = 0.0;
      } else if (const auto told = shared_at(column->second)) {
        effect.effect_s = told->estimate;
        effect.se_s = told->se;
      } else if (usable(plain_.status) && matters(id)) {
        confounded.push_back(effect.level);
      }
    }
    surface.effects.push_back(std::move(effect));
  }
  if (counts.size() > 1) {
    surface.status = confounded.empty() ? ConditionStatus::adjusted : ConditionStatus::confounded;
    const auto taking_part =
        std::count_if(counts.begin(), counts.end(), [&](const auto& c) { return matters(c.first); });
    surface.words = taking_part < 2 ? "other surfaces only between the windows, where they do not matter"
                    : confounded.empty()
                        ? "surfaces differ; their difference is taken out"
                        : "runs on '" + joined(confounded) +
                              "' go with the date: what the ground does cannot be told from what the players do";
  }
  result_.conditions.push_back(std::move(surface));
  add_bias_condition(
      "device", data_.devices, first_device_, 1,
      "devices or ways of starting the clock differ between dates, and hardly anything tells them apart");
  add_bias_condition("timer", data_.timers, first_timer_, 0,
                     "different people timed at different dates, and hardly anything tells their habits apart");
  for (const TrendCondition& condition : result_.conditions) {
    if (condition.status == ConditionStatus::confounded) {
      std::string words = condition.words;
      words[0] = static_cast<char>(words[0] - 'a' + 'A');
      result_.notes.push_back(words + ".");
    }
  }
}

void TrendJob::add_bias_condition(const std::string& name, const std::vector<BiasColumn>& columns, int from,
                                  std::size_t direction, const std::string& when_confounded) {
  TrendCondition out{.condition = name, .status = ConditionStatus::same, .words = "", .effects = {}};
  for (std::size_t j = 0; j < columns.size(); ++j) {
    const auto told = columns.size() > 1 ? shared_at(from + static_cast<int>(j)) : std::nullopt;
    out.effects.push_back({columns[j].name, columns[j].runs, told ? std::optional(told->estimate) : std::nullopt,
                           told ? std::optional(told->se) : std::nullopt});
  }
  if (columns.size() > 1 && direction < plain_.directions.size()) {
    out.status = ConditionStatus::adjusted;
    const auto& told = plain_.directions[direction];
    const auto& known = plain_.direction_known_sd[direction];
    // Worth a word only where it matters beside a player's own error.
    if (told && known && told->se > told_share * *known && told->se > matters_share * typical_se()) {
      out.status = ConditionStatus::confounded;
      out.words = when_confounded + ": every change may be off by the same " +
                  text::plain_fixed(told->se, options_.slope ? 4 : 2) + (options_.slope ? " s a week" : " s") +
                  " (SD), which is in the intervals";
    } else {
      out.words = name == "timer" ? "timers differ; their habits are taken out as far as known"
                                  : "devices differ; their difference is taken out as far as known";
    }
  }
  result_.conditions.push_back(std::move(out));
}

double TrendJob::typical_se() const {
  double sum = 0.0;
  std::size_t count = 0;
  for (const PlayerTrend& player : result_.players) {
    if (player.change_s) {
      sum += player.change_s->se;
      ++count;
    }
  }
  return count > 0 ? sum / static_cast<double>(count) : 0.0;
}

// Winds are carried, not used: said where they could pass for change.
void TrendJob::say_winds() {
  std::array<double, 3> sum{};
  std::array<double, 3> count{};
  std::optional<WindRange> range;
  for (const TrendRun& run : data_.runs) {
    const double wind = static_cast<double>(run.wind_mps);
    if (std::isnan(wind)) {
      continue;
    }
    sum.at(window_of(run.date)) += wind;
    count.at(window_of(run.date)) += 1.0;
    add_wind(range, wind);
  }
  if (count[first] > 0.0 && count[last] > 0.0 &&
      std::fabs(sum[last] / count[last] - sum[first] / count[first]) >= winds_differ_mps) {
    result_.notes.push_back(
        "The wind was " + text::plain_fixed(sum[first] / count[first], 1) + " m/s in the first window and " +
        text::plain_fixed(sum[last] / count[last], 1) +
        " in the last (means, above 0 from behind). No time is corrected for it: what it did counts as change.");
  } else if (std::string words = wind_words(range); !words.empty()) {
    result_.notes.push_back(std::move(words));
  }
}

void TrendJob::add_notes() {
  if (!usable(plain_.status)) {
    return;
  }
  say_winds();
  const auto changed = static_cast<std::size_t>(std::count_if(
      result_.players.begin(), result_.players.end(), [](const PlayerTrend& p) { return p.change_s.has_value(); }));
  if (result_.residual_sd_given) {
    result_.notes.push_back(
        "Nobody ran twice under the same conditions, so the scatter of a run is taken from the model (" +
        text::plain_fixed(result_.residual_sd_s, 3) +
        " s): with two runs a player and date it would be this squad's own.");
  } else if (result_.day_sd_given) {
    result_.notes.push_back(
        data_.reaction
            ? "Too few evenings to tell how a child's reaction differs from day to day: it is taken as not at all, so "
              "the intervals "
              "are rather narrow. Two evenings or more in each window would tell it."
            : "Too few evenings to tell a player's form of the day from change: it is taken from the model (" +
                  text::plain_fixed(result_.day_sd_s, 3) + " s). Two evenings or more in each window would tell it.");
  }
  const std::vector<bool> is_shared = shared_sessions();
  const auto alone = static_cast<std::size_t>(std::count(is_shared.begin(), is_shared.end(), false));
  if (alone > 0 && alone < is_shared.size()) {
    result_.notes.push_back(counted(alone, "evening") +
                            " had one player only: what the evening did cannot be told from what the player did, so "
                            "such runs tell the scatter and hardly anything of a change.");
  }
  const bool one_evening =
      !options_.slope && result_.first && result_.last && result_.first->sessions == 1 && result_.last->sessions == 1;
  if (one_evening) {
    result_.notes.push_back(
        "One evening in each window: whatever was the same for all on it (wind, ground, how the watch was held) "
        "counts as change.");
  } else if (!result_.variance.session && changed > 0) {
    result_.notes.push_back("What an evening does to everybody alike cannot be told from change here.");
  }
  if (!result_.residual_sd_given && result_.residual_sd_s <= 1.0001 * data_.rounding_sd_s) {
    result_.notes.push_back(
        "The times of each player hardly differ: rounding hides their scatter, so that of rounding is used (" +
        text::plain_fixed(data_.rounding_sd_s, 4) + " s).");
  }
  if (changed == 1) {
    result_.notes.push_back(
        "One player only: nothing can be borrowed from a squad, so the shrunken change is the plain one.");
  }
  bool no_growth = false;
  for (const PlayerTrend& player : result_.players) {
    no_growth = no_growth || (player.change_s && !player.expected_growth_s);
  }
  if (no_growth) {
    result_.notes.push_back("No growth is taken off where the roster has no birth date or sex.");
  }
}

}  // namespace bagsplit::jobs::detail
