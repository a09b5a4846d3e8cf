# Second runs, in R, of examples that books and papers print: what the tests hold against
# the printed digits is held here to many more. The data are written out, from memory
# where no package has them; that the printed results come out says that they are right.
suppressPackageStartupMessages({library(jsonlite); library(survival); library(KMsurv); library(spc)})
tight <- glm.control(1e-14, 200)
coxtight <- coxph.control(eps = 1e-13, toler.chol = 1e-14, iter.max = 60)
# Remission weeks of Freireich 1963 with log white cells, 6-MP first.
r <- data.frame(
  time = c(35, 34, 32, 32, 25, 23, 22, 20, 19, 17, 16, 13, 11, 10, 10, 9, 7, 6, 6, 6, 6, 23, 22, 17, 15, 12, 12, 11, 11, 8, 8, 8, 8, 5, 5, 4, 4, 3, 2, 2, 1, 1),
  event = c(0, 0, 0, 0, 0, 1, 1, 0, 0, 0, 1, 1, 0, 0, 1, 0, 1, 0, 1, 1, 1, rep(1, 21)),
  cells = c(1.45, 1.47, 2.20, 2.53, 1.78, 2.57, 2.32, 2.01, 2.05, 2.16, 3.60, 2.88, 2.60, 2.70, 2.96, 2.80, 4.43, 3.20, 2.31, 4.06, 3.28,
    1.97, 2.73, 2.95, 2.30, 1.50, 3.06, 3.49, 2.12, 3.52, 3.05, 2.32, 3.26, 3.49, 3.97, 4.36, 2.42, 4.01, 4.91, 4.48, 2.80, 5.00),
  placebo = rep(0:1, each = 21))
fit <- function(formula, ties) { f <- coxph(formula, r, ties = ties, control = coxtight); list(coef = I(unname(coef(f))), se = I(unname(sqrt(diag(vcov(f))))), loglik = f$loglik) }
mp <- survfit(Surv(time, event) ~ 1, r[r$placebo == 0, ], ctype = 1)
rank <- survdiff(Surv(time, event) ~ placebo, r)
within <- survdiff(Surv(time, event) ~ placebo + strata(cut(cells, c(0, 2.3, 3, 9))), r)
# Trend of larynx cancer over four stages.
data(larynx)
stage <- survdiff(Surv(time, delta) ~ stage, larynx)
z <- sum((1:4) * (stage$obs - stage$exp))
# Recurrences of bladder tumours, Andersen & Gill's form.
b <- bladder2
andersen <- coxph(Surv(start, stop, event) ~ rx + size + number, b, cluster = id, control = coxtight)
# Coronary deaths of British doctors by age and smoking.
d <- data.frame(age = rep(1:5, 2), smoker = rep(1:0, each = 5), deaths = c(32, 104, 206, 186, 102, 2, 12, 28, 28, 31),
  years = c(52407, 43248, 28612, 12663, 5317, 18790, 10673, 5710, 2585, 1462))
doctors <- glm(deaths ~ smoker + factor(age) + offset(log(years)), poisson, d, control = tight)
# O-rings of 23 flights by temperature.
o <- data.frame(x = c(66, 70, 69, 68, 67, 72, 73, 70, 57, 63, 70, 78, 67, 53, 67, 75, 70, 81, 76, 79, 75, 76, 58),
  y = c(0, 1, 0, 0, 0, 0, 0, 0, 1, 1, 1, 0, 0, 1, 0, 0, 0, 0, 0, 0, 1, 0, 1))
rings <- glm(y ~ x, binomial, o, control = tight)
# Boys among the first 12 children of 6115 families in Saxony, by their number.
boys <- c(3, 24, 104, 286, 670, 1033, 1343, 1112, 829, 478, 181, 45, 7)
likelihood <- function(v) sum(boys * (lchoose(12, 0:12) + lbeta(0:12 + v[1], 12 - 0:12 + v[2]) - lbeta(v[1], v[2])))
slopes <- function(v) c(sum(boys * (digamma(0:12 + v[1]) - digamma(12 + sum(v)) - digamma(v[1]) + digamma(sum(v)))),
  sum(boys * (digamma(12 - 0:12 + v[2]) - digamma(12 + sum(v)) - digamma(v[2]) + digamma(sum(v)))))
saxony <- c(34, 31)
for (i in 1:60) { # Newton with differences of the exact slopes
  h <- sapply(1:2, function(j) { e <- c(0, 0); e[j] <- 1e-4; (slopes(saxony + e) - slopes(saxony - e)) / 2e-4 })
  saxony <- saxony - solve(h, slopes(saxony))
}
# Normal CUSUM with reference value 1/2, one-sided.
normal <- sapply(c(4, 5), function(h) sapply(c(0, 0.5, 1), function(m) xcusum.arl(0.5, h, m, r = 60)))
# CUSUM of counts whose variance is phi times the mean: the chain on the lattice of counts.
scattered <- function(mean, phi, k, h, ratio) {
  p <- function(x) dnbinom(x, size = mean / (phi - 1), mu = mean)
  at <- 0:(h - 1)
  m <- outer(at, at, function(i, j) ifelse(j == 0, sapply(i, function(a) sum(p(0:max(0, k - a)))) * (k >= i), ifelse(j - i + k >= 0, p(pmax(0, j - i + k)), 0)))
  solve(diag(h) - m, rep(1, h))[1]
}
chain <- expand.grid(mean = c(1.5, 2.5), phi = c(1.5, 2), k = c(2, 3), h = c(5, 9))
chain$arl <- mapply(scattered, chain$mean, chain$phi, chain$k, chain$h)
# Spatial test scores of 26 children, variance with divisor n (Efron & Tibshirani 1993).
spatial <- c(48, 36, 20, 29, 42, 42, 20, 42, 22, 41, 45, 14, 6, 0, 33, 28, 34, 4, 32, 24, 47, 41, 24, 26, 30, 41)
# Last digits: a chi-square against even shares; calibration: the delta method by numbers.
digits <- chisq.test(c(31, 9, 12, 10, 8))
cal <- function(v) v[1] / v[2]
slope <- c(-0.4, 0.62); eps <- 1e-6
g <- sapply(1:2, function(i) { e <- c(0, 0); e[i] <- eps; (cal(slope + e) - cal(slope - e)) / (2 * eps) })
cat(toJSON(list(
  tools = list(R = R.version.string, survival = as.character(packageVersion("survival")), spc = as.character(packageVersion("spc"))),
  remission = list(time = r$time, event = r$event, cells = r$cells, placebo = r$placebo, breslow = fit(Surv(time, event) ~ placebo, "breslow"),
    efron = fit(Surv(time, event) ~ placebo, "efron"), adjusted = fit(Surv(time, event) ~ placebo + cells, "breslow"), crossed = fit(Surv(time, event) ~ placebo * cells, "breslow"),
    rank = rank$chisq, within = within$chisq, hazard = mp$cumhaz[mp$n.event > 0], mean = unname(summary(mp, rmean = 35)$table["rmean"])),
  larynx = list(time = larynx$time, event = larynx$delta, stage = as.integer(larynx$stage), rank = stage$chisq, trend = z^2 / c(t(1:4) %*% stage$var %*% (1:4))),
  bladder = list(x = unname(as.matrix(b[c("rx", "size", "number")])), entry = b$start, time = b$stop, event = b$event, cluster = b$id,
    coef = unname(coef(andersen)), model = sqrt(diag(andersen$naive.var)), robust = unname(sqrt(diag(andersen$var)))),
  doctors = list(smoker = d$smoker, age = d$age, deaths = d$deaths, years = d$years, coef = unname(coef(doctors)), se = unname(sqrt(diag(vcov(doctors)))), loglik = as.numeric(logLik(doctors))),
  rings = list(x = o$x, y = o$y, coef = unname(coef(rings)), se = unname(sqrt(diag(vcov(rings)))), deviance = deviance(rings)),
  saxony = list(families = boys, a = saxony[1], b = saxony[2], loglik = likelihood(saxony)),
  normal = list(h = c(4, 5), shift = c(0, 0.5, 1), arl = t(normal)), scattered = chain,
  spatial = spatial, digits = list(chisq = unname(digits$statistic), p = digits$p.value),
  calibration = list(slope = cal(slope), variance = g[1]^2 * 0.01 + g[2]^2 * 0.0025)),
  digits = I(16), auto_unbox = TRUE, na = "null"), "\n")
