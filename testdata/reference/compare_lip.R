# Lip cancer in 56 districts of Scotland, 1975-1980 (Clayton & Kaldor 1987). The
# counts are also in epiR as epi.SClip and are compared with it here; the expected
# counts, to one decimal as published, are from memory.
suppressPackageStartupMessages({library(jsonlite); library(MASS); library(epiR); library(metafor)})
o <- c(9,39,11,9,15,8,26,7,6,20,13,5,3,8,17,9,2,7,9,7,16,31,11,7,19,15,7,10,16,11,5,3,7,8,11,9,11,8,6,4,10,8,2,6,19,3,2,3,28,6,1,1,1,1,0,0)
e <- c(1.4,8.7,3.0,2.5,4.3,2.4,8.1,2.3,2.0,6.6,4.4,1.8,1.1,3.3,7.8,4.6,1.1,4.2,5.5,4.4,10.5,22.7,8.8,5.6,15.5,12.5,6.0,9.0,14.4,10.2,4.8,2.9,7.0,8.5,12.3,10.1,12.7,9.4,7.2,5.3,18.8,15.8,4.3,14.6,50.7,8.2,5.6,9.3,88.7,19.6,3.4,3.6,5.7,7.0,4.2,1.8)
data(epi.SClip)
stopifnot(identical(sort(as.integer(o)), sort(as.integer(epi.SClip$cases))))

fit <- glm.nb(o ~ 1 + offset(log(e)), control = glm.control(epsilon = 1e-14, maxit = 200))
m <- exp(unname(coef(fit))); d <- 1 / fit$theta
nll <- function(p) -sum(dnbinom(o, size = exp(-p[2]), mu = exp(p[1]) * e, log = TRUE))
opt <- optim(c(0, 0), nll, method = "BFGS", control = list(reltol = 1e-15))
fixed <- optimize(function(x) nll(c(0, x)), c(-8, 4), tol = 1e-12)
prof <- function(x) optimize(function(b) nll(c(b, x)), c(-3, 3), tol = 1e-12)$objective
best <- nll(c(log(m), log(d)))
drop <- function(x) 2 * (prof(x) - best) - qchisq(0.95, 1)
lim <- exp(c(uniroot(drop, c(log(d) - 3, log(d)), tol = 1e-12)$root, uniroot(drop, c(log(d), log(d) + 3), tol = 1e-12)$root))
shape <- 1 / d + o; rate <- 1 / (d * m) + e
dispersed <- optim(c(0, 0), function(p) { # counts divided by 1.7: the density's continuation
  s <- exp(-p[2]); mu <- exp(p[1]) * e / 1.7; x <- o / 1.7
  -sum(lgamma(x + s) - lgamma(s) + x * log(mu / (mu + s)) + s * log(s / (mu + s)))
}, method = "BFGS", control = list(reltol = 1e-15))

pooled <- sum(o) / sum(e)
z <- (o / e - pooled) * sqrt(e / pooled)
q <- quantile(z, c(0.1, 0.9), type = 7, names = FALSE)
zw <- pmin(pmax(z, q[1]), q[2])
dl <- rma(yi = o / e, vi = pooled / e, method = "DL")
pt <- t(sapply(seq_along(o), function(i) poisson.test(o[i], e[i])$conf.int))
cat(toJSON(list(
  version = R.version.string, MASS = as.character(packageVersion("MASS")),
  epiR = as.character(packageVersion("epiR")), metafor = as.character(packageVersion("metafor")),
  o = o, e = e, mean = m, dispersion = d, optim = exp(opt$par), fixedDispersion = exp(fixed$minimum),
  dispersionLow = lim[1], dispersionHigh = lim[2], dispersedFit = exp(dispersed$par),
  shrunk = shape / rate, low = qgamma(0.025, shape, rate), high = qgamma(0.975, shape, rate),
  ratioLow = pt[, 1], ratioHigh = pt[, 2],
  phi = mean(z^2), phiWinsorised = mean(zw^2), tau2 = dl$tau2), digits = NA, auto_unbox = TRUE))
