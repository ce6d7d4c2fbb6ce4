"""Mixtures of paint against the theory they follow."""

from __future__ import annotations

import numpy as np

from demo import paints
from demo.spectra import GRID


def test_saunderson_goes_both_ways() -> None:
    outer = np.linspace(0.02, 0.95, 20)
    for surface in (paints.GOUACHE, paints.ACRYLIC, paints.VARNISHED_OIL):
        np.testing.assert_allclose(paints.seen(paints.inner(outer, surface), surface), outer)


def test_hiding_layer_obeys_the_remission_function() -> None:
    # Kubelka and Munk 1931: (1 - R)^2 / (2 R) = K / S for a layer that hides.
    absorption, scattering = paints.mixed({"deep blue": 1, "chalk white": 2})
    inside = paints.hiding(absorption, scattering)
    np.testing.assert_allclose((1 - inside) ** 2 / (2 * inside), absorption / scattering)


def test_layer_is_ground_when_thin_and_hides_when_thick() -> None:
    # Kubelka 1948, the two limits of the hyperbolic solution.
    absorption, scattering = paints.mixed({"glass green": 1})
    ground = np.full(36, 0.8)
    thin = paints.layer(absorption, scattering, 1e-4, ground)
    thick = paints.layer(absorption, scattering, 60, ground)
    np.testing.assert_allclose(thin, ground, atol=2e-3)
    np.testing.assert_allclose(thick, paints.hiding(absorption, scattering), rtol=1e-6)


def test_layer_solves_the_differential_equation() -> None:
    # Kubelka and Munk 1931: dR/dx = S - 2 (K + S) R + S R^2, integrated by scipy.
    from scipy.integrate import solve_ivp

    absorption, scattering = np.array([0.9]), np.array([1.3])
    solved = solve_ivp(
        lambda _, r: scattering - 2 * (absorption + scattering) * r + scattering * r**2,
        (0, 0.7),
        [0.65],
        rtol=1e-10,
        atol=1e-12,
    )
    found = paints.layer(absorption, scattering, 0.7, np.array([0.65]))
    np.testing.assert_allclose(found, solved.y[:, -1], rtol=1e-7)


def test_reflectances_are_physical() -> None:
    for name in paints.pigments():
        for surface in (paints.GOUACHE, paints.VARNISHED_OIL):
            spectra = paints.blend({name: 1}, {name: 1, "chalk white": 4}, surface, 5)
            assert spectra.shape == (5, len(GRID))
            assert ((spectra > 0) & (spectra < 1)).all()


def test_wash_starts_from_the_paper() -> None:
    ground = np.full(36, 0.85)
    steps = paints.wash({"deep blue": 1}, ground, paints.GOUACHE, 9)
    np.testing.assert_allclose(steps[0], ground, atol=2e-3)
    assert (np.diff(steps.mean(axis=1)) < 0).all()
