#include "src/store/totals.h"

#include <doctest/doctest.h>

using namespace landfall;

TEST_CASE("struck tries are left out of the log's totals") {
    std::vector<LoggedTry> tries(2);
    for (LoggedTry& one : tries) one.landing.verdict = Verdict::near;
    for (LoggedTry& one : tries)
        one.landing.firstStopError = one.landing.landingError = Cents(one.landing.firstStopError ? 0.0 : 8.0);
    tries[0].struck = true;
    tries[0].landing.firstStopError = Cents(50.0);
    const auto found = tallyOf(tries).gestures();
    REQUIRE(found.size() == 1);
    CHECK(found[0].tries == 1);
    CHECK(found[0].typicalMiss == Cents(8.0));
    tries[1].struck = true;
    CHECK(tallyOf(tries).gestures().empty());
}
