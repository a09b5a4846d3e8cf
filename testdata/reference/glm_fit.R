# Reference fits for the models on covariate patterns: glm, MASS::glm.nb, sandwich,
# clubSandwich, brglm2, and own code for the profile of Firth's penalised
# likelihood and for standardisation, which none of these packages gives.
suppressMessages({library(MASS); library(sandwich); library(clubSandwich); library(brglm2); library(jsonlite); library(Hmisc)})
vers <- function(p) as.character(packageVersion(p))
frame <- function(fit, cluster = NULL) list(names = names(coef(fit)), x = unname(model.matrix(fit)),
  y = as.numeric(fit$y), coef = unname(coef(fit)), model = unname(vcov(fit)), loglik = as.numeric(logLik(fit)), cluster = cluster)
robust <- function(fit, g) list(hc0 = unname(vcovHC(fit, "HC0")), hc1 = unname(vcovHC(fit, "HC1")),
  cr0 = unname(vcovCL(fit, g, type = "HC0", cadjust = FALSE)), cr1 = unname(vcovCL(fit, g, type = "HC0")),
  cr2 = unname(as.matrix(unclass(vcovCR(fit, g, "CR2")))[, ]))
tight <- glm.control(1e-14, 200)
epil$t <- as.numeric(epil$trt == "progabide")
pois <- glm(y ~ lbase * t + lage + V4, poisson, epil, control = tight)
birthwt$g <- birthwt$age
logi <- glm(low ~ age + lwt + smoke + ht, binomial, birthwt, control = tight)
nb <- function(formula, data) { f <- glm.nb(formula, data, control = glm.control(1e-14, 200))
  c(frame(f), list(theta = f$theta,
    # glm.nb keeps the standard error of the last but one step; theta.ml redone tightly.
    thetase = attr(theta.ml(f$y, fitted(f), limit = 100, eps = 1e-12), "SE"))) }
long <- glm(round(Employed) ~ GNP.deflator + GNP + Unemployed + Armed.Forces + Population + Year, poisson, longley, control = tight)
data(endometrial)
endo <- glm(HG ~ NV + PI + EH, binomial, endometrial, method = "brglmFit", type = "AS_mean", epsilon = 1e-13, maxit = 1000)
# Profile of the penalised likelihood: Newton on the modified score with column j held.
penalised <- function(X, y, j, bj) {
  b <- rep(0, ncol(X)); b[j] <- bj; free <- setdiff(seq_len(ncol(X)), j)
  for (i in 1:500) {
    p <- plogis(drop(X %*% b)); w <- p * (1 - p); I <- crossprod(X, w * X)
    h <- w * rowSums((X %*% solve(I)) * X)
    s <- crossprod(X, y - p + h * (0.5 - p))[free]
    d <- solve(I[free, free], s); d <- d * min(1, 2 / max(abs(d))); b[free] <- b[free] + d
    if (max(abs(d)) < 1e-12) break
  }
  p <- plogis(drop(X %*% b)); sum(dbinom(y, 1, p, log = TRUE)) + 0.5 * determinant(crossprod(X, p * (1 - p) * X))$modulus[1]
}
X <- model.matrix(endo); y <- endo$y; top <- penalised(X, y, 1, coef(endo)[1])
limits <- t(sapply(seq_along(coef(endo)), function(j) { b <- coef(endo)[j]; s <- sqrt(diag(vcov(endo)))[j]
  f <- function(v) 2 * (top - penalised(X, y, j, v)) - qchisq(0.95, 1)
  c(uniroot(f, c(b - 8 * s, b), tol = 1e-11)$root, uniroot(f, c(b, b + 8 * s), tol = 1e-11)$root) }))
standard <- function(fit, V, column) { X <- model.matrix(fit); b <- coef(fit)
  at <- function(v) { Z <- X; Z[, "t"] <- v; Z[, "lbase:t"] <- v * X[, "lbase"]; m <- exp(drop(Z %*% b)); list(m = mean(m), g = colMeans(m * Z)) }
  a <- at(1); r <- at(0); gd <- a$g - r$g; gl <- a$g / a$m - r$g / r$m
  list(means = c(a$m, r$m), difference = a$m - r$m, sediff = sqrt(drop(t(gd) %*% V %*% gd)), ratio = a$m / r$m, selog = sqrt(drop(t(gl) %*% V %*% gl))) }
knots <- quantile(birthwt$lwt, c(.05, .35, .65, .95), names = FALSE)
spline <- rcspline.eval(birthwt$lwt, knots = knots, inclx = TRUE, norm = 2)
cat(toJSON(list(r = R.version.string, versions = sapply(c("MASS", "sandwich", "clubSandwich", "brglm2", "Hmisc"), vers),
  poisson = c(frame(pois, as.numeric(epil$subject)), robust(pois, epil$subject)),
  logistic = c(frame(logi, birthwt$g), robust(logi, birthwt$g)),
  quine = nb(Days ~ Sex + Age + Eth + Lrn, quine), epil = nb(y ~ lbase * t + lage + V4, epil),
  longley = frame(long), firth = c(frame(endo), list(limits = unname(limits), penalised = top,
    profile = sapply(seq_along(coef(endo)), function(j) 2 * (top - penalised(X, y, j, 0))))),
  standard = standard(pois, vcovCL(pois, epil$subject, type = "HC0")),
  spline = list(x = birthwt$lwt, knots = knots, basis = matrix(as.numeric(spline), nrow(spline)))), digits = NA, auto_unbox = TRUE, null = "null"))
