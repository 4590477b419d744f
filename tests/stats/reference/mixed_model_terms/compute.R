# Mixed models with crossed and nested terms, boundary fits, a missing cell and maximum likelihood.
setwd(dirname(sub("^--file=", "", grep("^--file=", commandArgs(FALSE), value = TRUE))))
source("../_lib/expect.R")
source("../_lib/lmm.R")
CIT <- "Davies OL, Goldsmith PL (eds) (1972) Statistical Methods in Research and Production, 4th ed., and Box GEP, Tiao GC (1973) Bayesian Inference in Statistical Analysis, Addison-Wesley; datasets Penicillin, Pastes, Dyestuff, Dyestuff2 of R package lme4 1.1-31"
GPL <- "Licence: distributed with lme4 (GPL >= 2); facts, quoted with citation"
wr(as.data.frame(lme4::Penicillin), "penicillin.csv", c("Diameter of growth inhibition (mm), 24 plates x 6 samples, fully crossed", CIT, GPL))
wr(data.frame(strength = Pastes$strength, batch = Pastes$batch, cask = Pastes$cask, sample = gsub(":", "", Pastes$sample)), "pastes.csv", c("Paste strength, 10 batches, 3 casks a batch, 2 assays a cask (nested)", CIT, GPL))
wr(as.data.frame(lme4::Dyestuff), "dyestuff.csv", c("Yield of dyestuff, 6 batches x 5", CIT, GPL))
wr(as.data.frame(lme4::Dyestuff2), "dyestuff2.csv", c("Made-up yields, 6 batches x 5, between-batch variance estimated as 0 (Box & Tiao 1973)", CIT, GPL))
set.seed(20260411)
g <- expand.grid(run = 1:3, session = 1:5, player = 1:9)
g$time <- round(4.2 + .28 * rnorm(9)[g$player] + .05 * rnorm(5)[g$session] - .02 * (g$session - 3) + .06 * rnorm(45)[(g$player - 1) * 5 + g$session] + .08 * rnorm(nrow(g)), 2)
drop <- (g$player == 2 & g$session == 4) | (g$player == 5 & g$session %in% c(1, 2)) | (g$player == 7 & g$session > 3) | ((g$player * 5 + g$session * 3 + g$run) %% 7 == 0)
s <- g[!drop, c("player", "session", "run", "time")]
wr(s, "squad.csv", c("Invented times (s) of 9 made-up players on 5 evenings, up to 3 runs each, several player-by-session cells empty", "Licence: invented for this test, no real persons (CC0)"))
begin("mixed_model_terms", "Crossed, nested, singular and unbalanced mixed models", CIT, c("penicillin.csv", "pastes.csv", "dyestuff.csv", "dyestuff2.csv", "squad.csv"),
  c("Random-effect variance components are named by lme4's groups.", "squad.csv is invented."))
B <- "Bates D, Maechler M, Bolker B, Walker S (2015) J Stat Softw 67(1); lme4: Mixed-effects modeling with R (2010 draft), chapters 1 and 2, printed output"
pub("published_dyestuff_variances_batch_residual", c(1764, 2451), B, .6); pub("published_dyestuff_reml_criterion", 319.7, B, .06); pub("published_dyestuff_fixed_and_se", c(1527.5, 19.38), B, .006)
pub("published_dyestuff_ml_variances_batch_residual", c(1388.3, 2451.3), B, .06); pub("published_dyestuff_ml_criterion", 327.3, B, .06)
pub("published_dyestuff2_variances_batch_residual", c(0, 13.806), B, .001); pub("published_dyestuff2_reml_criterion", 161.8, B, .06)
pub("published_penicillin_sds_plate_sample_residual", c(.8467, 1.9316, .5499), B, .0006); pub("published_penicillin_reml_criterion", 330.9, B, .06)
pub("published_pastes_sds_sample_batch_residual", c(2.9041, 1.2874, .8234), B, .0006); pub("published_pastes_reml_criterion", 247.0, B, .06)
pe <- rd("penicillin.csv"); pa <- rd("pastes.csv"); d1 <- rd("dyestuff.csv"); d2 <- rd("dyestuff2.csv"); q <- rd("squad.csv")
for (v in c("plate", "sample")) pe[[v]] <- factor(pe[[v]]); for (v in c("batch", "sample")) pa[[v]] <- factor(pa[[v]])
lmm_report("dyestuff", Yield ~ 1 + (1 | Batch), d1, "Batch", "Yield ~ 1 + (1 | Batch), dyestuff.csv")
lmm_report("dyestuff2", Yield ~ 1 + (1 | Batch), d2, "Batch", "Yield ~ 1 + (1 | Batch), dyestuff2.csv", singular = TRUE)
lmm_report("penicillin", diameter ~ 1 + (1 | plate) + (1 | sample), pe, c("plate", "sample"), "diameter ~ 1 + (1 | plate) + (1 | sample)")
lmm_report("pastes", strength ~ 1 + (1 | batch) + (1 | sample), pa, c("batch", "sample"), "strength ~ 1 + (1 | batch) + (1 | sample)")
q$player <- factor(q$player); q$session <- factor(q$session); q$ps <- interaction(q$player, q$session, drop = TRUE); q$day <- as.integer(q$session) - 1
lmm_report("squad", time ~ 1 + (1 | player) + (1 | session) + (1 | ps), q, c("player", "session"), "time ~ 1 + (1 | player) + (1 | session) + (1 | player:session), squad.csv")
m <- lmm_report("squad_fixed_sessions", time ~ session + (1 | player) + (1 | ps), q, "player", "time ~ session + (1 | player) + (1 | player:session), squad.csv")
ct <- contest1D(m, c(0, -.5, 0, .5, .5)); comp("squad_fixed_sessions_contrast_estimate_se_df_p", c(ct$Estimate, ct$"Std. Error", ct$df, ct$"Pr(>|t|)"), "lmerTest::contest1D(m, c(0, -.5, 0, .5, .5))", LS, rel = 1e-4)
lmm_report("squad_slope", time ~ day + (day | player) + (1 | ps), q, "player", "time ~ day + (day | player) + (1 | player:session), squad.csv", singular = TRUE)
# maximum likelihood
ml <- function(name, formula, data, txt) { m <- lmer(formula, data, REML = FALSE, control = ctl); cl <- paste0("lmerTest::lmer(", txt, ", REML=FALSE, bobyqa rhoend=1e-10)"); co <- coef(summary(m)); vc <- as.data.frame(VarCorr(m))
  comp(paste0(name, "_fixed"), fixef(m), cl, LS, rel = 1e-5); comp(paste0(name, "_fixed_se"), setNames(co[, 2], rownames(co)), cl, LS, rel = 5e-5); comp(paste0(name, "_satterthwaite_df"), setNames(co[, "df"], rownames(co)), cl, LS, rel = 2e-3)
  comp(paste0(name, "_variance_components"), setNames(vc$vcov, ifelse(is.na(vc$var2), ifelse(vc$grp == "Residual", "residual", paste(vc$grp, vc$var1, sep = ".")), paste(vc$grp, "cov", sep = "."))), cl, LS, rel = 1e-4, abs = 1e-6); comp(paste0(name, "_deviance"), as.numeric(-2 * logLik(m)), cl, LS, rel = 1e-8) }
ml("ml_dyestuff", Yield ~ 1 + (1 | Batch), d1, "Yield ~ 1 + (1 | Batch), dyestuff.csv")
ml("ml_squad", time ~ day + (1 | player) + (1 | session) + (1 | ps), q, "time ~ day + (1 | player) + (1 | session) + (1 | player:session), squad.csv")
finish()
