#pragma once

#include <gtest/gtest.h>

#include <nlohmann/json.hpp>
#include <set>
#include <string>

#include "bagsplit/present/page/report.hpp"
#include "support/xml_check.hpp"

/// A page as a parser sees it, and its numbers beside those for programs.
namespace bagsplit::present {

inline void collect_numbers(const nlohmann::json& json, std::set<double>& numbers) {
  if (json.is_number()) {
    numbers.insert(json.get<double>());
  }
  for (const auto& part : json.is_structured() ? json : nlohmann::json::array()) {
    collect_numbers(part, numbers);
  }
}

inline test::MarkupLook sound_page(const std::string& html) {
  test::MarkupLook look = test::look_at_markup(std::string_view(html).substr(0, html.size() - 1));
  EXPECT_EQ(look.fault, "") << html.substr(0, 2000);
  EXPECT_EQ(look.text.find("nan"), std::string::npos);
  return look;
}

/// Every number of a table stands in the JSON of the same page, all digits of it.  @return how many.
inline std::size_t expect_numbers_of_json(const Report& report, const norms::Catalogue& references) {
  std::set<double> numbers;
  collect_numbers(nlohmann::json::parse(report_json(report)), numbers);
  const test::MarkupLook look = sound_page(report_html(report, references));
  for (const std::string& value : look.values) {
    EXPECT_TRUE(numbers.contains(std::stod(value))) << value;
  }
  return look.values.size();
}

}  // namespace bagsplit::present
