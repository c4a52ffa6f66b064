#include "dsp/units.h"

#include <doctest/doctest.h>

using namespace landfall;

TEST_CASE("equal temperament gives the guitar's open strings at A4 = 440 Hz") {
    // f = 440 * 2^((m - 69) / 12), ISO 16:1975 for the 440; the frequencies rounded to 0.1 mHz.
    constexpr double midi[] = {40, 45, 50, 55, 59, 64};
    constexpr double hertz[] = {82.4069, 110.0000, 146.8324, 195.9977, 246.9417, 329.6276};
    for (int i = 0; i < 6; ++i) CHECK(std::abs(frequencyOf(MidiPitch(midi[i])).value - hertz[i]) < 0.5e-4);
}

TEST_CASE("a just fifth is 701.955 cents and a just major third 386.314") {
    // Ellis 1885, appendix to Helmholtz, On the Sensations of Tone.
    CHECK(std::abs(interval(200.0_Hz, 300.0_Hz).value - 701.955) < 0.5e-3);
    CHECK(std::abs(interval(400.0_Hz, 500.0_Hz).value - 386.314) < 0.5e-3);
}

TEST_CASE("pitch and frequency are each other's inverse at every reference") {
    for (double a4 = 430.0; a4 <= 450.0; a4 += 2.5)
        for (double midi = 30.0; midi < 100.0; midi += 7.3)
            CHECK(std::abs(pitchOf(frequencyOf(MidiPitch(midi), Hertz(a4)), Hertz(a4)).value - midi) < 1e-9);
}
