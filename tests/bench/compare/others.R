# What R does for the same tasks: TASK MEDIAN_S LOW_S HIGH_S ANSWER..., as ours.cpp prints.
suppressMessages(library(boot))
log <- commandArgs(TRUE)[1]
report <- function(task, repeats, turns, work) {
  answer <- work()
  s <- sort(replicate(repeats, unname(system.time(for (i in seq_len(turns)) work())["elapsed"]) / turns))
  cat(task, format(c(quantile(s, c(.5, .25, .75), type = 1), answer), digits = 7, trim = TRUE), "\n")
}
d <- seq(10, 100, 10); t <- c(1.88, 2.88, 3.78, 4.64, 5.47, 6.29, 7.10, 7.92, 8.74, 9.58)
# Lambert's W on the principal branch, Newton's method on u - 1 + exp(-u) = a; vectorised.
u_of <- function(a) { u <- ifelse(a < 1, sqrt(2 * a) + a / 3, a + 1); for (i in 1:4) u <- u - (u - 1 + exp(-u) - a) / (1 - exp(-u)); u }
report("sprint_fit", 11, 20, function() {
  m <- nls(t ~ t0 + tau * u_of(d / (V * tau)), start = list(V = 10, tau = 1, t0 = .2)); unname(coef(m)[c("V", "tau", "t0")])
})
M <- matrix(c(9, 2, 5, 8, 6, 1, 3, 2, 8, 4, 6, 8, 7, 1, 2, 6, 10, 5, 6, 9, 6, 2, 4, 7), 6, byrow = TRUE)
report("icc", 11, 20, function() {
  n <- nrow(M); k <- ncol(M)
  a <- anova(lm(y ~ target + judge, data.frame(y = c(M), target = gl(n, 1, n * k), judge = gl(k, n))))[["Mean Sq"]]
  b <- a[1]; j <- a[2]; e <- a[3]; w <- ((k - 1) * j + (n - 1) * (k - 1) * e) / (n * (k - 1))
  i21 <- (b - e) / (b + (k - 1) * e + k * (j - e) / n)
  A <- k * i21 / (n * (1 - i21)); B <- 1 + k * i21 * (n - 1) / (n * (1 - i21))
  v <- (A * j + B * e)^2 / ((A * j)^2 / (k - 1) + (B * e)^2 / ((n - 1) * (k - 1)))
  fl <- qf(.975, n - 1, v); fu <- qf(.975, v, n - 1)
  c((b - w) / (b + (k - 1) * w), i21, (b - e) / (b + (k - 1) * e),
    n * (b - fl * e) / (fl * (k * j + (k * n - k - n) * e) + n * b), n * (fu * b - e) / (k * j + (k * n - k - n) * e + n * fu * b))
})
x <- cbind(c(576, 635, 558, 578, 666, 580, 555, 661, 651, 605, 653, 575, 545, 572, 594),
           c(3.39, 3.30, 2.81, 3.03, 3.44, 3.07, 3.00, 3.43, 3.36, 3.13, 3.12, 2.74, 2.76, 2.88, 2.96))
report("bootstrap", 5, 1, function() {
  set.seed(1); b <- boot(x, function(x, i) cor(x[i, 1], x[i, 2]), 9999); c(b$t0, boot.ci(b, type = "bca")$bca[4:5])
})
if (!is.na(log)) report("read", 3, 1, function() {
  r <- read.csv(log, comment.char = "#"); c(nrow(r), sum(r$first, r$second, r$third, r$home, na.rm = TRUE))
})
