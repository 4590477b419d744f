#include "bagsplit/jobs/fast_end.hpp"
#include "bagsplit/present/page/sheet.hpp"
#include "bagsplit/safety/safety.hpp"
#include "bagsplit/text/markup.hpp"

namespace bagsplit::present {

namespace {

// Sizes in millimetres and points, as on paper: a box takes a hand-written 12.34 (about 16 x 8 mm).
constexpr std::string_view style = R"(
* { box-sizing: border-box; }
body { margin: 0; font: 10pt/1.25 "DejaVu Sans", Arial, Helvetica, sans-serif; color: #000; background: #fff; }
section { break-after: page; }
section:last-of-type { break-after: auto; }
table { border-collapse: collapse; width: 100%; }
thead { display: table-header-group; }
tbody { break-inside: avoid; page-break-inside: avoid; }
th { font-size: 8.5pt; font-weight: 600; text-align: left; padding: 1mm 1.2mm; vertical-align: bottom; border-bottom: 0.5mm solid #000; }
thead td { border-bottom: 0.5mm solid #000; height: auto; }
td.top { border: 0; padding: 0 0 2mm; font-size: 10pt; }
td.top h1, td.top h2 { display: inline; font-size: 14pt; margin: 0; }
.line { display: inline-block; min-width: 32mm; border-bottom: 0.25mm solid #000; }
td { border-bottom: 0.2mm solid #777; padding: 0 1.2mm; height: 8.5mm; vertical-align: middle; }
tbody tr:last-child td { border-bottom: 0.4mm solid #000; }
tbody tr:first-child td.who { border-bottom: 0.4mm solid #000; }
td.bib { font-size: 15pt; font-weight: 700; width: 14mm; }
td.bib small { display: block; font-size: 7.5pt; font-weight: 400; overflow-wrap: anywhere; }
td.turn { width: 8mm; font-size: 8pt; color: #444; }
td.name { font-size: 9pt; max-width: 42mm; overflow-wrap: anywhere; }
td.watch { width: 15mm; font-size: 8pt; color: #444; }
td.lanes { font-size: 12pt; font-weight: 700; overflow-wrap: anywhere; }
td.lanes small { font-size: 7.5pt; font-weight: 400; }
td.box { border: 0.3mm solid #000; min-width: 16mm; }
td.flags { width: 27mm; font-size: 8pt; letter-spacing: 0.6mm; white-space: nowrap; }
td.note { min-width: 18mm; }
th.fold, td.fold { border-left: 0.5mm dashed #000; width: 24mm; padding-left: 2mm; }
td.fold { font-size: 8pt; color: #444; }
td.fold .again { display: inline-block; width: 14mm; height: 6.5mm; border: 0.3mm solid #000; vertical-align: middle; }
.absent td.bib, .absent td.name { text-decoration: line-through; }
.absent td.box { background: repeating-linear-gradient(135deg, #fff 0 1.2mm, #aaa 1.2mm 1.4mm); }
.key { margin: 3mm 0 0; font-size: 8.5pt; break-inside: avoid; }
.key p { margin: 0 0 1mm; }
.key ul { margin: 1mm 0 0; padding-left: 5mm; columns: 2; column-gap: 8mm; }
@media screen { body { max-width: 280mm; margin: 8mm auto; } }
)";

std::string or_line(const std::string& text) {
  return text.empty() ? "<span class=\"line\">&nbsp;</span>" : html_text(text);
}

std::string cautions(const Sheet& sheet) {
  std::string out = "<ul>";
  for (const std::string& caution : cautions_on(sheet)) {
    out += "<li>" + html_text(caution) + "</li>";
  }
  return out + "</ul>";
}

std::string head(const Sheet& sheet, std::size_t round, std::size_t columns, bool names) {
  const std::string heading = round > 1 ? "h2>" : "h1>";
  std::string out = "<thead><tr><td class=\"top\" colspan=\"" + std::to_string(columns) + "\"><" + heading +
                    html_text(sheet.drill.empty() ? sheet.course : sheet.drill) + "</" + heading;
  out += sheet.drill.empty() ? "" : " &nbsp;" + html_text(sheet.course);
  out += sheet.posture.empty() ? "" : " &nbsp;" + html_text(sheet.posture) + " start";
  out += sheet.base_distance.empty() ? "" : " &nbsp;bags " + html_text(sheet.base_distance) + " apart";
  out += sheet.rounds > 1
             ? " &nbsp;&middot;&nbsp; round " + std::to_string(round) + " of " + std::to_string(sheet.rounds)
             : "";
  out += " &nbsp;&middot;&nbsp; date " + or_line(sheet.date) + " &nbsp;place " + or_line(sheet.place) +
         " &nbsp;sheet <span class=\"line\" style=\"min-width:10mm\">&nbsp;</span>";
  const std::string what = about_sentence(sheet);
  out += what.empty() ? "" : "<br>" + html_text(what);
  out +=
      "<br><small>Circle: FS false start "
      "&middot; F fall &middot; M missed bag &middot; O obstructed "
      "&middot; V void &middot; A absent. Time not seen: a dash. Never rub out: strike through and write "
      "beside.</small></td></tr>"
      "<tr><td></td><th>bib</th>";
  out += names ? "<th>name</th>" : "";
  out += "<th>watch</th>";
  for (const std::string& mark : sheet.marks) {
    out += "<th>" + html_text(mark) + "</th>";
  }
  return out + "<th>circle</th><th>" + (sheet.out_and_back ? "waits at" : "note") +
         "</th><th class=\"fold\">fold back &middot; read out, write " + html_text(sheet.marks.back()) +
         " again</th></tr></thead>\n";
}

std::string rows(const Sheet& sheet, const SheetPlayer& player, std::size_t turn, bool names, std::size_t round) {
  const std::string span = std::to_string(sheet.timers.size());
  std::string out = player.absent ? "<tbody class=\"absent\">" : "<tbody>";
  const std::string& large = player.bib.empty() ? player.id : player.bib;
  const std::string id = sheet.shares_bib(player) && large != player.id ? html_text(player.id) : "";
  for (std::size_t w = 0; w < sheet.timers.size(); ++w) {
    out += "<tr>";
    if (w == 0) {
      out += "<td class=\"turn who\" rowspan=\"" + span + "\">" +
             (player.leg > 0 ? html_text(player.team) + " " + std::to_string(player.leg)
              : turn == 0    ? std::string()
                             : std::to_string(turn)) +
             "</td><td class=\"bib who\" rowspan=\"" + span + "\">" + html_text(large) +
             (id.empty() ? "" : "<small>" + id + "</small>") + "</td>";
      out += names ? "<td class=\"name who\" rowspan=\"" + span + "\">" + html_text(player.name) +
                         (player.team.empty() || player.leg > 0 ? ""
                                                                : "<br><small>" + html_text(player.team) + "</small>") +
                         "</td>"
                   : "";
    }
    out += "<td class=\"watch\">" + (sheet.timers[w].empty() ? std::to_string(w + 1) : html_text(sheet.timers[w])) +
           "</td>";
    for (std::size_t k = 0; k < sheet.marks.size(); ++k) {
      out += "<td class=\"box\"></td>";
    }
    if (w == 0) {
      out += "<td class=\"flags who\" rowspan=\"" + span + "\">FS F M O V A</td><td class=\"note who\" rowspan=\"" +
             span + "\">" + (player.absent ? "absent" : html_text(leg_words(sheet, player, round))) + "</td>";
    }
    out += "<td class=\"fold\">" + (w == 0 ? html_text(large) + (id.empty() ? "" : " " + id) : std::string("&nbsp;")) +
           " <span class=\"again\"></span></td></tr>";
  }
  return out + "</tbody>\n";
}

}  // namespace

std::string html_text(std::string_view text) {
  return text::escaped(text);
}

std::string sheet_html(const Sheet& sheet) {
  bool names = false;
  for (const SheetPlayer& player : sheet.players) {
    names = names || !player.name.empty() || (!player.team.empty() && player.leg == 0);
  }
  const bool wide = sheet.marks.size() + (names ? 2 : 0) > 3 || !sheet.heats.empty();
  const std::string size =
      std::string(sheet.paper == Paper::a4 ? "A4" : "letter") + (wide ? " landscape" : " portrait");
  std::string out =
      "<!DOCTYPE html>\n<html lang=\"en\"><head><meta charset=\"utf-8\"><meta name=\"viewport\" "
      "content=\"width=device-width, initial-scale=1\"><title>Recording sheet: " +
      html_text(sheet.course) + "</title>\n<style>@page { size: " + size + "; margin: 10mm; }" + std::string(style) +
      "</style></head>\n<body><main>\n";
  const std::size_t columns = 6 + (names ? 1 : 0) + sheet.marks.size();
  for (std::size_t round = 1; round <= sheet.rounds; ++round) {
    if (!sheet.heats.empty()) {
      out += "<section>" + heats_html(sheet, round) + "<div class=\"key\">" + cautions(sheet) + "</div></section>\n";
      continue;
    }
    out += "<section><table>\n" + head(sheet, round, columns, names);
    std::size_t turn = 0;
    for (const SheetPlayer& player : sheet.players) {
      out += rows(sheet, player, ++turn, names, round);
    }
    for (std::size_t k = 0; k < blank_rows; ++k) {
      out += rows(sheet, {}, sheet.is_relay() ? 0 : ++turn, names, round);
    }
    out += "</table>\n<div class=\"key\">";
    out += cautions(sheet) + "</div></section>\n";
  }
  return out + "</main></body></html>\n";
}

}  // namespace bagsplit::present
