// A second string that rang where a single note landed.
#include "src/practice/beside.h"

#include <cmath>
#include <vector>

#include <doctest/doctest.h>

#include "tests/support/string_sound.h"
#include "tests/support/summed.h"

using namespace landfall;

namespace {

constexpr double rate = 48000.0;

std::vector<float> note(double midi, double amplitude, double inharmonicity = 1e-4) {
    return stringSound({.sampleRate = rate,
                        .seconds = 1.2,
                        .silence = 0.2,
                        .inharmonicity = inharmonicity,
                        .decay = 1.5,
                        .amplitude = amplitude,
                        .noise = 2e-4},
                       frequencyOf(MidiPitch(midi)).value);
}

struct Found {
    std::optional<MidiPitch> beside;
    std::string sentence;
};

// Of a G4 that landed 6 cents over at 0.25 s.
Found besideG4(const std::vector<float>& samples) {
    Landing landing;
    landing.move = {Gesture::bend, MidiPitch(65.0), MidiPitch(67.0), {}, {}, false};
    landing.landingTime = Seconds(0.25);
    landing.landingError = Cents(6.0);
    landing.end = Seconds(1.3);
    landing.verdict = Verdict::inTune;
    landing.sentence = "In tune, 6 over.";
    BesideListener listener(rate, standardA4);
    listener.process(samples);
    return {listener.finish(std::span(&landing, 1)).front(), landing.sentence};
}

}  // namespace

TEST_CASE("a neighbour 6 to 15 dB under the note is told by its name") {
    for (const double midi : {59.0, 62.0, 64.0, 71.0})
        for (const double decibels : {-7.0, -13.0}) {
            const auto found =
                besideG4(summed({note(67.06, 0.2), note(midi + 0.1, 0.2 * std::pow(10.0, decibels / 20.0), 2e-4)}));
            CAPTURE(midi);
            CAPTURE(decibels);
            REQUIRE(found.beside);
            CHECK(std::abs(found.beside->value - midi - 0.1) < 0.05);
        }
    CHECK(besideG4(summed({note(67.06, 0.2), note(62.0, 0.1)})).sentence == "In tune, 6 over. D4 rang beside it.");
}

TEST_CASE("no second string is claimed of one alone, of open strings that answer, and of the note that was left") {
    CHECK_FALSE(besideG4(note(67.06, 0.2)).beside);
    CHECK_FALSE(besideG4(summed({note(67.06, 0.2), note(55.0, 0.008), note(50.0, 0.008)})).beside);
    CHECK_FALSE(besideG4(summed({note(67.06, 0.2), note(65.0, 0.06)})).beside);  // a room keeps it
    CHECK_FALSE(besideG4(std::vector<float>(60000, 0.0f)).beside);
    CHECK_FALSE(besideG4({}).beside);
}

TEST_CASE("of a move that has not landed nothing is claimed") {
    Landing landing;
    landing.verdict = Verdict::died;
    BesideListener listener(rate, standardA4);
    listener.process(summed({note(67.06, 0.2), note(62.0, 0.1)}));
    CHECK_FALSE(listener.finish(std::span(&landing, 1)).front());
}
