# Habits beside adjustment visits and sore spots of testdata/bundles/clean, worked out in R from its
# CSV files: crude, adjusted for case mix, and within clinicians, each as a Poisson regression with
# the logarithm of the share of the expected events that had fallen due as offset, and standard
# errors robust for patients (sandwich, with the factor G/(G-1)).
suppressPackageStartupMessages({library(jsonlite); library(sandwich)})
control <- glm.control(1e-14, 200)
get <- function(name) {
  d <- read.csv(file.path("..", "bundles", "clean", paste0(name, ".csv")), colClasses = "character", na.strings = "")
  for (v in grep("(_day|_mm|^day|^tries)$", names(d))) d[[v]] <- as.numeric(d[[v]])
  d
}
visits <- get("visits"); spots <- get("sore_spots"); remakes <- get("remakes")
d <- merge(get("dentures"), get("cases"), by = "case_id")
d <- d[!is.na(d$delivered_day) & d$delivered_day <= d$observed_to_day, ]
d <- merge(d, get("trays"), by = c("case_id", "arch"), all.x = TRUE)
d <- d[order(d$case_id, d$arch), ]
d$end <- mapply(function(id, a, from, to) {
  m <- remakes$day[remakes$case_id == id & remakes$arch == a & remakes$scope == "remake"]
  min(to, m[m >= from & m <= to])
}, d$case_id, d$arch, d$delivered_day, d$observed_to_day)
own <- lapply(seq_len(nrow(d)), function(i) {
  v <- visits[visits$case_id == d$case_id[i] & visits$arch %in% c(d$arch[i], "both"), ]
  v[v$day >= d$delivered_day[i] & v$day <= d$end[i], ]
})
days <- list(
  adjustment_visits = lapply(seq_len(nrow(d)), function(i) own[[i]]$day[own[[i]]$adjusted == "yes"] - d$delivered_day[i]),
  early_sore_spots = lapply(seq_len(nrow(d)), function(i) {
    s <- spots[spots$visit_id %in% own[[i]]$visit_id & spots$arch == d$arch[i], ]
    own[[i]]$day[match(s$visit_id, own[[i]]$visit_id)] - d$delivered_day[i]
  }))
# The share of the mean cumulative function at the end of the window that had fallen due.
shared <- function(day, last) {
  f <- pmin(d$end - d$delivered_day, last); u <- unlist(day); s <- 0:last
  m <- cumsum(sapply(s, function(t) if (any(f >= t)) sum(u == t) / sum(f >= t) else 0))
  (m / m[last + 1])[f + 1]
}
habits <- list(
  clearance_over_2 = d$clearance_max_mm > 2,
  sized_by_eye = ifelse(is.na(d$sized_by) | d$sized_by == "unknown", NA, d$sized_by == "eye"),
  first_tray_used = d$tries == 1)
columns <- c("ridge_class", "sex", "prior_denture")
# Levels with 50 dentures and 5 events for each column stand alone; the others are gathered, or
# join the most common where together they are still few.
merged <- function(v, y) {
  v[is.na(v)] <- "-"
  n <- table(v); e <- tapply(y, v, sum)[names(n)]
  few <- (n < 50 | e < 5 * length(columns)) & names(n) != names(n)[which.max(n)]
  enough <- sum(n[few]) >= 50 && sum(e[few]) >= 5 * length(columns)
  v[v %in% names(n)[few]] <- if (enough) "(few)" else names(n)[which.max(n)]
  relevel(factor(v), names(n)[which.max(n)])
}
robust <- function(fit, g) { k <- length(unique(g)); vcovCL(fit, g, type = "HC0", cadjust = FALSE) * k / (k - 1) }
# A ratio with its robust variance, and the difference in events per full share among those with the habit.
told <- function(fit, r, score, info, extra = 1) {
  b <- unname(coef(fit)["x"]); size <- sum(r$share[r$x == 1]); with <- sum(r$y[r$x == 1]) / size
  pull <- (1 - exp(-b)) * r$x * (r$y - with * r$share) + with * exp(-b) * size * score / info * sqrt(extra)
  k <- length(unique(r$g))
  list(log = b, variance = unname(robust(fit, r$g)["x", "x"]), with = with, difference = with * (1 - exp(-b)),
    sd = sqrt(sum(tapply(pull, r$g, sum)^2) * k / (k - 1)) / size, n = nrow(r), patients = k)
}
answer <- function(h, outcome, last) {
  day <- lapply(days[[outcome]], function(x) x[x <= last])
  d$y <- lengths(day); d$share <- shared(day, last)
  r <- d[!is.na(h) & d$share > 0, ]
  r$x <- as.numeric(h[!is.na(h) & d$share > 0]); r$g <- r$patient_key
  z <- lapply(columns, function(v) merged(r[[v]], r$y))
  names(z) <- paste0("z", seq_along(z)); r <- cbind(r, z)
  keep <- names(z)[sapply(z, nlevels) > 1]
  crude <- glm(y ~ x + arch + offset(log(share)), poisson, r, control = control)
  mix <- glm(as.formula(paste(c("y ~ x + arch", keep, "offset(log(share))"), collapse = " + ")), poisson, r, control = control)
  X <- model.matrix(mix); mu <- fitted(mix); inverse <- solve(crossprod(X, X * mu))
  resid_x <- drop(X %*% inverse["x", ]) / inverse["x", "x"]
  X0 <- X; X0[, "x"] <- 0; X0[, "archupper"] <- 0; b <- coef(mix); b["(Intercept)"] <- 0
  r$size <- r$share * exp(drop(X0 %*% b))
  r$s <- paste(r$clinician, r$arch)
  w <- r[r$s %in% names(which(tapply(r$x, r$s, function(v) length(unique(v)) == 2))), ]
  within <- glm(y ~ x + s + offset(log(size)), poisson, w, control = control)
  p <- ave(w$x * fitted(within), w$s, FUN = sum) / ave(fitted(within), w$s, FUN = sum)
  pc <- ave(r$x * fitted(crude), r$arch, FUN = sum) / ave(fitted(crude), r$arch, FUN = sum)
  list(crude = told(crude, r, (r$x - pc) * (r$y - fitted(crude)), sum(pc * (1 - pc) * fitted(crude))),
    mix = told(mix, r, resid_x * (r$y - mu), 1 / inverse["x", "x"]),
    within = told(within, w, (w$x - p) * (w$y - fitted(within)), sum(p * (1 - p) * fitted(within))))
}
cat(toJSON(list(tools = list(R = R.version.string, sandwich = as.character(packageVersion("sandwich"))),
  answers = lapply(habits, function(h) list(adjustment_visits = answer(h, "adjustment_visits", 90), early_sore_spots = answer(h, "early_sore_spots", 30)))),
  digits = NA, auto_unbox = TRUE))
