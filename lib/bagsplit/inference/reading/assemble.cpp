#include "bagsplit/inference/reading/assemble.hpp"

#include <algorithm>
#include <array>
#include <bit>
#include <cmath>
#include <map>
#include <stdexcept>
#include <tuple>
#include <utility>

#include "bagsplit/runs/words.hpp"

namespace bagsplit::inference {

namespace {

// Left-handed batters stand nearer to first: 0.04 s less from contact to first base.
// Source: Coleman & Dupler (2005), JEPonline 8(2):10-15: right-handed 4.35 s, left-handed 4.31 s, adult professionals.
constexpr double left_handed_s = -0.04;

constexpr double set_aside_sd_s = 1e3;  // of a time that is kept but is to say nothing

constexpr std::size_t most_terms = inference::max_linear_terms - 8;

// The terms of one kind of reading: what its biases are made of.
struct ReadingTerms {
  runs::Device device;
  runs::StartKind start;
  runs::NameId timer;
  runs::Signal signal;
  timing::ReadingError error;
  std::uint64_t mark_bits = 0;
  std::uint64_t move_bits = 0;
  std::string setup;  // device and how the start was timed
};

// How far from the beam runners stand: as stated, or half a metre.  Source: squads timed with gates whose start nobody
// stated fit distances of 0.3 to 0.6 m (lib/bagsplit/inference/prior/priors.md); SD of a setup about it: a choice.
constexpr double beam_place_sd_m = 0.2;

// Runs of one evening. Six sprints with 30 s of rest lose 4 to 5.5 % (data/norms, repeated sprints of youths), so 1.6
// to 2 % a run; with minutes of rest less. From ten years on the second of two trials is 1 to 2 % faster. Sizes:
// choices.
constexpr Normal slower_each_run{0.0, 0.010};
constexpr Normal slower_first_run{0.005, 0.010};

// Runs that are alike but for their number on an evening get what they have on average, and that in coarse steps: their
// mean is told as well, and they stay one group of runs (likelihood/detail/run_patterns.hpp).
void average_order(PlayerData& data) {
  constexpr std::array steps{0.0, 1.0, 2.0, 3.0, 5.0, 8.0, 12.0, 18.0, 27.0, 40.0};
  std::map<std::tuple<std::uint32_t, std::uint64_t, double>, std::pair<double, double>> sums;
  const auto key_of = [&](const RunData& run) {
    if (run.reading_count == 0 || data.readings[run.first_reading].mark_count == 0) {
      return std::tuple(run.day, std::uint64_t{0}, 0.0);
    }
    const ReadingData& reading = data.readings[run.first_reading];
    const MarkData& last = data.marks[reading.first_mark + reading.mark_count - 1];
    return std::tuple(run.day, last.terms, last.distance_m);
  };
  for (const RunData& run : data.runs) {
    auto& [sum, count] = sums[key_of(run)];
    sum += run.runs_before;
    count += 1.0;
  }
  for (RunData& run : data.runs) {
    const auto& [sum, count] = sums[key_of(run)];
    run.runs_before = *std::min_element(steps.begin(), steps.end(), [mean = sum / count](double a, double b) {
      return std::fabs(a - mean) < std::fabs(b - mean);
    });
  }
}

// How many runs of the player's came before on that evening, one for each run used; nothing where the log does not say
// the order: a trial not typed, or numbers that do not rise as the rows stand.
std::vector<std::optional<std::uint32_t>> runs_before(const runs::RunLog& log, std::span<const std::uint32_t> used) {
  std::vector<std::optional<std::uint32_t>> out(used.size());
  if (used.empty()) {
    return out;
  }
  std::map<runs::Date, std::vector<std::uint32_t>> evenings;
  const auto runner = log.runs.begin() + used.front();
  auto from = runner;
  while (from != log.runs.begin() && (from - 1)->player == runner->player) {
    --from;
  }
  for (; from != log.runs.end() && from->player == runner->player; ++from) {
    evenings[from->date].push_back(static_cast<std::uint32_t>(from - log.runs.begin()));
  }
  for (const auto& [date, runs] : evenings) {
    std::map<std::uint16_t, std::uint16_t> last_trial;  // by course
    const bool ordered = std::all_of(runs.begin(), runs.end(), [&](std::uint32_t i) {
      const runs::Run& run = log.runs[i];
      return run.trial_typed && run.trial > std::exchange(last_trial[run.course], run.trial);
    });
    for (std::size_t u = 0; ordered && u < used.size(); ++u) {
      const auto at = std::lower_bound(runs.begin(), runs.end(), used[u]);
      if (at != runs.end() && *at == used[u]) {
        out[u] = static_cast<std::uint32_t>(at - runs.begin());
      }
    }
  }
  return out;
}

// Which marks what is not known of late slowing can move by more than 2 ms, in a child as slow as one in forty: to all
// others it is no term, and what k is expected to be is in their time all the same.
class DoubtOfSlowing {
 public:
  explicit DoubtOfSlowing(const SprintPrior& prior)
      : sd_(std::hypot(prior.late_slowing_per_s.sd, prior.late_slowing_level_sd_per_s)) {
    const double log_v = prior.log_top_speed.mean - 2.0 * prior.log_top_speed.sd;
    sprint_ = {std::exp(log_v), std::exp(prior.log_time_constant.mean)};
    from_m_ = motion::late_slowing_from_m(sprint_);
  }
  // To first order in what slowing takes: half the square of the seconds run beyond where it begins.
  bool moves(double distance_m) const {
    const double late_s = (distance_m - from_m_) / sprint_.top_speed_mps;
    return late_s > 0.0 && 0.5 * late_s * late_s * sd_ > 0.002;
  }

 private:
  double sd_;
  motion::Sprint sprint_{};
  double from_m_ = 0.0;
};

}  // namespace

SegmentNames::SegmentNames(const runs::RunLog& log) {
  of_course_.resize(log.courses.size());
  for (std::size_t c = 0; c < log.courses.size(); ++c) {
    for (const runs::Segment& segment : log.courses[c].segments) {
      const auto it = std::find(keys_.begin(), keys_.end(), segment.key);
      of_course_[c].push_back(static_cast<std::uint32_t>(it - keys_.begin()));
      if (it == keys_.end()) {
        keys_.push_back(segment.key);
      }
    }
  }
}

Selection select_runs(const runs::RunLog& log, std::span<const std::uint32_t> runs_of_player,
                      std::optional<runs::Date> as_of, std::optional<int> window_days) {
  Selection selection;
  std::vector<std::uint32_t> candidates;
  std::optional<runs::Date> last;
  for (const std::uint32_t index : runs_of_player) {
    const runs::Run& run = log.runs[index];
    if (as_of && run.date > *as_of) {
      ++selection.outside_window;
      continue;
    }
    if (run.flag != runs::Flag::none) {
      const auto it = std::find_if(selection.flagged.begin(), selection.flagged.end(),
                                   [&](const auto& entry) { return entry.first == run.flag; });
      if (it == selection.flagged.end()) {
        selection.flagged.emplace_back(run.flag, 1);
      } else {
        ++it->second;
      }
      continue;
    }
    if (run.leg != 0 || run.team != runs::no_name) {
      ++selection.relay;
      continue;
    }
    if (run.in_heat) {
      ++selection.heat;  // a time taken because a child came in first is no plain run
      continue;
    }
    bool timed = false;
    for (const runs::Reading& reading : log.readings_of(run)) {
      timed = timed || reading.split_count > 0;
    }
    if (!timed) {
      ++selection.empty;
      continue;
    }
    candidates.push_back(index);
    last = last ? std::max(*last, run.date) : run.date;
  }
  std::sort(selection.flagged.begin(), selection.flagged.end());
  const std::optional<runs::Date> until = as_of ? as_of : last;
  std::vector<runs::Date> dates;
  for (const std::uint32_t index : candidates) {
    const runs::Date date = log.runs[index].date;
    if (window_days && until && date <= *until - std::chrono::days{*window_days}) {
      ++selection.outside_window;
      continue;
    }
    selection.used.push_back(index);
    selection.first = selection.first ? std::min(*selection.first, date) : date;
    selection.last = selection.last ? std::max(*selection.last, date) : date;
    dates.push_back(date);
  }
  std::sort(dates.begin(), dates.end());
  selection.dates = static_cast<std::size_t>(std::unique(dates.begin(), dates.end()) - dates.begin());
  return selection;
}

inference::Normal default_segment_loss(const inference::ModelFile& defaults, std::string_view key) {
  const auto& known = defaults.prior.segment_loss_s;
  const auto without = [](std::string text, std::string_view part) {
    const auto at = text.find(part);
    if (at != std::string::npos) {
      text.erase(at, part.size());
    }
    return text;
  };
  const std::string forward = without(std::string(key), "-reverse");
  for (const std::string& candidate : {std::string(key), forward, without(forward, "-from-rest")}) {
    if (const auto it = known.find(candidate); it != known.end()) {
      return it->second;
    }
  }
  throw std::invalid_argument("default_segment_loss: the default model has no loss for " + std::string(key));
}

std::optional<std::uint32_t> Assembled::find(TermKind kind, std::string_view name) const {
  for (std::uint32_t k = 0; k < terms.size(); ++k) {
    if (terms[k].kind == kind && (name.empty() || terms[k].name == name)) {
      return k;
    }
  }
  return std::nullopt;
}

PlayerData alone(const Assembled& assembled) {
  PlayerData data = assembled.data;
  set_sprint_prior(data, assembled.log_sprint, true);
  if (const auto k = data.late_term()) {
    Normal& late = data.terms[*k];
    late.sd = std::hypot(late.sd, assembled.late_slowing_level_sd_per_s);
  }
  for (std::size_t k = 0; k < data.weighs.size(); ++k) {
    if (data.weighs[k] == Weigh::order || data.weighs[k] == Weigh::run) {
      data.terms[k] = {0.0, 0.0};  // of a squad: one player's runs tell nothing of it
    }
  }
  return data;
}

Assembled assemble(const runs::RunLog& log, const SegmentNames& segments, std::span<const std::uint32_t> used,
                   const runs::Player* player, const inference::SprintPrior& prior, const timing::DeviceBook& devices,
                   const inference::ModelFile& model, const inference::ModelFile& defaults) {
  Assembled out;
  inference::PlayerData& data = out.data;
  out.log_sprint = log_sprint(prior);
  set_sprint_prior(data, out.log_sprint, false);
  data.late_slowing_per_s = prior.late_slowing_per_s.mean;
  out.late_slowing_level_sd_per_s = prior.late_slowing_level_sd_per_s;
  data.slips = model.error.slip.value_or(defaults.error.slip.value_or(SlipPrior{}));
  data.effort_cv = model.error.effort_cv.value_or(defaults.error.effort_cv.value());
  data.day_cv = model.error.day_cv.value_or(defaults.error.day_cv.value());
  data.reaction_sd_s = model.error.reaction_sd_s.value_or(defaults.error.reaction_sd_s.value());

  const auto term = [&](TermKind kind, std::string_view name, auto&& prior_of) -> std::uint64_t {
    std::uint32_t k = 0;
    while (k < out.terms.size() && !(out.terms[k].kind == kind && out.terms[k].name == name)) {
      ++k;
    }
    if (k == out.terms.size()) {
      out.terms.push_back({kind, std::string(name), false});
      data.terms.push_back(prior_of());
    }
    return std::uint64_t{1} << k;
  };
  const auto reaction_bit = [&] {
    return term(TermKind::reaction, "", [&] { return model.prior.reaction_s.value_or(prior.reaction_s); });
  };

  const auto weighed = [&](TermKind kind, std::string_view name, Weigh by, const Normal& of) -> std::uint64_t {
    const std::uint64_t bits = term(kind, name, [&] { return of; });
    const auto k = static_cast<std::size_t>(std::countr_zero(bits));
    data.weighs.resize(std::max(data.weighs.size(), k + 1), Weigh::full);
    data.weighs[k] = by;
    return bits;
  };

  // Which timers saw first moves: only there must a press at a mark be told from the rest of the bias.
  std::vector<std::pair<runs::NameId, runs::Device>> movers;
  for (const std::uint32_t index : used) {
    for (const runs::Reading& reading : log.readings_of(log.runs[index])) {
      for (const runs::Split& split : log.splits_of(reading)) {
        if (split.is_move) {
          const std::pair key{reading.timer, reading.device};
          if (std::find(movers.begin(), movers.end(), key) == movers.end()) {
            movers.push_back(key);
          }
          out.bias_told = true;
        }
      }
    }
  }

  std::vector<ReadingTerms> kinds;
  const auto terms_of = [&](const runs::Reading& reading) -> const ReadingTerms& {
    const auto known = std::find_if(kinds.begin(), kinds.end(), [&](const ReadingTerms& k) {
      return k.device == reading.device && k.start == reading.start && k.timer == reading.timer &&
             k.signal == reading.signal;
    });
    if (known != kinds.end()) {
      return *known;
    }
    ReadingTerms made;
    made.device = reading.device;
    made.start = reading.start;
    made.timer = reading.timer;
    made.signal = reading.signal;
    const timing::DeviceProfile& profile = devices.default_for(reading.device);
    const std::string& timer = log.name(reading.timer);
    made.error = timing::reading_error(profile, reading.start, timer, reading.signal);
    // Where nobody said, the name is that of hearing it; said, it is another quantity with another prior.
    const bool heard = reading.signal != runs::Signal::unsaid && made.error.timing == timing::StartTiming::hears_signal;
    made.setup =
        profile.name + ", " + std::string(timing::start_timing_name(made.error.timing)) + (heard ? ", as told" : "");
    if (!model.error.bias_s) {
      const timing::ReadingError& error = made.error;
      const std::string& what = made.setup;
      const std::string who = (timer.empty() ? std::string("timer not named") : timer) + ", " + what;
      const bool moves =
          std::find(movers.begin(), movers.end(), std::pair{reading.timer, reading.device}) != movers.end() &&
          reading.start == runs::StartKind::signal;
      // b = u + e and b + lag = u + w with e, w independent: Cov(b, lag) = -Var(e). Var(e) comes out of the timer's own
      // part first, the rest of it out of the shared part.
      double shared = error.bias_shared_sd_s * error.bias_shared_sd_s;
      double own = error.bias_timer_sd_s * error.bias_timer_sd_s;
      double event = 0.0;
      if (moves) {
        event = std::min(-error.bias_move_covariance_s2, shared + own);
        const double from_own = std::min(event, own);
        own -= from_own;
        shared -= event - from_own;
      }
      if (out.terms.size() >= most_terms) {
        made.mark_bits = made.move_bits = term(TermKind::bias_many, "further timers", [&] {
          return inference::Normal{error.bias_mean_s, std::sqrt(shared + own + event)};
        });
      } else {
        made.mark_bits = term(TermKind::bias_shared, what, [&] {
          return inference::Normal{error.bias_mean_s, std::sqrt(std::max(0.0, shared))};
        });
        out.terms[static_cast<std::size_t>(std::countr_zero(made.mark_bits))].hand_on_signal =
            reading.device == runs::Device::stopwatch && reading.start == runs::StartKind::signal;
        if (own > 0.0) {
          made.mark_bits |= term(TermKind::bias_timer, who, [&] { return inference::Normal{0.0, std::sqrt(own)}; });
        }
        made.move_bits = made.mark_bits;
        if (moves) {
          const double lag_variance = error.move_lag_sd_s * error.move_lag_sd_s - event;
          made.move_bits |= term(TermKind::move_lag, who, [&] {
            return inference::Normal{error.move_lag_mean_s, std::sqrt(std::max(0.0, lag_variance))};
          });
          if (event > 0.0) {
            made.mark_bits |= term(TermKind::bias_event, who, [&] { return inference::Normal{0.0, std::sqrt(event)}; });
          }
        }
      }
    }
    kinds.push_back(made);
    return kinds.back();
  };

  const DoubtOfSlowing late(prior);
  std::vector<std::pair<double, std::size_t>> bases;
  std::vector<std::pair<runs::NameId, std::size_t>> hand_timers;
  std::vector<inference::MarkData> marks;
  const std::vector<std::optional<std::uint32_t>> before = runs_before(log, used);
  for (std::size_t u = 0; u < used.size(); ++u) {
    const runs::Run& run = log.runs[used[u]];
    const runs::Course& course = log.courses[run.course];
    const double base_m = run.base_distance_m;
    data.add_run(static_cast<std::uint32_t>(run.date.time_since_epoch().count()));
    std::uint64_t of_run = 0;
    if (before[u]) {
      data.runs.back().runs_before = *before[u];
      of_run = *before[u] > 0 ? weighed(TermKind::run_order, "", Weigh::order, slower_each_run)
                              : weighed(TermKind::first_run, "", Weigh::run, slower_first_run);
    }
    if (course.is_base_path() && base_m > 0.0) {
      const auto it = std::find_if(bases.begin(), bases.end(), [&](const auto& b) { return b.first == base_m; });
      if (it == bases.end()) {
        bases.emplace_back(base_m, 1);
      } else {
        ++it->second;
      }
    }
    if (run.posture != runs::Posture::standing &&
        std::find(out.postures.begin(), out.postures.end(), run.posture) == out.postures.end()) {
      out.postures.push_back(run.posture);
    }
    for (const runs::Reading& reading : log.readings_of(run)) {
      if (reading.split_count == 0) {
        continue;
      }
      ++out.readings;
      const ReadingTerms kind = terms_of(reading);
      const bool signal = reading.start == runs::StartKind::signal;
      const double beam_m = reading.start == runs::StartKind::beam ? reading.beam_distance_m : 0.0;
      out.bias_told =
          out.bias_told || reading.device != runs::Device::stopwatch || reading.start == runs::StartKind::self;
      if (reading.device == runs::Device::stopwatch && signal) {
        const auto it = std::find_if(hand_timers.begin(), hand_timers.end(),
                                     [&](const auto& entry) { return entry.first == reading.timer; });
        if (it == hand_timers.end()) {
          hand_timers.emplace_back(reading.timer, 1);
        } else {
          ++it->second;
        }
      }
      std::uint64_t common = signal ? reaction_bit() : 0;
      if (run.posture != runs::Posture::standing) {
        const std::string_view posture = runs::word_of(run.posture);
        common |= term(TermKind::posture, posture, [&] {
          const auto given = model.prior.posture_cost_s.find(posture);
          return given != model.prior.posture_cost_s.end() ? given->second : prior.posture_cost_s.find(posture)->second;
        });
      }
      if (reading.start == runs::StartKind::contact) {
        common |= term(TermKind::swing, "", [&] {
          inference::Normal c = prior.swing_finish_s;
          if (player != nullptr && player->bats == runs::Side::left) {
            c.mean += left_handed_s;
          }
          return model.prior.swing_finish_s.value_or(c);
        });
      }
      const auto number = static_cast<std::uint32_t>(&reading - log.readings.data());
      marks.clear();
      for (const runs::Split& split : log.splits_of(reading)) {
        inference::MarkData mark;
        mark.distance_m = split.distance_m;
        mark.time_s = split.time_s;
        mark.sd_s = std::max(model.error.split_sd_s.value_or(kind.error.split_sd_s), smallest_split_sd_s);
        if (reading.suspicious && log.aside(number, marks.size()) != nullptr) {
          mark.sd_s = set_aside_sd_s;
        }
        if (split.is_move) {
          mark.distance_m = 0.0;
          mark.terms = reaction_bit() | kind.move_bits;
          mark.time_s -= model.error.bias_s ? *model.error.bias_s + model.error.move_lag_s.value_or(0.0) : 0.0;
        } else {
          mark.terms = common | kind.mark_bits;
          mark.time_s -= model.error.bias_s.value_or(0.0);
          out.any_distance = true;
          mark.terms |= of_run;
          if (beam_m > 0.0) {
            mark.terms |= weighed(TermKind::beam_place, kind.setup, Weigh::beam, {0.0, beam_place_sd_m});
          }
          if (late.moves(beam_m + mark.distance_m)) {
            mark.terms |= weighed(TermKind::late, "", Weigh::late, {0.0, prior.late_slowing_per_s.sd});
          }
          for (std::size_t s = 0; s < course.segments.size(); ++s) {
            if (runs::segment_end_m(course, course.segments[s], base_m) > mark.distance_m * (1.0 + 1e-6)) {
              break;
            }
            const std::string& key = segments.keys()[segments.key_of(run.course, s)];
            mark.terms |= term(TermKind::loss, key, [&] {
              const auto given = model.prior.segment_loss_s.find(key);
              return given != model.prior.segment_loss_s.end() ? given->second : default_segment_loss(defaults, key);
            });
            if (s == 0 && std::find(out.courses.begin(), out.courses.end(), run.course) == out.courses.end()) {
              out.courses.push_back(run.course);
            }
          }
        }
        marks.push_back(mark);
      }
      out.hand.push_back(reading.device == runs::Device::stopwatch ? 1 : 0);
      out.log_reading.push_back(number);
      data.add_reading(signal, beam_m, model.error.start_sd_s.value_or(kind.error.start_sd_s), marks);
      data.readings.back().checked = reading.checked;
    }
  }
  average_order(data);
  const auto most_used = std::max_element(bases.begin(), bases.end(), [](const auto& a, const auto& b) {
    return std::pair{a.second, a.first} < std::pair{b.second, b.first};
  });
  if (most_used != bases.end()) {
    out.base_distance_m = most_used->first;
  }
  const auto timer = std::max_element(hand_timers.begin(), hand_timers.end(),
                                      [](const auto& a, const auto& b) { return a.second < b.second; });
  out.watch = timing::reading_error(devices.default_for(runs::Device::stopwatch), runs::StartKind::signal,
                                    timer != hand_timers.end() ? log.name(timer->first) : std::string());
  return out;
}

}  // namespace bagsplit::inference
