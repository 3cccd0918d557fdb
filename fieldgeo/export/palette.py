"""The colours of everything that is drawn or written with a style: one colour, one meaning.

Colours that colour-blind people tell apart: M. Okabe and K. Ito, "Color Universal Design", 2008 (from memory). Hatches
and dashes say the same again for black and white.
"""

from typing import Final

OUTLINE: Final = "#000000"
GROUND: Final = "#f6f4ec"  # ours, a paper tint that carries no meaning
HOLE: Final = "#c9c9c9"  # ours, a grey
HEADLAND: Final = "#E69F00"
PASS: Final = "#0072B2"
TURN: Final = "#4d4d4d"  # ours, a grey
OVERLAP: Final = "#D55E00"
SKIP: Final = "#CC79A7"
DIFFER: Final = "#009E73"
RIDGE: Final = "#56B4E9"
STOP: Final = "#ffffff"  # with a black edge: where the tool stands; yellow is taken by rows straddled
