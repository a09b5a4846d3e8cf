# Funnel limits from R's own quantile functions, interpolated as in Spiegelhalter
# 2005 (Stat Med 24:1185), and overdispersion of winsorised z with metafor's
# DerSimonian-Laird as the outside check of the additive variance.
suppressPackageStartupMessages({library(jsonlite); library(metafor)})
interp <- function(p, q, cdf) { r <- q(p); r - (cdf(r) - p) / (cdf(r) - cdf(r - 1)) }
levels <- c(0.95, 0.998)
share <- expand.grid(n = c(5, 10, 20, 40, 80, 1000, 250000), target = c(0.02, 0.3, 0.9), level = levels)
share[c("low", "high", "lowExact", "highExact")] <- t(mapply(function(n, p, l) {
  q <- function(u) qbinom(u, n, p); cdf <- function(k) pbinom(k, n, p)
  c(interp((1 - l) / 2, q, cdf), interp((1 + l) / 2, q, cdf), q((1 - l) / 2), q((1 + l) / 2)) / n
}, share$n, share$target, share$level))
ratio <- expand.grid(e = c(0.3, 2, 8, 35.5, 1000, 123456.7), target = c(0.7, 1, 1.9), level = levels)
ratio[c("low", "high", "lowExact", "highExact")] <- t(mapply(function(e, m, l) {
  q <- function(u) qpois(u, m * e); cdf <- function(k) ppois(k, m * e)
  c(interp((1 - l) / 2, q, cdf), interp((1 + l) / 2, q, cdf), q((1 - l) / 2), q((1 + l) / 2)) / e
}, ratio$e, ratio$target, ratio$level))

# Invented units: 14 shares whose spread is wider than chance.
x <- c(3, 9, 4, 22, 12, 7, 30, 18, 2, 15, 41, 6, 11, 19)
n <- c(20, 31, 44, 60, 35, 52, 70, 41, 25, 66, 90, 38, 47, 55)
p <- sum(x) / sum(n); v <- p * (1 - p) / n; z <- (x / n - p) / sqrt(v)
w <- function(z, share) { q <- quantile(z, c(share, 1 - share), type = 7, names = FALSE); pmin(pmax(z, q[1]), q[2]) }
zw <- w(z, 0.1)
phi <- mean(zw^2)
# metafor sees the winsorised values, put back on the scale of the shares.
pulled <- rma(yi = p + zw * sqrt(v), vi = v, method = "DL")
q0 <- rma(yi = x / n, vi = v, method = "DL")
tau2 <- max(0, (length(x) * phi - (length(x) - 1)) / (sum(1 / v) - sum(1 / v^2) / sum(1 / v)))
c10 <- qnorm(0.9)
consistency <- integrate(function(t) pmin(t, c10)^2 * dnorm(t), 0, Inf, rel.tol = 1e-13)$value * 2
cat(toJSON(list(r = R.version.string, metafor = as.character(packageVersion("metafor")), share = share, ratio = ratio,
  x = x, n = n, z = z, phi = phi, phiRescaled = phi / consistency, tau2Winsorised = tau2,
  tau2 = q0$tau2, q = q0$QE, qWinsorised = pulled$QE, consistency = consistency),
  digits = NA, auto_unbox = TRUE, dataframe = "columns"), "\n")
