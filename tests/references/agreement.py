"""Agreement of raters, percentiles, intervals of shares: by scikit-learn, NumPy and SciPy."""
import numpy
import scipy.stats
import sklearn.metrics


def whole(text):
    return [int(level) for level in text.split()]


def kappa(rows):
    def score(row, weights):
        labels = list(range(int(row["levels"])))
        return float(sklearn.metrics.cohen_kappa_score(whole(row["first"]), whole(row["second"]), labels=labels, weights=weights))
    return [{"linear": score(row, "linear"), "quadratic": score(row, "quadratic")} for row in rows]


def percentiles(rows):
    def values(row):
        return [float(value) for value in str(row["values"]).split()]
    return [{"percentile": float(numpy.percentile(values(row), 100 * row["share"], method="linear")),
             "median": float(numpy.median(values(row)))} for row in rows]


def wilson(rows):
    def interval(row):
        found = scipy.stats.binomtest(int(row["successes"]), int(row["items"])).proportion_ci(0.95, "wilson")
        return {"low": float(found.low), "high": float(found.high)}
    return [interval(row) for row in rows]


TABLES = {
    "kappa.csv": (kappa, {}),
    "percentiles.csv": (percentiles, {}),
    "wilson.csv": (wilson, {}),
}
