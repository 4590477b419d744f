# Repeated pairs of two watches, invented times: the variance of a single difference by a mixed model (balanced), and the
# formulas of Zou GY (2013) Stat Methods Med Res 22:630-642, doi:10.1177/0962280211402548, written out (unbalanced).
# R 4.2.2, lme4 1.1-31. Prints the numbers that agreement_test.cpp holds.
suppressMessages(library(lme4))
f <- function(...) cat(sprintf("%.15g", c(...)), "\n")
a <- c(4.05,4.11,4.02,3.88,3.95,3.90,4.30,4.22,4.35,4.01,4.08,3.99,3.70,3.82,3.77)
b <- c(4.01,4.02,4.00,3.90,3.88,3.86,4.09,4.08,4.14,3.95,4.06,3.98,3.75,3.88,3.86)
d <- a - b; s <- rep(1:5, each = 3)
v <- as.data.frame(VarCorr(m <- lmer(d ~ 1 + (1 | s))))$vcov
f(fixef(m), sqrt(sum(v)))
k <- c(1,1,1,2,3,3,3,3,4,4,5,5,5,5,5); g <- split(d, k); n <- lengths(g)
sw <- sum(sapply(g, function(x) sum((x - mean(x))^2))) / (sum(n) - 5); mh <- 1 / mean(1 / n)
mi <- sapply(g, mean); sb <- var(mi); w <- 1 - 1 / mh; tot <- sb + w * sw
l <- tot - sqrt((sb * (1 - 4 / qchisq(.975, 4)))^2 + (w * sw * (1 - 10 / qchisq(.975, 10)))^2)
u <- tot + sqrt((sb * (4 / qchisq(.025, 4) - 1))^2 + (w * sw * (10 / qchisq(.025, 10) - 1))^2)
z <- qnorm(.975); h <- qt(.975, 4) * sqrt(sb / 5); lim <- mean(mi) + z * sqrt(tot)
f(mean(mi), sqrt(tot), lim, lim - sqrt(h^2 + z^2 * (sqrt(tot) - sqrt(l))^2), lim + sqrt(h^2 + z^2 * (sqrt(u) - sqrt(tot))^2))
