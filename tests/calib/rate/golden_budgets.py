#!/usr/bin/env python3
"""Budgets of one step of each gauge kind, and of steps with what those do not have, computed apart from the program:
writes golden_budgets.txt beside this file.

Each sensitivity is the derivative of the whole measurement model, by the complex step (Squire and Trapp, SIAM Review 40
(1998) 110), not a formula for it. Sources of the model:
  water density        Tanaka et al., Metrologia 38 (2001) 301, eq. 1
  air density          CIPM-2007, Picard et al., Metrologia 45 (2008) 149, eq. 1 and appendix A1; u of the formula 22e-6
  buoyancy             JCGM 101:2008 clause 9.3 (reference density 8000 kg/m3, air 1.2 kg/m3)
  rectangular, triangular inputs   JCGM 100:2008 clause 4.3.7: a / sqrt 3; the difference of two of them, 4.3.9: a / sqrt(3/2)
  propagation, degrees of freedom  JCGM 100:2008 clauses 5.1.2 and G.4.1
Half-width of the water's density 0.005 kg/m3: air-saturated water is lighter by up to 0.0047 (Tanaka et al. 2001).
Imbalance of two compartments up to 2 %: common practice, no source.
"""
import cmath
import math
import pathlib

INF = float("inf")
BENCH = dict(resolution_g=0.01, repeatability_g=0.013, repeatability_dof=9, linearity_half_width_g=0.02,
             calibration_relative_u=1e-5, drift_relative_half_width=2e-5, zero_drift_half_width_g_h=0.03,
             evaporation_g_h=0.4, evaporation_u_g_h=0.07, evaporation_dof=12, residual_u_g=0.02, clock_relative_u=2e-5,
             edge_time_u_s=0.0013, water_temperature_u_C=0.3, air_temperature_u_C=0.5, air_pressure_u_hPa=2,
             relative_humidity_u_percent=5)
# kind: nominal tip mm, diameter mm and u, compartments, siphon, tips, duration s, balance difference g, scatter %, edge readings
CASES = {
    "bucket-150": (0.2, 150, 0.15, 2, False, 60, 430.0, 213.7, 0.52, 4),
    "bucket-200-twin": (0.2, 200, 0.15, 2, False, 51, 171.3, 322.4, 0.41, 1),
    "siphon-200": (0.2, 200, 0.15, 2, True, 82, 1210.0, 511.9, 2.9, 3),
    "magnet-spoon-160": (0.1, 159.6, 0.12, 1, False, 121, 655.0, 246.1, 0.61, 2),
    "spoon-100": (0.2, 100, 0.10, 1, False, 40, 905.0, 61.3, 0.48, 5),
}
# A step of a kind with more: what is dissolved in the water; a measure in place of the balance (then in mL); scatter
# pooled over steps; that of a siphon's tips with its stated tail.
VARIANTS = {
    "dissolved-salts": ("bucket-200-twin", dict(water_allowance_kg_m3=0.04)),
    "graduated-measure": ("bucket-150", dict(is_volume=1)),
    "pooled-scatter": ("spoon-100", dict(scatter_is_pooled=1)),
    "pooled-siphon": ("siphon-200", dict(scatter_is_pooled=1, siphon_tail_percent=15)),
}
CONDITIONS = dict(water_temperature_C=21.4, air_temperature_C=22.3, air_pressure_hPa=985.0, relative_humidity_percent=43.0)


def water_density(t):
    return 999.974950 * (1 - (t - 3.983035) ** 2 * (t + 301.797) / (522528.9 * (t + 69.34881)))


def air_density(t, p_hPa, h_percent):
    T, p = t + 273.15, 100 * p_hPa
    p_sv = cmath.exp(1.2378847e-5 * T**2 - 1.9121316e-2 * T + 33.93711047 - 6.3431645e3 / T)
    x = h_percent / 100 * (1.00062 + 3.14e-8 * p + 5.6e-7 * t**2) * p_sv / p
    Z = 1 - p / T * (1.58123e-6 - 2.9331e-8 * t + 1.1043e-10 * t**2 + (5.707e-6 - 2.051e-8 * t) * x
                     + (1.9898e-4 - 2.376e-6 * t) * x**2) + p**2 / T**2 * (1.83e-11 - 0.765e-8 * x**2)
    return p * 28.96546e-3 / (Z * 8.314472 * T) * (1 - x * (1 - 18.01528 / 28.96546))


def slope(function, x):
    return (function(x + 1e-30j)).imag / 1e-30


# The error of the balance along its scale, and the tip too many, are those of one step alone in every run of it.
OF = dict(balance="B-7", run="R-1", clock="C-3", rim="G-5", measure="M-2")


def cause_of(name, cause):
    if cause is None:
        return "-"
    return f"{name}:_R-1_in_step_1" if cause == "of_step" else f"{name}:_{OF[cause]}"


def budget(case):
    kind, more = VARIANTS.get(case, (case, {}))
    tip_mm, d_mm, u_d, compartments, siphon, tips, duration, difference, scatter, readings = CASES[kind]
    b, c = BENCH, CONDITIONS
    t, p, h = c["air_temperature_C"], c["air_pressure_hPa"], c["relative_humidity_percent"]
    u_air = math.sqrt((slope(lambda x: air_density(x, p, h), t) * b["air_temperature_u_C"]) ** 2
                    + (slope(lambda x: air_density(t, x, h), p) * b["air_pressure_u_hPa"]) ** 2
                    + (slope(lambda x: air_density(t, p, x), h) * b["relative_humidity_u_percent"]) ** 2
                    + (22e-6 * air_density(t, p, h).real) ** 2)
    two = math.sqrt(2)
    area = math.pi * d_mm**2 / 400
    by_measure = more.get("is_volume", 0)
    pooled = more.get("scatter_is_pooled", 0)
    tip_scatter = "tip_scatter" + ("" if not pooled else "_siphon" if "siphon_tail_percent" in more else "_pooled")
    weighed_inputs = [  # id, u, degrees of freedom, cause: what other steps, runs or years may have in common with it
        ("balance_resolution", two * (b["resolution_g"] / 2) / math.sqrt(3), INF, None),
        ("balance_repeatability", two * b["repeatability_g"] / math.sqrt(readings), b["repeatability_dof"], None),
        ("balance_linearity", b["linearity_half_width_g"] / math.sqrt(3), INF, "of_step"),
        ("balance_calibration", b["calibration_relative_u"], INF, "balance"),
        ("balance_drift", b["drift_relative_half_width"] / math.sqrt(3), INF, "run"),
        ("weighing_scatter", 0.004, INF, None),
        ("residual_water", two * b["residual_u_g"], INF, None),
        ("balance_zero_drift", b["zero_drift_half_width_g_h"] / math.sqrt(3), INF, "run"),
        ("evaporation", b["evaporation_u_g_h"], b["evaporation_dof"], "run"),
        ("water_temperature", b["water_temperature_u_C"], INF, "run"),
        ("water_density", 0.005 / math.sqrt(3), INF, "run"),
        ("water_purity", more["water_allowance_kg_m3"] / math.sqrt(3), INF, "run") if "water_allowance_kg_m3" in more else None,
        ("air_density", u_air, INF, "run"),
    ]
    measured_inputs = [  # The measure's own error has the place of the balance's linearity, its reading that of repeatability.
        ("volume_measure", b["linearity_half_width_g"] / math.sqrt(3), INF, "measure"),
        ("volume_reading", b["repeatability_g"], b["repeatability_dof"], None),
    ]
    inputs = (measured_inputs if by_measure else weighed_inputs) + [
        ("time_base", b["clock_relative_u"], INF, "clock"),
        ("contact_edges", two * b["edge_time_u_s"], INF, None),
        # Anything up to one tip, even, at either edge: the difference of two rectangles of half-width 1/2.
        ("siphon_storage", two * 0.5 / math.sqrt(3), INF, None) if siphon else None,
        (tip_scatter, scatter / math.sqrt(tips), tips - 1, None),
        ("odd_tip", 2 / math.sqrt(3), INF, "of_step") if compartments == 2 and tips % 2 else None,
        ("catch_area", 2 * area * u_d / d_mm, 25, "rim"),
    ]
    inputs = [i for i in inputs if i]

    def model(x):
        at = lambda name: x.get(name, 0)
        grams = ("balance_resolution", "balance_repeatability", "balance_linearity", "weighing_scatter", "residual_water")
        weighed = (difference + sum(at(g) for g in grams)) * (1 + at("balance_calibration")) * (1 + at("balance_drift"))
        weighed += (b["evaporation_g_h"] + at("evaporation") + at("balance_zero_drift")) * duration / 3600
        rho_w = water_density(c["water_temperature_C"] + at("water_temperature")) + at("water_density") + at("water_purity")
        rho_a = air_density(t, p, h) + at("air_density")
        V = weighed * (1 - 1.2 / 8000) / (1 - rho_a / rho_w) / rho_w * 1000
        if by_measure:
            V = difference + at("volume_measure") + at("volume_reading")
        v = V / tips * (1 + at(tip_scatter) / 100) * (1 + at("odd_tip") / 100 / tips)
        time = (duration + at("contact_edges")) * (1 + at("time_base")) * (1 + at("siphon_storage") / tips)
        A = area + at("catch_area")
        Q = V / time * 60
        return dict(V=V, v=v, t=time, A=A, volume_per_tip_mL=v, flow_mL_min=Q, reference_intensity_mm_h=Q * 60 / A * 10,
                    error_percent=100 * (tip_mm * A / 10 / v - 1))

    here = model({})
    lines = [f"case {case}"]
    for key, value in {**b, **c, "nominal_tip_mm": tip_mm, "catch_diameter_mm": d_mm, "catch_diameter_u_mm": u_d,
                       "catch_diameter_dof": 25, "compartments": compartments, "siphon": int(siphon), "tips": tips,
                       "duration_s": duration, "balance_difference_g": difference, "scatter_percent": scatter,
                       "readings_per_edge": readings, "weighing_scatter_u_g": 0.004, **more}.items():
        lines.append(f"input {key} {float(value)!r}")
    names = ("volume_per_tip_mL", "flow_mL_min", "reference_intensity_mm_h", "error_percent")
    variance, fourth = dict.fromkeys(names, 0.0), dict.fromkeys(names, 0.0)
    for name, u, dof, cause in inputs:
        there = model({name: 1e-30j})
        relative = {k: complex(there[k]).imag / 1e-30 / complex(here[k]).real for k in "VvtA"}
        lines.append(f"component {name} {float(u)!r} {dof} {relative['V']!r} {relative['v'] - relative['V']!r} "
                     f"{relative['t']!r} {relative['A']!r} {cause_of(name, cause)}")
        for k in names:
            contribution = complex(there[k]).imag / 1e-30 * u
            variance[k] += contribution**2
            fourth[k] += contribution**4 / dof
    for k in names:
        lines.append(f"result {k} {float(complex(here[k]).real)!r} {float(math.sqrt(variance[k]))!r} {float(variance[k]**2 / fourth[k])!r}")
    return lines


if __name__ == "__main__":
    text = "\n".join(line for case in [*CASES, *VARIANTS] for line in budget(case)) + "\n"
    (pathlib.Path(__file__).parent / "golden_budgets.txt").write_text(text)
