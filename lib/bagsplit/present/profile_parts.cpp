#include "bagsplit/present/profile_parts.hpp"

#include <algorithm>
#include <cmath>

#include "bagsplit/present/number_text.hpp"
#include "bagsplit/present/profile_quantities.hpp"
#include "bagsplit/present/profile_text.hpp"
#include "bagsplit/present/text_width.hpp"
#include "bagsplit/runs/log_summary.hpp"
#include "bagsplit/runs/typed.hpp"
#include "bagsplit/runs/units.hpp"

namespace bagsplit::present {

std::string span_words(const std::vector<coach::PlayerProfile>& players) {
  std::optional<runs::Date> first;
  std::optional<runs::Date> last;
  for (const coach::PlayerProfile& player : players) {
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

std::string base_words(double base_m) {
  const double feet = base_m / runs::metres_per_foot;
  return std::abs(feet - std::round(feet)) < 0.01 ? fixed(feet, 0) + " ft" : fixed(base_m, 2) + " m";
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
                            const TextOptions& options) {
  std::string out;
  for (const std::string& text : reference_sentences(sources, references)) {
    out += paragraph(text, options.width, "- ");
  }
  return out.empty() ? out : "\n" + heading("References", options) + out;
}

void add_once(std::vector<std::string>& words, const std::string& word) {
  if (!word.empty() && std::find(words.begin(), words.end(), word) == words.end()) {
    words.push_back(word);
  }
}

std::string band_words(const coach::ProfilePercentile& percentile) {
  if (!percentile.band) {
    return {};
  }
  std::string text = *percentile.band == norms::Band::faster  ? "faster than the middle"
                     : *percentile.band == norms::Band::about ? "about the middle"
                                                              : "slower than the middle";
  text += percentile.label.empty() ? "" : " of " + percentile.label;
  if (percentile.p_faster) {
    text += " (probability of being faster " + probability_words(*percentile.p_faster, 2) + ")";
  }
  return text;
}

std::string cautions_part(const coach::ProfileResult& result, const TextOptions& options) {
  if (result.cautions.empty()) {
    return {};
  }
  return "\n" + heading("Take care", options) + listed(result.cautions, options.width);
}

std::string left_out_words(const std::vector<coach::PlayerProfile>& players) {
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
    for (const coach::PlayerProfile& player : players) {
      for (const coach::LeftOut& left_out : player.left_out_by_flag) {
        count += left_out.flag == flag ? left_out.runs : 0;
      }
    }
    add(runs::flag_name(flag), count);
  }
  const auto sum = [&](std::size_t coach::PlayerProfile::*member) {
    std::size_t count = 0;
    for (const coach::PlayerProfile& player : players) {
      count += player.*member;
    }
    return count;
  };
  add("outside the dates asked for", sum(&coach::PlayerProfile::left_out_window));
  add("relay leg", sum(&coach::PlayerProfile::left_out_relay));
  add("without a usable time", sum(&coach::PlayerProfile::left_out_empty));
  return out;
}

}  // namespace bagsplit::present
