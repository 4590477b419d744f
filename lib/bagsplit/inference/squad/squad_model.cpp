#include "bagsplit/inference/squad/squad_model.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <numeric>

#include "bagsplit/inference/prior/model.hpp"
#include "bagsplit/stats/random.hpp"

namespace bagsplit::inference {

namespace {

// Sizes of what a squad may have in common, as SDs. No source: a squad a tenth slower than the norms must not surprise
// (offset of log V), nor one coached to start (reaction); of a loss or a posture's cost, what is not known of the
// children's mean and what differs between children are taken as 0.6 and 0.8 of the prior's SD. Of log A, the doubt of
// its level by age that the priors have, independent of the offset of log V: in log tau = log V - log A it stands with
// the other sign, and the whole offset of log V beside it.
constexpr double top_speed_offset_sd = 0.08;
constexpr double reaction_offset_sd_s = 0.06;
constexpr double common_part = 0.6;
constexpr double own_part = 0.8;

// How much more a child loses a unit of own log V: no source but that a faster child cannot take a turn at its speed,
// so of either sign and wide: 0.08 s a loss for a child one SD faster than the squad.
constexpr double loss_slope_sd_s = 1.0;

// Of players without an age, most of what the ages 6 to 18 leave open in log V and log tau is the age, and children who
// run together are of like ages: a common part. Source: the spread of the priors' means over those ages
// (lib/bagsplit/inference/prior/priors.md).
constexpr double unknown_age_top_speed_sd = 0.14;
constexpr double unknown_age_time_constant_sd = 0.04;
constexpr double unknown_age_correlation = 0.84;
constexpr std::uint32_t unknown_age_offsets = 2;  // place of their offsets among the shared quantities

// Is enough left of a prior without its common part?
bool holds_common(const inference::Normal& prior, double common_sd) {
  return prior.sd * prior.sd - common_sd * common_sd > 0.1 * prior.sd * prior.sd;
}

// What is left of (log V, log tau) without what is common to those of unknown age; a prior stays as it is where that
// would be hardly anything.
void take_off_unknown_age(inference::PlayerData& data) {
  double covariance = data.log_correlation * data.log_top_speed.sd * data.log_time_constant.sd;
  const bool speed = holds_common(data.log_top_speed, unknown_age_top_speed_sd);
  const bool constant = holds_common(data.log_time_constant, unknown_age_time_constant_sd);
  const auto left = [](double sd, double common) { return std::sqrt(sd * sd - common * common); };
  if (speed) {
    data.log_top_speed.sd = left(data.log_top_speed.sd, unknown_age_top_speed_sd);
  }
  if (constant) {
    data.log_time_constant.sd = left(data.log_time_constant.sd, unknown_age_time_constant_sd);
  }
  if (speed && constant) {
    covariance -= unknown_age_correlation * unknown_age_top_speed_sd * unknown_age_time_constant_sd;
  }
  const double sds = data.log_top_speed.sd * data.log_time_constant.sd;
  data.log_correlation = sds > 0.0 ? std::clamp(covariance / sds, -0.99, 0.99) : 0.0;
}

// Doubt of the level of log A = log V - log tau.
double first_acceleration_level_sd(const LogSprint& prior) {
  const auto& level = prior.level_covariance;
  return std::sqrt(std::max(0.0, level[0][0] + level[1][1] - 2.0 * level[0][1]));
}

// What the offset of log tau adds to that of log V, for SDs of what is common in log V and the level of log A.
SharedQuantity time_constant_offset(double level_sd, bool unknown_age) {
  double v = top_speed_offset_sd * top_speed_offset_sd;
  double vt = v;
  double t = v + level_sd * level_sd;
  if (unknown_age) {
    v += unknown_age_top_speed_sd * unknown_age_top_speed_sd;
    vt += unknown_age_correlation * unknown_age_top_speed_sd * unknown_age_time_constant_sd;
    t += unknown_age_time_constant_sd * unknown_age_time_constant_sd;
  }
  return {SharedQuantity::Kind::time_constant_offset, {}, {0.0, std::sqrt(t - vt * vt / v)}, vt / v};
}

constexpr double smallest_level_sd = 1e-3;  // where a model file tells the level: a shared quantity must not be fixed
constexpr std::size_t most_shared = 48;     // beyond, the rarest biases stay each player's own

bool may_be_shared(TermKind kind) {
  switch (kind) {
    case TermKind::bias_shared:
    case TermKind::bias_timer:
    case TermKind::bias_event:
    case TermKind::move_lag:
    case TermKind::beam_place:
    case TermKind::run_order:
    case TermKind::first_run:
      return true;
    case TermKind::reaction:
    case TermKind::swing:
    case TermKind::posture:
    case TermKind::loss:
    case TermKind::late:
    case TermKind::bias_many:
    case TermKind::day_form:
      return false;
  }
  return false;
}

std::optional<inference::Normal> shared_prior(const Term& term, const Assembled& assembled, std::size_t k) {
  const inference::Normal& prior = assembled.data.terms[k];
  if (may_be_shared(term.kind)) {
    return prior.sd > 0.0 ? std::optional(prior) : std::nullopt;
  }
  switch (term.kind) {
    case TermKind::reaction:
      return inference::Normal{0.0, reaction_offset_sd_s};
    case TermKind::late:
      return assembled.late_slowing_level_sd_per_s > 0.0
                 ? std::optional(inference::Normal{0.0, assembled.late_slowing_level_sd_per_s})
                 : std::nullopt;
    case TermKind::swing:
    case TermKind::posture:
    case TermKind::loss:
      return prior.sd > 0.0 ? std::optional(inference::Normal{0.0, common_part * prior.sd}) : std::nullopt;
    default:
      return std::nullopt;
  }
}

inference::Normal own_prior(const Term& term, const inference::Normal& prior) {
  if (may_be_shared(term.kind)) {
    return {0.0, 0.0};
  }
  return term.kind == TermKind::reaction || term.kind == TermKind::late
             ? prior
             : inference::Normal{prior.mean, own_part * prior.sd};
}

}  // namespace

std::optional<std::uint32_t> SquadModel::find(const Term& term) const {
  for (std::uint32_t k = 0; k < shared.size(); ++k) {
    if (shared[k].kind == SharedQuantity::Kind::term && shared[k].term.kind == term.kind &&
        shared[k].term.name == term.name) {
      return k;
    }
  }
  return std::nullopt;
}

std::vector<std::size_t> draw_fitted(std::span<const std::size_t> readings, std::uint64_t seed) {
  std::vector<std::size_t> drawn(readings.size());
  std::iota(drawn.begin(), drawn.end(), std::size_t{0});
  if (readings.size() <= fewest_drawn ||
      std::accumulate(readings.begin(), readings.end(), std::size_t{0}) <= enough_readings) {
    return drawn;
  }
  stats::RandomStream random(seed);
  std::size_t sum = 0;
  std::size_t taken = 0;
  while (taken < drawn.size() && (taken < fewest_drawn || sum < enough_readings)) {
    std::swap(drawn[taken], drawn[taken + random.below(drawn.size() - taken)]);
    sum += readings[drawn[taken]];
    ++taken;
  }
  drawn.resize(taken);
  std::sort(drawn.begin(), drawn.end());
  return drawn;
}

inference::SquadScalePriors scale_priors() {
  // Centres: the built-in model. SDs: 90% within a factor of 1.9 for effort (published typical errors of children and
  // youths over 10-60 m run from 1 to 5%: data/models/README.md), 2.3 for the day and 1.8 for reaction (no source:
  // wide), 1.6 for presses (spread of the sources in data/devices/stopwatch.json, 0.035-0.1 s about 0.057 s).
  const inference::ModelFile::Error error = default_model().error;
  return {{std::log(error.effort_cv.value()), 0.4},
          {std::log(error.day_cv.value()), 0.5},
          {std::log(error.reaction_sd_s.value()), 0.35},
          {0.0, 0.3},
          {0.0, loss_slope_sd_s}};
}

inference::SquadMember member_of(const SquadModel& model, const Assembled& assembled, std::optional<runs::Date> day) {
  inference::SquadMember member;
  member.data = assembled.data;
  if (!model.shared.empty()) {
    const bool unknown_age = assembled.ages_alike && model.ages_alike;
    const std::uint32_t first = unknown_age ? unknown_age_offsets : 0;
    member.shared_log_top_speed = first;
    member.shared_log_time_constant = first + 1;
    member.time_constant_on_top_speed = model.shared[first + 1].on_top_speed;
    if (unknown_age) {
      take_off_unknown_age(member.data);
    } else {
      // By the doubt at the player's own age, from that of the squad's players together.
      member.time_constant_on_its_own =
          first_acceleration_level_sd(assembled.log_sprint) / model.shared[first + 1].prior.sd;
    }
  }
  for (std::size_t k = 0; k < assembled.terms.size(); ++k) {
    const Term& term = assembled.terms[k];
    const auto shared = model.find(term);
    member.shared_of_term.push_back(shared.value_or(inference::not_shared));
    if (shared) {
      member.data.terms[k] = own_prior(term, assembled.data.terms[k]);
    }
    if (term.kind == TermKind::loss) {
      member.losses.push_back(static_cast<std::uint32_t>(k));
    }
  }
  if (day && member.data.terms.size() < inference::max_linear_terms) {
    member.data.day_term = static_cast<std::uint32_t>(member.data.terms.size());
    member.data.day_term_day = static_cast<std::uint32_t>(day->time_since_epoch().count());
    member.data.terms.push_back({0.0, member.data.day_cv});
    member.shared_of_term.push_back(inference::not_shared);
  }
  member.hand = assembled.hand;
  return member;
}

SquadModel squad_structure(std::span<const SquadPlayer> players, std::uint64_t seed) {
  SquadModel model;
  model.seed = seed;
  double level_sd = 0.0;
  for (const SquadPlayer& player : players) {
    level_sd += first_acceleration_level_sd(player.assembled.log_sprint) / static_cast<double>(players.size());
  }
  level_sd = std::max(level_sd, smallest_level_sd);
  model.shared.push_back({SharedQuantity::Kind::top_speed_offset, {}, {0.0, top_speed_offset_sd}});
  model.shared.push_back(time_constant_offset(level_sd, false));
  model.ages_alike =
      std::any_of(players.begin(), players.end(), [](const SquadPlayer& p) { return p.assembled.ages_alike; });
  if (model.ages_alike) {
    model.shared.push_back(
        {SharedQuantity::Kind::top_speed_offset, {}, {0.0, std::hypot(top_speed_offset_sd, unknown_age_top_speed_sd)}});
    model.shared.push_back(time_constant_offset(level_sd, true));
  }
  // Terms in the order players bring them; where there are too many, those of fewest players stay out.
  struct Seen {
    Term term;
    inference::Normal prior;
    std::size_t players = 0;
  };
  std::vector<Seen> seen;
  for (const SquadPlayer& player : players) {
    for (std::size_t k = 0; k < player.assembled.terms.size(); ++k) {
      const Term& term = player.assembled.terms[k];
      const auto known = std::find_if(seen.begin(), seen.end(), [&](const Seen& s) { return s.term == term; });
      if (known != seen.end()) {
        ++known->players;
      } else if (const auto prior = shared_prior(term, player.assembled, k)) {
        seen.push_back({term, *prior, 1});
      }
    }
  }
  if (seen.size() > most_shared) {
    std::stable_sort(seen.begin(), seen.end(), [](const Seen& a, const Seen& b) { return a.players > b.players; });
    seen.resize(most_shared);
  }
  for (const Seen& s : seen) {
    model.shared.push_back({SharedQuantity::Kind::term, s.term, s.prior});
  }
  return model;
}

void fit_structure(SquadModel& model, std::span<const SquadPlayer> players, const SquadFitting& fitting) {
  std::vector<inference::SquadMember> members;
  std::vector<inference::TermMeans> term_means;
  for (const SquadPlayer& player : players) {
    term_means.push_back(player.loss_means.callback());
    model.members.emplace(player.id, members.size());
    members.push_back(member_of(model, player.assembled, std::nullopt));
  }
  std::vector<inference::Normal> priors;
  for (const SharedQuantity& quantity : model.shared) {
    priors.push_back(quantity.prior);
  }
  inference::SquadOptions options;
  options.threads = fitting.threads;
  if (fitting.others > 0) {
    options.narrow_sd = std::numeric_limits<double>::infinity();
  }
  SquadScalePriors scales = fitting.scales.value_or(scale_priors());
  if (std::all_of(members.begin(), members.end(), [](const SquadMember& m) { return m.losses.empty(); })) {
    scales.loss_slope_s = {0.0, 0.0};
  }
  model.fit = inference::fit_squad(members, priors, scales, options, term_means);
}

SquadModel fit_squad_model(std::span<const SquadPlayer> players, std::size_t others, unsigned threads,
                           std::uint64_t seed) {
  SquadModel model = squad_structure(players, seed);
  fit_structure(model, players, {others, std::nullopt, threads});
  return model;
}

bool mostly_without_age(const runs::RunLog& log, const runs::Roster& roster) {
  std::vector<bool> seen(log.names.size());
  std::size_t players = 0;
  std::size_t without = 0;
  for (const runs::Run& run : log.runs) {
    if (!seen[run.player]) {
      seen[run.player] = true;
      ++players;
      const runs::Player* player = roster.find(log.name(run.player));
      without += player == nullptr || !player->born ? 1U : 0U;
    }
  }
  return 2 * without > players;
}

}  // namespace bagsplit::inference
