# One rate ratio common to strata, as Poisson regression with a factor for the stratum, and its
# variance robust for clusters. esoph (R's own: oesophageal cancer in Ille-et-Vilaine by age,
# alcohol and tobacco) is used as counts of cases on all people of a cell, heavy drinkers against
# the others, strata age by tobacco; `rows` are invented counts with offsets and clusters.
suppressPackageStartupMessages({library(jsonlite); library(sandwich)})
control <- glm.control(1e-14, 200)
e <- esoph
e$x <- as.numeric(e$alcgp %in% c("80-119", "120+"))
# Since R 4.0.4 ncontrols has the controls alone.
e$size <- e$ncases + e$ncontrols
cells <- aggregate(cbind(ncases, size) ~ x + agegp + tobgp, e, sum)
cells$s <- as.integer(interaction(cells$agegp, cells$tobgp))
cells <- cells[cells$size > 0, ]
f <- glm(ncases ~ x + factor(s) + offset(log(size)), poisson, cells, control = control)
set.seed(11)
n <- 240
r <- data.frame(s = sample(1:9, n, TRUE), g = sample(1:130, n, TRUE), size = round(runif(n, 0.2, 1), 3))
r$x <- rbinom(n, 1, c(0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0, 1)[r$s])
heavy <- rgamma(130, 2, 2)
r$y <- rpois(n, r$size * heavy[r$g] * exp(0.4 * r$x + r$s / 6))
both <- tapply(r$x, r$s, function(v) length(unique(v)) == 2)
# Strata without both sides tell nothing and have rates at zero that disturb the fit.
k <- r[both[as.character(r$s)], ]
hk <- glm(y ~ x + factor(s) + offset(log(size)), poisson, k, control = control)
cat(toJSON(list(
  tools = list(R = R.version.string, sandwich = as.character(packageVersion("sandwich"))),
  esoph = list(stratum = cells$s, x = cells$x, events = cells$ncases, size = cells$size,
    logratio = unname(coef(f)["x"]), variance = unname(vcov(f)["x", "x"])),
  rows = list(stratum = r$s, cluster = r$g, x = r$x, y = r$y, size = r$size,
    logratio = unname(coef(hk)["x"]), model = unname(vcov(hk)["x", "x"]),
    robust = unname(vcovCL(hk, k$g, type = "HC0", cadjust = FALSE)["x", "x"]), clusters = length(unique(k$g)))
), digits = NA, auto_unbox = TRUE))
