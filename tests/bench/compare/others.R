# What R does for the same tasks: TASK MEDIAN_S LOW_S HIGH_S ANSWER..., as ours.cpp prints.
log <- commandArgs(TRUE)[1]
report <- function(task, repeats, turns, work) {
  answer <- work()
  s <- sort(replicate(repeats, unname(system.time(for (i in seq_len(turns)) work())["elapsed"]) / turns))
  cat(task, format(c(quantile(s, c(.5, .25, .75), type = 1), answer), digits = 7, trim = TRUE), "\n")
}
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
if (!is.na(log)) report("read", 3, 1, function() {
  r <- read.csv(log, comment.char = "#"); c(nrow(r), sum(r$first, r$second, r$third, r$home, na.rm = TRUE))
})
