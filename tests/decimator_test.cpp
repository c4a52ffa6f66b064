#include "dsp/decimator.h"

#include <cmath>
#include <limits>
#include <numbers>
#include <vector>

#include <doctest/doctest.h>

#include "tests/support/allocation_guard.h"

using namespace landfall;

namespace {

std::vector<float> decimated(Decimator& decimator, const std::vector<float>& input) {
    std::vector<float> output;
    for (float x : input)
        if (const auto y = decimator.push(x)) output.push_back(*y);
    return output;
}

std::vector<float> sine(double rate, double hertz, double seconds) {
    std::vector<float> samples(static_cast<std::size_t>(rate * seconds));
    for (std::size_t i = 0; i < samples.size(); ++i)
        samples[i] = static_cast<float>(std::sin(2.0 * std::numbers::pi * hertz * static_cast<double>(i) / rate));
    return samples;
}

// Of the second half, where the filter has settled; 0 dB is a full-scale sine.
double levelAfterSettling(const std::vector<float>& samples) {
    double sum = 0.0;
    for (std::size_t i = samples.size() / 2; i < samples.size(); ++i)
        sum += static_cast<double>(samples[i]) * static_cast<double>(samples[i]);
    return 10.0 * std::log10(2.0 * sum / static_cast<double>(samples.size() - samples.size() / 2) + 1e-20);
}

}  // namespace

TEST_CASE("partials up to 5.5 kHz pass the decimator unchanged and nothing folds back onto them, at every rate") {
    // 0.05 dB: the ripple of a 75 dB Kaiser design is 0.002 dB. -70 dB: the design's stop band with a margin.
    for (double rate : {32000.0, 44100.0, 48000.0, 88200.0, 96000.0, 176400.0, 192000.0})
        for (double hertz : {100.0, 1000.0, 5000.0}) {
            Decimator through({rate});
            CHECK(std::abs(levelAfterSettling(decimated(through, sine(rate, hertz, 1.0)))) < 0.05);
            const double folds = through.workingRate() - hertz;
            if (folds < rate / 2.0) {
                Decimator blocked({rate});
                CHECK_MESSAGE(levelAfterSettling(decimated(blocked, sine(rate, folds, 1.0))) < -70.0, rate, " ", folds);
            }
        }
}

TEST_CASE("the decimator's output is its input latencySamples() earlier") {
    Decimator decimator({48000.0});
    const auto input = sine(48000.0, 440.0, 0.5);
    const auto output = decimated(decimator, input);
    for (std::size_t m = 2000; m < 4000; ++m) {
        const std::size_t at = (m + 1) * decimator.factor() - 1 - decimator.latencySamples();
        // 0.03: the 12 Hz blocker turns a 440 Hz sine by 0.027 rad.
        CHECK(std::abs(output[m] - input[at]) < 0.03f);
    }
}

TEST_CASE("DC is gone from the decimator's output after half a second") {
    Decimator decimator({48000.0});
    CHECK(levelAfterSettling(decimated(decimator, std::vector<float>(48000, 0.5f))) < -100.0);
}

TEST_CASE("the decimator makes numbers of everything and is as new after reset") {
    Decimator used({44100.0}), fresh({44100.0});
    std::vector<float> broken(1000, std::numeric_limits<float>::quiet_NaN());
    broken[3] = std::numeric_limits<float>::infinity();
    broken[4] = -1e30f;
    for (float x : decimated(used, broken)) CHECK(std::isfinite(x));
    used.reset();
    const auto sound = sine(44100.0, 220.0, 0.1);
    CHECK(decimated(used, sound) == decimated(fresh, sound));
}

TEST_CASE("the decimator does not allocate") {
    Decimator decimator({96000.0});
    const test::AllocationGuard guard;
    for (int i = 0; i < 5000; ++i) decimator.push(0.1f);
    CHECK(guard.allocations() == 0);
}
