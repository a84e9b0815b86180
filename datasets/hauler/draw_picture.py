#!/usr/bin/python3
"""Draws the marks and some dimensions of the adjusted demo into one of its photos, for the README.

Usage: draw_picture.py ADJUST.json DIMENSIONS.json DOSSIER.json OUTPUT.jpg (files as tools/try leaves them).
Needs python3-opencv; not part of the build.
"""
import json
import pathlib
import sys

import cv2
import numpy as np

PHOTO = "hauler_02.jpg"
SHOWN = ["hopper rim length, right", "hopper rim width, front", "hopper rim length, left", "cab roof width, front",
         "overall length over bumpers, left", "wheelbase, left", "wheelbase, right", "front bumper width"]


def main():
    adjusted, dimensions, dossier = (json.loads(pathlib.Path(p).read_text(encoding="utf-8")) for p in sys.argv[1:4])
    image = cv2.imread(str(pathlib.Path(__file__).parent / "photos" / PHOTO))
    camera = {k: v["value"] for k, v in adjusted["cameras"][0]["parameters"].items()}
    pose = next(p for p in adjusted["photos"] if p["name"] == PHOTO)
    matrix = np.array([[camera["fx"], 0, camera["cx"]], [0, camera["fy"], camera["cy"]], [0, 0, 1]])
    distortion = np.array([camera[k] for k in ("k1", "k2", "p1", "p2", "k3")])
    points = {p["name"]: np.array([p["x"], p["y"], p["z"]]) for p in adjusted["points"] if p["placed"]}

    def project(xyz):
        pixel, _ = cv2.projectPoints(xyz.reshape(1, 3), np.array(pose["rotation_vector_rad"]),
                                     np.array(pose["translation"]), matrix, distortion)
        return tuple(int(round(v)) for v in pixel.ravel())

    for mark in dossier["marks"]:
        if mark["photo"] == PHOTO:
            cv2.circle(image, (round(mark["x_px"]), round(mark["y_px"])), 6, (60, 220, 255), 2, cv2.LINE_AA)
    seen = {mark["point"] for mark in dossier["marks"] if mark["photo"] == PHOTO}
    values = {d["name"]: d for d in dimensions["dimensions"] if d["scale"] == "model"}
    for asked in dossier["dimensions"]:
        if asked["name"] not in SHOWN or asked["kind"] not in ("distance", "along"):
            continue
        if asked["from"] not in seen or asked["to"] not in seen:
            continue
        a, b = project(points[asked["from"]]), project(points[asked["to"]])
        cv2.line(image, a, b, (255, 255, 255), 5, cv2.LINE_AA)
        cv2.line(image, a, b, (150, 60, 20), 3, cv2.LINE_AA)
        result = values[asked["name"]]
        text = f"{result['value']:.2f} +- {result['U']:.2f} mm"
        at = ((a[0] + b[0]) // 2 - 150, (a[1] + b[1]) // 2 - 14)
        cv2.putText(image, text, at, cv2.FONT_HERSHEY_DUPLEX, 1.1, (255, 255, 255), 7, cv2.LINE_AA)
        cv2.putText(image, text, at, cv2.FONT_HERSHEY_DUPLEX, 1.1, (120, 40, 10), 2, cv2.LINE_AA)
    cv2.imwrite(sys.argv[4], cv2.resize(image, (1200, 800), interpolation=cv2.INTER_AREA),
                [cv2.IMWRITE_JPEG_QUALITY, 88])


if __name__ == "__main__":
    main()
