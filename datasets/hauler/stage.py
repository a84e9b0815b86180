"""Everything around the original: paints, lights, table, room, targets, scale bars, and the checkerboard.

Scene axes: z up, the table's top is z = 0, mm.
"""
from __future__ import annotations

import math

import numpy as np

from scene import Scene, frame_on, move, rotation

TARGET_DIAMETER = 24.0
BAR_TARGET_DIAMETER = 18.0

# Certificates, mm at 20 degrees; the true lengths are drawn from them in survey.py's seed.
BARS = {"bar A": (500.013, 0.02), "bar B": (300.021, 0.02), "bar C": (199.986, 0.02)}

BOARD_INNER_CORNERS = (11, 8)
BOARD_SQUARE = 20.0


# Lies low on everything painted: the upper end of the gradient, 300 mm, is above all of it.
DUST = """texture { pigment { gradient z turbulence 0.03 octaves 3 scale 300 color_map {
    [0 rgb<0.27,0.205,0.15> transmit 0.45] [0.07 rgb<0.27,0.205,0.15> transmit 0.6] [0.16 rgb<0.25,0.19,0.14> transmit 0.85]
    [0.34 rgb<0.25,0.19,0.14> transmit 1] [1 rgb<0.25,0.19,0.14> transmit 1] } }
  finish { ambient 0.05 diffuse 0.85 } }
"""


def _paint(name: str, rgb, wash: float, chip, phong: float = 0.15, streaks: float = 0.35) -> str:
    """A paint in layers: uneven base, dark wash in streaks, chips and dust."""
    r, g, b = rgb
    dark = f"rgb<{r * 0.30 + 0.01:.3f},{g * 0.26 + 0.008:.3f},{b * 0.24 + 0.006:.3f}>"
    c = ",".join(f"{v:.3f}" for v in chip)
    return f"""#declare {name} =
texture {{ pigment {{ bozo scale 26 color_map {{ [0 rgb<{r * .86:.3f},{g * .85:.3f},{b * .84:.3f}>] [1 rgb<{r * 1.12:.3f},{g * 1.12:.3f},{b * 1.1:.3f}>] }} }}
  finish {{ ambient 0.05 diffuse 0.85 phong {phong} phong_size 18 }} }}
texture {{ pigment {{ granite scale <7,7,60> color_map {{ [0 {dark} transmit 1] [0.42 {dark} transmit 1] [0.75 {dark} transmit {1 - streaks * wash:.3f}] [1 {dark} transmit {1 - wash:.3f}] }} }}
  finish {{ ambient 0.05 diffuse 0.85 }} }}
texture {{ pigment {{ granite scale 23 color_map {{ [0 rgb<{c}>] [0.10 rgb<{c}>] [0.108 rgb<{c}> transmit 1] [1 rgb<{c}> transmit 1] }} }}
  finish {{ ambient 0.05 diffuse 0.8 }} }}
{DUST}"""


def _plain(name: str, rgb, phong: float = 0.2, size: int = 30) -> str:
    r, g, b = rgb
    return (f"#declare {name} = texture {{ pigment {{ rgb<{r},{g},{b}> }} "
            f"finish {{ ambient 0.05 diffuse 0.85 phong {phong} phong_size {size} }} }}\n")


def paints() -> str:
    """All textures, in linear light."""
    text = "".join([
        _paint("PaintBody", (0.50, 0.245, 0.045), 0.75, (0.13, 0.10, 0.08)),
        _paint("PaintHopper", (0.40, 0.215, 0.06), 0.85, (0.16, 0.08, 0.045), streaks=0.6),
        _paint("PaintPale", (0.56, 0.53, 0.45), 0.55, (0.20, 0.14, 0.09)),
        _paint("PaintGrey", (0.17, 0.18, 0.18), 0.6, (0.30, 0.24, 0.18)),
        _paint("PaintDark", (0.060, 0.062, 0.066), 0.4, (0.15, 0.11, 0.08)),
        _paint("PaintTrack", (0.105, 0.082, 0.064), 0.6, (0.26, 0.17, 0.10), phong=0.25),
        _paint("PaintSteel", (0.33, 0.325, 0.31), 0.6, (0.15, 0.09, 0.06), phong=0.6),
        _paint("PaintRed", (0.33, 0.045, 0.03), 0.6, (0.12, 0.08, 0.07)),
        _plain("PaintGlass", (0.018, 0.025, 0.030), 0.9, 60),
        _plain("PaintLampRed", (0.30, 0.01, 0.008), 0.7, 50),
        _plain("PaintBeacon", (0.62, 0.22, 0.02), 0.7, 50),
        _plain("PaintPrint", (0.03, 0.03, 0.035), 0.05),
        _plain("PaintCard", (0.78, 0.78, 0.76), 0.0),
        _plain("PaintFoam", (0.62, 0.62, 0.60), 0.0),
        _plain("PaintInk", (0.022, 0.022, 0.024), 0.0),
        _plain("PaintBar", (0.40, 0.41, 0.42), 0.7, 40),
        _plain("PaintWhitePlate", (0.74, 0.74, 0.73), 0.0),
    ])
    text += """#declare PaintStripes = texture { pigment { gradient <0.7,0.7,0> scale 17 triangle_wave
  color_map { [0.5 rgb<0.50,0.25,0.03>] [0.5 rgb<0.045,0.045,0.05>] } }
  finish { ambient 0.05 diffuse 0.85 phong 0.15 } }
texture { pigment { granite scale 14 color_map { [0 rgb<0.12,0.09,0.07>] [0.2 rgb<0.12,0.09,0.07>] [0.21 rgb 0.1 transmit 1] [1 rgb<0.14,0.10,0.07> transmit 0.55] } }
  finish { ambient 0.05 diffuse 0.8 } }
#declare PaintOre = texture { pigment { granite scale 40 color_map { [0 rgb<0.055,0.035,0.03>] [0.5 rgb<0.13,0.075,0.055>] [0.85 rgb<0.19,0.12,0.085>] [1 rgb<0.27,0.22,0.18>] } }
  normal { granite 0.5 scale 6 } finish { ambient 0.05 diffuse 0.85 } }
#declare PaintTable = texture { pigment { granite scale 90 color_map { [0 rgb<0.105,0.120,0.125>] [1 rgb<0.150,0.166,0.170>] } }
  finish { ambient 0.05 diffuse 0.9 } }
#declare PaintWood = texture { pigment { wood turbulence 0.05 rotate y*88 scale 32 color_map { [0 rgb<0.26,0.15,0.075>] [1 rgb<0.19,0.10,0.05>] } }
  finish { ambient 0.05 diffuse 0.85 phong 0.2 } }
#declare PaintFloor = texture { pigment { bozo scale 300 color_map { [0 rgb<0.085,0.080,0.075>] [1 rgb<0.115,0.105,0.10>] } }
  finish { ambient 0.05 diffuse 0.8 } }
#declare PaintWall = texture { pigment { rgb<0.30,0.31,0.32> } finish { ambient 0.05 diffuse 0.8 } }
"""
    return text


def lights() -> str:
    """Two soft boxes at 45 degrees, a ceiling panel, two weak fills. Linear light."""
    return """light_source { <-1150,-1500,1500> rgb<0.60,0.585,0.555> area_light <320,-240,0>,<160,200,300>,4,4 adaptive 0 jitter }
light_source { <1500,950,1350> rgb<0.34,0.355,0.385> area_light <-240,370,0>,<-170,-110,320>,4,4 adaptive 0 jitter }
light_source { <0,150,1900> rgb<0.34,0.345,0.35> area_light <800,0,0>,<0,800,0>,4,4 adaptive 0 jitter }
light_source { <1400,-1500,700> rgb 0.09 shadowless }
light_source { <-1500,1300,600> rgb 0.08 shadowless }
"""


def cross_target(s: Scene, name: str, diameter: float, roll_deg: float, label: bool = True) -> None:
    """A printed target: quartered circle in the plane z = 0 of the present frame, named point in its middle."""
    r = diameter / 2
    with s.frame(move(turn=rotation("z", roll_deg))):
        # The pattern is a product of coordinates, so its X corner is exact and no image is scaled.
        s.add(f"disc{{<0,0,0>,<0,0,1>,{r:g}}}",
              "pigment{function{select(x*y,0,0,1)} color_map{[0.5 rgb<0.78,0.78,0.76>][0.5 rgb<0.022,0.022,0.024>]}}"
              " finish{ambient 0.05 diffuse 0.85}", printed=True)
        s.add(f"disc{{<0,0,0>,<0,0,1>,{r + 1.4:g},{r + 0.7:g}}}", "PaintInk")
        s.point(name, (0, 0, 0), (0, 0, 1), along=(1, 0, 0))
    if label:
        s.text(name, 4.6, "PaintInk", 0.02, -5.5, -r - 6.8)


def _card(s: Scene, name: str, roll_deg: float = 0.0) -> None:
    """A square white card lying on z = 0 of the present frame, with a target."""
    half = TARGET_DIAMETER / 2 + 4.0
    s.box((-half, -half - 5, 0), (half, half - 1, 0.6), "PaintCard")
    with s.frame(move(0, 0, 0.62)):
        cross_target(s, name, TARGET_DIAMETER, roll_deg)


# Flat on the table: x, y, turn.
TABLE_TARGETS = [(-330, -226, 20), (-205, -224, -12), (8, -228, 8), (196, -222, 31), (300, -214, -25),
                 (-346, -14, 80), (-292, 222, -40), (-224, 236, 15), (-95, 231, -20), (2, 229, -8), (106, 232, 14),
                 (208, 226, 24), (298, 214, 50)]
# On blocks of foam: x, y, height, turn of the block.
BLOCK_TARGETS = [(-322, -92, 58, 18), (-330, 122, 78, -22), (340, -126, 96, 35), (342, 128, 64, -10),
                 (-118, -148, 42, 12), (96, 150, 47, -17), (112, -147, 76, 40), (-128, 147, 58, 5)]
# Leaning on easels, facing outwards: x, y, height of the middle, azimuth of the normal, its elevation.
EASEL_TARGETS = [(-300, -152, 40, 226, 38), (-60, -157, 34, 262, 42), (262, -168, 38, 310, 40), (344, 16, 44, 8, 35),
                 (268, 168, 36, 48, 42), (44, 161, 38, 95, 40), (-262, 160, 42, 130, 36), (-306, 24, 36, 178, 38),
                 (36, -158, 32, 286, 45)]
BAR_PLACES = {"bar A": (-20.0, -196.0, 0.9), "bar B": (-30.0, 199.5, -1.7), "bar C": (297.0, -3.0, 87.0)}


def targets_and_bars(s: Scene, true_bar_lengths: dict[str, float]) -> None:
    """Cards, blocks, easels and scale bars on the table; names T01.. and the bars' ends."""
    number = 0

    def name():
        nonlocal number
        number += 1
        return f"T{number:02d}"

    for x, y, turn in TABLE_TARGETS:
        with s.frame(move(x, y, 0.05, rotation("z", turn))):
            _card(s, name(), 9)
    for x, y, z, turn in BLOCK_TARGETS:
        with s.frame(move(x, y, 0, rotation("z", turn))):
            s.box((-16, -21, 0), (16, 15, z), "PaintFoam")
            with s.frame(move(0, 0, z)):
                _card(s, name(), -13)
    for x, y, z, azimuth, elevation in EASEL_TARGETS:
        a, e = math.radians(azimuth), math.radians(elevation)
        normal = np.array([math.cos(a) * math.cos(e), math.sin(a) * math.cos(e), math.sin(e)])
        with s.frame(frame_on((x, y, z), normal, (-math.sin(a), math.cos(a), 0))):
            _card(s, name(), 7)
            # a foam wedge behind the card, down to the table
        back = np.array([math.cos(a), math.sin(a), 0])
        across = np.array([-math.sin(a), math.cos(a), 0])
        top = np.array([x, y, z]) - normal * 0.3
        up = np.cross(normal, across)
        high, low = top + up * 14.5, top - up * 20
        outline = [low, high, np.array([*(high - back * 6)[:2], 0]), np.array([*low[:2], 0])]
        s.solid([p - across * 15 for p in outline], [p + across * 15 for p in outline], "PaintFoam")
    for bar, (x, y, turn) in BAR_PLACES.items():
        length = true_bar_lengths[bar]
        with s.frame(move(x, y, 0, rotation("z", turn))):
            s.box((-length / 2 - 15, -11, 0.1), (length / 2 + 15, 11, 8.0), "PaintBar")
            with s.frame(move(0, 0, 8.0)):
                s.text(f"{bar}  {round(length)} mm", 7, "PaintInk", 0.05, -30, -2.5)
            for sign, word in ((-1, "left"), (1, "right")):
                with s.frame(move(sign * length / 2, 0, 8.0)):
                    s.box((-11.5, -10.6, 0), (11.5, 10.6, 0.4), "PaintCard")
                    with s.frame(move(0, 0, 0.42)):
                        cross_target(s, f"{bar} {word}", BAR_TARGET_DIAMETER, sign * 6, label=False)


def table_and_room(s: Scene) -> None:
    """Table with a grey felt, floor, and walls far behind."""
    s.box((-640, -470, -3), (640, 470, 0), "PaintTable")
    s.box((-700, -530, -34), (700, 530, -3.0), "PaintWood")
    s.box((-5000, -5000, -770), (5000, 5000, -760), "PaintFloor")
    for low, high in (((-3200, -3200, -760), (-3100, 3200, 2600)), ((3100, -3200, -760), (3200, 3200, 2600)),
                      ((-3200, 3100, -760), (3200, 3200, 2600)), ((-3200, -3200, -760), (3200, -3100, 2600))):
        s.box(low, high, "PaintWall")
    # crates on the floor, so that the ground behind is not empty
    for _ in range(60):
        a, r = s.rng.uniform(0, 2 * math.pi), s.rng.uniform(1300, 2700)
        w, d, h = s.rng.uniform(70, 230, 3)
        with s.frame(move(r * math.cos(a), r * math.sin(a), -760, rotation("z", s.rng.uniform(0, 90)))):
            s.box((-w, -d, 0), (w, d, 1.3 * h), ["PaintWood", "PaintGrey", "PaintFoam", "PaintDark"][s.rng.integers(4)])


def board_corners() -> np.ndarray:
    """Inner corners (88, 3) in the board's frame, row by row, mm; the first one is the origin."""
    columns, rows = BOARD_INNER_CORNERS
    return np.array([(i * BOARD_SQUARE, j * BOARD_SQUARE, 0.0) for j in range(rows) for i in range(columns)])


def board(s: Scene) -> None:
    """The checkerboard in the present frame: a flat plate whose printed face is z = 0, facing +z."""
    q = BOARD_SQUARE
    columns, rows = BOARD_INNER_CORNERS
    s.box((-q - 14, -q - 14, -6), (columns * q + 14, rows * q + 14, -0.01), "PaintWhitePlate")
    # POV-Ray's checker in a plane through a cell border is noise: half a cell down in z.
    s.add(f"polygon{{5,<{-q},{-q}>,<{columns * q},{-q}>,<{columns * q},{rows * q}>,<{-q},{rows * q}>,<{-q},{-q}> no_shadow}}",
          f"pigment{{checker rgb<0.022,0.022,0.024> rgb<0.74,0.74,0.73> scale {q} translate z*{q / 2}}}"
          " finish{ambient 0.05 diffuse 0.85}", printed=True)
