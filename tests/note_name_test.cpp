#include "src/music/note_name.h"

#include <doctest/doctest.h>

using namespace landfall;

TEST_CASE("note names are read as MIDI numbers with C4 = 60") {
    const std::pair<const char*, double> known[] = {{"C4", 60},  {"a4", 69},  {"F#4", 66}, {"Gb4", 66},
                                                    {"E♭2", 39}, {"G♯3", 56}, {"B1", 35},  {"C-1", 0},
                                                    {"G9", 127}, {"Cb4", 59}, {"66", 66},  {"66.5", 66.5}};
    for (const auto& [text, midi] : known) {
        CAPTURE(text);
        const auto pitch = parsePitch(text);
        REQUIRE(pitch);
        CHECK(pitch->value == midi);
    }
}

TEST_CASE("what is not a note is refused with the text in the message") {
    for (const char* text :
         {"", "H4", "F", "F#", "4F", "F#4x", "128", "-1", "nan", "G#9", "F##", "C1111111112", "C-1111111112"}) {
        CAPTURE(text);
        const auto pitch = parsePitch(text);
        REQUIRE_FALSE(pitch);
        CHECK(pitch.error().message.find(text) != std::string::npos);
    }
}

TEST_CASE("a pitch is named after the nearest note") {
    CHECK(noteName(MidiPitch(69.0)) == "A4");
    CHECK(noteName(MidiPitch(66.4)) == "F♯4");
    CHECK(noteName(MidiPitch(59.6)) == "C4");
    CHECK(noteName(MidiPitch(0.0)) == "C-1");
}
