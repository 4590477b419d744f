#include "running_order.hpp"

#include <algorithm>

#include "bagsplit/runs/files.hpp"
#include "bagsplit/runs/roster/detail/roster_words.hpp"
#include "bagsplit/runs/roster/roster.hpp"
#include "bagsplit/text/text.hpp"
#include "bagsplit/text/wording.hpp"

namespace bagsplit::cli {

std::vector<std::string> running_order(const std::string& file, const runs::Roster& roster, text::Problems& problems) {
  std::vector<std::string> order;
  if (file.empty()) {
    for (const runs::Player& player : roster.players) {
      order.push_back(player.id);
    }
    return order;
  }
  const auto text = runs::read_file(file, problems);
  std::string_view rest = text ? std::string_view(*text) : std::string_view();
  while (!rest.empty()) {
    const std::size_t end = std::min(rest.find('\n'), rest.size());
    std::string line(text::trim(rest.substr(0, std::min(rest.find_first_of("\r,;#"), end))));
    rest.remove_prefix(std::min(end + 1, rest.size()));
    if (line.empty() || line == "player") {
      continue;
    }
    if (roster.find(line) == nullptr) {
      const std::vector<std::string> ids = runs::detail::ids_with_bib(roster, line);
      if (ids.size() > 1) {
        problems.push_back({.code = "repeated-bib",
                            .path = file,
                            .message = line + " is the bib of " + text::joined(ids),
                            .expected = "the id of one of them"});
      }
      line = ids.empty() ? line : ids.front();
    }
    order.push_back(std::move(line));
  }
  return order;
}

runs::Roster read_named_roster(const std::optional<std::string>& file, std::optional<runs::Date> today,
                               text::Problems& problems) {
  const auto text = file ? runs::read_file(*file, problems) : std::nullopt;
  if (!text) {
    return {};
  }
  runs::RosterResult read = runs::read_roster(*text, *file, {.today = today});
  std::move(read.problems.begin(), read.problems.end(), std::back_inserter(problems));
  return std::move(read.roster);
}

}  // namespace bagsplit::cli
