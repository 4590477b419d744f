#include "bagsplit/runs/roster/detail/roster_cells.hpp"

#include "bagsplit/runs/detail/sex_word.hpp"
#include "bagsplit/runs/log/file_columns.hpp"
#include "bagsplit/text/text.hpp"

namespace bagsplit::runs::detail {

namespace {

constexpr std::array side_words{std::string_view("left"), std::string_view("right"), std::string_view("both")};

constexpr std::array<std::string_view, sex_words.size()> sex_word_list() {
  std::array<std::string_view, sex_words.size()> words;
  for (std::size_t k = 0; k < words.size(); ++k) {
    words[k] = sex_words[k].first;
  }
  return words;
}
constexpr auto sex_names = sex_word_list();

// In the order of RosterField.
constexpr std::array<ColumnWords, roster_fields> roster_table{{
    {"player", "the id, each once: what run logs call the player", {}, true},
    {"bib", "what is on the shirt; printed on sheets, taken by 'record'"},
    {"name", "shown only where names are asked for"},
    {"sex", "as the published norms part it", sex_names},
    {"born", "date of birth: 2016-03-02; or 2-Mar-2016; in another order with a line '# dates: dmy'"},
    {"height_cm", "standing height, cm"},
    {"mass_kg", "body mass, kg"},
    {"sitting_height_cm", "height from the seat, cm"},
    {"bats", "which side; tells where a start at bat contact begins", side_words},
    {"team", "the team"},
}};

constexpr std::array<std::string_view, roster_fields> names_of_roster_table() {
  std::array<std::string_view, roster_fields> names;
  for (std::size_t k = 0; k < roster_fields; ++k) {
    names[k] = roster_table[k].name;
  }
  return names;
}

constexpr std::size_t longest_text = 200;
constexpr double youngest_years = 3.0;
constexpr double oldest_years = 80.0;
// Sitting height over standing height runs from about 0.55 in small children to 0.51 in adolescence. Common practice,
// no source.
constexpr double least_sitting_share = 0.45;
constexpr double most_sitting_share = 0.60;

// Bounds beyond which a number is refused, and beyond which it is only doubted.
struct Bounds {
  double lowest, low, high, highest;
};
constexpr Bounds height_cm{50.0, 80.0, 220.0, 260.0};
constexpr Bounds mass_kg{5.0, 10.0, 150.0, 300.0};
constexpr Bounds sitting_height_cm{30.0, 45.0, 115.0, 140.0};

using Found = std::optional<text::Problem>;

text::Problem error(std::string code, std::string message, std::string expected, std::string hint = {}) {
  return {
      .code = std::move(code), .message = std::move(message), .expected = std::move(expected), .hint = std::move(hint)};
}

text::Problem doubt(std::string code, std::string message, std::string expected, std::string hint = {}) {
  text::Problem problem = error(std::move(code), std::move(message), std::move(expected), std::move(hint));
  problem.severity = text::Severity::suspicion;
  return problem;
}

Found read_text(std::string_view name, std::string_view text, std::string& value) {
  if (text.size() > longest_text) {
    return error("bad-text", "'" + std::string(name) + "' is too long",
                 "at most " + std::to_string(longest_text) + " bytes");
  }
  value = text;
  return {};
}

Found read_sex(std::string_view text, std::optional<Sex>& sex) {
  sex = parse_sex(text);
  if (!sex) {
    const char first = text::ascii_lower(text.front());
    return error("unknown-word", "'sex' has no such word",
                 "F or M (or girl, boy, female, male), as the published norms part it, or nothing",
                 first == 'g' || first == 'w' ? "'F' may be meant"
                 : first == 'b'               ? "'M' may be meant"
                                              : "");
  }
  return {};
}

Found read_bats(std::string_view text, std::optional<Side>& bats) {
  for (std::size_t w = 0; w < side_words.size(); ++w) {
    if (text::equal_ignoring_case(text, side_words[w]) || text::equal_ignoring_case(text, side_words[w].substr(0, 1))) {
      bats = static_cast<Side>(w);
      return {};
    }
  }
  return error(
      "unknown-word", "'bats' has no such word", "left, right or both",
      text::equal_ignoring_case(text, "S") || text::equal_ignoring_case(text, "switch") ? "'both' may be meant" : "");
}

Found doubt_age(double years, const std::string& when) {
  if (years >= youngest_years && years <= oldest_years) {
    return {};
  }
  return doubt("unlikely-birth", "a player aged " + std::to_string(static_cast<int>(years)) + when,
               "an age from " + format_number(youngest_years) + " to " + format_number(oldest_years) + " years");
}

Found read_born(std::string_view text, const RosterTyping& typing, std::optional<Date>& born) {
  const auto date = parse_date(text, typing.dates);
  if (!date) {
    return error("bad-date", "'born' is not a date",
                 typing.dates == DateOrder::iso   ? "year, month, day: 2015-04-11"
                 : typing.dates == DateOrder::dmy ? "day, month, year: 11/04/2015"
                                                  : "month, day, year: 04/11/2015",
                 date_hint(text, typing.dates));
  }
  if (typing.today && *date > *typing.today) {
    return error(
        "future-birth", "a birth in the future", "a date not after " + format_date(*typing.today),
        text.find(std::to_string(static_cast<int>(std::chrono::year_month_day(*date).year()))) == std::string_view::npos
            ? "two digits of the year are taken for 20..: write all four"
            : "");
  }
  born = date;
  return typing.today ? doubt_age(age_years(*date, *typing.today), "") : std::nullopt;
}

Found read_size(std::string_view name, std::string_view text, const RosterTyping& typing, const Bounds& bounds,
                double factor, std::optional<double>& value) {
  const auto number = parse_decimal(text, typing.decimal_comma);
  const auto usual = [&](double x) { return x >= bounds.low && x <= bounds.high; };
  const bool is_length = factor < 1.0;
  if (!number || *number < bounds.lowest || *number > bounds.highest) {
    return error("bad-number", "'" + std::string(name) + "' is not a number it can be",
                 "a number from " + format_number(bounds.lowest) + " to " + format_number(bounds.highest),
                 number && is_length && usual(*number * 100.0) ? "metres typed for centimetres? " + std::string(text) +
                                                                     " m is " + format_number(*number * 100.0) + " cm"
                                                               : "");
  }
  value = *number * factor;
  if (!usual(*number)) {
    return doubt("unlikely-size", "'" + std::string(name) + "' is unusual",
                 "most often " + format_number(bounds.low) + " to " + format_number(bounds.high),
                 is_length && usual(*number * 2.54) ? "inches typed for centimetres?" : "");
  }
  return {};
}

}  // namespace

const std::array<std::string_view, roster_fields> roster_names = names_of_roster_table();

std::optional<text::Problem> read_roster_cell(RosterField field, std::string_view text, const RosterTyping& typing,
                                              Player& player) {
  switch (field) {
    case RosterField::player:
      return read_text("player", text, player.id);
    case RosterField::bib:
      return read_text("bib", text, player.bib);
    case RosterField::name:
      return read_text("name", text, player.name);
    case RosterField::team:
      return read_text("team", text, player.team);
    case RosterField::sex:
      return read_sex(text, player.sex);
    case RosterField::born:
      return read_born(text, typing, player.born);
    case RosterField::height:
      return read_size("height_cm", text, typing, height_cm, 0.01, player.height_m);
    case RosterField::mass:
      return read_size("mass_kg", text, typing, mass_kg, 1.0, player.mass_kg);
    case RosterField::sitting_height:
      return read_size("sitting_height_cm", text, typing, sitting_height_cm, 0.01, player.sitting_height_m);
    case RosterField::bats:
      return read_bats(text, player.bats);
    case RosterField::unnamed:
      return error("unnamed-column", "a field stands in a column without a name", "a name in the header above it");
    case RosterField::other:
      break;
  }
  return {};
}

std::optional<text::Problem> doubt_birth(Date born, Date run) {
  if (born > run) {
    return error("birth-after-run", "a birth after a run of this player, on " + format_date(run),
                 "a date before " + format_date(run), "is the year wrong, here or in the run log?");
  }
  return doubt_age(age_years(born, run), " at a run on " + format_date(run));
}

std::optional<text::Problem> doubt_sitting_height(const Player& player) {
  if (!player.height_m || !player.sitting_height_m ||
      (*player.sitting_height_m >= least_sitting_share * *player.height_m &&
       *player.sitting_height_m <= most_sitting_share * *player.height_m)) {
    return {};
  }
  return doubt("unlikely-size", "a sitting height that does not go with the height",
               "about half of the height, measured from the seat");
}

}  // namespace bagsplit::runs::detail

namespace bagsplit::runs {

std::span<const ColumnWords> roster_columns() {
  return detail::roster_table;
}

}  // namespace bagsplit::runs
