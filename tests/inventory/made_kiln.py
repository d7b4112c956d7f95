"""A kiln of our own making, whose law is known: at full heat towards END_C, shut off towards the room."""

from dataclasses import dataclass
from math import exp
from random import Random

from inventory.core.kiln_rates import Reading

ROOM_C, END_C, TAU, TAU_FALL = 20, 1_050.0, 150.0, 354.0
TURNS = ((150, 90), (370, 75), (732, 150), (621, 60))
"""What it is set to one after the other, and how long it is held there."""


@dataclass
class MadeKiln:
    """Where it stands, and how it goes on; every move gives the reading at its end."""

    minute: float = 0.0
    c: float = ROOM_C
    end_c: float = END_C
    tau: float = TAU
    tau_fall: float = TAU_FALL

    def go(self, minutes: float, set_c: float) -> Reading:
        """On at full heat or off, until it is where it is set to, and then held there."""
        towards, tau = (self.end_c, self.tau) if set_c > self.c else (ROOM_C, self.tau_fall)
        self.minute += minutes
        there = towards + (self.c - towards) * exp(-minutes / tau)
        self.c = min(there, set_c) if set_c > self.c else max(there, set_c)
        return self.minute, self.c

    def go_evenly(self, minutes: float, c_per_minute: float) -> Reading:
        """By a program that asks for so many degrees a minute."""
        return self.go(minutes, self.c + minutes * c_per_minute)


def fire(
    random: Random,
    every: float = 0.5,
    noise: float = 1.0,
    wild: float = 0.0,
    turns: object = TURNS,
    **kiln: float,
) -> list[Reading]:
    """Readings of a firing turned by hand, with the noise of a thermocouple and a share of wild ones."""
    made, readings = MadeKiln(**kiln), [(0.0, float(ROOM_C))]
    for set_c, hold in turns:  # type: ignore[attr-defined]
        held = 0.0
        while held < hold:
            readings.append(made.go(every, set_c))
            held += every if abs(made.c - set_c) < 1e-9 else 0.0
    return [
        (minute, random.uniform(-40, 1300) if random.random() < wild else c + random.gauss(0, noise))
        for minute, c in readings
    ]
