// Identity: each child takes one sheet, on A4 as on Letter, with places as without.
// Common practice, no source: 7 pt is about the smallest print that a grown-up reads at arm's length.
#include <gtest/gtest.h>

#include <regex>

#include "browser/pages.hpp"

namespace bagsplit::test {
namespace {

constexpr int zoom = 3;  // of pdftohtml, whose sizes are whole numbers of 1/zoom pt

int sheets(PageFolder& folder, const std::string& size) {
  std::string html = folder.html();
  html.insert(html.find("</style>"), "@page { size: " + size + " }");
  write_file(folder.file("sized.html"), html);
  folder.browse("--no-pdf-header-footer --print-to-pdf=page.pdf", "sized.html");
  const std::string info = folder.run(std::string(BAGSPLIT_PDFINFO) + " page.pdf").out;
  const std::size_t at = info.find("Pages:");
  return at == std::string::npos ? -1 : std::stoi(info.substr(at + 6));
}

// The smallest letters of the sheets printed last, in pt; 0 where none were found.
double smallest_text_pt(PageFolder& folder) {
  const std::string told = folder.run("pdftohtml -xml -stdout -i -zoom " + std::to_string(zoom) + " page.pdf").out;
  const std::regex font("<fontspec [^>]*size=\"([0-9]+)\"");
  int smallest = 0;
  for (std::sregex_iterator at(told.begin(), told.end(), font), end; at != end; ++at) {
    const int size = std::stoi((*at)[1]);
    smallest = smallest == 0 ? size : std::min(smallest, size);
  }
  return static_cast<double>(smallest) / zoom;
}

TEST(PagePrint, EachChildTakesOneSheet) {
  for (const char* size : {"A4", "letter"}) {
    PageFolder three({"players", "bagsplit report data/demo --player 12 --player 31 --player 40 -o page.html"});
    ASSERT_TRUE(three.made()) << three.talk();
    EXPECT_EQ(sheets(three, size), 3) << size;
    EXPECT_GE(smallest_text_pt(three), 7.0) << size;
    for (const std::string places : {"", " --places"}) {
      PageFolder squad({"squad", ("bagsplit report data/demo -o page.html" + places).c_str()});
      PageFolder each({"each", ("bagsplit report data/demo --each -o page.html" + places).c_str()});
      EXPECT_EQ(sheets(each, size), sheets(squad, size) + 14) << size << places;
      EXPECT_GE(smallest_text_pt(each), 7.0) << size << places;
    }
  }
}

}  // namespace
}  // namespace bagsplit::test
