# The mixed model beside lme4 and lmerTest, on the same data in one run; prints CPU times and their ratio.
#   Rscript tests/bench/lme4_side_by_side.R build/bench/tests/bench/mixed_model_time
# Needs R with lme4 and lmerTest (Debian: r-base-core, r-cran-lme4, r-cran-lmertest).
program <- commandArgs(TRUE)[1]
if (is.na(program) || !file.exists(program)) stop("name the program: build/bench/tests/bench/mixed_model_time")
suppressMessages({library(lme4); library(lmerTest)})

busy <- function(f, repeats) { t <- system.time(for (i in seq_len(repeats)) m <- f()); list(model = m, s = unname(t[1] + t[2]) / repeats) }
ours <- function(kind, data, repeats) {
  file <- tempfile(fileext = ".csv"); on.exit(unlink(file))
  write.table(format(data, digits = 15, trim = TRUE), file, sep = ",", row.names = FALSE, quote = FALSE)
  setNames(as.numeric(strsplit(system2(program, c(kind, file, repeats), stdout = TRUE), " ")[[1]]), c("wall", "cpu", "criterion", "se", "df", "sd"))
}
# Both do the fit with everything a table of fixed effects needs: REML, standard errors, Satterthwaite's df.
compare <- function(name, kind, data, formula, lme4_data, repeats, r_repeats) {
  us <- ours(kind, data, repeats)
  r <- busy(function() { m <- lmerTest::lmer(formula, lme4_data); s <- coef(summary(m)); attr(m, "table") <- s; m }, r_repeats)
  fit <- busy(function() lme4::lmer(formula, lme4_data), r_repeats)
  s <- coef(summary(r$model))
  cat(sprintf("%-42s ours %9.3f ms   lme4 fit %10.1f ms (x%.0f)   with lmerTest's df %10.1f ms (x%.0f)\n", name, 1e3 * us[["cpu"]], 1e3 * fit$s, fit$s / us[["cpu"]], 1e3 * r$s, r$s / us[["cpu"]]))
  cat(sprintf("%-42s criterion %.6f / %.6f   SE %.7g / %.7g   df %.5g / %.5g   residual SD %.7g / %.7g\n", "  ours / lme4", us[["criterion"]], REMLcrit(r$model), us[["se"]], s[1, 2], us[["df"]], s[1, "df"], us[["sd"]], sigma(r$model)))
}

s <- lme4::sleepstudy
compare("sleepstudy, slopes (180 rows)", "slopes", data.frame(y = s$Reaction, x = s$Days, group = as.integer(s$Subject) - 1), Reaction ~ Days + (Days | Subject), s, 2000, 20)

season <- function(players, sessions, runs) {
  set.seed(1); g <- expand.grid(run = seq_len(runs), b = seq_len(sessions), a = seq_len(players))
  ab <- (g$a - 1) * sessions + g$b
  g$y <- 4.2 + .3 * rnorm(players)[g$a] + .05 * rnorm(sessions)[g$b] + .06 * rnorm(players * sessions)[ab] + .08 * rnorm(nrow(g)); g
}
for (players in c(60, 1000)) {
  g <- season(players, 20, 3)
  compare(sprintf("%d players x 20 sessions x 3 runs", players), "crossed", data.frame(y = g$y, a = g$a - 1, b = g$b - 1), y ~ 1 + (1 | a) + (1 | b) + (1 | a:b), transform(g, a = factor(a), b = factor(b)), if (players > 100) 3 else 20, if (players > 100) 1 else 3)
}
