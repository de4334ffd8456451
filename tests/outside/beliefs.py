"""Beliefs of locule beside a general-purpose library for Bayesian networks.

Types a random pedigree into a ledger, asks `genotype --all --json`, builds the same pedigree as a Bayesian network and
asks pyAgrum (LGPL, exact inference by message passing over a junction tree). Prints the largest difference of any
probability and the times of both as rows of a table. Usage, in an environment of its own:

    pip install pyagrum
    python tests/outside/beliefs.py target/release/locule
"""

import json
import os
import random
import subprocess
import sys
import tempfile
import time

import pyagrum as gum

# Starting beliefs of locule (docs/method.md, section 5): inbreeding by kind, trust in a statement, misreading.
FIXED = {"--line": 0.95, "--packet": 0.8, "--plant": 0.0}
STATES = ["A/A", "A/a", "a/a"]
GAMETE = [1.0, 0.5, 0.0]


def prior(fixed, p=0.5):
    q = 1 - p
    return [p * p + fixed * p * q, 2 * p * q * (1 - fixed), q * q + fixed * p * q]


def stated(pair):
    trust = 0.999 if pair == "a/a" else 0.99
    return [trust if state == pair else (1 - trust) / 2 for state in STATES]


def look(purple):
    right, wrong = 0.995, 0.005
    return [right, right, wrong] if purple else [wrong, wrong, right]


def child(mother, father):
    m, f = GAMETE[mother], GAMETE[father]
    return [m * f, m * (1 - f) + f * (1 - m), (1 - m) * (1 - f)]


def pedigree(dice, generations, size, parents):
    """Plants as (code, kind, (mother, father) or None, stated or None, purple or None); genes are dropped down the
    pedigree, and what is said of a plant is mostly so."""
    plants, chosen, truth = [], [], {}
    for generation in range(generations):
        own = []
        for number in range(parents if generation == 0 else size):
            code = f"K{generation}n{number}"
            pair = None
            if generation:
                pair = (dice.choice(chosen), dice.choice(chosen))
            kind = dice.choice(list(FIXED)) if pair is None else "--plant"
            weights = prior(FIXED[kind]) if pair is None else child(*(truth[one] for one in pair))
            own_genes = dice.choices(range(3), weights)[0]
            truth[code] = own_genes
            says = STATES[own_genes if dice.random() < 0.98 else dice.randrange(3)] if dice.random() < 0.2 else None
            purple = (own_genes < 2) == (dice.random() < 0.995) if dice.random() < 0.5 else None
            plants.append((code, kind, pair, says, purple))
            own.append(code)
        chosen = dice.sample(own, min(parents, len(own)))
    return plants


def type_in(program, plants, ledger):
    def run(*words):
        done = subprocess.run([program, *words], capture_output=True, text=True, env=environment)
        if done.returncode:
            raise SystemExit(f"{words}: {done.stderr}")
        return done.stdout

    environment = {**os.environ, "LOCULE_LEDGER": ledger, "LOCULE_TODAY": "2026-06-01"}
    run("init")
    for code, kind, pair, says, purple in plants:
        words = ["parent", "add", code, kind]
        if pair:
            words += ["--pedigree", f"{pair[0]}/{pair[1]}"]
        if says:
            words += ["--genotype", says]
        if purple is not None:
            words += ["--looks", "purple" if purple else "green"]
        run(*words)
    started = time.perf_counter()
    told = json.loads(run("genotype", "--all", "--json"))
    took = time.perf_counter() - started
    return told, took


def network(plants):
    net = gum.BayesNet()
    evidence = {}
    for code, kind, pair, says, purple in plants:
        net.add(gum.LabelizedVariable(code, code, STATES))
        if pair is None:
            first = stated(says) if says else prior(FIXED[kind])
            net.cpt(code).fillWith(first)
        else:
            for parent in sorted(set(pair)):
                net.addArc(parent, code)
            for mother in range(3):
                for father in range(3):
                    if pair[0] == pair[1] and mother != father:
                        continue
                    net.cpt(code)[{pair[0]: mother, pair[1]: father}] = child(mother, father)
        weight = [1.0, 1.0, 1.0]
        if pair is not None and says:
            weight = [w * s for w, s in zip(weight, stated(says))]
        if purple is not None:
            weight = [w * s for w, s in zip(weight, look(purple))]
        if weight != [1.0, 1.0, 1.0]:
            evidence[code] = weight
    return net, evidence


def compare(program, seed, generations, size, parents):
    plants = pedigree(random.Random(seed), generations, size, parents)
    with tempfile.TemporaryDirectory() as folder:
        told, own = type_in(program, plants, os.path.join(folder, "ledger.db"))
    net, evidence = network(plants)
    started = time.perf_counter()
    inference = gum.LazyPropagation(net)
    inference.setEvidence(evidence)
    inference.makeInference()
    theirs = {code: inference.posterior(code).tolist() for code, *_ in plants}
    took = time.perf_counter() - started
    worst = 0.0
    for plant in told["plants"]:
        locus = next(one for one in plant["loci"] if one["locus"] == "A")
        for one in locus["genotypes"]:
            other = theirs[plant["plant"]][STATES.index(one["genotype"])]
            worst = max(worst, abs(one["p"] - other))
    assert len(told["plants"]) == len(plants)
    print(
        f"| {len(plants)} | {generations} | {parents} | {worst:.1e} | {own * 1000:.0f} ms | {took * 1000:.0f} ms |",
        flush=True,
    )


def main():
    program = os.path.abspath(sys.argv[1])
    print("| plants | generations | parents a generation | largest difference | locule | pyAgrum |")
    print("|---|---|---|---|---|---|")
    for seed, (generations, size, parents) in enumerate(
        [(3, 3, 2), (5, 12, 4), (10, 20, 4), (10, 20, 6), (20, 50, 6), (20, 50, 8), (20, 50, 10)]
    ):
        compare(program, seed, generations, size, parents)


if __name__ == "__main__":
    main()
