# What case audits of testdata/bundles/clean must show, worked out in R from its CSV files: the spread of
# recorded values (quantile type 7), and for four cases the like dentures of other patients with their mean
# cumulative number of adjustment visits by day 90, limits robust for patients after Lawless & Nadeau 1995.
suppressPackageStartupMessages(library(jsonlite))
get <- function(name) {
  d <- read.csv(file.path("..", "bundles", "clean", paste0(name, ".csv")), colClasses = "character", na.strings = "")
  for (v in grep("(_day|_mm|^day|^tries|^centric_takes)$", names(d))) d[[v]] <- as.numeric(d[[v]])
  d
}
cases <- get("cases"); records <- get("records"); trays <- get("trays"); remakes <- get("remakes"); visits <- get("visits")
spread <- function(x) { x <- x[!is.na(x)]; list(n = length(x), q = unname(quantile(x, c(.05, .5, .95), type = 7))) }
records$freeway_mm <- ifelse(is.na(records$freeway_mm), records$vdr_mm - records$vdo_mm, records$freeway_mm)
own <- c("freeway_mm", "vdr_mm", "vdo_mm", "lip_mm", "display_target_mm", "centric_takes")
spreads <- lapply(setNames(own, own), function(f) spread(records[[f]]))
for (a in c("upper", "lower")) for (f in c("clearance_min_mm", "clearance_max_mm", "palate_mm", "tries"))
  if (a == "upper" || f != "palate_mm") spreads[[paste0(a, f)]] <- spread(trays[[f]][trays$arch == a])
spreads <- Filter(function(s) s$n > 0, spreads) # a field that nobody recorded has no spread

d <- merge(get("dentures"), cases, by = "case_id")
d <- d[!is.na(d$delivered_day) & d$delivered_day <= d$observed_to_day, ]
r <- remakes[remakes$scope == "remake", ]
d$end <- mapply(function(id, a, from, to) min(to, r$day[r$case_id == id & r$arch == a & r$day >= from & r$day <= to]), d$case_id, d$arch, d$delivered_day, d$observed_to_day)
d$risk <- d$end - d$delivered_day
adjusted <- lapply(seq_len(nrow(d)), function(i) {
  v <- visits[visits$case_id == d$case_id[i] & visits$arch %in% c(d$arch[i], "both") & visits$adjusted == "yes", ]
  t <- v$day[v$day >= d$delivered_day[i] & v$day <= d$end[i]] - d$delivered_day[i]
  t[t <= 90]
})
same <- function(x, y) ifelse(is.na(x) | is.na(y), is.na(x) & is.na(y), x == y)
mcf <- function(k) {
  f <- pmin(d$risk[k], 90); days <- 0:90
  y <- sapply(days, function(u) sum(f >= u)); n <- sapply(days, function(u) sum(unlist(adjusted[k]) == u))
  h <- cumsum(ifelse(y > 0, n / y^2, 0))
  pull <- mapply(function(i, end) sum(1 / y[adjusted[[i]] + 1]) - h[end + 1], k, f)
  a <- tapply(pull, d$patient_key[k], sum)
  m <- cumsum(ifelse(y > 0, n / y, 0))
  list(mean = m, se = sqrt(sum(a^2) * length(a) / (length(a) - 1)))
}
like <- function(id) {
  o <- which(d$case_id == id)
  setNames(lapply(o, function(i) {
    other <- d$arch == d$arch[i] & d$patient_key != d$patient_key[i]
    ridge <- other & same(d$ridge_class, d$ridge_class[i]); both <- ridge & same(d$prior_denture, d$prior_denture[i])
    k <- which(if (sum(both) >= 10) both else if (sum(ridge) >= 10) ridge else other)
    m <- mcf(k); full <- m$mean[91]; end <- min(d$risk[i], 90); share <- m$mean[end + 1] / full
    until <- sapply(k, function(j) sum(adjusted[[j]] <= end))[d$risk[k] >= end]
    list(level = if (sum(both) >= 10) "ridge_prior" else if (sum(ridge) >= 10) "ridge" else "arch", n = length(k), days = end, observed = length(adjusted[[i]]),
      value = m$mean[end + 1], low = full * exp(-qnorm(.975) * m$se / full) * share, high = full * exp(qnorm(.975) * m$se / full) * share,
      followed = length(until), as_many = sum(until >= length(adjusted[[i]])))
  }), d$arch[o])
}
short <- d$case_id[order(d$risk, d$case_id)][1]
ids <- c("K00000032", "K00000007", "K00000018", short)
cat(toJSON(list(r = R.version.string, spreads = spreads, like = setNames(lapply(ids, like), ids)), digits = NA, auto_unbox = TRUE), "\n")
