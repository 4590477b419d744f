#include <algorithm>
#include <charconv>
#include <cmath>
#include <map>
#include <stdexcept>

#include "bagsplit/builtin/builtin.hpp"
#include "bagsplit/norms/catalogue.hpp"
#include "bagsplit/norms/detail/distance.hpp"
#include "bagsplit/text/json_text.hpp"

namespace bagsplit::norms {

namespace {

using runs::Sex;
using text::JsonNeed;
using text::JsonObject;
using text::JsonRange;
using text::JsonText;
using text::JsonValue;
using text::Problems;

// Which rows of a table make up a reference. Of two that give the same row, the one listed first counts.
struct RowsFrom {
  std::string file;
  std::string l, m, s, mean, sd;  // names of the statistics; empty where not taken
  bool marks = false;             // take every percentile p1 to p99
  double from_age = 0.0;          // rows with from <= age_lo < to
  double to_age = 1000.0;
  double max_width_yr = 1.5;  // passes over rows that pool several ages
  double distance_m = 0.0;    // 0: that of the conditions
};

struct Entry {
  NormInfo info;
  bool bins = false;
  std::optional<std::pair<double, double>> female_ages, male_ages;
  std::vector<RowsFrom> rows;
};

std::string text_or_empty(JsonObject& object, std::string_view name, JsonNeed need = JsonNeed::optional) {
  return object.text(name, need).value_or(std::string());
}

RowsFrom read_rows(JsonText& json, const JsonValue& value, const std::string& pointer) {
  JsonObject object(json, value, pointer);
  RowsFrom rows;
  rows.file = text_or_empty(object, "file", JsonNeed::required);
  rows.l = text_or_empty(object, "l");
  rows.m = text_or_empty(object, "m");
  rows.s = text_or_empty(object, "s");
  rows.mean = text_or_empty(object, "mean");
  rows.sd = text_or_empty(object, "sd");
  rows.marks = object.boolean("marks").value_or(false);
  rows.from_age = object.number("from_age").value_or(rows.from_age);
  rows.to_age = object.number("to_age").value_or(rows.to_age);
  rows.max_width_yr = object.number("max_width_yr").value_or(rows.max_width_yr);
  rows.distance_m = object.number("distance_m").value_or(0.0);
  object.refuse_other_names();
  return rows;
}

Conditions read_conditions(JsonObject object) {
  Conditions conditions;
  const JsonRange not_negative{.low = 0.0, .expected = "a number, at least 0"};
  conditions.distance_m = object.number("distance_m", not_negative, JsonNeed::required).value_or(0.0);
  const auto clock = object.word("clock", {"signal", "first-move", "contact"}, JsonNeed::required);
  conditions.signal_start = clock == 0;
  conditions.start_offset_m = object.number("start_offset_m", not_negative).value_or(0.0);
  conditions.hand_timed = object.boolean("hand_timed", JsonNeed::required).value_or(true);
  conditions.rounding_bias_s = object.number("rounding_bias_s").value_or(0.0);
  if (auto bias = object.object("timing_bias_s")) {
    conditions.timing_bias_mean_s = bias->number("mean", {}, JsonNeed::required).value_or(0.0);
    conditions.timing_bias_sd_s = bias->number("sd", not_negative, JsonNeed::required).value_or(0.0);
    bias->refuse_other_names();
  }
  conditions.shares_hand_bias = conditions.signal_start && conditions.hand_timed;
  conditions.note = text_or_empty(object, "note");
  object.refuse_other_names();
  return conditions;
}

std::optional<std::pair<double, double>> read_range(JsonText& json, JsonObject& object, std::string_view name) {
  const auto* items = object.array(name);
  if (items == nullptr) {
    return std::nullopt;
  }
  if (items->size() != 2 || (*items)[0].kind != text::JsonKind::number || (*items)[1].kind != text::JsonKind::number ||
      (*items)[0].number >= (*items)[1].number) {
    json.report(text::Severity::error, "wrong-type", object.value().find(name)->place,
                "'" + std::string(name) + "' is not a range", "two numbers, the lower one first");
    return std::nullopt;
  }
  return std::pair((*items)[0].number, (*items)[1].number);
}

Entry read_entry(JsonText& json, const JsonValue& value, const std::string& pointer) {
  JsonObject object(json, value, pointer);
  Entry entry;
  NormInfo& info = entry.info;
  info.id = text_or_empty(object, "id", JsonNeed::required);
  info.label = text_or_empty(object, "label", JsonNeed::required);
  info.who = text_or_empty(object, "who");
  info.population = text_or_empty(object, "population", JsonNeed::required);
  info.country = text_or_empty(object, "country", JsonNeed::required);
  info.years = text_or_empty(object, "years", JsonNeed::required);
  info.citation = text_or_empty(object, "citation", JsonNeed::required);
  info.doi = text_or_empty(object, "doi");
  info.licence = text_or_empty(object, "licence", JsonNeed::required);
  info.evidence = text_or_empty(object, "evidence", JsonNeed::required);
  info.quality = text_or_empty(object, "quality", JsonNeed::required);
  info.restriction = text_or_empty(object, "restriction", JsonNeed::required);
  info.test = text_or_empty(object, "test", JsonNeed::required);
  info.kind = static_cast<Kind>(
      object.word("kind", {"lms", "mean_sd", "percentile_marks", "band", "marks", "none"}, JsonNeed::required)
          .value_or(5));
  info.standing = static_cast<Standing>(
      object.word("standing", {"norm", "squad", "comparison", "check", "anchor"}, JsonNeed::required).value_or(3));
  info.use_by_default = object.boolean("default", JsonNeed::required).value_or(false);
  entry.bins = object.word("age_rule", {"bins", "between-rows"}).value_or(1) == 0;
  info.age_offset_yr = object.number("age_offset_yr").value_or(0.0);
  if (const auto trimmed = read_range(json, object, "trimmed_outside")) {
    std::tie(info.trimmed_lo, info.trimmed_hi) = *trimmed;
  }
  if (auto ages = object.object("ages")) {
    entry.female_ages = read_range(json, *ages, "F");
    entry.male_ages = read_range(json, *ages, "M");
    ages->refuse_other_names();
  }
  if (const auto* rows = object.array("rows")) {
    for (std::size_t i = 0; i < rows->size(); ++i) {
      entry.rows.push_back(read_rows(json, (*rows)[i], pointer + "/rows/" + std::to_string(i)));
      info.files.push_back(entry.rows.back().file);
    }
  }
  if (const auto* files = object.array("files")) {
    for (const JsonValue& file : *files) {
      info.files.push_back(file.text);
    }
  }
  std::sort(info.files.begin(), info.files.end());
  info.files.erase(std::unique(info.files.begin(), info.files.end()), info.files.end());
  if (auto conditions = object.object("conditions", JsonNeed::required)) {
    info.conditions = read_conditions(std::move(*conditions));
  }
  object.refuse_other_names();
  return entry;
}

// "p25" is 25; anything else is not a percentile.
std::optional<double> percentile_name(const std::string& statistic) {
  if (statistic.size() < 2 || statistic.size() > 3 || statistic[0] != 'p' ||
      !std::all_of(statistic.begin() + 1, statistic.end(), [](char c) { return c >= '0' && c <= '9'; })) {
    return std::nullopt;
  }
  double p = 0.0;
  for (const char digit : statistic.substr(1)) {
    p = 10.0 * p + (digit - '0');
  }
  return p > 0.0 ? std::optional(p) : std::nullopt;
}

// What has been found for one row of ages so far.
struct Making {
  Knot knot;
  std::optional<double> l, m, s;
};

void take_rows(const RowsFrom& from, const Table& table, double distance_m, Sex sex, double age_offset_yr, bool bins,
               std::map<double, Making>& made) {
  std::map<double, Making> here;
  for (const Row& row : table.rows) {
    if (row.sex != sex || !row.value || !row.age_lo_yr || !row.age_hi_yr || *row.age_lo_yr < from.from_age ||
        *row.age_lo_yr >= from.to_age || *row.age_hi_yr - *row.age_lo_yr > from.max_width_yr || !row.distance_m ||
        !same_distance(*row.distance_m, from.distance_m > 0.0 ? from.distance_m : distance_m)) {
      continue;
    }
    Making& making = here[*row.age_lo_yr];
    making.knot.age_lo_yr = *row.age_lo_yr;
    making.knot.age_hi_yr = *row.age_hi_yr;
    // A bin stands for the middle of its ages; a row of completed years for the mean age at the test.
    making.knot.age_yr = bins ? 0.5 * (*row.age_lo_yr + *row.age_hi_yr) : *row.age_lo_yr + age_offset_yr;
    making.knot.n = row.n;
    if (row.statistic == from.l) {
      making.l = row.value;
    } else if (row.statistic == from.m) {
      making.m = row.value;
    } else if (row.statistic == from.s) {
      making.s = row.value;
    } else if (row.statistic == from.mean) {
      making.knot.mean_s = row.value;
    } else if (row.statistic == from.sd) {
      making.knot.sd_s = row.value;
    } else if (from.marks) {
      if (const auto p = percentile_name(row.statistic)) {
        making.knot.marks.emplace_back(*p, *row.value);
      }
    }
  }
  made.merge(here);  // rows already there stay
}

// Sorts, holds an SD that a row lacks from the next younger row, and checks that each row has what its kind needs.
std::vector<Knot> finish(Kind kind, std::map<double, Making> made) {
  std::vector<Knot> knots;
  std::optional<double> sd_s;
  for (auto& [age_lo, making] : made) {
    Knot& knot = making.knot;
    if (making.l && making.m && making.s) {
      knot.lms = Lms{*making.l, *making.m, *making.s};
    }
    std::sort(knot.marks.begin(), knot.marks.end());
    if (!knot.sd_s) {
      knot.sd_s = sd_s;
    }
    sd_s = knot.sd_s;
    const bool usable = (kind == Kind::lms && knot.lms) || (kind == Kind::mean_sd && knot.mean_s && knot.sd_s) ||
                        (kind == Kind::percentile_marks && knot.marks.size() >= 2) ||
                        (kind == Kind::marks && !knot.marks.empty()) || (kind == Kind::band && knot.mean_s);
    if (usable) {
      knots.push_back(knot);
    }
  }
  std::sort(knots.begin(), knots.end(), [](const Knot& a, const Knot& b) { return a.age_yr < b.age_yr; });
  return knots;
}

void report_missing(Problems& problems, const std::string& path, const std::string& message, const std::string& read) {
  problems.push_back({.severity = text::Severity::error,
                      .code = "missing-norm-table",
                      .path = path,
                      .line = 0,
                      .column = 0,
                      .length = 0,
                      .message = message,
                      .read = read,
                      .expected = {},
                      .hint = {},
                      .source_line = {}});
}

}  // namespace

Catalogue Catalogue::load(std::string_view index_json,
                          const std::function<std::optional<std::string_view>(std::string_view)>& text_of,
                          Problems& problems) {
  Catalogue catalogue;
  const std::string path = "norms/index.json";
  JsonText json(index_json, path);
  const auto root = json.parse();
  std::vector<Entry> entries;
  if (root) {
    JsonObject file(json, *root);
    file.word("schema", {"bagsplit.norms/1"}, JsonNeed::required);
    if (const auto* list = file.array("norms", JsonNeed::required)) {
      for (std::size_t i = 0; i < list->size(); ++i) {
        entries.push_back(read_entry(json, (*list)[i], "/norms/" + std::to_string(i)));
      }
    }
    file.refuse_other_names();
  }
  if (json.deliver(problems) > 0) {
    return catalogue;
  }
  for (const Entry& entry : entries) {
    for (const std::string& name : entry.info.files) {
      if (catalogue.table(name) != nullptr) {
        continue;
      }
      const auto text = text_of(name);
      if (!text) {
        report_missing(problems, path, "the table that '" + entry.info.id + "' names is not there", name);
        continue;
      }
      catalogue.tables_.push_back(parse_table(*text, name, problems));
    }
  }
  for (Entry& entry : entries) {
    Norm norm;
    norm.info_ = std::move(entry.info);
    norm.bins_ = entry.bins;
    for (const Sex sex : {Sex::female, Sex::male}) {
      const auto& ages = sex == Sex::female ? entry.female_ages : entry.male_ages;
      if (!ages) {
        continue;
      }
      std::map<double, Making> made;
      for (const RowsFrom& rows : entry.rows) {
        if (const Table* table = catalogue.table(rows.file)) {
          take_rows(rows, *table, norm.info_.conditions.distance_m, sex, norm.info_.age_offset_yr, norm.bins_, made);
        }
      }
      auto knots = finish(norm.info_.kind, std::move(made));
      if (knots.empty()) {
        report_missing(problems, path, "no usable rows were found for '" + norm.info_.id + "'", "");
        continue;
      }
      (sex == Sex::female ? norm.female_ : norm.male_) = std::move(knots);
      (sex == Sex::female ? norm.female_ages_ : norm.male_ages_) = ages;
    }
    catalogue.norms_.push_back(std::move(norm));
  }
  return catalogue;
}

Catalogue Catalogue::builtin() {
  Problems problems;
  const auto index = builtin::text("norms/index.json");
  if (!index) {
    throw std::logic_error("Catalogue::builtin: the embedded norms index is missing; this is a bug in bagsplit");
  }
  Catalogue catalogue = load(*index, builtin::text, problems);
  if (!problems.empty()) {
    throw std::logic_error("Catalogue::builtin: the embedded norms are broken (" + problems.front().path + ": " +
                           problems.front().message + "); this is a bug in bagsplit");
  }
  return catalogue;
}

}  // namespace bagsplit::norms
