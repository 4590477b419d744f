#include "bagsplit/present/norms_report.hpp"

#include <array>

#include "bagsplit/present/machine/json_parts.hpp"
#include "bagsplit/present/profile_quantities.hpp"
#include "bagsplit/text/csv_writer.hpp"
#include "bagsplit/text/json_writer.hpp"
#include "bagsplit/text/number_text.hpp"
#include "bagsplit/text/text_table.hpp"

namespace bagsplit::present {

namespace {

using norms::Kind;
using norms::Norm;
using norms::NormInfo;
using Layout = text::JsonWriter::Layout;

std::string_view kind_word(Kind kind) {
  switch (kind) {
    case Kind::lms:
      return "lms";
    case Kind::mean_sd:
      return "mean-sd";
    case Kind::percentile_marks:
      return "percentile-marks";
    case Kind::band:
      return "band";
    case Kind::marks:
      return "marks";
    case Kind::none:
      return "none";
  }
  return "";
}

std::string_view standing_word(norms::Standing standing) {
  switch (standing) {
    case norms::Standing::norm:
      return "norm";
    case norms::Standing::squad:
      return "squad";
    case norms::Standing::comparison:
      return "comparison";
    case norms::Standing::check:
      return "check";
    case norms::Standing::anchor:
      return "anchor";
  }
  return "";
}

struct Group {
  norms::Standing standing;
  std::string_view heading;
};
constexpr std::array groups = std::to_array<Group>({
    {norms::Standing::norm, "Norms of an age group"},
    {norms::Standing::squad, "Selected squads: a place among athletes, never a norm for the age"},
    {norms::Standing::comparison, "Comparisons in words"},
    {norms::Standing::check, "For checking other tables, never applied to a player"},
    {norms::Standing::anchor, "Limits of sense: adults, school marks, never applied to a player"},
});

std::string_view says(Kind kind) {
  switch (kind) {
    case Kind::lms:
    case Kind::mean_sd:
    case Kind::percentile_marks:
      return "says a percentile";
    case Kind::band:
      return "says faster, about, or slower than the mean";
    case Kind::marks:
      return "says which mark was reached";
    case Kind::none:
      return "";
  }
  return "";
}

std::string ages(const Norm& norm) {
  std::string out;
  for (const auto& [sex, word] : {std::pair(runs::Sex::female, "girls "), std::pair(runs::Sex::male, "boys ")}) {
    if (const auto range = norm.ages(sex)) {
      out += (out.empty() ? "" : ", ") + std::string(word) + text::fixed(range->first, 1) + " to " +
             text::fixed(range->second, 1);
    }
  }
  return out;
}

// Whether a reference has conditions worth telling: the lists that are no test have none.
bool has_distance(const NormInfo& info) {
  return info.conditions.distance_m > 0.0 && info.kind != Kind::none;
}

std::string measured(const NormInfo& info) {
  const norms::Conditions& c = info.conditions;
  std::string out = text::shortest(c.distance_m) + " m";
  if (c.flying_from_m > 0.0) {
    out += ", flying from " + text::shortest(c.flying_from_m) + " m";
  }
  out += c.signal_start ? ", clock from the signal" : ", clock from the runner's own start";
  out += c.hand_timed ? ", hand-timed" : ", gates";
  return out;
}

std::string source_line(const NormInfo& info) {
  std::string out = info.citation;
  out += out.ends_with('.') ? "" : ".";
  if (!info.doi.empty() && out.find(info.doi) == std::string::npos) {
    out += " doi:" + info.doi;
  }
  return out;
}

const char* clock_word(norms::Clock clock) {
  return clock == norms::Clock::signal ? "signal" : clock == norms::Clock::first_move ? "first-move" : "as-norm";
}

const char* band_word(norms::Band band) {
  return band == norms::Band::faster ? "faster" : band == norms::Band::about ? "about" : "slower";
}

}  // namespace

std::string norms_text(const norms::Catalogue& catalogue, const text::TextOptions& options) {
  std::string out = text::paragraph(
      "References for sprint and reaction times. A time is compared only with a reference of its distance and "
      "its kind of clock, within the ages covered; nothing is extrapolated.",
      options.width);
  for (const Group& group : groups) {
    std::string entries;
    for (const Norm& norm : catalogue.norms()) {
      const NormInfo& info = norm.info();
      if (info.standing != group.standing) {
        continue;
      }
      entries += "\n" + text::paragraph(info.id + ": " + info.label, options.width);
      if (has_distance(info)) {
        std::string line = measured(info);
        const std::string covered = ages(norm);
        line += (covered.empty() ? "" : "; " + covered) + "; " + std::string(says(info.kind));
        entries += text::paragraph(line + (info.use_by_default ? "; used by default." : "."), options.width, "  ");
      }
      if (!info.restriction.empty()) {
        entries += text::paragraph(info.restriction, options.width, "  ");
      }
      entries += text::paragraph("Source: " + source_line(info), options.width, "  ");
      entries += text::paragraph("Quality " + info.quality + ". Licence: " + info.licence + ".", options.width, "  ");
    }
    if (!entries.empty()) {
      out += "\n" + text::heading(group.heading, options) + entries.substr(1);
    }
  }
  out += "\n" + text::paragraph("Quality: A raw data or complete table, down to D, not a norm.", options.width);
  return out;
}

std::string norms_csv(const norms::Catalogue& catalogue) {
  text::CsvWriter csv;
  for (const char* column : {"id",
                             "label",
                             "standing",
                             "kind",
                             "test",
                             "distance_m",
                             "flying_from_m",
                             "clock",
                             "start_offset_m",
                             "timing",
                             "rounding_bias_s",
                             "female_from_yr",
                             "female_to_yr",
                             "male_from_yr",
                             "male_to_yr",
                             "default",
                             "population",
                             "country",
                             "years",
                             "quality",
                             "evidence",
                             "citation",
                             "doi",
                             "licence",
                             "restriction"}) {
    csv.text(column);
  }
  csv.end_row();
  for (const Norm& norm : catalogue.norms()) {
    const NormInfo& info = norm.info();
    const norms::Conditions& c = info.conditions;
    csv.text(info.id).text(info.label).text(standing_word(info.standing)).text(kind_word(info.kind)).text(info.test);
    if (has_distance(info)) {
      csv.number(c.distance_m)
          .number(c.flying_from_m)
          .text(c.signal_start ? "signal" : "first-move")
          .number(c.start_offset_m);
      csv.text(c.hand_timed ? "hand" : "gate").number(c.rounding_bias_s);
    } else {
      csv.empty().empty().empty().empty().empty().empty();
    }
    for (const runs::Sex sex : {runs::Sex::female, runs::Sex::male}) {
      const auto range = norm.ages(sex);
      csv.number(range ? std::optional(range->first) : std::nullopt)
          .number(range ? std::optional(range->second) : std::nullopt);
    }
    csv.text(info.use_by_default ? "yes" : "no")
        .text(info.population)
        .text(info.country)
        .text(info.years)
        .text(info.quality);
    csv.text(info.evidence).text(info.citation).text(info.doi).text(info.licence).text(info.restriction).end_row();
  }
  return csv.take();
}

std::string norms_json(const norms::Catalogue& catalogue) {
  text::JsonWriter json;
  json.begin_object().member("schema", "bagsplit.norms/1").key("sources").begin_array();
  for (const Norm& norm : catalogue.norms()) {
    const NormInfo& info = norm.info();
    const norms::Conditions& c = info.conditions;
    json.begin_object()
        .member("id", info.id)
        .member("label", info.label)
        .member("standing", standing_word(info.standing))
        .member("kind", kind_word(info.kind))
        .member("default", info.use_by_default)
        .member("test", info.test);
    json.key("conditions");
    if (has_distance(info)) {
      json.begin_object(Layout::line)
          .member("distance_m", c.distance_m)
          .member("flying_from_m", c.flying_from_m)
          .member("clock", c.signal_start ? "signal" : "first-move")
          .member("start_offset_m", c.start_offset_m)
          .member("timing", c.hand_timed ? "hand" : "gate")
          .member("rounding_bias_s", c.rounding_bias_s)
          .member("timing_bias_mean_s", c.timing_bias_mean_s)
          .member("timing_bias_sd_s", c.timing_bias_sd_s);
      text_or_null(json, "note", c.note);
      json.end_object();
    } else {
      json.null();
    }
    json.key("ages_yr").begin_object(Layout::line);
    for (const auto& [sex, letter] : {std::pair(runs::Sex::female, "F"), std::pair(runs::Sex::male, "M")}) {
      json.key(letter);
      if (const auto range = norm.ages(sex)) {
        json.begin_array().number(range->first).number(range->second).end_array();
      } else {
        json.null();
      }
    }
    json.end_object();
    text_or_null(json, "population", info.population);
    text_or_null(json, "country", info.country);
    text_or_null(json, "years", info.years);
    text_or_null(json, "quality", info.quality);
    text_or_null(json, "evidence", info.evidence);
    text_or_null(json, "citation", info.citation);
    text_or_null(json, "doi", info.doi);
    text_or_null(json, "licence", info.licence);
    text_or_null(json, "restriction", info.restriction);
    json.key("files").begin_array(Layout::line);
    for (const std::string& file : info.files) {
      json.text(file);
    }
    json.end_array().end_object();
  }
  json.end_array().end_object();
  return json.take();
}

std::string lookup_text(const Lookup& lookup, const text::TextOptions& options) {
  std::string what = text::fixed(lookup.time_s, 2) + " s over " + text::shortest(lookup.distance_m) + " m";
  what += lookup.sex ? (*lookup.sex == runs::Sex::female ? ", girl" : ", boy") : ", sex not given";
  what += lookup.age_years ? " of " + text::shortest(*lookup.age_years) + " years" : ", age not given";
  what += lookup.clock == norms::Clock::signal       ? ", clock from the signal"
          : lookup.clock == norms::Clock::first_move ? ", clock from the first move"
                                                     : ", measured as each reference was";
  std::string out = text::paragraph(what, options.width) + "\n";
  for (const norms::Found& found : lookup.found) {
    if (found.norm == nullptr) {
      out += text::paragraph(found.sentence, options.width, "- ");
      continue;
    }
    const NormInfo& info = found.norm->info();
    const bool is_named = found.sentence.starts_with(info.label);
    out += text::paragraph(is_named ? found.sentence : info.label + ": " + found.sentence, options.width, "- ");
    if (!found.percentile && !found.band) {
      continue;
    }
    if (found.median_s) {
      out +=
          text::paragraph("Middle of the reference: " + text::fixed(*found.median_s, 2) + " s.", options.width, "  ");
    }
    if (!info.restriction.empty() && found.sentence.find(info.restriction) == std::string::npos) {
      out += text::paragraph(info.restriction, options.width, "  ");
    }
    out += text::paragraph("Source: " + source_line(info), options.width, "  ");
  }
  return out;
}

std::string lookup_csv(const Lookup& lookup) {
  text::CsvWriter csv;
  for (const char* column : {"distance_m", "age_years", "sex", "time_s", "clock", "source", "percentile", "z", "band",
                             "median_s", "at_limit", "sentence"}) {
    csv.text(column);
  }
  csv.end_row();
  for (const norms::Found& found : lookup.found) {
    csv.number(lookup.distance_m).number(lookup.age_years).text(sex_word(lookup.sex)).number(lookup.time_s);
    csv.text(clock_word(lookup.clock))
        .text(found.norm == nullptr ? "" : found.norm->info().id)
        .number(found.percentile);
    csv.number(found.z)
        .text(found.band ? band_word(*found.band) : "")
        .number(found.median_s)
        .text(found.at_limit ? "yes" : "no");
    csv.text(found.sentence).end_row();
  }
  return csv.take();
}

std::string lookup_json(const Lookup& lookup) {
  text::JsonWriter json;
  json.begin_object()
      .member("schema", "bagsplit.norms-lookup/1")
      .member("distance_m", lookup.distance_m)
      .member("age_years", lookup.age_years);
  text_or_null(json, "sex", sex_word(lookup.sex));
  json.member("time_s", lookup.time_s).member("clock", clock_word(lookup.clock)).key("found").begin_array();
  for (const norms::Found& found : lookup.found) {
    json.begin_object();
    text_or_null(json, "source", found.norm == nullptr ? "" : found.norm->info().id);
    json.member("percentile", found.percentile).member("z", found.z);
    text_or_null(json, "band", found.band ? band_word(*found.band) : "");
    json.member("median_s", found.median_s).member("at_limit", found.at_limit).member("sentence", found.sentence);
    text_or_null(json, "restriction", found.norm == nullptr ? "" : found.norm->info().restriction);
    text_or_null(json, "citation", found.norm == nullptr ? "" : found.norm->info().citation);
    json.end_object();
  }
  json.end_array().end_object();
  return json.take();
}

}  // namespace bagsplit::present
