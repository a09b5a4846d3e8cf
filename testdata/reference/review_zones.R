# Sore spots by place with a habit and without it, of testdata/bundles/clean, worked out in R from its
# CSV files: the difference in spots per denture is the coefficient of a straight-line fit on having the
# habit, and its variance is robust for patients (package sandwich, HC0 with the factor G/(G-1)).
suppressPackageStartupMessages({library(jsonlite); library(sandwich)})
get <- function(name) {
  d <- read.csv(file.path("..", "bundles", "clean", paste0(name, ".csv")), colClasses = "character", na.strings = "")
  for (v in grep("(_day|_mm|^day|^tries)$", names(d))) d[[v]] <- as.numeric(d[[v]])
  d
}
cases <- get("cases"); records <- get("records"); remakes <- get("remakes"); visits <- get("visits"); spots <- get("sore_spots")
d <- merge(get("dentures"), cases, by = "case_id")
d <- d[!is.na(d$delivered_day) & d$delivered_day <= d$observed_to_day, ]
d <- merge(d, get("trays"), by = c("case_id", "arch"), all.x = TRUE)
d <- merge(d, records, by = "case_id", all.x = TRUE)
r <- remakes[remakes$scope == "remake", ]
d$end <- mapply(function(id, a, from, to) min(to, r$day[r$case_id == id & r$arch == a & r$day >= from & r$day <= to]), d$case_id, d$arch, d$delivered_day, d$observed_to_day)
s <- merge(spots, visits[, c("visit_id", "case_id", "day", "arch")], by = "visit_id", suffixes = c("", "_visit"))
s <- s[s$arch_visit == s$arch | s$arch_visit %in% "both", ]
s <- merge(s, d[, c("case_id", "arch", "delivered_day", "end")], by = c("case_id", "arch"))
s <- s[s$day >= s$delivered_day & s$day <= pmin(s$end, s$delivered_day + 30), ]
s$side[is.na(s$side)] <- ""
s$place <- paste(s$arch, s$zone, s$side, sep = "|")
habits <- list(clearance_over_2 = d$clearance_max_mm > 2, first_tray_used = d$tries == 1, lip_not_recorded = is.na(d$lip_mm))
out <- lapply(habits, function(h) {
  places <- sort(unique(s$place), method = "radix")
  names(places) <- places
  Filter(Negate(is.null), lapply(places, function(p) {
    arch <- strsplit(p, "|", fixed = TRUE)[[1]][1]
    k <- which(d$arch == arch & !is.na(h))
    y <- sapply(k, function(i) sum(s$place == p & s$case_id == d$case_id[i]))
    if (sum(y) == 0 || !any(h[k]) || all(h[k])) return(NULL)
    x <- as.numeric(h[k]); who <- d$patient_key[k]
    fit <- lm(y ~ x)
    list(n_with = sum(x), n_without = sum(1 - x), spots_with = sum(y[x == 1]), spots_without = sum(y[x == 0]),
      difference = 100 * unname(coef(fit)[2]), se = 100 * sqrt(vcovCL(fit, cluster = who, type = "HC0", cadjust = TRUE)[2, 2]), patients = length(unique(who)))
  }))
})
cat(toJSON(list(r = R.version.string, sandwich = as.character(packageVersion("sandwich")), habits = out), digits = NA, auto_unbox = TRUE), "\n")
