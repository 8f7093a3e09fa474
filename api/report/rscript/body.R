# Reads the exported tables beside it and computes the treatment statements and
# the comparisons again, from the plots, with base R and the package survival.
# Writes second_opinion.csv: every row that it recomputes with both answers.
# Methods and equations: docs/methods/inference.md and comparisons.md.

suppressPackageStartupMessages(library(survival))

alpha <- 1 - level
z <- qnorm(1 - alpha / 2)
text <- function(x) ifelse(is.na(x), "", as.character(x))
table_of <- function(file, words) {
  d <- read.csv(file, stringsAsFactors = FALSE, na.strings = character(0), colClasses = "character")
  for (n in setdiff(names(d), words)) d[[n]] <- suppressWarnings(as.numeric(d[[n]]))
  d
}
has <- function(flags, word) grepl(paste0("(^| )", word, "($|[ =])"), flags)

# Plots: headline rows that count, with their place in the season.
plots <- table_of("plot_results.csv", c("dataset", "season", "event", "run", "plot", "treatment", "block", "metric", "method", "headline", "unit", "censored", "flags"))
plots <- plots[plots$headline == "true" & !has(plots$flags, "excluded"), ]
place <- function(d) paste(d$dataset, d$run, d$plot, sep = "\r")
i <- match(place(plots), place(places))
plots <- plots[!is.na(i), ]
i <- i[!is.na(i)]
plots$scope <- places$scope[i]
plots$season_scope <- places$season[i]
plots$label <- places$label[i]
plots$soil <- places$soil[i]
plots$crew <- places$crew[i]
plots$simulator <- places$simulator[i]
plots$day <- suppressWarnings(as.numeric(places$day[i]))
i <- match(paste(place(plots), plots$metric, sep = "\r"), paste(place(shared), shared$metric, sep = "\r"))
plots$s <- ifelse(is.na(i), 0, shared$u_shared[i])
plots$u[is.na(plots$u)] <- 0
plots$s <- pmin(plots$s, plots$u)
plots <- plots[order(plots$dataset, plots$run, plots$plot, plots$method, method = "radix"), ]
parts <- split(seq_len(nrow(plots)), paste(plots$scope, plots$label, plots$metric, sep = "\r"))

# Runs on one body of soil are one unit: their mean, or the first where one is a bound.
joined <- function(g) {
  if (nrow(g) > 1 && all(g$censored == "none")) {
    m <- mean(g$value)
    s <- sqrt(sum(g$s^2)) / nrow(g)
    u <- sqrt(sum(g$u^2)) / nrow(g)
    g <- g[1, ]
    g$value <- g$lo <- g$hi <- m
    g$s <- s
    g$u <- u
  }
  g[1, ]
}
# One cell of several events.
merged <- function(cells) {
  d <- do.call(rbind, cells)
  body <- ifelse(d$soil == "", paste("row", seq_len(nrow(d))), paste("soil", d$soil))
  do.call(rbind, lapply(unique(body), function(b) joined(d[body == b, ])))
}
# Events that share soil hang together: the number of the cluster of each. Lists of
# cells, one for each treatment.
hang <- function(...) {
  lists <- list(...)
  n <- length(lists[[1]])
  soil <- lapply(seq_len(n), function(e) unlist(lapply(lists, function(l) l[[e]]$soil[l[[e]]$soil != ""])))
  root <- seq_len(n)
  for (i in seq_len(n)) for (j in seq_len(i - 1)) if (length(intersect(soil[[i]], soil[[j]])))
    root[root == max(root[i], root[j])] <- min(root[i], root[j])
  match(root, unique(root))
}

# The units of one treatment and metric in one event.
cache <- new.env()
cell <- function(metric, scope, label) {
  name <- paste(scope, label, metric, sep = "\r")
  if (!is.null(cache[[name]])) return(cache[[name]])
  d <- plots[parts[[name]], ]
  d <- d[!is.na(d$value), ]
  d$lo <- ifelse(d$censored == "left", -Inf, d$value)
  d$hi <- ifelse(d$censored == "right", Inf, d$value)
  k <- d$censored == "interval" & !is.na(d$low) & !is.na(d$high) & d$low <= d$value & d$value <= d$high
  d$lo[k] <- d$low[k]
  d$hi[k] <- d$high[k]
  body <- ifelse(d$soil == "", paste("plot", d$dataset, d$plot, sep = "\r"), paste("soil", d$soil, sep = "\r"))
  out <- lapply(unique(body), function(b) joined(d[body == b, ]))
  d <- if (length(out)) do.call(rbind, out) else d
  d$key <- paste(d$dataset, d$run, sep = "\r")
  cache[[name]] <- d
  d
}

# Errors that plots of a run share.
hidden <- function(d, s) {
  n <- nrow(d)
  if (n < 2) return(0)
  max(0, (sum(tapply(s, d$key, sum)^2) - sum(s^2)) / (n * (n - 1)))
}
# The uncertainty that the measurement gives a mean.
measured <- function(d) sqrt(sum(d$u^2 - d$s^2) + sum(tapply(d$s, d$key, sum)^2)) / nrow(d)
hidden_pair <- function(x, y, sx, sy) {
  hx <- hidden(x, sx); hy <- hidden(y, sy)
  if (hx == 0 && hy == 0) return(0)
  a <- tapply(sx, x$key, sum)
  cov <- sum(sy * ifelse(y$key %in% names(a), a[y$key], 0)) / (nrow(x) * nrow(y))
  h <- hx + hy - 2 * cov
  if (h < 1e-9 * (hx + hy)) 0 else h
}
widen <- function(r, h) {
  c(r[1], r[1] - sqrt((r[1] - r[2])^2 + z^2 * h), r[1] + sqrt((r[3] - r[1])^2 + z^2 * h))
}
t_interval <- function(y, a = alpha) {
  n <- length(y)
  m <- mean(y)
  if (n < 2) return(c(m, NA, NA))
  h <- qt(1 - a / 2, n - 1) * sd(y) / sqrt(n)
  c(m, m - h, m + h)
}
# Half the error for three plots that are all known, where larger values would be bounds.
error_of <- function(d, metric) if (metric %in% ends_with_rain && nrow(d) == 3 && all(d$censored == "none")) alpha / 2 else alpha
# The mean of a skewed positive sample with limits as wide as those of a log-normal mean.
skewed <- function(y) {
  if (length(y) < 2 || min(y) <= 0) return(t_interval(y))
  n <- length(y); v <- var(log(y))
  h <- qt(1 - alpha / 2, n - 1) * sqrt(v / n + v^2 / (2 * (n - 1)))
  mean(y) * exp(c(0, -h, h))
}
# The mean of values between 0 and top, limits by the logit.
bounded <- function(y, top) {
  r <- t_interval(y)
  p <- r[1] / top
  if (is.na(r[2]) || p <= 0 || p >= 1) return(c(r[1], NA, NA))
  h <- (r[3] - r[1]) / (top * p * (1 - p))
  c(r[1], top * plogis(qlogis(p) - h), top * plogis(qlogis(p) + h))
}

# Likelihood of normal values of which some are bounds.
likelihood <- function(lo, hi) {
  seen <- which(lo == hi); right <- which(hi == Inf); left <- which(lo == -Inf)
  between <- setdiff(seq_along(lo), c(seen, right, left))
  function(mu, sigma) {
    mu <- rep_len(mu, length(lo))
    l <- sum(dnorm(lo[seen], mu[seen], sigma, log = TRUE)) +
      sum(pnorm(lo[right], mu[right], sigma, lower.tail = FALSE, log.p = TRUE)) + sum(pnorm(hi[left], mu[left], sigma, log.p = TRUE))
    if (length(between)) {
      a <- (lo[between] - mu[between]) / sigma; b <- (hi[between] - mu[between]) / sigma
      up <- a > 0
      l <- l + sum(log(pnorm(ifelse(up, -a, b)) - pnorm(ifelse(up, -b, a))))
    }
    l
  }
}
# Intercept, scale and slope: survreg's, or where it does not converge those of a
# direct search.
location_scale <- function(lo, hi, x = NULL) {
  s <- Surv(ifelse(is.finite(lo), lo, NA), ifelse(is.finite(hi), hi, NA), type = "interval2")
  control <- survreg.control(rel.tolerance = 1e-12, maxiter = 200)
  f <- tryCatch(if (is.null(x)) survreg(s ~ 1, dist = "gaussian", control = control) else survreg(s ~ x, dist = "gaussian", control = control),
                warning = function(w) NULL, error = function(e) NULL)
  if (!is.null(f)) return(c(coef(f)[[1]], f$scale, if (!is.null(x)) coef(f)[[2]]))
  loglik <- likelihood(lo, hi)
  y <- ifelse(is.finite(lo), lo, hi)
  g <- function(p) { v <- -loglik(if (is.null(x)) p[1] else p[1] + p[3] * x, exp(p[2])); if (is.finite(v)) v else 1e10 }
  p <- c(mean(y), log(sd(y) / 2))
  if (!is.null(x)) p <- c(mean(y[x == 0]), p[2], mean(y[x == 1]) - mean(y[x == 0]))
  for (k in 1:3) p <- optim(p, g, control = list(reltol = 1e-15, maxit = 20000))$par
  c(p[1], exp(p[2]), if (!is.null(x)) p[3])
}
# Maximum over intercept and scale (and x's slope unless held), then profile limits.
censored_fit <- function(lo, hi, x = NULL, df = length(lo) - 1) {
  known <- c(lo[is.finite(lo)], hi[is.finite(hi)])
  centre <- mean(range(known)); scale <- diff(range(known))
  lo <- (lo - centre) / scale; hi <- (hi - centre) / scale
  n <- length(lo)
  count <- n
  if (is.null(x) && sum(is.finite(lo) & is.finite(hi)) == 2) { df <- 1; count <- 2 } # two known values
  loglik <- likelihood(lo, hi)
  f <- location_scale(lo, hi, x)
  top <- loglik(if (is.null(x)) f[1] else f[1] + f[3] * x, f[2])
  est <- if (is.null(x)) f[1] else f[3]
  start <- c(f[1], log(f[2]))
  profile <- function(b) {
    if (is.null(x)) {
      o <- optimize(function(l) loglik(b, exp(l)), start[2] + c(-3, 12), maximum = TRUE, tol = 1e-11)
      return(o$objective)
    }
    f <- function(p) -loglik(p[1] + b * x, exp(p[2]))
    o <- optim(c(start[1] - (b - est) * mean(x), start[2] + log1p(abs(b - est)) / 2), f, method = "BFGS", control = list(reltol = 1e-14, maxit = 500))
    -optim(o$par, f, method = "BFGS", control = list(reltol = 1e-15, maxit = 500))$value
  }
  drop <- count * log1p(qt(1 - alpha / 2, df)^2 / df) / 2
  limit <- function(step) {
    out <- est + step
    for (k in 1:40) {
      if (profile(out) - top + drop < 0) break
      step <- 1.6 * step
      out <- out + step
    }
    if (profile(out) - top + drop >= 0) return(NA)
    uniroot(function(b) profile(b) - top + drop, sort(c(est, out)), tol = 1e-11)$root
  }
  step <- max(1e-3, f[2])
  p <- if (is.null(x) || TRUE) {
    zero <- if (is.null(x)) -centre / scale else 0
    2 * pt(-sqrt(max(0, df * expm1(2 * (top - profile(zero)) / count))), df)
  }
  back <- function(v) if (is.null(x)) centre + scale * v else scale * v
  c(back(est), back(limit(-step)), back(limit(step)), p)
}

times <- new.env()
common_time <- function(metric, scopes) {
  name <- paste(c(metric, scopes), collapse = "\r")
  if (is.null(times[[name]])) times[[name]] <- find_common_time(metric, scopes)
  times[[name]]
}
find_common_time <- function(metric, scopes) {
  tau <- Inf
  for (s in scopes) for (l in unique(plots$label)) {
    d <- if (is.null(parts[[paste(s, l, metric, sep = "\r")]])) next else cell(metric, s, l)
    if (any(d$censored == "right") && max(d$value) > 0) tau <- min(tau, max(d$value))
  }
  tau
}

restricted <- function(d, tau) {
  n <- nrow(d)
  s <- ifelse(d$censored == "right" | d$value > tau, 0, d$s)
  if (is.infinite(tau)) {
    m <- mean(d$value)
    if (n < 2) return(c(m, NA, NA))
    if (min(d$value) <= 0) return(widen(t_interval(d$value), hidden(d, s)))
    v <- var(log(d$value))
    h <- qt(1 - alpha / 2, n - 1) * sqrt(v / n + v^2 / (2 * (n - 1)))
    return(widen(c(m, m * exp(-h), m * exp(h)), hidden(d, s)))
  }
  f <- survfit(Surv(d$value, d$censored != "right") ~ 1)
  k <- f$time <= tau
  t <- c(0, f$time[k], tau); share <- c(1, f$surv[k])
  area <- rev(cumsum(rev(share * diff(t))))
  mu <- area[1]
  if (sum(f$n.event[k]) == 0) return(c(tau, NA, NA))
  beyond <- area[-1]
  r <- f$n.risk[k]; e <- f$n.event[k]
  v <- sum(ifelse(r > e, beyond^2 * e / (r * (r - e)), 0))
  m <- n - sum(f$n.censor[f$time < tau])
  if (m < 2 || v == 0 || mu >= tau) return(c(mu, NA, NA))
  p <- mu / tau
  h <- qt(1 - alpha / 2, m - 1) * sqrt(v * m / (m - 1)) / (tau * p * (1 - p))
  r <- widen(c(mu, tau / (1 + exp(h - qlogis(p))), tau / (1 + exp(-h - qlogis(p)))), hidden(d, s))
  c(min(tau, r[1]), max(0, r[2]), min(tau, r[3]))
}

# One statement within an event: value, low, high, and whether the value is a bound.
within_event <- function(method, statistic, d, tau, metric) {
  if (nrow(d) == 0) return(NULL)
  closed <- d[d$censored %in% c("none", "interval"), ]
  r <- switch(method,
    mean_t = widen(t_interval(d$value, error_of(d, metric)), hidden(d, d$s)),
    geometric_mean_t = { d <- d[d$value > 0, ]; if (nrow(d) == 0) return(NULL); exp(widen(t_interval(log(d$value)), hidden(d, d$s / d$value))) },
    modified_cox = {
      n <- nrow(d); l <- log(d$value); v <- if (n > 1) var(l) else 0
      h <- if (n > 1) qt(1 - alpha / 2, n - 1) * sqrt(v / n + v^2 / (2 * (n - 1))) else NA
      exp(widen(mean(l) + v / 2 + c(0, -h, h), hidden(d, d$s / d$value)))
    },
    kaplan_meier = if (statistic == "restricted_mean") restricted(d, tau) else middle(d),
    bound = if (statistic == "geometric_mean") c(exp(mean(log(d$value[d$value > 0]))), NA, NA) else c(mean(d$value), NA, NA),
    censored_normal = { r <- censored_fit(d$lo, d$hi)[1:3]; widen(r, hidden(closed, closed$s)) },
    censored_lognormal = {
      if (nrow(d) < 2) return(if (all(d$censored == "none")) c(d$value, NA, NA) else NULL)
      if (all(d$censored == "none")) return(exp(widen(t_interval(log(d$value), error_of(d, metric)), hidden(d, d$s / d$value))))
      if (nrow(closed) < 2) return(NULL)
      exp(widen(censored_fit(log(pmax(d$lo, 0)), log(d$hi))[1:3], hidden(closed, closed$s / closed$value)))
    },
    NULL)
  r
}

# The time by which half of the plots ran off; limits for enough plots.
middle <- function(d) {
  f <- survfit(Surv(d$value, d$censored != "right") ~ 1, conf.int = level, conf.type = "log-log")
  q <- quantile(f, 0.5)
  m <- unname(q$quantile)
  if (is.na(m)) return(c(max(d$value), NA, NA))
  if (min(f$surv) == 0.5 && m > max(d$value[d$censored != "right"])) m <- max(d$value[d$censored != "right"])
  if (1 - 2^(1 - nrow(d)) < level) return(c(m, NA, NA))
  c(m, unname(q$lower), unname(q$upper))
}

# Plots that events shift together, some of them bounds: the integral over each
# shift by sums over a fine grid. Limits are checked, not searched: from what the table
# has one step of Newton's on the profile.
event_likelihood <- function(groups) function(p) {
  mu <- p[1]; sigma <- exp(p[2]); k <- p[3]
  total <- 0
  for (g in groups) {
    seen <- g[, 1] == g[, 2]
    y <- g[seen, 1]; n <- length(y)
    total <- total - n * p[2]
    if (all(seen)) {
      h <- 1 + n * k^2; m <- mean(y)
      total <- total - sum((y - m)^2) / (2 * sigma^2) - log(h) / 2 - n * (m - mu)^2 / (2 * sigma^2 * h)
      next
    }
    step <- min(0.05, 0.25 / max(abs(k), 1e-3) / sqrt(nrow(g)))
    u <- seq(-9, 9, length.out = 2 * ceiling(9 / step) + 1)
    b <- mu + k * sigma * u
    l <- -u^2 / 2
    for (i in seq_len(nrow(g))) {
      lo <- (g[i, 1] - b) / sigma; hi <- (g[i, 2] - b) / sigma
      l <- l + if (seen[i]) -lo^2 / 2 else if (g[i, 2] == Inf) pnorm(lo, lower.tail = FALSE, log.p = TRUE) else if (g[i, 1] == -Inf) pnorm(hi, log.p = TRUE) else
        log(pnorm(ifelse(lo > 0, -lo, hi)) - pnorm(ifelse(lo > 0, -hi, lo)))
    }
    top <- max(l)
    total <- total + top + log(sum(exp(l - top)) * (u[2] - u[1]) / sqrt(2 * pi))
  }
  total
}
climb <- function(f, p) {
  for (i in 1:2) p <- optim(p, function(q) { v <- -f(q); if (is.finite(v)) v else 1e10 }, method = "BFGS", control = list(reltol = 1e-15, maxit = 500))$par
  d <- 1e-4
  for (i in 1:3) { # Newton's steps for the last digits
    n <- length(p); h <- matrix(0, n, n); g <- numeric(n); c0 <- f(p)
    e <- function(i, s) { v <- numeric(n); v[i] <- s; v }
    for (i in 1:n) {
      a <- f(p + e(i, d)); b <- f(p - e(i, d))
      g[i] <- (a - b) / (2 * d); h[i, i] <- (a - 2 * c0 + b) / d^2
      for (j in seq_len(i - 1)) h[i, j] <- h[j, i] <- (f(p + e(i, d) + e(j, d)) - f(p + e(i, d) - e(j, d)) - f(p - e(i, d) + e(j, d)) + f(p - e(i, d) - e(j, d))) / (4 * d^2)
    }
    s <- tryCatch(solve(h, g), error = function(e) rep(0, n))
    if (all(is.finite(s)) && max(abs(s)) < 0.05) p <- p - s
  }
  p
}
events_fit <- function(groups, stated) {
  k <- length(groups)
  if (!any(sapply(groups, function(g) sum(is.finite(g[, 1]) & is.finite(g[, 2])) > 1))) # nothing tells plots from events
    groups <- unlist(lapply(groups, function(g) lapply(seq_len(nrow(g)), function(i) g[i, , drop = FALSE])), recursive = FALSE)
  known <- unlist(lapply(groups, function(g) g[is.finite(g)]))
  centre <- mean(range(known)); scale <- diff(range(known))
  groups <- lapply(groups, function(g) (g - centre) / scale)
  stated <- (stated - centre) / scale
  f <- event_likelihood(groups)
  best <- NULL
  for (start in c(0.3, 1.5)) {
    p <- climb(f, c(stated[1], log(0.2), start))
    if (is.null(best) || f(p) > f(best)) best <- p
  }
  drop <- k * log1p(qt(1 - alpha / 2, k - 1)^2 / (k - 1)) / 2
  check <- function(m) {
    if (is.na(m)) return(NA)
    q <- climb(function(r) f(c(m, r)), best[2:3])
    other <- climb(function(r) f(c(m, r)), c(best[2], if (abs(q[2]) > 0.5) 0.1 else 1.5))
    if (f(c(m, other)) > f(c(m, q))) q <- other
    slope <- (f(c(m + 1e-4, q)) - f(c(m - 1e-4, q))) / 2e-4
    m - (f(c(m, q)) - f(best) + drop) / slope
  }
  centre + scale * c(best[1], check(stated[2]), check(stated[3]))
}

# What is known of the mean of a cell, for comparisons over events.
known_mean <- function(d, logs) {
  lo <- if (logs) log(pmax(d$lo, 0)) else d$lo
  hi <- if (logs) log(d$hi) else d$hi
  if (any(d$censored != "none") && nrow(d) > 1 && sum(is.finite(lo) & is.finite(hi)) >= 2) {
    m <- tryCatch(suppressWarnings(censored_point(lo, hi)), error = function(e) NULL)
    if (!is.null(m)) return(c(m, m))
  }
  c(mean(lo), mean(hi))
}
# The same by the likelihood with the pooled variance s2.
given_mean <- function(d, logs, s2) {
  lo <- if (logs) log(pmax(d$lo, 0)) else d$lo
  hi <- if (logs) log(d$hi) else d$hi
  n <- nrow(d)
  if (all(d$censored == "none") || n < 2 || s2 == 0) return(known_mean(d, logs))
  s <- sqrt(s2)
  if (any(is.finite(lo)) && any(is.finite(hi))) {
    f <- likelihood(lo, hi)
    slope <- function(m) (f(m + 1e-4 * s, s) - f(m - 1e-4 * s, s)) / 2e-4
    at <- range(c(lo[is.finite(lo)], hi[is.finite(hi)])) + c(-10, 10) * s
    m <- uniroot(slope, at, tol = 1e-12 * s)$root
    return(c(m, m))
  }
  k <- known_mean(d, logs)
  if (all(d$censored != "none")) k <- k + c(1, -1) * s * qnorm((n - 0.375) / (n + 0.25))
  k
}
censored_point <- function(lo, hi) {
  if (max(lo) <= min(hi)) return(NULL)
  location_scale(lo, hi)[1]
}

welch <- function(x, y, h = 0) {
  if (length(x) < 2 || length(y) < 2) return(c(mean(x) - mean(y), NA, NA, NA))
  vx <- var(x) / length(x); vy <- var(y) / length(y)
  if (vx + vy == 0) return(c(mean(x) - mean(y), NA, NA, NA))
  df <- (vx + vy)^2 / (vx^2 / (length(x) - 1) + vy^2 / (length(y) - 1))
  d <- mean(x) - mean(y)
  r <- widen(d + c(0, -1, 1) * qt(1 - alpha / 2, df) * sqrt(vx + vy), h)
  c(r, 2 * pt(-abs(d) / sqrt(vx + vy + h), df))
}
one_sample <- function(d) {
  n <- length(d)
  if (n < 2) return(c(d, NA, NA, NA))
  c(t_interval(d), 2 * pt(-abs(mean(d)) / (sd(d) / sqrt(n)), n - 1))
}
shift <- function(lo, hi) if (all(lo == hi)) one_sample(lo) else if (sum(is.finite(lo) & is.finite(hi)) < 2) rep(NA, 4) else censored_fit(lo, hi)

# REML, Hartung and Knapp's interval with its floor.
pooled <- function(y, v) {
  k <- length(y)
  score <- function(t) {
    w <- 1 / (v + t); m <- sum(w * y) / sum(w)
    sum(w^2 * (y - m)^2 - w) + sum(w^2) / sum(w)
  }
  tau2 <- 0
  if (score(0) > 0) {
    top <- max(1e-12, var(y), v)
    while (score(top) > 0) top <- 2 * top
    tau2 <- uniroot(score, c(0, top), tol = 1e-15 * top)$root
  }
  w <- 1 / (v + tau2); m <- sum(w * y) / sum(w)
  se <- sqrt(1 / sum(w)) * max(1, sqrt(sum(w * (y - m)^2) / (k - 1)))
  q <- qt(1 - alpha / 2, k - 1)
  list(c(m, m - q * se, m + q * se, 2 * pt(-abs(m / se), k - 1)), m + c(-1, 1) * q * sqrt(tau2 + se^2))
}

matched <- function(x, y, how) {
  if (how == "by_soil") {
    i <- match(x$soil, y$soil)
    k <- x$soil != "" & !is.na(i)
    return(list(x[k, ], y[i[k], ]))
  }
  b <- function(d) paste(d$dataset, ifelse(d$block != "", paste("b", d$block), paste("r", d$run)), sep = "\r")
  list(x, y[match(b(x), b(y)), ])
}

# The permutation log-rank test: plots dealt anew within each run, or where that leaves
# too few ways within each event. NA where there are too many to count.
dealt <- function(xs, ys) {
  d <- do.call(rbind, c(xs, ys))
  event <- rep(c(seq_along(xs), seq_along(ys)), c(sapply(xs, nrow), sapply(ys, nrow)))
  first <- rep(c(TRUE, FALSE), c(sum(sapply(xs, nrow)), sum(sapply(ys, nrow))))
  off <- d$censored != "right"
  ways <- function(s) prod(tapply(first, s, function(f) choose(length(f), sum(f))))
  s <- d$key
  if (min(1, 2 / ways(s)) >= alpha) s <- event
  if (ways(s) == 1 || ways(s) > 20000 || !any(off)) return(NA)
  sums <- 0; u <- 0; size <- 0
  for (k in unique(s)) {
    t <- d$value[s == k]; o <- off[s == k]; f <- first[s == k]
    score <- o - vapply(t, function(v) sum(vapply(unique(t[o & t <= v]), function(w) sum(o & t == w) / sum(t >= w), 0)), 0)
    u <- u + sum(score[f])
    size <- size + sum(abs(score))
    each <- if (sum(f) == 0) 0 else combn(length(t), sum(f), function(i) sum(score[i]))
    sums <- as.vector(outer(sums, each, "+"))
  }
  mean(abs(sums) >= abs(u) - 1e-11 * size)
}

# Cox's partial likelihood with Firth's penalty, at its highest held against survival's.
hazards <- function(xs, ys, strata) {
  d <- do.call(rbind, c(xs, ys))
  event <- rep(seq_along(xs), sapply(xs, nrow)); event <- c(event, rep(seq_along(ys), sapply(ys, nrow)))
  z <- rep(c(1, 0), c(sum(sapply(xs, nrow)), sum(sapply(ys, nrow))))
  s <- if (strata == "by_run") paste(event, d$key) else as.character(event)
  off <- d$censored != "right"
  # Efron's: of d events at one time, j = 0 .. d-1 have left; plots at risk by group.
  ones <- zeros <- numeric(0)
  for (k in unique(s)) for (u in unique(d$value[s == k & off])) {
    at <- s == k & d$value >= u; now <- s == k & off & d$value == u
    j <- (seq_len(sum(now)) - 1) / sum(now)
    ones <- c(ones, sum(z[at]) - j * sum(z[now])); zeros <- c(zeros, sum(1 - z[at]) - j * sum(1 - z[now]))
  }
  f <- function(b) {
    risk <- ones * exp(b) + zeros; share <- ones * exp(b) / risk
    b * sum(z[off]) - sum(log(risk)) + log(sum(share * (1 - share))) / 2
  }
  best <- optimize(f, c(-12, 12), maximum = TRUE, tol = 1e-10)$maximum
  slope <- function(b) (f(b + 1e-4) - f(b - 1e-4)) / 2e-4
  best <- tryCatch(uniroot(slope, best + c(-0.01, 0.01), tol = 1e-12)$root, error = function(e) best)
  top <- f(best)
  m <- suppressWarnings(coxph(Surv(d$value, off) ~ z + strata(s), init = best, control = coxph.control(iter.max = 0), ties = "efron"))
  stopifnot(abs(m$loglik[1] - log(m$var[1, 1]) / 2 - top) < 1e-8)
  m <- 0 # factors: events while both groups were at risk
  for (k in unique(s)) for (u in unique(d$value[s == k & d$censored != "right"])) {
    at <- s == k & d$value >= u
    if (any(z[at] == 1) && any(z[at] == 0)) m <- m + sum(s == k & d$value == u & d$censored != "right")
  }
  drop <- if (m > 1) m * log1p(qt(1 - alpha / 2, m - 1)^2 / (m - 1)) / 2 else z_alpha^2 / 2
  p <- function(l) if (m > 1) 2 * pt(-sqrt(max(0, (m - 1) * expm1(2 * l / m))), m - 1) else pchisq(max(0, 2 * l), 1, lower.tail = FALSE)
  fall <- function(b) f(b) - top + drop
  end <- function(side) {
    out <- best + side
    while (fall(out) > 0 && abs(out) < 60) out <- best + 1.6 * (out - best)
    if (fall(out) > 0) NA else uniroot(fall, sort(c(best, out)), tol = 1e-11)$root
  }
  c(best, end(-1), end(1), p(top - f(0)))
}
z_alpha <- qnorm(1 - alpha / 2)

# The line of effects on dates: tau2 by moments, Knapp and Hartung's errors at least those of the weights.
trend_line <- function(y, v, x) {
  k <- length(y)
  if (is.null(v)) {
    if (length(unique(x)) < 2) return(rep(NA, 4))
    m <- summary(lm(y ~ x))$coefficients
    if (nrow(m) < 2) return(rep(NA, 4))
    b <- m[2, 1]; se <- m[2, 2]
  } else {
    X <- cbind(1, x)
    gls <- function(t) {
      w <- 1 / (v + t); c <- solve(t(X) %*% (w * X)); b <- c %*% (t(X) %*% (w * y))
      list(b = b, c = c, q = sum(w * (y - X %*% b)^2), p = sum(w) - sum(diag(c %*% (t(X) %*% (w^2 * X)))))
    }
    g <- gls(0)
    tau2 <- max(0, (g$q - (k - 2)) / g$p)
    g <- gls(tau2)
    b <- g$b[2]; se <- sqrt(g$c[2, 2] * max(1, g$q / (k - 2)))
  }
  q <- qt(1 - alpha / 2, k - 2)
  c(b, b - q * se, b + q * se, 2 * pt(-abs(b / se), k - 2))
}

# Cells of a mixed model: treatments by label, with a mean in each of their events,
# and none on soil that an earlier one stood on.
model_cells <- function(metric, scopes, party, wanted) {
  labels <- sort(unique(plots$label), method = "radix")
  get <- function(s, l) {
    d <- if (is.null(parts[[paste(s, l, metric, sep = "\r")]])) return(NULL) else cell(metric, s, l)
    if (nrow(d) && wanted != "") d <- d[d$method == wanted | d$censored == "right", ]
    if (nrow(d) == 0) NULL else d
  }
  of <- if (is.null(party)) NULL else sapply(scopes, function(s) plots[[party]][match(s, plots$scope)])
  if (!is.null(of)) scopes <- scopes[of != ""]
  logs <- metric %in% ratio_metrics
  sides <- lapply(labels, function(l) Filter(Negate(is.null), setNames(lapply(scopes, get, l), scopes)))
  names(sides) <- labels
  positive <- function(d) all(d$value > 0 & d$hi > 0)
  v <- function(d) if (logs) log(d$value) else d$value
  scatter <- function(cells) {
    cells <- Filter(function(d) nrow(d) > 1 && all(d$censored == "none") && (!logs || positive(d)), cells)
    df <- sum(unlist(lapply(cells, nrow))) - length(cells)
    c(if (df > 0) sum(unlist(lapply(cells, function(d) var(v(d)) * (nrow(d) - 1)))) else 0, df)
  }
  s <- scatter(unlist(unname(sides), recursive = FALSE))
  s2 <- if (s[2] > 0) s[1] / s[2] else 0
  used <- character(0); keep <- list()
  for (l in labels) {
    cells <- sides[[l]]
    if (!length(cells)) next
    ok <- all(sapply(cells, function(d) { if (logs && !positive(d)) return(FALSE); m <- given_mean(d, logs, s2); is.finite(m[1]) && m[1] == m[2] }))
    if (!ok) next
    soil <- unlist(lapply(cells, function(d) d$soil[d$soil != ""]))
    if (any(duplicated(soil)) || any(soil %in% used)) next
    used <- c(used, soil)
    keep[[l]] <- cells
  }
  if (!length(keep)) return(NULL)
  d <- do.call(rbind, lapply(names(keep), function(l) data.frame(label = l, event = names(keep[[l]]),
    y = sapply(keep[[l]], function(d) given_mean(d, logs, s2)[1]), n = sapply(keep[[l]], nrow), stringsAsFactors = FALSE)))
  w <- scatter(unlist(unname(keep), recursive = FALSE))
  X <- sapply(names(keep), function(l) as.numeric(d$label == l))
  X <- matrix(X, nrow(d), dimnames = list(NULL, names(keep)))
  if (!is.null(of)) {
    p <- of[d$event]
    for (q in unique(p[order(match(d$event, scopes))])[-1]) X <- cbind(X, setNames(data.frame(as.numeric(p == q)), paste0(party, ":", q)))
    X <- as.matrix(X)
  }
  list(y = d$y, n = d$n, event = d$event, X = X, ss = w[1], df = w[2], logs = logs)
}

# REML by the average information, in full matrices; Satterthwaite by the observed one.
# Solves a y = g where the sizes of the rows differ by many orders; each row by itself where it cannot.
solve_scaled <- function(a, g, by = a) {
  d <- diag(as.matrix(by))
  if (all(d > 0)) {
    d <- 1 / sqrt(d)
    y <- tryCatch(d * solve(a * outer(d, d), d * g), error = function(e) NULL)
    if (!is.null(y)) return(y)
    d <- 1 / d^2
  }
  ifelse(d > 0, g / d, 0)
}

reml <- function(m) {
  if (qr(m$X)$rank < ncol(m$X) || length(m$y) < ncol(m$X) + 2) return(NULL)
  scale <- mean((m$y - mean(m$y))^2)
  y <- m$y / sqrt(scale); ss <- m$ss / scale
  V <- list(outer(m$event, m$event, "==") * 1, diag(length(y)), diag(1 / m$n))
  free <- c(TRUE, TRUE, m$df > 0 && ss > 0)
  at <- function(v) {
    S <- v[1] * V[[1]] + diag(pmax(v[2] + v[3] / m$n, 1e-12)); W <- solve(S); XWX <- t(m$X) %*% W %*% m$X; C <- solve(XWX)
    P <- W - W %*% m$X %*% C %*% t(m$X) %*% W
    Py <- P %*% y
    l <- -(determinant(S)$modulus + determinant(XWX)$modulus + sum(y * Py)) / 2
    PV <- lapply(V, function(k) P %*% k)
    g <- sapply(1:3, function(i) (sum(Py * (V[[i]] %*% Py)) - sum(diag(PV[[i]]))) / 2)
    a <- matrix(0, 3, 3); o <- a
    for (i in 1:3) for (j in 1:3) {
      a[i, j] <- sum((V[[i]] %*% Py) * (P %*% V[[j]] %*% Py)) / 2
      o[i, j] <- 2 * a[i, j] - sum(PV[[i]] * t(PV[[j]])) / 2
    }
    if (free[3]) {
      l <- l - (m$df * log(v[3]) + ss / v[3]) / 2
      g[3] <- g[3] + (ss / v[3]^2 - m$df / v[3]) / 2
      a[3, 3] <- a[3, 3] + ss / (2 * v[3]^3)
      o[3, 3] <- o[3, 3] + ss / v[3]^3 - m$df / (2 * v[3]^2)
    }
    list(v = v, l = as.numeric(l), g = g, a = a, o = o, C = C, W = W, b = C %*% t(m$X) %*% W %*% y)
  }
  try_at <- function(v) tryCatch({ s <- at(v); if (is.finite(s$l)) s else NULL }, error = function(e) NULL)
  s <- try_at(if (free[3]) c(0.3, 0.3, ss / m$df) else c(0.3, 0.5, 0))
  if (is.null(s)) return(NULL)
  for (k in 1:300) {
    on <- free & !(s$v == 0 & s$g <= 0 & c(TRUE, TRUE, FALSE))
    step <- numeric(3); step[on] <- solve_scaled(s$a[on, on, drop = FALSE], s$g[on])
    if (sum(step * s$g) < 1e-13) break
    cut <- 1; moved <- FALSE
    while (cut > 1e-10) {
      v <- s$v + cut * step; v[1:2] <- pmax(0, v[1:2]); if (!free[3]) v[3] <- 0
      n <- if (free[3] && v[3] <= 0) NULL else try_at(v)
      if (!is.null(n) && n$l > s$l) { s <- n; moved <- TRUE; break }
      cut <- cut / 2
    }
    if (!moved) break
  }
  on <- free & (s$v > 0 | c(FALSE, FALSE, TRUE))
  for (k in 1:20) { # to where the slopes are zero, which the likelihood is too flat to tell
    step <- numeric(3); step[on] <- solve_scaled(s$o[on, on, drop = FALSE], s$g[on], s$a[on, on, drop = FALSE])
    n <- if (all((s$v + step)[on] > 0)) try_at(s$v + step)
    if (is.null(n) || !(sum(abs(n$g * n$v)[on]) < sum(abs(s$g * s$v)[on]))) break
    s <- n
  }
  A <- tryCatch(solve_scaled(s$o[on, on, drop = FALSE], diag(sum(on)), s$a[on, on, drop = FALSE]), error = function(e) NULL)
  if (is.null(A)) return(NULL)
  list(contrast = function(l) {
    z <- s$W %*% m$X %*% s$C %*% l
    var <- sum(l * (s$C %*% l)); g <- sapply(V, function(k) sum(z * (k %*% z)))[on]
    df <- 2 * var^2 / sum(g * (A %*% g))
    e <- sum(l * s$b) * sqrt(scale); se <- sqrt(var * scale)
    c(e, e + c(-1, 1) * qt(1 - alpha / 2, df) * se, 2 * pt(-abs(e / se), df))
  })
}
models <- new.env()
mixed <- function(r, scopes, wanted) {
  kind <- if (has(r$flags, "between_crews")) "crew" else if (has(r$flags, "between_simulators")) "simulator" else NULL
  name <- paste(c(scopes, r$metric, wanted, kind), collapse = "\r")
  if (is.null(models[[name]])) {
    m <- model_cells(r$metric, scopes, kind, wanted)
    models[[name]] <- list(m, if (is.null(m)) NULL else reml(m))
  }
  m <- models[[name]][[1]]; f <- if (length(models[[name]]) > 1) models[[name]][[2]] else NULL
  if (is.null(f)) return(NULL)
  l <- setNames(numeric(ncol(m$X)), colnames(m$X))
  if (r$treatment %in% names(l)) l[r$treatment] <- 1
  if (r$reference %in% names(l)) l[r$reference] <- -1
  f$contrast(l)
}

# Where differences are bounds only: the mean of them, at least or at most.
bound_of <- function(lo, hi) {
  lo <- mean(lo); hi <- mean(hi)
  c(if (is.finite(lo) && hi == Inf) lo else if (is.finite(hi) && lo == -Inf) hi else NA, NA, NA, NA)
}
# Two groups of values of which some are bounds: rows of lower and upper limits.
censored_pair <- function(p, q) {
  closed <- function(m) sum(is.finite(m[, 1]) & is.finite(m[, 2]))
  if (closed(p) > 0 && closed(q) > 0) {
    if (nrow(p) == 1 || nrow(q) == 1) {
      mid <- function(m) if (all(m[, 1] == m[, 2])) mean(m[, 1]) else if (closed(m) < 2) NA else { v <- censored_point(m[, 1], m[, 2]); if (is.null(v)) NA else v }
      v <- mid(p) - mid(q)
      if (!is.na(v)) return(c(v, NA, NA, NA))
    } else if (closed(p) + closed(q) > 2 && (max(p[, 1]) > min(p[, 2]) || max(q[, 1]) > min(q[, 2]))) {
      m <- rbind(p, q)
      return(censored_fit(m[, 1], m[, 2], rep(c(1, 0), c(nrow(p), nrow(q))), nrow(m) - 2))
    }
  }
  bound_of(mean(p[, 1]) - mean(q[, 2]), mean(p[, 2]) - mean(q[, 1]))
}

# One comparison: value, low, high, p.
compare <- function(r, scopes) {
  method <- strsplit(r$method, ":", fixed = TRUE)[[1]]
  name <- sub("_log$", "", method[1])
  logs <- r$effect == "ratio"
  if (r$metric %in% one_method$metric) wanted <- one_method$method[match(paste(r$scope, r$metric), paste(one_method$scope, one_method$metric))] else wanted <- ""
  get <- function(s, l) {
    d <- if (is.null(parts[[paste(s, l, r$metric, sep = "\r")]])) NULL else cell(r$metric, s, l)
    if (is.null(d) || nrow(d) == 0) return(NULL)
    if (wanted != "") d <- d[d$method == wanted | d$censored == "right", ]
    if (nrow(d) == 0) NULL else d
  }
  if (name == "mixed_reml_satterthwaite") {
    out <- mixed(r, scopes, wanted)
    if (!is.null(out) && logs) out[1:3] <- exp(out[1:3])
    return(out)
  }
  x <- lapply(scopes, get, r$treatment); y <- lapply(scopes, get, r$reference)
  if (name == "cox_firth") {
    e <- which(!sapply(x, is.null) & !sapply(y, is.null))
    out <- hazards(x[e], y[e], method[2])
    out[1:3] <- exp(out[1:3])
    if (length(method) > 2 && method[3] == "permutation_log_rank") out[4] <- dealt(x[e], y[e])
    return(out)
  }
  v <- function(d) if (logs) log(d$value) else d$value
  s <- function(d) if (logs) d$s / d$value else d$s
  both <- !sapply(x, is.null) & !sapply(y, is.null)
  a <- if (length(scopes) == 1 || sum(both) == 1) x[[which(both)[1]]] else NULL
  b <- if (!is.null(a)) y[[which(both)[1]]] else NULL
  bound <- function(d) if (logs) cbind(log(pmax(d$lo, 0)), log(d$hi)) else cbind(d$lo, d$hi)
  cl <- if (any(both)) hang(x[both], y[both]) else 0
  if (sum(both) > 1 && max(cl) == 1) { # all events hang together
    a <- merged(x[both]); b <- merged(y[both])
  }
  out <- switch(name,
    welch_t = welch(v(a), v(b), hidden_pair(a, b, s(a), s(b))),
    paired_t = , censored_pairs = {
      m <- matched(a, b, method[2])
      p <- bound(m[[1]]); q <- bound(m[[2]])
      lo <- p[, 1] - q[, 2]; hi <- p[, 2] - q[, 1]
      k <- is.finite(lo) | is.finite(hi)
      shift(lo[k], hi[k])
    },
    mann_whitney = {
      n <- nrow(a); rk <- rank(c(v(a), v(b))); w <- sum(rk[1:n])
      p <- NA
      if (choose(length(rk), n) <= 2e4) {
        all <- combn(length(rk), n, function(i) sum(rk[i]))
        p <- min(1, 2 * min(mean(all <= w + 1e-9), mean(all >= w - 1e-9)))
      }
      c(median(outer(v(a), v(b), "-")), NA, NA, p)
    },
    censored_normal = {
      f <- censored_pair(bound(a), bound(b))
      if (grepl("permutation", r$method)) f[4] <- dealt(list(a), list(b))
      f
    },
    event_differences_line = , random_effects_dl_hk = , event_differences_t = , censored_event_differences = , random_effects_reml_hk = {
      e <- which(both)
      cells <- c(x[e], y[e])
      cells <- cells[sapply(cells, function(d) nrow(d) > 1 && all(d$censored == "none"))]
      ss <- sum(unlist(lapply(cells, function(d) var(v(d)) * (nrow(d) - 1)))); df <- sum(unlist(lapply(cells, function(d) nrow(d) - 1)))
      s2 <- if (df > 0) ss / df else 0
      mx <- sapply(e, function(i) given_mean(x[[i]], logs, s2)); my <- sapply(e, function(i) given_mean(y[[i]], logs, s2))
      lo <- mx[1, ] - my[2, ]; hi <- mx[2, ] - my[1, ]
      if (has(r$flags, "trend")) {
        day <- sapply(e, function(i) min(plots$day[plots$scope == scopes[i]]))
        v2 <- if (name == "random_effects_dl_hk") s2 * (1 / sapply(x[e], nrow) + 1 / sapply(y[e], nrow)) else NULL
        trend_line(lo, v2, (day - min(day)) / 30)
      } else if (name != "random_effects_reml_hk") {
        k <- is.finite(lo) | is.finite(hi)
        f <- shift(as.vector(tapply(lo[k], cl[k], mean)), as.vector(tapply(hi[k], cl[k], mean)))
        if (is.na(f[1])) {
          px <- sapply(x[e], known_mean, logs); py <- sapply(y[e], known_mean, logs)
          f <- bound_of(px[1, ] - py[2, ], px[2, ] - py[1, ])
        }
        if (name == "censored_event_differences" && grepl("permutation", r$method)) f[4] <- dealt(x[e], y[e])
        f
      } else {
        share <- tapply(1 / sapply(x[e], nrow) + 1 / sapply(y[e], nrow), cl, function(v) sum(v) / length(v)^2)
        f <- pooled(as.vector(tapply(lo, cl, mean)), s2 * as.vector(share))
        if (grepl(":further_event$", r$method)) c(f[[1]][1], f[[2]], NA) else f[[1]]
      }
    },
    welch_t_of_events = {
      p <- sapply(x[!sapply(x, is.null)], known_mean, logs); q <- sapply(y[!sapply(y, is.null)], known_mean, logs)
      welch(p[1, ], q[1, ])
    },
    censored_events = {
      known <- function(ds) t(sapply(Filter(Negate(is.null), ds), known_mean, logs))
      censored_pair(known(x), known(y))
    },
    NULL)
  if (is.null(out)) return(NULL)
  if (logs) out[1:3] <- exp(out[1:3])
  out
}

scopes_of <- function(scope) {
  if (startsWith(scope, "event:")) return(scope)
  if (scope == "all") return(sort(unique(plots$scope), method = "radix"))
  sort(unique(plots$scope[plots$season_scope == scope]), method = "radix")
}

# The commonest method of a scope, where methods define the quantity.

treatments <- table_of("treatment_results.csv", c("scope", "treatment", "metric", "statistic", "headline", "unit", "method", "letters", "flags"))
comparisons <- table_of("comparisons.csv", c("scope", "metric", "treatment", "reference", "effect", "unit", "adjustment", "method", "flags"))
one_method <- do.call(rbind, lapply(intersect(keep_apart, unique(comparisons$metric)), function(m) do.call(rbind, lapply(unique(comparisons$scope), function(s) {
  w <- character(0)
  for (e in scopes_of(s)) for (l in unique(plots$label)) if (!is.null(parts[[paste(e, l, m, sep = "\r")]])) {
    d <- cell(m, e, l)
    w <- c(w, d$method[d$censored != "right"])
  }
  if (!length(w)) return(data.frame(scope = s, metric = m, method = ""))
  n <- table(w)
  data.frame(scope = s, metric = m, method = sort(names(n)[n == max(n)], method = "radix")[1])
}))))
if (is.null(one_method)) one_method <- data.frame(scope = character(0), metric = character(0), method = character(0))

ratio_metrics <- unique(treatments$metric[treatments$statistic == "geometric_mean"])
opinions <- new.env()
opinions$n <- 0
opinions$words <- opinions$numbers <- vector("list", nrow(treatments) + nrow(comparisons))
say <- function(table, r, other, out) {
  n <- opinions$n <- opinions$n + 1
  opinions$words[[n]] <- c(table, r$scope, r$treatment, r$metric, other, r$method)
  opinions$numbers[[n]] <- c(r$value, r$low, r$high, if (is.null(r$p)) NA else r$p, out[1:3], if (length(out) > 3) out[4] else NA)
}

fitted_events <- new.env()
for (i in seq_len(nrow(treatments))) {
  r <- lapply(treatments, `[`, i)
  single <- startsWith(r$scope, "event:")
  if (is.na(r$value)) next
  scopes <- scopes_of(r$scope)
  method <- strsplit(r$method, ":", fixed = TRUE)[[1]]
  apart <- r$metric %in% keep_apart
  cells <- lapply(scopes, function(s) if (is.null(parts[[paste(s, r$treatment, r$metric, sep = "\r")]])) NULL else cell(r$metric, s, r$treatment))
  cells <- Filter(Negate(is.null), cells)
  empty <- sum(sapply(cells, nrow) == 0)
  cells <- Filter(function(d) nrow(d) > 0, cells)
  if (r$statistic == "geometric_mean") cells <- Filter(function(d) any(d$value > 0), cells)
  if (apart) {
    word <- method[length(method)]
    if (any(sapply(cells, function(d) any(d$censored != "right" & d$method == word))))
      cells <- lapply(cells, function(d) d[d$method == word | d$censored == "right", ])
    cells <- Filter(function(d) nrow(d) > 0, cells)
  }
  tau <- if (r$statistic == "restricted_mean") common_time(r$metric, scopes) else Inf
  if (is.finite(tau)) cells <- Filter(function(d) max(d$value) >= tau || any(d$censored != "right"), cells) # followed at all
  if (length(cells) == 0) next
  if (has(r$flags, "one_event")) # that with a value
    cells <- Filter(function(d) !is.null(within_event(method[1], r$statistic, d, tau, r$metric)), cells)
  if (length(scopes) == 1 || has(r$flags, "one_event") && length(cells) == 1) {
    out <- within_event(method[1], r$statistic, cells[[1]], tau, r$metric)
    if (has(r$flags, "measurement_only")) out <- out[1] + c(0, -1, 1) * z * measured(cells[[1]])
  } else {
    if (r$statistic == "median") { # of all plots together
      say("treatment_results", r, r$statistic, c(middle(merged(cells))[1], NA, NA))
      next
    }
    cl <- hang(cells)
    of_events <- c("bound", "mean_of_events_t", "geometric_mean_of_events_t", "censored_mean_of_events", "censored_geometric_mean_of_events")
    fold <- function(e, mean_of = mean) as.vector(tapply(seq_along(e), cl, function(i) # a cluster counts once
      if (any(sapply(cells[i], function(d) all(d$censored != "none"))) && r$statistic != "restricted_mean") e[i[1]] else mean_of(e[i])))
    out <- NULL
    if (max(cl) == 1 && empty == 0 || !method[1] %in% of_events) {
      out <- within_event(method[1], r$statistic, merged(cells), tau, r$metric)
      if (has(r$flags, "measurement_only")) out <- out[1] + c(0, -1, 1) * z * measured(merged(cells))
    } else if (method[1] == "bound") {
      e <- sapply(cells, function(d) within_event("bound", r$statistic, d)[1])
      out <- c(if (r$statistic == "geometric_mean") exp(mean(log(fold(e)))) else mean(fold(e)), NA, NA)
    } else if (startsWith(method[1], "censored_")) {
      logs <- method[1] == "censored_geometric_mean_of_events"
      g <- lapply(split(cells, cl), merged)
      g <- lapply(g, function(d) { if (logs) d <- d[d$value > 0, ]; if (logs) cbind(log(pmax(d$lo, 0)), log(d$hi)) else cbind(d$lo, d$hi) })
      g <- Filter(function(m) nrow(m) > 0, g)
      stated <- c(r$value, r$low, r$high)
      same <- paste(c(scopes, r$metric, r$treatment, r$method), collapse = "\r")
      if (is.null(fitted_events[[same]])) fitted_events[[same]] <- events_fit(g, if (logs) log(stated) else stated)
      out <- fitted_events[[same]]
      if (logs) out <- exp(out)
    } else if (r$statistic == "restricted_mean") {
      e <- sapply(cells, function(d) restricted(d, tau)[1])
      e <- fold(e)
      out <- if (length(e) == 1) c(e, NA, NA) else if (is.finite(tau)) bounded(pmin(tau, pmax(0, e)), tau) else skewed(e)
    } else if (method[1] == "geometric_mean_of_events_t") {
      if (all(sapply(cells, function(d) all(d$censored == "none")))) {
        e <- sapply(cells, function(d) mean(log(d$value[d$value > 0])))
        e <- tapply(e[!is.nan(e)], cl[!is.nan(e)], mean)
        out <- exp(t_interval(as.vector(e)))
      }
    } else {
      by_ratio <- any(treatments$metric == r$metric & treatments$statistic == "geometric_mean" & treatments$scope == r$scope)
      k <- sapply(cells, function(d) all(d$censored == "none"))
      if (all(k) || by_ratio) { # events with a bound have no mean of sediment
        e <- as.vector(tapply(sapply(cells[k], function(d) mean(d$value)), cl[k], mean))
        out <- if (by_ratio) skewed(e) else t_interval(e)
      }
    }
  }
  if (!is.null(out) && has(r$flags, "no_spread") && !has(r$flags, "measurement_only")) out[2:3] <- NA
  if (!is.null(out)) say("treatment_results", r, r$statistic, out)
}
done <- new.env()
for (i in seq_len(nrow(comparisons))) {
  r <- lapply(comparisons, `[`, i)
  if (is.na(r$value)) next
  scopes <- scopes_of(r$scope)
  same <- paste(c(scopes, r$metric, r$treatment, r$reference, r$effect, r$method), collapse = "\r") # a season of all events says what all do
  if (is.null(done[[same]])) done[[same]] <- list(compare(r, scopes))
  out <- done[[same]][[1]]
  if (!is.null(out) && has(r$flags, "no_spread")) out[2:3] <- NA
  if (!is.null(out)) say("comparisons", r, r$reference, out)
}
words <- do.call(rbind, opinions$words); numbers <- do.call(rbind, opinions$numbers) # NULLs fall out
colnames(words) <- c("table", "scope", "treatment", "metric", "other", "method")
colnames(numbers) <- c("value", "low", "high", "p", "r_value", "r_low", "r_high", "r_p")
opinions <- cbind(as.data.frame(words, stringsAsFactors = FALSE), as.data.frame(numbers))
write.csv(opinions, "second_opinion.csv", row.names = FALSE, na = "")
# Of values and limits relative to the value or, where that is near zero, the width of its interval.
off <- function(a, b, width = 0) { k <- !is.na(a) & !is.na(b); if (!any(k)) 0 else max((abs(a - b) / pmax(abs(a), abs(b), width, 1e-9))[k]) }
for (t in unique(opinions$table)) {
  o <- opinions[opinions$table == t, ]
  w <- ifelse(is.na(o$high - o$low), 0, o$high - o$low)
  n <- if (t == "comparisons") sum(!is.na(comparisons$value)) else sum(!is.na(treatments$value))
  cat(sprintf("%s: %d of %d rows with a value computed again; largest relative difference of values %.2g, of limits %.2g, of p %.2g\n",
    t, nrow(o), n, off(o$value, o$r_value, w), max(off(o$low, o$r_low, w), off(o$high, o$r_high, w)), off(o$p, o$r_p)))
}
