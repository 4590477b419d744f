#include "bagsplit/jobs/night/night_plan.hpp"

#include <Eigen/Cholesky>
#include <Eigen/Core>
#include <algorithm>
#include <cmath>
#include <numeric>
#include <stdexcept>

#include "bagsplit/inference/posterior/posterior.hpp"
#include "bagsplit/inference/prior/prior.hpp"
#include "bagsplit/inference/prior/prior_rule.hpp"
#include "bagsplit/inference/reading/assemble.hpp"
#include "bagsplit/inference/season/options.hpp"
#include "bagsplit/inference/season/verdict.hpp"
#include "bagsplit/jobs/profile/profile.hpp"
#include "bagsplit/motion/curve.hpp"
#include "bagsplit/runs/units.hpp"
#include "bagsplit/safety/safety.hpp"
#include "bagsplit/stats/planning.hpp"
#include "bagsplit/stats/random.hpp"
#include "bagsplit/timing/reading_error.hpp"

namespace bagsplit::jobs {

namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

// Linear terms of a planned night.
enum : std::uint32_t {
  reaction,
  prone,
  loss_first,
  loss_second,
  loss_third,
  loss_home,
  bias_signal,
  bias_self,
  bias_beam,
  form,
  term_count
};

constexpr double rest_to_work = 6.0;  // rest at least so many times the running time. Common practice, no source

struct DrillModel {
  Drill drill;
  bool signal = false;
  double beam_m = 0.0;
  double start_sd_s = 0.0;
  std::vector<inference::MarkData> marks;
};

struct World {
  inference::PlayerData prior;
  std::vector<DrillModel> drills;
};

std::uint64_t bit(std::uint32_t term) {
  return std::uint64_t{1} << term;
}

// Of the lane for one run, common practice, no source: on a straight, the more from lying; round the bases.
constexpr double straight_lane_s = 40.0;
constexpr double prone_lane_s = 45.0;
double bases_lane_s(std::size_t bags) {
  return 20.0 + 10.0 * static_cast<double>(bags);
}

// The marks of a drill by name on one watch, and what each time holds beside the running.
std::vector<inference::MarkData> marks_of(const NamedDrill& named, double base_m, double split_sd_s) {
  const runs::Drill& drill = named.drill;
  const bool signal = drill.start == runs::StartKind::signal;
  std::uint64_t terms = bit(signal ? bias_signal : bias_self) | (signal ? bit(reaction) : 0U) |
                        (drill.posture == runs::Posture::prone ? bit(prone) : 0U);
  std::vector<inference::MarkData> out;
  if (named.course.is_base_path()) {
    for (std::size_t k = 1; k < named.course.bags.size(); ++k) {
      const bool through = k + 1 == named.course.bags.size() && named.course.segments.empty();
      terms |= through ? 0U : bit(loss_first + static_cast<std::uint32_t>(k) - 1);
      const double distance_m = base_m * static_cast<double>(k);
      const std::string bag(runs::bag_name(named.course.bags[k]));
      if (drill.marks.empty() || std::find(drill.marks.begin(), drill.marks.end(), bag) != drill.marks.end()) {
        out.push_back({distance_m, 0.0, split_sd_s, terms});
      }
    }
    return out;
  }
  for (const std::string& mark : drill.marks) {
    if (const auto distance_m = runs::parse_length_m(mark)) {
      out.push_back({*distance_m, 0.0, split_sd_s, terms});
    }
  }
  return out;
}

}  // namespace

std::string why_not_planned(const NamedDrill& named) {
  const std::string name = "the drill " + named.drill.name;
  if (named.drill.relay) {
    return name +
           " is a relay: how much of an evening it takes hangs on its teams. Plan the runs one by one without it; " +
           "its runs count among the " + std::to_string(safety::most_sprints_an_evening) + " of an evening";
  }
  const std::vector<runs::Bag>& bags = named.course.bags;
  for (std::size_t k = 0; k < bags.size(); ++k) {
    if (named.course.reverse || static_cast<std::size_t>(bags[k]) != k % 4) {
      return name + " is run over " + named.course.name + ": planned are courses that begin at home, by way of first";
    }
  }
  const bool by_watch = named.drill.start == runs::StartKind::signal || named.drill.start == runs::StartKind::self;
  const bool stands = named.drill.posture == runs::Posture::standing || named.drill.posture == runs::Posture::prone;
  if (!by_watch || !stands) {
    return name + " cannot be planned: a hand watch and a start from standing or lying are";
  }
  return marks_of(named, 20.0, 0.1).empty() ? name + " has no mark at a distance: nothing would be timed" : "";
}

namespace {

// What is thought of the players before the night, but for what the clocks read.
inference::PlayerData usual_player(const NightQuestion& q) {
  const inference::SprintPrior prior = inference::sprint_prior(q.age_years, q.sex);
  inference::PlayerData data;
  inference::set_sprint_prior(data, inference::log_sprint(prior), true);
  data.effort_cv = q.scales.effort_cv;
  data.day_cv = q.scales.day_cv;
  data.reaction_sd_s = q.scales.reaction_sd_s;
  data.terms.resize(term_count);
  data.terms[reaction] = prior.reaction_s;
  data.terms[prone] = prior.posture_cost_s.find("prone")->second;
  const inference::ModelFile defaults = inference::default_model();
  const char* const segments[] = {"first", "second", "third", "home"};
  for (std::uint32_t k = 0; k < 4; ++k) {
    data.terms[loss_first + k] = inference::default_segment_loss(defaults, segments[k]);
  }
  data.terms[form] = {0.0, data.day_cv};
  data.day_term = form;
  data.day_term_day = 1;
  return data;
}

inference::Normal bias_of(const timing::ReadingError& error, double devices_on_run) {
  return {error.bias_mean_s, std::sqrt(error.bias_shared_sd_s * error.bias_shared_sd_s +
                                       error.bias_timer_sd_s * error.bias_timer_sd_s / devices_on_run)};
}

// The drills of a night: who runs what, and what its times would tell.
class DrillList {
 public:
  DrillList(const NightQuestion& q, const timing::DeviceBook& devices)
      : q_(q),
        on_signal_(timing::reading_error(devices.default_for(runs::Device::stopwatch), runs::StartKind::signal)),
        on_self_(timing::reading_error(devices.default_for(runs::Device::stopwatch), runs::StartKind::self)),
        by_gate_(timing::reading_error(devices.default_for(runs::Device::gate), runs::StartKind::beam)),
        watches_(std::max(1.0, static_cast<double>(q.watches))),
        press_(q.scales.press_factor / std::sqrt(watches_)) {}

  World world() {
    world_.prior = usual_player(q_);
    world_.prior.terms[bias_signal] = bias_of(on_signal_, watches_);
    world_.prior.terms[bias_self] = bias_of(on_self_, watches_);
    world_.prior.terms[bias_beam] = bias_of(by_gate_, 1.0);
    for (const NamedDrill& named : q_.drills) {
      add_named(named);
    }
    if (q_.watches > 0 && q_.drills.empty()) {
      add_usual();
    }
    if (q_.gates && q_.drills.empty()) {
      add_gated();
    }
    for (DrillModel& model : world_.drills) {
      for (inference::MarkData& mark : model.marks) {
        mark.sd_s = std::max(mark.sd_s, 1e-4);
      }
    }
    return std::move(world_);
  }

 private:
  void add(const std::string& name, const std::string& words, double lane_s, DrillModel model) {
    const motion::Sprint usual{std::exp(world_.prior.log_top_speed.mean),
                               std::exp(world_.prior.log_time_constant.mean)};
    model.drill.name = name;
    model.drill.words = words;
    model.drill.run_s = motion::time_to_distance(usual, model.marks.back().distance_m);
    const double rest_s = std::max(rest_to_work * model.drill.run_s, safety::least_rest_s(q_.age_years));
    const double slot = (model.drill.run_s + rest_s) / static_cast<double>(q_.players);
    model.drill.lane_s = std::max(lane_s, slot);
    world_.drills.push_back(std::move(model));
  }

  // Several watches on a run count as one reading of their mean.
  DrillModel by_hand(bool signal) const {
    DrillModel model;
    model.signal = signal;
    model.start_sd_s = press_ * (signal ? on_signal_ : on_self_).start_sd_s;
    return model;
  }

  void add_named(const NamedDrill& named) {
    const bool signal = named.drill.start == runs::StartKind::signal;
    DrillModel model = by_hand(signal);
    model.marks = marks_of(named, q_.base_m, press_ * (signal ? on_signal_ : on_self_).split_sd_s);
    add(named.drill.name, named.drill.about,
        named.course.is_base_path()                   ? bases_lane_s(named.course.bags.size() - 1)
        : named.drill.posture == runs::Posture::prone ? prone_lane_s
                                                      : straight_lane_s,
        std::move(model));
  }

  void add_usual() {
    DrillModel straight = by_hand(false);
    for (const double d : {10.0, 30.0}) {
      straight.marks.push_back({d, 0.0, press_ * on_self_.split_sd_s, bit(bias_self)});
    }
    add("straight", "straight of 30 m, clock started on the first move, times at 10 m and 30 m", straight_lane_s,
        straight);
    const double split_sd_s = press_ * on_signal_.split_sd_s;
    DrillModel first = by_hand(true);
    first.marks.push_back({q_.base_m, 0.0, split_sd_s, bit(reaction) | bit(bias_signal)});
    add("home-first", "home to first on the call, run through", bases_lane_s(1), first);
    DrillModel circuit = by_hand(true);
    std::uint64_t terms = bit(reaction) | bit(bias_signal);
    for (std::uint32_t k = 0; k < 4; ++k) {
      terms |= bit(loss_first + k);
      circuit.marks.push_back({q_.base_m * (k + 1), 0.0, split_sd_s, terms});
    }
    add("circuit", "circuit on the call, times at all four bags", bases_lane_s(4), circuit);
    DrillModel down = by_hand(true);
    for (const double d : {10.0, 20.0}) {
      down.marks.push_back({d, 0.0, split_sd_s, bit(reaction) | bit(bias_signal) | bit(prone)});
    }
    add("prone", "straight of 20 m from lying, on the call, times at 10 m and 20 m", prone_lane_s, down);
  }

  void add_gated() {
    DrillModel gated;
    gated.beam_m = 0.5;
    gated.start_sd_s = by_gate_.start_sd_s;
    for (const double d : {10.0, 30.0}) {
      gated.marks.push_back({d, 0.0, by_gate_.split_sd_s, bit(bias_beam)});
    }
    add("gated-straight", "straight of 30 m through gates, start half a metre behind the first, gates at 10 m and 30 m",
        30.0, gated);
  }

  const NightQuestion& q_;
  const timing::ReadingError on_signal_, on_self_, by_gate_;
  const double watches_, press_;
  World world_;
};

// What one run tells of x = (log V, log tau, terms), linearised.
MatrixXd information(const World& world, const DrillModel& drill, const motion::Sprint& centre) {
  const auto m = static_cast<Index>(drill.marks.size());
  MatrixXd j = MatrixXd::Zero(m, 2 + term_count);
  VectorXd t(m);
  MatrixXd noise = MatrixXd::Zero(m, m);
  for (Index r = 0; r < m; ++r) {
    const inference::MarkData& mark = drill.marks[static_cast<std::size_t>(r)];
    const motion::TimeGradient gradient = motion::time_gradient_from_beam(centre, drill.beam_m, mark.distance_m);
    t(r) = gradient.time_s;
    j(r, 0) = gradient.by_log_top_speed_s;
    j(r, 1) = gradient.by_log_time_constant_s;
    for (std::uint32_t k = 0; k < term_count; ++k) {
      j(r, 2 + static_cast<Index>(k)) = static_cast<double>((mark.terms >> k) & 1U);
    }
    j(r, 2 + form) = t(r);
    noise(r, r) = mark.sd_s * mark.sd_s;
  }
  const inference::PlayerData& p = world.prior;
  noise += p.effort_cv * p.effort_cv * t * t.transpose();
  noise.array() += drill.start_sd_s * drill.start_sd_s + (drill.signal ? p.reaction_sd_s * p.reaction_sd_s : 0.0);
  return j.transpose() * noise.llt().solve(j);
}

// Gradient of a wanted quantity in x, at the centre; losses: one of the four, their root mean square is reported.
std::vector<VectorXd> gradients(Wanted wanted, const motion::Sprint& centre, double base_m) {
  VectorXd g = VectorXd::Zero(2 + term_count);
  switch (wanted) {
    case Wanted::reaction:
      g(2 + reaction) = 1.0;
      break;
    case Wanted::time_constant:
      g(1) = centre.time_constant_s;
      break;
    case Wanted::top_speed:
      g(0) = centre.top_speed_mps;
      break;
    case Wanted::acceleration:
      g(0) = centre.max_acceleration_mps2();
      g(1) = -g(0);
      break;
    case Wanted::home_first: {
      const motion::TimeGradient far = motion::time_gradient(centre, base_m);
      g(0) = far.by_log_top_speed_s;
      g(1) = far.by_log_time_constant_s;
      break;
    }
    case Wanted::losses: {
      std::vector<VectorXd> all;
      for (std::uint32_t k = 0; k < 4; ++k) {
        all.push_back(VectorXd::Zero(2 + term_count));
        all.back()(2 + static_cast<Index>(loss_first + k)) = 1.0;
      }
      return all;
    }
  }
  return {g};
}

double spread(const MatrixXd& covariance, const std::vector<VectorXd>& gradients) {
  double sum = 0.0;
  for (const VectorXd& g : gradients) {
    sum += g.dot(covariance * g);
  }
  return std::sqrt(sum / static_cast<double>(gradients.size()));
}

// Mean posterior SD of each wanted quantity over simulated players.
std::vector<double> simulate(const World& world, const NightQuestion& q, const std::vector<std::size_t>& runs) {
  std::vector<double> sum(q.wanted.size(), 0.0);
  for (std::size_t i = 0; i < q.simulated; ++i) {
    stats::RandomStream random(q.seed, i);
    const auto draw = [&](const inference::Normal& n) { return n.mean + n.sd * random.normal(); };
    inference::PlayerData data = world.prior;
    const double z = random.normal();
    const double z_tau = inference::log_time_constant_z(data, z, random.normal());
    const motion::Sprint s{std::exp(data.log_top_speed.mean + data.log_top_speed.sd * z),
                           std::exp(data.log_time_constant.mean + data.log_time_constant.sd * z_tau)};
    double truth[term_count] = {};
    for (std::uint32_t k = 0; k < term_count; ++k) {
      truth[k] = draw(data.terms[k]);
    }
    for (std::size_t d = 0; d < runs.size(); ++d) {
      const DrillModel& drill = world.drills[d];
      for (std::size_t n = 0; n < runs[d]; ++n) {
        const double effort = 1.0 + truth[form] + data.effort_cv * random.normal();
        const double common =
            drill.start_sd_s * random.normal() + (drill.signal ? data.reaction_sd_s * random.normal() : 0.0);
        std::vector<inference::MarkData> marks = drill.marks;
        for (inference::MarkData& mark : marks) {
          const double moving = motion::time_from_beam(s, drill.beam_m, mark.distance_m);
          mark.time_s = effort * moving + common + mark.sd_s * random.normal();
          for (std::uint32_t k = 0; k < term_count; ++k) {
            mark.time_s += ((mark.terms >> k) & 1U) != 0 ? truth[k] : 0.0;
          }
        }
        data.add_run(1);
        data.add_reading(drill.signal, drill.beam_m, drill.start_sd_s, marks);
      }
    }
    const inference::Posterior posterior(data);
    const auto sd_of = [&](auto&& function) {
      std::vector<double> values;
      for (const motion::Sprint& node : posterior.sprints()) {
        values.push_back(function(node));
      }
      return posterior.of_sprint(values, 0.9, std::nullopt).sd;
    };
    const auto term_sd = [&](std::uint32_t k) {
      return posterior.is_active(k) ? posterior.of_terms(std::span(&k, 1), 0.9).sd : data.terms[k].sd;
    };
    for (std::size_t w = 0; w < q.wanted.size(); ++w) {
      switch (q.wanted[w]) {
        case Wanted::reaction:
          sum[w] += term_sd(reaction);
          break;
        case Wanted::time_constant:
          sum[w] += sd_of([](const motion::Sprint& x) { return x.time_constant_s; });
          break;
        case Wanted::top_speed:
          sum[w] += sd_of([](const motion::Sprint& x) { return x.top_speed_mps; });
          break;
        case Wanted::acceleration:
          sum[w] += sd_of([](const motion::Sprint& x) { return x.max_acceleration_mps2(); });
          break;
        case Wanted::home_first:
          sum[w] += sd_of([&](const motion::Sprint& x) { return motion::time_to_distance(x, q.base_m); });
          break;
        case Wanted::losses: {
          double square = 0.0;
          for (std::uint32_t k = 0; k < 4; ++k) {
            square += std::pow(term_sd(loss_first + k), 2);
          }
          sum[w] += std::sqrt(square / 4.0);
          break;
        }
      }
    }
  }
  for (double& value : sum) {
    value /= static_cast<double>(q.simulated);
  }
  return sum;
}

}  // namespace

std::string wanted_name(Wanted wanted) {
  switch (wanted) {
    case Wanted::reaction:
      return "reaction";
    case Wanted::time_constant:
      return "time-constant";
    case Wanted::top_speed:
      return "top-speed";
    case Wanted::acceleration:
      return "acceleration";
    case Wanted::home_first:
      return "home-first";
    case Wanted::losses:
      return "losses";
  }
  return {};
}

std::vector<Wanted> usual_wanted() {
  return {Wanted::reaction, Wanted::time_constant, Wanted::top_speed};
}

std::optional<Wanted> wanted_of(const std::string& name) {
  for (const Wanted wanted : all_wanted) {
    if (wanted_name(wanted) == name) {
      return wanted;
    }
  }
  return std::nullopt;
}

namespace {

MatrixXd precision_before(const inference::PlayerData& prior) {
  MatrixXd out = MatrixXd::Zero(2 + term_count, 2 + term_count);
  const auto precision = [](double sd) { return 1.0 / std::max(sd * sd, 1e-12); };
  const double r = prior.log_correlation;
  const double given = 1.0 - r * r;
  out(0, 0) = precision(prior.log_top_speed.sd) / given;
  out(1, 1) = precision(prior.log_time_constant.sd) / given;
  out(0, 1) = out(1, 0) = -r * std::sqrt(out(0, 0) * out(1, 1));
  for (Index k = 0; k < term_count; ++k) {
    out(2 + k, 2 + k) = precision(prior.terms[static_cast<std::size_t>(k)].sd);
  }
  return out;
}

// Mixes of drills, and what each would leave unknown.
class MixSearch {
 public:
  MixSearch(const NightQuestion& question, const World& world)
      : question_(question), precision_(precision_before(world.prior)), runs_(world.drills.size(), 0) {
    const motion::Sprint centre{std::exp(world.prior.log_top_speed.mean), std::exp(world.prior.log_time_constant.mean)};
    for (const DrillModel& drill : world.drills) {
      each_s_.push_back(drill.drill.lane_s * static_cast<double>(question.players));
      told_.push_back(information(world, drill, centre));
    }
    const MatrixXd before = precision_.llt().solve(identity());
    for (const Wanted w : question.wanted) {
      wanted_.push_back(gradients(w, centre, question.base_m));
      prior_sd_.push_back(spread(before, wanted_.back()));
    }
  }

  const std::vector<double>& prior_sd() const { return prior_sd_; }
  /// Of one drill, all players once [s].
  double each_s(std::size_t drill) const { return each_s_[drill]; }

  Mix expect(const std::vector<std::size_t>& runs) const {
    Mix mix;
    mix.runs = runs;
    MatrixXd total = precision_;
    for (std::size_t d = 0; d < runs.size(); ++d) {
      total += static_cast<double>(runs[d]) * told_[d];
      mix.minutes += static_cast<double>(runs[d]) * each_s_[d] / 60.0;
    }
    const MatrixXd after = total.llt().solve(identity());
    for (const auto& gradient : wanted_) {
      mix.expected_sd.push_back(spread(after, gradient));
    }
    mix.simulated_sd.assign(wanted_.size(), std::nullopt);
    return mix;
  }

  Mix most_telling() {
    // Drills asked for by name: each once at least, where that fits.
    const double once_s = std::accumulate(each_s_.begin(), each_s_.end(), 0.0);
    least_ = !question_.drills.empty() && once_s <= 60.0 * question_.minutes + 1e-9 ? 1 : 0;
    visit(0, 60.0 * question_.minutes, safety::most_sprints_an_evening);
    best_->name = "most telling";
    return *best_;
  }

 private:
  static MatrixXd identity() { return MatrixXd::Identity(2 + term_count, 2 + term_count); }

  double score(const Mix& mix) const {
    double sum = 0.0;
    for (std::size_t w = 0; w < wanted_.size(); ++w) {
      sum += std::log(mix.expected_sd[w] / prior_sd_[w]);
    }
    return sum;
  }

  void visit(std::size_t d, double left_s, std::size_t left) {
    if (d == runs_.size()) {
      // Only full nights: where one more run of some kind still fits, that mix is at least as good.
      const bool full =
          left == 0 || std::none_of(each_s_.begin(), each_s_.end(), [&](double s) { return left_s >= s; });
      if (!full) {
        return;
      }
      Mix mix = expect(runs_);
      if (!best_ || score(mix) < score(*best_) - 1e-12) {
        best_ = std::move(mix);
      }
      return;
    }
    for (std::size_t k = least_; k <= left && static_cast<double>(k) * each_s_[d] <= left_s + 1e-9; ++k) {
      runs_[d] = k;
      visit(d + 1, left_s - static_cast<double>(k) * each_s_[d], left - k);
    }
    runs_[d] = 0;
  }

  const NightQuestion& question_;
  MatrixXd precision_;
  std::vector<double> each_s_;
  std::vector<MatrixXd> told_;
  std::vector<std::vector<VectorXd>> wanted_;
  std::vector<double> prior_sd_;
  std::vector<std::size_t> runs_;
  std::size_t least_ = 0;
  std::optional<Mix> best_;
};

void refuse_what_cannot_be_planned(const NightQuestion& question) {
  if (question.players == 0 || !(question.minutes > 0.0) || question.wanted.empty() || !(question.base_m > 0.0) ||
      (question.watches == 0 && !question.gates)) {
    throw std::domain_error("plan_night: needs players, minutes, a base distance, something wanted, a watch or gates");
  }
  for (const NamedDrill& named : question.drills) {
    if (const std::string why = why_not_planned(named); !why.empty() || question.watches == 0) {
      throw std::domain_error("plan_night: " + (why.empty() ? "drills by name need a watch" : why));
    }
  }
}

// To compare with: as often as drills by name say, and one drill alone.
void add_other_mixes(const MixSearch& search, NightPlan& plan) {
  const NightQuestion& question = plan.question;
  std::vector<std::size_t> usual;
  for (const NamedDrill& named : question.drills) {
    usual.push_back(named.drill.runs_each);
  }
  if (!usual.empty() &&
      std::accumulate(usual.begin(), usual.end(), std::size_t{0}) <= safety::most_sprints_an_evening) {
    plan.mixes.push_back(search.expect(usual));
    plan.mixes.back().name = "as often as each drill says";
  }
  for (std::size_t d = 0; d < plan.drills.size(); ++d) {
    std::vector<std::size_t> only(plan.drills.size(), 0);
    only[d] =
        std::min(safety::most_sprints_an_evening, static_cast<std::size_t>(60.0 * question.minutes / search.each_s(d)));
    if (only[d] > 0) {
      plan.mixes.push_back(search.expect(only));
      plan.mixes.back().name = plan.drills[d].name + " only";
    }
  }
}

// The runs of the first mix are spread over the time given.
void spread_over_the_night(const MixSearch& search, NightPlan& plan) {
  const Mix& mix = plan.mixes.front();
  if (mix.minutes > 0.0) {
    plan.slower = std::max(1.0, plan.question.minutes / mix.minutes);
  }
  for (std::size_t d = 0; d < plan.drills.size(); ++d) {
    if (mix.runs[d] > 0) {
      const double rest_s = plan.slower * search.each_s(d) - plan.drills[d].run_s;
      plan.least_rest_s = std::min(plan.least_rest_s.value_or(rest_s), rest_s);
    }
  }
}

}  // namespace

NightPlan plan_night(const NightQuestion& question, const timing::DeviceBook& devices) {
  refuse_what_cannot_be_planned(question);
  const World world = DrillList(question, devices).world();
  MixSearch search(question, world);
  NightPlan plan;
  plan.question = question;
  plan.prior_sd = search.prior_sd();
  for (const DrillModel& drill : world.drills) {
    plan.drills.push_back(drill.drill);
  }
  plan.mixes.push_back(search.most_telling());
  add_other_mixes(search, plan);
  for (Mix& mix : plan.mixes) {
    if (question.simulated > 0 && (mix.name == "most telling" || mix.name == "circuit only")) {
      const std::vector<double> sds = simulate(world, question, mix.runs);
      std::copy(sds.begin(), sds.end(), mix.simulated_sd.begin());
    }
  }
  spread_over_the_night(search, plan);
  return plan;
}

RunsNeeded runs_needed(const RunsQuestion& q) {
  RunsNeeded out;
  const auto evenings = [](const std::optional<std::size_t>& n) {
    return n ? std::optional((*n + safety::most_sprints_an_evening - 1) / safety::most_sprints_an_evening)
             : std::nullopt;
  };
  if (q.half_width_s) {
    out.half_width_of_evening_s = stats::t_half_width(safety::most_sprints_an_evening, q.run_sd_s, q.level);
    out.for_half_width = stats::size_for_half_width(*q.half_width_s, q.run_sd_s, q.level);
    out.evenings_for_half_width = evenings(out.for_half_width);
  }
  if (q.change_s) {
    const season::Options usual;
    const double share = usual.share_a / (usual.share_a + usual.share_b);
    // A difference of two means of n has variance 2 sd^2 / n.
    const double information =
        season::information_to_tell(*q.change_s, share, usual.sizes[1] * q.moving_time_s, 1.0, q.power);
    const auto needed = [&](double sd_s) -> std::optional<std::size_t> {
      constexpr double most = 1e6;
      const double n = std::max(1.0, std::ceil(2.0 * sd_s * sd_s * information - 1e-9));
      return n <= most ? std::optional(static_cast<std::size_t>(n)) : std::nullopt;
    };
    out.for_change = needed(q.run_sd_s);
    out.evenings_for_change = evenings(out.for_change);
    if (q.day_sd_s) {
      out.nights_for_change = needed(std::sqrt(*q.day_sd_s * *q.day_sd_s + q.run_sd_s * q.run_sd_s / 3.0));
    }
  }
  return out;
}

TimeSpread time_spread(const NightQuestion& question, double distance_m, bool signal,
                       const timing::DeviceBook& devices) {
  const inference::SprintPrior prior = inference::sprint_prior(question.age_years, question.sex);
  const double t = motion::time_to_distance(
      {std::exp(prior.log_top_speed.mean), std::exp(prior.log_time_constant.mean)}, distance_m);
  const bool hand = question.watches > 0;
  const timing::ReadingError error =
      timing::reading_error(devices.default_for(hand ? runs::Device::stopwatch : runs::Device::gate),
                            signal ? runs::StartKind::signal : runs::StartKind::self);
  const double press = hand ? question.scales.press_factor / std::sqrt(static_cast<double>(question.watches)) : 1.0;
  const double presses = press * std::hypot(error.start_sd_s, error.split_sd_s);
  return {t,
          std::sqrt(std::pow(question.scales.effort_cv * t, 2) + presses * presses +
                    (signal ? question.scales.reaction_sd_s * question.scales.reaction_sd_s : 0.0)),
          question.scales.day_cv * t};
}

}  // namespace bagsplit::jobs
