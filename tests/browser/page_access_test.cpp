// Source: axe-core (2024), rules of WCAG 2.1 A and AA: nothing serious, in light and in dark.
#include <gtest/gtest.h>

#include "browser/pages.hpp"

namespace bagsplit::test {
namespace {

const char* const ask =
    "axe.run().then(r => document.documentElement.setAttribute('data-found', r.passes.length + ' rules; ' +"
    "r.violations.filter(v => v.impact === 'serious' || v.impact === 'critical').map(v => v.id + ' at ' +"
    "v.nodes.slice(0, 3).map(n => n.target + ' ' + n.failureSummary).join(', ')).join('; ')));";

std::string found_in(PageFolder& folder, const std::string& html, const std::string& options) {
  write_file(folder.file("asked.html"), with_script(html, read_file(BAGSPLIT_AXE) + ";" + ask));
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

TEST(PageAccess, WhatIsWrongIsFound) {
  PageFolder folder(page_cases().back());
  EXPECT_NE(found_in(folder, "<!DOCTYPE html><html><body><img src=\"x.png\" /></body></html>", "").find("image-alt"),
            std::string::npos);
}

}  // namespace
}  // namespace bagsplit::test
