#include "src/audio/plucked_string.h"

#include <doctest/doctest.h>

#include <cmath>
#include <complex>
#include <numbers>
#include <vector>

#include "src/audio/simulated_player.h"
#include "tests/support/students.h"

using namespace landfall;

namespace {

constexpr double rate = 48000.0;

std::vector<float> pluck(const PluckedString::Config& config, const PluckedString::Position& at, double seconds,
                         double pickNoise = 0.0) {
    PluckedString string(config);
    string.strike({.level = 0.2, .brightness = 0.8, .pickNoise = pickNoise}, at);
    std::vector<float> samples(static_cast<std::size_t>(seconds * rate));
    for (std::size_t i = 0; i + 32 <= samples.size(); i += 32) string.add(std::span(samples).subspan(i, 32), at);
    return samples;
}

// Hann-windowed Fourier sum at one frequency: independent of how the sound was made.
std::complex<double> fourier(const std::vector<float>& samples, std::size_t start, std::size_t length, double hertz) {
    std::complex<double> sum = 0.0;
    for (std::size_t i = 0; i < length; ++i) {
        const double window =
            0.5 - 0.5 * std::cos(2.0 * std::numbers::pi * static_cast<double>(i) / static_cast<double>(length));
        sum += window * static_cast<double>(samples[start + i])
               * std::polar(1.0, -2.0 * std::numbers::pi * hertz * static_cast<double>(i) / rate);
    }
    return sum;
}

// The frequency of the strongest spectral peak near a guess: a ternary search on the magnitude of a one-second Hann
// window.
double peakNear(const std::vector<float>& samples, double guess) {
    double low = guess - 1.0, high = guess + 1.0;
    for (int i = 0; i < 40; ++i) {
        const double a = low + (high - low) / 3.0, b = high - (high - low) / 3.0;
        if (std::abs(fourier(samples, 9600, 48000, a)) < std::abs(fourier(samples, 9600, 48000, b))) low = a;
        else high = b;
    }
    return 0.5 * (low + high);
}

}  // namespace

TEST_CASE("stiffness follows Fletcher and Rossing for common strings") {
    // The Physics of Musical Instruments, section 2.18; diameters and tensions of D'Addario's chart: .009 E4 13.12 lb,
    // .011 B3 11.00, .017 G3 16.55.
    constexpr double pound = 4.448222, inch = 0.0254, length = 25.5 * inch;
    CHECK(stiffness(0.009 * inch, 13.12 * pound, length) == doctest::Approx(1.07e-5).epsilon(0.01));
    CHECK(stiffness(0.011 * inch, 11.00 * pound, length) == doctest::Approx(2.86e-5).epsilon(0.01));
    CHECK(stiffness(0.017 * inch, 16.55 * pound, length) == doctest::Approx(1.08e-4).epsilon(0.01));
    // From the pitch alone it is a guess of the right size.
    CHECK(openStringStiffness(Hertz(196.0)) == doctest::Approx(1.08e-4).epsilon(0.15));
    CHECK(openStringStiffness(Hertz(82.41)) == doctest::Approx(1.3e-4).epsilon(0.25));
}

TEST_CASE("stiffness rises fourfold at the twelfth fret and falls as the string is bent") {
    const PluckedString string({.openStiffness = 1e-4});
    CHECK(string.stiffnessAt({Hertz(392.0), 12.0, Cents(0.0)}) == doctest::Approx(4e-4));
    // The tension grows with the square of the frequency: a whole step is x 2^(4/12).
    CHECK(string.stiffnessAt({Hertz(440.0), 12.0, Cents(200.0)}) == doctest::Approx(4e-4 / std::exp2(4.0 / 12.0)));
}

TEST_CASE("the first partial sounds at the asked pitch to 0.05 cents and the others where a stiff string has them") {
    for (const double pitch : {61.735, 82.407, 196.0, 440.0, 1318.5}) {
        CAPTURE(pitch);
        const PluckedString::Config config{.openPitch = Hertz(pitch), .openStiffness = 1.2e-4};
        const auto samples = pluck(config, {Hertz(pitch), 0.0, Cents(0.0)}, 1.3);
        const double first = peakNear(samples, pitch);
        // The second polarisation, 16 dB down and 0.25 cents up, moves the sum by up to 0.04 cents.
        CHECK(std::abs(interval(Hertz(pitch), Hertz(first)).value) < 0.05);
        for (const int k : {2, 3, 5, 8}) {
            const double expected = k * pitch * std::sqrt((1.0 + 1.2e-4 * k * k) / (1.0 + 1.2e-4));
            CHECK(std::abs(interval(Hertz(expected), Hertz(peakNear(samples, expected))).value) < 0.1);
        }
    }
}

TEST_CASE("it decays as told, higher partials faster") {
    const PluckedString::Config config{
        .openPitch = Hertz(196.0), .decay = Seconds(2.0), .secondPolarisation = Decibels(-80.0)};
    const auto samples = pluck(config, {Hertz(196.0), 0.0, Cents(0.0)}, 3.0);
    const auto fall = [&samples](double hertz) {
        return std::abs(fourier(samples, 24000, 24000, hertz))
               / std::abs(fourier(samples, 24000 + 48000, 24000, hertz));
    };
    // one second at 1 / 2 s
    CHECK(std::log(fall(196.0)) == doctest::Approx(0.5 + 2.0e-7 * 196.0 * 196.0).epsilon(0.02));
    CHECK(fall(peakNear(samples, 196.0 * 6.0)) > fall(196.0) * 1.1);
}

TEST_CASE("picked at a fifth of its length the string lacks its fifth partial") {
    const PluckedString::Config config{
        .openPitch = Hertz(196.0), .openStiffness = 0.0, .pickFromBridge = 0.2, .pickupFromBridge = 0.23};
    const auto samples = pluck(config, {Hertz(196.0), 0.0, Cents(0.0)}, 1.3);
    CHECK(std::abs(fourier(samples, 9600, 48000, 980.0)) < 0.01 * std::abs(fourier(samples, 9600, 48000, 784.0)));
}

TEST_CASE("a damped string falls silent and costs nothing") {
    PluckedString string({});
    std::vector<float> block(32);
    const PluckedString::Position at{Hertz(220.0), 2.0, Cents(0.0)};
    string.strike({}, at);
    string.add(block, at);
    CHECK_FALSE(string.silent());
    string.damp(Seconds(0.01));
    for (int i = 0; i < 300; ++i) string.add(block, at);
    CHECK(string.silent());
}

TEST_CASE("no partial sounds above the Nyquist frequency at 16 kHz") {
    PluckedString string({.sampleRate = 16000.0, .openPitch = Hertz(1318.5)});
    std::vector<float> block(16000);
    const PluckedString::Position at{Hertz(1318.5), 0.0, Cents(0.0)};
    string.strike({.pickNoise = 0.0}, at);
    for (std::size_t i = 0; i + 16 <= block.size(); i += 16) string.add(std::span(block).subspan(i, 16), at);
    // The seventh partial would fold back to about 16000 - 7 x 1318.5 = 6770 Hz.
    std::complex<double> folded = 0.0;
    for (std::size_t i = 0; i < 8000; ++i)
        folded += static_cast<double>(block[i])
                  * (0.5 - 0.5 * std::cos(2.0 * std::numbers::pi * static_cast<double>(i) / 8000.0))
                  * std::polar(1.0, -2.0 * std::numbers::pi * 6745.0 * static_cast<double>(i) / 16000.0);
    CHECK(std::abs(folded) / 4000.0 < 1e-3);
}

TEST_CASE("in the player's sound the first partial follows the hand's curve through a bend") {
    SimulatedPlayer::Config config;
    config.skill = exactPlayer();
    config.noiseFloor = Decibels(-120.0);
    config.hum = Decibels(-140.0);
    SimulatedPlayer player(config);
    player.play(Move{Gesture::bend, MidiPitch(62), MidiPitch(64), NeckPlace{3, 7}, {}},
                {.firstStopError = Cents(-17.0), .sag = Cents(0.0), .hold = Seconds(1.5)});
    const MoveTruth truth = player.truths().front();
    std::vector<float> samples(static_cast<std::size_t>(player.queued().value * rate));
    player.read(samples);
    // The held note: a Fourier peak over one second, against the target 17 cents under.
    const auto start = static_cast<std::ptrdiff_t>(truth.arrival->value * rate) - 9600 + 4800;
    const std::vector<float> held(samples.begin() + start, samples.end());
    const double target = frequencyOf(MidiPitch(64.0 - 0.17)).value;
    CHECK(std::abs(interval(Hertz(target), Hertz(peakNear(held, target))).value) < 0.1);
}
