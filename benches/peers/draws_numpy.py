"""The draw loop of benches/draws.rs in numpy: the usual expression first, then faster ones.

Prints one line for each: best and median milliseconds, mean over the draws, the expression.
"""

import sys
import time

import numpy as np

DRAWS, FACTORS, LESIONS, RUNS = map(int, sys.argv[1:5])
HUNDRED_COWS, KAPPA = map(float, sys.argv[5:7])


def numbers(start, *shape):
    n = np.arange(start + 1, start + 1 + int(np.prod(shape)), dtype=np.uint64)
    return ((n * np.uint64(2654435761)) % np.uint64(1 << 32)).astype(float).reshape(shape) / 4294967296.0


beta_lfd = 0.1 * numbers(0, LESIONS, FACTORS, DRAWS)
drop_fd = numbers(LESIONS * FACTORS * DRAWS, FACTORS, DRAWS)
lam_ld = 10.0 * numbers((LESIONS + 1) * FACTORS * DRAWS, LESIONS, DRAWS)

# As one would lay a table of draws out: one row a draw.
beta_dlf = np.ascontiguousarray(beta_lfd.transpose(2, 0, 1))
drop_df = np.ascontiguousarray(drop_fd.T)
lam_dl = np.ascontiguousarray(lam_ld.T)


def usual():
    s = (beta_dlf * drop_df[:, None, :]).sum(-1)
    return HUNDRED_COWS * (lam_dl * (1 - np.exp(-KAPPA * s))).sum(-1)


def einsum_rows():
    s = np.einsum("dlf,df->dl", beta_dlf, drop_df)
    return HUNDRED_COWS * (lam_dl * -np.expm1(-KAPPA * s)).sum(-1)


def matmul_rows():
    s = (beta_dlf @ drop_df[:, :, None])[..., 0]
    return HUNDRED_COWS * (lam_dl * -np.expm1(-KAPPA * s)).sum(-1)


def einsum_draws_innermost():
    s = np.einsum("lfd,fd->ld", beta_lfd, drop_fd)
    return HUNDRED_COWS * (lam_ld * -np.expm1(-KAPPA * s)).sum(0)


def loop_draws_innermost():
    s = np.zeros((LESIONS, DRAWS))
    term = np.empty(DRAWS)
    for lesion in range(LESIONS):
        for factor in range(FACTORS):
            np.multiply(beta_lfd[lesion, factor], drop_fd[factor], out=term)
            s[lesion] += term
    return HUNDRED_COWS * (lam_ld * -np.expm1(-KAPPA * s)).sum(0)


for name, run in [
    ("numpy, the usual: exp((b * x).sum(-1)), a row a draw", usual),
    ("numpy, einsum, a row a draw", einsum_rows),
    ("numpy, matmul, a row a draw", matmul_rows),
    ("numpy, einsum, draws innermost", einsum_draws_innermost),
    ("numpy, loop over factors, draws innermost", loop_draws_innermost),
]:
    times = []
    for _ in range(RUNS):
        start = time.perf_counter()
        cases = run()
        times.append(time.perf_counter() - start)
    times.sort()
    print(1e3 * times[0], 1e3 * times[RUNS // 2], repr(float(cases.mean())), name)
