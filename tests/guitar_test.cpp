#include <doctest/doctest.h>

#include <cmath>

#include "src/music/guitar.h"

using namespace landfall;

namespace {

double frequency(const Guitar& guitar, NeckPlace place) { return frequencyOf(pitchAt(guitar, place), guitar.a4).value; }

Guitar tuned(const char* tuning) {
    Guitar guitar;
    guitar.openStrings = parseTuning(tuning).value();
    return guitar;
}

}  // namespace

TEST_CASE("open strings of standard tuning have the frequencies of equal temperament") {
    // ISO 16:1975 sets A4 = 440 Hz; f = 440 * 2^((m - 69) / 12) worked out for MIDI 64 59 55 50 45 40.
    const double expected[] = {329.6276, 246.9417, 195.9977, 146.8324, 110.0000, 82.4069};
    for (int string = 1; string <= 6; ++string)
        CHECK(std::abs(frequency(Guitar{}, {string, 0}) - expected[string - 1]) < 5e-5);  // the digits given
}

TEST_CASE("low tunings have the frequencies of equal temperament") {
    CHECK(std::abs(frequency(tuned("drop D"), {6, 0}) - 73.4162) < 5e-5);
    CHECK(std::abs(frequency(tuned("half step down"), {6, 0}) - 77.7817) < 5e-5);
    CHECK(std::abs(frequency(tuned("C2 F2 A#2 D#3 G3 C4"), {6, 0}) - 65.4064) < 5e-5);
    CHECK(std::abs(frequency(tuned("seven strings"), {7, 0}) - 61.7354) < 5e-5);
}

TEST_CASE(
    "the fifth fret sounds as the next string, and the fourth on the G string: how guitars are tuned by ear (common "
    "practice)") {
    const Guitar guitar;
    for (int string = 6; string >= 2; --string)
        CHECK(pitchAt(guitar, {string, string == 3 ? 4 : 5}) == pitchAt(guitar, {string - 1, 0}));
    CHECK(pitchAt(guitar, {1, 12}).value - pitchAt(guitar, {1, 0}).value == 12.0);
}

TEST_CASE("frets count from the capo and the neck ends where it ends") {
    Guitar guitar;
    guitar.capo = 2;
    CHECK(pitchAt(guitar, {6, 0}).value == 42.0);
    CHECK(pitchAt(guitar, {6, 3}).value == 45.0);
    CHECK(hasPlace(guitar, {6, 20}));
    CHECK_FALSE(hasPlace(guitar, {6, 21}));
    CHECK_FALSE(hasPlace(guitar, {7, 3}));
    CHECK_FALSE(hasPlace(guitar, {1, -1}));
}

TEST_CASE("tunings are read by name and by notes, with and without octaves") {
    const auto same = [](const char* a, const char* b) {
        CHECK_MESSAGE(parseTuning(a).value() == parseTuning(b).value(), a);
    };
    same("standard", "E2 A2 D3 G3 B3 E4");
    same("Half-Step DOWN", "Eb2 Ab2 Db3 Gb3 Bb3 Eb4");
    same("EbAbDbGbBbEb", "half step down");
    same("DADGAD", "D2 A2 D3 G3 A3 D4");
    same("D, A, D, G, B, E", "drop D");
    same("BEADGBE", "seven strings");
    CHECK(tuningName(parseTuning("D2 A2 D3 G3 B3 E4").value()) == "drop D");
    CHECK(tuningName(parseTuning("DADGAD").value()) == "D2 A2 D3 G3 A3 D4");
}

TEST_CASE("a tuning that cannot be read says what would be") {
    for (const char* text : {"", "hello", "40 45 50 55 59 64", "EADGBH", "E2 A2 D3 G3 B3 E4x"}) {
        const auto tuning = parseTuning(text);
        REQUIRE_FALSE_MESSAGE(tuning, text);
        CHECK(tuning.error().message.find("note names from the lowest string") != std::string::npos);
    }
    CHECK(parseTuning("E2 A2 D3").error().message
          == "a tuning of 3 strings: give one note for each of 4 to 9 strings, the lowest first");
    CHECK(parseTuning("F#1 B1 E2 A2 D3 G3 B3 E4").error().message.find("between B1 and B4") != std::string::npos);
}

TEST_CASE("a guitar outside what can be followed is refused in one line that names the range") {
    CHECK(checkGuitar(Guitar{}));
    const auto message = [](auto change) {
        Guitar guitar;
        change(guitar);
        const auto checked = checkGuitar(guitar);
        REQUIRE_FALSE(checked);
        CHECK(checked.error().message.find('\n') == std::string::npos);
        return checked.error().message;
    };
    CHECK(message([](Guitar& g) { g.a4 = Hertz(429.9); }).find("from 430 to 450 Hz") != std::string::npos);
    CHECK(message([](Guitar& g) { g.a4 = Hertz(std::nan("")); }).find("from 430 to 450 Hz") != std::string::npos);
    CHECK(message([](Guitar& g) { g.capo = 12; }).find("capo on fret 12") != std::string::npos);
    CHECK(message([](Guitar& g) { g.highestFret = 5; }).find("12 to 36") != std::string::npos);
    CHECK(message([](Guitar& g) { g.openStrings.clear(); }).find("0 strings") != std::string::npos);
    CHECK(message([](Guitar& g) { g.gaugesInch[0] = 10.0; }).find("gauge") != std::string::npos);
}

TEST_CASE("strings are named as a player says them, and by number where they are tuned otherwise") {
    CHECK(stringName(Guitar{}, 1) == "high E string");
    CHECK(stringName(Guitar{}, 3) == "G string");
    CHECK(stringName(Guitar{}, 6) == "low E string");
    CHECK(stringName(tuned("half step down"), 3) == "3rd string (F♯)");
    CHECK(stringName(tuned("drop D"), 6) == "6th string (D)");
    CHECK(stringName(tuned("drop D"), 5) == "A string");
    CHECK(stringName(tuned("seven strings"), 7) == "low B string");
    CHECK(placeName(Guitar{}, {3, 7}) == "G string · fret 7");
    CHECK(placeName(Guitar{}, {3, 0}) == "G string · open");
}

TEST_CASE("a guitar is described in one line") {
    Guitar guitar = tuned("drop D");
    guitar.capo = 2;
    guitar.leftHanded = true;
    CHECK(describeGuitar(guitar)
          == "6 strings, drop D (D2 A2 D3 G3 B3 E4), capo on 2, 22 frets, left-handed, A4 = 440 Hz");
}

TEST_CASE("how a guitar is set up is told as far as it is known, and what no guitar is set up like is refused") {
    Guitar guitar;
    CHECK(describeSetUp(guitar) == "strings 0.010 to 0.046 in, third plain, scale 647.7 mm");
    guitar.gaugesInch.clear();
    guitar.plainStrings = 2;
    guitar.radiusMm = 304.8;
    guitar.actionMm = 1.6;
    CHECK(describeSetUp(guitar) == "third wound, scale 647.7 mm, radius 304.8 mm, action 1.6 mm");
    CHECK(checkGuitar(guitar));
    for (const double action : {0.4, 6.5, -1.0, std::nan("")}) CHECK_FALSE(checkGuitar(Guitar{.actionMm = action}));
    for (const double radius : {10.0, 2000.0, std::nan("")}) CHECK_FALSE(checkGuitar(Guitar{.radiusMm = radius}));
}

TEST_CASE("numbers of the strings are read as they are typed and as a log keeps them, and no half of them") {
    const std::vector<double> set{0.010, 0.013, 0.017};
    for (const char* text : {"0.010 0.013 0.017", " .010,.013, .017 ", "0.01 0.013 1.7e-2"})
        CHECK(numbersIn(text) == set);
    CHECK(numbersIn("64 59 55") == std::vector<double>{64, 59, 55});
    for (const char* text : {"", " ", "0.010 thick", "0.010;0.013", "-", "1e999"}) CHECK(numbersIn(text).empty());
}
