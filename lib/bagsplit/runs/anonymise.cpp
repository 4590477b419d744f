#include "bagsplit/runs/anonymise.hpp"

#include <algorithm>
#include <vector>

#include "bagsplit/runs/player_order.hpp"
#include "bagsplit/text/sha256.hpp"

namespace bagsplit::runs {

namespace {

constexpr std::size_t usual_letters = 5;
constexpr std::size_t mark_digits = 5;  // of base 36: as wide as a code, so that charts leave the same room
constexpr std::string_view digits = "0123456789abcdefghijklmnopqrstuvwxyz";
constexpr std::size_t mark_size = 2 + mark_digits;

// Letters and digits that are not taken for one another.
std::string letters_of(const text::Digest& digest) {
  constexpr std::string_view alphabet = "23456789abcdefghjkmnpqrstuvwxyz";
  std::string out;
  for (const std::uint8_t byte : digest) {
    out += alphabet[byte % alphabet.size()];
  }
  return out;
}

// A tilde, a kind and a number of fixed width.
std::string mark(char kind, std::size_t number) {
  std::string out = "~" + std::string(1, kind) + std::string(mark_digits, '0');
  for (std::size_t k = mark_size; number > 0 && k-- > 2; number /= digits.size()) {
    out[k] = digits[number % digits.size()];
  }
  return out;
}

class Labelling {
 public:
  Labelling(std::string_view salt, Disguise& out) : salt_(salt), out_(out) {}

  std::map<std::string, std::string> marks(char kind, const std::vector<std::string>& sorted) {
    std::map<std::string, std::string> out;
    for (const std::string& name : sorted) {
      const auto at = out.try_emplace(name, mark(kind, out.size())).first;
      out_.names[at->second] = name;
    }
    return out;
  }

  void codes(const std::map<std::string, std::string>& marks) {
    std::set<std::string> taken;
    for (const auto& [id, made] : marks) {
      const std::string letters = letters_of(text::hmac_sha256(salt_, id));
      std::string code;
      for (std::size_t n = usual_letters; code.empty() || taken.contains(code); ++n) {
        code = "p-" + letters.substr(0, n);
      }
      taken.insert(code);
      out_.labels[made] = code;
    }
  }

  void numbers(const std::string& word, const std::map<std::string, std::string>& marks) {
    std::vector<std::pair<std::string, std::string>> drawn;
    for (const auto& [name, made] : marks) {
      drawn.emplace_back(letters_of(text::hmac_sha256(salt_, word + " " + name)), made);
    }
    std::sort(drawn.begin(), drawn.end());
    for (std::size_t k = 0; k < drawn.size(); ++k) {
      out_.labels[drawn[k].second] = word + " " + std::to_string(k + 1);
    }
  }

 private:
  std::string_view salt_;
  Disguise& out_;
};

// Names used so, by their marks in the log's table. In the order of the table, as the names were.
template <typename Each>
void rename(RunLog& log, const std::map<std::string, std::string>& marks, const Each& each) {
  std::set<NameId> used;
  each([&](NameId& id) { used.insert(id); });
  std::map<NameId, NameId> renamed;
  for (const NameId id : used) {
    const auto found = marks.find(log.name(id));
    renamed[id] = found == marks.end() ? id : static_cast<NameId>(log.names.size());
    if (found != marks.end()) {
      log.names.push_back(found->second);
    }
  }
  each([&](NameId& id) { id = renamed.at(id); });
}

}  // namespace

const std::string& Disguise::mark_of(const std::map<std::string, std::string>& marks, const std::string& name) {
  const auto found = marks.find(name);
  return found == marks.end() ? name : found->second;
}

Disguise disguise(RunLog& log, Roster& roster, const OtherNames& others, std::string_view salt) {
  std::set<std::string> ids;
  std::set<std::string> timers = others.timers;
  std::set<std::string> teams = others.teams;
  std::set<std::string> places;
  std::set<std::string> surfaces;  // free text: may name the ground
  for (const Run& run : log.runs) {
    ids.insert(log.name(run.player));
    teams.insert(log.name(run.team));
    places.insert(log.name(run.place));
    surfaces.insert(log.name(run.surface));
  }
  for (const Player& player : roster.players) {
    ids.insert(player.id);
  }
  for (const Reading& reading : log.readings) {
    timers.insert(log.name(reading.timer));
  }
  const bool one_place = places.size() == 1;
  for (std::set<std::string>* names : {&timers, &teams, &places, &surfaces}) {
    names->erase("");  // not named is no name
  }
  Disguise out;
  Labelling labelling(salt, out);
  std::vector<std::string> sorted(ids.begin(), ids.end());
  std::sort(sorted.begin(), sorted.end(), id_before);
  out.players = labelling.marks('p', sorted);
  out.timers = labelling.marks('t', {timers.begin(), timers.end()});
  out.teams = labelling.marks('e', {teams.begin(), teams.end()});
  const auto place_marks = labelling.marks('w', {places.begin(), places.end()});
  const auto surface_marks = labelling.marks('s', {surfaces.begin(), surfaces.end()});
  const auto file_marks = labelling.marks('f', log.files);
  labelling.codes(out.players);
  labelling.numbers("timer", out.timers);
  labelling.numbers("team", out.teams);
  labelling.numbers("place", place_marks);
  labelling.numbers("ground", surface_marks);
  labelling.numbers("file", file_marks);
  const auto runs = [&](NameId Run::*member) {
    return [&log, member](const auto& change) {
      for (Run& run : log.runs) {
        change(run.*member);
      }
    };
  };
  rename(log, out.players, runs(&Run::player));
  rename(log, out.teams, runs(&Run::team));
  rename(log, place_marks, runs(&Run::place));
  rename(log, surface_marks, runs(&Run::surface));
  rename(log, out.timers, [&log](const auto& change) {
    for (Reading& reading : log.readings) {
      change(reading.timer);
    }
  });
  for (Run& run : log.runs) {
    run.place = one_place ? no_name : run.place;  // of one place there is nothing to tell apart
  }
  for (std::string& file : log.files) {
    file = file_marks.at(file);
  }
  for (Player& player : roster.players) {
    player.id = out.players.at(player.id);
    player.bib.clear();
    player.name.clear();
    player.team.clear();
  }
  roster.build_index();
  return out;
}

std::string replace_marks(std::string_view text, const std::map<std::string, std::string, std::less<>>& words) {
  std::string out;
  for (std::size_t at = 0; at < text.size();) {
    const auto found = text[at] == '~' ? words.find(text.substr(at, mark_size)) : words.end();
    if (found == words.end()) {
      out += text[at++];
    } else {
      out += found->second;
      at += mark_size;
    }
  }
  return out;
}

std::string_view mark_at(std::string_view text, std::size_t at) {
  const std::string_view found = text.substr(std::min(at, text.size()), mark_size);
  const bool is_mark =
      found.size() == mark_size && found.starts_with('~') &&
      std::all_of(found.begin() + 2, found.end(), [](char c) { return digits.find(c) != std::string_view::npos; });
  return is_mark ? found : std::string_view();
}

std::string_view player_mark_at(std::string_view text, std::size_t at) {
  const std::string_view found = mark_at(text, at);
  return found.starts_with("~p") ? found : std::string_view();
}

}  // namespace bagsplit::runs
