#include "bagsplit/runs/anonymise.hpp"

#include <algorithm>
#include <cmath>
#include <set>

#include "bagsplit/runs/sha256.hpp"

namespace bagsplit::runs {

namespace {

constexpr std::size_t usual_letters = 5;

// Letters and digits that are not taken for one another.
std::string letters_of(const Digest& digest) {
  constexpr std::string_view alphabet = "23456789abcdefghjkmnpqrstuvwxyz";
  std::string out;
  for (const std::uint8_t byte : digest) {
    out += alphabet[byte % alphabet.size()];
  }
  return out;
}

// Half-years before a date; the end of the month where it has no such day.
Date half_years_before(Date date, int half_years) {
  const std::chrono::year_month_day then = std::chrono::year_month_day(date) - std::chrono::months(6 * half_years);
  return then.ok() ? Date(then) : Date(then.year() / then.month() / std::chrono::last);
}

}  // namespace

std::map<std::string, std::string> anonymise(RunLog& log, Roster& roster, std::string_view salt) {
  std::map<std::string, std::string> codes;
  std::map<std::string, Date> last_run;
  for (const Run& run : log.runs) {
    codes[log.name(run.player)];
    Date& last = last_run[log.name(run.player)];
    last = std::max(last, run.date);
  }
  for (const Player& player : roster.players) {
    codes[player.id];
  }
  std::set<std::string> taken;
  for (auto& [id, code] : codes) {
    const std::string letters = letters_of(hmac_sha256(salt, id));
    for (std::size_t n = usual_letters; code.empty() || taken.contains(code); ++n) {
      code = "p-" + letters.substr(0, n);
    }
    taken.insert(code);
  }
  std::map<NameId, NameId> renamed;
  for (Run& run : log.runs) {
    const auto [at, is_new] = renamed.try_emplace(run.player, static_cast<NameId>(log.names.size()));
    if (is_new) {
      log.names.push_back(codes.at(log.name(run.player)));
    }
    run.player = at->second;
  }
  for (Player& player : roster.players) {
    Player kept;
    kept.id = codes.at(player.id);
    kept.sex = player.sex;
    kept.bats = player.bats;
    const auto last = last_run.find(player.id);
    if (player.born && last != last_run.end()) {
      kept.born =
          half_years_before(last->second, static_cast<int>(std::lround(2.0 * age_years(*player.born, last->second))));
    }
    player = std::move(kept);
  }
  roster.build_index();
  return codes;
}

}  // namespace bagsplit::runs
