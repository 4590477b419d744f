#include "bagsplit/text/text_table.hpp"

#include <algorithm>
#include <stdexcept>

#include "bagsplit/text/text_width.hpp"

namespace bagsplit::text {

namespace {

constexpr std::size_t gap = 2;
constexpr std::size_t least_wrap = 20;

void end_line(std::string& out) {
  out.erase(out.find_last_not_of(' ') + 1);
  out += '\n';
}

}  // namespace

TextTable::TextTable(std::vector<Column> columns, std::size_t key_columns)
    : columns_(std::move(columns)), key_columns_(key_columns) {}

void TextTable::add_row(std::vector<std::string> cells) {
  if (cells.size() != columns_.size()) {
    throw std::invalid_argument("TextTable::add_row: " + std::to_string(cells.size()) + " cells, but " +
                                std::to_string(columns_.size()) + " columns");
  }
  for (std::string& cell : cells) {
    cell = one_line(cell);
  }
  rows_.push_back(std::move(cells));
}

std::string TextTable::str(const TextOptions& options, std::size_t indent) const {
  const std::size_t width = std::max<std::size_t>(options.width, 40) - std::min<std::size_t>(indent, 20);
  std::vector<std::size_t> cells;
  for (std::size_t j = 0; j < columns_.size(); ++j) {
    std::size_t widest = std::max(display_width(columns_[j].heading), display_width(columns_[j].unit));
    for (const auto& row : rows_) {
      widest = std::max(widest, display_width(row[j]));
    }
    cells.push_back(widest);
  }

  std::string out;
  std::vector<std::size_t> shown;
  std::size_t taken = 0;
  const auto begin_block = [&] {
    shown.clear();
    taken = 0;
    for (std::size_t j = 0; j < std::min(key_columns_, columns_.size()); ++j) {
      shown.push_back(j);
      taken += cells[j] + gap;
    }
  };
  begin_block();
  const std::size_t keys = shown.size();
  for (std::size_t j = keys; j < columns_.size(); ++j) {
    if (columns_[j].wraps) {
      const std::size_t room = width > taken + least_wrap ? width - taken : least_wrap;
      cells[j] = std::min(cells[j], room);
    }
    if (shown.size() > keys && taken + cells[j] > width) {
      out += block(shown, cells, options, indent) + "\n";
      begin_block();
    }
    shown.push_back(j);
    taken += cells[j] + gap;
  }
  return out + block(shown, cells, options, indent);
}

std::string TextTable::block(const std::vector<std::size_t>& shown, const std::vector<std::size_t>& cells,
                             const TextOptions& options, std::size_t indent) const {
  std::string out;
  const auto line = [&](const auto& cell_of) {
    out.append(indent, ' ');
    bool is_first = true;
    for (const std::size_t j : shown) {
      out.append(is_first ? 0 : gap, ' ');
      is_first = false;
      out += padded(cell_of(j), cells[j], columns_[j].align);
    }
    end_line(out);
  };
  line([&](std::size_t j) { return columns_[j].heading; });
  if (std::any_of(shown.begin(), shown.end(), [&](std::size_t j) { return !columns_[j].unit.empty(); })) {
    line([&](std::size_t j) { return columns_[j].unit; });
  }
  line([&](std::size_t j) {
    std::string rule;
    for (std::size_t i = 0; i < cells[j]; ++i) {
      rule += options.unicode ? "\xE2\x94\x80" : "-";
    }
    return rule;
  });
  for (const auto& row : rows_) {
    std::vector<std::string> lines;
    if (columns_[shown.back()].wraps) {
      lines = wrapped(row[shown.back()], cells[shown.back()]);
    }
    line([&](std::size_t j) { return columns_[j].wraps ? (lines.empty() ? "" : lines.front()) : row[j]; });
    for (std::size_t i = 1; i < lines.size(); ++i) {
      line([&](std::size_t j) { return columns_[j].wraps ? lines[i] : std::string(); });
    }
  }
  return out;
}

}  // namespace bagsplit::text
