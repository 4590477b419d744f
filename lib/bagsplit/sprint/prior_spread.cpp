#include "bagsplit/sprint/prior_steps.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <array>
#include <cmath>
#include <stdexcept>

#include "bagsplit/norms/growth.hpp"

namespace bagsplit::sprint::derivation {

namespace {

using norms::Catalogue;
using norms::Row;
using norms::Table;
using runs::Sex;

// Choices that the tables do not make; each is argued in priors.md.
constexpr std::array<double, 3> variance_knots_yr = {7.0, 12.0, 17.0};
constexpr double hand_scatter_s =
    0.08;  // SD of hand minus electronic: Mann et al. 2015, doi 10.1519/JSC.0000000000000941
constexpr double tenth_rounding_s = 0.0289;  // 0.1 s / sqrt(12)
constexpr double first_spread_yr = 8.56;     // middle of the German children's ages
constexpr double second_spread_yr = 13.8;    // Japanese pupils "aged 13"
constexpr double ten_yards_m = 9.144;
constexpr double ten_yards_start_m = 0.5;  // gates: as for the squads

// A published SD between children, with the part of its variance that is neither speed nor acceleration.
struct Sd {
  std::string table;
  Sex sex{};
  double age_yr = 0.0;
  double distance_m = 0.0;
  double start_offset_m = 0.0;
  double sd_s = 0.0;
  double other_variance_s2 = 0.0;
};

double hand_and_reaction_s2(const PriorCoefficients& c, double age_yr) {
  const double reaction_s = c.reaction_between_cv * norms::auditory_reaction_s(age_yr);
  return hand_scatter_s * hand_scatter_s + tenth_rounding_s * tenth_rounding_s + reaction_s * reaction_s;
}

// The two variances (log V, log tau) that give two published SDs.
Eigen::Vector2d two_variances(const PriorCoefficients& c, const Sd& one, const Sd& two) {
  Eigen::Matrix2d a;
  Eigen::Vector2d b;
  int i = 0;
  for (const Sd* sd : {&one, &two}) {
    const Slopes s = slopes(mean_sprint(c, sd->sex, sd->age_yr), sd->distance_m, sd->start_offset_m);
    a(i, 0) = s.by_log_speed * s.by_log_speed;
    a(i, 1) = s.by_log_tau * s.by_log_tau;
    b[i++] = sd->sd_s * sd->sd_s - sd->other_variance_s2;
  }
  return a.fullPivLu().solve(b);
}

std::vector<Sd> published_sds_50m(const Catalogue& catalogue, const PriorCoefficients& c) {
  const Table& young = need(catalogue, "norms/sprint-50m-japan-fy2017.csv");
  const Table& older = need(catalogue, "norms/sprint-50m-japan-fy2015.csv");
  const Table& recent = need(catalogue, "norms/sprint-50m-japan-fy2020-fy2022.csv");
  const Table& old = need(catalogue, "norms/sprint-50m-fukushima1982.csv");
  const double offset_yr = need_norm(catalogue, "sprint-50m-japan-2017").info().age_offset_yr;
  std::vector<Sd> sds;
  const auto add = [&](const Table& table, Sex sex, double age_lo_yr, double sd_s) {
    const double age_yr = age_lo_yr + offset_yr;
    sds.push_back({table.name, sex, age_yr, 50.0, 0.0, sd_s, hand_and_reaction_s2(c, age_yr)});
  };
  for (int age = 6; age <= 11; ++age) {
    add(young, Sex::female, age, value_of(young, Sex::female, age, "sd"));
    add(young, Sex::male, age, value_of(young, Sex::male, age, "sd"));
  }
  for (int age = 12; age <= 13; ++age) {
    add(older, Sex::male, age, value_of(older, Sex::male, age, "sd_derived"));
  }
  for (int age = 15; age <= 17; ++age) {
    add(recent, Sex::male, age, value_of(recent, Sex::male, age, "sd_hs"));
  }
  for (int age = 12; age <= 17; ++age) {  // the coefficient of variation of 1982 at today's mean
    const double cv = value_of(old, Sex::female, age, "sd") / value_of(old, Sex::female, age, "mean");
    add(old, Sex::female, age, cv * value_of(older, Sex::female, age, "mean"));
  }
  return sds;
}

}  // namespace

void fit_spread(const Catalogue& catalogue, DerivedPrior& derived) {
  PriorCoefficients& c = derived.coefficients;
  const std::vector<Sd> fifty = published_sds_50m(catalogue, c);
  std::vector<Sd> shown = fifty;

  const Table& germany = need(catalogue, "norms/sprint-20m-emotikon-fggk21.csv");
  const Table& variation = need(catalogue, "norms/sprint-between-subject-variation.csv");
  const Table& reliability = need(catalogue, "norms/sprint-within-person-reliability.csv");
  const auto& japan = need_norm(catalogue, "sprint-50m-japan-2017");
  double child_variance = 0.0;
  double older_variance = 0.0;
  for (const Sex sex : {Sex::female, Sex::male}) {
    Sd twenty{germany.name, sex, first_spread_yr, 20.0, 0.0, 0.0, hand_and_reaction_s2(c, first_spread_yr)};
    for (const Row& row : germany.rows) {
      if (row.sex == sex && row.statistic == "sd" && *row.age_hi_yr - *row.age_lo_yr > 0.5) {
        twenty.sd_s = row.value.value();  // all quarter years pooled
      }
    }
    Sd fifty_here{japan.info().files.front(),
                  sex,
                  first_spread_yr,
                  50.0,
                  0.0,
                  japan.at(first_spread_yr, sex)->sd_s().value(),
                  hand_and_reaction_s2(c, first_spread_yr)};
    child_variance += 0.5 * two_variances(c, twenty, fifty_here)[1];

    Sd ten{variation.name, sex, second_spread_yr, ten_yards_m, ten_yards_start_m, 0.0, 0.0};
    for (std::size_t i = 0; i < variation.rows.size(); ++i) {
      if (variation.rows[i].group == "wannouch2024" && variation.rows[i].sex == sex) {
        ten.sd_s = norms::cell_number(variation, i, "sd_s").value();
      }
    }
    for (const Row& row : reliability.rows) {
      if (row.group == "wannouch2024" && row.sex == sex && row.statistic == "typical_error") {
        ten.other_variance_s2 = *row.value * *row.value;
      }
    }
    const auto older = std::find_if(fifty.begin(), fifty.end(), [&](const Sd& sd) {
      return sd.sex == sex && std::abs(sd.age_yr - second_spread_yr) < 1e-6;
    });
    older_variance += 0.5 * two_variances(c, ten, *older)[1];
    shown.push_back(twenty);
    shown.push_back(ten);
  }
  c.log_time_constant_sd = {{first_spread_yr, second_spread_yr},
                            {std::sqrt(child_variance), std::sqrt(older_variance)}};

  const std::vector<double> knots_yr(variance_knots_yr.begin(), variance_knots_yr.end());
  // Variance of log V at every age with an SD at 50 m, then straight lines through three knots by least squares.
  for (const Sex sex : {Sex::female, Sex::male}) {
    std::vector<std::pair<double, double>> points;
    for (const Sd& sd : fifty) {
      if (sd.sex == sex) {
        const Slopes s = slopes(mean_sprint(c, sex, sd.age_yr), 50.0, 0.0);
        const double tau_part = s.by_log_tau * line_at(c.log_time_constant_sd, sd.age_yr);
        points.emplace_back(sd.age_yr, (sd.sd_s * sd.sd_s - sd.other_variance_s2 - tau_part * tau_part) /
                                           (s.by_log_speed * s.by_log_speed));
      }
    }
    const auto rows = static_cast<Eigen::Index>(points.size());
    const auto columns = static_cast<Eigen::Index>(knots_yr.size());
    Eigen::MatrixXd hats(rows, columns);
    Eigen::VectorXd y(rows);
    for (Eigen::Index i = 0; i < rows; ++i) {
      y[i] = points[static_cast<std::size_t>(i)].second;
      for (Eigen::Index k = 0; k < columns; ++k) {
        AgeCurve hat{knots_yr, std::vector<double>(knots_yr.size(), 0.0)};
        hat.value[static_cast<std::size_t>(k)] = 1.0;
        hats(i, k) = line_at(hat, points[static_cast<std::size_t>(i)].first);
      }
    }
    const Eigen::VectorXd fitted = hats.colPivHouseholderQr().solve(y);
    (sex == Sex::female ? c.log_top_speed_variance_female : c.log_top_speed_variance_male) = {
        knots_yr, {fitted.data(), fitted.data() + columns}};
  }
  for (const Sd& sd : shown) {
    const Slopes s = slopes(mean_sprint(c, sd.sex, sd.age_yr), sd.distance_m, sd.start_offset_m);
    const double speed_variance =
        line_at(sd.sex == Sex::female ? c.log_top_speed_variance_female : c.log_top_speed_variance_male, sd.age_yr);
    const double tau_part = s.by_log_tau * line_at(c.log_time_constant_sd, sd.age_yr);
    derived.spreads.push_back(
        {sd.table, sd.sex, sd.age_yr, sd.distance_m, sd.sd_s,
         std::sqrt(s.by_log_speed * s.by_log_speed * speed_variance + tau_part * tau_part + sd.other_variance_s2)});
  }
}

void set_constants(const Catalogue& catalogue, PriorCoefficients& c) {
  c.adult_log_top_speed_sd = 0.15;
  c.adult_log_time_constant_sd = 0.35;
  c.reaction_allowance_s = 0.05;
  c.reaction_allowance_sd_s = 0.08;
  c.reaction_between_cv = 0.22;

  // Split and crouch against each other and against a rocking start, at 4.57 and 18.29 m.
  const Table& softball = need(catalogue, "norms/base-running-softball-college.csv");
  const auto mean_over_distances = [&](std::string_view statistic) {
    double sum = 0.0;
    int count = 0;
    for (const Row& row : softball.rows) {
      if (row.statistic == statistic && row.value) {
        sum += *row.value;
        ++count;
      }
    }
    if (count == 0) {
      throw std::invalid_argument("derive_priors: " + softball.name + " lacks " + std::string(statistic));
    }
    return sum / count;
  };
  const double rocking_s = mean_over_distances("mean_rocking");
  const double split_s = mean_over_distances("mean_split");
  const double crouch_s = mean_over_distances("mean_crouch");
  // To the millisecond: the table has hundredths, and 0.1 should read 0.1 in the file.
  const auto millisecond = [](double x) { return std::round(1000.0 * x) / 1000.0; };
  const double doubt_s = millisecond(0.5 * (split_s - rocking_s));
  c.posture_cost_s["split"] = {0.0, doubt_s};
  c.posture_cost_s["crouch"] = {millisecond(crouch_s - split_s), doubt_s};
  c.posture_cost_s["prone"] = {1.0, 0.5};
  c.posture_cost_s["swing"] = {0.4, 0.3};
  c.swing_finish_s = {0.25, 0.2};
}

}  // namespace bagsplit::sprint::derivation
