#include "bagsplit/jobs/profile/detail/row_doubts.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <numeric>

#include "bagsplit/stats/random.hpp"

namespace bagsplit::jobs {

namespace {

constexpr double worth_a_look = 0.02;    // chance of any slip in a run, of one that may be swapped
constexpr double also_wrong = 0.2;       // chance of a slip in another run of the child
constexpr double worth_an_owner = 0.5;   // of one that may be somebody else's
constexpr double least_apart_s = 0.3;    // closer runs look alike whoever ran them
constexpr std::size_t large_group = 40;  // where both runs of a swap must look odd
constexpr double worth_weighing = 1.0;   // gain in log evidence of a swap that is looked at closely
// A swap is taken for scatter, too: efforts that would then differ less are tried, as shares of what was fitted.
constexpr std::array efforts = {1.0, 0.75, 0.55};

// Where a run stands: child and place in its selection.
struct RunAt {
  std::size_t child = 0;
  std::size_t place = 0;
};

struct Swap {
  RunAt a, b;
  double odds = 0.0;
};

std::uint32_t number_of(std::span<const DoubtedChild> children, const RunAt& at) {
  return children[at.child].selection->used[at.place];
}

// Runs that could be swapped: of one round, timed alike.
std::string likeness(const runs::RunLog& log, const runs::Run& run) {
  std::string key = std::to_string(run.course) + " " + std::to_string(run.date.time_since_epoch().count()) + " " +
                    std::to_string(run.place) + " " + std::to_string(run.trial) + " " +
                    std::to_string(static_cast<int>(run.posture)) + " " + std::to_string(run.base_distance_m);
  for (const runs::Reading& reading : log.readings_of(run)) {
    if (reading.split_count == 0) {
      continue;
    }
    key += "," + std::to_string(reading.timer) + " " + std::to_string(static_cast<int>(reading.device)) + " " +
           std::to_string(static_cast<int>(reading.start));
    for (const runs::Split& split : log.splits_of(reading)) {
      key += " " + std::to_string(split.mark);
    }
  }
  return key;
}

// The first with a time; runs that are used have one.
const runs::Reading& timed(const runs::RunLog& log, const runs::Run& run) {
  const auto readings = log.readings_of(run);
  const auto at = std::find_if(readings.begin(), readings.end(), [](const auto& r) { return r.split_count > 0; });
  return at == readings.end() ? readings.front() : *at;
}

double last_s(const runs::RunLog& log, const runs::Run& run) {
  return log.splits_of(timed(log, run)).back().time_s;
}

double most_apart_s(const runs::RunLog& log, const runs::Run& a, const runs::Run& b) {
  double most = 0.0;
  const auto splits = log.splits_of(timed(log, a));
  const auto others = log.splits_of(timed(log, b));
  for (std::size_t k = 0; k < std::min(splits.size(), others.size()); ++k) {
    most = std::max(most, std::fabs(splits[k].time_s - others[k].time_s));
  }
  return most;
}

// Odds, kept finite.
double odds_of(double log_odds) {
  return std::exp(std::min(log_odds, 300.0));
}

using ByEffort = std::array<double, efforts.size()>;

double log_sum(const ByEffort& logs) {
  const double most = *std::max_element(logs.begin(), logs.end());
  double sum = 0.0;
  for (const double log : logs) {
    sum += std::exp(log - most);
  }
  return most + std::log(sum);
}

class OwnerDoubts {
 public:
  OwnerDoubts(const ProfileJob& job, const ChildEvidence& evidence, std::span<const DoubtedChild> children,
              std::vector<bool>& done, std::map<runs::NameId, double>& mixed_up)
      : log_(job.log), job_(job), evidence_(evidence), children_(children), done_(done), mixed_up_(mixed_up) {}

  std::vector<SuspectedReading> find() {
    std::map<std::string, std::vector<RunAt>> groups;
    for (std::size_t c = 0; c < children_.size(); ++c) {
      for (std::size_t k = 0; k < children_[c].selection->used.size(); ++k) {
        const std::uint32_t run = children_[c].selection->used[k];
        if (!done_[run] && !is_checked(run)) {
          groups[likeness(log_, log_.runs[run])].push_back({c, k});
        }
      }
    }
    std::map<runs::Date, std::vector<Swap>> swaps;
    for (const auto& [key, runs] : groups) {
      add_swaps(runs, swaps[log_.runs[number_of(children_, runs.front())].date]);
    }
    for (auto& [date, of_date] : swaps) {
      if (!of_date.empty()) {
        weigh(of_date);
        tell_swaps(of_date);
      }
    }
    for (std::size_t c = 0; c < children_.size(); ++c) {
      for (std::size_t k = 0; k < children_[c].selection->used.size(); ++k) {
        const std::uint32_t run = children_[c].selection->used[k];
        if (children_[c].slip_of_run[k] > worth_an_owner && !done_[run] && !is_checked(run) && !is_mixed_up(c)) {
          find_owner({c, k});
        }
      }
    }
    return std::move(out_);
  }

 private:
  bool is_checked(std::uint32_t run) const {
    const auto readings = log_.readings_of(log_.runs[run]);
    return std::any_of(readings.begin(), readings.end(), [](const runs::Reading& r) { return r.checked; });
  }

  bool is_mixed_up(std::size_t child) const {
    const auto found = mixed_up_.find(children_[child].id);
    return found != mixed_up_.end() && found->second > maybe_suspected;
  }

  double slip_at(const RunAt& at) const { return children_[at.child].slip_of_run[at.place]; }

  bool may_be_swapped(const RunAt& a, const RunAt& b, std::size_t group) const {
    const std::size_t odd = (slip_at(a) > worth_a_look ? 1U : 0U) + (slip_at(b) > worth_a_look ? 1U : 0U);
    return a.child != b.child && odd >= (group > large_group ? 2U : 1U) &&
           most_apart_s(log_, log_.runs[number_of(children_, a)], log_.runs[number_of(children_, b)]) > least_apart_s;
  }

  // Gain in evidence of two runs swapped, against the runs as they stand.
  double gain(const Swap& swap, double effort) const {
    const DoubtedChild& one = children_[swap.a.child];
    const DoubtedChild& other = children_[swap.b.child];
    return evidence_.with_times(one, swap.a.place, other, swap.b.place, effort, wrong_elsewhere(swap.a)) +
           evidence_.with_times(other, swap.b.place, one, swap.a.place, effort, wrong_elsewhere(swap.b));
  }

  bool wrong_elsewhere(const RunAt& at) const {
    const std::vector<double>& slips = children_[at.child].slip_of_run;
    for (std::size_t k = 0; k < slips.size(); ++k) {
      if (k != at.place && slips[k] > also_wrong) {
        return true;
      }
    }
    return false;
  }

  // Pairs of a round that fit better the other way round, with what chance had for them beforehand.
  void add_swaps(std::span<const RunAt> runs, std::vector<Swap>& out) const {
    for (std::size_t a = 0; a < runs.size(); ++a) {
      for (std::size_t b = a + 1; b < runs.size(); ++b) {
        Swap swap{runs[a], runs[b], chance_of_swap / static_cast<double>(runs.size() - 1)};
        if (may_be_swapped(runs[a], runs[b], runs.size()) &&
            gain(swap, 1.0) > worth_weighing + children_[runs[a].child].robust + children_[runs[b].child].robust) {
          out.push_back(swap);
        }
      }
    }
  }

  // From what chance had for them to odds against all runs as they stand, whatever the efforts' scatter.
  void weigh(std::vector<Swap>& swaps) {
    const inference::Normal scatter = inference::scale_priors().log_effort_cv;
    if (as_logged_.empty()) {
      as_logged_.resize(children_.size());
      stats::for_each_index(children_.size(), job_.options.threads, [&](std::size_t c) {
        for (std::size_t k = 0; k < efforts.size(); ++k) {
          as_logged_[c][k] = efforts[k] == 1.0 ? children_[c].robust : evidence_.as_logged(children_[c], efforts[k]);
        }
      });
    }
    ByEffort all{};
    for (std::size_t k = 0; k < efforts.size(); ++k) {
      const double z = (job_.squad->fit.log_effort_cv.mean + std::log(efforts[k]) - scatter.mean) / scatter.sd;
      all[k] = -0.5 * z * z;
      for (const ByEffort& logs : as_logged_) {
        all[k] += logs[k];
      }
    }
    stats::for_each_index(swaps.size(), job_.options.threads, [&](std::size_t s) {
      ByEffort swapped = all;
      for (std::size_t k = 0; k < efforts.size(); ++k) {
        swapped[k] += gain(swaps[s], efforts[k]) - as_logged_[swaps[s].a.child][k] - as_logged_[swaps[s].b.child][k];
      }
      swaps[s].odds = odds_of(std::log(swaps[s].odds) + log_sum(swapped) - log_sum(all));
    });
  }

  // Each pair of an evening against all others of its two children: their other rounds, swapped, fit each other too.
  void tell_swaps(std::span<const Swap> swaps) {
    std::map<std::size_t, double> of_child;
    std::map<std::pair<std::size_t, std::size_t>, double> of_both;
    for (const Swap& swap : swaps) {
      of_child[swap.a.child] += swap.odds;
      of_child[swap.b.child] += swap.odds;
      of_both[std::minmax(swap.a.child, swap.b.child)] += swap.odds;
    }
    for (const auto& [child, odds] : of_child) {
      mixed_up_[children_[child].id] = std::max(mixed_up_[children_[child].id], odds / (1.0 + odds));
    }
    for (const Swap& swap : swaps) {
      const double all =
          1.0 + of_child[swap.a.child] + of_child[swap.b.child] - of_both[std::minmax(swap.a.child, swap.b.child)];
      if (swap.odds / all >= maybe_suspected) {
        tell(swap.a, number_of(children_, swap.b), "swap", swap.odds / all);
        tell(swap.b, number_of(children_, swap.a), "swap", swap.odds / all);
      }
    }
  }

  // Whose a run may be, when it does not look like its player's.
  void find_owner(const RunAt& at) {
    const DoubtedChild& child = children_[at.child];
    const std::uint32_t run = number_of(children_, at);
    std::vector<std::uint32_t> others = child.selection->used;
    others.erase(others.begin() + static_cast<std::ptrdiff_t>(at.place));
    const double without = others.empty() ? 0.0 : evidence_.of_runs(job_, child, others, true);
    double sum = 1.0;
    double most = 0.0;
    std::size_t owner = at.child;
    for (std::size_t c = 0; c < children_.size(); ++c) {
      if (c == at.child) {
        continue;
      }
      std::vector<std::uint32_t> with = children_[c].selection->used;
      with.push_back(run);
      const double odds =
          odds_of(without + evidence_.of_runs(job_, children_[c], std::move(with), false) - child.robust -
                  children_[c].robust + std::log(chance_of_wrong_bib / static_cast<double>(children_.size() - 1)));
      sum += odds;
      owner = odds > most ? c : owner;
      most = std::max(most, odds);
    }
    if (most / sum >= maybe_suspected) {
      SuspectedReading& made = tell(at, run, "bib", most / sum);
      made.other_player = log_.names[children_[owner].id];
      made.other_line = 0;
    }
  }

  // @param other  whose times would fit.
  SuspectedReading& tell(const RunAt& at, std::uint32_t other, const char* kind, double probability) {
    const std::uint32_t run = number_of(children_, at);
    done_[run] = true;
    SuspectedReading& made = out_.emplace_back(about_run(log_, run, kind, probability));
    made.expected_s = last_s(log_, log_.runs[other]);
    made.size_s = made.read_s - made.expected_s;
    made.other_player = log_.names[log_.runs[other].player];
    made.other_line = timed(log_, log_.runs[other]).line;
    return made;
  }

  const runs::RunLog& log_;
  const ProfileJob& job_;
  const ChildEvidence& evidence_;
  std::span<const DoubtedChild> children_;
  std::vector<bool>& done_;
  std::map<runs::NameId, double>& mixed_up_;
  std::vector<ByEffort> as_logged_;  // of each child, once it is asked for
  std::vector<SuspectedReading> out_;
};

}  // namespace

SuspectedReading about_run(const runs::RunLog& log, std::uint32_t run, std::string kind, double probability) {
  const runs::Reading& reading = timed(log, log.runs[run]);
  SuspectedReading out;
  out.file = log.files[reading.file];
  out.line = reading.line;
  out.player = log.names[log.runs[run].player];
  out.kind = std::move(kind);
  out.probability = probability;
  out.read_s = out.expected_s = last_s(log, log.runs[run]);
  return out;
}

inference::PlayerData ChildEvidence::data_of(const DoubtedChild& child, const inference::Assembled& assembled) const {
  const auto known = squad_.members.find(child.id);
  return inference::member_data(squad_.fit, squad_.fit.points.front(),
                                inference::member_of(squad_, assembled, std::nullopt),
                                known != squad_.members.end() ? std::optional(known->second) : std::nullopt);
}

void DoubtedChild::take(const inference::Posterior& posterior) {
  robust = posterior.log_evidence();
  mode = posterior.mode();
  slip_of_run.assign(data.runs.size(), 0.0);
  for (std::size_t k = 0; k < data.runs.size() && !posterior.slip_of_reading().empty(); ++k) {
    const inference::RunData& run = data.runs[k];
    for (std::uint32_t r = run.first_reading; r < run.first_reading + run.reading_count; ++r) {
      slip_of_run[k] = std::max(slip_of_run[k], posterior.slip_of_reading()[r]);
    }
  }
}

DoubtedChild ChildEvidence::child(runs::NameId id, const inference::Selection& selection) const {
  DoubtedChild out;
  out.id = id;
  out.selection = &selection;
  out.prepared = prepare(job_, id, selection);
  out.data = data_of(out, out.prepared.assembled);
  const inference::Posterior posterior(out.data, out.prepared.loss_means.callback());
  out.take(posterior);
  out.cells = suspected_readings(job_.log, job_.log.names[id], out.prepared.assembled.log_reading, posterior.slips(),
                                 posterior.slip_of_reading());
  return out;
}

double ChildEvidence::of_runs(const ProfileJob& job, const DoubtedChild& child, std::vector<std::uint32_t> used,
                              bool slips) const {
  inference::Selection selection = *child.selection;
  selection.used = std::move(used);
  const Prepared prepared = prepare(job, child.id, std::move(selection));
  inference::PlayerData data = data_of(child, prepared.assembled);
  data.slips.rate = slips ? data.slips.rate : 0.0;
  return inference::Posterior(data, prepared.loss_means.callback(), {.coarse = true, .near = std::nullopt})
      .log_evidence();
}

double ChildEvidence::with_times(const DoubtedChild& child, std::size_t run, const DoubtedChild& other,
                                 std::size_t other_run, double effort, bool slips) const {
  inference::PlayerData data = child.data;
  data.slips.rate = slips ? data.slips.rate : 0.0;
  data.effort_cv *= effort;
  const inference::RunData& to = data.runs[run];
  const inference::RunData& from = other.data.runs[other_run];
  for (std::uint32_t r = 0; r < to.reading_count; ++r) {
    const inference::ReadingData& here = data.readings[to.first_reading + r];
    const inference::ReadingData& there = other.data.readings[from.first_reading + r];
    for (std::uint32_t m = 0; m < here.mark_count; ++m) {
      data.marks[here.first_mark + m].time_s = other.data.marks[there.first_mark + m].time_s;
    }
  }
  return evidence_of(child, data);
}

double ChildEvidence::as_logged(const DoubtedChild& child, double effort) const {
  inference::PlayerData data = child.data;
  data.effort_cv *= effort;
  return evidence_of(child, data);
}

double ChildEvidence::evidence_of(const DoubtedChild& child, const inference::PlayerData& data) {
  return inference::Posterior(data, child.prepared.loss_means.callback(), {.coarse = true, .near = child.mode})
      .log_evidence();
}

std::vector<SuspectedReading> doubt_owners(const ProfileJob& job, const ChildEvidence& evidence,
                                           std::span<const DoubtedChild> children, std::vector<bool>& done,
                                           std::map<runs::NameId, double>& mixed_up) {
  return OwnerDoubts(job, evidence, children, done, mixed_up).find();
}

}  // namespace bagsplit::jobs
