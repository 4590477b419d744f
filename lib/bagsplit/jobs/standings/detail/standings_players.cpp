#include "bagsplit/jobs/standings/detail/standings_players.hpp"

#include <Eigen/Cholesky>
#include <algorithm>
#include <cmath>

#include "bagsplit/inference/posterior/doubt.hpp"
#include "bagsplit/inference/squad/design.hpp"
#include "bagsplit/jobs/profile/merge_estimates.hpp"
#include "bagsplit/jobs/profile/suspected.hpp"

namespace bagsplit::jobs::detail {

namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

constexpr double youngest_yr = 6.0, oldest_yr = 18.0;  // of the published tables behind the priors

// A player's posterior at one point of the squad's design, with what belongs to it.
struct InSquad {
  inference::SquadMember member;
  std::optional<std::size_t> index;
  std::vector<inference::Term> terms;
  inference::LossMeans loss_means;

  InSquad(const Entrant& entrant, const inference::SquadModel& squad)
      : member(inference::member_of(squad, entrant.prepared.assembled, entrant.prepared.selection.last)),
        terms(entrant.prepared.assembled.terms),
        loss_means(entrant.prepared.loss_means) {
    if (member.data.day_term) {
      terms.push_back({inference::TermKind::day_form, {}, false});
    }
    if (const auto known = squad.members.find(entrant.id); known != squad.members.end()) {
      index = known->second;
    }
    loss_means.regrid(inference::member_data(squad.fit, squad.fit.points.front(), member, index));
  }

  inference::Posterior posterior(const inference::SquadModel& squad, const inference::SquadPoint& point) const {
    return inference::Posterior(inference::member_data(squad.fit, point, member, index), loss_means.callback());
  }
};

// Covariance of quantities with x = (log V, log tau, all terms).
MatrixXd with_own(const inference::Posterior& posterior, std::span<const inference::NodeQuantity> parts) {
  const auto active = posterior.active_terms();
  const auto n = static_cast<Index>(2 + posterior.data().terms.size());
  MatrixXd out = MatrixXd::Zero(static_cast<Index>(parts.size()), n);
  for (std::size_t k = 0; k < parts.size(); ++k) {
    const inference::NodeQuantity& nodes = parts[k];
    double mean = 0.0;
    for (std::size_t i = 0; i < posterior.size(); ++i) {
      mean += posterior.weights()[i] * nodes.means[i];
    }
    const auto row = static_cast<Index>(k);
    for (std::size_t i = 0; i < posterior.size(); ++i) {
      const double w = posterior.weights()[i];
      const double off = w * (nodes.means[i] - mean);
      out(row, 0) += off * std::log(posterior.sprints()[i].top_speed_mps);
      out(row, 1) += off * std::log(posterior.sprints()[i].time_constant_s);
      const auto means = posterior.term_means(i);
      const auto covariance = posterior.term_covariance(i);
      for (std::size_t a = 0; a < active.size(); ++a) {
        double value = off * means[a];
        for (std::size_t b = 0; b < active.size(); ++b) {
          value += w * nodes.coefficients[b] * covariance[a * active.size() + b];
        }
        out(row, 2 + static_cast<Index>(active[a])) += value;
      }
    }
  }
  return out;
}

Prospect prospect_of(const inference::Posterior& posterior, const inference::TermMeans& term_means,
                     std::span<const inference::NodeQuantity> parts) {
  const inference::Linearised now = inference::linearise(posterior, term_means);
  const auto n = static_cast<Index>(2 + posterior.data().terms.size());
  return {posterior.data(), now.centre, Eigen::Map<const MatrixXd>(now.covariance.data(), n, n),
          with_own(posterior, parts)};
}

std::vector<GroupBelief> groups_of(const inference::Posterior& posterior,
                                   std::span<const inference::NodeQuantity> parts,
                                   std::span<const std::uint32_t> log_reading) {
  const std::span<const inference::SlipGroup> groups = posterior.slip_groups();
  std::vector<GroupBelief> out;
  for (std::size_t g = 0; g < groups.size(); ++g) {
    GroupBelief& made = out.emplace_back(GroupBelief{groups[g], 0, {}});
    made.log_reading = log_reading[inference::told_apart_by(groups, g, posterior.slip_of_reading())];
    for (const inference::NodeQuantity& part : parts) {
      const auto c = Eigen::Map<const VectorXd>(part.coefficients.data(), static_cast<Index>(part.coefficients.size()));
      double weight = 0.0;
      double mean = 0.0;
      double square = 0.0;
      for (std::size_t i = 0; i < posterior.size(); ++i) {
        if (posterior.group_of_node()[i] == g) {
          const Eigen::Map<const MatrixXd> covariance(posterior.term_covariance(i).data(), c.size(), c.size());
          const double off = part.means[i] - part.means[0];
          weight += posterior.weights()[i];
          mean += posterior.weights()[i] * off;
          square += posterior.weights()[i] * (off * off + c.dot(covariance * c));
        }
      }
      mean = weight > 0.0 ? mean / weight : 0.0;
      square = weight > 0.0 ? square / weight : 0.0;
      made.parts.push_back({part.means[0] + mean, std::sqrt(std::max(0.0, square - mean * mean))});
    }
  }
  return out;
}

// A run as it could be run again: times at marks, linear in x, with their scatter.
struct RunShape {
  MatrixXd gradient;  // marks x (2 + terms)
  MatrixXd noise;     // of one run
  MatrixXd day;       // of a new day, the same for all its runs
};

RunShape shape_of(const inference::PlayerData& data, std::size_t run, const motion::Sprint& centre, NextDay day) {
  const inference::RunData& shape = data.runs[run];
  std::vector<std::pair<const inference::ReadingData*, const inference::MarkData*>> marks;
  for (std::uint32_t r = 0; r < shape.reading_count; ++r) {
    const inference::ReadingData& reading = data.readings[shape.first_reading + r];
    for (std::uint32_t j = 0; j < reading.mark_count; ++j) {
      marks.emplace_back(&reading, &data.marks[reading.first_mark + j]);
    }
  }
  const auto m = static_cast<Index>(marks.size());
  RunShape out{MatrixXd::Zero(m, static_cast<Index>(2 + data.terms.size())), MatrixXd::Zero(m, m),
               MatrixXd::Zero(m, m)};
  VectorXd t = VectorXd::Zero(m);
  for (Index r = 0; r < m; ++r) {
    const auto& [reading, mark] = marks[static_cast<std::size_t>(r)];
    if (mark->distance_m > 0.0) {
      const motion::TimeGradient gradient = motion::time_gradient_from_beam(centre, reading->beam_m, mark->distance_m);
      t(r) = gradient.time_s;
      out.gradient(r, 0) = gradient.by_log_top_speed_s;
      out.gradient(r, 1) = gradient.by_log_time_constant_s;
    }
    for (std::uint32_t k = 0; k < data.terms.size(); ++k) {
      if (((mark->terms >> k) & 1U) != 0) {
        out.gradient(r, 2 + static_cast<Index>(k)) =
            inference::coefficient_of(data, k, centre, reading->beam_m, mark->distance_m, shape.runs_before);
      }
    }
    if (data.day_term && day == NextDay::same) {
      out.gradient(r, 2 + static_cast<Index>(*data.day_term)) = t(r);
    }
    out.noise(r, r) += mark->sd_s * mark->sd_s;
    for (Index s = 0; s < m; ++s) {
      const inference::ReadingData* const other = marks[static_cast<std::size_t>(s)].first;
      out.noise(r, s) += (reading->signal && other->signal ? data.reaction_sd_s * data.reaction_sd_s : 0.0) +
                         (reading == other ? reading->start_sd_s * reading->start_sd_s : 0.0);
    }
  }
  out.noise += data.effort_cv * data.effort_cv * t * t.transpose();
  if (day == NextDay::other) {
    out.day = data.day_cv * data.day_cv * t * t.transpose();
  }
  return out;
}

// Variance that n such runs take from a quantity of covariance `w` with x.
double taken(const MatrixXd& covariance, const VectorXd& w, const RunShape& shape, double n) {
  const VectorXd seen = shape.gradient * w;
  MatrixXd total = shape.gradient * covariance * shape.gradient.transpose() + shape.noise / n + shape.day;
  total.diagonal().array() += 1e-12;
  return seen.dot(total.ldlt().solve(seen));
}

}  // namespace

std::vector<Entrant> entrants_of(const ProfileJob& job) {
  RunsByPlayer by_player(job.log);
  std::vector<Entrant> out;
  for (std::size_t i = 0; i < by_player.players.size(); ++i) {
    inference::Selection selection =
        inference::select_runs(job.log, by_player.runs[i], job.options.as_of, job.options.window_days);
    out.push_back(
        {by_player.players[i], by_player.runs[i].size(), prepare(job, by_player.players[i], std::move(selection))});
  }
  return out;
}

std::optional<inference::SquadModel> squad_of(std::span<const Entrant> entrants, const inference::ModelFile* fixed,
                                              unsigned threads) {
  std::vector<inference::SquadPlayer> able;
  std::vector<std::size_t> readings;
  for (const Entrant& entrant : entrants) {
    if (entrant.runs_count()) {
      able.push_back({entrant.id, entrant.prepared.assembled, entrant.prepared.loss_means});
      readings.push_back(entrant.prepared.assembled.readings);
    }
  }
  if (able.empty()) {
    return std::nullopt;
  }
  inference::SquadModel model = inference::squad_structure(able, inference::squad_seed);
  model.players = able.size();
  std::vector<inference::SquadPlayer> fitted;
  for (const std::size_t i : inference::draw_fitted(readings, inference::squad_seed)) {
    fitted.push_back(std::move(able[i]));
  }
  inference::SquadFitting fitting{entrants.size() > fitted.size() ? model.players - fitted.size() : 0, std::nullopt,
                                  threads};
  if (fixed != nullptr) {
    const inference::ModelFile::Error& error = fixed->error;
    fitting.scales = {{std::log(error.effort_cv.value()), 0.0},
                      {std::log(error.day_cv.value()), 0.0},
                      {std::log(error.reaction_sd_s.value()), 0.0},
                      {0.0, 0.0}};
  }
  inference::fit_structure(model, fitted, fitting);
  return model;
}

Belief belief_of(const Entrant& entrant, const inference::SquadModel& squad, std::span<const ResolvedQuantity> parts,
                 double level, bool prospect, const runs::RunLog& log) {
  Belief out;
  const InSquad in_squad(entrant, squad);
  std::vector<double> weights;
  std::vector<std::vector<inference::Estimate>> versions(parts.size());
  for (const inference::SquadPoint& point : squad.fit.points) {
    const inference::Posterior posterior = in_squad.posterior(squad, point);
    if (!posterior.usable()) {
      out.why = "the computation would not settle";
      out.certified = false;
      break;
    }
    const std::vector<std::uint32_t>& log_reading = entrant.prepared.assembled.log_reading;
    if (out.points.empty()) {  // at the mode
      out.suspected =
          suspected_readings(log, log.name(entrant.id), log_reading, posterior.slips(), posterior.slip_of_reading());
      if (posterior.data().slips.rate > 0.0) {
        out.all_fit = posterior.probability_all_fit();
      }
    }
    PointBelief at;
    std::vector<inference::NodeQuantity> nodes;
    for (std::size_t k = 0; k < parts.size() && out.why.empty(); ++k) {
      if (auto belief = belief_of(parts[k], in_squad.terms, in_squad.loss_means, posterior, draw_level, out.why)) {
        at.parts.push_back(belief->value);
        nodes.push_back(std::move(belief->nodes));
        versions[k].push_back(
            level == draw_level
                ? at.parts.back()
                : belief_of(parts[k], in_squad.terms, in_squad.loss_means, posterior, level, out.why)->value);
      }
    }
    if (!out.why.empty()) {
      break;
    }
    if (out.points.empty()) {
      out.groups = groups_of(posterior, nodes, log_reading);
    }
    if (prospect && out.points.empty()) {
      out.prospect = prospect_of(posterior, in_squad.loss_means.callback(), nodes);
    }
    const inference::SharedCovariance covariance = inference::covariance_with_shared(
        squad.fit, point, in_squad.member, in_squad.index, posterior, in_squad.loss_means.callback(), nodes);
    at.own = covariance.own;
    at.about = covariance.about;
    at.on_shared = covariance.shared.ldlt().solve(covariance.cross.transpose()).transpose();
    out.points.push_back(std::move(at));
    weights.push_back(point.weight);
  }
  if (!out.why.empty()) {
    out.points.clear();
    return out;
  }
  const Prepared& prepared = entrant.prepared;
  const bool covered = prepared.age_years && *prepared.age_years >= youngest_yr && *prepared.age_years < oldest_yr &&
                       prepared.player != nullptr && prepared.player->sex;
  for (std::size_t k = 0; k < parts.size(); ++k) {
    std::vector<inference::Estimate> drawn;
    for (const PointBelief& point : out.points) {
      drawn.push_back(point.parts[k]);
    }
    static_assert(draw_level == median_level);
    out.parts.push_back(merge_estimates(weights, versions[k], level, drawn));
    out.expected.push_back(covered ? expected_of(parts[k], prepared.assembled, prepared.loss_means) : std::nullopt);
  }
  return out;
}

RunEffect effect_of(const Entrant& entrant, const Belief& belief, std::span<const ResolvedQuantity> parts,
                    std::span<const double> weights, const runs::RunLog& log, NextDay day) {
  const Prospect& prospect = belief.prospect.value();
  const VectorXd w =
      prospect.with_own.transpose() * Eigen::Map<const VectorXd>(weights.data(), static_cast<Index>(weights.size()));
  RunEffect out;
  // Runs of the data stand in the order of the runs used. A time is run again over its own course.
  const std::vector<std::uint32_t>& used = entrant.prepared.selection.used;
  const auto on_course = [&](std::uint32_t run) {
    return parts.size() == 1 && parts[0].course && log.runs[run].course == *parts[0].course;
  };
  const bool own_course = std::any_of(used.begin(), used.end(), on_course);
  double most = 0.0;
  std::vector<std::pair<std::uint16_t, Index>> tried;  // course, marks: the kinds of run seen so far
  for (std::size_t r = 0; r < used.size(); ++r) {
    const std::uint16_t course = log.runs[used[r]].course;
    if (own_course && !on_course(used[r])) {
      continue;
    }
    const RunShape shape = shape_of(prospect.data, r, prospect.centre, day);
    const std::pair kind(course, shape.noise.rows());
    if (std::find(tried.begin(), tried.end(), kind) != tried.end()) {
      continue;
    }
    tried.push_back(kind);
    const double by_one = taken(prospect.covariance, w, shape, 1.0);
    if (by_one > most * (1.0 + 1e-9)) {
      most = by_one;
      out.course = course;
      out.told = taken(prospect.covariance, w, shape, 1e6);
      out.run_variance = out.told * (out.told / by_one - 1.0);
    }
  }
  return out;
}

}  // namespace bagsplit::jobs::detail
