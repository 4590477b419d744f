#include "bagsplit/inference/squad/squad_times.hpp"

#include <algorithm>
#include <bit>
#include <cmath>
#include <numeric>

#include "bagsplit/basepath/surrogate.hpp"
#include "bagsplit/inference/prior/model.hpp"
#include "bagsplit/inference/prior/prior.hpp"
#include "bagsplit/inference/reading/assemble.hpp"
#include "bagsplit/inference/reading/best_path_losses.hpp"
#include "bagsplit/inference/squad/detail/times_moments.hpp"
#include "bagsplit/inference/squad/squad_model.hpp"
#include "bagsplit/runs/units.hpp"
#include "bagsplit/stats/distributions.hpp"
#include "bagsplit/stats/random.hpp"
#include "bagsplit/text/text.hpp"

namespace bagsplit::inference {

namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

constexpr std::size_t many_players = 60;  // beyond, the coarse lattice does: means and SDs to about 0.1%

bool moves_the_clock(TermKind kind) {
  return kind == TermKind::bias_shared || kind == TermKind::bias_timer || kind == TermKind::bias_event ||
         kind == TermKind::bias_many;
}

class Builder {
 public:
  Builder(const runs::RunLog& log, const runs::Roster& roster, const timing::DeviceBook& devices,
          const SquadTimesQuestion& question)
      : log_(log),
        roster_(roster),
        devices_(devices),
        question_(question),
        defaults_(default_model()),
        ages_alike_(mostly_without_age(log, roster)) {
    add_asked_runs();
    segments_.emplace(log_);
    if (std::any_of(log_.courses.begin(), log_.courses.end(),
                    [](const runs::Course& c) { return !c.segments.empty(); })) {
      best_paths_ = basepath::LossTable::built_in();
    }
  }

  SquadTimes build();

 private:
  // Runs that were never run, one for each course and clock: the assembler then names every term such a reading would
  // hold.
  void add_asked_runs();
  void add_asked_run(const AskedCourse& course, const AskedClock& clock);
  Subject subject_of(runs::NameId name, const Selection& selection, KnownPlayer& known) const;
  std::vector<Selection> selections();
  std::optional<SquadModel> fit(std::span<const Selection> selections) const;
  SquadModel beforehand() const;
  ClockTimes clock_times(std::size_t clock, const SquadModel* squad, const inference::SquadPoint* point,
                         std::span<const Subject> subjects) const;

  runs::RunLog log_;  // with the asked runs at its end
  const runs::Roster& roster_;
  const timing::DeviceBook& devices_;
  const SquadTimesQuestion& question_;
  inference::ModelFile defaults_;
  bool ages_alike_;  // see Assembled::ages_alike
  std::optional<SegmentNames> segments_;
  std::optional<basepath::LossTable> best_paths_;
  std::vector<runs::NameId> ran_;     // every player with a run in the log
  std::vector<std::uint32_t> asked_;  // the asked runs
};

void Builder::add_asked_run(const AskedCourse& course, const AskedClock& clock) {
  runs::Run run;
  run.first_reading = static_cast<std::uint32_t>(log_.readings.size());
  run.reading_count = 1;
  run.course = course.course;
  run.trial = 1;
  run.posture = course.posture;
  run.date = question_.age_at;
  run.base_distance_m = course.base_m;
  runs::Reading reading;
  reading.timer = clock.timer;
  reading.first_split = static_cast<std::uint32_t>(log_.splits.size());
  reading.split_count = 1;
  reading.device = clock.device;
  reading.start = clock.start;
  reading.signal = clock.signal;
  log_.splits.push_back({course.distance_m, 1.0, runs::no_name, false});
  log_.readings.push_back(reading);
  asked_.push_back(static_cast<std::uint32_t>(log_.runs.size()));
  log_.runs.push_back(run);
}

void Builder::add_asked_runs() {
  const std::size_t own = log_.runs.size();
  for (std::size_t i = 0; i < own; ++i) {
    if (std::find(ran_.begin(), ran_.end(), log_.runs[i].player) == ran_.end()) {
      ran_.push_back(log_.runs[i].player);
    }
  }
  for (const AskedCourse& course : question_.courses) {
    add_asked_run(course, {});
  }
  for (const AskedClock& clock : question_.clocks) {
    add_asked_run(question_.courses.front(), clock);
  }
}

// Of everybody who ran, in the order of the log.
std::vector<Selection> Builder::selections() {
  std::vector<std::vector<std::uint32_t>> by_name(log_.names.size());
  for (std::uint32_t i = 0; i < asked_.front(); ++i) {
    by_name[log_.runs[i].player].push_back(i);
  }
  std::vector<Selection> out;
  for (const runs::NameId name : ran_) {
    out.push_back(select_runs(log_, by_name[name], question_.as_of, question_.window_days));
  }
  return out;
}

Subject Builder::subject_of(runs::NameId name, const Selection& selection, KnownPlayer& known) const {
  Subject out;
  out.name = name;
  const runs::Player* const player = roster_.find(known.player);
  known.in_roster = player != nullptr;
  if (player != nullptr) {
    known.sex = player->sex;
    if (player->born) {
      known.age_years = runs::age_years(*player->born, selection.last.value_or(question_.age_at));
    }
  }
  std::vector<std::uint32_t> used = selection.used;
  used.insert(used.end(), asked_.begin(), asked_.end());
  const inference::SprintPrior prior =
      inference::with_model(inference::sprint_prior(known.age_years, known.sex), question_.model.prior);
  out.assembled = assemble(log_, *segments_, used, player, prior, devices_, question_.model, defaults_);
  out.assembled.ages_alike = ages_alike_ && !known.age_years;
  // What was asked is no data.
  inference::PlayerData& data = out.assembled.data;
  const std::size_t readings = data.readings.size() - asked_.size();
  const std::size_t marks = data.marks.size() - asked_.size();
  for (std::size_t a = 0; a < asked_.size(); ++a) {
    std::uint64_t course = 0;
    std::uint64_t clock = 0;
    each_bit(data.marks[marks + a].terms, [&](std::uint32_t k) {
      const TermKind kind = out.assembled.terms[k].kind;
      if (kind == TermKind::reaction) {
        out.reaction = k;
      } else {
        (moves_the_clock(kind) ? clock : course) |= std::uint64_t{1} << k;
      }
    });
    (a < question_.courses.size() ? out.course_terms : out.clock_terms)
        .push_back(a < question_.courses.size() ? course : clock);
  }
  data.runs.resize(selection.used.size());
  data.readings.resize(readings);
  data.marks.resize(marks);
  out.assembled.hand.resize(readings);
  if (best_paths_) {
    out.loss_means = expect_best_path(out.assembled, *best_paths_, question_.model);
  } else {
    out.loss_means.grid.emplace(data);
  }

  known.runs = selection.used.size();
  std::uint64_t timed = 0;
  bool any_distance = false;
  for (const inference::MarkData& mark : data.marks) {
    timed |= mark.terms;
    any_distance = any_distance || mark.distance_m > 0.0;
  }
  for (const std::uint64_t terms : out.course_terms) {
    known.course_run.push_back(any_distance && (terms & ~timed) == 0);
  }
  return out;
}

std::optional<SquadModel> Builder::fit(std::span<const Selection> selections) const {
  std::vector<std::size_t> able;
  std::vector<std::size_t> readings;
  for (std::size_t i = 0; i < selections.size(); ++i) {
    if (!selections[i].used.empty()) {
      able.push_back(i);
      readings.push_back(0);
      for (const std::uint32_t run : selections[i].used) {
        readings.back() += log_.runs[run].reading_count;
      }
    }
  }
  if (able.empty()) {
    return question_.squad_without_runs ? std::optional(beforehand()) : std::nullopt;
  }
  std::vector<SquadPlayer> fitted;
  for (const std::size_t drawn : draw_fitted(readings, squad_seed)) {
    const std::size_t i = able[drawn];
    KnownPlayer known;
    known.player = log_.name(ran_[i]);
    Subject subject = subject_of(ran_[i], selections[i], known);
    fitted.push_back({ran_[i], std::move(subject.assembled), std::move(subject.loss_means)});
  }
  return fit_squad_model(fitted, able.size() - fitted.size(), question_.threads, squad_seed);
}

// What the players share as it is thought of before any run.
SquadModel Builder::beforehand() const {
  std::vector<SquadPlayer> players;
  for (const std::string& id : question_.players) {
    KnownPlayer known;
    known.player = id;
    Subject subject = subject_of(runs::no_name, {}, known);
    players.push_back({runs::no_name, std::move(subject.assembled), std::move(subject.loss_means)});
  }
  SquadModel model = squad_structure(players, squad_seed);
  inference::SquadPoint point;
  const inference::SquadScalePriors scales = scale_priors();
  point.scales = {std::exp(scales.log_effort_cv.mean), std::exp(scales.log_day_cv.mean),
                  std::exp(scales.log_reaction_sd.mean), 1.0, 0.0};
  const auto n = static_cast<Index>(model.shared.size());
  point.mean = VectorXd::Zero(n);
  point.covariance = MatrixXd::Zero(n, n);
  for (const SharedQuantity& quantity : model.shared) {
    const auto k = static_cast<Index>(model.fit.shared_prior.size());
    point.mean(k) = quantity.prior.mean;
    point.covariance(k, k) = quantity.prior.sd * quantity.prior.sd;
    model.fit.shared_prior.push_back(quantity.prior);
  }
  model.fit.points.push_back(std::move(point));
  model.fit.converged = true;
  return model;
}

ClockTimes Builder::clock_times(std::size_t clock, const SquadModel* squad, const inference::SquadPoint* point,
                                std::span<const Subject> subjects) const {
  const AskedClock& asked = question_.clocks[clock];
  const timing::ReadingError error =
      timing::reading_error(devices_.default_for(asked.device), asked.start, log_.name(asked.timer), asked.signal);
  ClockTimes out;
  const double factor = point != nullptr && asked.device == runs::Device::stopwatch ? point->scales.press_factor : 1.0;
  out.start_sd_s = factor * question_.model.error.start_sd_s.value_or(error.start_sd_s);
  out.split_sd_s = std::max(smallest_split_sd_s, factor * question_.model.error.split_sd_s.value_or(error.split_sd_s));
  out.bias_mean_s = question_.model.error.bias_s.value_or(0.0);
  out.loading = VectorXd::Zero(point != nullptr ? point->mean.size() : 0);
  // Where somebody's first moves were timed by this clock, the bias has one term more.
  const auto most = std::max_element(subjects.begin(), subjects.end(), [&](const Subject& a, const Subject& b) {
    return std::popcount(a.clock_terms[clock]) < std::popcount(b.clock_terms[clock]);
  });
  double own_variance = 0.0;
  each_bit(most->clock_terms[clock], [&](std::uint32_t k) {
    const auto shared = squad != nullptr ? squad->find(most->assembled.terms[k]) : std::nullopt;
    if (shared) {
      out.loading(*shared) = 1.0;
      out.bias_mean_s += point->mean(*shared);
    } else {
      const inference::Normal& prior = most->assembled.data.terms[k];
      out.bias_mean_s += prior.mean;
      own_variance += prior.sd * prior.sd;
    }
  });
  out.bias_own_sd_s = std::sqrt(own_variance);
  return out;
}

PlayerTimes times_of(const TimesMoments& moments, MatrixXd loading, const MatrixXd& shared_covariance) {
  MatrixXd own = moments.covariance() - loading * shared_covariance * loading.transpose();
  return {moments.mean(), std::move(loading), 0.5 * (own + own.transpose())};
}

// Share from data of reaction + moving time, for each course.
void set_shares(const Subject& subject, const TimesMoments& moments, const SquadTimesQuestion& question,
                const inference::PlayerData& data, KnownPlayer& known) {
  const TimesIndex index{question.courses.size()};
  for (std::size_t c = 0; c < index.courses; ++c) {
    std::vector<std::uint32_t> terms;
    each_bit(subject.course_terms[c], [&](std::uint32_t k) { terms.push_back(k); });
    const auto m = static_cast<Index>(index.moving(c));
    const auto r = static_cast<Index>(index.reaction());
    double variance = moments.covariance()(m, m);
    if (subject.reaction) {
      terms.push_back(*subject.reaction);
      variance += moments.covariance()(r, r) + 2.0 * moments.covariance()(m, r);
    }
    std::vector<double> straight;
    for (const motion::Sprint& sprint : subject.loss_means.grid->sprints) {
      straight.push_back(motion::time_to_distance(sprint, question.courses[c].distance_m));
    }
    inference::Estimate estimate;
    estimate.sd = std::sqrt(variance);
    subject.loss_means.set_share(estimate, data, terms, std::move(straight));
    known.share_from_data.push_back(estimate.share_from_data.value_or(0.0));
  }
}

void tell_slips(const Subject& subject, const Posterior& posterior, KnownPlayer& known) {
  known.log_reading = subject.assembled.log_reading;
  known.log_reading.resize(posterior.data().readings.size());
  if (posterior.data().slips.rate > 0.0) {
    known.slips.assign(posterior.slips().begin(), posterior.slips().end());
    known.slip_of_reading.assign(posterior.slip_of_reading().begin(), posterior.slip_of_reading().end());
    known.probability_all_readings_fit = posterior.probability_all_fit();
  }
}

SquadTimes Builder::build() {
  const std::vector<Selection> all = selections();
  const std::optional<SquadModel> squad = question_.squad ? fit(all) : std::nullopt;
  SquadTimes out;
  out.index = {question_.courses.size()};
  out.form_told = squad && question_.day;
  out.squad_settled = !squad || squad->fit.converged;
  if (squad && squad->fit.slip_rate > 0.0) {
    out.slip_rate = squad->fit.slip_rate;
  }
  const std::size_t points = squad ? squad->fit.points.size() : 1;
  const std::size_t n = question_.players.size();
  std::vector<Subject> subjects(n);
  out.players.resize(n);
  out.points.resize(points);
  for (std::size_t p = 0; p < points; ++p) {
    const inference::SquadPoint* const point = squad ? &squad->fit.points[p] : nullptr;
    out.points[p].weight = point != nullptr ? point->weight : 1.0;
    out.points[p].shared_covariance = point != nullptr ? point->covariance : MatrixXd(0, 0);
    out.points[p].players.resize(n);
  }
  std::vector<std::uint8_t> uncertified(n, 0);
  const inference::PosteriorEffort effort{.coarse = n > many_players, .near = std::nullopt, .name_slips = true};
  stats::for_each_index(n, question_.threads, [&](std::size_t i) {
    const std::string& id = question_.players[i];
    out.players[i].player = id;
    const auto ran = std::find_if(ran_.begin(), ran_.end(), [&](runs::NameId name) { return log_.name(name) == id; });
    const Selection none;
    const Selection& selection = ran != ran_.end() ? all[static_cast<std::size_t>(ran - ran_.begin())] : none;
    Subject& subject = subjects[i];
    subject = subject_of(ran != ran_.end() ? *ran : runs::no_name, selection, out.players[i]);
    for (std::size_t p = 0; p < points; ++p) {
      TimesPoint& to = out.points[p];
      if (!squad) {
        const inference::PlayerData data = alone(subject.assembled);
        subject.loss_means.regrid(data);
        const inference::Posterior posterior(data, subject.loss_means.callback(), effort);
        const TimesMoments moments(subject, posterior, question_);
        uncertified[i] = posterior.usable() ? 0 : 1;
        tell_slips(subject, posterior, out.players[i]);
        set_shares(subject, moments, question_, posterior.data(), out.players[i]);
        to.players[i] = times_of(moments, MatrixXd(moments.mean().size(), 0), to.shared_covariance);
        continue;
      }
      const inference::SquadPoint& point = squad->fit.points[p];
      const auto member_at = squad->members.find(subject.name);
      const auto index = member_at != squad->members.end() ? std::optional(member_at->second) : std::nullopt;
      const inference::SquadMember member = member_of(*squad, subject.assembled, question_.day);
      const inference::PlayerData data = inference::member_data(squad->fit, point, member, index);
      if (p == 0) {
        subject.loss_means.regrid(data);
      }
      const inference::Posterior posterior(data, subject.loss_means.callback(), effort);
      uncertified[i] = uncertified[i] != 0 || !posterior.usable() ? 1 : 0;
      const TimesMoments moments(subject, posterior, question_);
      if (p == 0) {
        set_shares(subject, moments, question_, data, out.players[i]);
        tell_slips(subject, posterior, out.players[i]);
      }
      to.players[i] =
          times_of(moments, moments.loading(inference::member_prior(squad->fit, point, member, index), point),
                   to.shared_covariance);
    }
  });
  for (std::size_t i = 0; i < n; ++i) {
    if (uncertified[i] != 0) {
      out.uncertified.push_back(out.players[i].player);
    }
  }
  for (std::size_t p = 0; p < points; ++p) {
    const inference::SquadPoint* const point = squad ? &squad->fit.points[p] : nullptr;
    const inference::PlayerData& any = subjects.front().assembled.data;
    out.points[p].scales =
        point != nullptr ? point->scales : inference::SquadScales{any.effort_cv, any.day_cv, any.reaction_sd_s, 1.0};
    for (std::size_t k = 0; k < question_.clocks.size(); ++k) {
      out.points[p].clocks.push_back(clock_times(k, squad ? &*squad : nullptr, point, subjects));
    }
  }
  return out;
}

}  // namespace

SquadTimes squad_times(const runs::RunLog& log, const runs::Roster& roster, const timing::DeviceBook& devices,
                       const SquadTimesQuestion& question) {
  if (question.courses.empty() || question.players.empty()) {
    throw std::invalid_argument("squad_times: at least one course and one player are needed");
  }
  return Builder(log, roster, devices, question).build();
}

TimesWorld::TimesWorld(const SquadTimes& times, std::size_t point) : point_(times.points.at(point)) {
  shared_ = factors_.add(point_.shared_covariance);
  for (const PlayerTimes& player : point_.players) {
    own_.push_back(factors_.add(player.own));
  }
  for (const ClockTimes& clock : point_.clocks) {
    clock_.push_back(factors_.add(clock.bias_own_sd_s));
  }
}

stats::LinearQuantity TimesWorld::component(std::size_t player, std::size_t component) const {
  const PlayerTimes& times = point_.players.at(player);
  const auto row = static_cast<Index>(component);
  stats::LinearQuantity out{times.mean(row)};
  for (Index k = 0; k < times.loading.cols(); ++k) {
    if (times.loading(row, k) != 0.0) {
      out.add(shared_ + static_cast<std::size_t>(k), times.loading(row, k));
    }
  }
  return out.add(own_[player] + component, 1.0);
}

stats::LinearQuantity TimesWorld::bias(std::size_t clock) const {
  const ClockTimes& times = point_.clocks.at(clock);
  stats::LinearQuantity out{times.bias_mean_s};
  for (Index k = 0; k < times.loading.size(); ++k) {
    if (times.loading(k) != 0.0) {
      out.add(shared_ + static_cast<std::size_t>(k), times.loading(k));
    }
  }
  return out.add(clock_[clock], 1.0);
}

std::optional<AskedCourse> ask_course(const runs::RunLog& log, const std::string& name, std::optional<double> base_m,
                                      std::string& wrong) {
  const runs::Course* course = runs::find_course(log.courses, name);
  if (course == nullptr) {
    std::vector<std::string_view> known;
    for (const runs::Course& one : log.courses) {
      known.push_back(one.name);
    }
    const auto near = text::nearest(name, known);
    wrong = "no course '" + name + "'" + (near ? ". Did you mean '" + std::string(*near) + "'?" : "");
    return std::nullopt;
  }
  if (!course->is_base_path()) {
    base_m = 0.0;
  } else if (!base_m) {
    const runs::Run* last = nullptr;
    for (const runs::Run& run : log.runs) {
      if (run.base_distance_m > 0.0 && (last == nullptr || run.date >= last->date)) {
        last = &run;
      }
    }
    base_m = last != nullptr ? last->base_distance_m : 60 * runs::metres_per_foot;
  }
  const auto length = runs::course_length_m(*course, *base_m);
  if (!length) {
    wrong = "the course '" + name + "' has no length of its own: take one along the bases";
    return std::nullopt;
  }
  return AskedCourse{static_cast<std::uint16_t>(course - log.courses.data()), *base_m, *length,
                     runs::Posture::standing};
}

inference::Estimate gaussian_estimate(double mean, double variance, double level) {
  const double sd = std::sqrt(std::max(0.0, variance));
  const double half = -stats::normal_quantile(0.5 * (1.0 - level)) * sd;
  return {mean, sd, mean - half, mean, mean + half, std::nullopt};
}

}  // namespace bagsplit::inference
