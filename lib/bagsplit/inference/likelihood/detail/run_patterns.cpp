#include "bagsplit/inference/likelihood/detail/run_patterns.hpp"

#include <algorithm>
#include <bit>
#include <cmath>
#include <iterator>
#include <span>
#include <utility>

#include "bagsplit/inference/likelihood/detail/small_cholesky.hpp"

namespace bagsplit::inference {

namespace {

// Everything that makes two runs exchangeable, as one comparable record.
struct Shape {
  std::vector<double> numbers;
  std::vector<std::uint64_t> words;
  bool operator==(const Shape&) const = default;
};

std::span<const ReadingData> readings_of(const PlayerData& data, const RunData& run) {
  return std::span(data.readings).subspan(run.first_reading, run.reading_count);
}

std::span<const MarkData> marks_of(const PlayerData& data, const ReadingData& reading) {
  return std::span(data.marks).subspan(reading.first_mark, reading.mark_count);
}

Shape shape_of(const PlayerData& data, const RunData& run) {
  Shape shape;
  shape.numbers.push_back(run.runs_before);
  for (const ReadingData& reading : readings_of(data, run)) {
    shape.numbers.push_back(reading.beam_m);
    shape.numbers.push_back(reading.start_sd_s);
    shape.words.push_back(reading.signal ? 1U : 0U);
    shape.words.push_back(reading.mark_count);
    for (const MarkData& mark : marks_of(data, reading)) {
      shape.numbers.push_back(mark.distance_m);
      shape.numbers.push_back(mark.sd_s);
      shape.words.push_back(mark.terms);
    }
  }
  return shape;
}

std::uint64_t terms_used(const PlayerData& data) {
  std::uint64_t used = 0;
  for (const RunData& run : data.runs) {
    for (const ReadingData& reading : readings_of(data, run)) {
      for (const MarkData& mark : marks_of(data, reading)) {
        used |= mark.terms;
      }
    }
    if (data.day_term && run.day == data.day_term_day) {
      used |= std::uint64_t{1} << *data.day_term;
    }
  }
  return used;
}

// Variance of the reading effects of a run, R x R: s_start^2 I + s_RT^2 s s'.
std::vector<double> reading_effects(const PlayerData& data, const RunData& run) {
  const std::span<const ReadingData> readings = readings_of(data, run);
  const std::size_t n = readings.size();
  std::vector<double> effects(n * n, 0.0);
  for (std::size_t r = 0; r < n; ++r) {
    for (std::size_t s = 0; s < n; ++s) {
      effects[r * n + s] = (r == s ? readings[r].start_sd_s * readings[r].start_sd_s : 0.0) +
                           (readings[r].signal && readings[s].signal ? data.reaction_sd_s * data.reaction_sd_s : 0.0);
    }
  }
  return effects;
}

// left' W right, over the marks of a pattern.
std::vector<double> weighted(const RunPattern& pattern, const std::vector<double>& left, std::size_t rows,
                             const std::vector<double>& right, std::size_t columns) {
  std::vector<double> product(rows * columns, 0.0);
  for (std::size_t j = 0; j < pattern.marks; ++j) {
    for (std::size_t r = 0; r < rows; ++r) {
      for (std::size_t c = 0; c < columns; ++c) {
        product[r * columns + c] += left[j * rows + r] * pattern.weight[j] * right[j * columns + c];
      }
    }
  }
  return product;
}

class Gatherer {
 public:
  explicit Gatherer(const PlayerData& data);

  RunPatterns gather();

 private:
  std::uint32_t place_of(std::uint32_t term) const;
  std::uint32_t distance_index(double distance_m);
  void add(const RunData& run);
  std::size_t pattern_of(const RunData& run, Shape shape);
  RunPattern new_pattern(const RunData& run);
  std::size_t group_of(RunPattern& pattern, std::vector<std::vector<double>>& rows, std::uint32_t day);
  static void finish(RunPattern& pattern, const std::vector<std::vector<double>>& rows);
  static void add_scatter(RunPattern& pattern, const RunGroup& group, const std::vector<double>& rows);
  static void finish_scatter(RunPattern& pattern);

  const PlayerData& data_;
  RunPatterns out_;
  std::vector<Shape> shapes_;                           // one a pattern
  std::vector<std::vector<std::vector<double>>> rows_;  // times of each group of each pattern
  std::vector<std::uint32_t> days_;
};

Gatherer::Gatherer(const PlayerData& data) : data_(data) {
  const std::uint64_t used = terms_used(data);
  for (std::uint32_t k = 0; k < data.terms.size(); ++k) {
    if ((used >> k) & 1U) {
      out_.active.push_back(k);
    }
  }
}

RunPatterns Gatherer::gather() {
  for (const RunData& run : data_.runs) {
    add(run);
  }
  out_.days = days_.size();
  out_.kept_day = static_cast<std::uint32_t>(out_.days);
  if (data_.day_term && std::binary_search(out_.active.begin(), out_.active.end(), *data_.day_term)) {
    out_.kept_day =
        static_cast<std::uint32_t>(std::find(days_.begin(), days_.end(), data_.day_term_day) - days_.begin());
    out_.day_place = place_of(*data_.day_term);
  }
  for (std::size_t p = 0; p < out_.patterns.size(); ++p) {
    finish(out_.patterns[p], rows_[p]);
  }
  return std::move(out_);
}

std::uint32_t Gatherer::place_of(std::uint32_t term) const {
  return static_cast<std::uint32_t>(std::lower_bound(out_.active.begin(), out_.active.end(), term) -
                                    out_.active.begin());
}

std::uint32_t Gatherer::distance_index(double distance_m) {
  std::vector<double>& known = out_.distances_m;
  const auto it = std::find(known.begin(), known.end(), distance_m);
  const auto index = static_cast<std::uint32_t>(it - known.begin());
  if (it == known.end()) {
    known.push_back(distance_m);
  }
  return index;
}

void Gatherer::add(const RunData& run) {
  Shape shape = shape_of(data_, run);
  if (shape.words.size() == 2 * run.reading_count) {
    return;  // no mark timed
  }
  const std::size_t p = pattern_of(run, std::move(shape));
  RunPattern& pattern = out_.patterns[p];
  const std::size_t g = group_of(pattern, rows_[p], run.day);
  RunGroup& group = pattern.groups[g];
  out_.places.push_back(
      {static_cast<std::uint32_t>(&run - data_.runs.data()), static_cast<std::uint32_t>(p), group.day});
  std::size_t j = 0;
  for (const ReadingData& reading : readings_of(data_, run)) {
    for (const MarkData& mark : marks_of(data_, reading)) {
      group.mean[j++] += mark.time_s;
      rows_[p][g].push_back(mark.time_s);
    }
  }
  group.n += 1.0;
  pattern.runs += 1.0;
  out_.mark_count += pattern.marks;
}

std::size_t Gatherer::pattern_of(const RunData& run, Shape shape) {
  const auto known = std::find(shapes_.begin(), shapes_.end(), shape);
  const auto p = static_cast<std::size_t>(known - shapes_.begin());
  if (known == shapes_.end()) {
    shapes_.push_back(std::move(shape));
    out_.patterns.push_back(new_pattern(run));
    rows_.emplace_back();
  }
  return p;
}

RunPattern Gatherer::new_pattern(const RunData& run) {
  RunPattern pattern;
  const std::size_t readings = pattern.readings = run.reading_count;
  std::uint64_t terms = 0;
  for (const ReadingData& reading : readings_of(data_, run)) {
    pattern.marks += reading.mark_count;
    for (const MarkData& mark : marks_of(data_, reading)) {
      terms |= mark.terms;
    }
  }
  for (std::uint64_t bits = terms; bits != 0; bits &= bits - 1) {
    const auto term = static_cast<std::uint32_t>(std::countr_zero(bits));
    if (const Weigh by = data_.weigh_of(term); by != Weigh::full) {
      pattern.weighed.push_back({pattern.terms.size(), by, by == Weigh::order ? run.runs_before : 1.0});
    }
    pattern.terms.push_back(place_of(term));
  }
  const std::size_t qa = pattern.terms.size();
  const std::vector<double> root = small::semidefinite_root(reading_effects(data_, run), readings);
  std::size_t r = 0;
  for (const ReadingData& reading : readings_of(data_, run)) {
    for (const MarkData& mark : marks_of(data_, reading)) {
      const bool moving = reading.beam_m > 0.0 && mark.distance_m > 0.0;
      pattern.time_index.push_back(distance_index(moving ? mark.distance_m + reading.beam_m : mark.distance_m));
      pattern.beam_index.push_back(moving ? distance_index(reading.beam_m) : RunPattern::no_beam);
      pattern.weight.push_back(1.0 / (mark.sd_s * mark.sd_s));
      pattern.log_det_d += 2.0 * std::log(mark.sd_s);
      for (std::size_t c = 0; c < qa; ++c) {
        pattern.x.push_back(static_cast<double>((mark.terms >> out_.active[pattern.terms[c]]) & 1U));
      }
      for (std::size_t c = 0; c < readings; ++c) {
        pattern.b.push_back(root[r * readings + c]);
      }
    }
    ++r;
  }
  pattern.x_w_x = weighted(pattern, pattern.x, qa, pattern.x, qa);
  pattern.b_w_x = weighted(pattern, pattern.b, readings, pattern.x, qa);
  pattern.b_w_b = weighted(pattern, pattern.b, readings, pattern.b, readings);
  return pattern;
}

std::size_t Gatherer::group_of(RunPattern& pattern, std::vector<std::vector<double>>& rows, std::uint32_t label) {
  const auto day_known = std::find(days_.begin(), days_.end(), label);
  const auto day = static_cast<std::uint32_t>(day_known - days_.begin());
  if (day_known == days_.end()) {
    days_.push_back(label);
  }
  const auto known = std::find_if(pattern.groups.begin(), pattern.groups.end(),
                                  [&](const RunGroup& group) { return group.day == day; });
  const auto g = static_cast<std::size_t>(known - pattern.groups.begin());
  if (known == pattern.groups.end()) {
    RunGroup& made = pattern.groups.emplace_back();
    made.day = day;
    made.mean.assign(pattern.marks, 0.0);
    rows.emplace_back();
  }
  return g;
}

void Gatherer::finish(RunPattern& pattern, const std::vector<std::vector<double>>& rows) {
  const std::size_t n = pattern.marks;
  const std::size_t qa = pattern.terms.size();
  const bool repeated = pattern.runs > static_cast<double>(pattern.groups.size());
  if (repeated) {
    pattern.scatter.assign(n * n, 0.0);
  }
  for (std::size_t g = 0; g < pattern.groups.size(); ++g) {
    RunGroup& group = pattern.groups[g];
    for (double& value : group.mean) {
      value /= group.n;
    }
    if (group.n > 1.0) {
      add_scatter(pattern, group, rows[g]);
    }
    group.x_w_y.assign(qa, 0.0);
    group.b_w_y.assign(pattern.readings, 0.0);
    for (std::size_t j = 0; j < n; ++j) {
      const double wy = pattern.weight[j] * group.mean[j];
      group.y_w_y += wy * group.mean[j];
      small::add_scaled(group.x_w_y.data(), wy, pattern.x.data() + j * qa, 0, qa);
      small::add_scaled(group.b_w_y.data(), wy, &pattern.b[j * pattern.readings], 0, pattern.readings);
    }
  }
  if (repeated) {
    finish_scatter(pattern);
  }
}

void Gatherer::add_scatter(RunPattern& pattern, const RunGroup& group, const std::vector<double>& rows) {
  const std::size_t n = pattern.marks;
  std::vector<double> residual(n);
  for (std::size_t i = 0; i + n <= rows.size(); i += n) {
    for (std::size_t j = 0; j < n; ++j) {
      residual[j] = (rows[i + j] - group.mean[j]) * pattern.weight[j];
    }
    for (std::size_t j = 0; j < n; ++j) {
      pattern.scatter_trace += residual[j] * residual[j] / pattern.weight[j];
      small::add_scaled(&pattern.scatter[j * n], residual[j], residual.data(), 0, n);
    }
  }
}

void Gatherer::finish_scatter(RunPattern& pattern) {
  const std::size_t n = pattern.marks;
  const std::size_t readings = pattern.readings;
  pattern.scatter_b.assign(n * readings, 0.0);
  pattern.b_scatter_b.assign(readings * readings, 0.0);
  for (std::size_t j = 0; j < n; ++j) {
    for (std::size_t k = 0; k < n; ++k) {
      small::add_scaled(&pattern.scatter_b[j * readings], pattern.scatter[j * n + k], &pattern.b[k * readings], 0,
                        readings);
    }
  }
  for (std::size_t j = 0; j < n; ++j) {
    for (std::size_t r = 0; r < readings; ++r) {
      small::add_scaled(&pattern.b_scatter_b[r * readings], pattern.b[j * readings + r],
                        &pattern.scatter_b[j * readings], 0, readings);
    }
  }
}

}  // namespace

void RunPattern::weigh(const SprintTimes& sprint, std::span<double> x_of_sprint) const {
  for (const WeighedColumn& c : weighed) {
    for (std::size_t j = 0; j < marks; ++j) {
      const std::size_t at = j * terms.size() + c.column;
      x_of_sprint[at] = x[at] == 0.0 ? 0.0 : c.factor * at_mark(j, sprint.by(c.by));
    }
  }
}

bool RunPatterns::weighs(Weigh by) const {
  return std::any_of(patterns.begin(), patterns.end(), [by](const RunPattern& p) {
    return std::any_of(p.weighed.begin(), p.weighed.end(), [by](const WeighedColumn& c) { return c.by == by; });
  });
}

std::size_t RunPatterns::widest() const {
  std::size_t most = 0;
  for (const RunPattern& pattern : patterns) {
    most = std::max(most, pattern.marks);
  }
  return most;
}

std::size_t RunPatterns::most_readings() const {
  std::size_t most = 0;
  for (const RunPattern& pattern : patterns) {
    most = std::max(most, pattern.readings);
  }
  return most;
}

RunPatterns gather_patterns(const PlayerData& data) {
  return Gatherer(data).gather();
}

}  // namespace bagsplit::inference
