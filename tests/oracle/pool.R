# Reference for the pooling of cars: metafor 3.8-1 (W. Viechtbauer, Journal of Statistical Software 36
# (2010)) and its data, from Debian (r-cran-metafor, r-cran-metadat).
#
#     Rscript pool.R DATA.csv UN|DIAG     rows: car, axis, y, then the covariance of the car's rows
#     Rscript pool.R bcg
#
# Prints means, their covariance and the covariance between cars, 12 digits, one line each.
suppressMessages(library(metafor))
args <- commandArgs(TRUE)
show <- function(m) cat(sprintf("%.12g", as.vector(t(m))), "\n")
control <- list(optimizer = "optim", optmethod = "BFGS", reltol = 1e-16, maxit = 10000)
if (args[1] == "bcg") {
  dat <- escalc(measure = "RR", ai = tpos, bi = tneg, ci = cpos, di = cneg, data = metadat::dat.bcg)
  fit <- rma(yi, vi, data = dat, method = "REML", control = list(threshold = 1e-12, maxiter = 1000))
  show(dat$yi); show(dat$vi); show(fit$beta); show(fit$vb); show(fit$tau2)
} else {
  dat <- read.csv(args[1])
  blocks <- lapply(split(dat, dat$car), function(d) as.matrix(d[, 4 + seq_len(nrow(d)) - 1]))
  V <- bldiag(blocks)
  fit <- rma.mv(y, V, mods = ~ factor(axis) - 1, random = ~ factor(axis) | car, struct = args[2],
                data = dat, method = "REML", control = control)
  show(fit$beta); show(fit$vb); show(fit$G)
}
