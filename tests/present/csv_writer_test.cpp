#include "bagsplit/present/csv_writer.hpp"

#include <gtest/gtest.h>

#include <limits>

namespace bagsplit::present {
namespace {

// Source: RFC 4180 (2005), section 2, rules 5 to 7.
TEST(CsvWriter, QuotesWhatNeedsQuotes) {
  CsvWriter csv;
  csv.text("aaa").text("b\r\nbb").text("c,c").text("d\"d").text("").text(" e").end_row();
  EXPECT_EQ(csv.str(), "aaa,\"b\r\nbb\",\"c,c\",\"d\"\"d\",,\" e\"\n");
}

TEST(CsvWriter, AbsentIsAnEmptyField) {
  CsvWriter csv;
  csv.number(0.1).number(std::nullopt).count(3).empty().end_row();
  csv.empty().number(-0.0).end_row();
  // Identity: two rows, one comma fewer than fields.
  EXPECT_EQ(csv.take(), "0.1,,3,\n,0\n");
}

TEST(CsvWriter, WhatIsNotFiniteIsABug) {
  CsvWriter csv;
  EXPECT_THROW(csv.number(std::numeric_limits<double>::quiet_NaN()), std::domain_error);
}

}  // namespace
}  // namespace bagsplit::present
