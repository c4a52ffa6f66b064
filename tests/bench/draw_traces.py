#!/usr/bin/python3
"""Draws takes of the simulated student as the program hears them, with what decides the score marked.

  tests/bench/draw_traces.py [--build build/release] [--out doc/traces]

One SVG a take, from `landfall track` (the settled stream) and `landfall mark --json`: pick stroke, arrival, first stop, landing, verdict. The
sound comes from tests/student_take, so a drawing can be made again at any time. Needs python3 only.
"""
import argparse, csv, json, math, os, subprocess, sys, tempfile

# take, its move (1-based), title
TAKES = (("full-steps", 2, "A clean full step"), ("pulled-in", 1, "An under-bend, pulled in"), ("slide-that-overshoots", 1, "A slide that passes its fret and comes back"),
         ("vibrato-on-a-bend", 1, "Vibrato on a bend"), ("died", 1, "A bend that died"))
WIDTH, HEIGHT, LEFT, RIGHT, TOP, BOTTOM = 760, 340, 56, 16, 56, 40
INK, FAINT, BLUE, ORANGE, GREEN = "#222222", "#999999", "#0072B2", "#D55E00", "#009E73"  # Okabe & Ito 2008
AIM = 25.0
# JudgeConfig: seconds after arrival
FIRST_STOP, LANDING, VIBRATO = (0.020, 0.150), (0.060, 0.310), (0.100, 0.510)


def pitch(hertz):
    return 6900 + 1200 * math.log2(hertz / 440)


class Drawing:
    def __init__(self, t0, t1, low, high):
        self.t0, self.t1, self.low, self.high, self.parts = t0, t1, low, high, []

    def x(self, t):
        return LEFT + (WIDTH - LEFT - RIGHT) * (t - self.t0) / (self.t1 - self.t0)

    def y(self, cents):
        return HEIGHT - BOTTOM - (HEIGHT - TOP - BOTTOM) * (cents - self.low) / (self.high - self.low)

    def add(self, text, *values):
        self.parts.append(text % values)

    def line(self, t0, c0, t1, c1, colour, width=1.0, dash=""):
        self.add('<line x1="%.1f" y1="%.1f" x2="%.1f" y2="%.1f" stroke="%s" stroke-width="%g"%s/>', self.x(t0), self.y(c0), self.x(t1), self.y(c1), colour,
                 width, ' stroke-dasharray="%s"' % dash if dash else "")

    def text(self, x, y, words, colour=INK, anchor="start", size=12):
        words = words.replace("&", "&amp;").replace("<", "&lt;")
        self.add('<text x="%.1f" y="%.1f" fill="%s" text-anchor="%s" font-size="%d">%s</text>', x, y, colour, anchor, size, words)

    def window(self, t0, t1, cents, colour, words, row):
        """A bar just above (row 1) or below (row 0) what was measured in it, its name at the foot."""
        self.add('<rect x="%.1f" y="%.1f" width="%.1f" height="4" fill="%s"/>', self.x(t0), self.y(cents) + (2 if row == 0 else -6), self.x(t1) - self.x(t0), colour)
        self.text(self.x(t0), HEIGHT - BOTTOM - 10 - 16 * row, words, colour)
        self.line(t0, cents, t0, self.low, colour, 0.7, "2 3")

    def svg(self):
        return ('<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %d %d" font-family="sans-serif">\n<rect width="%d" height="%d" fill="#ffffff"/>\n%s\n</svg>\n'
                % (WIDTH, HEIGHT, WIDTH, HEIGHT, "\n".join(self.parts)))


def hear(build, name, folder):
    """the frames, the landings and what was played"""
    wav = os.path.join(folder, name + ".wav")
    played = json.loads(subprocess.run([os.path.join(build, "tests", "student_take"), name, wav], check=True, capture_output=True, text=True).stdout)
    program = os.path.join(build, "landfall")
    frames = subprocess.run([program, "track", wav], check=True, capture_output=True, text=True).stdout.splitlines()
    asked = [word for move in played["moves"] for word in ("--move", move)]
    marked = subprocess.run([program, "mark", wav, "--json"] + asked, check=True, capture_output=True, text=True).stdout
    return list(csv.DictReader(frames)), json.loads(marked)["landings"], played


def steady(points, arrival, cents):
    """whether 150 ms were steady before the vibrato: the landing is then measured there"""
    return all(abs(c - cents) <= 8 for t, c in points if arrival + 0.02 <= t <= arrival + 0.17)


def draw(frames, landing, truth, target, title):
    points = [(float(f["centre_s"]), pitch(float(f["f0_hz"])) - target) for f in frames
              if f["f0_hz"] and landing["onset_s"] - 0.02 <= float(f["centre_s"]) <= landing["end_s"] + 0.02]
    t0, t1 = landing["onset_s"] - 0.08, landing["end_s"] + 0.12
    d = Drawing(t0, t1, min([c for _, c in points] + [-60]) - 45, max([c for _, c in points] + [60]) + 45)
    d.add('<defs><pattern id="aim" width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><line x1="0" y1="0" x2="0" y2="6" stroke="#bbbbbb" stroke-width="1"/></pattern></defs>')
    d.add('<rect x="%d" y="%.1f" width="%d" height="%.1f" fill="url(#aim)"/>', LEFT, d.y(AIM), WIDTH - LEFT - RIGHT, d.y(-AIM) - d.y(AIM))
    d.line(t0, 0, t1, 0, INK, 1.2)
    step = 50 if d.high - d.low < 450 else 100 if d.high - d.low < 1000 else 200
    for cents in range(int(math.ceil(d.low / step)) * step, int(d.high) + 1, step):
        d.text(LEFT - 6, d.y(cents) + 4, "%+d" % cents if cents else "target", FAINT if cents else INK, "end", 11)
    for tenth in range(int(math.ceil(t0 * 5)), int(t1 * 5) + 1):
        x = d.x(tenth / 5)
        d.add('<line x1="%.1f" y1="%d" x2="%.1f" y2="%d" stroke="%s"/>', x, HEIGHT - BOTTOM, x, HEIGHT - BOTTOM + 4, FAINT)
        d.text(x, HEIGHT - BOTTOM + 17, "%.1f s" % (tenth / 5), FAINT, "middle", 11)

    runs, last = [], None
    for t, c in points:
        if last is None or t - last > 0.012:
            runs.append([])
        runs[-1].append("%.1f,%.1f" % (d.x(t), d.y(c)))
        last = t
    for run in runs:
        d.add('<polyline points="%s" fill="none" stroke="%s" stroke-width="1.6" stroke-linejoin="round"/>', " ".join(run), BLUE)

    d.line(landing["onset_s"], d.low, landing["onset_s"], d.high, FAINT, 1, "4 3")
    d.text(d.x(landing["onset_s"]) + 4, TOP + 10, "pick stroke", FAINT)
    arrival = landing["landing_time_s"]
    if arrival is not None:
        d.line(arrival, d.low, arrival, d.high, INK, 1, "4 3")
        d.text(d.x(arrival) + 4, TOP + 10, "arrival", INK)
        d.window(arrival + FIRST_STOP[0], arrival + FIRST_STOP[1], landing["first_stop_error_cents"], ORANGE, "first stop %+.1f" % landing["first_stop_error_cents"], 1)
        begin, end = VIBRATO if landing["vibrato"] is not None and not steady(points, arrival, landing["landing_error_cents"]) else LANDING
        begin, end = begin + arrival, min(end + arrival, landing["end_s"])
        if landing["correction_cents"] is not None:  # landing and hold belong to the corrected stretch
            inside = [t for t, c in points if t > arrival + FIRST_STOP[1] and abs(c - landing["landing_error_cents"]) <= 8]
            begin = inside[0] + LANDING[0] if inside else begin
            end = begin + LANDING[1] - LANDING[0]
        d.window(begin, end, landing["landing_error_cents"], GREEN, "landing %+.1f ± %.1f" % (landing["landing_error_cents"], landing["sd_cents"]), 0)
    d.text(LEFT, 20, title, INK, size=15)
    d.text(LEFT, 40, landing["verdict"] + ": " + landing["sentence"], INK, size=13)
    if truth["first_stop_cents"] is not None:
        d.text(WIDTH - RIGHT, 20, "played: first stop %+.1f, landing %+.1f cents" % (truth["first_stop_cents"], truth["landing_cents"]), FAINT, "end")
    return d.svg()


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--build", default="build/release")
    parser.add_argument("--out", default="doc/traces")
    options = parser.parse_args()
    for needed in ("landfall", "tests/student_take"):
        if not os.path.exists(os.path.join(options.build, needed)):
            sys.exit("draw_traces: %s is missing; build it first, or name the folder with --build" % os.path.join(options.build, needed))
    os.makedirs(options.out, exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        for name, move, title in TAKES:
            frames, landings, played = hear(options.build, name, folder)
            found = [l for l in landings if l["move"] == move]
            if not found:
                sys.exit("draw_traces: the program found no try at move %d of %s" % (move, name))
            target = 100 * float(played["moves"][move - 1].split(":")[2])
            path = os.path.join(options.out, name + ".svg")
            with open(path, "w") as out:
                out.write(draw(frames, found[0], played["truths"][move - 1], target, title))
            print("%s: %s" % (path, found[0]["sentence"]))


if __name__ == "__main__":
    main()
