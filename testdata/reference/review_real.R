# Three open data sets of R's survival package cast as case bundles, with what R makes
# of them. Each bundle stands here as the text of its CSV files, so that the program is
# given the same rows. No dentures are meant: the clinical meaning of the columns is
# borrowed, the numbers are real.
#   cgd       infections of 128 children (Fleming & Harrington 1991): events that recur
#   mgus2     progression or death of 1,384 people (Kyle 2002), months taken as days:
#             an outcome that counts once, with death competing
#   diabetic  197 people with two eyes each, one treated (Huster 1989), quarter months
#             taken as days: two units of one person
suppressPackageStartupMessages({library(survival); library(jsonlite)})
csv <- function(d) paste(capture.output(write.csv(d, row.names = FALSE, quote = FALSE, na = "")), collapse = "\n")
limits <- function(m, se) c(m, m * exp(-qnorm(.975) * se / m), m * exp(qnorm(.975) * se / m))
band <- function(age) ifelse(age < 50, "<50", ifelse(age >= 90, "90+", paste0(10 * (age %/% 10), "-", 10 * (age %/% 10) + 9)))
bundle <- function(cases, dentures, trays, visits = data.frame(), remakes = data.frame()) {
  files <- list(cases.csv = csv(cases), dentures.csv = csv(dentures), trays.csv = csv(trays))
  if (nrow(visits)) files$visits.csv <- csv(visits)
  if (nrow(remakes)) files$remakes.csv <- csv(remakes)
  files
}

# cgd. Infection = adjustment visit; placebo = a tray with more than 2 mm of space; a
# hospital = a clinician; country and kind of hospital = a site.
one <- cgd[!duplicated(cgd$id), ]
end <- tapply(cgd$tstop, cgd$id, max)[as.character(one$id)]
id <- sprintf("K%03d", one$id)
files <- bundle(
  data.frame(case_id = id, patient_key = paste0("P", id), site = paste0("S", as.integer(one$hos.cat)), clinician = sprintf("C%02d", as.integer(one$center)),
    records_on = format(one$random, "%Y"), age_band = band(one$age), sex = as.character(one$sex), ridge_class = as.integer(one$inherit), observed_to_day = end, observed_end = "export"),
  data.frame(case_id = id, arch = "upper", delivered_day = 0),
  data.frame(case_id = id, arch = "upper", clearance_min_mm = 1, clearance_max_mm = ifelse(one$treat == "placebo", 3, 1.5)),
  with(cgd[cgd$status == 1, ], data.frame(visit_id = sprintf("V%03d-%d", id, enum), case_id = sprintf("K%03d", id), day = tstop, arch = "upper", adjusted = "yes")))
recur <- function(d) {
  fit <- survfit(Surv(tstart, tstop, status) ~ 1, data = d, id = id, cluster = id)
  g <- length(unique(d$id))
  k <- findInterval(365, fit$time)
  limits(fit$cumhaz[k], fit$std.chaz[k] * sqrt(g / (g - 1)))
}
firsts <- cgd[cgd$enum == 1, ]
km <- survfit(Surv(tstop, status) ~ 1, data = firsts, conf.type = "log-log")
km_at <- summary(km, times = c(30, 90, 180, 365))
# The share of expected infections that had fallen due at the end of follow-up, for the offset of a model of counts.
whole <- survfit(Surv(tstart, tstop, status) ~ 1, data = cgd, id = id)
mean_at <- function(t) c(0, whole$cumhaz)[findInterval(t, whole$time) + 1]
one$share <- round(1e9 * mean_at(pmin(end, 365)) / mean_at(365)) / 1e9
one$y <- as.vector(tapply(cgd$status == 1 & cgd$tstop <= 365, cgd$id, sum)[as.character(one$id)])
one$placebo <- as.numeric(one$treat == "placebo")
# A hospital without an infection says nothing about the ratio, and its own term has no finite value.
used <- one[one$share > 0 & ave(one$y, one$center, FUN = sum) > 0, ]
cluster <- function(fit) { # HC0 by child; every child stands alone here
  x <- model.matrix(fit); u <- x * (used$y - fitted(fit)); b <- solve(t(x) %*% (x * fitted(fit)))
  b %*% crossprod(u) %*% b
}
within <- glm(y ~ placebo + factor(center), poisson, offset = log(share), data = used, epsilon = 1e-12)
w <- coef(within)["placebo"]; w_se <- sqrt(cluster(within)["placebo", "placebo"])
cgd_out <- list(files = files, n = nrow(one), events = sum(cgd$status[cgd$tstop <= 365]),
  all = recur(cgd), placebo = recur(cgd[cgd$treat == "placebo", ]), treated = recur(cgd[cgd$treat != "placebo", ]),
  free = list(day = km_at$time, share = km_at$surv, low = km_at$lower, high = km_at$upper),
  within_hospital = list(log_ratio = unname(w), se_hc0 = unname(w_se)))

# mgus2. Progression = remake, female = upper, male = lower.
m <- mgus2
m$etime <- ifelse(m$pstat == 1, m$ptime, m$futime)
mid <- sprintf("K%04d", m$id)
files <- bundle(
  data.frame(case_id = mid, patient_key = paste0("P", mid), site = "S1", clinician = "C01", records_on = "2024", observed_to_day = pmax(m$futime, m$etime), observed_end = ifelse(m$death == 1, "died", "export")),
  data.frame(case_id = mid, arch = ifelse(m$sex == "F", "upper", "lower"), delivered_day = 0),
  data.frame(case_id = mid, arch = ifelse(m$sex == "F", "upper", "lower"), clearance_max_mm = 1.5, clearance_min_mm = 1),
  remakes = data.frame(case_id = mid, arch = ifelse(m$sex == "F", "upper", "lower"), day = m$ptime, scope = "remake")[m$pstat == 1, ])
m$event <- factor(ifelse(m$pstat == 1, 1, ifelse(m$death == 1, 2, 0)), 0:2, c("left", "progressed", "died"))
incidence <- function(d) {
  fit <- survfit(Surv(etime, event) ~ 1, data = d, conf.type = "log-log")
  k <- which(fit$states == "progressed")
  at <- summary(fit, times = c(60, 120, 240, 360))
  list(n = nrow(d), events = sum(d$pstat), day = at$time, value = at$pstate[, k], low = at$lower[, k], high = at$upper[, k])
}
mgus_out <- list(files = files, all = incidence(m), upper = incidence(m[m$sex == "F", ]), lower = incidence(m[m$sex == "M", ]))

# diabetic. Loss of sight = remake, the left eye = upper, an untreated eye = a tray with more than 2 mm of space.
e <- diabetic
e$day <- round(4 * e$time)
eid <- sprintf("K%04d", e$id)
arch <- ifelse(e$eye == "left", "upper", "lower")
# An eye seen for a shorter time than its fellow has a case of its own, with the same person.
own <- paste0(eid, substr(arch, 1, 1))
files <- bundle(
  data.frame(case_id = own, patient_key = paste0("P", eid), site = "S1", clinician = "C01", records_on = "2024", observed_to_day = e$day, observed_end = "export"),
  data.frame(case_id = own, arch = arch, delivered_day = 0),
  data.frame(case_id = own, arch = arch, clearance_min_mm = 1, clearance_max_mm = ifelse(e$trt == 1, 1.5, 3)),
  remakes = data.frame(case_id = own, arch = arch, day = e$day, scope = "remake")[e$status == 1, ])
loss <- function(d) {
  fit <- survfit(Surv(day, status) ~ 1, data = d, cluster = id)
  k <- findInterval(365, fit$time)
  s <- fit$surv[k]; g <- length(unique(d$id))
  stopifnot(!fit$logse) # the robust error of survfit is that of the share itself
  se <- fit$std.err[k] * sqrt(g / (g - 1))
  inc <- 1 - s
  v <- se / (inc * abs(log(inc))) # of log(-log(incidence))
  list(n = nrow(d), events = sum(d$status), value = inc, low = inc^exp(qnorm(.975) * v), high = inc^exp(-qnorm(.975) * v))
}
diabetic_out <- list(files = files, all = loss(e), left = loss(e[e$eye == "left", ]), right = loss(e[e$eye != "left", ]))
cat(toJSON(list(tool = list(r = R.version.string, survival = as.character(packageVersion("survival"))),
  cgd = cgd_out, mgus2 = mgus_out, diabetic = diabetic_out), auto_unbox = TRUE, digits = 15, pretty = TRUE), "\n")
