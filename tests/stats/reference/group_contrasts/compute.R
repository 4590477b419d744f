# One contrast a player with one pooled error: cell means and slopes of each player as fixed effects beside session effects.
setwd(dirname(sub("^--file=", "", grep("^--file=", commandArgs(FALSE), value = TRUE))))
source("../_lib/expect.R"); source("../_lib/lmm.R")
begin("group_contrasts", "Each player's change, all with one pooled error", "R packages lme4, lmerTest", c("../mixed_model_terms/squad.csv"),
  c("squad.csv is invented.", "Windows: sessions 1 and 2, session 3, sessions 4 and 5. Session effects add up to 0 within a window (orthogonal to 1 and day for slopes)."))
q <- rd("../mixed_model_terms/squad.csv")
q$ps <- interaction(q$player, q$session, drop = TRUE); q$day <- q$session - 1
w <- c(1, 1, 2, 3, 3)[q$session]; q$cell <- factor(paste(q$player, w, sep = "."))
q$c1 <- c(1, -1, 0, 0, 0)[q$session]; q$c2 <- c(0, 0, 0, 1, -1)[q$session]
q$half <- ((q$player + 2 * q$session + q$run) %% 3) / 2      # a share that varies within sessions
q$time2 <- q$time + 0.1 * q$half
both <- function(m, name, data, weights, txt, rel = 5e-5) {
  labels <- names(fixef(m)); out <- list()
  for (p in sort(unique(data$player))) {
    l <- weights(p, labels); if (is.null(l)) next
    ct <- contest1D(m, l); out[[as.character(p)]] <- c(ct$Estimate, ct$"Std. Error", ct$df)
  }
  v <- as.data.frame(VarCorr(m))
  cl <- paste0("lmerTest::contest1D(lmer(", txt, "))")
  pick <- function(i) setNames(vapply(out, `[`, 0, i), names(out))
  comp(paste0(name, "_estimate"), pick(1), cl, LS, rel = 1e-5, abs = 1e-7); comp(paste0(name, "_se"), pick(2), cl, LS, rel = rel); comp(paste0(name, "_df"), pick(3), cl, LS, rel = 2e-3)
  comp(paste0(name, "_sd_block_residual"), c(v$sdcor[1], v$sdcor[2]), cl, LS, rel = 1e-4)
}
windows <- function(p, labels) { a <- paste0("cell", p, ".1"); b <- paste0("cell", p, ".3"); if (!all(c(a, b) %in% labels)) return(NULL); (labels == b) - (labels == a) }
m1 <- lmer(time ~ 0 + cell + c1 + c2 + (1 | ps), q, control = ctl)
both(m1, "windows", q, windows, "time ~ 0 + cell + c1 + c2 + (1 | ps)")
have <- Filter(Negate(is.null), lapply(sort(unique(q$player)), windows, names(fixef(m1)))); l <- Reduce(`+`, have) / length(have); ct <- contest1D(m1, l)
comp("windows_mean", c(ct$Estimate, ct$"Std. Error", ct$df), "lmerTest::contest1D, mean of all contrasts", LS, rel = 2e-4)
comp("windows_sessions", fixef(m1)[c("c1", "c2")], "fixef", LS, rel = 1e-5, abs = 1e-7)
m2 <- lmer(time2 ~ 0 + cell + c1 + c2 + half + (1 | ps), q, control = ctl)
both(m2, "share", q, windows, "time2 ~ 0 + cell + c1 + c2 + half + (1 | ps)")
co <- coef(summary(m2))["half", ]; comp("share_half", unname(co[1:2]), "coef(summary(m2))", LS, rel = 5e-5)
q$wet <- as.numeric(q$session == 2)                             # takes the place of the first window's session effect
m3 <- lmer(time ~ 0 + cell + wet + c2 + (1 | ps), q, control = ctl)
both(m3, "wet", q, windows, "time ~ 0 + cell + wet + c2 + (1 | ps)")
P <- poly(0:4, 4); for (i in 2:4) q[[paste0("p", i)]] <- P[q$session, i]
q$pl <- factor(q$player)
m4 <- lmer(time ~ 0 + pl + pl:day + p2 + p3 + p4 + (1 | ps), q, control = ctl)
both(m4, "slope", q, function(p, labels) as.numeric(labels == paste0("pl", p, ":day")), "time ~ 0 + pl + pl:day + p2 + p3 + p4 + (1 | ps), P = poly(0:4, 4)")
q$w <- factor(w); m5 <- lmer(time ~ 0 + w + (1 | player) + (1 | session) + (1 | ps), q, control = ctl); v <- as.data.frame(VarCorr(m5))
comp("windows_variances", setNames(v$vcov, v$grp), "as.data.frame(VarCorr(lmer(time ~ 0 + w + (1 | player) + (1 | session) + (1 | ps))))", LS, rel = 1e-4, abs = 1e-8)
finish()
