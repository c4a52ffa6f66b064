#include "src/practice/note_listener.h"

#include <doctest/doctest.h>

#include "src/music/chord_move.h"
#include "src/practice/targets.h"
#include "tests/support/played_curve.h"

using namespace landfall;

namespace {

// Writes down what it is told.
struct Written : NoteHearer {
    std::vector<int> strokes;
    std::vector<Note> over;
    int began = 0, grew = 0, rang = 0;

    void strokeHeard(const Onset&, int note) override { strokes.push_back(note); }
    void noteBegan() override { ++began; }
    void noteGrew() override { ++grew; }
    void noteEnded(Note note, bool rings) override {
        over.push_back(std::move(note));
        rang += rings;
    }
};

void play(const PlayedCurve& curve, NoteListener& listener) {
    std::size_t stroke = 0;
    for (const PitchFrame& frame : curve.frames) {
        while (stroke < curve.onsets.size() && curve.onsets[stroke].available <= frame.centre)
            listener.onset(curve.onsets[stroke++]);
        listener.provisional(frame);
        listener.settled(frame);
    }
    listener.finish();
}

Note noteOf(const PlayedCurve& curve) {
    Written written;
    NoteListener listener({});
    listener.tell(written);
    play(curve, listener);
    REQUIRE(written.over.size() == 1);
    return written.over.front();
}

}  // namespace

TEST_CASE("Notes are told one after another, each from its stroke to the next or to its silence") {
    PlayedCurve curve;
    curve.rest(0.3).stroke(62).hold(0.5).stroke(64).hold(0.03).stroke(64).hold(0.4).rest(0.5);
    Written written;
    NoteListener listener({});
    listener.tell(written);
    play(curve, listener);
    CHECK(written.strokes == std::vector<int>{1, 2, 3});
    CHECK(written.began == 2);  // the third stroke is of the same pick
    REQUIRE(written.over.size() == 2);
    CHECK(written.over[0].number == 1);
    CHECK(written.over[1].number == 2);
    CHECK(written.over[0].cutByStroke);
    CHECK_FALSE(written.over[1].cutByStroke);
    CHECK(*written.over[0].end == curve.onsets[1].time.value);
    CHECK(written.over[1].onset == curve.onsets[1].time.value);
    CHECK(written.grew > 30);
    for (const Note& note : written.over)
        for (const PitchPoint& point : note.points()) CHECK((point.time >= note.onset && point.time <= *note.end));
}

TEST_CASE("A pitch without a stroke is a note once it has lasted, and its own number is told") {
    PlayedCurve curve;
    curve.rest(0.3).hold(0.04).rest(0.3).hold(0.4).rest(0.5);
    const Note note = noteOf(curve);
    CHECK(note.number == 1);
    CHECK_FALSE(note.struck);
    CHECK(note.points().size() > 60);
}

TEST_CASE("A start note's target is the middle of the last five starts, the guitar's own the last plainly held note") {
    const Move bend = moveOf(Gesture::bend, 62, 64);
    Targets targets(Target::startNote);
    CHECK(targets.of(bend).kind == Target::concert);
    CHECK(targets.of(bend).cents == 6400.0);
    for (const double error : {50.0, 4.0, 5.0, 6.0, 7.0, 8.0}) targets.learnStart(bend, Cents(error));
    CHECK(targets.of(bend).kind == Target::startNote);
    CHECK(targets.of(bend).cents == 6406.0);  // without the first
    CHECK(targets.of(moveOf(Gesture::bend, 60, 64)).kind == Target::concert);

    Targets own(Target::ownGuitar);
    CHECK(own.of(bend).kind == Target::concert);
    CHECK(own.lacks(bend));
    PlayedCurve plain;
    plain.rest(0.2).stroke(64.07).hold(0.6).rest(0.4);
    own.learnFret(noteOf(plain));
    CHECK(own.of(bend).kind == Target::ownGuitar);
    CHECK(std::abs(own.of(bend).cents - 6407.0) < 0.3);  // the curve's noise has a deviation of 0.3 cents
    PlayedCurve brief;
    brief.rest(0.2).stroke(64.3).hold(0.15).rest(0.4);
    own.learnFret(noteOf(brief));
    CHECK(std::abs(own.of(bend).cents - 6407.0) < 0.3);
    CHECK(!own.lacks(bend));
    PlayedCurve justEnough;
    justEnough.rest(0.2).stroke(64.07).hold(0.26).rest(0.4);
    Targets another(Target::ownGuitar);
    another.learnFret(noteOf(justEnough));
    CHECK(!another.lacks(bend));
    const Targets next(Target::ownGuitar, own.ownFrets());
    CHECK(next.of(bend).cents == own.of(bend).cents);
}

TEST_CASE("the interval that two strings make is pure by whole-number ratios, upwards and down") {
    const auto move = [](const char* text) { return *parseChordMove(text); };
    const Targets just(Target::just);
    const auto above = [&](const char* text, double low, double high) {
        return just.of(move(text), std::vector<std::optional<Cents>>{Cents(low), Cents(high)}).above;
    };
    // 5/3 is 884.36 cents, 6/5 315.64, 2/1 1200, 15/8 1088.27 (Helmholtz, On the Sensations of Tone, from memory)
    CHECK(above("note:D4+B4", 5.0, 0.0)[1].value == doctest::Approx(5.0 - 15.64).epsilon(1e-3));
    CHECK(above("note:D4+B4", 5.0, 0.0)[0] == Cents(0.0));
    CHECK(above("note:C4+B4", 0.0, 0.0)[1].value == doctest::Approx(-11.73).epsilon(1e-3));
    CHECK(above("note:D3+D4", -4.0, 0.0)[1] == Cents(-4.0));
    CHECK(above("bend:D4+G4:E4+G4", 0.0, 3.0)[0].value == doctest::Approx(3.0 - 15.64).epsilon(1e-3));
    CHECK(just.of(move("bend:D4+E4:E4+E4"), std::vector<std::optional<Cents>>(2)).kind == Target::concert);
    const auto silent = just.of(move("note:D4+B4"), std::vector<std::optional<Cents>>{std::nullopt, Cents(3.0)});
    CHECK(silent.above[1] == Cents(0.0));

    Targets own(Target::ownGuitar);
    const Move slide = move("slide:D4+B4:E4+C5"), unison = move("bend:D4+E4:E4+E4");
    CHECK(own.lacks(slide));
    CHECK_FALSE(own.lacks(unison));
    own.learnFret(MidiPitch(64), Cents(6.0));
    CHECK(own.lacks(slide));
    CHECK(own.of(slide, std::vector<std::optional<Cents>>(2)).kind == Target::concert);
    own.learnFret(MidiPitch(72), Cents(-3.0));
    CHECK_FALSE(own.lacks(slide));
    const auto held = own.of(slide, std::vector<std::optional<Cents>>(2));
    CHECK(held.kind == Target::ownGuitar);
    CHECK(held.above[0] == Cents(6.0));
    CHECK(std::abs(held.above[1].value + 3.0) < 1e-9);
}

// From here on each pair of curves stands a little on either side of one of the listener's borders.

namespace {

// A note on D4, for `seconds` without a pitch at `below` dB under it, and on.
std::size_t notesAround(double seconds, double below) {
    PlayedCurve curve;
    curve.rest(0.3).stroke(62).hold(0.4).rest(seconds).hold(0.4).rest(0.8);
    for (PitchFrame& frame : curve.frames)
        if (!frame.pitch && frame.centre.value > 0.6 && frame.centre.value < 0.9 + seconds)
            frame.level = Decibels(-20.0 - below);
    Written written;
    NoteListener listener({});
    listener.tell(written);
    play(curve, listener);
    return written.over.size();
}

// A stroke without a pitch: its level at the stroke, at `peakAt` for 20 ms, and from 0.3 s on.
bool rings(double peak, double peakAt, double after) {
    PlayedCurve curve;
    curve.rest(0.3).stroke(62).rest(1.0);
    for (PitchFrame& frame : curve.frames) {
        const double since = frame.centre.value - curve.onsets[0].time.value;
        if (since >= 0.0) frame.level = Decibels(since > 0.3 ? after : -20.0);
        if (since > peakAt && since < peakAt + 0.02) frame.level = Decibels(peak);
    }
    Written written;
    NoteListener listener({});
    listener.tell(written);
    play(curve, listener);
    return written.rang == 1;
}

// A second on D4; at half of it frames are unsure for 20 ms, and level and pitch are others afterwards.
struct Second {
    double unsure = 3.0, rise = 3.0, over = 0.005, cents = 0.0;
    double unsureBefore = 0.0;  // for so long, until 0.1 s before
};
std::size_t strokesIn(const Second& given) {
    PlayedCurve curve;
    curve.rest(0.3).stroke(62).hold(1.0).rest(0.8);
    for (PitchFrame& frame : curve.frames) {
        const double since = frame.centre.value - 0.8;
        frame.sd = Cents(0.1);
        if (since > 0.0 && since < 0.02) frame.sd = Cents(given.unsure);
        if (since > -0.1 - given.unsureBefore && since < -0.1) frame.sd = Cents(2.0);
        if (!frame.pitch) continue;
        frame.level = Decibels(-20.0 + given.rise * std::clamp((since + 0.5 * given.over) / given.over, 0.0, 1.0));
        if (since > 0.01) frame.pitch = Hertz(frame.pitch->value * std::exp2(given.cents / 1200.0));
    }
    Written written;
    NoteListener listener({});
    listener.tell(written);
    play(curve, listener);
    return written.strokes.size();
}

}  // namespace

TEST_CASE("A note has ended 0.15 s after its pitch where its level has fallen by 10 dB, else after half a second") {
    CHECK(notesAround(0.13, 60.0) == 1);
    CHECK(notesAround(0.19, 60.0) == 2);
    CHECK(notesAround(0.25, 8.0) == 1);
    CHECK(notesAround(0.25, 12.5) == 2);
    CHECK(notesAround(0.42, 0.0) == 1);
    CHECK(notesAround(0.60, 0.0) == 2);
}

TEST_CASE("A pitch that no stroke began is a note after 60 ms, and none is followed for more than 20 s") {
    const auto notes = [](double seconds) {
        PlayedCurve curve;
        curve.rest(0.3).hold(seconds).rest(0.8);
        Written written;
        NoteListener listener({});
        listener.tell(written);
        play(curve, listener);
        return written.over.size();
    };
    CHECK(notes(0.05) == 0);
    CHECK(notes(0.08) == 1);
    CHECK(notes(16.0) == 1);
    CHECK(notes(22.0) == 2);
}

TEST_CASE("Without a pitch a string rings that is within 15 dB of its loudest 0.15 s, and has not grown since") {
    CHECK(rings(-20.0, 0.0, -32.0));
    CHECK_FALSE(rings(-20.0, 0.0, -38.0));
    CHECK(rings(-5.0, 0.12, -15.0));
    CHECK_FALSE(rings(-5.0, 0.18, -15.0));
}

TEST_CASE(
    "A note is struck again where its level rises by 1 dB in 70 ms, its frames are unsure by a cent and its pitch is "
    "the same") {
    CHECK(strokesIn({}) == 2);
    CHECK(strokesIn({.rise = 1.25}) == 2);
    CHECK(strokesIn({.rise = 0.8}) == 1);
    CHECK(strokesIn({.unsure = 1.25}) == 2);
    CHECK(strokesIn({.unsure = 0.8}) == 1);
    CHECK(strokesIn({.cents = 12.0}) == 2);
    CHECK(strokesIn({.cents = 19.0}) == 1);
    CHECK(strokesIn({.rise = 17.0 * 0.3, .over = 0.3}) == 2);
    CHECK(strokesIn({.rise = 11.0 * 0.3, .over = 0.3}) == 1);
    // Of the 0.3 s before, more than half must be sure.
    CHECK(strokesIn({.unsureBefore = 0.11}) == 2);
    CHECK(strokesIn({.unsureBefore = 0.19}) == 1);
}

TEST_CASE(
    "Back where it began after a landing a note is struck again where the pitch jumped, not where a hand let it down") {
    struct Landed : Written {
        bool hasLanded() const override { return true; }
    };
    // As in a room: unsure and louder on its last way.
    const auto strokes = [](double seconds) {
        PlayedCurve curve;
        curve.rest(0.3).stroke(62).hold(0.5).glide(200.0, 0.2).hold(0.7 - seconds).glide(-200.0, seconds).hold(0.5);
        for (PitchFrame& frame : curve.frames) {
            const double since = frame.centre.value - 1.7;
            frame.sd = Cents(since > -0.05 && since < -0.02 ? 4.0 : 0.1);
            if (frame.pitch) frame.level = Decibels(-20.0 + 4.0 * std::clamp((since + 0.1) / 0.1, 0.0, 1.0));
        }
        Landed landed;
        NoteListener listener({});
        listener.tell(landed);
        play(curve, listener);
        return landed.strokes.size();
    };
    CHECK(strokes(0.3) == 1);
    CHECK(strokes(0.05) == 1);
    CHECK(strokes(0.012) == 2);
}

TEST_CASE(
    "A note that moves at once begins on the middle of 0.03 to 0.09 s, one that is heard late within a quarter "
    "second") {
    const auto start = [](double from, double speed) {
        Note note(1, 0.0, true);
        for (double t = from; t < 1.0; t += 0.005)
            note.add({.time = t, .cents = 6200.0 + speed * std::min(t, 0.3), .sd = 0.1, .level = -20.0});
        return note.start();
    };
    REQUIRE(start(0.0, 1000.0));
    CHECK(std::abs(*start(0.0, 1000.0) - 6260.0) <= 2.6);
    CHECK(start(0.2, 0.0));
    CHECK_FALSE(start(0.29, 0.0));
}

TEST_CASE("Two strokes within 0.05 s are of one pick") {
    const auto notes = [](double apart) {
        PlayedCurve curve;
        curve.rest(0.3).stroke(62).hold(apart).stroke(62).hold(0.4).rest(0.8);
        Written written;
        NoteListener listener({});
        listener.tell(written);
        play(curve, listener);
        return written.over.size();
    };
    CHECK(notes(0.04) == 1);
    CHECK(notes(0.065) == 2);
}
