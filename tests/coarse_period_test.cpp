#include "dsp/coarse_period.h"

#include <random>

#include <doctest/doctest.h>

#include "tests/support/allocation_guard.h"
#include "tests/support/string_sound.h"

using namespace landfall;

namespace {

std::vector<float> noise(std::size_t size, unsigned seed) {
    std::mt19937 random(seed);
    std::normal_distribution<float> gauss(0.0f, 0.1f);
    std::vector<float> samples(size);
    for (float& x : samples) x = gauss(random);
    return samples;
}

}  // namespace

TEST_CASE("autocorrelation by FFT equals the plain sum, and its sizes have factors 2, 3 and 5 only") {
    for (std::size_t size : {100u, 333u, 768u}) {
        Autocorrelation fast({768, 280});
        const auto samples = noise(size, static_cast<unsigned>(size));
        const auto result = fast.of(samples);
        for (std::size_t lag = 0; lag <= 280; lag += 7) {
            double plain = 0.0;
            for (std::size_t j = 0; j + lag < size; ++j)
                plain += static_cast<double>(samples[j]) * static_cast<double>(samples[j + lag]);
            // Float rounding of a 1200-point transform of values whose energy is about 8.
            CHECK(std::abs(plain - static_cast<double>(result[lag])) < 2e-5);
        }
    }
    for (std::size_t longest : {500u, 701u, 999u, 1393u}) {
        std::size_t size = Autocorrelation({longest, 280}).fftSize();
        CHECK(size > longest + 280);
        for (std::size_t p : {2u, 3u, 5u})
            while (size % p == 0) size /= p;
        CHECK(size == 1);
    }
}

TEST_CASE("the coarse period names the octave of a string from B1 to 1.7 kHz, to a quarter tone") {
    for (double hertz : {61.7354, 82.4069, 146.8324, 329.6276, 660.0, 1174.66, 1700.0}) {
        CoarsePeriod coarse({});
        const auto samples = stringSound({.sampleRate = 16000.0, .seconds = 0.3}, hertz);
        const auto found = coarse.find(std::span(samples).subspan(1600, coarse.longestSamples()), std::nullopt);
        REQUIRE(found.has_value());
        CHECK(std::abs(interval(Hertz(hertz), found->pitch).value) < 50.0);
        CHECK(found->clarity > 0.9);
    }
}

TEST_CASE("a strong second partial does not raise the octave while the first is 12 dB below it") {
    std::vector<float> samples(768);
    for (std::size_t i = 0; i < samples.size(); ++i) {
        const double phase = 2.0 * std::numbers::pi * 196.0 * static_cast<double>(i) / 16000.0;
        samples[i] = static_cast<float>(0.075 * std::sin(phase) + 0.3 * std::sin(2.0 * phase + 1.0)
                                        + 0.1 * std::sin(3.0 * phase));
    }
    CoarsePeriod coarse({});
    const auto found = coarse.find(samples, std::nullopt);
    REQUIRE(found.has_value());
    CHECK(std::abs(interval(Hertz(196.0), found->pitch).value) < 50.0);
}

TEST_CASE("noise has little clarity; silence and two samples have no period") {
    CoarsePeriod coarse({});
    for (unsigned seed = 1; seed < 50; ++seed)
        if (const auto found = coarse.find(noise(768, seed), std::nullopt)) CHECK(found->clarity < 0.5);
    CHECK_FALSE(coarse.find(std::vector<float>(768, 0.0f), std::nullopt).has_value());
    CHECK_FALSE(coarse.find(std::vector<float>(768, 0.5f), std::nullopt).has_value());
    CHECK_FALSE(coarse.find(noise(2, 1), std::nullopt).has_value());
}

TEST_CASE("finding a period does not allocate") {
    CoarsePeriod coarse({});
    const auto samples = noise(768, 1);
    const test::AllocationGuard guard;
    coarse.find(samples, Hertz(200.0));
    CHECK(guard.allocations() == 0);
}
