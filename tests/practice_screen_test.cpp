#include "src/app/practice_screen.h"

#include <doctest/doctest.h>

using namespace landfall;

namespace {

Drill wholeUp() {
    Drill drill;
    drill.name = "Whole up";
    drill.how = "Two fingers behind. Bend to the pitch two frets up; hold it.";
    drill.steps = {{.gesture = Gesture::bend, .fromSemitones = 0.0, .toSemitones = 2.0}};
    drill.places = {{3, 7}};
    return drill;
}

DrillState asking(bool guided, bool byEar = false) {
    DrillState state;
    state.place = {3, 7};
    state.moves = movesAt(wholeUp(), Guitar{}, {3, 7}).value();
    state.prompt = "G string · fret 7 · full step";
    state.guided = guided;
    state.byEar = byEar;
    return state;
}

// A player's try, told event by event as the Listener does.
struct Playing {
    PracticeScreen screen;
    DrillState state;
    double now = 10.0;

    explicit Playing(const DrillState& asked, Telling telling = Telling::everyTry)
        : screen({.drill = wholeUp(), .guitar = {}, .telling = telling}), state(asked) {
        screen.follow(state, Seconds(now));
    }
    const Practice& shown() const { return screen.practice(); }
    void hear(const ListenerEvent& event) {
        screen.hear(event);
        screen.follow(state, Seconds(now));
    }
    void pitch(double at, std::optional<double> cents) {
        now = at;
        LivePitch live;
        live.frame.centre = live.frame.available = Seconds(at);
        if (cents) {
            live.frame.pitch = Hertz(300.0);
            live.fromTarget = Cents(*cents);
        }
        hear(live);
    }
    void stroke(double at) {
        now = at + 0.02;
        hear(PickStroke{Seconds(now), {Seconds(now), Seconds(at), Decibels(20.0)}});
    }
    Landing landing(double onset, double error, double end) const {
        Landing made;
        made.verdict = error < 0.0 ? Verdict::near : Verdict::over;
        made.sentence = error < 0.0 ? "22 under: about a fifth of a fret." : "31 over: ease off.";
        made.onset = Seconds(onset);
        made.end = Seconds(end);
        made.landingTime = Seconds(onset + 0.7);
        made.firstStopError = made.landingError = Cents(error);
        return made;
    }
    // Half a second of start note, then the target missed by `error`.
    void tryAt(double onset, double error) {
        stroke(onset);
        for (int i = 4; i < 200; ++i) pitch(onset + 0.01 * i, i < 50 ? -200.0 : error);
        hear(TryBegan{Seconds(now), Seconds(onset), 1, false});
        hear(ProvisionalLanding{Seconds(now), landing(onset, error, onset + 2.0)});
        hear(FinalLanding{Seconds(now), landing(onset, error, onset + 2.0)});
        hear(TryEnded{Seconds(now), landing(onset, error, onset + 2.0)});
    }
};

}  // namespace

TEST_CASE("before the first stroke the screen says what to play, where, and how") {
    Playing one(asking(true));
    CHECK(one.shown().moment == Moment::waiting);
    CHECK(one.shown().prompt == "G string · fret 7 · full step");
    CHECK(one.shown().sentence == "Bend to the pitch two frets up; hold it.");
    CHECK(one.shown().neck.place->string == 3);
    CHECK(one.shown().start == Cents(-200.0));
    CHECK(one.shown().progress == "set 1 of 1 · try 1 of 6 · guided");
}

TEST_CASE("a guided try draws its trace from the pick stroke on, while it is played") {
    Playing one(asking(true));
    one.pitch(10.95, std::nullopt);
    one.pitch(11.01, -199.0);  // heard before the stroke is known
    one.stroke(11.0);
    REQUIRE(one.shown().traces.size() == 1);
    CHECK(one.shown().traces[0].points.front().sinceStroke.value == doctest::Approx(0.01));
    one.pitch(11.05, -180.0);
    CHECK(one.shown().moment == Moment::playing);
    CHECK(one.shown().traces[0].points.back().fromTarget == Cents(-180.0));
    CHECK_FALSE(one.shown().traces[0].mark);
}

TEST_CASE("a try that is not guided shows nothing of its trace until it has ended") {
    Playing one(asking(false));
    one.stroke(11.0);
    for (int i = 1; i < 100; ++i) one.pitch(11.0 + 0.01 * i, -200.0);
    CHECK(one.shown().traces.empty());
    one.tryAt(20.0, -22.0);
    REQUIRE(one.shown().traces.size() == 1);
    CHECK(one.shown().traces[0].points.size() > 100);
    CHECK(one.shown().traces[0].mark->firstStop == Cents(-22.0));
    CHECK(one.shown().scatter.size() == 1);
}

TEST_CASE("the mark keeps the big line until the next stroke, and gives way to the last five after two seconds") {
    Playing one(asking(true));
    one.tryAt(11.0, -22.0);
    CHECK(one.shown().moment == Moment::landed);
    CHECK(one.shown().landed == "22 under");
    CHECK(one.shown().sentence == "22 under: about a fifth of a fret.");
    const double ended = one.now;
    one.pitch(ended + 1.5, std::nullopt);
    CHECK(one.shown().moment == Moment::landed);
    one.pitch(ended + 2.1, std::nullopt);
    CHECK(one.shown().moment == Moment::between);
    CHECK(one.shown().lastMarks.size() == 1);
    one.stroke(ended + 3.0);
    CHECK(one.shown().moment == Moment::playing);
    CHECK_FALSE(one.shown().last);
    one.tryAt(ended + 4.0, 31.0);
    one.stroke(one.now + 0.2);
    CHECK(one.shown().moment == Moment::playing);
}

TEST_CASE("what belongs to no try leaves no trace behind") {
    Playing one(asking(true));
    one.stroke(11.0);
    for (int i = 1; i < 50; ++i) one.pitch(11.0 + 0.01 * i, 300.0);
    CHECK(one.shown().traces.size() == 1);
    one.hear(Noodling{Seconds(11.6), Seconds(11.0)});
    CHECK(one.shown().traces.empty());
    CHECK(one.shown().moment == Moment::waiting);
}

TEST_CASE("by ear nothing is shown until the player chooses to see") {
    Playing one(asking(false, true));
    one.tryAt(11.0, -22.0);
    one.tryAt(15.0, 31.0);
    CHECK(one.shown().moment == Moment::waiting);
    CHECK(one.shown().landed.empty());
    CHECK(one.shown().traces.empty());
    CHECK(one.shown().scatter.empty());
    CHECK(one.shown().sentence == "By ear: was it there? S shows it.");
    one.screen.see();
    CHECK(one.shown().moment == Moment::landed);
    CHECK(one.shown().landed == "31 over");
    CHECK(one.shown().traces.size() == 2);
    CHECK(one.shown().scatter.size() == 2);
}

TEST_CASE("feedback every few tries comes with the third, feedback as a summary with the rest") {
    Playing few(asking(false), Telling::everyFew);
    few.tryAt(11.0, -22.0);
    few.tryAt(15.0, -22.0);
    CHECK(few.shown().scatter.empty());
    few.tryAt(19.0, 31.0);
    CHECK(few.shown().scatter.size() == 3);
    CHECK(few.shown().landed == "31 over");

    Playing whole(asking(false), Telling::afterSet);
    for (const double at : {11.0, 15.0, 19.0, 23.0}) whole.tryAt(at, -22.0);
    CHECK(whole.shown().scatter.empty());
    whole.state.phase = DrillPhase::resting;
    whole.state.left = Seconds(20.0);
    whole.pitch(whole.now + 0.1, std::nullopt);
    CHECK(whole.shown().scatter.size() == 4);
}

TEST_CASE("a struck try is gone from the screen") {
    Playing one(asking(true));
    one.tryAt(11.0, -22.0);
    one.tryAt(15.0, 31.0);
    one.hear(TryStruck{Seconds(one.now), 1, Seconds(15.0)});
    CHECK(one.shown().traces.size() == 1);
    CHECK(one.shown().scatter.size() == 1);
    CHECK(one.shown().moment == Moment::waiting);
    CHECK(one.shown().sentence == "Struck: that try does not count.");
}

TEST_CASE("a rest begins when the last mark was read, and shortens in quarters of a second") {
    Playing one(asking(true));
    one.tryAt(11.0, -22.0);
    one.state.phase = DrillPhase::resting;
    one.state.left = Seconds(20.0);
    one.state.place = {3, 9};  // the next set's
    one.pitch(one.now + 0.5, std::nullopt);
    CHECK(one.shown().moment == Moment::landed);
    CHECK(one.shown().traces.size() == 1);
    one.state.left = Seconds(17.9);
    one.pitch(one.now + 2.0, std::nullopt);
    CHECK(one.shown().moment == Moment::rest);
    CHECK(one.shown().restLeft.value == doctest::Approx(18.0));
    const auto version = one.screen.version();
    one.state.left = Seconds(17.8);
    one.pitch(one.now + 0.1, std::nullopt);
    CHECK(one.screen.version() == version);  // nothing to draw
    CHECK(one.shown().traces.size() == 1);
    one.state.phase = DrillPhase::asking;
    one.pitch(one.now + 0.1, std::nullopt);
    CHECK(one.shown().traces.empty());
    CHECK(one.shown().moment == Moment::waiting);
}

TEST_CASE("going on in the middle of a try leaves its word for two seconds, not for good") {
    Playing player(asking(true));
    player.stroke(20.0);
    player.hear(TryBegan{Seconds(20.1), Seconds(20.0), 1, false});
    player.now = 21.0;
    player.hear(ProvisionalLanding{Seconds(21.0), player.landing(20.0, -22.0, 22.0)});
    CHECK(player.shown().moment == Moment::landed);
    player.state.phase = DrillPhase::resting;
    player.state.left = Seconds(20.0);
    player.now = 21.5;
    player.screen.follow(player.state, Seconds(player.now));
    CHECK(player.shown().moment == Moment::landed);
    player.now = 24.0;
    player.screen.follow(player.state, Seconds(player.now));
    CHECK(player.shown().moment == Moment::rest);
}

TEST_CASE("the end of a drill says the typical miss and one next step") {
    Playing one(asking(false));
    one.tryAt(11.0, -22.0);
    one.state.phase = DrillPhase::done;
    DrillSummary summary;
    summary.line = "Typical miss 14, mostly under; 9 of 15 inside ±25; 2 lost.";
    summary.nextStep = "You stop short by about 14: push a little further before you hold.";
    one.screen.finish(summary, Seconds(one.now));
    one.pitch(one.now + 0.1, std::nullopt);
    CHECK(one.shown().moment == Moment::landed);
    one.pitch(one.now + 2.1, std::nullopt);
    CHECK(one.shown().moment == Moment::endOfDrill);
    CHECK(one.shown().summary == "Typical miss 14, mostly under");
    CHECK(one.shown().sentence == "9 of 15 inside ±25; 2 lost. You stop short by about 14: push a little further before you hold.");
}

TEST_CASE("at most twelve traces stay, each within what 16-bit vertices can draw, and another place begins without them") {
    Playing one(asking(true));
    for (int i = 0; i < 20; ++i) one.tryAt(11.0 + 4.0 * i, -22.0);
    CHECK(one.shown().traces.size() == 12);
    for (const Trace& trace : one.shown().traces) CHECK(trace.points.size() < 1000);
    one.state.place = {3, 9};
    one.pitch(one.now + 0.1, std::nullopt);
    CHECK(one.shown().traces.empty());
    CHECK(one.shown().scatter.empty());
    CHECK(one.shown().moment == Moment::waiting);
}
