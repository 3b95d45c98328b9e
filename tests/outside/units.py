#!/usr/bin/env python3
"""Unit conversion against PyPI Pint.

Runs the example `convert_units` of the core, which prints every conversion between two units of one
dimension as an exact ratio, and compares each with what Pint makes of it.
"""
import argparse
import subprocess
import sys
from fractions import Fraction

# Our symbol -> Pint's name. A count and drops have no unit of their own in Pint.
PINT = {
    "mm": "mm", "cm": "cm", "m": "m", "um": "um", "in": "inch", "thou": "thou", "ft": "foot",
    "mm2": "mm**2", "cm2": "cm**2", "in2": "inch**2",
    "L": "liter", "mL": "milliliter", "US qt": "quart", "US gal": "gallon",
    "imp pt": "imperial_pint", "imp qt": "imperial_quart", "imp gal": "imperial_gallon",
    "Pa": "pascal", "kPa": "kilopascal", "bar": "bar", "psi": "psi",
    "degC": "degC", "degF": "degF", "K": "kelvin", "deg": "degree",
    "s": "second", "min": "minute", "h": "hour", "d": "day",
    "drips/min": "1/minute", "drips/h": "1/hour", "L/h": "liter/hour", "US qt/h": "quart/hour",
    "g": "gram", "kg": "kilogram", "lb": "pound", "oz": "ounce",
    "N": "newton", "lbf": "force_pound", "N m": "newton*meter", "in-lb": "force_pound*inch",
    "ft-lb": "force_pound*foot", "V": "volt", "%": "percent", "count": "dimensionless",
}


def main() -> int:
    arguments = argparse.ArgumentParser(description=__doc__)
    arguments.add_argument("--bin", default="target/release/examples/convert_units",
                           help="the built example convert_units")
    given = arguments.parse_args()
    try:
        import pint
    except ImportError:
        print("SKIPPED: PyPI Pint is not installed")
        print("0 passed, 0 failed, 1 skipped")
        return 0
    ureg = pint.UnitRegistry(autoconvert_offset_to_baseunit=True)
    out = subprocess.run([given.bin], check=True, capture_output=True, text=True).stdout
    passed = failed = 0
    for line in out.splitlines():
        value, source, target, exact = line.split("\t")
        ours = float(Fraction(exact))
        theirs = ureg.Quantity(float(Fraction(value)), PINT[source]).to(PINT[target]).magnitude
        if abs(ours - theirs) <= 1e-9 * max(1e-12, abs(theirs)) + 1e-9 * (target.startswith("deg") or target == "K"):
            passed += 1
        else:
            failed += 1
            print(f"{value} {source} -> {target}: ours {ours!r}, Pint {theirs!r}")
    print(f"compared {passed + failed} conversions with Pint {pint.__version__}")
    if passed < 100:
        print("too few conversions were compared")
        failed += 1
    print(f"{passed} passed, {failed} failed")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
