# Monitoring: chart limits by plain vector formulas, run lengths by spc, surveillance and
# exact sums, runs rules by counting compositions.
suppressPackageStartupMessages({library(jsonlite); library(spc); library(surveillance)})
# Invented counts: 24 periods with sizes that differ and a jump at the end.
x <- c(14, 22, 9, 31, 18, 12, 25, 16, 20, 33, 8, 19, 27, 15, 11, 24, 17, 29, 13, 21, 38, 35, 44, 40)
n <- c(90, 110, 75, 130, 100, 80, 120, 95, 105, 140, 60, 98, 118, 88, 82, 115, 92, 125, 85, 108, 112, 99, 121, 103)
chart <- function(base, u, top) {
  c0 <- sum(x[1:base]) / sum(n[1:base])
  s <- sqrt((if (u) c0 else c0 * (1 - c0)) / n)
  z <- (x / n - c0) / s
  sz <- mean(abs(diff(z[1:base]))) / 1.1283791670955126
  list(center = c0, z = z, sigmaZ = sz, low = pmax(0, c0 - 3 * s), high = pmin(top, c0 + 3 * s),
       lowLaney = pmax(0, c0 - 3 * s * sz), highLaney = pmin(top, c0 + 3 * s * sz),
       ewma = as.numeric(Reduce(function(e, v) 0.2 * v + 0.8 * e, x / n, c0, accumulate = TRUE)[-1]),
       # every weight spelled out, not the recursion
       ewmaSE = sapply(seq_along(x), function(i) sqrt(sum((0.2 * 0.8^(i - (1:i)))^2 * s[1:i]^2))))
}
charts <- list(u = chart(24, TRUE, Inf), u16 = chart(16, TRUE, Inf), p = chart(24, FALSE, 1))

# Poisson CUSUM on X - k with k = km/m and alarm above hm/m (spc, exact Markov chain);
# on the score scale: expected count k log 2, ratio 2, limit (hm+1)/m log 2.
pois <- data.frame(km = c(3, 3, 7, 1, 13), hm = c(8, 17, 35, 4, 39), m = c(1, 2, 4, 1, 4), truth = c(1, 1, 1, 1, 2))
pois$arl <- mapply(function(km, hm, m, f) pois.cusum.arl(f * km / m * log(2), km, hm, m), pois$km, pois$hm, pois$m, pois$truth)

# surveillance's chain for sums of X - k with alarm at h or above: Poisson counts, and single
# yes/no outcomes, whose score is log(2) (X - k) where odds doubled are sought and the risk
# is 2^k - 1.
other <- data.frame(poisson = c(1, 1, 1, 0, 0, 0, 0), h = c(10, 4, 6, 2, 4, 3, 3), k = c(3, 1, 2, 0.2, 0.2, 0.4, 0.1), level = c(2.4, 0.6, 2.5, 0, 0, 0, 0), truth = c(0, 0, 0, 1, 2, 1, 1))
other$arl <- mapply(function(poisson, h, k, level, truth) {
  if (poisson == 1) return(arlCusum(h = h, k = k, theta = level, distr = "poisson")$ARL)
  r <- 2^k - 1
  arlCusum(h = h, k = k, theta = truth * r / (1 - r + truth * r), distr = "binomial")$ARL
}, other$poisson, other$h, other$k, other$level, other$truth)

# Attendances seen within four hours, and all, in English emergency departments in 20 weeks
# (Mohammed, Panesar, Laney & Wilson 2013, BMJ Qual Saf 22:362): a chart with Laney's
# correction beside the chart of individual values, 2.66 mean moving ranges from the mean.
seen <- c(266501, 264225, 276532, 281461, 269071, 261215, 270409, 279778, 270483, 270320, 267923, 271478, 255353, 256820, 261835, 259144, 255910, 260863, 264465, 260989)
came <- c(280443, 276823, 291681, 296155, 282343, 275888, 283867, 295251, 284468, 282529, 279618, 283932, 266629, 268091, 276803, 271578, 266005, 273520, 278574, 273772)
share <- seen / came; middle <- sum(seen) / sum(came); se <- sqrt(middle * (1 - middle) / came)
sigma <- mean(abs(diff((share - middle) / se))) / 1.128
weeks <- list(seen = seen, came = came, center = middle, sigma = sigma, low = middle - 3 * sigma * se, high = middle + 3 * sigma * se,
  outside = sum(abs(share - middle) > 3 * se), individual = mean(share) + c(-2.66, 2.66) * mean(abs(diff(share))))

# Bernoulli CUSUM with scores +(k-1) and -1 in units of log(2)/k: risk (2^(1/k)-1), limit H units.
lattice <- expand.grid(k = c(3, 5, 12), H = c(12, 24, 40), truth = c(1, 2))
lattice$arl <- mapply(function(k, H, f) {
  r <- 2^(1 / k) - 1; p <- f * r / (1 - r + f * r)
  Q <- matrix(0, H, H)
  for (i in 0:(H - 1)) {
    d <- max(0, i - 1); Q[i + 1, d + 1] <- Q[i + 1, d + 1] + 1 - p
    if (i + k - 1 < H) Q[i + 1, i + k] <- Q[i + 1, i + k] + p
  }
  solve(diag(H) - Q, rep(1, H))[1]
}, lattice$k, lattice$H, lattice$truth)

# Off the lattice, exactly: between two visits to 0 a sum is known by its events i and
# non-events j since, which only grow; the run length is the mean length of such a
# cycle over the chance that it ends in a signal. Cycles beyond 150 events are left out.
exactLength <- function(risk, h, truth) {
  p <- truth * risk / (1 - risk + truth * risk); down <- log(1 + risk); up <- log(2) - down
  if (up >= h) return(1 / p)
  visits <- 1; signal <- 0; now <- p   # now[j + 1]: chance to be seen with i events and j non-events
  for (i in 1:150) {
    last <- ceiling(i * up / down) - 1 # the j that still leave the sum above 0
    arrive <- c(now, numeric(last + 1))[1:(last + 1)]
    over <- i * up - (0:last) * down >= h
    signal <- signal + sum(arrive[over])
    arrive[over] <- 0
    v <- as.numeric(stats::filter(arrive, 1 - p, method = "recursive")) # wait through non-events
    visits <- visits + sum(v); now <- v * p
  }
  visits / signal
}
free <- expand.grid(risk = c(0.02, 0.05, 0.1, 0.3), h = c(0.9, 2.1, 3.3, 4.6), truth = c(1, 2))
free$arl <- mapply(exactLength, free$risk, free$h, free$truth)

ewma <- expand.grid(weight = c(0.05, 0.1, 0.2, 0.5, 1), width = c(2, 2.86, 3), shift = c(0, 0.5, 2))
ewma$arl <- mapply(function(l, c, mu) xewma.arl(l, c, mu, sided = "two", limits = "fix", r = 60), ewma$weight, ewma$width, ewma$shift)
crit <- data.frame(weight = c(0.1, 0.2, 0.25), L = c(500, 370, 500))
crit$width <- mapply(function(l, L) xewma.crit(l, L, sided = "two", r = 60), crit$weight, crit$L)

parts <- function(n, r, L) { j <- 0:r; j <- j[n - j * L >= r]; sum((-1)^j * choose(r, j) * choose(n - j * L - 1, r - 1)) }
rules <- data.frame(n = c(2:40, 50))
rules$longest <- round(log2(rules$n)) + 3
rules$needed <- qbinom(0.05, rules$n - 1, 0.5)
quiet <- function(n, L, C) sum(sapply((C + 1):n, function(r) parts(n, r, L))) * 2 / 2^n
rules$falseSignal <- 1 - mapply(quiet, rules$n, rules$longest, rules$needed)
rules$falseSignalAtLongest <- 1 - mapply(quiet, rules$n, rules$longest - 1, rules$needed)

cat(toJSON(list(r = R.version.string, spc = as.character(packageVersion("spc")),
  surveillance = as.character(packageVersion("surveillance")), other = other, weeks = weeks, x = x, n = n, charts = charts, poisson = pois,
  lattice = lattice, free = free, ewma = ewma, crit = crit, rules = rules),
  digits = NA, auto_unbox = TRUE, dataframe = "columns"), "\n")
