#include <cmath>

#include "bagsplit/jobs/profile/detail/profile_job.hpp"
#include "bagsplit/stats/distributions.hpp"

namespace bagsplit::jobs {

namespace {

inference::Estimate normal_estimate(const inference::Normal& normal, double level) {
  const double half = -stats::normal_quantile(0.5 * (1.0 - level)) * normal.sd;
  return {normal.mean, normal.sd, normal.mean - half, normal.mean, normal.mean + half, std::nullopt};
}

// exp of a normal, less `shift`.
inference::Estimate lognormal_estimate(const inference::Normal& log, double level, double shift) {
  const inference::Estimate e = normal_estimate(log, level);
  const double mean = std::exp(log.mean + 0.5 * log.sd * log.sd);
  return {mean - shift,           mean * std::sqrt(std::expm1(log.sd * log.sd)),
          std::exp(e.lo) - shift, std::exp(e.median) - shift,
          std::exp(e.hi) - shift, std::nullopt};
}

std::string kind_word(inference::TermKind kind) {
  switch (kind) {
    case inference::TermKind::reaction:
      return "reaction";
    case inference::TermKind::swing:
      return "swing";
    case inference::TermKind::posture:
      return "posture";
    case inference::TermKind::loss:
      return "loss";
    case inference::TermKind::late:
      return "late-slowing";
    case inference::TermKind::beam_place:
      return "beam-place";
    case inference::TermKind::run_order:
      return "run-order";
    case inference::TermKind::first_run:
      return "first-run";
    case inference::TermKind::move_lag:
      return "move-lag";
    case inference::TermKind::bias_event:
      return "mark-lag";
    case inference::TermKind::bias_shared:
    case inference::TermKind::bias_timer:
    case inference::TermKind::bias_many:
    case inference::TermKind::day_form:
      break;
  }
  return "bias";
}

std::string unit_of(inference::TermKind kind) {
  switch (kind) {
    case inference::TermKind::late:
      return "1/s";
    case inference::TermKind::beam_place:
      return "m";
    case inference::TermKind::run_order:
    case inference::TermKind::first_run:
      return "share";
    default:
      return "s";
  }
}

}  // namespace

std::optional<inference::SquadModel> squad_of(const ProfileJob& job, std::span<const runs::NameId> players,
                                              std::span<const inference::Selection> selections, unsigned threads) {
  std::vector<std::size_t> able;
  std::vector<std::size_t> readings;
  for (std::size_t i = 0; i < players.size(); ++i) {
    if (selections[i].used.empty()) {
      continue;
    }
    able.push_back(i);
    readings.push_back(0);
    for (const std::uint32_t run : selections[i].used) {
      readings.back() += job.log.runs[run].reading_count;
    }
  }
  if (able.empty()) {
    return std::nullopt;
  }
  std::vector<inference::SquadPlayer> fitted;
  for (const std::size_t drawn : inference::draw_fitted(readings, inference::squad_seed)) {
    const std::size_t i = able[drawn];
    Prepared prepared = prepare(job, players[i], selections[i]);
    fitted.push_back({players[i], std::move(prepared.assembled), std::move(prepared.loss_means)});
  }
  inference::SquadModel model =
      inference::fit_squad_model(fitted, able.size() - fitted.size(), threads, inference::squad_seed);
  model.players = able.size();
  return model;
}

SquadSummary summary_of(const inference::SquadModel& model, double level) {
  SquadSummary out;
  out.players = model.players;
  out.slip_rate = model.fit.slip_rate;
  out.players_fitted = model.members.size();
  out.seed = model.seed;
  out.converged = model.fit.converged;
  out.ages_unknown = model.ages_alike;
  out.effort_cv = lognormal_estimate(model.fit.log_effort_cv, level, 0.0);
  out.day_cv = lognormal_estimate(model.fit.log_day_cv, level, 0.0);
  out.reaction_sd_s = lognormal_estimate(model.fit.log_reaction_sd, level, 0.0);
  out.press_factor = lognormal_estimate(model.fit.log_press_factor, level, 0.0);
  for (std::uint32_t k = 0; k < model.shared.size(); ++k) {
    const inference::SharedQuantity& quantity = model.shared[k];
    const inference::Normal posterior = model.fit.shared(k);
    switch (quantity.kind) {
      case inference::SharedQuantity::Kind::top_speed_offset:
        out.top_speed_offset = lognormal_estimate(posterior, level, 1.0);
        break;
      case inference::SharedQuantity::Kind::time_constant_offset:
        out.time_constant_offset = lognormal_estimate(model.fit.shared(quantity.on_top_speed, k - 1, k), level, 1.0);
        break;
      case inference::SharedQuantity::Kind::term:
        out.shared.push_back({kind_word(quantity.term.kind), quantity.term.name, quantity.prior,
                              normal_estimate(posterior, level), unit_of(quantity.term.kind)});
        break;
    }
  }
  return out;
}

}  // namespace bagsplit::jobs
