#include "bagsplit/text/csv_writer.hpp"

#include <gtest/gtest.h>

#include <limits>

namespace bagsplit::present {
namespace {

// Source: RFC 4180 (2005), section 2, rules 5 to 7.
TEST(CsvWriter, QuotesWhatNeedsQuotes) {
  text::CsvWriter csv;
  csv.text("aaa").text("b\r\nbb").text("c,c").text("d\"d").text("").text(" e").end_row();
  EXPECT_EQ(csv.str(), "aaa,\"b\r\nbb\",\"c,c\",\"d\"\"d\",,\" e\"\n");
}

TEST(CsvWriter, AbsentIsAnEmptyField) {
  text::CsvWriter csv;
  csv.number(0.1).number(std::nullopt).count(3).empty().end_row();
  csv.empty().number(-0.0).end_row();
  // Identity: two rows, one comma fewer than fields.
  EXPECT_EQ(csv.take(), "0.1,,3,\n,0\n");
}

TEST(CsvWriter, WhatIsNotFiniteIsABug) {
  text::CsvWriter csv;
  EXPECT_THROW(csv.number(std::numeric_limits<double>::quiet_NaN()), std::domain_error);
}

}  // namespace
// Computed: by hand. Texts stay what they are, whatever they look like.
TEST(CsvWriter, SixDigitsAreEnoughAndTextsAreNoNumbers) {
  text::CsvWriter csv;
  csv.number(0.24351234567).number(-1234.56789).number(1e-5 / 3.0).number(20260411.0).text("3.1").text("12").end_row();
  EXPECT_EQ(csv.str(), "0.243512,-1234.57,3.33333e-06,20260400,\"3.1\",12\n");
}

// Source: RFC 4180 (2005) for the quotes. Common practice, no source: a text that a spreadsheet would work out stands
// behind an apostrophe; a number is one and stays.
TEST(CsvWriter, NoTextIsAFormula) {
  text::CsvWriter csv;
  csv.text("=1+1").text("+x").text("-a,b").text("@sum(a1)").text("\t=1").text("\r=1").text("'=1").end_row();
  csv.text("-5").text("+3.5").text("1-2").text("a=b").text("-").text("-inf").number(-2.5).end_row();
  EXPECT_EQ(csv.str(),
            "'=1+1,'+x,\"'-a,b\",'@sum(a1),'\t=1,\"'\r=1\",''=1\n"
            "-5,+3.5,1-2,a=b,'-,'-inf,-2.5\n");
}

// Identity: the same fields, separated and pointed as the spreadsheet wants them.
TEST(CsvWriter, SemicolonsComeWithDecimalCommas) {
  text::CsvWriter csv;
  csv.text("a,b")
      .text("x;y")
      .text("say \"1.5, 2\"")
      .number(0.25)
      .text("3.1")
      .empty()
      .number(-2.5e-7)
      .count(7)
      .end_row();
  csv.text("2026-04-11").number(4.0).text("v1.2").text("z\n1.5").number(1.5).end_row();
  EXPECT_EQ(text::with_semicolons(csv.str()),
            "\"a,b\";\"x;y\";\"say \"\"1.5, 2\"\"\";0,25;\"3.1\";;-2,5e-07;7\n"
            "2026-04-11;4;v1.2;\"z\n1.5\";1,5\n");
  EXPECT_EQ(text::with_semicolons(""), "");
  EXPECT_EQ(text::with_semicolons("a,\"b,1.5"), "a;\"b,1.5");  // never closed
}

}  // namespace bagsplit::present
