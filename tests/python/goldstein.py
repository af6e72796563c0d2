"""Circulation of the propeller of least loss by Goldstein's own way: separation of variables in modified Bessel functions (SciPy).

S. Goldstein, "On the vortex theory of screw propellers", Proceedings of the Royal Society A 123, 1929, 440-465: the potential of a rigid helicoid
that moves along its axis, as cosines between the sheets and as sines beyond them, joined at the tip radius. The particular solution (his modified Lommel
functions) is integrated from its Green's function; the joining is solved for two numbers of terms and carried on to endlessly many.

Printed are lines `blades, tip speed over that of the helix, radius ratio, B Gamma omega / (2 pi w V)`. Exit status 3: SciPy is missing.
"""

import sys

try:
    import numpy as np
    from scipy.integrate import quad
    from scipy.special import ive, kve
except ImportError as error:
    print(error)
    sys.exit(3)

# Arguments of the Bessel functions beyond which an integrand has gone: exp(-60).
GONE = 60.0


def slopes(order, s):
    """Derivatives of I and K, each scaled as they are."""
    return (
        ive(order + 1, s) + order / s * ive(order, s),
        -kve(abs(order - 1), s) - order / s * kve(order, s),
    )


def particular(order, blades, mu):
    """Solution without a pole of (mu d/dmu)^2 y - order^2 (1 + mu^2) y = -(2 blades/pi) mu^2, and its derivative."""
    s = order * mu
    above = quad(lambda t: kve(order, t) * np.exp(s - t) * t, s, s + GONE, limit=200)[0]
    below = quad(lambda t: ive(order, t) * np.exp(t - s) * t, max(0.0, s - GONE), s, limit=200)[0]
    scale = 2.0 * blades / np.pi / order**2
    di, dk = slopes(order, s)
    return scale * (ive(order, s) * above + kve(order, s) * below), scale * order * (di * above + dk * below)


def circulation(blades, tip, ratios, terms):
    """Goldstein's function at some radii, with so many cosines and sines."""
    n, k = np.arange(1, 2 * terms, 2), np.arange(2, 2 * terms + 1, 2)
    inner, outer = n * blades / 2, k * blades / 2
    y, dy = np.transpose([particular(order, blades, tip) for order in inner])
    di = np.array([order * slopes(order, order * tip)[0] / ive(order, order * tip) for order in inner])
    dk = np.array([order * slopes(order, order * tip)[1] / kve(order, order * tip) for order in outer])
    # Integrals of cos(n a) sin(k a) from 0 to pi.
    overlap = 2 * k[:, None] / (k[:, None] ** 2 - n[None, :] ** 2)
    joined = overlap.T @ np.diag(dk) @ overlap * 2 / np.pi
    free = np.linalg.solve(np.diag(di) * np.pi / 2 - joined, joined @ y - dy * np.pi / 2)
    # What the particular solution has beyond the last term.
    beyond = np.pi**2 / 8 - np.sum(1.0 / n**2)

    def at(ratio):
        mu = ratio * tip
        own = sum(particular(order, blades, mu)[0] for order in inner)
        own += 8 / np.pi / blades * beyond * mu**2 / (1 + mu**2)
        decay = [ive(o, o * mu) / ive(o, o * tip) * np.exp(o * (mu - tip)) for o in inner]
        return blades / np.pi * (own + free @ decay)

    return np.array([at(ratio) for ratio in ratios])


def main():
    ratios = [0.3, 0.5, 0.7, 0.8, 0.9, 0.95]
    for blades in (2, 3, 4):
        for tip in (2.0, 5.0, 10.0):
            # The joining errs as one over the number of terms.
            few, many = (circulation(blades, tip, ratios, terms) for terms in (40, 80))
            for ratio, value in zip(ratios, 2 * many - few):
                print(blades, tip, ratio, f"{value:.6f}")


main()
