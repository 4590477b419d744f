// Identity: a page that fetches nothing has no resources, and one that fits is no wider than its window.
#include <gtest/gtest.h>

#include <sstream>

#include "browser/pages.hpp"

namespace bagsplit::test {
namespace {

struct Look {
  int window = 0, page = 0, fetched = -1, charts = 0;
};

// The page in a frame so wide, the page itself untouched: a browser's own window has a least width above that of a
// phone.
std::string framed(const std::string& html, int width) {
  std::string escaped;
  for (const char c : html) {
    escaped += c == '&' ? "&amp;" : c == '"' ? "&quot;" : std::string(1, c);
  }
  return "<!DOCTYPE html><html><body><iframe id=\"f\" style=\"border:0;height:800px;width:" + std::to_string(width) +
         "px\" srcdoc=\"" + escaped +
         "\"></iframe><script>addEventListener('load', () => {"
         "const w = document.getElementById('f').contentWindow, d = w.document;"
         "document.documentElement.setAttribute('data-look', [w.innerWidth, d.documentElement.scrollWidth,"
         "w.performance.getEntriesByType('resource').length, d.querySelectorAll('svg').length].join(' "
         "'));});</script></body></html>";
}

Look look_at(PageFolder& folder, const std::string& html, int width) {
  write_file(folder.file("framed.html"), framed(html, width));
  const Outcome outcome = folder.browse("--hide-scrollbars --dump-dom", "framed.html");
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
  const Look look = look_at(folder,
                            "<!DOCTYPE html><html><body><div style=\"width:2000px\"><img "
                            "src=\"http://127.0.0.1:9/none.png\" /></div></body></html>",
                            360);
  EXPECT_GE(look.page, 2000);
  EXPECT_EQ(look.fetched, 1);
}

TEST(Page, NoWordOnTheConsole) {
  for (const PageCase& page : page_cases()) {
    PageFolder folder(page);
    ASSERT_TRUE(folder.made()) << page.name << ": " << folder.talk();
    const Outcome outcome = folder.browse("--dump-dom", "page.html");
    EXPECT_EQ(outcome.err.find("CONSOLE"), std::string::npos) << page.name << ": " << outcome.err;
    EXPECT_NE(outcome.out.find("This page holds"), std::string::npos) << page.name;
  }
}

TEST(Page, AWordOnTheConsoleIsFound) {
  PageFolder folder(page_cases().back());
  write_file(folder.file("loud.html"), "<html><body><script>console.error('oops')</script></body></html>");
  EXPECT_NE(folder.browse("--dump-dom", "loud.html").err.find("CONSOLE"), std::string::npos);
}

}  // namespace
}  // namespace bagsplit::test
