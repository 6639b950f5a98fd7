"""Does the method mean what it says? A small invented world, seeded, scored in the usual ways."""

from __future__ import annotations

import math
import random
from collections import Counter
from itertools import product

from kb.science.choose import beta
from kb.science.choose.evidence import discount, liquid_weight, release_prior, stage_weight
from kb.science.liquids.solubility import red
from tests.plain_forms import Cell, from_cells

LIQUIDS = [(14.5 + 0.5 * i, (3.1 * i) % 13, (5.7 * i) % 17) for i in range(14)]
CENTRE, RADIUS = (16.6, 4.0, 4.0), 8.0
CLASSES = list(product(range(3), range(len(LIQUIDS))))


def brier(chances, outcomes):
    """Brier score: mean squared difference of chance and outcome; against the truth, its excess."""
    return sum((p - y) ** 2 for p, y in zip(chances, outcomes, strict=True)) / len(chances)


def calibration_error(bins):
    """Expected calibration error from bins of (count, mean chance, event rate)."""
    return sum(n * abs(p - rate) for n, p, rate in bins) / sum(n for n, _, _ in bins)


def prior(stage, liquid):
    """Chemistry's chance for one class of the invented world."""
    return release_prior(red(LIQUIDS[liquid], CENTRE, RADIUS), stage, "porous", "free")


def simulate(tests, seed):
    """One world and its log; yields (truth, posterior) for every class."""
    source = random.Random(seed)
    # Beyond chemistry each stage, each liquid and each class has its own quirk.
    stages = [source.gauss(0, 0.3) for _ in range(3)]
    liquids = [source.gauss(0, 0.9) for _ in LIQUIDS]
    truth = {}
    for stage, liquid in CLASSES:
        p0 = prior(stage, liquid)
        z = math.log(p0 / (1 - p0)) + stages[stage] + liquids[liquid] + source.gauss(0, 0.5)
        truth[stage, liquid] = 1 / (1 + math.exp(-z))
    done, events = Counter(), Counter()
    for _ in range(tests):
        key = source.choice(CLASSES)
        studio = (key, source.randrange(6))
        done[studio] += 1
        events[studio] += source.random() < truth[key]
    counts = {key: [0.0, 0.0] for key in CLASSES}
    for (key, studio), m in done.items():
        counts[key][0] += discount(m)
        counts[key][1] += events[key, studio] * discount(m) / m
    for target in CLASSES:
        yield truth[target], from_cells(prior(*target), [cell(target, key, *counts[key]) for key in CLASSES])


def cell(target, key, n, k):
    """One class of the log as it speaks for the target."""
    liquid = liquid_weight(LIQUIDS[target[1]], LIQUIDS[key[1]], False, target[1] == key[1])
    return Cell(stage_weight(target[0], key[0]) * liquid, n, k, prior(*key), key == target)


def scored(tests):
    """Coverage of the 90 % interval, excess squared error, and calibration error over eight worlds."""
    pairs = [pair for seed in range(8) for pair in simulate(tests, seed)]
    inside = sum(low <= truth <= high for truth, post in pairs for low, high in [beta.interval(*post)])
    excess = brier([post.mean for _, post in pairs], [truth for truth, _ in pairs])
    bins = {}
    for truth, post in pairs:
        bins.setdefault(int(post.mean * 5), []).append((post.mean, truth))
    table = [(len(b), sum(p for p, _ in b) / len(b), sum(t for _, t in b) / len(b)) for b in bins.values()]
    return inside / len(pairs), excess, calibration_error(table)


def test_intervals_cover_and_errors_fall_with_the_log():
    """Coverage stays in a sane band around 90 %; error falls as tests come in; chances mean what they say."""
    empty, some, many = scored(0), scored(150), scored(1500)
    for coverage, _, calibration in (empty, some, many):
        assert 0.78 <= coverage <= 1.0
        assert calibration < 0.12
    assert many[1] < some[1] < empty[1]
    assert many[2] < 0.06
