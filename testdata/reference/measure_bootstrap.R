# Limits by boot::boot.ci from stored replicates. Data made up: events and time of 25
# groups, the statistic a ratio of sums.
suppressPackageStartupMessages({library(jsonlite); library(boot)})
set.seed(11)
time <- round(rgamma(25, 3, 1 / 40), 1); events <- rpois(25, time / 30 * rgamma(25, 2, 2))
ratio <- function(w) sum(w * events) / sum(w * time)
b <- boot(data.frame(events, time), function(d, i) ratio(tabulate(i, 25)), R = 999)
jack <- sapply(1:25, function(j) ratio(replace(rep(1, 25), j, 0)))
limits <- function(level) {
  ci <- boot.ci(b, conf = level, type = c("perc", "bca"), L = mean(jack) - jack)
  c(ci$percent[4:5], ci$bca[4:5])
}
levels <- c(.8, .95, .99)
cat(toJSON(list(r = R.version.string, boot = as.character(packageVersion("boot")), events = events, time = time,
  values = as.numeric(b$t), estimate = as.numeric(b$t0), jack = jack, levels = levels, limits = t(sapply(levels, limits)),
  bias = mean(b$t) - as.numeric(b$t0), se = sd(b$t)), auto_unbox = TRUE, digits = NA), "\n")
