# Beta-binomial by optim on the pregnant-rat litters that have been printed since
# Weil 1970 (16 litters with treatment; figures from memory), with closed forms of R.
suppressPackageStartupMessages(library(jsonlite))
n <- c(12,11,10,9,10,10,9,9,5,9,7,10,6,10,7,9)
x <- c(12,11,10,9,9,8,7,7,4,7,5,7,3,3,0,0)
nll <- function(p) {
  m <- plogis(p[1]); s <- exp(-p[2])
  -sum(lchoose(n, x) + lbeta(x + m * s, n - x + (1 - m) * s) - lbeta(m * s, (1 - m) * s))
}
fit <- nlm(nll, c(0, 0), gradtol = 1e-12, steptol = 1e-12, iterlim = 1000)
m <- plogis(fit$estimate[1]); d <- exp(fit$estimate[2])
half <- optimize(function(v) nll(c(0, v)), c(-6, 4), tol = 1e-12)
a <- m / d + x; b <- (1 - m) / d + n - x
cat(toJSON(list(version = R.version.string, n = n, x = x, mean = m, dispersion = d,
  fixedHalf = exp(half$minimum), shrunk = a / (a + b), low = qbeta(0.025, a, b), high = qbeta(0.975, a, b)),
  digits = NA, auto_unbox = TRUE))
