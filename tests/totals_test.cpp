#include "src/store/totals.h"

#include <doctest/doctest.h>

using namespace landfall;

namespace {

LoggedTry bend(std::optional<double> firstStop, double aim = 25.0) {
    LoggedTry one;
    one.aim = Cents(aim);
    one.landing.move.gesture = Gesture::bend;
    one.landing.verdict = firstStop ? Verdict::near : Verdict::died;
    if (firstStop) one.landing.firstStopError = one.landing.landingError = Cents(*firstStop);
    return one;
}

}  // namespace

TEST_CASE("the median miss is of the first stops without their sign, the median error with it") {
    const std::vector<LoggedTry> odd{bend(-30.0), bend(4.0), bend(-10.0)};
    CHECK(totalsOf(odd).medianMiss == Cents(10.0));
    CHECK(totalsOf(odd).medianError == Cents(-10.0));
    const std::vector<LoggedTry> even{bend(-30.0), bend(4.0), bend(-10.0), bend(20.0)};
    CHECK(totalsOf(even).medianMiss == Cents(15.0));   // 4 10 20 30
    CHECK(totalsOf(even).medianError == Cents(-3.0));  // -30 -10 4 20
}

TEST_CASE("a corrected landing is scored by its first stop") {
    LoggedTry pulledIn = bend(-40.0);
    pulledIn.landing.landingError = Cents(-2.0);
    CHECK_FALSE(isInside(pulledIn));
    CHECK(totalsOf(std::vector{pulledIn}).medianMiss == Cents(40.0));
}

TEST_CASE("inside is measured by each try's own aim, its edge included") {
    CHECK(isInside(bend(25.0)));
    CHECK_FALSE(isInside(bend(25.01)));
    CHECK_FALSE(isInside(bend(-20.0, 18.0)));
}

TEST_CASE("a lost try counts as not inside and has no part in the median") {
    const std::vector<LoggedTry> tries{bend(5.0), bend({}), bend(7.0), bend({})};
    const Totals totals = totalsOf(tries);
    CHECK(totals.tries == 4);
    CHECK(totals.lost == 2);
    CHECK(totals.inside == 2);
    CHECK(*totals.shareInside() == 0.5);
    CHECK(totals.medianMiss == Cents(6.0));
}

TEST_CASE("another interval or a wrong fret is not inside, however wide the aim") {
    LoggedTry one = bend(-99.0, 100.0);
    one.landing.verdict = Verdict::otherInterval;
    CHECK_FALSE(isInside(one));
}

TEST_CASE("struck tries are left out, and guided ones where there are others") {
    std::vector<LoggedTry> tries{bend(50.0), bend(40.0), bend(2.0)};
    tries[0].struck = true;
    tries[1].guided = true;
    Totals totals = totalsOf(tries);
    CHECK(totals.tries == 2);
    CHECK(totals.guided == 1);
    CHECK(totals.counted == 1);
    CHECK(totals.medianMiss == Cents(2.0));
    tries[2].guided = true;
    totals = totalsOf(tries);
    CHECK(totals.counted == 2);
    CHECK(totals.medianMiss == Cents(21.0));
}

TEST_CASE("a slide counts by its fret, and by its cents only against the own guitar") {
    LoggedTry slide = bend(18.0, 5.0);
    slide.landing.move.gesture = Gesture::slide;
    slide.landing.move.targetFret = 12;
    slide.landing.landedFret = 12;
    CHECK(isInside(slide));
    CHECK_FALSE(totalsOf(std::vector{slide}).medianMiss);
    slide.landing.target = Target::ownGuitar;
    CHECK(totalsOf(std::vector{slide}).medianMiss == Cents(18.0));
    slide.landing.landedFret = 11;
    CHECK_FALSE(isInside(slide));
    slide.landing.landedFret.reset();
    slide.landing.landingError = Cents(-49.0);
    CHECK(isInside(slide));
    slide.landing.landingError = Cents(-51.0);
    CHECK_FALSE(isInside(slide));
}

TEST_CASE("nothing played gives no figures") {
    const Totals totals = totalsOf({});
    CHECK(totals.tries == 0);
    CHECK_FALSE(totals.medianMiss);
    CHECK_FALSE(totals.shareInside());
    CHECK(totalsByGesture({}).empty());
}

TEST_CASE("totals are given for each gesture that was played") {
    std::vector<LoggedTry> tries{bend(5.0), bend(-9.0), bend(1.0)};
    tries[1].landing.move.gesture = Gesture::release;
    const auto found = totalsByGesture(tries);
    REQUIRE(found.size() == 2);
    CHECK(found[0].first == Gesture::bend);
    CHECK(found[0].second.medianMiss == Cents(3.0));
    CHECK(found[1].first == Gesture::release);
    CHECK(found[1].second.tries == 1);
}
