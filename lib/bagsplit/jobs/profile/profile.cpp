#include "bagsplit/jobs/profile/profile.hpp"

#include <algorithm>
#include <cmath>
#include <iterator>
#include <map>
#include <set>
#include <stdexcept>

#include "bagsplit/builtin/builtin.hpp"
#include "bagsplit/jobs/circumstances.hpp"
#include "bagsplit/jobs/fast_end.hpp"
#include "bagsplit/jobs/profile/advice.hpp"
#include "bagsplit/jobs/profile/detail/row_doubts.hpp"
#include "bagsplit/jobs/profile/merge_estimates.hpp"
#include "bagsplit/runs/player_order.hpp"
#include "bagsplit/runs/typed.hpp"
#include "bagsplit/safety/safety.hpp"
#include "bagsplit/stats/random.hpp"
#include "bagsplit/text/number_text.hpp"
#include "bagsplit/text/wording.hpp"

namespace bagsplit::jobs {

namespace {

constexpr double published_to_s = 25.0;  // of running: lib/bagsplit/motion/README.md

void add_notes(const Prepared& prepared, PlayerProfile& profile) {
  if (prepared.player == nullptr) {
    profile.notes.push_back("Not in the roster: no age, no sex, so no percentile, and a wide prior for all ages.");
  } else if (!profile.age_years || !profile.sex) {
    profile.notes.push_back(std::string("No ") +
                            (!profile.age_years ? (!profile.sex ? "birth date and no sex" : "birth date") : "sex") +
                            " in the roster: no percentile, and a wider prior.");
  }
  if (profile.reaction_holds_timer_bias) {
    profile.notes.push_back(
        "Reaction here is reaction plus timer bias: no gate, no first move seen and no self-started run tells the two "
        "apart.");
  }
  const std::vector<inference::MarkData>& marks = prepared.assembled.data.marks;
  if (std::any_of(marks.begin(), marks.end(), [](const auto& mark) { return mark.time_s > published_to_s; })) {
    profile.notes.push_back("Runs of more than 25 s: nothing is published of how children slow down that long.");
  }
  if (prepared.assembled.find(inference::TermKind::bias_many)) {
    profile.notes.push_back("So many timers that the biases of the rarer ones are treated as one.");
  }
}

// What was left out, when, who, and the priors: everything but estimates.
PlayerProfile described(const ProfileJob& job, runs::NameId name, std::size_t runs, const Prepared& prepared) {
  PlayerProfile profile;
  profile.player = job.log.names[name];
  const inference::Selection& selection = prepared.selection;
  profile.runs_used = selection.used.size();
  profile.runs_left_out = runs - selection.used.size();
  for (const auto& [flag, count] : selection.flagged) {
    profile.left_out_by_flag.push_back({flag, count});
  }
  profile.left_out_window = selection.outside_window;
  profile.left_out_relay = selection.relay;
  profile.left_out_empty = selection.empty;
  profile.first_date = selection.first;
  profile.last_date = selection.last;
  profile.dates = selection.dates;
  if (prepared.player != nullptr) {
    profile.sex = prepared.player->sex;
  }
  profile.age_years = prepared.age_years;

  const inference::Assembled& assembled = prepared.assembled;
  profile.readings_used = assembled.readings;
  profile.base_distance_m = assembled.base_distance_m;
  profile.prior_log_top_speed = assembled.data.log_top_speed;
  profile.prior_log_time_constant = assembled.data.log_time_constant;
  profile.prior_log_first_acceleration = prepared.prior.log_first_acceleration;
  profile.prior_log_first_acceleration_level_sd = prepared.prior.log_first_acceleration_level_sd;
  profile.prior_late_slowing_per_s = prepared.prior.late_slowing_per_s;
  profile.prior_late_slowing_level_sd_per_s = prepared.prior.late_slowing_level_sd_per_s;
  profile.prior_source = prepared.prior.source;
  const inference::ModelFile& model = job.options.model;
  profile.prior_reaction_s = model.prior.reaction_s.value_or(prepared.prior.reaction_s);
  for (std::size_t k = 0; k < assembled.terms.size(); ++k) {
    const inference::Term& term = assembled.terms[k];
    const inference::Normal& prior = assembled.data.terms[k];
    switch (term.kind) {
      case inference::TermKind::posture:
        profile.prior_posture_cost_s.emplace_back(term.name, prior);
        break;
      case inference::TermKind::loss:
        profile.prior_segment_loss_s.emplace_back(term.name, prior);
        break;
      case inference::TermKind::bias_shared:
      case inference::TermKind::bias_timer:
      case inference::TermKind::bias_many:
        profile.prior_bias_s.emplace_back(term.name, prior);
        break;
      case inference::TermKind::reaction:
      case inference::TermKind::swing:
      case inference::TermKind::late:
      case inference::TermKind::beam_place:
      case inference::TermKind::run_order:
      case inference::TermKind::first_run:
      case inference::TermKind::bias_event:
      case inference::TermKind::move_lag:
      case inference::TermKind::day_form:
        break;
    }
  }
  profile.reaction_holds_timer_bias =
      assembled.find(inference::TermKind::reaction).has_value() && !assembled.bias_told && !model.error.bias_s;
  add_notes(prepared, profile);
  if (job.as_of != nullptr) {
    profile.notes.push_back(as_of_words(job.as_of->weeks, job.options.as_of.has_value()));
  }
  if (selection.used.empty()) {
    profile.notes.push_back("No run to estimate from.");
  }
  return profile;
}

void name_suspected(const ProfileJob& job, const Prepared& prepared, const inference::Posterior& posterior,
                    PlayerProfile& profile) {
  if (posterior.data().slips.rate > 0.0) {
    profile.probability_all_readings_fit = posterior.probability_all_fit();
  }
  for (SuspectedReading& reading : suspected_readings(job.log, profile.player, prepared.assembled.log_reading,
                                                      posterior.slips(), posterior.slip_of_reading())) {
    (reading.probability >= surely_suspected ? profile.suspected_readings : profile.maybe_readings)
        .push_back(std::move(reading));
  }
}

// Every player alone, hyperparameters as the model has them.
void estimate_alone(const ProfileJob& job, Prepared& prepared, Scratch& scratch, PlayerProfile& profile) {
  const inference::PlayerData data = inference::alone(prepared.assembled);
  prepared.loss_means.regrid(data);
  const inference::Posterior posterior(data, prepared.loss_means.callback());
  profile.status = posterior.status();
  if (posterior.usable()) {
    name_suspected(job, prepared, posterior, profile);
    add_estimates(job, prepared, posterior, scratch, profile);
    add_hangs_on(job, prepared, posterior, profile);
    profile.next_runs =
        next_runs(posterior, prepared.loss_means.callback(), prepared.assembled, profile, profile.base_distance_m);
  }
}

// At each point of the squad's design, then mixed by the points' weights.
// @param seen  the child at the mode, for whoever doubts whole rows; nothing where nobody does.
void estimate_in_squad(const ProfileJob& job, runs::NameId name, Prepared& prepared, Scratch& scratch,
                       PlayerProfile& profile, DoubtedChild* seen) {
  const inference::SquadModel& squad = *job.squad;
  const inference::SquadMember member = inference::member_of(squad, prepared.assembled, prepared.selection.last);
  if (member.data.day_term) {
    prepared.assembled.terms.push_back({inference::TermKind::day_form, {}, false});
  }
  const auto known = squad.members.find(name);
  const auto index = known != squad.members.end() ? std::optional(known->second) : std::nullopt;
  std::vector<PlayerProfile> versions;
  std::vector<PlayerProfile> at_median_level;
  std::vector<double> weights;
  for (const inference::SquadPoint& point : squad.fit.points) {
    const inference::PlayerData in_point = inference::member_data(squad.fit, point, member, index);
    if (versions.empty()) {
      prepared.loss_means.regrid(in_point);
    }
    const inference::Posterior posterior(in_point, prepared.loss_means.callback());
    profile.status = std::max(profile.status, posterior.status());
    if (!posterior.usable()) {
      return;
    }
    if (versions.empty()) {  // at the mode, as the next runs below
      name_suspected(job, prepared, posterior, profile);
      if (seen != nullptr) {
        seen->data = in_point;
        seen->take(posterior);
      }
    }
    versions.push_back(profile);
    weights.push_back(point.weight);
    add_estimates(job, prepared, posterior, scratch, versions.back());
    if (job.at_median_level != nullptr) {
      at_median_level.push_back(profile);
      add_estimates(*job.at_median_level, prepared, posterior, scratch, at_median_level.back());
    }
    if (versions.size() == 1) {
      add_hangs_on(job, prepared, posterior, versions.back());
      if (prepared.assembled.any_distance) {
        versions.back().own_first_acceleration =
            own_first_acceleration(squad, point, member, index, posterior, prepared.loss_means.callback());
      }
      // At the mode: which run tells most hardly depends on the scales
      versions.back().next_runs = next_runs(posterior, prepared.loss_means.callback(), prepared.assembled,
                                            versions.back(), profile.base_distance_m);
    }
  }
  const PlayerProfile common = profile;
  const auto status = profile.status;
  profile = merge_profiles(weights, versions, job.options.level);
  profile.suspected_readings = common.suspected_readings;
  profile.maybe_readings = common.maybe_readings;
  profile.probability_all_readings_fit = common.probability_all_readings_fit;
  if (!at_median_level.empty()) {
    take_medians(merge_profiles(weights, at_median_level, median_level), profile);
  }
  profile.status = status;
}

PlayerProfile profile_one(const ProfileJob& job, runs::NameId name, std::size_t runs,
                          const inference::Selection& selection, DoubtedChild* seen) {
  Scratch scratch;
  Prepared prepared = prepare(job, name, selection);
  PlayerProfile profile = described(job, name, runs, prepared);
  if (selection.used.empty()) {
    return profile;
  }
  if (job.squad == nullptr) {
    estimate_alone(job, prepared, scratch, profile);
  } else {
    estimate_in_squad(job, name, prepared, scratch, profile, seen);
  }
  add_places(job, name, profile);
  if (profile.status == inference::PosteriorStatus::not_certified) {
    profile.notes.push_back("The computation would not settle for this player; no estimate is given.");
  } else if (seen != nullptr) {
    seen->id = name;
    seen->selection = &selection;
    seen->prepared = std::move(prepared);
  }
  return profile;
}

}  // namespace

RunsByPlayer::RunsByPlayer(const runs::RunLog& log) {
  std::vector<std::vector<std::uint32_t>> by_name(log.names.size());
  for (std::uint32_t i = 0; i < log.runs.size(); ++i) {
    by_name[log.runs[i].player].push_back(i);
  }
  for (runs::NameId id = 0; id < log.names.size(); ++id) {
    if (!by_name[id].empty()) {
      players.push_back(id);
    }
  }
  std::sort(players.begin(), players.end(),
            [&](auto a, auto b) { return runs::id_before(log.names[a], log.names[b]); });
  for (const runs::NameId id : players) {
    runs.push_back(std::move(by_name[id]));
  }
}

namespace {

constexpr std::size_t most_to_compare_here = 3'000;  // readings: beyond, a check of the sheet takes its own time

// Rows and drills in doubt; a time of such a row is not told again.
// @param players, children  of the result's, in their order.
void take_doubts(const ProfileJob& job, std::span<const runs::NameId> players, std::vector<DoubtedChild> children,
                 ProfileResult& result) {
  std::erase_if(children, [](const DoubtedChild& child) { return child.selection == nullptr; });
  const SheetDoubts doubts = doubt_rows(job, children);
  result.suspected_rows = doubts.surely;
  result.maybe_rows = doubts.maybe;
  result.notes.insert(result.notes.end(), doubts.notes.begin(), doubts.notes.end());
  const auto told = [&](const SuspectedReading& reading) {
    const auto same = [&](const SuspectedReading& row) { return row.file == reading.file && row.line == reading.line; };
    return std::any_of(result.suspected_rows.begin(), result.suspected_rows.end(), same);
  };
  for (std::size_t i = 0; i < players.size(); ++i) {
    PlayerProfile& player = result.players[i];
    player.start_in_doubt = doubts.start_in_doubt.contains(players[i]);
    if (player.start_in_doubt) {
      player.notes.push_back(
          "Whose a run is, or how it was started, is in doubt: until that is settled nothing is said of the start.");
    }
    std::vector<SuspectedReading> cells = std::move(player.suspected_readings);
    cells.insert(cells.end(), player.maybe_readings.begin(), player.maybe_readings.end());
    player.suspected_readings.clear();
    player.maybe_readings.clear();
    allow_for_swaps(doubts.mixed_up, players[i], cells);
    for (SuspectedReading& cell : cells) {
      if (!told(cell)) {
        (cell.probability >= surely_suspected ? player.suspected_readings : player.maybe_readings)
            .push_back(std::move(cell));
      }
    }
  }
}

// Children who ran more on one date than an evening should have, heats and relays among it; the last such date.
std::string too_many_words(const runs::RunLog& log) {
  std::map<std::pair<runs::Date, runs::NameId>, std::size_t> count;
  for (const runs::Run& run : log.runs) {
    if (run.flag != runs::Flag::absent) {
      ++count[{run.date, run.player}];
    }
  }
  std::optional<runs::Date> last;
  std::vector<std::string> who;
  for (const auto& [key, runs] : count) {
    if (runs > safety::most_sprints_an_evening) {
      who = last == key.first ? who : std::vector<std::string>();
      last = key.first;
      who.push_back(log.name(key.second) + " (" + std::to_string(runs) + ")");
    }
  }
  return last ? "On " + runs::format_date(*last) + " more than " + std::to_string(safety::most_sprints_an_evening) +
                    " runs each, heats and relays counted: " + text::joined(who) + ". That is too much for one evening."
              : std::string();
}

// The upper end of what is known of the fastest.
double fastest(std::span<const PlayerProfile> players) {
  std::optional<double> speed;
  for (const PlayerProfile& player : players) {
    const double own = player.top_speed_mps ? player.top_speed_mps->hi : fast_end_mps(player.age_years, player.sex);
    speed = std::max(speed.value_or(own), own);
  }
  return speed ? *speed : fast_end_mps(std::nullopt, std::nullopt);
}

}  // namespace

// Sprints of each player, and both ways round of the team.
void add_team_notes(const runs::RunLog& log, const ProfileOptions& options, const RunsByPlayer& by_player,
                    const std::vector<inference::Selection>& selections, ProfileResult& result) {
  for (const runs::Run& run : log.runs) {
    if (run.flag != runs::Flag::absent && (!options.as_of || run.date <= *options.as_of)) {
      result.last_evening = std::max(result.last_evening.value_or(run.date), run.date);
    }
  }
  std::vector<OwnRecord> records;
  for (std::size_t i = 0; i < result.players.size(); ++i) {
    records.push_back(own_record(log, selections[i].used));
    if (result.last_evening) {
      result.players[i].sprints = sprints_of(log, by_player.runs[i], *result.last_evening);
    }
  }
  result.both_ways = both_ways(records, options.level);
  if (const auto& told = result.both_ways) {
    const double longer_s = told->third_less_first_s;
    result.notes.push_back(
        "Both ways round, " + told->course + ": by way of third takes " + text::fixed(std::abs(longer_s), 2) +
        (longer_s < 0.0 ? " s less" : " s longer") + " than by way of first, between " +
        text::signed_fixed(told->lo_s, 2) + " and " + text::signed_fixed(told->hi_s, 2) +
        " s: " + (told->surely() ? "surely so" : "too close to say") + " for the " + std::to_string(told->players) +
        " who ran both, as a team and not for one of them. What the watches of the two ways differ by is in it.");
  }
}

std::vector<std::string> cautions_for(const runs::RunLog& log, double fastest_mps) {
  std::vector<std::string> cautions = {safety::sprint_caution(fastest_mps)};
  if (std::any_of(log.runs.begin(), log.runs.end(),
                  [](const runs::Run& run) { return run.posture == runs::Posture::prone; })) {
    cautions.push_back(safety::words(safety::Caution::prone));
  }
  if (!log.heats.empty()) {
    cautions.push_back(safety::words(safety::Caution::heats));
  }
  if (std::string words = too_many_words(log); !words.empty()) {
    cautions.push_back(std::move(words));
  }
  return cautions;
}

namespace {

// Marks of the data stand in the order of the splits of their readings, as assemble() made them.
void move_to(const AsOf& as_of, const runs::RunLog& log, inference::Assembled& assembled) {
  inference::PlayerData& data = assembled.data;
  for (std::size_t r = 0; r < data.readings.size(); ++r) {
    const auto splits = log.splits_of(log.readings[assembled.log_reading[r]]);
    for (std::size_t j = 0; j < splits.size(); ++j) {
      data.marks[data.readings[r].first_mark + j].time_s +=
          as_of.later_s[static_cast<std::size_t>(&splits[j] - log.splits.data())];
    }
  }
}

}  // namespace

ProfileJob job_of(const runs::RunLog& log, const runs::Roster& roster, const timing::DeviceBook& devices,
                  const norms::Catalogue& norms, const ProfileOptions& options,
                  const inference::SegmentNames& segments) {
  ProfileJob job{log,
                 roster,
                 devices,
                 norms,
                 options,
                 segments,
                 inference::default_model(),
                 std::nullopt,
                 nullptr,
                 inference::mostly_without_age(log, roster)};
  if (std::any_of(log.courses.begin(), log.courses.end(), [](const runs::Course& c) { return !c.segments.empty(); })) {
    job.best_paths = basepath::LossTable::built_in();
  }
  return job;
}

Prepared prepare(const ProfileJob& job, runs::NameId name, inference::Selection selection) {
  Prepared out;
  out.selection = std::move(selection);
  out.player = job.roster.find(job.log.names[name]);
  std::optional<runs::Sex> sex;
  if (out.player != nullptr) {
    sex = out.player->sex;
    if (out.player->born && out.selection.last) {
      out.age_years = runs::age_years(*out.player->born, job.as_of != nullptr ? job.as_of->day : *out.selection.last);
    }
  }
  out.prior = inference::with_model(inference::sprint_prior(out.age_years, sex), job.options.model.prior);
  out.assembled = inference::assemble(job.log, job.segments, out.selection.used, out.player, out.prior, job.devices,
                                      job.options.model, job.defaults);
  out.assembled.ages_alike = job.ages_alike && !out.age_years;
  if (job.as_of != nullptr) {
    move_to(*job.as_of, job.log, out.assembled);
    const auto doubt = job.as_of->doubt.find(name);
    out.lead_doubt = doubt != job.as_of->doubt.end() ? doubt->second : LeadDoubt{};
  }
  if (job.best_paths) {
    out.loss_means = inference::expect_best_path(out.assembled, *job.best_paths, job.options.model);
  }
  return out;
}

ProfileResult profile(const runs::RunLog& log, const runs::Roster& roster, const timing::DeviceBook& devices,
                      const norms::Catalogue& norms, const ProfileOptions& options) {
  if (!(options.level > 0.0) || !(options.level < 1.0)) {
    throw std::domain_error("profile: level must lie strictly between 0 and 1");
  }
  const inference::SegmentNames segments(log);
  ProfileJob job = job_of(log, roster, devices, norms, options, segments);
  ProfileResult result;
  result.level = options.level;
  result.model = options.model;
  inference::ModelFile::Error& error = result.model.error;
  error.effort_cv = error.effort_cv ? error.effort_cv : job.defaults.error.effort_cv;
  error.day_cv = error.day_cv ? error.day_cv : job.defaults.error.day_cv;
  error.reaction_sd_s = error.reaction_sd_s ? error.reaction_sd_s : job.defaults.error.reaction_sd_s;

  const RunsByPlayer by_player(log);
  const std::vector<runs::NameId>& players = by_player.players;
  std::vector<inference::Selection> selections;
  for (const std::vector<std::uint32_t>& runs : by_player.runs) {
    selections.push_back(inference::select_runs(log, runs, options.as_of, options.window_days));
  }

  const std::optional<AsOf> day = as_of(log, roster, devices, options, selections);
  if (day) {
    job.as_of = &*day;
    result.as_of = day->day;
  }

  std::optional<inference::SquadModel> squad;
  if (options.squad && (options.model == inference::ModelFile{} || inference::only_of_slips(options.model))) {
    squad = squad_of(job, players, selections, options.threads);
    if (squad) {
      job.squad = &*squad;
      result.squad = summary_of(*squad, options.level);
      error.effort_cv = std::exp(squad->fit.log_effort_cv.mean);
      error.day_cv = std::exp(squad->fit.log_day_cv.mean);
      error.reaction_sd_s = std::exp(squad->fit.log_reaction_sd.mean);
    }
  }

  ProfileOptions usual = options;
  usual.level = median_level;
  std::optional<ProfileJob> for_medians;
  if (squad && squad->fit.points.size() > 1 && options.level != median_level) {
    for_medians.emplace(ProfileJob{log, roster, devices, norms, usual, segments, job.defaults, job.best_paths,
                                   job.squad, job.ages_alike, nullptr, job.as_of});
    job.at_median_level = &*for_medians;
  }

  const bool doubting = squad && squad->fit.slip_rate > 0.0 && players.size() >= fewest_to_compare &&
                        log.readings.size() <= most_to_compare_here;
  std::vector<DoubtedChild> children(doubting ? players.size() : 0);

  // Each player is computed alone and stored at its place, so the number of threads cannot show.
  result.players.resize(players.size());
  stats::for_each_index(players.size(), options.threads, [&](std::size_t i) {
    result.players[i] =
        profile_one(job, players[i], by_player.runs[i].size(), selections[i], doubting ? &children[i] : nullptr);
  });
  if (doubting) {
    take_doubts(job, players, std::move(children), result);
  }
  for (const PlayerProfile& player : result.players) {
    result.runs_used += player.runs_used;
    result.runs_left_out += player.runs_left_out;
  }
  if (result.squad) {
    result.squad->first_steps = first_steps_of(*squad, result.players);
    const std::vector<std::string> starts = first_steps_notes(result.squad->first_steps);
    result.notes.insert(result.notes.begin(), starts.begin(), starts.end());
  }
  mark_squad(result);
  add_team_notes(log, options, by_player, selections, result);
  std::vector<std::uint32_t> used;
  for (const inference::Selection& selection : selections) {
    used.insert(used.end(), selection.used.begin(), selection.used.end());
  }
  std::set<runs::Date> dates;
  for (const std::uint32_t run : used) {
    dates.insert(log.runs[run].date);
  }
  result.dates = dates.size();
  std::size_t in_heats = 0;
  for (const inference::Selection& selection : selections) {
    in_heats += selection.heat;
  }
  if (in_heats > 0) {
    result.notes.push_back(
        text::counted(in_heats, "run") + " in heats " + (in_heats == 1 ? "is" : "are") +
        " not in this: who came in before whom is used in the standings of that time, where it tells most.");
  }
  if (std::string words = wind_words(wind_range(log, used)); !words.empty()) {
    result.notes.push_back(std::move(words));
  }
  result.cautions = cautions_for(log, fastest(result.players));
  return result;
}

}  // namespace bagsplit::jobs
