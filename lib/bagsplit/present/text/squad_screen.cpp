#include <algorithm>

#include "bagsplit/present/detail/squad_answer.hpp"
#include "bagsplit/present/profile_parts.hpp"
#include "bagsplit/present/text/profile_text.hpp"
#include "bagsplit/text/number_text.hpp"
#include "bagsplit/text/text_table.hpp"
#include "bagsplit/text/text_width.hpp"
#include "bagsplit/text/wording.hpp"

namespace bagsplit::present {

namespace {

using jobs::Mark;
using jobs::PlayerProfile;

constexpr std::size_t screen_lines = 24;
constexpr std::size_t most_rows = 14;
constexpr std::size_t answer_lines = 60;  // of all that is said unasked
constexpr std::size_t closing_lines = 3;  // the command adds how to ask for more
constexpr std::size_t widest_id = 16;

std::size_t lines_of(const std::string& text) {
  return static_cast<std::size_t>(std::count(text.begin(), text.end(), '\n'));
}

std::string_view sign_of(Mark mark, bool with_signs) {
  switch (mark) {
    case Mark::work:
      return with_signs ? "\xE2\x97\x86" : "!";
    case Mark::good:
      return with_signs ? "\xE2\x97\x8B" : "o";
    case Mark::ordinary:
      return with_signs ? "\xC2\xB7" : ".";
    case Mark::unknown:
      break;
  }
  return "?";
}

std::string cell_of(const jobs::Marked& mark, bool with_signs) {
  const std::string number = mark_number(mark);
  return std::string(sign_of(mark.mark, with_signs)) + (number.empty() ? "" : " " + number);
}

// Without a rule under the heading, so that 14 children fit a screen; a page too narrow for that gets a plain table.
std::string grid(const jobs::ProfileResult& result, const SquadAnswer& answer, std::size_t rows,
                 const text::TextOptions& options) {
  std::size_t id_cells = 3;
  for (std::size_t k = 0; k < rows; ++k) {
    const std::string id = text::one_line(result.players[answer.order[k]].player);
    id_cells = std::max(id_cells, std::min(widest_id, text::display_width(id)));
  }
  constexpr std::size_t widest_cell = 8;
  constexpr std::size_t narrowest_cell = 6;
  const std::size_t columns = std::max<std::size_t>(1, answer.timed.size());
  const std::size_t room = (std::max<std::size_t>(options.width, id_cells + 3) - id_cells - 2 + 2) / columns;
  const std::size_t cell = std::min(widest_cell, room);
  if (cell < narrowest_cell) {
    std::vector<text::TextTable::Column> headings{{"", ""}};
    for (const std::size_t column : answer.timed) {
      headings.push_back({std::string(jobs::marked_quantities[column].heading), "", text::Align::left});
    }
    text::TextTable table(headings);
    for (std::size_t k = 0; k < rows; ++k) {
      const PlayerProfile& player = result.players[answer.order[k]];
      std::vector<std::string> cells{text::shortened(text::one_line(player.player), widest_id)};
      for (const std::size_t column : answer.timed) {
        cells.push_back(cell_of(player.marks[column], options.unicode));
      }
      table.add_row(std::move(cells));
    }
    return table.str(options);
  }
  std::string out;
  const auto line = [&](const std::string& id, const auto& words) {
    std::string row = text::padded(id, id_cells, text::Align::right) + "  ";
    for (const std::size_t column : answer.timed) {
      row += text::padded(words(column), cell, text::Align::left);
    }
    row.erase(row.find_last_not_of(' ') + 1);
    out += row + "\n";
  };
  line("", [&](std::size_t column) {
    const std::string_view heading = jobs::marked_quantities[column].heading;
    return std::string(heading.size() < cell ? heading : heading.substr(heading.find('-') + 1));  // "up"
  });
  for (std::size_t k = 0; k < rows; ++k) {
    const PlayerProfile& player = result.players[answer.order[k]];
    line(text::shortened(text::one_line(player.player), widest_id),
         [&](std::size_t column) { return cell_of(player.marks[column], options.unicode); });
  }
  return out;
}

std::string marks_legend(bool with_signs, std::size_t width) {
  std::string out;
  const std::pair<Mark, const char*> words[] = {{Mark::work, "surely time to win"},
                                                {Mark::good, "sure strength"},
                                                {Mark::ordinary, "ordinary or too close"},
                                                {Mark::unknown, "not known yet"}};
  std::string row;
  for (const auto& [mark, what] : words) {
    const std::string one = std::string(sign_of(mark, with_signs)) + " " + what;
    if (!row.empty() && text::display_width(row) + 2 + text::display_width(one) > width) {
      out += row + "\n";
      row.clear();
    }
    row += (row.empty() ? "" : "  ") + one;
  }
  return out + row + "\n" +
         text::paragraph(
             "Seconds: at a bag, beyond the child's own best way round; elsewhere, beside what is usual in this squad "
             "at that age.",
             width);
}

// The sentences that fit so many lines, and how many more there are.
std::string fitted(std::string_view label, const std::vector<std::string>& sentences, std::size_t lines,
                   std::size_t width) {
  const std::string first = text::padded(label, 10, text::Align::left);
  std::string out;
  std::string said;
  for (std::size_t k = 0; k < sentences.size(); ++k) {
    const std::string longer = said + (said.empty() ? "" : " ") + sentences[k];
    const std::size_t rest = sentences.size() - k - 1;
    const std::string more = rest > 0 ? " (" + std::to_string(rest) + " more)" : "";
    const std::string part = text::paragraph(longer + more, width, first);
    if (k > 0 && lines_of(part) > lines) {
      break;
    }
    out = part;
    said = longer;
  }
  return out;
}

std::string more_words(const jobs::ProfileResult& result, const SquadAnswer& answer, std::size_t from) {
  std::array<std::size_t, 4> counts{};
  for (std::size_t k = from; k < answer.order.size(); ++k) {
    ++counts[static_cast<std::size_t>(jobs::group_of(result.players[answer.order[k]], answer.timed))];
  }
  constexpr std::array words = {" with time to win", " not known yet", " with strengths", " nothing special"};
  std::vector<std::string> parts;
  for (std::size_t g = 0; g < counts.size(); ++g) {
    if (counts[g] > 0) {
      parts.push_back(std::to_string(counts[g]) + words[g]);
    }
  }
  return "and " + std::to_string(answer.order.size() - from) + " more: " + text::joined(parts) + ".";
}

std::string to_do_part(const SquadAnswer& answer, std::size_t lines, const text::TextOptions& options) {
  std::string out;
  std::size_t left = answer.to_do.size();
  for (const ToDo& one : answer.to_do) {
    const std::string part = text::paragraph(text::joined(one.players) + ": " + one.words, options.width);
    if (lines_of(out) + lines_of(part) + (left > 1 ? 1 : 0) > lines) {
      break;
    }
    out += part;
    --left;
  }
  if (left > 0) {
    out += text::paragraph("(" + std::to_string(left) + " more)", options.width);
  }
  return out;
}

std::string title_of(const jobs::ProfileResult& result, const SquadAnswer& answer) {
  const std::string days = days_words(result.players);
  return "Squad" + (days.empty() ? "" : ", " + days) + ": " + answer.size;
}

}  // namespace

std::string squad_grid(const jobs::ProfileResult& result, bool everybody, const text::TextOptions& options) {
  const SquadAnswer answer = squad_answer(result, [](const std::string& id) { return text::one_line(id); });
  std::string out = text::paragraph(title_of(result, answer), options.width);
  if (result.runs_used == 0) {
    return out + (result.players.empty()
                      ? ""
                      : text::paragraph("No run can be used yet: each is flagged, or has no time.", options.width));
  }
  const std::size_t all = answer.order.size();
  const std::size_t rows = everybody || all <= most_rows ? all : most_rows - 1;
  out += grid(result, answer, rows, options);
  out += rows < all ? text::paragraph(more_words(result, answer, rows), options.width) : "";
  out += marks_legend(options.unicode, options.width);
  if (everybody) {
    return out + fitted("TONIGHT", answer.tonight, answer_lines, options.width) +
           fitted("RUN NEXT", answer.next, answer_lines, options.width) +
           fitted("SHEETS", answer.sheets, answer_lines, options.width);
  }
  const std::size_t left = std::max<std::size_t>(5, screen_lines - std::min(screen_lines, lines_of(out)));
  const std::string sheets = fitted("SHEETS", answer.sheets, answer.slips ? 2 : 1, options.width);
  const std::size_t least = lines_of(sheets) + lines_of(fitted("RUN NEXT", answer.next, 1, options.width));
  const std::string tonight = fitted("TONIGHT", answer.tonight, least < left ? left - least : 1, options.width);
  const std::size_t said = lines_of(tonight) + lines_of(sheets);
  return out + tonight + fitted("RUN NEXT", answer.next, said < left ? left - said : 1, options.width) + sheets;
}

std::string squad_screen(const jobs::ProfileResult& result, const text::TextOptions& options) {
  const std::size_t heats = runs_in_heats(result.players);
  const std::string first =
      squad_grid(result, false, options) +
      (heats == 0 ? ""
                  : text::paragraph(text::counted(heats, "run") +
                                        " in heats: who came in before whom counts in the standings, not here.",
                                    options.width));
  if (result.runs_used == 0) {
    return first;
  }
  const std::string care = cautions_part(result, options);
  const std::string heading =
      "\n" + text::heading("What to do (drills are common practice; no study of them is held)", options);
  const std::size_t taken = lines_of(first) + lines_of(heading) + lines_of(care) + closing_lines;
  const SquadAnswer answer = squad_answer(result, [](const std::string& id) { return text::one_line(id); });
  return first + heading + to_do_part(answer, taken + 2 < answer_lines ? answer_lines - taken : 2, options) + care;
}

}  // namespace bagsplit::present
