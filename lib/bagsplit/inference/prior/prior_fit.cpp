#include "bagsplit/inference/prior/prior_fit.hpp"

#include <cmath>
#include <nlohmann/json.hpp>
#include <stdexcept>

#include "bagsplit/builtin/builtin.hpp"
#include "bagsplit/text/json_text.hpp"

namespace bagsplit::inference {

namespace {

constexpr const char* fit_schema = "bagsplit.sprint-prior-fit/1";
constexpr const char* name = "models/sprint-prior-fit.json";

// To the tenth of a millisecond (of a unit): what another compiler rounds otherwise lies far below.
std::string short_number(double value) {
  return text::json_number(std::round(value * 1e4) / 1e4);
}

std::string normal_of_fit(const Normal& normal) {
  return R"({"mean": )" + short_number(normal.mean) + R"(, "sd": )" + short_number(normal.sd) + "}";
}

std::string residuals_text(const std::vector<PriorResidual>& residuals) {
  std::string text = "[";
  for (const PriorResidual& r : residuals) {
    text += (text.size() > 1 ? ",\n    " : "\n    ") + std::string(R"({"table": )") + text::json_string(r.table) +
            R"(, "sex": )" + (r.sex == runs::Sex::female ? R"("F")" : R"("M")") + R"(, "age_yr": )" +
            short_number(r.age_yr) + R"(, "distance_m": )" + short_number(r.distance_m) + R"(, "published_s": )" +
            short_number(r.published_s) + R"(, "derived_s": )" + short_number(r.derived_s) +
            R"(, "without_shift_s": )" + short_number(r.without_shift_s) + "}";
  }
  return text + "\n  ]";
}

Normal normal_of(const nlohmann::json& json) {
  return {json.at("mean").get<double>(), json.at("sd").get<double>()};
}

std::vector<PriorResidual> residuals_of(const nlohmann::json& json) {
  std::vector<PriorResidual> residuals;
  for (const nlohmann::json& r : json) {
    residuals.push_back(
        {r.at("table").get<std::string>(), r.at("sex").get<std::string>() == "F" ? runs::Sex::female : runs::Sex::male,
         r.at("age_yr").get<double>(), r.at("distance_m").get<double>(), r.at("published_s").get<double>(),
         r.at("derived_s").get<double>(), r.at("without_shift_s").get<double>()});
  }
  return residuals;
}

}  // namespace

std::string write_prior_fit(const PriorFit& fit) {
  std::string text = "{\n  \"schema\": " + text::json_string(fit_schema) + ",\n  \"about\": " +
                     text::json_string(
                         "How data/models/sprint-prior.json gives the published tables back; written "
                         "with it by the target derive_sprint_prior. Not to be edited by hand.") +
                     ",\n  \"unknowns\": [";
  bool first = true;
  for (const PriorUnknown& u : fit.unknowns) {
    text += (first ? "\n    " : ",\n    ") + std::string(R"({"name": )") + text::json_string(u.name) +
            R"(, "meaning": )" + text::json_string(u.meaning) + R"(, "unit": )" + text::json_string(u.unit) +
            R"(, "before": )" + normal_of_fit(u.before) + R"(, "after": )" + normal_of_fit(u.after) + "}";
    first = false;
  }
  return text + "\n  ],\n  \"means\": " + residuals_text(fit.means) + ",\n  \"gates\": " + residuals_text(fit.gates) +
         ",\n  \"spreads\": " + residuals_text(fit.spreads) + "\n}\n";
}

PriorFit read_prior_fit(std::string_view text) {
  PriorFit fit;
  try {
    const nlohmann::json json = nlohmann::json::parse(text);
    if (json.at("schema") != fit_schema) {
      throw std::runtime_error("its schema is not " + std::string(fit_schema));
    }
    for (const nlohmann::json& u : json.at("unknowns")) {
      fit.unknowns.push_back({u.at("name").get<std::string>(), u.at("meaning").get<std::string>(),
                              u.at("unit").get<std::string>(), normal_of(u.at("before")), normal_of(u.at("after"))});
    }
    fit.means = residuals_of(json.at("means"));
    fit.gates = residuals_of(json.at("gates"));
    fit.spreads = residuals_of(json.at("spreads"));
  } catch (const std::exception& e) {
    throw std::runtime_error(std::string("the fit of the priors cannot be read: ") + e.what());
  }
  return fit;
}

PriorFit prior_fit() {
  const auto text = builtin::text(name);
  return read_prior_fit(text ? *text : std::string_view());
}

}  // namespace bagsplit::inference
