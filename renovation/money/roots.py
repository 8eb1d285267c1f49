"""Every positive real root of thousands of polynomials at once, for internal rates and switching values.

Polynomials are held time-major, shape (K, m): row k is the coefficient of x^k, each column one polynomial.
Nothing is guessed and nothing is started from a chosen point:

1. Descartes: no change of sign, no positive root; one change, exactly one root.
2. More changes: x = SCALE * t / (1 - t) carries (0, inf) to (0, 1), where the Bernstein coefficients are
   c_k SCALE^k / C(n, k), without loss. Intervals are split (de Casteljau, a constant matrix) and the
   changes of sign counted again: none, the interval is empty; one, it holds exactly one root; more, it is
   split further (Vincent; Collins & Akritas 1976; Lane & Riesenfeld 1981; Mourrain, Rouillier & Roy 2005).
3. An interval on which the polynomial cannot be told from rounding holds a double root, a pair, or none.
4. A series with one change of sign, P(x) - N(x), has the monotone form ln P - ln N in ln x, on which
   Newton's method inside a bracket takes a few steps. An isolating interval is such a series too, in its
   own odds s = (t - lo) / (hi - t).
"""

from functools import lru_cache
from math import comb
from typing import NamedTuple

import numpy as np

from renovation.types import BoolArray, FloatArray, IndexArray

# First split at x = 0.47 (a rate of 113 % a period) parts the rates people meet from the absurd ones, and
# keeps the split points off round rates such as 0 %.
SCALE = 0.47
SPLITS = (0.5, 0.3, 0.7)  # tried in turn where a split point would itself lie on a root
# All relative to the sum of |c_k x^k|, the scale of rounding at x.
NOISE = 1e-13  # a value below this has no sign
CLUSTER = 1e-10  # an interval on which the polynomial stays below this is split no further
PAIR = 2e-14  # two roots whose extreme value between them is below this are one
TOUCH = 1e-12  # a double root is one where the extreme value is below this
# Where the first look for a root is taken, as ln x: at 16 % for a flow of money, far and wide for an
# interval's odds.
NEAR_ONE = (-0.15,)
WIDE = (-3.0, -1.5, -0.7, 0.0, 0.7, 1.5, 3.0)
LARGEST_EXPONENT = 600.0  # e^600 and e^-600 are well inside what doubles hold
TINY = float(np.finfo(np.float64).tiny)
ONE_THREAD = 260_000  # multiplications; OpenBLAS starts a second thread above 262,144
STRIP = 32  # columns that BLAS takes in one way, wherever they stand
FEW = 8  # columns
MOST_SPLITS = 120  # more than doubles can tell apart; met by no known series


class _Intervals(NamedTuple):
    """Intervals (p/(p+q)) of t, each with its polynomial's Bernstein coefficients (n+1, m) and owner (m,)."""

    coefs: FloatArray
    owner: IndexArray
    ends: FloatArray  # (4, m): p and q of the left end, p and q of the right; p + q = 1, both exact near 0


def sign_changes(series: FloatArray) -> IndexArray:
    """Count changes of sign down each column of (K, m), zeros left out; shape (m,).

    Raises nothing. Source: Descartes' rule of signs.

    >>> sign_changes(np.array([[1.0, -1.0], [0.0, 0.0], [-2.0, -1.0], [3.0, 0.0]]))
    array([2, 0])
    """
    negative = series < 0.0
    changes = np.add.reduce(negative[1:] != negative[:-1], axis=0, dtype=np.int16)
    gappy = np.flatnonzero((series == 0.0).any(axis=0))
    if gappy.size:
        sign = np.sign(series.take(gappy, axis=1))
        rows = np.arange(len(series))[:, None]
        last = np.maximum.accumulate(np.where(sign != 0.0, rows, 0), axis=0)
        filled = np.take_along_axis(sign, last, axis=0)
        changes[gappy] = (filled[1:] * filled[:-1] < 0.0).sum(axis=0)
    return np.asarray(changes, dtype=np.intp)


def positive_roots(series: FloatArray) -> tuple[IndexArray, FloatArray]:
    """Return every positive real root of the polynomials in the columns of `series` (K, m).

    Answer: the owner (column) of each root and the root x itself, two arrays of one length, unordered; a
    double root is given once or as two equal to rounding. A column of zeros has none. Raises nothing.

    >>> owner, x = positive_roots(np.array([[-5.0], [10.5], [1.0], [-8.0], [1.0]]))
    >>> np.sort(1 / x - 1).round(8).tolist()
    [-0.87020125, 0.08859834, 0.70955953]
    """
    changes = sign_changes(series)
    single = np.flatnonzero(changes == 1)
    several = np.flatnonzero(changes > 1)
    lone = _solve_single(series if single.size == series.shape[1] else series.take(single, axis=1), NEAR_ONE)
    if not several.size:
        return single, lone
    isolated, touching, touched_x = _isolate(_strip_leading_zeros(series.take(several, axis=1)))
    odds = _solve_single(isolated.coefs * _binomials(len(series) - 1)[:, None], WIDE)
    left_p, left_q, right_p, right_q = isolated.ends
    x = SCALE * (left_p + right_p * odds) / (left_q + right_q * odds)
    owners = np.concatenate([single, several[isolated.owner], several[touching]])
    return owners, np.concatenate([lone, x, touched_x])


def _product(matrix: FloatArray, columns: FloatArray) -> FloatArray:
    """`matrix @ columns`, in blocks of as many columns each, that BLAS takes on one thread.

    On a busy machine two threads that wait for each other cost ten times the product itself. Of blocks of whole strips
    no column's sum depends on its neighbours: a flow has the same roots, to the last digit, whatever stands beside it.
    """
    number, width = columns.shape[1], min(1024, ONE_THREAD // matrix.size) // STRIP * STRIP or 8
    result = np.empty((len(matrix), number))
    for start in range(0, number, width):
        block = slice(start, min(start + width, number))
        missing = -(block.stop - start) % min(STRIP, width)
        if missing:
            last = np.zeros((len(columns), block.stop - start + missing))
            last[:, :-missing] = columns[:, block]
            result[:, block] = (matrix @ last)[:, : block.stop - start]
        else:
            np.matmul(matrix, columns[:, block], out=result[:, block])
    return result


def _strip_leading_zeros(series: FloatArray) -> FloatArray:
    """Move each column up past its leading zeros: roots at x = 0 are no rates."""
    late = np.flatnonzero(series[0] == 0.0)
    if not late.size:
        return series
    columns = series.take(late, axis=1)
    rows = np.arange(len(series))[:, None] + (columns != 0.0).argmax(axis=0)
    moved = np.take_along_axis(columns, np.minimum(rows, len(series) - 1), axis=0)
    result = series.copy()
    result[:, late] = np.where(rows < len(series), moved, 0.0)
    return result


# ----------------------------------------------------------------------------- one change of sign, one root


def _solve_single(series: FloatArray, grid: tuple[float, ...]) -> FloatArray:
    """Return the one positive root of each column of (K, m); every column has exactly one change of sign."""
    if not series.shape[1]:
        return np.empty(0)
    log_root = _newton_on_logs(series, grid)
    beyond = np.flatnonzero(np.abs(log_root) * len(series) > LARGEST_EXPONENT)
    if beyond.size:
        # Powers of so large an x overflow, of so small a one vanish: turn x into 1/x and drop the lowest
        # power.
        above = log_root[beyond] > 0.0
        turned = series.take(beyond, axis=1)
        turned = _strip_leading_zeros(np.where(above, turned[::-1], turned))
        small = _newton_on_logs(turned, grid, lowest=-700.0)
        log_root[beyond] = np.where(above, -small, small)
    return np.exp(log_root)


def _newton_on_logs(series: FloatArray, grid: tuple[float, ...], lowest: float | None = None) -> FloatArray:
    """Return u = ln x at the root of each column: Newton's method on f(x) / x^m inside a bracket.

    u is kept within LARGEST_EXPONENT / K of 0, or above `lowest` where that is given and the root is known
    to be below 0.
    """
    limit = LARGEST_EXPONENT / len(series) + 1e-6
    u, low, high, rising, middle = _first_guess(series, np.array(grid))
    low = np.maximum(low, -limit if lowest is None else lowest)
    high = np.minimum(high, limit)
    u = np.clip(u, low, high)
    answer, active = u.copy(), np.arange(u.size)
    going = np.ones(u.size, dtype=bool)
    for _ in range(200):
        x = np.exp(u)
        value, slope = _value_and_slope(series, x)
        value *= rising
        slope *= x * rising
        slope -= middle * value
        over = value > 0.0
        high, low = np.where(over, u, high), np.where(over, low, u)
        with np.errstate(over="ignore"):  # too long a step is cut to half the bracket
            new = u - value / np.where(slope > 0.0, slope, TINY)
        new = np.where((new < low) | (new > high), 0.5 * (low + high), new)
        answer[active] = np.where(going, new, answer[active])  # who has arrived waits for nobody else's steps
        going &= np.abs(new - u) > 1e-9  # the error left is of the order of the step squared
        still = np.count_nonzero(going)
        if not still:
            break
        u = new
        if still < 0.7 * going.size:
            keep = np.flatnonzero(going)
            series, active, u, going = series.take(keep, axis=1), active[keep], u[keep], going[keep]
            low, high, rising, middle = low[keep], high[keep], rising[keep], middle[keep]
    return answer


def _first_guess(series: FloatArray, grid: FloatArray) -> tuple[FloatArray, ...]:
    """Guess of each root u, its bracket (two arrays), the sign of the late terms, the middle power there.

    h = +-(ln P - ln N) is known on `grid` (values of u) from one matrix product. It changes by at least 1
    per unit of u, as all powers of one sign lie above those of the other. Weighed by the middle power f is
    balanced like a hyperbolic sine, and Newton's steps on it are short and sure.
    """
    powers = np.arange(len(series))
    weights = np.exp(grid[:, None] * powers)
    moments = np.vstack([weights, weights * powers])
    part = np.maximum(series, 0.0)
    up = _product(moments, part)
    down = _product(moments, np.subtract(part, series, out=part))
    size = len(grid)
    rising = np.where(up[size] * down[0] < down[size] * up[0], -1.0, 1.0)
    ratio = up[:size] / down[:size]
    nearest = np.maximum(ratio, 1.0 / ratio).argmin(axis=0), np.arange(series.shape[1])
    above, below = up[size:][nearest] / up[:size][nearest], down[size:][nearest] / down[:size][nearest]
    at, height = grid[nearest[0]], np.log(ratio[nearest]) * rising
    other_end = at - height
    guess = at - height / np.abs(above - below)
    return (
        guess,
        np.minimum(at, other_end) - 1e-9,
        np.maximum(at, other_end) + 1e-9,
        rising,
        0.5 * (above + below),
    )


def _value_and_slope(series: FloatArray, x: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Horner's value and derivative of each column at its own x, row after row."""
    if x.size <= FEW:
        pairs = [_horner(column, at) for column, at in zip(series.T.tolist(), x.tolist(), strict=True)]
        found = np.array(pairs).reshape(-1, 2)
        return found[:, 0], found[:, 1]
    value = series[-1].copy()
    slope = np.zeros_like(value)
    for row in series[-2::-1]:
        slope *= x
        slope += value
        value *= x
        value += row
    return value, slope


def _horner(column: list[float], x: float) -> tuple[float, float]:
    """The same of one column, to the last digit: of a few columns this is quicker."""
    value, slope = column[-1], 0.0
    for coefficient in column[-2::-1]:
        slope = slope * x + value
        value = value * x + coefficient
    return value, slope


# --------------------------------------------------------------------------------- several: split and count


@lru_cache(maxsize=64)
def _binomials(degree: int) -> FloatArray:
    """Return C(degree, k), k = 0 ... degree."""
    return np.array([comb(degree, k) for k in range(degree + 1)], dtype=np.float64)


@lru_cache(maxsize=64)
def _splitter(degree: int, at: float) -> FloatArray:
    """Return de Casteljau's split of [0, 1] at `at` as one matrix, left part over right."""
    size = degree + 1
    left, right = np.zeros((size, size)), np.zeros((size, size))
    for k in range(size):
        for j in range(k + 1):
            left[k, j] = comb(k, j) * at**j * (1.0 - at) ** (k - j)
            right[degree - k, degree - j] = comb(k, j) * (1.0 - at) ** j * at ** (k - j)
    return np.vstack([left, right])


def _isolate(series: FloatArray) -> tuple[_Intervals, IndexArray, FloatArray]:
    """Split (0, inf) until each interval holds one root; also owner and x of roots lost in rounding."""
    size, columns = series.shape
    degree = size - 1
    whole = series * (SCALE ** np.arange(size) / _binomials(degree))[:, None]
    whole /= np.abs(whole).max(axis=0)
    ends = np.repeat([[0.0], [1.0], [1.0], [0.0]], columns, axis=1)
    work = _Intervals(whole, np.arange(columns), ends)
    done: list[_Intervals] = []
    touching: list[tuple[IndexArray, FloatArray]] = []
    for level in range(MOST_SPLITS):
        flat = _lost_in_rounding(work, whole, last=level == MOST_SPLITS - 1)
        if flat.any():
            touching.append(_resolve_cluster(_pick(work, flat), whole))
            work = _pick(work, ~flat)
        if not work.owner.size:
            break
        halves = _split(work, whole)
        changes = [sign_changes(half.coefs) for half in halves]
        done += [_pick(half, change == 1) for half, change in zip(halves, changes, strict=True)]
        work = _join([_pick(half, change > 1) for half, change in zip(halves, changes, strict=True)])
    owners = np.concatenate([owner for owner, _ in touching] or [np.empty(0, dtype=np.intp)])
    places = np.concatenate([x for _, x in touching] or [np.empty(0)])
    return _join(done), owners, places


def _join(parts: list[_Intervals]) -> _Intervals:
    """Set lists of intervals side by side."""
    return _Intervals(
        np.hstack([part.coefs for part in parts]),
        np.concatenate([part.owner for part in parts]),
        np.hstack([part.ends for part in parts]),
    )


def _pick(intervals: _Intervals, mask: BoolArray) -> _Intervals:
    """Keep the intervals in `mask`."""
    keep = np.flatnonzero(mask)
    return _Intervals(intervals.coefs.take(keep, axis=1), intervals.owner[keep], intervals.ends.take(keep, axis=1))


def _rounding_scale(whole: FloatArray, owner: IndexArray, p: FloatArray, q: FloatArray) -> FloatArray:
    """Sum of |b_k| C(n, k) p^k q^(n-k) at t = p, the size against which rounding is measured."""
    return np.asarray(np.abs(_terms(whole, owner, p, q)).sum(axis=0))


def _terms(whole: FloatArray, owner: IndexArray, p: FloatArray, q: FloatArray) -> FloatArray:
    """Terms b_k C(n, k) p^k q^(n-k) of the owners' polynomials at t = p, shape (n+1, m)."""
    powers = np.arange(len(whole))[:, None]
    weights = _binomials(len(whole) - 1)[:, None] * p**powers * q ** powers[::-1]
    return np.asarray(whole.take(owner, axis=1) * weights)


def _point(ends: FloatArray, at: float | FloatArray) -> FloatArray:
    """Return p and q, shape (2, m), of the point a share `at` of the way through each interval."""
    return ends[:2] + at * (ends[2:] - ends[:2])


def _lost_in_rounding(work: _Intervals, whole: FloatArray, *, last: bool) -> BoolArray:
    """Which intervals are too flat for a further split to tell anything: max |p| below CLUSTER."""
    height = np.maximum(work.coefs.max(axis=0), -work.coefs.min(axis=0))
    flat = np.full(height.shape, last)
    # `whole` has largest coefficient 1, so the scale is at most 1: the cheap test comes first.
    near = np.flatnonzero(height <= CLUSTER)
    if near.size:
        scale = _rounding_scale(whole, work.owner[near], *_point(work.ends[:, near], 0.5))
        flat[near] |= height[near] <= CLUSTER * scale
    return flat


def _split(work: _Intervals, whole: FloatArray) -> tuple[_Intervals, _Intervals]:
    """Cut every interval in two, away from any root."""
    size = len(work.coefs)
    at = np.full(work.owner.size, SPLITS[0])
    parts = _product(_splitter(size - 1, SPLITS[0]), work.coefs)
    for other in SPLITS[1:]:
        near = np.flatnonzero(np.abs(parts[size]) <= NOISE)
        if not near.size:
            break
        scale = _rounding_scale(whole, work.owner[near], *_point(work.ends[:, near], at[near]))
        on_root = near[np.abs(parts[size, near]) <= NOISE * scale]
        at[on_root] = other
        parts[:, on_root] = _product(_splitter(size - 1, other), work.coefs[:, on_root])
    middle = _point(work.ends, at)
    return (
        _Intervals(parts[:size], work.owner, np.vstack([work.ends[:2], middle])),
        _Intervals(parts[size:], work.owner, np.vstack([middle, work.ends[2:]])),
    )


def _resolve_cluster(flat: _Intervals, whole: FloatArray) -> tuple[IndexArray, FloatArray]:
    """Roots of intervals so small that the polynomial is a parabola, or only its change of sign is known."""
    degree = len(flat.coefs) - 1
    first, last = flat.coefs[0], flat.coefs[-1]
    middle = _product(_splitter(degree, 0.5), flat.coefs)[degree]
    bend = 2.0 * (first - 2.0 * middle + last)
    crossing = first * last < 0.0
    top = _bisect(np.diff(flat.coefs, axis=0))  # where the derivative changes sign
    # Taken afresh from the coefficients: the splits have each added their rounding.
    terms = _terms(whole, flat.owner, *_point(flat.ends, top))
    value, scale = terms.sum(axis=0), np.abs(terms).sum(axis=0)
    pair = ~crossing & (value * first < 0.0) & (np.abs(value) > PAIR * scale)
    touch = ~crossing & ~pair & (np.abs(value) <= TOUCH * scale)
    reach = np.sqrt(np.maximum(-value / np.where(bend == 0.0, 1.0, bend), 0.0) * pair)
    found: list[tuple[IndexArray, FloatArray]] = []
    for mask, place in (
        (crossing, _bisect(flat.coefs)),
        (touch | pair, top - reach),
        (pair, top + reach),
    ):
        p, q = _point(flat.ends, np.clip(place, 0.0, 1.0))
        found.append((flat.owner[mask], SCALE * p[mask] / q[mask]))
    return np.concatenate([owner for owner, _ in found]), np.concatenate([x for _, x in found])


def _bisect(coefs: FloatArray) -> FloatArray:
    """Place in [0, 1] of a change of sign between the ends, by fifty halvings."""
    size = len(coefs)
    halve = _splitter(size - 1, 0.5)
    place, width = np.zeros(coefs.shape[1]), 1.0
    for _ in range(50):
        parts = _product(halve, coefs)
        width /= 2.0
        right = parts[size] * coefs[0] > 0.0
        coefs = np.where(right, parts[size:], parts[:size])
        place = place + np.where(right, width, 0.0)
    return place + width / 2.0
