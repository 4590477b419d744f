#include "bagsplit/record/detail/same_runs.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <numeric>
#include <optional>
#include <set>

#include "bagsplit/stats/quantile.hpp"

namespace bagsplit::record::detail {

namespace {

constexpr double log_two_pi = 1.8378770664093453;
constexpr double mad_to_sd = 1.4826;
constexpr double most_odds = 60.0;

using Joined = std::vector<EntryAt>;

double normal(double d, double variance) {
  return std::exp(-0.5 * (log_two_pi + std::log(variance) + d * d / variance));
}

struct Spread {
  double median = 0.0, sd = 0.0;
};

std::optional<Spread> spread_of(const std::vector<double>& values) {
  const auto middle = stats::median(values);
  if (!middle) {
    return std::nullopt;
  }
  std::vector<double> away;
  for (const double value : values) {
    away.push_back(std::fabs(value - *middle));
  }
  return Spread{*middle, mad_to_sd * *stats::median(away)};
}

// What two logs are compared by: one log's entries against runs as far as they are known.
struct Watches {
  std::vector<double> bias_s, clock_s;  // by recorder
  double sd_s = 0.0;
};

class Odds {
 public:
  Odds(std::span<const std::vector<WatchEntry>> logs, std::span<const Joined> runs, std::uint32_t recorder,
       const Watches& watches, const SameRunRules& rules, bool by_time)
      : logs_(logs), runs_(runs), entries_(logs[recorder]), who_(recorder), watches_(watches), rules_(rules) {
    find_ties();
    count_bibs();
    if (by_time) {
      gather_times();
      gather_clocks();
    }
  }

  BandTable table() const {
    const std::size_t n = runs_.size();
    const std::size_t m = entries_.size();
    const std::size_t apart = n > m ? n - m : m - n;
    const std::size_t most = std::max(n, m);
    BandTable out(n, m, most <= rules_.whole_to ? most : std::min(most, rules_.band + apart));
    for (std::size_t i = 0; i < n; ++i) {
      for (std::size_t j = out.begin(i); j < out.end(i); ++j) {
        out.cell(i, j) =
            std::clamp(known(i, j).value_or(by_bib(i, j) + by_times(i, j) + by_clock(i, j)), -most_odds, most_odds);
      }
    }
    return out;
  }

 private:
  const WatchEntry& entry(EntryAt at) const { return logs_[at.recorder][at.entry]; }

  static bool share(const std::vector<std::uint32_t>& a, const std::vector<std::uint32_t>& b) {
    return std::any_of(a.begin(), a.end(), [&](auto one) { return std::find(b.begin(), b.end(), one) != b.end(); });
  }

  void find_ties() {
    tied_to_.resize(entries_.size());
    for (std::size_t i = 0; i < runs_.size(); ++i) {
      for (std::size_t j = 0; j < entries_.size(); ++j) {
        if (!entries_[j].ties.empty() && std::any_of(runs_[i].begin(), runs_[i].end(), [&](EntryAt at) {
              return share(entry(at).ties, entries_[j].ties);
            })) {
          tied_to_[j] = i;
        }
      }
    }
  }

  // Where there is nothing to weigh: it was said, or one watch cannot have timed both.
  std::optional<double> known(std::size_t i, std::size_t j) const {
    const WatchEntry& own = entries_[j];
    if (tied_to_[j]) {
      return *tied_to_[j] == i ? most_odds : -most_odds;
    }
    const bool never = std::any_of(runs_[i].begin(), runs_[i].end(),
                                   [&](EntryAt at) { return entry(at).alone || share(entry(at).timers, own.timers); });
    return own.alone || never ? std::optional(-most_odds) : std::nullopt;
  }

  void count_bibs() {
    std::map<std::uint32_t, double> share;
    const auto one = 1.0 / static_cast<double>(runs_.size() + entries_.size());
    for (const Joined& run : runs_) {
      run_bib_.push_back(bib_of_run(logs_, run));
      share[run_bib_.back()] += one;
    }
    for (const WatchEntry& own : entries_) {
      share[own.bib] += one;
    }
    log_same_bib_ = std::log(1.0 - 2.0 * rules_.wrong_bib);
    log_other_bib_ = std::log(2.0 * rules_.wrong_bib / static_cast<double>(std::max<std::size_t>(2, share.size())));
    for (const WatchEntry& own : entries_) {
      log_share_.push_back(std::log(share[own.bib]));
    }
  }

  double by_bib(std::size_t i, std::size_t j) const {
    return (run_bib_[i] == entries_[j].bib ? log_same_bib_ : log_other_bib_) - log_share_[j];
  }

  struct Mean {
    double time_s = 0.0;
    double watches = 0.0;  // how many
  };

  // A child's time at a mark where the run is another of its runs.
  struct Alone {
    double mean_s = 0.0, variance = 0.0, log_density = 0.0;
  };

  void gather_times() {
    std::map<std::uint32_t, std::vector<double>> all;
    means_.resize(runs_.size());
    for (std::size_t i = 0; i < runs_.size(); ++i) {
      for (const EntryAt at : runs_[i]) {
        for (const MarkTime& time : entry(at).times) {
          Mean& mean = means_[i][time.mark];
          mean.time_s += time.time_s - watches_.bias_s[at.recorder];
          mean.watches += 1.0;
        }
      }
      for (auto& [mark, mean] : means_[i]) {
        mean.time_s /= mean.watches;
        all[mark].push_back(mean.time_s);
      }
    }
    alone_.resize(entries_.size());
    std::map<std::uint32_t, Spread> everybody;
    for (const auto& [mark, times] : all) {
      everybody[mark] = *spread_of(times);
      everybody[mark].sd = std::max(0.15, everybody[mark].sd);
    }
    std::map<std::uint32_t, std::vector<std::size_t>> runs_of;
    for (std::size_t i = 0; i < runs_.size(); ++i) {
      runs_of[run_bib_[i]].push_back(i);
    }
    const double press = watches_.sd_s * watches_.sd_s / 2.0;
    for (std::size_t j = 0; j < entries_.size(); ++j) {
      for (const MarkTime& time : entries_[j].times) {
        const auto squad = everybody.find(time.mark);
        if (squad == everybody.end()) {
          continue;
        }
        const auto [mu, sd] = squad->second;
        const double within = rules_.within * mu * rules_.within * mu;
        double sum = 0.0;
        double count = 0.0;
        for (const std::size_t i : runs_of[entries_[j].bib]) {
          if (const auto own = means_[i].find(time.mark); own != means_[i].end()) {
            sum += own->second.time_s;
            count += 1.0;
          }
        }
        if (count > 0.0) {
          const double v = within + press;
          const double precision = 1.0 / (sd * sd) + count / v;
          alone_[j][time.mark] = {(mu / (sd * sd) + sum / v) / precision, 1.0 / precision + v};
        } else {
          alone_[j][time.mark] = {mu, sd * sd + within};
        }
        Alone& one = alone_[j][time.mark];
        one.log_density = log_of(with_slips(time.time_s - watches_.bias_s[who_] - one.mean_s, one.variance));
      }
    }
  }

  double with_slips(double d, double variance) const {
    return (1.0 - rules_.slip) * normal(d, variance) + rules_.slip * normal(d, rules_.slip_sd_s * rules_.slip_sd_s);
  }

  static double log_of(double density) { return std::log(density + 1e-300); }

  // The farthest mark that both have; each other one given that, since all share the press at the start.
  double by_times(std::size_t i, std::size_t j) const {
    if (means_.empty()) {
      return 0.0;
    }
    double out = 0.0;
    const MarkTime* farthest = nullptr;
    double far_same = 0.0;
    double far_alone = 0.0;
    double far_variance = 0.0;
    const double s2 = watches_.sd_s * watches_.sd_s;
    for (std::size_t k = entries_[j].times.size(); k-- > 0;) {
      const MarkTime& time = entries_[j].times[k];
      const auto mean = means_[i].find(time.mark);
      const auto own = alone_[j].find(time.mark);
      if (mean == means_[i].end() || own == alone_[j].end()) {
        continue;
      }
      const double t = time.time_s - watches_.bias_s[who_];
      const double same = t - mean->second.time_s;
      const double alone = t - own->second.mean_s;
      const double v = s2 * (1.0 + 1.0 / mean->second.watches) / 2.0;
      if (farthest == nullptr || far_same * far_same > 16.0 * v) {  // what looks like a slip says nothing of the others
        farthest = &time;
        far_same = same;
        far_alone = alone;
        far_variance = own->second.variance;
        out += log_of(with_slips(same, v)) - own->second.log_density;
        continue;
      }
      // Half of a watch's variance is its press at the start; a child's form of the run goes with the time.
      const double share = time.time_s / farthest->time_s;
      const double form = share * (far_variance - s2 / 2.0);
      const double common = std::min(form + s2 / 4.0, 0.999 * std::sqrt(far_variance * own->second.variance));
      out += log_of(with_slips(same - 0.5 * far_same, 0.75 * v)) -
             log_of(with_slips(alone - far_alone * common / far_variance,
                               own->second.variance - common * common / far_variance));
    }
    return out;
  }

  double clock_of(const Joined& run) const {
    double sum = 0.0;
    double count = 0.0;
    for (const EntryAt at : run) {
      if (const double clock = entry(at).clock_s; !std::isnan(clock)) {
        sum += clock - watches_.clock_s[at.recorder];
        count += 1.0;
      }
    }
    return count > 0.0 ? sum / count : std::numeric_limits<double>::quiet_NaN();
  }

  void gather_clocks() {
    const auto known_in = [](const std::vector<double>& clocks) {
      return std::count_if(clocks.begin(), clocks.end(), [](double c) { return !std::isnan(c); });
    };
    std::vector<double> ours;
    for (const Joined& run : runs_) {
      ours.push_back(clock_of(run));
    }
    std::vector<double> theirs;
    double first = std::numeric_limits<double>::infinity();
    double last = -first;
    for (const WatchEntry& own : entries_) {
      theirs.push_back(own.clock_s - watches_.clock_s[who_]);
      if (!std::isnan(theirs.back())) {
        first = std::min(first, theirs.back());
        last = std::max(last, theirs.back());
      }
    }
    if (known_in(ours) > 3 && known_in(theirs) > 3) {
      run_clock_ = std::move(ours);
      entry_clock_ = std::move(theirs);
      log_density_ = std::log(static_cast<double>(entries_.size()) / std::max(60.0, last - first));
    }
  }

  double by_clock(std::size_t i, std::size_t j) const {
    if (run_clock_.empty() || std::isnan(run_clock_[i]) || std::isnan(entry_clock_[j])) {
      return 0.0;
    }
    const double d = entry_clock_[j] - run_clock_[i];
    const double f = (1.0 - rules_.typed_later) * normal(d, rules_.clock_sd_s * rules_.clock_sd_s) +
                     rules_.typed_later / (2.0 * rules_.later_s) * std::exp(-std::fabs(d) / rules_.later_s);
    return std::log(f + 1e-300) - log_density_;
  }

  std::span<const std::vector<WatchEntry>> logs_;
  std::span<const Joined> runs_;
  const std::vector<WatchEntry>& entries_;
  std::uint32_t who_;
  const Watches& watches_;
  const SameRunRules& rules_;
  std::vector<std::optional<std::size_t>> tied_to_;  // by entry
  std::vector<std::uint32_t> run_bib_;
  std::vector<double> log_share_;
  double log_same_bib_ = 0.0, log_other_bib_ = 0.0;
  std::vector<std::map<std::uint32_t, Mean>> means_;   // by run, by mark
  std::vector<std::map<std::uint32_t, Alone>> alone_;  // by entry, by mark
  std::vector<double> run_clock_, entry_clock_;
  double log_density_ = 0.0;
};

struct Pair {
  std::size_t run = 0, entry = 0;
  double chance = 0.0;
};

// Pairs of greatest P first, each side once.
std::vector<Pair> matching(const BandTable& chances) {
  std::vector<Pair> all;
  for (std::size_t i = 0; i < chances.rows(); ++i) {
    for (std::size_t j = chances.begin(i); j < chances.end(i); ++j) {
      if (chances.get(i, j) >= 0.5) {
        all.push_back({i, j, chances.get(i, j)});
      }
    }
  }
  std::stable_sort(all.begin(), all.end(), [](const Pair& a, const Pair& b) { return a.chance > b.chance; });
  std::vector<bool> run_used(chances.rows(), false);
  std::vector<bool> entry_used(chances.columns(), false);
  std::erase_if(all, [&](const Pair& pair) {
    const bool used = run_used[pair.run] || entry_used[pair.entry];
    run_used[pair.run] = entry_used[pair.entry] = true;
    return used;
  });
  return all;
}

// The runs with one log's entries put to them; those of no pair become runs where they stand in order.
std::vector<Joined> threaded(std::vector<Joined> runs, std::uint32_t recorder, std::size_t entries,
                             const std::vector<Pair>& pairs) {
  std::vector<std::optional<std::size_t>> run_of(entries);
  for (const Pair& pair : pairs) {
    run_of[pair.entry] = pair.run;
  }
  std::vector<std::vector<Joined>> before(runs.size() + 1);
  std::size_t last = 0;
  for (std::size_t j = 0; j < entries; ++j) {
    const EntryAt at{recorder, static_cast<std::uint32_t>(j)};
    if (run_of[j]) {
      runs[*run_of[j]].push_back(at);
      last = *run_of[j] + 1;
    } else {
      before[last].push_back({at});
    }
  }
  std::vector<Joined> out;
  for (std::size_t i = 0; i <= runs.size(); ++i) {
    out.insert(out.end(), before[i].begin(), before[i].end());
    if (i < runs.size()) {
      out.push_back(std::move(runs[i]));
    }
  }
  return out;
}

std::vector<Joined> runs_of_log(std::uint32_t recorder, std::size_t entries) {
  std::vector<Joined> out;
  for (std::size_t j = 0; j < entries; ++j) {
    out.push_back({{recorder, static_cast<std::uint32_t>(j)}});
  }
  return out;
}

enum class Verdict : std::uint8_t { joined, alone, open };

struct Judged {
  Verdict verdict = Verdict::alone;
  double chance = 0.0;
  std::vector<EntryAt> rivals;
  std::vector<double> chances;
};

class Aligner {
 public:
  Aligner(std::span<const std::vector<WatchEntry>> logs, const SameRunRules& rules) : logs_(logs), rules_(rules) {
    std::uint32_t number = 0;
    for (const auto& log : logs) {
      first_.push_back(number);
      number += static_cast<std::uint32_t>(log.size());
    }
    judged_.resize(number);
    watches_.bias_s.assign(logs.size(), 0.0);
    watches_.clock_s.assign(logs.size(), 0.0);
    watches_.sd_s = rules.watches_sd_s;
  }

  SameRuns align() {
    std::vector<std::uint32_t> order(logs_.size());
    std::iota(order.begin(), order.end(), 0U);
    std::stable_sort(order.begin(), order.end(), [&](auto a, auto b) { return logs_[a].size() > logs_[b].size(); });
    std::vector<Joined> runs = runs_of_log(order.front(), logs_[order.front()].size());
    for (std::size_t k = 1; k < order.size(); ++k) {
      const BandTable chances = compare(runs, order[k], true);
      if (logs_.size() == 2) {
        judge_both(chances, runs, order[k]);
      }
      runs = threaded(std::move(runs), order[k], logs_[order[k]].size(), matching(chances));
    }
    for (std::size_t k = 0; logs_.size() > 2 && k < order.size(); ++k) {
      for (Joined& run : runs) {
        std::erase_if(run, [&](EntryAt at) { return at.recorder == order[k]; });
      }
      std::erase_if(runs, [](const Joined& run) { return run.empty(); });
      const BandTable chances = compare(runs, order[k], false);
      for (std::size_t j = 0; j < logs_[order[k]].size(); ++j) {
        judge(chances, runs, {order[k], static_cast<std::uint32_t>(j)});
      }
      runs = threaded(std::move(runs), order[k], logs_[order[k]].size(), matching(chances));
    }
    out_.runs = std::move(runs);
    out_.bias_s = watches_.bias_s;
    out_.watches_sd_s = watches_.sd_s;
    for (const Judged& one : judged_) {
      out_.chance.push_back(one.chance);
    }
    if (logs_.size() > 1) {
      ask();
    }
    return std::move(out_);
  }

 private:
  const WatchEntry& entry(EntryAt at) const { return logs_[at.recorder][at.entry]; }
  Judged& judged(EntryAt at) { return judged_[first_[at.recorder] + at.entry]; }
  std::uint32_t bib(const Joined& run) const { return bib_of_run(logs_, run); }

  // The first pass goes by bibs and order alone, so that a bias of any size is found.
  BandTable compare(const std::vector<Joined>& runs, std::uint32_t recorder, bool learns) {
    for (int pass = learns ? 0 : 3;; ++pass) {
      const Odds odds(logs_, runs, recorder, watches_, rules_, pass > 0);
      BandTable chances = pair_chances(odds.table(), rules_.moves);
      if (learns) {
        learn(chances, runs, recorder);
      }
      if (pass == 3) {
        return chances;
      }
    }
  }

  void learn(const BandTable& chances, const std::vector<Joined>& runs, std::uint32_t recorder) {
    std::vector<double> apart_s;
    std::vector<double> clock_apart_s;
    for (std::size_t i = 0; i < runs.size(); ++i) {
      std::size_t best = chances.begin(i);
      for (std::size_t j = chances.begin(i); j < chances.end(i); ++j) {
        best = chances.get(i, j) > chances.get(i, best) ? j : best;
      }
      if (chances.get(i, best) <= 0.9 || logs_[recorder][best].bib != bib(runs[i])) {
        continue;
      }
      const WatchEntry& own = logs_[recorder][best];
      if (const auto d = apart(runs[i], own)) {
        apart_s.push_back(*d);
      }
      double clock = 0.0;
      double count = 0.0;
      for (const EntryAt at : runs[i]) {
        if (!std::isnan(entry(at).clock_s)) {
          clock += entry(at).clock_s - watches_.clock_s[at.recorder];
          count += 1.0;
        }
      }
      if (count > 0.0 && !std::isnan(own.clock_s)) {
        clock_apart_s.push_back(own.clock_s - clock / count);
      }
    }
    const auto found = spread_of(apart_s);
    const auto n = static_cast<double>(apart_s.size());
    const double sd = found ? found->sd : 0.0;
    const double before = rules_.watches_sd_s;
    watches_.bias_s[recorder] = found ? found->median : 0.0;
    watches_.sd_s = std::max(rules_.least_sd_s, std::sqrt((rules_.watches_worth * before * before + n * sd * sd) /
                                                          (rules_.watches_worth + n)));
    if (const auto clock = stats::median(clock_apart_s)) {
      watches_.clock_s[recorder] = *clock;
    }
  }

  // At the farthest mark that both have.
  std::optional<double> apart(const Joined& run, const WatchEntry& own) const {
    for (std::size_t k = own.times.size(); k-- > 0;) {
      double sum = 0.0;
      double count = 0.0;
      for (const EntryAt at : run) {
        for (const MarkTime& time : entry(at).times) {
          if (time.mark == own.times[k].mark) {
            sum += time.time_s - watches_.bias_s[at.recorder];
            count += 1.0;
          }
        }
      }
      if (count > 0.0) {
        return own.times[k].time_s - sum / count;
      }
    }
    return std::nullopt;
  }

  void settle(Judged& one, const std::vector<double>& chances, const std::vector<const Joined*>& whose) {
    double sum = 0.0;
    std::size_t best = 0;
    for (std::size_t k = 0; k < chances.size(); ++k) {
      sum += chances[k];
      best = chances[k] > chances[best] ? k : best;
    }
    const double most = chances.empty() ? 0.0 : chances[best];
    one = {};
    if (most >= rules_.join) {
      one.verdict = Verdict::joined;
      one.chance = most;
    } else if (most < rules_.ask && sum < 0.2) {
      one.chance = 1.0 - sum;
    } else {
      one.verdict = Verdict::open;
      one.chance = most;
      for (std::size_t k = 0; k < chances.size(); ++k) {
        for (const EntryAt at : chances[k] >= 0.02 ? *whose[k] : Joined{}) {
          one.rivals.push_back(at);
          one.chances.push_back(chances[k]);
        }
      }
    }
  }

  void judge(const BandTable& chances, const std::vector<Joined>& runs, EntryAt at) {
    std::vector<double> column;
    std::vector<const Joined*> whose;
    for (std::size_t i = 0; i < runs.size(); ++i) {
      column.push_back(chances.get(i, at.entry));
      whose.push_back(&runs[i]);
    }
    settle(judged(at), column, whose);
  }

  void judge_both(const BandTable& chances, const std::vector<Joined>& runs, std::uint32_t recorder) {
    const std::vector<Joined> others = runs_of_log(recorder, logs_[recorder].size());
    for (const Joined& other : others) {
      judge(chances, runs, other.front());
    }
    for (std::size_t i = 0; i < runs.size(); ++i) {
      std::vector<double> row;
      std::vector<const Joined*> whose;
      for (std::size_t j = 0; j < others.size(); ++j) {
        row.push_back(chances.get(i, j));
        whose.push_back(&others[j]);
      }
      settle(judged(runs[i].front()), row, whose);
    }
  }

  void ask() {
    for (const Joined& run : out_.runs) {
      std::set<std::uint32_t> bibs;
      for (const EntryAt at : run) {
        bibs.insert(entry(at).bib);
      }
      if (bibs.size() > 1) {
        out_.questions.push_back({RunDoubt::which_bib, run, {}, 0});
      }
      for (const EntryAt at : run) {
        const Judged& one = judged(at);
        if (one.verdict == Verdict::open && matters(at, one.rivals)) {
          RunQuestion question{RunDoubt::same_run, {at}, one.chances, 0};
          question.entries.insert(question.entries.end(), one.rivals.begin(), one.rivals.end());
          out_.questions.push_back(std::move(question));
        }
      }
    }
    ask_about_singles();
    ask_about_counts();
  }

  void ask_about_singles() {
    std::vector<const Joined*> single;
    for (const Joined& run : out_.runs) {
      if (run.size() == 1) {
        single.push_back(&run);
      }
    }
    for (std::size_t a = 0; a < single.size(); ++a) {
      for (std::size_t b = a + 1; b < single.size(); ++b) {
        const EntryAt one = single[a]->front();
        const EntryAt other = single[b]->front();
        if (one.recorder != other.recorder && entry(one).bib == entry(other).bib) {
          out_.questions.push_back({RunDoubt::out_of_order, {one, other}, {}, 0});
        }
      }
    }
    std::size_t shortest = logs_.front().size();
    for (const auto& log : logs_) {
      shortest = std::min(shortest, log.size());
    }
    if (2 * (out_.runs.size() - single.size()) < shortest) {
      return;  // recorders who timed other children, one after the other
    }
    for (std::size_t i = 0; i < out_.runs.size(); ++i) {
      for (std::size_t j = i + 1; j < std::min(i + 4, out_.runs.size()); ++j) {
        const Joined& one = out_.runs[i];
        const Joined& other = out_.runs[j];
        if (one.size() == 1 && other.size() == 1 && one.front().recorder != other.front().recorder &&
            bib(one) != bib(other)) {
          out_.questions.push_back({RunDoubt::side_by_side, {one.front(), other.front()}, {}, 0});
        }
      }
    }
  }

  void ask_about_counts() {
    std::map<std::uint32_t, std::vector<const Joined*>> of;
    for (const Joined& run : out_.runs) {
      of[bib(run)].push_back(&run);
    }
    std::vector<double> counts;
    for (const auto& [bib, runs] : of) {
      counts.push_back(static_cast<double>(runs.size()));
    }
    out_.usual_runs = static_cast<std::size_t>(stats::median(counts).value_or(0.0));
    for (const auto& [bib, runs] : of) {
      for (const Joined* run : runs) {
        if (run->size() == 1 && runs.size() > out_.usual_runs) {
          out_.questions.push_back({RunDoubt::one_run_more, *run, {}, bib});
        }
      }
      if (runs.size() < out_.usual_runs) {
        RunQuestion question{RunDoubt::one_run_fewer, {}, {}, bib};
        for (const Joined* run : runs) {
          question.entries.push_back(run->front());
        }
        out_.questions.push_back(std::move(question));
      }
    }
  }

  // Whether the child's best at any mark differs between the entry as it is joined, apart, and exchanged with what its
  // rivals hold.
  bool matters(EntryAt at, const std::vector<EntryAt>& rivals) const {
    const std::uint32_t who = entry(at).bib;
    if (std::any_of(rivals.begin(), rivals.end(), [&](EntryAt rival) { return entry(rival).bib != who; })) {
      return true;
    }
    std::vector<Joined> runs;
    std::optional<std::size_t> own;
    for (const Joined& run : out_.runs) {
      if (bib(run) == who) {
        own = std::find(run.begin(), run.end(), at) != run.end() ? std::optional(runs.size()) : own;
        runs.push_back(run);
      }
    }
    if (!own) {
      return true;
    }
    std::vector<std::vector<Joined>> worlds{runs};
    const auto without = [&](Joined run) {
      std::erase(run, at);
      return run;
    };
    if (runs[*own].size() > 1) {
      worlds.push_back(runs);
      worlds.back()[*own] = without(runs[*own]);
      worlds.back().push_back({at});
    }
    for (std::size_t k = 0; k < runs.size(); ++k) {
      const bool is_rival = std::any_of(rivals.begin(), rivals.end(), [&](EntryAt rival) {
        return std::find(runs[k].begin(), runs[k].end(), rival) != runs[k].end();
      });
      if (k == *own || !is_rival) {
        continue;
      }
      Joined mine;
      Joined rest;
      for (const EntryAt other : runs[k]) {
        (other.recorder == at.recorder ? mine : rest).push_back(other);
      }
      std::vector<Joined> world = runs;
      world[*own] = without(runs[*own]);
      world[k] = runs[k];
      if (mine.empty()) {
        world[k].push_back(at);
      } else {
        world.push_back({at});
      }
      worlds.push_back(world);
      world = runs;
      world[*own] = without(runs[*own]);
      world[*own].insert(world[*own].end(), mine.begin(), mine.end());
      world[k] = rest;
      world[k].push_back(at);
      worlds.push_back(std::move(world));
    }
    return differ(worlds);
  }

  bool differ(const std::vector<std::vector<Joined>>& worlds) const {
    std::map<std::uint32_t, std::pair<double, double>> best;  // by mark: least and greatest of all worlds
    for (const auto& world : worlds) {
      std::map<std::uint32_t, double> here;
      for (const Joined& run : world) {
        std::map<std::uint32_t, std::pair<double, double>> sums;
        for (const EntryAt at : run) {
          for (const MarkTime& time : entry(at).times) {
            sums[time.mark].first += time.time_s;
            sums[time.mark].second += 1.0;
          }
        }
        for (const auto& [mark, sum] : sums) {
          const auto [old, is_new] = here.try_emplace(mark, sum.first / sum.second);
          old->second = std::min(old->second, sum.first / sum.second);
        }
      }
      for (const auto& [mark, time] : here) {
        const auto [old, is_new] = best.try_emplace(mark, time, time);
        old->second = {std::min(old->second.first, time), std::max(old->second.second, time)};
      }
    }
    return std::any_of(best.begin(), best.end(),
                       [&](const auto& one) { return one.second.second - one.second.first > rules_.matters_s; });
  }

  std::span<const std::vector<WatchEntry>> logs_;
  SameRunRules rules_;
  std::vector<std::uint32_t> first_;
  std::vector<Judged> judged_;
  Watches watches_;
  SameRuns out_;
};

}  // namespace

std::uint32_t bib_of_run(std::span<const std::vector<WatchEntry>> logs, std::span<const EntryAt> run) {
  std::uint32_t best = 0;
  std::ptrdiff_t most = 0;
  for (const EntryAt at : run) {
    const std::uint32_t bib = logs[at.recorder][at.entry].bib;
    const auto votes = std::count_if(run.begin(), run.end(),
                                     [&](EntryAt other) { return logs[other.recorder][other.entry].bib == bib; });
    if (votes > most) {
      best = bib;
      most = votes;
    }
  }
  return best;
}

SameRuns same_runs(std::span<const std::vector<WatchEntry>> logs, const SameRunRules& rules) {
  return Aligner(logs, rules).align();
}

}  // namespace bagsplit::record::detail
