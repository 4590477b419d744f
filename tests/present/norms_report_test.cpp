#include "bagsplit/present/norms_report.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <nlohmann/json.hpp>
#include <sstream>

#include "bagsplit/inference/prior/prior.hpp"
#include "bagsplit/present/priors_report.hpp"
#include "bagsplit/text/text_width.hpp"

namespace bagsplit::present {
namespace {

const norms::Catalogue& catalogue() {
  static const norms::Catalogue all = norms::Catalogue::builtin();
  return all;
}

Lookup look_up(double distance_m, std::optional<double> age, std::optional<runs::Sex> sex, double time_s) {
  return {distance_m, age, sex, time_s, norms::Clock::as_norm, catalogue().lookup(distance_m, age, sex, time_s)};
}

void expect_fits(const std::string& text, std::size_t width) {
  std::istringstream lines(text);
  for (std::string line; std::getline(lines, line);) {
    EXPECT_LE(text::display_width(line), width) << line;
    EXPECT_FALSE(line.ends_with(' ')) << line;
  }
}

std::size_t rows_of(const std::string& csv) {
  return static_cast<std::size_t>(std::count(csv.begin(), csv.end(), '\n')) - 1;
}

// Identity: every reference of the catalogue once, in each form.
TEST(NormsReport, EveryReferenceIsThereWithCitationAndLicence) {
  const auto json = nlohmann::json::parse(norms_json(catalogue()));
  EXPECT_EQ(json.at("schema"), "bagsplit.norms/1");
  ASSERT_EQ(json.at("sources").size(), catalogue().norms().size());
  const std::string text = norms_text(catalogue(), {});
  for (const auto& source : json.at("sources")) {
    EXPECT_TRUE(source.at("citation").is_string()) << source.at("id");
    EXPECT_TRUE(source.at("licence").is_string()) << source.at("id");
    EXPECT_NE(text.find("\n" + source.at("id").get<std::string>() + ": "), std::string::npos);
  }
  EXPECT_EQ(rows_of(norms_csv(catalogue())), catalogue().norms().size());
}

// Source: Fuehner et al. (2021), 20 m: boys and girls of 8.0 to 9.1 years, clock from the signal.
TEST(NormsReport, ConditionsAndAgesAreThoseOfTheTable) {
  const auto json = nlohmann::json::parse(norms_json(catalogue()));
  const auto& first = json.at("sources").at(0);
  EXPECT_EQ(first.at("id"), "sprint-20m-emotikon");
  EXPECT_EQ(first.at("conditions").at("distance_m"), 20);
  EXPECT_EQ(first.at("conditions").at("clock"), "signal");
  EXPECT_NEAR(first.at("ages_yr").at("F").at(0).get<double>(), 8.0, 1e-9);
  EXPECT_NEAR(first.at("ages_yr").at("F").at(1).get<double>(), 9.1, 0.05);
}

TEST(NormsReport, ALookUpSaysTheSameInEveryForm) {
  const Lookup lookup = look_up(20.0, 8.6, runs::Sex::female, 4.3);
  const auto json = nlohmann::json::parse(lookup_json(lookup));
  EXPECT_EQ(json.at("schema"), "bagsplit.norms-lookup/1");
  ASSERT_EQ(json.at("found").size(), lookup.found.size());
  const auto& found = json.at("found").at(0);
  EXPECT_EQ(found.at("percentile").get<double>(), lookup.found[0].percentile.value());
  EXPECT_EQ(found.at("sentence"), lookup.found[0].sentence);
  EXPECT_EQ(rows_of(lookup_csv(lookup)), lookup.found.size());
  const std::string text = lookup_text(lookup, {});
  EXPECT_NE(text.find("4.30 s over 20 m, girl of 8.6 years"), std::string::npos);
  EXPECT_NE(text.find("Source: "), std::string::npos);
}

TEST(NormsReport, WithoutAReferenceThereIsASentenceAndNoNumber) {
  for (const Lookup& lookup :
       {look_up(13.0, 9.0, runs::Sex::male, 3.0), look_up(20.0, std::nullopt, std::nullopt, 4.3)}) {
    const auto json = nlohmann::json::parse(lookup_json(lookup));
    ASSERT_FALSE(json.at("found").empty());
    for (const auto& found : json.at("found")) {
      EXPECT_TRUE(found.at("percentile").is_null());
      EXPECT_FALSE(found.at("sentence").get<std::string>().empty());
    }
    EXPECT_FALSE(lookup_text(lookup, {}).empty());
  }
}

TEST(NormsReport, FitsThePage) {
  for (const std::size_t width : {60U, 80U}) {
    expect_fits(lookup_text(look_up(50.0, 10.0, runs::Sex::male, 9.0), {.width = width}), width);
    expect_fits(priors_text(inference::prior_fit(), {.width = width}), width);
  }
  expect_fits(norms_text(catalogue(), {}), 80);
}

// Identity: the mean and SD of the prior that the program itself starts from.
TEST(PriorsReport, IsThePriorInUse) {
  const inference::PriorFit fit = inference::prior_fit();
  const auto json = nlohmann::json::parse(priors_json(fit));
  EXPECT_EQ(json.at("schema"), "bagsplit.norms-priors/2");
  for (const auto& prior : json.at("priors")) {
    const inference::SprintPrior used = inference::sprint_prior(
        prior.at("age_years").get<double>(), prior.at("sex") == "F" ? runs::Sex::female : runs::Sex::male);
    EXPECT_NEAR(prior.at("log_top_speed").at("mean").get<double>(), used.log_top_speed.mean, 1e-6);
    EXPECT_NEAR(prior.at("log_time_constant").at("sd").get<double>(), used.log_time_constant.sd, 1e-6);
    const auto& acceleration = prior.at("log_first_acceleration");
    EXPECT_NEAR(acceleration.at("mean").get<double>(), used.log_first_acceleration.mean, 1e-6);
    EXPECT_NEAR(acceleration.at("sd").get<double>(), used.log_first_acceleration.sd, 1e-6);
    EXPECT_NEAR(acceleration.at("level_sd").get<double>(), used.log_first_acceleration_level_sd, 1e-6);
    EXPECT_NEAR(prior.at("reaction_s").at("mean").get<double>(), used.reaction_s.mean, 1e-6);
  }
  EXPECT_EQ(json.at("means").size(), fit.means.size());
  EXPECT_EQ(json.at("gates").size(), fit.gates.size());
  EXPECT_EQ(json.at("unknowns").size(), fit.unknowns.size());
  EXPECT_EQ(rows_of(priors_csv()), json.at("priors").size());
  EXPECT_NE(priors_text(fit, {}).find("its level is known to 15 %"), std::string::npos);
}

}  // namespace
}  // namespace bagsplit::present
