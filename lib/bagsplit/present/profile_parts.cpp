#include "bagsplit/present/profile_parts.hpp"

#include <algorithm>
#include <cmath>

#include "bagsplit/present/probability_text.hpp"
#include "bagsplit/present/profile_quantities.hpp"
#include "bagsplit/present/text/profile_text.hpp"
#include "bagsplit/runs/log/log_summary.hpp"
#include "bagsplit/runs/typed.hpp"
#include "bagsplit/runs/units.hpp"
#include "bagsplit/text/number_text.hpp"
#include "bagsplit/text/text_width.hpp"

namespace bagsplit::present {

std::string span_words(const std::vector<jobs::PlayerProfile>& players) {
  std::optional<runs::Date> first;
  std::optional<runs::Date> last;
  for (const jobs::PlayerProfile& player : players) {
    if (player.first_date && (!first || *player.first_date < *first)) {
      first = player.first_date;
    }
    if (player.last_date && (!last || *player.last_date > *last)) {
      last = player.last_date;
    }
  }
  if (!first || !last) {
    return {};
  }
  return runs::format_date(*first) + (*first == *last ? "" : " to " + runs::format_date(*last));
}

std::string suspected_part(const std::vector<jobs::SuspectedReading>& readings, const text::TextOptions& options) {
  std::vector<std::string> sentences;
  for (const jobs::SuspectedReading& reading : readings) {
    sentences.push_back(jobs::sentence(reading));
  }
  return sentences.empty()
             ? std::string()
             : "\n" + text::heading("Times that do not fit", options) + text::listed(sentences, options.width);
}

std::string base_words(double base_m) {
  const double feet = base_m / runs::metres_per_foot;
  return std::abs(feet - std::round(feet)) < 0.01 ? text::fixed(feet, 0) + " ft" : text::fixed(base_m, 2) + " m";
}

std::vector<std::string> reference_sentences(const std::vector<std::string>& sources,
                                             const norms::Catalogue& references) {
  std::vector<std::string> out;
  for (const std::string& id : sources) {
    const norms::Norm* norm = references.find(id);
    if (norm == nullptr) {
      continue;
    }
    const norms::NormInfo& info = norm->info();
    std::string text = info.label + ": " + info.citation;
    if (!info.doi.empty() && info.citation.find(info.doi) == std::string::npos) {
      text += " doi:" + info.doi;
    }
    if (!info.restriction.empty()) {
      text += (text.ends_with('.') ? " " : ". ") + info.restriction;
    }
    out.push_back(text);
  }
  return out;
}

std::string references_part(const std::vector<std::string>& sources, const norms::Catalogue& references,
                            const text::TextOptions& options) {
  std::string out;
  for (const std::string& text : reference_sentences(sources, references)) {
    out += text::paragraph(text, options.width, "- ");
  }
  return out.empty() ? out : "\n" + text::heading("References", options) + out;
}

void add_once(std::vector<std::string>& words, const std::string& word) {
  if (!word.empty() && std::find(words.begin(), words.end(), word) == words.end()) {
    words.push_back(word);
  }
}

std::string band_words(const jobs::ProfilePercentile& percentile) {
  if (!percentile.band) {
    return {};
  }
  std::string text = *percentile.band == norms::Band::faster  ? "faster than the middle"
                     : *percentile.band == norms::Band::about ? "about the middle"
                                                              : "slower than the middle";
  text += percentile.label.empty() ? "" : " of " + percentile.label;
  if (percentile.p_faster) {
    text += " (chance of being faster " + probability_words(*percentile.p_faster, 2) + ")";
  }
  return text;
}

std::string cautions_part(const jobs::ProfileResult& result, const text::TextOptions& options) {
  if (result.cautions.empty()) {
    return {};
  }
  return "\n" + text::heading("Take care", options) + text::listed(result.cautions, options.width);
}

// What is left of those left out: there is no time to take from them.
std::size_t runs_in_heats(const std::vector<jobs::PlayerProfile>& players) {
  std::size_t out = 0;
  for (const jobs::PlayerProfile& player : players) {
    std::size_t told = player.left_out_window + player.left_out_relay + player.left_out_empty;
    for (const jobs::LeftOut& left_out : player.left_out_by_flag) {
      told += left_out.runs;
    }
    out += player.runs_left_out - std::min(told, player.runs_left_out);
  }
  return out;
}

std::string left_out_words(const std::vector<jobs::PlayerProfile>& players) {
  constexpr runs::Flag flags[] = {runs::Flag::false_start, runs::Flag::fall,     runs::Flag::missed_bag,
                                  runs::Flag::obstructed,  runs::Flag::void_run, runs::Flag::absent};
  std::string out;
  const auto add = [&](std::string_view words, std::size_t count) {
    if (count > 0) {
      out += (out.empty() ? "" : ", ") + std::to_string(count) + " ";
      out += words;
    }
  };
  for (const runs::Flag flag : flags) {
    std::size_t count = 0;
    for (const jobs::PlayerProfile& player : players) {
      for (const jobs::LeftOut& left_out : player.left_out_by_flag) {
        count += left_out.flag == flag ? left_out.runs : 0;
      }
    }
    add(runs::flag_name(flag), count);
  }
  const auto sum = [&](std::size_t jobs::PlayerProfile::*member) {
    std::size_t count = 0;
    for (const jobs::PlayerProfile& player : players) {
      count += player.*member;
    }
    return count;
  };
  add("outside the dates asked for", sum(&jobs::PlayerProfile::left_out_window));
  add("relay leg", sum(&jobs::PlayerProfile::left_out_relay));
  add("without a usable time", sum(&jobs::PlayerProfile::left_out_empty));
  add("in heats (standings uses their order)", runs_in_heats(players));
  return out;
}

}  // namespace bagsplit::present
