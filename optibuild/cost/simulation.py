"""Seasons to try a bid on: how many events of each class fall in each of them."""

import numpy as np

from optibuild.records.build import Floats


def simulated_counts(count: Floats, past_winters: Floats | None, seasons: int, seed: int) -> Floats:
    """Events of each class in every simulated season [R, E], the same for the same seed.

    `past_winters` [W, E], W in number, come whole, so what comes together stays together, and each equally
    often but for a rest drawn at random (the balanced bootstrap; Davison, Hinkley, Schechtman, Biometrika 73,
    1986, from memory): what is told of a few winters then does not hang on the seed. Without them every class
    is a Poisson number of its expected count [E], each for itself: the common model for counts of independent
    events. Real winters spread wider: snowy days in Minneapolis-St Paul have a standard deviation of 8.56
    about 37.3 (Minnesota DNR Climatology, 120 winters), where Poisson gives the square root of 37.3, 6.1. So
    the risk told without past winters is on the low side.
    """
    rng = np.random.Generator(np.random.PCG64(seed))
    if past_winters is None:
        return rng.poisson(count, (seasons, len(count))).astype(np.float64)
    each, rest = divmod(seasons, len(past_winters))
    rows = np.concatenate([np.repeat(np.arange(len(past_winters)), each),
                           rng.choice(len(past_winters), rest, replace=False)])
    return np.asarray(past_winters, dtype=np.float64)[rows]
