// Identity: a page holds the numbers of the results it was made from, and strangers' texts as texts.
#include "bagsplit/present/page/report.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <nlohmann/json.hpp>

#include "present/profile_fixture.hpp"
#include "present/report_look.hpp"

namespace bagsplit::present {
namespace {

const norms::Catalogue& references() {
  static const norms::Catalogue catalogue = norms::Catalogue::builtin();
  return catalogue;
}

runs::Date day(int month, unsigned date) {
  return runs::Date(std::chrono::year(2026) / month / static_cast<int>(date));
}

jobs::SeasonTrend trend_of(const std::vector<std::string>& players) {
  jobs::SeasonTrend trend;
  trend.course = "home-first";
  trend.mark = "first";
  trend.worthwhile_s = 0.03;
  trend.one_run_noise_s = 0.21;
  trend.early = jobs::WindowSummary{{day(4, 14), day(4, 14)}, 1, 2, 1};
  trend.late = jobs::WindowSummary{{day(6, 23), day(6, 23)}, 1, 2, 1};
  for (const std::string& id : players) {
    jobs::SeasonPlayer player;
    player.player = id;
    player.evenings = 2;
    player.times = {{day(4, 14), 4.213}, {day(6, 23), 4.017}};
    player.mean_early_s = 4.213;
    player.mean_late_s = 4.017;
    player.change = season::Change{.seen_early_and_late = true};
    player.change->change_s = -0.081;
    player.change->interval_s = {-0.201, 0.039};
    player.change->growth_s = {-0.0212, 0.0137};
    player.verdict = season::words(player.change->verdict);
    trend.players.push_back(player);
  }
  jobs::SeasonSuspect suspect;
  suspect.reading = {"spring/AK.csv", 17, "first", players.front(), "time", 0.9, 5.05, 4.3, 0.1, 0.75, {}, 0, 0};
  suspect.what = "home-first at first, 5.05 s";
  suspect.date = day(4, 14);
  trend.suspects = {suspect};
  return trend;
}

jobs::TimersResult timers_of(const std::string& timer) {
  jobs::TimersResult timers;
  jobs::TimersPair pair;
  pair.first = {timer, "stopwatch"};
  pair.second = {"gates", "gate"};
  pair.is_reference = true;
  pair.runs = 3;
  pair.start = "signal";
  pair.points = {{4.1, -0.21}, {4.3, -0.12}, {4.9, -0.27}};
  pair.agreement = stats::Agreement{
      3, -0.2, 0.0754983, 0.0435890, {-0.3273, -0.0727}, {-0.348, -0.052}, {-0.91, -0.22}, {-0.18, 0.51}};
  timers.pairs = {pair};
  return timers;
}

// Everything a page can show, of players called so.
Report full(const std::vector<std::string>& ids) {
  Report report;
  std::vector<jobs::PlayerProfile> players;
  for (const std::string& id : ids) {
    jobs::PlayerProfile player = fixture::full_player(id);
    player.percentiles.front().source = "sprint-50m-japan-2017";
    for (double t = 0.5; t <= 6.0; t += 0.5) {
      player.speed_curve.push_back({t, fixture::estimate(6.0 * (1.0 - std::exp(-t)), 0.123)});
    }
    players.push_back(player);
  }
  report.profile = fixture::squad(players);
  report.trend = trend_of(ids);
  for (std::size_t k = 0; k < ids.size(); ++k) {
    jobs::OwnTimes times;
    times.course = "circuit";
    times.mark = "home";
    times.best_s = 13.57;
    times.usual_s = 13.685;
    times.last_s = 13.63;
    times.runs = {{day(4, 14), 13.74}, {day(6, 23), 13.57}, {day(6, 23), 13.63}};
    jobs::OwnLap lap;
    lap.date = day(6, 23);
    lap.first_s = 4.22;
    lap.second_s = 7.56;
    lap.third_s = 10.59;
    lap.home_s = 13.57;
    report.own.push_back({{times}, lap});
  }
  report.timers = timers_of("AK");
  report.each_player = true;
  report.places = true;
  return report;
}

std::size_t count(const std::string& text, const std::string& what) {
  std::size_t n = 0;
  for (std::size_t at = 0; (at = text.find(what, at)) != std::string::npos; at += what.size()) {
    ++n;
  }
  return n;
}

TEST(Report, EveryNumberOfATableIsInTheJsonOfTheSamePage) {
  const Report report = full({"12", "7"});
  EXPECT_GT(expect_numbers_of_json(report, references()), 80U);
}

// Identity: what people read is the number of the program, rounded.
TEST(Report, NumbersForPeopleAreRoundedFromThoseForPrograms) {
  const std::string html = report_html(full({"12"}), references());
  std::size_t seen = 0;
  for (std::size_t at = 0; (at = html.find("<data value=\"", at)) != std::string::npos; ++at) {
    const std::size_t value = at + 13;
    const std::size_t shown = html.find('>', value) + 1;
    const std::string text = html.substr(shown, html.find('<', shown) - shown);
    const std::size_t point = text.find('.');
    const double unit =
        point == std::string::npos ? 1.0 : std::pow(10.0, -static_cast<double>(text.size() - point - 1));
    EXPECT_NEAR(std::stod(html.substr(value)), std::stod(text), 0.5001 * unit) << html.substr(at, 60);
    ++seen;
  }
  EXPECT_GT(seen, 40U);
}

TEST(Report, StrangersTextsAreShownAsTexts) {
  const std::vector<std::string> ids{"<script>alert(1)</script>", "\"'&quot;", "\xF0\x9F\x98\x80",
                                     "\xD7\xA9\xD7\x9C\xD7\x95\xD7\x9D", "a\nb"};
  Report report = full(ids);
  report.names[ids[0]] = "</td><img src=x onerror=alert(2)>";
  report.timers = timers_of("<b>AK</b>");
  report.profile.players[1].notes = {"</p><script>"};
  const std::string html = report_html(report, references());
  const test::MarkupLook look = sound_page(html);
  for (const std::string& tag : look.tags) {
    EXPECT_TRUE(tag != "script" && tag != "img") << tag;
  }
  EXPECT_NE(html.find("<bdi>&lt;/td&gt;&lt;img src=x onerror=alert(2)&gt;</bdi>"), std::string::npos);
  EXPECT_NE(html.find("<bdi>\xD7\xA9\xD7\x9C\xD7\x95\xD7\x9D</bdi>"), std::string::npos);
  EXPECT_NE(html.find("<bdi>\xF0\x9F\x98\x80</bdi>"), std::string::npos);
}

TEST(Report, HeadingsComeInOrderAndChartsAreDescribed) {
  const test::MarkupLook look = sound_page(report_html(full({"12", "7"}), references()));
  int level = 0;
  for (const std::string& tag : look.tags) {
    if (tag.size() == 2 && tag[0] == 'h' && tag[1] >= '1' && tag[1] <= '6') {
      EXPECT_LE(tag[1] - '0', level + 1);
      level = tag[1] - '0';
    }
  }
  const auto tags = [&](const std::string& name) { return std::count(look.tags.begin(), look.tags.end(), name); };
  EXPECT_GT(tags("svg"), 8);
  EXPECT_EQ(tags("svg"), tags("desc"));
  EXPECT_EQ(tags("svg") + 1, tags("title"));
}

TEST(Report, NothingIsFetchedAndNothingRuns) {
  const std::string html = report_html(full({"12"}), references());
  for (const char* never : {"src=", "url(", "@import", "<link", "<script", "onload", "javascript:"}) {
    EXPECT_EQ(html.find(never), std::string::npos) << never;
  }
  // The only addresses are names of what SVG and XHTML are.
  EXPECT_EQ(count(html, "http://"), count(html, "xmlns=\"http://www.w3.org/"));
  EXPECT_EQ(count(html, "https://"), count(html, "https://doi.org"));
}

TEST(Report, AChildsPageSaysNoPlaceUnlessAsked) {
  Report report = full({"12", "7"});
  report.kind = ReportKind::players;
  report.places = false;
  for (const char* place : {"Of 100 of them", "so many take longer"}) {
    EXPECT_EQ(report_html(report, references()).find(place), std::string::npos) << place;
  }
  report.places = true;
  EXPECT_NE(report_html(report, references()).find("Of 100 of them about 61 take longer"), std::string::npos);
}

TEST(Report, ThePageSaysWhatItHolds) {
  Report report = full({"p-7kq2m"});
  EXPECT_NE(report_html(report, references()).find("Names are left out"), std::string::npos);
  const std::string named = report_html(full({"Ann", "12"}), references());
  EXPECT_EQ(named.find("Names are left out"), std::string::npos);
  EXPECT_NE(named.find("Ids stand as typed; if they are names, it names minors."), std::string::npos);
  report.disguise.emplace();
  EXPECT_NE(report_html(report, references()).find("a code in place of the id, the age in whole years, the months and"),
            std::string::npos);
  report.disguise.reset();
  report.names["p-7kq2m"] = "Ann";
  EXPECT_NE(report_html(report, references()).find("It names minors"), std::string::npos);
}

// Identity: without places nothing of a child's page sets the child among others.
TEST(Report, WithoutPlacesNoChildIsDrawnAmongOthers) {
  Report report = full({"12"});
  report.kind = ReportKind::players;
  report.profile.players.front().age_years = 11.72;
  report.profile.players.front().sex = runs::Sex::female;
  EXPECT_NE(report_html(report, references()).find("longest 5%"), std::string::npos);
  report.places = false;
  const std::string html = report_html(report, references());
  for (const char* word : {"slowest", "fastest", "percentile", "longest", "middle half", "Growing up"}) {
    EXPECT_EQ(html.find(word), std::string::npos) << word;
  }
}

// Identity: a file a player, and in it nothing of any other; names of files are plain and no two alike.
TEST(Report, EachPlayerHasAFileOfTheirOwn) {
  const std::vector<std::string> ids{"Zq1", "zQ1", "../up", "<b>", "index"};
  Report report = full(ids);
  const std::vector<ReportFile> files = report_files(report, references());
  ASSERT_EQ(files.size(), ids.size() + 1);
  EXPECT_EQ(files[0].name, "index.html");
  const std::vector<std::string> names{"player-Zq1.html", "player-zQ1-2.html", "player----up.html", "player--b-.html",
                                       "player-index.html"};
  for (std::size_t k = 0; k < ids.size(); ++k) {
    EXPECT_EQ(files[k + 1].name, names[k]);
    EXPECT_NE(files[0].text.find("href=\"" + names[k] + "\""), std::string::npos);
    const std::string text = sound_page(files[k + 1].text).text;
    for (std::size_t other = 0; other < 3; ++other) {
      EXPECT_EQ(text.find(ids[other]) != std::string::npos, other == k) << ids[other] << " in " << names[k];
    }
  }
  EXPECT_EQ(files[0].text.find("<article"), std::string::npos);
}

// Identity: months for dates, whole years for ages, codes for marks, in the order of the codes.
TEST(Report, ADisguiseHidesDatesAgesAndTheOrderOfIds) {
  const std::string first = "~p00000";
  const std::string second = "~p00001";
  Report report = full({first, second});
  report.profile.players[0].age_years = 11.72;
  report.profile.notes = {"No run alone of " + first + " and " + second + "."};
  report.disguise.emplace();
  report.disguise->labels = {{first, "p-zzzzz"}, {second, "p-aaaaa"}};
  for (const std::string& text : {report_html(report, references()), report_json(report)}) {
    EXPECT_EQ(text.find("~p"), std::string::npos);
    EXPECT_LT(text.find("p-aaaaa"), text.find("p-zzzzz"));
    for (const char* hidden : {"2026-04-14", "2026-06-23", "04-14", "06-23", "11.7"}) {
      EXPECT_EQ(text.find(hidden), std::string::npos) << hidden;
    }
    EXPECT_NE(text.find("2026-04"), std::string::npos);
  }
  EXPECT_NE(report_json(report).find("alone of p-aaaaa and p-zzzzz"), std::string::npos);
}

TEST(Report, WithNothingToShowThePageSaysSo) {
  Report empty;
  EXPECT_NE(sound_page(report_html(empty, references())).text.find("There are no runs in these files"),
            std::string::npos);
  Report flagged;
  flagged.each_player = true;
  flagged.profile = fixture::squad({fixture::bare_player("7")});
  flagged.profile.players[0].runs_used = 0;
  flagged.profile.runs_used = 0;
  const std::string text = sound_page(report_html(flagged, references())).text;
  EXPECT_NE(text.find("None of the runs can be used"), std::string::npos);
  EXPECT_NE(text.find("No run can be used yet"), std::string::npos);
  nlohmann::json json = nlohmann::json::parse(report_json(flagged));
  EXPECT_TRUE(json["trend"].is_null());
}

// Identity: what a coach reads of a slower child does not stand on the child's own page; what it says of a faster one
// does.
TEST(Report, SlowerNeverStandsOnAChildsOwnPage) {
  Report report;
  report.kind = ReportKind::players;
  report.each_player = true;
  report.profile = fixture::squad({fixture::full_player("7")});
  report.trend = trend_of({"7"});
  jobs::SeasonPlayer& child = report.trend->players.front();
  for (const auto verdict : {season::Verdict::surely_slower, season::Verdict::probably_slower}) {
    const std::string words(season::words(verdict));
    child.change->verdict = verdict;
    child.verdict = words;
    const std::string page = report_html(report, references());
    EXPECT_EQ(page.find("slower:"), std::string::npos);
    EXPECT_EQ(page.find("ly slower"), std::string::npos) << words;
    EXPECT_EQ(page.find("got slower"), std::string::npos) << words;
    report.kind = ReportKind::squad;
    report.each_player = false;
    const std::string coach = report_html(report, references());
    EXPECT_NE(coach.find("1 " + words), std::string::npos) << words;
    EXPECT_NE(coach.find("look first at tiredness"), std::string::npos) << words;
    report.kind = ReportKind::players;
    report.each_player = true;
  }
  child.change->verdict = season::Verdict::surely_faster;
  child.verdict = "surely faster";
  child.change->beyond_growth_s = {-0.3, 0.06};
  child.change->beyond_growth_interval_s = {-0.4, -0.2};
  jobs::mark_changes(report.profile, *report.trend);
  EXPECT_NE(report_html(report, references()).find("You got faster this season"), std::string::npos);
}

// Identity: what a child's page shows of the watch is what the watch read; corrected values stand nowhere beside it.
TEST(Report, AChildsPageShowsTheOwnTimesAsRead) {
  Report report = full({"12"});
  report.kind = ReportKind::players;
  report.places = false;
  const std::string html = report_html(report, references());
  for (const char* time : {">13.57<", ">4.22<", ">7.56<", ">10.59<", "13.63", "Your times: first 4.22, second 7.56"}) {
    EXPECT_NE(html.find(time), std::string::npos) << time;
  }
  for (const char* corrected : {"4.213", "4.017", ">4.21<", "4.02"}) {
    EXPECT_EQ(html.find(corrected), std::string::npos) << corrected;
  }
}

// Identity: the marks and numbers of page, grid and CSV are those of the JSON.
TEST(Report, MarksOfThePageAreThoseOfTheJson) {
  const Report report = full({"12", "7"});
  const std::string html = report_html(report, references());
  const nlohmann::json json = nlohmann::json::parse(report_json(report));
  std::size_t work = 0;
  std::size_t good = 0;
  for (const nlohmann::json& player : json.at("profile").at("players")) {
    for (const nlohmann::json& mark : player.at("marks")) {
      const std::string word = mark.at("mark");
      work += word == "work" ? 1U : 0U;
      good += word == "good" ? 1U : 0U;
    }
  }
  EXPECT_EQ(work, 2U);
  EXPECT_EQ(good, 2U);
  EXPECT_EQ(count(html, "\xE2\x97\x86.44<"), work);
  EXPECT_EQ(count(html, "surely time to win, 0.44 s<"), work);
  EXPECT_EQ(count(html, "\xE2\x97\x8B.20<"), good);
  EXPECT_EQ(count(html, "sure strength, 0.20 s<"), good);
  EXPECT_EQ(count(html, "+0.44<"), 2U) << "the diamonds say the same";
  EXPECT_EQ(count(html, "+0.08<"), 2U);
}

TEST(Report, OnePlayerWithoutAnythingStillHasAPage) {
  Report report;
  report.each_player = true;
  report.profile = fixture::squad({fixture::bare_player("7")});
  report.profile.runs_used = 1;
  report.profile.players[0].runs_used = 1;
  sound_page(report_html(report, references()));
}

}  // namespace
}  // namespace bagsplit::present
