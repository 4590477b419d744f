#include "bagsplit/coach/squad_times.hpp"

#include <Eigen/Cholesky>
#include <algorithm>
#include <bit>
#include <cmath>
#include <numeric>

#include "bagsplit/basepath/surrogate.hpp"
#include "bagsplit/coach/assemble.hpp"
#include "bagsplit/coach/best_path_losses.hpp"
#include "bagsplit/coach/profile.hpp"
#include "bagsplit/coach/squad_model.hpp"
#include "bagsplit/runs/units.hpp"
#include "bagsplit/sprint/prior.hpp"
#include "bagsplit/stats/distributions.hpp"
#include "bagsplit/stats/random.hpp"

namespace bagsplit::coach {

namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

constexpr std::uint64_t squad_seed = 20260411;  // as profile(): the same players are learnt from

bool is_bias(TermKind kind) {
  return kind == TermKind::bias_shared || kind == TermKind::bias_timer || kind == TermKind::bias_event ||
         kind == TermKind::bias_many;
}

template <typename Function>
void each_bit(std::uint64_t bits, Function&& function) {
  for (; bits != 0; bits &= bits - 1) {
    function(static_cast<std::uint32_t>(std::countr_zero(bits)));
  }
}

// One player's numbers: own runs as data, and for each course and clock asked about the terms a reading of it would hold.
struct Subject {
  runs::NameId name = runs::no_name;
  Assembled assembled;
  LossMeans loss_means;
  std::vector<std::uint64_t> course_terms, clock_terms;  // bit masks over the terms
  std::optional<std::uint32_t> reaction;
};

class Builder {
 public:
  Builder(const runs::RunLog& log, const runs::Roster& roster, const timing::DeviceBook& devices,
          const SquadTimesQuestion& question)
      : log_(log), roster_(roster), devices_(devices), question_(question), defaults_(default_model()) {
    add_asked_runs();
    segments_.emplace(log_);
    if (std::any_of(log_.courses.begin(), log_.courses.end(), [](const runs::Course& c) { return !c.segments.empty(); })) {
      best_paths_ = basepath::LossTable::built_in();
    }
  }

  SquadTimes build();

 private:
  // Runs that were never run, one for each course and clock: the assembler then names every term such a reading would hold.
  void add_asked_runs();
  void add_asked_run(const AskedCourse& course, const AskedClock& clock);
  Subject subject_of(runs::NameId name, const Selection& selection, KnownPlayer& known) const;
  std::vector<Selection> selections();
  std::optional<SquadModel> fit(std::span<const Selection> selections) const;
  ClockTimes clock_times(std::size_t clock, const SquadModel* squad, const sprint::SquadPoint* point,
                         std::span<const Subject> subjects) const;

  runs::RunLog log_;  // with the asked runs at its end
  const runs::Roster& roster_;
  const timing::DeviceBook& devices_;
  const SquadTimesQuestion& question_;
  sprint::ModelFile defaults_;
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
    out.push_back(select_runs(log_, by_name[name], std::nullopt, std::nullopt));
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
  out.assembled = assemble(log_, *segments_, used, player, sprint::sprint_prior(known.age_years, known.sex), devices_,
                           question_.model, defaults_);
  // What was asked is no data.
  sprint::PlayerData& data = out.assembled.data;
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
        (is_bias(kind) ? clock : course) |= std::uint64_t{1} << k;
      }
    });
    (a < question_.courses.size() ? out.course_terms : out.clock_terms).push_back(a < question_.courses.size() ? course : clock);
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
  for (const sprint::MarkData& mark : data.marks) {
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
    return std::nullopt;
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

// Gaussian of one player's components at one point, from the posterior's nodes.
class Moments {
 public:
  Moments(const Subject& subject, const sprint::Posterior& posterior, const SquadTimesQuestion& question)
      : subject_(subject), posterior_(posterior), question_(question), data_(posterior.data()),
        active_(posterior.active_terms().begin(), posterior.active_terms().end()) {
    std::uint64_t needed = 0;
    for (const std::uint64_t terms : subject.course_terms) {
      needed |= terms;
    }
    if (subject.reaction) {
      needed |= std::uint64_t{1} << *subject.reaction;
    }
    if (data_.day_term) {
      needed |= std::uint64_t{1} << *data_.day_term;
    }
    each_bit(needed, [&](std::uint32_t k) {
      if (!posterior.is_active(k)) {
        rest_.push_back(k);
      }
    });
    condition();
    gather();
  }

  /// x = (log V, log tau, active terms, needed ones) less what the prior and the sprint itself say of them.
  Index x_size() const { return 2 + static_cast<Index>(active_.size() + rest_.size()); }
  std::uint32_t term(Index x) const {
    const auto k = static_cast<std::size_t>(x) - 2;
    return k < active_.size() ? active_[k] : rest_[k - active_.size()];
  }
  const VectorXd& mean() const { return mean_; }              ///< of the components
  const MatrixXd& covariance() const { return covariance_; }  ///< of the components
  const MatrixXd& cross() const { return cross_; }            ///< x by components

 private:
  double correlation(std::uint32_t a, std::uint32_t b) const {
    return a == b ? 1.0 : data_.term_correlation.empty() ? 0.0 : data_.term_correlation[a * data_.terms.size() + b];
  }
  MatrixXd prior(const std::vector<std::uint32_t>& a, const std::vector<std::uint32_t>& b) const {
    MatrixXd out(static_cast<Index>(a.size()), static_cast<Index>(b.size()));
    for (std::size_t i = 0; i < a.size(); ++i) {
      for (std::size_t j = 0; j < b.size(); ++j) {
        out(static_cast<Index>(i), static_cast<Index>(j)) =
            correlation(a[i], b[j]) * data_.terms[a[i]].sd * data_.terms[b[j]].sd;
      }
    }
    return out;
  }

  // Terms no reading depends on follow the others as the prior ties them.
  void condition() {
    const MatrixXd between = prior(rest_, active_);
    gain_ = MatrixXd::Zero(between.rows(), between.cols());
    if (!active_.empty() && !rest_.empty()) {
      gain_ = prior(active_, active_).ldlt().solve(between.transpose()).transpose();
    }
    left_ = prior(rest_, rest_) - gain_ * between.transpose();
  }

  void gather();

  const Subject& subject_;
  const sprint::Posterior& posterior_;
  const SquadTimesQuestion& question_;
  const sprint::PlayerData& data_;
  std::vector<std::uint32_t> active_, rest_;
  MatrixXd gain_, left_;
  VectorXd mean_;
  MatrixXd covariance_, cross_;
};

void Moments::gather() {
  const TimesIndex index{question_.courses.size()};
  const auto nodes = static_cast<Index>(posterior_.size());
  const auto q = static_cast<Index>(active_.size());
  const auto r = static_cast<Index>(rest_.size());
  const Index m = x_size();
  const auto c = static_cast<Index>(index.size());
  const sprint::TermMeans term_means = subject_.loss_means.callback();

  // At each node: x as a deviation, the terms themselves, the straight times.
  MatrixXd deviation(m, nodes);
  MatrixXd terms(q + r, nodes);
  MatrixXd straight(static_cast<Index>(index.courses), nodes);
  MatrixXd within = MatrixXd::Zero(q, q);
  VectorXd weights(nodes);
  std::vector<double> moving(data_.terms.size());
  for (Index node = 0; node < nodes; ++node) {
    const auto at = static_cast<std::size_t>(node);
    const sprint::Sprint& sprint = posterior_.sprints()[at];
    weights(node) = posterior_.weights()[at];
    deviation(0, node) = std::log(sprint.top_speed_mps) - data_.log_top_speed.mean;
    deviation(1, node) = std::log(sprint.time_constant_s) - data_.log_time_constant.mean;
    for (std::size_t k = 0; k < moving.size(); ++k) {
      moving[k] = data_.terms[k].mean;
    }
    if (term_means) {
      term_means(sprint, moving);
    }
    const auto sloped = [&](std::uint32_t k) {
      return data_.term_slopes.empty() ? 0.0
                                       : data_.term_slopes[2 * k] * deviation(0, node) +
                                             data_.term_slopes[2 * k + 1] * deviation(1, node);
    };
    const auto means = posterior_.term_means(at);
    VectorXd surprise(q);
    for (Index a = 0; a < q; ++a) {
      const std::uint32_t k = active_[static_cast<std::size_t>(a)];
      terms(a, node) = means[static_cast<std::size_t>(a)];
      deviation(2 + a, node) = terms(a, node) - moving[k];
      surprise(a) = deviation(2 + a, node) - sloped(k);
    }
    const VectorXd follows = gain_ * surprise;
    for (Index b = 0; b < r; ++b) {
      const std::uint32_t k = rest_[static_cast<std::size_t>(b)];
      deviation(2 + q + b, node) = sloped(k) + follows(b);
      terms(q + b, node) = moving[k] + deviation(2 + q + b, node);
    }
    const auto covariance = posterior_.term_covariance(at);
    within += weights(node) * Eigen::Map<const Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor>>(
                                  covariance.data(), q, q);
    for (std::size_t course = 0; course < index.courses; ++course) {
      straight(static_cast<Index>(course), node) = sprint::time_to_distance(sprint, question_.courses[course].distance_m);
    }
  }

  // All terms given the sprint, over the nodes.
  MatrixXd spread = MatrixXd::Zero(q + r, q + r);
  spread.topLeftCorner(q, q) = within;
  spread.bottomLeftCorner(r, q) = gain_ * within;
  spread.topRightCorner(q, r) = (gain_ * within).transpose();
  spread.bottomRightCorner(r, r) = left_ + gain_ * within * gain_.transpose();

  // Components: linear in the terms and the straight times.
  const VectorXd usual = straight * weights;
  MatrixXd of_terms = MatrixXd::Zero(c, q + r);
  MatrixXd values(c, nodes);
  const auto place = [&](std::uint32_t k) {
    const auto found = std::find(active_.begin(), active_.end(), k);
    return found != active_.end() ? found - active_.begin()
                                  : q + (std::find(rest_.begin(), rest_.end(), k) - rest_.begin());
  };
  for (std::size_t course = 0; course < index.courses; ++course) {
    const auto row = static_cast<Index>(index.moving(course));
    each_bit(subject_.course_terms[course], [&](std::uint32_t k) { of_terms(row, place(k)) = 1.0; });
    if (data_.day_term) {
      of_terms(row + 1, place(*data_.day_term)) = usual(static_cast<Index>(course));
    }
  }
  if (subject_.reaction) {
    of_terms(static_cast<Index>(index.reaction()), place(*subject_.reaction)) = 1.0;
  }
  values = of_terms * terms;
  for (std::size_t course = 0; course < index.courses; ++course) {
    values.row(static_cast<Index>(index.moving(course))) += straight.row(static_cast<Index>(course));
    values.row(static_cast<Index>(index.straight(course))) = straight.row(static_cast<Index>(course));
  }
  mean_ = values * weights;
  const MatrixXd off = values.colwise() - mean_;
  const VectorXd x_mean = deviation * weights;
  const MatrixXd x_off = deviation.colwise() - x_mean;
  covariance_ = off * weights.asDiagonal() * off.transpose() + of_terms * spread * of_terms.transpose();
  cross_ = x_off * weights.asDiagonal() * off.transpose();
  cross_.bottomRows(q + r) += spread * of_terms.transpose();
}

// How the components go with what the squad shares: through the player's own x, as the prior ties the two.
MatrixXd loading_of(const Moments& moments, const sprint::MemberPrior& prior, const sprint::SquadPoint& point) {
  const auto shared = point.mean.size();
  MatrixXd loading = MatrixXd::Zero(moments.mean().size(), shared);
  const auto g = static_cast<Index>(prior.about.size());
  std::vector<Index> kept;  // of x
  std::vector<Index> coordinate;
  for (Index x = 0; x < moments.x_size(); ++x) {
    const Index in_prior = x < 2 ? x : 2 + static_cast<Index>(moments.term(x));
    if (prior.covariance(in_prior, in_prior) > 0.0) {
      kept.push_back(x);
      coordinate.push_back(in_prior);
    }
  }
  if (g == 0 || kept.empty()) {
    return loading;
  }
  const auto n = static_cast<Index>(kept.size());
  MatrixXd own(n, n);
  MatrixXd ties(g, n);
  MatrixXd cross(n, moments.mean().size());
  for (Index a = 0; a < n; ++a) {
    ties.col(a) = prior.cross.col(coordinate[static_cast<std::size_t>(a)]);
    cross.row(a) = moments.cross().row(kept[static_cast<std::size_t>(a)]);
    for (Index b = 0; b < n; ++b) {
      own(a, b) = prior.covariance(coordinate[static_cast<std::size_t>(a)], coordinate[static_cast<std::size_t>(b)]);
    }
  }
  MatrixXd shared_covariance(g, g);
  for (Index a = 0; a < g; ++a) {
    for (Index b = 0; b < g; ++b) {
      shared_covariance(a, b) = point.covariance(prior.about[static_cast<std::size_t>(a)], prior.about[static_cast<std::size_t>(b)]);
    }
  }
  const MatrixXd together = ties * own.ldlt().solve(cross);  // covariance of shared and components
  const MatrixXd part = shared_covariance.llt().solve(together).transpose();
  for (Index a = 0; a < g; ++a) {
    loading.col(prior.about[static_cast<std::size_t>(a)]) = part.col(a);
  }
  return loading;
}

ClockTimes Builder::clock_times(std::size_t clock, const SquadModel* squad, const sprint::SquadPoint* point,
                                std::span<const Subject> subjects) const {
  const AskedClock& asked = question_.clocks[clock];
  const timing::ReadingError error =
      timing::reading_error(devices_.default_for(asked.device), asked.start, log_.name(asked.timer));
  ClockTimes out;
  const double factor = point != nullptr && asked.device == runs::Device::stopwatch ? point->scales.press_factor : 1.0;
  out.start_sd_s = factor * question_.model.error.start_sd_s.value_or(error.start_sd_s);
  out.split_sd_s = factor * question_.model.error.split_sd_s.value_or(error.split_sd_s);
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
      const sprint::Normal& prior = most->assembled.data.terms[k];
      out.bias_mean_s += prior.mean;
      own_variance += prior.sd * prior.sd;
    }
  });
  out.bias_own_sd_s = std::sqrt(own_variance);
  return out;
}

PlayerTimes times_of(const Moments& moments, MatrixXd loading, const MatrixXd& shared_covariance) {
  MatrixXd own = moments.covariance() - loading * shared_covariance * loading.transpose();
  return {moments.mean(), std::move(loading), 0.5 * (own + own.transpose())};
}

// Share from data of reaction + moving time, for each course.
void set_shares(const Subject& subject, const Moments& moments, const SquadTimesQuestion& question,
                const sprint::PlayerData& data, KnownPlayer& known) {
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
    for (const sprint::Sprint& sprint : subject.loss_means.grid->sprints) {
      straight.push_back(sprint::time_to_distance(sprint, question.courses[c].distance_m));
    }
    sprint::Estimate estimate;
    estimate.sd = std::sqrt(variance);
    subject.loss_means.set_share(estimate, data, terms, std::move(straight));
    known.share_from_data.push_back(estimate.share_from_data.value_or(0.0));
  }
}

SquadTimes Builder::build() {
  const std::vector<Selection> all = selections();
  const std::optional<SquadModel> squad = question_.squad ? fit(all) : std::nullopt;
  SquadTimes out;
  out.index = {question_.courses.size()};
  out.form_told = squad && question_.day;
  const std::size_t points = squad ? squad->fit.points.size() : 1;
  const std::size_t n = question_.players.size();
  std::vector<Subject> subjects(n);
  out.players.resize(n);
  out.points.resize(points);
  for (std::size_t p = 0; p < points; ++p) {
    const sprint::SquadPoint* const point = squad ? &squad->fit.points[p] : nullptr;
    out.points[p].weight = point != nullptr ? point->weight : 1.0;
    out.points[p].shared_covariance = point != nullptr ? point->covariance : MatrixXd(0, 0);
    out.points[p].players.resize(n);
  }
  std::vector<std::uint8_t> uncertified(n, 0);
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
        const sprint::Posterior posterior(subject.assembled.data, subject.loss_means.callback());
        const Moments moments(subject, posterior, question_);
        uncertified[i] = posterior.usable() ? 0 : 1;
        set_shares(subject, moments, question_, posterior.data(), out.players[i]);
        to.players[i] = times_of(moments, MatrixXd(moments.mean().size(), 0), to.shared_covariance);
        continue;
      }
      const sprint::SquadPoint& point = squad->fit.points[p];
      const auto member_at = squad->members.find(subject.name);
      const auto index = member_at != squad->members.end() ? std::optional(member_at->second) : std::nullopt;
      const sprint::SquadMember member = member_of(*squad, subject.assembled, question_.day);
      const sprint::PlayerData data = sprint::member_data(squad->fit, point, member, index);
      if (p == 0) {
        subject.loss_means.regrid(data);
      }
      const sprint::Posterior posterior(data, subject.loss_means.callback());
      uncertified[i] = uncertified[i] != 0 || !posterior.usable() ? 1 : 0;
      const Moments moments(subject, posterior, question_);
      if (p == 0) {
        set_shares(subject, moments, question_, data, out.players[i]);
      }
      to.players[i] = times_of(moments, loading_of(moments, sprint::member_prior(squad->fit, point, member, index), point),
                               to.shared_covariance);
    }
  });
  for (std::size_t i = 0; i < n; ++i) {
    if (uncertified[i] != 0) {
      out.uncertified.push_back(out.players[i].player);
    }
  }
  for (std::size_t p = 0; p < points; ++p) {
    const sprint::SquadPoint* const point = squad ? &squad->fit.points[p] : nullptr;
    const sprint::PlayerData& any = subjects.front().assembled.data;
    out.points[p].scales =
        point != nullptr ? point->scales : sprint::SquadScales{any.effort_cv, any.day_cv, any.reaction_sd_s, 1.0};
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

double usual_base_m(const runs::RunLog& log) {
  const runs::Run* last = nullptr;
  for (const runs::Run& run : log.runs) {
    if (run.base_distance_m > 0.0 && (last == nullptr || run.date >= last->date)) {
      last = &run;
    }
  }
  return last != nullptr ? last->base_distance_m : 60 * runs::metres_per_foot;
}

sprint::Estimate gaussian_estimate(double mean, double variance, double level) {
  const double sd = std::sqrt(std::max(0.0, variance));
  const double half = -stats::normal_quantile(0.5 * (1.0 - level)) * sd;
  return {mean, sd, mean - half, mean, mean + half, std::nullopt};
}

}  // namespace bagsplit::coach
