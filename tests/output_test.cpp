// What reaches the loudspeaker: the reference tone and the guard before the output.
#include <cmath>
#include <limits>
#include <vector>

#include <doctest/doctest.h>

#include "src/audio/output_guard.h"
#include "src/audio/tone.h"
#include "tests/support/measured_tone.h"

using namespace landfall;
using namespace landfall::test;

TEST_CASE("The tone's pitch is the one asked for, within a hundredth of a cent") {
    for (const double rate : {44100.0, 48000.0, 96000.0}) {
        Tone tone(rate);
        const Hertz asked = frequencyOf(MidiPitch(66.31));
        tone.play(asked, Seconds(2.0));
        std::vector<float> samples(48000);
        tone.render(samples);
        CHECK(std::abs(interval(asked, Hertz(measuredFrequency(samples, asked.value, rate))).value) < 0.01);
    }
}

TEST_CASE("The tone starts and ends softly and is the same however it is cut into blocks") {
    Tone whole(48000.0);
    Tone cut(48000.0);
    whole.play(Hertz(220.0), Seconds(0.5));
    cut.play(Hertz(220.0), Seconds(0.5));
    std::vector<float> a(48000);
    std::vector<float> b(48000);
    whole.render(a);
    for (std::size_t at = 0; at < b.size();) {
        const std::size_t part = std::min<std::size_t>(1 + at % 257, b.size() - at);
        cut.render(std::span(b).subspan(at, part));
        at += part;
    }
    CHECK(a == b);
    // -26 dBFS is the loudest a sum of the partials could be.
    CHECK(peak(a) < std::pow(10.0, -26.0 / 20.0) + 1e-6);
    CHECK(peak(a) > 0.02);
    CHECK(peak(std::span(a).first(48)) < 0.01 * peak(a));  // 1 ms
    CHECK(peak(std::span(a).last(48000 - 24000 - 2900)) == 0.0);
    double step = 0.0;
    for (std::size_t i = 1; i < a.size(); ++i) step = std::max(step, static_cast<double>(std::abs(a[i] - a[i - 1])));
    CHECK(step < 0.01);  // a click would be a step of the order of the peak
    CHECK_FALSE(whole.sounding());
}

TEST_CASE("A new tone takes over from one that sounds without a click") {
    Tone tone(48000.0);
    tone.play(Hertz(220.0), Seconds(std::numeric_limits<double>::infinity()));
    std::vector<float> samples(24000);
    tone.render(samples);
    CHECK(tone.sounding());
    const float before = samples.back();
    tone.play(Hertz(330.0), Seconds(0.2));
    tone.render(samples);
    CHECK(std::abs(samples.front() - before) < 0.01f);
    tone.stop();
    tone.render(samples);
    CHECK_FALSE(tone.sounding());
}

TEST_CASE("The output is silent at the start, fades in over a second, and does so again after a reset") {
    OutputGuard guard({.sampleRate = 1000.0});
    for (int start = 0; start < 2; ++start) {
        std::vector<float> samples(2000, 0.1f);
        guard.process(samples);
        CHECK(samples[0] == 0.0f);
        CHECK(samples[500] == doctest::Approx(0.05).epsilon(0.01));
        CHECK(samples[1500] == 0.1f);
        guard.reset();
    }
}

TEST_CASE("Nothing passes the ceiling of -12 dBFS, whatever comes, and what is not a number is silence") {
    OutputGuard guard({.sampleRate = 1000.0});
    std::vector<float> settle(2000, 0.0f);
    guard.process(settle);
    std::vector<float> samples{0.05f,
                               0.2f,
                               1.0f,
                               -1.0f,
                               1e30f,
                               -1e30f,
                               std::numeric_limits<float>::quiet_NaN(),
                               std::numeric_limits<float>::infinity()};
    guard.process(samples);
    CHECK(samples[0] == 0.05f);
    CHECK(peak(samples) <= std::pow(10.0, -12.0 / 20.0) + 1e-6);
    CHECK(samples[2] > samples[1]);
    CHECK(samples[3] == -samples[2]);
    CHECK(samples[6] == 0.0f);
    CHECK(samples[7] == 0.0f);
}
