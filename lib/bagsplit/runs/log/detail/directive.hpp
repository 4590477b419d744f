#pragma once

#include <string_view>

#include "bagsplit/text/csv.hpp"

/// Inside the reader: lines `# key: value` above a header.
namespace bagsplit::runs::detail {

/// Where key and value lie in such a line. It is a directive when the key is one word with a colon after it; else a
/// remark, whose first word is `key`. Padding and quotes that spreadsheets put around such a line are left out.
struct Directive {
  bool is_directive = false;
  text::ByteRange key;
  text::ByteRange value;
};
Directive split_directive(std::string_view line);

}  // namespace bagsplit::runs::detail
