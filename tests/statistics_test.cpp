#include "dsp/statistics.h"

#include <doctest/doctest.h>

using namespace landfall;

TEST_CASE("the median is the middle value, of an even number the mean of the two in the middle") {
    // The examples of the Python standard library's statistics.median (documentation of the module, 3.11).
    CHECK(median({1.0, 3.0, 5.0}) == 3.0);
    CHECK(median({1.0, 3.0, 5.0, 7.0}) == 4.0);
    CHECK(median({7.0}) == 7.0);
    CHECK(median({-30.0, 20.0, 4.0, -10.0}) == -3.0);
}
