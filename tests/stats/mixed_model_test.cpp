#include "bagsplit/stats/mixed_model.hpp"

#include <gtest/gtest.h>

#include <Eigen/Cholesky>
#include <Eigen/LU>
#include <algorithm>
#include <cmath>
#include <map>
#include <stdexcept>
#include <string>
#include <vector>

#include "bagsplit/stats/distributions.hpp"
#include "reference.hpp"
#include "support/digits.hpp"

namespace {

using bagsplit::stats::Criterion;
using bagsplit::stats::fit_mixed_model;
using bagsplit::stats::FitStatus;
using bagsplit::stats::MixedModelFit;
using bagsplit::stats::MixedModelOptions;
using bagsplit::stats::MixedModelSpec;
using bagsplit::stats::RandomTerm;
using bagsplit::stats::RandomWeight;
using bagsplit::test::Reference;
using bagsplit::test::Table;
using Eigen::MatrixXd;
using Eigen::VectorXd;

VectorXd vector_of(const std::vector<double>& v) {
  return Eigen::Map<const VectorXd>(v.data(), static_cast<Eigen::Index>(v.size()));
}

MatrixXd columns_of(const std::vector<std::vector<double>>& columns) {
  MatrixXd m(static_cast<Eigen::Index>(columns[0].size()), static_cast<Eigen::Index>(columns.size()));
  for (std::size_t j = 0; j < columns.size(); ++j) m.col(static_cast<Eigen::Index>(j)) = vector_of(columns[j]);
  return m;
}

std::vector<double> ones(std::size_t n) {
  return std::vector<double>(n, 1.0);
}

RandomTerm slopes(const std::string& name, const std::vector<int>& group, const MatrixXd& columns,
                  bool correlated = true) {
  return {name, group, columns, correlated};
}

std::vector<double> list(const VectorXd& v) {
  return {v.data(), v.data() + v.size()};
}

std::vector<std::string> labels_of(const std::vector<std::string>& text) {
  std::vector<std::string> out;
  for (const auto& t : text) {
    if (std::find(out.begin(), out.end(), t) == out.end()) out.push_back(t);
  }
  return out;
}

/// Everything that the reference holds for a fit. `columns[t]` names the columns of term t, `labels[t]` its levels.
void expect_fit(const Reference& r, const std::string& name, const MixedModelFit& fit,
                const std::vector<std::vector<std::string>>& columns,
                const std::vector<std::vector<std::string>>& labels) {
  SCOPED_TRACE(name);
  ASSERT_TRUE(usable(fit.status)) << fit.message;
  const std::string p = name + "_";
  EXPECT_REFERENCE(r, p + "fixed", list(fit.fixed));
  EXPECT_REFERENCE(r, p + "fixed_se", list(fit.fixed_se));
  std::vector<double> df, t, pvalue;
  for (std::size_t j = 0; j < fit.df.size(); ++j) {
    df.push_back(fit.df[j].value_or(-1.0));
    t.push_back(fit.fixed[static_cast<Eigen::Index>(j)] / fit.fixed_se[static_cast<Eigen::Index>(j)]);
    pvalue.push_back(bagsplit::stats::student_t_two_sided_p(t.back(), df.back()));
  }
  EXPECT_REFERENCE(r, p + "satterthwaite_df", df);
  if (r.has(p + "t")) {
    EXPECT_REFERENCE(r, p + "t", t);
    EXPECT_REFERENCE(r, p + "p", pvalue);
    EXPECT_REFERENCE(r, p + "reml_criterion", fit.criterion);
    EXPECT_REFERENCE(r, p + "loglik_reml", fit.log_likelihood);
    const auto vcov = r.values(p + "vcov_fixed");
    for (std::size_t i = 0; i < vcov.size(); ++i) {  // some are 0 by balance: compared to 1e-14 of the variances
      const double got = fit.fixed_covariance.data()[i];
      EXPECT_TRUE(r.agrees(p + "vcov_fixed", got, vcov[i]) || std::fabs(got - vcov[i]) < 1e-14 * vcov[0]) << i;
    }
  } else {
    EXPECT_REFERENCE(r, p + "deviance", fit.criterion);
  }
  const std::string components = p + "variance_components";
  const auto near = [&](double got, const std::string& key) {
    EXPECT_TRUE(r.agrees(components, got, r.value(components, key)))
        << key << ": got " << got << ", expected " << r.value(components, key);
  };
  near(fit.residual_sd * fit.residual_sd, "residual");
  for (std::size_t k = 0; k < fit.random.size(); ++k) {
    const auto& term = fit.random[k];
    for (std::size_t c = 0; c < columns[k].size(); ++c) {
      const auto i = static_cast<Eigen::Index>(c);
      // lme4 names the second of two uncorrelated terms "Subject.1".
      const bool split = name == "ris_uncorrelated" && c == 1;
      near(term.covariance(i, i), term.name + (split ? ".1." : ".") + columns[k][c]);
      EXPECT_NEAR(term.sd[i] * term.sd[i], term.covariance(i, i), 1e-12 * (1.0 + term.covariance(i, i)));
      const std::string blup = p + "blup_" + term.name + "_" + columns[k][c];
      if (r.has(blup)) {
        const std::string sd = p + "blup_condSD_" + term.name + "_" + columns[k][c];
        for (std::size_t u = 0; u < labels[k].size(); ++u) {
          const auto row = static_cast<Eigen::Index>(u);
          EXPECT_TRUE(r.agrees(blup, term.effects(row, i), r.value(blup, labels[k][u]))) << blup << labels[k][u];
          EXPECT_TRUE(r.agrees(sd, term.conditional_sd(row, i), r.value(sd, labels[k][u]))) << sd << labels[k][u];
        }
      }
    }
    if (columns[k].size() == 2 && r.has(p + "random_correlation")) {
      near(term.covariance(1, 0), term.name + ".cov");
      EXPECT_REFERENCE(r, p + "random_correlation", (*term.correlation)(1, 0));
    }
  }
  if (r.has(p + "nlme_fixed")) {  // a second program
    EXPECT_REFERENCE(r, p + "nlme_fixed", list(fit.fixed));
    EXPECT_REFERENCE(r, p + "nlme_fixed_se", list(fit.fixed_se));
    EXPECT_REFERENCE(r, p + "nlme_loglik_reml", fit.log_likelihood);
    EXPECT_REFERENCE(r, p + "nlme_residual_sd", fit.residual_sd);
  }
}

struct Sleep {
  explicit Sleep(const std::string& file) : table("sleepstudy_lmm/" + file) {
    const auto days = table.numbers("Days");
    spec.response = vector_of(table.numbers("Reaction"));
    spec.fixed = columns_of({ones(days.size()), days});
    subject = table.levels("Subject");
    labels = labels_of(table.text("Subject"));
  }
  MixedModelFit intercepts() {
    spec.random = {{"Subject", subject}};
    return fit_mixed_model(spec);
  }
  MixedModelFit with_slopes(bool correlated = true) {
    spec.random = {slopes("Subject", subject, spec.fixed, correlated)};
    return fit_mixed_model(spec);
  }
  Table table;
  MixedModelSpec spec;
  std::vector<int> subject;
  std::vector<std::string> labels;
};

// Source: Bates et al. (2015), J Stat Softw 67(1), model fm1; Kuznetsova et al. (2017), J Stat Softw 82(13)
// (published_*). Computed: R 4.2.2, lme4 1.1-31, lmerTest 3.1-3, nlme 3.1-162, reference/sleepstudy_lmm/compute.R.
TEST(MixedModel, SleepStudy) {
  const Reference r("sleepstudy_lmm");
  Sleep sleep("data.csv");
  expect_fit(r, "ri", sleep.intercepts(), {{"(Intercept)"}}, {sleep.labels});
  const auto fit = sleep.with_slopes();
  EXPECT_EQ(fit.status, FitStatus::converged);
  expect_fit(r, "ris", fit, {{"(Intercept)", "Days"}}, {sleep.labels});
  expect_fit(r, "ris_uncorrelated", sleep.with_slopes(false), {{"(Intercept)", "Days"}}, {sleep.labels});
  EXPECT_REFERENCE(r, "published_fm1_fixed", list(fit.fixed));
  EXPECT_REFERENCE(r, "published_fm1_fixed_se", list(fit.fixed_se));
  EXPECT_REFERENCE(r, "published_fm1_variances_intercept_slope_residual",
                   std::vector<double>{fit.random[0].covariance(0, 0), fit.random[0].covariance(1, 1),
                                       fit.residual_sd * fit.residual_sd});
  EXPECT_REFERENCE(r, "published_fm1_correlation", (*fit.random[0].correlation)(0, 1));
  EXPECT_REFERENCE(r, "published_fm1_reml_criterion", fit.criterion);
  EXPECT_REFERENCE(r, "published_fm1_satterthwaite_df", std::vector<double>{*fit.df[0], *fit.df[1]});
  // Identity: in this balanced design both df are 17 exactly.
  EXPECT_NEAR(*fit.df[1], 17.0, 1e-5);
  const auto slope = *bagsplit::stats::contrast(fit, VectorXd::Unit(2, 1));
  EXPECT_REFERENCE(r, "ris_ci95_satterthwaite_Days", std::vector<double>{slope.interval.lo, slope.interval.hi});

  sleep.spec.fixed = sleep.spec.fixed.leftCols(1).eval();
  expect_fit(r, "null", sleep.intercepts(), {{"(Intercept)"}}, {sleep.labels});
}

// Computed: R 4.2.2, lme4 1.1-31, lmerTest 3.1-3, nlme 3.1-162, reference/sleepstudy_lmm/compute.R (a third of rows
// dropped).
TEST(MixedModel, SleepStudyUnbalanced) {
  const Reference r("sleepstudy_lmm");
  Sleep sleep("unbalanced.csv");
  expect_fit(r, "unbalanced_ri", sleep.intercepts(), {{"(Intercept)"}}, {sleep.labels});
  expect_fit(r, "unbalanced_ris", sleep.with_slopes(), {{"(Intercept)", "Days"}}, {sleep.labels});
}

// Source: Potthoff & Roy (1964), Biometrika 51:313-326; Pinheiro & Bates (2000), section 1.4 (published_*).
// Computed: R 4.2.2, lme4 1.1-31, lmerTest 3.1-3, nlme 3.1-162, reference/orthodont_lmm/compute.R.
TEST(MixedModel, GrowthOfBoysAndGirls) {
  const Reference r("orthodont_lmm");
  const Table table("orthodont_lmm/data.csv");
  auto age = table.numbers("age");
  std::vector<double> girl, girl_age;
  for (std::size_t i = 0; i < age.size(); ++i) {
    age[i] -= 11.0;
    girl.push_back(table.text("Sex")[i] == "Female" ? 1.0 : 0.0);
    girl_age.push_back(girl[i] * age[i]);
  }
  const auto subject = table.levels("Subject");
  const auto labels = labels_of(table.text("Subject"));
  const MatrixXd line = columns_of({ones(age.size()), age});
  MixedModelSpec spec{vector_of(table.numbers("distance")), line, {slopes("Subject", subject, line)}};
  const auto all = fit_mixed_model(spec);
  expect_fit(r, "ris_all", all, {{"(Intercept)", "a11"}}, {labels});
  EXPECT_REFERENCE(r, "published_ris_all_fixed", list(all.fixed));
  EXPECT_REFERENCE(r, "published_ris_all_loglik", all.log_likelihood);
  spec.fixed = columns_of({ones(age.size()), age, girl, girl_age});
  expect_fit(r, "ris_sex_by_age", fit_mixed_model(spec), {{"(Intercept)", "a11"}}, {labels});
  spec.random = {{"Subject", subject}};
  expect_fit(r, "ri_sex_by_age", fit_mixed_model(spec), {{"(Intercept)"}}, {labels});

  std::vector<double> y, a;
  std::vector<std::string> who;
  std::vector<int> group;
  for (std::size_t i = 0; i < age.size(); ++i) {
    if (girl[i] > 0.0) {
      y.push_back(table.numbers("distance")[i]);
      a.push_back(age[i]);
      who.push_back(table.text("Subject")[i]);
      group.push_back(subject[i] - 16);
    }
  }
  const MixedModelSpec girls{vector_of(y), columns_of({ones(a.size()), a}), {{"Subject", group}}};
  expect_fit(r, "girls_ri", fit_mixed_model(girls), {{"(Intercept)"}}, {labels_of(who)});
}

MixedModelSpec one_mean(const Table& table, const std::string& response, const std::vector<std::string>& groups) {
  const auto y = table.numbers(response);
  MixedModelSpec spec{vector_of(y), columns_of({ones(y.size())}), {}};
  for (const auto& g : groups) spec.random.push_back({g, table.levels(g)});
  return spec;
}

// Source: Bates et al. (2015) and the lme4 book's printed output (published_*): crossed, nested and singular examples.
// Computed: R 4.2.2, lme4 1.1-31, lmerTest 3.1-3, reference/mixed_model_terms/compute.R.
TEST(MixedModel, CrossedNestedAndSingularExamples) {
  const Reference r("mixed_model_terms");
  const Table penicillin("mixed_model_terms/penicillin.csv");
  const auto crossed = fit_mixed_model(one_mean(penicillin, "diameter", {"plate", "sample"}));
  expect_fit(r, "penicillin", crossed, {{"(Intercept)"}, {"(Intercept)"}},
             {labels_of(penicillin.text("plate")), labels_of(penicillin.text("sample"))});
  EXPECT_REFERENCE(r, "published_penicillin_sds_plate_sample_residual",
                   std::vector<double>{crossed.random[0].sd[0], crossed.random[1].sd[0], crossed.residual_sd});

  const Table pastes("mixed_model_terms/pastes.csv");
  const auto nested = fit_mixed_model(one_mean(pastes, "strength", {"batch", "sample"}));
  expect_fit(r, "pastes", nested, {{"(Intercept)"}, {"(Intercept)"}},
             {labels_of(pastes.text("batch")), labels_of(pastes.text("sample"))});
  EXPECT_REFERENCE(r, "published_pastes_sds_sample_batch_residual",
                   std::vector<double>{nested.random[1].sd[0], nested.random[0].sd[0], nested.residual_sd});

  const Table dyestuff("mixed_model_terms/dyestuff.csv");
  const auto plain = one_mean(dyestuff, "Yield", {"Batch"});
  expect_fit(r, "dyestuff", fit_mixed_model(plain), {{"(Intercept)"}}, {labels_of(dyestuff.text("Batch"))});
  MixedModelOptions ml;
  ml.criterion = Criterion::ml;
  expect_fit(r, "ml_dyestuff", fit_mixed_model(plain, ml), {{"(Intercept)"}}, {labels_of(dyestuff.text("Batch"))});

  const Table made_up("mixed_model_terms/dyestuff2.csv");
  const auto singular = fit_mixed_model(one_mean(made_up, "Yield", {"Batch"}));
  EXPECT_EQ(singular.status, FitStatus::at_boundary);
  EXPECT_EQ(singular.message, "at the boundary: 'Batch' (variance 0)");
  EXPECT_EQ(singular.random[0].sd[0], 0.0);
  EXPECT_EQ(singular.random[0].effects.norm(), 0.0);
  expect_fit(r, "dyestuff2", singular, {{"(Intercept)"}}, {labels_of(made_up.text("Batch"))});
}

struct Squad {
  Squad() : table("mixed_model_terms/squad.csv") {
    player = table.levels("player");
    session = table.levels("session");
    both = bagsplit::stats::interaction(player, session);
    time = vector_of(table.numbers("time"));
    for (const double s : table.numbers("session")) day.push_back(s - 1.0);
  }
  Table table;
  std::vector<int> player, session, both;
  VectorXd time;
  std::vector<double> day;
};

// Computed: R 4.2.2, lme4 1.1-31, lmerTest 3.1-3, reference/mixed_model_terms/compute.R (invented times, missing
// cells): crossed and nested at once, sessions fixed with a contrast, a correlation of -1, maximum likelihood.
TEST(MixedModel, SquadWithMissingCells) {
  const Reference r("mixed_model_terms");
  const Squad squad;
  const std::size_t n = squad.day.size();
  MixedModelSpec spec{
      squad.time, columns_of({ones(n)}), {{"player", squad.player}, {"session", squad.session}, {"ps", squad.both}}};
  const std::vector<std::vector<std::string>> intercepts(3, {"(Intercept)"});
  const std::vector<std::vector<std::string>> labels{
      labels_of(squad.table.text("player")), labels_of(squad.table.text("session")), {}};
  expect_fit(r, "squad", fit_mixed_model(spec), intercepts, labels);
  MixedModelOptions ml;
  ml.criterion = Criterion::ml;
  spec.fixed = columns_of({ones(n), squad.day});
  expect_fit(r, "ml_squad", fit_mixed_model(spec, ml), intercepts, labels);

  spec.random = {slopes("player", squad.player, spec.fixed), {"ps", squad.both}};
  const auto tied = fit_mixed_model(spec);
  EXPECT_EQ(tied.status, FitStatus::at_boundary);
  EXPECT_EQ(tied.message, "at the boundary: 'player' (correlation at its limit)");
  expect_fit(r, "squad_slope", tied, {{"(Intercept)", "day"}, {"(Intercept)"}}, {labels[0], {}});

  std::vector<std::vector<double>> columns{ones(n)};
  for (double s = 1; s < 5; ++s) {
    std::vector<double> column(n);
    for (std::size_t i = 0; i < n; ++i) column[i] = squad.day[i] == s ? 1.0 : 0.0;
    columns.push_back(column);
  }
  const MixedModelSpec fixed{squad.time, columns_of(columns), {{"player", squad.player}, {"ps", squad.both}}};
  const auto fit = fit_mixed_model(fixed);
  expect_fit(r, "squad_fixed_sessions", fit, {{"(Intercept)"}, {"(Intercept)"}}, {labels[0], {}});
  VectorXd weights(5);
  weights << 0, -0.5, 0, 0.5, 0.5;
  const auto c = *bagsplit::stats::contrast(fit, weights);
  EXPECT_REFERENCE(r, "squad_fixed_sessions_contrast_estimate_se_df_p",
                   std::vector<double>{c.estimate, c.se, c.df, *c.p_two_sided});
}

/// The model written out with full matrices at given variances.
struct Dense {
  Dense(const MixedModelSpec& spec, const MixedModelFit& fit) : x(spec.fixed), y(spec.response) {
    const Eigen::Index n = y.size();
    Eigen::Index width = 0;
    for (const auto& term : fit.random) width += term.effects.size();
    z = MatrixXd::Zero(n, width);
    d = MatrixXd::Zero(width, width);
    Eigen::Index first = 0;
    for (std::size_t t = 0; t < fit.random.size(); ++t) {
      const auto& term = fit.random[t];
      const Eigen::Index q = term.effects.cols();
      for (Eigen::Index i = 0; i < n; ++i) {
        for (Eigen::Index k = 0; k < q; ++k) {
          const auto& given = spec.random[t];
          z(i, first + given.group[static_cast<std::size_t>(i)] * q + k) =
              given.columns.size() > 0 ? given.columns(i, k) : 1.0;
        }
      }
      for (Eigen::Index u = 0; u < term.effects.rows(); ++u)
        d.block(first + u * q, first + u * q, q, q) = term.covariance;
      first += term.effects.size();
    }
    const double s2 = fit.residual_sd * fit.residual_sd;
    v = z * d * z.transpose() + s2 * MatrixXd::Identity(n, n);
    inverse = v.ldlt().solve(MatrixXd::Identity(n, n));
    c = (x.transpose() * inverse * x).inverse();
    beta = c * (x.transpose() * (inverse * y));
    b = d * z.transpose() * (inverse * (y - x * beta));
  }
  double criterion(bool reml) const {
    const Eigen::LLT<MatrixXd> llt(v);
    const VectorXd e = y - x * beta;
    const double n = static_cast<double>(y.size()) - (reml ? static_cast<double>(x.cols()) : 0.0);
    double value =
        n * std::log(2.0 * std::acos(-1.0)) + e.dot(inverse * e) + 2.0 * llt.matrixLLT().diagonal().array().log().sum();
    if (reml) value += std::log((x.transpose() * inverse * x).determinant());
    return value;
  }
  MatrixXd x;
  VectorXd y;
  MatrixXd z, d, v, inverse, c;
  VectorXd beta, b;
};

// Identity: the sparse, profiled formulas are generalised least squares, the normal density and the best linear
// unbiased predictor written out with full matrices.
TEST(MixedModel, IsTheModelWrittenOut) {
  const Squad squad;
  const MatrixXd line = columns_of({ones(squad.day.size()), squad.day});
  MixedModelSpec spec{
      squad.time, line, {slopes("player", squad.player, line, false), {"session", squad.session}, {"ps", squad.both}}};
  for (const Criterion criterion : {Criterion::reml, Criterion::ml}) {
    MixedModelOptions options;
    options.criterion = criterion;
    const auto fit = fit_mixed_model(spec, options);
    ASSERT_TRUE(usable(fit.status)) << fit.message;
    const Dense dense(spec, fit);
    EXPECT_DIGITS(fit.criterion, dense.criterion(criterion == Criterion::reml), 11);
    EXPECT_LT((fit.fixed - dense.beta).norm(), 1e-10);
    EXPECT_LT((fit.fixed_covariance - dense.c).norm(), 1e-12);
    Eigen::Index first = 0;
    for (const auto& term : fit.random) {
      for (Eigen::Index u = 0; u < term.effects.rows(); ++u) {
        for (Eigen::Index k = 0; k < term.effects.cols(); ++k) {
          EXPECT_NEAR(term.effects(u, k), dense.b[first + u * term.effects.cols() + k], 1e-10);
        }
      }
      first += term.effects.size();
    }
    EXPECT_LT((fit.fitted + fit.residuals - spec.response).norm(), 1e-12);
    EXPECT_LT((fit.fitted - dense.x * dense.beta - dense.z * dense.b).norm(), 1e-9);

    // Henderson's error of a prediction: beta_1 + the slope of player 3 + half the effect of session 2.
    const std::vector<RandomWeight> random{{0, 3, 1, 1.0}, {1, 2, 0, 0.5}};
    const auto p = *prediction(fit, VectorXd::Unit(2, 1), random);
    VectorXd m = VectorXd::Zero(dense.b.size());
    m[3 * 2 + 1] = 1.0;
    m[fit.random[0].effects.size() + 2] = 0.5;
    const MatrixXd dz = dense.d * dense.z.transpose() * dense.inverse;
    const VectorXd gap = VectorXd::Unit(2, 1) - dense.x.transpose() * (dz.transpose() * m);
    const double variance = m.dot((dense.d - dz * dense.z * dense.d) * m) + gap.dot(dense.c * gap);
    EXPECT_DIGITS(p.se, std::sqrt(variance), 9);
    EXPECT_DIGITS(p.estimate, dense.beta[1] + m.dot(dense.b), 9);
  }
}

// Identity: order of rows and terms, labels, units of the response and of a slope, and the origin of a slope: the fit
// is the same model each time.
TEST(MixedModel, Invariances) {
  Sleep sleep("unbalanced.csv");
  const auto before = sleep.with_slopes();
  const auto n = static_cast<std::size_t>(sleep.spec.response.size());
  MixedModelSpec spec = sleep.spec;
  for (std::size_t i = 0; i < n; ++i) {
    const auto from = static_cast<Eigen::Index>((i * 37) % n);  // 37 is prime to n
    const auto to = static_cast<Eigen::Index>(i);
    spec.response[to] = 1000.0 * sleep.spec.response[from] + 5e7;
    spec.fixed(to, 1) = 86400.0 * (sleep.spec.fixed(from, 1) + 40.0);
    spec.random[0].group[i] = 40 - sleep.subject[static_cast<std::size_t>(from)];
  }
  ASSERT_NE(n % 37, 0u);
  spec.random[0].columns = spec.fixed;
  const auto after = fit_mixed_model(spec);
  ASSERT_EQ(after.status, FitStatus::converged);
  EXPECT_DIGITS(after.fixed[1] * 86.4, before.fixed[1], 9);
  EXPECT_DIGITS(after.residual_sd, 1000.0 * before.residual_sd, 7);
  EXPECT_DIGITS(after.random[0].sd[1] * 86.4, before.random[0].sd[1], 6);
  EXPECT_DIGITS(*after.df[1], *before.df[1], 4);
  // -2 log L moves by (n - p) log of the unit of y, and by log |X'X| for the unit of the slope.
  const double moved = before.criterion + static_cast<double>(n - 2) * 2.0 * std::log(1000.0) + 2.0 * std::log(86400.0);
  EXPECT_DIGITS(after.criterion, moved, 9);

  const Squad squad;
  const MatrixXd one = MatrixXd::Ones(squad.time.size(), 1);
  const auto a = fit_mixed_model({squad.time, one, {{"p", squad.player}, {"s", squad.session}, {"ps", squad.both}}});
  const auto b = fit_mixed_model({squad.time, one, {{"ps", squad.both}, {"s", squad.session}, {"p", squad.player}}});
  EXPECT_DIGITS(a.criterion, b.criterion, 11);
  EXPECT_DIGITS(a.random[0].sd[0], b.random[2].sd[0], 6);
  EXPECT_EQ(fit_mixed_model({squad.time, one, {{"p", squad.player}, {"s", squad.session}}}).criterion,
            fit_mixed_model({squad.time, one, {{"p", squad.player}, {"s", squad.session}}}).criterion);
}

// Identity: in a balanced one-way layout with a positive estimate REML is the analysis of variance; without random
// terms it is ordinary least squares; the gradient vanishes at the optimum.
TEST(MixedModel, KnownForms) {
  const auto spec = one_mean(Table("mixed_model_terms/dyestuff.csv"), "Yield", {"Batch"});
  const auto fit = fit_mixed_model(spec);
  EXPECT_LT(fit.largest_gradient, 1e-6);
  // Source: Box & Tiao (1973), Table 5.1.4: mean squares 11271.5 between, 2451.25 within; (11271.5 - 2451.25)/5 =
  // 1764.05.
  EXPECT_DIGITS(fit.random[0].covariance(0, 0), 1764.05, 8);
  EXPECT_DIGITS(fit.residual_sd * fit.residual_sd, 2451.25, 8);

  const MixedModelSpec line{vector_of({0, 1.5, 1.5, 3}), columns_of({ones(4), {0, 1, 2, 3}}), {}};
  const auto ols = fit_mixed_model(line);
  ASSERT_EQ(ols.status, FitStatus::converged);
  EXPECT_NEAR(ols.fixed[1], 0.9, 1e-13);
  EXPECT_NEAR(ols.fixed_se[1], std::sqrt(0.45 / 2.0 / 5.0), 1e-13);
  EXPECT_NEAR(*ols.df[1], 2.0, 1e-9);
}

// Identity: a level without data keeps the prior: effect 0, conditional SD that of the term.
TEST(MixedModel, ALevelWithoutData) {
  auto spec = one_mean(Table("mixed_model_terms/dyestuff.csv"), "Yield", {"Batch"});
  spec.random[0].levels = 8;
  const auto fit = fit_mixed_model(spec);
  EXPECT_EQ(fit.random[0].effects.rows(), 8);
  EXPECT_EQ(fit.random[0].effects(7, 0), 0.0);
  EXPECT_DIGITS(fit.random[0].conditional_sd(7, 0), fit.random[0].sd[0], 12);
}

// Common practice, no source: what the data cannot tell is a status with a sentence, for each kind.
TEST(MixedModel, SaysWhatCannotBeTold) {
  const VectorXd y = vector_of({3.5, 3.6, 3.4, 3.9, 4.0, 3.8});
  const MatrixXd one = MatrixXd::Ones(6, 1);
  const auto said = [&](const MixedModelSpec& spec) {
    const auto fit = fit_mixed_model(spec);
    EXPECT_FALSE(usable(fit.status));
    EXPECT_FALSE(bagsplit::stats::contrast(fit, VectorXd::Ones(1)));
    return std::string(word(fit.status)) + ": " + fit.message;
  };
  EXPECT_EQ(said({y, one, {{"player", {0, 0, 0, 0, 0, 0}}}}), "not-identifiable: 'player' has one level only");
  EXPECT_EQ(
      said({y, one, {{"run", {0, 1, 2, 3, 4, 5}}}}),
      "not-identifiable: 'run' has as many effects as there are observations: they cannot be told from the residuals");
  EXPECT_EQ(said({y, one, {{"player", {0, 0, 1, 1, 2, 2}}, {"session", {1, 1, 0, 0, 2, 2}}}}),
            "not-identifiable: 'player' and 'session' group the observations alike");
  EXPECT_EQ(said({y, columns_of({ones(6), {0, 0, 0, 1, 1, 1}}), {{"player", {0, 0, 0, 1, 1, 1}}}}),
            "not-identifiable: 'player' is absorbed by the fixed effects");
  EXPECT_EQ(said({y, columns_of({ones(6), {2, 2, 2, 2, 2, 2}}), {}}),
            "not-identifiable: fixed-effect columns that depend on those before them: 1");
  EXPECT_EQ(said({y, one, {{"player", {0, 0, 0, 1, 1, 1}, columns_of({ones(6), ones(6)})}}}),
            "not-identifiable: the columns of 'player' depend on each other or are all 0");
  EXPECT_EQ(said({vector_of({1}), MatrixXd::Ones(1, 1), {}}), "too-few-data: 1 observations for 1 fixed effects");
  EXPECT_EQ(said({VectorXd::Constant(6, 3.7), one, {{"player", {0, 0, 0, 1, 1, 1}}}}),
            "failed: the fixed effects fit every observation exactly: no scatter is left to divide");
  EXPECT_EQ(
      said({vector_of({1, 1, 1, 2, 2, 2, 5, 5, 5}), MatrixXd::Ones(9, 1), {{"player", {0, 0, 0, 1, 1, 1, 2, 2, 2}}}}),
      "failed: the likelihood has no maximum: the random effects fit every observation");
}

// Common practice, no source: programmer's errors throw.
TEST(MixedModel, RefusesBadCalls) {
  const VectorXd y = vector_of({1, 2, 4});
  const MatrixXd one = MatrixXd::Ones(3, 1);
  EXPECT_THROW(fit_mixed_model({y, MatrixXd::Ones(2, 1), {}}), std::invalid_argument);
  EXPECT_THROW(fit_mixed_model({y, one, {{"g", {0, 1}}}}), std::invalid_argument);
  EXPECT_THROW(fit_mixed_model({y, one, {{"g", {0, -1, 1}}}}), std::domain_error);
  EXPECT_THROW(fit_mixed_model({vector_of({1, 2, std::nan("")}), one, {}}), std::domain_error);
  const auto fit = fit_mixed_model(one_mean(Table("mixed_model_terms/dyestuff.csv"), "Yield", {"Batch"}));
  EXPECT_THROW(prediction(fit, VectorXd::Ones(1), std::vector<RandomWeight>{{0, 99, 0, 1.0}}), std::invalid_argument);
  EXPECT_THROW(contrast(fit, VectorXd::Ones(2)), std::invalid_argument);
}

}  // namespace
