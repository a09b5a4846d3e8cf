# testdata/bundles/clean worked out in R from its CSV files alone, patients being clusters:
# cumulative incidences (Aalen-Johansen) from the survival package's curves and influence values,
# and contrasts with minus without a habit, standardised over arch, after Lawless & Nadeau 1995
# for the mean cumulative function and from the same influence values for the incidence.
suppressPackageStartupMessages({library(jsonlite); library(survival)})
z <- qnorm(0.975)
get <- function(name) {
  d <- read.csv(file.path("..", "bundles", "clean", paste0(name, ".csv")), colClasses = "character", na.strings = "")
  for (v in grep("(_day|_mm|^day|^minutes|^grade|^tries)$", names(d))) d[[v]] <- as.numeric(d[[v]])
  d
}
cases <- get("cases"); records <- get("records"); trays <- get("trays"); visits <- get("visits")
spots <- get("sore_spots"); remakes <- get("remakes")
d <- merge(get("dentures"), cases, by = "case_id")
d <- d[!is.na(d$delivered_day) & d$delivered_day <= d$observed_to_day, ]
d <- merge(d, trays, by = c("case_id", "arch"), all.x = TRUE)
d <- merge(d, records, by = "case_id", all.x = TRUE)
d <- d[order(d$case_id, d$arch), ]
d$remade <- mapply(function(id, a, from, to) {
  m <- remakes$day[remakes$case_id == id & remakes$arch == a & remakes$scope == "remake"]
  m <- m[m >= from & m <= to]
  if (length(m)) min(m) else NA
}, d$case_id, d$arch, d$delivered_day, d$observed_to_day)
d$end <- pmin(d$observed_to_day, d$remade, na.rm = TRUE)
d$risk <- d$end - d$delivered_day
d$died <- is.na(d$remade) & d$observed_end %in% "died"

# Visits of one denture in its own clock, until the end of its follow-up.
own <- lapply(seq_len(nrow(d)), function(i) {
  v <- visits[visits$case_id == d$case_id[i] & visits$arch %in% c(d$arch[i], "both"), ]
  v <- v[v$day >= d$delivered_day[i] & v$day <= d$end[i], ]
  v$since <- v$day - d$delivered_day[i]
  v
})
sores <- lapply(seq_len(nrow(d)), function(i) {
  s <- spots[spots$visit_id %in% own[[i]]$visit_id & spots$arch == d$arch[i], ]
  s$since <- own[[i]]$since[match(s$visit_id, own[[i]]$visit_id)]
  s
})
events <- list(
  adjustment_visits = list(last = 90, day = lapply(own, function(v) v$since[v$adjusted == "yes" & v$since <= 90])),
  early_sore_spots = list(last = 30, day = lapply(sores, function(s) s$since[s$since <= 30])))

sides <- list(all = seq_len(nrow(d)), upper = which(d$arch == "upper"), lower = which(d$arch == "lower"))
# The mean cumulative function by day and what each denture adds to its variance.
pulls <- function(rows, last, day, n) {
  f <- pmin(d$risk[rows], last)
  s <- 0:last
  y <- sapply(s, function(u) sum(f >= u))
  dn <- sapply(s, function(u) sum(unlist(n[rows])[unlist(day[rows]) == u]))
  h <- cumsum(ifelse(y > 0, dn / y^2, 0))
  a <- mapply(function(i, end) sum(n[[i]] / y[day[[i]] + 1]) - h[end + 1], rows, f)
  list(mean = sum(ifelse(y > 0, dn / y, 0)), pull = a)
}
# Outcomes that count once.
firstday <- function(found) sapply(found, function(x) if (length(x)) min(x) else NA)
says <- function(codes) firstday(lapply(own, function(v) v$since[vapply(strsplit(v$complaints, "|", fixed = TRUE), function(x) any(x %in% codes), NA)]))
firsts <- list(
  any_ulcer = list(last = 30, day = firstday(lapply(sores, function(s) s$since[s$grade %in% 3]))),
  display_complaint = list(last = 180, day = says(c("shows_too_much", "shows_too_little"))),
  vertical_complaint = list(last = 180, day = says(c("too_tall", "too_short"))),
  remake = list(last = 365, day = ifelse(is.na(d$remade), NA, d$risk)),
  reline = list(last = 365, day = firstday(lapply(seq_len(nrow(d)), function(i) {
    r <- remakes[remakes$case_id == d$case_id[i] & remakes$arch == d$arch[i] & remakes$scope %in% c("reline", "rebase"), ]
    (r$day - d$delivered_day[i])[r$day >= d$delivered_day[i] & r$day <= d$end[i]]
  }))))
left <- function(o) {
  time <- ifelse(is.na(o$day), d$risk, o$day)
  kind <- ifelse(time > o$last, 0, ifelse(!is.na(o$day), 1, ifelse(d$died, 2, 0)))
  data.frame(time = pmin(time, o$last + 1), kind = factor(kind, 0:2, c("left", "outcome", "died")), patient = d$patient_key)
}
# With an id for each denture, survfit takes its standard errors of several states by id and leaves
# the clusters aside (survival 3.5-3); so its influence values are added within patients here.
risk_pulls <- function(rows, o) {
  l <- left(o)[rows, ]
  l$id <- seq_along(rows)
  if (!any(l$kind == "outcome")) return(list(mean = 0, pull = rep(0, length(rows))))
  f <- survfit(Surv(time, kind) ~ 1, l, id = id, influence = TRUE, conf.type = "none")
  k <- which(f$states == "outcome")
  i <- f$influence.pstate # its second index begins with the start, before the first time
  list(mean = f$pstate[findInterval(o$last, f$time), k], pull = i[order(as.integer(dimnames(i)[[1]])), findInterval(o$last, f$time) + 1, k])
}
incidence <- function(rows, o) {
  p <- risk_pulls(rows, o)
  v <- p$mean
  a <- tapply(p$pull, d$patient_key[rows], sum)
  se <- sqrt(sum(a^2) * length(a) / (length(a) - 1))
  lim <- if (v > 0) v^exp(c(1, -1) * z * se / (v * log(v))) else c(NA, NA)
  list(n = length(rows), events = sum(left(o)$kind[rows] == "outcome"), value = 100 * v, low = 100 * min(lim), high = 100 * max(lim))
}
risks <- lapply(firsts, function(o) lapply(sides, incidence, o = o))

# With and without a habit, standardised over arch by the dentures with it.
habits <- list(
  clearance_over_2 = d$clearance_max_mm > 2, clearance_uneven = d$clearance_max_mm - d$clearance_min_mm > 1,
  partial_seating_used = ifelse(d$seating %in% c("full", "partial"), d$seating == "partial", NA),
  sized_by_eye = ifelse(is.na(d$sized_by) | d$sized_by == "unknown", NA, d$sized_by == "eye"),
  first_tray_used = d$tries == 1, lip_not_recorded = is.na(d$lip_mm), rest_not_recorded = is.na(d$vdr_mm),
  touches_soft_palate = ifelse(d$arch == "upper", sapply(strsplit(d$touches, "|", fixed = TRUE), function(x) if (all(is.na(x))) NA else "soft_palate" %in% x), NA),
  reading_ends_0_5 = (round(100 * d$vdo_mm) %% 500) == 0, late_delivery = d$delivered_day > 60)
contrast <- function(h, one) {
  arches <- Filter(function(a) sum(h & d$arch == a, na.rm = TRUE) > 0 && sum(!h & d$arch == a, na.rm = TRUE) > 0, c("upper", "lower"))
  if (!length(arches)) return(NULL)
  n <- sapply(arches, function(a) sum(h & d$arch == a, na.rm = TRUE))
  with <- 0; without <- 0; pull <- setNames(rep(0, nrow(d)), NULL); used <- integer()
  for (a in arches) for (side in c(TRUE, FALSE)) {
    rows <- which(d$arch == a & !is.na(h) & h == side)
    p <- one(rows); w <- n[[a]] / sum(n)
    if (side) with <- with + w * p$mean else without <- without + w * p$mean
    pull[rows] <- pull[rows] + (if (side) w else -w) * p$pull
    used <- c(used, rows)
  }
  a <- tapply(pull[used], d$patient_key[used], sum)
  g <- length(unique(d$patient_key[!is.na(h)]))
  list(n = length(used), with = with, without = without, difference = with - without, se = sqrt(sum(a^2) * g / (g - 1)))
}
of <- function(o) function(rows) risk_pulls(rows, o)
contrasts <- lapply(habits, function(h) Filter(Negate(is.null), list(
  adjustment_visits = contrast(h, function(rows) pulls(rows, 90, events$adjustment_visits$day, lapply(events$adjustment_visits$day, function(x) rep(1, length(x))))),
  early_sore_spots = contrast(h, function(rows) pulls(rows, 30, events$early_sore_spots$day, lapply(events$early_sore_spots$day, function(x) rep(1, length(x))))),
  any_ulcer = contrast(h, of(firsts$any_ulcer)), remake = contrast(h, of(firsts$remake)))))
cat(toJSON(list(r = R.version.string, survival = as.character(packageVersion("survival")),
  delivered = nrow(d), risks = risks, contrasts = contrasts),
  digits = NA, na = "null", auto_unbox = TRUE), "\n")
