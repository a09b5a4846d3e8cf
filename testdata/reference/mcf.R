# Mean cumulative function of serious infections in survival's cgd: cumulative hazard with
# its model and its cluster-robust standard error, clusters being patients and then centres.
suppressPackageStartupMessages({library(jsonlite); library(survival)})
times <- c(1, 4, 30, 100, 200, 300, 373, 439)
at <- function(fit) summary(fit, times = times)
curve <- Surv(tstart, tstop, status) ~ 1
byid <- at(survfit(curve, cgd, id = id, cluster = id, robust = TRUE))
bycenter <- at(survfit(curve, cgd, id = id, cluster = center, robust = TRUE))
model <- at(survfit(curve, cgd, robust = FALSE))
patients <- lapply(split(cgd, cgd$id), function(d)
  list(center = as.integer(d$center[1]), end = max(d$tstop), events = I(d$tstop[d$status == 1])))
cat(toJSON(list(r = R.version.string, survival = as.character(packageVersion("survival")), times = times,
  patients = unname(patients), mean = byid$cumhaz, se_id = byid$std.chaz, se_center = bycenter$std.chaz,
  se_model = model$std.chaz, risk = model$n.risk), digits = NA, na = "string", auto_unbox = TRUE), "\n")
