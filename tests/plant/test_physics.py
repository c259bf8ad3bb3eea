"""The handbook's relations, against the worked example that follows EPA/452/B-02-001, Section 6, Chapter 1.

Inputs: fly ash, T = 275 °F, L = 4 gr/ft³, D = 7 µm, A = 9.0, B = 0.8, Pj = 100 psig, θ = 10 min,
K2 = 15 inH2O/(ft/min)/(lb/ft²), Q = 10 000 acfm. The published worksheet "Baghouse design calculations"
prints cloth area 2132.55 ft² and 3.313663181 inH2O across the filter.
"""

import pytest

from monitor.plant import physics

K2 = 15.0
DUST_LB_FT3 = 4.0 / physics.GRAINS_PER_LB
PULSE_PSIG = 100.0


@pytest.fixture(name="velocity")
def velocity_of_the_example() -> float:
    return physics.gas_to_cloth_ft_min(
        material=9.0, application=0.8, temperature_degf=275.0, load_gr_ft3=4.0, diameter_um=7.0
    )


def test_the_sizing_formula_gives_the_worksheets_cloth_area(velocity: float) -> None:
    # Worksheet: 10 000 acfm over 2132.55 ft² of cloth, 4.689 ft/min.
    assert velocity == pytest.approx(4.689222265568, abs=1e-9)
    assert 10_000.0 / velocity == pytest.approx(2132.55, abs=5e-3)


def test_ten_minutes_of_dust_lie_on_the_cloth_as_printed(velocity: float) -> None:
    # Worksheet prints W0 = 0.026795556 lb/ft².
    assert physics.areal_dust_lb_ft2(DUST_LB_FT3, velocity, 10.0) == pytest.approx(0.026795556, abs=1e-9)


def test_the_dp_across_the_filter_is_the_printed_one(velocity: float) -> None:
    # Worksheet prints 3.313663181 inH2O; its duct and structure terms (4 + 3) are constants added to it.
    dp = physics.pulse_jet_dp_inh2o(
        velocity_ft_min=velocity, pulse_psig=PULSE_PSIG, k2=K2, dust_lb_ft3=DUST_LB_FT3, minutes=10.0
    )
    assert dp == pytest.approx(3.3136631811, abs=1e-9)
    assert dp + 4.0 + 3.0 == pytest.approx(10.3136631811, abs=1e-9)


def test_the_total_is_residual_plus_dust(velocity: float) -> None:
    # Computed from the same relations: the two terms of the example's sum.
    residual = physics.residual_drag(PULSE_PSIG) * velocity
    dust = K2 * physics.areal_dust_lb_ft2(DUST_LB_FT3, velocity, 10.0) * velocity
    assert residual == pytest.approx(1.4289084278, abs=1e-9)
    assert dust == pytest.approx(1.8847547534, abs=1e-9)


def test_drag_times_velocity_is_the_dp(velocity: float) -> None:
    areal = physics.areal_dust_lb_ft2(DUST_LB_FT3, velocity, 10.0)
    s = physics.drag(physics.residual_drag(PULSE_PSIG), K2, areal)
    assert s * velocity == pytest.approx(3.3136631811, abs=1e-9)


@pytest.mark.parametrize(
    ("dp_inh2o", "minutes"),
    [(2.0, 3.0301), (2.5, 5.6829), (3.0, 8.3358), (3.5, 10.9887), (4.0, 13.6415)],
)
def test_the_sawtooth_reaches_each_height_when_the_linear_model_says(
    velocity: float, dp_inh2o: float, minutes: float
) -> None:
    # Computed from the worked example: residual 1.42891 inH2O, slope 0.1884755 inH2O/min.
    clean = physics.residual_drag(PULSE_PSIG) * velocity
    taken = physics.minutes_between_inh2o(
        clean, dp_inh2o, k2=K2, dust_lb_ft3=DUST_LB_FT3, velocity_ft_min=velocity
    )
    assert taken == pytest.approx(minutes, abs=5e-5)
    slope = physics.slope_inh2o_min(k2=K2, dust_lb_ft3=DUST_LB_FT3, velocity_ft_min=velocity)
    assert slope == pytest.approx(0.1884755, abs=5e-8)


@pytest.mark.parametrize(
    ("pulse_psig", "residual", "peak"),
    [(40.0, 2.5922, 4.4769), (60.0, 1.9916, 3.8764), (80.0, 1.6519, 3.5367), (100.0, 1.4289, 3.3137)],
)
def test_weak_pulses_leave_a_higher_dp(velocity: float, pulse_psig: float, residual: float, peak: float) -> None:
    # Computed from the same relations at V = 4.6892 ft/min, residual and after 10 min.
    dp = physics.pulse_jet_dp_inh2o(
        velocity_ft_min=velocity, pulse_psig=pulse_psig, k2=K2, dust_lb_ft3=DUST_LB_FT3, minutes=10.0
    )
    assert physics.residual_drag(pulse_psig) * velocity == pytest.approx(residual, abs=5e-5)
    assert dp == pytest.approx(peak, abs=6e-5)


@pytest.mark.parametrize(
    ("velocity_ft_min", "residual", "total"),
    [(3.0, 0.9142, 1.6856), (4.0, 1.2189, 2.5903), (5.0, 1.5236, 3.6665), (6.0, 1.8283, 4.9140)],
)
def test_the_dust_term_grows_with_the_square_of_the_velocity(
    velocity_ft_min: float, residual: float, total: float
) -> None:
    # Computed from the same relations at Pj = 100 psig, θ = 10 min.
    dp = physics.pulse_jet_dp_inh2o(
        velocity_ft_min=velocity_ft_min, pulse_psig=100.0, k2=K2, dust_lb_ft3=DUST_LB_FT3, minutes=10.0
    )
    assert physics.residual_drag(100.0) * velocity_ft_min == pytest.approx(residual, abs=6e-5)
    assert dp == pytest.approx(total, abs=6e-5)
