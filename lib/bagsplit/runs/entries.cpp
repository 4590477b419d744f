#include "bagsplit/runs/entries.hpp"

#include <algorithm>
#include <unordered_map>

#include "bagsplit/runs/log/detail/log_rows.hpp"
#include "bagsplit/runs/typed.hpp"
#include "bagsplit/text/text.hpp"

namespace bagsplit::runs {

std::optional<EntryMark> parse_entry(std::string_view text) {
  constexpr unsigned most = 1'000'000;
  const std::size_t first = std::min(text.find(' '), text.size());
  const auto number = parse_count(text.substr(0, first), 1, most);
  if (!number) {
    return std::nullopt;
  }
  EntryMark mark{*number, EntryMark::What::fresh, 0};
  if (first == text.size()) {
    return mark;
  }
  const std::string_view rest = text.substr(first + 1);
  const std::size_t second = std::min(rest.find(' '), rest.size());
  const std::string_view verb = rest.substr(0, second);
  const auto of = second < rest.size() ? parse_count(rest.substr(second + 1), 1, most) : std::nullopt;
  if (!of || *of >= *number || (verb != "replaces" && verb != "undoes")) {
    return std::nullopt;
  }
  mark.what = verb == "undoes" ? EntryMark::What::undoes : EntryMark::What::replaces;
  mark.of = *of;
  return mark;
}

std::string entry_text(const EntryMark& mark) {
  const std::string number = std::to_string(mark.number);
  return mark.what == EntryMark::What::fresh
             ? number
             : number + (mark.what == EntryMark::What::undoes ? " undoes " : " replaces ") + std::to_string(mark.of);
}

std::vector<bool> standing_entries(std::span<const EntryMark> marks) {
  std::vector<bool> stands(marks.size(), true);
  std::unordered_map<unsigned, std::size_t> at;
  for (std::size_t k = 0; k < marks.size(); ++k) {
    at.emplace(marks[k].number, k);
    if (marks[k].what == EntryMark::What::fresh) {
      continue;
    }
    stands[k] = marks[k].what == EntryMark::What::replaces;
    if (const auto old = at.find(marks[k].of); old != at.end() && old->second != k) {
      stands[old->second] = false;
      const EntryMark& undone = marks[old->second];
      if (marks[k].what == EntryMark::What::undoes && undone.what == EntryMark::What::replaces) {
        if (const auto before = at.find(undone.of); before != at.end()) {
          stands[before->second] = true;
        }
      }
    }
  }
  return stands;
}

namespace detail {

namespace {

// Rows of one file that have an entry, in file order.
struct Entries {
  std::vector<std::uint32_t> rows;
  std::vector<EntryMark> marks;
};

}  // namespace

void resolve_entries(RawLog& log, const ReadOptions& options) {
  std::vector<NameId> columns;  // one, or several spelt differently
  for (const LogFile& file : log.files) {
    for (const Column& one : file.columns) {
      if (one.field == Field::carried && text::equal_ignoring_case(log.names.text(one.name), entry_column)) {
        columns.push_back(one.name);
      }
    }
  }
  if (columns.empty()) {
    return;
  }
  const auto is_entry = [&](const RawCarried& cell) {
    return std::find(columns.begin(), columns.end(), cell.column) != columns.end();
  };
  std::vector<Entries> files(log.files.size());
  std::vector<bool> drop(log.rows.size(), false);
  for (const RawCarried& cell : log.carried) {
    if (!is_entry(cell)) {
      continue;
    }
    RawRow& row = log.rows[cell.row];
    Entries& entries = files[log.setting_of(row).file];
    const auto mark = parse_entry(log.names.text(cell.text));
    const auto has = [&](unsigned number) {
      return std::any_of(entries.marks.rbegin(), entries.marks.rend(),
                         [&](const EntryMark& m) { return m.number == number; });
    };
    const bool rises = mark && (entries.marks.empty() || mark->number > entries.marks.back().number);
    if (!rises || (mark->what != EntryMark::What::fresh && !has(mark->of))) {
      log.file_of(row).report.on_line(record_of(log, row, options),
                                      {.code = "bad-entry",
                                       .message = "'x-entry' is no entry that can follow",
                                       .read = log.names.text(cell.text),
                                       .expected = "a number above those before it, or 8 replaces 3, or 9 undoes 8"});
      drop[cell.row] = true;
      continue;
    }
    entries.rows.push_back(cell.row);
    entries.marks.push_back(*mark);
  }
  for (std::size_t f = 0; f < files.size(); ++f) {
    const std::vector<bool> stands = standing_entries(files[f].marks);
    const auto gone = static_cast<std::size_t>(std::count(stands.begin(), stands.end(), false));
    for (std::size_t k = 0; k < stands.size(); ++k) {
      drop[files[f].rows[k]] = drop[files[f].rows[k]] || !stands[k];
    }
    if (gone > 0) {
      log.files[f].report.on_file({.severity = text::Severity::note,
                                   .code = "replaced-rows",
                                   .message = std::to_string(gone) + (gone == 1 ? " row" : " rows") +
                                              " corrected or undone by later ones, or undoing, left out"});
    }
  }
  for (std::size_t k = 1; k < log.rows.size(); ++k) {  // a relay in one row is several here
    const bool same_row = log.rows[k].line == log.rows[k - 1].line &&
                          log.setting_of(log.rows[k]).file == log.setting_of(log.rows[k - 1]).file;
    drop[k] = drop[k] || (same_row && drop[k - 1]);
  }
  std::vector<std::uint32_t> new_number(log.rows.size(), 0);
  std::uint32_t kept = 0;
  for (std::size_t k = 0; k < log.rows.size(); ++k) {
    new_number[k] = kept;
    if (!drop[k]) {
      log.rows[kept++] = log.rows[k];
    }
  }
  // What stands is an ordinary row from here on: written again it must not name entries that are no longer there.
  std::erase_if(log.carried, [&](const RawCarried& cell) { return drop[cell.row] || is_entry(cell); });
  for (RawCarried& cell : log.carried) {
    cell.row = new_number[cell.row];
  }
  std::erase_if(log.heat_rows, [&](const HeatRow& heat) { return drop[heat.row]; });
  for (HeatRow& heat : log.heat_rows) {
    heat.row = new_number[heat.row];
  }
  log.rows.resize(kept);
}

}  // namespace detail

}  // namespace bagsplit::runs
