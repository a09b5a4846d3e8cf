# Reference values for what follows a fit: robust covariance after negative binomial,
# logistic and Firth fits, small-sample tests, score and likelihood-ratio tests,
# dispersion, offsets, standardisation and the spline curve.
suppressMessages({library(MASS); library(sandwich); library(clubSandwich); library(brglm2); library(rms); library(jsonlite)})
vers <- function(p) as.character(packageVersion(p))
control <- glm.control(1e-14, 200)
frame <- function(fit, cluster = NULL) list(names = names(coef(fit)), x = unname(model.matrix(fit)), y = as.numeric(fit$y),
  offset = if (is.null(fit$offset)) rep(0, length(fit$y)) else as.numeric(fit$offset), coef = unname(coef(fit)),
  model = unname(vcov(fit)), loglik = as.numeric(logLik(fit)), cluster = if (is.null(cluster)) NULL else as.numeric(factor(cluster)))
robust <- function(fit, g) list(hc0 = unname(vcovHC(fit, "HC0")), hc1 = unname(vcovHC(fit, "HC1")),
  cr0 = unname(vcovCL(fit, g, type = "HC0", cadjust = FALSE)), cr1 = unname(vcovCL(fit, g, type = "HC0")))
# clubSandwich where it takes the fit; tests of every coefficient and of all but the intercept.
small <- function(fit, g) {
  V <- vcovCR(fit, g, "CR2"); p <- length(coef(fit)); s <- coef_test(fit, V, test = "Satterthwaite")
  w <- Wald_test(fit, constrain_zero(2:p), V, test = "HTZ"); w2 <- Wald_test(fit, constrain_zero(2:3), V, test = "HTZ")
  list(cr2 = unname(as.matrix(unclass(V))[, ]), df = s$df_Satt, p = s$p_Satt,
    joint = c(w$Fstat, w$df_num, w$df_denom, w$p_val), pair = c(w2$Fstat, w2$df_num, w2$df_denom, w2$p_val))
}
epil$t <- as.numeric(epil$trt == "progabide")
epil$log <- log(1 + (epil$subject %% 4))
birthwt$g <- birthwt$age
pois <- glm(y ~ lbase + t + lage + offset(log), poisson, epil, control = control)
pois0 <- glm(y ~ lbase + offset(log), poisson, epil, control = control)
nb <- glm.nb(y ~ lbase + t + lage + offset(log), epil, control = control)
nb0 <- glm.nb(y ~ lbase + offset(log), epil, control = control)
logi <- glm(low ~ lwt + smoke + ht, binomial, birthwt, control = control)
logi0 <- glm(low ~ lwt, binomial, birthwt, control = control)
data(endometrial)
endo <- glm(HG ~ NV + PI + EH, binomial, endometrial, method = "brglmFit", type = "AS_mean", epsilon = 1e-13, maxit = 1000)
gendo <- seq_len(nrow(endometrial)) %% 25
# The sandwich of the binomial score (not of Firth's modified one) with the fit's own bread.
plain <- function(fit, g) { s <- rowsum(model.matrix(fit) * (fit$y - fitted(fit)), g); vcov(fit) %*% crossprod(s) %*% vcov(fit) }
lr <- function(a, b) { v <- 2 * as.numeric(logLik(a) - logLik(b)); k <- length(coef(a)) - length(coef(b)); c(v, k, pchisq(v, k, lower.tail = FALSE)) }
rao <- function(b, a) { v <- anova(b, a, test = "Rao"); c(v$Rao[2], v$Df[2], v$`Pr(>Chi)`[2]) }
# Rao's statistic after glm.nb, theta held: score and expected information by hand.
raonb <- { Z <- model.matrix(nb); mu <- fitted(nb0); d <- 1 + mu / nb0$theta; s <- crossprod(Z, (epil$y - mu) / d)
  v <- drop(t(s) %*% solve(crossprod(Z, Z * mu / d), s)); c(v, 2, pchisq(v, 2, lower.tail = FALSE)) }
raoone <- rao(logi0, update(logi0, . ~ . + ht))
standard <- function(fit, V, column, inverse, derivative) { X <- model.matrix(fit); b <- coef(fit); o <- if (is.null(fit$offset)) 0 else fit$offset
  at <- function(v) { Z <- X; Z[, column] <- v; e <- drop(Z %*% b) + o; list(m = mean(inverse(e)), g = colMeans(derivative(e) * Z)) }
  a <- at(1); r <- at(0); gd <- a$g - r$g; gl <- a$g / a$m - r$g / r$m
  c(a$m, r$m, a$m - r$m, sqrt(drop(t(gd) %*% V %*% gd)), a$m / r$m, sqrt(drop(t(gl) %*% V %*% gl))) }
# Counts above 2000, where sums over 0..y-1 give way to gamma functions.
set.seed(4); big <- data.frame(x = rep(0:1, 40)); big$y <- rnbinom(80, size = 3, mu = 4000 * exp(0.3 * big$x)); bignb <- glm.nb(y ~ x, big, control = control)
knots <- quantile(birthwt$lwt, c(.05, .35, .65, .95), names = FALSE)
dd <- datadist(birthwt); dd$limits["Adjust to", "lwt"] <- 120; options(datadist = "dd")
rcsfit <- lrm(low ~ rcs(lwt, knots) + smoke, birthwt, x = TRUE, y = TRUE, eps = 1e-12, tol = 1e-14, maxit = 100)
xs <- c(85, 100, 120, 150, 187, 250)
curve <- contrast(rcsfit, list(lwt = xs, smoke = 0), list(lwt = 120, smoke = 0))
an <- anova(rcsfit)
cat(toJSON(list(r = R.version.string, versions = sapply(c("MASS", "sandwich", "clubSandwich", "brglm2", "rms"), vers),
  poisson = c(frame(pois, epil$subject), robust(pois, epil$subject), small(pois, epil$subject)),
  nb = c(frame(nb, epil$subject), robust(nb, epil$subject), small(nb, epil$subject), list(theta = nb$theta,
    standard = standard(nb, vcovCL(nb, epil$subject, type = "HC0"), "t", exp, exp))),
  logistic = c(frame(logi, birthwt$g), robust(logi, birthwt$g), small(logi, birthwt$g), list(
    standard = standard(logi, vcovCL(logi, birthwt$g, type = "HC0"), "smoke", plogis, dlogis))),
  firth = c(frame(endo, gendo), list(cr0 = unname(plain(endo, gendo)), hc0 = unname(plain(endo, seq_along(gendo))),
    standard = standard(endo, plain(endo, gendo), "NV", plogis, dlogis))),
  big = c(frame(bignb), list(theta = bignb$theta, thetase = attr(theta.ml(bignb$y, fitted(bignb), limit = 100, eps = 1e-12), "SE"))),
  tests = list(lrpoisson = lr(pois, pois0), lrnb = lr(nb, nb0), lrlogistic = lr(logi, logi0), raopoisson = rao(pois0, pois),
    raologistic = rao(logi0, logi), raonb = raonb, raoone = raoone),
  dispersion = c(summary(glm(y ~ lbase + t + lage + offset(log), quasipoisson, epil, control = control))$dispersion,
    sum(residuals(nb, "pearson")^2) / nb$df.residual),
  curve = list(lwt = birthwt$lwt, smoke = birthwt$smoke, low = birthwt$low, knots = knots, xs = xs, contrast = unname(curve$Contrast),
    se = unname(curve$SE), low95 = unname(curve$Lower), high95 = unname(curve$Upper),
    flat = unname(an["lwt", c("Chi-Square", "d.f.", "P")]), straight = unname(an[" Nonlinear", c("Chi-Square", "d.f.", "P")]))),
  digits = NA, auto_unbox = TRUE, null = "null"))
