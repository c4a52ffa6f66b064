// The small states around a note: pick strokes, the gate and the smoother.
#include <optional>
#include <random>

#include <doctest/doctest.h>

#include "dsp/noise_gate.h"
#include "dsp/onset_detector.h"
#include "dsp/pitch_smoother.h"
#include "tests/support/string_sound.h"

using namespace landfall;

namespace {

std::vector<OnsetDetector::Stroke> strokesIn(OnsetDetector& detector, const std::vector<float>& samples) {
    std::vector<OnsetDetector::Stroke> strokes;
    for (float x : samples)
        if (const auto stroke = detector.push(x)) strokes.push_back(*stroke);
    return strokes;
}

}  // namespace

TEST_CASE("a decaying string strikes once, low or high, and within 5 ms of the truth") {
    for (double hertz : {61.7354, 82.4069, 196.0, 659.26, 1600.0}) {
        OnsetDetector detector({16000.0});
        const auto strokes = strokesIn(
            detector, stringSound({.sampleRate = 16000.0, .seconds = 1.5, .silence = 0.3, .noise = 1e-4}, hertz));
        REQUIRE(strokes.size() == 1);
        CHECK(std::abs(static_cast<double>(strokes[0].sample) / 16000.0 - 0.3) < 0.005);
        CHECK(strokes[0].rise.value > 7.0);
    }
}

// Our own tones are held to the same border in listener_test.
TEST_CASE("a string is loudest at once, also after its pick's noise; what fades in over 60 ms grows") {
    const auto growth = [](const std::vector<float>& samples) {
        OnsetDetector detector({16000.0});
        std::optional<double> first;
        for (float x : samples) {
            detector.push(x);
            if (const auto known = detector.growth(); known && !first) first = known->growth.value;
        }
        REQUIRE(first);
        return *first;
    };
    for (double hertz : {61.7354, 196.0, 659.26})
        for (int late = 0; late < 20; late += 3) {  // in a block of 20
            auto sound = stringSound(
                {.sampleRate = 16000.0, .seconds = 1.0, .silence = 0.3 + late / 16000.0, .noise = 1e-4}, hertz);
            CHECK(growth(sound) < 3.0);
            for (int i = 0; i < 30; ++i)
                sound[static_cast<std::size_t>(4800 + late - 100 + i)] += i % 2 == 0 ? 4e-3f : -4e-3f;
            CHECK(growth(sound) < 3.0);
            sound = stringSound({.sampleRate = 16000.0, .seconds = 1.0, .silence = 0.3 + late / 16000.0}, hertz);
            for (std::size_t i = 4800; i < sound.size(); ++i)
                sound[i] *= static_cast<float>(
                    std::pow(std::sin(std::min(1.0, (static_cast<double>(i) - 4800.0) / 960.0) * 1.5708), 2));
            CHECK(growth(sound) > 6.0);
        }
}

TEST_CASE("steady noise and a bend strike nothing, and after reset a stroke is found as before") {
    OnsetDetector detector({16000.0});
    std::mt19937 random(7);
    std::normal_distribution<float> gauss(0.0f, 0.05f);
    std::vector<float> noise(48000);
    for (float& x : noise) x = gauss(random);
    detector.push(0.0f);
    const auto begin = strokesIn(detector, noise);
    CHECK(begin.size() <= 1);  // its own beginning out of silence counts as one
    detector.reset();
    const auto sound = stringSound({.sampleRate = 16000.0, .seconds = 1.0, .silence = 0.1}, [](double t) {
        return 196.0 * std::exp2(std::clamp((t - 0.3) / 0.2, 0.0, 1.0) / 6.0);
    });
    OnsetDetector fresh({16000.0});
    const auto again = strokesIn(detector, sound), first = strokesIn(fresh, sound);
    REQUIRE(first.size() == 1);
    REQUIRE(again.size() == 1);
    CHECK(again[0].sample == first[0].sample);
}

TEST_CASE("the gate opens 6 dB over the noise it has learned and closes at 3 dB, not in between") {
    NoiseGate gate({});
    for (int i = 0; i < 100; ++i) CHECK_FALSE(gate.update(Decibels(-50.0), true));
    CHECK(std::abs(gate.floor().value + 50.0) < 0.5);
    CHECK_FALSE(gate.update(Decibels(-45.5), false));
    CHECK(gate.update(Decibels(-43.0), false));
    CHECK(gate.update(Decibels(-45.5), false));
    CHECK_FALSE(gate.update(Decibels(-48.0), false));
    gate.reset();
    CHECK_FALSE(gate.update(Decibels(-90.0), false));
}

TEST_CASE("the smoother predicts a steady glide's present from late measurements within a cent") {
    // A straight line is the filter's own model: only the measurements' scatter, of which there is none here, could
    // keep it off.
    PitchSmoother smoother;
    smoother.start(Seconds(0.0), Cents(0.0), Cents(1.0), 0.0, 600.0);
    for (int i = 1; i < 60; ++i) CHECK(smoother.measure(Seconds(0.005 * i), Cents(0.4 * 5.0 * i), Cents(1.0)));
    const auto ahead = smoother.at(Seconds(0.005 * 59 + 0.010));
    CHECK(std::abs(ahead.pitch.value - 0.4 * (5.0 * 59 + 10.0)) < 1.0);
    CHECK(std::abs(ahead.speed - 400.0) < 20.0);
    CHECK_FALSE(smoother.measure(Seconds(0.3), Cents(900.0), Cents(1.0)));
}
