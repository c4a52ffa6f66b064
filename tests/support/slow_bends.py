#!/usr/bin/python3
"""slow_bends.py LANDFALL: bends along published curves, marked by LANDFALL, against moments known in closed form.

The judge and the simulated student share one definition of a slow bend's rest; nothing here knows it.
- A hand's smoothest way from rest to rest, x = A (10 u^3 - 15 u^4 + 6 u^5) with u = t / T (Flash & Hogan 1985, "The coordination of arm
  movements", eq. 5 for one axis). Its speed is 30 A / T (u (1 - u))^2, 1.875 A / T at most; it is over where the speed has fallen to 5 % of
  that (common practice in motor control), u = (1 + sqrt(1 - 4 sqrt(.05 * 1.875 / 30))) / 2 = .9408.
- A first-order approach, x = A (1 - exp(-t / tau)), settled to 2 % after tau ln 50 (a textbook's settling time, from memory).
"""
import json, math, os, subprocess, sys, tempfile, wave, array

RATE, LOW, BEFORE, AFTER = 48000, 293.665, 0.5, 1.2  # Hz, D4, s, s


def minimum_jerk(cents, seconds):
    over = (1 + math.sqrt(1 - 4 * math.sqrt(0.05 * 1.875 / 30))) / 2
    def at(t):
        u = min(t / seconds, 1)
        return cents * u ** 3 * (10 - 15 * u + 6 * u * u)
    return at, over * seconds, seconds


def first_order(cents, tau):
    return (lambda t: cents * (1 - math.exp(-t / tau))), tau * math.log(50), 5 * tau


def write(path, curve, lasts):
    samples, phase = array.array("h"), 0.0
    for n in range(int(RATE * (0.3 + BEFORE + lasts + AFTER))):
        t = n / RATE - 0.3
        phase += 2 * math.pi * LOW * 2 ** (curve(max(0, t - BEFORE)) / 1200) / RATE
        tone = sum(math.sin(k * phase) / k for k in (1, 2, 3, 4)) if t >= 0 else 0.0
        samples.append(int(9000 * tone * math.exp(-0.4 * max(0, t))))
    with wave.open(path, "wb") as file:
        file.setparams((1, 2, RATE, 0, "NONE", ""))
        file.writeframes(samples.tobytes())


# curve, its words, the note bent to, cents and seconds that the mark may differ by
CASES = [
    # What the definition in use and the published one leave apart: the band of 8 cents, or 10 cents/s over 0.15 s, against a share of the
    # whole way's speed or length.
    (minimum_jerk(200, 0.4), "200 cents in 0.4 s", "E4", 1.0, 0.06),
    (minimum_jerk(100, 1.2), "100 cents in 1.2 s", "D#4", 1.0, 0.15),
    (minimum_jerk(100, 2.0), "100 cents in 2 s", "D#4", 1.5, 0.15),
    (minimum_jerk(200, 2.0), "200 cents in 2 s", "E4", 1.5, 0.15),
    (minimum_jerk(200, 3.0), "200 cents in 3 s", "E4", 1.5, 0.15),
    (first_order(100, 0.15), "100 cents, tau 0.15 s", "D#4", 3.0, 0.25),
    (first_order(100, 0.25), "100 cents, tau 0.25 s", "D#4", 3.0, 0.25),
    (first_order(200, 0.3), "200 cents, tau 0.3 s", "E4", 3.0, 0.25),
]

failed = 0
with tempfile.TemporaryDirectory() as folder:
    path = os.path.join(folder, "bend.wav")
    for (curve, over, lasts), words, to, cents, seconds in CASES:
        write(path, curve, lasts)
        said = subprocess.run([sys.argv[1], "mark", path, "--move", f"bend:D4:{to}", "--json"], capture_output=True, text=True, check=True).stdout
        landings = json.loads(said)["landings"]
        landing = landings[0] if landings else {}
        late = landing.get("landing_time_s")
        off = landing.get("landing_error_cents")
        late = None if late is None else late - 0.3 - BEFORE - over
        good = late is not None and abs(late) <= seconds and abs(off) <= cents
        failed += not good
        print(f"{words:24} {'landed' if good else 'FAILED'}: {off} cents from its end, {late} s from its published rest; {landing.get('sentence')}")
sys.exit(failed > 0)
