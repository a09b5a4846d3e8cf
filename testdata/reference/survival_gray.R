# Gray's test on a published example: relapse and death from transplantation in 177
# patients with acute leukaemia, lymphoblastic (all) or myeloid (aml), months; Scrucca,
# Santucci & Aversa 2010, Bone Marrow Transplant 45:1388, who print 2.8623 (P 0.0907) for
# relapse and 0.4481 (P 0.5032) for death.
suppressPackageStartupMessages({library(cmprsk); library(jsonlite)})
months <- list(
  all = list(
    censored = c(16.13, 16.83, 19.9, 24.77, 29.2, 35.5, 43.67, 45.3, 56.6, 71.83, 72.93, 82.6, 112.23, 121.1, 123.9,
      124.83, 131.77),
    relapse = c(1.1, 1.23, 1.67, 1.7, 1.8, 1.87, 2, 2.23, 2.4, 2.53, 2.87, 3.07, 3.57, 3.63, 4.07, 4.23, 5.37, 6.13,
      7.53, 7.57, 7.63, 7.93, 8.63, 9.43, 10.3, 13.07, 17.23, 20.83),
    died = c(0.27, 0.37, 0.4, 0.67, 0.87, 1.1, 1.43, 1.47, 1.7, 2.23, 2.7, 2.8, 3.23, 3.3, 3.43, 3.63, 4.17, 5.43, 6,
      6.03, 6.6, 7.47, 7.5, 8, 8.17, 10.53, 12.17, 24.03)),
  aml = list(
    censored = c(9.97, 10.2, 14.5, 15.17, 16.6, 26.13, 28.7, 29.9, 32.63, 35.5, 41.3, 42.5, 43.2, 49.27, 58, 58.23,
      59.17, 67.8, 68.83, 70.2, 76.03, 77, 81.67, 85.1, 106.13, 110.37, 112.93, 114.1, 114.7),
    relapse = c(1.2, 1.3, 1.6, 1.87, 2.03, 2.3, 2.53, 3.03, 4.2, 4.73, 5, 5.6, 5.63, 5.7, 5.87, 6, 6.07, 6.2, 6.63, 7,
      7.63, 9.13, 9.5, 12.27, 12.57, 28.53, 35, 42.17),
    died = c(0.13, 0.87, 1, 1.23, 1.47, 1.77, 1.97, 2, 2.3, 2.8, 2.83, 3.17, 3.4, 3.47, 3.5, 3.57, 3.57, 3.6, 3.7,
      3.9, 3.93, 4.4, 4.4, 4.57, 4.57, 4.8, 5.23, 5.27, 6.1, 6.3, 6.33, 6.7, 7.2, 7.2, 7.63, 8.6, 8.73, 8.8, 9, 9.17,
      9.2, 9.63, 9.97, 10.9, 11.8, 13.8, 20.93)))
kinds <- c(censored = 0, relapse = 1, died = 2)
long <- do.call(rbind, lapply(names(months), function(d) do.call(rbind, lapply(names(kinds), function(k)
  data.frame(disease = d, time = months[[d]][[k]], kind = kinds[[k]])))))
f <- cuminc(long$time, long$kind, long$disease)
at <- c(3, 6, 12, 60)
cat(toJSON(list(r = R.version.string, cmprsk = as.character(packageVersion("cmprsk")), months = months,
  test = unname(f$Tests[, "stat"]), p = unname(f$Tests[, "pv"]), at = at,
  relapse = unname(timepoints(f[c("all 1", "aml 1")], at)$est), variance = unname(timepoints(f[c("all 1", "aml 1")], at)$var)),
  digits = NA, auto_unbox = TRUE), "\n")
