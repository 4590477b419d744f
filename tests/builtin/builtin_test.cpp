// Identity: what is embedded is what lies in data/, byte for byte.
#include "bagsplit/builtin/builtin.hpp"

#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>
#include <sstream>
#include <string>

namespace {

TEST(Builtin, EachEmbeddedFileEqualsTheFileInData) {
  for (const auto& file : bagsplit::builtin::files()) {
    std::ifstream in(std::filesystem::path(BAGSPLIT_DATA_DIR) / file.name, std::ios::binary);
    ASSERT_TRUE(in) << file.name;
    std::ostringstream body;
    body << in.rdbuf();
    EXPECT_EQ(body.str(), file.text) << file.name;
  }
}

TEST(Builtin, AnUnknownNameGivesNothing) {
  EXPECT_FALSE(bagsplit::builtin::text("norms/no-such-file.csv"));
}

}  // namespace
