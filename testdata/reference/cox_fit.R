# Cox models of R's survival on its own data sets: lung, veteran, bladder and cgd
# (recurrent events: clusters, strata, late entry), with Efron's and Breslow's ties,
# case weights, offset, cluster-robust covariance, cox.zph and basehaz.
suppressPackageStartupMessages({library(survival); library(jsonlite)})
control <- coxph.control(eps = 1e-13, toler.chol = 1e-14, iter.max = 60)
keep <- function(formula, data, x, entry = NULL, stratum = NULL, offset = NULL, cluster = NULL, weights = NULL, ties = "efron", zph = TRUE) {
  environment(formula) <- environment() # cox.zph looks the data up there
  # Counts are replicated observations: that is what Efron's ties see here.
  full <- if (is.null(weights)) data else data[rep(seq_len(nrow(data)), weights), ]
  base <- coxph(formula, full, ties = ties, control = control, x = TRUE)
  y <- model.response(model.frame(formula, data))
  out <- Filter(Negate(is.null), list(names = I(x), x = unname(as.matrix(data[x])), time = y[, ncol(y) - 1], event = y[, ncol(y)],
    entry = entry, stratum = stratum, offset = offset, weight = weights, cluster = cluster,
    coef = I(unname(coef(base))), loglik = base$loglik, model = unname(vcov(base)),
    score = base$score, wald = base$wald.test))
  if (!is.null(cluster)) {
    data$.g <- cluster
    robust <- coxph(formula, data, cluster = .g, ties = ties, control = control)
    out$robust <- unname(vcov(robust))
    # The naive variance goes by another name after a robust fit.
    stopifnot(isTRUE(all.equal(robust$naive.var, base$var, tolerance = 1e-10)))
  }
  if (zph) for (g in c("km", "identity", "log")) {
    z <- cox.zph(base, transform = g, terms = FALSE)
    out$zph[[g]] <- list(chisq = unname(z$table[, 1]), p = unname(z$table[, 3]))
    # Residuals of one time are averaged: their order within a tie means nothing.
    if (g == "km" && is.null(stratum)) out$points <- list(time = sort(unique(z$time)),
      first = as.numeric(tapply(z$y[, 1], z$time, mean)), g = as.numeric(tapply(z$x, z$time, mean)))
  }
  h <- basehaz(base, centered = FALSE)
  # basehaz is at the mean offset even when not centred; bring it to offset 0.
  if (!is.null(offset)) h$hazard <- h$hazard / exp(mean(offset))
  events <- if (ncol(y) == 3) y[y[, 3] == 1, 2] else y[y[, 2] == 1, 1]
  if (is.null(stratum)) { h <- h[h$time %in% events, ]; out$basehaz <- list(time = h$time, hazard = h$hazard) }
  out
}
l <- na.omit(lung[c("time", "status", "age", "sex", "ph.ecog", "wt.loss", "inst")])
v <- transform(veteran, squamous = +(celltype == "squamous"), small = +(celltype == "smallcell"), adeno = +(celltype == "adeno"))
b <- bladder
b85 <- bladder1; b85 <- b85[b85$stop > b85$start & b85$treatment != "pyridoxine", ]
b85$thio <- +(b85$treatment == "thiotepa"); b85$rec <- +(b85$status == 1)
k <- transform(cgd, gamma = +(treat == "rIFN-g"), auto = +(inherit == "autosomal"), hos = as.numeric(hos.cat))
k$order <- pmin(k$enum, 3)
set.seed(7)
w <- sample(0:3, nrow(v), TRUE)
small <- list(
  lung = keep(Surv(time, status == 2) ~ age + sex + ph.ecog + wt.loss, l, c("age", "sex", "ph.ecog", "wt.loss")),
  lungStrata = keep(Surv(time, status == 2) ~ age + ph.ecog + strata(sex), l, c("age", "ph.ecog"), stratum = l$sex),
  lungMonths = keep(Surv(ceiling(time / 30), status == 2) ~ age + sex + ph.ecog, l, c("age", "sex", "ph.ecog"), cluster = l$inst),
  lungBreslow = keep(Surv(ceiling(time / 30), status == 2) ~ age + sex + ph.ecog, l, c("age", "sex", "ph.ecog"), cluster = l$inst, ties = "breslow"),
  veteran = keep(Surv(time, status) ~ trt + karno + diagtime + age + prior + squamous + small + adeno, v,
    c("trt", "karno", "diagtime", "age", "prior", "squamous", "small", "adeno")),
  veteranOffset = keep(Surv(time, status) ~ trt + age + offset(-0.03 * karno), v, c("trt", "age"), offset = -0.03 * v$karno),
  veteranCounts = keep(Surv(time, status) ~ trt + karno + age, v, c("trt", "karno", "age"), weights = w),
  bladder = keep(Surv(stop, event) ~ rx + size + number + strata(enum), b, c("rx", "size", "number"), stratum = b$enum, cluster = b$id),
  bladderEntry = keep(Surv(start, stop, rec) ~ thio + number + size, b85, c("thio", "number", "size"), entry = b85$start, cluster = b85$id),
  cgd = keep(Surv(tstart, tstop, status) ~ gamma + auto + age + steroids, k, c("gamma", "auto", "age", "steroids"), entry = k$tstart, cluster = k$id),
  cgdStrata = keep(Surv(tstart, tstop, status) ~ gamma + age + strata(order), k, c("gamma", "age"), entry = k$tstart, stratum = k$order, cluster = k$id))
# Seven observations whose likelihood rises for ever along a ridge (a to minus
# infinity, b with it), with late entry: log-likelihood and information on the way.
# From about a = -30 on R's own sums lose the small risks to rounding.
ridge <- data.frame(a = c(-0.5, 0.0625, 0.00390625, -1, 0.0625, 0.0625, 0.125), b = c(0, 0, 1, 0, 0, 0, 0),
  off = c(1, 1, 1, 1, 1, 1, 0.25), s = c(3, 4, 4, 4, 4, 4, 3), entry = c(0, 0, 0, 1, 0, 0, 0),
  time = c(1, 1, 1, 2, 2, 2, 1), event = c(1, 1, 1, 1, 0, 0, 0))
along <- lapply(c(0, -2, -5, -10), function(a) {
  f <- suppressWarnings(coxph(Surv(entry, time, event) ~ a + b + offset(off) + strata(s), ridge,
    init = c(a, 0.2), control = coxph.control(iter.max = 0, toler.chol = 1e-16)))
  list(at = c(a, 0.2), loglik = f$loglik[2], model = unname(f$var))
})
f <- suppressWarnings(coxph(Surv(entry, time, event) ~ a + b + offset(off) + strata(s), ridge, control = control))
cat(toJSON(list(r = R.version.string, survival = as.character(packageVersion("survival")), fits = small,
  ridge = list(rows = ridge, along = along, loglik = f$loglik, score = f$score)), digits = I(16), auto_unbox = TRUE, na = "null"), "\n")
