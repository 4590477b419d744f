#include "bagsplit/present/text/problem_text.hpp"

#include <algorithm>
#include <map>
#include <nlohmann/json.hpp>
#include <string_view>
#include <tuple>
#include <vector>

#include "bagsplit/text/display.hpp"
#include "bagsplit/text/problem_codes.hpp"
#include "bagsplit/text/text_width.hpp"

namespace bagsplit::present {

namespace {

using text::Problem;
using text::Severity;

// Stand before and behind what is meant, within the line itself.
constexpr std::string_view mark_from = ">>";
constexpr std::string_view mark_to = "<<";

// The line's characters, each safe to show.
std::vector<std::string> shown_characters(std::string_view line) {
  std::vector<std::string> out;
  while (!line.empty()) {
    const std::size_t bytes = text::first_code_point(line).bytes;
    out.push_back(text::printable(line.substr(0, bytes)));
    line.remove_prefix(bytes);
  }
  return out;
}

// The line with the place marked: all of it, or a window around the place.
std::string marked_line(const Problem& problem, std::size_t most) {
  const std::vector<std::string> line = shown_characters(problem.source_line);
  const std::size_t first = problem.column == 0 ? 0 : std::min(problem.column - 1, line.size());
  const std::size_t before = most / 4;
  const std::size_t from = line.size() <= most ? 0 : std::min(first > before ? first - before : 0, line.size() - most);
  const std::size_t to = std::min(line.size(), from + most);
  const std::size_t last = std::min(first + problem.length, to);
  std::string out = from > 0 ? "..." : "";
  for (std::size_t k = from; k <= to; ++k) {
    out += problem.column > 0 && k == first ? mark_from : "";
    out += problem.column > 0 && k == last ? mark_to : "";
    out += k < to ? line[k] : "";
  }
  return out + (to < line.size() ? "..." : "");
}

constexpr std::size_t shown_of_a_kind = 3;
constexpr std::size_t most_texts = 12;

// "7-33, 40 and 52". `lines` rise.
std::string line_ranges(const std::vector<std::size_t>& lines) {
  std::vector<std::string> ranges;
  for (std::size_t k = 0; k < lines.size();) {
    std::size_t to = k;
    while (to + 1 < lines.size() && lines[to + 1] == lines[to] + 1) {
      ++to;
    }
    ranges.push_back(std::to_string(lines[k]) + (to == k ? "" : "-" + std::to_string(lines[to])));
    k = to + 1;
  }
  std::string out;
  for (std::size_t k = 0; k < ranges.size(); ++k) {
    out += (k == 0 ? "" : k + 1 == ranges.size() ? " and " : ", ") + ranges[k];
  }
  return out;
}

std::string plural(std::size_t count, std::string_view one, std::string_view many) {
  return std::to_string(count) + " " + std::string(count == 1 ? one : many);
}

}  // namespace

std::string severity_word(Severity severity) {
  switch (severity) {
    case Severity::error:
      return "error";
    case Severity::suspicion:
      return "suspicion";
    case Severity::note:
      return "note";
  }
  return "error";
}

std::string format_problem(const Problem& problem, const ProblemStyle& style) {
  std::string out = text::printable(problem.path);
  if (problem.line > 0) {
    out += ":" + std::to_string(problem.line);
    if (problem.column > 0) {
      out += ":" + std::to_string(problem.column);
    }
  }
  out += (out.empty() ? "" : ": ") + severity_word(problem.severity) + ": " + text::printable(problem.message);
  if (!problem.read.empty()) {
    // A text in quotes (a JSON string, a quoted field) is shown in its own.
    const bool has_quotes = problem.read.size() > 1 && problem.read.front() == '"' && problem.read.back() == '"';
    const std::string_view quote = has_quotes ? "" : "\"";
    out += ": " + std::string(quote) + text::printable(problem.read) + std::string(quote);
  }
  out += "\n";
  if (style.source && problem.line > 0 && !problem.source_line.empty()) {
    out += "  line: " + marked_line(problem, std::max<std::size_t>(style.line_characters, 20)) + "\n";
  }
  if (!problem.expected.empty()) {
    out += "  expected: " + text::printable(problem.expected) + "\n";
  }
  if (!problem.hint.empty()) {
    out += "  hint: " + text::printable(problem.hint) + "\n";
  }
  if (style.codes) {
    out += "  code: " + problem.code + "\n";
  }
  return out;
}

namespace {

// Each names children of its own, and waits for an answer.
bool is_question(const Problem& problem) {
  const text::ProblemCode* entry = text::find_problem_code(problem.code);
  return problem.code == "no-run" || (entry != nullptr && entry->of == text::ProblemOf::recorders);
}

}  // namespace

std::vector<FoldedProblem> fold_problems(const text::Problems& problems) {
  struct Kind {
    std::size_t shown = 0;
    std::size_t last = 0;  // into `out`
  };
  std::map<std::tuple<Severity, std::string, std::string, std::string, std::string>, Kind> kinds;
  std::vector<FoldedProblem> out;
  for (std::size_t k = 0; k < problems.size(); ++k) {
    const Problem& problem = problems[k];
    const bool is_word = problem.code.starts_with("unknown-");
    Kind& kind =
        kinds[{problem.severity, problem.code, problem.path, problem.expected, is_word ? problem.read : std::string()}];
    if (problem.line == 0 || is_question(problem) || kind.shown < (is_word ? 1 : shown_of_a_kind)) {
      ++kind.shown;
      kind.last = out.size();
      out.push_back({k, {}});
    } else {
      out[kind.last].more.push_back(k);
    }
  }
  return out;
}

std::string more_like_it(const text::Problems& problems, const FoldedProblem& folded) {
  if (folded.more.empty()) {
    return {};
  }
  std::vector<std::size_t> lines;
  std::vector<std::string> texts;
  for (const std::size_t k : folded.more) {
    lines.push_back(problems[k].line);
    const std::string& read = problems[k].read;
    if (!read.empty() && read != problems[folded.index].read &&
        std::find(texts.begin(), texts.end(), read) == texts.end() && texts.size() <= most_texts) {
      texts.push_back(read);
    }
  }
  std::sort(lines.begin(), lines.end());
  lines.erase(std::unique(lines.begin(), lines.end()), lines.end());
  std::string out = "and " + std::to_string(folded.more.size()) + " more like it on line" +
                    (lines.size() == 1 ? " " : "s ") + line_ranges(lines);
  for (std::size_t k = 0; k < texts.size(); ++k) {
    out += k == 0 ? ": " : ", ";
    out += k == most_texts ? "..." : "\"" + text::printable(texts[k]) + "\"";
  }
  constexpr std::size_t width = 100;
  return text::paragraph(out, width, "  ");
}

std::string count_line(const text::Problems& problems) {
  const auto count = [&](Severity severity) {
    return static_cast<std::size_t>(
        std::count_if(problems.begin(), problems.end(), [&](const Problem& p) { return p.severity == severity; }));
  };
  std::string out;
  const auto add = [&](std::size_t number, std::string_view one, std::string_view many) {
    if (number > 0) {
      out += (out.empty() ? "" : ", ") + plural(number, one, many);
    }
  };
  add(count(Severity::error), "error", "errors");
  add(count(Severity::suspicion), "suspicion", "suspicions");
  add(count(Severity::note), "note", "notes");
  return out.empty() ? "no problems" : out;
}

std::string format_problems(const text::Problems& problems, const ProblemStyle& style) {
  std::string out;
  for (const Problem& problem : problems) {
    out += format_problem(problem, style);
  }
  return problems.empty() ? out : out + count_line(problems) + "\n";
}

std::string problems_json(const text::Problems& problems, int indent) {
  using nlohmann::ordered_json;
  const auto text = [](const std::string& value) {
    return value.empty() ? ordered_json(nullptr) : ordered_json(value);
  };
  const auto number = [](std::size_t value) { return value == 0 ? ordered_json(nullptr) : ordered_json(value); };
  ordered_json all = ordered_json::array();
  for (const Problem& problem : problems) {
    all.push_back({{"severity", severity_word(problem.severity)},
                   {"code", problem.code},
                   {"path", text(problem.path)},
                   {"line", number(problem.line)},
                   {"column", number(problem.column)},
                   {"length", number(problem.length)},
                   {"message", problem.message},
                   {"read", text(problem.read)},
                   {"expected", text(problem.expected)},
                   {"hint", text(problem.hint)},
                   {"source_line", text(problem.source_line)}});
  }
  return all.dump(indent, ' ', false, ordered_json::error_handler_t::replace);
}

}  // namespace bagsplit::present
