#include "bagsplit/jobs/standings/detail/standings_heats.hpp"

#include <Eigen/Eigenvalues>
#include <algorithm>
#include <cmath>
#include <map>
#include <numeric>
#include <set>

#include "bagsplit/inference/squad/squad_times.hpp"
#include "bagsplit/stats/finish_order.hpp"
#include "bagsplit/stats/random.hpp"

namespace bagsplit::jobs::detail {

namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

// A gap of this is seen the right way round three times in four; 0.05-0.1 s was thought likely, no source. Too small
// would be overconfident, too large costs little.
constexpr double just_seen_s = 0.07;
constexpr double sd_of_just_seen = 1.05;   // errors of two arrivals, normal: 1 / (sqrt 2 x 0.674)
constexpr double tie_gap_s = 0.05;         // of a judge who calls ties. No source
constexpr double get_up_scatter_s = 0.05;  // of a get-up from prone, run to run. No source
constexpr std::size_t most_at_once = 400;  // arrivals compared; beyond, one date after the other

class HeatJob {
 public:
  HeatJob(const ProfileJob& job, const ResolvedQuantity& time, std::span<const std::uint32_t> heats,
          const std::vector<std::string>& players, bool fixed_scales)
      : job_(job), log_(job.log), time_(time), heats_(heats), players_(players) {
    ask(fixed_scales);
  }

  HeatBeliefs believe() {
    const inference::SquadTimes times = inference::squad_times(log_, job_.roster, job_.devices, question_);
    take_moments(times);
    lay_out_days();
    const std::vector<stats::Arrivals> batches = arrivals();
    const stats::OrderSpreadFit fit =
        stats::fit_order_spread(batches, [this](double factor) { return covariance_at(factor); });
    HeatBeliefs out;
    out.settled = fit.settled && times.squad_settled;
    out.uncertified = times.uncertified;
    out.times_in_heats = readings_;
    out.times.weights = fit.z.weights;
    const auto n = static_cast<Index>(players_.size());
    for (const stats::JointNormal& part : fit.z.parts) {
      out.times.parts.push_back({part.mean.head(n), part.covariance.topLeftCorner(n, n)});
      out.today.parts.push_back(with_today(part));
    }
    out.today.weights = out.times.weights;
    out.day_sd = day_sds();
    out.run_sd = run_sds();
    out.eye_sd = sd_of_just_seen * just_seen_s;
    for (Index i = 0; i < n; ++i) {
      out.values.push_back(value_of(out.times, i));
    }
    return out;
  }

 private:
  const runs::Run& run_of(const runs::Finisher& finisher) const { return log_.runs[finisher.run]; }

  std::optional<runs::Split> split_of(const runs::Heat& heat, const runs::Reading& reading) const {
    for (const runs::Split& split : log_.splits_of(reading)) {
      if (!split.is_move && std::abs(split.distance_m - heat.finish_m) < 1e-6 * heat.finish_m) {
        return split;
      }
    }
    return std::nullopt;
  }

  // Calls work(heat, finisher, reading, split) for every watch on a finisher that counts.
  template <typename Work>
  void each_reading(const runs::Heat& heat, const Work& work) const {
    for (const runs::Finisher& finisher : log_.finishers_of(heat)) {
      if (run_of(finisher).flag != runs::Flag::none) {
        continue;
      }
      for (const runs::Reading& reading : log_.readings_of(run_of(finisher))) {
        if (const auto split = split_of(heat, reading)) {
          work(finisher, reading, *split);
        }
      }
    }
  }

  void ask(bool fixed_scales) {
    const TimeConditions& time = *time_.time;
    question_.courses = {{*time_.course, time.base_distance_m.value_or(0.0), time.distance_m, time.posture}};
    question_.players = players_;
    question_.as_of = job_.options.as_of;
    question_.window_days = job_.options.window_days;
    question_.model = job_.options.model;
    question_.squad = !fixed_scales && job_.options.model == inference::ModelFile{};
    question_.squad_without_runs = true;
    question_.threads = job_.options.threads;
    for (const std::uint32_t h : heats_) {
      const runs::Heat& heat = log_.heats[h];
      for (const runs::Finisher& finisher : log_.finishers_of(heat)) {
        question_.age_at = std::max(question_.age_at, run_of(finisher).date);
      }
      each_reading(heat, [&](const auto&, const runs::Reading& reading, const auto&) {
        const inference::AskedClock clock{reading.device, reading.start, reading.timer, reading.signal};
        if (std::find(question_.clocks.begin(), question_.clocks.end(), clock) == question_.clocks.end()) {
          question_.clocks.push_back(clock);
        }
      });
    }
  }

  // One Gaussian of times and biases for all points of the squad's design: what is common, and each child's own.
  void take_moments(const inference::SquadTimes& times) {
    const auto n = static_cast<Index>(players_.size());
    const auto c = static_cast<Index>(question_.clocks.size());
    const auto moving = static_cast<Index>(times.index.moving(0));
    const auto straight = static_cast<Index>(times.index.straight(0));
    const auto reaction = static_cast<Index>(times.index.reaction());
    mean_ = VectorXd::Zero(n + c);
    common_ = MatrixXd::Zero(n + c, n + c);
    own_ = VectorXd::Zero(n + c);
    straight_s_ = VectorXd::Zero(n);
    std::vector<VectorXd> means;
    for (const inference::TimesPoint& point : times.points) {
      VectorXd mean(n + c);
      MatrixXd loading = MatrixXd::Zero(n + c, point.shared_covariance.rows());
      for (Index i = 0; i < n; ++i) {
        const inference::PlayerTimes& player = point.players[static_cast<std::size_t>(i)];
        mean(i) = player.mean(moving) + player.mean(reaction);
        loading.row(i) = player.loading.row(moving) + player.loading.row(reaction);
        own_(i) += point.weight *
                   (player.own(moving, moving) + player.own(reaction, reaction) + 2.0 * player.own(moving, reaction));
        straight_s_(i) += point.weight * player.mean(straight);
      }
      for (Index k = 0; k < c; ++k) {
        const inference::ClockTimes& clock = point.clocks[static_cast<std::size_t>(k)];
        mean(n + k) = clock.bias_mean_s;
        loading.row(n + k) = clock.loading.transpose();
        own_(n + k) += point.weight * clock.bias_own_sd_s * clock.bias_own_sd_s;
        clock_variance_.resize(static_cast<std::size_t>(c), 0.0);
        clock_variance_[static_cast<std::size_t>(k)] +=
            point.weight * (clock.start_sd_s * clock.start_sd_s + clock.split_sd_s * clock.split_sd_s);
      }
      common_ += point.weight * loading * point.shared_covariance * loading.transpose();
      mean_ += point.weight * mean;
      means.push_back(std::move(mean));
      effort_variance_ += point.weight * point.scales.effort_cv * point.scales.effort_cv;
      day_variance_ += point.weight * point.scales.day_cv * point.scales.day_cv;
      reaction_variance_ += point.weight * point.scales.reaction_sd_s * point.scales.reaction_sd_s;
    }
    for (std::size_t p = 0; p < means.size(); ++p) {
      const VectorXd off = means[p] - mean_;
      common_ += times.points[p].weight * off * off.transpose();
    }
    own_ = own_.cwiseMax(1e-10);
    for (Index i = 0; i < n; ++i) {
      share_.push_back(std::clamp(times.players[static_cast<std::size_t>(i)].share_from_data.front(), 0.0, 0.999));
    }
  }

  // A quantity for each child and date: the ability on that day.
  void lay_out_days() {
    for (const std::uint32_t h : heats_) {
      for (const runs::Finisher& finisher : log_.finishers_of(log_.heats[h])) {
        const runs::Run& run = run_of(finisher);
        const auto at = std::find(players_.begin(), players_.end(), log_.name(run.player));
        if (at != players_.end() && run.flag == runs::Flag::none) {
          const auto child = static_cast<std::size_t>(at - players_.begin());
          if (day_of_.try_emplace({child, run.date}, days_.size()).second) {
            days_.push_back(child);
          }
        }
      }
    }
  }

  // Orders hold no seconds: the children's own SDs times a factor, but for what their own runs have told.
  MatrixXd covariance_at(double factor) const {
    const auto n = static_cast<Index>(players_.size());
    const auto base = mean_.size();
    MatrixXd one = common_;
    for (Index i = 0; i < base; ++i) {
      double own = own_(i);
      if (i < n) {
        const double before = own / (1.0 - share_[static_cast<std::size_t>(i)]);
        own = 1.0 / (1.0 / own + (1.0 / (factor * factor) - 1.0) / before);
      }
      one(i, i) += own;
    }
    const auto d = static_cast<Index>(days_.size());
    MatrixXd out(base + d, base + d);
    MatrixXd from = MatrixXd::Zero(d, base);
    for (Index k = 0; k < d; ++k) {
      from(k, static_cast<Index>(days_[static_cast<std::size_t>(k)])) = 1.0;
    }
    out.topLeftCorner(base, base) = one;
    out.bottomLeftCorner(d, base) = from * one;
    out.topRightCorner(base, d) = out.bottomLeftCorner(d, base).transpose();
    out.bottomRightCorner(d, d) = from * one * from.transpose();
    for (Index k = 0; k < d; ++k) {
      const double straight = straight_s_(static_cast<Index>(days_[static_cast<std::size_t>(k)]));
      out(base + k, base + k) += day_variance_ * straight * straight;
    }
    return out;
  }

  VectorXd day_sds() const { return std::sqrt(day_variance_) * straight_s_; }

  double run_sd(Index child, runs::Posture posture) const {
    const double straight = straight_s_(child);
    const double get_up = posture == runs::Posture::prone ? get_up_scatter_s : 0.0;
    return std::sqrt(std::max(effort_variance_ * straight * straight + reaction_variance_ + get_up * get_up, 1e-10));
  }

  VectorXd run_sds() const {
    VectorXd out(straight_s_.size());
    for (Index i = 0; i < out.size(); ++i) {
      out(i) = run_sd(i, time_.time->posture);
    }
    return out;
  }

  // Of the players' times, then of those on the day of the last heat: of that day where they ran in one, else of a day
  // like any.
  stats::JointNormal with_today(const stats::JointNormal& z) const {
    const auto n = static_cast<Index>(players_.size());
    MatrixXd pick = MatrixXd::Zero(2 * n, z.mean.size());
    VectorXd own = VectorXd::Zero(2 * n);
    const VectorXd day = day_sds();
    for (Index i = 0; i < n; ++i) {
      pick(i, i) = 1.0;
      const auto there = day_of_.find({static_cast<std::size_t>(i), question_.age_at});
      const bool ran = there != day_of_.end();
      pick(n + i, ran ? mean_.size() + static_cast<Index>(there->second) : i) = 1.0;
      own(n + i) = ran ? 0.0 : day(i) * day(i);
    }
    stats::JointNormal out{pick * z.mean, pick * z.covariance * pick.transpose()};
    out.covariance.diagonal() += own;
    return out;
  }

  std::vector<stats::Arrivals> arrivals() {
    stats::Arrivals empty;
    empty.mean = mean_;
    empty.mean.conservativeResize(mean_.size() + static_cast<Index>(days_.size()));
    for (std::size_t k = 0; k < days_.size(); ++k) {
      empty.mean(mean_.size() + static_cast<Index>(k)) = mean_(static_cast<Index>(days_[k]));
    }
    empty.covariance = MatrixXd::Zero(empty.mean.size(), empty.mean.size());
    empty.eye_sd = sd_of_just_seen * just_seen_s;
    std::map<runs::Date, stats::Arrivals> by_date;
    std::size_t all = 0;
    for (const std::uint32_t h : heats_) {
      const runs::Heat& heat = log_.heats[h];
      const runs::Date date = run_of(log_.finishers_of(heat).front()).date;
      stats::Arrivals& to = by_date.try_emplace(date, empty).first->second;
      const std::size_t before = to.seen.size();
      add_heat(heat, to);
      all += to.seen.size() - before;
    }
    std::vector<stats::Arrivals> out;
    for (auto& [date, one] : by_date) {
      if (out.empty() || all > most_at_once) {
        out.push_back(std::move(one));
        continue;
      }
      stats::Arrivals& to = out.front();
      const std::size_t runs = to.quantity.size();
      to.quantity.insert(to.quantity.end(), one.quantity.begin(), one.quantity.end());
      to.run_sd.insert(to.run_sd.end(), one.run_sd.begin(), one.run_sd.end());
      for (stats::Arrival& arrival : one.seen) {
        arrival.run += runs;
        arrival.other += runs;
        to.seen.push_back(arrival);
      }
    }
    return out;
  }

  void add_heat(const runs::Heat& heat, stats::Arrivals& to) {
    std::map<std::uint16_t, std::vector<std::size_t>> places;
    std::vector<std::size_t> behind;
    std::map<std::uint32_t, std::size_t> number;
    for (const runs::Finisher& finisher : log_.finishers_of(heat)) {
      const runs::Run& run = run_of(finisher);
      const auto at = std::find(players_.begin(), players_.end(), log_.name(run.player));
      if (run.flag != runs::Flag::none || at == players_.end()) {
        continue;
      }
      const auto child = static_cast<std::size_t>(at - players_.begin());
      const std::size_t quantity = static_cast<std::size_t>(mean_.size()) + day_of_.at({child, run.date});
      const std::size_t arrival = to.add_run(quantity, run_sd(static_cast<Index>(child), run.posture));
      number[finisher.run] = arrival;
      (finisher.place == 0 ? behind : places[finisher.place]).push_back(arrival);
    }
    std::vector<std::vector<std::size_t>> groups;
    for (auto& [place, runs] : places) {
      groups.push_back(std::move(runs));
    }
    // Where ties are called a written order says that a gap was seen; two at one place are a tie in any case.
    const std::size_t from = to.seen.size();
    to.add_order(groups, behind, tie_gap_s);
    for (std::size_t k = from; k < to.seen.size() && !heat.ties_called; ++k) {
      to.seen[k].gap = to.seen[k].kind == stats::Arrival::Kind::before ? 0.0 : to.seen[k].gap;
    }
    each_reading(heat, [&](const runs::Finisher& finisher, const runs::Reading& reading, const runs::Split& split) {
      const inference::AskedClock clock{reading.device, reading.start, reading.timer, reading.signal};
      const auto c = static_cast<std::size_t>(std::find(question_.clocks.begin(), question_.clocks.end(), clock) -
                                              question_.clocks.begin());
      if (const auto arrival = number.find(finisher.run); arrival != number.end()) {
        ++readings_;
        to.seen.push_back({.kind = stats::Arrival::Kind::reading,
                           .run = arrival->second,
                           .value = split.time_s,
                           .sd = std::sqrt(clock_variance_[c]),
                           .bias = players_.size() + c});
      }
    });
  }

  inference::Estimate value_of(const stats::NormalMixture& times, Index i) const {
    std::vector<double> means;
    std::vector<double> sds;
    for (const stats::JointNormal& part : times.parts) {
      means.push_back(part.mean(i));
      sds.push_back(std::sqrt(std::max(part.covariance(i, i), 0.0)));
    }
    inference::Estimate out = inference::summarise_mixture(times.weights, means, sds, job_.options.level);
    const double before = (common_(i, i) + own_(i)) / (1.0 - share_[static_cast<std::size_t>(i)]);
    out.share_from_data = 1.0 - out.sd * out.sd / before;
    return out;
  }

  const ProfileJob& job_;
  const runs::RunLog& log_;
  const ResolvedQuantity& time_;
  std::span<const std::uint32_t> heats_;
  const std::vector<std::string>& players_;
  inference::SquadTimesQuestion question_;
  VectorXd mean_;  // of the players' times, then of the clocks' biases
  MatrixXd common_;
  VectorXd own_;
  VectorXd straight_s_;
  std::vector<double> share_;  // of what is known of a player, from the player's own runs
  std::vector<double> clock_variance_;
  double effort_variance_ = 0.0, day_variance_ = 0.0, reaction_variance_ = 0.0;
  std::map<std::pair<std::size_t, runs::Date>, std::size_t> day_of_;
  std::vector<std::size_t> days_;  // the child of each
  std::size_t readings_ = 0;
};

runs::Date date_of(const runs::RunLog& log, const runs::Heat& heat) {
  return log.runs[log.finishers_of(heat).front().run].date;
}

}  // namespace

std::vector<std::uint32_t> heats_within(const runs::RunLog& log, std::optional<runs::Date> as_of,
                                        std::optional<int> window_days) {
  std::optional<runs::Date> until = as_of;
  for (const runs::Run& run : log.runs) {
    until = as_of ? as_of : std::max(until.value_or(run.date), run.date);
  }
  std::vector<std::uint32_t> out;
  for (std::uint32_t h = 0; h < log.heats.size(); ++h) {
    const runs::Date date = date_of(log, log.heats[h]);
    if (date <= *until && (!window_days || date > *until - std::chrono::days{*window_days})) {
      out.push_back(h);
    }
  }
  return out;
}

std::vector<std::uint32_t> heats_at(const ResolvedQuantity& time, const runs::RunLog& log,
                                    std::span<const std::uint32_t> heats) {
  std::vector<std::uint32_t> out;
  if (!time.time || time.time->start != runs::StartKind::signal) {
    return out;
  }
  for (const std::uint32_t h : heats) {
    const runs::Heat& heat = log.heats[h];
    const runs::Run& run = log.runs[log.finishers_of(heat).front().run];
    if (run.course == *time.course && run.posture == time.time->posture &&
        (!time.time->base_distance_m || run.base_distance_m == *time.time->base_distance_m) &&
        std::abs(heat.finish_m - time.time->distance_m) < 1e-6 * time.time->distance_m) {
      out.push_back(h);
    }
  }
  return out;
}

HeatBeliefs believe_heats(const ProfileJob& job, const ResolvedQuantity& time, std::span<const std::uint32_t> heats,
                          const std::vector<std::string>& players, bool fixed_scales) {
  return HeatJob(job, time, heats, players, fixed_scales).believe();
}

std::vector<double> draws_of(const stats::NormalMixture& mixture, std::size_t draws, std::uint64_t seed) {
  const Index n = mixture.parts.front().mean.size();
  std::vector<double> out(static_cast<std::size_t>(n) * draws);
  stats::RandomStream random(seed);
  std::size_t d = 0;
  double sum = 0.0;
  for (std::size_t p = 0; p < mixture.parts.size(); ++p) {
    sum += mixture.weights[p];
    const std::size_t end =
        p + 1 == mixture.parts.size()
            ? draws
            : static_cast<std::size_t>(std::lround(std::min(1.0, sum) * static_cast<double>(draws)));
    const Eigen::SelfAdjointEigenSolver<MatrixXd> split(mixture.parts[p].covariance);
    const MatrixXd root = split.eigenvectors() * split.eigenvalues().cwiseMax(0.0).cwiseSqrt().asDiagonal();
    VectorXd normal(n);
    for (; d < end; ++d) {
      for (Index i = 0; i < n; ++i) {
        normal(i) = random.normal();
      }
      const VectorXd value = mixture.parts[p].mean + root * normal;
      for (Index i = 0; i < n; ++i) {
        out[static_cast<std::size_t>(i) * draws + d] = value(i);
      }
    }
  }
  return out;
}

HeatsSummary summary_of(const runs::RunLog& log, std::span<const std::uint32_t> heats,
                        const std::vector<std::string>& timed) {
  HeatsSummary out;
  out.heats = heats.size();
  std::map<std::string, std::string> leader;  // of the group of each child, by chains of shared heats
  const auto leader_of = [&](std::string id) {
    while (leader[id] != id) {
      id = leader[id];
    }
    return id;
  };
  const auto join = [&](const std::string& a, const std::string& b) {
    leader.try_emplace(a, a);
    leader.try_emplace(b, b);
    leader[leader_of(a)] = leader_of(b);
  };
  std::set<std::set<std::string>> fields;
  std::map<std::string, std::size_t> count;
  for (const std::uint32_t h : heats) {
    std::set<std::string> field;
    for (const runs::Finisher& finisher : log.finishers_of(log.heats[h])) {
      const runs::Run& run = log.runs[finisher.run];
      if (run.flag == runs::Flag::none) {
        field.insert(log.name(run.player));
        ++out.runs;
        ++count[log.name(run.player)];
      }
    }
    for (const std::string& id : field) {
      join(id, *field.begin());
    }
    fields.insert(std::move(field));
  }
  for (const std::string& id : timed) {
    if (leader.contains(id)) {
      join(id, timed.front());  // a time of its own links a child to all who have one
    }
  }
  for (const std::set<std::string>& field : fields) {
    out.fields.emplace_back(field.begin(), field.end());
  }
  std::map<std::string, std::vector<std::string>> groups;
  for (const auto& [id, of] : leader) {
    groups[leader_of(id)].push_back(id);
  }
  for (auto& [of, ids] : groups) {
    out.groups.push_back(std::move(ids));
  }
  out.most_of_one_child = 0;
  for (const auto& [id, times] : count) {
    out.most_of_one_child = std::max(out.most_of_one_child, times);
  }
  out.same_again = fields.size() < heats.size() && out.most_of_one_child >= 2 && 2 * fields.size() <= heats.size();
  out.heats_of.assign(count.begin(), count.end());
  return out;
}

}  // namespace bagsplit::jobs::detail
