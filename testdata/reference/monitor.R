# Run lengths from spc and from exact systems, chart figures by plain R.
suppressPackageStartupMessages({library(jsonlite); library(spc)})

# Poisson CUSUM on X - k with k = km/m; spc alarms beyond hm/m, that is from the next
# value of the lattice, (hm+1)/m, on, which is the limit given here. The rate ratio whose score is
# log(R) (X - k) at expected count 1.
ratio <- function(k) uniroot(function(r) (r - 1) / log(r) - k, c(1.001, 50), tol = 1e-14)$root
pois <- lapply(list(c(3, 2, 7), c(3, 2, 9), c(5, 4, 15)), function(v) {
  r <- ratio(v[1] / v[2])
  list(ratio = r, limit = (v[3] + 1) / v[2] * log(r),
       inControl = unname(pois.cusum.arl(1, v[1], v[3], v[2])),
       out = unname(pois.cusum.arl(r, v[1], v[3], v[2])))
})

# Bernoulli CUSUM at a risk where 1 + p = 2^(1/(q+1)): the scores for odds ratio 2 are
# then q and -1 units of log(2)/(q+1), and the run length has an exact finite system.
bern <- lapply(list(c(9, 20), c(4, 16), c(19, 50)), function(v) {
  q <- v[1]; h <- v[2]; p0 <- 2^(1 / (q + 1)) - 1; p1 <- 2 * p0 / (1 + p0); unit <- log(2) / (q + 1)
  arl <- function(p) {
    a <- diag(h)
    for (s in 0:(h - 1)) {
      down <- max(0, s - 1); a[s + 1, down + 1] <- a[s + 1, down + 1] - (1 - p)
      if (s + q < h) a[s + 1, s + q + 1] <- a[s + 1, s + q + 1] - p
    }
    solve(a, rep(1, h))[1]
  }
  list(risk = p0, limit = h * unit, event = q * unit, none = -unit, inControl = arl(p0), out = arl(p1))
})

ewma <- lapply(list(c(0.1, 2.7, 0), c(0.2, 2.9, 0), c(0.2, 2.9, 1)), function(v)
  list(weight = v[1], width = v[2], shift = v[3], arl = unname(xewma.arl(v[1], v[2], v[3], sided = "two", limits = "vacl"))))

events <- 30 + c(12, 9, 15, 7, 22, 11, 8, 14, 30, 10, 9, 13, 16, 5, 12)
size <- c(100, 90, 120, 80, 110, 95, 85, 130, 125, 100, 105, 98, 112, 76, 100)
chart <- function(v) { # v: variance of a value of size 1
  c <- sum(events) / sum(size); z <- (events / size - c) / sqrt(v(c) / size)
  s <- mean(abs(diff(z))) / (2 / sqrt(pi))
  list(centre = c, sigma = s, low = pmax(0, c - 3 * s * sqrt(v(c) / size)), high = c + 3 * s * sqrt(v(c) / size))
}
n <- 10:60
cat(toJSON(list(version = R.version.string, spc = as.character(packageVersion("spc")),
  pois = pois, bern = bern, ewma = ewma,
  events = events, size = size, u = chart(function(c) c), p = chart(function(c) c * (1 - c)),
  n = n, maxRun = round(log2(n) + 3), minCrossings = qbinom(0.05, n - 1, 0.5)), digits = NA, auto_unbox = TRUE))
