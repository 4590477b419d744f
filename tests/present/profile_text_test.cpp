#include "bagsplit/present/text/profile_text.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <sstream>

#include "bagsplit/jobs/profile/advice.hpp"
#include "bagsplit/present/detail/squad_answer.hpp"
#include "bagsplit/text/text_width.hpp"
#include "present/profile_fixture.hpp"

namespace bagsplit::present {
namespace {

const norms::Catalogue& references() {
  static const norms::Catalogue catalogue = norms::Catalogue::builtin();
  return catalogue;
}

std::string squad(const std::vector<jobs::PlayerProfile>& players, const text::TextOptions& options = {}) {
  return squad_text(fixture::squad(players), references(), options);
}

void expect_fits(const std::string& text, std::size_t width) {
  std::istringstream lines(text);
  for (std::string line; std::getline(lines, line);) {
    EXPECT_LE(text::display_width(line), width) << line;
    EXPECT_FALSE(line.ends_with(' ')) << line;
  }
}

// Identity: the numbers of the fixture, median and half the interval.
TEST(ProfileText, ALineAPlayerWithWhatStandsAfterTheSign) {
  const std::string text = squad({fixture::full_player("12"), fixture::full_player("7")});
  EXPECT_NE(text.find("12      11.2    12  0.31 +-0.16#*     6.0 +-0.5  6.12 +-0.31*  3.82 +-0.08\n"),
            std::string::npos)
      << text;
  EXPECT_NE(text.find("half of the 90% interval"), std::string::npos) << text;
  EXPECT_NE(text.find("\n*  mostly what is usual at this age"), std::string::npos);
  EXPECT_NE(text.find("\n#  reaction and the timer's own delay"), std::string::npos);
  EXPECT_NE(text.find("home to first (60 ft)"), std::string::npos);
}

TEST(ProfileText, SignsAreExplainedOnlyWhereTheyStand) {
  jobs::PlayerProfile player = fixture::full_player("12");
  player.top_speed_mps->share_from_data = 0.9;
  player.reaction_s->share_from_data = 0.8;
  player.segment_loss_s[1].value.share_from_data = 0.9;
  player.reaction_holds_timer_bias = false;
  player.next_runs.clear();
  const std::string text = squad({player});
  EXPECT_EQ(text.find('*'), std::string::npos);
  EXPECT_EQ(text.find('#'), std::string::npos);
}

// Identity: the fixture's numbers; what was assumed is said beside them.
TEST(ProfileText, TheBestPathComesWithWhatItAssumes) {
  const std::string text = squad({fixture::full_player("12"), fixture::bare_player("7")}, {.width = 200});
  EXPECT_NE(text.find("12      home-second  0.95 +-0.02  0.38 +-0.15\n"), std::string::npos) << text;
  EXPECT_NE(text.find("turning limit of 4.0 m/s2, assumed for all"), std::string::npos);
  const std::string page = player_text(fixture::squad({fixture::full_player("12")}), references(), {.width = 400});
  EXPECT_NE(page.find("the loss to it would be -0.20 s at 2.5 and 0.60 s at 6.0 m/s2"), std::string::npos) << page;
  EXPECT_EQ(squad({fixture::bare_player("7")}).find("Against the best path"), std::string::npos);
}

TEST(ProfileText, FitsThePage) {
  std::vector<jobs::PlayerProfile> players{fixture::full_player("12"), fixture::bare_player("7"),
                                           fixture::full_player("Zo\xC3\xAB-\xE5\xB1\xB1\xE7\x94\xB0")};
  for (const std::size_t width : {60U, 80U, 132U}) {
    for (const bool unicode : {false, true}) {
      const text::TextOptions options{.width = width, .unicode = unicode};
      expect_fits(squad(players, options), width);
      expect_fits(player_text(fixture::squad(players), references(), options), width);
    }
  }
}

TEST(ProfileText, TwoHundredPlayersAreTwoHundredLines) {
  std::vector<jobs::PlayerProfile> players;
  for (int i = 1; i <= 200; ++i) {
    players.push_back(fixture::full_player(std::to_string(i)));
  }
  const std::string text = squad(players);
  expect_fits(text, 80);
  std::istringstream lines(text);
  std::size_t rows = 0;
  for (std::string line; std::getline(lines, line);) {
    rows += line.ends_with("3.82 +-0.08") ? 1U : 0U;
  }
  EXPECT_EQ(rows, 200U);
  // What holds for all is said once.
  const std::string note = "For all: Reaction here is reaction plus timer bias.";
  EXPECT_NE(text.find(note), std::string::npos);
}

TEST(ProfileText, AccentsAlign) {
  std::istringstream lines(squad({fixture::full_player("Zo\xC3\xAB"), fixture::full_player("Joe")}));
  std::vector<std::size_t> widths;
  for (std::string line; std::getline(lines, line);) {
    if (line.ends_with("3.82 +-0.08")) {
      widths.push_back(text::display_width(line));
    }
  }
  ASSERT_EQ(widths.size(), 2U);
  EXPECT_EQ(widths[0], widths[1]);
}

TEST(ProfileText, AnIdCannotSteerTheTerminal) {
  for (const text::TextOptions& options : {text::TextOptions{}, text::TextOptions{.unicode = true}}) {
    const std::string id =
        "\x1B[2J\xE2\x80\xAE"
        "12\xFF";
    const std::string text = squad({fixture::full_player(id), fixture::bare_player(id + "b")}, options) +
                             player_text(fixture::squad({fixture::full_player(id)}), references(), options);
    EXPECT_EQ(text.find('\x1B'), std::string::npos);
    EXPECT_EQ(text.find("\xE2\x80\xAE"), std::string::npos);
    EXPECT_EQ(text.find('\xFF'), std::string::npos);
  }
}

TEST(ProfileText, AsciiUnlessAskedOtherwise) {
  const std::string text = squad({fixture::full_player("12"), fixture::full_player("7")});
  // The citations keep the letters of their authors.
  const std::string shown = text.substr(0, text.find("References"));
  EXPECT_TRUE(std::all_of(shown.begin(), shown.end(), [](char c) { return static_cast<unsigned char>(c) < 0x80; }));
  EXPECT_NE(squad({fixture::full_player("12")}, {.unicode = true})
                .find("6.12 \xC2\xB1"
                      "0.31*"),
            std::string::npos);
}

TEST(ProfileText, APlaceInASquadIsNoNormForTheAge) {
  jobs::PlayerProfile player = fixture::full_player("12");
  player.percentiles.erase(player.percentiles.begin());  // the squad alone is left
  EXPECT_EQ(squad({player}).find("junior athletics squad (throwers), 30 m\n"), std::string::npos);
  EXPECT_NE(squad({fixture::full_player("12")}).find("Japanese school children, 50 m\n"), std::string::npos);
}

TEST(ProfileText, ReferencesAreCitedWithWhatMustBeSaidOfThem) {
  const std::string text = squad({fixture::full_player("12")});
  const std::size_t at = text.find("\nReferences\n");
  ASSERT_NE(at, std::string::npos);
  EXPECT_NE(text.find("Japanese school children, 50 m: Ministry of Education", at), std::string::npos);
  EXPECT_NE(text.find("Approximate: a normal curve", at), std::string::npos);
}

TEST(ProfileText, NobodyAtAllIsSaidPlainly) {
  EXPECT_EQ(squad({}), "Squad: 0 children, 0 runs, 4 evenings\n");
}

TEST(ProfileText, LeftOutByReason) {
  jobs::PlayerProfile other = fixture::bare_player("7");
  other.left_out_window = 4;
  other.left_out_relay = 1;
  other.left_out_empty = 2;
  EXPECT_EQ(left_out_words({fixture::full_player("12"), other}),
            "2 false-start, 1 fall, 4 outside the dates asked for, 1 relay leg, 2 without a usable time");
  EXPECT_EQ(left_out_words({fixture::bare_player("7")}), "");
}

std::vector<std::string> lines_of(const std::string& text) {
  std::vector<std::string> out;
  std::istringstream lines(text);
  for (std::string line; std::getline(lines, line);) {
    out.push_back(line);
  }
  return out;
}

jobs::ProfileResult children(int count) {
  std::vector<jobs::PlayerProfile> players;
  for (int i = 1; i <= count; ++i) {
    players.push_back(fixture::full_player(std::to_string(i)));
    for (jobs::Marked& mark : players.back().marks) {
      mark = {jobs::Mark::ordinary, jobs::Unknown::none, 0.01, 0.05};
    }
    const std::size_t column = static_cast<std::size_t>(i) % jobs::change_quantity;
    players.back().work_on.clear();
    if (i % 2 == 0) {
      players.back().marks[column] = {jobs::Mark::work, jobs::Unknown::none, 0.1 + 0.01 * i, 0.05};
      players.back().work_on = jobs::work_on(players.back());
    }
    if (i % 5 == 0) {
      players.back().suspected_readings.push_back(
          {"2026-06-23.csv", 68, "second", std::to_string(i), "mark", 0.97, 8.56, 7.6, 0.1, 0.96, {}, 0, 0});
    }
  }
  return fixture::squad(std::move(players));
}

// Identity: 24 lines of 80 columns for up to 14 children and beyond, 60 with all that is said unasked; each row begins
// with an id.
TEST(SquadScreen, HoldsOnOneScreen) {
  for (const int count : {1, 3, 6, 13, 14, 15, 40, 200}) {
    for (const bool unicode : {false, true}) {
      const jobs::ProfileResult result = children(count);
      const text::TextOptions options{.width = 80, .unicode = unicode};
      const std::string grid = squad_grid(result, false, options);
      const std::string all = squad_screen(result, options);
      expect_fits(all, 80);
      EXPECT_LE(lines_of(grid).size(), 24U) << count << grid;
      EXPECT_LE(lines_of(all).size(), 57U) << count << all;
      EXPECT_TRUE(all.starts_with(grid));
      const auto rows = lines_of(grid);
      const std::size_t shown = count <= 14 ? static_cast<std::size_t>(count) : 13U;
      for (std::size_t k = 2; k < 2 + shown; ++k) {
        std::istringstream row(rows.at(k));
        int id = 0;
        EXPECT_TRUE(row >> id) << rows[k];
        EXPECT_GE(id, 1);
        EXPECT_LE(id, count);
      }
      EXPECT_EQ(grid.find("TONIGHT") == std::string::npos, false);
      EXPECT_NE(grid.find("RUN NEXT"), std::string::npos);
      EXPECT_NE(grid.find("SHEETS"), std::string::npos);
    }
  }
}

// Identity: those with most to win first; who is left out is counted by group.
TEST(SquadScreen, OrderedByWhatMatters) {
  const auto rows = lines_of(squad_grid(children(40), false, {.width = 80}));
  EXPECT_TRUE(rows.at(2).starts_with(" 38") || rows.at(2).starts_with(" 40")) << rows[2];
  EXPECT_EQ(rows.at(15), "and 27 more: 7 with time to win and 20 nothing special.");
  const auto everybody = lines_of(squad_grid(children(40), true, {.width = 80}));
  EXPECT_GT(everybody.size(), 44U);
}

// Identity: each mark and number of the grid is the profile's, and the profile's number alone gives its mark.
TEST(SquadScreen, MarksAndNumbersAreTheProfiles) {
  const jobs::ProfileResult result = children(14);
  const auto rows = lines_of(squad_grid(result, false, {.width = 80}));
  for (std::size_t k = 2; k < 16; ++k) {
    std::istringstream row(rows.at(k));
    std::string word;
    row >> word;
    const auto player = std::find_if(result.players.begin(), result.players.end(),
                                     [&](const jobs::PlayerProfile& p) { return p.player == word; });
    ASSERT_NE(player, result.players.end()) << rows[k];
    for (const jobs::Marked& mark : player->marks) {
      ASSERT_TRUE(row >> word) << rows[k];
      EXPECT_EQ(word, mark.mark == jobs::Mark::work ? "!" : mark.mark == jobs::Mark::good ? "o" : ".");
      if (word != ".") {
        double seconds = 0.0;
        ASSERT_TRUE(row >> seconds);
        EXPECT_NEAR(seconds, std::abs(*mark.cost_s), 1e-9);
      }
    }
  }
}

TEST(SquadScreen, ASlipIsNamedWithItsLine) {
  const std::string grid = squad_grid(children(14), false, {.width = 80});
  EXPECT_NE(grid.find("SHEETS    LOOK: 2026-06-23.csv line 68, 5: second 8.56 looks wrong, about"), std::string::npos)
      << grid;
  EXPECT_NE(grid.find("more)"), std::string::npos);
}

// Identity: a swap is two entries and one sentence, and where it stands nothing is said to look right.
TEST(SquadScreen, ASwapIsToldOnceWithBothLines) {
  jobs::ProfileResult result = children(14);
  for (jobs::PlayerProfile& player : result.players) {
    player.suspected_readings.clear();
  }
  jobs::SuspectedReading row;
  row.file = "night.csv";
  row.kind = "swap";
  row.line = 12;
  row.other_line = 16;
  row.player = "5";
  row.other_player = "22";
  result.suspected_rows.push_back(row);
  std::swap(row.line, row.other_line);
  std::swap(row.player, row.other_player);
  result.suspected_rows.push_back(row);
  const std::string grid = squad_grid(result, false, {.width = 100});
  EXPECT_NE(grid.find("SHEETS    LOOK: night.csv line 12 and line 16: runs of 5 and 22 swapped?"), std::string::npos)
      << grid;
  EXPECT_EQ(grid.find("No time looks wrong"), std::string::npos) << grid;
  EXPECT_EQ(grid.find("line 16 and line 12"), std::string::npos) << grid;
}

// Identity: who has run from lying alone is asked for standing starts, and nothing is said of call or getting up.
TEST(SquadScreen, CallAndGettingUpArePartedByStandingStarts) {
  jobs::ProfileResult result = children(4);
  for (const std::size_t column : {0U, 1U}) {
    result.players[2].marks[column] = {jobs::Mark::unknown, jobs::Unknown::few_runs, std::nullopt, std::nullopt};
  }
  const std::string grid = squad_grid(result, true, {.width = 200});
  EXPECT_NE(grid.find("3: two standing starts on the call, to part the call from getting up."), std::string::npos)
      << grid;
}

// Common practice, no source: 23 June, the year once.
TEST(SquadScreen, DaysAsPeopleSayThem) {
  jobs::PlayerProfile player = fixture::full_player("12");
  EXPECT_EQ(days_words({player}), "11 April to 23 June 2026");
  player.first_date = player.last_date;
  EXPECT_EQ(days_words({player}), "23 June 2026");
  player.first_date = runs::Date(std::chrono::year(2025) / 9 / 1);
  EXPECT_EQ(days_words({player}), "1 September 2025 to 23 June 2026");
  EXPECT_EQ(days_words({fixture::bare_player("7")}), "");
}

TEST(ProfileText, ThePlayersPageHasEveryQuantityOnce) {
  const std::string text = player_text(fixture::squad({fixture::full_player("12")}), references(), {});
  for (const char* label :
       {"\ntop speed ", "\ntime constant ", "\nfirst acceleration ", "\nreaction ", "\n10 yd ", "\nhome to first ",
        "\nsecond, stopping ", "\nprone ", "\nhome-second ", "\ngreatest force "}) {
    EXPECT_NE(text.find(label), std::string::npos) << label;
  }
  EXPECT_NE(text.find("nothing*"), std::string::npos) << "a share below zero";
  const std::string wide = player_text(fixture::squad({fixture::full_player("12")}), references(), {.width = 300});
  EXPECT_NE(
      wide.find(
          "top speed: a 30 m straight with times at 10 m and 30 m would bring its SD from 0.190 to about 0.120 m/s."),
      std::string::npos)
      << wide;
}

}  // namespace
}  // namespace bagsplit::present
