"""Solves a pairing round with scipy's sparse assignment solver: assign_scipy.py ROWS.csv

Prints the milliseconds of the solver alone and what the pairing is worth. Every boat
may stay unused: each has a dummy applicant of its own. Costs are C - worth, all
positive, since an explicit zero is no edge there; worths stay below 2^53.
"""
import sys
import time

import numpy as np
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import min_weight_full_bipartite_matching

boats, applicants, rows = {}, {}, []
with open(sys.argv[1]) as lines:
    next(lines)
    for line in lines:
        boat, applicant, weight, tier = line.rstrip("\n").split(",")
        rows.append((boats.setdefault(boat, len(boats)), applicants.setdefault(applicant, len(applicants)), int(weight), int(tier)))
b, a, weight, tier = (np.array(column, dtype=np.int64) for column in zip(*rows))
n, m = len(boats), len(applicants)
step = min(n, m) * int(weight.max()) + 1
worth = weight + (int(tier.max()) + 1 - tier) * step
dear = int(worth.max()) + 1
costs = csr_matrix((
    np.concatenate([dear - worth, np.full(n, dear)]).astype(float),
    (np.concatenate([b, np.arange(n)]), np.concatenate([a, m + np.arange(n)]))), shape=(n, m + n))
start = time.perf_counter()
taker, taken = min_weight_full_bipartite_matching(costs)
took = time.perf_counter() - start
print(took * 1000, n * dear - int(round(costs[taker, taken].sum())))
