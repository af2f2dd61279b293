"""What a text that is no tire size may have meant."""

from __future__ import annotations

import re
from difflib import get_close_matches

from gearing.vehicle.tire import parse_size

# offered where a text is near to one of them; sizes in use on heavy vehicles, common practice,
# no source
COMMON_SIZES = (
    *("225/70R19.5", "245/70R19.5", "265/70R19.5", "285/70R19.5", "305/70R19.5"),
    *("235/80R22.5", "255/70R22.5", "255/80R22.5", "275/70R22.5", "275/80R22.5", "295/75R22.5"),
    *("295/80R22.5", "315/80R22.5", "385/65R22.5", "445/50R22.5", "455/55R22.5", "11R22.5"),
    *("12R22.5", "11R24.5", "215/75R17.5", "235/75R17.5"),
)


def suggestion(text: str) -> str | None:
    """The size a text that is none may have meant, or None."""
    numbers = re.findall(r"\d+(?:[.,]\d+)?", text[:40])
    run = re.fullmatch(r"\D*(\d{3})(\d{2})\D?(\d{2})(5?)\D*", text.strip())
    guesses = []
    if run is not None:
        guesses.append(f"{run[1]}/{run[2]}R{run[3]}{'.5' if run[4] else ''}")
    if len(numbers) == 3:
        guesses.append(f"{numbers[0]}/{numbers[1]}R{numbers[2].replace(',', '.')}")
    if len(numbers) == 2:
        guesses.append(f"{numbers[0]}R{numbers[1].replace(',', '.')}")
    guesses.extend(get_close_matches(text.upper()[:40], COMMON_SIZES, n=1, cutoff=0.7))
    return next((guess for guess in guesses if _is_size(guess)), None)


def _is_size(text: str) -> bool:
    try:
        parse_size(text)
    except ValueError:
        return False
    return True
