// Identity: what is put in as text comes out as text, whatever stands in it.
#include "bagsplit/text/markup.hpp"

#include <gtest/gtest.h>

#include "support/xml_check.hpp"

namespace bagsplit::present {
namespace {

// Source: W3C (2008), Extensible Markup Language 1.0, fifth edition, section 2.4: & and < must be escaped, quotes in
// attribute values.
TEST(Markup, EscapesTextAndAttributes) {
  const text::Markup made = text::element("p", {{"title", "a\"b'c<d>&e"}}, "<script>alert('x') & \"y\"</script>");
  EXPECT_EQ(made.str(),
            "<p title=\"a&quot;b&#39;c&lt;d&gt;&amp;e\">&lt;script&gt;alert(&#39;x&#39;) &amp; "
            "&quot;y&quot;&lt;/script&gt;</p>");
  EXPECT_EQ(test::look_at_markup(made.str()).fault, "");
}

// Source: W3C (2008), Extensible Markup Language 1.0, production 2: control characters, U+FFFE and U+FFFF are no
// characters.
TEST(Markup, LeavesNothingThatIsNoCharacter) {
  const text::Markup made = text::Markup("a\x01z\xFF \xEF\xBF\xBE\xEF\xBF\xBF\x7F");
  EXPECT_EQ(made.str(), "a\xEF\xBF\xBDz\xEF\xBF\xBD \xEF\xBF\xBD\xEF\xBF\xBD\xEF\xBF\xBD");
}

TEST(Markup, KeepsEmojiAndIsolatesDirections) {
  EXPECT_EQ(text::isolated("\xF0\x9F\x98\x80 \xD7\xA9\xD7\x9C").str(), "<bdi>\xF0\x9F\x98\x80 \xD7\xA9\xD7\x9C</bdi>");
  // An override of the direction of writing (U+202E) is made visible, not obeyed.
  EXPECT_EQ(text::Markup("12\xE2\x80\xAE"
                         "ab")
                .str(),
            "12\xEF\xBF\xBD"
            "ab");
}

// Source: WHATWG HTML living standard (2024), section 13.1.2: void elements have no end tag; other elements need
// theirs.
TEST(Markup, EmptyElementsReadTheSameAsHtmlAndAsXml) {
  EXPECT_EQ(text::element("br", {}).str(), "<br/>");
  EXPECT_EQ(text::element("td", {}).str(), "<td></td>");
  EXPECT_EQ(text::element("line", {{"x1", 0.0}, {"y1", 12.25}, {"class", ""}}).str(), "<line x1=\"0\" y1=\"12.2\"/>");
}

}  // namespace
}  // namespace bagsplit::present
