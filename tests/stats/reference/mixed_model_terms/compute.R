# Mixed models with crossed and nested terms.
setwd(dirname(sub("^--file=", "", grep("^--file=", commandArgs(FALSE), value = TRUE))))
source("../_lib/expect.R")
source("../_lib/lmm.R")
CIT <- "Davies OL, Goldsmith PL (eds) (1972) Statistical Methods in Research and Production, 4th ed.; dataset Penicillin of R package lme4 1.1-31"
GPL <- "Licence: distributed with lme4 (GPL >= 2); facts, quoted with citation"
wr(as.data.frame(lme4::Penicillin), "penicillin.csv", c("Diameter of growth inhibition (mm), 24 plates x 6 samples, fully crossed", CIT, GPL))
set.seed(20260411)
g <- expand.grid(run = 1:3, session = 1:5, player = 1:9)
g$time <- round(4.2 + .28 * rnorm(9)[g$player] + .05 * rnorm(5)[g$session] - .02 * (g$session - 3) + .06 * rnorm(45)[(g$player - 1) * 5 + g$session] + .08 * rnorm(nrow(g)), 2)
drop <- (g$player == 2 & g$session == 4) | (g$player == 5 & g$session %in% c(1, 2)) | (g$player == 7 & g$session > 3) | ((g$player * 5 + g$session * 3 + g$run) %% 7 == 0)
s <- g[!drop, c("player", "session", "run", "time")]
wr(s, "squad.csv", c("Invented times (s) of 9 made-up players on 5 evenings, up to 3 runs each, several player-by-session cells empty", "Licence: invented for this test, no real persons (CC0)"))
begin("mixed_model_terms", "Crossed and nested mixed models", CIT, c("penicillin.csv", "squad.csv"),
  c("Random-effect variance components are named by lme4's groups.", "squad.csv is invented."))
B <- "Bates D, Maechler M, Bolker B, Walker S (2015) J Stat Softw 67(1); lme4: Mixed-effects modeling with R (2010 draft), chapters 1 and 2, printed output"
pub("published_penicillin_sds_plate_sample_residual", c(.8467, 1.9316, .5499), B, .0006); pub("published_penicillin_reml_criterion", 330.9, B, .06)
pe <- rd("penicillin.csv"); q <- rd("squad.csv")
for (v in c("plate", "sample")) pe[[v]] <- factor(pe[[v]])
lmm_report("penicillin", diameter ~ 1 + (1 | plate) + (1 | sample), pe, c("plate", "sample"), "diameter ~ 1 + (1 | plate) + (1 | sample)")
q$player <- factor(q$player); q$session <- factor(q$session); q$ps <- interaction(q$player, q$session, drop = TRUE)
lmm_report("squad", time ~ 1 + (1 | player) + (1 | session) + (1 | ps), q, c("player", "session"), "time ~ 1 + (1 | player) + (1 | session) + (1 | player:session), squad.csv")
finish()
