# Sample sizes. Two proportions: stats::power.prop.test (to its root search's tolerance).
# The rest is the formulas written out, and for two rates a root search on the power.
library(jsonlite)
grid <- expand.grid(p1 = c(.05, .1, .3, 0), p2 = c(.1, .2, .9), power = c(.8, .9), alpha = c(.05, .01))
grid <- grid[grid$p1 != grid$p2, ]
grid$n <- mapply(function(a, b, w, s) power.prop.test(p1 = a, p2 = b, power = w, sig.level = s, tol = 1e-13)$n, grid$p1, grid$p2, grid$power, grid$alpha)
detect <- expand.grid(p1 = c(.05, .3), n = c(50, 400))
detect$p2 <- mapply(function(a, n) power.prop.test(n = n, p1 = a, power = .8, tol = 1e-13)$p2, detect$p1, detect$n)
# Power of the two-sided normal test, the far side left out as usual.
rate_n <- function(m1, m2, k, r, w) uniroot(function(n) pnorm(abs(m1 - m2) / sqrt(k * (m1 / n + m2 / (r * n))) - qnorm(.975)) - w, c(1e-3, 1e7), tol = 1e-10)$root
rates <- expand.grid(first = c(2, .5), second = c(3, .8), dispersion = c(1, 1.5), allocation = c(1, 2))
rates$n <- mapply(function(a, b, k, r) rate_n(a, b, k, r, .8), rates$first, rates$second, rates$dispersion, rates$allocation)
hazards <- expand.grid(ratio = c(.5, 1.5, 2), risk = c(.03, .4), allocation = c(1, 3))
hazards$events <- with(hazards, (qnorm(.975) + qnorm(.8))^2 / (allocation / (1 + allocation)^2 * log(ratio)^2))
hazards$n <- with(hazards, events / (risk + allocation * (1 - (1 - risk)^ratio)))
cat(toJSON(list(r = R.version.string, proportions = grid, detect = detect, rates = rates, hazards = hazards), dataframe = "columns", digits = NA), "\n")
