"""The fit of a bench's exposure and of what its liners keep, by SciPy's least squares.

Unknown are the logarithms of the exposure, a factor on the film conductance, and of the m³ that a liner keeps of each
liquid; their priors are normal, of width 0.18 around 1 and 2 mL. A logged time misses in standard deviations of its
logarithm: the evidence's own and that of one drying around the model, 0.10, together; where the liner was weighed, the
part of it that weighing settles, 0.05, is off, and the weighed volume is one more residual of that width.
"""
import subprocess
from math import exp, log, sqrt

import numpy
from scipy.optimize import least_squares

SHARPNESS = (0.05, 0.08, 0.10, 0.15)  # weighed, surface, air, drag
PRIOR, JITTER, WEIGHING = 0.18, 0.10, 0.05

_program = None


def minutes(program, cases):
    """Minutes of each case, asked from the program under comparison."""
    global _program
    if _program is None:
        _program = subprocess.Popen([program, "minutes"], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
    _program.stdin.write(" ".join(repr(float(x)) for case in cases for x in case) + "\n")
    _program.stdin.flush()
    return [float(x) for x in _program.stdout.readline().split()]


def fitted(program, numbers):
    """Exposure, m³ kept of the first liquid logged, and the standard deviations of the logarithms of both."""
    logs = [numbers[i:i + 9] for i in range(0, len(numbers), 9)]
    liquids = []
    for entry in logs:
        if entry[0] not in liquids:
            liquids.append(entry[0])
    middle = numpy.array([0.0] + [log(2e-6)] * len(liquids))

    def residuals(at):
        cases = [(*entry[:6], at[0], log(entry[8]) if entry[8] > 0 else at[1 + liquids.index(entry[0])]) for entry in logs]
        out = list((at - middle) / PRIOR)
        for entry, expected in zip(logs, minutes(program, cases)):
            spread, weighed = JITTER, entry[8]
            if weighed > 0:
                spread = sqrt(JITTER**2 - WEIGHING**2)
                out.append((log(weighed) - at[1 + liquids.index(entry[0])]) / WEIGHING)
            out.append(log(entry[7] / expected) / sqrt(SHARPNESS[int(entry[6])] ** 2 + spread**2))
        return numpy.array(out)

    def slopes(at):
        """Central differences; a drying is only as exact as its steps, so that small nudges would drown in them."""
        nudge, columns = 0.03, []
        for i in range(len(at)):
            step = numpy.zeros(len(at))
            step[i] = nudge
            columns.append((residuals(at + step) - residuals(at - step)) / (2 * nudge))
        return numpy.array(columns).T

    found = least_squares(residuals, middle, jac=slopes, xtol=1e-7, ftol=1e-12, gtol=1e-9)
    of_logs = residuals(found.x)[len(middle):]
    # Logs that scatter more than was assumed widen what they tell.
    scale = max(1.0, float(of_logs @ of_logs) / len(of_logs))
    covariance = scale * numpy.linalg.inv(found.jac.T @ found.jac)
    return [exp(found.x[0]), exp(found.x[1]), sqrt(covariance[0, 0]), sqrt(covariance[1, 1])]
