"""Corrected lines held against second opinions, many: ``python tests/oracle/plan_campaign.py --scenes 2000``.

Prints counts, worst cases with their seeds, lengths and times; `test_plan_oracle.py` asserts the same of few.
A campaign is split by ``--first-seed``: scene n is the same whatever else is asked for. ``--seeds 3,17``
looks at single scenes and tells all of them.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections import Counter
from multiprocessing import Pool
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

from plan_oracle import RIM, asked, held, legs_of, length_m

CHUNK = 10
"""So many scenes are worked out side by side."""


def told(seeds):
    """Facts of scenes as plain dicts, which go between processes."""
    answers, facts = [], []
    for seed in seeds:
        try:
            answers.append(asked(seed))
        except Exception as error:  # noqa: BLE001 - a campaign goes on, and tells
            facts.append({"seed": seed, "faults": [f"raised {type(error).__name__}: {error}"]})
    facts += [_facts(h) for h in held(answers)]
    return sorted(facts, key=lambda fact: fact["seed"])


def _facts(h):
    a = h.answer
    fact = {
        "seed": a.seed,
        "kind": a.scene.kind,
        "zones": len(a.scene.zones),
        "wanted_m": length_m(a.scene.line),
        "legs": len(a.scene.line) - 1,
        "answer": a.why or ("clear" if a.line is None else "corrected"),
        "product_s": a.seconds,
        "oracle_s": h.seconds,
        "faults": h.faults(),
        "accepted": h.accepted,
    }
    if a.line is not None:
        fact |= h.judged._asdict() | {
            "longer": length_m(a.line) / fact["wanted_m"],
            "corners": len(a.line),
            "shortest_leg_m": float(legs_of(a.line)[0].min()),
            "ratio": h.ratio,
        }
    return fact


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--scenes", type=int, default=100)
    parser.add_argument("--first-seed", type=int, default=0)
    parser.add_argument("--seeds", help="numbers between commas, instead")
    parser.add_argument("--processes", type=int, default=1)
    wanted = parser.parse_args()
    seeds = list(range(wanted.first_seed, wanted.first_seed + wanted.scenes))
    if wanted.seeds:
        seeds = [int(seed) for seed in wanted.seeds.split(",")]
    chunks = [seeds[n : n + CHUNK] for n in range(0, len(seeds), CHUNK)]
    begun, facts = time.perf_counter(), []
    with Pool(wanted.processes) as pool:
        for some in pool.imap(told, chunks):
            facts += some
            for fact in some:
                if fact["faults"] or fact.get("wrong") or fact.get("rim_wrong") or wanted.seeds:
                    print(_line(fact), flush=True)
    print(f"\n{len(facts)} scenes from {seeds[0]} on in {time.perf_counter() - begun:.0f} s")
    _summary([fact for fact in facts if "answer" in fact])


def _line(fact):
    return ", ".join(
        f"{name} {value:.2f}" if isinstance(value, float) else f"{name} {value}"
        for name, value in fact.items()
        if value is not None
    )


def _summary(facts):
    print("answers:", dict(sorted(Counter(fact["answer"] for fact in facts).items())))
    for kind in sorted({fact["kind"] for fact in facts}):
        some = Counter(fact["answer"] for fact in facts if fact["kind"] == kind)
        print(f"  {kind}: {dict(sorted(some.items()))}")
    for words, count in sorted(Counter(words for fact in facts for words in fact["faults"]).items()):
        print(f"fault: {words}: {count}")
    lines = [fact for fact in facts if fact["answer"] == "corrected"]
    none = [fact for fact in facts if fact["answer"] not in ("clear", "corrected")]
    false = [fact for fact in none if fact["faults"]]
    accepted = sum(bool(fact["accepted"]) for fact in false)
    print(
        f"said to be none: {len(none)}; found by the grid: {len(false)}, of which {accepted} pass the check"
    )
    for name, seconds in (("find_line", "product_s"), ("second opinions", "oracle_s")):
        _spread(f"{name}, s of processor a scene", [fact[seconds] for fact in facts], facts)
    if not lines:
        return
    wrong, truths = sum(fact["wrong"] for fact in lines), sum(fact["truths"] for fact in lines)
    print(f"truths nearer than the margin: {wrong} of {truths}, {1000.0 * wrong / truths:.2f} in a thousand")
    rim = sum(fact["rim_wrong"] for fact in lines)
    print(f"truths on the rim nearer than the margin: {rim} of {RIM * len(lines)}")
    for name in ("vessel_m", "gear_m", "ends_m", "worst_m", "rim_m", "leg_m"):
        _spread(f"{name} kept beyond what is needed, least first", [-fact[name] for fact in lines], lines, -1)
    _spread("sharpest turn", [fact["turn_deg"] for fact in lines], lines)
    _spread("length over that of the wanted line", [fact["longer"] for fact in lines], lines)
    for legs, which in (("one leg", lambda n: n == 1), ("more legs", lambda n: n > 1)):
        some = [fact for fact in lines if fact["ratio"] is not None and which(fact["legs"])]
        if some:
            _spread(f"length over the best found, {legs}", [fact["ratio"] for fact in some], some)


def _spread(what, values, facts, sign=1):
    values = np.array(values)
    most = np.argsort(-values)[:5]
    worst = ", ".join(f"{sign * values[n]:.3f} (seed {facts[n]['seed']})" for n in most)
    middle, high = (sign * np.quantile(values, q) for q in (0.5, 0.95))
    print(f"{what}: median {middle:.3f}, 95 % {high:.3f}, sum {sign * values.sum():.0f}, worst {worst}")


if __name__ == "__main__":
    main()
