#include "src/music/chord_move.h"

#include <doctest/doctest.h>

#include "src/music/guitar.h"

using namespace landfall;

TEST_CASE("a move of several strings is read string by string") {
    const auto oblique = parseChordMove("bend:D4+G4:E4+G4");
    REQUIRE(oblique);
    const auto strings = stringsOf(*oblique);
    REQUIRE(strings.size() == 2);
    CHECK(oblique->gesture == Gesture::bend);
    CHECK(strings[0].gesture == Gesture::bend);
    CHECK(strings[0].to.value == 64.0);
    CHECK(strings[1].gesture == Gesture::note);  // it is held
    // the string that moves leads, wherever it lies
    const auto above = *parseChordMove("bend:D4+G4:D4+A4");
    CHECK(above.from.value == 67.0);
    CHECK(stringsOf(above)[1].to.value == 69.0);
    CHECK(notesOf(above) == "D4+G4 – D4+A4");
    CHECK_FALSE(isUnison(*oblique));
    CHECK(isUnison(*parseChordMove("bend:F4+G4:G4+G4")));
    CHECK(*parseChordMove("note:D4+B4") == *parseChordMove("note:D4+B4:D4+B4"));
    CHECK(stringsOf(*parseChordMove("slide:A3+C4+E4:D4+F4+A4")).size() == 3);
    CHECK(notesOf(*oblique) == "D4+G4 – E4+G4");
    CHECK(notesOf(*parseChordMove("note:D4+B4")) == "D4+B4");
}

TEST_CASE("a move goes on where every string is where it ended") {
    const auto struck = *parseChordMove("note:D4+B4"), slid = *parseChordMove("slide:D4+B4:E4+C5"),
               further = *parseChordMove("slide:E4+C5:F4+D5");
    CHECK(goesOn(struck, slid));
    CHECK(goesOn(slid, further));
    CHECK_FALSE(goesOn(struck, further));
    CHECK_FALSE(goesOn(struck, struck));  // a note has a stroke of its own
    CHECK_FALSE(goesOn(struck, *parseChordMove("slide:D4+B4+E5:E4+C5+F5")));
}

TEST_CASE("a bad move of several strings says what is wrong") {
    const auto why = [](const char* text) {
        const auto move = parseChordMove(text);
        REQUIRE_FALSE(move);
        return move.error().message;
    };
    CHECK(why("bend:D4+G4") == "'bend:D4+G4': only a note may leave out TO");
    CHECK(why("note:G4+D4") == "'note:G4+D4': FROM runs from the low note to the high one");
    CHECK(why("note:D4+D4") == "'note:D4+D4': FROM runs from the low note to the high one");
    CHECK(why("bend:D4+G4:C4+G4") == "'bend:D4+G4:C4+G4': a bend goes up or holds: no string may come down");
    CHECK(why("release:D4+G4:E4+G4") == "'release:D4+G4:E4+G4': a release comes down or holds: no string may go up");
    CHECK(why("bend:D4+G4:D4+G4") == "'bend:D4+G4:D4+G4': one string at least must go to another note");
    CHECK(why("bend:D4+G4:D4+C5") == "'bend:D4+G4:D4+C5': no string bends further than two steps");
    CHECK(why("slide:D4+G4:E4") == "'slide:D4+G4:E4': TO needs a note for each note of FROM");
    CHECK(why("note:E2+A2+D3+G3+B3+E4+A4") == "'note:E2+A2+D3+G3+B3+E4+A4': two to 6 strings sound together, not 7");
    CHECK(parseChordMove("slide:F2+C3+F3+A3+C4+F4:G2+D3+G3+B3+D4+G4"));
    CHECK(why("vibrato:D4+G4:D4+G4")
          == "'vibrato:D4+G4:D4+G4': several strings at once are a note, a slide, a bend or a release");
    CHECK(why("note:D4+H4").starts_with("'note:D4+H4': 'H4' is not a note"));
    CHECK(why("slide:D4+G4:E4+").starts_with("'slide:D4+G4:E4+': '' is not a note"));
    CHECK_FALSE(parseChordMove("note"));
    CHECK_FALSE(parseChordMove("slide:D4+G4:E4+A4:F4+B4"));
    CHECK_FALSE(parseChordMove("note:+"));
}

TEST_CASE("what is asked of several strings says which of them goes where") {
    const Guitar guitar;
    const auto at = [](Gesture gesture, double from, double to, NeckPlace place) {
        Move move{.gesture = gesture, .from = MidiPitch(from), .to = MidiPitch(to), .place = place, .targetFret = {}};
        if (kindOf(gesture).overFrets) move.targetFret = place.fret + static_cast<int>(to - from);
        return move;
    };
    const auto words = [&](Move move, std::vector<Move> others) {
        move.with = std::move(others);
        return shapeWords(guitar, move);
    };
    using enum Gesture;
    CHECK(words(at(slide, 55, 57, {4, 5}), {at(slide, 64, 66, {2, 5})}) == "D 5 + B 5 · slide to fret 7");
    // fret 5 is where the upper string starts
    CHECK(words(at(slide, 48, 50, {5, 3}), {at(slide, 64, 66, {2, 5})}) == "A 3 + B 5 · slide up 2 frets");
    CHECK(words(at(slide, 55, 57, {4, 5}), {at(slide, 64, 65, {2, 5})}) == "D 5 slide to fret 7 + B 5 slide to fret 6");
    CHECK(words(at(bend, 62, 64, {3, 7}), {at(note, 67, 67, {2, 8})}) == "G 7 full step + B 8 held");
    // the upper string leads, since it is the one that moves
    CHECK(words(at(bend, 69, 70, {2, 10}), {at(note, 55, 55, {3, 0})}) == "G open held + B 10 half step");
    CHECK(words(at(bend, 62, 64, {3, 7}), {at(bend, 67, 69, {2, 8})}) == "G 7 + B 8 · full step");
    CHECK(words(at(note, 62, 62, {3, 7}), {at(note, 67, 67, {2, 8})}) == "G 7 + B 8 · note");
}
