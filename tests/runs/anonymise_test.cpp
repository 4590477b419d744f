#include "bagsplit/runs/anonymise.hpp"

#include <gtest/gtest.h>

#include <cmath>

#include "bagsplit/runs/log/run_log.hpp"
#include "bagsplit/text/sha256.hpp"

namespace bagsplit::runs {
namespace {

std::string hex(const text::Digest& digest) {
  std::string out;
  for (const std::uint8_t byte : digest) {
    out += "0123456789abcdef"[byte >> 4U];
    out += "0123456789abcdef"[byte & 15U];
  }
  return out;
}

// Source: NIST FIPS 180-2 (2002), appendix B: one block, two blocks, a million letters; and the digest of no text.
TEST(Sha256, MatchesThePublishedExamples) {
  EXPECT_EQ(hex(text::sha256("abc")), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
  EXPECT_EQ(hex(text::sha256("abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq")),
            "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1");
  EXPECT_EQ(hex(text::sha256(std::string(1'000'000, 'a'))),
            "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0");
  EXPECT_EQ(hex(text::sha256("")), "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855");
}

// Source: RFC 4231 (2005), test cases 2 and 6 (a key longer than a block).
TEST(Sha256, KeyedMatchesThePublishedExamples) {
  EXPECT_EQ(hex(text::hmac_sha256("Jefe", "what do ya want for nothing?")),
            "5bdcc146bf60754e6a042426089575c75a003f089d2739839dec58b964ec3843");
  EXPECT_EQ(hex(text::hmac_sha256(std::string(131, '\xaa'), "Test Using Larger Than Block-Size Key - Hash Key First")),
            "60e431591ee0b67f0d8a26aacbf5b77f8e0bc6213728c5140546040f0ee37f54");
}

struct Read {
  RunLog log;
  Roster roster;
};

Read two_players() {
  Read read;
  read.log = read_run_log(
                 "# base-distance: 60 "
                 "ft\ndate,player,course,first\n2026-04-11,12,home-first,4.05\n2026-06-23,12,home-first,4.00\n2026-04-"
                 "11,7,home-first,4.2\n",
                 "x.csv")
                 .log;
  Player twelve;
  twelve.id = "12";
  twelve.bib = "the shirt with a twelve on it";
  twelve.name = "Ann Example";
  twelve.sex = Sex::female;
  twelve.born = Date(std::chrono::year(2014) / 10 / 2);
  twelve.height_m = 1.5;
  twelve.mass_kg = 40.0;
  twelve.team = "reds";
  Player idle;
  idle.id = "99";
  idle.born = twelve.born;
  read.roster.players = {twelve, idle};
  read.roster.build_index();
  return read;
}

std::vector<std::string> labels_of(const Disguise& made) {
  std::vector<std::string> out;
  for (const auto& [mark, label] : made.labels) {
    out.push_back(label);
  }
  return out;
}

// Identity: names become marks; whatever is computed with stays.
TEST(Disguise, TakesOutNamesAndLeavesTheNumbers) {
  Read read = two_players();
  const Disguise made = disguise(read.log, read.roster, {}, "some salt");
  ASSERT_EQ(made.players.size(), 3U);
  const Player* player = read.roster.find(made.players.at("12"));
  ASSERT_NE(player, nullptr);
  EXPECT_TRUE(player->bib.empty() && player->name.empty() && player->team.empty());
  EXPECT_EQ(player->born, Date(std::chrono::year(2014) / 10 / 2));
  EXPECT_TRUE(player->height_m && player->mass_kg);
  for (const auto& run : read.log.runs) {
    EXPECT_TRUE(made.labels.contains(read.log.name(run.player))) << read.log.name(run.player);
  }
  EXPECT_EQ(made.names.at(read.log.files.front()), "x.csv");
}

// Identity: a surface is free text, and may name the ground.
TEST(Disguise, TakesOutSurfaces) {
  Read read;
  read.log = read_run_log(
                 "# base-distance: 60 ft\ndate,player,course,surface,first\n"
                 "2026-04-11,12,home-first,old park grass,4.05\n2026-06-23,12,home-first,,4.00\n",
                 "x.csv")
                 .log;
  const Disguise made = disguise(read.log, read.roster, {}, "some salt");
  ASSERT_EQ(read.log.runs.size(), 2U);
  EXPECT_EQ(made.labels.at(read.log.name(read.log.runs[0].surface)), "ground 1");
  EXPECT_EQ(read.log.name(read.log.runs[1].surface), "");
}

// Identity: marks come in the order of the names, numbers by value: what is ordered by id stays in its order.
TEST(Disguise, MarksKeepTheOrder) {
  Read read = two_players();
  const Disguise made = disguise(read.log, read.roster, {{"BB", "AK"}, {}}, "some salt");
  EXPECT_LT(made.players.at("7"), made.players.at("12"));
  EXPECT_LT(made.players.at("12"), made.players.at("99"));
  EXPECT_LT(made.timers.at("AK"), made.timers.at("BB"));
}

// Identity: the same salt gives the same codes, another one others.
TEST(Disguise, CodesHangOnTheSalt) {
  Read a = two_players();
  Read b = two_players();
  Read c = two_players();
  const auto first = labels_of(disguise(a.log, a.roster, {}, "salt one"));
  EXPECT_EQ(first, labels_of(disguise(b.log, b.roster, {}, "salt one")));
  EXPECT_NE(first, labels_of(disguise(c.log, c.roster, {}, "salt two")));
}

// Identity: words for marks, and all else as it was.
TEST(Disguise, MarksBecomeWords) {
  Read read = two_players();
  const Disguise made = disguise(read.log, read.roster, {}, "some salt");
  const std::string text = "~ runs of " + made.players.at("7") + ", " + made.players.at("12") + "2 ~p";
  EXPECT_EQ(replace_marks(text, made.names), "~ runs of 7, 122 ~p");
  EXPECT_EQ(player_mark_at(text, 10), made.players.at("7"));
  EXPECT_EQ(player_mark_at(text, 0), "");
}

}  // namespace
}  // namespace bagsplit::runs
