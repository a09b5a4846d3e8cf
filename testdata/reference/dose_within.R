# Adjustment visits and sore spots of testdata/bundles/clean over freeway space and tray space,
# worked out in R from its CSV files: bands of expected trouble from a Poisson regression of case
# mix, arch and the value, then a Poisson regression on clinician and arch, band and a restricted
# cubic spline (rms), or a straight line, with the logarithm of the share of the expected events that
# had fallen due as offset, and standard errors robust for patients (sandwich, with the factor
# G/(G-1)). Reading error by a one-way analysis of variance of repeated readings.
suppressPackageStartupMessages({library(jsonlite); library(sandwich); library(Hmisc); library(rms)})
control <- glm.control(1e-14, 200)
get <- function(name) {
  d <- read.csv(file.path("..", "bundles", "clean", paste0(name, ".csv")), colClasses = "character", na.strings = "")
  for (v in grep("(_day|_mm|^day|^tries)$", names(d))) d[[v]] <- as.numeric(d[[v]])
  d
}
visits <- get("visits"); spots <- get("sore_spots"); remakes <- get("remakes"); cases <- get("cases")
d <- merge(get("dentures"), cases, by = "case_id")
d <- d[!is.na(d$delivered_day) & d$delivered_day <= d$observed_to_day, ]
d <- merge(d, get("trays"), by = c("case_id", "arch"), all.x = TRUE)
d <- merge(d, get("records"), by = "case_id", all.x = TRUE)
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
whole <- function(x) sign(x) * floor(abs(x) + 0.5)
# Bands of about as many events by expected trouble.
banded <- function(r, knots) {
  r$mm <- pmin(pmax(whole(r$x), whole(knots[1])), whole(knots[length(knots)]))
  z <- lapply(columns, function(v) merged(r[[v]], r$y)); names(z) <- paste0("z", seq_along(z)); r <- cbind(r, z)
  keep <- names(z)[sapply(z, nlevels) > 1]
  fit <- glm(as.formula(paste(c("y ~ mm + I(mm^2) + arch", keep, "offset(log(share))"), collapse = " + ")), poisson, r, control = control)
  b <- coef(fit); b[c("(Intercept)", "mm", "I(mm^2)", "archupper")] <- 0
  rate <- round(drop(model.matrix(fit) %*% b), 9)
  events <- tapply(r$y, rate, sum); bands <- max(1, min(10, sum(r$y) %/% 20, nrow(r) %/% 100))
  before <- cumsum(events) - events
  band <- pmin(bands - 1, floor(bands * (2 * before + events) / (2 * sum(events))))
  band[match(as.character(rate), names(events))]
}
reading <- function() {
  s <- merge(get("readings"), cases[, c("case_id", "clinician")], by = "case_id")
  s$value_mm <- as.numeric(s$value_mm)
  s[is.na(s$reader) | s$reader == s$clinician, ]
}
answer <- function(value, outcome, last) {
  day <- lapply(days[[outcome]], function(x) x[x <= last])
  d$y <- lengths(day); d$share <- shared(day, last); d$x <- value
  r <- d[!is.na(d$x) & d$share > 0, ]
  knots <- unname(quantile(r$x, c(0.05, 0.35, 0.65, 0.95), type = 7))
  if (any(duplicated(knots))) knots <- unname(quantile(r$x, c(0.1, 0.5, 0.9), type = 7))
  r$band <- factor(banded(r, knots)); r$s <- paste(r$clinician, r$arch)
  takes_part <- tapply(r$y, r$s, sum) > 0 & tapply(r$x, r$s, function(v) length(unique(v))) > 1
  w <- r[r$s %in% names(which(takes_part)), ]
  basis <- rcspline.eval(w$x, knots = knots, inclx = TRUE, norm = 2)
  w <- cbind(w, setNames(as.data.frame(basis), paste0("b", seq_len(ncol(basis))))); b <- paste0("b", seq_len(ncol(basis)))
  band <- if (nlevels(droplevels(w$band)) > 1) "band"
  curve <- glm(as.formula(paste(c("y ~ s", b, band, "offset(log(share))"), collapse = " + ")), poisson, w, control = control)
  line <- glm(as.formula(paste(c("y ~ s + x", band, "offset(log(share))"), collapse = " + ")), poisson, w, control = control)
  v <- robust(curve, w$patient_key)[b, b]; m <- vcov(curve)[b, b]; beta <- unname(coef(curve)[b])
  at <- function(x0) { u <- w; u[b] <- as.list(rcspline.eval(x0, knots = knots, inclx = TRUE, norm = 2)); 100 * sum(predict(curve, u, type = "response")) / sum(w$share) }
  flat <- min(drop(beta %*% solve(v, beta)), drop(beta %*% solve(m, beta)))
  bent <- beta[-1]; bent <- min(drop(bent %*% solve(v[-1, -1], bent)), drop(bent %*% solve(m[-1, -1], bent)))
  out <- list(knots = knots, bands = nlevels(droplevels(r$band)), coef = beta, robust = unname(v), model = unname(m), n = nrow(w), events = sum(w$y),
    patients = length(unique(w$patient_key)), strata = length(unique(w$s)), line = unname(coef(line)["x"]), line_robust = unname(robust(line, w$patient_key)["x", "x"]),
    line_model = unname(vcov(line)["x", "x"]), rate2 = at(2), rate3 = at(3), flat = pchisq(flat, length(beta), lower.tail = FALSE),
    bent = pchisq(bent, length(beta) - 1, lower.tail = FALSE))
  if (identical(value, freeway)) {
    s <- reading(); s <- s[s$measure == "vdo", ]; n <- table(factor(s$case_id, levels = unique(d$case_id)))[r$case_id]
    out$error <- sigma(lm(value_mm ~ case_id, s))^2; out$over_takes <- mean(1 / pmax(n, 1))
    mu <- fitted(line)
    left <- residuals(lm(as.formula(paste(c("x ~ s", band), collapse = " + ")), w, weights = mu))
    out$spread <- sum(mu * left^2) / sum(w$y)
  }
  out
}
freeway <- ifelse(is.na(d$freeway_mm), d$vdr_mm - d$vdo_mm, d$freeway_mm)
cat(toJSON(list(tools = list(R = R.version.string, sandwich = as.character(packageVersion("sandwich")), rms = as.character(packageVersion("rms"))),
  answers = list(
    freeway_mm = list(adjustment_visits = answer(freeway, "adjustment_visits", 90), early_sore_spots = answer(freeway, "early_sore_spots", 30)),
    clearance_max_mm = list(adjustment_visits = answer(d$clearance_max_mm, "adjustment_visits", 90), early_sore_spots = answer(d$clearance_max_mm, "early_sore_spots", 30)))),
  digits = NA, auto_unbox = TRUE))
