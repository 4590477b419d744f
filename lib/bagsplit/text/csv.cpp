#include "bagsplit/text/csv.hpp"

#include <algorithm>
#include <bit>
#include <cstring>

#include "bagsplit/text/eight_bytes.hpp"
#include "bagsplit/text/text.hpp"
#include "bagsplit/text/wording.hpp"

namespace bagsplit::text {

namespace {

std::size_t find_byte(std::string_view text, char byte, std::size_t from = 0) {
  const std::size_t left = text.size() - std::min(from, text.size());
  const void* found = left == 0 ? nullptr : std::memchr(text.data() + from, byte, left);
  return found == nullptr ? std::string_view::npos
                          : static_cast<std::size_t>(static_cast<const char*>(found) - text.data());
}

std::size_t count_byte(std::string_view text, char byte) {
  constexpr std::size_t most_words = 255;  // so many ones a byte can sum
  std::size_t count = 0;
  std::size_t k = 0;
  while (k + 8 <= text.size()) {
    std::uint64_t sums = 0;  // one in each byte
    for (const std::size_t end = std::min(k + 8 * most_words, text.size() - 7); k < end; k += 8) {
      sums += detail::zero_bytes(detail::load<std::uint64_t>(text.data() + k) ^ detail::eight_of(byte)) >> 7U;
    }
    constexpr std::uint64_t every_other = 0x00FF00FF00FF00FFULL;
    const std::uint64_t pairs = (sums & every_other) + ((sums >> 8U) & every_other);
    count += static_cast<std::size_t>((pairs * 0x0001000100010001ULL) >> 48U);
  }
  return count + static_cast<std::size_t>(std::count(text.begin() + static_cast<std::ptrdiff_t>(k), text.end(), byte));
}

bool is_ascii(std::string_view text) {
  std::uint64_t all = 0;
  std::size_t k = 0;
  for (; k + 8 <= text.size(); k += 8) {
    all |= detail::load<std::uint64_t>(text.data() + k);
  }
  for (; k < text.size(); ++k) {
    all |= static_cast<unsigned char>(text[k]);
  }
  return (all & detail::eight_of(static_cast<char>(0x80))) == 0;
}

}  // namespace

CsvReader::CsvReader(std::string_view text, const CsvLimits& limits)
    : text_(text.substr(0, limits.max_file_bytes)), limits_(limits) {
  at_ = text_.starts_with(byte_order_mark) ? byte_order_mark.size() : 0;
  // Piece by piece, each of which stays in the nearest cache until it is looked through for everything.
  constexpr std::size_t piece_bytes = 16'384;
  bool ascii = true;
  bool has_cr = false;
  const auto has = [](std::string_view piece, char byte) { return find_byte(piece, byte) != std::string_view::npos; };
  for (std::size_t from = 0; from < text_.size(); from += piece_bytes) {
    const std::string_view piece = text_.substr(from, piece_bytes);
    has_quotes_ = has_quotes_ || has(piece, '"');
    has_apostrophes_ = has_apostrophes_ || has(piece, '\'');
    has_cr = has_cr || has(piece, '\r');
    clean_ = clean_ && !has(piece, '\0');
    ascii = ascii && is_ascii(piece);
  }
  clean_ = clean_ && (ascii || first_invalid_utf8(text_) == std::string_view::npos);
  for (std::size_t cr = has_cr ? find_byte(text_, '\r') : std::string_view::npos; cr != std::string_view::npos;
       cr = find_byte(text_, '\r', cr + 1)) {
    if (cr + 1 == text_.size() || text_[cr + 1] != '\n') {
      has_lone_cr_ = true;
      break;
    }
  }
  fields_.reserve(64);
}

std::size_t CsvReader::line_end(std::size_t from) const {
  if (has_lone_cr_) {
    return std::min(text_.find_first_of("\r\n", from), text_.size());
  }
  const std::size_t lf = find_byte(text_, '\n', from);
  if (lf == std::string_view::npos) {
    return text_.size();
  }
  return lf > from && text_[lf - 1] == '\r' ? lf - 1 : lf;
}

std::size_t CsvReader::after_line_end(std::size_t at) const {
  if (at < text_.size() && text_[at] == '\r') {
    ++at;
    return at < text_.size() && text_[at] == '\n' ? at + 1 : at;
  }
  return std::min(at + 1, text_.size());
}

bool CsvReader::check_bytes(CsvRecord& record) const {
  if (clean_) {
    return true;
  }
  if (const std::size_t nul = find_byte(record.text, '\0'); nul != std::string_view::npos) {
    record.fault = CsvFault::nul_byte;
    record.fault_at = nul;
    return false;
  }
  if (const std::size_t bad = first_invalid_utf8(record.text); bad != std::string_view::npos) {
    record.fault = CsvFault::not_utf8;
    record.fault_at = bad;
    return false;
  }
  return true;
}

bool CsvReader::next_line(CsvRecord& line) {
  if (at_ >= text_.size()) {
    return false;
  }
  const std::size_t end = line_end(at_);
  line = {text_.substr(at_, end - at_), at_, line_, CsvFault::none, 0};
  if (line.text.size() > limits_.max_record_bytes) {
    line.fault = CsvFault::too_long;
    line.fault_at = limits_.max_record_bytes;
  } else {
    check_bytes(line);
  }
  at_ = after_line_end(end);
  ++line_;
  return true;
}

void CsvReader::seek(std::size_t offset, std::size_t line) {
  at_ = offset;
  line_ = line;
}

std::size_t CsvReader::lines_left() const {
  const std::string_view rest = text_.substr(std::min(at_, text_.size()));
  return count_byte(rest, has_lone_cr_ ? '\r' : '\n') + 1;
}

// Eight bytes at a time: fields are short, so a call or a mispredicted branch for each would cost more than the scan.
bool CsvReader::split_plain(std::string_view record) {
  fields_.clear();
  const std::uint64_t pattern = detail::eight_of(delimiter_);
  const char* const begin = record.data();
  const std::size_t size = record.size();
  std::size_t from = 0;
  const auto end_field = [&](std::size_t at) {
    fields_.emplace_back(begin + from, at - from);
    from = at + 1;
  };
  std::size_t i = 0;
  for (; i + 8 <= size; i += 8) {
    for (std::uint64_t hits = detail::zero_bytes(detail::load<std::uint64_t>(begin + i) ^ pattern); hits != 0;
         hits &= hits - 1) {
      end_field(i + static_cast<std::size_t>(std::countr_zero(hits)) / 8);
    }
  }
  for (; i < size; ++i) {
    if (begin[i] == delimiter_) {
      end_field(i);
    }
  }
  fields_.emplace_back(begin + from, size - from);
  return fields_.size() <= limits_.max_columns;
}

// Splits the record at the start of record.text, which reaches as far as a record may. Returns its length; after a
// fault, that of its first line, so that one bad quote does not swallow the lines below it.
std::size_t CsvReader::split_quoted(CsvRecord& record) {
  const std::string_view all = record.text;
  fields_.clear();
  unquoted_.clear();
  unquoted_.reserve(all.size());
  const std::size_t first_line = std::min(all.find_first_of(has_lone_cr_ ? "\r\n" : "\n"), all.size());
  const auto is_line_end = [&](std::size_t at) {
    return all[at] == '\n' || (all[at] == '\r' && (has_lone_cr_ || (at + 1 < all.size() && all[at + 1] == '\n')));
  };
  const auto fault = [&](CsvFault kind, std::size_t at) {
    record.fault = kind;
    record.fault_at = at;
    return first_line > 0 && first_line < all.size() && all[first_line] == '\n' && all[first_line - 1] == '\r'
               ? first_line - 1
               : first_line;
  };
  std::size_t at = 0;
  while (true) {
    if (at < all.size() && all[at] == '"') {
      const std::size_t opened = at++;
      const std::size_t kept = unquoted_.size();
      bool doubled = false;
      std::size_t from = at;
      while (true) {
        const std::size_t quote = find_byte(all, '"', at);
        if (quote == std::string_view::npos) {
          return fault(CsvFault::unclosed_quote, opened);
        }
        at = quote + 1;
        if (at >= all.size() || all[at] != '"') {
          break;
        }
        doubled = true;
        unquoted_.append(all.substr(from, at - from));
        from = ++at;
      }
      const std::size_t closed = at - 1;
      if (at < all.size() && all[at] != delimiter_ && !is_line_end(at)) {
        const bool same_line = opened < first_line && at <= first_line;
        return same_line ? fault(CsvFault::stray_quote, closed)
                         : fault(CsvFault::unclosed_quote, std::min(opened, first_line));
      }
      if (doubled) {
        unquoted_.append(all.substr(from, closed - from));
        fields_.emplace_back(unquoted_.data() + kept, unquoted_.size() - kept);
      } else {
        fields_.push_back(all.substr(from, closed - from));
      }
    } else {
      const std::size_t from = at;
      while (at < all.size() && all[at] != delimiter_ && !is_line_end(at)) {
        if (all[at] == '"') {
          return from < first_line ? fault(CsvFault::stray_quote, at) : fault(CsvFault::unclosed_quote, 0);
        }
        ++at;
      }
      fields_.push_back(all.substr(from, at - from));
    }
    if (fields_.size() > limits_.max_columns) {
      return fault(CsvFault::too_many_columns, std::min(at, first_line));
    }
    if (at >= all.size() || is_line_end(at)) {
      return at;
    }
    ++at;  // the delimiter
  }
}

bool CsvReader::next(CsvRecord& record) {
  if (at_ >= text_.size()) {
    return false;
  }
  const std::size_t end = line_end(at_);
  record = {text_.substr(at_, end - at_), at_, line_, CsvFault::none, 0};
  std::size_t stop = end;
  std::size_t lines = 1;
  if (record.text.size() > limits_.max_record_bytes) {
    record.fault = CsvFault::too_long;
    record.fault_at = limits_.max_record_bytes;
  } else if (has_quotes_ && find_byte(record.text, '"') != std::string_view::npos) {
    record.text = text_.substr(at_, limits_.max_record_bytes);
    const std::size_t length = split_quoted(record);
    record.text = record.text.substr(0, length);
    stop = at_ + length;
    for (std::size_t k = 0; k < length; ++k) {
      const bool lf = record.text[k] == '\n';
      lines +=
          lf || (record.text[k] == '\r' && (k + 1 >= length || record.text[k + 1] != '\n') && has_lone_cr_) ? 1U : 0U;
    }
  } else if (!split_plain(record.text)) {
    record.fault = CsvFault::too_many_columns;
    record.fault_at = static_cast<std::size_t>(fields_[limits_.max_columns].data() - record.text.data());
  }
  if (record.fault == CsvFault::none) {
    check_bytes(record);
  }
  if (record.fault != CsvFault::none) {
    fields_.clear();
  }
  for (std::size_t k = 0; has_apostrophes_ && k < fields_.size(); ++k) {
    if (fields_[k].starts_with('\'') && is_formula(fields_[k])) {
      fields_[k].remove_prefix(1);
    }
  }
  at_ = after_line_end(stop);
  line_ += lines;
  return true;
}

}  // namespace bagsplit::text
