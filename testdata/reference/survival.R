# Curves, tests and cumulative incidence of R's survival and cmprsk on their own data sets.
suppressPackageStartupMessages({library(jsonlite); library(survival); library(cmprsk)})
counts <- function(time, event, censored) {
  u <- sort(unique(time))
  list(time = u, events = as.numeric(table(factor(time[event], u))), censored = as.numeric(table(factor(time[censored], u))))
}
kinds <- function(d) counts(d$time, d$dead, !d$dead)
lung$dead <- lung$status == 2; veteran$dead <- veteran$status == 1

times <- c(1, 11, 100, 310, 600, 883, 1022)
curve <- function(scale) {
  f <- survfit(Surv(time, dead) ~ 1, lung, conf.type = scale)
  s <- summary(f, times = times)
  q <- quantile(f, c(0.25, 0.5, 0.75))
  list(survival = s$surv, se = s$std.err, hazard = s$cumhaz, hazard_se = s$std.chaz, risk = s$n.risk,
       low = s$lower, high = s$upper, quantile = as.numeric(q$quantile), quantile_low = as.numeric(q$lower),
       quantile_high = as.numeric(q$upper))
}
horizons <- c(100, 365.25, 1022)
rmst <- sapply(horizons, function(h) {
  f <- survfit(Surv(time, dead) ~ 1, lung)
  summary(f, rmean = h)$table[c("rmean", "se(rmean)")]
})

test <- function(fit) list(observed = if (is.matrix(fit$obs)) rowSums(fit$obs) else fit$obs,
  expected = if (is.matrix(fit$exp)) rowSums(fit$exp) else fit$exp, covariance = fit$var, chisq = fit$chisq)
celltypes <- levels(veteran$celltype)
trend <- function(fit, s) {
  t <- test(fit); sum(s * (t$observed - t$expected))^2 / as.numeric(t(s) %*% t$covariance %*% s)
}
plain <- survdiff(Surv(time, dead) ~ celltype, veteran)
strat <- survdiff(Surv(time, dead) ~ celltype + strata(trt), veteran)
lung2 <- survdiff(Surv(time, dead) ~ sex, lung)

# Competing causes: mgus2, progression against death before it, in whole months (many ties).
m <- within(mgus2, {time <- ifelse(pstat == 1, ptime, futime); cause <- ifelse(pstat == 1, 1, 2 * death)})
causes <- function(d) {
  u <- sort(unique(d$time))
  n <- function(k) as.numeric(table(factor(d$time[d$cause == k], u)))
  list(time = u, first = n(1), second = n(2), censored = n(0))
}
at <- c(0, 3, 60, 120, 240, 330)
ms <- survfit(Surv(time, factor(cause, 0:2)) ~ 1, m, conf.type = "log-log")
mss <- summary(ms, times = at)
ci <- timepoints(cuminc(m$time, m$cause), at)
gray <- cuminc(m$time, m$cause, m$sex)$Tests
decade <- cut(m$age, c(0, 60, 70, 80, 120), labels = FALSE)
gray4 <- cuminc(m$time, m$cause, decade)$Tests
gray4s <- cuminc(m$time, m$cause, decade, m$sex)$Tests

cat(toJSON(list(r = R.version.string, survival = as.character(packageVersion("survival")),
  cmprsk = as.character(packageVersion("cmprsk")),
  lung = kinds(lung), lung_by_sex = lapply(1:2, function(s) kinds(lung[lung$sex == s, ])),
  veteran = lapply(1:2, function(tr) lapply(celltypes, function(ct) kinds(veteran[veteran$celltype == ct & veteran$trt == tr, ]))),
  times = times, loglog = curve("log-log"), log = curve("log"), plain = curve("plain"),
  horizons = horizons, rmean = rmst[1, ], rmean_se = rmst[2, ],
  test_plain = test(plain), test_strata = test(strat), test_lung = test(lung2),
  trend_plain = trend(plain, 1:4), trend_strata = trend(strat, c(0, 1, 5, 2)),
  causes = causes(m), at = at, pstate = mss$pstate[, 2:3], pstate_se = mss$std.err[, 2:3],
  pstate_low = mss$lower[, 2:3], pstate_high = mss$upper[, 2:3], cuminc = t(ci$est), cuminc_var = t(ci$var),
  by_sex = lapply(c("F", "M"), function(s) causes(m[m$sex == s, ])),
  by_sex_decade = lapply(c("F", "M"), function(s) lapply(1:4, function(k) causes(m[m$sex == s & decade == k, ]))),
  gray = as.numeric(gray[, "stat"]), gray4 = as.numeric(gray4[, "stat"]), gray4_strata = as.numeric(gray4s[, "stat"])),
  digits = NA, na = "string", auto_unbox = TRUE), "\n")
