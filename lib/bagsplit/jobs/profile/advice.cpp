#include "bagsplit/jobs/profile/advice.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "bagsplit/inference/squad/design.hpp"
#include "bagsplit/safety/safety.hpp"
#include "bagsplit/text/number_chars.hpp"

namespace bagsplit::jobs {

namespace {

constexpr double weak_share = 0.5;
constexpr double worth_gain = 0.10;  // a run that shrinks the SD by less is not worth naming
constexpr double quarter = 0.6745;   // normal quantile of 3/4

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

struct PracticeDrill {
  std::string_view what, name, how;
  std::size_t runs;
};

// Common practice, no source.
constexpr std::array drills = std::to_array<PracticeDrill>({
    {"call", "clap starts", "Stand ready; somebody claps at odd moments; go on the clap over 10 m.", 5},
    {"get-up", "up and away", "From lying, hands under the shoulders: push up, one long step, run 5 m.", 4},
    {"first-steps", "falling starts", "Stand tall, lean until a step must come, then run 10 m.", 5},
    {"speed", "flying runs", "15 m easy, then 20 m as fast and as loose as can be.", 4},
    {"first", "the wide turn at first",
     "A cone 3 m outside the line, halfway from home: run outside it, over the "
     "inside corner of first, on to second.",
     4},
    {"second", "the wide turn at second",
     "A cone 3 m outside the line, halfway from first: run outside it, over the "
     "inside corner of second, on to third.",
     4},
    {"third", "the wide turn at third",
     "A cone 3 m outside the line, halfway from second: run outside it, over the "
     "inside corner of third, on to home.",
     4},
    {"home", "through the plate", "From second round third, eyes on a cone 5 m behind home, run past it.", 4},
});

// Verb first, then the number.
std::string coach_words(const MarkedQuantity& quantity, const Marked& mark) {
  if (!mark.cost_s || !mark.give_or_take_s) {  // hidden
    return "Time to win: " + std::string(quantity.words) + ".";
  }
  const std::string cost = text::plain_fixed(*mark.cost_s, 2) + " s";
  const std::string give = ", give or take " + text::plain_fixed(*mark.give_or_take_s, 2) + ".";
  const std::string usual = " than usual in this squad at that age" + give;
  if (quantity.at_bag) {
    return "Loses " + cost + (quantity.what == "home" ? " from third to home" : " " + std::string(quantity.words)) +
           " beyond the child's own best way round" + give;
  }
  if (quantity.what == "call") {
    return "Leaves " + cost + " later on the call" + usual;
  }
  if (quantity.what == "get-up") {
    return "Gets up " + cost + " later from lying" + usual;
  }
  return "Reaches first base " + cost + " later by " +
         (quantity.what == "speed" ? "full speed alone" : "the first steps alone") + usual;
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
  const auto hanging = [&](std::string_view what) {
    return std::any_of(profile.hangs_on.begin(), profile.hangs_on.end(),
                       [&](const HangsOn& row) { return row.what == what && !row.only_one; });
  };
  if (weak(profile.top_speed_mps)) {
    along("top_speed_mps", profile.top_speed_mps->median, 0.0);
  }
  if (weak(profile.time_constant_s)) {
    along("time_constant_s", 0.0, profile.time_constant_s->median);
  }
  if (weak(profile.max_acceleration_mps2) || hanging("max_acceleration_mps2")) {
    along("max_acceleration_mps2", profile.max_acceleration_mps2->median, -profile.max_acceleration_mps2->median);
  }
  if (weak(profile.reaction_s) || hanging("reaction_s")) {
    term("reaction_s", assembled.find(inference::TermKind::reaction));
  }
  for (const NamedEstimate& posture : profile.posture_cost_s) {
    if (posture.value.share_from_data && *posture.value.share_from_data < weak_share) {
      term("posture_cost_s." + posture.name, assembled.find(inference::TermKind::posture, posture.name));
    }
  }
  for (const NamedEstimate& loss : profile.segment_loss_s) {
    if (hanging("segment_loss_s." + loss.name) ||
        (loss.value.share_from_data && *loss.value.share_from_data < weak_share)) {
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
    if (best.sd_expected < (hanging(w.name) ? 1.0 : 1.0 - worth_gain) * best.sd_now) {
      out.push_back(std::move(best));
    }
  }
  std::stable_partition(out.begin(), out.end(), [&](const NextRun& run) { return hanging(run.quantity); });
  return out;
}

double slow_reaction_s(const PlayerProfile& profile) {
  return profile.prior_reaction_s.mean + quarter * profile.prior_reaction_s.sd;
}

double weak_start_mps2(const PlayerProfile& profile) {
  return std::exp(profile.prior_log_top_speed.mean - profile.prior_log_time_constant.mean -
                  quarter * std::hypot(profile.prior_log_top_speed.sd, profile.prior_log_time_constant.sd));
}

namespace {

// The row that a mark hangs on; nothing where it hangs on none.
const HangsOn* hangs(const PlayerProfile& profile, const MarkedQuantity& quantity) {
  const std::string key = quantity.at_bag                  ? "segment_loss_s." + std::string(quantity.what)
                          : quantity.what == "call"        ? "reaction_s"
                          : quantity.what == "first-steps" ? "max_acceleration_mps2"
                                                           : "";
  const auto found = std::find_if(profile.hangs_on.begin(), profile.hangs_on.end(),
                                  [&](const HangsOn& row) { return row.what == key; });
  return found == profile.hangs_on.end() ? nullptr : &*found;
}

}  // namespace

void advise(PlayerProfile& profile) {
  for (std::size_t k = 0; k < change_quantity; ++k) {
    const MarkedQuantity& quantity = marked_quantities[k];
    Marked& mark = profile.marks[k];
    if (const HangsOn* const row = hangs(profile, quantity); row != nullptr && mark.mark == Mark::work) {
      const std::string words(quantity.words);
      profile.notes.push_back("About " + text::plain_fixed(*mark.cost_s, 2) + " s may be lost at " + words + ", but " +
                              (row->only_one
                                   ? "one run alone tells it (" + place_of(*row) + "): a second one settles it."
                                   : "that hangs on " + place_of(*row) + ": one more run settles it."));
      mark.mark = Mark::unknown;
      mark.why = Unknown::one_time;
    }
  }
  profile.work_on = work_on(profile);
}

std::vector<WorkOn> work_on(const PlayerProfile& profile) {
  std::vector<std::size_t> places;
  for (std::size_t k = 0; k < change_quantity; ++k) {
    if (profile.marks[k].mark == Mark::work) {
      places.push_back(k);
    }
  }
  std::stable_sort(places.begin(), places.end(),
                   [&](auto a, auto b) { return profile.marks[a].cost_s > profile.marks[b].cost_s; });
  std::vector<WorkOn> out;
  for (const std::size_t k : places) {
    const MarkedQuantity& quantity = marked_quantities[k];
    const PracticeDrill& drill =
        *std::find_if(drills.begin(), drills.end(), [&](const PracticeDrill& d) { return d.what == quantity.what; });
    out.push_back({std::string(quantity.what), coach_words(quantity, profile.marks[k]), std::string(drill.name),
                   std::string(drill.how), std::min(drill.runs, safety::most_sprints_an_evening),
                   safety::least_rest_s(profile.age_years)});
  }
  return out;
}

}  // namespace bagsplit::jobs
