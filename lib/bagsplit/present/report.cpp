#include "bagsplit/present/report.hpp"

#include <algorithm>

#include "bagsplit/present/json_parts.hpp"
#include "bagsplit/present/number_text.hpp"
#include "bagsplit/present/path_report.hpp"
#include "bagsplit/present/profile_json.hpp"
#include "bagsplit/present/profile_parts.hpp"
#include "bagsplit/present/relay_report.hpp"
#include "bagsplit/present/report_parts.hpp"
#include "bagsplit/present/standings_report.hpp"
#include "bagsplit/present/timers_report.hpp"
#include "bagsplit/present/trend_report.hpp"
#include "bagsplit/safety/safety.hpp"

namespace bagsplit::present {

namespace {

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
    for (const coach::RelayRun& run : report.relay->runs) {
      found = found || std::any_of(run.legs.begin(), run.legs.end(), named);
    }
  }
  return found;
}

// What the file tells of the children, so that whoever passes it on knows.
std::string holds_words(const Report& report) {
  std::string text = "This page holds, for each player: ";
  text += report.codes ? "a code in place of the id" : !report.names.empty() ? "the id and the name" : "the id";
  text += report.codes ? ", the age to half a year" : ", the age";
  text += ", dates and times of runs, and what was worked out of them; no date of birth, height or mass.";
  text += report.codes ? " The codes come from a secret that is not in this file; whoever knows a child's times can "
                         "still know the child by them."
          : report.names.empty() ? ids_may_be_names(report) ? " Ids stand as typed; if they are names, use --anonymise."
                                                            : " Names are left out."
                                 : " It names minors: pass it on only to those who may know.";
  return text + " Timers are called as in the files.";
}

Markup foot(const Report& report, const Page& page, const norms::Catalogue& references) {
  std::vector<std::string> cautions = report.profile.cautions;
  for (const auto& more : {report.relay ? report.relay->cautions : std::vector<std::string>{},
                           report.standings ? report.standings->cautions : std::vector<std::string>{}}) {
    for (const std::string& caution : more) {
      if (!safety::is_sprint_caution(caution)) {  // the profile's has the run-out of these players
        add_once(cautions, caution);
      }
    }
  }
  Markup out = section("Take care", bullets(cautions));
  out += section("Sources", bullets(reference_sentences(page.sources(), references)));
  return out + section("What this page holds", element("p", holds_words(report)));
}

// The small print of a child's page.
Markup page_foot(const Report& report, const Page& page, const norms::Catalogue& references) {
  std::vector<std::string> small;
  if (!report.profile.cautions.empty()) {
    small.push_back("Take care: " + report.profile.cautions.front());
  }
  small.push_back("Bars, bands and ranges are " + percent(report.profile.level) +
                  " intervals: that often the truth lies inside.");
  for (const std::string& source : reference_sentences(page.sources(), references)) {
    small.push_back("Source: " + source);
  }
  small.push_back(holds_words(report));
  return element("footer", paragraphs(small, "small"));
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

Markup child_pages(const Report& report, const norms::Catalogue& references, Page& page) {
  Markup out;
  for (std::size_t i = 0; i < report.profile.players.size(); ++i) {
    page.forget_sources();
    const Markup content = player_page(report, i, references, page);
    out +=
        element("article",
                {{"id", page_id(i)}, {"aria-label", "Player " + shown_name(report, report.profile.players[i].player)}},
                content + page_foot(report, page, references));
  }
  return out;
}

// From the squad's page to the children's.
Markup links(const Report& report) {
  Markup items;
  for (std::size_t i = 0; i < report.profile.players.size(); ++i) {
    items += element("li", element("a", {{"href", "#" + page_id(i)}},
                                   isolated(shown_name(report, report.profile.players[i].player))));
  }
  return items.empty() ? items
                       : element("nav", {{"aria-label", "Pages of the players"}},
                                 element("p", "Pages of the players:") + element("ul", {{"class", "row"}}, items));
}

}  // namespace

std::string shown_name(const Report& report, const std::string& id) {
  const auto found = report.names.find(id);
  return found == report.names.end() || found->second.empty() ? id : found->second;
}

std::string report_html(const Report& report, const norms::Catalogue& references) {
  Page page;
  Markup body;
  if (report.kind != ReportKind::players) {
    Markup squad = report.kind == ReportKind::evaluation ? evaluation_page(report, page)
                   : report.kind == ReportKind::relay    ? relay_page(report, page)
                                                         : squad_page(report, references, page);
    squad += foot(report, page, references);
    body += element("div", {{"class", "squad"}}, squad + (report.each_player ? links(report) : Markup()));
  }
  if (report.kind == ReportKind::players || report.each_player) {
    body += child_pages(report, references, page);
  }
  return html_document(title_words(report), element("main", body));
}

std::string report_json(const Report& report) {
  JsonWriter json;
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
  part("trend", report.trend.has_value(), [&] { return trend_json(*report.trend); });
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
  json.end_array().end_object();
  return json.take();
}

}  // namespace bagsplit::present
