"""The comparison of methods again, on SciPy: one case of disks as JSON on each line, one list of numbers for each.

p-values come from scipy.stats.permutation_test, which goes through all permutations; intervals from testing every possible
end with SciPy's own exact signed-rank and rank-sum tests, or, in blocks, with all deals written out; the line through the
starts from numpy's least squares on the full design; what is detectable from SciPy's noncentral t.
"""
import itertools
import json
import math
import sys
import warnings

import numpy
from scipy import optimize, stats

NONE = -1e9
ALPHA = 0.05


def two_sided(samples, statistic, kind):
    return stats.permutation_test(samples, statistic, permutation_type=kind, n_resamples=10**7, alternative="two-sided").pvalue


def choices_of_signs(changes):
    """p of the sum of changes under all choices of signs."""
    if len(changes) == 1:
        return 1.0
    return two_sided((changes,), lambda x, axis: numpy.sum(x, axis=axis), "samples")


def all_deals(blocks):
    """p of the first method's sum of scores under all deals within the blocks: (scores of a, scores of b) each."""
    if len(blocks) == 1:
        a, b = blocks[0]
        return two_sided((a, b), lambda x, y, axis: numpy.sum(x, axis=axis), "independent")
    if all(len(a) == 1 and len(b) == 1 for a, b in blocks):
        return choices_of_signs(numpy.array([a[0] - b[0] for a, b in blocks]))
    seen, sums = sum(sum(a) for a, _ in blocks), [0.0]
    for a, b in blocks:
        within = [sum(chosen) for chosen in itertools.combinations([*a, *b], len(a))]
        sums = numpy.add.outer(sums, within).ravel()
    tail = min(numpy.mean(sums <= seen + 1e-9), numpy.mean(sums >= seen - 1e-9))
    return min(1.0, 2 * tail)


def signed_rank_rejects(n, below):
    """Whether the exact signed-rank test of n changes without ties, so many of whose pairs lie below, rejects."""
    top = n * (n + 1) // 2
    ranks, signs, left = list(range(n, 0, -1)), [], below
    for rank in ranks:  # any choice of ranks with that sum has the same p
        signs.append(-rank if rank <= left else rank)
        left -= rank if rank <= left else 0
    assert left == 0 and 0 <= below <= top
    return stats.wilcoxon(numpy.array(signs, dtype=float), mode="exact").pvalue <= ALPHA


_blocks_p = {}


def rank_sum_rejects(sizes, below):
    """Whether the exact test by the blocks' rank sums, added up, rejects when so many pairs lie below."""
    if len(sizes) == 1:
        m, n = sizes[0]
        return 2 * stats_mann_whitney(m, n, below) <= ALPHA
    if sizes not in _blocks_p:
        sums = numpy.array([0])
        for m, n in sizes:
            within = [sum(chosen) - m * (m - 1) // 2 for chosen in itertools.combinations(range(m + n), m)]
            sums = numpy.add.outer(sums, within).ravel()
        _blocks_p[sizes] = numpy.sort(sums)
    sums = _blocks_p[sizes]
    return 2 * numpy.searchsorted(sums, below, side="right") / len(sums) <= ALPHA


def stats_mann_whitney(m, n, u):
    """P(U ≤ u) by SciPy's exact rank-sum test of a sample that has this U."""
    x, y = [], list(range(n))
    left = u
    for _ in range(m):  # each of m lies above so many of n
        k = min(left, n)
        x.append(k - 0.5 + 0.001 * len(x))
        left -= k
    return stats.mannwhitneyu(x, y, method="exact", alternative="less").pvalue


def median_and_ends(turns, total, rejects):
    """Median of the turning points, and the outermost ones at which the test no longer rejects; total counts those too that
    never turn, which stand beyond both ends."""
    turns = numpy.sort(turns)
    beyond = total - len(turns)
    depth = 0
    while depth <= total // 2 and rejects(depth):
        depth += 1
    k = depth - beyond
    if k < 1:
        return [float(numpy.median(turns)), NONE, NONE]
    return [float(numpy.median(turns)), turns[k - 1], turns[len(turns) - k]]


def one_method(rows):
    changes = numpy.array([r["after"] - r["before"] for r in rows], dtype=float)
    n = len(changes)
    means = [(changes[i] + changes[j]) / 2 for i in range(n) for j in range(i, n)]
    rejects = lambda below: signed_rank_rejects(n, below)
    return [choices_of_signs(changes), *median_and_ends(means, len(means), rejects), NONE, NONE, NONE]


def two_methods(rows):
    names = sorted({r["block"] for r in rows})
    block = numpy.array([names.index(r["block"]) for r in rows])
    label = numpy.array([r["method"] == "a" for r in rows], dtype=float)
    start = numpy.array([r["before"] for r in rows], dtype=float)
    change = numpy.array([r["after"] - r["before"] for r in rows], dtype=float)
    means = (block[:, None] == numpy.arange(len(names))).astype(float)
    spare = len(rows) - len(names) - 1
    lined = spare - 1 >= 3 and len(set(start)) > 1
    blind_columns = numpy.column_stack([means, start]) if lined else means
    full = numpy.column_stack([means, label, start]) if lined else numpy.column_stack([means, label])

    residual = lambda y, columns: y - columns @ numpy.linalg.lstsq(columns, y, rcond=None)[0]
    blind, reach = residual(change, blind_columns), residual(label, blind_columns)
    if lined:
        spare -= 1
    slope = numpy.linalg.lstsq(full, change, rcond=None)[0][-1] if lined else 0.0

    pairs = [(i, j) for i in range(len(rows)) for j in range(len(rows)) if block[i] == block[j] and label[i] > label[j]]
    differ = numpy.array([blind[i] - blind[j] for i, j in pairs])
    wide = numpy.array([reach[i] - reach[j] for i, j in pairs])
    sizes = tuple((int(sum(label[block == b])), int(sum(1 - label[block == b]))) for b in range(len(names)))
    if all(size == (1, 1) for size in sizes):
        n = len(pairs)
        at = [(i, j) for i in range(n) for j in range(i, n)]
        differ = numpy.array([differ[i] + differ[j] for i, j in at])
        wide = numpy.array([wide[i] + wide[j] for i, j in at])
        rejects = lambda below: signed_rank_rejects(n, below)
    else:
        rejects = lambda below: rank_sum_rejects(sizes, below)
    turning = wide > 1e-9
    shift = median_and_ends(differ[turning] / wide[turning], len(differ), rejects)

    groups = lambda y: [(y[(block == b) & (label == 1)], y[(block == b) & (label == 0)]) for b in range(len(names))]
    smallest = 2 / math.prod(math.comb(m + n, m) for m, n in sizes)
    scatter = math.sqrt(sum(residual(change, full) ** 2) / spare) if spare > 0 else 0.0
    detectable = NONE
    if smallest <= ALPHA and spare > 0 and scatter > 1e-6:
        error = scatter / math.sqrt(sum(reach**2))
        limit = stats.t.ppf(1 - ALPHA / 2, spare)
        detectable = error * optimize.brentq(lambda nc: stats.nct.sf(limit, spare, nc) - 0.8, 0, 50)
    return [all_deals(groups(blind)), *shift, all_deals(groups(start)), slope, detectable]


def main():
    warnings.simplefilter("ignore")
    for line in sys.stdin:
        case = json.loads(line)
        answer = one_method(case["rows"]) if case["kind"] == "one method" else two_methods(case["rows"])
        print(json.dumps([float(x) for x in answer]))


if __name__ == "__main__":
    main()
