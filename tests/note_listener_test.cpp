#include "src/practice/note_listener.h"

#include <doctest/doctest.h>

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
    for (const double error : {50.0, 4.0, 5.0, 6.0, 7.0, 8.0}) targets.learnStart(bend, error);
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
    const Targets next(Target::ownGuitar, own.ownFrets());
    CHECK(next.of(bend).cents == own.of(bend).cents);
}
