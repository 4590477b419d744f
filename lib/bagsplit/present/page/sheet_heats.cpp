#include <algorithm>

#include "bagsplit/present/page/sheet.hpp"
#include "bagsplit/text/csv.hpp"
#include "bagsplit/text/text_table.hpp"

namespace bagsplit::present {

namespace {

std::size_t first_heat_of(const Sheet& sheet, std::size_t round) {
  std::size_t before = 0;
  for (std::size_t k = 0; k + 1 < round; ++k) {
    before += sheet.heats[k].size();
  }
  return before + 1;
}

std::size_t longest_heat(const Sheet& sheet) {
  std::size_t most = 0;
  for (const auto& round : sheet.heats) {
    for (const std::vector<std::size_t>& heat : round) {
      most = std::max(most, heat.size());
    }
  }
  return most;
}

std::string ordinal_of(std::size_t place) {
  return std::to_string(place) + (place == 1 ? "st" : place == 2 ? "nd" : place == 3 ? "rd" : "th");
}

const std::string& number_of(const Sheet& sheet, const SheetPlayer& player) {
  return player.bib.empty() || sheet.shares_bib(player) ? player.id : player.bib;
}

}  // namespace

std::vector<std::string> heats_sentences(const Sheet& sheet) {
  return {
      "Who runs together was drawn by lot (seed " + std::to_string(sheet.seed) +
          "), lanes from left to right. Draw anew next time: the same heats tell little more.",
      "Write the numbers from left to right as they come in, seen at " + sheet.marks.back() +
          ". Level: write = between them. Not seen: leave the rest empty. Who fell or set off early: no place, write "
          "it beside.",
      "Stop the watch on the first one in."};
}

std::string heats_text(const Sheet& sheet, std::size_t round, const text::TextOptions& options) {
  std::vector<text::TextTable::Column> columns{{"heat"}, {"lanes", {}, text::Align::left}};
  const std::size_t most = longest_heat(sheet);
  for (std::size_t place = 1; place <= most; ++place) {
    columns.push_back({ordinal_of(place), {}, text::Align::left});
  }
  columns.push_back({"first one", "s"});
  columns.push_back({"note", {}, text::Align::left});
  text::TextTable table(columns, 2);
  std::size_t number = first_heat_of(sheet, round);
  for (const std::vector<std::size_t>& heat : sheet.heats[round - 1]) {
    std::string lanes;
    for (const std::size_t child : heat) {
      lanes += (lanes.empty() ? "" : " ") + number_of(sheet, sheet.players[child]);
    }
    std::vector<std::string> cells{std::to_string(number++), lanes};
    for (std::size_t place = 1; place <= most; ++place) {
      cells.emplace_back(place <= heat.size() ? "___" : "");
    }
    cells.emplace_back("_____");
    cells.emplace_back("____");
    table.add_row(std::move(cells));
  }
  return table.str(options);
}

std::string heats_html(const Sheet& sheet, std::size_t round) {
  const std::size_t most = longest_heat(sheet);
  const auto or_line = [](const std::string& text) {
    return text.empty() ? std::string("<span class=\"line\">&nbsp;</span>") : html_text(text);
  };
  std::string out = "<table>\n<thead><tr><th class=\"top\" colspan=\"" + std::to_string(most + 4) + "\"><b>" +
                    html_text(sheet.drill.empty() ? sheet.course : sheet.drill) + "</b> &nbsp;heats" +
                    (sheet.posture.empty() ? "" : " &nbsp;" + html_text(sheet.posture) + " start") +
                    (sheet.base_distance.empty() ? "" : " &nbsp;bags " + html_text(sheet.base_distance) + " apart") +
                    " &nbsp;&middot;&nbsp; round " + std::to_string(round) + " of " + std::to_string(sheet.rounds) +
                    " &nbsp;&middot;&nbsp; date " + or_line(sheet.date) + " &nbsp;place " + or_line(sheet.place) +
                    " &nbsp;judge " + or_line(sheet.timers.front());
  const std::string what = about_sentence(sheet);
  out += what.empty() ? "" : "<br>" + html_text(what);
  out += "<br><small>";
  for (const std::string& sentence : heats_sentences(sheet)) {
    out += html_text(sentence) + " ";
  }
  out += "</small></th></tr><tr><th>heat</th><th>lanes, left to right</th>";
  for (std::size_t place = 1; place <= most; ++place) {
    out += "<th>" + ordinal_of(place) + "</th>";
  }
  out += "<th>time of the first</th><th>note</th></tr></thead>\n";
  std::size_t number = first_heat_of(sheet, round);
  for (const std::vector<std::size_t>& heat : sheet.heats[round - 1]) {
    out += "<tbody><tr><td class=\"turn\">" + std::to_string(number++) + "</td><td class=\"lanes\">";
    for (const std::size_t child : heat) {
      const SheetPlayer& player = sheet.players[child];
      out += (child == heat.front() ? "" : " &nbsp; ") + html_text(number_of(sheet, player)) +
             (player.name.empty() ? "" : " <small>" + html_text(player.name) + "</small>");
    }
    out += "</td>";
    for (std::size_t place = 1; place <= most; ++place) {
      out += place <= heat.size() ? "<td class=\"box\"></td>" : "<td></td>";
    }
    out += "<td class=\"box\"></td><td class=\"note\"></td></tr></tbody>\n";
  }
  return out + "</table>\n";
}

std::string heats_csv(const Sheet& sheet, char separator) {
  const auto row = [&](const std::vector<std::string>& cells) {
    std::string out;
    for (const std::string& cell : cells) {
      out += out.empty() && &cell == &cells.front() ? "" : std::string(1, separator);
      if (separator != ',' && cell.find(separator) != std::string::npos) {
        out += '"' + cell + '"';
      } else {
        text::append_csv_field(out, cell);
      }
    }
    return out + "\n";
  };
  std::string out;
  text::append_directive(out, "date", sheet.date);
  text::append_directive(out, "course", sheet.course);
  text::append_directive(out, "finish-at", sheet.marks.back());
  out += row({"date", "player", "course", "heat", "finish", "timer", sheet.marks.back(), "flag", "note"});
  std::size_t number = 0;
  for (const auto& round : sheet.heats) {
    for (const std::vector<std::size_t>& heat : round) {
      ++number;
      for (const std::size_t child : heat) {
        out += row({sheet.date, sheet.players[child].id, sheet.course, std::to_string(number), "", sheet.timers.front(),
                    "", "", ""});
      }
    }
  }
  for (std::size_t k = 0; k < blank_rows; ++k) {
    out += std::string(8, separator) + "\n";
  }
  return out;
}

}  // namespace bagsplit::present
