# Eight schools with the spread between schools integrated out, by R's adaptive quadrature.
setwd(dirname(sub("^--file=", "", grep("^--file=", commandArgs(FALSE), value = TRUE))))
source("../_lib/expect.R")
S <- "Rubin DB (1981) J Educ Stat 6:377-401; Gelman A, Carlin JB, Stern HS, Rubin DB (1995) Bayesian Data Analysis, section 5.5"
begin("hierarchical_means", "Normal means with a normal distribution of means, its spread integrated out", S, character(), "y = 28 8 -3 7 -1 1 18 12, standard errors 15 10 16 11 9 11 10 18")
y <- c(28, 8, -3, 7, -1, 1, 18, 12); v <- c(15, 10, 16, 11, 9, 11, 10, 18)^2
run <- function(name, prior) {
  dens <- function(tau) vapply(tau, function(t) { w <- 1 / (v + t^2); m <- sum(w * y) / sum(w)
    prior(t) * sqrt(1 / sum(w)) * prod(sqrt(w) * exp(-.5 * w * (y - m)^2)) }, 0)
  I <- function(f) { g <- function(t) dens(t) * vapply(t, f, 0); k <- c(0, 1, 3, 8, 20, 60, 200, 1000); sum(vapply(1:7, function(i) integrate(g, k[i], k[i + 1], rel.tol = 1e-11, abs.tol = 0, subdivisions = 2000L)$value, 0)) + integrate(g, 1000, Inf, rel.tol = 1e-6, abs.tol = 1e-30)$value }
  Z <- I(function(t) 1)
  mu <- function(t) { w <- 1 / (v + t^2); sum(w * y) / sum(w) }; vmu <- function(t) 1 / sum(1 / (v + t^2))
  th <- function(i, t) { b <- v[i] / (v[i] + t^2); c(b * mu(t) + (1 - b) * y[i], sqrt((1 - b) * v[i] + b^2 * vmu(t))) }
  mean_i <- vapply(1:8, function(i) I(function(t) th(i, t)[1]) / Z, 0)
  sd_i <- vapply(1:8, function(i) sqrt(I(function(t) { a <- th(i, t); a[2]^2 + (a[1] - mean_i[i])^2 }) / Z), 0)
  below <- function(i, x) I(function(t) { a <- th(i, t); pnorm((x - a[1]) / a[2]) }) / Z
  q <- function(i, p) uniroot(function(x) below(i, x) - p, c(-60, 90), tol = 1e-9)$root
  cl <- "integrate() over tau, own formulas"
  comp(paste0(name, "_mean"), mean_i, cl, rver(), rel = 1e-5); comp(paste0(name, "_sd"), sd_i, cl, rver(), rel = 1e-5)
  comp(paste0(name, "_lo90"), vapply(1:8, q, 0, p = .05), cl, rver(), rel = 1e-4, abs = 1e-4); comp(paste0(name, "_hi90"), vapply(1:8, q, 0, p = .95), cl, rver(), rel = 1e-4)
  comp(paste0(name, "_below_0"), vapply(1:8, below, 0, x = 0), cl, rver(), rel = 1e-5)
  comp(paste0(name, "_tau_mean"), I(function(t) t) / Z, cl, rver(), rel = if (name == "flat") 1e-2 else 1e-5)
}
run("half_normal_10", function(t) exp(-.5 * (t / 10)^2))
run("flat", function(t) 1)
finish()
