#include "bagsplit/present/page/report.hpp"

#include <algorithm>
#include <set>

#include "bagsplit/present/machine/json_parts.hpp"
#include "bagsplit/present/machine/profile_json.hpp"
#include "bagsplit/present/page/detail/report_parts.hpp"
#include "bagsplit/present/path_report.hpp"
#include "bagsplit/present/profile_parts.hpp"
#include "bagsplit/present/relay_report.hpp"
#include "bagsplit/present/season_report.hpp"
#include "bagsplit/present/standings_report.hpp"
#include "bagsplit/present/timers_report.hpp"
#include "bagsplit/runs/typed.hpp"
#include "bagsplit/runs/words.hpp"
#include "bagsplit/safety/safety.hpp"
#include "bagsplit/text/number_text.hpp"
#include "bagsplit/text/text.hpp"

namespace bagsplit::present {

namespace {

using Layout = text::JsonWriter::Layout;

// Whether an id may be a name: two letters or more and no digit.
bool may_be_a_name(const std::string& id) {
  const bool digit = std::any_of(id.begin(), id.end(), [](unsigned char c) { return c >= '0' && c <= '9'; });
  const auto letters = std::count_if(
      id.begin(), id.end(), [](unsigned char c) { return (c | 0x20U) >= 'a' && ((c | 0x20U) <= 'z' || c >= 0x80U); });
  return !digit && letters >= 2;
}

bool ids_may_be_names(const Report& report) {
  const auto named = [](const auto& player) { return may_be_a_name(player.player); };
  bool found = std::any_of(report.profile.players.begin(), report.profile.players.end(), named);
  if (report.standings) {
    found = found || std::any_of(report.standings->players.begin(), report.standings->players.end(), named) ||
            std::any_of(report.standings->not_ranked.begin(), report.standings->not_ranked.end(), named);
  }
  if (report.relay) {
    for (const jobs::RelayRun& run : report.relay->runs) {
      found = found || std::any_of(run.legs.begin(), run.legs.end(), named);
    }
  }
  return found;
}

// What the file tells of the children, so that whoever passes it on knows.
std::string holds_words(const Report& report) {
  std::string text = "This page holds, for each player: ";
  const bool hidden = report.disguise.has_value();
  text += hidden ? "a code in place of the id" : !report.names.empty() ? "the id and the name" : "the id";
  text += hidden ? ", the age in whole years, the months" : ", the age, dates";
  text += " and times of runs, and what was worked out of them; no date of birth, height or mass.";
  text += hidden ? " The codes come from a secret that is not in this file; whoever knows a child's times can "
                   "still know the child by them."
          : report.names.empty() ? ids_may_be_names(report) ? " Ids stand as typed; if they are names, it names minors."
                                                            : " Names are left out."
                                 : " It names minors: pass it on only to those who may know.";
  return text + (hidden ? " Timers, teams and places have numbers." : " Timers are called as in the files.");
}

text::Markup foot(const Report& report, const Page& page, const norms::Catalogue& references) {
  std::vector<std::string> cautions = report.profile.cautions;
  for (const auto& more : {report.relay ? report.relay->cautions : std::vector<std::string>{},
                           report.standings ? report.standings->cautions : std::vector<std::string>{}}) {
    for (const std::string& caution : more) {
      if (!safety::is_sprint_caution(caution)) {  // the profile's has the run-out of these players
        add_once(cautions, caution);
      }
    }
  }
  text::Markup out = section("Take care", bullets(cautions));
  out += section("Sources", bullets(reference_sentences(page.sources(), references)));
  return out + section("What this page holds", text::element("p", holds_words(report)));
}

// The small print of a child's page.
text::Markup page_foot(const Report& report, const Page& page, const norms::Catalogue& references) {
  std::vector<std::string> small;
  if (!report.profile.cautions.empty()) {
    small.push_back("Take care: " + report.profile.cautions.front());
  }
  for (const std::string& source : reference_sentences(page.sources(), references)) {
    small.push_back("Source: " + source);
  }
  small.push_back(holds_words(report));
  return text::element("footer", paragraphs(small, "small"));
}

// Times as the watch read them: what a child's page shows.
void write_own(text::JsonWriter& json, const std::vector<jobs::OwnRecord>& own) {
  json.key("own").begin_array();
  for (const jobs::OwnRecord& record : own) {
    json.begin_object().key("times").begin_array();
    for (const jobs::OwnTimes& one : record.times) {
      json.begin_object(Layout::line)
          .member("course", one.course)
          .member("mark", one.mark)
          .member("posture", runs::word_of(one.posture))
          .member("runs", std::uint64_t{one.runs.size()})
          .member("best_s", one.best_s)
          .member("usual_s", one.usual_s)
          .member("last_s", one.last_s)
          .end_object();
    }
    json.end_array().key("best_lap");
    if (const auto& lap = record.best_lap) {
      json.begin_object(Layout::line)
          .member("date", runs::format_date(lap->date))
          .member("first_s", lap->first_s)
          .member("second_s", lap->second_s)
          .member("third_s", lap->third_s)
          .member("home_s", lap->home_s)
          .end_object();
    } else {
      json.null();
    }
    json.end_object();
  }
  json.end_array();
}

std::string_view kind_word(ReportKind kind) {
  return kind == ReportKind::squad     ? "squad"
         : kind == ReportKind::players ? "players"
         : kind == ReportKind::relay   ? "relay"
                                       : "evaluation";
}

std::string page_id(std::size_t player) {
  return "player" + std::to_string(player + 1);
}

std::string title_words(const Report& report) {
  if (report.kind == ReportKind::players && report.profile.players.size() == 1) {
    return "Player " + shown_name(report, report.profile.players.front().player);
  }
  const std::string span = span_words(report.profile.players);
  return std::string(report.kind == ReportKind::players      ? "Players"
                     : report.kind == ReportKind::evaluation ? "Evaluation day"
                     : report.kind == ReportKind::relay      ? "Relays"
                                                             : "Squad") +
         (span.empty() ? "" : ", " + span);
}

text::Markup child_pages(const Report& report, const norms::Catalogue& references, Page& page) {
  text::Markup out;
  for (std::size_t i = 0; i < report.profile.players.size(); ++i) {
    page.forget_sources();
    const text::Markup content = player_page(report, i, references, page);
    out += text::element(
        "article",
        {{"id", page_id(i)}, {"aria-label", "Player " + shown_name(report, report.profile.players[i].player)}},
        content + page_foot(report, page, references));
  }
  return out;
}

// From the squad's page to the children's.
// @param files  of the children; empty where their pages follow below.
text::Markup links(const Report& report, const std::vector<std::string>& files) {
  text::Markup items;
  for (std::size_t i = 0; i < report.profile.players.size(); ++i) {
    items += text::element("li", text::element("a", {{"href", files.empty() ? "#" + page_id(i) : files[i]}},
                                               text::isolated(shown_name(report, report.profile.players[i].player))));
  }
  const text::Markup words =
      files.empty() ? text::element("p", "Pages of the players:")
                    : text::element("p",
                                    "A file for each player lies beside this one. Give each family its own "
                                    "child's file only; this page is for the coach.");
  return items.empty() ? items
                       : text::element("nav", {{"aria-label", "Pages of the players"}},
                                       words + text::element("ul", {{"class", "row"}}, items));
}

// @param files  as of links(); the pages of the children are in them.
std::string page_html(const Report& report, const norms::Catalogue& references, const std::vector<std::string>& files) {
  Page page;
  text::Markup body;
  if (report.kind != ReportKind::players) {
    text::Markup squad = report.kind == ReportKind::evaluation ? evaluation_page(report, page)
                         : report.kind == ReportKind::relay    ? relay_page(report, page)
                                                               : squad_page(report, references, page);
    const text::Markup others = report.each_player ? links(report, files) : text::Markup();
    body += text::element("div", {{"class", "squad"}}, squad + others + foot(report, page, references));
  }
  if (files.empty() && (report.kind == ReportKind::players || report.each_player)) {
    body += child_pages(report, references, page);
  }
  return as_shown(report, html_document(title_words(report), text::element("main", body)));
}

// Everything of one player and nothing of any other.
Report report_of(const Report& report, std::size_t player) {
  Report out;
  out.kind = ReportKind::players;
  out.profile.level = report.profile.level;
  out.profile.cautions = report.profile.cautions;
  out.profile.players = {report.profile.players[player]};
  out.paths = player < report.paths.size() ? std::vector{report.paths[player]} : out.paths;
  out.own = player < report.own.size() ? std::vector{report.own[player]} : out.own;
  out.trend = report.trend;
  out.places = report.places;
  out.disguise = report.disguise;
  const std::string& id = out.profile.players.front().player;
  if (const auto name = report.names.find(id); name != report.names.end()) {
    out.names.insert(*name);
  }
  if (out.trend) {
    std::erase_if(out.trend->players, [&](const jobs::SeasonPlayer& one) { return one.player != id; });
  }
  return out;
}

// Letters, digits and hyphens of what the player is called; no two names alike where large and small letters are one.
std::string file_name(const Report& report, const std::string& id, std::set<std::string>& taken) {
  constexpr std::size_t most = 60;
  std::string name = "player-" + as_shown(report, id).substr(0, most);
  for (char& c : name) {
    c = text::is_digit(c) || (text::ascii_lower(c) >= 'a' && text::ascii_lower(c) <= 'z') ? c : '-';
  }
  std::string out = name;
  for (std::size_t n = 2; !taken.insert(text::lower(out)).second; ++n) {
    out = name + "-" + std::to_string(n);
  }
  return out + ".html";
}

}  // namespace

std::string shown_name(const Report& report, const std::string& id) {
  const auto found = report.names.find(id);
  return found == report.names.end() || found->second.empty() ? id : found->second;
}

std::string report_html(const Report& report, const norms::Catalogue& references) {
  return page_html(as_shown(report), references, {});
}

std::vector<ReportFile> report_files(const Report& report, const norms::Catalogue& references) {
  const Report shown = as_shown(report);
  std::vector<ReportFile> out(1);
  std::vector<std::string> names;
  std::set<std::string> taken;
  for (std::size_t k = 0; k < shown.profile.players.size(); ++k) {
    const std::string& id = shown.profile.players[k].player;
    names.push_back(file_name(shown, id, taken));
    out.push_back({names.back(), page_html(report_of(shown, k), references, {})});
  }
  out.front() = {"index.html", page_html(shown, references, names)};
  return out;
}

std::string report_json(const Report& whole) {
  const Report report = as_shown(whole);
  text::JsonWriter json;
  json.begin_object().member("schema", "bagsplit.report/1").member("kind", kind_word(report.kind));
  const auto part = [&](std::string_view name, bool is_there, const auto& write) {
    json.key(name);
    if (is_there) {
      write_json(json, write());
    } else {
      json.null();
    }
  };
  part("profile", true, [&] { return profile_json(report.profile); });
  part("trend", report.trend.has_value(), [&] { return season_json(*report.trend); });
  part("timers", report.timers.has_value(), [&] { return timers_json(*report.timers); });
  part("standings", report.standings.has_value(), [&] { return standings_json(*report.standings); });
  part("relay", report.relay.has_value(), [&] { return relay_json(*report.relay); });
  json.key("paths").begin_array();
  for (const auto& plan : report.paths) {
    if (plan && plan->usable()) {
      write_json(json, path_json(*plan));
    } else {
      json.null();
    }
  }
  json.end_array();
  write_own(json, report.own);
  json.end_object();
  return as_shown(report, json.take());
}

}  // namespace bagsplit::present
