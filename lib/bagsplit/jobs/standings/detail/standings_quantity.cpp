#include "bagsplit/jobs/standings/detail/standings_quantity.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <tuple>

#include "bagsplit/basepath/limits.hpp"
#include "bagsplit/inference/posterior/straight_times.hpp"
#include "bagsplit/runs/units.hpp"
#include "bagsplit/runs/words.hpp"
#include "bagsplit/text/text.hpp"

namespace bagsplit::jobs::detail {

namespace {

constexpr double least_inside = 0.9;  // share of the posterior the table of best paths must hold, as in profile()

bool is_mark(const std::string& wanted, std::optional<double> wanted_m, const std::string& name, double distance_m) {
  return text::equal_ignoring_case(wanted, name) || (wanted_m && std::abs(*wanted_m - distance_m) < 1e-6 * *wanted_m);
}

// A time somebody has: over a course, at a mark, under conditions.
struct Timed {
  std::uint16_t course = 0;
  runs::NameId mark = runs::no_name;
  runs::StartKind start{};
  double beam_m = 0.0;
  runs::Posture posture{};
  double base_m = 0.0;
  auto operator<=>(const Timed&) const = default;  // NOLINT(modernize-use-nullptr): clang-tidy 14 takes <=> for a null
};

struct Use {
  std::vector<runs::NameId> players;  // each once, as runs stand by player
  std::size_t runs = 0;
  double distance_m = 0.0;
};

// Children who were seen at a finish, as if each had been timed there.
void add_finishes(const runs::RunLog& log, std::span<const std::uint32_t> heats, std::map<Timed, Use>& times) {
  for (const std::uint32_t h : heats) {
    const runs::Heat& heat = log.heats[h];
    for (const runs::Finisher& finisher : log.finishers_of(heat)) {
      const runs::Run& run = log.runs[finisher.run];
      if (run.flag == runs::Flag::none) {
        Use& use =
            times[{run.course, heat.finish_mark, runs::StartKind::signal, 0.0, run.posture, run.base_distance_m}];
        if (std::find(use.players.begin(), use.players.end(), run.player) == use.players.end()) {
          use.players.push_back(run.player);
        }
        ++use.runs;
        use.distance_m = heat.finish_m;
      }
    }
  }
}

std::map<Timed, Use> times_in(const runs::RunLog& log, std::span<const std::uint32_t> used) {
  std::map<Timed, Use> out;
  for (const std::uint32_t index : used) {
    const runs::Run& run = log.runs[index];
    for (const runs::Reading& reading : log.readings_of(run)) {
      for (const runs::Split& split : log.splits_of(reading)) {
        if (split.is_move) {
          continue;
        }
        Use& use =
            out[{run.course, split.mark, reading.start, reading.beam_distance_m, run.posture, run.base_distance_m}];
        if (use.players.empty() || use.players.back() != run.player) {
          use.players.push_back(run.player);
        }
        ++use.runs;
        use.distance_m = split.distance_m;
      }
    }
  }
  return out;
}

// Most players, then most runs, then the farthest mark.
bool better(const Use& a, const Use& b) {
  return std::tuple(a.players.size(), a.runs, a.distance_m) > std::tuple(b.players.size(), b.runs, b.distance_m);
}

std::string there_are(const runs::RunLog& log, const std::map<Timed, Use>& times) {
  std::vector<std::string> words;
  for (const auto& [timed, use] : times) {
    std::string word = "time:" + log.name(timed.mark) + "@" + log.courses[timed.course].name;
    if (std::find(words.begin(), words.end(), word) == words.end()) {
      words.push_back(std::move(word));
    }
  }
  if (words.empty()) {
    return "; no run that counts has a time";
  }
  const std::vector<std::string_view> views(words.begin(), words.end());
  return ". There are: " + text::list_of(views, ",");
}

std::variant<ResolvedQuantity, StandingsRefusal> resolve_time(const RankedQuantity& words, const runs::RunLog& log,
                                                              std::span<const std::uint32_t> used,
                                                              std::span<const std::uint32_t> heats) {
  auto times = times_in(log, used);
  add_finishes(log, heats, times);
  const std::optional<double> wanted_m = runs::parse_length_m(words.mark);
  const std::pair<const Timed, Use>* found = nullptr;
  std::vector<std::string> courses;
  for (const auto& entry : times) {
    const std::string& course = log.courses[entry.first.course].name;
    if ((!words.course.empty() && !text::equal_ignoring_case(words.course, course)) ||
        (!words.mark.empty() && !is_mark(words.mark, wanted_m, log.name(entry.first.mark), entry.second.distance_m))) {
      continue;
    }
    if (std::find(courses.begin(), courses.end(), course) == courses.end()) {
      courses.push_back(course);
    }
    if (found == nullptr || better(entry.second, found->second)) {
      found = &entry;
    }
  }
  if (found == nullptr) {
    return StandingsRefusal{"nothing was timed as '" + word_of(words) + "'" + there_are(log, times)};
  }
  if (words.course.empty() && !words.mark.empty() && courses.size() > 1) {
    std::vector<std::string> choices;
    choices.reserve(courses.size());
    for (const std::string& course : courses) {
      choices.push_back(word_of(words) + "@" + course);
    }
    const std::vector<std::string_view> views(choices.begin(), choices.end());
    return StandingsRefusal{"'" + word_of(words) + "' was timed over several courses: say " + text::list_of(views)};
  }
  const Timed& timed = found->first;
  const runs::Course& course = log.courses[timed.course];
  ResolvedQuantity out;
  out.words = words;
  out.words.course = course.name;
  out.words.mark = log.name(timed.mark);
  out.course = timed.course;
  out.mark = timed.mark;
  out.time = TimeConditions{found->second.distance_m,
                            course.is_base_path() && timed.base_m > 0.0 ? std::optional(timed.base_m) : std::nullopt,
                            timed.start, timed.beam_m, timed.posture};
  for (const runs::Segment& segment : course.segments) {
    if (runs::segment_end_m(course, segment, timed.base_m) <= found->second.distance_m * (1.0 + 1e-6)) {
      out.losses.push_back(segment.key);
    }
  }
  return out;
}

std::variant<ResolvedQuantity, StandingsRefusal> resolve_path(const RankedQuantity& words, const runs::RunLog& log,
                                                              std::span<const std::uint32_t> used,
                                                              const std::optional<basepath::LossTable>& best_paths) {
  const auto times = times_in(log, used);
  const std::pair<const Timed, Use>* found = nullptr;
  for (const auto& entry : times) {
    const runs::Course& course = log.courses[entry.first.course];
    const bool whole = !course.segments.empty() && entry.first.base_m > 0.0 &&
                       runs::segment_end_m(course, course.segments.back(), entry.first.base_m) <=
                           entry.second.distance_m * (1.0 + 1e-6);
    if (whole && (words.course.empty() || text::equal_ignoring_case(words.course, course.name)) &&
        (found == nullptr || better(entry.second, found->second))) {
      found = &entry;
    }
  }
  if (found == nullptr) {
    return StandingsRefusal{
        "path efficiency needs runs timed to the end over " +
        (words.course.empty() ? "a course with turns" : "'" + words.course + "', a course with turns")};
  }
  const runs::Course& course = log.courses[found->first.course];
  ResolvedQuantity out;
  out.words = words;
  out.words.course = course.name;
  out.course = found->first.course;
  out.length_m = runs::segment_end_m(course, course.segments.back(), found->first.base_m);
  for (const runs::Segment& segment : course.segments) {
    out.losses.push_back(segment.key);
  }
  if (best_paths) {
    out.best_path = best_paths->course_loss(course, found->first.base_m, basepath::default_lateral_mps2().value);
  }
  if (!out.best_path) {
    return StandingsRefusal{"no best path is held for the course '" + course.name + "'"};
  }
  return out;
}

std::optional<std::uint32_t> find(std::span<const inference::Term> terms, inference::TermKind kind,
                                  std::string_view name = {}) {
  for (std::uint32_t k = 0; k < terms.size(); ++k) {
    if (terms[k].kind == kind && (name.empty() || terms[k].name == name)) {
      return k;
    }
  }
  return std::nullopt;
}

// The linear terms of a quantity; nothing, with the reason, where the player's runs bear one of them out.
std::optional<std::vector<std::uint32_t>> terms_of(const ResolvedQuantity& quantity,
                                                   std::span<const inference::Term> terms, std::string& why) {
  std::vector<std::uint32_t> out;
  const auto need = [&](inference::TermKind kind, std::string_view name, const std::string& reason) {
    const auto term = find(terms, kind, name);
    if (!term) {
      why = why.empty() ? reason : why;
      return;
    }
    out.push_back(*term);
  };
  const bool signal = quantity.time && quantity.time->start == runs::StartKind::signal;
  if (quantity.words.quantity == Quantity::reaction || signal) {
    need(inference::TermKind::reaction, {}, "no run that counts began on a signal or had its first move timed");
  }
  if (quantity.time && quantity.time->start == runs::StartKind::contact) {
    need(inference::TermKind::swing, {}, "no run that counts began at contact");
  }
  if (quantity.time && quantity.time->posture != runs::Posture::standing) {
    const std::string_view posture = runs::word_of(quantity.time->posture);
    need(inference::TermKind::posture, posture, "no run that counts began " + std::string(posture));
  }
  for (const std::string& loss : quantity.losses) {
    need(inference::TermKind::loss, loss, "never timed over " + quantity.words.course + " so far");
  }
  return why.empty() ? std::optional(std::move(out)) : std::nullopt;
}

double straight_part(const ResolvedQuantity& quantity, const motion::Sprint& s) {
  switch (quantity.words.quantity) {
    case Quantity::time: {
      const double beam_m = quantity.time->start == runs::StartKind::beam ? quantity.time->beam_m : 0.0;
      return motion::time_from_beam(motion::slowing_up_to(s, beam_m + quantity.time->distance_m), beam_m,
                                    quantity.time->distance_m);
    }
    case Quantity::acceleration:
      return s.max_acceleration_mps2();
    case Quantity::top_speed:
      return s.top_speed_mps;
    case Quantity::reaction:
    case Quantity::path_efficiency:
      break;
  }
  return 0.0;
}

// Coefficients of the active terms from the terms a quantity is the sum of.
std::vector<double> active_coefficients(const inference::Posterior& posterior,
                                        const inference::Posterior::WeighedTerms& sum, double each) {
  const auto active = posterior.active_terms();
  std::vector<double> out(active.size(), 0.0);
  for (std::size_t a = 0; a < active.size(); ++a) {
    const auto found = std::find(sum.terms.begin(), sum.terms.end(), active[a]);
    if (found != sum.terms.end()) {
      out[a] = each * sum.coefficients[static_cast<std::size_t>(found - sum.terms.begin())];
    }
  }
  return out;
}

std::optional<QuantityBelief> efficiency_of(const ResolvedQuantity& quantity, std::span<const std::uint32_t> terms,
                                            const inference::Posterior& posterior, double level, std::string& why) {
  const std::size_t n = posterior.size();
  const std::vector<double> straight = inference::straight_times_s(posterior, quantity.length_m);
  std::vector<double> best(n);
  std::vector<double> minus(n);
  std::vector<double> losses(n);
  std::vector<double> sds(n);
  double inside = 0.0;
  for (std::size_t i = 0; i < n; ++i) {
    const motion::Sprint& s = posterior.sprints()[i];
    const double v = std::log(s.top_speed_mps);
    const double tau = std::log(s.time_constant_s);
    inside += quantity.best_path->inside(v, tau) ? posterior.weights()[i] : 0.0;
    minus[i] = -(*quantity.best_path)(v, tau);
    best[i] = straight[i] - minus[i];
  }
  if (inside < least_inside) {
    why = "speed and base distance lie outside what best paths were computed for";
    return std::nullopt;
  }
  posterior.mixture(minus, terms, losses, sds);
  QuantityBelief out;
  out.value = inference::summarise_efficiency(posterior.weights(), best, losses, sds, level);
  double slope = 0.0;
  for (std::size_t i = 0; i < n; ++i) {
    const double moving = best[i] + losses[i];
    out.nodes.means.push_back(best[i] / moving);
    slope -= posterior.weights()[i] * best[i] / (moving * moving);
  }
  out.nodes.coefficients =
      active_coefficients(posterior, posterior.with_late({terms.begin(), terms.end()}, 0.0), slope);
  return out;
}

}  // namespace

std::optional<double> ResolvedQuantity::time_of(const runs::RunLog& log, const runs::Run& run,
                                                const runs::Reading& reading) const {
  if (!time || !course || run.course != *course || reading.start != time->start || run.posture != time->posture ||
      (time->base_distance_m && run.base_distance_m != *time->base_distance_m)) {
    return std::nullopt;
  }
  for (const runs::Split& split : log.splits_of(reading)) {
    if (!split.is_move && std::abs(split.distance_m - time->distance_m) < 1e-6 * time->distance_m) {
      return split.time_s;
    }
  }
  return std::nullopt;
}

std::variant<ResolvedQuantity, StandingsRefusal> resolve(const RankedQuantity& words, const runs::RunLog& log,
                                                         std::span<const std::uint32_t> used,
                                                         std::span<const std::uint32_t> heats,
                                                         const std::optional<basepath::LossTable>& best_paths) {
  if (words.quantity == Quantity::time) {
    return resolve_time(words, log, used, heats);
  }
  if (words.quantity == Quantity::path_efficiency) {
    return resolve_path(words, log, used, best_paths);
  }
  ResolvedQuantity out;
  out.words = words;
  return out;
}

std::optional<QuantityBelief> belief_of(const ResolvedQuantity& quantity, std::span<const inference::Term> names,
                                        const inference::LossMeans& loss_means, const inference::Posterior& posterior,
                                        double level, std::string& why) {
  const auto terms = terms_of(quantity, names, why);
  if (!terms) {
    return std::nullopt;
  }
  if (quantity.words.quantity == Quantity::path_efficiency) {
    return efficiency_of(quantity, *terms, posterior, level, why);
  }
  const std::size_t n = posterior.size();
  const auto straight = [&](const motion::Sprint& s) { return straight_part(quantity, s); };
  std::vector<double> values(n);
  for (std::size_t i = 0; i < n; ++i) {
    values[i] = straight(posterior.sprints()[i]);
  }
  QuantityBelief out;
  const double far_m = quantity.time ? quantity.time->beam_m + quantity.time->distance_m : 0.0;
  const auto [sum, coefficients] = posterior.with_late(*terms, far_m);
  if (sum.empty()) {
    out.value = posterior.of_sprint(values, level, inference::prior_variance_of(posterior.data(), straight));
    out.nodes = {std::move(values), active_coefficients(posterior, {}, 0.0)};
    return out;
  }
  out.nodes.means.resize(n);
  std::vector<double> sds(n);
  posterior.mixture(values, sum, coefficients, out.nodes.means, sds);
  out.nodes.coefficients = active_coefficients(posterior, {sum, coefficients}, 1.0);
  out.value = inference::summarise_mixture(posterior.weights(), out.nodes.means, sds, level);
  std::vector<double> prior_values;
  for (const motion::Sprint& s : loss_means.grid.value().sprints) {
    prior_values.push_back(straight(s));
  }
  loss_means.set_share(out.value, posterior.data(), sum, std::move(prior_values), coefficients);
  return out;
}

std::optional<inference::Normal> expected_of(const ResolvedQuantity& quantity, const inference::Assembled& prepared,
                                             const inference::LossMeans& loss_means) {
  std::string why;
  const auto terms = terms_of(quantity, prepared.terms, why);
  if (!terms || quantity.words.quantity == Quantity::path_efficiency) {
    return std::nullopt;
  }
  const inference::PriorGrid grid(prepared.data);
  double mean = 0.0;
  double square = 0.0;
  for (std::size_t i = 0; i < grid.weight.size(); ++i) {
    double value = straight_part(quantity, grid.sprints[i]);
    for (std::size_t k = 0; k < loss_means.terms.size(); ++k) {
      if (std::find(terms->begin(), terms->end(), loss_means.terms[k].first) != terms->end()) {
        value += loss_means.terms[k].second(grid.log_top_speed[i], grid.log_time_constant[i]) - loss_means.at_centre[k];
      }
    }
    mean += grid.weight[i] * value;
    square += grid.weight[i] * value * value;
  }
  double variance = std::max(0.0, square - mean * mean);
  for (const std::uint32_t k : *terms) {
    mean += prepared.data.terms[k].mean;
    variance += prepared.data.terms[k].sd * prepared.data.terms[k].sd;
  }
  return inference::Normal{mean, std::sqrt(variance)};
}

}  // namespace bagsplit::jobs::detail
