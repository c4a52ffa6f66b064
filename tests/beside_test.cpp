// A second string that rings along with a single note.
#include "src/practice/beside.h"

#include <cmath>
#include <memory>
#include <numbers>
#include <random>
#include <vector>

#include <doctest/doctest.h>

#include "tests/support/played_curve.h"
#include "tests/support/string_sound.h"
#include "tests/support/summed.h"

using namespace landfall;

namespace {

constexpr double rate = 48000.0, stroke = 0.2;

std::vector<float> note(const std::function<double(double)>& midi, double amplitude, double inharmonicity = 1e-4,
                        double silence = stroke) {
    return stringSound({.sampleRate = rate,
                        .seconds = 1.2,
                        .silence = silence,
                        .inharmonicity = inharmonicity,
                        .decay = 1.5,
                        .amplitude = amplitude,
                        .noise = 2e-4},
                       [&](double t) { return frequencyOf(MidiPitch(midi(t))).value; });
}
std::vector<float> note(double midi, double amplitude, double inharmonicity = 1e-4, double silence = stroke) {
    return note([midi](double) { return midi; }, amplitude, inharmonicity, silence);
}

std::vector<float> hiss(double rms) {
    std::mt19937 random(5);
    std::normal_distribution<double> gauss(0.0, rms);
    std::vector<float> samples(static_cast<std::size_t>((stroke + 1.2) * rate));
    for (float& sample : samples) sample = static_cast<float>(gauss(random));
    return samples;
}

struct Ear {
    KeptSound sound{rate};
    VoiceTracker voices{{.sampleRate = sound.rate(), .hop = 0.012}};
    BesideEar ear{sound, voices, standardA4};
    explicit Ear(const std::vector<float>& samples = {}) {
        for (const float sample : samples) sound.hear(sample);
    }
};

// Beside a G4 that landed 6 cents over, bent up from F4.
std::optional<BesideEar::Other> besideG4(const std::vector<float>& samples) {
    return Ear(samples).ear.atHold(stroke, 0.31, 0.56, MidiPitch(67.06), MidiPitch(65.0));
}

double decibels(double level) { return std::pow(10.0, level / 20.0); }

// Who has heard C4 for so many frames, and after a pause E4: whether a pitch so far off C4 sounded before, so long after
// E4's stroke.
bool sounded(int frames, double pause, double cents, double since) {
    PlayedCurve curve;
    curve.rest(0.3).stroke(60).hold((frames - 0.5) * 256.0 / 48000.0);
    if (pause > 0.0) curve.rest(pause);
    curve.stroke(64).hold(0.3);
    const double second = curve.onsets[1].time.value;
    Ear with;
    for (const PitchFrame& frame : curve.frames)
        if (frame.pitch) with.ear.heard(frame, frame.centre.value < second ? 0.3 : second);
    return with.ear.hasSounded(second, second + since, 6000.0 + cents);
}

}  // namespace

TEST_CASE("a neighbour 6 to 15 dB under the note is told by its name, and is not taken for as loud") {
    for (const double midi : {59.0, 62.0, 64.0, 71.0})
        for (const double level : {-7.0, -13.0}) {
            const auto found = besideG4(summed({note(67.06, 0.2), note(midi + 0.1, 0.2 * decibels(level), 2e-4)}));
            CAPTURE(midi);
            CAPTURE(level);
            REQUIRE(found);
            CHECK(std::abs(found->note.value - midi - 0.1) < 0.05);
            CHECK_FALSE(found->asLoud);
        }
    const auto alike = besideG4(summed({note(67.06, 0.2), note(62.1, 0.18)}));
    REQUIRE(alike);
    CHECK(alike->asLoud);
}

TEST_CASE("a second string of a quarter of the power is as loud: three tenths are, a fifth is not") {
    for (const double amplitude : {0.131, 0.1}) {
        const auto beside = besideG4(summed({note(67.06, 0.2), note(62.1, amplitude)}));
        REQUIRE(beside);
        CHECK(beside->asLoud == (amplitude > 0.12));
    }
}

TEST_CASE("what lies within seven tenths of a half step of the note that was left is kept by a room") {
    CHECK(besideG4(summed({note(67.06, 0.2), note(64.1, 0.08)})));
    CHECK_FALSE(besideG4(summed({note(67.06, 0.2), note(64.42, 0.08)})));
}

TEST_CASE("no second string is claimed of one alone, of open strings that answer, and of the note that was left") {
    CHECK_FALSE(besideG4(note(67.06, 0.2)));
    CHECK_FALSE(besideG4(summed({note(67.06, 0.2), note(55.0, 0.008), note(50.0, 0.008)})));
    CHECK_FALSE(besideG4(summed({note(67.06, 0.2), note(65.0, 0.06)})));  // a room keeps it
    CHECK_FALSE(besideG4(std::vector<float>(60000, 0.0f)));
    CHECK_FALSE(besideG4({}));
    Ear brief(summed({note(67.06, 0.2), note(62.0, 0.1)}));
    CHECK_FALSE(brief.ear.atHold(stroke, 0.31, 0.40, MidiPitch(67.06), MidiPitch(65.0)));
}

TEST_CASE("a second string has a fiftieth of the power, a third of what nobody explains") {
    for (const double amplitude : {0.0355, 0.026})
        CHECK(besideG4(summed({note(67.06, 0.2), note(62.1, amplitude, 2e-4)})).has_value() == (amplitude > 0.03));
    // Beside hiss, which lies where its partials do, too.
    const auto hissed = [](double rms) {
        return besideG4(summed({note(67.06, 0.2), note(62.1, 0.06, 2e-4), hiss(rms)})).has_value();
    };
    CHECK(hissed(0.09));
    CHECK_FALSE(hissed(0.15));
}

TEST_CASE("a second string has a first partial, and the known one sounds itself") {
    // Its second partial alone: an overtone, or a note an octave higher.
    const auto overtones = [](double share) {
        const auto without = note(62.1, 0.1, 0.0);
        const auto first = stringSound({.sampleRate = rate,
                                        .seconds = 1.2,
                                        .silence = stroke,
                                        .inharmonicity = 0.0,
                                        .decay = 1.5,
                                        .amplitude = 0.1,
                                        .partials = 1},
                                       frequencyOf(MidiPitch(62.1)).value);
        auto sound = without;
        for (std::size_t n = 0; n < sound.size(); ++n) sound[n] -= static_cast<float>(1.0 - share) * first[n];
        const auto found = besideG4(summed({note(67.06, 0.2), sound}));
        return found && std::abs(found->note.value - 62.1) < 0.3;
    };
    CHECK(overtones(0.16));
    CHECK_FALSE(overtones(0.115));
    // The known one has to sound itself.
    const auto known = [](double amplitude) {
        return besideG4(summed({note(67.06, amplitude), note(62.1, 0.2, 2e-4)})).has_value();
    };
    CHECK(known(0.082));
    CHECK_FALSE(known(0.065));
}

TEST_CASE("a tremolo makes no second string, and hides none") {
    // as tests/support/effects.h has it, 3 to 10 times a second
    const auto trembling = [](std::vector<float> samples, double beats) {
        for (std::size_t n = 0; n < samples.size(); ++n)
            samples[n] *= static_cast<float>(
                0.55 - 0.45 * std::cos(2.0 * std::numbers::pi * beats * static_cast<double>(n) / rate));
        return samples;
    };
    for (const double beats : {3.0, 4.5, 6.0, 8.0, 10.0}) {
        CAPTURE(beats);
        for (const double midi : {43.0, 46.0, 55.0})
            CHECK_FALSE(Ear(trembling(note(midi, 0.2), beats))
                            .ear.atHold(stroke, 0.31, 0.56, MidiPitch(midi), MidiPitch(midi)));
        const auto found = besideG4(trembling(summed({note(67.06, 0.2), note(62.1, 0.1)}), beats));
        REQUIRE(found);
        CHECK(std::abs(found->note.value - 62.1) < 0.1);
    }
}

TEST_CASE("what sounded before the stroke as loud, as a fan's blades, is no string; one struck with it is") {
    const auto beside = [](double before) {
        return besideG4(summed({note(67.06, 0.2), note([](double) { return 45.0; }, 0.08, 1e-4, before)}));
    };
    CHECK(beside(stroke));
    CHECK_FALSE(beside(0.0));
    // Four times the power it had from 120 to 20 ms before the stroke, which is at half a second here.
    const auto louder = [](double before, double damped) {
        std::vector<float> early = note(45.0, before, 1e-4, 0.0);
        early.resize(static_cast<std::size_t>((0.5 - damped) * rate));
        return Ear(summed({early, note(67.06, 0.2, 1e-4, 0.5), note(45.0, 0.08, 1e-4, 0.5)}))
            .ear.atHold(0.5, 0.61, 0.86, MidiPitch(67.06), MidiPitch(65.0));
    };
    CHECK(louder(0.037, 0.0));
    CHECK_FALSE(louder(0.051, 0.0));
    CHECK(louder(0.3, 0.14));
}

TEST_CASE("a string struck along with the asked one is told a quarter second later, also with gain") {
    for (const double gain : {0.0, 20.0})
        for (const double midi : {55.0, 59.0, 64.0, 66.0}) {
            auto both = summed({note(62.0, 0.1), note(midi + 0.1, 0.1, 2e-4)});
            if (gain > 0.0)
                for (float& sample : both) sample = 0.2f * std::tanh(static_cast<float>(gain) * sample);
            const auto other = Ear(both).ear.atStroke(stroke, MidiPitch(62.0));
            CAPTURE(midi);
            CAPTURE(gain);
            REQUIRE(other);
            CHECK(std::abs(other->value - midi - 0.1) < 0.1);
            both.resize(static_cast<std::size_t>((stroke + 0.23) * rate));
            CHECK_FALSE(Ear(both).ear.atStroke(stroke, MidiPitch(62.0)));
        }
}

TEST_CASE("a string alone, the asked one or another, and one that only rings on beside a stroke, are no two") {
    CHECK_FALSE(Ear(note(62.0, 0.1)).ear.atStroke(stroke, MidiPitch(62.0)));
    for (const double midi : {55.0, 57.0, 64.0, 69.0, 74.0})
        CHECK_FALSE(Ear(note(midi, 0.1)).ear.atStroke(stroke, MidiPitch(62.0)));
    // Nine decibels of both are asked of each, ...
    for (const double level : {-7.5, -9.9})
        CHECK(Ear(summed({note(62.0, 0.1), note(66.0, 0.1 * decibels(level))}))
                  .ear.atStroke(stroke, MidiPitch(62.0))
                  .has_value()
              == (level > -9.0));
    CHECK_FALSE(
        Ear(summed({note(62.0, 0.1), note(66.0, 0.1 * decibels(-11.0))})).ear.atStroke(stroke, MidiPitch(62.0)));
    CHECK_FALSE(
        Ear(summed({note(62.0, 0.1 * decibels(-11.0)), note(66.0, 0.1)})).ear.atStroke(stroke, MidiPitch(62.0)));
    // ... and that the asked one was struck, too.
    const auto ringsOn = [](double before) {
        return Ear(summed({note(62.0, 0.1, 1e-4, before), note(66.0, 0.08, 1e-4, 0.5)}))
            .ear.atStroke(0.5, MidiPitch(62.0));
    };
    CHECK(ringsOn(0.5));
    CHECK_FALSE(ringsOn(0.2));
}

TEST_CASE("the asked string has moved where it goes most of its way for a tenth of a second and the other one stays") {
    const auto moved = [](double by, double other, double away = 1.0) {
        const auto glide = [away](double t) {
            return std::clamp(t / 0.2 - 2.0, 0.0, 1.0) - std::clamp((t - away) / 0.2 - 2.0, 0.0, 1.0);
        };
        Ear both(summed({note([&](double t) { return 62.0 + by * glide(t); }, 0.1),
                         note([&](double t) { return 66.0 + other * glide(t); }, 0.1)}));
        return both.ear.moved(stroke, 1.2, moveOf(Gesture::bend, 62, 64), MidiPitch(66.0));
    };
    CHECK(moved(2.0, 0.0));
    CHECK(moved(1.4, 0.0));
    CHECK_FALSE(moved(1.0, 0.0));
    CHECK_FALSE(moved(-2.0, 0.0));
    CHECK_FALSE(moved(0.0, 0.0));
    CHECK(moved(2.0, 0.0, 0.25));
    CHECK_FALSE(moved(2.0, 0.0, 0.1));
    CHECK(moved(2.0, 0.3));
    CHECK_FALSE(moved(2.0, 0.5));
    CHECK_FALSE(moved(2.0, 2.0));  // two fingers that bend together are another thing
}

TEST_CASE("A second pitch that sounded in four frames, 0.06 to 2.5 s ago and within 40 cents, is an echo") {
    CHECK(sounded(20, 2.0, 0.0, 0.1));
    CHECK_FALSE(sounded(20, 3.2, 0.0, 0.1));
    CHECK(sounded(20, 0.2, 32.0, 0.1));
    CHECK_FALSE(sounded(20, 0.2, 50.0, 0.1));
    CHECK(sounded(5, 0.2, 0.0, 0.1));
    CHECK_FALSE(sounded(2, 0.2, 0.0, 0.1));
    CHECK(sounded(5, 0.0, 0.0, 0.07));
    CHECK_FALSE(sounded(5, 0.0, 0.0, 0.04));
    // Of an echo a half or a third may be all that is heard. Between two strokes lies no way.
    CHECK(sounded(20, 0.2, -1200.0, 0.1));
    CHECK(sounded(20, 0.2, -1902.0, 0.1));
    CHECK_FALSE(sounded(20, 0.2, -2400.0, 0.1));
    CHECK_FALSE(sounded(20, 0.0, 200.0, 0.2));
    Ear with;
    PlayedCurve slid;
    slid.rest(0.3).stroke(60).hold(0.4).glide(700.0, 0.1).hold(0.5);
    for (const PitchFrame& frame : slid.frames)
        if (frame.pitch) with.ear.heard(frame, 0.3);
    CHECK(with.ear.hasSounded(0.3, 1.2, 6350.0));  // on the way that a slide took
    CHECK_FALSE(with.ear.hasSounded(0.3, 1.2, 6900.0));
    with.ear.forget(1.25);
    CHECK_FALSE(with.ear.hasSounded(0.3, 1.2, 6350.0));
}

TEST_CASE("A way went over a fret in one frame at most, and over seven where frames of it are lost") {
    // Whether a pitch between two frames so far apart (cents; s) of one note was heard.
    const auto wentThrough = [](double cents, double seconds) {
        Ear with;
        for (const int later : {0, 1}) {
            PitchFrame frame;
            frame.centre = Seconds(0.5 + later * seconds);
            frame.pitch = frequencyOf(MidiPitch(60.0 + later * cents / 100.0));
            with.ear.heard(frame, 0.3);
        }
        return with.ear.hasSounded(1.0, 1.2, 6000.0 + 0.5 * cents);
    };
    CHECK(wentThrough(130.0, 0.005));
    CHECK_FALSE(wentThrough(190.0, 0.005));
    CHECK_FALSE(wentThrough(300.0, 0.0075));
    CHECK(wentThrough(300.0, 0.0105));
    CHECK(wentThrough(600.0, 0.05));
    CHECK_FALSE(wentThrough(850.0, 0.05));
    CHECK(wentThrough(300.0, 0.08));
    CHECK_FALSE(wentThrough(300.0, 0.12));
}
