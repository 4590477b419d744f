#include "bagsplit/jobs/standings/standings.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <stdexcept>

#include "bagsplit/inference/squad/squad_settled.hpp"
#include "bagsplit/jobs/fast_end.hpp"
#include "bagsplit/jobs/standings/detail/standings_best.hpp"
#include "bagsplit/jobs/standings/detail/standings_draws.hpp"
#include "bagsplit/jobs/standings/detail/standings_heats.hpp"
#include "bagsplit/jobs/standings/detail/standings_job.hpp"
#include "bagsplit/runs/player_order.hpp"
#include "bagsplit/stats/random.hpp"
#include "bagsplit/text/wording.hpp"

namespace bagsplit::jobs {

namespace {

using namespace detail;

constexpr std::size_t least_draws = 400;         // where there are very many players, ...
constexpr std::size_t most_values = 40'000'000;  // ... for the sake of memory

void check(const StandingsOptions& options) {
  const auto share = [](const char* name, double value, double least) {
    if (!(value > least) || !(value < 1.0)) {
      throw std::domain_error(std::string("standings: ") + name + " must lie above " + (least > 0.0 ? "0.5" : "0") +
                              " and below 1");
    }
  };
  share("level", options.level, 0.0);
  share("certainty", options.certainty, 0.5);
  if (options.by.empty() || options.draws < 100 || (options.cut && *options.cut == 0) ||
      (options.next_runs > 0 && (!options.cut || options.most_each == 0))) {
    throw std::domain_error("standings: a quantity, 100 draws, a cut of 1 and, for further runs, a cut are the least");
  }
  for (const RankedQuantity& quantity : options.by) {
    if (!(quantity.weight > 0.0) || !std::isfinite(quantity.weight)) {
      throw std::domain_error("standings: a weight must be above 0");
    }
  }
}

// What is said of a player without a run that counts.
std::string no_run_words(const Entrant& entrant) {
  const inference::Selection& selection = entrant.prepared.selection;
  std::size_t flagged = 0;
  for (const auto& [flag, count] : selection.flagged) {
    flagged += count;
  }
  return flagged == entrant.runs                    ? "all runs flagged"
         : selection.heat == entrant.runs           ? "finishing orders only, none of this time"
         : selection.relay == entrant.runs          ? "relay legs only"
         : selection.outside_window == entrant.runs ? "no run in the window"
         : selection.empty == entrant.runs          ? "no time in any run"
                                                    : "no run that counts";
}

std::vector<std::string> timers_of(const Entrant& entrant, const runs::RunLog& log) {
  std::vector<std::string> out;
  for (const std::uint32_t run : entrant.prepared.selection.used) {
    for (const runs::Reading& reading : log.readings_of(log.runs[run])) {
      const std::string& timer = log.name(reading.timer);
      if (std::find(out.begin(), out.end(), timer) == out.end()) {
        out.push_back(timer);
      }
    }
  }
  std::sort(out.begin(), out.end());
  return out;
}

// The group a league age belongs to; groups are made as they are met.
std::optional<std::size_t> group_of(int age, const StandingsOptions& options, std::vector<AgeSpan>& spans) {
  const auto holds = [age](const AgeSpan& span) { return span.from <= age && age <= span.to; };
  const auto given = std::find_if(options.age_spans.begin(), options.age_spans.end(), holds);
  if (!options.age_spans.empty() && given == options.age_spans.end()) {
    return std::nullopt;
  }
  const AgeSpan span = options.age_spans.empty() ? AgeSpan{age, age} : *given;
  const auto known = std::find_if(spans.begin(), spans.end(), [&](const AgeSpan& s) { return s.from == span.from; });
  if (known == spans.end()) {
    spans.push_back(span);
    return spans.size() - 1;
  }
  return static_cast<std::size_t>(known - spans.begin());
}

std::string name_of(const AgeSpan& span) {
  return span.from == span.to ? std::to_string(span.from) : std::to_string(span.from) + "-" + std::to_string(span.to);
}

class Standings {
 public:
  Standings(const runs::RunLog& log, const runs::Roster& roster, const timing::DeviceBook& devices,
            const StandingsOptions& options)
      : log_(log),
        options_(options),
        segments_(log),
        profile_options_{.level = options.level,
                         .as_of = options.as_of,
                         .window_days = options.window_days,
                         .model = options.model,
                         .squad = true,
                         .threads = options.threads},
        job_{log,
             roster,
             devices,
             norms_,
             profile_options_,
             segments_,
             inference::default_model(),
             std::nullopt,
             nullptr,
             inference::mostly_without_age(log, roster)} {
    if (std::any_of(log.courses.begin(), log.courses.end(),
                    [](const runs::Course& c) { return !c.segments.empty(); })) {
      job_.best_paths = basepath::LossTable::built_in();
    }
  }

  std::variant<StandingsResult, StandingsRefusal> run() {
    begin();
    if (auto refusal = resolve_all()) {
      return *refusal;
    }
    const inference::ModelFile& known = result_.model;
    const auto squad = detail::squad_of(entrants_, options_.fixed_scales ? &known : nullptr, options_.threads);
    beliefs_.resize(entrants_.size());
    if (squad) {
      believe(*squad);
    }
    if (auto refusal = hear_heats()) {
      return *refusal;
    }
    pick();
    list_flagged();
    if (!ranked_.empty()) {
      order(squad ? &*squad : nullptr);
      if (squad) {
        add_notes(ranked_, parts_, *squad, log_, result_);
      }
      add_heat_notes(ranked_, result_);
    }
    finish();
    return std::move(result_);
  }

 private:
  void begin() {
    result_.certainty = options_.certainty;
    result_.level = options_.level;
    result_.draws = options_.draws;
    result_.seed = options_.seed;
    result_.method = options_.method;
    result_.ties = options_.ties;
    result_.age_adjusted = options_.age_adjusted;
    result_.age_groups = options_.age_groups || !options_.age_spans.empty();
    result_.next_runs_asked = options_.next_runs;
    result_.most_each = options_.most_each;
    result_.cautions = cautions_for(log_, fast_end_mps(log_, job_.roster));
    result_.model = options_.model;
    inference::ModelFile::Error& error = result_.model.error;
    error.effort_cv = error.effort_cv ? error.effort_cv : job_.defaults.error.effort_cv;
    error.day_cv = error.day_cv ? error.day_cv : job_.defaults.error.day_cv;
    error.reaction_sd_s = error.reaction_sd_s ? error.reaction_sd_s : job_.defaults.error.reaction_sd_s;

    entrants_ = entrants_of(job_);
    for (const Entrant& entrant : entrants_) {
      const inference::Selection& selection = entrant.prepared.selection;
      used_.insert(used_.end(), selection.used.begin(), selection.used.end());
      result_.runs_left_out += entrant.runs - selection.used.size();
      if (selection.last) {
        result_.first_date = result_.first_date ? std::min(*result_.first_date, *selection.first) : *selection.first;
        result_.last_date = result_.last_date ? std::max(*result_.last_date, *selection.last) : *selection.last;
      }
    }
    heats_ = heats_within(log_, options_.as_of, options_.window_days);
    result_.runs_used = used_.size();
    if (result_.age_groups) {
      result_.age_on = options_.age_on ? options_.age_on : result_.last_date;
    }
  }

  std::optional<StandingsRefusal> resolve_all() {
    for (const RankedQuantity& by : options_.by) {
      if (by.quantity == Quantity::path_efficiency && options_.age_adjusted) {
        return StandingsRefusal{"no norm is held for path efficiency, so there is no order by it adjusted for age"};
      }
      auto resolved =
          resolve(by, log_, used_, may_hear_heats() ? heats_ : std::vector<std::uint32_t>{}, job_.best_paths);
      if (const auto* refusal = std::get_if<StandingsRefusal>(&resolved)) {
        return *refusal;
      }
      parts_.push_back(std::get<ResolvedQuantity>(std::move(resolved)));
      result_.by.push_back(parts_.back().words);
    }
    const bool index = parts_.size() > 1;
    if (options_.method == StandingsMethod::best && (index || !parts_[0].time || options_.age_adjusted)) {
      return StandingsRefusal{"a best time is a time as it was read: ask for one time, not adjusted for age"};
    }
    result_.by_word = index ? "index" : word_of(parts_[0].words);
    result_.time = index ? std::nullopt : parts_[0].time;
    return std::nullopt;
  }

  void believe(const inference::SquadModel& squad) {
    stats::for_each_index(entrants_.size(), options_.threads, [&](std::size_t i) {
      if (entrants_[i].runs_count()) {
        beliefs_[i] = belief_of(entrants_[i], squad, parts_, options_.level, options_.next_runs > 0, log_);
      }
    });
    if (squad.fit.slip_rate > 0.0) {
      result_.suspected.slip_rate = squad.fit.slip_rate;
    }
    for (Belief& belief : beliefs_) {
      result_.suspected.add(belief.suspected);
    }
    inference::ModelFile::Error& error = result_.model.error;
    if (!options_.fixed_scales) {
      error.effort_cv = std::exp(squad.fit.log_effort_cv.mean);
      error.day_cv = std::exp(squad.fit.log_day_cv.mean);
      error.reaction_sd_s = std::exp(squad.fit.log_reaction_sd.mean);
    }
    if (!squad.fit.converged) {
      result_.notes.emplace_back(inference::unsettled_squad);
    }
  }

  bool may_hear_heats() const {
    return options_.by.size() == 1 && options_.by[0].quantity == Quantity::time && !options_.age_adjusted &&
           options_.method == StandingsMethod::estimate;
  }

  // What finishing orders tell of the time ordered by, if there are any: beliefs of all who ran or were in one.
  std::optional<StandingsRefusal> hear_heats() {
    const std::vector<std::uint32_t> here =
        result_.time && may_hear_heats() ? heats_at(parts_[0], log_, heats_) : std::vector<std::uint32_t>{};
    if (here.empty()) {
      if (!heats_.empty()) {
        result_.notes.push_back("The log has the finishing order of " + text::counted(heats_.size(), "heat") +
                                "; it tells of one time only, and is not part of this order.");
      }
      return std::nullopt;
    }
    std::vector<std::string> timed;
    for (const Entrant& entrant : entrants_) {
      if (entrant.runs_count()) {
        timed.push_back(log_.name(entrant.id));
      }
    }
    result_.heats = summary_of(log_, here, timed);
    std::vector<std::string> ids;
    for (std::size_t i = 0; i < entrants_.size(); ++i) {
      if (heats_of(entrants_[i]) > 0 || !beliefs_[i].points.empty()) {
        ids.push_back(log_.name(entrants_[i].id));
        heard_.push_back(i);
      }
    }
    heats_told_ = believe_heats(job_, parts_[0], here, ids, options_.fixed_scales);
    result_.certified = result_.certified && heats_told_.settled;
    for (std::size_t k = 0; k < heard_.size(); ++k) {
      const Entrant& entrant = entrants_[heard_[k]];
      Belief& belief = beliefs_[heard_[k]];
      const auto& open = heats_told_.uncertified;
      belief.parts = {heats_told_.values[k]};
      belief.groups.clear();  // of the child's own readings alone
      belief.expected = {std::nullopt};
      belief.certified = std::find(open.begin(), open.end(), ids[k]) == open.end();
      belief.why = belief.certified ? "" : "the computation would not settle";
      result_.heats->without_time += entrant.runs_count() ? 0U : 1U;
    }
    result_.runs_left_out -= result_.heats->runs;  // in no estimate of their own, but not for nothing
    result_.heats->any_time = !used_.empty() || heats_told_.times_in_heats > 0;
    return std::nullopt;
  }

  std::size_t heats_of(const Entrant& entrant) const {
    if (!result_.heats) {
      return 0;
    }
    for (const auto& [id, count] : result_.heats->heats_of) {
      if (id == log_.name(entrant.id)) {
        return count;
      }
    }
    return 0;
  }

  std::string why_not(const Entrant& entrant, const Belief& belief, const std::optional<BestTime>& best) const {
    if (!belief.why.empty()) {
      return belief.why;
    }
    if (options_.method == StandingsMethod::best && !best) {
      return "no official time at this mark";
    }
    if (options_.age_adjusted &&
        std::any_of(belief.expected.begin(), belief.expected.end(), [](const auto& e) { return !e.has_value(); })) {
      return !entrant.prepared.age_years                                           ? "no age, so no norm"
             : entrant.prepared.player == nullptr || !entrant.prepared.player->sex ? "no sex, so no norm"
                                                                                   : "no norm for this age";
    }
    if (result_.age_groups && (entrant.prepared.player == nullptr || !entrant.prepared.player->born)) {
      return "no date of birth, so no age group";
    }
    return {};
  }

  // Who is ranked, in which group; who is not, and why.
  void pick() {
    Bests bests{timing::TimingClass::hand, std::vector<std::optional<BestTime>>(entrants_.size()), 0};
    if (result_.time) {
      bests = official_bests(parts_[0], entrants_, log_, job_.devices);
    }
    if (options_.method == StandingsMethod::best && bests.other_class > 0) {
      result_.notes.push_back("Official times are of one class, " + std::string(timing_class_name(bests.timing_class)) +
                              "; runs timed otherwise do not count for them: " + std::to_string(bests.other_class) +
                              ".");
    }
    std::vector<AgeSpan> spans;
    for (std::size_t i = 0; i < entrants_.size(); ++i) {
      const Entrant& entrant = entrants_[i];
      const std::string& id = log_.name(entrant.id);
      if (!entrant.runs_count() && heats_of(entrant) == 0) {
        result_.not_ranked.push_back({id, no_run_words(entrant)});
        result_.first_run.push_back(id);
        continue;
      }
      result_.certified = result_.certified && beliefs_[i].certified;
      std::string why = why_not(entrant, beliefs_[i], bests.best[i]);
      Ranked ranked;
      ranked.entrant = &entrant;
      ranked.belief = &beliefs_[i];
      Standing& standing = ranked.standing;
      if (why.empty() && result_.age_groups) {
        standing.league_age =
            static_cast<int>(std::floor(runs::age_years(*entrant.prepared.player->born, *result_.age_on)));
        const auto group = group_of(*standing.league_age, options_, spans);
        standing.group = group.value_or(0);
        why = group ? "" : "age " + std::to_string(*standing.league_age) + " is in none of the groups";
      }
      if (!why.empty()) {
        result_.not_ranked.push_back({id, why});
        continue;
      }
      standing.player = id;
      standing.probability_all_readings_fit = beliefs_[i].all_fit;
      standing.age_years = entrant.prepared.age_years;
      standing.sex = entrant.prepared.player != nullptr ? entrant.prepared.player->sex : std::nullopt;
      standing.runs_used = entrant.prepared.selection.used.size();
      standing.best = bests.best[i];
      standing.runs_of_course = runs_of_course(entrant);
      standing.heats = heats_of(entrant);
      standing.timers = timers_of(entrant, log_);
      ranked_.push_back(std::move(ranked));
    }
    sort_groups(spans);
  }

  // Flagged runs over the course ordered by, of the days asked for.
  void list_flagged() {
    std::map<runs::NameId, std::map<runs::Flag, std::size_t>> flagged;
    const std::optional<runs::Date> until = options_.as_of ? options_.as_of : result_.last_date;
    for (const runs::Run& run : log_.runs) {
      const bool of_a_relay = run.leg != 0 || run.team != runs::no_name;
      const bool elsewhere = result_.time && parts_[0].course && run.course != *parts_[0].course;
      const bool other_day =
          (options_.as_of && run.date > *options_.as_of) ||
          (options_.window_days && until && run.date <= *until - std::chrono::days{*options_.window_days});
      if (run.flag != runs::Flag::none && !of_a_relay && !elsewhere && !other_day) {
        ++flagged[run.player][run.flag];
      }
    }
    for (const Entrant& entrant : entrants_) {
      if (const auto found = flagged.find(entrant.id); found != flagged.end()) {
        result_.flagged.push_back({log_.name(entrant.id),
                                   result_.time ? runs_of_course(entrant) : entrant.prepared.selection.used.size(),
                                   {found->second.begin(), found->second.end()}});
      }
    }
    std::stable_sort(result_.flagged.begin(), result_.flagged.end(),
                     [](const FlaggedRuns& a, const FlaggedRuns& b) { return a.valid_runs < b.valid_runs; });
  }

  std::size_t runs_of_course(const Entrant& entrant) const {
    const auto& used = entrant.prepared.selection.used;
    return static_cast<std::size_t>(std::count_if(used.begin(), used.end(), [&](std::uint32_t index) {
      const runs::Run& run = log_.runs[index];
      const auto readings = log_.readings_of(run);
      return result_.time && std::any_of(readings.begin(), readings.end(), [&](const runs::Reading& reading) {
               return parts_[0].time_of(log_, run, reading).has_value();
             });
    }));
  }

  void sort_groups(const std::vector<AgeSpan>& spans) {
    if (!result_.age_groups) {
      result_.groups.push_back({{}, 0, options_.cut, std::nullopt});
      return;
    }
    std::vector<std::size_t> order(spans.size());
    for (std::size_t i = 0; i < order.size(); ++i) {
      order[i] = i;
    }
    std::sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) { return spans[a].from < spans[b].from; });
    std::vector<std::size_t> place(order.size());
    for (std::size_t i = 0; i < order.size(); ++i) {
      place[order[i]] = i;
      result_.groups.push_back({name_of(spans[order[i]]), 0, options_.cut, std::nullopt});
    }
    for (Ranked& player : ranked_) {
      player.standing.group = place[player.standing.group];
    }
  }

  std::size_t number_heard(const Ranked& player) const {
    const auto entrant = static_cast<std::size_t>(player.entrant - entrants_.data());
    return static_cast<std::size_t>(std::find(heard_.begin(), heard_.end(), entrant) - heard_.begin());
  }

  std::vector<double> part_draws(const inference::SquadModel* squad) const {
    if (!result_.heats) {
      std::vector<const Belief*> beliefs;
      for (const Ranked& player : ranked_) {
        beliefs.push_back(player.belief);
      }
      return joint_draws(squad->fit, beliefs, parts_.size(), result_.draws, result_.seed, options_.threads);
    }
    const std::vector<double> all = draws_of(heats_told_.times, result_.draws, result_.seed);
    std::vector<double> out;
    for (const Ranked& player : ranked_) {
      const auto from = all.begin() + static_cast<std::ptrdiff_t>(number_heard(player) * result_.draws);
      out.insert(out.end(), from, from + static_cast<std::ptrdiff_t>(result_.draws));
    }
    return out;
  }

  void order(const inference::SquadModel* squad) {
    result_.draws = std::min(result_.draws, std::max(least_draws, most_values / (ranked_.size() * parts_.size())));
    const Values values = compose(ranked_, parts_, part_draws(squad), result_);
    result_.lower_is_better = values.lower_is_better;
    order_groups(ranked_, values, log_, result_);
    if (options_.next_runs > 0 && result_.heats) {
      std::vector<std::size_t> heard;
      for (const Ranked& player : ranked_) {
        heard.push_back(number_heard(player));
      }
      give_next_heats(ranked_, heard, heats_told_, *result_.heats, log_.courses[*parts_[0].course].name,
                      options_.threads, result_);
    } else if (options_.next_runs > 0) {
      give_next_runs(ranked_, values, parts_, log_, result_);
    }
  }

  void finish() {
    std::stable_sort(ranked_.begin(), ranked_.end(), [](const Ranked& a, const Ranked& b) {
      return std::pair(a.standing.group, a.standing.place) < std::pair(b.standing.group, b.standing.place);
    });
    for (Ranked& player : ranked_) {
      const StandingsGroup& group = result_.groups[player.standing.group];
      if (std::optional<double>& p = player.standing.p_in_cut; p && *group.cut < group.players) {
        p = stats::shown_by_draws(*p, result_.draws);
      }
      result_.players.push_back(std::move(player.standing));
    }
  }

  const runs::RunLog& log_;
  const StandingsOptions& options_;
  norms::Catalogue norms_;  // none is asked
  inference::SegmentNames segments_;
  ProfileOptions profile_options_;
  ProfileJob job_;
  StandingsResult result_;
  std::vector<Entrant> entrants_;
  std::vector<std::uint32_t> used_;
  std::vector<ResolvedQuantity> parts_;
  std::vector<Belief> beliefs_;
  std::vector<std::uint32_t> heats_;  // within the days asked for
  std::vector<std::size_t> heard_;    // entrants in heats_told_, in its order
  HeatBeliefs heats_told_;
  std::vector<Ranked> ranked_;
};

}  // namespace

std::variant<StandingsResult, StandingsRefusal> standings(const runs::RunLog& log, const runs::Roster& roster,
                                                          const timing::DeviceBook& devices,
                                                          const StandingsOptions& options) {
  check(options);
  return Standings(log, roster, devices, options).run();
}

}  // namespace bagsplit::jobs
