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
# Valve seats of 41 diesel engines (Nelson & Doganaksoy 1989; Nelson 1995), as survival
# has them. Engine 328 had two replacements on day 653: one is moved half a day back,
# which changes no risk set, because survfit takes one event of a unit at a time.
seats <- do.call(rbind, lapply(split(valveSeat, valveSeat$id), function(d) {
  stop <- sort(d$time); stop[duplicated(stop, fromLast = TRUE)] <- stop[duplicated(stop, fromLast = TRUE)] - 0.5
  data.frame(id = d$id, start = c(0, head(stop, -1)), stop = stop, event = d$status[order(d$time, -d$status)])
}))
seatDays <- c(61, 76, 84, 87, 92, 98, 326, 540, 621, 653)
seatFit <- summary(survfit(Surv(start, stop, event) ~ 1, seats, id = id, cluster = id, robust = TRUE), times = seatDays)
engines <- lapply(split(valveSeat, valveSeat$id), function(d) list(end = max(d$time), events = I(d$time[d$status == 1])))
cat(toJSON(list(r = R.version.string, survival = as.character(packageVersion("survival")), times = times,
  patients = unname(patients), mean = byid$cumhaz, se_id = byid$std.chaz, se_center = bycenter$std.chaz,
  se_model = model$std.chaz, risk = model$n.risk,
  seats = list(engines = unname(engines), days = seatDays, mean = seatFit$cumhaz, se = seatFit$std.chaz)), digits = NA, na = "string", auto_unbox = TRUE), "\n")
