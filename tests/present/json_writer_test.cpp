#include "bagsplit/text/json_writer.hpp"

#include <gtest/gtest.h>

#include <limits>
#include <nlohmann/json.hpp>

namespace bagsplit::present {
namespace {

TEST(JsonWriter, LaysOutBlocksAndLines) {
  text::JsonWriter json;
  json.begin_object().member("schema", "x/1").key("list").begin_array();
  json.begin_object(text::JsonWriter::Layout::line).member("a", 1.5).member("b", std::optional<double>()).end_object();
  json.begin_array().end_array().end_array().member("n", std::uint64_t{3}).member("ok", true).end_object();
  EXPECT_EQ(json.take(),
            "{\n  \"schema\": \"x/1\",\n  \"list\": [\n    {\"a\": 1.5, \"b\": null},\n    []\n  ],\n  \"n\": 3,\n  "
            "\"ok\": true\n}\n");
}

// Computed: nlohmann_json 3.11.2 reads back the same texts, this test.
TEST(JsonWriter, AnyTextComesBack) {
  std::string every_byte;
  for (int c = 1; c < 128; ++c) {
    every_byte += static_cast<char>(c);
  }
  for (const std::string& text :
       {every_byte, std::string("Zo\xC3\xAB \xF0\x9F\x8F\x83 \xE2\x80\xA8"), std::string(1, '\0')}) {
    text::JsonWriter json;
    json.begin_array().text(text).end_array();
    EXPECT_EQ(nlohmann::json::parse(json.take()).at(0).get<std::string>(), text);
  }
}

TEST(JsonWriter, BytesThatAreNotUtf8BecomeTheReplacementCharacter) {
  text::JsonWriter json;
  json.begin_object().member("na\xFFme", std::string("\xC3(\xE5\xB1")).end_object();
  const auto value = nlohmann::json::parse(json.take());
  EXPECT_EQ(value.at("na\xEF\xBF\xBDme").get<std::string>(), "\xEF\xBF\xBD(\xEF\xBF\xBD\xEF\xBF\xBD");
}

TEST(JsonWriter, NaNIsABugAndNotNull) {
  text::JsonWriter json;
  json.begin_array();
  EXPECT_THROW(json.number(std::numeric_limits<double>::quiet_NaN()), std::domain_error);
  EXPECT_THROW(json.number(std::optional<double>(std::numeric_limits<double>::infinity())), std::domain_error);
}

TEST(JsonWriter, ANameUsedTwiceIsABug) {
  text::JsonWriter json;
  json.begin_object().member("a", 1.0).key("in").begin_object().member("a", 1.0).end_object();
  EXPECT_THROW(json.key("a"), std::logic_error);
}

TEST(JsonWriter, BrokenNestingIsABug) {
  EXPECT_THROW(text::JsonWriter().begin_object().text("x"), std::logic_error);
  EXPECT_THROW(text::JsonWriter().begin_object().end_array(), std::logic_error);
  EXPECT_THROW(text::JsonWriter().begin_array().key("x"), std::logic_error);
  EXPECT_THROW(text::JsonWriter().begin_object().key("x").end_object(), std::logic_error);
  EXPECT_THROW(text::JsonWriter().begin_array().take(), std::logic_error);
  EXPECT_THROW(text::JsonWriter().null().null(), std::logic_error);
}

// Identity: numbers come back with the same bits.
TEST(JsonWriter, NumbersKeepEveryDigit) {
  for (const double value : {0.1, 1.0 / 3.0, 1e-300, 123456789.123456789, -2.5e20, 4.0}) {
    text::JsonWriter json;
    json.begin_array().number(value).end_array();
    EXPECT_EQ(nlohmann::json::parse(json.take()).at(0).get<double>(), value);
  }
}

}  // namespace
}  // namespace bagsplit::present
