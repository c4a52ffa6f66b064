// Several strings at once on sampled guitars that this project did not make: each string rendered on its own, so that
// its pitch can be measured alone, by Fourier peaks, and then all of them heard together.
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <optional>
#include <string>
#include <vector>

#include "dsp/units.h"
#include "src/practice/chord_listener.h"
#include "src/music/chord_move.h"
#include "tests/support/rendered_guitar.h"
#include "tests/support/summed.h"

using namespace landfall;

namespace {

struct SampledString {
    int key;
    double cents;  // that it travels
    double error;  // of the travel, or of the string where it is only held
};

struct SampledChord {
    const char* move;
    std::vector<SampledString> strings;
    bool fretByFret = false;
};

ProgrammedNote programmed(const SampledString& string, int program, bool fretByFret) {
    const bool held = string.cents == 0.0;
    return {.program = program,
            .key = string.key,
            .startCents = held ? string.error : 0.0,
            .travels = {{.hold = 0.45, .travel = 0.2, .cents = string.cents + string.error, .fretByFret = fretByFret}},
            .lastHold = 0.9};
}

// The strings' pitches where they land, each measured on its own sound.
struct Truth {
    std::vector<double> cents;  // from the note asked
    double arrival = 0.0;
    bool steady = true;  // the samples themselves stand still there
};

std::optional<Truth> truthOf(const SampledChord& chord, const std::vector<RenderedNote>& notes) {
    Truth truth;
    for (const RenderedNote& note : notes) truth.arrival = std::max(truth.arrival, note.arrivals.front());
    for (std::size_t j = 0; j < notes.size(); ++j) {
        const auto& string = chord.strings[j];
        const Hertz asked = frequencyOf(MidiPitch(string.key + string.cents / 100.0));
        const double guess = asked.value * std::exp2(string.error / 1200.0);
        const auto at = [&](double from, double to) {
            return interval(asked,
                            Hertz(firstPartial(notes[j].samples, truth.arrival + from, truth.arrival + to, guess)))
                .value;
        };
        const double early = at(0.06, 0.21), late = at(0.16, 0.31);
        if (std::abs(early - late) > 1.5) truth.steady = false;
        truth.cents.push_back(at(0.06, 0.31));
    }
    return truth;
}

std::vector<SampledChord> chords() {
    return {{"bend:D4+G4:E4+G4", {{62, 200.0, -17.0}, {67, 0.0, 6.0}}},
            {"bend:D4+F#4:E4+G#4", {{62, 200.0, 9.0}, {66, 200.0, -24.0}}},
            {"slide:D4+B4:E4+C5", {{62, 200.0, -12.0}, {71, 100.0, 14.0}}, true},
            {"slide:E3+G4:G3+B4", {{52, 300.0, 8.0}, {67, 400.0, -9.0}}, true},
            {"slide:A3+C#4+E4:D4+F#4+A4", {{57, 500.0, 5.0}, {61, 500.0, -16.0}, {64, 500.0, 11.0}}, true}};
}

}  // namespace

TEST_CASE("each string of two and three lands as its own sound does, on sampled guitars") {
    int measured = 0, heard = 0;
    for (const int program : {25, 27})
        for (const SampledChord& chord : chords()) {
            std::vector<ProgrammedNote> asked;
            for (const SampledString& string : chord.strings)
                asked.push_back(programmed(string, program, chord.fretByFret));
            std::string why;
            const auto notes = renderGuitar(asked, why);
            if (!notes) {
                MESSAGE(why);
                return;
            }
            std::vector<float> together;
            for (const RenderedNote& note : *notes) together = summed({together, note.samples});
            ChordListener listener({*parseChordMove(chord.move)}, {.aim = Cents(10.0)});
            listener.process(together);
            const auto landings = listener.finish();
            CAPTURE(chord.move);
            CAPTURE(program);
            REQUIRE(landings.size() == 1);
            const auto truth = truthOf(chord, *notes);
            REQUIRE(truth);
            ++heard;
            CHECK(std::abs(landings[0].landingTime->value - truth->arrival) < 0.06);
            if (!truth->steady) continue;
            for (std::size_t j = 0; j < chord.strings.size(); ++j) {
                REQUIRE(landings[0].strings[j].landingError);
                CHECK(std::abs(landings[0].strings[j].landingError->value - truth->cents[j]) < 2.5);
                ++measured;
            }
        }
    CHECK(heard == 10);
    CHECK(measured >= 14);  // of 22 strings: some samples drift by themselves
}
