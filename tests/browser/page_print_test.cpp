// Identity: each child takes one sheet, on A4 as on Letter.
#include <gtest/gtest.h>

#include "browser/pages.hpp"

namespace bagsplit::test {
namespace {

int sheets(PageFolder& folder, const std::string& size) {
  std::string html = folder.html();
  html.insert(html.find("</style>"), "@page { size: " + size + " }");
  write_file(folder.file("sized.html"), html);
  folder.browse("--no-pdf-header-footer --print-to-pdf=page.pdf", "sized.html");
  const std::string info = folder.run(std::string(BAGSPLIT_PDFINFO) + " page.pdf").out;
  const std::size_t at = info.find("Pages:");
  return at == std::string::npos ? -1 : std::stoi(info.substr(at + 6));
}

TEST(PagePrint, EachChildTakesOneSheet) {
  for (const char* size : {"A4", "letter"}) {
    PageFolder three({"players", "bagsplit report data/demo --player 12 --player 31 --player 40 -o page.html"});
    ASSERT_TRUE(three.made()) << three.talk();
    EXPECT_EQ(sheets(three, size), 3) << size;
    PageFolder squad({"squad", "bagsplit report data/demo -o page.html"});
    PageFolder each({"each", "bagsplit report data/demo --each -o page.html"});
    EXPECT_EQ(sheets(each, size), sheets(squad, size) + 14) << size;
  }
}

}  // namespace
}  // namespace bagsplit::test
