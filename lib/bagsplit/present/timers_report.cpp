#include "bagsplit/present/timers_report.hpp"

#include <array>
#include <string_view>

#include "bagsplit/present/machine/json_parts.hpp"
#include "bagsplit/present/profile_parts.hpp"
#include "bagsplit/runs/typed.hpp"
#include "bagsplit/text/csv_writer.hpp"
#include "bagsplit/text/json_writer.hpp"
#include "bagsplit/text/number_text.hpp"
#include "bagsplit/text/text_table.hpp"
#include "bagsplit/text/wording.hpp"

namespace bagsplit::present {

namespace {

using jobs::TimerBias;
using jobs::TimersGroup;
using jobs::TimersPair;
using jobs::TimersResult;
using Layout = text::JsonWriter::Layout;

constexpr std::size_t most_outliers = 10;  // a pair, in text

struct Form {
  const char* key;
  const char* words;
  stats::IccForm stats::Reliability::*form;
};
constexpr std::array forms = std::to_array<Form>({
    {"icc_1_1", "(1,1)", &stats::Reliability::icc_1_1},
    {"icc_2_1", "(2,1)", &stats::Reliability::icc_2_1},
    {"icc_3_1", "(3,1)", &stats::Reliability::icc_3_1},
    {"icc_1_k", "(1,k)", &stats::Reliability::icc_1_k},
    {"icc_2_k", "(2,k)", &stats::Reliability::icc_2_k},
    {"icc_3_k", "(3,k)", &stats::Reliability::icc_3_k},
});

std::string pair_words(const TimersPair& pair) {
  return pair.first.label() + (pair.is_reference ? " less " : " and ") + pair.second.label();
}

std::string between(const stats::Interval& interval, int decimals) {
  return text::signed_fixed(interval.lo, decimals) + " to " + text::signed_fixed(interval.hi, decimals);
}

// Pairs are numbered, so that tables stay narrow.
std::string number(std::size_t i) {
  return std::to_string(i + 1);
}

std::string agreement_part(const TimersResult& result, const text::TextOptions& options) {
  std::string out;
  for (std::size_t i = 0; i < result.pairs.size(); ++i) {
    const TimersPair& pair = result.pairs[i];
    out += text::paragraph(pair_words(pair) + ": start " + pair.start + ", at " + text::joined(pair.marks) + ", " +
                               text::counted(pair.runs, "run") + " of " + text::counted(pair.players, "player") + ", " +
                               text::counted(pair.dates, "date") + ".",
                           options.width, number(i) + "  ");
  }
  text::TextTable table({{"pair", "", text::Align::left},
                         {"runs", ""},
                         {"bias", "s"},
                         {"SD", "s"},
                         {"limits of agreement", "s"},
                         {"typical error", "s"}});
  for (std::size_t i = 0; i < result.pairs.size(); ++i) {
    const TimersPair& pair = result.pairs[i];
    const std::string sign(text::plus_minus(options));
    if (!pair.agreement) {
      table.add_row({number(i), std::to_string(pair.runs), std::string(text::absent), std::string(text::absent),
                     std::string(text::absent), std::string(text::absent)});
      continue;
    }
    const stats::Agreement& a = *pair.agreement;
    table.add_row({number(i), std::to_string(pair.runs),
                   text::signed_fixed(a.bias, 3) + " " + sign + text::fixed(a.bias_interval.half_width(), 3),
                   text::fixed(a.sd, 3), between(a.limits, 2),
                   pair.reliability ? text::fixed(pair.reliability->typical_error.sd, 3) + " (" +
                                          text::fixed(pair.reliability->typical_error.interval.lo, 3) + " to " +
                                          text::fixed(pair.reliability->typical_error.interval.hi, 3) + ")"
                                    : std::string(text::absent)});
  }
  out += "\n" + table.str(options);
  out += text::paragraph("bias: first less second; after " + std::string(text::plus_minus(options)) + " half of the " +
                             text::percent(result.level) +
                             " interval. SD: of the differences. Limits of agreement (Bland & Altman) hold 95% of the "
                             "differences. Typical error: of one time, if both err alike (SD over root 2), with its " +
                             text::percent(result.level) + " interval.",
                         options.width);
  return out;
}

std::string limits_part(const TimersResult& result, const text::TextOptions& options) {
  text::TextTable table({{"pair", "", text::Align::left}, {"lower limit", "s"}, {"upper limit", "s"}, {"median", "s"}});
  for (std::size_t i = 0; i < result.pairs.size(); ++i) {
    if (const auto& a = result.pairs[i].agreement) {
      table.add_row({number(i), between(a->lower_limit_interval, 2), between(a->upper_limit_interval, 2),
                     text::signed_fixed(result.pairs[i].median_s, 3)});
    }
  }
  if (table.empty()) {
    return {};
  }
  return "\n" + text::heading("How well the limits are known", options) + table.str(options) +
         text::paragraph("The limits' own " + text::percent(result.level) + " intervals.", options.width);
}

std::vector<std::string> icc_row(const std::string& key, const stats::Reliability& reliability) {
  std::vector<std::string> row{key};
  for (const Form& form : forms) {
    row.push_back(text::fixed((reliability.*form.form).icc, 2));
  }
  const stats::IccForm& two = reliability.icc_2_1;
  row.push_back(two.interval ? text::fixed(two.interval->lo, 2) + " to " + text::fixed(two.interval->hi, 2)
                             : std::string(text::absent));
  return row;
}

std::string icc_part(const TimersResult& result, const text::TextOptions& options) {
  std::vector<text::TextTable::Column> columns{{"pair", "", text::Align::left}};
  for (const Form& form : forms) {
    columns.push_back({form.words});
  }
  columns.push_back({"(2,1) " + text::percent(result.level)});
  text::TextTable table(columns);
  for (std::size_t i = 0; i < result.pairs.size(); ++i) {
    if (const auto& reliability = result.pairs[i].reliability) {
      table.add_row(icc_row(number(i), *reliability));
    }
  }
  std::string of_groups;
  for (const TimersGroup& group : result.groups) {
    std::vector<std::string> names;
    for (const jobs::Reader& reader : group.readers) {
      names.push_back(reader.label());
    }
    const std::string key = "of " + std::to_string(group.readers.size());
    table.add_row(icc_row(key, group.reliability));
    of_groups += text::paragraph(
        text::joined(names) + " on the same " + text::counted(group.runs, "run") + " (start " + group.start +
            "): typical error " + text::fixed(group.reliability.typical_error.sd, 3) + " s, " +
            text::fixed(group.reliability.error_with_rater_bias, 3) + " s where what they differ by counts as error.",
        options.width, key + ": ");
  }
  if (table.empty()) {
    return {};
  }
  return "\n" + text::heading("Intraclass correlations", options) + table.str(options) + of_groups +
         text::paragraph(
             "Shrout & Fleiss (1979): (1,.) timers differ from run to run, (2,.) absolute agreement, (3,.) "
             "consistency; 1 for one time, k for the mean of the timers. They fall when players are alike; to "
             "judge the timing read the typical error.",
             options.width);
}

std::string outlier_part(const TimersResult& result, const text::TextOptions& options) {
  std::string out;
  for (std::size_t i = 0; i < result.pairs.size(); ++i) {
    const TimersPair& pair = result.pairs[i];
    for (std::size_t k = 0; k < pair.outliers.size() && k < most_outliers; ++k) {
      const jobs::TimersOutlier& each = pair.outliers[k];
      out += text::paragraph(text::signed_fixed(each.difference_s, 2) + " s, player " + text::one_line(each.player) +
                                 " on " + runs::format_date(each.date) + ": " + each.first_place + " and " +
                                 each.second_place,
                             options.width, number(i) + "  ");
    }
    if (pair.outliers.size() > most_outliers) {
      out += text::paragraph("and " + std::to_string(pair.outliers.size() - most_outliers) + " more.", options.width,
                             number(i) + "  ");
    }
    if (pair.sd_without_outliers_s) {
      out += text::paragraph("without these: bias " + text::signed_fixed(*pair.bias_without_outliers_s, 3) + " s, SD " +
                                 text::fixed(*pair.sd_without_outliers_s, 3) + " s.",
                             options.width, number(i) + "  ");
    }
  }
  const bool of_any = std::any_of(result.pairs.begin(), result.pairs.end(), [](const TimersPair& pair) {
    return pair.first.timer == "any watch" && !pair.outliers.empty();
  });
  return out.empty() ? out
                     : "\n" + text::heading("Differences far from the others", options) + out +
                           text::paragraph(
                               "Look at the sheet: a late thumb, a wrong row, a swapped digit. They are in the "
                               "figures above, and out of the device profile" +
                                   std::string(of_any ? " where they are far off for that watch by itself." : "."),
                               options.width);
}

std::string bias_part(const TimersResult& result, const text::TextOptions& options) {
  if (result.biases.empty()) {
    return {};
  }
  text::TextTable table({{"timer", "", text::Align::left},
                         {"start", "", text::Align::left},
                         {"runs", ""},
                         {"bias", "s"},
                         {"before", "s"},
                         {"press SD", "s"},
                         {"told by", "", text::Align::left}});
  for (const TimerBias& bias : result.biases) {
    const std::string sign(text::plus_minus(options));
    table.add_row({bias.timer.empty() ? "(no name)" : bias.timer, bias.start, std::to_string(bias.runs),
                   text::signed_fixed(bias.mean_s, 2) + " " + sign + text::fixed(bias.sd_s, 2),
                   text::signed_fixed(bias.mean_before_s, 2) + " " + sign + text::fixed(bias.sd_before_s, 2),
                   text::fixed(bias.press_sd_s, 3), bias.against_reference ? "gate, camera" : "differences"});
  }
  return "\n" + text::heading("What is now known of each thumb", options) + table.str(options) +
         text::paragraph("bias: reading less truth, after " + std::string(text::plus_minus(options)) +
                             " its SD; before: what the profile in use said. press SD: of a time, start and mark "
                             "press together. differences: only what timers differ by is told, what they share is not.",
                         options.width);
}

void write(text::JsonWriter& json, std::string_view name, double estimate, const stats::Interval& interval) {
  json.key(name)
      .begin_object(Layout::line)
      .member("estimate", estimate)
      .member("lo", interval.lo)
      .member("hi", interval.hi)
      .end_object();
}

void write(text::JsonWriter& json, std::string_view name, const jobs::Reader& reader) {
  json.key(name).begin_object(Layout::line);
  text_or_null(json, "timer", reader.timer);
  json.member("device", reader.device).end_object();
}

void write_reliability(text::JsonWriter& json, const stats::Reliability& r) {
  json.key("icc").begin_object();
  for (const Form& form : forms) {
    const stats::IccForm& icc = r.*form.form;
    json.key(form.key)
        .begin_object(Layout::line)
        .member("estimate", icc.icc)
        .member("lo", icc.interval ? std::optional(icc.interval->lo) : std::nullopt)
        .member("hi", icc.interval ? std::optional(icc.interval->hi) : std::nullopt)
        .end_object();
  }
  json.end_object();
  json.key("typical_error_s")
      .begin_object(Layout::line)
      .member("estimate", r.typical_error.sd)
      .member("df", r.typical_error.df)
      .member("lo", r.typical_error.interval.lo)
      .member("hi", r.typical_error.interval.hi)
      .end_object();
  json.member("error_with_timer_bias_s", r.error_with_rater_bias);
}

void write_pair(text::JsonWriter& json, const TimersPair& pair) {
  json.begin_object();
  write(json, "first", pair.first);
  write(json, "second", pair.second);
  json.member("second_is_reference", pair.is_reference)
      .member("start", pair.start)
      .key("marks")
      .begin_array(Layout::line);
  for (const std::string& mark : pair.marks) {
    json.text(mark);
  }
  json.end_array()
      .member("runs", std::uint64_t{pair.runs})
      .member("players", std::uint64_t{pair.players})
      .member("dates", std::uint64_t{pair.dates});
  if (const auto& a = pair.agreement) {
    json.key("bias_s")
        .begin_object(Layout::line)
        .member("estimate", a->bias)
        .member("se", a->se_bias)
        .member("df", pair.bias_df)
        .member("lo", a->bias_interval.lo)
        .member("hi", a->bias_interval.hi)
        .end_object();
    json.member("sd_of_differences_s", a->sd).key("limits_of_agreement_s").begin_object();
    write(json, "lower", a->limits.lo, a->lower_limit_interval);
    write(json, "upper", a->limits.hi, a->upper_limit_interval);
    json.end_object().member("repeated_measures", pair.repeated);
  } else {
    json.key("bias_s").null().key("sd_of_differences_s").null().key("limits_of_agreement_s").null();
    json.member("repeated_measures", false);
  }
  if (pair.reliability) {
    write_reliability(json, *pair.reliability);
  } else {
    json.key("icc").null().key("typical_error_s").null().key("error_with_timer_bias_s").null();
  }
  json.key("proportional_bias");
  if (pair.proportional) {
    json.begin_object(Layout::line)
        .member("slope", pair.proportional->slope)
        .member("se", pair.proportional->se)
        .member("p", pair.proportional->p_two_sided)
        .end_object();
  } else {
    json.null();
  }
  json.member("median_s", pair.median_s).member("robust_sd_s", pair.robust_sd_s).key("outliers").begin_array();
  for (const jobs::TimersOutlier& outlier : pair.outliers) {
    json.begin_object(Layout::line)
        .member("player", outlier.player)
        .member("date", runs::format_date(outlier.date))
        .member("difference_s", outlier.difference_s)
        .member("first", outlier.first_place)
        .member("second", outlier.second_place)
        .end_object();
  }
  json.end_array()
      .member("bias_without_outliers_s", pair.bias_without_outliers_s)
      .member("sd_without_outliers_s", pair.sd_without_outliers_s);
  json.key("by_date").begin_array();
  for (const jobs::TimersNight& night : pair.nights) {
    json.begin_object(Layout::line)
        .member("date", runs::format_date(night.date))
        .member("runs", std::uint64_t{night.runs})
        .member("bias_s", night.bias_s)
        .end_object();
  }
  json.end_array().end_object();
}

}  // namespace

std::string timers_text(const TimersResult& result, const text::TextOptions& options) {
  std::string out =
      text::paragraph("Timing compared on " + text::counted(result.runs_shared, "run") + " that several timed; " +
                          text::counted(result.runs_alone, "run") + " had one reading only.",
                      options.width);
  if (!result.pairs.empty()) {
    out += "\n" + text::heading("Who differs from whom", options) + agreement_part(result, options);
    out += limits_part(result, options) + icc_part(result, options) + outlier_part(result, options) +
           bias_part(result, options);
  }
  if (!result.notes.empty()) {
    out += "\n" + text::heading("What these runs cannot tell", options);
    out += text::listed(result.notes, options.width);
  }
  return out;
}

std::string timers_csv(const TimersResult& result) {
  text::CsvWriter csv;
  for (const char* column : {"first",
                             "second",
                             "start",
                             "second_is_reference",
                             "runs",
                             "players",
                             "bias_s",
                             "bias_s.se",
                             "bias_s.df",
                             "bias_s.lo",
                             "bias_s.hi",
                             "sd_of_differences_s",
                             "lower_limit_s",
                             "lower_limit_s.lo",
                             "lower_limit_s.hi",
                             "upper_limit_s",
                             "upper_limit_s.lo",
                             "upper_limit_s.hi",
                             "typical_error_s",
                             "typical_error_s.lo",
                             "typical_error_s.hi"}) {
    csv.text(column);
  }
  for (const Form& form : forms) {
    csv.text(form.key).text(std::string(form.key) + ".lo").text(std::string(form.key) + ".hi");
  }
  csv.text("outliers").end_row();
  for (const TimersPair& pair : result.pairs) {
    csv.text(pair.first.label()).text(pair.second.label()).text(pair.start).text(pair.is_reference ? "yes" : "no");
    csv.count(pair.runs).count(pair.players);
    if (const auto& a = pair.agreement) {
      csv.number(a->bias)
          .number(a->se_bias)
          .number(pair.bias_df)
          .number(a->bias_interval.lo)
          .number(a->bias_interval.hi);
      csv.number(a->sd);
      csv.number(a->limits.lo).number(a->lower_limit_interval.lo).number(a->lower_limit_interval.hi);
      csv.number(a->limits.hi).number(a->upper_limit_interval.lo).number(a->upper_limit_interval.hi);
    } else {
      for (int i = 0; i < 12; ++i) {
        csv.empty();
      }
    }
    if (const auto& r = pair.reliability) {
      csv.number(r->typical_error.sd).number(r->typical_error.interval.lo).number(r->typical_error.interval.hi);
      for (const Form& form : forms) {
        const stats::IccForm& icc = (*r).*form.form;
        csv.number(icc.icc);
        csv.number(icc.interval ? std::optional(icc.interval->lo) : std::nullopt);
        csv.number(icc.interval ? std::optional(icc.interval->hi) : std::nullopt);
      }
    } else {
      for (std::size_t i = 0; i < 3 + 3 * forms.size(); ++i) {
        csv.empty();
      }
    }
    csv.count(pair.outliers.size()).end_row();
  }
  return csv.take();
}

std::string timers_json(const TimersResult& result) {
  text::JsonWriter json;
  json.begin_object().member("schema", "bagsplit.timers/1").member("level", result.level).key("pairs").begin_array();
  for (const TimersPair& pair : result.pairs) {
    write_pair(json, pair);
  }
  json.end_array().key("groups").begin_array();
  for (const TimersGroup& group : result.groups) {
    json.begin_object().key("readers").begin_array();
    for (const jobs::Reader& reader : group.readers) {
      json.begin_object(Layout::line);
      text_or_null(json, "timer", reader.timer);
      json.member("device", reader.device).end_object();
    }
    json.end_array().member("start", group.start).member("runs", std::uint64_t{group.runs});
    write_reliability(json, group.reliability);
    json.end_object();
  }
  json.end_array().key("timers").begin_array();
  for (const TimerBias& bias : result.biases) {
    json.begin_object();
    text_or_null(json, "timer", bias.timer);
    json.member("start", bias.start).member("runs", std::uint64_t{bias.runs});
    json.key("bias_s")
        .begin_object(Layout::line)
        .member("mean", bias.mean_s)
        .member("sd", bias.sd_s)
        .member("timer_sd", bias.timer_sd_s)
        .end_object();
    json.key("bias_before_s")
        .begin_object(Layout::line)
        .member("mean", bias.mean_before_s)
        .member("sd", bias.sd_before_s)
        .end_object();
    json.member("told_by", bias.against_reference ? "reference" : "differences only");
    json.key("press_sd_s");
    if (bias.press_sd_s) {
      json.begin_object(Layout::line)
          .member("value", *bias.press_sd_s)
          .member("low", bias.press_sd_low_s)
          .member("high", bias.press_sd_high_s)
          .end_object();
    } else {
      json.null();
    }
    json.end_object();
  }
  json.end_array()
      .member("runs_shared", std::uint64_t{result.runs_shared})
      .member("runs_alone", std::uint64_t{result.runs_alone})
      .member("runs_left_out", std::uint64_t{result.runs_left_out});
  write_texts(json, "notes", result.notes);
  json.end_object();
  return json.take();
}

}  // namespace bagsplit::present
