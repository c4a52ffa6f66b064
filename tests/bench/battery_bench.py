#!/usr/bin/python3
"""Runs the intonation battery and prints its figures as Markdown, beside aubio and Praat measured in the same run.

  tests/bench/battery_bench.py BATTERY [--program build/release/landfall] [--out FILE.md] [--only CATEGORY]

BATTERY is the folder that holds score.py, score_marks.py and open/. Needs python3-numpy; aubio-tools and praat for their rows (a row
whose program is missing is left out, and said so). Cost is user and system time of whole processes over the seconds of sound.
"""
import argparse, json, os, resource, shutil, subprocess, sys, tempfile

PRAAT = """form Files
  sentence Source x
  sentence Target x
endform
Read from file: source$
To Pitch (cc): 0.005, 55, 15, "no", 0.03, 0.45, 0.01, 0.35, 0.14, 1800
n = Get number of frames
writeFile: target$, ""
for i to n
  t = Get time from frame number: i
  f = Get value in frame: i, "Hertz"
  if f = undefined
    f = 0
  endif
  appendFileLine: target$, fixed$ (t + 0.009, 6), ",", fixed$ (f, 4)
endfor
"""


def children_seconds():
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def landfall(program, stream):
    def run(wav, csv, rate, folder):
        with open(csv, "w") as out:
            subprocess.run([program, "track", wav, "--stream", stream], stdout=out, check=True, timeout=120)
    return run


def aubio(method, window):
    def run(wav, csv, rate, folder):
        hop, size = int(round(rate * 0.005)), window * 2 if rate > 64000 else window
        done = subprocess.run(["aubiopitch", "-i", wav, "-r", str(rate), "-B", str(size), "-H", str(hop), "-p", method, "-s", "-60"],
                              capture_output=True, text=True, timeout=120)
        with open(csv, "w") as out:  # it prints the start of the hop; the value is there at its end
            for line in done.stdout.splitlines():
                word = line.split()
                if len(word) == 2:
                    out.write("%.6f,%s\n" % (float(word[0]) + hop / rate, word[1]))
    return run


def praat(wav, csv, rate, folder):
    script = os.path.join(folder, "pitch.praat")
    if not os.path.exists(script):
        with open(script, "w") as out:
            out.write(PRAAT)
    subprocess.run(["praat", "--run", script, wav, csv], check=True, capture_output=True, timeout=120)


def centre_errors(clips, split, folder, score):
    """cents between each settled value and the truth at the moment it describes"""
    import numpy as np
    errors = []
    for clip in clips:
        if clip["category"] == "d_nonguitar":
            continue
        t, f, _, scored = score.load_truth(os.path.join(split, clip["truth"]))
        for line in open(os.path.join(folder, clip["id"] + ".csv")).read().splitlines()[1:]:
            word = line.split(",")
            if not word[1]:
                continue
            centre = float(word[2])
            i = int(round(centre / (t[1] - t[0])))
            if i + 1 >= len(t) or i < 1 or f[i - 1:i + 2].min() <= 0 or not scored[i]:
                continue
            if any(o - 0.003 <= centre < o + 0.030 for o in clip["onsets"]):
                continue
            errors.append(abs(1200 * np.log2(float(word[1]) / np.interp(centre, t[i - 1:i + 2], f[i - 1:i + 2]))))
    return errors


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("battery")
    parser.add_argument("--program", default="build/release/landfall")
    parser.add_argument("--out")
    parser.add_argument("--only", help="categories that begin so")
    options = parser.parse_args()
    battery, program = os.path.abspath(options.battery), os.path.abspath(options.program)
    split = os.path.join(battery, "open")
    for path in (os.path.join(split, "manifest.json"), os.path.join(battery, "score.py"), program):
        if not os.path.exists(path):
            sys.exit("battery_bench: %s is missing" % path)
    sys.path.insert(0, battery)
    import numpy as np
    import score
    manifest = json.load(open(os.path.join(split, "manifest.json")))
    clips = [c for c in manifest["clips"] if not options.only or c["category"].startswith(options.only)]
    seconds = sum(c["duration_s"] for c in clips)

    rows = [("landfall provisional", landfall(program, "provisional")), ("landfall settled", landfall(program, "settled"))]
    for name, needs, run in (("aubio yinfast 2048", "aubiopitch", aubio("yinfast", 2048)), ("aubio mcomb 4096", "aubiopitch", aubio("mcomb", 4096)),
                             ("Praat cc", "praat", praat)):
        if shutil.which(needs):
            rows.append((name, run))
        else:
            print("battery_bench: %s is not installed, its row is left out" % needs, file=sys.stderr)

    text = ["| estimator | lag ms | cost s/s | err med/p95 ¢ | raw med/p95 ¢ | ≤5/10/50 ¢ % | gross/octave % | recall % | false alarm % | hum/muted/silence/speech % | onset med/p95 ms | landing med/p95 ¢ |",
            "|---|---|---|---|---|---|---|---|---|---|---|---|"]
    with tempfile.TemporaryDirectory() as work:
        centre = []
        for name, run in rows:
            folder = os.path.join(work, name.replace(" ", "_"))
            os.mkdir(folder)
            before = children_seconds()
            for clip in clips:
                run(os.path.join(split, clip["wav"]), os.path.join(folder, clip["id"] + ".csv"), clip["sr"], folder)
            cost = (children_seconds() - before) / seconds
            if name == "landfall settled":
                centre = centre_errors(clips, split, folder, score)
            whole = [(c, score.load_est(os.path.join(folder, c["id"] + ".csv"))) for c in clips]
            analysed = [score.analyse(c, split, e if e is not None else (np.zeros(0), np.zeros(0))) for c, e in whole]
            lag = score.find_lag(analysed)
            guitar = score.summarise([a for a in analysed if a["clip"]["category"] != "d_nonguitar"], 0.0 if np.isnan(lag) else lag)
            other = []
            for sub in ("hum", "muted", "silence", "speech"):
                some = [a for a in analysed if a["clip"]["category"] == "d_nonguitar" and a["clip"]["sub"] == sub]
                other.append("%.0f" % score.summarise(some, 0.0)["false_alarm"] if some else "–")
            g = guitar
            text.append("| %s | %.0f | %.3f | %.2f/%.2f | %.2f/%.1f | %.1f/%.1f/%.1f | %.2f/%.2f | %.2f | %.2f | %s | %.0f/%.0f | %.2f/%.2f |" % (
                name, lag, cost, g["err_med"], g["err_p95"], g["raw_med"], g["raw_p95"], g["w5"], g["w10"], g["w50"], g["gross"], g["octave"],
                g["recall"], g["false_alarm"], "/".join(other), g["onset_ms_med"], g["onset_ms_p95"], g["land_med"], g["land_p95"]))
    if centre:
        text += ["", "Settled values against the truth at the moment each describes: %.2f / %.2f cents (median / 95th percentile)." % (
            np.median(centre), np.percentile(centre, 95))]
    marks = subprocess.run([sys.executable, os.path.join(battery, "score_marks.py"), "--program", program, "--split", split],
                           capture_output=True, text=True) if not options.only else None
    if marks:
        text += ["", "Landings found and marked by `landfall mark`:", "", "```", (marks.stdout + marks.stderr).strip(), "```"]
    print("\n".join(text))
    if options.out:
        with open(options.out, "w") as out:
            out.write("\n".join(text) + "\n")


if __name__ == "__main__":
    main()
