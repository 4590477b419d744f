// Identity: a page that fetches nothing has no resources, and one that fits is no wider than its window.
#include <gtest/gtest.h>

#include <sstream>

#include "browser/pages.hpp"

namespace bagsplit::test {
namespace {

const char* const measure =
    "document.documentElement.setAttribute('data-look', [innerWidth, document.documentElement.scrollWidth,"
    "performance.getEntriesByType('resource').length, document.querySelectorAll('svg').length].join(' '));";

struct Look {
  int window = 0, page = 0, fetched = -1, charts = 0;
};

Look look_at(PageFolder& folder, const std::string& html, int width) {
  write_file(folder.file("measured.html"), with_script(html, measure));
  const Outcome outcome = folder.browse("--window-size=" + std::to_string(width) + ",900 --dump-dom", "measured.html");
  Look look;
  std::istringstream(left_in(outcome.out, "data-look")) >> look.window >> look.page >> look.fetched >> look.charts;
  return look;
}

TEST(Page, NoScrollingSidewaysAndNothingFetched) {
  for (const PageCase& page : page_cases()) {
    PageFolder folder(page);
    ASSERT_TRUE(folder.made()) << page.name << ": " << folder.talk();
    for (const int width : {360, 800, 1280}) {
      const Look look = look_at(folder, folder.html(), width);
      EXPECT_EQ(look.window, width) << page.name;
      EXPECT_LE(look.page, width) << page.name;
      EXPECT_EQ(look.fetched, 0) << page.name;
    }
  }
}

// The measure itself: a page that fetches and is too wide is found out.
TEST(Page, AWidePageThatFetchesIsFound) {
  PageFolder folder(page_cases().back());
  const Look look = look_at(folder, "<!DOCTYPE html><html><body><div style=\"width:2000px\"><img src=\"none.png\" /></div></body></html>", 360);
  EXPECT_GE(look.page, 2000);
  EXPECT_EQ(look.fetched, 1);
}

TEST(Page, NoWordOnTheConsole) {
  for (const PageCase& page : page_cases()) {
    PageFolder folder(page);
    ASSERT_TRUE(folder.made()) << page.name << ": " << folder.talk();
    const Outcome outcome = folder.browse("--dump-dom", "page.html");
    EXPECT_EQ(outcome.err.find("CONSOLE"), std::string::npos) << page.name << ": " << outcome.err;
    EXPECT_NE(outcome.out.find("What this page holds"), std::string::npos) << page.name;
  }
}

TEST(Page, AWordOnTheConsoleIsFound) {
  PageFolder folder(page_cases().back());
  write_file(folder.file("loud.html"), "<html><body><script>console.error('oops')</script></body></html>");
  EXPECT_NE(folder.browse("--dump-dom", "loud.html").err.find("CONSOLE"), std::string::npos);
}

}  // namespace
}  // namespace bagsplit::test
