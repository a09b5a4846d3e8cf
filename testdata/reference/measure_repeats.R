# Repeated readings: variance components, reliability, limits of agreement.
# Data of Bland & Altman 1996 (peak flow, four readings of 20 children), Shrout & Fleiss
# 1979 (table 2) and Bland & Altman 1986 (two meters) as remembered; the analysis of
# variance printed in the papers confirms them. "uneven" is made up.
suppressPackageStartupMessages({library(jsonlite); library(lme4); library(epiR)})
flow <- list(c(190,220,200,200), c(220,200,240,230), c(260,260,240,280), c(210,300,280,265), c(270,265,280,270),
  c(280,280,270,275), c(260,280,280,300), c(275,275,275,305), c(280,290,300,290), c(320,290,300,290),
  c(300,300,310,300), c(270,250,330,370), c(320,330,330,330), c(335,320,335,375), c(350,320,340,365),
  c(360,320,350,345), c(330,340,380,390), c(335,385,360,370), c(400,420,425,420), c(430,460,480,470))
judges <- list(c(9,2,5,8), c(6,1,3,2), c(8,4,6,8), c(7,1,2,6), c(10,5,6,9), c(6,2,4,7))
uneven <- list(c(3.5,4), c(2,2.5,3), 5, c(1,1), c(4,6,5,5,4.5), c(2.5,3.5), 3, c(7,6))
large <- c(494,395,516,434,476,557,413,442,650,433,417,656,267,478,178,423,427)
mini <- c(512,430,520,428,500,600,364,380,658,445,432,626,260,477,259,350,451)

analyse <- function(groups) {
  y <- unlist(groups); n <- lengths(groups); g <- factor(rep(seq_along(groups), n))
  a <- anova(lm(y ~ g)); ss <- a[["Sum Sq"]]; ms <- a[["Mean Sq"]]; df <- a[["Df"]]
  N <- sum(n); n0 <- (N - sum(n^2) / N) / (length(n) - 1)
  va <- (ms[1] - ms[2]) / n0; ve <- ms[2]
  # Variances of the mean squares from traces: Var(y'Ay) = 2 tr(AVAV) for normal y.
  V <- va * outer(g, g, "==") + ve * diag(N)
  P <- outer(g, g, "==") / n[g]; J <- matrix(1 / N, N, N)
  mv <- function(A, d) { M <- A %*% V; 2 * sum(M * t(M)) / d^2 }
  vb <- mv(P - J, df[1]); vw <- mv(diag(N) - P, df[2])
  se <- function(m) {
    f <- function(x) { a <- (x[1] - x[2]) / n0; a / (a + x[2] / m) }
    h <- 1e-5 * ms; gr <- sapply(1:2, function(i) { e <- replace(c(0, 0), i, h[i]); (f(ms + e) - f(ms - e)) / (2 * h[i]) })
    c(f(ms), sqrt(gr[1]^2 * vb + gr[2]^2 * vw))
  }
  Fv <- ms[1] / ms[2]; lim <- c(Fv / qf(.975, df[1], df[2]), Fv * qf(.975, df[2], df[1]))
  list(groups = groups, ss = ss, df = df, squares = sum(n^2), cubes = sum(n^3), sd = sqrt(ve), sd_low = sqrt(ss[2] / qchisq(.975, df[2])),
    sd_high = sqrt(ss[2] / qchisq(.025, df[2])), coefficient = qnorm(.975) * sqrt(2 * ve), icc = se(1), icc3 = se(3),
    icc_low = (lim[1] - 1) / (lim[1] + n0 - 1), icc_high = (lim[2] - 1) / (lim[2] + n0 - 1), f = Fv)
}
flat <- data.frame(y = unlist(flow), g = factor(rep(1:20, each = 4)))
components <- as.data.frame(VarCorr(lmer(y ~ 1 + (1 | g), flat, control = lmerControl(optCtrl = list(xtol_abs = 1e-12, ftol_abs = 1e-14)))))$vcov
d <- large - mini; n <- length(d); s <- sd(d); z <- qnorm(.975)
reach <- qt(.975, n - 1) * s * sqrt(1 / n + z^2 / (2 * (n - 1)))
e <- epi.ccc(large, mini)$sblalt
cat(toJSON(list(r = R.version.string, lme4 = as.character(packageVersion("lme4")), epiR = as.character(packageVersion("epiR")),
  flow = analyse(flow), judges = analyse(judges), uneven = analyse(uneven), components = components,
  agreement = list(differences = d, bias = mean(d), sd = s, bias_limits = as.numeric(t.test(d)$conf.int),
    lower = mean(d) - z * s, upper = mean(d) + z * s, reach = reach, epir = as.numeric(e[1, ]), epir_names = names(e))), auto_unbox = TRUE, digits = NA), "\n")
