# Simulation-extrapolation written out in R, on made-up data and stored noise, so that
# the same draws can be used elsewhere.
library(jsonlite)
set.seed(5)
n <- 40; added <- c(.5, 1, 1.5, 2); reps <- 10; sd <- .7
truth <- rnorm(n, 3, 1); x <- round(truth + rnorm(n, 0, sd), 3); y <- round(1 - .8 * truth + rnorm(n, 0, .5), 3)
noise <- array(round(rnorm(length(added) * reps * n), 3), c(length(added), reps, n))
fit <- function(x) summary(lm(y ~ x))$coefficients[2, 1:2]^c(1, 2)
one <- function(a) {
  f <- sapply(1:reps, function(b) fit(x + sqrt(added[a]) * sd * noise[a, b, ]))
  c(mean(f[1, ]), mean(f[2, ]) - var(f[1, ]))
}
points <- cbind(fit(x), sapply(seq_along(added), one)); l <- c(0, added)
back <- function(v) sum(coef(lm(v ~ l + I(l^2))) * c(1, -1, 1))
# a + b/(c + l): for a given c a straight line in 1/(c + l); c by a line search.
line <- function(c) lm(v ~ I(1 / (c + l)), list(v = points[1, ], l = l))
u <- optimize(function(u) deviance(line(1 + exp(u))), c(-3, 4), tol = 1e-12)$minimum
pole <- 1 + exp(u)
cat(toJSON(list(r = R.version.string, x = x, y = y, sd = sd, added = added, noise = noise, curve = points[1, ],
  quadratic = back(points[1, ]), variance = back(points[2, ]), rational = sum(coef(line(pole)) * c(1, 1 / (pole - 1))), pole = pole), auto_unbox = TRUE, digits = NA), "\n")
