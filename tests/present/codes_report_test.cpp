#include "bagsplit/present/codes_report.hpp"

#include <gtest/gtest.h>

#include <nlohmann/json.hpp>

#include "bagsplit/text/problem_codes.hpp"

namespace bagsplit::present {
namespace {

// Identity: every code of the table once, in each form.
TEST(CodesReport, EveryCodeIsThereOnce) {
  const std::string text = codes_text({.width = 1000});
  const auto json = nlohmann::json::parse(codes_json());
  EXPECT_EQ(json.at("schema"), "bagsplit.check-codes/1");
  ASSERT_EQ(json.at("codes").size(), text::problem_codes().size());
  for (std::size_t i = 0; i < text::problem_codes().size(); ++i) {
    const text::ProblemCode& code = text::problem_codes()[i];
    EXPECT_EQ(json.at("codes").at(i).at("code"), code.code);
    const std::string entry = "- " + std::string(code.code) + " (";
    ASSERT_NE(text.find(entry), std::string::npos) << entry;
    EXPECT_EQ(text.find(entry), text.rfind(entry)) << entry;
    EXPECT_NE(codes_csv().find("\n" + std::string(code.code) + ","), std::string::npos);
  }
}

}  // namespace
}  // namespace bagsplit::present
