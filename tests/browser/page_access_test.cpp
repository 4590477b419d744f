// Source: axe-core (2024), rules of WCAG 2.1 A and AA: nothing serious, in light and in dark; on a sheet nothing at
// all.
#include <gtest/gtest.h>

#include "browser/pages.hpp"

namespace bagsplit::test {
namespace {

// @param least  impacts that count, as a condition on a violation v.
std::string ask(const std::string& least) {
  return "axe.run().then(r => document.documentElement.setAttribute('data-found', r.passes.length + ' rules; ' +"
         "r.violations.filter(v => " +
         least +
         ").map(v => v.id + ' at ' +"
         "v.nodes.slice(0, 3).map(n => n.target + ' ' + n.failureSummary).join(', ')).join('; ')));";
}

const char* const serious = "v.impact === 'serious' || v.impact === 'critical'";

std::string found_in(PageFolder& folder, const std::string& html, const std::string& options,
                     const std::string& least = serious) {
  write_file(folder.file("asked.html"), with_script(html, read_file(BAGSPLIT_AXE) + ";" + ask(least)));
  const Outcome outcome = folder.browse(options + " --virtual-time-budget=60000 --dump-dom", "asked.html");
  return left_in(outcome.out, "data-found");
}

TEST(PageAccess, NothingSeriousIsFound) {
  for (const PageCase& page : page_cases()) {
    PageFolder folder(page);
    ASSERT_TRUE(folder.made()) << page.name << ": " << folder.talk();
    for (const char* scheme : {"", "--blink-settings=preferredColorScheme=0"}) {
      const std::string found = found_in(folder, folder.html(), scheme);
      EXPECT_TRUE(found.ends_with(" rules; ")) << page.name << " " << scheme << ": " << found;
      EXPECT_GT(std::atoi(found.c_str()), 10) << page.name;
    }
  }
}

TEST(PageAccess, NothingIsFoundOnASheet) {
  const std::vector<PageCase> sheets{
      {"sheet",
       "bagsplit sheet --roster data/demo/roster.csv --course circuit --names --watches 2 --absent 7 --rounds 2 -o "
       "page.html"},
      {"relay",
       "bagsplit sheet --roster data/demo/roster.csv --course home-second --relay red=12,7 --relay blue=14,3 -o "
       "page.html"},
      {"drill", "bagsplit sheet --roster data/demo/roster.csv --drill rise-and-run --format html -o page.html"},
  };
  for (const PageCase& page : sheets) {
    PageFolder folder(page);
    ASSERT_TRUE(folder.made()) << page.name << ": " << folder.talk();
    const std::string found = found_in(folder, folder.html(), "", "true");
    EXPECT_TRUE(found.ends_with(" rules; ")) << page.name << ": " << found;
    EXPECT_GT(std::atoi(found.c_str()), 10) << page.name;
  }
}

TEST(PageAccess, WhatIsWrongIsFound) {
  PageFolder folder(page_cases().back());
  EXPECT_NE(found_in(folder, "<!DOCTYPE html><html><body><img src=\"x.png\" /></body></html>", "").find("image-alt"),
            std::string::npos);
}

}  // namespace
}  // namespace bagsplit::test
