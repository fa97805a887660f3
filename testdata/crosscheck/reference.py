"""Answers for iapws, NumPy and SciPy: one line of numbers on standard output for each line of numbers on standard input.

Usage: reference.py COMPARISON OUR-PROGRAM
"""
import sys

import numpy


def saturation_if97(kelvin):
    from iapws.iapws97 import _PSat_T
    return [_PSat_T(kelvin) * 1e6]


def saturation_iapws95(kelvin):
    from iapws import IAPWS95
    return [IAPWS95(T=kelvin, x=0).P * 1e6]


def latent(kelvin):
    from iapws import IAPWS97
    return [IAPWS97(T=kelvin, x=0.5).Hvap * 1e3]


def liquid_water(kelvin):
    """Density, viscosity, surface tension and heat capacity at one atmosphere."""
    from iapws import IAPWS97
    water = IAPWS97(T=kelvin, P=0.101325)
    return [water.rho, water.mu, IAPWS97(T=kelvin, x=0).sigma, water.cp * 1e3]


def excess_gibbs(moles, kelvin):
    """Excess Gibbs energy in RT of so many moles of water, isopropanol and ethanol.

    Each alcohol counts by its share of all alcohol: van Laar's for isopropanol and water, Wilson's for ethanol and water.
    """
    water, isopropanol, ethanol = moles
    alcohol = isopropanol + ethanol
    everything = water + alcohol
    a, w = alcohol / everything, water / everything
    big_a, big_b = 1.0728 * numpy.log(10), 0.4750 * numpy.log(10)
    van_laar = big_a * big_b * a * w / (big_a * a + big_b * w)
    to_water, to_alcohol = numpy.exp(-1.176927 - 192.3808 / kelvin), numpy.exp(1.176927 - 480.8011 / kelvin)
    wilson = -a * numpy.log(a + to_water * w) - w * numpy.log(w + to_alcohol * a)
    return everything * (isopropanol * van_laar + ethanol * wilson) / alcohol


def activity(water, isopropanol, ethanol, kelvin):
    """ln γ is the derivative of the excess Gibbs energy by the moles, taken by a step into the complex plane."""
    gamma = []
    for component in range(3):
        moles = numpy.array([water, isopropanol, ethanol], dtype=complex)
        moles[component] += 1e-30j
        gamma.append(float(numpy.exp(excess_gibbs(moles, kelvin).imag / 1e-30)))
    return gamma


def drying(*case):
    from drying import dry
    return dry(*case)


def fit(*numbers):
    from fitting import fitted
    return fitted(sys.argv[2], numbers)


def main():
    answer = globals()[sys.argv[1].replace("-", "_")]
    for line in sys.stdin:
        print(*(repr(float(x)) for x in answer(*map(float, line.split()))))


if __name__ == "__main__":
    main()
