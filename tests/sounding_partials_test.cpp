// Partials by hand, a little on either side of each border.
#include "dsp/sounding_partials.h"

#include <cmath>
#include <utility>
#include <vector>

#include <doctest/doctest.h>

#include "tests/support/allocation_guard.h"

using namespace landfall;

namespace {

// Partials 1, 2, 3 ... of a note at 55 Hz.
PartialFit::Result partials(const std::vector<double>& power) {
    PartialFit::Result fit;
    fit.usable = true;
    fit.tone.pitch = Hertz(55.0);
    fit.partials = power.size();
    for (std::size_t k = 0; k < power.size(); ++k) fit.power[k] = static_cast<float>(power[k]);
    return fit;
}

std::size_t periods(const std::vector<double>& power, std::optional<Hertz> expected = std::nullopt) {
    return emptyPeriods(partials(power), true, expected);
}

}  // namespace

TEST_CASE("a period is two or three too long where only every second or third partial sounds, to 3 % of the power") {
    CHECK(periods({1.0, 0.8, 0.6, 0.4, 0.3, 0.2}) == 1);
    CHECK(periods({0.01, 1.0, 0.01, 0.5, 0.0, 0.2}) == 2);
    CHECK(periods({0.03, 1.0, 0.03, 0.5, 0.0, 0.2}) == 1);  // 3.4 %
    CHECK(periods({0.0, 0.02, 1.0, 0.0, 0.0, 0.5}) == 3);
    CHECK(periods({0.0, 1.0, 0.0}) == 1);  // of one or two partials nothing can be told
}

// A fourth is 3 : 4, a fifth 2 : 3 (just intonation: common practice).
TEST_CASE("two strings in a ratio of small numbers are told by their own partials; the expected one is taken") {
    const std::vector<double> fourth{0.0, 0.0, 1.0, 0.7, 0.0, 0.3, 0.0, 0.2};
    CHECK(periods(fourth) == 3);
    CHECK(periods({0.0, 0.0, 0.5, 1.0, 0.0, 0.2, 0.0, 0.5}) == 4);  // the stronger one
    CHECK(periods(fourth, Hertz(4 * 55.0)) == 4);
    CHECK(periods(fourth, Hertz(3 * 55.0)) == 3);
    CHECK(periods(fourth, Hertz(500.0)) == 3);  // neither is near
    CHECK(emptyPeriods(partials(fourth), false, {}) == 1);
    // Of a fifth 1, 5 and 7 tell, and have to be emptier.
    CHECK(periods({0.004, 1.0, 0.9, 0.4, 0.0, 0.3, 0.004, 0.2}) == 2);
    CHECK(periods({0.03, 1.0, 0.9, 0.4, 0.0, 0.3, 0.03, 0.2}) == 1);
    // A note that dies with its second and third partials lacks both strings' own.
    CHECK(periods({0.0, 1.0, 0.9, 0.0, 0.0, 0.0, 0.0, 0.0}) == 1);
}

TEST_CASE("a minor third has its period in common, 5 : 6; one string alone has none") {
    const auto shared = sharedPeriod(partials({0.0, 0.0, 0.0, 0.0, 1.0, 0.8, 0.0, 0.0, 0.0, 0.3, 0.0, 0.1}));
    REQUIRE(shared);
    CHECK(shared->lower == 5);
    CHECK(shared->upper == 6);
    CHECK(shared->lowerPower == doctest::Approx(1.3));
    CHECK(shared->upperPower == doctest::Approx(0.9));
    CHECK(shared->power == doctest::Approx(2.2));
    CHECK_FALSE(sharedPeriod(partials({0.1, 0.0, 0.0, 0.0, 1.0, 0.8, 0.0, 0.0, 0.0, 0.3, 0.0, 0.1})));
    CHECK_FALSE(sharedPeriod(partials({0.0, 0.0, 0.0, 0.0, 1.0, 0.04, 0.0, 0.0, 0.0, 0.3, 0.0, 0.0})));
    CHECK_FALSE(sharedPeriod(partials({1.0, 0.8, 0.6, 0.5, 0.4, 0.3, 0.2, 0.1, 0.1, 0.1, 0.1, 0.1})));
    CHECK_FALSE(sharedPeriod(partials({})));
}

TEST_CASE("what lies between the multiples of two, or of three, is a share of all that sounds") {
    CHECK(shareBetweenMultiples(partials({1.0, 1.0, 1.0, 1.0, 1.0, 1.0})) == doctest::Approx(0.5));
    CHECK(shareBetweenMultiples(partials({0.0, 1.0, 0.0, 1.0})) == doctest::Approx(0.0));
    CHECK(shareBetweenMultiples(partials({0.0, 0.0, 0.0})) == 0.0);
}

TEST_CASE("no allocation: sounding partials") {
    const auto fit = partials({0.0, 0.0, 1.0, 0.7, 0.0, 0.3, 0.0, 0.2});
    const test::AllocationGuard guard;
    const auto kept = std::pair(emptyPeriods(fit, true, Hertz(220.0)), sharedPeriod(fit));
    CHECK(guard.allocations() == 0);
    CHECK(kept.first == 4);
}
