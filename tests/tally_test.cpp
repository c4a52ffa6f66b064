#include "src/practice/drill_summary.h"

#include <doctest/doctest.h>

using namespace landfall;

namespace {

Landing played(Gesture gesture, std::optional<double> firstStop) {
    Landing landing;
    landing.move.gesture = gesture;
    landing.verdict = firstStop ? Verdict::near : Verdict::died;
    if (firstStop) landing.firstStopError = landing.landingError = Cents(*firstStop);
    return landing;
}
Landing bend(std::optional<double> firstStop) { return played(Gesture::bend, firstStop); }

struct Try {
    Landing landing;
    bool guided = false;
    Cents aim{25.0};
};

std::vector<GestureTally> tally(const std::vector<Try>& tries) {
    Tally tally;
    for (const Try& one : tries) tally.add(one.landing, one.aim, one.guided);
    return tally.gestures();
}
GestureTally only(const std::vector<Try>& tries) {
    const auto gestures = tally(tries);
    REQUIRE(gestures.size() == 1);
    return gestures.front();
}

}  // namespace

TEST_CASE("the typical miss is the median of the first stops without their sign, the typical error with it") {
    const auto odd = only({{bend(-30.0)}, {bend(4.0)}, {bend(-10.0)}});
    CHECK(odd.typicalMiss == Cents(10.0));
    CHECK(odd.typicalError == Cents(-10.0));
    const auto even = only({{bend(-30.0)}, {bend(4.0)}, {bend(-10.0)}, {bend(20.0)}});
    CHECK(even.typicalMiss == Cents(15.0));   // 4 10 20 30
    CHECK(even.typicalError == Cents(-3.0));  // -30 -10 4 20
}

TEST_CASE("a corrected landing is scored by its first stop") {
    Landing pulledIn = bend(-40.0);
    pulledIn.landingError = Cents(-2.0);
    CHECK_FALSE(isInside(pulledIn, Cents(25.0)));
    CHECK(only({{pulledIn}}).typicalMiss == Cents(40.0));
}

TEST_CASE("inside is measured by each try's own aim, its edge included") {
    CHECK(isInside(bend(25.0), Cents(25.0)));
    CHECK_FALSE(isInside(bend(25.01), Cents(25.0)));
    CHECK(only({{bend(-20.0), false, Cents(18.0)}, {bend(-20.0), false, Cents(25.0)}}).inside == 1);
}

TEST_CASE("a lost try counts as not inside and has no part in the median") {
    const auto found = only({{bend(5.0)}, {bend({})}, {bend(7.0)}, {bend({})}});
    CHECK(found.tries == 4);
    CHECK(found.lost == 2);
    CHECK(found.inside == 2);
    CHECK(found.shareInside() == 0.5);
    CHECK(found.typicalMiss == Cents(6.0));
}

TEST_CASE("two strings that rang, and what could not be measured, count nowhere but by themselves") {
    Landing two = bend({}), unclear = bend(3.0);
    two.verdict = Verdict::twoStrings;
    unclear.verdict = Verdict::notMeasurable;
    const auto found = only({{two}, {bend(8.0)}, {unclear}});
    CHECK(found.tries == 1);
    CHECK(found.lost == 0);
    CHECK(found.notCounted == 2);
    CHECK(found.typicalMiss == Cents(8.0));
    const auto words = wordsOf(tally({{two}}), Cents(25.0));
    CHECK(words == Words{"Nothing counted", "1 not counted."});
}

TEST_CASE("another interval or a wrong fret is not inside, however wide the aim") {
    Landing one = bend(-99.0);
    one.verdict = Verdict::otherInterval;
    CHECK_FALSE(isInside(one, Cents(100.0)));
    CHECK(only({{one}}).otherNote == 1);
}

TEST_CASE("guided tries are left out where there are three others") {
    std::vector<Try> tries{{bend(40.0), true}, {bend(2.0)}, {bend(4.0)}};
    auto found = only(tries);
    CHECK(found.tries == 3);
    CHECK(found.guided == 1);
    CHECK(found.counted == 3);
    CHECK(found.typicalMiss == Cents(4.0));
    tries.push_back({bend(6.0)});
    found = only(tries);
    CHECK(found.tries == 4);
    CHECK(found.counted == 3);
    CHECK(found.inside == 3);
    CHECK(found.typicalMiss == Cents(4.0));  // 2 4 6
}

TEST_CASE("a slide counts by its fret, and by its cents only against the own guitar") {
    Landing slide = played(Gesture::slide, 30.0);
    slide.move.targetFret = 12;
    slide.landedFret = 12;
    CHECK(isInside(slide, Cents(5.0)));
    CHECK_FALSE(only({{slide}}).typicalMiss);
    slide.target = Target::ownGuitar;
    CHECK(only({{slide}}).typicalMiss == Cents(30.0));
    slide.landedFret = 11;
    CHECK_FALSE(isInside(slide, Cents(5.0)));
    slide.landedFret.reset();
    slide.landingError = Cents(-49.0);
    CHECK(isInside(slide, Cents(5.0)));
    slide.landingError = Cents(-51.0);
    CHECK_FALSE(isInside(slide, Cents(5.0)));
}

TEST_CASE("gestures are not pooled into one figure: a bend and its release have two") {
    CHECK(tally({}).empty());
    const auto found = tally({{played(Gesture::release, -9.0)}, {bend(5.0)}, {bend(1.0)}});
    REQUIRE(found.size() == 2);
    CHECK(found[0].gesture == Gesture::bend);
    CHECK(found[0].typicalMiss == Cents(3.0));
    CHECK(found[1].gesture == Gesture::release);
    CHECK(found[1].tries == 1);
    CHECK(found[1].typicalMiss == Cents(9.0));
}

TEST_CASE("the words of a tally: the typical miss from across the room, the counts beside it") {
    const auto words = [](const std::vector<Try>& tries) { return wordsOf(tally(tries), Cents(25.0)); };
    CHECK(words({{bend(-20.0)}, {bend(-30.0)}, {bend(-14.0)}, {bend({})}})
          == Words{"Usually 20 cents off, mostly low", "2 of 4 within 25 cents; 1 died."});
    CHECK(words({{bend(2.0), true}, {bend(-2.0)}})
          == Words{"Usually 2 cents off, sometimes high, sometimes low", "2 of 2 within 25 cents; 1 guided."});
    CHECK(words({{bend(7.0), true}})
          == Words{"Usually 7 cents off, mostly high", "1 of 1 within 25 cents; all guided."});
    Landing slide = played(Gesture::slide, 14.0);
    CHECK(words({{slide}, {played(Gesture::slide, {})}}) == Words{"1 of 2 on the right fret", "1 died."});
    CHECK(
        words({{bend(7.0)}, {played(Gesture::release, -12.0)}, {played(Gesture::release, {})}})
        == Words{"Usually off by: bends 7, releases 12 cents",
                 "Bends: mostly high, 1 of 1 within 25 cents. Releases: mostly low, 1 of 2 within 25 cents; 1 died."});
    CHECK(words({{bend({})}, {slide}})
          == Words{"Bends 0 of 1, slides 1 of 1",
                   "Bends: 0 of 1 within 25 cents; 1 died. Slides: 1 of 1 on the right fret."});
    CHECK(whole({"Usually 7 cents off, mostly high", "1 of 1 within 25 cents."})
          == "Usually 7 cents off, mostly high. 1 of 1 within 25 cents.");
    CHECK(whole({"Nothing played", ""}) == "Nothing played.");
}

TEST_CASE("a typical error under 3 cents, or between two sides, has no side") {
    CHECK(wordsOf(tally({{bend(2.4)}}), Cents(25.0)).headline == "Usually 2 cents off, sometimes high, sometimes low");
    CHECK(wordsOf(tally({{bend(3.6)}}), Cents(25.0)).headline == "Usually 4 cents off, mostly high");
    // nor has one half way between as many low as high
    CHECK(wordsOf(tally({{bend(-34.0)}, {bend(7.0)}, {bend(-34.0)}, {bend(7.0)}}), Cents(25.0)).headline
          == "Usually 20 cents off, sometimes high, sometimes low");
}

TEST_CASE("who stays on the note that a slide leaves for more than 0.15 s is told to leave it") {
    const auto next = [](double linger) {
        Landing slide = played(Gesture::slide, 4.0);
        slide.linger = Seconds(linger);
        Drill drill;
        drill.steps = {{Gesture::slide, 0, 2}};
        return summarise(std::vector<DrillMark>{{slide}, {slide}, {slide}}, drill, Cents(25.0)).nextStep;
    };
    CHECK(next(0.19) == "Start the slide at once: the first note is only the way in.");
    CHECK(next(0.12) != next(0.19));
}

namespace {

Landing held(double firstStop, double sag, double seconds) {
    Landing landing = bend(firstStop);
    landing.sag = Cents(sag);
    landing.holdLength = Seconds(seconds);
    return landing;
}

DrillSummary summaryOf(Subject subject, std::vector<DrillStep> steps, const std::vector<Landing>& landings) {
    Drill drill;
    drill.subject = subject;
    drill.steps = std::move(steps);
    std::vector<DrillMark> marks;
    for (const Landing& landing : landings) marks.push_back({landing, false, {}, {2, 8}});
    return summarise(marks, drill, Cents(25.0));
}

}  // namespace

TEST_CASE("a drill about the hold counts what stayed, says what sank or was let go, and advises that") {
    const std::vector<DrillStep> step{{Gesture::bend, 0.0, 1.0, 0}};
    const std::vector<Landing> sank{held(2.0, 3.0, 2.0), held(-4.0, 30.0, 2.0), held(1.0, 20.0, 2.0),
                                    held(9.0, 26.0, 2.0), held(40.0, 1.0, 2.0)};
    const auto found = summaryOf(Subject::hold, step, sank);
    CHECK(found.words.headline == "1 of 5 stayed");
    CHECK(found.words.rest == "3 sank, usually by 26 cents; 1 missed by more than 25 cents.");
    CHECK(found.nextStep
          == "The pitch sinks by about 26 cents: keep the fingers behind the bending one on the string.");
    // By where they land the same tries are good.
    CHECK(summaryOf(Subject::landing, step, sank).words.rest == "4 of 5 within 25 cents.");
    const auto letGo = summaryOf(Subject::hold, step, {held(2.0, 0.0, 0.6), held(2.0, 0.0, 0.7), held(2.0, 0.0, 2.0)});
    CHECK(letGo.words.headline == "1 of 3 stayed");
    CHECK(letGo.words.rest == "2 let go early.");
    CHECK(letGo.nextStep == "Keep pressing until two full seconds have passed.");
    Drill drill;
    drill.subject = Subject::hold;
    drill.steps = step;
    const auto rows = endRows(found, letGo, drill, Guitar{});
    REQUIRE(rows.size() == 1);
    CHECK(rows.front().now == "1 of 5 stayed, sank 26 ¢");
    CHECK(rows.front().before == "1 of 3 stayed");
}

TEST_CASE("a drill about slowness counts what took three seconds, says what hurried, and advises that") {
    const std::vector<DrillStep> step{{Gesture::bend, 0.0, 1.0, 0}};
    const auto after = [](double seconds, double firstStop) {
        Landing landing = bend(firstStop);
        landing.riseTime = Seconds(seconds);
        return landing;
    };
    const auto found =
        summaryOf(Subject::slow, step, {after(3.4, 2.0), after(1.2, 4.0), after(1.6, -3.0), after(2.0, 40.0)});
    CHECK(found.words.headline == "1 of 4 slow enough, usually 1.8 s");
    CHECK(found.words.rest == "2 hurried; 1 missed by more than 25 cents.");
    CHECK(found.nextStep == "You take about 1.8 s: let the string creep, and listen all the way.");
    Drill drill;
    drill.subject = Subject::slow;
    drill.steps = step;
    CHECK(endRows(found, found, drill, Guitar{}).front().now == "1 of 4 slow, 1.8 s");
    CHECK(tryLength(drill) == Seconds(8.0));
    drill.subject = Subject::landing;
    CHECK(tryLength(drill) == Seconds(5.0));
}

TEST_CASE("a drill about the release is told and advised by its releases alone") {
    std::vector<Landing> tries;
    for (int i = 0; i < 4; ++i) {
        tries.push_back(bend(-40.0));
        tries.push_back(played(Gesture::release, 14.0 + i));
        tries.back().moveNumber = 2;
    }
    const std::vector<DrillStep> steps{{Gesture::bend, 0.0, 2.0, 0}, {Gesture::release, 2.0, 0.0, 0}};
    const auto found = summaryOf(Subject::release, steps, tries);
    CHECK(found.words.headline == "Usually 16 cents off, mostly high");
    CHECK(found.nextStep.find("Keep it like that") == 0);
    // By where they land the bends are what is to be mended.
    CHECK(summaryOf(Subject::landing, steps, tries).nextStep.find("You usually stop short by 40 cents") == 0);
}

TEST_CASE("the places at a drill's end add up to its sum, whichever tries that leaves out") {
    Drill drill;
    drill.steps = {{Gesture::bend, 0.0, 1.0, 0}};
    std::vector<DrillMark> marks;
    const auto add = [&](int fret, double error, bool guided) {
        DrillMark& mark = marks.emplace_back(DrillMark{.landing = bend(error), .guided = guided, .place = {2, fret}});
        mark.landing.moveNumber = 1;
    };
    for (const double error : {-34.0, 7.0}) add(8, error, true);
    add(9, -34.0, true);
    add(9, 7.0, false);
    for (const double error : {-34.0, 7.0}) add(10, error, false);
    auto found = summarise(marks, drill, Cents(25.0));
    CHECK(found.words.rest == "2 of 3 within 25 cents.");
    auto rows = endRows(found, {}, drill, Guitar{});
    REQUIRE(rows.size() == 3);
    CHECK(rows[0].now == "guided");
    CHECK(rows[1].now == "1 of 1 good, 7 ¢ off");
    CHECK(rows[2].now.starts_with("1 of 2 good"));
    // Two others say nothing by themselves: then all count, everywhere.
    marks.pop_back();
    found = summarise(marks, drill, Cents(25.0));
    CHECK(found.words.rest.starts_with("2 of 5 within 25 cents"));
    rows = endRows(found, {}, drill, Guitar{});
    CHECK(rows[0].now.starts_with("1 of 2 good"));
}

TEST_CASE("a place is named in the advice from its third try on") {
    const auto advice = [](int bad) {
        Drill drill;
        drill.steps = {{Gesture::bend, 0.0, 1.0, 0}};
        std::vector<DrillMark> marks;
        for (int i = 0; i < 4 + bad; ++i) {
            marks.push_back({.landing = bend(i < 4 ? 2.0 : -45.0), .guided = false, .place = {2, i < 4 ? 8 : 10}});
            marks.back().landing.moveNumber = 1;
        }
        return summarise(marks, drill, Cents(25.0)).nextStep;
    };
    CHECK(advice(3).find("fret 10: ") != std::string::npos);
    CHECK(advice(2).find("fret 10: ") == std::string::npos);
}
