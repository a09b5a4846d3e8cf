# Intervals, tails and quantiles of R's stats package, and the exact rate interval of epitools.
suppressPackageStartupMessages({library(jsonlite); library(epitools)})
lim <- function(h) as.numeric(h$conf.int)

wilson <- data.frame(k = c(0, 1, 2, 6, 30, 81, 15, 0, 1, 10, 999999),
                     n = c(10, 10, 40, 40, 100, 263, 148, 20, 29, 10, 1000000),
                     level = c(rep(0.95, 9), 0.99, 0.998))
wilson[c("low", "high")] <- t(mapply(function(k, n, l)
  suppressWarnings(lim(prop.test(k, n, conf.level = l, correct = FALSE))), wilson$k, wilson$n, wilson$level))

clopper <- rbind(wilson[1:3], data.frame(k = c(1, 500000, 10), n = c(1e8, 1e6, 10), level = 0.95))
clopper[c("low", "high")] <- t(mapply(function(k, n, l) lim(binom.test(k, n, conf.level = l)),
                                      clopper$k, clopper$n, clopper$level))

difference <- data.frame(k1 = c(56, 9, 6, 5, 0, 10), n1 = c(70, 10, 7, 56, 10, 10),
                         k2 = c(48, 3, 2, 0, 0, 0), n2 = c(80, 10, 7, 29, 20, 20))
difference[c("low", "high")] <- t(mapply(function(k1, n1, k2, n2) {
  a <- suppressWarnings(lim(prop.test(k1, n1, correct = FALSE)))
  b <- suppressWarnings(lim(prop.test(k2, n2, correct = FALSE)))
  p <- k1 / n1; q <- k2 / n2
  c(p - q - sqrt((p - a[1])^2 + (b[2] - q)^2), p - q + sqrt((a[2] - p)^2 + (q - b[1])^2))
}, difference$k1, difference$n1, difference$k2, difference$n2))

rate <- data.frame(k = c(0, 1, 5, 12, 30, 100, 12345, 1e6), t = c(1, 1, 5, 8, 20, 2.5, 1e4, 1),
                   level = c(0.95, 0.99, 0.95, 0.95, 0.95, 0.998, 0.95, 0.95))
rate[c("low", "high")] <- t(mapply(function(k, t, l) lim(poisson.test(k, t, conf.level = l)), rate$k, rate$t, rate$level))
rate_epitools <- t(mapply(function(k, t, l) unlist(pois.exact(k, t, l)[c("lower", "upper")]),
                          rate$k[2:6], rate$t[2:6], rate$level[2:6]))

ratio <- data.frame(k1 = c(11, 0, 3, 40, 5000), t1 = c(800, 10, 7, 28010, 1e5),
                    k2 = c(6, 5, 1, 15, 4700), t2 = c(1011, 12, 9, 19017, 1.1e5))
ratio[c("low", "high")] <- t(mapply(function(a, s, b, t) lim(poisson.test(c(a, b), c(s, t))),
                                    ratio$k1, ratio$t1, ratio$k2, ratio$t2))

gam <- expand.grid(a = c(0.1, 0.5, 1, 3.7, 50, 1e4, 1e7), p = c(1e-12, 1e-4, 0.025, 0.5, 0.9), upper = c(FALSE, TRUE))
gam$x <- ifelse(gam$upper, qgamma(gam$p, gam$a, lower.tail = FALSE), qgamma(gam$p, gam$a))
gam <- gam[gam$x > 1e-290, ]
# The tail at a point away from the quantile, so that the two are checked apart.
gam$at <- gam$x * 1.01
gam$upper <- as.numeric(gam$upper)
gam$low <- pgamma(gam$at, gam$a); gam$high <- pgamma(gam$at, gam$a, lower.tail = FALSE)

bet <- expand.grid(a = c(0.3, 1, 4.5, 60, 1e5), b = c(0.5, 2, 33, 2e6), p = c(1e-8, 0.025, 0.5, 0.975))
bet$x <- qbeta(bet$p, bet$a, bet$b)
bet$at <- pmin(1, bet$x * 0.99)
bet$low <- pbeta(bet$at, bet$a, bet$b); bet$high <- pbeta(bet$at, bet$a, bet$b, lower.tail = FALSE)

probs <- c(0, 1e-9, 0.001, 0.025, 0.3, 0.5, 0.8, 0.975, 0.999, 1 - 1e-6)
pois <- expand.grid(p = probs, mean = c(0, 0.02, 1, 7.3, 250, 1e6))
pois$k <- qpois(pois$p, pois$mean); pois$cdf <- ppois(pois$k, pois$mean)
binom <- expand.grid(p = probs, n = c(1, 10, 333, 1e6), prob = c(0, 0.01, 0.5, 0.93, 1))
binom$k <- qbinom(binom$p, binom$n, binom$prob); binom$cdf <- pbinom(binom$k, binom$n, binom$prob)
nb <- expand.grid(p = probs, mean = c(0.02, 1.5, 40, 1e5), size = c(0.05, 1, 12.5, 1e4))
nb$k <- qnbinom(nb$p, mu = nb$mean, size = nb$size); nb$cdf <- pnbinom(nb$k, mu = nb$mean, size = nb$size)

values <- c(1.5, 2, 2, 3.25, 7, 11)
q7 <- data.frame(p = c(0, 0.1, 0.25, 1/3, 0.5, 0.9, 1))
q7$q <- as.numeric(quantile(values, q7$p, type = 7))

cat(toJSON(list(r = R.version.string, epitools = as.character(packageVersion("epitools")),
  wilson = wilson, clopper = clopper, difference = difference, rate = rate, rate_epitools = rate_epitools,
  ratio = ratio, gamma = gam, beta = bet, poisson = pois, binomial = binom, negbinomial = nb,
  values = values, quantile7 = q7), digits = NA, dataframe = "columns", na = "string"), "\n")
