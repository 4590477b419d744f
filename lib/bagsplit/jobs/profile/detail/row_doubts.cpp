#include "bagsplit/jobs/profile/detail/row_doubts.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <numeric>

namespace bagsplit::jobs {

namespace {

constexpr double worth_a_look = 0.02;    // chance of any slip in a run, of one that may be swapped
constexpr double worth_an_owner = 0.5;   // of one that may be somebody else's
constexpr double least_apart_s = 0.3;    // closer runs look alike whoever ran them
constexpr std::size_t large_group = 40;  // where both runs of a swap must look odd

// Where a run stands: child and place in its selection.
struct RunAt {
  std::size_t child = 0;
  std::size_t place = 0;
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

class OwnerDoubts {
 public:
  OwnerDoubts(const ProfileJob& job, const ChildEvidence& evidence, std::span<const DoubtedChild> children,
              std::vector<bool>& done)
      : log_(job.log), job_(job), evidence_(evidence), children_(children), done_(done) {}

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
    for (const auto& [key, runs] : groups) {
      find_swaps(runs);
    }
    for (std::size_t c = 0; c < children_.size(); ++c) {
      for (std::size_t k = 0; k < children_[c].selection->used.size(); ++k) {
        const std::uint32_t run = children_[c].selection->used[k];
        if (children_[c].slip_of_run[k] > worth_an_owner && !done_[run] && !is_checked(run)) {
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

  double slip_at(const RunAt& at) const { return children_[at.child].slip_of_run[at.place]; }

  bool may_be_swapped(const RunAt& a, const RunAt& b, std::size_t group) const {
    const bool odd_a = slip_at(a) > worth_a_look;
    const bool odd_b = slip_at(b) > worth_a_look;
    return a.child != b.child && (group > large_group ? odd_a && odd_b : odd_a || odd_b) &&
           most_apart_s(log_, log_.runs[number_of(children_, a)], log_.runs[number_of(children_, b)]) > least_apart_s;
  }

  // Each pair against all other partners of both.
  void find_swaps(std::span<const RunAt> runs) {
    const std::size_t n = runs.size();
    if (n < 2) {
      return;
    }
    std::vector<double> w(n * n, 0.0);
    std::vector<double> sums(n, 0.0);
    for (std::size_t a = 0; a < n; ++a) {
      for (std::size_t b = a + 1; b < n; ++b) {
        if (!may_be_swapped(runs[a], runs[b], n)) {
          continue;
        }
        const DoubtedChild& one = children_[runs[a].child];
        const DoubtedChild& other = children_[runs[b].child];
        w[a * n + b] = odds_of(evidence_.with_times(one, runs[a].place, other, runs[b].place) +
                               evidence_.with_times(other, runs[b].place, one, runs[a].place) - one.robust -
                               other.robust + std::log(chance_of_swap / static_cast<double>(n - 1)));
        sums[a] += w[a * n + b];
        sums[b] += w[a * n + b];
      }
    }
    for (std::size_t a = 0; a < n; ++a) {
      for (std::size_t b = a + 1; b < n; ++b) {
        const double odds = w[a * n + b];
        const double probability = odds / (1.0 + sums[a] + sums[b] - odds);
        if (probability >= maybe_suspected) {
          tell(runs[a], number_of(children_, runs[b]), "swap", probability);
          tell(runs[b], number_of(children_, runs[a]), "swap", probability);
        }
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

DoubtedChild ChildEvidence::child(runs::NameId id, const inference::Selection& selection) const {
  DoubtedChild out;
  out.id = id;
  out.selection = &selection;
  out.prepared = prepare(job_, id, selection);
  out.data = data_of(out, out.prepared.assembled);
  const inference::Posterior posterior(out.data, out.prepared.loss_means.callback());
  out.robust = posterior.log_evidence();
  out.slip_of_run.assign(selection.used.size(), 0.0);
  if (!posterior.slip_of_reading().empty()) {
    for (std::size_t k = 0; k < out.data.runs.size(); ++k) {
      const inference::RunData& run = out.data.runs[k];
      for (std::uint32_t r = run.first_reading; r < run.first_reading + run.reading_count; ++r) {
        out.slip_of_run[k] = std::max(out.slip_of_run[k], posterior.slip_of_reading()[r]);
      }
    }
  }
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
                                 std::size_t other_run) const {
  inference::PlayerData data = child.data;
  data.slips.rate = 0.0;
  const inference::RunData& to = data.runs[run];
  const inference::RunData& from = other.data.runs[other_run];
  for (std::uint32_t r = 0; r < to.reading_count; ++r) {
    const inference::ReadingData& here = data.readings[to.first_reading + r];
    const inference::ReadingData& there = other.data.readings[from.first_reading + r];
    for (std::uint32_t m = 0; m < here.mark_count; ++m) {
      data.marks[here.first_mark + m].time_s = other.data.marks[there.first_mark + m].time_s;
    }
  }
  return inference::Posterior(data, child.prepared.loss_means.callback(), {.coarse = true, .near = std::nullopt})
      .log_evidence();
}

std::vector<SuspectedReading> doubt_owners(const ProfileJob& job, const ChildEvidence& evidence,
                                           std::span<const DoubtedChild> children, std::vector<bool>& done) {
  return OwnerDoubts(job, evidence, children, done).find();
}

}  // namespace bagsplit::jobs
