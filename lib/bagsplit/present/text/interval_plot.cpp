#include "bagsplit/present/text/interval_plot.hpp"

#include <algorithm>
#include <cmath>
#include <stdexcept>

#include "bagsplit/text/number_text.hpp"
#include "bagsplit/text/text_width.hpp"

namespace bagsplit::present {

namespace {

struct PlotSigns {
  const char *end_left, *bar, *end_right, *dot, *axis_mark, *axis, *reference;
};
constexpr PlotSigns ascii{"|", "-", "|", "o", "+", "-", ":"};
constexpr PlotSigns unicode{"\xE2\x94\x9C", "\xE2\x94\x80", "\xE2\x94\xA4", "\xE2\x97\x8F",
                            "\xE2\x94\xB4", "\xE2\x94\x80", "\xE2\x94\x8A"};

std::string text_of(const std::vector<std::string>& row) {
  std::string out;
  for (const std::string& cell : row) {
    out += cell;
  }
  return out;
}

}  // namespace

int decimals_for(double step) {
  int decimals = 0;
  while (decimals < 6 && std::abs(step - std::round(step)) > 1e-9) {
    step *= 10.0;
    ++decimals;
  }
  return decimals;
}

std::vector<double> axis_marks(double low, double high, std::size_t most) {
  if (!(std::isfinite(low) && std::isfinite(high) && low < high)) {
    throw std::domain_error("axis_marks: low is " + std::to_string(low) + ", high " + std::to_string(high) +
                            ", but low must be below high, both finite");
  }
  const double least = (high - low) / static_cast<double>(std::max<std::size_t>(most, 2));
  const double power = std::pow(10.0, std::floor(std::log10(least)));
  for (const double factor : {1.0, 2.0, 5.0, 10.0, 20.0}) {
    const double step = factor * power;
    const double first = std::ceil(low / step - 1e-9);
    const double last = std::floor(high / step + 1e-9);
    if (last - first + 1.0 <= static_cast<double>(most)) {
      std::vector<double> marks;
      for (double k = first; k <= last; ++k) {
        // The nearest double to the decimal wanted: dividing by a whole number keeps 0.3 from becoming
        // 0.30000000000000004.
        marks.push_back(power < 1.0 ? k * factor / std::round(1.0 / power) : k * step);
      }
      return marks;
    }
  }
  return {};
}

std::size_t IntervalAxis::cell_of(double value) const {
  const double last = static_cast<double>(cells - 1);
  return static_cast<std::size_t>(std::lround(std::clamp((value - low) / (high - low) * last, 0.0, last)));
}

IntervalAxis axis_of(const std::vector<PlottedInterval>& intervals, std::size_t cells,
                     std::optional<double> reference) {
  IntervalAxis axis{intervals.front().lo, intervals.front().hi, cells};
  for (const PlottedInterval& interval : intervals) {
    if (!(std::isfinite(interval.lo) && std::isfinite(interval.hi) && interval.lo <= interval.middle &&
          interval.middle <= interval.hi)) {
      throw std::domain_error("interval_plot: '" + interval.label + "' must have lo <= middle <= hi, all finite");
    }
    axis.low = std::min(axis.low, interval.lo);
    axis.high = std::max(axis.high, interval.hi);
  }
  if (reference) {
    axis.low = std::min(axis.low, *reference);
    axis.high = std::max(axis.high, *reference);
  }
  if (!(axis.low < axis.high)) {
    axis.low -= 0.5;
    axis.high += 0.5;
  }
  return axis;
}

std::string interval_bar(const PlottedInterval& interval, const IntervalAxis& axis, const text::TextOptions& options,
                         std::optional<double> reference) {
  const PlotSigns& signs = options.unicode ? unicode : ascii;
  std::vector<std::string> row(axis.cells, " ");
  if (reference) {
    row[axis.cell_of(*reference)] = signs.reference;
  }
  const std::size_t from = axis.cell_of(interval.lo);
  const std::size_t to = axis.cell_of(interval.hi);
  for (std::size_t i = from; i <= to; ++i) {
    row[i] = signs.bar;
  }
  row[from] = signs.end_left;
  row[to] = signs.end_right;
  row[axis.cell_of(interval.middle)] = signs.dot;
  return text_of(row);
}

std::string interval_plot(const std::vector<PlottedInterval>& intervals, const std::string& unit,
                          const text::TextOptions& options, std::optional<double> reference) {
  if (intervals.empty()) {
    return {};
  }
  const PlotSigns& signs = options.unicode ? unicode : ascii;
  std::size_t label_cells = 0;
  std::size_t after_cells = text::display_width(unit);
  for (const PlottedInterval& interval : intervals) {
    label_cells = std::max(label_cells, text::display_width(text::one_line(interval.label)));
    after_cells = std::max(after_cells, text::display_width(text::one_line(interval.after)));
  }
  const std::size_t beside = label_cells + 2 + (after_cells > 0 ? after_cells + 2 : 0);
  const std::size_t width = std::max<std::size_t>(options.width, 40);
  const std::size_t cells = std::max<std::size_t>(width > beside ? std::min<std::size_t>(width - beside, 100) : 0, 16);
  const IntervalAxis scale = axis_of(intervals, cells, reference);
  std::string out;
  const auto finish = [&](const std::string& label, const std::string& row, const std::string& after) {
    std::string line =
        text::padded(label, label_cells, text::Align::right) + "  " + row + (after.empty() ? "" : "  " + after);
    line.erase(line.find_last_not_of(' ') + 1);
    out += line + "\n";
  };
  for (const PlottedInterval& interval : intervals) {
    finish(text::one_line(interval.label), interval_bar(interval, scale, options, reference),
           text::padded(text::one_line(interval.after), after_cells, text::Align::right));
  }

  std::vector<std::string> axis(cells, signs.axis);
  std::vector<std::string> numbers(cells, " ");
  const std::vector<double> marks = axis_marks(scale.low, scale.high, std::max<std::size_t>(cells / 8, 2));
  const double step = marks.size() > 1 ? marks[1] - marks[0] : 1.0;
  std::size_t free_from = 0;
  for (const double mark : marks) {
    const std::string digits = text::fixed(mark, decimals_for(step));
    const std::size_t at = scale.cell_of(mark);
    axis[at] = signs.axis_mark;
    const std::size_t wanted = at > digits.size() / 2 ? at - digits.size() / 2 : 0;
    const std::size_t start = std::min(wanted, cells - digits.size());
    if (start >= free_from) {
      for (std::size_t i = 0; i < digits.size(); ++i) {
        numbers[start + i] = digits.substr(i, 1);
      }
      free_from = start + digits.size() + 1;
    }
  }
  finish("", text_of(axis), "");
  finish("", text_of(numbers), unit);
  return out;
}

}  // namespace bagsplit::present
