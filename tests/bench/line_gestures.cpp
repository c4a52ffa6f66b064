// What the follower says of hints, slips, hammer-ons, pull-offs, falls, slides that are approached again and bends that
// go over into another, played by the simulated student among other notes, right and wrong. What was played is another
// line than the one that is asked where the kind is a mistake.
#include "tests/bench/line_gestures.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <functional>
#include <map>
#include <optional>
#include <vector>

#include <fmt/core.h>

#include "src/audio/simulated_player.h"
#include "src/practice/line_listener.h"
#include "src/practice/line_words.h"
#include "tests/support/effects.h"
#include "tests/support/students.h"

using namespace landfall;

namespace {

constexpr double rate = 48000.0, tempo = 72.0;
constexpr Cents aim{25.0};
constexpr std::array<NeckPlace, 6> places{{{1, 8}, {2, 8}, {2, 10}, {3, 7}, {3, 9}, {4, 7}}};
constexpr std::array<int, 6> openStrings{64, 59, 55, 50, 45, 40};

struct Step {
    Gesture gesture = Gesture::note;
    double from = 0.0, to = 0.0;  // half steps above the place
    double beats = 1.0;
    bool picked = true;
    HintRange hint{};
};
using Steps = std::vector<Step>;

// What must be said of the move that the row is about; the others of its try only have to land.
using Right = std::function<bool(const LineMove&, const LineMark&)>;

struct Kind {
    std::string name;
    Steps asked;            // of one try
    std::size_t about = 0;  // the step
    Right right;
    Steps played{};        // empty: as asked
    bool lingers = false;  // on the first note of slides
    double gain = 0.0;
    std::string through{};
};

LineMove moveOf(const Step& step, NeckPlace place, double beat) {
    LineMove made;
    const double base = openStrings[static_cast<std::size_t>(place.string - 1)] + place.fret;
    made.move.gesture = step.gesture;
    made.move.from = MidiPitch(base + step.from);
    made.move.to = MidiPitch(base + step.to);
    made.move.place = place;
    if (kindOf(step.gesture).overFrets) {
        made.move.place->fret += static_cast<int>(step.from);
        if (step.gesture != Gesture::fall) made.move.targetFret = place.fret + static_cast<int>(step.to);
    } else if (!kindOf(step.gesture).bends) {
        made.move.place->fret += static_cast<int>(step.to);
    }
    made.picked = step.picked;
    const bool arrives =
        step.gesture == Gesture::slide || step.gesture == Gesture::slip || step.gesture == Gesture::release;
    made.anchor = arrives ? Anchor::landing : Anchor::onset;
    made.beat = beat;
    made.ends = beat + step.beats;
    made.hint = step.hint;
    if (step.gesture == Gesture::slide && step.picked) made.lingers = Seconds(0.12);
    made.bar = 1 + static_cast<int>(beat / 4.0);
    made.count = 1.0 + std::fmod(beat, 4.0);
    return made;
}

// `tries` tries one after another, a rest between them.
Line lineOf(const Steps& steps, NeckPlace place, int tries) {
    Line line;
    double beat = 0.0;
    for (int i = 0; i < tries; ++i) {
        for (const Step& step : steps) {
            line.moves.push_back(moveOf(step, place, beat));
            beat += step.beats;
        }
        beat = 4.0 * std::ceil((beat + 0.5) / 4.0);
    }
    line.length = beat;
    for (double bar = 0.0; bar < beat; bar += 4.0) line.barBegins.push_back(bar);
    return line;
}

Right landed(double cents = 1e9) {
    return [cents](const LineMove& asked, const LineMark& mark) {
        return mark.outcome == Outcome::landed && faultOf(asked, mark, Cents(aim)).empty()
               && (!mark.landingError || std::abs(mark.landingError->value) < cents);
    };
}
Right told(std::string words) {
    return [words = std::move(words)](const LineMove& asked, const LineMark& mark) {
        return faultOf(asked, mark, aim).find(words) != std::string::npos;
    };
}
Right wrongBy(double halfSteps) {
    return [halfSteps](const LineMove& asked, const LineMark& mark) {
        return mark.outcome == Outcome::wrongNote && mark.heard
               && std::abs(mark.heard->value - asked.move.to.value - halfSteps) < 0.4;
    };
}
Right outcome(Outcome which) {
    return [which](const LineMove&, const LineMark& mark) { return mark.outcome == which; };
}

std::vector<Kind> kinds() {
    using enum Gesture;
    const Step elsewhere{note, 5.0, 5.0};
    const auto hinted = [](double least, double most) {
        return Step{hint, 0.0, 0.005 * (least + most), 1.0, true, {least, most}};
    };
    const Steps hints{hinted(20, 60), elsewhere};
    const Steps slips{{bend, 0, 2}, {release, 2, 0, 0.5, false}, {slip, 0, 0, 1.0, false}, elsewhere};
    const Steps hammered{{note, 0, 0}, {hammerOn, 0, 2, 1.0, false}, elsewhere};
    const Steps pulled{{note, 2, 2}, {pullOff, 2, 0, 1.0, false}, elsewhere};
    const Steps falls{elsewhere, {fall, 0, -5, 1.5}};
    const Steps approached{{note, 2, 2}, {slide, 1, 2, 1.0}, elsewhere};
    const Steps fromTwo{{note, 2, 2}, {slide, 0, 2, 1.0}, elsewhere};
    const Steps bendIntoBend{{bend, 2, 3}, {bend, 0, 2}, elsewhere};
    const Steps bendOver{{bend, 2, 3}, {bend, 0, 2, 1.0, false}, elsewhere};
    std::vector<Kind> list;
    for (const auto& [words, gain, through] :
         {std::tuple{"", 0.0, ""}, std::tuple{", gain", 20.0, ""}, std::tuple{", room", 0.0, "room"}}) {
        const auto add = [&](const char* name, Steps asked, std::size_t about, Right right, Steps played = {},
                             bool lingers = false) {
            list.push_back({std::string("line: ") + name + words, std::move(asked), about, std::move(right),
                            std::move(played), lingers, gain, through});
        };
        add("hint", hints, 0, landed());
        add("hint, twice as far", hints, 0, told("20 to 60 are asked"), {hinted(80, 90), elsewhere});
        add("hint, not made", hints, 0, told("20 to 60 are asked"), {{note}, elsewhere});
        add("slip", slips, 2, landed(20.0));
        add("slip, not made", slips, 2, outcome(Outcome::missed), {slips[0], {release, 2, 0, 1.5, false}, elsewhere});
        add("hammer-on", hammered, 1, landed(20.0));
        add("hammer-on, a fret too far", hammered, 1, wrongBy(1.0),
            {hammered[0], {hammerOn, 0, 3, 1.0, false}, elsewhere});
        add("hammer-on, not made", hammered, 1, outcome(Outcome::missed), {{note, 0, 0, 2.0}, elsewhere});
        add("pull-off", pulled, 1, landed(20.0));
        add("pull-off, a fret short", pulled, 1, wrongBy(1.0), {pulled[0], {pullOff, 2, 1, 1.0, false}, elsewhere});
        add("pull-off, not made", pulled, 1, outcome(Outcome::missed), {{note, 2, 2, 2.0}, elsewhere});
        add("fall, open end", falls, 1, landed());
        add("fall, not made", falls, 1, outcome(Outcome::missed), {elsewhere, {note, 0, 0, 1.5}});
        add("slide from a fret below", approached, 1, landed(20.0));
        add("slide from a fret below, lingered", approached, 1, told("on its first note"), {}, true);
        add("slide from two frets below", fromTwo, 1, landed(20.0));
        add("slide from two frets below, lingered", fromTwo, 1, told("on its first note"), {}, true);
        add("bend into a bend two frets lower", bendIntoBend, 1, landed());
        add("bend into a bend two frets lower, one stroke", bendOver, 1, landed());
    }
    return list;
}

struct Row {
    int tries = 0, right = 0, others = 0, othersWrong = 0, extra = 0;
    std::vector<double> errors, arrivals;
    std::map<std::string, int> wrong;
};

std::string quantile(std::vector<double> values, double share, int digits) {
    if (values.empty()) return "–";
    std::sort(values.begin(), values.end());
    const auto at = std::min(values.size() - 1, static_cast<std::size_t>(share * static_cast<double>(values.size())));
    return fmt::format("{:.{}f}", values[at], digits);
}

void play(const Kind& kind, NeckPlace place, int tries, std::uint32_t seed, Row& row) {
    const Line asked = lineOf(kind.asked, place, tries);
    const Steps& steps = kind.played.empty() ? kind.asked : kind.played;
    SimulatedPlayer::Config student;
    student.seed = seed;
    student.skill = noor();  // a steady hand: what goes wrong is what the kind says
    student.skill.bias = student.skill.biasLeft = Cents(0.0);
    student.skill.correctionChance = student.skill.overshootChance = student.skill.wrongFretChance =
        student.skill.otherIntervalChance = student.skill.diedChance = student.skill.doubleStrokeChance = 0.0;
    student.skill.habits.lingers = kind.lingers ? 1.0 : 0.0;
    student.gain = kind.gain;
    SimulatedPlayer player(student);
    player.rest(Seconds(0.5));
    player.play(lineOf(steps, place, tries), tempo);
    player.rest(Seconds(0.6));
    std::vector<float> sound(static_cast<std::size_t>(player.queued().value * rate));
    player.read(sound);
    if (!kind.through.empty())
        sound = through(*std::ranges::find(effects(), kind.through, &Effect::name), {std::move(sound), {}}, 1).samples;
    LineListener listener(asked, rate, standardA4);
    listener.process(sound);
    listener.finish();
    const LineMarks marks = listener.marks();
    row.extra += static_cast<int>(marks.extra.size());
    for (std::size_t i = 0; i < asked.moves.size(); ++i) {
        const LineMark& mark = marks.moves[i];
        if (i % kind.asked.size() != kind.about) {
            ++row.others;
            row.othersWrong += mark.outcome != Outcome::landed;
            continue;
        }
        const bool right = kind.right(asked.moves[i], mark);
        ++row.tries;
        row.right += right;
        const std::string fault = faultOf(asked.moves[i], mark, aim);
        if (!right) ++row.wrong[fault.empty() ? wordsOf(asked.moves[i], mark) : fault.substr(fault.find(": ") + 2)];
        if (!kind.played.empty()) continue;
        const MoveTruth& truth = player.truths()[i];
        if (!mark.landingError || !truth.landingError) continue;
        row.errors.push_back(std::abs(mark.landingError->value - truth.landingError->value));
        row.arrivals.push_back(1e3 * std::abs(mark.landingTime->value - truth.arrival->value));
    }
}

}  // namespace

void printLineGestures(int tries, std::uint32_t seed, const std::string& only) {
    fmt::print(
        "\n| kind, in a line | tries | right | landing error ¢ med | p95 | arrival ms med | p95 | other moves wrong | "
        "strokes too many | wrong |\n|---|---|---|---|---|---|---|---|---|---|\n");
    for (const Kind& kind : kinds()) {
        ++seed;
        if (kind.name.find(only) == std::string::npos) continue;
        Row row;
        for (std::size_t p = 0; p < places.size(); ++p)
            play(kind, places[p], tries, seed * 17 + static_cast<std::uint32_t>(p), row);
        std::string wrong;
        for (const auto& [sentence, count] : row.wrong)
            if (wrong.size() < 150) wrong += fmt::format("{}{} × {}", wrong.empty() ? "" : "; ", count, sentence);
        fmt::print("| {} | {} | {} | {} | {} | {} | {} | {} of {} | {} | {} |\n", kind.name, row.tries, row.right,
                   quantile(row.errors, 0.5, 2), quantile(row.errors, 0.95, 2), quantile(row.arrivals, 0.5, 0),
                   quantile(row.arrivals, 0.95, 0), row.othersWrong, row.others, row.extra, wrong);
        std::fflush(stdout);
    }
}
