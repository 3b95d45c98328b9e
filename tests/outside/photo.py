#!/usr/bin/env python3
"""Measuring on photographs, against references that nobody of this project wrote, on scenes with
known truth (tests/scenes, example `export`), in one run:

  OpenCV getPerspectiveTransform  length and area in the plane of the card, corners as given
  scikit-image sato + route_through_array   a crack followed between two taps
  OpenCV grabCut, told the radius           a stain outlined from one tap
  OpenCV SIFT + ratio test + RANSAC         an older photo laid on a newer one

Ours is the whole program (start, decoding the JPEG and all); of the references only the call counts,
pictures decoded beforehand. CPU is user + system. Prints ratios and shares, and fails where a target
of the measures table is missed (`--report` only prints). Targets are the project's own.

Usage: photo.py --bin target/release/witnessmark --export target/release/examples/export [--count 60]
"""

import argparse
import json
import math
import os
import pathlib
import random
import resource
import subprocess
import sys
import tempfile
import time

import cv2
import numpy as np
from skimage.filters import sato
from skimage.graph import route_through_array

COUNT = {"passed": 0, "failed": 0}
cv2.setNumThreads(1)
cv2.setRNGSeed(1)


def check(name, good, said=""):
    COUNT["passed" if good else "failed"] += 1
    print(f"{'ok    ' if good else 'FAILED'} {name} {said}", flush=True)


class Program:
    def __init__(self, binary):
        self.binary, self.cpu = binary, []

    def __call__(self, *words):
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        done = subprocess.run([self.binary, *map(str, words), "--json"], capture_output=True, text=True)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        self.cpu.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
        if done.returncode:
            return {"error": done.stderr.strip()}
        return json.loads(done.stdout)


def said(points):
    return " ".join(f"{x:.3f},{y:.3f}" for x, y in points)


def quantile(values, q):
    values = sorted(values)
    return values[min(len(values) - 1, int(q * len(values)))] if values else math.nan


def scenes(folder, kind):
    for file in sorted(folder.glob(f"{kind}-*.json")):
        yield json.loads(file.read_text())


def resampled(line, step=2.0):
    """Points every `step` pixels along a line."""
    line = np.asarray(line, float)
    at = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))])
    n = max(2, int(at[-1] / step))
    t = np.linspace(0, at[-1], n)
    return np.stack([np.interp(t, at, line[:, 0]), np.interp(t, at, line[:, 1])], 1)


def nearest(points, line):
    """Distance of every point to a finely resampled line."""
    line = resampled(line, 1.0)
    return np.array([np.sqrt(((line - p) ** 2).sum(1).min()) for p in np.asarray(points, float)])


def lost(line, truth):
    """Over 15 % of the path more than 6 px off."""
    return (nearest(resampled(line), truth) > 6).mean() > 0.15


# --- the plane of the card -------------------------------------------------------------------------

def plane(program, folder, spread):
    worst_length, worst_area, n = 0.0, 0.0, 0
    for scene in scenes(folder, "card"):
        card = scene["truth"]["cards"][0]["corners_px"]
        photo = folder / scene["file"]
        # Places are stored to a sixteenth of a pixel: the reference gets the same.
        rounded = [[round(16 * v) / 16 for v in p] for p in card]
        to_mm = cv2.getPerspectiveTransform(
            np.float64(rounded).astype(np.float32), np.float32([[0, 0], [85.6, 0], [85.6, 53.98], [0, 53.98]]))
        for length in scene["truth"]["lengths"]:
            path = [[round(16 * v) / 16 for v in p] for p in length["path_px"]]
            mm = cv2.perspectiveTransform(np.float64([path]), to_mm.astype(np.float64))[0]
            wanted = np.hypot(*np.diff(mm, axis=0).T).sum()
            got = program("measure", "length", photo, "--card", said(card), "--as-given", "--path", said(path))
            if "error" in got:
                check("length", False, got["error"])
                continue
            # The expected excess of a wobbly line is taken off (some hundredths of a percent).
            worst_length = max(worst_length, abs(got["value"] - wanted) / max(got["u"], 1e-9))
            n += 1
            if len(path) > 2:
                area = abs(cv2.contourArea(np.float32(mm)))
                drawn = program("measure", "outline", photo, "--card", said(card), "--as-given", "--edge", said(path))
                if "error" not in drawn:
                    worst_area = max(worst_area, abs(drawn["value"] - area) / max(drawn["u"], 1e-9))
    check("length in the card's plane as OpenCV's", n > 0 and worst_length < 0.25, f"{n} lengths, largest difference {worst_length:.3f} u")
    check("area in the card's plane as OpenCV's", worst_area < 0.25, f"largest difference {worst_area:.3f} u")


def cover(program, folder, spread):
    """U covers the truth; a small count of the 1,000 scenes of `cargo bench --bench card`."""
    inside, n, off = 0, 0, []
    for scene in scenes(folder, "card"):
        card = [[v + spread.gauss(0, 4) for v in p] for p in scene["truth"]["cards"][0]["corners_px"]]
        for length in scene["truth"]["lengths"]:
            path = [[v + spread.gauss(0, 1) for v in p] for p in length["path_px"]]
            got = program("measure", "length", folder / scene["file"], "--card", said(card), "--path", said(path))
            if "error" in got:
                continue
            n += 1
            inside += abs(got["value"] - length["length_mm"]) <= got["U"]
            off.append(abs(got["value"] / length["length_mm"] - 1))
    low = 0.95 - 3 * math.sqrt(0.95 * 0.05 / max(n, 1))
    check("U (k = 2) covers the truth", n and low <= inside / n, f"{100 * inside / max(n, 1):.1f} % of {n} lengths; error median {100 * quantile(off, .5):.2f} %, p90 {100 * quantile(off, .9):.2f} %")


# --- cracks ----------------------------------------------------------------------------------------

def by_skimage(grey, a, b):
    started = time.process_time()
    ridge = sato(grey, sigmas=(1, 2, 3), black_ridges=True)
    cost = 1 / (0.02 + ridge / max(ridge.max(), 1e-9))
    way, _ = route_through_array(cost, (int(a[1]), int(a[0])), (int(b[1]), int(b[0])), fully_connected=True, geometric=True)
    line = np.array([[x + 0.5, y + 0.5] for y, x in way], float)
    # A mean over nine steps: the pixel staircase alone is 4 to 5 % long.
    k = np.ones(9) / 9
    padded = np.pad(line, ((4, 4), (0, 0)), mode="edge")
    line = np.stack([np.convolve(padded[:, i], k, "valid") for i in (0, 1)], 1)
    return line, time.process_time() - started


def length_of(line):
    return np.hypot(*np.diff(np.asarray(line, float), axis=0).T).sum()


def cracks(program, folder, spread, full):
    for kind in ("crack", "seam"):
        ours, theirs, our_cpu, their_cpu, covered = [], [], [], [], 0
        lost_ours, lost_theirs, after = 0, 0, 0
        n = 0
        for scene in scenes(folder, kind):
            n += 1
            truth = scene["truth"]["cracks"][0]
            line, wanted = truth["polyline_px"], truth["length_px"]
            size = scene["truth"]["size"]
            taps = [[min(max(v + spread.gauss(0, 3), 1), s - 1) for v, s in zip(p, size)] for p in (line[0], line[-1])]
            photo = folder / scene["file"]
            words = ["measure", "trace", photo, "--tap", said(taps[:1]), "--tap", said(taps[1:])]
            got = program(*words)
            our_cpu.append(program.cpu[-1])
            grey = cv2.imread(str(photo), cv2.IMREAD_GRAYSCALE).astype(float) / 255
            reference, cpu = by_skimage(grey, *taps)
            their_cpu.append(cpu)
            theirs.append(abs(length_of(reference) / wanted - 1))
            lost_theirs += lost(reference, line)
            if "error" in got:
                print("      ", scene["file"], got["error"])
                ours.append(1.0)
                lost_ours += 1
                after += 1
                continue
            ours.append(abs(got["length_px"] / wanted - 1))
            covered += abs(got["length_px"] - wanted) <= 2 * got["u_px"]
            if lost(got["polyline"], line):
                lost_ours += 1
                # One further tap where the true path is farthest from the trace.
                true = resampled(line)
                far = true[nearest(true, got["polyline"]).argmax()]
                again = program(*words, "--tap", said([far]))
                bad = "error" in again or lost(again["polyline"], line)
                after += bad
                print(f"       {scene['file']} lost; after one further tap {'still lost' if bad else 'found'}")
        name = f"{n} cracks {'with a seam' if kind == 'seam' else 'without a seam'}"
        ratio = sum(our_cpu) / sum(their_cpu)
        print(f"       {name}: ours median {100 * quantile(ours, .5):.2f} %, p90 {100 * quantile(ours, .9):.2f} %, lost {lost_ours}, 2 u_px holds {covered} of {n}; "
              f"scikit-image median {100 * quantile(theirs, .5):.2f} %, p90 {100 * quantile(theirs, .9):.2f} %, lost {lost_theirs}")
        if kind == "crack":
            check("trace: median <= 0.5 %", quantile(ours, .5) <= .005, f"{100 * quantile(ours, .5):.2f} %")
            check("trace: p90 <= 2 %", quantile(ours, .9) <= .02, f"{100 * quantile(ours, .9):.2f} %")
        else:
            check("trace with a seam: at most 5 of 60 lost after one further tap", after <= 5 * n / 60 + (0 if full else 1), f"{after} of {n}, {lost_ours} before")
        check(f"trace: CPU <= 0.1 x scikit-image's ({kind})", ratio <= .1, f"{ratio:.3f} x")


# --- stains ----------------------------------------------------------------------------------------

def by_grabcut(bgr, tap, radius):
    started = time.process_time()
    h, w = bgr.shape[:2]
    mask = np.full((h, w), cv2.GC_BGD, np.uint8)
    centre = (int(tap[0]), int(tap[1]))
    cv2.circle(mask, centre, int(1.6 * radius), cv2.GC_PR_BGD, -1)
    cv2.circle(mask, centre, int(1.1 * radius), cv2.GC_PR_FGD, -1)
    cv2.circle(mask, centre, max(2, int(0.3 * radius)), cv2.GC_FGD, -1)
    cv2.grabCut(bgr, mask, None, np.zeros((1, 65)), np.zeros((1, 65)), 5, cv2.GC_INIT_WITH_MASK)
    inside = ((mask == cv2.GC_FGD) | (mask == cv2.GC_PR_FGD)).astype(np.uint8)
    _, labels = cv2.connectedComponents(inside)
    area = (labels == labels[centre[1], centre[0]]).sum()
    return float(area), time.process_time() - started


def stains(program, folder, spread):
    ours, theirs, our_cpu, their_cpu, shoelace, n = [], [], [], [], 0.0, 0
    for scene in scenes(folder, "stain"):
        n += 1
        truth = scene["truth"]["stains"][0]
        photo, wanted = folder / scene["file"], truth["area_px"]
        radius = math.sqrt(wanted / math.pi)
        tap = [v + spread.uniform(-0.25, 0.25) * radius for v in truth["middle_px"]]
        got = program("measure", "outline", photo, "--tap", said([tap]))
        our_cpu.append(program.cpu[-1])
        area, cpu = by_grabcut(cv2.imread(str(photo)), tap, radius)
        their_cpu.append(cpu)
        theirs.append(abs(area / wanted - 1))
        if "error" in got:
            print("      ", scene["file"], got["error"])
            ours.append(1.0)
            continue
        ours.append(abs(got["area_px"] / wanted - 1))
        shoelace = max(shoelace, abs(cv2.contourArea(np.float32(got["polygon"])) / got["area_px"] - 1))
    print(f"       {n} stains: ours median {100 * quantile(ours, .5):.2f} %, p90 {100 * quantile(ours, .9):.2f} %; "
          f"grabCut median {100 * quantile(theirs, .5):.2f} %, p90 {100 * quantile(theirs, .9):.2f} %; CPU {sum(our_cpu) / sum(their_cpu):.2f} x")
    check("outline: median <= 2 %", quantile(ours, .5) <= .02, f"{100 * quantile(ours, .5):.2f} %")
    check("outline: p90 <= 6 %", quantile(ours, .9) <= .06, f"{100 * quantile(ours, .9):.2f} %")
    check("outline: area of the polygon as OpenCV's contourArea", shoelace < .005, f"largest difference {100 * shoelace:.2f} %")


# --- older on newer --------------------------------------------------------------------------------

def by_sift(older, newer):
    started = time.process_time()
    sift = cv2.SIFT_create(nfeatures=3000, contrastThreshold=0.02)
    (ka, da), (kb, db) = sift.detectAndCompute(older, None), sift.detectAndCompute(newer, None)
    h = None
    if da is not None and db is not None and len(ka) > 7 and len(kb) > 7:
        pairs = cv2.BFMatcher().knnMatch(da, db, k=2)
        good = [m[0] for m in pairs if len(m) == 2 and m[0].distance < 0.78 * m[1].distance]
        if len(good) >= 8:
            a = np.float32([ka[m.queryIdx].pt for m in good])
            b = np.float32([kb[m.trainIdx].pt for m in good])
            h, mask = cv2.findHomography(a, b, cv2.RANSAC, 4.0, maxIters=5000, confidence=0.999)
            if h is not None and mask.sum() < 12:
                h = None
    return h, time.process_time() - started


def off(h, points):
    p = np.float64([[a for a, _ in points]])
    q = np.float64([b for _, b in points])
    return float(np.median(np.hypot(*(cv2.perspectiveTransform(p, np.float64(h))[0] - q).T)))


def laid(program, folder):
    good, wrong, their_good, their_wrong, our_cpu, their_cpu, n = 0, 0, 0, 0, [], [], 0
    for scene in scenes(folder, "pair"):
        n += 1
        points = scene["truth"]["points"]
        a, b = folder / scene["older"], folder / scene["newer"]
        got = program("lay", a, b)
        our_cpu.append(program.cpu[-1])
        if got.get("same_view"):
            error = off(got["homography"], points)
            good += error <= 10
            wrong += error > 10
            if error > 10:
                print(f"       {scene['older']}: accepted, {error:.0f} px off, quality {got['quality']}")
        h, cpu = by_sift(cv2.imread(str(a), cv2.IMREAD_GRAYSCALE), cv2.imread(str(b), cv2.IMREAD_GRAYSCALE))
        their_cpu.append(cpu)
        if h is not None:
            error = off(h, points)
            their_good += error <= 10
            their_wrong += error > 10
    taken, m = 0, 0
    for scene in list(scenes(folder, "impostor"))[:max(1, (n + 1) // 2)]:
        m += 1
        taken += bool(program("lay", folder / scene["older"], folder / scene["newer"]).get("same_view"))
    ratio = sum(our_cpu) / sum(their_cpu)
    print(f"       {n} pairs: ours {good} within 10 px, {wrong} wrong accepted; SIFT + RANSAC {their_good} and {their_wrong}; {taken} of {m} impostors accepted")
    check("lay: at least 52 of 60 within 10 px", good >= 52 * n / 60, f"{good} of {n}")
    check("lay: at most 1 wrong accepted", wrong <= 1, f"{wrong}")
    check("lay: no impostor accepted", taken == 0, f"{taken} of {m}")
    check("lay: CPU <= 0.6 x SIFT + RANSAC", ratio <= .6, f"{ratio:.2f} x")


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--bin", required=True)
    parser.add_argument("--export", required=True)
    parser.add_argument("--count", type=int, default=60)
    parser.add_argument("--scenes", help="a folder that `export` filled before")
    parser.add_argument("--only", choices=["card", "crack", "stain", "lay"])
    parser.add_argument("--report", action="store_true", help="print, never fail")
    args = parser.parse_args()
    program = Program(os.path.abspath(args.bin))
    with tempfile.TemporaryDirectory() as made:
        folder = pathlib.Path(args.scenes or made)
        if not args.scenes:
            subprocess.run([args.export, str(folder), str(args.count)], check=True, stdout=subprocess.DEVNULL)
        spread = random.Random(2026)
        want = lambda kind: args.only in (None, kind)
        if want("card"):
            plane(program, folder, spread)
            cover(program, folder, spread)
        if want("crack"):
            cracks(program, folder, spread, args.count >= 60)
        if want("stain"):
            stains(program, folder, spread)
        if want("lay"):
            laid(program, folder)
    print(f"== photo: {COUNT['passed']} passed, {COUNT['failed']} failed")
    sys.exit(0 if args.report or not COUNT["failed"] else 1)


if __name__ == "__main__":
    main()
