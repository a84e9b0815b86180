"""The original: a tracked ore hauler of an invented film, a filming miniature of 1:48, about 520 mm long.

Its own axes: x forwards, y to the left, z up from the table, mm. Left and right are the driver's.
"""
from __future__ import annotations

import math

import numpy as np

import greebles
from greebles import bolt, cover, rivets
from scene import Scene, frame_on, hand_built, move, rotation

# Uneven on purpose: a miniature built by hand has no round numbers.
TRACK_MIDDLE, TRACK_WIDTH = 79.65, 34.2
IDLER, FRONT_ROAD, REAR_ROAD, SPROCKET = (206.4, 49.2), (150.3, 30.5), (-149.1, 30.5), (-207.8, 50.6)
BELT_RADIUS, PAD, GROUSER = 25.0, 3.6, 1.9
SIDES = ((1, "left"), (-1, "right"))


def _track(s: Scene, side: int, word: str) -> None:
    """One crawler: wheels, belt of pads, bogie covers."""
    y0, y1 = side * (TRACK_MIDDLE - TRACK_WIDTH / 2), side * (TRACK_MIDDLE + TRACK_WIDTH / 2)
    outer = y1
    corners = [np.array(c) for c in (IDLER, FRONT_ROAD, REAR_ROAD, SPROCKET)]
    corners[0] = corners[0] + [0.44 * side, 0.0]  # the belts are tightened differently
    # The belt is the outline of four equal circles: straight runs, and an arc at every corner.
    path = []
    n = len(corners)
    for i in range(n):
        a, b = corners[i], corners[(i + 1) % n]
        along = (b - a) / np.linalg.norm(b - a)
        normal = np.array([along[1], -along[0]])  # outwards for this clockwise round trip
        if normal @ (a - np.mean(corners, axis=0)) < 0:
            normal = -normal
        path.append((a + BELT_RADIUS * normal, b + BELT_RADIUS * normal, normal))
    samples = []
    for i, (start, end, normal) in enumerate(path):
        length = np.linalg.norm(end - start)
        for f in np.linspace(0, 1, max(2, int(length / 0.25)), endpoint=False):
            samples.append((start + (end - start) * f, normal))
        following = path[(i + 1) % n][2]
        turn = math.atan2(normal[0] * following[1] - normal[1] * following[0], normal @ following)
        for f in np.linspace(0, 1, max(2, int(abs(turn) * BELT_RADIUS / 0.25)), endpoint=False):
            c, q = math.cos(turn * f), math.sin(turn * f)
            direction = np.array([c * normal[0] - q * normal[1], q * normal[0] + c * normal[1]])
            samples.append((corners[(i + 1) % n] + BELT_RADIUS * direction, direction))
    places = np.array([p for p, _ in samples])
    run = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(places, axis=0), axis=1))])
    count = 96
    pitch = (run[-1] + 0.25) / count
    named = {"front": (238.0, 62.0), "front low": (222.0, 26.0), "rear": (-236.0, 62.0), "rear low": (-226, 30.0)}
    pads = []
    for k in range(count):
        j = int(np.searchsorted(run, (k + 0.5 * (side > 0)) * pitch)) % len(samples)
        place, normal = samples[j]
        pads.append((place, normal))
        with s.frame(frame_on((place[0], y0, place[1]), (normal[0], 0, normal[1]), (0, side, 0))):
            # x across the vehicle, y along the belt, z outwards
            w, half = TRACK_WIDTH, pitch * 0.45
            s.box((0, -half, 0), (w, half, PAD), "PaintTrack")
            s.box((0.6, -half * 0.35, PAD), (w - 0.6, half * 0.35, PAD + GROUSER), "PaintTrack")
            s.box((w * 0.44, -half * 0.6, -5), (w * 0.56, half * 0.6, 0.1), "PaintTrack")
            for x in (w * 0.12, w * 0.88):
                s.cylinder((x, -half * 0.75, PAD - 0.1), (x, -half * 0.75, PAD + 0.5), 0.8, "PaintSteel")
    for label, (x, z) in named.items():
        k = int(np.argmin([np.hypot(p[0] + 5 * m[0] - x, p[1] + 5 * m[1] - z) for p, m in pads]))
        place, normal = pads[k]
        with s.frame(frame_on((place[0], y0, place[1]), (normal[0], 0, normal[1]), (0, side, 0))):
            # The grouser's corner away from the hull, on the side of the next pad.
            upward = 1 if _upward_is_plus(normal, side) else -1
            s.point(f"track pad corner, {label}, {word}",
                    (TRACK_WIDTH - 0.6, upward * pitch * 0.45 * 0.35, PAD + GROUSER))
    names = {0: "idler hub", 3: "sprocket hub"}
    for i, (x, z) in enumerate(corners):
        if i in names:
            disc = names[i].split()[0]
            for r, depth, paint in ((22, 0.20, "PaintGrey"), (17.5, 0.06, "PaintDark"), (9, -0.02, "PaintBody")):
                s.cylinder((x, y0 + side * 2, z), (x, outer - side * TRACK_WIDTH * depth, z), r, paint)
            s.rim(f"{disc} disc, {word}", (x, outer - side * TRACK_WIDTH * 0.06, z), (0, side, 0), 17.5)
            for k in range(10):
                a = k * math.pi / 5 + 0.2
                s.cylinder((x + 13.2 * math.cos(a), outer - side * 6, z + 13.2 * math.sin(a)),
                           (x + 13.2 * math.cos(a), outer - side * 1.3, z + 13.2 * math.sin(a)), 1.5, "PaintSteel")
                s.small_place(f"{disc} bolt {k + 1}, {word}",
                              (x + 13.2 * math.cos(a), outer - side * 1.3, z + 13.2 * math.sin(a)), (0, side, 0))
            with s.frame(frame_on((x, outer + side * 0.68, z), (0, side, 0), (1, 0, 0))):
                bolt(s, f"{names[i]}, {word}", 0, 0, radius=2.4)
    for k in range(6):
        x = REAR_ROAD[0] + (FRONT_ROAD[0] - REAR_ROAD[0]) * k / 5 + s.rng.uniform(-0.3, 0.3)
        z = 28.4
        s.cylinder((x, y0 + side * 2, z), (x, outer - side * 3.5, z), 22.5, "PaintGrey")
        s.rim(f"road wheel {k + 1} disc, {word}", (x, outer - side * 3.5, z), (0, side, 0), 22.5)
        s.cylinder((x, y0 + side * 2, z), (x, outer - side * 2.0, z), 16.5, "PaintDark")
        s.torus((x, outer - side * 3.0, z), "y", 18.5, 1.2, "PaintGrey")
        s.cone((x, outer - side * 2.1, z), 9, (x, outer + side * 1.2, z), 5.5, "PaintBody")
        for j in range(8):
            a = j * math.pi / 4
            s.sphere((x + 12 * math.cos(a), outer - side * 2.0, z + 12 * math.sin(a)), 1.1, "PaintSteel")
        with s.frame(frame_on((x, outer + side * 1.1, z), (0, side, 0), (1, 0, 0))):
            bolt(s, f"road wheel hub {k + 1}, {word}", 0, 0, radius=2.2)


def _upward_is_plus(normal, side: int) -> bool:
    """Whether +y of a pad's frame points upwards; so the named corner is the upper one."""
    frame = frame_on((0, 0, 0), (normal[0], 0, normal[1]), (0, side, 0))
    return frame[2, 1] > 0


def _hull(s: Scene) -> None:
    """Hull, fenders, skirts, bumpers, lamps on the glacis."""
    s.profile([(-226, 42), (-212, 27), (198, 27), (232, 50), (232, 73), (216, 87), (-226, 87)], -60.5, 60.5, "PaintBody")
    for side, word in SIDES:
        inner, edge = side * 58.0, side * 101.4
        low, high = sorted((inner, edge))
        s.box((-231.2, low, 83.6), (223.8, high, 86.9), "PaintBody")
        s.edge(f"fender edge, {word}", (-231.2, edge, 86.9), (223.8, edge, 86.9))
        s.solid([(223.7, low, 83.6), (223.7, high, 83.6), (223.7, high, 86.9), (223.7, low, 86.9)],
                [(243.5, low, 70.6), (243.5, high, 70.6), (244.9, high, 73.6), (244.9, low, 73.6)], "PaintBody")
        s.solid([(-231.1, low, 83.6), (-231.1, high, 83.6), (-231.1, high, 86.9), (-231.1, low, 86.9)],
                [(-246.5, low, 72.6), (-246.5, high, 72.6), (-248.0, high, 75.6), (-248.0, low, 75.6)], "PaintBody")
        s.point(f"mudguard tip, front {word}", (244.9, edge, 73.6))
        s.point(f"mudguard tip, rear {word}", (-248.0, edge, 75.6))
        # The skirt: panels with a seam between each pair.
        panel = 75.0
        for k in range(6):
            x = -228.0 + k * panel
            a, b = sorted((edge - side * 0.4, edge + side * 1.1))
            s.box((x, a, 67.8), (x + panel - 1.1, b, 86.1), "PaintBody" if k not in (1, 4) else "PaintPale")
            for z in (69.8, 84.0):
                with s.frame(frame_on((x, edge + side * 1.1, z), (0, side, 0), (1, 0, 0))):
                    greebles.rivets(s, (4 * 1, 0, 0), ((panel - 6) * 1, 0, 0), 9, 0.6)
        for k, x in enumerate((-208.3, -94.6, 17.9, 131.2), start=1):
            with s.frame(frame_on((x, side * 97.6, 86.9), (0, 0, 1), (1, 0, 0))):
                bolt(s, f"fender bolt {k}, {word}", 0, 0, radius=1.8)
    # front bumper with chamfered ends and warning stripes
    outline = [(-79.4, 234.0), (79.4, 234.0), (74.6, 252.3), (-74.6, 252.3)]
    s.solid([(x, y, 34.2) for y, x in outline], [(x, y, 51.6) for y, x in outline], "PaintStripes")
    s.edge("front bumper edge, upper", (252.3, 74.6, 51.6), (252.3, -74.6, 51.6))
    s.edge("front bumper edge, lower", (252.3, 74.6, 34.2), (252.3, -74.6, 34.2))
    for side, word in SIDES:
        s.point(f"bumper corner, front {word}, upper", (252.3, side * 74.6, 51.6))
        s.point(f"bumper corner, front {word}, lower", (252.3, side * 74.6, 34.2))
        s.box((228, side * 40 - 5, 36), (236, side * 40 + 5, 50), "PaintDark")
        with s.frame(frame_on((253.0, side * 48.2, 43.0), (1, 0, 0), (0, 1, 0))):
            s.torus((0, 0, 1.5), "y", 4.0, 1.2, "PaintRed")
            s.box((-5.5, -4.5, -1), (5.5, 4.5, 0.6), "PaintSteel")
    # rear bumper, tail lamps
    s.box((-262.4, -71.8, 35.4), (-246.0, 71.8, 49.8), "PaintStripes")
    s.box((-247, -50, 36), (-222, -38, 49), "PaintDark")
    s.box((-247, 38, 36), (-222, 50, 49), "PaintDark")
    for side, word in SIDES:
        s.point(f"bumper corner, rear {word}, upper", (-262.4, side * 71.8, 49.8))
        with s.frame(frame_on((-262.4, side * 58.4, 42.8), (-1, 0, 0), (0, 1, 0))):
            s.cylinder((0, 0, -0.5), (0, 0, 1.6), 5.2, "PaintSteel")
            s.rim(f"tail lamp rim, {word}", (0, 0, 1.6), (0, 0, 1), 5.2)
            s.cylinder((0, 0, 0), (0, 0, 2.0), 4.2, "PaintLampRed")
            s.cylinder((0, 0, 0), (0, 0, 2.3), 0.9, "PaintPale")
            s.point(f"tail lamp centre, {word}", (0, 0, 2.3), (0, 0, 1))
    # headlamps stand on the nose plate
    for side, word in SIDES:
        with s.frame(frame_on((232.0, side * 43.7, 61.6), (1, 0, 0), (0, 1, 0))):
            s.cylinder((0, 0, -2), (0, 0, 7.4), 9.0, "PaintDark")
            s.torus((0, 0, 7.4), "z", 8.2, 1.1, "PaintSteel")
            s.cylinder((0, 0, 0), (0, 0, 7.6), 7.6, "PaintGlass")
            s.cylinder((0, 0, 0), (0, 0, 7.9), 1.1, "PaintPale")
            s.point(f"headlamp centre, {word}", (0, 0, 7.9), (0, 0, 1))
    cover(s, (232, -30, 53), (1, 0, 0), (0, 1, 0), 60, 18, 5, cell=13)
    cover(s, (-226, 34, 52), (-1, 0, 0), (0, -1, 0), 68, 33, 7, cell=13)


def _cab(s: Scene) -> None:
    """Cab with windows, doors, roof gear."""
    half = 54.6
    profile = [(119.4, 86.9), (219.6, 86.9), (222.4, 119.0), (197.2, 166.3), (119.4, 166.3)]
    s.profile(profile, -half, half, "PaintBody")
    # roof plate overhangs a little; its corners are named
    x0, x1, z0, z1, y = 115.2, 201.3, 166.2, 169.9, 57.1
    s.box((x0, -y, z0), (x1, y, z1), "PaintPale")
    s.edge("cab roof edge, front", (x1, y, z1), (x1, -y, z1))
    s.edge("cab roof edge, front, lower", (x1, y, z0), (x1, -y, z0))
    s.edge("cab roof edge, rear", (x0, y, z1), (x0, -y, z1))
    for side, word in SIDES:
        s.edge(f"cab roof edge, {word}", (x0, side * y, z1), (x1, side * y, z1))
        s.point(f"cab roof corner, front {word}", (x1, side * y, z1))
        s.point(f"cab roof corner, rear {word}", (x0, side * y, z1))
        s.point(f"windscreen sill end, {word}", (222.4, side * half, 119.0))
    # windscreen: glass in frames on the slope
    slope = np.array([197.2 - 222.4, 0, 166.3 - 119.0])
    length = np.linalg.norm(slope)
    normal = np.array([slope[2], 0, -slope[0]])
    with s.frame(frame_on((222.4, 0, 119.0), normal, (0, 1, 0))):
        up = 1 if (frame_on((0, 0, 0), normal, (0, 1, 0))[2, 1] > 0) else -1
        for a, b in ((-49.5, -18.5), (-15.5, 15.5), (18.5, 49.5)):
            low, high = sorted((up * 6, up * (length - 5)))
            s.box((a - 1.4, low - 1.4, -0.5), (b + 1.4, high + 1.4, 0.8), "PaintGrey")
            s.box((a, low, 0), (b, high, 1.0), "PaintGlass")
            s.cylinder((a + 6, up * 7, 1.4), (b - 4, up * (length - 16), 1.4), 0.4, "PaintDark")
    # front plate under the windscreen
    cover(s, (221.0, -46, 92.5), (1, 0, -0.087), (0, 1, 0), 92, 22, 4.5, cell=14)
    for side, word in SIDES:
        with s.frame(frame_on((0, side * half, 0), (0, side, 0), (1, 0, 0))):
            # x forwards, y up or down: work with v(z)
            up = 1 if (frame_on((0, 0, 0), (0, side, 0), (1, 0, 0))[2, 1] > 0) else -1

            def panel(xa, xb, za, zb, low, high, paint):
                a, b = sorted((up * za, up * zb))
                s.box((xa, a, low), (xb, b, high), paint)

            panel(159.0, 196.0, 92.0, 161.0, -0.5, 0.9, "PaintBody")  # door
            panel(163.0, 192.0, 127.0, 156.5, -0.5, 1.3, "PaintGrey")
            panel(165.0, 190.0, 129.0, 154.5, -0.5, 1.5, "PaintGlass")
            panel(125.0, 152.5, 127.0, 156.5, -0.5, 0.9, "PaintGrey")
            panel(127.0, 150.5, 129.0, 154.5, -0.5, 1.1, "PaintGlass")
            panel(157.6, 159.6, 100, 106, 0, 2.0, "PaintSteel")
            panel(157.6, 159.6, 146, 152, 0, 2.0, "PaintSteel")
            s.cylinder((188.4, up * 118, 1.0), (188.4, up * 118, 3.4), 1.5, "PaintSteel")
            s.box((180.2, up * 118 - 0.8, 2.6), (189.0, up * 118 + 0.8, 3.8), "PaintSteel")
            s.point(f"door handle tip, {word}", (180.2, up * 118 + 0.8, 3.8), (0, 0, 1))
            for z in (94, 109, 124):
                rivets(s, (124, up * z, 0), (154, up * z, 0), 7, 0.6)
            cover(s, (124, up * 96 if up > 0 else up * 122, 0), (0, 0, 1), (1, 0, 0), 31, 26, 6, cell=12)
            # grab rail
            s.pipe([(199.5, up * 100, 0), (199.5, up * 100, 4.5), (199.5, up * 150, 4.5), (199.5, up * 150, 0)], 0.8,
                   "PaintSteel", flanges=False)
            # mirror
            s.pipe([(206, up * 138, 0), (210, up * 141, 13)], 0.8, "PaintDark", flanges=False)
            s.box((208.4, up * 141 - 8, 10), (210.4, up * 141 + 6, 17), "PaintDark")
    # roof gear
    with s.frame(move(0, 0, z1)):
        with s.frame(move(157.3, 14.8, 0)):
            s.cylinder((0, 0, -1), (0, 0, 2.6), 15.0, "PaintGrey")
            s.cylinder((0, 0, 0), (0, 0, 3.8), 12.8, "PaintBody")
            s.rim("roof hatch rim", (0, 0, 3.8), (0, 0, 1), 12.8)
            for k in range(8):
                a = k * math.pi / 4 + 0.3
                s.sphere((13.9 * math.cos(a), 13.9 * math.sin(a), 2.6), 0.7, "PaintSteel")
            for side, word in SIDES:
                s.box((-19, side * 6 - 2, 0), (-10, side * 6 + 2, 4.4), "PaintSteel")
                s.point(f"roof hatch hinge, {word}", (-19, side * 6 + side * 2, 4.4))
            with s.frame(move(0, 0, 3.8)):
                bolt(s, "Luke Ø vorn", 0, 0, radius=2.6)
        s.box((189.0, -46, 0), (194.0, 46, 3), "PaintDark")
        for k, y_mm in enumerate((-37.2, -12.6, 12.1, 37.0), start=1):
            with s.frame(frame_on((194.5, y_mm, 6.6), (1, 0, 0), (0, 1, 0))):
                s.cone((0, 0, -8), 3.0, (0, 0, 2), 5.4, "PaintGrey")
                s.torus((0, 0, 2), "z", 4.9, 0.7, "PaintSteel")
                s.cylinder((0, 0, 0), (0, 0, 2.2), 4.6, "PaintGlass")
                s.cylinder((0, 0, 0), (0, 0, 2.5), 0.9, "PaintPale")
                s.point(f"roof lamp {k} centre", (0, 0, 2.5), (0, 0, 1))
        for side, word in SIDES:
            s.cylinder((126.5, side * 47.5, 0), (126.5, side * 47.5, 3), 4.2, "PaintDark")
            s.cone((126.5, side * 47.5, 3), 3.6, (126.5, side * 47.5, 9.4), 2.2, "PaintBeacon")
            s.cylinder((126.5, side * 47.5, 9), (126.5, side * 47.5, 10.2), 0.9, "PaintPale")
            s.point(f"beacon tip, {word}", (126.5, side * 47.5, 10.2), (0, 0, 1))
        s.box((121.5, -36.4, 0), (146.8, -7.2, 9.2), "PaintGrey")
        s.point("cooler box corner, front right", (146.8, -36.4, 9.2))
        s.point("cooler box corner, rear right", (121.5, -36.4, 9.2))
        with s.frame(move(0, 0, 9.2)):
            with s.frame(move(123, -35, 0)):
                greebles.grille(s, 22, 26, 4)
        cover(s, (152, -44, 0), (0, 0, 1), (1, 0, 0), 32, 30, 5, cell=12)
        s.cylinder((118.6, 30, 0), (116.0, 31, 62), 0.5, "PaintDark")
        s.cylinder((118.6, 30, 0), (118.4, 30.1, 5), 1.4, "PaintSteel")


def _engine(s: Scene) -> None:
    """Engine deck between cab and hopper: exhausts, filters, pipes, greebles."""
    for side, word in SIDES:
        lean = 1.7 * side
        top = (86.4 + lean * 0.3, side * 43.2 + lean, 203.6 + lean)
        s.cylinder((86.4, side * 43.2, 86), top, 5.6, "PaintSteel")
        s.round_bar(f"exhaust, {word}", (86.4, side * 43.2, 86), top, 5.6)
        s.cylinder((86.4, side * 43.2, 106), (86.6, side * 43.4, 164), 7.8, "PaintGrey")
        s.round_bar(f"muffler, {word}", (86.4, side * 43.2, 106), (86.6, side * 43.4, 164), 7.8)
        for z in (108, 120, 132, 144, 156):
            s.torus((86.5, side * 43.3, z), "z", 7.8, 0.7, "PaintDark")
        s.cylinder((86.4 + lean * 0.3, side * 43.2 + lean, 190 + lean), (top[0], top[1], top[2] + 0.4), 6.6, "PaintDark")
        s.rim(f"exhaust mouth, {word}", (top[0], top[1], top[2] + 0.4), (0, 0, 1), 6.6)
        s.cylinder((top[0], top[1], top[2]), (top[0], top[1], top[2] + 0.8), 1.4, "PaintPale")
        s.point(f"exhaust cap, {word}", (top[0], top[1], top[2] + 0.8), (0, 0, 1))
    s.box((68, -33, 86), (114, 33, 118), "PaintGrey")
    cover(s, (69, -32, 118), (0, 0, 1), (1, 0, 0), 44, 64, 12, cell=15, gaps=0.05)
    for side, word in SIDES:
        cover(s, (69, side * 33, 88) if side < 0 else (113, 33, 88), (0, side, 0), (-side, 0, 0), 44, 29, 6, cell=12)
    # the big line: from the engine over the left fender to the rear
    s.pipe([(92, 52, 104), (92, 93.4, 104), (74.2, 93.4, 95.4), (-174.6, 93.4, 95.4), (-174.6, 93.4, 88)], 3.1, "PaintSteel")
    s.round_bar("pipe, left fender", (74.2, 93.4, 95.4), (-174.6, 93.4, 95.4), 3.1)
    s.pipe([(100, -50, 98), (100, -84, 98), (100, -84, 93.0), (-128.4, -84.0, 93.0), (-128.4, -98, 93.0)], 2.6, "PaintDark")
    s.round_bar("pipe, right fender", (100, -84, 93.0), (-128.4, -84, 93.0), 2.6)
    s.cylinder((-128.4, -97.0, 93.0), (-128.4, -100.0, 93.0), 4.4, "PaintSteel")
    s.cylinder((-128.4, -100, 93.0), (-128.4, -100.4, 93.0), 1.0, "PaintPale")
    s.point("pipe end, right fender", (-128.4, -100.4, 93.0), (0, -1, 0))
    s.cylinder((92, 93.4, 104), (92, 101.8, 104), 4.6, "PaintSteel")
    s.cylinder((92, 101.8, 104), (92, 102.2, 104), 1.0, "PaintPale")
    s.point("pipe end, left fender", (92, 102.2, 104), (0, 1, 0))
    for k, x in enumerate((48, -18, -84, -150)):
        s.box((x - 2, 90.6, 86), (x + 2, 96.2, 95), "PaintDark")
        s.torus((x, 93.4, 95.4), "x", 3.3, 0.8, "PaintGrey")


def _hatches(s: Scene) -> None:
    """Three square hatches on the right fender, each with hinges and a handle; a fuel tank on the left."""
    for k, x in enumerate((112.4, 139.9, 167.2), start=1):
        with s.frame(move(x, -80.2, 86.9, rotation("z", s.rng.uniform(-0.8, 0.8)))):
            s.box((0, -11, 0), (22.0, 11, 2.3), "PaintPale" if k == 2 else "PaintBody")
            s.box((4, -7, 2), (18, 7, 3.0), "PaintGrey")
            for x_mm in (4.0, 18.0):
                s.cylinder((x_mm - 2.6, 11.6, 2.2), (x_mm + 2.6, 11.6, 2.2), 1.5, "PaintSteel")
            s.pipe([(8, -8.4, 2), (8, -8.4, 4.4), (14, -8.4, 4.4), (14, -8.4, 2)], 0.6, "PaintSteel", flanges=False)
            s.point(f"hatch № {k} corner, front outer", (22.0, -11, 2.3))
            s.point(f"hatch № {k} corner, rear outer", (0.0, -11, 2.3))
            with s.frame(move(11, 12.4, 0)):
                s.box((-2.4, -1.5, 0), (2.4, 2.4, 3.0), "PaintSteel")
                with s.frame(move(0, 0.4, 3.0)):
                    bolt(s, f"hatch № {k} hinge", 0, 0, radius=1.3)
    with s.frame(move(108.0, 66.0, 86.9)):
        s.box((0, 0, 0), (46.6, 24.4, 17.4), "PaintGrey")
        s.edge("fuel tank edge, outer", (0, 24.4, 17.4), (46.6, 24.4, 17.4))
        for x in (8, 38):
            s.box((x - 1.5, -0.4, 0), (x + 1.5, 24.9, 18.0), "PaintDark")
        s.cylinder((23, 15, 17), (23, 15, 20.6), 4.4, "PaintRed")
        s.torus((23, 15, 20.4), "z", 3.6, 0.7, "PaintRed")
        s.cylinder((23, 15, 20), (23, 15, 21.2), 1.0, "PaintPale")
        s.point("fuel cap", (23, 15, 21.2), (0, 0, 1))
        s.point("fuel tank corner, front outer", (46.6, 24.4, 17.4))
        s.point("fuel tank corner, rear outer", (0, 24.4, 17.4))
    cover(s, (159, 64, 86.9), (0, 0, 1), (1, 0, 0), 58, 30, 9, cell=14)


def _hopper(s: Scene) -> None:
    """Hopper with ribs, rim, ore; built a little askew, as such parts are."""
    with s.frame(move(0.4, -0.3, 0.2, rotation("z", 0.31)) @ hand_built(s.rng, (-90, 0, 90))):
        bottom = ((-204.2, 38.3), 70.2, 93.2)
        top = ((-239.8, 61.7), 91.3, 177.0)
        wall = 3.0

        def ring(level, inset):
            (a, b), y, z = level
            return [(a + inset, -y + inset, z), (b - inset, -y + inset, z), (b - inset, y - inset, z), (a + inset, y - inset, z)]

        low, high, low_in, high_in = ring(bottom, 0), ring(top, 0), ring(bottom, wall), ring(top, wall)
        for i in range(4):
            j = (i + 1) % 4
            s.solid([low[i], low[j], high[j], high[i]], [low_in[i], low_in[j], high_in[j], high_in[i]], "PaintHopper")
        s.solid(ring(((-204, 38), 70, 88), 6), ring(((-204, 38), 70, 94.5), 3), "PaintDark")
        for x in (-190, -110, -30, 24):
            s.box((x - 5, -66, 86), (x + 5, 66, 94), "PaintGrey")
        # rim: the long rails carry the corners, the cross rails sit between them a touch lower
        (xa, xb), y, z = top
        rail, tall = 6.4, 4.7
        for side, word in SIDES:
            a, b = sorted((side * (y - rail + 1.8), side * (y + 1.8)))
            rear, front = (xa - 1.93, xb + 2.31) if side > 0 else (xa - 2.22, xb + 1.84)
            s.box((rear, a, z - 0.2), (front, b, z + tall), "PaintBody")
            s.edge(f"hopper rim edge, {word}", (rear, side * (y + 1.8), z + tall), (front, side * (y + 1.8), z + tall))
            s.point(f"hopper rim corner, front {word}", (front, side * (y + 1.8), z + tall))
            s.point(f"hopper rim corner, rear {word}", (rear, side * (y + 1.8), z + tall))
            for k, x in enumerate((-180.3, -88.1, 4.2), start=1):
                with s.frame(move(x, side * (y - 1.4), z + tall)):
                    bolt(s, f"rim bolt {k}, {word}", 0, 0, radius=1.9)
            rivets(s, (xa + 6, side * (y - 1.4), z + tall), (xb - 6, side * (y - 1.4), z + tall), 22, 0.6)
            for k in range(22):
                s.small_place(f"rim rivet {k + 1}, {word}",
                              (xa + 6 + (xb - xa - 12) * k / 21, side * (y - 1.4), z + tall + 0.6), (0, 0, 1))
        for xm in (xa - 1.8, xb + 1.8 - rail):
            s.box((xm, -(y - rail + 1.7), z - 0.2), (xm + rail, y - rail + 1.7, z + tall - 0.4), "PaintBody")
        # side walls: ribs, and kit parts between them
        for side, word in SIDES:
            up = np.array([0, side * (top[1] - bottom[1]), top[2] - bottom[2]])
            height = np.linalg.norm(up)
            normal = np.array([0, side * up[2], -abs(up[1])])
            # Seen from outside, forwards is to the left on the left side: x of the wall runs that way.
            with s.frame(frame_on((0, side * bottom[1], bottom[2]), normal, (-side, 0, 0))):
                stations = np.linspace(-192, 28, 7) + s.rng.uniform(-0.5, 0.5, 7)
                for k, x in enumerate(stations, start=1):
                    x = -side * x
                    s.solid([(x - 2.4, 2, -0.3), (x + 2.4, 2, -0.3), (x + 2.4, height - 1, -0.3), (x - 2.4, height - 1, -0.3)],
                            [(x - 2.4, 5, 5.2), (x + 2.4, 5, 5.2), (x + 2.4, height - 1, 6.8), (x - 2.4, height - 1, 6.8)],
                            "PaintBody")
                    for v in (16, 32, 48, 64, 80):
                        s.sphere((x, v, 5.6 + 1.4 * (v - 5) / (height - 6)), 0.75, "PaintGrey")
                    if k in (1, 3, 5, 7):
                        s.point(f"rib {k} foot, {word}", (x - side * 2.4, 5, 5.2))
                for k, (a, b) in enumerate(zip(stations, stations[1:])):
                    left = min(-side * a, -side * b) + 3.6
                    wide = abs(b - a) - 7.2
                    for v in (22, 62):
                        rivets(s, (left, v, 0), (left + wide, v, 0), 8, 0.6)
                    if k in (2, 3):
                        continue
                    cover(s, (left, 4, 0), (0, 0, 1), (1, 0, 0), wide, 16, 7, cell=13)
                    if k in (0, 5):
                        cover(s, (left, 26, 0), (0, 0, 1), (1, 0, 0), wide, 33, 6, cell=15)
                    elif k == 4:
                        cover(s, (left, 65, 0), (0, 0, 1), (1, 0, 0), wide, 15, 5, cell=11)
                # the fleet number
                middle = -side * (stations[2] + stations[3]) / 2
                s.box((middle - 15, 27, -0.2), (middle + 15, 58, 0.4), "PaintPale")
                with s.frame(move(0, 0, 0.4)):
                    s.text("07", 20, "PaintPrint", 0.15, middle - 11.6, 35)
                middle = -side * (stations[3] + stations[4]) / 2
                s.text("ORE", 9, "PaintPrint", 0.15, middle - 9.5, 45)
                s.text("HAULER", 5.4, "PaintPrint", 0.15, middle - 11.0, 35)
        # front and rear wall
        for xb_low, xb_high, sign in ((bottom[0][1], top[0][1], 1), (bottom[0][0], top[0][0], -1)):
            up = np.array([xb_high - xb_low, 0, top[2] - bottom[2]])
            normal = np.array([sign * up[2], 0, -abs(up[0])])
            with s.frame(frame_on((xb_low, 0, bottom[2]), normal, (0, sign, 0))):
                h = np.linalg.norm(up)
                for y_mm in (-60, -20, 20, 60):
                    s.box((y_mm - 2.2, 2, -0.3), (y_mm + 2.2, h - 2, 5.0), "PaintBody")
                for y_mm in (-57, -17, 23):
                    cover(s, (y_mm, 8, 0), (0, 0, 1), (1, 0, 0), 34, h - 22, 8, cell=16)
        # tipping rams at the rear
        for side, _ in SIDES:
            s.cylinder((-224, side * 52, 78), (-242, side * 52, 138), 4.2, "PaintGrey")
            s.cylinder((-236, side * 52, 118), (-249, side * 52, 162), 2.4, "PaintSteel")
            s.cylinder((-249, side * 57.6, 162), (-249, side * 46.4, 162), 4.4, "PaintDark")
            with s.frame(frame_on((-249, side * 57.6, 162), (0, side, 0), (1, 0, 0))):
                bolt(s, "", 0, 0, radius=1.8)
        _ore(s)


def _ore(s: Scene) -> None:
    """The load: a dark bed and a heap of stones."""
    s.solid([(-205, -68, 97), (38, -68, 97), (38, 68, 97), (-205, 68, 97)],
            [(-231, -85, 163), (54, -85, 163), (54, 85, 163), (-231, 85, 163)], "PaintOre")
    golden = (1 + 5 ** 0.5) / 2
    base = np.array([(a, b, 0) for a in (-1, 1) for b in (-golden, golden)])
    corners = np.concatenate([base, base[:, [2, 0, 1]], base[:, [1, 2, 0]]]) / 1.9
    edges = [(i, j, k) for i in range(12) for j in range(i + 1, 12) for k in range(j + 1, 12)
             if all(np.linalg.norm(corners[p] - corners[q]) < 1.2 for p, q in ((i, j), (j, k), (i, k)))]
    shapes = []
    for n in range(7):
        bumpy = corners * s.rng.uniform(0.72, 1.2, (12, 1)) + s.rng.uniform(-0.1, 0.1, (12, 3))
        text = "".join("triangle{" + ",".join("<%.4f,%.4f,%.4f>" % tuple(bumpy[v]) for v in t) + "}" for t in edges)
        shapes.append(f"Stone{n}")
        s.objects.append(f"#declare Stone{n} = mesh{{{text}}};")
    for _ in range(620):
        x, y = s.rng.uniform(-224, 47), s.rng.uniform(-79, 79)
        f = max(0.0, 1 - ((x + 88) / 150) ** 2) * max(0.0, 1 - (y / 84) ** 2)
        size = s.rng.choice([3.2, 4.4, 6.0, 8.5], p=[0.35, 0.35, 0.2, 0.1]) * s.rng.uniform(0.8, 1.2)
        turn = rotation("z", s.rng.uniform(0, 360)) @ rotation("x", s.rng.uniform(0, 360))
        with s.frame(move(x, y, 163 + 24 * f + s.rng.uniform(-1, 1) * 2, turn)):
            s.add(f"object{{{shapes[s.rng.integers(7)]} scale <{size * s.rng.uniform(0.7, 1.2):.3g},{size:.3g},{size * 0.8:.3g}>}}",
                  "PaintOre")

    # The heap under the stones, so that no gap shows the bed far below.
    steps = np.linspace(-1, 1, 13)
    def height(u, v):
        return 162 + 24 * max(0, 1 - u * u) * max(0, 1 - v * v)
    triangles = []
    for u0, u1 in zip(steps, steps[1:]):
        for v0, v1 in zip(steps, steps[1:]):
            quad = [(-88.5 + 140 * u, 83 * v, height(u, v)) for u, v in ((u0, v0), (u1, v0), (u1, v1), (u0, v1))]
            triangles += [(quad[0], quad[1], quad[2]), (quad[0], quad[2], quad[3])]
    s.mesh(triangles, "PaintOre")


def build(s: Scene) -> None:
    """The whole hauler in the present frame; names its points."""
    for side, word in SIDES:
        _track(s, side, word)
    _hull(s)
    with s.frame(hand_built(s.rng, (160, 0, 87))):
        _cab(s)
    with s.frame(hand_built(s.rng, (90, 0, 87))):
        _engine(s)
    _hatches(s)
    _hopper(s)
    # kit parts on the rear fenders, beside the hopper's foot, and on the left fender
    cover(s, (-228, 62, 86.9), (0, 0, 1), (1, 0, 0), 46, 24, 8, cell=14)
    cover(s, (-228, -95, 86.9), (0, 0, 1), (1, 0, 0), 62, 30, 8, cell=14)
    cover(s, (-100, -96, 86.9), (0, 0, 1), (1, 0, 0), 104, 8, 6, cell=11)
    cover(s, (14, -97, 86.9), (0, 0, 1), (1, 0, 0), 66, 9, 7, cell=12)
    cover(s, (192, -94, 86.9), (0, 0, 1), (1, 0, 0), 27, 32, 7, cell=13)
