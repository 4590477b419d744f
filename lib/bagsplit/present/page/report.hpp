#pragma once

#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "bagsplit/jobs/path/path_plan.hpp"
#include "bagsplit/jobs/profile/own_times.hpp"
#include "bagsplit/jobs/profile/profile.hpp"
#include "bagsplit/jobs/relay/relay.hpp"
#include "bagsplit/jobs/standings/standings.hpp"
#include "bagsplit/jobs/timers/timers.hpp"
#include "bagsplit/jobs/trend/season_trend.hpp"
#include "bagsplit/norms/catalogue.hpp"
#include "bagsplit/runs/anonymise.hpp"

/// A page that people look at: one file, nothing fetched, works without scripts, on a phone as on paper.
namespace bagsplit::present {

enum class ReportKind : std::uint8_t {
  squad,       ///< an evening, or the evenings of a season: all players side by side
  players,     ///< a page for each player of the profile, one a sheet of paper
  evaluation,  ///< an evaluation day: the order with how sure it is, tiers, the cut, whom to run again
  relay,       ///< a relay night: legs, exchanges, who was first, what other orders may be expected to do
};

struct Report {
  ReportKind kind = ReportKind::squad;
  jobs::ProfileResult profile;
  std::vector<std::optional<jobs::PathPlan>>
      paths;                         ///< each player's own best path, in the order of the profile; or none at all
  std::vector<jobs::OwnRecord> own;  ///< each player's times as read, in the order of the profile; or none at all
  std::optional<jobs::SeasonTrend> trend;
  std::optional<jobs::TimersResult> timers;
  std::optional<jobs::StandingsResult> standings;  ///< evaluation: must be there
  std::optional<jobs::RelayResult> relay;          ///< relay: must be there
  std::map<std::string, std::string> names;        ///< by player id: shown beside it; empty: ids only
  bool each_player = false;                        ///< a page for each player after the first one
  bool places = false;                             ///< say places: fastest first, percentiles on a child's page
  /// Codes in place of ids, months in place of dates, whole years in place of ages; what the codes and other labels
  /// are.
  std::optional<runs::Disguise> disguise;
};

/// A file of a report.
struct ReportFile {
  std::string name;  ///< "index.html", "player-12.html": letters, digits, hyphens
  std::string text;
};

/// @param references  where the norms' bands and citations come from.
std::string report_html(const Report& report, const norms::Catalogue& references);

/// A file for each player of the profile, which holds nothing of any other, and an index for the coach, first.
std::vector<ReportFile> report_files(const Report& report, const norms::Catalogue& references);

/// Schema "bagsplit.report/1": the results the page was made from, each as its own command writes it, null where there
/// is none.
std::string report_json(const Report& report);

}  // namespace bagsplit::present
