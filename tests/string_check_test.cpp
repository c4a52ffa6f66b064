#include <doctest/doctest.h>

#include <cmath>
#include <random>

#include "src/practice/string_check.h"

using namespace landfall;

namespace {

// The string of this guitar, `cents` off.
HeldNote played(const Guitar& guitar, int string, double cents) {
    const Hertz right = frequencyOf(pitchAt(guitar, {string, 0}), guitar.a4);
    return {Seconds(0.0), Hertz(right.value * std::exp2(cents / 1200.0)), Cents(0.5)};
}

// Answers every string asked for with the same offset, until the check wants nothing more of a first round.
void playAll(StringCheck& check, double cents) {
    for (int string = 6; string >= 1; --string) check.hear(played(Guitar{}, string, cents));
}

}  // namespace

TEST_CASE("the strings are asked for from the lowest, and a guitar in tune is done after one round") {
    StringCheck check{Guitar{}};
    CHECK(check.asked() == 6);
    CHECK(check.prompt() == "Play the low E string, open");
    for (int string = 6; string >= 1; --string) {
        CHECK(check.asked() == string);
        check.hear(played(Guitar{}, string, 2.0));
    }
    CHECK(check.done());
    CHECK(check.prompt() == "Every string is in tune.");
    CHECK_FALSE(check.offer());
}

TEST_CASE("an offset is told in words, and the string is asked for again until it is right") {
    StringCheck check{Guitar{}};
    for (int string = 6; string >= 1; --string) check.hear(played(Guitar{}, string, string == 3 ? -9.0 : 0.0));
    CHECK_FALSE(check.done());
    CHECK(check.asked() == 3);
    CHECK(check.prompt() == "G string 9 under: tighten it a little, then play it again");
    check.hear(played(Guitar{}, 3, 7.0));
    CHECK(check.message() == "G string 7 over: loosen it a little");
    CHECK(check.asked() == 3);
    check.hear(played(Guitar{}, 3, -1.0));
    CHECK(check.message() == "G string in tune");
    CHECK(check.done());
}

TEST_CASE("how far off is said in steps where cents would say nothing") {
    CHECK(tuningAdvice(Guitar{}, 2, Cents(-4.9)) == "B string in tune");
    CHECK(tuningAdvice(Guitar{}, 2, Cents(-35)) == "B string 35 under: tighten it");
    CHECK(tuningAdvice(Guitar{}, 1, Cents(-97))
          == "high E string about a half step under: tighten it slowly, eyes away from the string");
    CHECK(tuningAdvice(Guitar{}, 1, Cents(190)) == "high E string about a whole step over: loosen it slowly");
}

TEST_CASE("a note that is no open string is not counted") {
    StringCheck check{Guitar{}};
    check.hear({Seconds(0.0), frequencyOf(MidiPitch(47.5)), Cents(0.5)});
    CHECK(check.asked() == 6);
    CHECK(check.message() == "That was not the low E string. Play it open, on its own");
    for (const StringCheck::Reading& reading : check.readings()) CHECK_FALSE(reading.offset);
}

TEST_CASE("an octave harmonic of the asked string is not taken for the string") {
    StringCheck check{Guitar{}};
    check.hear(played(Guitar{}, 6, 0.0));
    check.hear({Seconds(0.0), Hertz(220.0), Cents(0.5)});  // A3, the twelfth-fret harmonic of the A string
    CHECK(check.asked() == 5);
    CHECK(check.message() == "That was an octave above the A string. Play it open, on its own");
    check.hear({Seconds(0.0), Hertz(55.0), Cents(0.5)});
    CHECK(check.message() == "That was an octave below the A string. Play it open, on its own");
}

TEST_CASE("another open string is taken for itself, and the asked one is still asked for") {
    StringCheck check{Guitar{}};
    check.hear(played(Guitar{}, 1, 3.0));
    CHECK(check.asked() == 6);
    REQUIRE(check.readings()[0].offset);
    CHECK(std::abs(check.readings()[0].offset->value - 3.0) < 1e-9);
    CHECK_FALSE(check.readings()[5].offset);
}

TEST_CASE("a missing string is skipped, and said so at the end") {
    StringCheck check{Guitar{}};
    check.hear(played(Guitar{}, 6, 0.0));
    check.skip();
    for (int string = 4; string >= 1; --string) check.hear(played(Guitar{}, string, 0.0));
    CHECK(check.done());
    CHECK(check.prompt() == "Ready. Left as it is: A string.");
    check.skip();  // nothing left to skip
    CHECK(check.done());
}

TEST_CASE("a guitar a half step down is recognised after three strings, and taken when accepted") {
    StringCheck check{Guitar{}};
    check.hear(played(Guitar{}, 6, -96.0));
    check.hear(played(Guitar{}, 5, -108.0));
    CHECK_FALSE(check.offer());
    check.hear(played(Guitar{}, 4, -100.0));
    REQUIRE(check.offer());
    CHECK(check.prompt() == "All strings are a half step low. Is the guitar tuned that way (half step down)?");
    check.acceptOffer();
    CHECK(check.guitar().name == "half step down");
    CHECK_FALSE(check.offer());
    CHECK(std::abs(check.readings()[5].offset->value - 4.0) < 1e-9);
    CHECK(std::abs(check.readings()[4].offset->value + 8.0) < 1e-9);
    CHECK(check.asked() == 3);
    for (int string = 3; string >= 1; --string) check.hear(played(check.guitar(), string, 0.0));
    CHECK(check.asked() == 5);
    CHECK(check.prompt() == "5th string (G♯) 8 under: tighten it a little, then play it again");
}

TEST_CASE("a guitar a whole step down is recognised too") {
    StringCheck check{Guitar{}};
    for (int string = 6; string >= 4; --string) check.hear(played(Guitar{}, string, -203.0));
    REQUIRE(check.offer());
    CHECK(check.offer()->kind == StringCheck::Offer::Kind::wholeStepDown);
    check.acceptOffer();
    CHECK(tuningName(check.guitar().openStrings) == "whole step down");
}

TEST_CASE("a guitar that somebody gave a name keeps it, tuned otherwise") {
    StringCheck check{Guitar{.name = "heron"}};
    for (int string = 6; string >= 4; --string) check.hear(played(Guitar{}, string, -100.0));
    REQUIRE(check.offer());
    check.acceptOffer();
    CHECK(check.guitar().name == "heron");
    CHECK(tuningName(check.guitar().openStrings) == "half step down");
}

TEST_CASE("drop D is recognised where only the lowest string is a whole step low") {
    StringCheck check{Guitar{}};
    check.hear(played(Guitar{}, 6, -196.0));
    check.hear(played(Guitar{}, 5, 4.0));
    CHECK_FALSE(check.offer());
    check.hear(played(Guitar{}, 4, -11.0));
    REQUIRE(check.offer());
    CHECK(check.prompt() == "Only the lowest string is a whole step low. Is this drop D?");
    CHECK(check.offer()->brief == "Lowest string down?");
    check.acceptOffer();
    CHECK(stringName(check.guitar(), 6) == "6th string (D)");
    CHECK(std::abs(check.readings()[5].offset->value - 4.0) < 1e-9);
}

TEST_CASE("one string that is a half step low is a string out of tune, not another tuning") {
    StringCheck check{Guitar{}};
    for (int string = 6; string >= 1; --string) check.hear(played(Guitar{}, string, string == 2 ? -100.0 : 1.0));
    CHECK_FALSE(check.offer());
    CHECK(check.asked() == 2);
}

TEST_CASE("every string 40 cents flat asks whether another reference pitch is meant") {
    StringCheck check{Guitar{}};
    playAll(check, -40.0);
    REQUIRE(check.offer());
    CHECK(check.offer()->kind == StringCheck::Offer::Kind::referencePitch);
    // 440·2^(-40/1200) = 429.95
    CHECK(check.prompt() == "Every string is about 40 under. Do you tune to A4 = 430 Hz instead of 440?");
    CHECK(check.offer()->brief == "A4 430 Hz?");
    check.acceptOffer();
    CHECK(check.guitar().a4.value == 430.0);
    CHECK(check.done());
}

TEST_CASE("an offer that was declined does not come back") {
    StringCheck check{Guitar{}};
    playAll(check, -20.0);
    REQUIRE(check.offer());
    check.declineOffer();
    CHECK_FALSE(check.offer());
    check.hear(played(Guitar{}, 6, -18.0));
    CHECK_FALSE(check.offer());
    CHECK_FALSE(check.done());
    check.declineOffer();  // nothing to decline
    check.acceptOffer();   // nothing to accept
    CHECK(check.guitar().a4.value == 440.0);
}

TEST_CASE("with a capo the strings are checked where they sound") {
    Guitar guitar;
    guitar.capo = 3;
    StringCheck check{guitar};
    CHECK(check.prompt() == "Play the low E string, open, with the capo on 3");
    check.hear({Seconds(0.0), frequencyOf(MidiPitch(43)), Cents(0.5)});
    CHECK(check.asked() == 5);
    CHECK(std::abs(check.readings()[5].offset->value) < 1e-9);
}

TEST_CASE("a seventh string is asked for first") {
    Guitar guitar;
    guitar.openStrings = parseTuning("seven strings").value();
    StringCheck check{guitar};
    CHECK(check.prompt() == "Play the low B string, open");
    check.hear({Seconds(0.0), Hertz(61.7354), Cents(0.5)});
    CHECK(check.asked() == 6);
}

TEST_CASE("a held note is found once a stroke, after the glide of the attack, with the median pitch of the stretch") {
    HeldNoteFinder finder;
    std::mt19937 random(7);
    std::normal_distribution<double> noise(0.0, 0.8);
    finder.onset({Seconds(1.0), Seconds(1.0), Decibels(20)});
    int found = 0;
    for (int i = 0; i < 300; ++i) {
        const double t = 1.0 + 0.005 * i;
        const double glide = 12.0 * std::exp(-(t - 1.0) / 0.04);  // sharp at first
        PitchFrame frame;
        frame.centre = frame.available = Seconds(t);
        frame.pitch = Hertz(196.0 * std::exp2((glide + noise(random)) / 1200.0));
        if (const auto note = finder.frame(frame)) {
            ++found;
            CHECK(std::abs(interval(Hertz(196.0), note->pitch).value) < 0.5);
            CHECK(note->time.value >= 1.49);
            CHECK(note->sd.value < 2.0);
        }
    }
    CHECK(found == 1);
}

TEST_CASE("a note that wavers, breaks off or is bent is no held note") {
    const auto count = [](auto pitch) {
        HeldNoteFinder finder;
        int found = 0;
        for (int i = 0; i < 400; ++i) {
            PitchFrame frame;
            frame.centre = frame.available = Seconds(0.005 * i);
            if (const std::optional<double> cents = pitch(0.005 * i))
                frame.pitch = Hertz(196.0 * std::exp2(*cents / 1200.0));
            found += finder.frame(frame) ? 1 : 0;
        }
        return found;
    };
    CHECK(count([](double t) { return std::optional(15.0 * std::sin(2.0 * 3.14159265 * 5.0 * t)); }) == 0);
    CHECK(count([](double t) { return std::optional(100.0 * t); }) == 0);
    CHECK(count([](double t) { return std::fmod(t, 0.4) < 0.3 ? std::optional(0.0) : std::nullopt; }) == 0);
    CHECK(count([](double) { return std::optional<double>(); }) == 0);
    // a second note without a stroke that was noticed
    CHECK(count([](double t) { return std::optional(t < 1.0 ? 0.0 : 500.0); }) == 2);
}

// Each pair stands a little on either side of one of the check's borders.
TEST_CASE("a held note wavers within 8 cents, and 60 cents away is another") {
    const auto found = [](auto cents) {
        HeldNoteFinder finder;
        int notes = 0;
        for (int i = 0; i < 400; ++i) {
            PitchFrame frame;
            frame.centre = frame.available = Seconds(0.005 * i);
            frame.pitch = Hertz(196.0 * std::exp2(cents(i) / 1200.0));
            notes += finder.frame(frame) ? 1 : 0;
        }
        return notes;
    };
    CHECK(found([](int i) { return i % 2 == 0 ? 0.0 : 6.5; }) == 1);
    CHECK(found([](int i) { return i % 2 == 0 ? 0.0 : 10.0; }) == 0);
    CHECK(found([](int i) { return i < 200 ? 0.0 : 50.0; }) == 1);
    CHECK(found([](int i) { return i < 200 ? 0.0 : 75.0; }) == 2);
}

TEST_CASE("another string is taken for itself within 60 cents, the asked one though it is 100 cents further off") {
    const auto readingOf = [](int string, double cents) {
        StringCheck check{Guitar{}};
        check.hear(played(Guitar{}, string, cents));
        return check.readings()[static_cast<std::size_t>(string - 1)].offset.has_value();
    };
    CHECK(readingOf(1, 50.0));
    CHECK_FALSE(readingOf(1, 75.0));
    // B2 is asked after a lowest string that is tuned to A2: 200 cents under it, A2 is the lowest.
    const auto lowIsTaken = [](double lowest, double cents) {
        Guitar guitar;
        guitar.openStrings[5] = MidiPitch(lowest);
        guitar.openStrings[4] = MidiPitch(47.0);
        StringCheck check{guitar};
        check.hear(played(guitar, 6, 0.0));
        check.hear(played(guitar, 5, cents));
        return !check.readings()[4].offset.has_value();
    };
    // Of two strings 140 cents apart, what lies 20 on the asked one's far side of the other is nearer to that by 120.
    CHECK_FALSE(lowIsTaken(45.6, -110.0));  // 30 from the other: nearer by 80
    CHECK(lowIsTaken(45.6, -130.0));        // 10: by 120
}

TEST_CASE("strings that are off alike by more than 12 cents and within 16 of each other ask for another reference") {
    const auto offers = [](double lowest, double others) {
        StringCheck check{Guitar{}};
        check.hear(played(Guitar{}, 6, lowest));
        for (int string = 5; string >= 1; --string) check.hear(played(Guitar{}, string, others));
        return check.offer().has_value();
    };
    CHECK(offers(-15.0, -15.0));
    CHECK_FALSE(offers(-10.0, -10.0));
    CHECK(offers(-17.0, -30.0));
    CHECK_FALSE(offers(-12.0, -31.0));
}
