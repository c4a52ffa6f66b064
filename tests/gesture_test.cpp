#include "src/music/gesture.h"

#include <doctest/doctest.h>

#include "src/music/move.h"

using namespace landfall;

TEST_CASE("every gesture has its row, in the order of the enumerators, and is read by its name") {
    int at = 0;
    for (const GestureKind& kind : gestureKinds()) {
        CHECK(static_cast<int>(kind.gesture) == at++);
        CHECK(&kindOf(kind.gesture) == &kind);
        // What stands only beside other notes is no try to ask for by name.
        CHECK(static_cast<bool>(parseGesture(kind.name)) == !kind.onlyInLines);
    }
    CHECK(gestureChoice() == "bend, release, pre-bend, slide, note or vibrato");
    CHECK(parseGesture("jump").error().message
          == "'jump' is not a gesture: use bend, release, pre-bend, slide, note or vibrato");
}

TEST_CASE("a gesture goes from pitch to pitch as its row says") {
    const auto valid = [](Gesture gesture, double from, double to) { return isValid(kindOf(gesture), from, to); };
    CHECK(valid(Gesture::bend, 0.0, 0.5));
    CHECK(valid(Gesture::bend, 1.0, 2.0));
    CHECK_FALSE(valid(Gesture::bend, 2.0, 0.0));
    CHECK_FALSE(valid(Gesture::bend, -1.0, 1.0));  // below the fretted note no finger bends
    CHECK_FALSE(valid(Gesture::bend, 0.0, 5.5));
    CHECK(valid(Gesture::release, 2.0, 0.0));
    CHECK_FALSE(valid(Gesture::release, 0.0, 2.0));
    CHECK(valid(Gesture::preBend, 0.0, 2.0));
    CHECK_FALSE(valid(Gesture::preBend, 1.0, 2.0));
    CHECK(valid(Gesture::slide, 0.0, -12.0));
    CHECK_FALSE(valid(Gesture::slide, 0.0, 1.5));
    CHECK_FALSE(valid(Gesture::slide, 2.0, 2.0));
    CHECK(valid(Gesture::note, 0.0, 0.0));
    CHECK_FALSE(valid(Gesture::vibrato, 0.0, 1.0));
}

TEST_CASE("a move knows its direction, what its stroke sounds and what is fretted") {
    const Move bend = parseMove("bend:D4:E4").value(), release = parseMove("release:E4:D4").value(),
               preBend = parseMove("pre-bend:D4:E4").value();
    const Move slide = parseMove("slide:E4:D4").value(), note = parseMove("note:D4:D4").value();
    CHECK(bend.direction() == 1.0);
    CHECK(release.direction() == -1.0);
    CHECK(note.direction() == 0.0);
    CHECK(bend.struckNote() == MidiPitch(62));
    CHECK(preBend.struckNote() == MidiPitch(64));
    CHECK(release.struckNote() == MidiPitch(64));
    CHECK(bend.frettedNote() == MidiPitch(62));
    CHECK(preBend.frettedNote() == MidiPitch(62));
    CHECK(release.frettedNote() == MidiPitch(62));
    CHECK(slide.frettedNote() == MidiPitch(64));
}

TEST_CASE("a gesture's words have their width, way and fret filled in") {
    const auto words = [](std::string_view GestureKind::*which, Gesture gesture, double semitones, int fret = 0) {
        return filledIn(kindOf(gesture).*which, gesture, semitones, fret);
    };
    CHECK(words(&GestureKind::asked, Gesture::preBend, 2.0) == "pre-bend full step");
    CHECK(words(&GestureKind::asked, Gesture::slide, 12.0, 19) == "slide to fret 19");
    CHECK(words(&GestureKind::title, Gesture::release, -2.0) == "release a full step");
    CHECK(words(&GestureKind::title, Gesture::release, -4.0) == "release two steps");
    CHECK(words(&GestureKind::title, Gesture::slide, -12.0) == "slide an octave");
    CHECK(words(&GestureKind::task, Gesture::slide, -3.0) == "slide down 3 frets");
    CHECK(words(&GestureKind::task, Gesture::bend, 0.5) == "bend a quarter step");
}
