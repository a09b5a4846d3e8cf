# Figures of testdata/bundles/clean worked out in R, from its CSV files alone.
# Survival curves and cumulative incidence come from package survival; the mean
# cumulative function and its patient-robust variance are written out here after
# Lawless & Nadeau 1995 (no package takes several events of one denture on one day).
suppressPackageStartupMessages({library(survival); library(jsonlite)})
bundle <- if (dir.exists("../bundles")) "../bundles/clean" else "testdata/bundles/clean" # from here or from the top
read <- function(name) read.csv(file.path(bundle, paste0(name, ".csv")), stringsAsFactors = FALSE, na.strings = "")
cases <- read("cases"); dentures <- read("dentures"); visits <- read("visits"); remakes <- read("remakes"); spots <- read("sore_spots")
d <- merge(dentures[!is.na(dentures$delivered_day), c("case_id", "arch", "delivered_day")], cases[, c("case_id", "patient_key", "clinician", "observed_to_day", "observed_end")])
rem <- remakes[remakes$scope == "remake", c("case_id", "arch", "day")]; names(rem)[3] <- "remake_day"
d <- merge(d, rem, all.x = TRUE)
d$remake_day[!is.na(d$remake_day) & (d$remake_day > d$observed_to_day | d$remake_day < d$delivered_day)] <- NA
d$end <- pmin(d$observed_to_day, d$remake_day, na.rm = TRUE)
d <- d[d$end >= d$delivered_day, ]
d$risk <- d$end - d$delivered_day
d$id <- paste(d$case_id, d$arch)
v <- merge(visits[, c("visit_id", "case_id", "day", "arch", "adjusted", "minutes")], d[, c("case_id", "arch", "delivered_day", "end", "id")])
v <- v[v$day >= v$delivered_day & v$day <= v$end, ]
v$t <- v$day - v$delivered_day
adj <- v[v$adjusted == "yes", ]
sp <- merge(spots, v[, c("visit_id", "arch", "id", "t")])

mcf <- function(d, ev, n, w) {
  f <- pmin(d$risk, w); ok <- ev$t <= w & ev$id %in% d$id
  ev <- ev[ok, ]; n <- n[ok]; days <- 0:w
  at_risk <- sapply(days, function(s) sum(f >= s))
  dn <- sapply(days, function(s) sum(n[ev$t == s]))
  H <- cumsum(ifelse(at_risk > 0, dn / at_risk^2, 0))
  pull <- -H[f + 1]
  names(pull) <- d$id
  add <- tapply(n / at_risk[ev$t + 1], ev$id, sum)
  pull[names(add)] <- pull[names(add)] + add
  A <- tapply(pull, d$patient_key, sum); G <- length(A)
  m <- sum(ifelse(at_risk > 0, dn / at_risk, 0)); se <- sqrt(sum(A^2) * G / (G - 1))
  list(n = nrow(d), events = sum(n), mean = m, low = m * exp(-qnorm(.975) * se / m), high = m * exp(qnorm(.975) * se / m))
}
figures <- function(d) list(
  visits = mcf(d, adj, rep(1, nrow(adj)), 90),
  spots = mcf(d, sp, rep(1, nrow(sp)), 30),
  minutes = mcf(d, adj, adj$minutes, 90))
groups <- c(list(all = figures(d)), lapply(split(d, d$arch), figures), lapply(split(d, d$clinician), figures))

first <- tapply(adj$t, adj$id, min)
d$first <- as.numeric(first[d$id])
km <- survfit(Surv(ifelse(is.na(first), risk, first), !is.na(first)) ~ 1, data = d, conf.type = "log-log")
at <- summary(km, times = c(1, 7, 30, 90))
d$cause <- factor(ifelse(!is.na(d$remake_day), "remake", ifelse(d$observed_end %in% "died", "died", "left")), levels = c("left", "remake", "died"))
ci <- survfit(Surv(risk, cause) ~ 1, data = d, conf.type = "log-log")
rc <- summary(ci, times = 365)
k <- which(ci$states == "remake")
cat(toJSON(list(
  tool = list(r = R.version.string, survival = as.character(packageVersion("survival"))),
  groups = groups,
  first_adjustment = list(day = at$time, share = at$surv, low = at$lower, high = at$upper),
  remake = list(value = rc$pstate[1, k], low = rc$lower[1, k], high = rc$upper[1, k])),
  auto_unbox = TRUE, digits = 15, pretty = TRUE), "\n")
