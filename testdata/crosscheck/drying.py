"""The drying of a wet liner in moving air, written down from its description and solved by SciPy.

A liner has one temperature and an amount of water, isopropanol and ethanol. Vapour leaves through a film whose mass
conductance is that of heat by the analogy of Chilton and Colburn; the flow that vapours make together is in it (Stefan
for mass, Ackermann for heat). The cell's air is well mixed. Below the critical content the film for mass shrinks in
proportion to what is left.
"""
from math import exp, expm1, log, sqrt

from scipy.integrate import solve_ivp

GAS = 8.314462618  # J/(mol K)
AIR_MOLAR, AIR_HEAT = 0.0289647, 1006.0  # kg/mol, J/(kg K)

# Water, isopropanol, ethanol.
MOLAR = (0.018015, 0.060095, 0.046068)  # kg/mol
LIQUID_HEAT = (75.3, 156.5, 112.3)  # J/(mol K)
VAPOUR_HEAT = (33.6, 89.3, 65.6)  # J/(mol K)
LATENT_25 = (43980.0, 45390.0, 42320.0)  # J/mol
LATENT_BOILING = (40650.0, 39850.0, 38560.0)  # J/mol
BOILS = (373.124, 355.41, 351.44)  # K
CRITICAL = (647.096, 508.3, 513.92)  # K
DIFFUSION_VOLUME = (12.7, 70.82, 50.36)  # Fuller


def water_pressure(kelvin):
    """IAPWS-IF97, the quadratic of region 4, Pa."""
    theta = kelvin - 0.23855557567849 / (kelvin - 650.17534844798)
    a = theta**2 + 1167.0521452767 * theta - 724213.16703206
    b = -17.073846940092 * theta**2 + 12020.82470247 * theta - 3232555.0322333
    c = 14.91510861353 * theta**2 - 4823.2657361591 * theta + 405113.40542057
    return 1e6 * (2 * c / (-b + sqrt(b * b - 4 * a * c))) ** 4


def pressures(kelvin):
    """Saturation pressures of the three, Pa: IF97, and Antoine as log10 of pascals."""
    return (water_pressure(kelvin), 10 ** (10.24268 - 1580.92 / (kelvin - 53.54)), 10 ** (10.33675 - 1648.22 / (kelvin - 42.232)))


def latent_heat(i, kelvin):
    """J/mol by Watson's rule, through the values at 25 °C and at the boiling point."""
    at25, boiling, now = (1 - t / CRITICAL[i] for t in (298.15, BOILS[i], kelvin))
    power = log(LATENT_BOILING[i] / LATENT_25[i]) / log(boiling / at25)
    return LATENT_25[i] * (now / at25) ** power


def activities(x, kelvin):
    """Activity coefficients: van Laar and Wilson, each alcohol by its share of the alcohol."""
    w, i, e = x
    a = i + e
    if a <= 0 or w >= 1:
        share = 0.5 if a <= 0 else i / a
    else:
        share = i / a
    big_a, big_b = 1.0728 * log(10), 0.4750 * log(10)
    mean = big_a * a + big_b * w
    laar_a, laar_w = big_a * (big_b * w / mean) ** 2, big_b * (big_a * a / mean) ** 2
    aw, wa = exp(-1.176927 - 192.3808 / kelvin), exp(1.176927 - 480.8011 / kelvin)
    da, dw = a + aw * w, w + wa * a
    pull = aw / da - wa / dw
    wilson_a, wilson_w = -log(da) + w * pull, -log(dw) - a * pull
    # The excess of one model over the other, by the mole of alcohol, is what swapping one alcohol for the other costs.
    apart = (laar_a - wilson_a) + (w / a * (laar_w - wilson_w) if a > 1e-12 else 0.0)
    alcohol = share * laar_a + (1 - share) * wilson_a
    return (exp(share * laar_w + (1 - share) * wilson_w), exp(alcohol + (1 - share) * apart), exp(alcohol - share * apart))


def through(phi):
    """φ/(1 − e^−φ), what a flow through a film does to what goes along with it; 1 without any flow."""
    return 1 + phi / 2 + phi * phi / 12 if abs(phi) < 1e-5 else phi / -expm1(-phi)


class Liner:
    """The right-hand side: fractions of the kept mass and kelvins above the incoming air."""

    def __init__(self, fractions, kept, room, humidity, warm, film, flow, pressure, critical, solid):
        self.fractions, self.kept, self.film, self.pressure = fractions, kept, film, pressure
        self.critical, self.solid, self.air = critical, solid, warm
        vapour = humidity * water_pressure(room)
        self.dry_moles = flow * (pressure - vapour) / (GAS * room)
        self.brought = self.dry_moles * vapour / (pressure - vapour)  # mol/s of water
        self.carries = self.dry_moles * AIR_MOLAR * AIR_HEAT + self.brought * VAPOUR_HEAT[0]  # W/K
        per_mole = self.carries / (self.dry_moles + self.brought)
        conductivity = 0.0263 * (warm / 300) ** 0.85
        thermal = conductivity * GAS * warm / (pressure * AIR_MOLAR * AIR_HEAT)
        self.full = [film / per_mole * (self.diffusivity(i) / thermal) ** (2 / 3) for i in range(3)]

    def diffusivity(self, i):
        """Fuller, Schettler and Giddings, m²/s."""
        volumes = DIFFUSION_VOLUME[i] ** (1 / 3) + 20.1 ** (1 / 3)
        return 1e-7 * self.air**1.75 * sqrt(1e-3 / MOLAR[i] + 1 / 28.97) * 101325 / (self.pressure * volumes**2)

    def leaving(self, over, share):
        """Moles a second of each: the sum that the single fluxes add up to, found by Newton with a numerical slope."""
        brought = (self.brought, 0.0, 0.0)
        passes = self.dry_moles + self.brought

        def fluxes(total):
            found = []
            for i in range(3):
                if over[i] <= 0 and brought[i] <= 0:
                    found.append(0.0)
                    continue
                open_ = self.full[i] * share
                along = open_ * through(total / open_)
                against = along - total
                found.append((along * over[i] * (passes + total) - against * brought[i]) / (passes + total + against))
            return found

        total, nudge = 0.0, 1e-7 * passes
        for _ in range(50):
            found = fluxes(total)
            miss = sum(found) - total
            if abs(miss) <= 1e-13 * passes:
                break
            slope = (sum(fluxes(total + nudge)) - total - nudge - miss) / nudge
            total -= miss / slope
        return found

    def slope(self, _, y):
        left = [max(x, 0.0) for x in y[:3]]
        kelvin = min(max(self.air + y[3], 230.0), 350.0)
        whole = left[0] + left[1] + left[2]
        if whole <= 0:
            return [0.0, 0.0, 0.0, 0.0]
        moles = [left[i] / MOLAR[i] for i in range(3)]
        everything = sum(moles)
        x = [m / everything for m in moles]
        gamma, pure = activities(x, kelvin), pressures(kelvin)
        over = [gamma[i] * x[i] * pure[i] / self.pressure for i in range(3)]
        flux = self.leaving(over, min(whole / self.critical, 1))
        # Heat: the flow brings its own, the vapour its own, the liner takes what the film lets through.
        with_vapour = sum(flux[i] * VAPOUR_HEAT[i] for i in range(3))
        film = self.film * through(-with_vapour / self.film)
        cell = (self.carries * self.air + (film + with_vapour) * kelvin) / (self.carries + film + with_vapour)
        heat = film * (cell - kelvin) - sum(flux[i] * latent_heat(i, kelvin) for i in range(3))
        capacity = self.solid + sum(left[i] * self.kept * LIQUID_HEAT[i] / MOLAR[i] for i in range(3))
        return [-flux[i] * MOLAR[i] / self.kept for i in range(3)] + [heat / capacity]


def dry(water, isopropanol, ethanol, kept, room, humidity, warm, film, flow, until, pressure, critical, solid):
    """Minutes until so much of the kept mass is left, and the coldest that the liner gets, K; twice, for two of theirs."""
    liner = Liner((water, isopropanol, ethanol), kept, room, humidity, warm, film, flow, pressure, critical, solid)

    def done(_, y):
        return y[0] + y[1] + y[2] - until

    done.terminal = True
    found = solve_ivp(liner.slope, (0, 7 * 24 * 3600), [water, isopropanol, ethanol, room - warm], method="LSODA",
                      events=done, rtol=3e-7, atol=[1e-8, 1e-8, 1e-8, 1e-6])
    if not found.t_events[0].size:
        return [float("nan")] * 4
    minutes, coldest = found.t_events[0][0] / 60, warm + found.y[3].min()
    return [minutes, coldest, minutes, coldest]
