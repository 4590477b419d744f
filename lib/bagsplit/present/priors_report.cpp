#include "bagsplit/present/priors_report.hpp"

#include <cmath>
#include <functional>
#include <optional>
#include <string_view>

#include "bagsplit/inference/prior/prior.hpp"
#include "bagsplit/text/csv_writer.hpp"
#include "bagsplit/text/json_writer.hpp"
#include "bagsplit/text/number_text.hpp"
#include "bagsplit/text/text_table.hpp"

namespace bagsplit::present {

namespace {

using Layout = text::JsonWriter::Layout;

constexpr int youngest_yr = 6;
constexpr int oldest_yr = 18;

const char* letter(runs::Sex sex) {
  return sex == runs::Sex::female ? "F" : "M";
}

constexpr std::string_view rests_on =
    "First acceleration under 13 rests on two squads of 18 boys in all and on tennis squads, with clocks whose start "
    "nobody stated: its level is known to 15 %.";

void each_prior(const std::function<void(runs::Sex, int, const inference::SprintPrior&)>& visit) {
  for (const runs::Sex sex : {runs::Sex::female, runs::Sex::male}) {
    for (int age = youngest_yr; age <= oldest_yr; ++age) {
      visit(sex, age, inference::sprint_prior(static_cast<double>(age), sex));
    }
  }
}

// "norms/sprint-50m-japan-fy2017.csv" without folder and ending.
std::string table_name(std::string_view path) {
  path.remove_prefix(path.rfind('/') + 1);
  const std::size_t ending = path.find(".csv");
  return ending == std::string_view::npos ? std::string(path)
                                          : std::string(path.substr(0, ending)) + std::string(path.substr(ending + 4));
}

std::string residual_table(const std::vector<inference::PriorResidual>& residuals, bool shifts,
                           const text::TextOptions& options) {
  std::vector<text::TextTable::Column> columns{{"table", "", text::Align::left},
                                               {"sex", "", text::Align::left},
                                               {"age", "yr"},
                                               {"over", "m"},
                                               {"published", "s"},
                                               {"derived", "s"},
                                               {"differs", "%"}};
  if (shifts) {
    columns.push_back({"unshifted", "%"});
  }
  text::TextTable table(columns);
  for (const inference::PriorResidual& residual : residuals) {
    std::vector<std::string> row{table_name(residual.table),
                                 letter(residual.sex),
                                 text::fixed(residual.age_yr, 1),
                                 text::fixed(residual.distance_m, 1),
                                 text::fixed(residual.published_s, 3),
                                 text::fixed(residual.derived_s, 3),
                                 text::signed_fixed(residual.error_pct(), 2)};
    if (shifts) {
      row.push_back(text::signed_fixed(residual.error_without_shift_pct(), 2));
    }
    table.add_row(std::move(row));
  }
  return table.str(options);
}

std::string unknowns_table(const inference::PriorFit& fit, const text::TextOptions& options) {
  text::TextTable table({{"before", ""},
                         {"SD", ""},
                         {"after", ""},
                         {"SD", ""},
                         {"unit", "", text::Align::left},
                         {"what", "", text::Align::left, true}},
                        0);
  for (const inference::PriorUnknown& u : fit.unknowns) {
    table.add_row({text::fixed(u.before.mean, 3), text::fixed(u.before.sd, 3), text::fixed(u.after.mean, 3),
                   text::fixed(u.after.sd, 3), u.unit, u.meaning});
  }
  return table.str(options);
}

void write_residuals(text::JsonWriter& json, std::string_view name,
                     const std::vector<inference::PriorResidual>& residuals, bool shifts) {
  json.key(name).begin_array();
  for (const inference::PriorResidual& residual : residuals) {
    json.begin_object(Layout::line)
        .member("source", residual.table)
        .member("sex", letter(residual.sex))
        .member("age_years", residual.age_yr)
        .member("distance_m", residual.distance_m)
        .member("published_s", residual.published_s)
        .member("derived_s", residual.derived_s)
        .member("difference_pct", residual.error_pct());
    if (shifts) {
      json.member("difference_without_shift_pct", residual.error_without_shift_pct());
    }
    json.end_object();
  }
  json.end_array();
}

void write_normal(text::JsonWriter& json, std::string_view name, const inference::Normal& normal,
                  std::optional<double> level_sd = std::nullopt) {
  json.key(name).begin_object(Layout::line).member("mean", normal.mean).member("sd", normal.sd);
  if (level_sd) {
    json.member("level_sd", *level_sd);
  }
  json.end_object();
}

}  // namespace

std::string priors_text(const inference::PriorFit& fit, const text::TextOptions& options) {
  std::string out = text::paragraph(
      "What is believed of a player before any run is seen, worked out from the published tables. Each is a middle, "
      "the SD between children, and the SD of the level: how far the middle itself may be off, for all children alike.",
      options.width);
  out += text::paragraph(rests_on, options.width);
  text::TextTable table({{"sex", "", text::Align::left},
                         {"age", "yr"},
                         {"top speed", "m/s"},
                         {"SD", "%"},
                         {"level", "%"},
                         {"first accel.", "m/s2"},
                         {"SD", "%"},
                         {"level", "%"}},
                        2);
  text::TextTable more(
      {{"sex", "", text::Align::left}, {"age", "yr"}, {"time constant", "s"}, {"reaction", "s"}, {"SD", "s"}}, 2);
  each_prior([&](runs::Sex sex, int age, const inference::SprintPrior& prior) {
    table.add_row({letter(sex), std::to_string(age), text::fixed(std::exp(prior.log_top_speed.mean), 2),
                   text::fixed(100.0 * prior.log_top_speed.sd, 1), text::fixed(100.0 * prior.log_top_speed_level_sd, 1),
                   text::fixed(std::exp(prior.log_first_acceleration.mean), 1),
                   text::fixed(100.0 * prior.log_first_acceleration.sd, 1),
                   text::fixed(100.0 * prior.log_first_acceleration_level_sd, 1)});
    more.add_row({letter(sex), std::to_string(age), text::fixed(std::exp(prior.log_time_constant.mean), 2),
                  text::fixed(prior.reaction_s.mean, 2), text::fixed(prior.reaction_s.sd, 2)});
  });
  out += "\n" + table.str(options) + "\n" + more.str(options);
  const inference::SprintPrior any = inference::sprint_prior(std::nullopt, std::nullopt);
  out += "\n" + text::paragraph("Late slowing: beyond what a full sprint covers in 6.5 s, " +
                                    text::fixed(100.0 * any.late_slowing_per_s.mean, 1) +
                                    " % of top speed is lost a second; SD between children " +
                                    text::fixed(100.0 * any.late_slowing_per_s.sd, 1) + ", of the level " +
                                    text::fixed(100.0 * any.late_slowing_level_sd_per_s, 1) + ".",
                                options.width);
  out += "\n" + text::heading("Published means given back", options) +
         text::paragraph("The last column takes both countries' children for one population.", options.width) +
         residual_table(fit.means, true, options);
  out += "\n" + text::heading("Splits of squads given back", options) + residual_table(fit.gates, false, options);
  out += "\n" + text::heading("Published SDs between children given back", options) +
         residual_table(fit.spreads, false, options);
  out += "\n" + text::heading("What nobody stated, before and after the fit", options) + unknowns_table(fit, options);
  return out;
}

std::string priors_csv() {
  text::CsvWriter csv;
  for (const char* column :
       {"sex", "age_years", "log_top_speed_mean", "log_top_speed_sd", "log_top_speed_level_sd",
        "log_first_acceleration_mean", "log_first_acceleration_sd", "log_first_acceleration_level_sd",
        "log_time_constant_mean", "log_time_constant_sd", "reaction_mean_s", "reaction_sd_s"}) {
    csv.text(column);
  }
  csv.end_row();
  each_prior([&](runs::Sex sex, int age, const inference::SprintPrior& prior) {
    csv.text(letter(sex)).count(static_cast<std::uint64_t>(age));
    for (const double value :
         {prior.log_top_speed.mean, prior.log_top_speed.sd, prior.log_top_speed_level_sd,
          prior.log_first_acceleration.mean, prior.log_first_acceleration.sd, prior.log_first_acceleration_level_sd,
          prior.log_time_constant.mean, prior.log_time_constant.sd, prior.reaction_s.mean, prior.reaction_s.sd}) {
      csv.number(value);
    }
    csv.end_row();
  });
  return csv.take();
}

std::string priors_json(const inference::PriorFit& fit) {
  text::JsonWriter json;
  json.begin_object().member("schema", "bagsplit.norms-priors/2").member("note", rests_on).key("priors").begin_array();
  each_prior([&](runs::Sex sex, int age, const inference::SprintPrior& prior) {
    json.begin_object(Layout::line).member("sex", letter(sex)).member("age_years", static_cast<double>(age));
    write_normal(json, "log_top_speed", prior.log_top_speed, prior.log_top_speed_level_sd);
    write_normal(json, "log_first_acceleration", prior.log_first_acceleration, prior.log_first_acceleration_level_sd);
    write_normal(json, "log_time_constant", prior.log_time_constant);
    write_normal(json, "reaction_s", prior.reaction_s);
    json.end_object();
  });
  const inference::SprintPrior any = inference::sprint_prior(std::nullopt, std::nullopt);
  json.end_array();
  write_normal(json, "late_slowing_per_s", any.late_slowing_per_s, any.late_slowing_level_sd_per_s);
  json.key("unknowns").begin_array();
  for (const inference::PriorUnknown& u : fit.unknowns) {
    json.begin_object(Layout::line).member("name", u.name).member("meaning", u.meaning).member("unit", u.unit);
    write_normal(json, "before", u.before);
    write_normal(json, "after", u.after);
    json.end_object();
  }
  json.end_array();
  write_residuals(json, "means", fit.means, true);
  write_residuals(json, "gates", fit.gates, false);
  write_residuals(json, "spreads", fit.spreads, false);
  json.end_object();
  return json.take();
}

}  // namespace bagsplit::present
