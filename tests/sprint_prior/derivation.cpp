#include "sprint_prior/derivation.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <array>
#include <cmath>
#include <fstream>
#include <functional>
#include <iterator>
#include <map>
#include <stdexcept>
#include <tuple>
#include <vector>

#include "bagsplit/motion/curve.hpp"
#include "bagsplit/norms/growth.hpp"
#include "bagsplit/norms/table.hpp"

namespace bagsplit::inference::derivation {

namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;
using norms::Row;
using norms::Table;
using runs::Sex;

// Every choice that the tables do not make. Each is argued in priors.md.
constexpr double germany_cell_sd = 0.004;  // log time: how far one published mean may lie off the common curve
constexpr double japan_cell_sd = 0.006;
constexpr double japan_age_offset_yr = 0.8;  // middle of the school year's tests
constexpr double japan_rounding_s = 0.05;    // up to the next tenth
constexpr double tau_and_lag_s = 1.13;       // of Ogiso et al. (1997), at every age
constexpr double tau_and_lag_sd_s = 0.05;
constexpr double tau_step_sd = 0.06;  // log tau from knot to knot, and between the sexes
const std::vector<double> tau_knots_yr = {6.0, 9.0, 12.0, 14.0, 16.0, 18.0};

std::vector<double> speed_knots_yr(Sex sex) {
  return sex == Sex::female ? std::vector<double>{6.0, 8.5, 11.0, 13.0, 15.0, 18.0}
                            : std::vector<double>{6.0, 8.5, 11.0, 12.6, 14.2, 15.8, 18.0};
}

struct Unknown {
  const char* name;
  const char* meaning;
  const char* unit;
  Normal prior;
};
const std::vector<Unknown> surveys = {
    {"bias", "hand watches of both surveys, reading minus truth", "s", {-0.256, 0.12}},
    {"bias_germany", "the German survey's own part of it", "s", {0.0, 0.07}},
    {"bias_japan", "the Japanese survey's own part of it", "s", {0.0, 0.07}},
    {"allowance", "whole-body start against a simple reaction", "s", {0.08, 0.09}},
    {"late_slowing", "late slowing", "1/s", {0.013, 0.005}},
    {"shift_germany", "German children against the common curve, of the time", "", {0.0, 0.010}},
    {"shift_japan", "Japanese children of 9 and under, gone at 12, of the time", "", {0.0, 0.010}},
    {"lag", "clock before first move in the study of marks every 5 m", "s", {0.20, 0.12}},
};
enum Survey : Index { bias, bias_germany, bias_japan, allowance, slowing, shift_germany, shift_japan, lag };

// Squads timed at gates: how far one time may lie off, what their log tau is against all children's.
struct Source {
  const char* name;
  double cell_sd;
  Normal squad;
};
const std::vector<Source> sources = {
    {"wdowski2020", 0.02, {0.02, 0.05}}, {"dtb2014m", 0.01, {0.02, 0.05}},   {"dtb2014f", 0.01, {0.02, 0.05}},
    {"gryko2022", 0.025, {0.02, 0.05}},  {"haleva2020", 0.02, {0.02, 0.05}}, {"athletics", 0.01, {0.045, 0.05}},
};
constexpr Normal beam_m = {0.5, 0.2};

class Tables {
 public:
  explicit Tables(std::string folder) : folder_(std::move(folder)) {}
  const Table& operator()(const std::string& name) {
    const auto known = tables_.find(name);
    if (known != tables_.end()) {
      return known->second;
    }
    std::ifstream file(folder_ + "/" + name + ".csv");
    const std::string text{std::istreambuf_iterator<char>(file), {}};
    text::Problems problems;
    Table table = norms::parse_table(text, "norms/" + name + ".csv", problems);
    if (text.empty() || !problems.empty()) {
      throw std::runtime_error("the table " + name + " is missing or broken");
    }
    return tables_.emplace(name, std::move(table)).first->second;
  }

 private:
  std::string folder_;
  std::map<std::string, Table> tables_;
};

double value_of(const Table& table, Sex sex, double age_lo_yr, std::string_view statistic) {
  for (const Row& row : table.rows) {
    if (row.sex == sex && row.age_lo_yr == age_lo_yr && row.statistic == statistic && row.value) {
      return *row.value;
    }
  }
  throw std::runtime_error(table.name + " lacks a row of " + std::string(statistic));
}

struct Mean {
  PriorResidual figure;
  bool germany = false;
};

std::vector<Mean> published_means(Tables& tables) {
  std::vector<Mean> means;
  const auto take = [&](const char* name, bool germany, double distance_m) {
    const Table& table = tables(name);
    for (const Row& row : table.rows) {
      const double lo = row.age_lo_yr.value();
      const double width = row.age_hi_yr.value() - lo;
      if (row.statistic == "mean" && row.sex && lo < 18.0 && (!germany || width <= 0.5)) {
        const double age_yr = germany ? lo + 0.5 * width : lo + japan_age_offset_yr;
        means.push_back({{table.name, *row.sex, age_yr, distance_m, row.value.value()}, germany});
      }
    }
  };
  take("sprint-20m-emotikon-fggk21", true, 20.0);
  take("sprint-50m-japan-fy2017", false, 50.0);
  take("sprint-50m-japan-fy2015", false, 50.0);
  return means;
}

// The splits of one squad: one sprint with a top speed of its own.
struct Squad {
  std::string table;
  std::size_t source = 0;
  Sex sex{};
  double age_yr = 0.0;
  std::map<double, std::vector<double>> times_s;  // by distance; two where a band is published
};

std::vector<Squad> published_splits(Tables& tables) {
  std::vector<Squad> squads;
  const auto take = [&](const char* name, bool athletics) {
    const Table& table = tables(name);
    for (const Row& row : table.rows) {
      const double d = row.distance_m.value_or(0.0);
      const bool wanted = athletics ? row.statistic == "mean" && (d == 10.0 || d == 30.0 || d == 60.0)
                                    : row.statistic == "mean" || row.statistic.starts_with("band_");
      if (!wanted || !row.sex) {
        continue;
      }
      const std::string group = athletics ? "athletics" : row.group;
      const double age_yr = athletics ? *row.age_lo_yr + 0.5 : 0.5 * (*row.age_lo_yr + *row.age_hi_yr);
      const auto source =
          std::find_if(sources.begin(), sources.end(), [&](const Source& s) { return s.name == group; });
      if (source == sources.end()) {
        throw std::runtime_error(table.name + ": the source " + group + " is not known");
      }
      const std::string label = athletics ? table.name : table.name + " " + group;
      auto squad = std::find_if(squads.begin(), squads.end(), [&](const Squad& s) {
        return s.table == label && s.sex == *row.sex && s.age_yr == age_yr;
      });
      if (squad == squads.end()) {
        squads.push_back({label, static_cast<std::size_t>(source - sources.begin()), *row.sex, age_yr, {}});
        squad = squads.end() - 1;
      }
      squad->times_s[d].push_back(row.value.value());
    }
  };
  take("sprint-splits-children-gates", false);
  take("sprint-60m-splits-youth-throwers-severin2026", true);
  take("sprint-60m-splits-youth-jumpers-nolte2026", true);
  std::erase_if(squads, [](const Squad& s) { return s.times_s.size() < 2; });
  return squads;
}

// Weights of the values at knots in a curve's value at an age.
VectorXd knot_weights(const std::vector<double>& knots_yr, double age_yr, double (*curve_at)(const AgeCurve&, double)) {
  VectorXd weights(static_cast<Index>(knots_yr.size()));
  for (std::size_t k = 0; k < knots_yr.size(); ++k) {
    AgeCurve one{knots_yr, std::vector<double>(knots_yr.size(), 0.0)};
    one.value[k] = 1.0;
    weights[static_cast<Index>(k)] = curve_at(one, age_yr);
  }
  return weights;
}

// Least squares over everything at once. Unknowns in order: log V at the girls' and the boys' knots, log tau at the
// girls' and the boys', the surveys', the beams, the squads' log tau, log V of each squad.
class Fit {
 public:
  explicit Fit(Tables& tables) : means_(published_means(tables)), squads_(published_splits(tables)) {
    tau_at_[0] = speed_at_[1] + static_cast<Index>(speed_knots_yr(Sex::male).size());
    tau_at_[1] = tau_at_[0] + knots_;
    survey_at_ = tau_at_[1] + knots_;
    beam_at_ = survey_at_ + static_cast<Index>(surveys.size());
    squad_at_ = beam_at_ + static_cast<Index>(sources.size());
    top_at_ = squad_at_ + static_cast<Index>(sources.size());
    x_ = VectorXd::Zero(top_at_ + static_cast<Index>(squads_.size()));
    x_.head(tau_at_[0]).setConstant(std::log(6.0));
    x_.segment(tau_at_[0], 2 * knots_).setConstant(std::log(0.87));
    for (std::size_t k = 0; k < surveys.size(); ++k) {
      x_[survey_at_ + static_cast<Index>(k)] = surveys[k].prior.mean;
    }
    for (std::size_t k = 0; k < sources.size(); ++k) {
      x_[beam_at_ + static_cast<Index>(k)] = beam_m.mean;
      x_[squad_at_ + static_cast<Index>(k)] = sources[k].squad.mean;
    }
    x_.tail(static_cast<Index>(squads_.size())).setConstant(std::log(7.0));
  }

  // Gauss and Newton with step halving.
  bool solve() {
    look(x_);
    for (int i = 0; i < 100; ++i) {
      const VectorXd step = jacobian().colPivHouseholderQr().solve(residuals());
      const double before = residuals().squaredNorm();
      double length = 1.0;
      for (; length > 1e-6; length *= 0.5) {
        look(x_ - length * step);
        if (residuals().squaredNorm() <= before * (1.0 + 1e-14)) {
          break;
        }
      }
      x_ -= length * step;
      if (length * step.lpNorm<Eigen::Infinity>() < 1e-11) {
        const MatrixXd j = jacobian();
        sd_ = (j.transpose() * j).inverse().diagonal().cwiseSqrt();
        return true;
      }
    }
    return false;
  }

  AgeCurve log_top_speed(Sex sex) const { return curve(speed_knots_yr(sex), speed_at_[sex == Sex::male ? 1 : 0]); }
  AgeCurve log_tau(Sex sex) const { return curve(tau_knots_yr, tau_at_[sex == Sex::male ? 1 : 0]); }

  std::vector<PriorUnknown> unknowns() const {
    std::vector<PriorUnknown> all;
    const auto add = [&](std::string name, std::string meaning, std::string unit, const Normal& before, Index at) {
      all.push_back({std::move(name), std::move(meaning), std::move(unit), before, {x_[at], sd_[at]}});
    };
    for (std::size_t k = 0; k < surveys.size(); ++k) {
      add(surveys[k].name, surveys[k].meaning, surveys[k].unit, surveys[k].prior, survey_at_ + static_cast<Index>(k));
    }
    for (std::size_t k = 0; k < sources.size(); ++k) {
      add(std::string("beam_") + sources[k].name, std::string("start behind the first beam, ") + sources[k].name, "m",
          beam_m, beam_at_ + static_cast<Index>(k));
    }
    for (std::size_t k = 0; k < sources.size(); ++k) {
      add(std::string("squad_") + sources[k].name, std::string("log tau against all children's, ") + sources[k].name,
          "", sources[k].squad, squad_at_ + static_cast<Index>(k));
    }
    return all;
  }

  // The tables given back: filled by the last look().
  std::vector<PriorResidual> means() const {
    std::vector<PriorResidual> all;
    for (const Mean& mean : means_) {
      all.push_back(mean.figure);
    }
    return all;
  }
  const std::vector<PriorResidual>& gates() const { return gates_; }

 private:
  AgeCurve curve(const std::vector<double>& knots_yr, Index at) const {
    return {knots_yr, {x_.data() + at, x_.data() + at + static_cast<Index>(knots_yr.size())}};
  }
  VectorXd residuals() const { return Eigen::Map<const VectorXd>(r_.data(), static_cast<Index>(r_.size())); }
  MatrixXd jacobian() const {
    MatrixXd j(static_cast<Index>(rows_.size()), x_.size());
    for (std::size_t i = 0; i < rows_.size(); ++i) {
      j.row(static_cast<Index>(i)) = rows_[i];
    }
    return j;
  }
  VectorXd& add(double residual) {
    r_.push_back(residual);
    rows_.push_back(VectorXd::Zero(x_.size()));
    return rows_.back();
  }
  void add_prior(const VectorXd& x, Index at, const Normal& prior) {
    add((x[at] - prior.mean) / prior.sd)[at] = 1.0 / prior.sd;
  }

  void look(const VectorXd& x) {
    r_.clear();
    rows_.clear();
    gates_.clear();
    for (Mean& mean : means_) {
      look_at_mean(x, mean);
    }
    for (std::size_t k = 0; k < squads_.size(); ++k) {
      look_at_squad(x, squads_[k], top_at_ + static_cast<Index>(k));
    }
    const VectorXd taus = x.segment(tau_at_[0], 2 * knots_).array().exp();
    VectorXd& row = add((taus.mean() + x[survey_at_ + lag] - tau_and_lag_s) / tau_and_lag_sd_s);
    row.segment(tau_at_[0], 2 * knots_) = taus / (static_cast<double>(taus.size()) * tau_and_lag_sd_s);
    row[survey_at_ + lag] = 1.0 / tau_and_lag_sd_s;
    const auto near = [&](Index a, Index b) {
      VectorXd& slope = add((x[a] - x[b]) / tau_step_sd);
      slope[a] = 1.0 / tau_step_sd;
      slope[b] = -1.0 / tau_step_sd;
    };
    for (Index k = 0; k < knots_; ++k) {
      near(tau_at_[0] + k, tau_at_[1] + k);
      for (Index s = 0; s < 2 && k > 0; ++s) {
        near(tau_at_[static_cast<std::size_t>(s)] + k, tau_at_[static_cast<std::size_t>(s)] + k - 1);
      }
    }
    for (std::size_t k = 0; k < surveys.size(); ++k) {
      add_prior(x, survey_at_ + static_cast<Index>(k), surveys[k].prior);
    }
    for (std::size_t k = 0; k < sources.size(); ++k) {
      add_prior(x, beam_at_ + static_cast<Index>(k), beam_m);
      add_prior(x, squad_at_ + static_cast<Index>(k), sources[k].squad);
    }
  }

  void look_at_mean(const VectorXd& x, Mean& mean) {
    PriorResidual& f = mean.figure;
    const Index s = f.sex == Sex::male ? 1 : 0;
    const VectorXd by_speed = knot_weights(speed_knots_yr(f.sex), f.age_yr, spline_at);
    const VectorXd by_tau = knot_weights(tau_knots_yr, f.age_yr, line_at);
    const double log_v = by_speed.dot(x.segment(speed_at_[static_cast<std::size_t>(s)], by_speed.size()));
    const double log_tau = by_tau.dot(x.segment(tau_at_[static_cast<std::size_t>(s)], knots_));
    const auto g = motion::time_gradient({std::exp(log_v), std::exp(log_tau), x[survey_at_ + slowing]}, f.distance_m);
    const Index own_bias = survey_at_ + (mean.germany ? bias_germany : bias_japan);
    const Index shift = survey_at_ + (mean.germany ? shift_germany : shift_japan);
    const double share = mean.germany ? 1.0 : std::clamp((12.0 - f.age_yr) / 3.0, 0.0, 1.0);
    const double time_s = g.time_s + norms::auditory_reaction_s(f.age_yr) + x[survey_at_ + allowance] +
                          x[survey_at_ + bias] + x[own_bias] + (mean.germany ? 0.0 : japan_rounding_s);
    const double sd = mean.germany ? germany_cell_sd : japan_cell_sd;
    f.without_shift_s = time_s;
    f.derived_s = time_s * std::exp(-share * x[shift]);
    VectorXd& row = add((std::log(time_s / f.published_s) - share * x[shift]) / sd);
    const double per_second = 1.0 / (time_s * sd);
    row.segment(speed_at_[static_cast<std::size_t>(s)], by_speed.size()) =
        by_speed * (g.by_log_top_speed_s * per_second);
    row.segment(tau_at_[static_cast<std::size_t>(s)], knots_) = by_tau * (g.by_log_time_constant_s * per_second);
    row[survey_at_ + slowing] = g.by_late_slowing_s2 * per_second;
    row[survey_at_ + allowance] = row[survey_at_ + bias] = row[own_bias] = per_second;
    row[shift] = -share / sd;
  }

  void look_at_squad(const VectorXd& x, const Squad& squad, Index top) {
    const Index s = squad.sex == Sex::male ? 1 : 0;
    const Index source = static_cast<Index>(squad.source);
    const VectorXd by_tau = knot_weights(tau_knots_yr, squad.age_yr, line_at);
    const double tau =
        std::exp(by_tau.dot(x.segment(tau_at_[static_cast<std::size_t>(s)], knots_)) + x[squad_at_ + source]);
    const motion::Sprint sprint{std::exp(x[top]), tau, x[survey_at_ + slowing]};
    const double x0 = std::max(x[beam_at_ + source], 0.02);
    const double sd = sources[squad.source].cell_sd;
    const auto speed = [&](double d) { return motion::speed_at_time(sprint, motion::time_to_distance(sprint, d)); };
    for (const auto& [d, times_s] : squad.times_s) {
      double published_s = 0.0;
      for (const double t : times_s) {
        published_s += t / static_cast<double>(times_s.size());
      }
      const auto g = motion::time_gradient_from_beam(sprint, x0, d);
      gates_.push_back({squad.table, squad.sex, squad.age_yr, d, published_s, g.time_s, g.time_s});
      VectorXd& row = add(std::log(g.time_s / published_s) / sd);
      const double per_second = 1.0 / (g.time_s * sd);
      row[top] = g.by_log_top_speed_s * per_second;
      row.segment(tau_at_[static_cast<std::size_t>(s)], knots_) = by_tau * (g.by_log_time_constant_s * per_second);
      row[squad_at_ + source] = g.by_log_time_constant_s * per_second;
      row[survey_at_ + slowing] = g.by_late_slowing_s2 * per_second;
      row[beam_at_ + source] = (1.0 / speed(x0 + d) - 1.0 / speed(x0)) * per_second;
    }
  }

  std::vector<Mean> means_;
  std::vector<Squad> squads_;
  std::vector<PriorResidual> gates_;
  const Index knots_ = static_cast<Index>(tau_knots_yr.size());
  const std::array<Index, 2> speed_at_ = {0, static_cast<Index>(speed_knots_yr(Sex::female).size())};
  std::array<Index, 2> tau_at_{};
  Index survey_at_ = 0, beam_at_ = 0, squad_at_ = 0, top_at_ = 0;
  VectorXd x_, sd_;
  std::vector<double> r_;
  std::vector<VectorXd> rows_;
};

// Between children, the level's doubt, and what is not derived at all: priors.md.
void set_choices(Tables& tables, PriorCoefficients& c) {
  c.log_top_speed_sd_female = {{6, 8, 10, 12, 14}, {0.085, 0.080, 0.075, 0.072, 0.070}};
  c.log_top_speed_sd_male = {{6, 8, 12, 14}, {0.085, 0.082, 0.082, 0.085}};
  c.log_top_speed_level_sd = {{8, 10, 12}, {0.04, 0.03, 0.02}};
  c.log_first_acceleration_sd = {{10, 12, 14}, {0.20, 0.17, 0.12}};
  c.log_first_acceleration_level_sd = {{10, 12, 14}, {0.15, 0.12, 0.10}};
  c.adult_log_top_speed_sd = 0.15;
  c.adult_log_first_acceleration_sd = 0.15;
  c.late_slowing_per_s = {0.013, 0.003};
  c.late_slowing_level_sd_per_s = 0.005;
  c.reaction_held_from_yr = 11.0;
  c.reaction_allowance_s = 0.08;
  c.reaction_allowance_sd_s = 0.10;
  c.reaction_between_cv = 0.22;

  // Split and crouch against each other and against a rocking start, at 4.57 and 18.29 m.
  const Table& softball = tables("base-running-softball-college");
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
      throw std::runtime_error(softball.name + " lacks " + std::string(statistic));
    }
    return sum / count;
  };
  // To the millisecond: the table has hundredths, and 0.1 should read 0.1 in the file.
  const auto millisecond = [](double x) { return std::round(1000.0 * x) / 1000.0; };
  const double split_s = mean_over_distances("mean_split");
  const double doubt_s = millisecond(0.5 * (split_s - mean_over_distances("mean_rocking")));
  c.posture_cost_s["split"] = {0.0, doubt_s};
  c.posture_cost_s["crouch"] = {millisecond(mean_over_distances("mean_crouch") - split_s), doubt_s};
  c.posture_cost_s["prone"] = {1.1, 0.39};
  c.posture_cost_s["swing"] = {0.4, 0.3};
  c.swing_finish_s = {0.25, 0.2};
}

// Published SDs between children beside what the priors make of them: differences in speed and acceleration, effort
// (3.5 %, from 14 years 2.5 %), a press (0.08 s), reaction (22 %).
std::vector<PriorResidual> spreads(Tables& tables, const PriorCoefficients& c, double late_slowing) {
  std::vector<PriorResidual> all;
  const auto add = [&](const Table& table, Sex sex, double age_yr, double distance_m, double sd_s) {
    const SprintPrior prior = sprint_prior(c, age_yr, sex);
    const auto g = motion::time_gradient(
        {std::exp(prior.log_top_speed.mean), std::exp(prior.log_time_constant.mean), late_slowing}, distance_m);
    const double speed = (g.by_log_top_speed_s + g.by_log_time_constant_s) * prior.log_top_speed.sd;
    const double acceleration = g.by_log_time_constant_s * prior.log_first_acceleration.sd;
    const double reaction = c.reaction_between_cv * norms::auditory_reaction_s(age_yr);
    const double effort = (age_yr < 14.0 ? 0.035 : 0.025) * g.time_s;
    const double derived =
        std::sqrt(speed * speed + acceleration * acceleration + reaction * reaction + effort * effort + 0.08 * 0.08);
    all.push_back({table.name, sex, age_yr, distance_m, sd_s, derived, derived});
  };
  const Table& germany = tables("sprint-20m-emotikon-fggk21");
  for (const Row& row : germany.rows) {
    if (row.sex && row.statistic == "sd" && *row.age_hi_yr - *row.age_lo_yr > 0.5) {
      add(germany, *row.sex, 8.56, 20.0, row.value.value());  // all quarter years pooled
    }
  }
  const Table& young = tables("sprint-50m-japan-fy2017");
  for (const Sex sex : {Sex::female, Sex::male}) {
    for (int age = 6; age <= 11; ++age) {
      add(young, sex, age + japan_age_offset_yr, 50.0, value_of(young, sex, age, "sd"));
    }
  }
  const Table& older = tables("sprint-50m-japan-fy2015");
  for (int age = 12; age <= 13; ++age) {
    add(older, Sex::male, age + japan_age_offset_yr, 50.0, value_of(older, Sex::male, age, "sd_derived"));
  }
  const Table& teens = tables("sprint-50m-japan-trend-and-sd");
  for (const int age : {14, 17}) {
    add(teens, Sex::male, age + japan_age_offset_yr, 50.0, value_of(teens, Sex::male, age, "sd_derived_fy2005"));
  }
  return all;
}

}  // namespace

Derived derive(const std::string& norms) {
  Tables tables(norms);
  Derived derived;
  PriorCoefficients& c = derived.coefficients;
  Fit fit(tables);
  derived.converged = fit.solve();
  c.log_top_speed_female = fit.log_top_speed(Sex::female);
  c.log_top_speed_male = fit.log_top_speed(Sex::male);
  c.log_time_constant_female = fit.log_tau(Sex::female);
  c.log_time_constant_male = fit.log_tau(Sex::male);
  set_choices(tables, c);
  derived.fit = {fit.unknowns(), fit.means(), fit.gates(), {}};
  derived.fit.spreads = spreads(tables, c, derived.fit.unknowns[slowing].after.mean);
  return derived;
}

}  // namespace bagsplit::inference::derivation
