#include "bagsplit/present/priors_report.hpp"

#include <cmath>
#include <functional>

#include "bagsplit/present/csv_writer.hpp"
#include "bagsplit/present/json_writer.hpp"
#include "bagsplit/present/number_text.hpp"
#include "bagsplit/present/text_table.hpp"

namespace bagsplit::present {

namespace {

using Layout = JsonWriter::Layout;

constexpr int youngest_yr = 6;
constexpr int oldest_yr = 18;

const char* letter(runs::Sex sex) {
  return sex == runs::Sex::female ? "F" : "M";
}

void each_prior(const sprint::DerivedPrior& derived,
                const std::function<void(runs::Sex, int, const sprint::SprintPrior&)>& visit) {
  for (const runs::Sex sex : {runs::Sex::female, runs::Sex::male}) {
    for (int age = youngest_yr; age <= oldest_yr; ++age) {
      visit(sex, age, sprint::sprint_prior(derived.coefficients, static_cast<double>(age), sex));
    }
  }
}

// "norms/sprint-50m-japan-fy2017.csv" without folder and ending.
std::string table_name(std::string_view path) {
  path.remove_prefix(path.rfind('/') + 1);
  return std::string(path.substr(0, path.ends_with(".csv") ? path.size() - 4 : path.size()));
}

template <typename Residual>
std::string residual_table(const std::vector<Residual>& residuals, const TextOptions& options) {
  TextTable table({{"table", "", Align::left},
                   {"sex", "", Align::left},
                   {"age", "yr"},
                   {"over", "m"},
                   {"published", "s"},
                   {"derived", "s"},
                   {"differs", "%"}});
  for (const Residual& residual : residuals) {
    table.add_row({table_name(residual.source), letter(residual.sex), fixed(residual.age_yr, 1),
                   fixed(residual.distance_m, 1), fixed(residual.published_s, 3), fixed(residual.predicted_s, 3),
                   signed_fixed(residual.error_pct(), 2)});
  }
  return table.str(options);
}

template <typename Residual>
void write_residuals(JsonWriter& json, std::string_view name, const std::vector<Residual>& residuals) {
  json.key(name).begin_array();
  for (const Residual& residual : residuals) {
    json.begin_object(Layout::line)
        .member("source", residual.source)
        .member("sex", letter(residual.sex))
        .member("age_years", residual.age_yr)
        .member("distance_m", residual.distance_m)
        .member("published_s", residual.published_s)
        .member("derived_s", residual.predicted_s)
        .member("difference_pct", residual.error_pct())
        .end_object();
  }
  json.end_array();
}

void write_normal(JsonWriter& json, std::string_view name, const sprint::Normal& normal) {
  json.key(name).begin_object(Layout::line).member("mean", normal.mean).member("sd", normal.sd).end_object();
}

}  // namespace

std::string priors_text(const sprint::DerivedPrior& derived, const TextOptions& options) {
  std::string out = paragraph(
      "What is believed of a player before any run is seen, worked out from the published tables. "
      "Each is a middle and the SD between children: a share for top speed and time constant, seconds "
      "for the reaction.",
      options.width);
  TextTable table({{"sex", "", Align::left},
                   {"age", "yr"},
                   {"top speed", "m/s"},
                   {"SD", "%"},
                   {"time constant", "s"},
                   {"SD", "%"},
                   {"first accel.", "m/s2"},
                   {"reaction", "s"},
                   {"SD", "s"}});
  each_prior(derived, [&](runs::Sex sex, int age, const sprint::SprintPrior& prior) {
    table.add_row({letter(sex), std::to_string(age), fixed(std::exp(prior.log_top_speed.mean), 2),
                   fixed(100.0 * prior.log_top_speed.sd, 1), fixed(std::exp(prior.log_time_constant.mean), 2),
                   fixed(100.0 * prior.log_time_constant.sd, 1),
                   fixed(std::exp(prior.log_top_speed.mean - prior.log_time_constant.mean), 1),
                   fixed(prior.reaction_s.mean, 2), fixed(prior.reaction_s.sd, 2)});
  });
  out += "\n" + table.str(options);
  out += "\n" + heading("Published means given back", options) + residual_table(derived.means, options);
  out += "\n" + heading("Junior squads, all three distances fitted", options) + residual_table(derived.squads, options);
  out += "\n" + heading("Junior squads, each distance predicted from the other two", options) +
         residual_table(derived.left_out, options);
  out +=
      "\n" + heading("Published SDs between children given back", options) + residual_table(derived.spreads, options);
  return out;
}

std::string priors_csv(const sprint::DerivedPrior& derived) {
  CsvWriter csv;
  for (const char* column : {"sex", "age_years", "log_top_speed_mean", "log_top_speed_sd", "log_time_constant_mean",
                             "log_time_constant_sd", "reaction_mean_s", "reaction_sd_s"}) {
    csv.text(column);
  }
  csv.end_row();
  each_prior(derived, [&](runs::Sex sex, int age, const sprint::SprintPrior& prior) {
    csv.text(letter(sex))
        .count(static_cast<std::uint64_t>(age))
        .number(prior.log_top_speed.mean)
        .number(prior.log_top_speed.sd);
    csv.number(prior.log_time_constant.mean).number(prior.log_time_constant.sd).number(prior.reaction_s.mean);
    csv.number(prior.reaction_s.sd).end_row();
  });
  return csv.take();
}

std::string priors_json(const sprint::DerivedPrior& derived) {
  JsonWriter json;
  json.begin_object().member("schema", "bagsplit.norms-priors/1").key("priors").begin_array();
  each_prior(derived, [&](runs::Sex sex, int age, const sprint::SprintPrior& prior) {
    json.begin_object(Layout::line).member("sex", letter(sex)).member("age_years", static_cast<double>(age));
    write_normal(json, "log_top_speed", prior.log_top_speed);
    write_normal(json, "log_time_constant", prior.log_time_constant);
    write_normal(json, "reaction_s", prior.reaction_s);
    json.end_object();
  });
  json.end_array();
  write_residuals(json, "means", derived.means);
  write_residuals(json, "squads", derived.squads);
  write_residuals(json, "squads_left_out", derived.left_out);
  write_residuals(json, "spreads", derived.spreads);
  json.end_object();
  return json.take();
}

}  // namespace bagsplit::present
