#include "bagsplit/present/machine/profile_json.hpp"

#include <algorithm>
#include <span>
#include <string_view>

#include "bagsplit/present/machine/json_parts.hpp"
#include "bagsplit/present/profile_quantities.hpp"
#include "bagsplit/runs/log/log_summary.hpp"
#include "bagsplit/runs/typed.hpp"
#include "bagsplit/safety/safety.hpp"
#include "bagsplit/text/json_writer.hpp"
#include "bagsplit/text/number_text.hpp"

namespace bagsplit::present {

namespace {

using present::write;

using jobs::Estimate;
using jobs::NamedEstimate;
using jobs::PlayerProfile;
using Layout = text::JsonWriter::Layout;

void write(text::JsonWriter& json, std::string_view name, const std::vector<NamedEstimate>& estimates,
           std::span<const std::string_view> always) {
  json.key(name).begin_object();
  for (const std::string_view key : always) {
    json.key(key);
    if (const Estimate* found = find_estimate(estimates, key)) {
      write(json, *found);
    } else {
      json.null();
    }
  }
  for (const NamedEstimate& estimate : estimates) {
    if (std::find(always.begin(), always.end(), estimate.name) == always.end()) {
      write(json.key(estimate.name), estimate.value);
    }
  }
  json.end_object();
}

void write(text::JsonWriter& json, std::string_view name, const inference::Normal& normal) {
  json.key(name).begin_object(Layout::line).member("mean", normal.mean).member("sd", normal.sd).end_object();
}

void write(text::JsonWriter& json, std::string_view name,
           const std::vector<std::pair<std::string, inference::Normal>>& normals) {
  json.key(name).begin_object();
  for (const auto& [key, normal] : normals) {
    write(json, key, normal);
  }
  json.end_object();
}

void write_range(text::JsonWriter& json, std::string_view name, const jobs::RangeThen& range) {
  json.key(name).begin_object(Layout::line).member("lo", range.lo).member("median", range.median);
  json.member("hi", range.hi).end_object();
}

void write_percentiles(text::JsonWriter& json, const PlayerProfile& player) {
  json.key("percentiles").begin_array();
  for (const jobs::ProfilePercentile& percentile : player.percentiles) {
    json.begin_object().member("quantity", percentile.quantity);
    text_or_null(json, "source", percentile.source);
    write(json, "percentile", percentile.percentile);
    text_or_null(json, "label", percentile.label);
    text_or_null(json, "why", percentile.why);
    text_or_null(json, "restriction", percentile.restriction);
    json.member("share_at_limit", percentile.share_at_limit);
    text_or_null(json, "band",
                 !percentile.band                          ? ""
                 : *percentile.band == norms::Band::faster ? "faster"
                 : *percentile.band == norms::Band::about  ? "about"
                                                           : "slower");
    json.member("p_faster", percentile.p_faster);
    write(json, "time_s", percentile.time_s);
    json.key("over_dates").begin_array();
    for (const jobs::PlaceThen& then : percentile.over_dates) {
      json.begin_object(Layout::line).member("date", runs::format_date(then.date));
      write_range(json, "time_s", then.time_s);
      write_range(json, "percentile", then.percentile);
      if (then.z) {
        write_range(json, "z", *then.z);
      } else {
        json.key("z").null();
      }
      json.end_object();
    }
    json.end_array().end_object();
  }
  json.end_array();
}

void write_left_out(text::JsonWriter& json, const PlayerProfile& player) {
  json.key("left_out").begin_object(Layout::line).key("flagged").begin_object();
  for (const jobs::LeftOut& left_out : player.left_out_by_flag) {
    json.key(runs::flag_name(left_out.flag)).count(left_out.runs);
  }
  json.end_object()
      .member("outside_window", std::uint64_t{player.left_out_window})
      .member("relay_leg", std::uint64_t{player.left_out_relay})
      .member("no_usable_time", std::uint64_t{player.left_out_empty})
      .end_object();
}

void write_date(text::JsonWriter& json, std::string_view name, const std::optional<runs::Date>& date) {
  text_or_null(json, name, date ? runs::format_date(*date) : "");
}

void write_best_path(text::JsonWriter& json, const PlayerProfile& player) {
  json.key("best_path");
  if (!player.best_path) {
    json.null();
    return;
  }
  const jobs::BestPathYardstick& best = *player.best_path;
  json.begin_object()
      .member("course", best.course)
      .member("lateral_limit_mps2", best.lateral_mps2)
      .member("braking_limit_mps2", best.braking_mps2);
  write(json.key("time_s"), best.time_s);
  json.key("loss_at").begin_array();
  for (const jobs::BestPathYardstick::AtLimit& at : best.loss_at) {
    json.begin_object(Layout::line)
        .member("lateral_limit_mps2", at.lateral_mps2)
        .member("loss_mean_s", at.loss_mean_s)
        .end_object();
  }
  json.end_array().end_object();
}

void write_marks(text::JsonWriter& json, const PlayerProfile& player) {
  json.key("marks").begin_array();
  for (std::size_t k = 0; k < jobs::marked_quantities.size(); ++k) {
    const jobs::Marked& one = player.marks[k];
    json.begin_object(Layout::line)
        .member("what", jobs::marked_quantities[k].what)
        .member("mark", jobs::mark_word(one.mark));
    text_or_null(json, "why", std::string(jobs::unknown_word(one.why)));
    json.member("cost_s", one.cost_s).member("give_or_take_s", one.give_or_take_s).end_object();
  }
  json.end_array();
}

// Only where it was asked for.
void write_speed_curve(text::JsonWriter& json, const PlayerProfile& player) {
  if (player.speed_curve.empty()) {
    return;
  }
  json.key("speed_curve").begin_array();
  for (const jobs::SpeedAt& at : player.speed_curve) {
    json.begin_object().member("time_s", at.time_s);
    write(json.key("speed_mps"), at.speed_mps);
    json.end_object();
  }
  json.end_array();
}

// What is thought of a child, and the doubt that all children share.
void write_with_level(text::JsonWriter& json, std::string_view name, const inference::Normal& prior, double level_sd) {
  json.key(name)
      .begin_object()
      .member("mean", prior.mean)
      .member("sd", prior.sd)
      .member("level_sd", level_sd)
      .end_object();
}

// None where it would tell what is hidden: with all digits it is the age.
void write_prior(text::JsonWriter& json, const PlayerProfile& player) {
  json.key("prior");
  if (player.prior_source.empty()) {
    json.null();
    return;
  }
  json.begin_object();
  write(json, "log_top_speed", player.prior_log_top_speed);
  write(json, "log_time_constant", player.prior_log_time_constant);
  write_with_level(json, "log_first_acceleration", player.prior_log_first_acceleration,
                   player.prior_log_first_acceleration_level_sd);
  write_with_level(json, "late_slowing_per_s", player.prior_late_slowing_per_s,
                   player.prior_late_slowing_level_sd_per_s);
  write(json, "reaction_s", player.prior_reaction_s);
  write(json, "posture_cost_s", player.prior_posture_cost_s);
  write(json, "segment_loss_s", player.prior_segment_loss_s);
  write(json, "bias_s", player.prior_bias_s);
  json.member("source", player.prior_source).end_object();
}

void write_player(text::JsonWriter& json, const PlayerProfile& player) {
  constexpr std::string_view always_postures[] = {"prone"};
  json.begin_object().member("player", player.player).member("age_years", text::told_age(player.age_years));
  text_or_null(json, "sex", sex_word(player.sex));
  json.member("runs_used", std::uint64_t{player.runs_used})
      .member("runs_left_out", std::uint64_t{player.runs_left_out});
  write(json, "top_speed_mps", player.top_speed_mps);
  write(json, "time_constant_s", player.time_constant_s);
  write(json, "max_acceleration_mps2", player.max_acceleration_mps2);
  write(json, "reaction_s", player.reaction_s);
  write(json, "posture_cost_s", player.posture_cost_s, always_postures);
  write(json, "segment_loss_s", player.segment_loss_s, circuit_segments);
  write(json, "predicted_time_s", player.predicted_time_s, predicted_distances);
  write_percentiles(json, player);
  write(json, "straight_efficiency", player.straight_efficiency);
  write(json, "path_efficiency", player.path_efficiency);
  // What follows goes beyond what was first agreed upon; new keys are added at
  // the end.
  write(json, "loss_to_best_path_s", player.loss_to_best_path_s);
  write(json, "straight_efficiency_by_course", player.straight_efficiency_by_course, {});
  write(json, "course_time_s", player.course_time_s, {});
  write(json, "session_time_s", player.session_time_s, {});
  write(json, "max_force_N", player.max_force_n);
  write(json, "max_power_W", player.max_power_w);
  write(json, "max_power_W_per_kg", player.max_power_w_per_kg);
  json.member("base_distance_m", player.base_distance_m)
      .member("reaction_holds_timer_bias", player.reaction_holds_timer_bias)
      .member("readings_used", std::uint64_t{player.readings_used});
  write_left_out(json, player);
  json.key("dates").begin_object(Layout::line);
  write_date(json, "first", player.first_date);
  write_date(json, "last", player.last_date);
  json.member("count", std::uint64_t{player.dates}).end_object();
  json.member("status", status_word(player.status));
  json.key("next_runs").begin_array();
  for (const jobs::NextRun& next : player.next_runs) {
    json.begin_object()
        .member("quantity", next.quantity)
        .member("run", next.run)
        .member("sd_now", next.sd_now)
        .member("sd_expected", next.sd_expected)
        .end_object();
  }
  json.end_array();
  json.key("work_on").begin_array();
  for (const jobs::WorkOn& one : player.work_on) {
    json.begin_object()
        .member("what", one.what)
        .member("text", one.text)
        .member("drill", one.drill)
        .member("how", one.how)
        .member("runs", std::uint64_t{one.runs})
        .member("rest_s", one.rest_s)
        .end_object();
  }
  json.end_array();
  write_texts(json, "notes", player.notes);
  write_prior(json, player);
  write(json, "loss_to_best_path_by_segment_s", player.loss_to_best_path_by_segment_s, {});
  write_best_path(json, player);
  write_speed_curve(json, player);
  write_marks(json, player);
  if (player.probability_all_readings_fit) {
    json.member("probability_all_readings_fit", *player.probability_all_readings_fit);
  }
  json.key("hangs_on").begin_array();
  for (const jobs::HangsOn& row : player.hangs_on) {
    write(json, row);
  }
  json.end_array().key("sprints").begin_object(text::JsonWriter::Layout::line);
  json.member("last_evening", std::uint64_t{player.sprints.last_evening})
      .member("week", std::uint64_t{player.sprints.week})
      .member("most_an_evening", std::uint64_t{safety::most_sprints_an_evening})
      .end_object();
  json.end_object();
}

// Seconds, or all else with its unit.
void write_shared(text::JsonWriter& json, std::string_view name, const jobs::SquadSummary& squad, bool seconds) {
  json.key(name).begin_array();
  for (const jobs::SquadSummary::Shared& shared : squad.shared) {
    if ((shared.unit == "s") != seconds) {
      continue;
    }
    json.begin_object().member("kind", shared.kind).member("name", shared.name);
    if (!seconds) {
      json.member("unit", shared.unit);
    }
    write(json, seconds ? "prior_s" : "prior", shared.prior);
    write(json, seconds ? "value_s" : "value", std::optional(shared.value));
    json.end_object();
  }
  json.end_array();
}

void write_first_steps(text::JsonWriter& json, const jobs::FirstSteps& steps) {
  using Clock = jobs::FirstSteps::Clock;
  json.key("first_acceleration").begin_object().member("level_told", steps.level_told);
  json.member("clock", std::string_view(steps.clock == Clock::starts_late    ? "starts-late"
                                        : steps.clock == Clock::starts_early ? "starts-early"
                                                                             : "fits"));
  json.member("by_the_clock_mps2", steps.by_the_clock_mps2).end_object();
}

void write_squad(text::JsonWriter& json, const jobs::SquadSummary& squad) {
  json.key("squad")
      .begin_object()
      .member("players", std::uint64_t{squad.players})
      .member("players_fitted", std::uint64_t{squad.players_fitted})
      .member("seed", squad.seed)
      .member("converged", squad.converged)
      .member("ages_unknown", squad.ages_unknown);
  write(json, "effort_cv", std::optional(squad.effort_cv));
  write(json, "day_cv", std::optional(squad.day_cv));
  write(json, "reaction_sd_s", std::optional(squad.reaction_sd_s));
  write(json, "press_factor", std::optional(squad.press_factor));
  write(json, "top_speed_offset", std::optional(squad.top_speed_offset));
  write(json, "time_constant_offset", std::optional(squad.time_constant_offset));
  write_shared(json, "shared", squad, true);
  write_shared(json, "shared_otherwise", squad, false);
  write_first_steps(json, squad.first_steps);
  json.end_object();
}

}  // namespace

std::string profile_json(const jobs::ProfileResult& result) {
  text::JsonWriter json;
  json.reserve(4096 + 12288 * result.players.size());  // about 9 kB a player
  json.begin_object().member("schema", "bagsplit.profile/2").member("level", result.level);
  write_model(json, result.model);
  json.key("players").begin_array();
  for (const PlayerProfile& player : result.players) {
    write_player(json, player);
  }
  json.end_array();
  json.member("runs_used", std::uint64_t{result.runs_used})
      .member("runs_left_out", std::uint64_t{result.runs_left_out});
  write_texts(json, "notes", result.notes);
  write_texts(json, "cautions", result.cautions);
  if (result.squad) {
    write_squad(json, *result.squad);
  } else {
    json.key("squad").null();
  }
  jobs::SuspectedReadings suspected;
  for (const PlayerProfile& player : result.players) {
    suspected.surely.insert(suspected.surely.end(), player.suspected_readings.begin(), player.suspected_readings.end());
    suspected.maybe.insert(suspected.maybe.end(), player.maybe_readings.begin(), player.maybe_readings.end());
  }
  suspected.surely.insert(suspected.surely.end(), result.suspected_rows.begin(), result.suspected_rows.end());
  suspected.maybe.insert(suspected.maybe.end(), result.maybe_rows.begin(), result.maybe_rows.end());
  if (result.squad && result.squad->slip_rate > 0.0) {
    suspected.slip_rate = result.squad->slip_rate;
  }
  write_suspected(json, suspected);
  write_date(json, "as_of", result.as_of);
  write_date(json, "last_evening", result.last_evening);
  json.key("both_ways");
  if (const auto& told = result.both_ways) {
    json.begin_object(text::JsonWriter::Layout::line)
        .member("course", told->course)
        .member("mark", told->mark)
        .member("players", std::uint64_t{told->players})
        .member("third_less_first_s", told->third_less_first_s)
        .member("lo_s", told->lo_s)
        .member("hi_s", told->hi_s)
        .end_object();
  } else {
    json.null();
  }
  json.end_object();
  return json.take();
}

}  // namespace bagsplit::present
