// Source: W3C (2008), Extensible Markup Language 1.0, fifth edition: a page that is well-formed XML leaves an HTML
// parser nothing to mend.
#include <gtest/gtest.h>

#include "browser/pages.hpp"

namespace bagsplit::test {
namespace {

TEST(PageParser, EachPageIsWellFormed) {
  for (const PageCase& page : page_cases()) {
    PageFolder folder(page);
    ASSERT_TRUE(folder.made()) << page.name << ": " << folder.talk();
    const Outcome outcome = folder.run(std::string(BAGSPLIT_XMLLINT) + " --noout page.html");
    EXPECT_EQ(outcome.exit_code, 0) << page.name << ": " << outcome.err;
  }
}

TEST(PageParser, ABrokenPageIsFound) {
  PageFolder folder(page_cases().back());
  write_file(folder.file("broken.html"), "<html><p>a & b</html>");
  EXPECT_NE(folder.run(std::string(BAGSPLIT_XMLLINT) + " --noout broken.html").exit_code, 0);
}

}  // namespace
}  // namespace bagsplit::test
