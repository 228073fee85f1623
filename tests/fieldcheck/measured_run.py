"""What the real measurements say: `python -m tests.fieldcheck.measured_run`, half a minute."""

from __future__ import annotations

import math

import numpy as np

from linkplan.fieldcheck.blocks import square_blocks
from linkplan.fieldcheck.learning import Evidence, Learned, learn
from linkplan.fieldcheck.scores import Observed, score
from linkplan.propagation.variability import location_sigma_db
from tests.fieldcheck.measured import (
    FREQUENCY_MHZ,
    LAG_EDGES_M,
    Halves,
    Links,
    enough_heard,
    fit_law,
    fit_variogram,
    halves,
    likeness_of_receivers,
    read,
    smooth_loss_db,
    variogram,
)

LOCATION_DB = location_sigma_db(FREQUENCY_MHZ / 1e3, 50.0)
DEFAULT_DB = 6.0


def learned_from(half: Halves, *, levels: bool) -> Learned:
    """Calibration from heard or not heard; or from levels where heard, and not heard elsewhere."""
    links, predicted = half.links, half.predicted_db
    residual = np.where(links.heard & levels, links.level_db - predicted, math.nan)
    nothing = np.full(links.level_db.size, -1)
    evidence = Evidence(half.margin_db, residual, links.heard.astype(np.int8), nothing, links.x_m, links.y_m)
    return learn(evidence, LOCATION_DB)


def print_spread(receivers: list[Links]) -> None:
    from scipy.stats import spearmanr

    print("Level against distance, censored at the noise (spread in dB)")
    print("receiver  links  heard  dB/decade  spread  smooth earth  rank correlation: all  heard")
    rows = []
    for links in receivers:
        law = fit_law(links)
        smooth = fit_law(links, -smooth_loss_db(links.distance_m))
        ranks = [
            float(spearmanr(links.distance_m[some], links.level_db[some])[0])
            for some in (np.ones(links.level_db.size, dtype=bool), links.heard)
        ]
        rows.append((links.heard.mean(), law.slope_db, law.sigma_db, smooth.sigma_db, *ranks))
        print(
            f"{links.receiver:8d} {links.level_db.size:6d} {rows[-1][0]:6.2f} {law.slope_db:10.1f}"
            f" {law.sigma_db:7.1f} {smooth.sigma_db:13.1f} {ranks[0]:22.2f} {ranks[1]:6.2f}"
        )
    middle = np.median(rows, axis=0)
    print(
        f"  median        {middle[0]:6.2f} {middle[1]:10.1f} {middle[2]:7.1f} {middle[3]:13.1f}"
        f" {middle[4]:22.2f} {middle[5]:6.2f}"
    )


def print_alike(receivers: list[Links]) -> None:
    gamma = variogram(receivers)
    print("\nHalf squared difference of residuals over their variance, by distance apart")
    for low, high, value in zip(LAG_EDGES_M[:-1], LAG_EDGES_M[1:], gamma, strict=True):
        print(f"  {low:4.0f} to {high:4.0f} m  {value:5.2f}")
    nugget, _, distance = fit_variogram(gamma)
    spread = float(np.median([fit_law(links).sigma_db for links in receivers]))
    print(
        f"  between neighbours {100 * nugget:.0f} % of the variance, {spread * math.sqrt(nugget):.1f} dB; "
        f"the rest, {spread * math.sqrt(1 - nugget):.1f} dB, alike over {distance:.0f} m (1/e)"
    )
    pairs = likeness_of_receivers(receivers)
    low, middle, high = np.percentile(pairs, [10, 50, 90])
    print(
        f"  residuals of two receivers for one transmission: correlation {middle:.2f} in the median of "
        f"{pairs.size} pairs, {low:.2f} to {high:.2f} for 80 % of them"
    )


def print_learned(receivers: list[Links]) -> None:
    for levels in (False, True):
        source = "levels where heard, not heard elsewhere" if levels else "heard or not"
        print(f"\nCalibration from {source}, one receiver at a time as the base")
        print("receiver samples blocks  offset (90 %)         sigma (90 %)       kept out: before > after")
        found = []
        for links in receivers:
            one = learned_from(halves(links), levels=levels)
            start = f"{links.receiver:8d} {one.samples:7d} {one.blocks:6d}"
            if one.check is None:
                print(f"{start}  declined: {one.reasons[0]}")
                continue
            found.append(one)
            a, b = one.check.before, one.check.after
            offset, sigma = one.offset_interval_db, one.sigma_interval_db
            brier = "" if levels else f"Brier {a.brier:.3f} > {b.brier:.3f}, "
            print(
                f"{start} {one.offset_db:6.1f} ({offset.low:5.1f} to {offset.high:4.1f}) {one.sigma_db:6.1f} "
                f"({sigma.low:4.1f} to {sigma.high:4.1f})  {brier}log {a.log_score:.3f} > {b.log_score:.3f}"
                f"  {'used' if one.worth_it else 'not used'}"
            )
        used = [one for one in found if one.worth_it]
        holding = sum(one.sigma_interval_db.holds(DEFAULT_DB) for one in found)
        better = sum(one.check is not None and one.check.gain > 0.0 for one in found)
        print(
            f"  {len(found)} fits: sigma {np.median([one.sigma_db for one in found]):.1f} dB in the median, "
            f"the default in {holding} of the intervals; "
            f"log score better on ground kept out in {better}, beyond chance and used in {len(used)}"
        )


def print_reliability(receivers: list[Links]) -> None:
    """Defaults against what was heard on the white squares, all receivers together."""
    from scipy.special import ndtr

    parts = [halves(links) for links in receivers]
    chance = np.concatenate([ndtr(p.margin_db / math.hypot(DEFAULT_DB, LOCATION_DB)) for p in parts])
    heard = np.concatenate([p.links.heard for p in parts]).astype(np.int8)
    x, y = (np.concatenate([getattr(p.links, k) for p in parts]) for k in ("x_m", "y_m"))
    km = np.concatenate([p.links.distance_m for p in parts]) / 1e3
    nothing = np.full(chance.size, -1)
    observed = Observed(
        chance,
        heard,
        np.full(chance.size, math.nan),
        square_blocks(x, y, 300.0),
        km,
        nothing.astype(np.int8),
        nothing,
    )
    scores = score(observed, 0.9)
    print("\nChance of the smooth earth with the default sigma, against the share heard")
    for row in scores.table:
        o = row.observed
        print(
            f"  {row.low:4.2f} to {row.high:4.2f}: predicted {o.mean_chance:.2f}, heard {o.share:.2f} "
            f"({o.interval.low:.2f} to {o.interval.high:.2f}), {o.samples} links in {o.blocks} blocks"
        )
    if scores.brier is not None:
        print(
            f"  Brier {scores.brier.score:.3f}, skill over always heard {scores.brier.skill_over_always:.2f}"
            f", over the observed share {scores.brier.skill_over_share:.2f}"
        )


def main() -> None:
    everything = read()
    receivers = [links for links in everything if enough_heard(links)]
    links = sum(one.level_db.size for one in everything)
    used = sum(one.level_db.size for one in receivers)
    print(
        f"{links} links of 50 m and more to {len(everything)} receivers; {used} links to {len(receivers)} "
        "receivers with at least 2000, a fifth of them above the noise\n"
    )
    print_spread(receivers)
    print_alike(receivers)
    print_reliability(receivers)
    print_learned(receivers)


if __name__ == "__main__":
    main()
