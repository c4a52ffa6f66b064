// The same sounds through this tracker and through aubio's, an independent implementation. What is compared: how far
// each reads from the first partial that the sound was made with. aubio measures the period, which on a stiff string is
// sharp of the first partial by design; where a string is not stiff both must agree. aubio is given its window of 2048
// samples and its own centre.
#include <cmath>
#include <random>
#include <vector>

#include <aubio/aubio.h>
#include <doctest/doctest.h>

#include "dsp/pitch_tracker.h"
#include "tests/support/string_sound.h"

using namespace landfall;

namespace {

constexpr double from = 0.4, to = 1.0;  // seconds; well inside the note

struct Reading {
    double bias = 0.0;  // median, cents
    std::size_t frames = 0;
};

Reading medianOf(std::vector<double> cents) {
    if (cents.empty()) return {};
    std::sort(cents.begin(), cents.end());
    return {cents[cents.size() / 2], cents.size()};
}

Reading readByAubio(const std::vector<float>& samples, const char* method, double truth) {
    constexpr uint_t window = 2048, hop = 240;
    aubio_pitch_t* pitch = new_aubio_pitch(method, window, hop, 48000);
    REQUIRE(pitch != nullptr);
    fvec_t* in = new_fvec(hop);
    fvec_t* out = new_fvec(1);
    std::vector<double> cents;
    for (std::size_t at = 0; at + hop <= samples.size(); at += hop) {
        for (uint_t i = 0; i < hop; ++i) in->data[i] = samples[at + i];
        aubio_pitch_do(pitch, in, out);
        const double centre = (static_cast<double>(at + hop) - window / 2.0) / 48000.0;
        if (centre > from && centre < to && out->data[0] > 0.0f)
            cents.push_back(interval(Hertz(truth), Hertz(static_cast<double>(out->data[0]))).value);
    }
    del_aubio_pitch(pitch);
    del_fvec(in);
    del_fvec(out);
    return medianOf(cents);
}

Reading readHere(const std::vector<float>& samples, double truth) {
    PitchTracker tracker({});
    std::vector<double> cents;
    for (std::size_t at = 0; at < samples.size(); at += 1024)
        for (const PitchFrame& frame :
             tracker.process(std::span(samples).subspan(at, std::min<std::size_t>(1024, samples.size() - at))).settled)
            if (frame.pitch && frame.centre.value > from && frame.centre.value < to)
                cents.push_back(interval(Hertz(truth), *frame.pitch).value);
    return medianOf(cents);
}

}  // namespace

TEST_CASE("where a string is not stiff, this tracker and aubio's read the same pitch within 3 cents") {
    // 3 cents: aubio's parabolic interpolation between periods of whole samples at 48 kHz.
    for (double hertz : {110.0, 196.0, 329.6276, 659.26}) {
        const auto samples = stringSound({.seconds = 1.2, .silence = 0.1, .inharmonicity = 0.0, .noise = 1e-4}, hertz);
        const Reading here = readHere(samples, hertz), aubio = readByAubio(samples, "yinfast", hertz);
        REQUIRE(here.frames > 100);
        REQUIRE(aubio.frames > 100);
        CHECK(std::abs(here.bias - aubio.bias) < 3.0);
    }
}

TEST_CASE("on stiff strings this tracker reads the first partial, aubio's up to several cents above it") {
    struct String {
        double hertz, inharmonicity;
    };
    // B of wound and plain strings open and fretted: the range that Fletcher & Rossing, section 2.18, gives for common
    // gauges.
    double worstHere = 0.0, worstAubio = 0.0;
    for (const String string :
         {String{82.4069, 1.5e-4}, {110.0, 1.2e-4}, {196.0, 1.1e-4}, {261.63, 3e-4}, {392.0, 4.3e-4}}) {
        const auto samples = stringSound(
            {.seconds = 1.2, .silence = 0.1, .inharmonicity = string.inharmonicity, .noise = 2e-4}, string.hertz);
        const Reading here = readHere(samples, string.hertz), aubio = readByAubio(samples, "yinfast", string.hertz);
        MESSAGE(string.hertz, " Hz, B ", string.inharmonicity, ": here ", here.bias, " cents, aubio yinfast ",
                aubio.bias, " cents from the first partial");
        REQUIRE(here.frames > 100);
        REQUIRE(aubio.frames > 100);
        worstHere = std::max(worstHere, std::abs(here.bias));
        worstAubio = std::max(worstAubio, std::abs(aubio.bias));
        CHECK(std::abs(here.bias) < 0.3);
        CHECK(std::abs(here.bias) < std::abs(aubio.bias));
    }
    CHECK(worstAubio > 1.0);
    CHECK(worstHere < 0.3);
}
