#include "bagsplit/text/csv.hpp"

#include <gtest/gtest.h>

#include <random>
#include <string>
#include <vector>

namespace {

namespace text = bagsplit::text;
using Rows = std::vector<std::vector<std::string>>;

Rows rows_of(std::string_view text, char delimiter = ',') {
  text::CsvReader reader(text);
  reader.set_delimiter(delimiter);
  text::CsvRecord record;
  Rows rows;
  while (reader.next(record)) {
    EXPECT_EQ(record.fault, text::CsvFault::none) << text;
    rows.emplace_back(reader.fields().begin(), reader.fields().end());
  }
  return rows;
}

struct Fault {
  text::CsvFault kind;
  std::size_t line;
  std::size_t at;
  bool operator==(const Fault&) const = default;
};

std::vector<Fault> faults_of(std::string_view text, const text::CsvLimits& limits = {}) {
  text::CsvReader reader(text, limits);
  text::CsvRecord record;
  std::vector<Fault> faults;
  while (reader.next(record)) {
    if (record.fault != text::CsvFault::none) {
      faults.push_back({record.fault, record.line, record.fault_at});
    }
  }
  return faults;
}

// Source: RFC 4180 (2005), section 2, the examples of rules 1, 2, 5, 6 and 7.
TEST(Csv, TheExamplesOfTheStandardAreRead) {
  EXPECT_EQ(rows_of("aaa,bbb,ccc\r\nzzz,yyy,xxx\r\n"), (Rows{{"aaa", "bbb", "ccc"}, {"zzz", "yyy", "xxx"}}));
  EXPECT_EQ(rows_of("aaa,bbb,ccc\r\nzzz,yyy,xxx"), (Rows{{"aaa", "bbb", "ccc"}, {"zzz", "yyy", "xxx"}}));
  EXPECT_EQ(rows_of("\"aaa\",\"bbb\",\"ccc\"\r\nzzz,yyy,xxx"), (Rows{{"aaa", "bbb", "ccc"}, {"zzz", "yyy", "xxx"}}));
  EXPECT_EQ(rows_of("\"aaa\",\"b\r\nbb\",\"ccc\"\r\nzzz,yyy,xxx"),
            (Rows{{"aaa", "b\r\nbb", "ccc"}, {"zzz", "yyy", "xxx"}}));
  EXPECT_EQ(rows_of("\"aaa\",\"b\"\"bb\",\"ccc\""), (Rows{{"aaa", "b\"bb", "ccc"}}));
}

// Identity: the same table, whatever ends its lines and parts its fields.
TEST(Csv, LineEndsAndDelimitersDoNotMatter) {
  const Rows table{{"a", "", "c"}, {"", "", ""}, {"1", "2", "a longer field than eight bytes"}};
  for (const char* end : {"\n", "\r\n", "\r"}) {
    for (const char delimiter : {',', ';', '\t'}) {
      for (const bool last : {true, false}) {
        std::string text;
        for (std::size_t r = 0; r < table.size(); ++r) {
          for (std::size_t k = 0; k < 3; ++k) {
            text += (k > 0 ? std::string(1, delimiter) : "") + table[r][k];
          }
          text += r + 1 < table.size() || last ? end : "";
        }
        EXPECT_EQ(rows_of(text, delimiter), table);
        EXPECT_EQ(rows_of("\xEF\xBB\xBF" + text, delimiter), table);
      }
    }
  }
}

TEST(Csv, EmptyTextsHaveNoRecords) {
  EXPECT_TRUE(rows_of("").empty());
  EXPECT_TRUE(rows_of("\xEF\xBB\xBF").empty());
  EXPECT_EQ(rows_of("\n"), (Rows{{""}}));
  EXPECT_EQ(rows_of(","), (Rows{{"", ""}}));
  EXPECT_EQ(rows_of("\"\""), (Rows{{""}}));
}

// Identity: what is written is read back, whatever it holds.
TEST(Csv, WrittenFieldsAreReadBack) {
  std::mt19937_64 random(20260411);
  constexpr std::string_view letters = "ab,;\t\"\n\r #'.0=-+@\xC3\xAB";
  for (int round = 0; round < 2000; ++round) {
    const char delimiter = std::string_view(",;\t")[random() % 3];
    Rows table(1 + random() % 4);
    std::string text;
    for (auto& row : table) {
      row.resize(2 + random() % 3);
      for (std::size_t k = 0; k < row.size(); ++k) {
        for (std::size_t n = random() % 6; n > 0; --n) {
          const std::size_t c = random() % (letters.size() - 1);
          row[k] += c + 2 < letters.size() ? std::string(1, letters[c]) : std::string("\xC3\xAB");
        }
        text += k > 0 ? std::string(1, delimiter) : "";
        text::append_csv_field(text, row[k], delimiter);
      }
      text += '\n';
    }
    EXPECT_EQ(rows_of(text, delimiter), table) << text;
  }
}

// Identity: a bad line does not take the lines below it with it.
TEST(Csv, EachFaultIsNamedWithItsPlaceAndReadingGoesOn) {
  EXPECT_EQ(faults_of("a,\"b\nc,d\n"), (std::vector<Fault>{{text::CsvFault::unclosed_quote, 1, 2}}));
  EXPECT_EQ(faults_of("a,\"b\nc,\"d\"\ne,f\"\n"),
            (std::vector<Fault>{{text::CsvFault::unclosed_quote, 1, 2}, {text::CsvFault::stray_quote, 3, 3}}));
  EXPECT_EQ(faults_of("a,5\" long\nb,\"c\"d\n"),
            (std::vector<Fault>{{text::CsvFault::stray_quote, 1, 3}, {text::CsvFault::stray_quote, 2, 4}}));
  EXPECT_EQ(faults_of(std::string("a,b\nc,\0d\n", 9)), (std::vector<Fault>{{text::CsvFault::nul_byte, 2, 2}}));
  EXPECT_EQ(faults_of("a,b\nZo\xEB,d\n"), (std::vector<Fault>{{text::CsvFault::not_utf8, 2, 2}}));
  EXPECT_EQ(faults_of("a\n" + std::string(70'000, 'x') + "\nb\n"),
            (std::vector<Fault>{{text::CsvFault::too_long, 2, 65'536}}));
  EXPECT_EQ(faults_of("a\n" + std::string(1'000, ',') + "\nb\n"),
            (std::vector<Fault>{{text::CsvFault::too_many_columns, 2, 1'000}}));
  EXPECT_EQ(faults_of("a\n\"" + std::string(1'000, ',') + "\"" + std::string(1'000, ',') + "\nb\n").size(), 1U);
  EXPECT_EQ(faults_of("\"" + std::string(70'000, '\n') + "\"").front().kind, text::CsvFault::unclosed_quote);
}

TEST(Csv, LinesAreCountedAsAnEditorDoes) {
  text::CsvReader reader("a\r\n\"b\nc\r\nd\"\r\ne\n");
  text::CsvRecord record;
  std::vector<std::size_t> lines;
  while (reader.next(record)) {
    lines.push_back(record.line);
  }
  EXPECT_EQ(lines, (std::vector<std::size_t>{1, 2, 5}));
}

TEST(Csv, TheDelimiterIsWhatPartsTheHeader) {
  EXPECT_EQ(text::detect_delimiter("date,player,first"), ',');
  EXPECT_EQ(text::detect_delimiter("date;player;first"), ';');
  EXPECT_EQ(text::detect_delimiter("date\tplayer\tfirst"), '\t');
  EXPECT_EQ(text::detect_delimiter("\"a,b,c,d\";player;first"), ';');
  EXPECT_EQ(text::detect_delimiter("player"), ',');
}

TEST(Csv, FieldsAreFoundForPointingAtThem) {
  const std::string_view record = "a, b ,\"c,d\",";
  const auto ranges = text::field_ranges(record, ',');
  ASSERT_EQ(ranges.size(), 4U);
  const auto text = [&](std::size_t k) { return record.substr(ranges[k].begin, ranges[k].end - ranges[k].begin); };
  EXPECT_EQ(text(1), "b");
  EXPECT_EQ(text(2), "\"c,d\"");
  EXPECT_EQ(text(3), "");
}

}  // namespace
