# Adjusted P values, and E-values by a root search on the bounding factor itself.
library(jsonlite)
p <- list(c(.01, .02, .03, .04, .05), c(.9, 1e-12, .04, .04, 0, 1, .3), .2, c(.5, .5, .5), c(.0001, .0004, .0019, .0095, .0201, .0278, .0298, .0344, .0459, .3240, .4262, .5719, .6528, .7590, 1))
# Strength e of both links at which the largest possible bias e^2/(2e-1) equals the ratio.
strength <- function(rr) { rr <- max(rr, 1 / rr); if (rr == 1) 1 else uniroot(function(e) e^2 / (2 * e - 1) - rr, c(1, 3 * rr), tol = 1e-14)$root }
hazard <- function(h) (1 - .5^sqrt(h)) / (1 - .5^sqrt(1 / h))
ratios <- c(.01, .5, .8, .999, 1.001, 1.5, 3.9, 20)
cat(toJSON(list(r = R.version.string, p = p, bh = lapply(p, p.adjust, "BH"), holm = lapply(p, p.adjust, "holm"), ratios = ratios,
  ratio = sapply(ratios, strength), hazard = sapply(hazard(ratios), strength), odds = sapply(sqrt(ratios), strength),
  mean_difference = sapply(exp(.91 * c(-1, -.2, .5)), strength)), digits = NA), "\n")
