# Case mix, units and a stated change of testdata/bundles/clean worked out in R from its
# CSV files alone: Poisson models by glm on single dentures, dispersion and limits
# written out, cluster-robust errors by package sandwich.
suppressPackageStartupMessages({library(sandwich); library(digest); library(jsonlite)})
bundle <- if (dir.exists("../bundles")) "../bundles/clean" else "testdata/bundles/clean" # from here or from the top
read <- function(name) read.csv(file.path(bundle, paste0(name, ".csv")), stringsAsFactors = FALSE, na.strings = "")
cases <- read("cases"); dentures <- read("dentures"); visits <- read("visits"); remakes <- read("remakes"); spots <- read("sore_spots")
d <- merge(dentures[!is.na(dentures$delivered_day), c("case_id", "arch", "delivered_day")], cases)
rem <- remakes[remakes$scope == "remake", c("case_id", "arch", "day")]; names(rem)[3] <- "remake_day"
d <- merge(d, rem, all.x = TRUE)
d$remake_day[!is.na(d$remake_day) & (d$remake_day > d$observed_to_day | d$remake_day < d$delivered_day)] <- NA
d$end <- pmin(d$observed_to_day, d$remake_day, na.rm = TRUE)
d <- d[d$end >= d$delivered_day, ]
d$risk <- d$end - d$delivered_day
d$id <- paste(d$case_id, d$arch)
d$patient <- match(d$patient_key, sort(unique(d$patient_key), method = "radix"))
# A patient's fold: what is left of the last eight bytes of the MD5 of the key, as one
# number, after division by 5. 256 leaves 1, so that the bytes may be added instead.
fold <- function(key) { h <- digest(key, "md5", serialize = FALSE); sum(strtoi(substring(h, seq(17, 31, 2), seq(18, 32, 2)), 16)) %% 5 }
d$fold <- sapply(d$patient_key, fold)
v <- merge(visits[, c("visit_id", "case_id", "day", "arch", "adjusted")], d[, c("case_id", "arch", "delivered_day", "end", "id")])
v <- v[v$day >= v$delivered_day & v$day <= v$end, ]
v$t <- v$day - v$delivered_day
adj <- v[v$adjusted == "yes", c("id", "t")]
sp <- merge(spots, v[, c("visit_id", "arch", "id", "t")])[, c("id", "t")]

rows <- function(ev, w) { # events and the share of those expected that had fallen due
  ev <- ev[ev$t <= w, ]; f <- pmin(d$risk, w)
  M <- cumsum(sapply(0:w, function(s) sum(ev$t == s) / max(1, sum(f >= s))))
  d$share <- round(1e9 * M[f + 1] / M[w + 1]) / 1e9
  d$y <- as.numeric(table(factor(ev$id, levels = d$id)))
  d[d$share > 0, ]
}
terms <- c("arch", "ridge_class", "age_band", "sex", "prior_denture", "course")
levelled <- function(x) { # rare levels merged, the commonest first
  for (t in terms) {
    raw <- as.character(x[[t]]); raw[is.na(raw)] <- "not_recorded"
    n <- table(raw); e <- tapply(x$y, raw, sum)[names(n)]
    o <- order(-as.numeric(n), names(n), method = "radix"); n <- n[o]; e <- e[o]
    rare <- (n < 30 | e < 10) & seq_along(n) > 1
    as <- names(n)
    as[rare] <- if (sum(n[rare]) < 30 || sum(e[rare]) < 10) names(n)[1] else "other"
    x[[t]] <- factor(as[match(raw, names(n))], levels = unique(as))
  }
  x
}
design <- function(x) {
  use <- terms[sapply(terms, function(t) nlevels(x[[t]]) > 1)]
  m <- do.call(cbind, c(list(rep(1, nrow(x))), lapply(use, function(t) sapply(levels(x[[t]])[-1], function(l) as.numeric(x[[t]] == l)))))
  colnames(m) <- c("intercept", unlist(lapply(use, function(t) paste0(t, "=", levels(x[[t]])[-1]))))
  m
}
fitted_rates <- function(x, m, keep) {
  # Rank first: glm's own check loosens along with epsilon and would let aliased columns run off.
  q <- qr(m[keep, ], tol = 1e-9); cols <- sort(q$pivot[seq_len(q$rank)])
  b <- setNames(numeric(ncol(m)), colnames(m))
  b[cols] <- glm.fit(m[keep, cols], x$y[keep], offset = log(x$share[keep]), family = poisson(), control = list(epsilon = 1e-14, maxit = 100))$coefficients
  list(b = b, rate = exp(drop(m %*% b)))
}
model <- function(x) {
  x <- levelled(x); m <- design(x)
  plain <- fitted_rates(x, m, rep(TRUE, nrow(x)))
  x$cv <- NA
  for (k in 0:4) x$cv[x$fold == k] <- fitted_rates(x, m, x$fold != k)$rate[x$fold == k]
  slope <- unname(coef(glm(y ~ log(cv), offset = log(share), family = poisson(), data = x, epsilon = 1e-14))[2])
  factor <- min(1, max(0, slope))
  b <- plain$b; b[-1] <- b[-1] * factor
  b[1] <- b[1] + log(sum(x$y) / sum(x$share * exp(drop(m %*% b))))
  x$e <- x$share * exp(drop(m %*% b))
  p <- aggregate(cbind(y, e) ~ patient, x, sum)
  phi <- sum((p$y - p$e)^2) / sum(p$e) * nrow(p) / (nrow(p) - 1)
  whole <- x[x$share >= 1, ]
  more <- outer(whole$y, whole$y, ">"); g <- outer(whole$cv, whole$cv, "-"); g[abs(g) < 1e-9] <- 0
  list(x = x, b = b, slope = slope, phi = phi, concordance = sum(more * ((g > 0) + (g == 0) / 2)) / sum(more), in_large = sum(x$y) / sum(x$share * x$cv))
}
units <- function(f) {
  u <- aggregate(cbind(y, e) ~ clinician, f$x, sum); phi <- max(1, f$phi)
  list(code = u$clinician, observed = u$y, expected = u$e, low = qgamma(.025, u$y / phi) / (u$e / phi), high = qgamma(.975, u$y / phi + 1) / (u$e / phi))
}
step <- function(f, site, from) {
  x <- f$x; x$month <- substr(x$records_on, 1, 7)
  x <- x[ave(x$y, x$month, FUN = sum) > 0, ]
  x$step <- as.numeric(x$site == site & x$month >= from)
  g <- glm(y ~ 0 + site + month + step, offset = log(e), family = poisson(), data = x, epsilon = 1e-14)
  # The clusters are all the patients that the cells used hold.
  se <- sqrt(vcovCL(g, cluster = x$patient, type = "HC0", cadjust = TRUE)["step", "step"])
  list(log_ratio = unname(coef(g)["step"]), se = se, patients = length(unique(x$patient)))
}
out <- list(tool = list(r = R.version.string, sandwich = as.character(packageVersion("sandwich")), digest = as.character(packageVersion("digest"))))
for (o in list(list("adjustment_visits", adj, 90), list("early_sore_spots", sp, 30))) {
  f <- model(rows(o[[2]], o[[3]]))
  out[[o[[1]]]] <- list(coef = as.list(f$b), slope = f$slope, dispersion = f$phi, concordance = f$concordance, in_large = f$in_large,
    units = units(f), step = step(f, "S2", "2024-07"))
}
cat(toJSON(out, auto_unbox = TRUE, digits = 15, pretty = TRUE), "\n")
