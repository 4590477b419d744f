# Ex-Gaussian: density by numerical convolution, and maximum likelihood by a general optimiser.
setwd(dirname(sub("^--file=", "", grep("^--file=", commandArgs(FALSE), value = TRUE))))
source("../_lib/expect.R")
set.seed(20260418)
x <- round(.18 + .03 * rnorm(120) + rexp(120, 1 / .08), 3)
wr(data.frame(reaction_s = x), "data.csv", c("Invented reaction times (s), 120 draws of an ex-Gaussian with mu 0.18, sigma 0.03, tau 0.08, rounded to 0.001", "Licence: invented for this test, no real persons (CC0)"))
begin("ex_gaussian", "Ex-Gaussian density and maximum likelihood", "Luce RD (1986) Response Times. Oxford University Press", "data.csv",
  c("data.csv is invented.", "Density by numerical integration of normal x exponential; fit by optim(BFGS) after Nelder-Mead on the closed-form density."))
conv <- function(x, m, s, t) integrate(function(u) dexp(u, 1 / t) * dnorm(x - u, m, s), 0, Inf, rel.tol = 1e-12, subdivisions = 2000L)$value
comp("density_by_convolution_mu0.2_sigma0.05_tau0.1_at_0.1_0.2_0.3_0.6", sapply(c(.1, .2, .3, .6), conv, .2, .05, .1), "integrate(dexp*dnorm)", rel = 1e-9)
comp("cdf_by_integration_same_at_0.1_0.2_0.3_0.6", sapply(c(.1, .2, .3, .6), function(q) integrate(function(u) dexp(u, 10) * pnorm(q - u, .2, .05), 0, Inf, rel.tol = 1e-12, subdivisions = 2000L)$value), "integrate(dexp*pnorm)", rel = 1e-8)
ld <- function(x, m, s, t) -log(t) + s^2 / (2 * t^2) - (x - m) / t + pnorm((x - m) / s - s / t, log.p = TRUE)
f <- function(p) -sum(ld(x, p[1], exp(p[2]), exp(p[3])))
o <- optim(c(.15, log(.04), log(.07)), f, control = list(reltol = 1e-15, maxit = 5000)); for (i in 1:5) o <- optim(o$par, f, method = "BFGS", control = list(reltol = 1e-16, maxit = 1000, parscale = c(.01, .1, .1)))
h <- optimHess(o$par, f, control = list(ndeps = c(1e-5, 1e-4, 1e-4))); v <- sqrt(diag(solve(h)))
comp("mu_sigma_tau", c(o$par[1], exp(o$par[2:3])), "optim: Nelder-Mead, then BFGS", rel = 1e-5)
comp("se_mu_sigma_tau", c(v[1], exp(o$par[2:3]) * v[2:3]), "optimHess, delta method", rel = 1e-3)
comp("log_likelihood", -o$value, "sum of log densities", rel = 1e-10)
finish()
