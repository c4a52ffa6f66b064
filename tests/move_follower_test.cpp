// The judge's definitions on curves with a known answer. Tolerance: the frames carry 0.3 cents of noise and come every
// 5.3 ms.
#include <utility>

#include <doctest/doctest.h>

#include "tests/support/played_curve.h"

using namespace landfall;

namespace {

constexpr double centsTolerance = 0.5;   // a median of 47 frames with 0.3 cents of noise
constexpr double timeTolerance = 0.006;  // one frame

const Move fullStep = moveOf(Gesture::bend, 62, 64);

std::vector<Landing> landingsOf(const PlayedCurve& curve, const std::vector<Move>& moves,
                                MoveOrder order = MoveOrder::everyTry, FollowerConfig config = {}) {
    std::vector<Landing> landings;
    for (const TryEnded& ended : eventsOf<TryEnded>(curve.heardBy(moves, order, config)))
        landings.push_back(ended.landing);
    return landings;
}

Landing only(const PlayedCurve& curve, const Move& move) {
    const auto landings = landingsOf(curve, {move});
    REQUIRE(landings.size() == 1);
    return landings[0];
}

void checkCents(const std::optional<Cents>& measured, double expected, double tolerance = centsTolerance) {
    REQUIRE(measured);
    CHECK(std::abs(measured->value - expected) <= tolerance);
}

PlayedCurve started(double midi = 62.0) {
    PlayedCurve curve;
    curve.rest(0.5).stroke(midi).hold(0.4);
    return curve;
}

}  // namespace

TEST_CASE("A bend is measured from the stroke to the hold") {
    PlayedCurve curve = started();
    curve.glide(193, 0.2).hold(1.0).rest(0.5);
    const Landing landing = only(curve, fullStep);
    checkCents(landing.landingError, -7);
    checkCents(landing.firstStopError, -7);
    checkCents(landing.startError, 0);
    CHECK(landing.verdict == Verdict::inTune);
    CHECK(landing.sentence == "In tune, 7 under.");
    CHECK(std::abs(landing.onset.value - curve.onsets[0].time.value) <= timeTolerance);
    // The raised cosine over 193 cents enters the last 8 of them at acos(2 * 8 / 193 - 1) / pi = 0.870 of its 200 ms.
    REQUIRE(landing.landingTime);
    CHECK(std::abs(landing.landingTime->value - (curve.onsets[0].time.value + 0.4 + 0.870 * 0.2)) <= timeTolerance);
    CHECK_FALSE(landing.correction);
    CHECK_FALSE(landing.overshoot);
    CHECK_FALSE(landing.vibrato);
    CHECK(landing.sag->value < 1.0);
    CHECK(landing.sd->value < 1.0);
    CHECK(landing.holdSpread->value < 1.0);
}

TEST_CASE("A bend that begins at the stroke, or as soon as it sounds, is a try") {
    for (const auto& [after, rise] : {std::pair{0.0, 0.2}, {0.0, 0.35}, {0.03, 0.1}, {0.03, 0.2}}) {
        CAPTURE(after);
        CAPTURE(rise);
        PlayedCurve curve;
        curve.rest(0.5).stroke(62).hold(after).glide(195, rise).hold(0.8).rest(0.5);
        checkCents(only(curve, fullStep).landingError, -5);
    }
}

TEST_CASE("A stop that is pulled in keeps its first stop and lands where it was pulled to") {
    PlayedCurve curve = started();
    curve.glide(176, 0.2).hold(0.25).glide(22, 0.1).hold(0.8).rest(0.5);
    const Landing landing = only(curve, fullStep);
    checkCents(landing.firstStopError, -24);
    checkCents(landing.landingError, -2);
    checkCents(landing.correction, 22, 1.0);
    CHECK(landing.sentence == "You stopped 24 short, then corrected it.");
}

TEST_CASE("A bend that shoots past and settles at once is an overshoot, not a correction") {
    PlayedCurve curve = started();
    curve.glide(235, 0.2).glide(-34, 0.1).hold(0.8).rest(0.5);
    const Landing landing = only(curve, fullStep);
    checkCents(landing.landingError, 1);
    checkCents(landing.overshoot, 34, 1.5);
    CHECK_FALSE(landing.correction);
    CHECK(landing.verdict == Verdict::deadOn);
    CHECK(landing.sentence.starts_with("Overshot by 3"));
}

TEST_CASE("Pitch lost at the end of a hold is its sag") {
    PlayedCurve curve = started();
    curve.glide(202, 0.2).hold(0.6).hold(0.5, -30).rest(0.5);
    const Landing landing = only(curve, fullStep);
    checkCents(landing.landingError, 2);
    CHECK(landing.sag->value > 15.0);
    CHECK(landing.sentence.starts_with("Landed in tune, then sank by "));
}

TEST_CASE("Vibrato on a bend is measured over whole cycles: bottom, centre and top") {
    PlayedCurve curve = started();
    curve.glide(160, 0.2).vibrato(40, 6.0, 1.2).rest(0.5);
    const Landing landing = only(curve, fullStep);
    checkCents(landing.landingError, -20, 2.0);  // two of the cycles, not all
    REQUIRE(landing.vibrato);
    CHECK(std::abs(landing.vibrato->rate.value - 6.0) < 0.15);
    CHECK(std::abs(landing.vibrato->width.value - 40) < 2.0);
    CHECK(std::abs(landing.vibrato->bottom.value + 40) < 1.5);
    CHECK(std::abs(landing.vibrato->top.value) < 1.5);
    CHECK(std::abs(landing.vibrato->centre.value + 20) < 1.5);
    CHECK(landing.vibrato->evenness > 0.85);
}

TEST_CASE("A vibrato's landing is the mean of whole cycles at any rate, and the way there has no part in it") {
    for (double rate = 4.5; rate < 7.4; rate += 0.2) {
        PlayedCurve curve = started();
        curve.glide(220, 0.3).vibrato(-40, rate, 1.2).rest(0.5);
        CAPTURE(rate);
        checkCents(only(curve, fullStep).landingError, 0, 0.15);  // cut at the turning points' rate: up to 0.63
    }
}

TEST_CASE("Vibrato that begins after a steady landing does not change the landing") {
    PlayedCurve curve = started();
    curve.glide(204, 0.2).hold(0.3).vibrato(-36, 5.5, 1.0).rest(0.5);
    const Landing landing = only(curve, fullStep);
    checkCents(landing.landingError, 4);
    REQUIRE(landing.vibrato);
    CHECK(std::abs(landing.vibrato->top.value - 4) < 1.5);
}

TEST_CASE("Vibrato asked for on a plain note is found after the steady part") {
    PlayedCurve curve = started(60);
    curve.vibrato(44, 5.5, 1.2).rest(0.5);
    const Landing landing = only(curve, moveOf(Gesture::vibrato, 60, 60));
    checkCents(landing.landingError, 22, 2.0);
    REQUIRE(landing.vibrato);
    CHECK(std::abs(landing.vibrato->bottom.value) < 1.5);
    // Its bottom is the note: that is what is marked, while the landing is its centre.
    CHECK(landing.verdict == Verdict::deadOn);
    CHECK(landing.sentence == "Dead on at the bottom of the vibrato.");
    CHECK(std::abs(landing.firstStopError->value) < 1.5);
    CHECK(std::abs(landing.landingError->value - 22) < 3.0);
}

TEST_CASE("A note dying on the way has no numbers") {
    PlayedCurve curve = started();
    curve.glide(120, 0.15).rest(1.0);
    const Landing landing = only(curve, fullStep);
    CHECK(landing.verdict == Verdict::died);
    CHECK_FALSE(landing.landingError);
    CHECK_FALSE(landing.landingTime);
    CHECK(landing.sentence == "The note died before it got there.");
}

TEST_CASE("A bend that is damped a third of the way up died, even where it paused") {
    PlayedCurve curve = started();
    curve.glide(66, 0.15).hold(0.12).rest(1.0);
    CHECK(only(curve, fullStep).verdict == Verdict::died);
}

TEST_CASE("A plain start note is no try at a bend") {
    PlayedCurve curve = started();
    curve.hold(1.0, -8).rest(0.5);
    CHECK(landingsOf(curve, {fullStep}).empty());
}

TEST_CASE("Another interval than the one asked is named") {
    PlayedCurve half = started();
    half.glide(104, 0.2).hold(0.8).rest(0.5);
    CHECK(only(half, fullStep).sentence == "That was a half step, not a full step.");
    PlayedCurve full = started();
    full.glide(197, 0.2).hold(0.8).rest(0.5);
    CHECK(only(full, moveOf(Gesture::bend, 62, 63)).sentence == "That was a full step, not a half step.");
}

TEST_CASE("A slide climbs its frets, and the wrong one is named") {
    Move octave = moveOf(Gesture::slide, 52, 64);
    octave.place = NeckPlace{5, 7};
    octave.targetFret = 19;
    PlayedCurve curve = started(52);
    curve.quieter(6).frets(12, 0.02).hold(0.8).rest(0.5);
    const Landing landing = only(curve, octave);
    checkCents(landing.landingError, 0);
    CHECK(landing.landedFret == 19);
    CHECK(std::abs(landing.linger->value - 0.4) < 0.01);
    CHECK(std::abs(landing.levelKept->value + 6.0) < 0.5);
    PlayedCurve shortOne = started(52);
    shortOne.frets(11, 0.02).hold(0.8).rest(0.5);
    CHECK(only(shortOne, octave).sentence == "You landed on fret 18, not 19.");
}

TEST_CASE("A slide that shoots a fret past and comes back lands on the fret it came back to") {
    PlayedCurve curve = started(60);
    curve.frets(6, 0.03).hold(0.1).frets(-1, 0.01).hold(0.8).rest(0.5);
    const Landing landing = only(curve, moveOf(Gesture::slide, 60, 65));
    checkCents(landing.landingError, 0);
    checkCents(landing.firstStopError, 0);
    checkCents(landing.overshoot, 100, 1.5);
    CHECK_FALSE(landing.correction);
    CHECK(landing.sentence == "You slid 1 fret too far, then came back.");
}

TEST_CASE("A pre-bend that is pulled in keeps its first stop") {
    PlayedCurve curve;
    curve.rest(0.5).stroke(64.25).hold(0.3).glide(-22, 0.1).hold(0.8).rest(0.5);
    const Landing landing = only(curve, moveOf(Gesture::preBend, 62, 64));
    checkCents(landing.firstStopError, 25);
    checkCents(landing.landingError, 3);
    checkCents(landing.correction, -22, 1.0);
}

TEST_CASE("A hammer-on is not a bend") {
    PlayedCurve curve = started();
    curve.frets(2, 0.005).hold(0.8).rest(0.5);
    CHECK(landingsOf(curve, {fullStep}).empty());
    for (const double first : {0.03, 0.06, 0.075, 0.09}) {  // and a grace note is none
        CAPTURE(first);
        PlayedCurve grace;
        grace.rest(0.5).stroke(62).hold(first).glide(200, 0.015).hold(0.8).rest(0.5);
        CHECK(landingsOf(grace, {fullStep}).empty());
    }
}

TEST_CASE("A bend may come 135 cents past its stop and back; from 165 on another finger sounded on the way") {
    // 150 is the judge's border between a hand that swings and a note fretted, a fret and a half further, in between.
    const auto past = [](double cents) {
        PlayedCurve curve = started();
        curve.glide(196 + cents, 0.25).glide(-cents, 0.12).hold(0.8).rest(0.5);
        return landingsOf(curve, {fullStep});
    };
    const auto swung = past(135.0);
    REQUIRE(swung.size() == 1);
    checkCents(swung[0].landingError, -4);
    REQUIRE(swung[0].overshoot);
    CHECK(std::abs(swung[0].overshoot->value - 135.0) < 8.0);  // three frames in a row at the turn
    CHECK(past(165.0).empty());
}

TEST_CASE("A note is not ended by a gap in the tracker's pitch while the level stays") {
    PlayedCurve curve = started();
    curve.glide(196, 0.2).hold(0.05);
    for (PitchFrame& frame : curve.frames)
        if (frame.centre.value > curve.onsets[0].time.value + 0.12
            && frame.centre.value < curve.onsets[0].time.value + 0.38)
            frame.pitch.reset();
    curve.hold(0.8).rest(0.5);
    checkCents(only(curve, fullStep).landingError, -4);
}

TEST_CASE("Bend, release and slide under one stroke are three landings") {
    PlayedCurve curve = started();
    curve.glide(195, 0.2).hold(0.5).glide(-198, 0.2).hold(0.5).frets(3, 0.03).hold(0.6).rest(0.5);
    const auto landings =
        landingsOf(curve, {fullStep, moveOf(Gesture::release, 64, 62), moveOf(Gesture::slide, 62, 65)});
    REQUIRE(landings.size() == 3);
    checkCents(landings[0].landingError, -5);
    checkCents(landings[1].landingError, -3);
    checkCents(landings[2].landingError, -3);
    CHECK(landings[2].moveNumber == 3);
    CHECK_FALSE(landings[0].correction);
}

TEST_CASE("A pre-bend sounds on the bent note at the stroke and may be released") {
    PlayedCurve curve;
    curve.rest(0.5).stroke(64.12).hold(0.7).glide(-212, 0.2).hold(0.6).rest(0.5);
    const auto landings = landingsOf(curve, {moveOf(Gesture::preBend, 62, 64), moveOf(Gesture::release, 64, 62)});
    REQUIRE(landings.size() == 2);
    checkCents(landings[0].landingError, 12);
    CHECK(std::abs(landings[0].landingTime->value - curve.onsets[0].time.value) <= timeTolerance);
    checkCents(landings[1].landingError, 0);
}

TEST_CASE("A second stroke on the same note starts the try anew") {
    PlayedCurve curve;
    curve.rest(0.5).stroke(62).hold(0.3).stroke(62).hold(0.3).glide(200, 0.2).hold(0.8).stroke(62).hold(0.3).rest(0.5);
    const auto events = curve.heardBy({fullStep}, MoveOrder::everyTry);
    const auto began = eventsOf<TryBegan>(events);
    REQUIRE(began.size() == 3);
    CHECK_FALSE(began[0].again);
    CHECK(began[1].again);
    CHECK_FALSE(began[2].again);  // the one before it has landed
    const auto ended = eventsOf<TryEnded>(events);
    REQUIRE(ended.size() == 1);
    CHECK(std::abs(ended[0].landing.onset.value - curve.onsets[1].time.value) <= timeTolerance);
}

TEST_CASE("A bend inside a run of other notes is not marked") {
    PlayedCurve curve;
    curve.rest(0.5).stroke(60).hold(0.15).stroke(62).hold(0.3).glide(200, 0.2).hold(0.6).rest(0.5);
    const auto events = curve.heardBy({fullStep}, MoveOrder::everyTry);
    CHECK(eventsOf<TryEnded>(events).empty());
    CHECK(eventsOf<Noodling>(events).size() == 2);
}

TEST_CASE(
    "A note alone on another pitch than asked says so, and one that was not bent; one of a run and a short one do "
    "not") {
    const auto said = [](const PlayedCurve& curve, const Move& move) {
        std::vector<std::string> sentences;
        for (const Noodling& each : eventsOf<Noodling>(curve.heardBy({move}, MoveOrder::everyTry)))
            sentences.push_back(each.sentence);
        return sentences;
    };
    PlayedCurve beside, flat, run, brief, begun;
    beside.rest(0.5).stroke(63).hold(0.3).glide(200, 0.2).hold(0.8).rest(0.5);
    CHECK(said(beside, fullStep) == std::vector<std::string>{"That was D♯4. Start on D4."});
    flat.rest(0.5).stroke(63.2).hold(1.2).rest(0.5);
    CHECK(said(flat, {Gesture::preBend, MidiPitch(62), MidiPitch(64), std::nullopt, std::nullopt})
          == std::vector<std::string>{"You picked 80 under the bent note. Not counted."});
    run.rest(0.5).stroke(60).hold(0.3).stroke(65).hold(0.8).rest(0.5);
    CHECK(said(run, fullStep) == std::vector<std::string>{"", ""});
    brief.rest(0.5).stroke(65).hold(0.3).rest(0.5);
    CHECK(said(brief, fullStep) == std::vector<std::string>{""});
    begun.rest(0.5).stroke(62.4).hold(1.0).rest(0.5);  // 40 cents sharp, held: nothing was tried
    CHECK(said(begun, fullStep) == std::vector<std::string>{"You picked D4. Now bend it."});
    // No hand bends in a hundredth of a second, but a room may hide the way: a finger that came down is not told either.
    const auto jumped = [&](double cents, double stayed) {
        PlayedCurve curve;
        curve.rest(0.5).stroke(62).hold(0.5).glide(cents, 0.01).hold(stayed).glide(-cents, 0.01).hold(0.5).rest(0.5);
        return said(curve, fullStep);
    };
    CHECK(jumped(200.0, 0.5) == std::vector<std::string>{"The bend was not clear. Not counted."});
    CHECK(jumped(-200.0, 0.5) == std::vector<std::string>{"You picked D4. Now bend it."});
    CHECK(jumped(200.0, 0.02) == std::vector<std::string>{"You picked D4. Now bend it."});
}

TEST_CASE("A slow bend stops where it ends, not where it creeps") {
    for (const double seconds : {1.0, 2.0, 3.0}) {
        PlayedCurve half, full;
        half.rest(0.5).stroke(62).hold(0.5).glide(88, seconds).hold(1.0).rest(0.5);
        full.rest(0.5).stroke(62).hold(0.5).glide(188, seconds).hold(1.0).rest(0.5);
        CAPTURE(seconds);
        for (const auto& [curve, steps] : {std::pair{&half, 1}, std::pair{&full, 2}}) {
            const auto landings =
                landingsOf(*curve, {{Gesture::bend, MidiPitch(62), MidiPitch(62 + steps), std::nullopt, std::nullopt}});
            REQUIRE(landings.size() == 1);
            CHECK_FALSE(landings[0].correction);
            checkCents(landings[0].landingError, -12);
            // over 0.15 s before it rests a creep of under 10 cents/s goes 1.5
            checkCents(landings[0].firstStopError, -12, 2.0);
        }
    }
}

TEST_CASE("A fast bend that is then eased in is marked where it slowed down") {
    for (const auto& [eased, seconds] :
         {std::pair{25.0, 0.5}, {40.0, 0.5}, {30.0, 0.8}, {40.0, 0.8}, {50.0, 0.8}, {40.0, 1.2}, {50.0, 1.2}}) {
        PlayedCurve curve = started();
        curve.glide(200.0 - eased, 0.25).hold(seconds, eased).hold(1.0).rest(0.5);
        CAPTURE(eased);
        CAPTURE(seconds);
        const auto landings = landingsOf(curve, {fullStep});
        REQUIRE(landings.size() == 1);
        // The first stop looks at 0.15 s, in which the easing has gone on.
        checkCents(landings[0].firstStopError, -eased + 0.1 * eased / seconds, 4.0);
    }
}

TEST_CASE("A hold that sags from the first, or is pushed on, has landed") {
    for (const double drift : {-64.0, -48.0, 48.0, 64.0}) {  // in 0.8 s
        PlayedCurve curve;
        curve.rest(0.5).stroke(62).hold(0.3).glide(200, 0.3).hold(0.8, drift).rest(0.5);
        CAPTURE(drift);
        const auto landings = landingsOf(curve, {fullStep});
        REQUIRE(landings.size() == 1);
        REQUIRE(landings[0].landingError);
        CHECK(std::abs(landings[0].landingError->value) < 20.0);
        if (drift < 0.0) CHECK(landings[0].sag->value > 20.0);
    }
}

TEST_CASE("A short note that is bent a little and damped is no try; one that had the time is") {
    for (const double held : {0.18, 0.30}) {
        PlayedCurve curve;
        curve.rest(0.5).stroke(62).hold(held).glide(80, 0.12).rest(0.5);
        CAPTURE(held);
        const auto landings = landingsOf(curve, {fullStep});
        REQUIRE(landings.size() == (held > 0.2 ? 1 : 0));
        if (!landings.empty()) CHECK(landings[0].verdict == Verdict::died);
    }
}

TEST_CASE("A note that goes on with other fingers, below its fret or far past the bend, did not die on the way") {
    for (const int frets : {-2, 6, 0}) {
        PlayedCurve curve;
        curve.rest(0.5).stroke(62).hold(0.3).glide(60, 0.12);
        if (frets != 0) curve.frets(frets, 0.05).hold(0.12);
        curve.rest(0.5);
        CAPTURE(frets);
        CHECK(landingsOf(curve, {fullStep}).size() == (frets == 0 ? 1 : 0));
    }
}

TEST_CASE("The top of a hint of a bend is no landing, nor a fret reached over other frets") {
    PlayedCurve hint, over;
    hint.rest(0.5)
        .stroke(62)
        .hold(0.1)
        .glide(68, 0.1)
        .hold(0.03)
        .glide(-68, 0.08)
        .hold(0.04)
        .frets(-2, 0.12)
        .stroke(60)
        .hold(0.5)
        .rest(0.5);
    CHECK(landingsOf(hint, {fullStep}).empty());
    over.rest(0.5)
        .stroke(62)
        .glide(80, 0.1)
        .frets(-3, 0.001)
        .hold(0.2)
        .frets(7, 0.001)
        .hold(0.1)
        .frets(-5, 0.001)
        .hold(0.2)
        .frets(3, 0.001)
        .hold(0.4)
        .rest(0.5);
    CHECK(landingsOf(over, {fullStep}).empty());
}

TEST_CASE("Ten minutes of noodling around a drill make at most one false try, and every real one is found") {
    std::mt19937 random(11);
    const auto draw = [&](double from, double to) { return std::uniform_real_distribution(from, to)(random); };
    PlayedCurve curve(3);
    int real = 0;
    curve.rest(0.5);
    while (curve.now() < 600.0) {
        const double until = curve.now() + 10.0;
        // runs around the asked note, some notes hammered or shaken, some with a hint of a bend
        while (curve.now() < until) {
            curve.stroke(62 + static_cast<int>(draw(-4.0, 5.0)));
            const double kind = draw(0.0, 1.0);
            if (kind < 0.15) curve.hold(0.08).frets(kind < 0.07 ? 2 : -2, 0.12);
            else if (kind < 0.30) curve.hold(0.07).glide(draw(30, 90), 0.1).glide(-60, 0.1);
            else if (kind < 0.35) curve.hold(0.1).vibrato(30, 6.0, 0.6);
            else if (kind < 0.38) curve.hold(0.3).rest(0.5);  // a pause
            else curve.hold(draw(0.09, 0.24));
        }
        curve.rest(0.8).stroke(62).hold(0.4).glide(195, 0.2).hold(0.7).rest(1.0);
        ++real;
    }
    const auto landings = landingsOf(curve, {fullStep});
    int found = 0;
    for (const Landing& landing : landings)
        found += landing.landingError && std::abs(landing.landingError->value + 5.0) < 1.0;
    CHECK(found == real);
    for (const Landing& landing : landings)
        if (landing.verdict == Verdict::died || !landing.landingError
            || std::abs(landing.landingError->value + 5.0) >= 1.0)
            MESSAGE(landing.onset.value, " ", landing.end.value, " ", landing.sentence);
    CHECK(static_cast<int>(landings.size()) - found <= 1);
}

TEST_CASE("Marking once: a move that was not played is left out and the following ones still find theirs") {
    PlayedCurve curve;
    curve.rest(0.5).stroke(62).hold(0.3).glide(200, 0.2).hold(0.6).rest(0.5);
    curve.stroke(67).hold(0.3).glide(100, 0.15).rest(0.6);  // dies: a full step was asked
    curve.stroke(55).hold(0.3).frets(5, 0.03).hold(0.6).rest(0.5);
    const auto landings = landingsOf(
        curve, {fullStep, moveOf(Gesture::bend, 71, 73), moveOf(Gesture::bend, 67, 69), moveOf(Gesture::slide, 55, 60)},
        MoveOrder::once);
    REQUIRE(landings.size() == 3);
    CHECK(landings[0].moveNumber == 1);
    CHECK(landings[1].moveNumber == 3);
    CHECK(landings[1].verdict == Verdict::died);
    CHECK(landings[2].moveNumber == 4);
    checkCents(landings[2].landingError, 0);
}

TEST_CASE("Marking once: a half step that was left out does not take the note of the next move") {
    PlayedCurve curve;
    curve.rest(0.5).stroke(62).hold(0.3).glide(103, 0.2).hold(0.6).rest(0.5);
    curve.stroke(62).hold(0.3).glide(196, 0.2).hold(0.6).rest(0.5);
    const auto landings = landingsOf(
        curve, {fullStep, moveOf(Gesture::bend, 62, 63), fullStep, moveOf(Gesture::bend, 62, 65)}, MoveOrder::once);
    REQUIRE(landings.size() == 2);
    CHECK(landings[0].moveNumber == 2);
    checkCents(landings[0].landingError, 3);
    CHECK(landings[1].moveNumber == 3);
    checkCents(landings[1].landingError, -4);
}

TEST_CASE("Marking once: of two notes that would do alike the first is taken") {
    PlayedCurve curve;
    curve.rest(0.5)
        .stroke(62)
        .hold(0.3)
        .glide(185, 0.2)
        .hold(0.6)
        .rest(0.5)
        .stroke(62)
        .hold(0.3)
        .glide(200, 0.2)
        .hold(0.6)
        .rest(0.5);
    const auto landings = landingsOf(curve, {fullStep}, MoveOrder::once);
    REQUIRE(landings.size() == 1);
    checkCents(landings[0].landingError, -15);
}

TEST_CASE(
    "Marking once: two moves that landed elsewhere are worth more than one as asked, three tries and one are not") {
    const Move half = moveOf(Gesture::bend, 62, 63);
    PlayedCurve two;
    two.rest(0.5).stroke(62).hold(0.3).glide(100, 0.2).hold(0.6).rest(0.5);
    two.stroke(62).hold(0.3).glide(200, 0.2).hold(0.6).rest(0.5);
    const auto both = landingsOf(two, {fullStep, half}, MoveOrder::once);
    REQUIRE(both.size() == 2);
    CHECK(both[0].verdict == Verdict::otherInterval);
    CHECK(both[1].verdict == Verdict::otherInterval);
    PlayedCurve four;
    for (int dying = 0; dying < 3; ++dying) four.rest(0.5).stroke(62).hold(0.3).glide(40, 0.15).rest(0.6);
    four.stroke(62).hold(0.3).glide(200, 0.2).hold(0.6).rest(0.5);
    const auto one = landingsOf(four, {fullStep, half, half, half}, MoveOrder::once);
    REQUIRE(one.size() == 1);
    CHECK(one[0].moveNumber == 1);
    checkCents(one[0].landingError, 0);
}

TEST_CASE(
    "Marking once: as asked under a stroke that was not heard is worth no more than elsewhere under one that was") {
    PlayedCurve curve;
    curve.rest(0.5).stroke(62).hold(0.3).glide(100, 0.2).hold(1.0).glide(-100, 0.05).hold(0.5);
    curve.glide(200, 0.2).hold(0.8).rest(0.5);
    const auto landings = landingsOf(curve, {fullStep}, MoveOrder::once);
    REQUIRE(landings.size() == 1);
    CHECK(landings[0].verdict == Verdict::otherInterval);
}

TEST_CASE("Marking once: moves under a stroke that was not heard are found on the note before") {
    PlayedCurve curve;
    curve.rest(0.5)
        .stroke(62)
        .hold(0.3)
        .glide(200, 0.2)
        .hold(0.5)
        .glide(-200, 0.02)
        .hold(0.3)
        .glide(191, 0.2)
        .hold(0.6)
        .rest(0.5);
    const auto landings = landingsOf(curve, {fullStep, fullStep}, MoveOrder::once);
    REQUIRE(landings.size() == 2);
    checkCents(landings[0].landingError, 0);
    checkCents(landings[1].landingError, -9);
}

TEST_CASE("A shift slide that is picked again where it arrives is one slide") {
    for (const MoveOrder order : {MoveOrder::everyTry, MoveOrder::once}) {
        PlayedCurve curve = started(60);
        const double stroke = curve.onsets[0].time.value;
        curve.frets(4, 0.03).stroke(65).hold(0.8).rest(0.5);
        const auto landings = landingsOf(curve, {moveOf(Gesture::slide, 60, 65)}, order);
        REQUIRE(landings.size() == 1);
        checkCents(landings[0].landingError, 0);
        CHECK(std::abs(landings[0].onset.value - stroke) <= timeTolerance);
        CHECK(std::abs(landings[0].linger->value - 0.4) < 0.02);
    }
}

TEST_CASE(
    "Marking once: what sounds for less than four frames is no note, and does not part a slide from its second "
    "stroke") {
    const auto landings = [](int frames) {
        PlayedCurve curve = started(60);
        curve.hold(0.4).frets(7, 0.02);
        curve.stroke(67).hold(256.0 / 48000.0 * frames).rest(0.06).stroke(67).hold(0.7).rest(0.5);
        return landingsOf(curve, {moveOf(Gesture::slide, 60, 67)}, MoveOrder::once);
    };
    const auto joined = landings(3), parted = landings(5);
    REQUIRE(joined.size() == 1);
    checkCents(joined[0].landingError, 0);
    REQUIRE(parted.size() == 1);
    CHECK(parted[0].verdict == Verdict::died);
}

TEST_CASE("Two notes picked one after the other are no slide") {
    PlayedCurve curve = started(60);
    curve.stroke(65).hold(0.8).rest(0.5);
    CHECK(landingsOf(curve, {moveOf(Gesture::slide, 60, 65)}).empty());
}

TEST_CASE("A full step that stops half way and is held there is no note that died") {
    PlayedCurve half = started();
    half.glide(96, 0.2).hold(0.2).rest(0.5);
    CHECK(only(half, fullStep).sentence == "That was a half step, not a full step.");
    PlayedCurve between = started();
    between.glide(143, 0.2).hold(0.2).rest(0.5);
    CHECK(only(between, fullStep).verdict == Verdict::otherInterval);
    PlayedCurve near = started();
    near.glide(162, 0.2).hold(0.2).rest(0.5);
    CHECK(only(near, fullStep).verdict == Verdict::under);
}

TEST_CASE("Pitch that sinks as the note is let go is sag; a release is none") {
    PlayedCurve sank = started();
    sank.glide(199, 0.2).hold(0.7).glide(-30, 0.1).hold(0.1).rest(0.5);
    const Landing landing = only(sank, fullStep);
    checkCents(landing.sag, 30, 1.5);
    CHECK(landing.sentence == "Landed in tune, then sank by 30.");
    PlayedCurve released = started();
    released.glide(199, 0.2).hold(0.7).glide(-199, 0.2).hold(0.3).rest(0.5);
    CHECK(only(released, fullStep).sag->value < 2.0);
}

TEST_CASE("A short hold does not sink by the way to it") {
    PlayedCurve curve = started();
    curve.glide(200, 0.12).hold(0.055).rest(0.5);
    const Landing landing = only(curve, fullStep);
    checkCents(landing.landingError, 0, 3.0);  // of a few frames, with the end of the way among them
    REQUIRE(landing.sag);
    CHECK(landing.sag->value < 5.0);
}

TEST_CASE("A single frame of the tracker's is no overshoot") {
    PlayedCurve curve = started(60);
    curve.frets(5, 0.03);
    curve.frames[curve.frames.size() - 3].pitch = frequencyOf(MidiPitch(66.0));
    curve.hold(0.8).rest(0.5);
    CHECK_FALSE(only(curve, moveOf(Gesture::slide, 60, 65)).overshoot);
}

TEST_CASE(
    "No provisional word on the turn of an overshoot, on a fret that a slow slide passes, or on a note being damped") {
    PlayedCurve over = started();
    over.glide(235, 0.25).glide(-35, 0.09).hold(0.8).rest(0.5);
    PlayedCurve slow = started(60);
    slow.frets(5, 0.15).hold(0.8).rest(0.5);
    for (const auto& [curve, move] : {std::pair(over, fullStep), std::pair(slow, moveOf(Gesture::slide, 60, 65))}) {
        const auto early = eventsOf<ProvisionalLanding>(curve.heardBy({move}, MoveOrder::everyTry));
        REQUIRE(early.size() == 1);
        checkCents(early[0].landing.landingError, 0, 2.0);
    }
    PlayedCurve damped = started();
    damped.glide(120, 0.2);
    for (int i = 0; i < 12; ++i) damped.quieter(4.0).hold(0.01);
    damped.rest(0.5);
    CHECK(eventsOf<ProvisionalLanding>(damped.heardBy({fullStep}, MoveOrder::everyTry)).empty());
}

TEST_CASE("What is said first of a slow bend or of an overshoot is what is said at last") {
    std::vector<PlayedCurve> played;
    for (const double seconds : {1.0, 1.5, 2.0, 3.0}) {
        for (const double cents : {88.0, 188.0}) {
            played.push_back(started());
            played.back().glide(cents, seconds).hold(1.0).rest(0.5);
        }
    }
    for (const double past : {20.0, 35.0, 50.0}) {
        for (const double back : {0.09, 0.12, 0.15}) {
            played.push_back(started());
            played.back().glide(200.0 + past, 0.25).glide(-past, back).hold(0.8).rest(0.5);
        }
    }
    int first = 0;
    for (std::size_t i = 0; i < played.size(); ++i) {
        CAPTURE(i);
        const auto events =
            played[i].heardBy({i < 8 && i % 2 == 0 ? moveOf(Gesture::bend, 62, 63) : fullStep}, MoveOrder::everyTry);
        const auto early = eventsOf<ProvisionalLanding>(events);
        const auto final = eventsOf<FinalLanding>(events);
        REQUIRE(final.size() == 1);
        first += static_cast<int>(early.size());
        for (const ProvisionalLanding& word : early)
            CHECK(std::abs((word.landing.firstStopError->value - final[0].landing.firstStopError->value)) < 3.0);
    }
    CHECK(first >= 15);  // of 17; where the final word is there first, no other is needed
}

TEST_CASE("The provisional word comes a tenth of a second after arrival, the final one within 0.4 s") {
    PlayedCurve curve = started();
    curve.glide(188, 0.2).hold(1.0).rest(0.5);
    const auto events = curve.heardBy({fullStep}, MoveOrder::everyTry);
    const auto early = eventsOf<ProvisionalLanding>(events);
    const auto final = eventsOf<FinalLanding>(events);
    REQUIRE(early.size() == 1);
    REQUIRE(final.size() == 1);
    const double arrival = final[0].landing.landingTime->value;
    CHECK(early[0].at.value - arrival >= 0.07);
    CHECK(early[0].at.value - arrival <= 0.11);  // 85 ms, and what steadiness takes to show
    CHECK(final[0].at.value - arrival <= 0.34);  // and 60 ms at most until the settled frame is there
    checkCents(early[0].landing.landingError, -12, 2.0);
}

TEST_CASE("Targets: concert, from the start note, and this guitar's own fret") {
    PlayedCurve curve;
    curve.rest(0.5).stroke(64.09).hold(0.6).rest(0.6);  // the target fret, played 9 sharp
    curve.stroke(62.08).hold(0.4).glide(200, 0.2).hold(0.7).rest(0.7);
    curve.stroke(62.08).hold(0.4).glide(200, 0.2).hold(0.7).rest(0.7);
    FollowerConfig config;
    auto landings = landingsOf(curve, {fullStep});
    REQUIRE(landings.size() == 2);
    checkCents(landings[1].landingError, 8);
    config.target = Target::startNote;
    landings = landingsOf(curve, {fullStep}, MoveOrder::everyTry, config);
    checkCents(landings[1].landingError, 0);
    CHECK(landings[1].target == Target::startNote);
    PlayedCurve back;
    back.rest(0.5);
    for (int i = 0; i < 2; ++i)
        back.stroke(62.08).hold(0.4).glide(200, 0.2).hold(0.7).glide(-200, 0.2).hold(0.7).rest(0.7);
    landings = landingsOf(back, {fullStep, moveOf(Gesture::release, 64, 62)}, MoveOrder::everyTry, config);
    REQUIRE(landings.size() == 4);
    checkCents(landings[3].landingError, 0);  // a release comes back to the start note
    PlayedCurve bent;
    bent.rest(0.5).stroke(62.08).hold(0.4).glide(200, 0.2).hold(0.7).rest(0.7).stroke(64.08).hold(0.7).rest(0.7);
    landings = landingsOf(bent, {fullStep, moveOf(Gesture::preBend, 62, 64)}, MoveOrder::everyTry, config);
    REQUIRE(landings.size() == 2);
    checkCents(landings[1].landingError, 0);
    checkCents(landings[1].startError, 8);  // against equal temperament, whatever the target
    config.target = Target::ownGuitar;
    landings = landingsOf(curve, {fullStep}, MoveOrder::everyTry, config);
    checkCents(landings[1].landingError, -1);
    CHECK(landings[1].target == Target::ownGuitar);
}

TEST_CASE("Another reference pitch moves the targets with it") {
    PlayedCurve curve = started(62 + 0.0784);  // 1200 log2(442 / 440) = 7.85 cents
    curve.glide(200, 0.2).hold(0.8).rest(0.5);
    FollowerConfig config;
    config.notes.a4 = Hertz(442.0);
    const auto landings = landingsOf(curve, {fullStep}, MoveOrder::everyTry, config);
    REQUIRE(landings.size() == 1);
    checkCents(landings[0].landingError, 0);
}

TEST_CASE("A bend that begins at the stroke has no start note: it tells nothing of its target") {
    PlayedCurve curve;
    curve.rest(0.5);
    for (int i = 0; i < 3; ++i) curve.stroke(62).glide(200, 0.35).hold(0.7).rest(0.7);
    FollowerConfig config;
    config.target = Target::startNote;
    const auto events = curve.heardBy({fullStep}, MoveOrder::everyTry, config);
    const auto ended = eventsOf<TryEnded>(events);
    REQUIRE(ended.size() == 3);
    for (const TryEnded& each : ended) {
        CHECK_FALSE(each.landing.startError);
        checkCents(each.landing.landingError, 0);
    }
}

TEST_CASE("Discard strikes the last try, or the one being played") {
    std::vector<ListenerEvent> events;
    MoveFollower follower({}, events);
    follower.setMoves({fullStep}, MoveOrder::everyTry);
    CHECK_FALSE(follower.discardLast());
    PlayedCurve first = started();
    first.glide(200, 0.2).hold(0.7).rest(0.7);
    first.feed(follower);
    CHECK(follower.discardLast());
    CHECK_FALSE(follower.discardLast());
    const auto struck = eventsOf<TryStruck>(events);
    REQUIRE(struck.size() == 1);
    CHECK(struck[0].tryNumber == eventsOf<TryEnded>(events)[0].landing.tryNumber);

    events.clear();
    MoveFollower another({}, events);
    another.setMoves({fullStep}, MoveOrder::everyTry);
    PlayedCurve second = started();
    second.glide(200, 0.2).hold(0.1);
    second.feed(another);
    CHECK(another.discardLast());  // while it sounds
    another.finish();
    CHECK(eventsOf<TryEnded>(events).empty());
}

TEST_CASE("Discard strikes every step of a try whose steps have strokes of their own, and no try before it") {
    const std::vector<Move> moves{fullStep, moveOf(Gesture::bend, 65, 67)};
    const auto play = [](PlayedCurve& curve) {
        curve.rest(0.5).stroke(62).hold(0.3).glide(200, 0.2).hold(0.5).rest(0.2);
        curve.stroke(65).hold(0.3).glide(200, 0.2).hold(0.5);
    };
    for (const bool sounding : {false, true}) {
        CAPTURE(sounding);
        std::vector<ListenerEvent> events;
        MoveFollower follower({}, events);
        follower.setMoves(moves, MoveOrder::everyTry);
        PlayedCurve curve;
        play(curve);
        curve.rest(1.0);
        if (sounding) curve.rest(0.5).stroke(62).hold(0.3).glide(200, 0.2).hold(0.5).rest(0.2).stroke(65).hold(0.3);
        else play(curve), curve.rest(1.0);
        curve.feed(follower);
        const auto ended = eventsOf<TryEnded>(events);
        REQUIRE(ended.size() == (sounding ? 3 : 4));
        if (!sounding) follower.setMoves({}, MoveOrder::everyTry);  // a rest has begun
        const auto first = follower.discardLast();
        REQUIRE(first);
        CHECK(*first == ended[2].landing.tryNumber);
        const auto struck = eventsOf<TryStruck>(events);
        REQUIRE(struck.size() == 1);
        CHECK(struck[0].tryNumber == *first);
        CHECK(ended[0].landing.tryNumber == ended[1].landing.tryNumber);
        CHECK(ended[1].landing.tryNumber < *first);
        CHECK(ended[1].landing.note < ended[2].landing.note);
        if (!sounding) CHECK(ended[3].landing.tryNumber == *first);
        if (!sounding) CHECK(ended[3].landing.note > ended[2].landing.note);
        follower.finish();
        CHECK(eventsOf<TryEnded>(events).size() == ended.size());
    }
}

TEST_CASE("A struck note that falls by itself, 15 cents in 0.3 s, gets its first word") {
    // as far as clips and simulated strings that are struck hard do
    PlayedCurve curve;
    curve.rest(0.5).stroke(62).hold(0.3, -15.0).hold(0.5).rest(0.7);
    const auto events = curve.heardBy({moveOf(Gesture::note, 62, 62)}, MoveOrder::everyTry);
    REQUIRE(eventsOf<TryEnded>(events).size() == 1);
    const auto early = eventsOf<ProvisionalLanding>(events);
    REQUIRE(early.size() == 1);
    CHECK(early[0].at.value - curve.onsets[0].time.value < 0.25);
}

TEST_CASE("Every word about a try bears its number, the first one too") {
    PlayedCurve curve = started();
    for (int i = 0; i < 2; ++i) curve.glide(200, 0.2).hold(0.7).rest(0.7).stroke(62).hold(0.4);
    const auto events = curve.heardBy({fullStep}, MoveOrder::everyTry);
    const auto began = eventsOf<TryBegan>(events);
    const auto early = eventsOf<ProvisionalLanding>(events);
    const auto late = eventsOf<FinalLanding>(events);
    const auto ended = eventsOf<TryEnded>(events);
    REQUIRE(ended.size() == 2);
    REQUIRE(began.size() == 3);
    REQUIRE(early.size() == 2);
    REQUIRE(late.size() == 2);
    for (std::size_t i = 0; i < 2; ++i) {
        CHECK(ended[i].landing.tryNumber == began[i].tryNumber);
        CHECK(early[i].landing.tryNumber == began[i].tryNumber);
        CHECK(early[i].landing.note == began[i].note);
        CHECK(late[i].landing.tryNumber == began[i].tryNumber);
    }
    CHECK(began[0].tryNumber < began[1].tryNumber);
}

TEST_CASE("A try that sounds is struck alone") {
    std::vector<ListenerEvent> events;
    MoveFollower follower({}, events);
    follower.setMoves({fullStep}, MoveOrder::everyTry);
    PlayedCurve curve = started();
    curve.glide(200, 0.2).hold(0.7).rest(0.7).stroke(62).hold(0.4);
    curve.feed(follower);
    const auto ended = eventsOf<TryEnded>(events);
    REQUIRE(ended.size() == 1);
    const auto struck = follower.discardLast();
    REQUIRE(struck);
    CHECK(*struck > ended[0].landing.tryNumber);
    CHECK(eventsOf<TryStruck>(events).size() == 1);
}

TEST_CASE(
    "A shift slide that is picked again where it arrives is struck while it sounds, and the one before it is not") {
    std::vector<ListenerEvent> events;
    MoveFollower follower({}, events);
    follower.setMoves({moveOf(Gesture::slide, 60, 65)}, MoveOrder::everyTry);
    PlayedCurve curve;
    curve.rest(0.5);
    for (int i = 0; i < 2; ++i) curve.rest(0.5).stroke(60).hold(0.4).frets(4, 0.03).stroke(65).hold(0.8);
    curve.feed(follower);
    const auto ended = eventsOf<TryEnded>(events);
    REQUIRE(ended.size() == 1);
    const auto struck = follower.discardLast();
    REQUIRE(struck);
    CHECK(*struck == 3);  // of its first stroke, the third that is heard
    follower.finish();
    CHECK(eventsOf<TryEnded>(events).size() == 1);
}

TEST_CASE("A second stroke on a ringing note that only its level and its unsure frames tell of starts the try anew") {
    PlayedCurve curve = started();
    const std::size_t stroke = curve.frames.size();
    curve.quieter(-1.6).hold(0.35);
    for (std::size_t i = stroke - 3; i < stroke + 5; ++i) curve.frames[i].sd = Cents(6.0);
    curve.glide(195, 0.2).hold(0.8).rest(0.5);
    const auto events = curve.heardBy({fullStep}, MoveOrder::everyTry);
    const auto ended = eventsOf<TryEnded>(events);
    REQUIRE(ended.size() == 1);
    checkCents(ended[0].landing.landingError, -5);
    CHECK(std::abs(ended[0].landing.onset.value - curve.frames[stroke].centre.value) < 0.03);
    CHECK(eventsOf<TryBegan>(events).size() == 2);
}

TEST_CASE(
    "Such a stroke begins the next try, too, where the one before it has landed; it came home, or the pick takes it "
    "there") {
    for (const double home : {0.15, 0.015}) {
        CAPTURE(home);
        PlayedCurve curve = started();
        std::vector<std::size_t> strokes;
        for (const double cents : {195.0, 204.0}) {
            if (home > 0.1) curve.hold(0.2);
            strokes.push_back(curve.frames.size());
            curve.quieter(-1.6).hold(0.4).glide(cents, 0.2).hold(0.4).quieter(1.6).hold(0.2).glide(-cents, home);
        }
        curve.rest(0.5);
        for (const std::size_t stroke : strokes)
            for (std::size_t i = stroke - 3; i < stroke + 5; ++i) curve.frames[i].sd = Cents(6.0);
        const auto landings = landingsOf(curve, {fullStep});
        REQUIRE(landings.size() == 2);
        checkCents(landings[0].landingError, -5);
        checkCents(landings[1].landingError, 4);
        CHECK(std::abs(landings[1].onset.value - curve.frames[strokes[1]].centre.value) < 0.03);
    }
}

TEST_CASE("A note that stands alone for half a second is told why it began no try; a shorter one was not meant to") {
    const auto words = [](double seconds) {
        PlayedCurve curve;
        curve.rest(1.0).stroke(65).hold(seconds).rest(0.7);
        const auto noodling = eventsOf<Noodling>(curve.heardBy({fullStep}, MoveOrder::everyTry));
        REQUIRE(noodling.size() == 1);
        return noodling.front().sentence;
    };
    CHECK_FALSE(words(0.62).empty());
    CHECK(words(0.42).empty());
}

TEST_CASE("A try's next step is waited for six seconds") {
    const auto numbers = [](double pause) {
        PlayedCurve curve = started();
        curve.glide(200, 0.2).hold(0.6).rest(pause).stroke(65).hold(0.4).glide(200, 0.2).hold(0.6).rest(0.7);
        const auto landings = landingsOf(curve, {fullStep, moveOf(Gesture::bend, 65, 67)});
        return landings.size() == 2 && landings[0].tryNumber == landings[1].tryNumber;
    };
    CHECK(numbers(5.0));
    CHECK_FALSE(numbers(7.5));
}

TEST_CASE("A recording's note of a tenth of a second that belongs to no try is told") {
    const auto told = [](double seconds) {
        PlayedCurve curve;
        curve.rest(0.5).stroke(70).hold(seconds).rest(0.7);
        return eventsOf<Noodling>(curve.heardBy({fullStep}, MoveOrder::once)).size();
    };
    CHECK(told(0.125) == 1);
    CHECK(told(0.090) == 0);
}
