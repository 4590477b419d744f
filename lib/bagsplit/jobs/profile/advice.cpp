#include "bagsplit/jobs/profile/advice.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>

#include "bagsplit/inference/squad/design.hpp"

namespace bagsplit::jobs {

namespace {

constexpr double weak_share = 0.5;
constexpr double worth_gain = 0.10;  // a run that shrinks the SD by less is not worth naming
constexpr double quarter = 0.6745;   // normal quantile of 3/4
constexpr double surely_s = 0.10;  // below this lower bound a loss is not surely worth work; nothing_to_work_on says it

std::string fixed(double value, int digits) {
  std::array<char, 32> buffer{};
  const auto [end, error] =
      std::to_chars(buffer.data(), buffer.data() + buffer.size(), value, std::chars_format::fixed, digits);
  return error == std::errc{} ? std::string(buffer.data(), end) : std::string();
}

struct Candidate {
  std::string words;
  inference::CandidateRun run;
};

std::uint64_t bit(std::optional<std::uint32_t> term) {
  return term ? std::uint64_t{1} << *term : 0;
}

// The runs a coach with one watch can time. Terms the player's data do not know yet (a bias of another kind of start)
// enter as extra scatter.
std::vector<Candidate> candidates_for(const inference::Assembled& assembled, std::optional<double> base_m) {
  const timing::ReadingError watch = assembled.watch.value_or(timing::ReadingError{});
  const double split_sd = std::max(watch.split_sd_s, 1e-3);
  const std::uint64_t reaction = bit(assembled.find(inference::TermKind::reaction));
  std::uint64_t bias = 0;
  for (std::uint32_t k = 0; k < assembled.terms.size(); ++k) {
    const inference::TermKind kind = assembled.terms[k].kind;
    if (kind == inference::TermKind::bias_shared && assembled.terms[k].name.find("signal") != std::string::npos) {
      bias |= std::uint64_t{1} << k;
    }
  }
  const double bias_sd = watch.bias_sd_s();
  const auto mark = [&](double distance, std::uint64_t terms) {
    return inference::MarkData{distance, 0.0, split_sd, terms};
  };
  std::vector<Candidate> out;

  Candidate straight;
  straight.words = "a 30 m straight, clock started on the first move, times at 10 m and 30 m";
  straight.run.start_sd_s = watch.start_sd_s;
  straight.run.extra_bias_sd_s = bias_sd;
  straight.run.marks = {mark(10.0, 0), mark(30.0, 0)};
  out.push_back(straight);

  if (reaction != 0) {
    Candidate call;
    call.words = "a 20 m straight on the call, times at the first move (the mark move), 10 m and 20 m";
    call.run.signal = true;
    call.run.start_sd_s = watch.start_sd_s;
    call.run.extra_bias_sd_s = bias == 0 ? bias_sd : 0.0;
    inference::MarkData move = mark(0.0, reaction);
    move.sd_s = std::hypot(split_sd, watch.move_lag_sd_s);
    call.run.marks = {move, mark(10.0, reaction | bias), mark(20.0, reaction | bias)};
    out.push_back(call);
  }
  if (base_m) {
    const std::array<const char*, 4> keys = {"first", "second", "third", "home"};
    Candidate circuit;
    circuit.words = "a circuit on the call with a time at every bag";
    circuit.run.signal = true;
    circuit.run.start_sd_s = watch.start_sd_s;
    circuit.run.extra_bias_sd_s = bias == 0 ? bias_sd : 0.0;
    std::uint64_t terms = reaction | bias;
    bool known = true;
    for (std::size_t k = 0; k < keys.size(); ++k) {
      const auto loss = assembled.find(inference::TermKind::loss, keys[k]);
      known = known && loss.has_value();
      terms |= bit(loss);
      circuit.run.marks.push_back(mark(*base_m * static_cast<double>(k + 1), terms));
    }
    if (known) {
      out.push_back(circuit);
    }
    Candidate first;
    first.words = "home to first, run through, on the call";
    first.run.signal = true;
    first.run.start_sd_s = watch.start_sd_s;
    first.run.extra_bias_sd_s = bias == 0 ? bias_sd : 0.0;
    first.run.marks = {mark(*base_m, reaction | bias)};
    out.push_back(first);
  }
  if (const auto prone = assembled.find(inference::TermKind::posture, "prone")) {
    Candidate start;
    start.words = "a prone start, clock started on the first move, time at 10 m";
    start.run.start_sd_s = watch.start_sd_s;
    start.run.extra_bias_sd_s = bias_sd;
    start.run.marks = {mark(10.0, bit(prone))};
    out.push_back(start);
  }
  return out;
}

std::string segment_words(std::string_view key) {
  if (key == "first") {
    return "rounding first";
  }
  if (key == "second") {
    return "rounding second";
  }
  if (key == "third") {
    return "rounding third";
  }
  if (key == "home") {
    return "from third to home";
  }
  return "on the segment " + std::string(key);
}

}  // namespace

std::vector<NextRun> next_runs(const inference::Posterior& posterior, const inference::TermMeans& term_means,
                               const inference::Assembled& assembled, const PlayerProfile& profile,
                               std::optional<double> base_m) {
  struct Sought {
    std::string name;
    std::vector<double> gradient;
  };
  const std::size_t n = 2 + assembled.terms.size();
  std::vector<Sought> wanted;
  const auto weak = [](const std::optional<Estimate>& e) {
    return e && e->share_from_data && *e->share_from_data < weak_share;
  };
  const auto along = [&](std::string name, double by_v, double by_tau) {
    Sought w{std::move(name), std::vector<double>(n, 0.0)};
    w.gradient[0] = by_v;
    w.gradient[1] = by_tau;
    wanted.push_back(std::move(w));
  };
  const auto term = [&](std::string name, std::optional<std::uint32_t> index) {
    if (index) {
      Sought w{std::move(name), std::vector<double>(n, 0.0)};
      w.gradient[2 + *index] = 1.0;
      wanted.push_back(std::move(w));
    }
  };
  if (weak(profile.top_speed_mps)) {
    along("top_speed_mps", profile.top_speed_mps->median, 0.0);
  }
  if (weak(profile.time_constant_s)) {
    along("time_constant_s", 0.0, profile.time_constant_s->median);
  }
  if (weak(profile.max_acceleration_mps2)) {
    along("max_acceleration_mps2", profile.max_acceleration_mps2->median, -profile.max_acceleration_mps2->median);
  }
  if (weak(profile.reaction_s)) {
    term("reaction_s", assembled.find(inference::TermKind::reaction));
  }
  for (const NamedEstimate& posture : profile.posture_cost_s) {
    if (posture.value.share_from_data && *posture.value.share_from_data < weak_share) {
      term("posture_cost_s." + posture.name, assembled.find(inference::TermKind::posture, posture.name));
    }
  }
  for (const NamedEstimate& loss : profile.segment_loss_s) {
    if (loss.value.share_from_data && *loss.value.share_from_data < weak_share) {
      term("segment_loss_s." + loss.name, assembled.find(inference::TermKind::loss, loss.name));
    }
  }
  std::vector<NextRun> out;
  if (wanted.empty()) {
    return out;
  }
  const inference::Linearised now = inference::linearise(posterior, term_means);
  const std::vector<Candidate> candidates = candidates_for(assembled, base_m);
  std::vector<std::vector<double>> after;
  for (const Candidate& candidate : candidates) {
    after.push_back(inference::covariance_after(posterior, now, candidate.run, 1));
  }
  for (const Sought& w : wanted) {
    NextRun best;
    best.quantity = w.name;
    best.sd_now = best.sd_expected = inference::sd_of(now.covariance, w.gradient);
    for (std::size_t c = 0; c < candidates.size(); ++c) {
      const double sd = inference::sd_of(after[c], w.gradient);
      if (sd < best.sd_expected) {
        best.sd_expected = sd;
        best.run = candidates[c].words;
      }
    }
    if (best.sd_expected < (1.0 - worth_gain) * best.sd_now) {
      out.push_back(std::move(best));
    }
  }
  return out;
}

std::vector<std::string> work_on(const PlayerProfile& profile) {
  std::vector<std::string> out;
  const auto told = [](const Estimate& e) { return e.share_from_data.value_or(0.0) >= weak_share; };
  // What is lost beyond the best path where that is known: a turn that the best path cannot spare either is no fault.
  const auto beyond = [&](const std::string& segment) -> const Estimate* {
    for (const NamedEstimate& loss : profile.loss_to_best_path_by_segment_s) {
      if (loss.name == segment) {
        return &loss.value;
      }
    }
    return nullptr;
  };
  const auto range = [](const Estimate& e) { return "between " + fixed(e.lo, 2) + " and " + fixed(e.hi, 2) + " s"; };
  const NamedEstimate* most = nullptr;
  const Estimate* excess_of_most = nullptr;
  for (const NamedEstimate& loss : profile.segment_loss_s) {
    const bool rounded = loss.name == "first" || loss.name == "second" || loss.name == "third" || loss.name == "home";
    const Estimate* excess = beyond(loss.name);
    const Estimate& judged = excess != nullptr ? *excess : loss.value;
    if (!rounded || !told(loss.value) || !(judged.lo > surely_s)) {
      continue;
    }
    const bool better_known = excess != nullptr && excess_of_most == nullptr;
    const bool as_well_known = (excess != nullptr) == (excess_of_most != nullptr);
    if (most == nullptr || better_known ||
        (as_well_known && judged.mean > (excess_of_most != nullptr ? *excess_of_most : most->value).mean)) {
      most = &loss;
      excess_of_most = excess;
    }
  }
  if (most != nullptr && excess_of_most != nullptr) {
    out.push_back("Base running, " + segment_words(most->name) + ": about " + fixed(excess_of_most->median, 2) +
                  " s is lost there beyond what the best path for this sprint loses (" + range(*excess_of_most) +
                  "), of " + fixed(most->value.median, 2) + " s against a straight sprint.");
  } else if (most != nullptr) {
    out.push_back("Base running, " + segment_words(most->name) + ": about " + fixed(most->value.median, 2) +
                  " s is lost there against a straight sprint (" + range(most->value) +
                  "); how much of it a best path would lose as well is not known.");
  }
  // Only what surely lies in the slower quarter of what is expected at the age: half of all children are slower than
  // its middle.
  const double slow_reaction = profile.prior_reaction_s.mean + quarter * profile.prior_reaction_s.sd;
  if (profile.start_in_doubt) {
    return out;
  }
  if (profile.reaction_s && !profile.reaction_holds_timer_bias && told(*profile.reaction_s) &&
      profile.reaction_s->lo > slow_reaction) {
    out.push_back("The call: about " + fixed(profile.reaction_s->median, 2) +
                  " s from signal to first move, surely longer than usual at this age (up to " +
                  fixed(slow_reaction, 2) + " s); short reaction games fit.");
  }
  const double weak_start =
      std::exp(profile.prior_log_top_speed.mean - profile.prior_log_time_constant.mean -
               quarter * std::hypot(profile.prior_log_top_speed.sd, profile.prior_log_time_constant.sd));
  if (profile.max_acceleration_mps2 && told(*profile.max_acceleration_mps2) &&
      profile.max_acceleration_mps2->hi < weak_start) {
    out.push_back("The first steps: about " + fixed(profile.max_acceleration_mps2->median, 1) +
                  " m/s2 at first move, surely less than usual at this age (" + fixed(weak_start, 1) +
                  " m/s2 or more).");
  }
  return out;
}

}  // namespace bagsplit::jobs
