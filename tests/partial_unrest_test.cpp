// The doubt that partials with ways of their own make.
#include <doctest/doctest.h>

#include <cmath>
#include <functional>
#include <limits>
#include <numbers>
#include <vector>

#include "dsp/partial_unrest.h"

using namespace landfall;

namespace {

constexpr double hop = 0.005;
using Level = std::function<double(int partial, double seconds)>;  // amplitude

double doubtAfter(double seconds, const Level& level, double stroke = 1e9, Hertz pitch = Hertz(220.0)) {
    PartialUnrest unrest;
    Cents doubt(0.0);
    std::vector<float> power(8);
    for (double t = 0.0; t < seconds; t += hop) {
        for (int k = 0; k < 8; ++k)
            power[static_cast<std::size_t>(k)] = static_cast<float>(0.5 * std::pow(level(k + 1, t), 2.0));
        doubt = unrest.hear({t < stroke ? 1u : 2u, t < stroke ? t : t - stroke, false, pitch, power});
    }
    return doubt.value;
}

// A string's own decay: the higher the partial, the faster.
double dry(int k, double t) { return 0.1 / k * std::exp(-t * (1.0 + 0.3 * k)); }

}  // namespace

TEST_CASE("A dry string's decay, a tremolo and a compressor leave no doubt: they move all partials alike") {
    CHECK(doubtAfter(1.0, dry) == 0.0);
    CHECK(
        doubtAfter(
            1.0, [](int k, double t) { return dry(k, t) * (0.55 + 0.45 * std::cos(2.0 * std::numbers::pi * 7.0 * t)); })
        == 0.0);
    CHECK(doubtAfter(1.0, [](int k, double t) { return dry(k, t) * std::exp(1.6 * t); }) == 0.0);
}

// The sum of a tone and a copy whose delay swings by a ms: a chorus. The phase of partial k then swings by what its
// level does.
TEST_CASE("A copy that wanders makes doubt as large as it moves the pitch") {
    const double cents = 10.0, rate = 0.8, f = 220.0,
                 depth = (std::exp2(cents / 1200.0) - 1.0) / (2.0 * std::numbers::pi * rate);
    const auto delay = [&](double t) { return 0.012 + depth * std::sin(2.0 * std::numbers::pi * rate * t); };
    const auto chorus = [&](int k, double t) {
        const double phase = 2.0 * std::numbers::pi * f * k * delay(t), mix = 0.7;
        return dry(k, t) * std::sqrt(1.0 + mix * mix + 2.0 * mix * std::cos(phase));
    };
    const double doubt = doubtAfter(1.0, chorus);
    CHECK(doubt > 1.0);
    CHECK(doubt < cents);
    CHECK(doubtAfter(1.0, chorus, 0.98) == 0.0);  // a stroke begins anew
}

TEST_CASE("Nothing, silence and nonsense make no doubt") {
    PartialUnrest unrest;
    unrest.hearNothing();
    const std::vector<float> none, silent(8, 0.0f), bad(8, std::numeric_limits<float>::quiet_NaN());
    for (int i = 0; i < 20; ++i) {
        CHECK(unrest.hear({1, 0.1 + hop * i, false, Hertz(220.0), none}).value == 0.0);
        CHECK(unrest.hear({1, 0.1 + hop * i, false, Hertz(220.0), silent}).value == 0.0);
    }
    for (int i = 0; i < 20; ++i) CHECK(unrest.hear({1, 0.5 + hop * i, false, Hertz(220.0), bad}).value == 0.0);
    const double doubt = doubtAfter(1.0, dry);
    unrest.reset();
    CHECK(doubt == 0.0);
}
