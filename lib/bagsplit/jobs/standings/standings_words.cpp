#include <algorithm>
#include <iterator>

#include "bagsplit/jobs/standings/standings.hpp"

namespace bagsplit::jobs {

namespace {

struct Word {
  Quantity quantity;
  std::string_view word, unit;
};
constexpr Word quantity_words[] = {{Quantity::time, "time", "s"},
                                   {Quantity::reaction, "reaction", "s"},
                                   {Quantity::acceleration, "acceleration", "m/s2"},
                                   {Quantity::top_speed, "top-speed", "m/s"},
                                   {Quantity::path_efficiency, "path-efficiency", ""}};

const Word& entry_of(Quantity quantity) {
  return *std::find_if(std::begin(quantity_words), std::end(quantity_words),
                       [&](const Word& w) { return w.quantity == quantity; });
}

}  // namespace

std::optional<RankedQuantity> ranked_quantity_of(std::string_view text) {
  RankedQuantity out;
  const std::size_t at = text.find('@');
  if (at != std::string_view::npos) {
    out.course = text.substr(at + 1);
    text = text.substr(0, at);
  }
  const std::size_t colon = text.find(':');
  if (colon != std::string_view::npos) {
    out.mark = text.substr(colon + 1);
    text = text.substr(0, colon);
  }
  const auto* const found =
      std::find_if(std::begin(quantity_words), std::end(quantity_words), [&](const Word& w) { return w.word == text; });
  if (found == std::end(quantity_words)) {
    return std::nullopt;
  }
  out.quantity = found->quantity;
  const bool is_time = out.quantity == Quantity::time;
  const bool may_have_course = is_time || out.quantity == Quantity::path_efficiency;
  if ((colon != std::string_view::npos && (!is_time || out.mark.empty())) ||
      (at != std::string_view::npos && (!may_have_course || out.course.empty()))) {
    return std::nullopt;
  }
  return out;
}

std::string word_of(const RankedQuantity& quantity) {
  return std::string(entry_of(quantity.quantity).word) + (quantity.mark.empty() ? "" : ":" + quantity.mark) +
         (quantity.course.empty() ? "" : "@" + quantity.course);
}

std::string_view unit_of(Quantity quantity) {
  return entry_of(quantity).unit;
}

bool lower_is_better(Quantity quantity) {
  return quantity == Quantity::time || quantity == Quantity::reaction;
}

std::string_view word_of(Ties ties) {
  return ties == Ties::as_read ? "as-read" : "shared";
}

std::string_view word_of(CutStatus status) {
  return status == CutStatus::in ? "in" : status == CutStatus::out ? "out" : "undecided";
}

}  // namespace bagsplit::jobs
