#!/usr/bin/python3
"""Runs the intonation battery and prints its table as Markdown, beside aubio and Praat measured in the same run.

  tests/bench/battery_bench.py BATTERY [--build build/release] [--out FILE.md] [--only CATEGORY] [--quick] [--frames FOLDER]

BATTERY is the folder that holds score.py, score_marks.py and open/. Needs python3-numpy and flac; aubio-tools and praat for their columns (one
whose program is missing is left out, and said so); tests/engine_bench of the build (-DLANDFALL_BENCH=ON) for the coarse stage's row.
Cost is user and system time of whole processes. --quick leaves out the ten-minute file. --frames keeps every estimator's frames in FOLDER and
does not ask the others again for what is there; Landfall is always measured anew.
"""
import argparse, collections, json, os, resource, shutil, subprocess, sys, tempfile, wave

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
NORMAL_90 = 1.645  # standard deviations to each side hold 90 % of a normal distribution


def children_seconds():
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def landfall(program, stream):
    def run(wav, csv, rate, folder):
        with open(csv, "w") as out:
            subprocess.run([program, "track", wav, "--stream", stream], stdout=out, check=True, timeout=600)
    return run


def aubio(method, window):
    def run(wav, csv, rate, folder):
        hop, size = int(round(rate * 0.005)), window * 2 if rate > 64000 else window
        done = subprocess.run(["aubiopitch", "-i", wav, "-r", str(rate), "-B", str(size), "-H", str(hop), "-p", method, "-s", "-60"],
                              capture_output=True, text=True, timeout=600)
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
    subprocess.run(["praat", "--run", script, wav, csv], check=True, capture_output=True, timeout=600)


def rivals():
    known = (("aubio yinfast", "aubiopitch", aubio("yinfast", 2048)), ("aubio yin", "aubiopitch", aubio("yin", 2048)),
             ("aubio mcomb", "aubiopitch", aubio("mcomb", 4096)), ("Praat cc", "praat", praat))
    there = []
    for name, needs, run in known:
        if shutil.which(needs):
            there.append((name, run))
        else:
            print("battery_bench: %s is not installed, the column %s is left out" % (needs, name), file=sys.stderr)
    return there


class Frames:
    """One estimator's frames on every clip, scored by the battery's score.py."""

    def __init__(self, name, run, clips, split, work, score):
        import numpy as np
        self.folder = os.path.join(work, name.replace(" ", "_"))
        os.makedirs(self.folder, exist_ok=True)
        mine = name in ("provisional", "settled")
        for clip in clips:
            if mine or not os.path.exists(os.path.join(self.folder, clip["id"] + ".csv")):
                run(os.path.join(split, clip["wav"]), os.path.join(self.folder, clip["id"] + ".csv"), clip["sr"], self.folder)
        nothing = (np.zeros(0), np.zeros(0))
        analysed = [score.analyse(c, split, score.load_est(os.path.join(self.folder, c["id"] + ".csv")) or nothing) for c in clips]
        self.lag = score.find_lag(analysed)
        lag = 0.0 if np.isnan(self.lag) else self.lag
        guitar = [a for a in analysed if a["clip"]["category"] != "d_nonguitar"]
        self.all = score.summarise(guitar, lag)
        self.categories = {k: score.summarise([a for a in guitar if a["clip"]["category"] == k], lag) for k in sorted({a["clip"]["category"] for a in guitar})}
        self.voiced = {}
        for sub in ("hum", "muted", "silence", "speech"):
            some = [a for a in analysed if a["clip"]["category"] == "d_nonguitar" and a["clip"]["sub"] == sub]
            self.voiced[sub] = score.summarise(some, 0.0)["false_alarm"] if some else float("nan")


def settled_errors(clips, split, folder, score):
    """for each category the errors of settled values at the moments they describe, and the values' own standard deviations"""
    import numpy as np
    found = collections.defaultdict(list)
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
            found[clip["category"]].append((abs(1200 * np.log2(float(word[1]) / np.interp(centre, t[i - 1:i + 2], f[i - 1:i + 2]))), float(word[3])))
    return found


def landings(program, clips, split, score_marks):
    """rows (category, error, arrival error in ms, sd) of every asked move, infinite where it was not found; and landings where no note is"""
    import numpy as np
    rows, false = [], 0
    for clip in clips:
        path = os.path.join(split, clip["wav"])
        guitar = clip["category"] != "d_nonguitar"
        if guitar and not clip["gestures"]:
            continue
        asked = list(score_marks.moves(clip["gestures"])) if guitar else ["bend:64:66"]
        done = subprocess.run([program, "mark", path, "--json"] + [w for m in asked for w in ("--move", m)], capture_output=True, text=True, timeout=120)
        if done.returncode:
            print("battery_bench: mark %s: %s" % (clip["id"], done.stderr.strip()), file=sys.stderr)
        marked = {l["move"]: l for l in json.loads(done.stdout)["landings"] if l["landing_error_cents"] is not None} if not done.returncode else {}
        if not guitar:
            false += len(marked)
            continue
        t, f = score_marks.truth(split, clip)
        for number, gesture in enumerate(clip["gestures"], 1):
            error, arrival = score_marks.expect(t, f, gesture)
            mark = marked.get(number)
            moves = gesture["type"] not in score_marks.NO_ARRIVAL
            rows.append((clip["category"], abs(mark["landing_error_cents"] - error) if mark else np.inf,
                         (abs(mark["landing_time_s"] - arrival) * 1e3 if mark else np.inf) if moves else np.nan, mark["sd_cents"] if mark else np.nan))
    return rows, false


def quantile(values, share):
    import numpy as np
    values = [v for v in values if not np.isnan(v)]
    return float(np.quantile(values, share, method="higher")) if values else float("nan")


def held(pairs):
    """percent of errors inside their own 90 % interval"""
    import numpy as np
    pairs = [(e, s) for e, s in pairs if np.isfinite(e) and np.isfinite(s)]
    return 100.0 * sum(e <= NORMAL_90 * s for e, s in pairs) / len(pairs) if pairs else float("nan")


def ten_minutes(clips, split, path):
    """a WAV of ten minutes: the battery's clips of 48 kHz one after another, again and again"""
    sound = []
    for clip in clips:
        if clip["sr"] == 48000:
            sound.append(subprocess.run(["flac", "-d", "-s", "-c", os.path.join(split, clip["wav"]), "--force-raw-format", "--endian=little", "--sign=signed"],
                                        check=True, capture_output=True).stdout)
    sound = b"".join(sound)
    wanted = 600 * 48000 * 3
    with wave.open(path, "wb") as out:
        out.setnchannels(1)
        out.setsampwidth(3)
        out.setframerate(48000)
        out.writeframes((sound * (wanted // len(sound) + 1))[:wanted])


def costs(program, others, clips, split, work):
    """seconds per second of one ten-minute file: `mark` with a move, and the others"""
    path = os.path.join(work, "ten_minutes.wav")
    ten_minutes(clips, split, path)
    spent = {}
    before = children_seconds()
    subprocess.run([program, "mark", path, "--json", "--move", "bend:64:66"], stdout=subprocess.DEVNULL, check=True, timeout=1800)
    spent["Landfall"] = (children_seconds() - before) / 600
    for name, run in others:
        if name == "aubio mcomb":
            continue
        before = children_seconds()
        run(path, os.path.join(work, "ten_minutes.csv"), 48000, work)
        spent[name] = (children_seconds() - before) / 600
    return spent


def stage_costs(build):
    """seconds a second of the coarse stage and of aubio's yinfast in one run of engine_bench: the dearer of the two notes"""
    bench = os.path.join(build, "tests", "engine_bench")
    if not os.path.exists(bench):
        print("battery_bench: %s is not built, the coarse stage's row is left out" % bench, file=sys.stderr)
        return None
    done = subprocess.run([bench, "--benchmark_filter=coarseStage|aubioYinfast", "--benchmark_format=json", "--benchmark_repetitions=3",
                           "--benchmark_report_aggregates_only=true"], capture_output=True, text=True, timeout=600)
    spent = {}
    for one in json.loads(done.stdout)["benchmarks"]:
        if one.get("aggregate_name") == "median":
            name = one["name"].split("/")[0]
            spent[name] = max(spent.get(name, 0.0), one["s_per_s"])
    return spent


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("battery")
    parser.add_argument("--build", default="build/release")
    parser.add_argument("--out")
    parser.add_argument("--only", help="categories that begin so")
    parser.add_argument("--quick", action="store_true")
    parser.add_argument("--frames")
    options = parser.parse_args()
    battery, program = os.path.abspath(options.battery), os.path.abspath(os.path.join(options.build, "landfall"))
    split = os.path.join(battery, "open")
    for path in (os.path.join(split, "manifest.json"), os.path.join(battery, "score.py"), os.path.join(battery, "score_marks.py"), program):
        if not os.path.exists(path):
            sys.exit("battery_bench: %s is missing" % path)
    sys.dont_write_bytecode = True
    sys.path.insert(0, battery)
    import numpy as np
    import score, score_marks
    clips = [c for c in json.load(open(os.path.join(split, "manifest.json")))["clips"] if not options.only or c["category"].startswith(options.only)]

    others = rivals()
    with tempfile.TemporaryDirectory() as work:
        kept = options.frames or work
        provisional = Frames("provisional", landfall(program, "provisional"), clips, split, kept, score)
        settled = Frames("settled", landfall(program, "settled"), clips, split, kept, score)
        columns = [Frames(name, run, clips, split, kept, score) for name, run in others]
        centre = settled_errors(clips, split, settled.folder, score)
        rows, false = landings(program, clips, split, score_marks)
        spent = {} if options.quick else costs(program, others, clips, split, work)
    stages = None if options.quick else stage_costs(options.build)

    text = ["| figure | " + " | ".join(name for name, _ in others) + " | Landfall | goal |", "|---" * (len(others) + 3) + "|"]

    def add(figure, of, mine, goal, form):
        text.append("| %s | %s | **%s** | %s |" % (figure, " | ".join(form(of(c)) for c in columns), form(mine), goal))

    def pair(digits):
        return lambda values: "–" if values is None else " / ".join("%.*f" % (digits, v) for v in values)

    p, s = provisional.all, settled.all
    add("provisional stream, raw error med / p95, ¢", lambda c: (c.all["raw_med"], c.all["raw_p95"]), (p["raw_med"], p["raw_p95"]), "1.0 / 10", pair(2))
    add("settled stream, error at its own lag med / p95, ¢", lambda c: (c.all["err_med"], c.all["err_p95"]), (s["err_med"], s["err_p95"]), "0.3 / 3", pair(2))
    add("settled: that lag, ms", lambda c: (c.lag,), (settled.lag,), "≤ 120", pair(0))
    add("settled, within 5 / 10 / 50 ¢, %", lambda c: (c.all["w5"], c.all["w10"], c.all["w50"]), (s["w5"], s["w10"], s["w50"]), "97 / 98.5 / 99.5", pair(1))
    add("settled, gross / octave errors, %", lambda c: (c.all["gross"], c.all["octave"]), (s["gross"], s["octave"]), "≤ .03 / 0", pair(2))
    add("settled, recall / false alarm, %", lambda c: (c.all["recall"], c.all["false_alarm"]), (s["recall"], s["false_alarm"]), "99.5 / ≤ .5", pair(2))
    add("provisional, gross / octave errors, %", lambda c: None, (p["gross"], p["octave"]), "≤ .03 / 0", pair(2))
    add("provisional, recall / false alarm, %", lambda c: None, (p["recall"], p["false_alarm"]), "99.5 / ≤ .5", pair(2))
    spoken = ("hum", "muted", "silence", "speech")
    add("voiced on hum / muted / silence / speech, %", lambda c: [c.voiced[k] for k in spoken], [max(provisional.voiced[k], settled.voiced[k]) for k in spoken],
        "0 / ≤ 1 / 0 / ≤ 30", pair(1))
    add("lag of the provisional stream, ms", lambda c: (c.lag,), (provisional.lag,), "≤ 8", pair(0))
    add("pick stroke to first right pitch med / p95, ms", lambda c: (c.all["onset_ms_med"], c.all["onset_ms_p95"]), (p["onset_ms_med"], p["onset_ms_p95"]), "15 / 40", pair(0))
    errors = [r[1] for r in rows]
    add("landing error med / p95, ¢", lambda c: (c.all["land_med"], c.all["land_p95"]), (quantile(errors, .5), quantile(errors, .95)), "0.3 / 3", pair(2))
    worst = {k: quantile([r[1] for r in rows if r[0] == k], .95) for k in sorted({r[0] for r in rows})}
    most = max(worst, key=worst.get) if worst else "–"
    add("landing error p95 in the worst category, ¢", lambda c: (max(v["land_p95"] for v in c.categories.values() if v["land_n"]),), (worst.get(most, float("nan")),), "≤ 5", pair(2))
    lost = sum(np.isinf(e) for e in errors)
    add("landings found", lambda c: None, ("%d of %d" % (len(rows) - lost, len(rows)),), "all", lambda v: v[0] if v else "–")
    add("landings on clips without a note", lambda c: None, (false,), "0", pair(0))
    arrivals = [r[2] for r in rows]
    add("arrival error med / p95, ms", lambda c: None, (quantile(arrivals, .5), quantile(arrivals, .95)), "8 / 40", pair(1))
    if spent:
        text.append("| cost on a ten-minute file, s per s | %s | **%.3f** | ≤ .05 |" % (" | ".join("%.3f" % spent[n] if n in spent else "–" for n, _ in others), spent["Landfall"]))
    if stages:
        text.append("| coarse stage alone, s per s | %s | **%.4f** | ≤ aubio yinfast |" % (
            " | ".join("%.4f" % stages["aubioYinfast"] if n == "aubio yinfast" else "–" for n, _ in others), stages["coarseStage"]))
    frames = [pair_ for some in centre.values() for pair_ in some]
    marks = [(r[1], r[3]) for r in rows]
    add("truth inside the 90 % interval, frames / landings, %", lambda c: None, (held(frames), held(marks)), "85–95", pair(0))
    text += ["", "%d clips, %.0f s. The others' landing errors are plain means of their frames in the true hold; Landfall finds the hold itself (`landfall mark`), and its worst category is %s. "
             "Voiced: the worse of the two streams. Settled values against the truth at the moment each describes: %.2f / %.2f ¢ (median / 95th percentile)."
             % (len(clips), sum(c["duration_s"] for c in clips), most, np.median([e for e, _ in frames]), np.percentile([e for e, _ in frames], 95))]

    text += ["", "| category | settled error med / p95, ¢ | within 5 ¢, % | recall, % | landing med / p95, ¢ | found | arrival med / p95, ms | truth inside 90 %, frames / landings, % |", "|---" * 8 + "|"]
    for k, one in settled.categories.items():
        some = [r for r in rows if r[0] == k]
        text.append("| %s | %.2f / %.2f | %.1f | %.1f | %.2f / %.2f | %d of %d | %.1f / %.1f | %.0f / %.0f |" % (
            k, one["err_med"], one["err_p95"], one["w5"], one["recall"], quantile([r[1] for r in some], .5), quantile([r[1] for r in some], .95),
            sum(np.isfinite(r[1]) for r in some), len(some), quantile([r[2] for r in some], .5), quantile([r[2] for r in some], .95),
            held(centre[k]), held([(r[1], r[3]) for r in some])))
    print("\n".join(text))
    if options.out:
        with open(options.out, "w") as out:
            out.write("\n".join(text) + "\n")


if __name__ == "__main__":
    main()
